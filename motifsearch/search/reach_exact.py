"""The fewest wrong cells, proven: limits raised from the lower bound until a walk closes.

See `motifsearch.search.reach_close` for the bounds that keep each limit small.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
import numpy.typing as npt

from motifsearch.search.reach_close import (
    Cells,
    ClassWalks,
    Layers,
    OutOfBudgetError,
    living,
    potentials,
)
from motifsearch.search.reach_space import StateSpace

#: Rounds of cutting open and bounding anew; each costs as much as the first bound.
ROUNDS = 4


def dense_size(strands: int, colours: int, rows: int) -> int:
    """Return the number of states of all rows together: what the bounds need in memory."""
    space = StateSpace(strands, colours)
    return (space.size(0) + space.size(1)) * (rows + 1) // 2


class ExactSearch:
    """The search for one target.

    Args:
        space: The states.
        cells: int8 ``[P, S // 2]``, P even.
        even: Whether every colour must have an even number of strands.
        most: Per colour the largest number of strands, ``[K]``.
        tick: Called with the work done; raises `OutOfBudgetError` when it is used up.

    Attributes:
        lower_bound: Proven so far; -1 when no number of strands per colour is allowed.
    """

    def __init__(
        self,
        space: StateSpace,
        cells: Cells,
        even: bool,
        most: npt.NDArray[np.int64],
        tick: Callable[[float], None],
    ) -> None:
        self.space = space
        self.cells = cells
        self.tick = tick
        self.lower_bound = 0
        self._allowed = [self._mask(parity, even, most) for parity in (0, 1)]
        self._base: Layers | None = None

    def _mask(self, parity: int, even: bool, most: npt.NDArray[np.int64]) -> npt.NDArray[np.bool_]:
        space = self.space
        key = space.keys[parity]
        if space.colours == 1:
            good = (not even or space.strands % 2 == 0) and space.strands <= int(most[0])
            return np.full(len(key), good)
        mask = np.ones(len(key), np.bool_)
        rest = key.copy()
        for c in range(space.colours):
            rest, count = np.divmod(rest, space.strands + 1)
            mask &= count <= most[c]
            if even:
                mask &= count % 2 == 0
        return mask

    def bound(self) -> int:
        """Return the first lower bound: the least cost without closing."""
        if self._base is None:
            alive = [self._allowed[r % 2] for r in range(len(self.cells))]
            top = int((self.cells >= 0).sum()) + 1
            self._base = potentials(self.space, self.cells, 0, top, alive, self.tick)
            self.lower_bound = int(self._base.fore[0].min())
        return self.lower_bound

    def classes(self, limit: int) -> Iterator[ClassWalks]:
        """Yield the classes that may hold a closed walk of at most `limit` wrong cells."""
        assert self._base is not None
        rows = len(self.cells)
        layers = self._base
        alive = living(layers, limit)
        counts = [int(a.sum()) for a in alive]
        for _ in range(ROUNDS):
            if min(counts) == 0:
                return
            cut = int(np.argmin(counts))
            layers = potentials(self.space, self.cells, cut, limit + 1, alive, self.tick)
            alive, before = living(layers, limit), sum(counts)
            counts = [int(a.sum()) for a in alive]
            if sum(counts) > 0.8 * before:
                break
        if min(counts) == 0:
            return
        at = [(layers.cut + r) % rows for r in range(rows)]
        states = [np.flatnonzero(alive[row]) for row in at]
        keys = [self.space.keys[row % 2][own] for row, own in zip(at, states, strict=True)]
        for key in np.unique(keys[0]):
            own = [s[k == key] for s, k in zip(states, keys, strict=True)]
            if all(len(s) for s in own):
                yield ClassWalks(self.space, self.cells, layers, own, self.tick)

    def prove(self, upper: int) -> list[tuple[ClassWalks, npt.NDArray[np.intp]]]:
        """Raise the limit to the fewest wrong cells, `lower_bound`, or up to `upper`.

        Args:
            upper: A cost that is known to be reached; limits below it are tried.

        Returns:
            Per class with closed walks of `lower_bound` wrong cells, the class and its starts;
            empty when `lower_bound` has risen to `upper`.

        Raises:
            OutOfBudgetError: From `tick`; `lower_bound` holds what is proven by then.
        """
        self.bound()
        while self.lower_bound < upper:
            found: list[tuple[ClassWalks, npt.NDArray[np.intp]]] = []
            for walks in self.classes(self.lower_bound):
                try:
                    least, starts = walks.best(self.lower_bound)
                except OutOfBudgetError:
                    if found:
                        return found
                    raise
                if least <= self.lower_bound:
                    found.append((walks, starts))
            if found:
                return found
            self.lower_bound += 1
        return []
