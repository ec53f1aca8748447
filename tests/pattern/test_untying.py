"""Untying against brute force: strands and their knots, and the shortest way to undo one of them.

`Work` knows nothing of rows, positions or partial orders: a knot can be undone when it is the last
one on both of its strands.  The fewest knots to undo are found by breadth-first search over what is
still tied.
"""

from __future__ import annotations

from collections import deque
from itertools import product

import numpy as np
import pytest

from motifsearch.pattern.bandplan import plan_band
from motifsearch.pattern.design import Pattern, make_pattern
from motifsearch.pattern.knots import KNOTS, positions_in_row
from motifsearch.pattern.untying import Place, over, untie
from motifsearch.pattern.walk import walk


class Work:
    """Which two strands every knot holds, and the knots on each strand from the top."""

    def __init__(self, pattern: Pattern, rows: int) -> None:
        self.strands: dict[Place, tuple[int, int]] = {}
        self.on: list[list[Place]] = [[] for _ in range(pattern.strands)]
        for row in walk(pattern, rows).rows:
            for knot in row:
                place = (knot.row, knot.position)
                self.strands[place] = (knot.tying, knot.core)
                for s in (knot.tying, knot.core):
                    self.on[s].append(place)

    def free(self, tied: frozenset[Place]) -> list[Place]:
        last = [next((p for p in reversed(way) if p in tied), None) for way in self.on]
        return [p for p in tied if all(last[s] == p for s in self.strands[p])]

    def fewest(self, tied: frozenset[Place], wanted: frozenset[Place]) -> int:
        """Return the fewest knots to undo until all of `wanted` are."""
        seen, todo = {tied}, deque([(tied, 0)])
        while todo:
            now, n = todo.popleft()
            if not now & wanted:
                return n
            for place in self.free(now):
                left = now - {place}
                if left not in seen:
                    seen.add(left)
                    todo.append((left, n + 1))
        raise AssertionError("every knot can be undone")


def all_designs(strands: int, rows: int) -> list[Pattern]:
    """Return every design of one grid; colours do not matter here."""
    slots = [len(positions_in_row(strands, r)) for r in range(rows)]
    out = []
    for codes in product(KNOTS, repeat=sum(slots)):
        left = list(codes)
        texts = [" ".join(left.pop(0) for _ in range(n)) for n in slots]
        out.append(make_pattern("", texts, "a" * strands, {"a": "#000000"}))
    return out


def in_order(pattern: Pattern, rows: int) -> list[Place]:
    return [(r, i) for one in plan_band(pattern, rows).passes() for r, i, _ in one.knots]


@pytest.mark.parametrize(
    ("strands", "period", "rows"), [(4, 2, 4), (5, 2, 4), (4, 4, 4), (6, 2, 3)]
)
def test_untying_is_the_least_on_all_designs_of_small_spaces(strands, period, rows):
    designs = all_designs(strands, period)
    rng = np.random.default_rng(strands)
    known: dict[tuple[frozenset[Place], Place, tuple[tuple[int, int], ...]], int] = {}
    for pattern in designs:
        work, order = Work(pattern, rows), in_order(pattern, rows)
        for n in sorted({len(order), *rng.integers(1, len(order) + 1, 2).tolist()}):
            tied = order[:n]
            for wrong in tied if len(designs) < 300 else [tied[int(rng.integers(n))]]:
                told = untie(tied, wrong)
                held = tuple(work.strands[p] for p in sorted(tied))
                key = (frozenset(tied), wrong, held)
                if key not in known:
                    known[key] = work.fewest(frozenset(tied), frozenset([wrong]))
                assert len(told) == known[key]
                assert told[-1] == wrong
                left = frozenset(tied)
                for place in told:
                    assert place in work.free(left)
                    left -= {place}


@pytest.mark.parametrize(("strands", "period"), [(4, 2), (5, 2)])
def test_a_swap_is_reached_with_the_fewest_knots(strands, period):
    for pattern in all_designs(strands, period):
        work, order = Work(pattern, 4), in_order(pattern, 4)
        for since in range(0, len(order), 2):
            since_then, before = order[since:], order[:since]
            lying = list(range(strands))
            for r, i in before:
                if pattern.knots[r % period][(i - r % 2) // 2] < 2:
                    lying[i], lying[i + 1] = lying[i + 1], lying[i]
            for a in range(strands - 1):
                told = over(since_then, (a, a + 1))
                strands_swapped = {lying[a], lying[a + 1]}
                wanted = frozenset(p for p in since_then if strands_swapped & {*work.strands[p]})
                assert wanted <= set(told)
                assert len(told) == work.fewest(frozenset(order), wanted)


def test_a_knot_that_is_not_tied_cannot_be_reached():
    with pytest.raises(ValueError, match="not in list"):
        untie([(0, 0)], (2, 0))
