"""Handling: how much work a design is.

A *pass* is a stretch of knots tied by one strand without laying it down.  A strand that ties
anything but its own next knot must have been laid down in between, so the number of stretches in
which a strand ties knot after knot without being tied around is a lower bound of the number of
passes; `motifsearch.pattern.passes` finds the true least number for one design.  A batch is
judged by the bound, because it costs a few operations.

The minutes are an estimate from stated times per knot and per change of the strand in hand
(common practice, no source; a practised hand is faster).
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from motifsearch.pattern.knots import RETURNING, knots_in_grid, slots_in_row
from motifsearch.simulate.walk import (
    count_true,
    crossing_masks,
    rows_split,
    swap_row,
    tying_masks,
)

U8 = npt.NDArray[np.uint8]
I64 = npt.NDArray[np.int64]

SECONDS_PER_KNOT: Final = 7.0
SECONDS_PER_PICK_UP: Final = 6.0


def stretches(knots: U8, strands: int) -> I64:
    """Return the number of tying stretches that begin in one period of the endless strip.

    Args:
        knots: uint8 ``[P, S // 2, N]``.
        strands: S.

    Returns:
        int64 ``[N]``.  Whether a strand tied its latest knot is known after two rows, so the
        count starts in the third.
    """
    period, _, n = knots.shape
    cross, right = crossing_masks(knots), tying_masks(knots)
    tied_last = np.zeros((strands, n), np.uint8)  # 255: the strand tied its latest knot
    begun = np.zeros(n, np.int64)
    for r in range(period + 2):
        first, slots = r % 2, slots_in_row(strands, r)
        left = tied_last[first : first + 2 * slots : 2]
        rest = tied_last[first + 1 : first + 2 * slots : 2]
        from_right = right[r % period, :slots]
        if r >= 2:
            goes_on = (left & ~from_right) | (rest & from_right)
            begun += slots - count_true(goes_on != 0)
        left[:] = ~from_right
        rest[:] = from_right
        swap_row(tied_last, cross[r % period], r)
    return begun


def returning_share(knots: U8, strands: int) -> npt.NDArray[np.float64]:
    """Return the share of returning knots in the grid, float64 ``[N]``."""
    even, odd = rows_split(knots & np.uint8(RETURNING), strands)
    total = count_true(even != 0) + count_true(odd != 0)
    return total / knots_in_grid(strands, len(knots))


def lean(knots: U8, strands: int) -> npt.NDArray[np.float64]:
    """Return flatness, 1 - |#rr - #ll| / #knots, float64 ``[N]``.

    Common practice, no source: knots that all lean one way make the band curl.
    """
    total = np.zeros(knots.shape[2], np.int64)
    for rows in rows_split(knots, strands):
        total += count_true(rows == 0) - count_true(rows == 1)
    return 1.0 - np.abs(total) / knots_in_grid(strands, len(knots))


def minutes(knots_tied: float, pick_ups: float) -> float:
    """Return the estimated minutes for a number of knots and of pick-ups.

    Examples:
        >>> minutes(60, 10)
        8.0
    """
    return (knots_tied * SECONDS_PER_KNOT + pick_ups * SECONDS_PER_PICK_UP) / 60
