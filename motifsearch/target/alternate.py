"""Every picture in two colours can be knotted: strands that stand in turn, ground and ink.

Lay the strands ground, ink, ground, ink, ...  Then at every knot of every row one strand of each
colour meets the other.  Whichever ties gives the cell its colour, and as a returning knot leaves
both where they are; so every cell of every row is free, and any picture in two colours has no wrong
cell.  Where folded threads ask for an even number of strands of a colour, two strands of one colour
stand together at one edge, and only the outermost knots beside them are bound to that colour.  A
strand of a third colour on either side ties every outermost knot and returns.

That proves that a text can be knotted.  Knots that return take longer and are hard to pull even,
so windows of strands are then freed in turn (`motifsearch.target.blocks`) and every walk without a
wrong cell counts its returning knots; the fewest win.  Two strands of one colour may be tied by
either: the one that has tied less does, so that no strand runs out long before the others.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np

from motifsearch.base.arrays import I8, U8
from motifsearch.base.work import OutOfWorkError, Work
from motifsearch.pattern.design import Pattern, make_pattern
from motifsearch.pattern.knots import RETURNING, TIED_FROM_RIGHT, positions_in_row
from motifsearch.pattern.walk import face
from motifsearch.target.blocks import LocalSearch
from motifsearch.target.grids import Walk, wrong_of
from motifsearch.target.motif import Target

#: Work granted to make one design quick to knot.
WORK: Final = 1e8
#: What a loop takes beside a knot that is only passed, about (`motifsearch.thread.model`): the use
#: of a strand that ties against one that is tied around.
TIES: Final = 5


def orders(strands: int, folded: bool, edge: bool) -> Iterator[list[int]]:
    """Yield colour orders that stand in turn, 0 ground, 1 ink, 2 edge; the plainest first.

    Args:
        strands: S.
        folded: Whether every colour must have an even number of strands.
        edge: Whether the outermost strands have a colour of their own.

    Examples:
        >>> next(orders(8, True, False)), next(orders(6, True, False))
        ([0, 1, 0, 1, 0, 1, 0, 1], [0, 0, 1, 0, 1, 0])
    """
    inner = strands - 2 * edge
    frame = [2] * edge
    for first in (0, 1):
        plain = [(first + n) % 2 for n in range(inner)]
        double = [first, *((first + n) % 2 for n in range(inner - 1))]
        for order in (plain, double, double[::-1]):
            ink = sum(order)
            if not folded or (ink % 2 == 0 and (inner - ink) % 2 == 0):
                yield [*frame, *order, *frame]


def exact_walk(cells: I8, strands: int, folded: bool, edge: bool) -> Walk | None:
    """Return colours before every row that show a picture without a wrong cell.

    Args:
        cells: int8 ``[P, S // 2]``, P even: 0 ground, 1 ink, 2 edge, -1 any.
        strands: S.
        folded: Whether every colour must have an even number of strands.
        edge: Whether the outermost strands are the edge.

    Returns:
        uint8 ``[P, S]``; None where ink stands at an edge that folded threads keep for the ground.
    """
    for order in orders(strands, folded, edge):
        walk: Walk = np.tile(np.array(order, np.uint8), (len(cells), 1))
        if not wrong_of(walk, cells).any():
            return walk
    return None


def quicker(
    walk: Walk, cells: I8, folded: bool, rng: np.random.Generator, work: float = WORK
) -> Walk:
    """Return a walk that shows the same picture with fewer returning knots.

    Args:
        walk: Without a wrong cell, uint8 ``[P, S]``.
        cells: The picture, int8 ``[P, S // 2]``.
        folded: Whether every colour must have an even number of strands.
        rng: All chance.
        work: Granted.
    """
    strands, colours = walk.shape[1], int(cells.max()) + 1
    most = np.full(colours, strands, np.int64)
    granted = Work(work)
    local = LocalSearch(cells, strands, colours, folded, most, rng, granted.tick)
    local.adopt(walk)
    local.tidy = True
    best = walk
    try:
        while True:
            local.step()
            best = local.walk.copy()
    except OutOfWorkError:
        pass
    return best


def even_knots(walk: Walk, cells: I8) -> U8:
    """Return knots that walk so and show the picture, shared out among strands of one colour.

    Args:
        walk: Without a wrong cell, uint8 ``[P, S]``.
        cells: The picture, int8 ``[P, S // 2]``.

    Returns:
        uint8 ``[P, S // 2]``.
    """
    rows, strands = walk.shape
    grid = np.zeros((rows, strands // 2), np.uint8)
    place = list(range(strands))
    used = [0] * strands
    for r in range(rows):
        after = walk[(r + 1) % rows]
        for k, i in enumerate(positions_in_row(strands, r)):
            left, right = int(walk[r, i]), int(walk[r, i + 1])
            want = int(cells[r, k])
            if left == right or want < 0:
                from_right = used[place[i + 1]] < used[place[i]]
            else:
                from_right = right == want
            returns = left != right and int(after[i]) == left
            grid[r, k] = (TIED_FROM_RIGHT if from_right else 0) | (RETURNING if returns else 0)
            used[place[i + from_right]] += TIES
            used[place[i + 1 - from_right]] += 1
            if not returns:
                place[i], place[i + 1] = place[i + 1], place[i]
    return grid


def knotted(walk: Walk, target: Target) -> Pattern:
    """Return the design of a walk; the colours of the target stand for 0, 1, 2."""
    order = [target.names[c] for c in walk[0]]
    return make_pattern(
        target.title, even_knots(walk, target.cells), order,
        dict(zip(target.names, target.colours, strict=True)),
    )  # fmt: skip


def wrong_knots(pattern: Pattern, target: Target) -> int:
    """Return how many knots do not show the target, played knot by knot."""
    shown = face(pattern, target.rows)
    return sum(
        target.cells[r, k] >= 0 and target.names[target.cells[r, k]] != pattern.palette[colour]
        for r, row in enumerate(shown)
        for k, colour in enumerate(row)
    )
