"""A lower bound where the states are too many: the band cut lengthwise into windows.

Only the cells inside a window count.  At a window's edge, where a strand of the window meets one
from outside, any colour may come in.  Both only make it easier, so the least cost of a window is no
more than what any design has there, and windows that do not overlap add up.

A closed walk of C wrong cells, walked m times, is a walk of m P rows and m C wrong cells; so with
V(m) the least cost of m P rows, C is at least V(m) / m, rounded up.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from itertools import permutations

import numpy as np

from motifsearch.target.bound import Cells
from motifsearch.target.states import Costs, StateSpace

#: States of the widest window: for a bound at once, and for a good one in some seconds.
SMALL, LARGE = 250_000, 3_000_000
#: m, the most rounds.
ROUNDS = 3


def window_bound(
    cells: Cells,
    strands: int,
    colours: int,
    tick: Callable[[float], None],
    max_states: int = SMALL,
) -> Iterator[int]:
    """Yield lower bounds on the wrong cells of any design, each at least the one before.

    Args:
        cells: The target, int8 ``[P, S // 2]``, P even.
        strands: S.
        colours: K.
        tick: Called with the work done; raises when the budget is used up.
        max_states: States of the widest window.
    """
    width = 2
    while width < strands and _states(width + 1, colours) <= max_states:
        width += 1
    known: dict[tuple[int, int], int] = {}
    best = -1
    for widths in partitions(strands, width):
        total, left = 0, 0
        for w in widths:
            if (left, w) not in known:
                known[left, w] = one_window(cells, strands, colours, left, w, tick)
            total += known[left, w]
            left += w
        if total > best:
            best = total
            yield best


def _states(width: int, colours: int) -> int:
    space = StateSpace(width, colours)
    return max(space.size(0), space.size(1))


def partitions(strands: int, width: int) -> list[tuple[int, ...]]:
    """Return ways to cut a band into windows of at most `width`, in every order.

    Examples:
        >>> partitions(10, 4)
        [(2, 4, 4), (3, 3, 4), (3, 4, 3), (4, 2, 4), (4, 3, 3), (4, 4, 2)]
    """
    parts = math.ceil(strands / width)
    rest = strands - (parts - 1) * width
    uneven = (*[width] * (parts - 1), rest)
    base, more = divmod(strands, parts)
    equal = (*[base + 1] * more, *[base] * (parts - more))
    if parts > 5:
        return [uneven, equal]
    return sorted(set(permutations(uneven)) | set(permutations(equal)))


def one_window(
    cells: Cells, strands: int, colours: int, left: int, width: int, tick: Callable[[float], None]
) -> int:
    """Return the lower bound of the window of positions left .. left + width - 1."""
    if width < 2:
        return 0
    space = StateSpace(width, colours)
    kind = np.uint16
    costs: Costs = np.zeros(space.size(left % 2), kind)
    open_left, open_right = left > 0, left + width < strands
    best = 0
    for m in range(1, ROUNDS + 1):
        for r in range(len(cells)):
            parity = (r + left) % 2
            first = (left + parity - r % 2) // 2
            costs = costs + space.row_weight(cells[r, first : first + space.slots(parity)], parity)
            if parity and open_left:
                costs = _any(costs.reshape(colours, -1), 0)
            if space.has_tail(parity) and open_right:
                costs = _any(costs.reshape(-1, colours), 1)
            costs = space.regroup(costs, parity)
            tick(costs.size * 4.0)
        best = max(best, -(-int(costs.min()) // m))
    return best


def _any(costs: Costs, axis: int) -> Costs:
    """Let the colour of a strand at the window's edge be any after this row."""
    least = costs.min(axis=axis, keepdims=True)
    return np.broadcast_to(least, costs.shape).ravel()
