"""The whole of a small space: every design one after the other, so that none is left unseen.

The designs of an island are its grids times its colour orders.  Where they are at most `MOST`,
every one of them is judged beside the evolution, `AT_ONCE` a generation.  Where they are more, one
grid of every orbit under the motions of the strip (shifts by pairs of rows, mirror, flip, half
turn; see `motifsearch.pattern.canonical_form`) is enough to see every *kind*, and these are judged
where they are at most `MOST`.  Larger spaces are searched only.

Number n of N designs stands for the design ``n * stride mod N``, the stride without a common factor
with N and near N divided by the golden ratio, so that the first designs are spread over all of them
(a Kronecker sequence; Knuth, The Art of Computer Programming 3, 6.4).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import cache, lru_cache
from typing import Final

import numpy as np

from motifsearch.base.arrays import I64, U8
from motifsearch.pattern.knots import FLIPPED, MIRRORED, TURNED, slots_in_row
from motifsearch.search.construction import plan
from motifsearch.search.genome import Genomes, Space

#: Designs of one island that are looked at one by one.
MOST: Final = 1 << 21
#: They are looked at from this generation on: evolution finds the best of them much sooner.
FROM: Final = 20
#: Of these, how many in a generation.
AT_ONCE: Final = 1 << 14
#: Knots of a grid whose orbits are counted; 4 to this power are held at once.
MOST_KNOTS: Final = 10


def partitions(strands: int, most: int) -> Iterator[tuple[int, ...]]:
    """Yield the ways to put strands into at most so many classes, numbered by first appearance.

    Examples:
        >>> [sum(1 for _ in partitions(n, n)) for n in range(1, 7)]  # Bell numbers, OEIS A000110
        [1, 2, 5, 15, 52, 203]
    """
    order = [0] * strands

    def grow(at: int, used: int) -> Iterator[tuple[int, ...]]:
        if at == strands:
            yield tuple(order)
            return
        for c in range(min(used + 1, most)):
            order[at] = c
            yield from grow(at + 1, max(used, c + 1))

    yield from grow(0, 0)


def partitions_of(strands: int, classes: int, folded: bool) -> int:
    """Return how many ways there are to put strands into exactly so many classes.

    Args:
        strands: S.
        classes: How many classes, none of them empty.
        folded: Whether every class has an even number of strands (one an odd one, S being odd).

    Examples:
        >>> [partitions_of(5, k, False) for k in range(1, 6)]  # Stirling numbers, OEIS A008277
        [1, 15, 25, 10, 1]
        >>> [partitions_of(8, k, True) for k in range(1, 5)]  # even blocks, OEIS A156289
        [1, 63, 210, 105]
    """

    @cache
    def count(left: int, k: int, odd: int) -> int:
        if k == 0:
            return int(left == 0 and odd == 0)
        return sum(
            math.comb(left - 1, size - 1) * count(left - size, k - 1, odd - (folded and size % 2))
            for size in range(1, left + 1)
            if not (folded and size % 2 and not odd)
        )

    return count(strands, classes, strands % 2 if folded else 0)


def orders_in(space: Space) -> int:
    """Return how many colour orders a space has."""
    return sum(
        partitions_of(space.strands, k, space.folded) * math.perm(space.palette, k)
        for k in range(space.colours_min, _most(space) + 1)
    )


def _most(space: Space) -> int:
    return min(space.colours_max, space.palette, space.strands)


def colour_orders(space: Space) -> U8 | None:
    """Return every colour order of a space, uint8 ``[S, M]``, or None when they are too many."""
    if orders_in(space) > MOST or colour_orders_are_many(space):
        return None
    parts = space.strands, space.palette, space.colours_min, _most(space), space.folded
    return _orders(*parts)


@lru_cache(maxsize=16)
def _orders(strands: int, palette: int, least: int, most: int, folded: bool) -> U8:
    found: list[tuple[int, ...]] = []
    for order in partitions(strands, most):
        sizes = np.bincount(order)
        if len(sizes) < least or (folded and (sizes % 2).sum() > strands % 2):
            continue
        found += [tuple(names[c] for c in order) for names in _names(palette, len(sizes))]
    return np.array(found, np.uint8).reshape(-1, strands).T.copy()


@lru_cache(maxsize=64)
def _names(palette: int, classes: int) -> tuple[tuple[int, ...], ...]:
    from itertools import permutations

    return tuple(permutations(range(palette), classes))


def _free(space: Space) -> I64:
    """Return the knots of a grid that are free, as indices into the flattened raw grid."""
    return np.flatnonzero(plan(0, space.strands, space.period, space.border).free).astype(np.int64)


@lru_cache(maxsize=64)
def _grids(space: Space) -> I64 | int:
    """Return how many grids there are, or the numbers of those that are looked at; 0 for none.

    A grid's number has its free knots as digits, the first the least.
    """
    free, codes = _free(space), len(space.codes)
    count: int = codes ** len(free)
    orders = orders_in(space)
    if not 0 < orders <= MOST or colour_orders_are_many(space):
        return 0
    if count * orders <= MOST:
        return count
    # An orbit has 2 P grids at most.
    some = codes == 4 and not space.border and len(free) <= MOST_KNOTS
    if not some or count * orders > 2 * space.period * MOST:
        return 0
    least = least_of_orbits(space.strands, space.period)
    return least if len(least) * orders <= MOST else 0


def colour_orders_are_many(space: Space) -> bool:
    """Return whether listing the colour orders would take longer than looking at the designs."""
    looked = (partitions_of(space.strands, k, False) for k in range(1, _most(space) + 1))
    return sum(looked) > MOST


def least_of_orbits(strands: int, period: int) -> I64:
    """Return the least of every orbit of grids under the motions of the strip, int64 ``[n]``.

    Examples:
        >>> len(least_of_orbits(4, 2))  # by Burnside's lemma: (64 + 0 + 8 + 8) / 4
        20
    """
    cells = [(r, k) for r in range(period) for k in range(slots_in_row(strands, r))]
    where = {cell: n for n, cell in enumerate(cells)}
    numbers = np.arange(4 ** len(cells), dtype=np.int64)
    least = numbers.copy()
    for table, upward, reverse in (
        (None, False, False), (MIRRORED, False, True), (FLIPPED, True, False), (TURNED, True, True),
    ):  # fmt: skip
        for s in range(strands % 2 if reverse else 0, period, 2):
            image = np.zeros_like(numbers)
            for (r, k), n in where.items():
                row = (s - r if upward else s + r) % period
                slot = slots_in_row(strands, row) - 1 - k if reverse else k
                code = numbers >> 2 * where[row, slot] & 3
                if table is not None:
                    code = np.asarray(table, np.int64)[code]
                image |= code << 2 * n
            np.minimum(least, image, out=least)
    return np.flatnonzero(least == numbers).astype(np.int64)


@lru_cache(maxsize=256)
def designs_in(space: Space) -> int:
    """Return how many designs are looked at to see a whole space; 0 where it is too large."""
    grids = _grids(space)
    if isinstance(grids, int) and not grids:
        return 0
    orders = colour_orders(space)
    assert orders is not None
    return int((grids if isinstance(grids, int) else len(grids)) * orders.shape[1])


def every_design(space: Space) -> bool:
    """Return whether every design is looked at, not only one of every kind."""
    return isinstance(_grids(space), int)


def designs(space: Space, start: int, stop: int) -> Genomes:
    """Return the designs with these numbers, as genomes without construction.

    Args:
        space: A space that `designs_in` counts.
        start: The first number.
        stop: One more than the last.
    """
    total, orders, grids = designs_in(space), colour_orders(space), _grids(space)
    assert orders is not None
    stride = max(1, round(total * (math.sqrt(5) - 1) / 2))
    while math.gcd(stride, total) > 1:
        stride += 1
    number = np.array([n * stride % total for n in range(start, stop)], np.int64)
    grid, order = np.divmod(number, orders.shape[1])
    if not isinstance(grids, int):
        grid = grids[grid]
    free, codes = _free(space), np.array(space.codes, np.uint8)
    raw = np.zeros((space.period * (space.strands // 2), len(number)), np.uint8)
    raw += codes[0]
    for place in free:
        grid, digit = np.divmod(grid, len(codes))
        raw[place] = codes[digit]
    none = np.zeros(len(number), np.uint8)
    return Genomes(
        none, none.copy(), raw.reshape(space.period, space.strands // 2, -1),
        np.ascontiguousarray(orders[:, order]),
    )  # fmt: skip
