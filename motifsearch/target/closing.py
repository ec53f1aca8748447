"""Closed walks through the states: after P rows the colours stand as at the start.

Let c(s) be the fewest wrong cells of a walk of P rows that starts in state s and ends in s.  The
answer is min c(s).  For one class (a fixed number of strands of every colour) and a limit:

* tighten: a closed walk may be cut open before any row.  Cut where the fewest states live, the
  least costs down to the cut and up to it drop every state through which no walk of at most
  `limit` leads; cut again elsewhere until little falls away.
* sweep: for the states that are left, the least costs from *every* start are carried along
  together, one column a start.  An entry whose cost so far and cost to come exceed the limit is
  dropped at once.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from motifsearch.base.arrays import U8, Bool
from motifsearch.base.work import OutOfWorkError
from motifsearch.target.bound import Cells, Index
from motifsearch.target.states import Costs, StateSpace

Long = npt.NDArray[np.int64]

#: Starts carried together; more fill the cache, fewer waste the inner loop.
COLUMNS = 256
#: Cuts tried per class.
CUTS = 6
#: Arrangements between two rows of one class that are held at once.
MAX_EDGES = 30_000_000


@dataclass
class Step:
    """The arrangements between two rows as edges, the j-th edge into every state together.

    Attributes:
        source: Per edge, the position of its state before the upper row.
        target: Before the lower row.
        ranks: Where each rank starts; rank j holds the j-th edge into every state that has one.
    """

    source: Index
    target: Index
    ranks: list[int]


def _ranked(source: Index, target: Index) -> Step:
    by_target = np.argsort(target, kind="stable")
    source, target = source[by_target], target[by_target]
    rank = np.arange(len(target)) - np.searchsorted(target, target)
    by_rank = np.argsort(rank, kind="stable")
    ends = np.cumsum(np.bincount(rank)).tolist() if len(rank) else []
    return Step(source[by_rank], target[by_rank], [0, *ends])


class ClassWalks:
    """Closed walks of one class of at most `limit` wrong cells.

    Args:
        space: The states.
        cells: The target, int8 ``[P, S // 2]``.
        states: Per row the states of the class that may be passed, sorted.
        limit: Walks that cost more do not count.
        tick: Called with the work done.

    Attributes:
        alive: Whether there is a state left in every row.
        cut: The row that comes first.
    """

    def __init__(
        self,
        space: StateSpace,
        cells: Cells,
        states: list[Index],
        limit: int,
        tick: Callable[[float], None],
    ) -> None:
        self.space = space
        self.rows = len(cells)
        self.limit = limit
        self.tick = tick
        self.cut = 0
        self.states = states
        self.weight = [space.weights(own, cells[r], r % 2) for r, own in enumerate(states)]
        edges = [self._edges(r) for r in range(self.rows)]
        self.fore: list[Long] = []
        self.alive = self._tighten(edges)
        self.steps = [_ranked(source, target) for source, target in edges] if self.alive else []

    def _edges(self, r: int) -> tuple[Index, Index]:
        """Return the edges from row r to the next, as positions in the states of either."""
        own, below = self.states[r], self.states[(r + 1) % self.rows]
        pairs = self.space.one_order(own, r % 2)[:, r % 2 :][:, : 2 * self.space.slots(r % 2)]
        orders_of = 2.0 ** (pairs[:, ::2] != pairs[:, 1::2]).sum(axis=1)
        if orders_of.sum() > MAX_EDGES:
            raise OutOfWorkError
        source, orders = self.space.all_orders(own, r % 2)
        self.tick(orders.size * 2.0)
        after = self.space.state_of(orders, 1 - r % 2)
        target = np.searchsorted(below, after)
        target[target == len(below)] = 0
        good = below[target] == after
        return source[good], target[good]

    def _tighten(self, edges: list[tuple[Index, Index]]) -> bool:
        rows = self.rows
        tried: set[int] = set()
        for _ in range(CUTS):
            counts = [len(own) for own in self.states]
            if min(counts) == 0:
                return False
            before = sum(counts)
            cut = min(range(rows), key=lambda r: (counts[r], r))
            if cut in tried:
                break
            tried.add(cut)
            self.cut = cut
            fore, back = self._open_costs(edges)
            keep = [f + b <= self.limit for f, b in zip(fore, back, strict=True)]
            # The cut is passed twice: as the start (in fore) and as the end (in back).
            keep[0] &= keep[rows]
            self.fore = [f[k] for f, k in zip(fore[:rows], keep, strict=False)]
            self._compress(edges, [keep[(r - cut) % rows] for r in range(rows)])
            if sum(len(own) for own in self.states) > 0.9 * before:
                break
        return min(len(own) for own in self.states) > 0

    def _open_costs(self, edges: list[tuple[Index, Index]]) -> tuple[list[Long], list[Long]]:
        """Return the costs to come and so far, per row from the cut and at the end."""
        rows, cut = self.rows, self.cut
        far = self.limit + 1
        at = [(cut + r) % rows for r in range(rows + 1)]
        fore = [np.full(len(self.states[row]), far, np.int64) for row in at]
        back = [f.copy() for f in fore]
        fore[rows][:] = 0
        back[0][:] = 0
        for r in range(rows - 1, -1, -1):
            source, target = edges[at[r]]
            np.minimum.at(fore[r], source, fore[r + 1][target])
            fore[r] += self.weight[at[r]]
        for r in range(rows):
            source, target = edges[at[r]]
            np.minimum.at(back[r + 1], target, (back[r] + self.weight[at[r]])[source])
            self.tick(len(source) * 20.0)
        return fore, back

    def _compress(self, edges: list[tuple[Index, Index]], keep: list[Bool]) -> None:
        self.states = [own[k] for own, k in zip(self.states, keep, strict=True)]
        self.weight = [w[k] for w, k in zip(self.weight, keep, strict=True)]
        renumber = [np.cumsum(k) - 1 for k in keep]
        for r, (source, target) in enumerate(edges):
            below = (r + 1) % self.rows
            good = keep[r][source] & keep[below][target]
            edges[r] = renumber[r][source[good]], renumber[below][target[good]]

    def sweep(self, starts: Index, limit: int, keep: bool = False) -> tuple[Long, list[Costs]]:
        """Carry the least costs from some starts once around.

        Args:
            starts: Positions in the states before the cut row, ``[n]``.
            limit: Walks that cost more are dropped; at most `self.limit`.
            keep: Also return the costs before every row.

        Returns:
            The cost of closing each start, int64 ``[n]``, above `limit` where there is none, and
            per row from the cut the costs ``[states, n]`` (empty without `keep`).
        """
        kind = np.uint8 if limit + self.space.strands + 1 < 255 else np.uint16
        dead = limit + 1
        columns = np.arange(len(starts))
        costs: Costs = np.full((len(self.states[self.cut]), len(starts)), dead, kind)
        costs[starts, columns] = 0
        kept = [costs]
        for r in range(self.rows):
            row, below_row = (self.cut + r) % self.rows, (self.cut + r + 1) % self.rows
            step = self.steps[row]
            room = np.maximum(limit - self.fore[r], -1)
            np.putmask(costs, costs > room[:, None], dead)
            costs = costs + self.weight[row][:, None]
            some = costs.min(axis=1, initial=dead) < dead
            below: Costs = np.full((len(self.states[below_row]), len(starts)), dead, kind)
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
            elif costs.min() > limit:
                return np.full(len(starts), dead, np.int64), []
        return costs[starts, columns].astype(np.int64), kept

    def best(self, limit: int) -> tuple[int, Index]:
        """Return the least closing cost up to `limit`, and the starts that have it.

        Returns:
            ``(limit + 1, [])`` when there is none.
        """
        if not self.alive:
            return limit + 1, np.zeros(0, np.intp)
        starts = np.flatnonzero(self.fore[0] <= limit)
        least, found = limit + 1, [starts[:0]]
        for lo in range(0, len(starts), COLUMNS):
            part = starts[lo : lo + COLUMNS]
            closing, _ = self.sweep(part, min(limit, least))
            now = int(closing.min())
            if now < least:
                least, found = now, []
            if now <= limit and now == least:
                found.append(part[closing == least])
        return least, np.concatenate(found)

    def traces(self, start: int, limit: int, rng: np.random.Generator, n: int) -> list[U8]:
        """Return closed walks through one start that have its least cost.

        The walk is traced back from the end; among the arrangements of least cost one is taken
        by chance, those that make fewer strands return the more often.

        Args:
            start: The position of the start in the states before the cut row.
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

    def _trace(self, start: int, cost: int, before: list[Long], rng: np.random.Generator) -> U8:
        walk = np.zeros((self.rows, self.space.strands), np.uint8)
        state = int(self.states[self.cut][start])
        below: U8 | None = None
        for r in range(self.rows - 1, -1, -1):
            row = (self.cut + r) % self.rows
            own, parity = self.states[row], 1 - row % 2
            _, orders = self.space.all_orders(np.array([state]), parity)
            self.tick(orders.size * 2.0)
            upper = self.space.state_of(orders, 1 - parity)
            at = np.searchsorted(own, upper)
            at[at == len(own)] = 0
            good = (own[at] == upper) & (before[r][at] + self.weight[row][at] == cost)
            orders, at = orders[good], at[good]
            score = rng.random(len(orders)) * 1.5
            if below is not None:
                pair = slice(parity, parity + 2 * self.space.slots(parity))
                left, right = orders[:, pair][:, ::2], orders[:, pair][:, 1::2]
                stays = (left != right) & (left == below[pair][None, ::2])
                score += stays.sum(axis=1)
            pick = int(np.argmin(score))
            below = orders[pick]
            walk[(row + 1) % self.rows] = below
            cost = int(before[r][at[pick]])
            state = int(own[at[pick]])
        return walk
