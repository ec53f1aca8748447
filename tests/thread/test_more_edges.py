"""Further edges of the thread room: waits, bands that are alike, sets, work that is counted."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from motifsearch.base.work import Work
from motifsearch.pattern.design import make_pattern
from motifsearch.pattern.knots import slots_in_row
from motifsearch.simulate.thread_use import waiting_positions, waits_at
from motifsearch.thread.measurement import Measurement, Observation
from motifsearch.thread.model import strand_use
from motifsearch.thread.stock import MAX_CUTS, Kind, Problem, best_fit, patterns
from motifsearch.thread.stock_program import fewest_new, most_sets, solve

INK = {"a": "#102030", "b": "#f0e0c0"}


@pytest.mark.parametrize("strands", [4, 5, 8])
@pytest.mark.parametrize("rows", [1, 2, 3, 4, 9])
def test_straight_advances_are_those_of_the_walk(strands, rows):
    """Against the plain walk, knot by knot: how many wait does not hang on the design."""
    rng = np.random.default_rng(strands * 100 + rows)
    grid = rng.integers(0, 4, (4, strands // 2)).astype(np.uint8)
    pattern = make_pattern("", grid, "ab" * (strands // 2) + "a" * (strands % 2), INK)
    waits = strand_use(pattern, rows).waits.sum()
    assert waits == sum(
        waits_at(r, rows) * len(waiting_positions(strands, r)) for r in range(rows + 1)
    )
    for r in range(rows + 1):
        assert len(waiting_positions(strands, r)) == strands - 2 * slots_in_row(strands, r)


def a_measurement(**more):
    pattern = make_pattern("", ["rr rr", "rr"], "aabb", INK)
    base = Measurement(
        pattern, 40, 50.0, 5.0, np.full(4, 0.6),
        (Observation((0,), 300.0), Observation((1,), 310.0)), "one.toml",
    )  # fmt: skip
    return replace(base, **more)


@pytest.mark.parametrize("more", [
    {"rows": 41}, {"length_mm": 51.0}, {"width_mm": None}, {"diameters_mm": np.full(4, 0.7)},
    {"observations": (Observation((0,), 301.0), Observation((1,), 310.0))},
    {"pattern": make_pattern("", ["rr rr", "ll"], "aabb", INK)},
])  # fmt: skip
def test_two_bands_of_one_design_are_two(more):
    assert not a_measurement().same_as(a_measurement(**more))
    assert a_measurement().same_as(a_measurement(source="other.toml"))


@pytest.mark.parametrize(("piece", "count", "sets"), [
    (1000.0, 1, 1), (999.0, 1, 0), (1000.0, 7, 7), (2000.0, 3, 6), (1999.0, 3, 5), (700.0, 4, 2),
    (1200.0, 2, 2), (1600.0, 2, 3), (1400.0, 3, 4),
])  # fmt: skip
def test_sets_of_two_cuts(piece, count, sets):
    """Cuts of 600 and 400 mm, counted by hand: three of 1,600 mm are 600 + 600 + 400 and so on."""
    assert most_sets(Problem((Kind(piece, count),), (600.0, 400.0), (1, 1))) == (sets, sets)


@pytest.mark.parametrize("n", range(1, 9))
def test_new_pieces_for_cuts_that_fill_them(n):
    """Two cuts of 4 m fill a skein of 8 m: n cuts take the half of n, rounded up."""
    found, number, least = fewest_new(Problem((), (4000.0,), (n,)), 8000.0)
    assert (number, least) == (-(-n // 2), -(-n // 2))
    assert sum(f.cuts[0] for f in found.filled) == n


def test_equal_cuts_are_placed_as_one_by_one():
    """Best fit in bulk gives what best fit one cut after the other gives."""
    rng = np.random.default_rng(8)
    for _ in range(60):
        lengths = tuple(float(v) for v in sorted(set(rng.integers(20, 90, 4) * 10)))
        demand = tuple(int(v) for v in rng.integers(1, 9, len(lengths)))
        kinds = tuple(
            Kind(float(p), int(n)) for p, n in zip(sorted(set(rng.integers(60, 400, 3) * 10)),
                                                   rng.integers(1, 5, 3), strict=False)
        )  # fmt: skip
        problem = Problem(kinds, lengths, demand)
        filled, missing = best_fit(problem)
        assert missing == one_by_one(problem)
        made = np.array([f.cuts for f in filled]).reshape(-1, len(lengths)).sum(0)
        assert (made + missing == demand).all()
        assert all(problem.left(f) >= -1e-6 for f in filled)


def one_by_one(problem):
    """Best-fit decreasing, cut by cut, written for reading: what is missing of every length."""
    stock = [(k.length, i) for i, k in enumerate(problem.kinds) for _ in range(k.count)]
    begun: list[float] = []
    missing = [0] * len(problem.lengths)
    for i in sorted(range(len(problem.lengths)), key=lambda i: -problem.lengths[i]):
        for _ in range(problem.demand[i]):
            room = [r for r in begun if r >= problem.lengths[i] - 1e-6]
            fresh = [p for p in stock if p[0] >= problem.lengths[i] - 1e-6]
            if room:
                best = min(room)
                begun.remove(best)
                begun.append(round(best - problem.lengths[i], 6))
            elif fresh:
                piece = min(fresh)
                stock.remove(piece)
                begun.append(round(piece[0] - problem.lengths[i], 6))
            else:
                missing[i] += 1
    return missing


def test_very_many_kinds_of_cuts_are_not_listed():
    lengths = [float(v) for v in range(100, 100 + MAX_CUTS + 1)]
    assert patterns(lengths, 150.0, [1] * len(lengths)) is None
    assert patterns(lengths[:-1], 150.0, [1] * MAX_CUTS) is not None


def test_work_is_spent_and_says_so():
    rng = np.random.default_rng(2)
    kinds = tuple(Kind(float(p), 2) for p in sorted(set(rng.integers(200, 800, 6) * 10)))
    lengths = tuple(float(v) for v in sorted(set(rng.integers(60, 250, 6) * 10)))
    problem = Problem(kinds, lengths, tuple([4] * len(lengths)), 300.0)
    plenty, little = Work(5e7), Work(1.0)
    best, quick = solve(problem, plenty), solve(problem, little)
    assert plenty.left < 5e7
    assert (
        problem.aims(best.filled, best.missing)[:2] <= problem.aims(quick.filled, quick.missing)[:2]
    )
    assert quick.gap >= best.gap
