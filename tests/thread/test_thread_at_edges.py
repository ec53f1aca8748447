"""Pairing, plans, kits, measurements and calibration at their edges."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
import pytest

from motifsearch.base.errors import InputError
from motifsearch.base.tomlfile import Table
from motifsearch.base.work import Work
from motifsearch.pattern.design import make_pattern
from motifsearch.pattern.files import write_pattern
from motifsearch.thread import stock_columns, stock_program
from motifsearch.thread.calibration import format_calibration, read_calibration
from motifsearch.thread.cutting import Allowances, Cut, CutList, fold_point
from motifsearch.thread.fit import fit
from motifsearch.thread.fitting import pair_fit
from motifsearch.thread.kits import shopping_list
from motifsearch.thread.measurement import (
    Measurement,
    Observation,
    measurement_form,
    read_measurement,
)
from motifsearch.thread.model import ThreadModel, strand_use
from motifsearch.thread.pairing import classes_of, spread
from motifsearch.thread.plan import CuttingPlan, can_cut
from motifsearch.thread.stash import Stash, StashThread, parse_stash
from motifsearch.thread.stock import Filled, Kind, Problem, best_fit, group_kinds
from motifsearch.thread.stock import patterns as all_cuts
from motifsearch.thread.stock_columns import Columns, minimise
from motifsearch.thread.stock_program import fill_without_waste, solve
from motifsearch.thread.texts import cut_list_text, labels_text

TWO = {"a": "#102030", "b": "#f0e0c0"}


def table(**data):
    return Table(data, "file.toml")


def one_cut(colour, length):
    return CutList((Cut("A", colour, (0,), (1.0,), (0.0,), (0.0,), length, None),), 10, 100.0)


#: A border that always returns, and strands that are tied around more or less often.
LANES = make_pattern("lanes", ["rl rr ll lr", "rr rl lr"], "aabbbbaa", TWO)


def knotted(seed, rows):
    """A band by a hand with loops of 0.9 and a bend of 0.6, every strand measured."""
    rng = np.random.default_rng(seed)
    d, hand = np.full(8, 0.6), ThreadModel(loop_scale=0.9, bend=0.6)
    use = strand_use(LANES, rows, hand, d).use_mm * (1.0 + 0.03 * rng.standard_normal(8))
    seen = tuple(Observation((s,), float(use[s])) for s in range(8))
    return Measurement(LANES, rows, rows * hand.row_pitch_mm(d), 8 * 2.1 * 0.6, d, seen)


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
    listed = solve(problem, Work(30e6))
    monkeypatch.setattr(stock_columns, "patterns", lambda *_: None)
    assert all(table is None for _, _, table in Columns(problem).blocks)
    long = solve(problem, Work(30e6))
    want = problem.aims(listed.filled, listed.missing)
    got = problem.aims(long.filled, long.missing)
    assert got[:2] == pytest.approx(want[:2], abs=1e-3)
    assert got[2] == pytest.approx(want[2], rel=2e-3)
    for which in (0, 1):
        _, bound = minimise(Columns(problem), which, {}, Work(30e6))
        assert bound <= want[which] + 1e-3


def test_columns_that_are_left_out_are_not_used():
    problem = Problem((Kind(1000.0, 2),), (400.0, 300.0), (2, 2), 100.0)
    columns = Columns(problem)
    keep = columns.fullest(1)
    assert keep.all()  # at least 20 of every kind are kept
    keep = np.ones(columns.size, bool)
    full = columns.blocks[0][1] + int(np.flatnonzero((columns.blocks[0][2] == [1, 2]).all(1))[0])
    keep[full] = False
    x, bound = minimise(columns, 0, {}, Work(30e6), keep=keep)
    assert x is not None
    assert x[full] == 0.0
    assert bound == 0.0  # nothing is proven when columns are left out


@pytest.mark.parametrize(("skein", "assumed"), [(5.0, False), (None, True)])
def test_a_shopping_list_says_when_a_skein_is_assumed(skein, assumed):
    stash = Stash((StashThread("sand", "#d8c49a", 0.6, None, (), skein),))
    line = shopping_list(one_cut("sand", 4000.0), stash, 2).lines[0]
    assert line.assumed is assumed
    assert line.skein_m == (skein or 8.0)
    assert line.skeins == line.least == (2 if skein else 1)


def test_pairs_are_chosen_for_the_pieces():
    """Two pieces of 500: only the longest with the shortest, twice, can be cut from them."""
    classes = classes_of([0, 1, 2, 3], [100.0, 200.0, 300.0, 400.0])
    thread = StashThread("sand", "#d8c49a", 0.6, None, (500.0, 500.0))
    assert sorted(pair_fit(classes, thread)) == [(0, 3), (1, 2)]


def test_the_gap_is_what_the_bound_leaves_open(monkeypatch):
    """Missing 1500 mm, where 600 mm are proven: the best might be 60 % lower."""
    problem = Problem((Kind(1000.0, 1),), (800.0, 700.0), (2, 1))
    assert problem.aims(*best_fit(problem))[0] == 1500.0
    monkeypatch.setattr(stock_program, "minimise", lambda *_, **__: (None, 600.0))
    assert solve(problem, Work(30e6), (0,)).gaps == (pytest.approx(0.6), 0.0, 0.0)


@pytest.mark.parametrize("keep_bend", [False, True])
@pytest.mark.parametrize("seed", range(3))
def test_constants_and_errors_are_those_of_a_reference_fit(seed, keep_bend):
    """scipy.optimize.curve_fit with the spreads (each strand's use) at the fitted constants."""
    from scipy.optimize import curve_fit

    bands = [knotted(seed, 160), knotted(seed + 100, 200)]
    got = fit(bands, keep_bend=keep_bend)
    loop, bend, rest, use = [], [], [], []
    for one in bands:
        base = replace(got.model, loop_scale=1.0, bend=1.0)
        full = strand_use(LANES, one.rows, base, one.diameters_mm)
        path = strand_use(LANES, one.rows, replace(base, bend=0.0), one.diameters_mm).path_mm
        loop += full.loop_mm.tolist()
        bend += (full.path_mm - path).tolist()
        rest += [o.used_mm - p for o, p in zip(one.observations, path, strict=True)]
        use += strand_use(LANES, one.rows, got.model, one.diameters_mm).use_mm.tolist()
    loops, bends, rests = np.array(loop), np.array(bend), np.array(rest)
    kept = ThreadModel().bend
    if keep_bend:
        value, covariance = curve_fit(
            lambda x, a: a * x, loops, rests - kept * bends, [1.0], np.array(use)
        )
    else:
        value, covariance = curve_fit(
            lambda x, a, c: a * x[0] + c * x[1],
            np.stack([loops, bends]),
            rests,
            [1.0, 0.0],
            np.array(use),
        )
    error = np.sqrt(np.diag(covariance))
    assert got.loop_scale.value == pytest.approx(value[0], rel=1e-4)
    assert got.loop_scale.error == pytest.approx(error[0], rel=1e-3)
    assert got.bend.value == pytest.approx(kept if keep_bend else value[1], rel=1e-3)
    assert got.bend.error == pytest.approx(0.0 if keep_bend else error[1], rel=1e-3)
    assert got.freedom == (15 if keep_bend else 14)
    assert got.observations == 16
    residual = (rests - got.loop_scale.value * loops - got.bend.value * bends) / np.array(use)
    assert got.scatter.value == pytest.approx(
        math.sqrt(float(residual @ residual) / got.freedom), rel=1e-4
    )
    assert got.scatter.error == pytest.approx(got.scatter.value / math.sqrt(2 * got.freedom))


def test_one_band_alone_is_noted():
    note = "one band shows how strands differ"
    assert any(note in text for text in fit([knotted(0, 160)]).notes)
    assert not any(note in text for text in fit([knotted(0, 160), knotted(1, 160)]).notes)


@pytest.mark.parametrize(
    ("key", "low", "high"),
    [
        ("row_gauge", 0.2, 20.0),
        ("strand_gauge", 0.2, 20.0),
        ("loop_scale", 0.01, 20.0),
        ("bend", 0.0, 20.0),
        ("scatter", 0.0, 1.0),
    ],
)
def test_constants_that_no_hand_has_are_refused(tmp_path, key, low, high):
    path = tmp_path / "hand.toml"
    text = format_calibration(fit([knotted(0, 160)]))

    def read(value):
        path.write_text(re.sub(rf"(?m)^{key} = .*$", f"{key} = {value}", text), encoding="utf-8")
        return getattr(read_calibration(path), key).value

    assert (read(low), read(high)) == (low, high)
    for value in (low - 0.001, high + 0.001):
        with pytest.raises(InputError, match=key):
            read(value)


@pytest.mark.parametrize("key", ["tex", "diameter_mm"])
def test_a_thread_of_no_thickness_is_refused(tmp_path, key):
    write_pattern(LANES, tmp_path / "lanes.toml")
    path = tmp_path / "measured.toml"
    head = 'format = "motifsearch-measurement-1"\npattern = "lanes.toml"\nrows_knotted = 160\n'
    head += "finished_length_mm = 200\nstart_mm = 60\n"
    head += f"cut_mm = {[1500] * 8}\nleft_mm = {[200] * 8}\n"

    def read(value):
        path.write_text(f"{head}{key} = {value}\n", encoding="utf-8")
        return read_measurement(path)

    assert len(read("1").observations) == 8
    assert read("{a = 1, b = 2}").observations[0].used_mm == 1240.0
    for value in ("0", "{a = 1, b = 0}"):
        with pytest.raises(InputError, match=key):
            read(value)


def test_the_longest_piece_decides_whether_a_cut_fits():
    for pieces, fits in (((500.0, 2000.0), True), ((500.0, 1400.0), False)):
        stash = Stash((StashThread("sand", "#d8c49a", 0.6, None, pieces),))
        assert can_cut(one_cut("sand", 1500.0), stash) is fits


def test_the_text_counts_strands_from_1():
    cut = Cut("A", "sand", (2, 6), (500.0, 400.0), (0.0, 0.0), (0.0, 0.0), 900.0, 500.0)
    line = cut_list_text(CutList((cut,), 10, 100.0)).splitlines()[2]
    assert line.split()[:3] == ["A", "sand", "3+7"]
    assert line.endswith("50 cm from the end of strand 3")
    form = measurement_form("x.toml", CutList((cut,), 10, 100.0), Allowances())
    assert "strands = [3, 7]" in form
    assert "what each strand has left" in form
    assert "fold_mm = 500  # from the end of strand 3" in form


def test_a_clear_bend_needs_no_warning():
    exact = replace(knotted(0, 160), observations=())
    d, hand = exact.diameters_mm, ThreadModel(loop_scale=0.9, bend=0.6)
    use = strand_use(LANES, 160, hand, d).use_mm
    seen = tuple(Observation((s,), float(use[s])) for s in range(8))
    notes = fit([replace(exact, observations=seen)]).notes
    assert not any("bend" in note for note in notes)


def test_outliers_are_studentised_without_themselves():
    """Residual over its spread, as a fit of the other observations predicts it."""
    from motifsearch.thread.fit import _least_squares, _Row

    rng = np.random.default_rng(5)
    x = rng.uniform(500.0, 2000.0, (9, 2))
    used = x @ np.array([0.9, 0.6]) + 800.0 + 20.0 * rng.standard_normal(9)
    rows = [_Row(x[n, :1], x[n, 1:], np.array([800.0]), float(used[n]), str(n)) for n in range(9)]
    found = _least_squares(rows, None)
    spread = found.scale.value * x[:, 0] + found.bend.value * x[:, 1] + 800.0
    a, b = x / spread[:, None], (used - 800.0) / spread
    for n in range(9):
        others = np.arange(9) != n
        value, squares, *_ = np.linalg.lstsq(a[others], b[others], rcond=None)
        spread_n = math.sqrt(float(squares[0]) / (8 - 2))
        leverage = a[n] @ np.linalg.inv(a[others].T @ a[others]) @ a[n]
        want = (b[n] - a[n] @ value) / (spread_n * math.sqrt(1.0 + leverage))
        assert found.outlying[n] == pytest.approx(want, rel=1e-3)


def test_lengths_and_widths_of_nothing_are_refused(tmp_path):
    write_pattern(LANES, tmp_path / "lanes.toml")
    path = tmp_path / "measured.toml"
    head = 'format = "motifsearch-measurement-1"\npattern = "lanes.toml"\nrows_knotted = 160\n'
    head += f"start_mm = 60\ncut_mm = {[1500] * 8}\nleft_mm = {[200] * 8}\n"
    for length, width, key in ((0, 10, "finished_length_mm"), (200, 0, "width_mm")):
        path.write_text(f"{head}finished_length_mm = {length}\nwidth_mm = {width}\n")
        with pytest.raises(InputError, match=key):
            read_measurement(path)


def test_a_cord_of_20_mm_is_the_thickest():
    thread = {"name": "cord", "colour": "#d8c49a", "pieces_m": [8]}
    stash = parse_stash(table(threads=[{**thread, "diameter_mm": 20}]))
    assert stash.threads[0].diameter_mm == 20.0
    with pytest.raises(InputError, match="diameter_mm"):
        parse_stash(table(threads=[{**thread, "diameter_mm": 20.1}]))
