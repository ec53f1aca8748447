"""Symmetry of the face over one repeat: the best share of cells that agree, and the frieze group.

With the repeat of T rows (rows taken modulo T), over the allowed phases s:

========== ============================= =================================
mirror     (r, i) -> (r, S-2-i)          S even only
glide      (r, i) -> (r + T/2, S-2-i)    T/2 and S of the same parity
flip       (r, i) -> (s - r, i)          s even
half_turn  (r, i) -> (s - r, S-2-i)      s and S of the same parity
========== ============================= =================================

The frieze group follows from which of them are exact, with its symbol from the International
Tables for Crystallography, volume E (strip direction first).
"""

from __future__ import annotations

from typing import Final

import numpy as np

from motifsearch.base.arrays import I64, U8, Bool
from motifsearch.pattern.knots import slots_in_row
from motifsearch.simulate.walk import count_true

KINDS: Final = ("mirror", "glide", "flip", "half_turn")
#: From this many rows on the phases are tried all at once; below, one after the other is faster.
LONG: Final = 192
GROUPS: Final = ("p1", "p11g", "p1m1", "p11m", "p2", "p2mg", "p2mm")


def mirrored_cells(face: U8, strands: int) -> U8:
    """Return the face seen in a mirror that stands along the band.

    For S even the row stays the same; for S odd the result is to be read one row on, because
    mirroring takes even positions to odd ones: element ``[r, k]`` is the cell that lands in slot
    k of a row of the other parity.

    Args:
        face: uint8 ``[T, S // 2, N]``.
        strands: S.

    Returns:
        uint8 ``[T, S // 2, N]``; slots that a row does not have hold 0.
    """
    out = np.zeros_like(face)
    for parity in (0, 1):
        slots = slots_in_row(strands, parity)
        out[parity::2, :slots] = face[parity::2, :slots][:, ::-1]
    return out


def agreement(face: U8, kind: str, strands: int) -> I64 | None:
    """Return how many cells agree at the best phase, int64 ``[N]``; None where the kind is absent.

    Args:
        face: uint8 ``[T, S // 2, N]``, one repeat of faces that share it.
        kind: One of `KINDS`.
        strands: S.
    """
    total = len(face)
    odd = strands % 2
    if (kind == "mirror" and odd) or (kind == "glide" and total // 2 % 2 != odd):
        return None
    other = face if kind == "flip" else mirrored_cells(face, strands)
    # Slots that no row has hold 0 on both sides: they agree always and are taken off.
    spare = 0 if odd else total // 2
    if kind == "mirror":
        return count_true(other == face) - spare
    if kind == "glide":
        return count_true(np.roll(other, total // 2, axis=0) == face) - spare
    if total >= LONG:
        return _by_correlation(face, other, odd if kind == "half_turn" else 0, strands)
    best = np.zeros(face.shape[2], np.int64)
    rows = np.arange(total)
    for s in range(odd if kind == "half_turn" else 0, total, 2):
        np.maximum(best, count_true(other[(s - rows) % total] == face), out=best)
    return best - spare


def _by_correlation(face: U8, other: U8, first: int, strands: int) -> I64:
    """Return the best agreement over the phases first, first + 2, ... of a long repeat.

    For every colour the agreement at phase s is the circular convolution of where the two faces
    show it, so all phases together cost a Fourier transform instead of one pass each.
    """
    total, _, n = face.shape
    real = np.zeros(face.shape[:2], bool)
    for parity in (0, 1):
        real[parity::2, : slots_in_row(strands, parity)] = True
    agree = np.zeros((total // 2 + 1, n), complex)
    for colour in np.unique(face):
        here = np.fft.rfft((face == colour) & real[:, :, None], axis=0)
        there = np.fft.rfft((other == colour) & real[:, :, None], axis=0)
        agree += (here * there).sum(1)
    counts = np.rint(np.fft.irfft(agree, total, axis=0)[first::2])
    best: I64 = counts.max(0).astype(np.int64)
    return best


def frieze_group(
    exact: dict[str, Bool],
) -> I64:
    """Return the index into `GROUPS` of every design, int64 ``[N]``.

    Args:
        exact: For every kind, where it is exact, bool ``[N]``.
    """
    mirror, glide, flip, turn = (exact[kind] for kind in KINDS)
    out = np.zeros(len(mirror), np.int64)
    out[glide] = GROUPS.index("p11g")
    out[flip] = GROUPS.index("p1m1")
    out[mirror] = GROUPS.index("p11m")
    out[turn] = GROUPS.index("p2")
    # Flip and half turn together make a mirror, or a glide by half the repeat.
    out[flip & (glide | turn)] = GROUPS.index("p2mg")
    out[flip & mirror] = GROUPS.index("p2mm")
    return out
