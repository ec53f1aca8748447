"""Slopes of a face: how the boundaries between its colours run.

A *boundary* stands between two touching cells of different colour.  Between (r, i) and
(r+1, i-1) it runs down to the right, slope +1; between (r, i) and (r+1, i+1) down to the left,
slope -1.  g[r, j] is the slope of the boundary between the columns j and j+1, 0 where both cells
have one colour; side[j] is +1 left of the middle, -1 right of it; rows are taken modulo the repeat.
With |g| summed over all boundaries as the unit:

* *lean* = sum g: diagonals from the left edge lean by +1.
* *point* = sum g side: arrowheads that point to the end of the band point by +1.
* *steady* = sum over j of |sum over r of g|: 1 where every column keeps its slope.
* *swing* = mean over r of |sum of g near r|: high for a zigzag, whose slope is the same over the
  whole width and turns along the band.
* *open* = mean over r of |sum of g side near r|: high for diamonds, which open and close.
* *turns* = how often the slope of the columns changes from the left edge to the right one.
"""

from __future__ import annotations

import numpy as np

from motifsearch.base.arrays import F64, I8
from motifsearch.describe.patches import Cells


def slopes_of(cells: Cells) -> I8:
    """Return g of the module's definition, int8 ``[rows, S - 2]``, of a face of a whole repeat."""
    here, below = cells, np.roll(cells, -1, axis=0)
    falls = (here[:, 1:] >= 0) & (here[:, 1:] != below[:, :-1])
    rises = (here[:, :-1] >= 0) & (here[:, :-1] != below[:, 1:])
    return np.asarray(falls.astype(np.int8) - rises.astype(np.int8), np.int8)


def _half(columns: int) -> int:
    return min(max(columns // 4, 1), 4)


def _near(values: F64, columns: int) -> F64:
    """Return the cyclic running sum over about half as many rows as columns, float64 ``[rows]``."""
    half = _half(columns)
    return np.asarray(sum(np.roll(values, k) for k in range(-half, half + 1)), float)


def measures(cells: Cells) -> dict[str, float]:
    """Return lean, point, steady, swing, open and turns (see the module).

    Args:
        cells: int16 ``[R, S - 1]``, a whole repeat.
    """
    g = slopes_of(cells).astype(np.float64)
    total = float(np.abs(g).sum())
    if not total:
        return dict.fromkeys(("lean", "point", "steady", "swing", "open", "turns"), 0.0)
    columns = g.shape[1]
    side = np.sign((columns - 1) / 2 - np.arange(columns))
    each = np.abs(g).sum(axis=1)
    by_row = float(_near(each, columns).sum())
    down = g.sum(axis=0)
    return {
        "lean": float(g.sum()) / total,
        "point": float((g * side).sum()) / total,
        "steady": float(np.abs(down).sum()) / total,
        "swing": float(np.abs(_near(g.sum(axis=1), columns)).sum()) / by_row,
        "open": float(np.abs(_near((g * side).sum(axis=1), columns)).sum()) / by_row,
        "turns": float(_turns(down, 0.1 * total)),
    }


def _turns(down: F64, least: float) -> int:
    """Return how often the slope changes across the band; runs below `least` do not count."""
    signs: list[int] = []
    start = 0
    for j in range(1, len(down) + 1):
        if j == len(down) or np.sign(down[j]) != np.sign(down[start]):
            run = float(down[start:j].sum())
            if abs(run) >= least and (not signs or signs[-1] != int(np.sign(run))):
                signs.append(int(np.sign(run)))
            start = j
    return max(len(signs) - 1, 0)
