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

from motifsearch.base.arrays import F64, I64, U8
from motifsearch.pattern.knots import RETURNING, knots_in_grid, slots_in_row
from motifsearch.simulate.walk import (
    count_true,
    crossing_masks,
    return_periods,
    rows_split,
    swap_row,
    tying_masks,
)

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


def kinds_of_knots(knots: U8, strands: int) -> I64:
    """Return the number of kinds of knots in each grid, int64 ``[N]``, 1 to 4."""
    even, odd = rows_split(knots, strands)
    there = [(even == code).any((0, 1)) | (odd == code).any((0, 1)) for code in range(4)]
    kinds: I64 = np.sum(there, axis=0, dtype=np.int64)
    return kinds


def round_rows(knots: U8, colours: U8, total_rows: I64) -> I64:
    """Return the rows of a round, int64 ``[N]``; 0 where the colours return too late.

    A round is the fewest rows, in whole shortest periods of the grid, after which the colours
    stand as before (`motifsearch.pattern.effort`).

    Args:
        knots: uint8 ``[P, S // 2, N]``.
        colours: uint8 ``[S, N]``.
        total_rows: int64 ``[N]``, the rows after which the colours stand as before in whole grids
            of P rows; 0 where that is too late.
    """
    period = len(knots)
    out = total_rows.copy()
    open_ = np.flatnonzero(total_rows > 0)
    for q in range(2, period, 2):
        if period % q or not len(open_):
            continue
        part = knots[:, :, open_]
        same = (part[q:] == part[:-q]).all((0, 1))
        members = open_[same]
        if len(members):
            most = int(total_rows[members].max()) // q
            times = return_periods(knots[:q, :, members], colours[:, members], most)
            out[members] = np.where(times > 0, times * q, total_rows[members])
            open_ = open_[~same]
    return out


def returning_share(knots: U8, strands: int) -> F64:
    """Return the share of returning knots in the grid, float64 ``[N]``."""
    even, odd = rows_split(knots & np.uint8(RETURNING), strands)
    total = count_true(even != 0) + count_true(odd != 0)
    return total / knots_in_grid(strands, len(knots))


def lean(knots: U8, strands: int) -> F64:
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
