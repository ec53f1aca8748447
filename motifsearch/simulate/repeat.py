"""The repeat: the smallest even q > 0 such that the face is unchanged when shifted by q rows.

The face has the period T = t P, where t is the smallest number of periods after which the
colours stand as at the start.  Two periods of the face have their greatest common divisor as a
period too, so q divides T and is found among the even divisors of T.
"""

from __future__ import annotations

import numpy as np

from motifsearch.base.arrays import I64, U8


def even_divisors(rows: int) -> list[int]:
    """Return the even divisors of `rows`, ascending.

    Examples:
        >>> even_divisors(12)
        [2, 4, 6, 12]
    """
    return [q for q in range(2, rows + 1, 2) if rows % q == 0]


def repeat_rows(face: U8) -> I64:
    """Return the repeat of every face of a batch that shares T.

    Args:
        face: uint8 ``[T, S // 2, N]``, one full period T of every face.

    Returns:
        int64 ``[N]``, in rows.
    """
    total, _, n = face.shape
    out = np.full(n, total, np.int64)
    open_ = np.arange(n)
    cells = face
    for q in even_divisors(total)[:-1]:
        # A face of period q agrees with itself q rows on; most fail in the first rows already.
        good = (cells[:2] == cells[q : q + 2]).all(axis=(0, 1))
        if good.any():
            where = np.flatnonzero(good)
            some = cells[:, :, where]
            same = (some[:-q] == some[q:]).all(axis=(0, 1))
            done = where[same]
            if len(done):
                out[open_[done]] = q
                keep = np.ones(len(open_), bool)
                keep[done] = False
                open_, cells = open_[keep], cells[:, :, keep]
                if not len(open_):
                    break
    return out
