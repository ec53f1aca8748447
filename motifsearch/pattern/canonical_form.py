"""The canonical form: one name for designs that are the same on the wrist.

Two designs are the same when one becomes the other by a shift along the band, by mirroring left
to right, by turning end for end, by any of these together, and by renaming the colours.  On the
endless strip all four of (r, i) -> (r, i), mirror, flip and half turn take a design to a design:
the strands are read from below instead of from above, the tying strand of every knot stays the
same, so the face is carried along (see `motifsearch.pattern.knots` for what a knot becomes).

The form is the least, over these transforms and all phases, of the pair (knots of one shortest
period, colours at its start numbered by first appearance).
"""

from __future__ import annotations

import hashlib

from motifsearch.pattern.design import Pattern
from motifsearch.pattern.knots import FLIPPED, MIRRORED, TURNED
from motifsearch.pattern.walk import colour_return, walk

Rows = tuple[tuple[int, ...], ...]


def shortest_period(knots: Rows) -> Rows:
    """Return the rows of the smallest even period of a grid.

    Examples:
        >>> shortest_period(((0, 1), (2,), (0, 1), (2,)))
        ((0, 1), (2,))
    """
    rows = len(knots)
    for q in range(2, rows, 2):
        if rows % q == 0 and all(knots[r] == knots[r % q] for r in range(q, rows)):
            return knots[:q]
    return knots


def _renumber(colours: list[int]) -> tuple[int, ...]:
    seen: dict[int, int] = {}
    return tuple(seen.setdefault(c, len(seen)) for c in colours)


def canonical(pattern: Pattern) -> tuple[Rows, tuple[int, ...]]:
    """Return the canonical form: (rows of knot codes, colour number per strand).

    Examples:
        >>> from motifsearch.pattern.design import make_pattern
        >>> ink = {"a": "#000000", "b": "#ffffff"}
        >>> p = make_pattern("", ["rr rr", "rr"], "aabb", ink)
        >>> q = make_pattern("", ["ll ll", "ll"], "bbaa", ink)
        >>> canonical(p) == canonical(q)
        True
    """
    knots = shortest_period(pattern.knots)
    strands, period = pattern.strands, len(knots)
    total = colour_return(pattern) * pattern.rows
    orders = walk(pattern, total).orders
    names = pattern.colour_index
    colours = [[int(names[s]) for s in order] for order in orders]

    def recoded(table: object, reverse: bool) -> list[tuple[int, ...]]:
        return [
            tuple(int(table[c]) for c in (row[::-1] if reverse else row))  # type: ignore[index]
            for row in knots
        ]

    odd = strands % 2
    same = list(knots)
    mirrored = recoded(MIRRORED, True)
    flipped = recoded(FLIPPED, False)
    turned = recoded(TURNED, True)
    forms: list[tuple[Rows, tuple[int, ...]]] = []
    # First the least grid alone, then its colours: most phases lose at the first comparison.
    options: list[tuple[Rows, int, bool, bool]] = []
    for s in range(period):
        down = [(s + r) % period for r in range(period)]
        up = [(s - r) % period for r in range(period)]
        if s % 2 == 0:
            options.append((tuple(same[r] for r in down), s, False, False))
            options.append((tuple(flipped[r] for r in up), s, False, True))
        if s % 2 == odd:
            options.append((tuple(mirrored[r] for r in down), s, True, False))
            options.append((tuple(turned[r] for r in up), s, True, True))
    least = min(option[0] for option in options)
    for grid, s, reverse, upward in options:
        if grid != least:
            continue
        for base in range(s, total, period):
            line = colours[base + 1] if upward else colours[base]
            forms.append((grid, _renumber(line[::-1] if reverse else line)))
    return min(forms)


def canonical_key(pattern: Pattern) -> str:
    """Return the canonical form as 16 hexadecimal digits of its SHA-256."""
    rows, colours = canonical(pattern)
    text = "/".join("".join(map(str, row)) for row in rows) + "|" + ",".join(map(str, colours))
    return hashlib.sha256(text.encode()).hexdigest()[:16]
