"""Likeness: the share of a target's wanted cells that a face shows in the wanted colour.

The face is taken over the rows in which face and target both repeat, at most `LONGEST` times the
longer of the two, and held against the target by `motifsearch.target.fidelity`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from motifsearch.base.arrays import F64, I8, U8
from motifsearch.base.colour import colour_difference
from motifsearch.target.fidelity import wrong_cells
from motifsearch.target.motif import Target

#: Longer than so many times the longer of both is not compared: it would say the same.
LONGEST = 4


def matched(target: Target, names: Sequence[str], colours: Sequence[str]) -> I8:
    """Return the target's cells as numbers of a palette, int8 ``[rows, S // 2]``; -1 for any.

    A colour of the target is the palette's colour of the same name, or else the nearest by
    CIEDE2000.

    Args:
        target: The target, with an even number of rows.
        names: The palette's names.
        colours: Their ``#rrggbb``.
    """
    number = []
    for name, ink in zip(target.names, target.colours, strict=True):
        if name in names:
            number.append(list(names).index(name))
        else:
            number.append(int(np.argmin([colour_difference(ink, c) for c in colours])))
    table = np.array([*number, -1], np.int8)
    return table[target.cells]


def rows_compared(total: int, target_rows: int) -> int:
    """Return over how many rows of a face it is held against a target.

    Args:
        total: Rows after which the face comes again for certain, T.
        target_rows: Rows of the target, even.

    Examples:
        >>> rows_compared(8, 12), rows_compared(28, 14), rows_compared(350, 14)
        (24, 28, 350)
    """
    rows = math.lcm(total, target_rows)
    return rows if rows <= LONGEST * max(total, target_rows) else max(total, target_rows)


def likeness(face: U8, cells: I8) -> F64:
    """Return the likeness of N designs, float64 ``[N]``, 0..1.

    Args:
        face: uint8 ``[T, S // 2, N]``, the colours of `rows_compared` rows of every design.
        cells: The target, int8 ``[rows, S // 2]``, rows even; -1 where no colour is wanted.
    """
    return 1.0 - wrong_cells(face, cells)
