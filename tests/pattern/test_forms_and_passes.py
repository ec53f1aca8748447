"""Canonical forms, periods and passes at their edges."""

from __future__ import annotations

import re

import pytest
from conftest import patterns
from hypothesis import given

from motifsearch.pattern.bandplan import plan_band
from motifsearch.pattern.canonical_form import canonical, canonical_key, shortest_period
from motifsearch.pattern.design import make_pattern
from motifsearch.pattern.knots import knots_in_grid, slots_in_row
from motifsearch.pattern.passes import Pass, _side

TWO = {"a": "#102030", "b": "#f0e0c0"}


def test_the_form_of_leaning_diagonals_by_hand():
    """Mirroring turns ll into rr, which is the least code; either side's pair may come first."""
    for rows in (["rr rr", "rr"], ["ll ll", "ll"]):
        for order in ("aabb", "bbaa"):
            assert canonical(make_pattern("", rows, order, TWO)) == (((0, 0), (0,)), (0, 0, 1, 1))


@given(patterns(max_rows=8))
def test_the_form_is_no_greater_than_the_design_itself(pattern):
    """The form is the least over all phases, so it is at most the grid begun at any even row."""
    form, colours = canonical(pattern)
    own = shortest_period(pattern.knots)
    for start in range(0, len(own), 2):
        assert form <= own[start:] + own[:start]
    assert colours[0] == 0
    assert set(colours) == set(range(len(pattern.palette)))


def test_a_period_is_even():
    """With an odd number of strands all rows are alike in length, yet odd rows stand shifted."""
    one, two = (0, 1), (2, 3)
    assert shortest_period((one,) * 6) == (one, one)
    assert shortest_period((one, one, two) * 2) == (one, one, two) * 2
    assert shortest_period((one, two, two, one) * 2) == (one, two, two, one)


def test_returning_knots_repeat_to_the_last_row():
    """Where no strand moves every row is worked like the one two above, the last ones too."""
    plan = plan_band(make_pattern("", ["rl rl", "rl"], "aabb", TWO), 10)
    assert (plan.opening, plan.cycle_rows, plan.times, plan.ending) == ((), 2, 5, ())
    assert len(list(plan.passes())) == 15


@pytest.mark.parametrize("strands", [5, 8])
def test_every_pass_of_a_band_is_worked_once(strands):
    rows = ["rr " * slots_in_row(strands, r) for r in range(2)]
    plan = plan_band(make_pattern("", rows, "a" * strands, TWO), 41)
    knots = [knot[:2] for one in plan.passes() for knot in one.knots]
    assert len(knots) == len(set(knots)) == knots_in_grid(strands, 41)


def test_the_key_has_16_digits():
    key = canonical_key(make_pattern("", ["rr rr", "rr"], "aabb", TWO))
    assert re.fullmatch("[0-9a-f]{16}", key)


@pytest.mark.parametrize(
    ("strands", "place", "side"),
    [(8, 2, 0), (8, 3, 2), (8, 4, 1), (6, 1, 0), (6, 2, 2), (6, 3, 1)],
)
def test_a_knot_is_left_or_right_or_across_the_middle(strands, place, side):
    """The knot at i joins i and i + 1: at i = S/2 - 1 one of its strands is in either half."""
    assert _side(Pass(0, place, ((0, place, 2),), place), strands) == side
