"""Kinds: the canonical form in batches, and columns that hold for every colouring and length."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
from conftest import patterns
from hypothesis import given, settings
from hypothesis import strategies as st

from motifsearch.base.colour import colour_difference
from motifsearch.describe.figures import FIGURES, figure_of
from motifsearch.library.building import (
    kind_pattern,
    kinds_in,
    kinds_of,
    marked_eased,
    together,
    with_figures,
)
from motifsearch.library.columns import MOST_ROWS, UNSEEN, bit, layout, packed, unpacked, use_mm
from motifsearch.library.naming import forms, keys, shortest
from motifsearch.pattern.canonical_form import canonical, canonical_key, shortest_period
from motifsearch.pattern.design import Pattern, make_pattern
from motifsearch.pattern.knots import slots_in_row
from motifsearch.pattern.walk import colour_return, strands_return, walk
from motifsearch.simulate.scores import pattern_arrays, score_pattern
from motifsearch.thread.model import ThreadModel, strand_use

INK = {"sand": "#d8c49a", "teal": "#1f7a78", "brick": "#a5432d", "night": "#1d2a4d"}


def one_kind(pattern: Pattern):
    batches = kinds_of([pattern])
    return batches[0] if batches else None


@given(patterns(max_rows=8))
@settings(max_examples=150)
def test_the_form_of_a_batch_is_that_of_the_plain_reference(pattern):
    knots, colours = pattern_arrays([pattern])
    rows, classes = canonical(pattern)
    q = int(shortest(knots)[0])
    assert q == len(shortest_period(pattern.knots))
    who, grid, mine = forms(knots[:q], colours, 10**6)
    assert who.tolist() == [0]
    found = tuple(
        tuple(row[: slots_in_row(pattern.strands, r)].tolist())
        for r, row in enumerate(grid[..., 0])
    )
    assert (found, tuple(mine[:, 0].tolist())) == (rows, classes)
    assert f"{int(keys(grid, mine)[0]):016x}" == canonical_key(pattern)


def test_many_designs_at_once_are_named_as_each_alone():
    rng = np.random.default_rng(3)
    knots = rng.choice(4, (6, 5, 400), p=[0.6, 0.2, 0.1, 0.1]).astype(np.uint8)
    colours = rng.integers(0, 3, (10, 400)).astype(np.uint8)
    knots[..., :200] = np.tile(knots[:2, :, :200], (3, 1, 1))  # half of them repeat sooner
    found = {int(k) for kinds in kinds_in(knots, colours) for k in kinds["key"]}
    names = ["a", "b", "c"]
    want = set()
    for n in range(400):
        grid = [
            " ".join(("rr", "ll", "rl", "lr")[c] for c in row[: slots_in_row(10, r)])
            for r, row in enumerate(knots[..., n])
        ]
        order = [names[c] for c in colours[:, n]]
        pattern = make_pattern("", grid, order, dict.fromkeys(order, "#000000"))
        if colour_return(pattern) * len(shortest_period(pattern.knots)) <= MOST_ROWS:
            want.add(int(canonical_key(pattern), 16))
    assert found <= want
    # What is left out repeats later than any brief allows.
    assert len(want - found) <= len(want) * 0.02


@given(patterns(max_rows=6))
@settings(max_examples=60)
def test_one_design_is_one_kind_however_it_is_held(pattern):
    kinds = one_kind(pattern)
    if kinds is None:
        return
    other = kind_pattern(kinds, 0)  # the same with other names, at another phase
    assert canonical_key(other) == f"{int(kinds['key'][0]):016x}"
    both = kinds_of([pattern, other])
    assert sum(len(k) for k in both) == 1


@given(patterns(max_rows=6), st.integers(1, 3))
@settings(max_examples=80)
def test_thread_is_arithmetic_over_whole_rounds(pattern, times):
    """Source: the plain model, knot by knot (motifsearch.thread.model.strand_use)."""
    kinds = one_kind(pattern)
    if kinds is None:
        return
    kind = kind_pattern(kinds, 0)
    rows = strands_return(kind) * times
    if rows > 4000:
        return
    model = ThreadModel(row_gauge=2.0, strand_gauge=2.3, bend=0.07, loop_scale=0.9)
    want = strand_use(kind, rows, model, np.full(kind.strands, 0.8)).use_mm
    assert use_mm(kinds, rows, model, 0.8)[:, 0] == pytest.approx(want, rel=1e-9)


@given(patterns(max_rows=6, max_colours=4))
@settings(max_examples=80)
def test_scores_do_not_hang_on_colours(pattern):
    kinds = one_kind(pattern)
    if kinds is None:
        return
    scores = score_pattern(pattern)
    values = {
        "repeat_rows": scores.repeat_rows,
        "movement": scores.motif.movement,
        "coherence": scores.motif.coherence,
        "lone": scores.motif.lone,
        "flatness": scores.flatness,
        "balance": scores.colour.balance,
    }
    for name, value in values.items():
        assert float(kinds[name][0]) == pytest.approx(value, abs=2e-6), name
    symmetry = scores.symmetry
    best = max(v for v in (symmetry.mirror, symmetry.glide, symmetry.flip, symmetry.half_turn)
               if v is not None)  # fmt: skip
    assert float(kinds["symmetry"][0]) == pytest.approx(best, abs=2e-6)
    shares = sorted(scores.colour.share.values())
    assert sorted(kinds["shares"][: len(shares), 0].tolist()) == pytest.approx(shares, abs=2e-6)
    order = Counter(pattern.colour_order)
    assert int(kinds["odd"][0]) == sum(n % 2 for n in order.values())
    assert int(kinds["classes"][0]) == len(order)


@given(patterns(max_rows=6, max_colours=5))
@settings(max_examples=80)
def test_contrast_is_the_least_difference_of_classes_that_touch(pattern):
    kinds = one_kind(pattern)
    if kinds is None:
        return
    kind = kind_pattern(kinds, 0)
    inks = [kind.colours[name] for name in sorted(kind.palette)]
    touching = int(kinds["touching"][0])
    pairs = [(c, d) for c in range(len(inks)) for d in range(c) if touching >> bit(c, d) & 1]
    contrast = score_pattern(kind).colour.contrast
    if contrast is None:
        assert not pairs
    else:
        least = min(colour_difference(inks[c], inks[d]) for c, d in pairs)
        assert least == pytest.approx(contrast, abs=1e-9)
    # And by looking at every cell of the face.
    rows = [[kind.colour_order[k.tying] for k in row]
            for row in walk(kind, 2 * int(kinds["repeat_rows"][0]) + 1).rows]  # fmt: skip
    seen = set()
    for r, row in enumerate(rows[:-1]):
        for k, colour in enumerate(row):
            for step in (0, 1):
                j = k + (r % 2) - 1 + step
                if 0 <= j < len(rows[r + 1]) and rows[r + 1][j] != colour:
                    seen.add(frozenset((colour, rows[r + 1][j])))
    names = sorted(kind.palette)
    assert seen == {frozenset((names[c], names[d])) for c, d in pairs}


def test_evenness_of_a_long_band_is_the_one_that_is_kept():
    pattern = make_pattern(
        "", ["rl rr ll lr", "rr ll rr"], ["sand", "teal"] * 4, {k: INK[k] for k in ("sand", "teal")}
    )
    kinds = one_kind(pattern)
    assert kinds is not None
    far = score_pattern(pattern, 30_000.0).thread.evenness
    assert float(kinds["even"][0]) == pytest.approx(far, abs=2e-3)


def test_figures_are_those_of_the_design_and_only_when_looked_at():
    pattern = make_pattern(
        "", ["rr rr ll ll", "rr ll ll"], ["sand", "teal", "brick", "night"] * 2, INK
    )
    mirror = make_pattern(
        "", ["rr rr ll ll", "rr ll ll"],
        ["sand", "teal", "brick", "night", "night", "brick", "teal", "sand"], INK,
    )  # fmt: skip
    for one in (pattern, mirror):
        kinds = one_kind(one)
        assert kinds is not None
        assert kinds["figure"].tolist() == [UNSEEN]
        seen = list(FIGURES)[int(with_figures(kinds)["figure"][0])]
        assert seen == figure_of(kind_pattern(kinds, 0)).kind
    assert figure_of(mirror).kind == "arrowheads"


@given(st.integers(4, 24), st.sampled_from([2, 4, 6]))
def test_grids_are_packed_without_loss(strands, period):
    rng = np.random.default_rng(strands)
    knots = rng.integers(0, 4, (period, strands // 2, 7)).astype(np.uint8)
    small = packed(knots)
    assert len(small) == layout(strands, period)["knots"][1][0]
    assert (unpacked(small, strands, period) == knots).all()


def test_of_two_the_same_the_one_of_which_more_is_known_stays():
    pattern = make_pattern("", ["rr rr", "rr"], "aabb", {"a": "#000000", "b": "#ffffff"})
    plain, known = kinds_of([pattern]), marked_eased(kinds_of([pattern]))
    for batches in ([*plain, *known], [*known, *plain]):
        (kinds,) = together(batches)
        assert kinds["eased"].tolist() == [1]
