"""Colour scores of the face: shares, balance and contrast.

The share f_c of a colour is its part of the cells of one repeat.  Balance is the Shannon entropy
of the shares over ln k, k the number of colours in the colour order (1 when k = 1), or, where
the brief gives target shares, 1 - the total variation distance to them.  Contrast is the smallest
CIEDE2000 difference between two colours that touch anywhere on the face; touching cells are
(r, i) and (r+1, i +- 1).
"""

from __future__ import annotations

import numpy as np

from motifsearch.base.arrays import F64, I64, U8
from motifsearch.simulate.walk import count_true, rows_split


def colour_counts(face: U8, palette: int, strands: int) -> I64:
    """Return the cells of every colour, int64 ``[k, N]``, for a face uint8 ``[T, S // 2, N]``."""
    counts = np.array([count_true(face == c) for c in range(palette)])
    if strands % 2 == 0:
        counts[0] -= len(face) // 2  # slots that odd rows do not have hold 0
    return counts


def balance(shares: F64, colours: U8, targets: F64 | None = None) -> F64:
    """Return the balance, float64 ``[N]``.

    Args:
        shares: Colour shares, float64 ``[k, N]``.
        colours: The colour order, uint8 ``[S, N]``.
        targets: Wanted shares, float64 ``[k]``, summing to 1; entropy when left out.

    Examples:
        >>> order = np.array([[0], [0], [1], [1]], np.uint8)
        >>> balance(np.array([[0.5], [0.5]]), order).tolist()
        [1.0]
    """
    if targets is not None:
        distance: F64 = 0.5 * np.abs(shares - targets[:, None]).sum(0)
        return 1.0 - distance
    present = np.array([(colours == c).any(0) for c in range(len(shares))]).sum(0)
    safe = np.where(shares > 0, shares, 1.0)
    entropy = -(safe * np.log(safe)).sum(0)
    return np.where(present > 1, entropy / np.log(np.maximum(present, 2)), 1.0)


def contrast(face: U8, strands: int, differences: F64) -> F64:
    """Return the smallest difference of two colours that touch, float64 ``[N]``.

    Args:
        face: uint8 ``[T, S // 2, N]``, one full period.
        strands: S.
        differences: CIEDE2000 of every two colours, float64 ``[k, k]``, or ``[k, k, N]`` where
        every
            design has colours of its own.

    Returns:
        Infinity where no two colours touch (a face of one colour).
    """
    k, n = len(differences), face.shape[2]
    kind: type[np.uint8] | type[np.uint32] = np.uint8 if k <= 8 else np.uint32
    even, odd = rows_split(face, strands)
    n_even, n_odd = even.shape[1], odd.shape[1]
    # One bit per colour: of every even cell, the colours above and below that it touches.
    shown = np.left_shift(kind(1), odd, dtype=kind)
    around = shown | np.roll(shown, 1, axis=0)
    touched = np.zeros(even.shape, kind)
    touched[:, :n_odd] = around
    touched[:, 1:] |= around[:, : n_even - 1]
    by_colour = [
        np.bitwise_or.reduce(np.where(even == c, touched, kind(0)).reshape(-1, n), 0)
        for c in range(k)
    ]
    best = np.full(n, np.inf)
    for c in range(k):
        for d in range(c):
            meet = (by_colour[c] & kind(1 << d)) | (by_colour[d] & kind(1 << c))
            np.minimum(best, differences[c, d], out=best, where=meet != 0)
    return best
