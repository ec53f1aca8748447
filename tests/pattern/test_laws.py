"""Laws that every design obeys, on random designs of every size."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from conftest import INKS, patterns
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from motifsearch.pattern.bandplan import plan_band
from motifsearch.pattern.design import Pattern, make_pattern
from motifsearch.pattern.knots import knots_in_grid, positions_in_row
from motifsearch.pattern.walk import colour_return, face, sigma, walk
from motifsearch.simulate.scores import score_pattern
from motifsearch.thread.cutting import cut_list
from motifsearch.thread.model import ThreadModel, strand_use

MIRROR_WORD = {"rr": "ll", "ll": "rr", "rl": "lr", "lr": "rl"}
#: Scores that count from the first row: a shift of the start may change them.
OF_THE_START = ("thread",)


def short(pattern: Pattern, most: int = 240) -> bool:
    return colour_return(pattern) * pattern.rows <= most


def mirrored(pattern: Pattern) -> Pattern:
    """Return the design as a mirror along the band shows it, built from the words of the files.

    For S odd a mirror takes every row to the other parity, so the mirrored design begins with
    what was row 1.
    """
    begin = pattern.strands % 2
    order = [pattern.colour_order[s] for s in walk(pattern, begin).orders[-1]]
    rows = [
        " ".join(MIRROR_WORD[w] for w in reversed(text.split())) for text in pattern.row_texts()
    ]
    return make_pattern("", rows[begin:] + rows[:begin], order[::-1], pattern.colours)


def shifted(pattern: Pattern, by: int) -> Pattern:
    """Return the design that begins `by` rows later; each strand keeps its colour."""
    order = walk(pattern, by).orders[-1]
    colours = [pattern.colour_order[s] for s in order]
    k = by % pattern.rows
    rows = pattern.row_texts()
    return make_pattern(pattern.title, rows[k:] + rows[:k], colours, pattern.colours)


def plain_scores(pattern: Pattern, *more: Any) -> dict:
    return score_pattern(pattern, *more).plain()


def without(scores: dict, *names: str) -> dict:
    return {k: v for k, v in scores.items() if k not in names}


def same(one: object, other: object) -> None:
    """Compare nested scores; floats to the last few bits."""
    assert type(one) is type(other)
    if isinstance(one, dict):
        assert one.keys() == other.keys()  # type: ignore[attr-defined]
        for key in one:
            same(one[key], other[key])  # type: ignore[index]
    elif isinstance(one, list):
        assert one == pytest.approx(other, rel=1e-12)
    elif isinstance(one, float):
        assert one == pytest.approx(other, rel=1e-12, abs=1e-12)
    else:
        assert one == other


@given(patterns(), st.integers(0, 40))
def test_strands_are_conserved(pattern, rows):
    """No strand is lost or doubled; colours travel with their strands."""
    everyone = list(range(pattern.strands))
    played = walk(pattern, rows)
    for order in played.orders:
        assert sorted(order) == everyone
    assert sorted(sigma(pattern)) == everyone
    for before, row in zip(played.orders, played.rows, strict=False):
        for knot in row:
            assert {knot.tying, knot.core} == {before[knot.position], before[knot.position + 1]}


@given(patterns(), st.integers(0, 30))
def test_two_wraps_a_knot(pattern, rows):
    """A knot is two half hitches: wraps over all strands are twice the knots."""
    wraps = [0] * pattern.strands
    for row in walk(pattern, rows).rows:
        for knot in row:
            wraps[knot.tying] += 2
    assert sum(wraps) == 2 * knots_in_grid(pattern.strands, rows)


@given(patterns())
def test_a_mirrored_design_has_a_mirrored_face(pattern):
    rows, begin = 2 * pattern.rows, pattern.strands % 2
    other = mirrored(pattern)
    names, others = pattern.palette, other.palette
    faces = face(pattern, rows + begin)[begin:], face(other, rows)
    for one, two in zip(*faces, strict=True):
        assert [names[c] for c in one] == [others[c] for c in reversed(two)]


@given(patterns(max_rows=8))
def test_a_mirrored_design_permutes_the_thread_use(pattern):
    assume(short(pattern))
    one, two = plain_scores(pattern), plain_scores(mirrored(pattern))
    if pattern.strands % 2 == 0:  # else the mirrored band begins one row later
        for key in ("loop_mm", "path_mm", "use_mm"):
            assert one["thread"][key] == pytest.approx(two["thread"][key][::-1])
    for part in ("symmetry", "motif", "flatness", "repeat_rows"):
        same(one[part], two[part])
    assert one["handling"]["returning_knots"] == two["handling"]["returning_knots"]
    assert one["colour"]["balance"] == pytest.approx(two["colour"]["balance"])


@given(patterns(max_rows=10), st.integers(1, 12))
def test_a_shift_changes_only_what_counts_from_the_start(pattern, half):
    assume(short(pattern))
    one, two = plain_scores(pattern), plain_scores(shifted(pattern, 2 * half))
    two["colour"]["share"] = {n: two["colour"]["share"][n] for n in one["colour"]["share"]}
    same(without(one, *OF_THE_START), without(two, *OF_THE_START))


@given(patterns(), st.integers(1, 10))
def test_a_shift_moves_the_face(pattern, half):
    later = shifted(pattern, 2 * half)
    rows = pattern.rows + 4
    old = face(pattern, 2 * half + rows)[2 * half :]
    new = face(later, rows)
    assert [[pattern.palette[c] for c in r] for r in old] == [
        [later.palette[c] for c in r] for r in new
    ]


@given(patterns(max_rows=8), st.permutations(list(INKS)))
def test_recolouring_changes_no_thread_use(pattern, names):
    """Other colours on the strands, one colour for all included: the use per strand stays."""
    assume(short(pattern))
    swap = dict(zip(INKS, names, strict=True))
    for order in ([swap[c] for c in pattern.colour_order], ["teal"] * pattern.strands):
        other = make_pattern("", pattern.grid, order, INKS)
        same(plain_scores(pattern)["thread"], plain_scores(other)["thread"])


@given(patterns(max_rows=8), st.permutations(list(INKS)))
def test_renaming_colours_changes_only_the_contrast(pattern, names):
    assume(short(pattern))
    swap = dict(zip(INKS, names, strict=True))
    other = make_pattern("", pattern.grid, [swap[c] for c in pattern.colour_order], INKS)
    one, two = plain_scores(pattern), plain_scores(other)
    assert {swap[n]: v for n, v in one["colour"]["share"].items()} == two["colour"]["share"]
    same(without(one, "colour"), without(two, "colour"))


@given(patterns(max_rows=8), st.integers(2, 3))
def test_a_grid_written_several_times_scores_the_same(pattern, times):
    assume(short(pattern))
    rows = pattern.row_texts() * times
    other = make_pattern(pattern.title, rows, pattern.colour_order, pattern.colours)
    one, two = plain_scores(pattern), plain_scores(other)
    assert two["rows"] == times * one["rows"]
    same(without(one, "rows"), without(two, "rows"))


@settings(max_examples=40)
@given(patterns(max_rows=8), st.floats(20, 400), st.floats(1, 300))
def test_cut_lengths_grow_with_length(pattern, length, more):
    """A longer band never needs less of any strand, and no shorter cuts in all."""
    one, two = cut_list(pattern, length), cut_list(pattern, length + more)
    assert two.total_mm >= one.total_mm
    rows = [ThreadModel().rows_for(v, np.full(pattern.strands, 0.6)) for v in (length, length + 50)]
    assert rows[0] < rows[1]
    short_one, long_one = (
        strand_use(pattern, r, ThreadModel(), np.full(pattern.strands, 0.6)).use_mm for r in rows
    )
    assert (long_one > short_one).all()


@settings(max_examples=60)
@given(patterns(max_rows=8), st.floats(20, 300))
def test_every_strand_gets_what_it_needs(pattern, length):
    """Each strand is in one cut, and its side of the fold holds need, margin and allowance."""
    cuts = cut_list(pattern, length)
    assert sorted(s for c in cuts.cuts for s in c.strands) == list(range(pattern.strands))
    for cut in cuts.cuts:
        assert {pattern.colour_order[s] for s in cut.strands} == {cut.colour}
        wanted = [
            n + m + a for n, m, a in zip(cut.need_mm, cut.margin_mm, cut.allowance_mm, strict=True)
        ]
        assert cut.length_mm >= sum(wanted) - 1e-6
        if cut.fold_mm is not None:
            sides = (cut.fold_mm, cut.length_mm - cut.fold_mm)
            assert all(s >= w - 0.5 for s, w in zip(sides, wanted, strict=True))


@settings(max_examples=60)
@given(patterns(max_rows=8), st.integers(1, 40))
def test_passes_worked_as_instructions_make_the_face(pattern, rows):
    """An interpreter that knows only "pick up here, tie to there" ends with the same band.

    It keeps which strand hangs at each position, ties each knot of each pass as it comes, and
    refuses a knot whose tying strand is not in the hand.
    """
    at = list(range(pattern.strands))
    made: dict[tuple[int, int], int] = {}
    for one in plan_band(pattern, rows).passes():
        hand = at[one.start]
        for r, i, code in one.knots:
            assert (r - i) % 2 == 0
            assert (r, i) not in made
            for above in (i - 1, i + 1):  # what stands above is tied already
                if r and 0 <= above <= pattern.strands - 2:
                    assert (r - 1, above) in made
            tying = at[i + 1] if code & 1 else at[i]
            assert tying == hand
            made[(r, i)] = pattern.colour_index[tying]
            if not code & 2:
                at[i], at[i + 1] = at[i + 1], at[i]
        assert at[one.end] == hand
    known = {
        (r, i): c
        for r, row in enumerate(face(pattern, rows))
        for i, c in zip(positions_in_row(pattern.strands, r), row, strict=True)
    }
    assert made == known
