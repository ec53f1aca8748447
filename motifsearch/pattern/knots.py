"""The four knots, and where they stand on the grid.

A knot joins the strands at positions i and i+1.  It is named by its two hitch letters, each the
way in which the tying strand moves: the first letter says who ties (``r``: the left strand,
``l``: the right one); two equal letters make the strands change places, two different ones leave
them where they are.

In arrays a knot is one ``uint8`` code of two bits: bit 0 is set when the right strand ties, bit 1
when the tying strand returns.  So ``rr ll rl lr`` are 0 1 2 3.

Row r holds knots at i = r mod 2, r mod 2 + 2, ..., i <= S-2, one per *slot*: slot k stands at
i = r mod 2 + 2k.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from motifsearch.base.arrays import U8
from motifsearch.pattern.names import KNOT_WORDS, KNOTS, MAX_STRANDS, MIN_STRANDS

__all__ = [
    "CODE", "FLIPPED", "KNOTS", "KNOT_WORDS", "MAX_ROWS", "MAX_STRANDS", "MIN_STRANDS", "MIRRORED",
    "RETURNING", "TIED_FROM_RIGHT", "TURNED", "knots_in_grid", "positions_in_row", "slots_in_row",
]  # fmt: skip

CODE: Final = {name: code for code, name in enumerate(KNOTS)}

TIED_FROM_RIGHT: Final = 1
RETURNING: Final = 2

MAX_ROWS: Final = 400

#: What a knot becomes when the band is mirrored left to right, flipped top to bottom, and turned
#: by half a turn.  The tying strand of ``rr`` runs from top left to bottom right, a line that a
#: half turn maps to itself; ``rl`` comes from and goes back to the left, so it becomes ``lr``.
MIRRORED: Final[U8] = np.array([1, 0, 3, 2], np.uint8)
FLIPPED: Final[U8] = np.array([1, 0, 2, 3], np.uint8)
TURNED: Final[U8] = np.array([0, 1, 3, 2], np.uint8)


def slots_in_row(strands: int, row: int) -> int:
    """Return the number of knots in row `row` of a band of `strands` strands.

    Examples:
        >>> [slots_in_row(8, 0), slots_in_row(8, 1), slots_in_row(7, 0), slots_in_row(7, 1)]
        [4, 3, 3, 3]
    """
    return (strands - row % 2) // 2


def positions_in_row(strands: int, row: int) -> range:
    """Return the left position i of every knot in row `row`, from the left.

    Examples:
        >>> list(positions_in_row(8, 1))
        [1, 3, 5]
    """
    return range(row % 2, strands - 1, 2)


def knots_in_grid(strands: int, rows: int) -> int:
    """Return the number of knots in `rows` rows.

    Examples:
        >>> knots_in_grid(8, 2)
        7
    """
    return (rows + 1) // 2 * slots_in_row(strands, 0) + rows // 2 * slots_in_row(strands, 1)
