"""The canonical form of whole batches: one name for designs that are the same on the wrist.

The same form and the same key as `motifsearch.pattern.canonical_form`, which is written for reading
and takes one design at a time; a test holds the two equal.  Of every grid the least of all its
phases and turns is found with bytes that compare as knots do; then the colours at these.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from motifsearch.base.arrays import I64, U8
from motifsearch.pattern.knots import FLIPPED, MIRRORED, TURNED, slots_in_row
from motifsearch.simulate.walk import crossing_masks, return_periods, swap_row

_RECODED: Final = {
    "same": np.arange(4, dtype=np.uint8),
    "mirrored": np.array(MIRRORED, np.uint8),
    "flipped": np.array(FLIPPED, np.uint8),
    "turned": np.array(TURNED, np.uint8),
}


def shortest(knots: U8) -> I64:
    """Return the rows of the smallest even period of every grid, int64 ``[N]``.

    Args:
        knots: uint8 ``[P, S // 2, N]``; slots that a row does not have hold 0.
    """
    period, _, n = knots.shape
    out = np.full(n, period, np.int64)
    for q in range(2, period, 2):
        if period % q:
            continue
        some = np.flatnonzero(out == period)
        part = knots[..., some]
        again = part.reshape(period // q, q, *part.shape[1:])
        out[some[(again == again[:1]).all((0, 1, 2))]] = q
    return out


def bare(knots: U8, strands: int) -> U8:
    """Return grids with 0 in the slots that a row does not have."""
    out = knots.copy()
    if strands % 2 == 0:
        out[1::2, -1] = 0
    return out


def _recoded(knots: U8, strands: int, how: str) -> U8:
    """Return the knots of every row as a turn of the band makes them, rows in place."""
    out = _RECODED[how][knots]
    if how in ("mirrored", "turned"):
        for row in range(len(knots)):
            slots = slots_in_row(strands, row)
            out[row, :slots] = out[row, :slots][::-1]
    return bare(out, strands)


def _options(period: int, odd: int) -> Iterator[tuple[str, int, bool, bool]]:
    """Yield (turn, phase, reversed, upward) of every way to read a band."""
    for s in range(period):
        if s % 2 == 0:
            yield "same", s, False, False
            yield "flipped", s, False, True
        if s % 2 == odd:
            yield "mirrored", s, True, False
            yield "turned", s, True, True


def _flat(grid: U8, strands: int) -> list[bytes]:
    """Return every grid as bytes that compare as its knots do."""
    rows = [grid[r, : slots_in_row(strands, r)] for r in range(len(grid))]
    flat = np.ascontiguousarray(np.concatenate(rows).T)
    size, raw = flat.shape[1], flat.tobytes()
    return [raw[n : n + size] for n in range(0, len(raw), size)]


def forms(knots: U8, colours: U8, most_rows: int) -> tuple[I64, U8, U8]:
    """Return the canonical forms of designs whose grids have no shorter period.

    Args:
        knots: uint8 ``[P, S // 2, N]``, 0 where a row has no slot.
        colours: uint8 ``[S, N]``.
        most_rows: Designs whose colours come again later than that are left out.

    Returns:
        Which designs, int64 ``[M]``; their grids, uint8 ``[P, S // 2, M]``; their colours numbered
        by first appearance, uint8 ``[S, M]``.
    """
    period, strands = len(knots), len(colours)
    times = return_periods(knots, colours, max(1, most_rows // period))
    who = np.flatnonzero(times > 0)
    knots, colours, times = knots[..., who], colours[:, who], times[who]
    n = len(who)
    if not n:
        return who, knots, colours
    orders = _orders(knots, strands)
    options = list(_options(period, strands % 2))
    turns = {how: _recoded(knots, strands, how) for how in _RECODED}
    every = []
    for how, s, _, upward in options:
        rows = [(s - r if upward else s + r) % period for r in range(period)]
        every.append(_flat(turns[how][rows], strands))
    least = [min(ways) for ways in zip(*every, strict=True)]
    grid = np.zeros_like(knots)
    flat = np.frombuffer(b"".join(least), np.uint8).reshape(n, -1).T
    at = 0
    for r in range(period):
        slots = slots_in_row(strands, r)
        grid[r, :slots] = flat[at : at + slots]
        at += slots
    best: list[bytes | None] = [None] * n
    for (_, s, reverse, upward), flats in zip(options, every, strict=True):
        some = np.array([i for i in range(n) if flats[i] == least[i]], np.intp)
        if not len(some):
            continue
        line = orders[s + 1 if upward else s][:, some].astype(np.intp)
        perm = orders[period][:, some].astype(np.intp)
        now, left = colours[:, some], times[some]
        for turn in range(int(left.max())):
            seen = np.take_along_axis(now, line, 0)
            names = _numbered(seen[::-1] if reverse else seen)
            for i, name, often in zip(some, names, left, strict=True):
                old = best[i]
                if turn < often and (old is None or name < old):
                    best[i] = name
            now = np.take_along_axis(now, perm, 0)
    classes = np.frombuffer(b"".join(b or b"" for b in best), np.uint8).reshape(n, strands).T
    return who, grid, np.ascontiguousarray(classes)


def _orders(knots: U8, strands: int) -> U8:
    """Return which strand stands where before every row and after the last, ``[P + 1, S, N]``."""
    state = np.empty((strands, knots.shape[-1]), np.uint8)
    state[:] = np.arange(strands, dtype=np.uint8)[:, None]
    masks = crossing_masks(knots)
    out = [state.copy()]
    for row, mask in enumerate(masks):
        swap_row(state, mask, row)
        out.append(state.copy())
    return np.stack(out)


def _numbered(colours: U8) -> list[bytes]:
    """Return every line of colours numbered by first appearance, as bytes."""
    strands, n = colours.shape
    out = np.zeros((n, strands), np.uint8)
    number = np.full((n, 256), 255, np.uint8)
    used = np.zeros(n, np.uint8)
    across = np.arange(n)
    for s in range(strands):
        mine = number[across, colours[s]]
        new = mine == 255
        mine = np.where(new, used, mine)
        number[across, colours[s]] = mine
        used += new
        out[:, s] = mine
    raw = out.tobytes()
    return [raw[k : k + strands] for k in range(0, len(raw), strands)]


def keys(grid: U8, classes: U8) -> npt.NDArray[np.uint64]:
    """Return the keys of canonical forms, uint64 ``[N]``.

    Args:
        grid: uint8 ``[P, S // 2, N]``.
        classes: uint8 ``[S, N]``.
    """
    strands, n = classes.shape
    out: npt.NDArray[Any] = np.zeros(n, np.uint64)
    for k in range(n):
        rows = ("".join(map(str, row[: slots_in_row(strands, r)].tolist()))
                for r, row in enumerate(grid[..., k]))  # fmt: skip
        text = "/".join(rows) + "|" + ",".join(map(str, classes[:, k].tolist()))
        out[k] = int(hashlib.sha256(text.encode()).hexdigest()[:16], 16)
    return out
