"""What is kept of a kind: columns of numbers that do not hang on its colours.

A *kind* is a design up to the names of its colours: the canonical grid with its colour classes
(`motifsearch.pattern.canonical_form`).  Of N kinds of one size (S strands, P rows) every column is
one array whose last axis is the kind.  Those of `SCREEN` are one number a kind and say which kinds
are looked at further; the others are the kind itself.

**Thread.**  Strand s comes back to its place after L_s periods, the length of its cycle in sigma.
Kept are the counts of its knots over that round of L_s P rows: crossing and returning knots that it
ties, and rows that it waits.  In the other rows it is the core.  With the thread model's lengths
its use of a long band is then arithmetic, for R rows::

    use_s = R / (L_s P) (crossing loop_c + returning loop_r + core bend
                         + (L_s P - 2 waits) hypot(p, q) + 2 waits p)

which is exact for whole rounds, and off by what is left of one round else.  ``even`` is the
evenness of a long band by the stated constants of the model; it does not hang on the thickness.

**Work.**  ``eased`` is 1 where the grid is known to be the one of its face that is least to work
(`motifsearch.search.easing`), else 0.

**Colours.**  Bit ``c (c - 1) / 2 + d`` of ``touching`` says that classes c > d touch on the face,
so the contrast of any colouring is the least difference over the set bits.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from motifsearch.base.arrays import F64, I64, U8
from motifsearch.pattern.knots import slots_in_row
from motifsearch.search.variety import WINDOW_ROWS
from motifsearch.thread.model import ThreadModel

#: The most colour classes of a kind: all pairs of them have a bit in ``touching``.
MOST_CLASSES: Final = 11
#: Repeats that are longer than the longest that a brief allows are of no use.
MOST_ROWS: Final = 400
#: The figure of a kind that was not looked at yet.
UNSEEN: Final = 255

Array = npt.NDArray[Any]

#: One number a kind: name to dtype.
SCREEN: Final[Mapping[str, str]] = {
    "classes": "u1",
    "odd": "u1",
    "repeat_rows": "<u2",
    "frieze": "u1",
    "figure": "u1",
    "eased": "u1",
    "symmetry": "<f4",
    "movement": "<f4",
    "coherence": "<f4",
    "lone": "<f4",
    "flatness": "<f4",
    "balance": "<f4",
    "even": "<f4",
    "stretches": "<f4",
    "round_rows": "<u2",
    "returns": "<f4",
    "kinds": "u1",
    "used": "u1",
    "border": "u1",
}


def classes_kept(strands: int) -> int:
    """Return the number of classes that columns have room for."""
    return min(strands, MOST_CLASSES)


def layout(strands: int, period: int) -> dict[str, tuple[np.dtype[Any], tuple[int, ...]]]:
    """Return name to (dtype, shape without the last axis) of every column.

    Examples:
        >>> layout(8, 4)["knots"], layout(8, 4)["shares"][1]
        ((dtype('uint8'), (4,)), (8,))
    """
    k, s = classes_kept(strands), strands
    lines = (WINDOW_ROWS * (s // 2) * 2 + 7) // 8
    names: dict[str, tuple[str, tuple[int, ...]]] = {
        **{name: (kind, ()) for name, kind in SCREEN.items()},
        "key": ("<u8", ()),
        "knots": ("u1", ((period * (s // 2) + 3) // 4,)),
        "colours": ("u1", (s,)),
        "shares": ("<f4", (k,)),
        "touching": ("<u8", ()),
        "cycle": ("u1", (s,)),
        "crossing": ("<u2", (s,)),
        "returning": ("<u2", (s,)),
        "waits": ("<u2", (s,)),
        "outline": ("u1", (lines,)),
    }
    return {name: (np.dtype(kind), shape) for name, (kind, shape) in names.items()}


@dataclass(frozen=True)
class Kinds:
    """N kinds of one size.

    Attributes:
        strands: S.
        period: P, rows of the shortest grid.
        columns: As `layout` says, each ``[..., N]``.
    """

    strands: int
    period: int
    columns: Mapping[str, Array]

    def __len__(self) -> int:
        """Return N."""
        return int(next(iter(self.columns.values())).shape[-1])

    def __getitem__(self, name: str) -> Array:
        """Return a column."""
        return self.columns[name]

    def take(self, where: npt.NDArray[np.integer[Any]] | npt.NDArray[np.bool_]) -> Kinds:
        """Return some of the kinds, copied."""
        return Kinds(self.strands, self.period, {n: c[..., where] for n, c in self.columns.items()})

    def knots(self) -> U8:
        """Return the grids, uint8 ``[P, S // 2, N]``."""
        return unpacked(self.columns["knots"], self.strands, self.period)


def packed(knots: U8) -> U8:
    """Return grids with four knots in a byte, uint8 ``[bytes, N]``, for uint8 ``[P, S // 2, N]``.

    Examples:
        >>> packed(np.array([[[0], [1]], [[2], [3]]], np.uint8))[:, 0].tolist()
        [228]
    """
    flat = knots.reshape(-1, knots.shape[-1])
    short = -len(flat) % 4
    flat = np.concatenate([flat, np.zeros((short, flat.shape[1]), np.uint8)])
    out = flat[0::4].copy()
    for k in (1, 2, 3):
        out |= np.left_shift(flat[k::4], 2 * k, dtype=np.uint8)
    return out


def unpacked(knots: Array, strands: int, period: int) -> U8:
    """Return what `packed` packed."""
    parts: U8 = np.stack([knots >> shift & 3 for shift in (0, 2, 4, 6)], 1).astype(np.uint8)
    flat = parts.reshape(-1, knots.shape[-1])[: period * (strands // 2)]
    return flat.reshape(period, strands // 2, -1)


def join(parts: list[Kinds]) -> Kinds:
    """Return all kinds of several batches of one size."""
    first = parts[0]
    return Kinds(
        first.strands,
        first.period,
        {n: np.concatenate([p.columns[n] for p in parts], -1) for n in first.columns},
    )


def use_mm(kinds: Kinds, rows: float, model: ThreadModel, diameter_mm: float) -> F64:
    """Return the thread that every strand uses, float64 ``[S, N]``, for threads of one thickness.

    Args:
        kinds: N kinds.
        rows: R.
        model: The thread model.
        diameter_mm: The thickness.
    """
    d = diameter_mm
    p, bend = model.row_gauge * d, model.bend * d
    slanted = float(np.hypot(p, model.strand_gauge * d))
    crossing = kinds["crossing"].astype(np.float64)
    returning = kinds["returning"].astype(np.float64)
    waits = kinds["waits"].astype(np.float64)
    whole = kinds["cycle"].astype(np.float64) * kinds.period
    total = crossing * model.loop_mm(False, d, d) + returning * model.loop_mm(True, d, d)
    total += (whole - waits - crossing - returning) * bend
    total += (whole - 2 * waits) * slanted + 2 * waits * p
    out: F64 = total * (rows / whole)
    return out


def is_border(knots: U8, strands: int) -> npt.NDArray[np.bool_]:
    """Return whether the outermost strands tie all their knots and return, bool ``[N]``.

    Args:
        knots: uint8 ``[P, S // 2, N]``.
        strands: S.
    """
    out = np.ones(knots.shape[-1], bool)
    for row in range(len(knots)):
        first, slots = row % 2, slots_in_row(strands, row)
        if first == 0:
            out &= knots[row, 0] == 2
        if first + 2 * slots == strands:
            out &= knots[row, slots - 1] == 3
    return out


def bit(c: int, d: int) -> int:
    """Return the bit of two classes.

    Examples:
        >>> bit(1, 0), bit(2, 0), bit(2, 1), bit(0, 2)
        (0, 1, 2, 1)
    """
    c, d = max(c, d), min(c, d)
    return c * (c - 1) // 2 + d


def cycles(perm: I64) -> I64:
    """Return the length of every place's cycle, int64 ``[S, N]``, for permutations ``[S, N]``.

    Examples:
        >>> cycles(np.array([[1], [0], [2]]))[:, 0].tolist()
        [2, 2, 1]
    """
    home = np.arange(len(perm))[:, None]
    out = np.zeros(perm.shape, np.int64)
    at = perm.astype(np.int64)
    for length in range(1, len(perm) + 1):
        out[(at == home) & (out == 0)] = length
        at = np.take_along_axis(perm, at, 0).astype(np.int64)
    return out
