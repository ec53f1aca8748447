"""How far faces are from a target, for many candidates at once.

The share of wrong cells: of the target's cells that ask for a colour, those where the face shows
another, over a stretch in which both face and target repeat, at the even shift of the face against
the target where it is least.  Face rows t and target rows p meet at shift s when t = p + s modulo
the greatest common divisor of the two periods, each pair equally often.
"""

from __future__ import annotations

import math

import numpy as np

from motifsearch.base.arrays import F64, I8, U8

#: Candidates counted together, times face rows times target rows; keeps the tables in the cache.
CHUNK = 2_000_000


def wrong_cells(face: U8, cells: I8) -> F64:
    """Return the share of wrong cells of every face, at its best even shift.

    Args:
        face: uint8 ``[T, S // 2, N]``, one repeat (or several) of every candidate's face, T even;
            the target's index of the colour in each cell, any other number for a colour that the
            target does not have.
        cells: The target, int8 ``[P, S // 2]``, P even; -1 for any colour.

    Returns:
        float64 ``[N]``, from 0 (all as wanted) to 1.

    Examples:
        >>> face = np.array([[[0, 0], [1, 0]], [[1, 1], [9, 9]]], np.uint8)
        >>> wrong_cells(face, np.array([[0, 1], [1, -1]], np.int8)).round(3).tolist()
        [0.0, 0.333]
    """
    total, period = len(face), len(cells)
    wanted = int((cells >= 0).sum())
    count = face.shape[2]
    if wanted == 0:
        return np.zeros(count)
    common = math.gcd(total, period)
    apart = (np.arange(total)[None, :] - np.arange(period)[:, None]) % common
    meet = np.stack([apart == s for s in range(0, common, 2)])
    meets = meet.reshape(len(meet), -1).astype(np.float32)
    colours = np.unique(cells[cells >= 0])
    asks = np.stack([cells == c for c in colours]).astype(np.float32)
    out = np.empty(count)
    step = max(1, CHUNK // (total * period))
    for lo in range(0, count, step):
        part = face[:, :, lo : lo + step]
        hits = np.zeros((period, total, part.shape[2]), np.float32)
        for colour, ask in zip(colours, asks, strict=True):
            shows = (part == colour).astype(np.float32)
            hits += np.tensordot(ask, shows, axes=(1, 1))
        best = (meets @ hits.reshape(period * total, -1)).max(axis=0)
        out[lo : lo + step] = 1.0 - best / (wanted * (total // common))
    return out
