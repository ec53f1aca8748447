"""Lower bounds over all states, and the states that are left for a given number of wrong cells.

`fore[r]` is the least cost of rows r .. P-1 from every state before row r, `back[r]` of rows
0 .. r-1 into it, both without the demand that the walk closes.  So a walk through a state costs at
least back + fore, and the least `fore[0]` bounds every design.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
import numpy.typing as npt

from motifsearch.base.arrays import I64, Bool
from motifsearch.target.even_states import EvenStates
from motifsearch.target.states import Costs, StateSpace

Cells = npt.NDArray[np.int8]
Index = npt.NDArray[np.intp]


#: Bytes that the bounds may take.
MAX_BYTES = 800_000_000


#: Up to here the table of all states is the faster one even where only even counts are allowed.
ALL_BYTES = 100_000_000


def table_bytes(space: StateSpace, rows: int, even: bool) -> int:
    """Return about how many bytes `OpenBound` takes."""
    size = max(space.size(0), space.size(1))
    if even and _numbered(space, rows):
        return (size >> (space.colours - 1)) * (rows + 16 * space.slots(0) + 16)
    return size * (rows + 24)


def _numbered(space: StateSpace, rows: int) -> bool:
    """Return whether states of even counts should have numbers of their own."""
    return space.colours > 3 or table_bytes(space, rows, False) > ALL_BYTES


class OpenBound:
    """The bound without closing.

    Args:
        space: The states.
        cells: int8 ``[P, S // 2]``, P even.
        even: Whether every colour must have an even number of strands.
        most: Per colour the largest number of strands, ``[K]``.
        tick: Called with the work done; raises when the budget is used up.

    Attributes:
        least: The least cost of any walk of P rows, closed or not.
        top: Costs are cut off here; it stands for "no walk".
    """

    def __init__(
        self,
        space: StateSpace,
        cells: Cells,
        even: bool,
        most: I64,
        tick: Callable[[float], None],
    ) -> None:
        self.space = space
        self.cells = cells
        self.tick = tick
        self.top = int((cells >= 0).sum()) + 1
        self._kind = np.uint8 if self.top + space.strands < 255 else np.uint16
        numbered = even and _numbered(space, len(cells))
        self._table = EvenStates(space, tick) if numbered else space
        self._banned = [self._mask(parity, even and not numbered, most) for parity in (0, 1)]
        rows = len(cells)
        self.fore: list[Costs] = [np.zeros(0, np.uint8)] * rows + [self._start()]
        for r in range(rows - 1, -1, -1):
            costs = self._table.regroup(self.fore[r + 1], 1 - r % 2)
            costs += self._table.row_weight(cells[r], r % 2)
            self.fore[r] = self._cut_off(costs, r % 2)
        self.least = int(self.fore[0].min())

    def _start(self) -> Costs:
        return self._cut_off(np.zeros(self._table.size(0), self._kind), 0)

    def _cut_off(self, costs: Costs, parity: int) -> Costs:
        top = self._kind(self.top)
        np.minimum(costs, top, out=costs)
        banned = self._banned[parity]
        if banned is not None:
            costs[banned] = top
        self.tick(costs.size * 4.0)
        return costs

    def _mask(self, parity: int, even: bool, most: I64) -> Bool | None:
        """Return the states whose numbers of strands are not allowed."""
        if not even and (most >= self.space.strands).all():
            return None
        rest = self._table.counts_key(parity)
        mask = np.zeros(len(rest), np.bool_)
        for c in range(self.space.colours):
            rest, count = np.divmod(rest, rest.dtype.type(self.space.strands + 1))
            mask |= count > most[c]
            if even:
                mask |= count % 2 == 1
        return mask

    def living(self, limit: int) -> list[Index]:
        """Return per row the states that a walk of at most `limit` may pass, sorted.

        The list ends at a row that has none.
        """
        states: list[Index] = []
        back = self._start()
        for r in range(len(self.cells)):
            room = np.minimum(np.maximum(limit - back.astype(np.int16), -1), self.top - 1)
            own = np.flatnonzero(self.fore[r] <= room)
            states.append(self._table.flat(own, r % 2))
            if not len(own):
                break
            costs = back + self._table.row_weight(self.cells[r], r % 2)
            back = self._cut_off(self._table.regroup(costs, r % 2), 1 - r % 2)
        return states

    def classes(self, limit: int) -> Iterator[list[Index]]:
        """Yield, class by class, the living states of every row.

        A class is a number of strands of every colour; it never changes along a walk.
        """
        states = self.living(limit)
        if not len(states[-1]):
            return
        keys = [self.space.classes(own, r % 2) for r, own in enumerate(states)]
        for key in np.unique(keys[0]):
            own = [s[k == key] for s, k in zip(states, keys, strict=True)]
            if all(len(s) for s in own):
                yield own
