"""Effort: how much there is to learn and to keep in mind while a design is knotted.

The *round* is what is worked again and again: the fewest rows, in whole shortest periods of the
grid, after which knots and colours stand as before.  Its *steps* are the passes that begin in it on
a long band (`motifsearch.pattern.passes.steady_passes`).  Three numbers make a design easy or not:
the kinds of knots in it, the steps of a round, and how many knots a hand ties before it picks up
another strand.

The *level* is said from the first two (limits of ours, no source, set by what a class learns in one
afternoon): a first band needs one or two kinds of knots and a round that is soon known by heart.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from motifsearch.base.text import count
from motifsearch.pattern.canonical_form import shortest_period
from motifsearch.pattern.design import Pattern
from motifsearch.pattern.passes import steady_passes
from motifsearch.pattern.walk import colour_return

#: Level to (most kinds of knots, most steps in a round); what exceeds both asks for patience.
LEVELS: Final[Mapping[str, tuple[int, int]]] = {
    "first band": (2, 12),
    "some practice": (3, 30),
    "patience": (4, 10**9),
}


@dataclass(frozen=True)
class Effort:
    """How much there is to learn and to keep in mind.

    Attributes:
        kinds: Kinds of knots in the grid, 1 to 4.
        round_rows: Rows of a round.
        steps: Passes of a round.
        level: first band, some practice or patience.
    """

    kinds: int
    round_rows: int
    steps: int
    level: str

    @property
    def words(self) -> str:
        """The level, and what it rests on.

        Examples:
            >>> Effort(2, 4, 6, "first band").words
            'first band: 2 kinds of knots, 6 steps in a round'
        """
        kinds = count(self.kinds, "kind of knot", "kinds of knots")
        return f"{self.level}: {kinds}, {count(self.steps, 'step')} in a round"


def effort(pattern: Pattern) -> Effort:
    """Return how much there is to learn and to keep in mind for a design.

    Examples:
        >>> from motifsearch.pattern.design import make_pattern
        >>> p = make_pattern("", ["rr rr", "rr"], "aabb", {"a": "#000000", "b": "#ffffff"})
        >>> effort(p)
        Effort(kinds=1, round_rows=8, steps=4, level='first band')
    """
    kinds = len({code for row in pattern.knots for code in row})
    short = shortest(pattern)
    rows = short.rows * colour_return(short)
    steps = max(1, round(steady_passes(short) * rows / short.rows))
    level = next(name for name, (k, most) in LEVELS.items() if kinds <= k and steps <= most)
    return Effort(kinds, rows, steps, level)


def shortest(pattern: Pattern) -> Pattern:
    """Return the design with the shortest grid that is worked just the same."""
    knots = shortest_period(pattern.knots)
    if len(knots) == pattern.rows:
        return pattern
    return Pattern(pattern.title, knots, pattern.colour_order, pattern.colours)
