"""Easy is easy: the wish, its limits and what the maker is told agree."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from conftest import patterns
from hypothesis import given, settings

from motifsearch.base.errors import InputError
from motifsearch.describe.figures import figure_of
from motifsearch.pattern.effort import LEVELS, effort
from motifsearch.runs.searching import search
from motifsearch.search.brief import brief_of
from motifsearch.search.wishes import easy
from motifsearch.simulate.scores import pattern_arrays, pattern_setting, score_batch

STASH = Path(__file__).parents[2] / "configs" / "stash-workshop.toml"


def small(**more: object) -> dict[str, object]:
    return {
        "stash": str(STASH), "strands": 6, "wrist_mm": 165, "limits.on_hand": False,
        "search.generations": 40, "search.population": 200, "gallery.size": 12, **more,
    }  # fmt: skip


@pytest.mark.slow
def test_easy_designs_have_few_kinds_of_knots_and_few_steps():
    """With the wish at 5 and six strands; before, 11 of 12 designs used all four knots."""
    plain = search(overrides=small())
    easy_run = search(overrides=small(**{"wishes.easy": 5.0}))
    kinds = [one.scores["handling"]["kinds_of_knots"] for one in easy_run]
    assert sum(k <= 2 for k in kinds) >= 9
    steps = [np.mean([c.scores["handling"]["steps_per_round"] for c in r])
             for r in (easy_run, plain)]  # fmt: skip
    assert steps[0] < steps[1]


@pytest.mark.slow
@pytest.mark.parametrize("knots", [["rr"], ["rr", "ll"], ["rl", "lr"], ["rr", "rl", "lr"]])
def test_only_the_knots_that_are_allowed(knots):
    run = search(overrides=small(**{"limits.knots": knots, "search.generations": 15}))
    for one in run:
        assert {name for row in one.pattern.row_texts() for name in row.split()} <= set(knots)


@pytest.mark.slow
def test_no_round_of_more_steps_than_allowed():
    run = search(overrides=small(**{"limits.steps_max": 8}))
    assert len(run) >= 6
    assert all(effort(one.pattern).steps <= 8 for one in run)


@pytest.mark.slow
def test_first_timers_get_stripes_and_chevrons_first():
    run = search(
        overrides=small(**{"limits.knots": ["rr", "ll"], "limits.steps_max": 12, "wishes.easy": 5})
    )
    seen = [figure_of(one.pattern, one.scores["repeat_rows"]).kind for one in run][:4]
    assert set(seen) <= {"diagonals", "arrowheads", "lengthwise", "rows", "zigzag", "blocks"}, seen
    assert all(one.scores["handling"]["level"] == "first band" for one in run[:4])


def test_a_border_needs_its_knots():
    with pytest.raises(InputError, match=r"--knot: .*rl and lr.*border"):
        brief_of(small(**{"limits.knots": ["rr"], "limits.border": True}))


@settings(max_examples=80, deadline=None)
@given(patterns(max_rows=8, max_colours=3))
def test_the_batch_counts_as_the_plain_walk_does(pattern):
    """Kinds and the rows of a round are exact; the stretches are a bound of the steps."""
    known = effort(pattern)
    knots, colours = pattern_arrays([pattern])
    scores = score_batch(knots, colours, pattern_setting(pattern))
    assert scores.kinds[0] == known.kinds
    assert scores.round_rows[0] == known.round_rows
    assert scores.steps[0] <= known.steps + 1e-9


def test_the_wish_falls_with_the_level():
    """The easier a level is called, the better the wish is met on the mean."""
    rng = np.random.default_rng(3)
    met: dict[str, list[float]] = {level: [] for level in LEVELS}
    from motifsearch.pattern.design import make_pattern

    for _ in range(150):
        kinds = rng.permutation(4)[: rng.integers(1, 5)]
        grid = np.zeros((4, 3), np.uint8)
        grid[0::2] = rng.choice(kinds, (2, 3))
        grid[1::2, :2] = rng.choice(kinds, (2, 2))
        order = list(rng.permutation(list("aabbcc")))
        p = make_pattern("", grid, order, {"a": "#102030", "b": "#f0e0c0", "c": "#a04030"})
        scores = score_batch(*pattern_arrays([p]), pattern_setting(p))
        met[effort(p).level].append(float(easy(scores, 2.5)[0]))
    means = [float(np.mean(met[level])) for level in LEVELS if met[level]]
    assert len(means) == 3
    assert means == sorted(means, reverse=True)
