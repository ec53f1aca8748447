"""Closed walks through the states: after P rows the colours stand as at the start.

Let c(s) be the fewest wrong cells of a walk of P rows that starts in state s and ends in s.  The
answer is min c(s).  Two bounds keep the search small:

* potentials: `fore[r]` is the least cost of rows r .. P-1 from every state before row r, `back[r]`
  of rows 0 .. r-1 into it, both without closing.  A state with back + fore > limit is dead for
  every walk of cost at most `limit`.
* the cut: a closed walk may be cut open before any row, so it is cut where the fewest states live.

For the states that are left, the least costs from *every* start are carried along together, one
column a start; an entry whose cost so far plus `fore` exceeds the limit is dropped at once.
The limit is raised from the lower bound, one wrong cell at a time, until a closed walk appears; the
first that appears is the best, and every failed limit proves a larger lower bound.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from motifsearch.search.reach_space import Costs, StateSpace

Cells = npt.NDArray[np.int8]
Index = npt.NDArray[np.intp]
Kind = type[np.uint8] | type[np.uint16]

#: Starts carried together; more fill the cache, fewer waste the inner loop.
COLUMNS = 256


class OutOfBudgetError(Exception):
    """The time or the work that was granted is used up; never leaves the search."""


@dataclass
class Layers:
    """The potentials of a target cut open before row `cut`.

    Attributes:
        cut: The row that comes first.
        fore: Per row from the cut on, and one more at the end, ``[size]``.
        back: The same for the rows before.
        top: The number at which costs are cut off; it stands for "too many".
    """

    cut: int
    fore: list[Costs]
    back: list[Costs]
    top: int


def potentials(
    space: StateSpace,
    cells: Cells,
    cut: int,
    top: int,
    alive: list[npt.NDArray[np.bool_]],
    tick: Callable[[float], None],
) -> Layers:
    """Return the potentials for the target cut open before row `cut`.

    Args:
        space: The states.
        cells: int8 ``[P, S // 2]``.
        cut: The first row.
        top: Costs are cut off here.
        alive: Per row of `cells`, the states that a walk may pass; bool ``[size]``.
        tick: Called with the work done; raises when the budget is used up.
    """
    rows = len(cells)
    kind: Kind = np.uint8 if top + space.strands < 255 else np.uint16
    limit = kind(top)
    at = [(cut + r) % rows for r in range(rows + 1)]

    def closed_off(costs: Costs, row: int) -> Costs:
        np.minimum(costs, limit, out=costs)
        costs[~alive[row]] = limit
        tick(costs.size * 4.0)
        return costs

    fore: list[Costs] = [np.zeros(0, np.uint8)] * (rows + 1)
    back = list(fore)
    start = np.zeros(space.size(cut % 2), kind)
    fore[rows] = closed_off(start.copy(), at[rows])
    back[0] = closed_off(start, at[0])
    for r in range(rows - 1, -1, -1):
        parity = at[r] % 2
        costs = space.regroup(fore[r + 1], 1 - parity)
        costs += space.row_weight(cells[at[r]], parity)
        fore[r] = closed_off(costs, at[r])
    for r in range(rows):
        parity = at[r] % 2
        costs = back[r] + space.row_weight(cells[at[r]], parity)
        back[r + 1] = closed_off(space.regroup(costs, parity), at[r + 1])
    return Layers(cut, fore, back, top)


def living(layers: Layers, limit: int) -> list[npt.NDArray[np.bool_]]:
    """Return per row of the target the states that a walk of cost at most `limit` may pass."""
    rows = len(layers.fore) - 1
    alive: list[npt.NDArray[np.bool_]] = [np.zeros(0, np.bool_)] * rows
    for r in range(rows):
        total = layers.fore[r].astype(np.uint16) + layers.back[r]
        alive[(layers.cut + r) % rows] = total <= limit
    # The cut is passed twice, at the start and at the end.
    total = layers.fore[rows].astype(np.uint16) + layers.back[rows]
    alive[layers.cut] &= total <= limit
    return alive


@dataclass
class Step:
    """The arrangements between two rows, sorted for a min over those that enter each state.

    Attributes:
        source: Per arrangement, the position of its state before the upper row.
        ranks: Where each rank starts; rank j holds the j-th arrangement of every state that
            has one, in the order of the lower row's states.
    """

    source: Index
    target: Index
    ranks: list[int]


class ClassWalks:
    """Closed walks of one class: a fixed number of strands of every colour.

    Args:
        space: The states.
        cells: The target, int8 ``[P, S // 2]``.
        layers: The potentials.
        states: Per row from the cut on, the living states of the class, sorted.
        tick: Called with the work done.
    """

    def __init__(
        self,
        space: StateSpace,
        cells: Cells,
        layers: Layers,
        states: list[Index],
        tick: Callable[[float], None],
    ) -> None:
        self.space = space
        self.rows = len(cells)
        self.cut = layers.cut
        self.tick = tick
        self.states = [*states, states[0]]
        self.fore = [f[s] for f, s in zip(layers.fore, self.states, strict=True)]
        self.weight: list[Costs] = []
        for r, own in enumerate(states):
            row = (self.cut + r) % self.rows
            self.weight.append(space.row_weight(cells[row], row % 2)[own])
        self.steps = [self._step(r) for r in range(self.rows)]

    def parity(self, r: int) -> int:
        """Return the parity of row r from the cut."""
        return (self.cut + r) % 2

    def _step(self, r: int) -> Step:
        source, orders = self.space.all_orders(self.states[r], self.parity(r))
        self.tick(orders.size * 2.0)
        after = self.space.state_of(orders, self.parity(r + 1))
        below = self.states[r + 1]
        target = np.searchsorted(below, after)
        target[target == len(below)] = 0
        good = below[target] == after if len(below) else np.zeros(len(after), np.bool_)
        source, target = source[good], target[good]
        by_target = np.argsort(target, kind="stable")
        source, target = source[by_target], target[by_target]
        first = np.searchsorted(target, target)
        rank = np.arange(len(target)) - first
        by_rank = np.argsort(rank, kind="stable")
        ends = np.cumsum(np.bincount(rank)).tolist() if len(rank) else []
        return Step(source[by_rank], target[by_rank], [0, *ends])

    def sweep(
        self, starts: Index, limit: int, keep: bool = False
    ) -> tuple[npt.NDArray[np.int64], list[Costs]]:
        """Carry the least costs from some starts once around.

        Args:
            starts: Positions in the states before the first row, ``[n]``.
            limit: Walks that cost more are dropped.
            keep: Also return the costs before every row.

        Returns:
            The cost of closing each start, int64 ``[n]``, above `limit` where there is none, and
            per row the costs ``[states, n]`` (empty without `keep`).
        """
        kind: Kind = np.uint8 if limit + self.space.strands + 1 < 255 else np.uint16
        dead = kind(limit + 1)
        columns = np.arange(len(starts))
        costs: Costs = np.full((len(self.states[0]), len(starts)), dead)
        costs[starts, columns] = 0
        kept = [costs] if keep else []
        for r, step in enumerate(self.steps):
            room = limit - self.fore[r].astype(np.int64)
            np.putmask(costs, costs > np.maximum(room, -1)[:, None], dead)
            costs = costs + self.weight[r].astype(kind)[:, None]
            some = costs.min(axis=1, initial=dead) < dead
            below: Costs = np.full((len(self.states[r + 1]), len(starts)), dead)
            for lo, hi in zip(step.ranks, step.ranks[1:], strict=False):
                source, target = step.source[lo:hi], step.target[lo:hi]
                use = some[source]
                if not use.all():
                    source, target = source[use], target[use]
                if len(source):
                    below[target] = np.minimum(below[target], costs[source])
                    self.tick(len(source) * (len(starts) + 40.0))
            costs = below
            if keep:
                kept.append(costs)
            elif not len(costs) or costs.min() > limit:
                return np.full(len(starts), limit + 1, np.int64), []
        return costs[starts, columns].astype(np.int64), kept

    def starts_up_to(self, limit: int) -> Index:
        """Return the positions of the starts whose bound is at most `limit`."""
        return np.flatnonzero(self.fore[0] <= limit)

    def best(self, limit: int, most: int = 0) -> tuple[int, Index]:
        """Return the least closing cost up to `limit`, and the starts that have it.

        Args:
            limit: Walks that cost more do not count.
            most: Stop at this many starts that cost exactly the lower bound of `fore`; 0 for all.

        Returns:
            ``(limit + 1, [])`` when there is none.
        """
        starts = self.starts_up_to(limit)
        least, found = limit + 1, [starts[:0]]
        for lo in range(0, len(starts), COLUMNS):
            part = starts[lo : lo + COLUMNS]
            closing, _ = self.sweep(part, min(limit, least))
            now = int(closing.min())
            if now < least:
                least, found = now, []
            if now <= limit and now == least:
                found.append(part[closing == least])
            if most and least <= limit and sum(map(len, found)) >= most:
                break
        return least, np.concatenate(found) if found else starts[:0]

    def traces(
        self, start: int, limit: int, rng: np.random.Generator, n: int
    ) -> list[npt.NDArray[np.uint8]]:
        """Return closed walks through one start that have its least cost.

        The walk is traced back from the end; among the arrangements of least cost one is taken
        by chance, those that make fewer strands return the more often.

        Args:
            start: The position of the start in the states before the first row.
            limit: At least the start's closing cost.
            rng: The chance.
            n: How many traces.

        Returns:
            Arrangements before every row of the target (not from the cut), uint8 ``[P, S]``.
        """
        closing, kept = self.sweep(np.array([start]), limit, keep=True)
        assert closing[0] <= limit
        before = [c[:, 0].astype(np.int64) for c in kept]
        return [self._trace(start, int(closing[0]), before, rng) for _ in range(n)]

    def _trace(
        self, start: int, cost: int, before: list[npt.NDArray[np.int64]], rng: np.random.Generator
    ) -> npt.NDArray[np.uint8]:
        walk = np.zeros((self.rows, self.space.strands), np.uint8)
        state = int(self.states[0][start])
        below: npt.NDArray[np.uint8] | None = None
        for r in range(self.rows - 1, -1, -1):
            own, parity = self.states[r], self.parity(r + 1)
            _, orders = self.space.all_orders(np.array([state]), parity)
            self.tick(orders.size * 2.0)
            upper = self.space.state_of(orders, 1 - parity)
            at = np.searchsorted(own, upper)
            at[at == len(own)] = 0
            good = (own[at] == upper) & (before[r][at] + self.weight[r][at] == cost)
            orders, at = orders[good], at[good]
            score = rng.random(len(orders)) * 1.5
            if below is not None:
                pair = slice(parity, parity + 2 * self.space.slots(parity))
                left, right = orders[:, pair][:, ::2], orders[:, pair][:, 1::2]
                stays = (left != right) & (left == below[pair][None, ::2])
                score += stays.sum(axis=1)
            pick = int(np.argmin(score))
            below = orders[pick]
            walk[(self.cut + r + 1) % self.rows] = below
            cost = int(before[r][at[pick]])
            state = int(own[at[pick]])
        return walk
