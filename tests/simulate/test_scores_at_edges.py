"""Scores, walks and packed counts at their edges."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from conftest import patterns
from hypothesis import given, settings

from motifsearch.pattern.design import make_pattern
from motifsearch.pattern.knots import knots_in_grid
from motifsearch.pattern.passes import pass_lower_bound, steady_passes
from motifsearch.pattern.walk import colour_return
from motifsearch.simulate.colour import balance
from motifsearch.simulate.handling import minutes, stretches
from motifsearch.simulate.reference import reference_scores
from motifsearch.simulate.scores import pattern_arrays, pattern_setting, score_batch, score_pattern
from motifsearch.simulate.thread_use import counts
from motifsearch.simulate.walk import carry, sigma
from motifsearch.thread.model import strand_use

TWO = {"a": "#102030", "b": "#f0e0c0"}


@given(patterns(max_rows=8))
def test_stretches_are_those_of_the_walk(pattern):
    """The batch counts from the third row on, when it is known who tied last."""
    knots, _ = pattern_arrays([pattern])
    begun = pass_lower_bound(pattern, pattern.rows + 2) - pass_lower_bound(pattern, 2)
    assert stretches(knots, pattern.strands).tolist() == [begun]


@settings(max_examples=40)
@given(patterns(max_rows=6))
def test_the_written_scores_are_the_reference(pattern):
    if colour_return(pattern) * pattern.rows > 200:
        return
    want = reference_scores(pattern, 80.0)
    got = score_pattern(pattern, 80.0).plain()
    repeat, knots = want["repeat_rows"], knots_in_grid(pattern.strands, want["repeat_rows"])
    assert (got["strands"], got["rows"]) == (pattern.strands, pattern.rows)
    assert got["repeat_rows"] == repeat
    assert got["rows_knotted"] == want["rows_knotted"]
    assert got["knots_per_repeat"] == knots
    assert got["symmetry"].pop("frieze_group") == want["frieze"]
    assert got["symmetry"] == {kind: want[kind] for kind in got["symmetry"]}
    assert list(got["colour"]["share"]) == list(pattern.palette)
    assert list(got["colour"]["share"].values()) == pytest.approx(want["shares"])
    assert got["colour"]["balance"] == pytest.approx(want["balance"])
    touch = want["contrast"]
    assert got["colour"]["contrast"] == (pytest.approx(touch) if math.isfinite(touch) else None)
    assert got["motif"] == pytest.approx({k: want[k] for k in ("coherence", "movement", "lone")})
    assert got["thread"]["use_mm"] == pytest.approx(want["loop_mm"] + want["path_mm"])
    assert got["thread"]["evenness"] == pytest.approx(want["evenness"])
    assert got["thread"]["offcut"] == pytest.approx(want["offcut"])
    assert got["flatness"] == pytest.approx(want["flatness"])
    handling = got["handling"]
    passes = max(1, steady_passes(pattern)) * repeat / pattern.rows
    assert handling["passes_per_repeat"] == pytest.approx(passes)
    assert handling["hitches_per_pass"] == pytest.approx(2 * knots / passes)
    assert handling["returning_knots"] == pytest.approx(want["returning"] * knots)
    rows = want["rows_knotted"]
    work = minutes(knots_in_grid(pattern.strands, rows), passes * rows / repeat)
    assert handling["minutes"] == pytest.approx(work)


@given(patterns(max_rows=6))
def test_wide_states_are_carried_like_bytes(pattern):
    knots, _ = pattern_arrays([pattern])
    for kind in (np.uint16, np.uint64):
        state = np.arange(pattern.strands, dtype=kind)[:, None] * kind(257)  # in both bytes
        carry(knots, state)  # type: ignore[arg-type]
        assert (state // kind(257)).tolist() == sigma(knots, pattern.strands).tolist()  # type: ignore[operator]
        assert not (state % kind(257)).any()  # type: ignore[operator]


def test_balance_counts_the_colours_that_strands_have():
    """The palette may name more: k is the number of colours in the colour order."""
    shares = np.array([[0.5, 1.0, 0.25], [0.5, 0.0, 0.75], [0.0, 0.0, 0.0]])
    order = np.array([[0, 0, 0], [0, 0, 0], [1, 0, 1], [1, 0, 1]], np.uint8)
    entropy = -(0.25 * math.log(0.25) + 0.75 * math.log(0.75))
    assert balance(shares, order) == pytest.approx([1.0, 1.0, entropy / math.log(2)])


@pytest.mark.parametrize("rows", [255, 256, 511, 512, 513])
def test_counts_at_the_edges_of_their_fields(rows):
    """Where the packed counts get more bits, and where the narrow ones are nearly full."""
    for texts in (["rl rl", "rl"], ["rr rr", "rr"], ["lr rl", "rr"]):
        pattern = make_pattern("", texts, "aabb", TWO)
        use = strand_use(pattern, rows)
        crossing, returning, cores, waits = counts(pattern_arrays([pattern])[0], 4, rows)
        assert (crossing + returning)[:, 0].tolist() == use.loops.tolist()
        assert cores[:, 0].tolist() == use.cores.tolist()
        assert waits[:, 0].tolist() == use.waits.tolist()


def test_one_period_beyond_what_is_scored_is_left_out():
    pattern = make_pattern("", ["rl rl", "rl"] * 3, "aabb", TWO)
    setting = replace(pattern_setting(pattern), most_rows=4)
    found = score_batch(*pattern_arrays([pattern]), setting)
    assert not found.scored[0]
    assert (found.total_rows[0], found.repeat_rows[0]) == (0, 0)


def test_the_default_band_is_150_mm():
    """150 mm over a pitch of 2.1 * 0.6 mm are 119.05 rows."""
    assert score_pattern(make_pattern("", ["rr rr", "rr"], "aabb", TWO))["rows_knotted"] == 119
