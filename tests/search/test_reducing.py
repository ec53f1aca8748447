"""Shown designs are never longer to work than one of their own reductions."""

from __future__ import annotations

import itertools
from pathlib import Path

import pytest
from conftest import patterns
from hypothesis import given, settings

from motifsearch.pattern.bandplan import plan_band
from motifsearch.pattern.design import Pattern, make_pattern
from motifsearch.pattern.effort import effort, shortest
from motifsearch.pattern.walk import walk
from motifsearch.runs.searching import search
from motifsearch.search.reducing import prefix, reductions, same_face

CONFIGS = Path(__file__).parents[2] / "configs"
INKS = {"a": "#102030", "b": "#f0e0c0", "c": "#a04030"}


def face(pattern: Pattern, rows: int) -> list[list[str]]:
    """The colours of the tying strands by the plain walk: no code of the search."""
    return [[pattern.colour_order[knot.tying] for knot in row] for row in walk(pattern, rows).rows]


@settings(max_examples=150, deadline=None)
@given(patterns(max_rows=8, max_colours=3))
def test_prefixes_of_the_same_face_are_found_and_no_others(pattern):
    """Against a long stretch of the plain walk, longer than both repeats together."""
    found = {short.rows for short in reductions(pattern)}
    for rows in range(2, pattern.rows, 2):
        short = prefix(pattern, rows)
        stretch = 40 * pattern.rows
        agree = face(short, stretch) == face(pattern, stretch)
        if rows in found:
            assert agree
        elif agree:
            assert not same_face(short, pattern)  # they part further on


def test_a_grid_that_is_longer_than_its_face_needs():
    """All strands alike in colour: every grid shows the same face as its first two rows."""
    pattern = make_pattern("", ["rr ll", "rl", "lr rr", "ll", "rl lr", "rr"], "aaaa", INKS)
    assert [short.rows for short in reductions(pattern)] == [2, 4]


@settings(max_examples=60, deadline=None)
@given(patterns(max_rows=8, max_colours=3))
def test_a_round_is_what_the_worksheet_repeats(pattern):
    """The steps of a round are the passes of the cycle, where the sheet's cycle is as long."""
    known = effort(pattern)
    plan = plan_band(pattern, 6 * known.round_rows + 4 * pattern.strands)
    if plan.times and plan.cycle_rows == known.round_rows:
        assert known.steps == len(plan.cycle)
    short = shortest(pattern)
    again = walk(short, known.round_rows).orders[-1]
    assert [short.colour_order[s] for s in again] == list(short.colour_order)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["only-my-threads", "equal-use", "browse-many"])
def test_no_shown_design_is_longer_to_work_than_a_reduction_of_it(name):
    run = search(
        CONFIGS / f"{name}.toml",
        overrides={"search.generations": 30, "gallery.size": 12, "search.population": 200},
    )
    for one in run:
        own = effort(one.pattern)
        for rows in range(2, one.pattern.rows, 2):
            short = prefix(one.pattern, rows)
            stretch = 30 * one.pattern.rows
            if face(short, stretch) != face(one.pattern, stretch):
                continue
            from motifsearch.simulate.scores import score_pattern

            scores = score_pattern(short, one.settings.length_mm)
            as_even = scores["thread"]["evenness"] >= one.scores["thread"]["evenness"]
            as_flat = scores["flatness"] >= one.scores["flatness"]
            assert not (as_even and as_flat) or effort(short).steps >= own.steps, one.title


def test_all_prefixes_of_small_grids():
    """Every grid of four strands and four rows over two kinds of knots."""
    count = 0
    for cells in itertools.product(("rr", "rl"), repeat=6):
        rows = [" ".join(cells[0:2]), cells[2], " ".join(cells[3:5]), cells[5]]
        pattern = make_pattern("", rows, "aabb", INKS)
        found = [short.rows for short in reductions(pattern)]
        agree = face(prefix(pattern, 2), 200) == face(pattern, 200)
        assert found == ([2] if agree else [])
        count += agree
    assert count > 8
