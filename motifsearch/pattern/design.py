"""A pattern: the knots of one period and the colour of every strand at the start.

The grid has P rows, P even, so that the strip goes on by repeating it.  The colour order names
the colour of every strand from the left.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from motifsearch.base.arrays import U8
from motifsearch.pattern.knots import CODE, KNOTS, knots_in_grid, slots_in_row


@dataclass(frozen=True)
class Pattern:
    """One design, as exact data; made by `make_pattern`, which checks nothing twice.

    Attributes:
        title: What people call it; any text.
        knots: Per row, the codes of its knots from the left (see `motifsearch.pattern.knots`).
        colour_order: The colour name of every strand, left to right.
        colours: Colour name to ``#rrggbb``; may name colours that no strand has.
    """

    title: str
    knots: tuple[tuple[int, ...], ...]
    colour_order: tuple[str, ...]
    colours: Mapping[str, str]

    @property
    def strands(self) -> int:
        """The number of strands S."""
        return len(self.colour_order)

    @property
    def rows(self) -> int:
        """The number of rows P of one period."""
        return len(self.knots)

    @property
    def n_knots(self) -> int:
        """The number of knots of one period."""
        return knots_in_grid(self.strands, self.rows)

    @cached_property
    def palette(self) -> tuple[str, ...]:
        """The colour names that strands have, in the order of their first strand."""
        return tuple(dict.fromkeys(self.colour_order))

    @cached_property
    def colour_index(self) -> U8:
        """The index into `palette` of every strand's colour, uint8 ``[S]``."""
        where = {name: k for k, name in enumerate(self.palette)}
        return np.array([where[name] for name in self.colour_order], np.uint8)

    @cached_property
    def grid(self) -> U8:
        """The knot codes, uint8 ``[P, S // 2]``; slots that a row does not have hold 0."""
        grid = np.zeros((self.rows, self.strands // 2), np.uint8)
        for r, row in enumerate(self.knots):
            grid[r, : len(row)] = row
        return grid

    def row_texts(self) -> list[str]:
        """Return the rows as text, such as ``"rl rr ll lr"``."""
        return [" ".join(KNOTS[code] for code in row) for row in self.knots]

    def hex_of(self, strand: int) -> str:
        """Return the ``#rrggbb`` of strand `strand` (0-based, at the start)."""
        return self.colours[self.colour_order[strand]]


def make_pattern(
    title: str,
    rows: Iterable[str] | U8,
    colour_order: Iterable[str],
    colours: Mapping[str, str],
) -> Pattern:
    """Build a `Pattern` from row texts or from a grid of codes.

    Args:
        title: The title.
        rows: Row texts such as ``"rr rl"``, or uint8 ``[P, S // 2]``.
        colour_order: The colour name of every strand.
        colours: Colour name to ``#rrggbb``.

    Examples:
        >>> p = make_pattern("stripe", ["rr rr", "rr"], "abab", {"a": "#112233", "b": "#ffffff"})
        >>> p.strands, p.rows, p.n_knots, p.palette
        (4, 2, 3, ('a', 'b'))
    """
    order = tuple(colour_order)
    if isinstance(rows, np.ndarray):
        knots = tuple(
            tuple(int(code) for code in row[: slots_in_row(len(order), r)])
            for r, row in enumerate(rows)
        )
    else:
        knots = tuple(tuple(CODE[word] for word in row.split()) for row in rows)
    return Pattern(title, knots, order, dict(colours))
