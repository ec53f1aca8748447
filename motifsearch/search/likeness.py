"""Likeness: the share of a target's wanted cells that a face shows in the wanted colour.

The face is held against the target at every even shift of the target's rows, over two periods of
the grid or of the target, whichever is longer; the best shift counts.  Cells that want no colour
are left out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from motifsearch.pattern.colour import colour_difference
from motifsearch.search.target import Target
from motifsearch.simulate.walk import count_true, faces

U8 = npt.NDArray[np.uint8]
#: What stands for "any colour" in byte arrays; no colour has this number.
ANY = 255


def matched(target: Target, names: Sequence[str], colours: Sequence[str]) -> U8:
    """Return the target's cells as numbers of a palette, uint8 ``[rows, S // 2]``.

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
    table = np.array([*number, ANY], np.uint8)
    return table[target.cells]


def likeness(knots: U8, colours: U8, cells: U8) -> npt.NDArray[np.float64]:
    """Return the likeness of N designs, float64 ``[N]``, 0..1.

    Args:
        knots: uint8 ``[P, S // 2, N]``.
        colours: uint8 ``[S, N]``.
        cells: The target, uint8 ``[rows, S // 2]``, rows even; `ANY` where no colour is wanted.
    """
    rows = math.lcm(len(knots), len(cells))
    rows = rows if rows <= 2 * max(len(knots), len(cells)) else 2 * max(len(knots), len(cells))
    face = faces(knots, colours, rows)
    best = np.zeros(face.shape[2])
    for shift in range(0, len(cells), 2):
        wanted = cells[(np.arange(rows) + shift) % len(cells)][:, :, None]
        asked = int((wanted != ANY).sum())
        if asked:
            best = np.maximum(best, count_true(face == wanted) / asked)
    return best
