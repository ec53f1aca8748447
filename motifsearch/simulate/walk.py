"""The batch simulator: the walk of the strands of N designs at once.

State: at every position a strand; each carries its colour or its counts.  Row r ties positions
(i, i+1) for i = r mod 2, r mod 2 + 2, ..., i <= S-2; a crossing knot makes the two change places.

A batch is held population-last: knots uint8 ``[P, S // 2, N]``, colours uint8 ``[S, N]``, so that
one row of all N designs is a handful of elementwise operations on contiguous memory.  A swap is
``d = (a ^ b) & mask; a ^= d; b ^= d`` with the knots as masks of all zeros or all ones; no
scatter and no gather in the inner loop.  Slots that a row does not have (the last one of odd rows
when S is even) are ignored whatever they hold.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from motifsearch.base.arrays import I64, U8, Bool
from motifsearch.pattern.knots import RETURNING, TIED_FROM_RIGHT, slots_in_row


def crossing_masks(knots: U8) -> U8:
    """Return 255 where the two strands of a knot change places, 0 elsewhere; shape of `knots`."""
    masks: U8 = ((knots & np.uint8(RETURNING)) >> np.uint8(1)) - np.uint8(1)
    return masks


def tying_masks(knots: U8) -> U8:
    """Return 255 where the right strand ties, 0 where the left one does; shape of `knots`."""
    masks: U8 = (knots & np.uint8(TIED_FROM_RIGHT)) * np.uint8(255)
    return masks


def swap_row(
    state: npt.NDArray[np.unsignedinteger], masks: npt.NDArray[np.unsignedinteger], row: int
) -> None:
    """Let the strands of one row change places, in place.

    Args:
        state: Unsigned integers ``[S, N]``, what the strand at every position carries.
        masks: All ones where they change places, same dtype, ``[slots of the row, N]``.
        row: The row's number; its parity says which positions it joins.
    """
    first, slots = row % 2, slots_in_row(len(state), row)
    left = state[first : first + 2 * slots : 2]
    right = state[first + 1 : first + 2 * slots : 2]
    change = (left ^ right) & masks[:slots]
    left ^= change
    right ^= change


def carry(knots: U8, state: npt.NDArray[np.unsignedinteger], periods: int = 1) -> None:
    """Carry a state over whole periods, in place.

    Args:
        knots: uint8 ``[P, S // 2, N]``.
        state: Unsigned integers ``[S, N]``.
        periods: How often the grid is worked.
    """
    masks = crossing_masks(knots)
    if state.dtype != np.uint8:
        masks = np.where(masks, np.array(-1).astype(state.dtype), np.array(0, state.dtype))
    for _ in range(periods):
        for row, mask in enumerate(masks):
            swap_row(state, mask, row)


def sigma(knots: U8, strands: int) -> U8:
    """Return the permutation of one period, uint8 ``[S, N]``: which strand stands where after it.

    Examples:
        >>> sigma(np.zeros((2, 2, 1), np.uint8), 4)[:, 0].tolist()
        [1, 3, 0, 2]
    """
    state = np.empty((strands, knots.shape[2]), np.uint8)
    state[:] = np.arange(strands, dtype=np.uint8)[:, None]
    carry(knots, state)
    return state


def return_periods(knots: U8, colours: U8, limit: int) -> I64:
    """Return t, the smallest number of periods after which the colours stand as at the start.

    Args:
        knots: uint8 ``[P, S // 2, N]``.
        colours: uint8 ``[S, N]``.
        limit: The most periods that are tried.

    Returns:
        int64 ``[N]``; 0 where t is more than `limit`.
    """
    n = colours.shape[1]
    out = np.zeros(n, np.int64)
    open_ = np.arange(n)
    perm = sigma(knots, len(colours)).astype(np.intp)
    start, now, every = colours, colours, np.arange(n)
    for t in range(1, limit + 1):
        now = now[perm, every[: len(open_)]]
        back = (now == start).all(0)
        if back.any():
            out[open_[back]] = t
            keep = ~back
            open_, now, start, perm = open_[keep], now[:, keep], start[:, keep], perm[:, keep]
            if not len(open_):
                break
    return out


def faces(knots: U8, colours: U8, rows: int) -> U8:
    """Return the face: the tying strand's colour of every cell, uint8 ``[rows, S // 2, N]``.

    Args:
        knots: uint8 ``[P, S // 2, N]``.
        colours: uint8 ``[S, N]``, the colour of every strand at the start.
        rows: How many rows of the endless strip.

    Slots that a row does not have hold 0.
    """
    period, _, n = knots.shape
    strands = len(colours)
    cross, right = crossing_masks(knots), tying_masks(knots)
    face = np.zeros((rows, strands // 2, n), np.uint8)
    state = colours.copy()
    for r in range(rows):
        first, slots = r % 2, slots_in_row(strands, r)
        a = state[first : first + 2 * slots : 2]
        b = state[first + 1 : first + 2 * slots : 2]
        differ = a ^ b
        np.bitwise_and(differ, right[r % period, :slots], out=face[r, :slots])
        face[r, :slots] ^= a
        differ &= cross[r % period, :slots]
        a ^= differ
        b ^= differ
    return face


def count_true(mask: Bool) -> I64:
    """Return how many of the leading elements are true, int64 ``[N]``, for bool ``[..., N]``.

    Sums of fewer than 256 bytes stay in bytes, which is several times as fast.
    """
    flat = np.ascontiguousarray(mask).view(np.uint8).reshape(-1, mask.shape[-1])
    total = np.zeros(mask.shape[-1], np.int64)
    for start in range(0, len(flat), 255):
        total += np.add.reduce(flat[start : start + 255], axis=0, dtype=np.uint8)
    return total


def rows_split(face: U8, strands: int) -> tuple[U8, U8]:
    """Return the even and the odd rows of a face without the slots that they do not have.

    Args:
        face: uint8 ``[T, S // 2, N]``, T even.
        strands: S.

    Returns:
        uint8 views ``[T / 2, slots of row 0, N]`` and ``[T / 2, slots of row 1, N]``.
    """
    return face[0::2, : slots_in_row(strands, 0)], face[1::2, : slots_in_row(strands, 1)]
