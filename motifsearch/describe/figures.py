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
* The outlines of patches (see `motifsearch.describe.patches`) tell hearts, crosses and spots.

Every figure is tried in the order of `figure_of_cells`, patches are what is left.  The limits are
ours (no source); they were set by looking at some ninety designs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from motifsearch.describe.patches import Cells, Patch, is_cross, is_diamond, is_heart, patches_of
from motifsearch.pattern.design import Pattern
from motifsearch.pattern.knots import positions_in_row
from motifsearch.pattern.walk import face, repeat_rows

F64 = npt.NDArray[np.float64]

#: Rows that are looked at; a longer repeat is judged by its beginning.
MAX_LOOK_ROWS: Final = 240

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
        edges: The colour that the left and the right edge keep from end to end, or None.
        slopes: lean, point, steady, swing, open and turns, as the module defines them.
    """

    kind: str
    way: int
    edges: tuple[int | None, int | None]
    slopes: dict[str, float]


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


def kept(column: Cells) -> int | None:
    """Return the colour that a column of cells keeps from end to end, or None."""
    seen = set(column[column >= 0].tolist())
    return seen.pop() if len(seen) == 1 else None


def slopes_of(cells: Cells) -> npt.NDArray[np.int8]:
    """Return g of the module's definition, int8 ``[rows, S - 2]``, of a face of a whole repeat."""
    here, below = cells, np.roll(cells, -1, axis=0)
    falls = (here[:, 1:] >= 0) & (here[:, 1:] != below[:, :-1])
    rises = (here[:, :-1] >= 0) & (here[:, :-1] != below[:, 1:])
    return np.asarray(falls.astype(np.int8) - rises.astype(np.int8), np.int8)


def _half(columns: int) -> int:
    return min(max(columns // 4, 1), 4)


def _near(values: F64, columns: int) -> F64:
    """Return the cyclic running sum over about half as many rows as columns, float64 ``[rows]``."""
    half = _half(columns)
    return np.asarray(sum(np.roll(values, k) for k in range(-half, half + 1)), float)


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
    by_row = float(_near(each, columns).sum())
    down = g.sum(axis=0)
    return {
        "lean": float(g.sum()) / total,
        "point": float((g * side).sum()) / total,
        "steady": float(np.abs(down).sum()) / total,
        "swing": float(np.abs(_near(g.sum(axis=1), columns)).sum()) / by_row,
        "open": float(np.abs(_near((g * side).sum(axis=1), columns)).sum()) / by_row,
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


def _bars(cells: Cells) -> float:
    """Return the mean share of a row's main colour; 0 where one colour is nearly every row's."""
    counts = np.array([(cells == c).sum(axis=1) for c in range(int(cells.max()) + 1)], float)
    counts = counts[:, counts.any(axis=0)]
    first = counts == counts.max(axis=0)
    if (first / first.sum(axis=0)).sum(axis=1).max() > 0.8 * counts.shape[1]:
        return 0.0
    return float((counts.max(axis=0) / counts.sum(axis=0)).mean())


def _still_middle(cells: Cells) -> tuple[float, bool]:
    """Return the share of columns around the middle that never change, and if both edges move."""
    moves = [kept(column) is None for column in cells.T]
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
    edges = (kept(cells[:, 0]), kept(cells[:, -1]))

    def found(kind: str, way: float = 0.0) -> Figure:
        return Figure(kind, int(np.sign(way)), edges, m)

    knots = cells >= 0
    if len(set(cells[knots].tolist())) == 1:
        return found("plain")
    moving = float((cells != np.roll(cells, -2, axis=0))[knots].mean())
    bars = _bars(cells)
    if bars == 1 or (bars >= 0.9 and moving > 0.02):
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
    still, combed = _still_middle(cells)
    if combed and still >= (0.27 if abs(m["point"]) < 0.45 else 0.44):
        return found("comb")
    if m["steady"] >= 0.6 and m["turns"] >= 2 and abs(m["lean"]) < 0.4:
        return found("ripples")
    if abs(m["lean"]) >= max(0.28, 0.88 * m["swing"], m["open"]):
        return found("diagonals", m["lean"])
    if abs(m["point"]) >= max(0.27, 0.88 * m["open"], m["swing"]):
        return found("arrowheads", m["point"])
    swing = m["swing"] > m["open"]
    # Sums of few rows come out high by chance.
    clear = 0.35 if _half(cells.shape[1] - 1) > 1 else 0.5
    if swing and m["swing"] >= clear:
        return found("zigzag")
    small = sum(len(p.cells) for p in patches if is_diamond(p, cells.shape[1])) / knots.sum()
    crosses = part([p for p in figure if is_cross(p)])
    if crosses >= 0.5 and crosses * shown >= small * knots.sum():
        return found("crosses")
    if (not swing and m["open"] >= clear) or small >= 0.3:
        if part([p for p in figure if p.closed]) <= 0.2 and any(
            p.closed and len(p.cells) >= 4 for p in patches if p.colour == ground
        ):
            return found("lattice")
        return found("diamonds")
    if swing and m["swing"] >= (0.2 if m["swing"] >= 2 * m["open"] else 0.25):
        return found("waves")
    if part([p for p in figure if p.closed and len(p.cells) <= 4]) >= 0.8:
        return found("spots")
    if m["steady"] >= 0.28 and m["swing"] >= 0.18:
        return found("steps")
    if np.array_equal(cells, cells[:, ::-1]):
        return found("diamonds")  # small closed figures on the middle line read as diamonds
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
    cells = cells_of(pattern, look_rows(repeat or repeat_rows(pattern)))
    # Colours in the order of their names: where shares are equal, the first is the ground,
    # and that must not hang on which strand comes first.
    order = sorted(range(len(pattern.palette)), key=lambda k: pattern.palette[k])
    ranks = np.append(np.argsort(order), -1).astype(np.int16)
    found = figure_of_cells(ranks[cells])
    left, right = (None if k is None else order[k] for k in found.edges)
    return replace(found, edges=(left, right))
