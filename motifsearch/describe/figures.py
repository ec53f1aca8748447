"""The figure of a face: which of a few figures that makers know the eye sees.

Every figure is tried in the order of `motifsearch.describe.rules.RULES`.  A figure is named only
where it is one; what is left are patches, of which only colours and symmetry are said.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from motifsearch.describe.patches import Cells
from motifsearch.describe.rules import look_at
from motifsearch.pattern.design import Pattern
from motifsearch.pattern.knots import positions_in_row
from motifsearch.pattern.walk import face, repeat_rows

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


def figure_of_cells(cells: Cells) -> Figure:
    """Return the figure of a face: the first of `RULES` that holds, or patches.

    Args:
        cells: int16 ``[R, S - 1]``, a whole repeat, R even; -1 where no knot stands.

    Examples:
        >>> from motifsearch.pattern.design import make_pattern
        >>> p = make_pattern("", ["rr rr", "rr"], "abab", {"a": "#000000", "b": "#ffffff"})
        >>> found = figure_of_cells(cells_of(p, 8))
        >>> found.kind, found.way
        ('diagonals', 1)
    """
    (kind, way), slopes = look_at(cells)
    return Figure(kind, way, (kept(cells[:, 0]), kept(cells[:, -1])), slopes)


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
