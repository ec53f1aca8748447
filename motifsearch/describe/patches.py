"""The patches of a face, and what their outlines are.

A *patch* is a largest set of cells of one colour that touch one after the other; touching cells
are (r, i) and (r+1, i +- 1), rows taken modulo the repeat.  It is *closed* where it ends along the
band.  A heart, a cross and a diamond are told by the outline alone; the limits are ours (no
source).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

Cells = npt.NDArray[np.int16]


@dataclass(frozen=True)
class Patch:
    """Touching cells of one colour.

    Attributes:
        colour: The colour's index.
        cells: (row, column), rows not taken modulo the repeat.
        closed: Whether it ends along the band.
    """

    colour: int
    cells: tuple[tuple[int, int], ...]
    closed: bool


def patches_of(cells: Cells) -> list[Patch]:
    """Return all patches of a whole repeat, the largest first."""
    rows, columns = cells.shape
    where: dict[tuple[int, int], int] = {}
    out: list[Patch] = []
    for r0, i0 in np.argwhere(cells >= 0).tolist():
        if (r0, i0) in where:
            continue
        colour = int(cells[r0, i0])
        where[r0, i0] = r0
        found, closed = [(r0, i0)], True
        for r, i in found:
            for dr, di in ((1, 1), (1, -1), (-1, 1), (-1, -1)):
                rr, ii = r + dr, i + di
                if not 0 <= ii < columns or cells[rr % rows, ii] != colour:
                    continue
                seen = where.get((rr % rows, ii))
                if seen is None:
                    where[rr % rows, ii] = rr
                    found.append((rr, ii))
                elif seen != rr:
                    closed = False
        out.append(Patch(colour, tuple(found), closed))
    out.sort(key=lambda p: (-len(p.cells), p.cells))
    return out


def is_heart(patch: Patch, columns: int) -> bool:
    """Return whether a patch is a heart: two lobes, a notch between, a point below."""
    at: dict[int, list[int]] = {}
    for r, i in patch.cells:
        at.setdefault(i, []).append(r)
    first, last = min(at), max(at)
    if not patch.closed or last - first < 4 or len(patch.cells) < 9:
        return False
    if first == 0 or last == columns - 1 or (first + last) % 2:
        return False
    middle = (first + last) // 2
    top = {i: min(rs) for i, rs in at.items()}
    low = {i: max(rs) for i, rs in at.items()}
    highest, lowest = min(top.values()), max(low.values())
    notch, height = top[middle] - highest, lowest - highest
    even = all(top.get(2 * middle - i) == top[i] and low.get(2 * middle - i) == low[i] for i in top)
    tapers = all(low[i] < low[i + 1] for i in range(first, middle))
    filled = len(patch.cells) >= 0.8 * sum((low[i] - top[i]) // 2 + 1 for i in top)
    return even and tapers and filled and 1 <= notch <= 0.45 * height


def is_cross(patch: Patch) -> bool:
    """Return whether a patch reaches all corners of its box but not the middle of its sides."""
    rows = [r for r, _ in patch.cells]
    columns = [i for _, i in patch.cells]
    top, bottom, left, right = min(rows), max(rows), min(columns), max(columns)
    if not patch.closed or bottom - top < 4 or right - left < 4:
        return False
    cells = set(patch.cells)
    # Arms stand apart: what is filled between them is an hourglass.
    apart = sum(
        any(b - a > 2 for a, b in pairwise(sorted(i for r, i in patch.cells if r == row)))
        for row in range(top, bottom + 1)
    )
    if 3 * apart < bottom - top + 1:
        return False

    def holds(r: int, i: int) -> bool:
        return any((r + dr, i + di) in cells for dr in (-1, 0, 1) for di in (-1, 0, 1))

    corners = sum(holds(r, i) for r in (top, bottom) for i in (left, right))
    mid_r, mid_i = (top + bottom) // 2, ((left + right) // 2, (left + right + 1) // 2)
    sides = sum((r, i + d) in cells for r in (top, bottom) for i in mid_i for d in (-1, 0, 1))
    return corners >= 3 and sides == 0 and any(holds(mid_r, i) for i in mid_i)


def is_diamond(patch: Patch, columns: int) -> bool:
    """Return whether a patch, its holes filled, covers the diamond in its box and little else.

    A diamond that an edge cuts in half counts too.
    """
    cells = set(patch.cells)
    edge = {0, columns - 1} & {i for _, i in cells}
    if len(edge) == 1:
        fold = 2 * edge.pop()
        cells |= {(r, fold - i) for r, i in cells}
    rows, across = [r for r, _ in cells], [i for _, i in cells]
    top, bottom, left, right = min(rows), max(rows), min(across), max(across)
    high, wide = bottom - top, right - left
    if not patch.closed or high < 2 or wide < 2 or not 0.5 <= high / wide <= 2.0:
        return False
    covered: set[tuple[int, int]] = set()
    for row in range(top, bottom + 1):
        here = [i for r, i in cells if r == row]
        covered.update((row, i) for i in range(min(here), max(here) + 1, 2))
    parity = sum(patch.cells[0]) % 2
    ideal = {
        (r, i)
        for r in range(top, bottom + 1)
        for i in range(left, right + 1)
        if (r + i) % 2 == parity
        and abs(2 * r - top - bottom) / high + abs(2 * i - left - right) / wide <= 1.01
    }
    return len(covered & ideal) >= 0.75 * len(covered | ideal)


def outline(patch: Patch) -> tuple[tuple[int, int], ...]:
    """Return the cells of a patch as seen from its first row and leftmost column, in order."""
    top = min(r for r, _ in patch.cells)
    left = min(i for _, i in patch.cells)
    return tuple(sorted((r - top, i - left) for r, i in patch.cells))


def is_block(patch: Patch) -> bool:
    """Return whether a patch fills a straight box of some size, or a slanted bar."""
    if not patch.closed or len(patch.cells) < 6:
        return False
    straight = _filled([(r, i) for r, i in patch.cells], 2)
    turned = [((r + i) // 2, (r - i) // 2) for r, i in patch.cells]
    high, wide = (max(v) - min(v) + 1 for v in zip(*turned, strict=True))
    # A box on its corner that is about as high as wide is a diamond.
    slanted = _filled(turned, 1) if max(high, wide) >= 2 * min(high, wide) else 0.0
    return max(straight, slanted) >= 0.88


def _filled(points: list[tuple[int, int]], each: int) -> float:
    """Return how much of its box a set of points fills, each standing for `each` places."""
    high = max(a for a, _ in points) - min(a for a, _ in points) + 1
    wide = max(b for _, b in points) - min(b for _, b in points) + 1
    if min(high, wide) < 2 * each:
        return 0.0
    return min(1.0, len(points) * each / (high * wide))
