"""Packed faces: every row of a face as one number, so that rows are compared whole.

A cell takes as many bits as the palette needs; cells of two rows that differ are the non-zero
groups of bits of their exclusive or, counted by a population count.  The four symmetries of
`motifsearch.simulate.symmetry` then cost a few operations for all phases together.

A flip or a half turn at phase s takes row r to row s - r and back, so only the rows from its axis
to the opposite one are compared; those between count twice.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from motifsearch.base.arrays import I64, U8
from motifsearch.pattern.knots import slots_in_row

Packed = npt.NDArray[np.unsignedinteger[Any]]
#: Longest repeat, in rows, whose phases are compared all at once; the memory grows with its square.
MOST_ROWS: Final = 64


def bits_of(palette: int) -> int:
    """Return the bits that a cell takes.

    Examples:
        >>> [bits_of(k) for k in (1, 2, 3, 4, 5, 24)]
        [1, 1, 2, 2, 3, 5]
    """
    return max(1, (palette - 1).bit_length())


def packed_rows(face: U8, strands: int, bits: int, mirrored: bool = False) -> Packed:
    """Return every row as one number, unsigned ``[T, N]``.

    Args:
        face: uint8 ``[T, S // 2, N]``.
        strands: S.
        bits: Bits of a cell; at most 5, so that 12 cells fit.
        mirrored: Whether the cells of every row are taken from the right.
    """
    total, slots, n = face.shape
    width = bits * slots
    kind = np.dtype(f"u{1 if width <= 8 else 2 if width <= 16 else 4 if width <= 32 else 8}").type
    cells = face.astype(kind, copy=False)
    out = np.zeros((total, n), kind)
    for parity in (0, 1):
        here, part = slots_in_row(strands, parity), out[parity::2]
        for k in range(here):
            part |= cells[parity::2, k] << kind(bits * (here - 1 - k if mirrored else k))
    return out


@lru_cache(maxsize=256)
def _meeting(total: int, first: int) -> tuple[I64, I64]:
    """Return the rows that meet at the phases first, first + 2, ...: int64 ``[phases, rows]``."""
    s = np.arange(first, total, 2)[:, None]
    from_axis = np.arange(total // 2 + (first % 2 == 0))
    down = ((s + first % 2) // 2 + from_axis) % total
    return down, (s - down) % total


def agreements(rows: Packed, back: Packed, strands: int, bits: int) -> dict[str, I64 | None]:
    """Return how many cells agree at the best phase, by kind: int64 ``[N]``, None where absent.

    Args:
        rows: Packed rows of one repeat, ``[T, N]``, T at most `MOST_ROWS`.
        back: The same, mirrored.
        strands: S.
        bits: Bits of a cell.
    """
    total, odd, half = len(rows), strands % 2, len(rows) // 2
    kind = rows.dtype.type
    low = kind(sum(1 << (bits * k) for k in range(strands // 2)))
    cells = total // 2 * (strands - 1)

    def differing(x: Packed, axis: int) -> I64:
        folded = x
        for b in range(1, bits):
            folded = folded | (x >> kind(b))
        count: I64 = np.add.reduce(np.bitwise_count(folded & low), axis, np.uint16).astype(np.int64)
        return count

    out: dict[str, I64 | None] = {"mirror": None, "glide": None}
    if not odd:
        out["mirror"] = cells - differing(rows ^ back, 0)
    if half % 2 == odd:
        out["glide"] = cells - 2 * differing(rows[:half] ^ back[half:], 0)
    for name, other, first in (("flip", rows, 0), ("half_turn", back, odd)):
        down, up = _meeting(total, first)
        x = rows[down]
        x ^= other[up]
        if first:
            found = 2 * differing(x, 1)
        else:  # the rows on the two axes meet themselves
            found = 2 * differing(x[:, 1:-1], 1) + differing(x[:, ::half], 1)
        out[name] = cells - found.min(0)
    return out
