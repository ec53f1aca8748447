"""Thread consumption of a batch: the thread model's counts, carried along with the strands.

A strand's use over R rows is, by `motifsearch.thread.model`, its loops as the tying strand, its
way from node to node, and its bends as core strand.  With threads of one thickness the use
follows from three counts (crossing knots tied, returning knots tied, straight advances at an
edge), packed into one unsigned integer with the strand's number, so that one swap moves all of
them.  Where thicknesses differ, the lengths themselves are summed.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from motifsearch.base.arrays import F64, I64, U8
from motifsearch.pattern.knots import RETURNING, TIED_FROM_RIGHT, slots_in_row
from motifsearch.simulate.walk import crossing_masks, swap_row
from motifsearch.thread.model import ThreadModel

_IDENT_BITS = 5  # strands are numbered 0..23


def waiting_positions(strands: int, row: int) -> list[int]:
    """Return the positions that have no knot in a row.

    Examples:
        >>> waiting_positions(8, 0), waiting_positions(8, 1), waiting_positions(7, 0)
        ([], [0, 7], [6])
    """
    first, slots = row % 2, slots_in_row(strands, row)
    return [*range(first), *range(first + 2 * slots, strands)]


def waits_at(row: int, rows: int) -> int:
    """Return how many straight advances a wait in `row` makes when `rows` rows are knotted."""
    return (row >= 1) + (row < rows)


def counts(knots: U8, strands: int, rows: int) -> tuple[I64, I64, I64, I64]:
    """Return what every strand does over `rows` rows.

    Args:
        knots: uint8 ``[P, S // 2, N]``.
        strands: S.
        rows: R.

    Returns:
        Crossing knots tied, returning knots tied, knots tied around it, straight advances:
        int64 ``[S, N]`` each, in the order of the strands at the start.
    """
    period, _, n = knots.shape
    narrow = rows < 1 << 9
    kind: type[np.uint32] | type[np.uint64] = np.uint32 if narrow else np.uint64
    bits = 9 if narrow else 19
    shifts = [kind(_IDENT_BITS + k * bits) for k in range(3)]
    number = kind((1 << _IDENT_BITS) - 1)
    one = np.where(knots & RETURNING, kind(1) << shifts[1], kind(1) << shifts[0])
    add_right = np.where(knots & TIED_FROM_RIGHT, one, kind(0))
    add_left = one - add_right
    masks = np.where(crossing_masks(knots), ~kind(0), kind(0))
    state = np.empty((strands, n), kind)
    state[:] = np.arange(strands, dtype=kind)[:, None]
    # What is done in one period and in the begun one at the end, by place at its start.
    whole, rest = divmod(rows, period)
    begun = state.copy()
    for r in range(period if whole else rest):
        for position in waiting_positions(strands, r):
            state[position] += kind(1) << shifts[2]
        first, slots = r % 2, slots_in_row(strands, r)
        state[first : first + 2 * slots : 2] += add_left[r, :slots]
        state[first + 1 : first + 2 * slots : 2] += add_right[r, :slots]
        swap_row(state, masks[r], r)
        if r + 1 == rest:
            begun = state.copy()
    across = np.arange(n)
    who = (begun & number).astype(np.intp)
    total = np.empty_like(begun)
    np.put_along_axis(total, who, begun & ~number, 0)
    waits_last = np.zeros((strands, n), np.int64)
    for position in waiting_positions(strands, rows):
        waits_last[who[position], across] = 1
    if whole:
        who = (state & number).astype(np.intp)
        each = np.empty_like(state)
        np.put_along_axis(each, who, state & ~number, 0)
        place = np.empty((strands, n), np.intp)  # a period later, as an index into ravelled arrays
        np.put_along_axis(place, who, np.arange(strands)[:, None] * n + across, 0)
        done, at = _many_periods(each, place, whole)
        total, waits_last = done + total.ravel()[at], waits_last.ravel()[at]

    field = kind((1 << bits) - 1)
    crossing, returning, waited = ((total >> s & field).astype(np.int64) for s in shifts)
    # Every wait makes two advances, but for one before the first row; one after the last makes one.
    waits = 2 * waited + waits_last
    for position in waiting_positions(strands, 0):
        waits[position] -= 1
    return crossing, returning, rows - waited - crossing - returning, waits


def _many_periods(
    each: npt.NDArray[np.unsignedinteger[Any]], place: npt.NDArray[np.intp], periods: int
) -> tuple[npt.NDArray[np.unsignedinteger[Any]], npt.NDArray[np.intp]]:
    """Return what is done in so many periods, and the places after them, by doubling.

    Args:
        each: What is done in one period by the strand of every place, ``[S, N]``.
        place: Where that strand stands after it, as an index into the ravelled arrays, ``[S, N]``.
        periods: At least 1.
    """
    done = at = None
    while True:
        if periods & 1:
            done = each if done is None or at is None else done + each.ravel()[at]
            at = place if at is None else place.ravel()[at]
        periods >>= 1
        if not periods:
            return done, at  # type: ignore[return-value]
        each, place = each + each.ravel()[place], place.ravel()[place]


def _uneven(knots: U8, start_mm: F64, rows: int, model: ThreadModel) -> tuple[F64, F64]:
    """Return loops and bends, mm, float64 ``[S, N]``, for strands of any thickness ``[S, N]``."""
    period = len(knots)
    strands, n = start_mm.shape
    masks = np.where(crossing_masks(knots), ~np.uint64(0), np.uint64(0))
    right = (knots & TIED_FROM_RIGHT).astype(bool)
    returns = (knots & RETURNING).astype(bool)
    a = model.loop_scale * np.where(returns, model.returning[0], model.crossing[0])
    b = model.loop_scale * np.where(returns, model.returning[1], model.crossing[1])
    ident = np.empty((strands, n), np.uint64)
    ident[:] = np.arange(strands, dtype=np.uint64)[:, None]
    thick, loops, bends = start_mm.copy(), np.zeros((strands, n)), np.zeros((strands, n))
    for r in range(rows):
        first, slots = r % 2, slots_in_row(strands, r)
        left = slice(first, first + 2 * slots, 2)
        rest = slice(first + 1, first + 2 * slots, 2)
        ties_right = right[r % period, :slots]
        tying = np.where(ties_right, thick[rest], thick[left])
        core = np.where(ties_right, thick[left], thick[rest])
        loop = a[r % period, :slots] * (tying + core) + b[r % period, :slots] * tying
        bend = model.bend * core
        loops[left] += np.where(ties_right, 0.0, loop)
        loops[rest] += np.where(ties_right, loop, 0.0)
        bends[left] += np.where(ties_right, bend, 0.0)
        bends[rest] += np.where(ties_right, 0.0, bend)
        for carried in (ident, thick.view(np.uint64), loops.view(np.uint64), bends.view(np.uint64)):
            swap_row(carried, masks[r % period], r)
    who = ident.astype(np.intp)
    out_loops, out_bends = np.empty_like(loops), np.empty_like(bends)
    np.put_along_axis(out_loops, who, loops, 0)
    np.put_along_axis(out_bends, who, bends, 0)
    return out_loops, out_bends


def consumption(
    knots: U8, colours: U8, rows: int, model: ThreadModel, diameters_mm: F64
) -> tuple[F64, F64]:
    """Return the loops and the path of every strand, mm, float64 ``[S, N]`` each.

    Args:
        knots: uint8 ``[P, S // 2, N]``.
        colours: uint8 ``[S, N]``, the colour of every strand at the start.
        rows: R, rows knotted.
        model: The thread model.
        diameters_mm: Thread diameter of every colour, float64 ``[k]``.
    """
    strands = len(colours)
    crossing, returning, cores, waits = counts(knots, strands, rows)
    thick = diameters_mm[colours]
    if np.ptp(diameters_mm) == 0:
        d = float(diameters_mm[0])
        loops = crossing * model.loop_mm(False, d, d) + returning * model.loop_mm(True, d, d)
        bends = cores * (model.bend * d)
    else:
        loops, bends = _uneven(knots, thick, rows, model)
    mean = thick.mean(0)
    pitch, across = model.row_gauge * mean, model.strand_gauge * mean
    return loops, (rows - waits) * np.hypot(pitch, across) + waits * pitch + bends


def evenness(use: F64) -> tuple[F64, F64]:
    """Return evenness (smallest / largest) and offcut (1 - mean / largest), float64 ``[N]``.

    Args:
        use: Thread used by every strand, float64 ``[S, N]``.
    """
    largest = use.max(0)
    return use.min(0) / largest, 1.0 - use.mean(0) / largest
