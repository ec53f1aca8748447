"""Motif scores of the face: what tells a figure from noise and from plain stripes.

Touching cells are (r, i) and (r+1, i +- 1), rows taken modulo the period.

* ``coherence``: the share of touching pairs of one colour.
* ``movement``: the share of cells whose colour differs from the cell two rows further on
  (0 for lengthwise stripes).
* ``lone``: the share of cells none of whose touching cells has their colour.
"""

from __future__ import annotations

import numpy as np

from motifsearch.base.arrays import F64, U8
from motifsearch.pattern.knots import knots_in_grid
from motifsearch.simulate.walk import count_true, rows_split


def motif(face: U8, strands: int) -> tuple[F64, F64, F64]:
    """Return coherence, movement and lone, each float64 ``[N]``.

    Args:
        face: uint8 ``[T, S // 2, N]``, one full period of faces that share it.
        strands: S.
    """
    even, odd = rows_split(face, strands)
    following = np.roll(even, -1, axis=0)
    n_even, n_odd = even.shape[1], odd.shape[1]
    # Slot k of an odd row stands between slots k and k+1 of the even rows above and below.
    above_left, above_right = even[:, :n_odd] == odd, even[:, 1:] == odd[:, : n_even - 1]
    below_left = following[:, :n_odd] == odd
    below_right = following[:, 1:] == odd[:, : n_even - 1]
    touching = (above_left, above_right, below_left, below_right)
    pairs = len(even) * 2 * (n_odd + n_even - 1)
    coherence = sum(count_true(t) for t in touching) / pairs

    moving = count_true(even != following) + count_true(odd != np.roll(odd, -1, axis=0))
    cells = knots_in_grid(strands, len(face))

    odd_has = above_left | below_left
    odd_has[:, : n_even - 1] |= above_right | below_right
    even_has = np.zeros(even.shape, bool)
    even_has[:, :n_odd] = above_left | np.roll(below_left, 1, axis=0)
    even_has[:, 1:] |= above_right | np.roll(below_right, 1, axis=0)
    lone = cells - count_true(odd_has) - count_true(even_has)
    return np.asarray(coherence), moving / cells, lone / cells
