"""Untying: the fewest knots that must be undone to reach a knot, or to put two strands back.

The knots of a band form a partial order (`motifsearch.pattern.passes`): a knot can be undone when
no knot that shares a strand with it was tied later.  Knots that share no position commute, and two
that share one do not, so the knots over a knot are found by going through the work in the order in
which it was tied: positions start *held*, those of the wrong knot or of the two strands; every
later knot that touches a held position lies over them, and holds both its positions in turn.  That
is the upper set of a heap of pieces (Viennot, "Heaps of pieces, I", LNM 1234, 1986).  All of it
must go, and what is left can stay, so it is the least.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

#: A knot by its row and its left position.
Place = tuple[int, int]


def over(tied: Sequence[Place], held: Iterable[int]) -> list[Place]:
    """Return the knots that lie over some positions, in the order in which they are undone.

    Args:
        tied: The knots tied since, (row, left position), in the order of work.
        held: The positions to be reached, 0-based.

    Examples:
        >>> over([(0, 0), (0, 2), (1, 1), (2, 0)], [3])
        [(2, 0), (1, 1), (0, 2)]
    """
    open_ = set(held)
    found = []
    for row, left in tied:
        if left in open_ or left + 1 in open_:
            open_ |= {left, left + 1}
            found.append((row, left))
    return found[::-1]


def untie(tied: Sequence[Place], wrong: Place) -> list[Place]:
    """Return what is undone to have a wrong knot out, in turn; the wrong knot is the last.

    Args:
        tied: All knots that are tied, (row, left position), in the order of work.
        wrong: One of them.

    Raises:
        ValueError: `wrong` is not tied.

    Examples:
        >>> untie([(0, 0), (0, 2), (1, 1), (2, 0)], (0, 2))
        [(2, 0), (1, 1), (0, 2)]
        >>> untie([(0, 0), (0, 2), (1, 1), (2, 0)], (2, 0))
        [(2, 0)]
    """
    after = tied[list(tied).index(wrong) + 1 :]
    return [*over(after, (wrong[1], wrong[1] + 1)), wrong]
