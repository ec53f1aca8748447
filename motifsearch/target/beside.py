"""What stands on both sides of a text: ground, or a simple pattern in the ink of the letters.

A pattern is a rule over (d, i): d rows away from the clear ground beside the text, on either side
alike, and i positions up the band.
"""

from __future__ import annotations

from typing import Final

from motifsearch.target.glyphs import Cell
from motifsearch.target.lettering import Lettering

#: Rows of ground between a text and what stands beside it.
CLEAR: Final = 5


def side_cells(words: Lettering, kind: str) -> frozenset[Cell]:
    """Return the ink of a pattern on both sides of a text, (row, position).

    The pattern is the same on both sides, turned towards the text, and leaves the outermost
    positions to the ground.

    Args:
        words: The text as it stands.
        kind: One of `SIDES`.
    """
    draw = _SIDES[kind]
    if draw is None:
        return frozenset()
    after = words.start + words.width
    out = set()
    for d in range((words.rows - words.width) // 2 - CLEAR):
        for row in (after + CLEAR + d, words.start - 1 - CLEAR - d):
            for i in range(1, words.strands - 2):
                if (row + i) % 2 == 0 and draw(d, i, words.strands):
                    out.add((row % words.rows, i))
    return frozenset(out)


def _from_middle(i: int, strands: int) -> float:
    return abs(i - (strands - 2) / 2)


def _chevrons(d: int, i: int, strands: int) -> bool:
    return int(d + _from_middle(i, strands)) % 8 < 4


def _lozenges(d: int, i: int, strands: int) -> bool:
    reach = min(5, (strands - 4) // 2)
    return abs(d % (2 * reach + 2) - reach) + _from_middle(i, strands) <= reach


def _zigzag(d: int, i: int, strands: int) -> bool:
    reach = max(2, (strands - 6) // 4)
    wave = abs((d + reach) % (4 * reach) - 2 * reach) - reach
    return abs(i - (strands - 2) / 2 - wave) <= 1.5


_SIDES: Final = {"plain": None, "chevrons": _chevrons, "lozenges": _lozenges, "zigzag": _zigzag}
#: What may stand on both sides of a text.
SIDES: Final = tuple(_SIDES)
