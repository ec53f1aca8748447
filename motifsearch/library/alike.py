"""Kinds whose face is drawn like another: by the distance of outlines.

The outline of a face is where touching cells differ in colour (`motifsearch.search.variety`); it
does not hang on which colours these are.  The *likeness* of a kind is 1 less the Jaccard distance
of its outline and that which is looked for, at the best of all phases, as it is, mirrored, flipped
and turned: 1 where the faces can be laid on one another.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from motifsearch.base.arrays import F64, U8
from motifsearch.library.columns import SCREEN, layout
from motifsearch.library.screen import LIMITED, MOST, Promising, allowed
from motifsearch.library.store import Library
from motifsearch.pattern.design import Pattern
from motifsearch.search.brief import Brief
from motifsearch.search.variety import repeat_face, variants
from motifsearch.target.motif import Target

#: Kinds that are compared at once: what is held of them stays in the cache.
CHUNK: Final = 4096


@dataclass(frozen=True)
class Looked:
    """What is looked for.

    Attributes:
        name: What it is called.
        strands: S.
        lines: Its packed outlines at every phase and turn, uint8 ``[variants, bytes]``.
    """

    name: str
    strands: int
    lines: U8


def like_pattern(pattern: Pattern, name: str) -> Looked:
    """Return the face of a design as what is looked for."""
    return Looked(name, pattern.strands, variants(repeat_face(pattern), pattern.strands))


def like_target(target: Target, name: str) -> Looked:
    """Return a painted motif as what is looked for; cells of any colour count as one colour."""
    even = target.evened()
    return Looked(name, even.strands, variants(even.cells.astype(np.uint8), even.strands))


def likeness(lines: U8, looked: Looked) -> F64:
    """Return the likeness of faces to what is looked for, float64 ``[N]``.

    Args:
        lines: Packed outlines, uint8 ``[N, bytes]``.
        looked: What is looked for.
    """
    # Twelve bytes a slot: four divide them.
    ways = np.unique(looked.lines, axis=0).view(np.uint32)
    out = np.zeros(len(lines))
    for start in range(0, len(lines), CHUNK):
        mine = np.ascontiguousarray(lines[start : start + CHUNK]).view(np.uint32)
        size = np.bitwise_count(mine).sum(1, dtype=np.int64)
        best = np.zeros(len(mine))
        for way in ways:
            differ = np.bitwise_count(mine ^ way).sum(1, dtype=np.int64)
            # |A or B| = (|A| + |B| + |A xor B|) / 2
            both = size + int(np.bitwise_count(way).sum()) + differ
            np.maximum(best, 1.0 - 2.0 * differ / np.maximum(both, 1), out=best)
        out[start : start + CHUNK] = best
    return out


def nearest(libraries: Sequence[Library], brief: Brief, looked: Looked) -> list[Promising]:
    """Return the kinds that keep the limits and are most alike to what is looked for.

    Args:
        libraries: The libraries.
        brief: The brief; its strands are those of what is looked for.
        looked: What is looked for.
    """
    parts = []
    for library in libraries:
        for size in library.sizes():
            if size.strands != brief.strands:
                continue
            kind, shape = layout(size.strands, size.period)["outline"]
            for block in library.blocks(size.strands, size.period):
                k = {n: library.column(block, n, np.dtype(SCREEN[n])) for n in LIMITED}
                good = np.logical_and.reduce(list(allowed(k, brief).values()))
                where = np.flatnonzero(good)
                lines = np.moveaxis(library.column(block, "outline", kind, shape), -1, 0)[where]
                parts.append((library, size, where + block.start, likeness(lines, looked)))
    if not parts:
        return []
    every = np.concatenate([p[3] for p in parts])
    order = np.argsort(-every, kind="stable")[:MOST]
    edges = np.cumsum([0, *(len(p[3]) for p in parts)])
    out = []
    for (library, size, where, alike), low, high in zip(parts, edges[:-1], edges[1:], strict=True):
        keep = np.sort(order[(order >= low) & (order < high)]) - low
        if len(keep):
            kinds = library.some(size.strands, size.period, where[keep])
            out.append(Promising(kinds, alike[keep]))
    return out
