"""Colour scores of the face: shares, balance and contrast.

The share f_c of a colour is its part of the cells of one repeat.  Balance is the Shannon entropy
of the shares over ln k, k the number of colours in the colour order (1 when k = 1), or, where
the brief gives target shares, 1 - the total variation distance to them.  Contrast is the smallest
CIEDE2000 difference between two colours that touch anywhere on the face; touching cells are
(r, i) and (r+1, i +- 1).
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from motifsearch.simulate.walk import count_true, rows_split

U8 = npt.NDArray[np.uint8]
F64 = npt.NDArray[np.float64]


def colour_counts(face: U8, palette: int, strands: int) -> npt.NDArray[np.int64]:
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
        differences: CIEDE2000 of every two colours, float64 ``[k, k]``.

    Returns:
        Infinity where no two colours touch (a face of one colour).
    """
    k = len(differences)
    # Ranks instead of differences: bytes are compared four to eight times as fast.
    table = np.where(np.eye(k, dtype=bool), np.inf, differences)
    values = np.unique(table)
    ranks = np.searchsorted(values, table).astype(np.uint16)
    even, odd = rows_split(face, strands)
    following = np.roll(even, -1, axis=0)
    n_even, n_odd = even.shape[1], odd.shape[1]
    best = np.full(face.shape[2], len(values) - 1, np.uint16)
    for row in (even, following):
        for a, b in ((row[:, :n_odd], odd), (row[:, 1:], odd[:, : n_even - 1])):
            best = np.minimum(best, ranks[a, b].min(axis=(0, 1)))
    return values[best]
