"""Checks that mutation testing found missing: each fails for a small change of the code.

The values here are worked by hand from the definitions in the docstrings of what is tested, or
come from the plain versions of `motifsearch.pattern` and `motifsearch.simulate.reference`.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from conftest import patterns
from hypothesis import given, settings

from motifsearch.pattern.bandplan import plan_band
from motifsearch.pattern.canonical import canonical, shortest_period
from motifsearch.pattern.design import make_pattern
from motifsearch.pattern.errors import InputError, shorten
from motifsearch.pattern.knots import knots_in_grid, slots_in_row
from motifsearch.pattern.passes import pass_lower_bound, steady_passes
from motifsearch.pattern.tomlfile import Table
from motifsearch.pattern.walk import colour_return
from motifsearch.simulate.colour import balance
from motifsearch.simulate.handling import minutes, stretches
from motifsearch.simulate.reference import reference_scores
from motifsearch.simulate.scores import pattern_arrays, score_pattern
from motifsearch.thread import stock_columns
from motifsearch.thread.cutting import Cut, CutList, fold_point
from motifsearch.thread.kits import shopping_list
from motifsearch.thread.pairing import classes_of, spread
from motifsearch.thread.plan import CuttingPlan
from motifsearch.thread.stash import Stash, StashThread, parse_stash
from motifsearch.thread.stock import Filled, Kind, Problem, best_fit, group_kinds
from motifsearch.thread.stock import patterns as all_cuts
from motifsearch.thread.stock_columns import Columns, minimise
from motifsearch.thread.stock_program import fill_without_waste, solve
from motifsearch.thread.texts import labels_text

TWO = {"a": "#102030", "b": "#f0e0c0"}


# --- patterns ------------------------------------------------------------------------------------


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


def test_a_long_value_is_shown_at_80_characters():
    assert len(shorten("x" * 200)) == 80
    assert shorten("x" * 78) == repr("x" * 78)
    assert shorten("x" * 79).endswith("...")


def table(**data):
    return Table(data, "file.toml")


def test_the_bounds_of_numbers_that_name_none():
    assert table(n=0).whole("n") == 0
    assert table(n=10**9).whole("n") == 10**9
    assert table(n=0).number("n") == 0.0
    assert table(n=1e9).number("n") == 1e9
    for n in (-1, 10**9 + 1):
        with pytest.raises(InputError, match="from 0 to"):
            table(n=n).whole("n")
        with pytest.raises(InputError, match="from 0 to"):
            table(n=n).number("n")


def test_a_number_above_its_bound_is_not_the_bound():
    assert table(n=0.5).number("n", low=0.25, above=True) == 0.5
    assert table(n=0.25).number("n", low=0.25) == 0.25
    with pytest.raises(InputError, match="a number above 0.25"):
        table(n=0.25).number("n", low=0.25, above=True)


def test_a_text_that_is_no_unicode_is_refused():
    with pytest.raises(InputError, match="UTF-8"):
        table(t="thread\udcff").text("t")


def test_a_list_of_tables_is_missed_unless_it_may_be():
    with pytest.raises(InputError, match="missing; expected tables"):
        parse_stash(table(show="metric"))
    with pytest.raises(InputError, match="missing"):
        table().tables("threads")
    assert list(table().tables("threads", required=False)) == []


# --- scores --------------------------------------------------------------------------------------


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
    got = score_pattern(pattern, 80.0)
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


def test_balance_counts_the_colours_that_strands_have():
    """The palette may name more: k is the number of colours in the colour order."""
    shares = np.array([[0.5, 1.0, 0.25], [0.5, 0.0, 0.75], [0.0, 0.0, 0.0]])
    order = np.array([[0, 0, 0], [0, 0, 0], [1, 0, 1], [1, 0, 1]], np.uint8)
    entropy = -(0.25 * math.log(0.25) + 0.75 * math.log(0.75))
    assert balance(shares, order) == pytest.approx([1.0, 1.0, entropy / math.log(2)])


# --- threads -------------------------------------------------------------------------------------


def test_equal_strands_are_paired_before_others():
    classes = classes_of([0, 1, 2, 3], [1.0, 1.0, 1.0, 2.0])
    assert spread(classes, [(0, 1), (0, 0)]) == [(0, 1), (2, 3)]


def test_a_fold_may_lie_where_the_second_share_begins():
    assert fold_point(1203.0, 805.0, 2010.0) == 1205.0


def test_runs_of_bands_apart_from_the_first():
    assert labels_text(["1A", "2A", "5A", "6A", "9A"]) == "A of bands 1-2, 5-6, 9"
    assert labels_text(["3B"]) == "B of band 3"


def test_an_empty_plan_is_whole():
    plan = CuttingPlan(())
    assert plan.feasible
    assert (plan.gap, plan.waste_mm, plan.gaps) == (0.0, 0.0, (0.0, 0.0, 0.0))


def test_a_piece_of_just_the_length_is_used():
    found, missing = best_fit(Problem((Kind(700.0, 1), Kind(900.0, 1, True)), (700.0,), (2,)))
    assert [one.kind for one in found] == [0, 1]
    assert missing == [0]
    # A begun piece whose rest is just as long is used before a fresh one.
    found, missing = best_fit(Problem((Kind(1000.0, 2),), (600.0, 400.0), (1, 1)))
    assert found == [Filled(0, (1, 1))]


def test_patterns_are_given_up_beyond_their_limit_only():
    lengths, most = [3.0, 5.0], [9, 9]
    assert len(all_cuts(lengths, 9.0, most, 5)) == 5
    assert all_cuts(lengths, 9.0, most, 4) is None


def test_no_plan_without_waste_takes_more_pieces_than_there_are():
    """One cut of 1000 and four of 500 fill three pieces of 1000; there are two."""
    short = Problem((Kind(1000.0, 2),), (1000.0, 500.0), (1, 4))
    assert fill_without_waste(Columns(short)) is None
    enough = Problem((Kind(1000.0, 3),), (1000.0, 500.0), (1, 4))
    assert len(fill_without_waste(Columns(enough))) == 3


@pytest.mark.parametrize("seed", range(6))
def test_long_pieces_are_cut_as_well_as_listed_ones(seed, monkeypatch):
    """A piece with too many patterns gets other columns; the optimum is the same."""
    rng = np.random.default_rng(seed)
    lengths = tuple(float(n) for n in rng.choice(np.arange(300, 900, 10), 3, replace=False))
    pieces = [float(n) for n in rng.integers(9, 21, 3) * 100]
    kinds = group_kinds(pieces, [n >= 1600.0 for n in pieces])
    problem = Problem(kinds, lengths, tuple(int(n) for n in rng.integers(1, 3, 3)), 300.0)
    listed = solve(problem, 30.0)
    monkeypatch.setattr(stock_columns, "patterns", lambda *_: None)
    assert all(table is None for _, _, table in Columns(problem).blocks)
    long = solve(problem, 30.0)
    want = problem.aims(listed.filled, listed.missing)
    got = problem.aims(long.filled, long.missing)
    assert got[:2] == pytest.approx(want[:2], abs=1e-3)
    assert got[2] == pytest.approx(want[2], rel=2e-3)
    for which in (0, 1):
        _, bound = minimise(Columns(problem), which, {}, 30.0)
        assert bound <= want[which] + 1e-3


def test_columns_that_are_left_out_are_not_used():
    problem = Problem((Kind(1000.0, 2),), (400.0, 300.0), (2, 2), 100.0)
    columns = Columns(problem)
    keep = columns.fullest(1)
    assert keep.all()  # at least 20 of every kind are kept
    keep = np.ones(columns.size, bool)
    full = columns.blocks[0][1] + int(np.flatnonzero((columns.blocks[0][2] == [1, 2]).all(1))[0])
    keep[full] = False
    x, bound = minimise(columns, 0, {}, 30.0, keep=keep)
    assert x is not None
    assert x[full] == 0.0
    assert bound == 0.0  # nothing is proven when columns are left out


def one_cut(colour, length):
    return CutList((Cut("A", colour, (0,), (1.0,), (0.0,), (0.0,), length, None),), 10, 100.0)


@pytest.mark.parametrize(("skein", "assumed"), [(5.0, False), (None, True)])
def test_a_shopping_list_says_when_a_skein_is_assumed(skein, assumed):
    stash = Stash((StashThread("sand", "#d8c49a", 0.6, None, (), skein),))
    line = shopping_list(one_cut("sand", 4000.0), stash, 2).lines[0]
    assert line.assumed is assumed
    assert line.skein_m == (skein or 8.0)
    assert line.skeins == line.least == (2 if skein else 1)
