"""The figure of a face: which of a few figures that makers know the eye sees.

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
* A *patch* is a set of touching cells of one colour; it is *closed* where it ends along the band.
  Its outline tells a heart, a cross and a spot.

Every figure is tried in the order of `figure_of_cells`, patches are what is left.  The limits are
ours (no source); they were set by looking at some ninety designs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from motifsearch.pattern.design import Pattern
from motifsearch.pattern.knots import positions_in_row
from motifsearch.pattern.walk import face, repeat_rows

Cells = npt.NDArray[np.int16]
F64 = npt.NDArray[np.float64]

#: Rows that are looked at; a longer repeat is judged by its beginning.
MAX_LOOK_ROWS: Final = 240
#: Rows that make one slope: about a third of the width of a usual band.
NEAR: Final = 5

#: Every figure, and its noun in a title.
FIGURES: Final = {
    "plain": "plain band",
    "rows": "crosswise bars",
    "lengthwise": "lengthwise stripes",
    "hearts": "hearts",
    "comb": "comb edges",
    "ripples": "zigzag bars",
    "diagonals": "diagonal stripes",
    "arrowheads": "arrowheads",
    "zigzag": "zigzag",
    "crosses": "crosses",
    "lattice": "lattice",
    "diamonds": "diamonds",
    "waves": "waves",
    "spots": "spots",
    "steps": "steps",
    "blocks": "blocks",
    "patches": "patches",
}


@dataclass(frozen=True)
class Figure:
    """What a face shows.

    Attributes:
        kind: A key of `FIGURES`.
        way: +1 for arrowheads towards the end of the band and diagonals from the left edge, -1 for
            the others, 0 for figures without a direction.
        rows: The repeat in rows.
        slopes: lean, point, steady, swing, open and turns, as the module defines them.
    """

    kind: str
    way: int
    rows: int
    slopes: dict[str, float]


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


def cells_of(pattern: Pattern, rows: int) -> Cells:
    """Return the face as int16 ``[rows, S - 1]`` of palette indices, -1 where no knot stands.

    Examples:
        >>> from motifsearch.pattern.design import make_pattern
        >>> p = make_pattern("", ["rr rr", "rr"], "abab", {"a": "#000000", "b": "#ffffff"})
        >>> cells_of(p, 2).tolist()
        [[0, -1, 0], [-1, 0, -1]]
    """
    cells = np.full((rows, pattern.strands - 1), -1, np.int16)
    for r, row in enumerate(face(pattern, rows)):
        cells[r, list(positions_in_row(pattern.strands, r))] = row
    return cells


def slopes_of(cells: Cells) -> npt.NDArray[np.int8]:
    """Return g of the module's definition, int8 ``[rows, S - 2]``, of a face of a whole repeat."""
    here, below = cells, np.roll(cells, -1, axis=0)
    falls = (here[:, 1:] >= 0) & (here[:, 1:] != below[:, :-1])
    rises = (here[:, :-1] >= 0) & (here[:, :-1] != below[:, 1:])
    return np.asarray(falls.astype(np.int8) - rises.astype(np.int8), np.int8)


def _near(values: F64) -> F64:
    """Return the cyclic running sum over `NEAR` rows, float64 ``[rows]``."""
    return np.asarray(sum(np.roll(values, k) for k in range(-(NEAR // 2), NEAR // 2 + 1)), float)


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
    by_row = float(_near(each).sum())
    down = g.sum(axis=0)
    return {
        "lean": float(g.sum()) / total,
        "point": float((g * side).sum()) / total,
        "steady": float(np.abs(down).sum()) / total,
        "swing": float(np.abs(_near(g.sum(axis=1))).sum()) / by_row,
        "open": float(np.abs(_near((g * side).sum(axis=1))).sum()) / by_row,
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
    """Return whether a patch is a heart: two lobes, a notch between, a point; either way up."""
    at: dict[int, list[int]] = {}
    for r, i in patch.cells:
        at.setdefault(i, []).append(r)
    first, last = min(at), max(at)
    if not patch.closed or last - first < 4 or len(patch.cells) < 9:
        return False
    if first == 0 or last == columns - 1 or (first + last) % 2:
        return False
    middle = (first + last) // 2
    for flip in (1, -1):
        top = {i: min(flip * r for r in rs) for i, rs in at.items()}
        low = {i: max(flip * r for r in rs) for i, rs in at.items()}
        highest, lowest = min(top.values()), max(low.values())
        notch, height = top[middle] - highest, lowest - highest
        even = all(
            2 * middle - i in top
            and top[i] == top[2 * middle - i]
            and low[i] == low[2 * middle - i]
            for i in top
        )
        tapers = all(low[i] < low[i + 1] for i in range(first, middle))
        filled = len(patch.cells) >= 0.8 * sum((low[i] - top[i]) // 2 + 1 for i in top)
        if even and tapers and filled and 1 <= notch <= 0.45 * height and low[middle] == lowest:
            return True
    return False


def is_cross(patch: Patch) -> bool:
    """Return whether a patch reaches all corners of its box but not the middle of its sides."""
    rows = [r for r, _ in patch.cells]
    columns = [i for _, i in patch.cells]
    top, bottom, left, right = min(rows), max(rows), min(columns), max(columns)
    if not patch.closed or bottom - top < 4 or right - left < 4:
        return False
    cells = set(patch.cells)

    def holds(r: int, i: int) -> bool:
        return any((r + dr, i + di) in cells for dr in (-1, 0, 1) for di in (-1, 0, 1))

    corners = sum(holds(r, i) for r in (top, bottom) for i in (left, right))
    mid_r, mid_i = (top + bottom) // 2, (left + right) // 2
    sides = sum(holds(r, i) for r, i in ((top, mid_i), (bottom, mid_i)))
    return corners >= 3 and sides == 0 and holds(mid_r, mid_i)


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


def _still_middle(cells: Cells) -> tuple[float, bool]:
    """Return the share of columns around the middle that never change, and if both edges move."""
    moves = [len(set(column[column >= 0].tolist())) > 1 for column in cells.T]
    middle = len(moves) // 2
    if moves[middle]:
        return 0.0, False
    left = right = middle
    while left > 0 and not moves[left - 1]:
        left -= 1
    while right < len(moves) - 1 and not moves[right + 1]:
        right += 1
    return (right - left + 1) / len(moves), any(moves[:left]) and any(moves[right + 1 :])


def figure_of_cells(cells: Cells) -> Figure:
    """Return the figure of a face.

    Args:
        cells: int16 ``[R, S - 1]``, a whole repeat, R even; -1 where no knot stands.

    Examples:
        >>> from motifsearch.pattern.design import make_pattern
        >>> p = make_pattern("", ["rr rr", "rr"], "abab", {"a": "#000000", "b": "#ffffff"})
        >>> found = figure_of_cells(cells_of(p, 4))
        >>> found.kind, found.way
        ('diagonals', 1)
    """
    m = measures(cells)
    rows = len(cells)

    def found(kind: str, way: float = 0.0) -> Figure:
        return Figure(kind, int(np.sign(way)), rows, m)

    knots = cells >= 0
    if len(set(cells[knots].tolist())) == 1:
        return found("plain")
    moving = float((cells != np.roll(cells, -2, axis=0))[knots].mean())
    if all(len(set(row[row >= 0].tolist())) == 1 for row in cells):
        return found("rows")
    if moving <= 0.02:
        return found("lengthwise")
    patches = patches_of(cells)
    counts = np.bincount(cells[knots])
    ground = int(np.argmax(counts))
    figure = [p for p in patches if p.colour != ground]
    shown = max(sum(len(p.cells) for p in figure), 1)

    def part(chosen: Sequence[Patch]) -> float:
        return sum(len(p.cells) for p in chosen) / shown

    hearts = [p for p in patches if is_heart(p, cells.shape[1])]
    if hearts and sum(len(p.cells) for p in hearts) >= 0.12 * knots.sum():
        return found("hearts")
    still, edges = _still_middle(cells)
    if edges and still >= (0.27 if abs(m["point"]) < 0.45 else 0.6):
        return found("comb")
    if m["steady"] >= 0.6 and m["turns"] >= 2:
        return found("ripples")
    if abs(m["lean"]) >= max(0.28, 0.88 * m["swing"], m["open"]):
        return found("diagonals", m["lean"])
    if abs(m["point"]) >= max(0.27, 0.88 * m["open"], m["swing"]):
        return found("arrowheads", m["point"])
    swing = m["swing"] > m["open"]
    if swing and m["swing"] >= 0.35:
        return found("zigzag")
    small = sum(len(p.cells) for p in patches if is_diamond(p, cells.shape[1])) / knots.sum()
    if (not swing and m["open"] >= 0.35) or small >= 0.3:
        crosses = part([p for p in figure if is_cross(p)])
        if crosses >= 0.5 and crosses * shown >= small * knots.sum():
            return found("crosses")
        if part([p for p in figure if p.closed]) <= 0.2 and any(
            p.closed and len(p.cells) >= 4 for p in patches if p.colour == ground
        ):
            return found("lattice")
        return found("diamonds")
    if swing and m["swing"] >= 0.25:
        return found("waves")
    if part([p for p in figure if p.closed and len(p.cells) <= 4]) >= 0.8:
        return found("spots")
    if m["steady"] >= 0.28 and m["swing"] >= 0.18:
        return found("steps")
    if part([p for p in figure if p.closed and len(p.cells) >= 6]) >= 0.6:
        return found("blocks")
    return found("patches")


def look_rows(repeat: float | None) -> int:
    """Return how many rows to look at: the repeat, at least 2 and at most `MAX_LOOK_ROWS`.

    Examples:
        >>> look_rows(10), look_rows(None), look_rows(4000)
        (10, 240, 240)
    """
    if not repeat:
        return MAX_LOOK_ROWS
    return min(max(2 * round(repeat / 2), 2), MAX_LOOK_ROWS)


def figure_of(pattern: Pattern, repeat: float | None = None) -> Figure:
    """Return the figure of a design's face (see `figure_of_cells`).

    Args:
        pattern: The design.
        repeat: Its repeat in rows where it is known; found otherwise.

    Examples:
        >>> from motifsearch.pattern.design import make_pattern
        >>> ink = {"a": "#000000", "b": "#ffffff"}
        >>> figure_of(make_pattern("", ["ll ll", "ll"], "abab", ink)).way
        -1
    """
    return figure_of_cells(cells_of(pattern, look_rows(repeat or repeat_rows(pattern))))
