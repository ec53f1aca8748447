"""The walk of the strands of one design, written for reading.

Row r ties the strands at positions (i, i+1).  The tying strand gives the cell its colour; a
crossing knot makes the two change places.  `walk` plays any number of rows of the endless strip
and keeps who tied, who was tied, and the order before every row.  The batch simulator of
`motifsearch.simulate` must agree with it on every design; a property test holds them equal.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from motifsearch.pattern.design import Pattern
from motifsearch.pattern.knots import RETURNING, TIED_FROM_RIGHT, positions_in_row


@dataclass(frozen=True, slots=True)
class Tied:
    """One knot as it was tied.

    Attributes:
        row: The row on the endless strip, from 0.
        position: The left position i of the knot.
        code: The knot's code.
        tying: The strand that ties, by its position at the start.
        core: The strand that is tied around, by its position at the start.
    """

    row: int
    position: int
    code: int
    tying: int
    core: int

    @property
    def returning(self) -> bool:
        """Whether the two strands keep their places."""
        return bool(self.code & RETURNING)

    @property
    def from_right(self) -> bool:
        """Whether the right strand ties."""
        return bool(self.code & TIED_FROM_RIGHT)


@dataclass(frozen=True)
class Walk:
    """What happened in a number of rows.

    Attributes:
        rows: Per row, its knots from the left.
        orders: Per row, the strand at every position *before* it; one more at the end.
    """

    rows: tuple[tuple[Tied, ...], ...]
    orders: tuple[tuple[int, ...], ...]


def walk(pattern: Pattern, rows: int) -> Walk:
    """Play the first `rows` rows of the endless strip.

    Examples:
        >>> from motifsearch.pattern.design import make_pattern
        >>> p = make_pattern("", ["rr rr", "rr"], "aabb", {"a": "#000000", "b": "#ffffff"})
        >>> walk(p, 2).orders
        ((0, 1, 2, 3), (1, 0, 3, 2), (1, 3, 0, 2))
    """
    orders, played = [tuple(range(pattern.strands))], []
    for tied, order in row_by_row(pattern, rows):
        played.append(tied)
        orders.append(order)
    return Walk(tuple(played), tuple(orders))


def row_by_row(pattern: Pattern, rows: int) -> Iterator[tuple[tuple[Tied, ...], tuple[int, ...]]]:
    """Yield every row's knots from the left, and the strand at every position after it.

    As `walk`, but nothing is kept: a band may have any number of rows.
    """
    order = list(range(pattern.strands))
    for r in range(rows):
        tied = []
        codes = pattern.knots[r % pattern.rows]
        for i, code in zip(positions_in_row(pattern.strands, r), codes, strict=True):
            left, right = order[i], order[i + 1]
            tying, core = (right, left) if code & TIED_FROM_RIGHT else (left, right)
            tied.append(Tied(r, i, code, tying, core))
            if not code & RETURNING:
                order[i], order[i + 1] = right, left
        yield tuple(tied), tuple(order)


def sigma(pattern: Pattern) -> tuple[int, ...]:
    """Return the permutation of one period: the strand at every position after it."""
    return walk(pattern, pattern.rows).orders[-1]


def strands_return(pattern: Pattern) -> int:
    """Return the rows after which every strand stands where it stood at the start.

    That is the period times the order of sigma, the least common multiple of its cycles.

    Examples:
        >>> from motifsearch.pattern.design import make_pattern
        >>> p = make_pattern("", ["rr rr", "rr"], "aabb", {"a": "#000000", "b": "#ffffff"})
        >>> strands_return(p)
        8
    """
    perm = sigma(pattern)
    lengths = set()
    for start in perm:
        length, now = 1, perm[start]
        while now != start:
            length, now = length + 1, perm[now]
        lengths.add(length)
    return pattern.rows * math.lcm(*lengths)


def colour_return(pattern: Pattern) -> int:
    """Return t, the smallest number of periods after which the colours stand as at the start.

    t divides the order of sigma and is smaller where strands share a colour.
    """
    perm = sigma(pattern)
    start = [pattern.colour_order[s] for s in range(pattern.strands)]
    now = list(start)
    t = 0
    while t == 0 or now != start:
        now = [now[s] for s in perm]
        t += 1
    return t


def face(pattern: Pattern, rows: int) -> list[list[int]]:
    """Return the colour index (into ``pattern.palette``) of every cell of `rows` rows."""
    colour = pattern.colour_index
    return [[int(colour[k.tying]) for k in row] for row, _ in row_by_row(pattern, rows)]


def repeat_rows(pattern: Pattern) -> int:
    """Return the repeat: the smallest even q > 0 by which the face can be shifted onto itself.

    The face has the period T = t * P, so q is found among the even divisors of T.
    """
    period = colour_return(pattern) * pattern.rows
    cells = face(pattern, period)
    for q in range(2, period, 2):
        if period % q == 0 and all(cells[r] == cells[(r + q) % period] for r in range(period)):
            return q
    return period
