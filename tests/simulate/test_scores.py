"""The batch scorer against the plain reference, on random designs of every size."""

from __future__ import annotations

import math
from dataclasses import fields

import numpy as np
import pytest
from conftest import INKS, patterns
from hypothesis import given, settings

from motifsearch.base.colour import difference_matrix
from motifsearch.pattern.design import make_pattern
from motifsearch.pattern.walk import colour_return, face, sigma
from motifsearch.simulate.colour import balance
from motifsearch.simulate.reference import reference_scores
from motifsearch.simulate.scores import (
    Setting,
    pattern_arrays,
    pattern_setting,
    score_batch,
    score_batches,
)
from motifsearch.simulate.symmetry import GROUPS, KINDS
from motifsearch.simulate.thread_use import counts
from motifsearch.simulate.walk import faces, return_periods
from motifsearch.simulate.walk import sigma as batch_sigma
from motifsearch.thread.model import ThreadModel, strand_use


@given(patterns())
def test_walk_equals_the_reference(pattern):
    knots, colours = pattern_arrays([pattern])
    assert batch_sigma(knots, pattern.strands)[:, 0].tolist() == list(sigma(pattern))
    assert return_periods(knots, colours, 10**6)[0] == colour_return(pattern)
    rows = 3 * pattern.rows
    cells = faces(knots, colours, rows)[:, :, 0]
    for r, row in enumerate(face(pattern, rows)):
        assert cells[r, : len(row)].tolist() == row


@pytest.mark.slow
@settings(max_examples=80)
@given(patterns(max_rows=8))
def test_scores_equal_the_reference(pattern):
    if colour_return(pattern) * pattern.rows > 400:
        return
    want = reference_scores(pattern, 97.0)
    got = score_batch(*pattern_arrays([pattern]), pattern_setting(pattern, 97.0))
    for kind in KINDS:
        value = got.symmetry[kind][0]
        assert math.isnan(value) if want[kind] is None else value == want[kind]
    assert GROUPS[got.frieze[0]] == want["frieze"]
    for name in ("total_rows", "repeat_rows", "rows_knotted"):
        assert getattr(got, name)[0] == want[name]
    for name in (
        "balance",
        "contrast",
        "coherence",
        "movement",
        "lone",
        "evenness",
        "offcut",
        "flatness",
        "returning",
    ):
        assert getattr(got, name)[0] == pytest.approx(want[name], abs=1e-12), name
    assert got.shares[:, 0] == pytest.approx(want["shares"])
    assert got.loop_mm[:, 0] == pytest.approx(want["loop_mm"])
    assert got.path_mm[:, 0] == pytest.approx(want["path_mm"])


@pytest.mark.slow
@settings(max_examples=30)
@given(patterns(max_rows=6))
def test_threads_of_different_thickness(pattern):
    per_colour = np.array([0.5, 0.8, 0.6, 1.1, 0.7])[: len(pattern.palette)]
    per_strand = per_colour[pattern.colour_index]
    model = ThreadModel(bend=0.3, loop_scale=0.9, returning=(6.5, 2.0))
    want = reference_scores(pattern, 60.0, per_strand, model)
    got = score_batch(*pattern_arrays([pattern]), pattern_setting(pattern, 60.0, model, per_colour))
    assert got.rows_knotted[0] == want["rows_knotted"]
    assert got.loop_mm[:, 0] == pytest.approx(want["loop_mm"])
    assert got.path_mm[:, 0] == pytest.approx(want["path_mm"])


@given(patterns())
def test_a_batch_is_its_members(pattern):
    """Scoring many designs at once changes nothing about each."""
    rng = np.random.default_rng(pattern.n_knots)
    knots, colours = pattern_arrays([pattern])
    more = rng.integers(0, 4, (*knots.shape[:2], 6), np.uint8)
    orders = rng.integers(0, len(pattern.palette), (pattern.strands, 6)).astype(np.uint8)
    setting = pattern_setting(pattern)
    if (return_periods(more, orders, 100) == 0).any() or colour_return(pattern) > 100:
        return
    both = score_batch(
        np.concatenate([more, knots], -1), np.concatenate([orders, colours], -1), setting
    )
    alone = score_batch(knots, colours, setting)
    for name in ("repeat_rows", "balance", "coherence", "movement", "evenness", "frieze"):
        assert getattr(both, name)[-1] == getattr(alone, name)[0]


@given(patterns())
def test_every_knot_has_one_tying_and_one_core_strand(pattern):
    knots, _ = pattern_arrays([pattern])
    rows = 2 * pattern.rows + 1
    crossing, returning, cores, waits = counts(knots, pattern.strands, rows)
    use = strand_use(pattern, rows)
    assert (crossing + returning)[:, 0].tolist() == use.loops.tolist()
    assert cores[:, 0].tolist() == use.cores.tolist()
    assert waits[:, 0].tolist() == use.waits.tolist()
    assert cores.sum() == (crossing + returning).sum()


def test_long_bands_use_wide_counts():
    p = make_pattern("", ["rl rl", "rl"], "aabb", {"a": INKS["sand"], "b": INKS["teal"]})
    knots, _ = pattern_arrays([p])
    _, returning, cores, _ = counts(knots, 4, 900)
    assert returning[:, 0].tolist() == [450, 450, 450, 0]
    assert cores[:, 0].tolist() == [0, 450, 450, 450]


def test_designs_that_repeat_too_late_are_left_out():
    p = make_pattern("", ["rr rr rr", "rr rr"], "abcdef", dict.fromkeys("abcdef", "#000000"))
    knots, colours = pattern_arrays([p])
    from dataclasses import replace

    setting = replace(pattern_setting(p), most_rows=4)
    assert not score_batch(knots, colours, setting).scored[0]
    assert score_batch(knots, colours, replace(setting, most_rows=12)).scored[0]


@given(patterns(max_rows=8))
def test_long_repeats_are_judged_alike(pattern):
    """All phases by one Fourier transform, or one after the other: the same numbers."""
    from motifsearch.simulate import symmetry

    knots, colours = pattern_arrays([pattern])
    periods = int(return_periods(knots, colours, 40)[0])
    if not periods:
        return
    face_cells = faces(knots, colours, periods * pattern.rows)
    usual = symmetry.LONG
    found = []
    try:
        for symmetry.LONG in (2, 10**9):
            found.append(
                [
                    symmetry.agreement(face_cells, kind, pattern.strands)
                    for kind in ("flip", "half_turn")
                ]
            )
    finally:
        symmetry.LONG = usual  # type: ignore[misc]
    for one, other in zip(*found, strict=True):
        assert one.tolist() == other.tolist()


@pytest.mark.parametrize("palette", [2, 5, 40])
@pytest.mark.parametrize("strands", [5, 8, 10])
def test_batches_are_scored_together_as_they_are_alone(strands, palette):
    rng = np.random.default_rng(strands * palette)
    rgb = rng.integers(0, 256, (palette, 3))
    setting = Setting(
        difference_matrix([f"#{r:02x}{g:02x}{b:02x}" for r, g, b in rgb]),
        rng.uniform(0.5, 1.2, palette),
        most_rows=90,
    )
    batches = []
    for period, n in ((4, 60), (6, 1), (10, 40), (12, 30), (24, 20)):
        knots = rng.integers(0, 4, (period, strands // 2, n)).astype(np.uint8)
        knots[1::2, (strands - 1) // 2 :] = 0
        # Few strands' colours differ, so that T is short often enough.
        colours = rng.integers(0, palette, (2, n)).astype(np.uint8)
        order = colours[(np.arange(strands) > 1).astype(int)]
        batches.append((knots, order))
    together = score_batches(batches, setting)
    assert sum(int(s.scored.sum()) for s in together) > 100
    assert len({int(t) for s in together for t in s.total_rows}) > 10
    for (knots, order), got in zip(batches, together, strict=True):
        for n in range(knots.shape[2]):
            alone = score_batch(knots[..., n : n + 1], order[:, n : n + 1], setting)
            for field in fields(alone):
                mine, one = getattr(got, field.name), getattr(alone, field.name)
                if field.name == "symmetry":
                    for kind, share in one.items():
                        np.testing.assert_array_equal(mine[kind][n], share[0])
                elif field.name in ("evenness", "offcut", "loop_mm", "path_mm", "balance"):
                    np.testing.assert_allclose(mine[..., n], one[..., 0], rtol=1e-13)
                else:
                    np.testing.assert_array_equal(mine[..., n], one[..., 0], field.name)


def test_wanted_shares_are_held_by_their_total_variation_distance():
    # The definition worked by hand: half the sum of |0.5 - 0.2|, |0.3 - 0.3| and |0.2 - 0.5|.
    order = np.array([[0], [1], [2]], np.uint8)
    shares, wanted = np.array([[0.5], [0.3], [0.2]]), np.array([0.2, 0.3, 0.5])
    assert balance(shares, order, wanted)[0] == pytest.approx(0.7)
    assert balance(wanted[:, None], order, wanted)[0] == 1.0
    assert balance(np.eye(3)[:, :1], order, np.array([0.0, 0.5, 0.5]))[0] == 0.0
