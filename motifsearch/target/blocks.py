"""Good walks when the states are too many: one block of strands at a time, each exactly.

A closed walk is kept.  A window of w neighbouring positions is freed for all rows at once; what
stands outside stays as it is, so at the window's two edges a strand that crosses out must have the
colour that it had, and the strand that comes in is given.  Inside, all K^w orders of colours are
tabled row by row and the best closed walk is traced back; it is never worse than the old one.
Ties are broken by chance, so the walk drifts among equals until a window finds something better
(large neighbourhood search; P. Shaw, CP 1998).

A tidy search counts, below the wrong cells, the knots that must return: strands that cross are
quicker to knot and to read.

Two kinds of window: a wide one, whose colours before the cut row are kept, and a narrow one, whose
colours there are free as well, tabled for every start, which also changes how many strands a
colour has.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from motifsearch.base.arrays import I8, I64
from motifsearch.pattern.knots import positions_in_row
from motifsearch.target.grids import Walk, wrong_of

Table = npt.NDArray[np.int32]

#: What one wrong cell costs; a returning knot costs 1 when the walk is tidied, and there are fewer
#: than this of them.
CELL = 10_000
#: No walk; above any cost, and no overflow when costs are added.
NONE = 1_000_000_000
#: Steps of a kick.
KICK = 8
#: Largest tables of the wide and of the narrow window (entries a start).
WIDE, NARROW = 4_500, 260


def _width(colours: int, most: int, strands: int) -> int:
    """Return the widest window of at most `most` orders of colours."""
    width = 2
    while width < strands and colours ** (width + 1) <= most:
        width += 1
    return width


class LocalSearch:
    """A closed walk that gets better.

    Args:
        cells: The target, int8 ``[P, S // 2]``, P even.
        strands: S.
        colours: K.
        even: Whether every colour must have an even number of strands.
        most: Per colour the largest number of strands, ``[K]``.
        rng: All chance.
        tick: Called with the work done; raises when the budget is used up.
        weights: What every wrong cell counts, int64 ``[P, S // 2]``, from 1 to 100; 1 each when
            None.

    Attributes:
        walk: The colours before every row, uint8 ``[P, S]``.
        cost: Its wrong cells.
        tidy: Whether returning knots count, too.
    """

    def __init__(
        self,
        cells: I8,
        strands: int,
        colours: int,
        even: bool,
        most: I64,
        rng: np.random.Generator,
        tick: Callable[[float], None],
        weights: I64 | None = None,
    ) -> None:
        self.weights = np.ones(cells.shape, np.int64) if weights is None else weights
        self.cells = cells
        self.rows = len(cells)
        self.strands = strands
        self.colours = colours
        self.even = even
        self.most = np.minimum(most, strands)
        self.rng = rng
        self.tick = tick
        self.wide = _width(colours, WIDE, strands)
        self.narrow = _width(colours, NARROW, strands)
        self.orders = {
            w: np.indices((colours,) * w, np.uint8).reshape(w, -1).T
            for w in {self.wide, self.narrow}
        }
        self.tidy = False
        self.restart()

    def restart(self) -> None:
        """Begin anew: lengthwise stripes, as many of each colour as the target asks for."""
        share = np.bincount(self.cells[self.cells >= 0], minlength=self.colours) + 0.5
        share = share * self.rng.uniform(0.5, 1.5, self.colours)
        counts = np.zeros(self.colours, np.int64)
        step = 2 if self.even else 1
        for _ in range(self.strands // step):
            room = self.most - counts >= step
            counts[int(np.argmax(np.where(room, share / (counts + step), -1.0)))] += step
        order = np.repeat(np.arange(self.colours, dtype=np.uint8), counts)
        self.walk: Walk = np.tile(self.rng.permutation(order), (self.rows, 1))
        self.cost = int(wrong_of(self.walk, self.cells).sum())

    def adopt(self, walk: Walk) -> None:
        """Go on from a closed walk."""
        self.walk = walk.copy()
        self.cost = int(wrong_of(self.walk, self.cells).sum())

    def kick(self) -> None:
        """Leave the walk for another nearby: go some steps with a stretch of rows free."""
        cells = self.cells
        rows = int(self.rng.integers(self.rows // 10 + 1, self.rows // 2 + 2))
        at = int(self.rng.integers(self.rows))
        self.cells = cells.copy()
        self.cells[(at + np.arange(rows)) % self.rows] = -1
        try:
            for _ in range(KICK):
                self.step()
        finally:
            self.cells = cells
            self.adopt(self.walk)

    def step(self) -> int:
        """Free one window chosen by chance; return the cost after."""
        free = bool(self.rng.random() < 0.4)
        width = self.narrow if free else self.wide
        left = int(self.rng.integers(self.strands - width + 1))
        cut = int(self.rng.integers(self.rows))
        self.window(left, width, cut, free)
        return self.cost

    def window(self, left: int, width: int, cut: int, free: bool) -> None:
        """Make the best of one window.

        Args:
            left: Its first position.
            width: Its positions.
            cut: The row before which the walk is cut open.
            free: Whether the colours before that row are free too.
        """
        k = self.colours
        power = k ** np.arange(width - 1, -1, -1)
        now = int(self.walk[cut, left : left + width] @ power)
        starts = self._starts(left, width, cut) if free else np.array([now])
        table: Table = np.full((k**width, len(starts)), NONE, np.int32)
        table[starts, np.arange(len(starts))] = 0
        trail: list[tuple[int, int, int, int, Table]] = []  # row, kind, axis, other, costs
        for step in range(self.rows):
            r = (cut + step) % self.rows
            for i in positions_in_row(self.strands, r):
                if left - 1 <= i < left + width:
                    table = self._knot(table, r, i, left, width, trail)
            self.tick(table.size * (width + 3.0))
        closing = table[starts, np.arange(len(starts))]
        column = int(self.rng.choice(np.flatnonzero(closing == closing.min())))
        self._trace(trail, int(starts[column]), column, left, width, cut)
        self.cost = int(wrong_of(self.walk, self.cells).sum())

    def _starts(self, left: int, width: int, cut: int) -> npt.NDArray[np.intp]:
        outside = np.delete(self.walk[cut], slice(left, left + width))
        counts = np.bincount(outside, minlength=self.colours)[:, None] + np.stack(
            [(self.orders[width] == c).sum(axis=1) for c in range(self.colours)]
        )
        good = (counts <= self.most[:, None]).all(axis=0)
        if self.even:
            good &= (counts % 2 == 0).all(axis=0)
        return np.flatnonzero(good)

    def _knot(
        self,
        table: Table,
        r: int,
        i: int,
        left: int,
        width: int,
        trail: list[tuple[int, int, int, int, Table]],
    ) -> Table:
        """Return the table after the knot at (i, i + 1) of row r."""
        k = self.colours
        want = int(self.cells[r, i // 2])
        cell = CELL * int(self.weights[r, i // 2])
        colour = np.arange(k)
        miss = ((colour != want) & (want >= 0)).astype(np.int32)
        stays = (colour[:, None] != colour[None, :]).astype(np.int32) * int(self.tidy)
        axis = i - left
        if 0 <= axis < width - 1:
            trail.append((r, 0, axis, 0, table))
            pairs = table.reshape(k**axis, k, k, -1)
            both: Table = np.minimum(pairs + stays[None, :, :, None], pairs.swapaxes(1, 2))
            both += cell * (miss[:, None] * miss[None, :])[None, :, :, None]
            return both.reshape(table.shape)
        outside = i if axis < 0 else i + 1
        axis = max(axis, 0)
        old, new = int(self.walk[r, outside]), int(self.walk[(r + 1) % self.rows, outside])
        t = table.reshape(k**axis, k, -1)
        if old == new:
            trail.append((r, 1, axis, 0, table))
            added: Table = t + (cell * miss * miss[old] + stays[old])[None, :, None]
            return added.reshape(table.shape)
        trail.append((r, 2, axis, new, table))
        crossed = np.full_like(t, NONE)
        crossed[:, old] = t[:, new] + cell * miss[old] * miss[new]
        return crossed.reshape(table.shape)

    def _trace(
        self,
        trail: list[tuple[int, int, int, int, Table]],
        start: int,
        column: int,
        left: int,
        width: int,
        cut: int,
    ) -> None:
        k = self.colours
        here = slice(left, left + width)
        state = self.orders[width][start].copy()
        power = k ** np.arange(width - 1, -1, -1)
        row = cut
        self.walk[cut, here] = state
        for r, kind, axis, other, table in reversed(trail):
            while row != (r + 1) % self.rows:
                # Rows without a knot of this window keep the colours.
                row = (row - 1) % self.rows
                self.walk[row, here] = state
            if kind == 0 and state[axis] != state[axis + 1]:
                index = int(state @ power)
                swapped = state.copy()
                swapped[[axis, axis + 1]] = swapped[[axis + 1, axis]]
                stay = table[index, column] + int(self.tidy)
                cross = table[int(swapped @ power), column]
                if cross < stay or (cross == stay and self.rng.random() < 0.7):
                    state = swapped
            elif kind == 2:
                state[axis] = other
        while row != cut:
            row = (row - 1) % self.rows
            self.walk[row, here] = state


__all__ = ["LocalSearch"]
