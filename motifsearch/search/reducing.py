"""Reductions: the same face from a shorter grid.

The first q rows of a grid, q even, are a grid of their own.  Worked again and again from the same
colour order they may show the same face, where the longer grid only sorted strands of one colour
differently.  Such a reduction is taken when it is less to work and no score that a maker sees gets
worse by more than `motifsearch.search.easing` may give, so that no shown design is longer to work
than one of its own reductions.

That two faces are the same for ever is decided exactly: each comes again after its repeat, so they
agree when they agree over the least common multiple of both.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from motifsearch.pattern.design import Pattern
from motifsearch.pattern.effort import effort
from motifsearch.pattern.walk import face, repeat_rows


def prefix(pattern: Pattern, rows: int) -> Pattern:
    """Return the design of the first `rows` rows of the grid, with the same colour order."""
    return Pattern(pattern.title, pattern.knots[:rows], pattern.colour_order, pattern.colours)


def same_face(one: Pattern, other: Pattern) -> bool:
    """Return whether two designs of one palette show the same endless face.

    Examples:
        >>> from motifsearch.pattern.design import make_pattern
        >>> ink = {"a": "#000000", "b": "#ffffff"}
        >>> p = make_pattern("", ["rr rr", "rl", "rr rr", "lr"], "aaaa", ink)
        >>> same_face(p, prefix(p, 2))
        True
    """
    rows = math.lcm(repeat_rows(one), repeat_rows(other))
    if one.palette != other.palette:
        return False
    return face(one, rows) == face(other, rows)


def reductions(pattern: Pattern) -> Iterator[Pattern]:
    """Yield the shorter prefixes of a grid that show the same face, the shortest first."""
    for rows in range(2, pattern.rows, 2):
        short = prefix(pattern, rows)
        # A quick look at the rows of the grid itself refuses nearly all.
        if face(short, pattern.rows) == face(pattern, pattern.rows) and same_face(short, pattern):
            yield short


def work(pattern: Pattern) -> tuple[int, int, int]:
    """Return how much a design is to work: steps of a round, kinds of knots, rows of the grid."""
    known = effort(pattern)
    return known.steps, known.kinds, pattern.rows
