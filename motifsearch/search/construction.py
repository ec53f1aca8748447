"""Constructions: how a whole grid, and the colours to match, grow out of a part of it.

On the endless strip a symmetry of the design takes a knot to a knot (see
`motifsearch.pattern.knots`), and the colours stand right for it when two strands that it takes
to one another share a colour:

============ =============================== ==========================================
none         every knot is free              every strand is free
mirror       (r, i) ~ (r, S-2-i), S even     position x before row 0 ~ S-1-x before row 0
glide        (r, i) ~ (r+P/2, S-2-i)         x before row P/2 ~ S-1-x before row 0
half_turn    (r, i) ~ (s-r, S-2-i)           x before row 0 ~ S-1-x before row s+1
flip         (r, i) ~ (-r, i)                none: every strand comes back to its place
mirror_flip  both, S even                    as mirror
============ =============================== ==========================================

with s = 0 for S even and s = -1 for S odd.  A knot that is taken to itself cannot lean: on the
axis of a flip it is made returning, at the centre of a half turn crossing.  A mirror's middle
knot joins two strands of one colour, so it may be any.

A *settled* design has, on top, one colour for every cycle of sigma: the colours then stand as at
the start after one period.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt

from motifsearch.base.arrays import I64, U8, Bool
from motifsearch.pattern.knots import (
    CODE,
    FLIPPED,
    MIRRORED,
    RETURNING,
    TURNED,
    slots_in_row,
)
from motifsearch.simulate.walk import crossing_masks, swap_row

CONSTRUCTIONS: Final = ("none", "mirror", "glide", "half_turn", "flip", "mirror_flip")
_IDENTITY: Final = np.arange(4, dtype=np.uint8)


@dataclass(frozen=True)
class Plan:
    """Where every knot of a developed grid comes from.

    Attributes:
        source: Index into the flattened raw grid, int64 ``[P * K]``.
        recode: uint8 ``[P * K, 4]``: code of the raw knot to code of the knot.
        free: bool ``[P * K]``: the knots that are their own source.
    """

    source: I64
    recode: U8
    free: Bool


def available(strands: int, period: int) -> list[int]:
    """Return the constructions that exist for S and P, as indices into `CONSTRUCTIONS`.

    Examples:
        >>> [CONSTRUCTIONS[c] for c in available(8, 6)]
        ['none', 'mirror', 'half_turn', 'flip', 'mirror_flip']
        >>> [CONSTRUCTIONS[c] for c in available(7, 6)]
        ['none', 'glide', 'half_turn', 'flip']
    """
    out = []
    for c, name in enumerate(CONSTRUCTIONS):
        if name in ("mirror", "mirror_flip") and strands % 2:
            continue
        if name == "glide" and period // 2 % 2 != strands % 2:
            continue
        out.append(c)
    return out


def _images(name: str, strands: int, period: int, r: int, i: int) -> list[tuple[int, int, U8]]:
    """Return the cells that (r, i) is taken to, with what the knot becomes."""
    last = strands - 2 - i
    if name == "mirror":
        return [(r, last, MIRRORED)]
    if name == "glide":
        return [((r + period // 2) % period, last, MIRRORED)]
    if name == "half_turn":
        return [((-(strands % 2) - r) % period, last, TURNED)]
    if name == "flip":
        return [(-r % period, i, FLIPPED)]
    if name == "mirror_flip":
        return [(r, last, MIRRORED), (-r % period, i, FLIPPED), (-r % period, last, TURNED)]
    return []


@lru_cache(maxsize=512)
def plan(construction: int, strands: int, period: int, border: bool) -> Plan:
    """Return the plan of one construction.

    Args:
        construction: Index into `CONSTRUCTIONS`.
        strands: S.
        period: P.
        border: Whether the outermost knots are fixed to forward-backward of the outermost strand.
    """
    name = CONSTRUCTIONS[construction]
    slots = strands // 2
    source = np.arange(period * slots)
    recode = np.tile(_IDENTITY, (period * slots, 1))
    free = np.zeros(period * slots, bool)
    for r in range(period):
        first = r % 2
        for k in range(slots_in_row(strands, r)):
            here, i = r * slots + k, first + 2 * k
            free[here] = True
            for row, position, table in _images(name, strands, period, r, i):
                there = row * slots + (position - row % 2) // 2
                if there < source[here]:
                    source[here], recode[here] = there, table
                    free[here] = False
                if there == here and name in ("flip", "mirror_flip") and table is FLIPPED:
                    recode[here] = recode[here] | RETURNING
                if there == here and name in ("half_turn", "mirror_flip") and table is TURNED:
                    recode[here] = recode[here] & ~np.uint8(RETURNING)
    if name == "mirror_flip":  # on the flip's axis a mirrored knot comes from its own row
        for r in (0, period // 2):
            recode[r * slots : r * slots + slots_in_row(strands, r)] |= RETURNING
    if border:
        for r in range(period):
            for k in range(slots_in_row(strands, r)):
                i, here = r % 2 + 2 * k, r * slots + k
                if i == 0 or i == strands - 2:
                    recode[here] = CODE["rl"] if i == 0 else CODE["lr"]
                    free[here] = False
    return Plan(source, recode, free)


def develop_grid(construction: U8, raw: U8, strands: int, border: bool) -> U8:
    """Return the whole grids, uint8 ``[P, K, N]``.

    Args:
        construction: uint8 ``[N]``.
        raw: uint8 ``[P, K, N]``; of each only the free knots of its construction count.
        strands: S.
        border: See `plan`.
    """
    period, slots, n = raw.shape
    flat = raw.reshape(period * slots, n)
    out = np.empty_like(flat)
    for c in np.unique(construction):
        some = np.flatnonzero(construction == c)
        p = plan(int(c), strands, period, border)
        picked = flat[p.source[:, None], some]
        out[:, some] = p.recode[np.arange(len(p.source))[:, None], picked]
    if strands % 2 == 0:
        out.reshape(period, slots, n)[1::2, -1] = 0
    return out.reshape(period, slots, n)


def _powers(perm: npt.NDArray[np.intp]) -> list[npt.NDArray[np.intp]]:
    """Return a permutation ``[S, N]`` and its powers 2, 4, ... below S: every orbit's reach."""
    every, out, span = np.arange(perm.shape[1]), [], 1
    while span < len(perm):
        out.append(perm)
        span *= 2
        if span < len(perm):
            perm = perm[perm, every]
    return out


def _orbit_least(labels: U8, powers: list[npt.NDArray[np.intp]]) -> U8:
    """Return the least label ``[S, N]`` along every orbit of the permutation of `powers`."""
    every = np.arange(labels.shape[1])
    for perm in powers:
        labels = np.minimum(labels, labels[perm, every])
    return labels


def colour_classes(construction: U8, settled: U8, grid: U8, strands: int) -> U8:
    """Return for every strand the first strand that must share its colour, uint8 ``[S, N]``.

    Args:
        construction: uint8 ``[N]``.
        settled: uint8 ``[N]``, 1 where the colours must stand as at the start after one period.
        grid: The developed grids, uint8 ``[P, K, N]``.
        strands: S.
    """
    period, _, n = grid.shape
    ident = np.empty((strands, n), np.uint8)
    ident[:] = np.arange(strands, dtype=np.uint8)[:, None]
    before = {0: ident}
    state = ident.copy()
    masks = crossing_masks(grid)
    for r in range(period):
        swap_row(state, masks[r], r)
        if r + 1 in (1, period // 2, period):
            before[r + 1] = state.copy()
    relation = ident.astype(np.intp)
    for c in np.unique(construction):
        some = np.flatnonzero(construction == c)
        name = CONSTRUCTIONS[c]
        if name in ("mirror", "mirror_flip"):
            met = before[0]
        elif name == "glide":
            met = before[period // 2]
        elif name == "half_turn":
            met = before[0 if strands % 2 else 1]
        else:
            continue
        relation[:, some] = met[::-1, some]
    # Mirror and half turn lead back after two steps; a glide goes on as sigma does.
    labels = np.minimum(ident, relation).astype(np.uint8)
    glide = np.flatnonzero(construction == CONSTRUCTIONS.index("glide"))
    labels[:, glide] = _orbit_least(ident[:, glide], _powers(relation[:, glide]))
    if settled.any():
        some = np.flatnonzero(settled)
        cycles = before[period][:, some].astype(np.intp)
        part = labels[:, some]
        round_, over = _powers(cycles), _powers(relation[:, some])
        for _ in range(strands):
            joined = _orbit_least(_orbit_least(part, round_), over)
            if (joined == part).all():
                break
            part = joined
        labels[:, some] = part
    return labels
