"""The first screen: of all kinds of one width those that can best meet a brief.

Limits that do not hang on colours are judged from the columns, the others by what the best
colouring could reach.  Wishes likewise: a kind's *promise* is the weighted mean of the degrees
(`motifsearch.search.wishes`) with contrast met in full, so no kind is better than it promises, up
to what evenness is rounded by (`motifsearch.library.columns`, thread).

So that what is shown stays varied, at most `PER_CELL` kinds of one cell of the search's archive go
on, best first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from motifsearch.base.arrays import F64, I64
from motifsearch.library.columns import Kinds, classes_kept, use_mm
from motifsearch.library.store import Library
from motifsearch.pattern.knots import knots_in_grid
from motifsearch.search.archive import SHAPE
from motifsearch.search.brief import Brief
from motifsearch.search.wishes import CARRY_EASY, KINDS_EASY, STEPS_EASY, degrees
from motifsearch.thread.model import DEFAULT_DIAMETER_MM

#: Kinds of one cell of the archive that go on to the colouring.
PER_CELL: Final = 6
#: Kinds that go on in all.
MOST: Final = 1500
#: How far the use of a long band may be from that of this one, of evenness.
ROUNDING: Final = 0.03
#: What the limits are judged from; every question reads these.
FIRST: Final = ("classes", "repeat_rows", "lone", "flatness", "used", "border", "symmetry",
                "stretches", "round_rows", "strands_of")  # fmt: skip
SECOND: Final = ("movement", "coherence", "shares", "kinds", "returns", "frieze")
THREAD: Final = ("cycle", "crossing", "returning", "waits")


@dataclass(frozen=True)
class Promising:
    """Kinds of one size that passed the screen.

    Attributes:
        kinds: Their columns, all of them.
        promise: float64 ``[N]``, at most how well they can meet the wishes.
        looked_at: How many kinds of this size there were.
    """

    kinds: Kinds
    promise: F64
    looked_at: int


def screen(library: Library, brief: Brief) -> list[Promising]:
    """Return the most promising kinds of a brief's width, by size.

    Args:
        library: The library.
        brief: The brief.
    """
    sizes = [s for s in library.sizes() if s.strands == brief.strands]
    found = []
    for size in sizes:
        where, promise, cells = _of_size(library, brief, size.period)
        found.append((size, where, promise, cells))
    kept = _best([(p, c) for _, _, p, c in found])
    out = []
    for (size, where, promise, _), keep in zip(found, kept, strict=True):
        if len(keep):
            kinds = library.read(size.strands, size.period).take(where[keep])
            out.append(Promising(kinds, promise[keep], size.kinds))
    return out


def _of_size(library: Library, brief: Brief, period: int) -> tuple[I64, F64, I64]:
    """Return the kinds that break no limit of their own: index, promise and cell of each."""
    strands = brief.strands
    limits = library.read(strands, period, FIRST)
    where = np.flatnonzero(_allowed(limits, brief))
    more = library.read(strands, period, SECOND)
    both = Kinds(strands, period, {**limits.columns, **more.columns}).take(where)
    even = np.ones(len(where))
    if brief.wishes.get("evenness", 0) > 0 or brief.limits.evenness_min > 0:
        even = _evenness(library.read(strands, period, THREAD).take(where), brief)
        good = np.flatnonzero(even >= brief.limits.evenness_min - ROUNDING)
        where, both, even = where[good], both.take(good), even[good]
    return where, _promise(both, brief, even), _cells(both)


def _allowed(k: Kinds, brief: Brief) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    limits = brief.limits
    good = (k["classes"] >= brief.colours_min) & (k["classes"] <= brief.colours_max)
    good &= k["classes"] <= len(brief.palette)
    good &= k["repeat_rows"] <= limits.repeat_rows_max
    if limits.flatness_min > 0:
        good &= k["flatness"] >= np.float32(limits.flatness_min - 1e-6)
    if limits.lone_max < 1:
        good &= k["lone"] <= np.float32(limits.lone_max + 1e-6)
    codes = sum(1 << c for c in limits.codes)
    if codes != 15:
        good &= (k["used"] & np.uint8(~codes & 15)) == 0
    if limits.symmetric:
        good &= k["symmetry"] == 1
    if limits.border:
        good &= k["border"] == 1
    if limits.steps_max:
        good &= k["stretches"] * k["round_rows"] <= np.float32(limits.steps_max + 1e-3)
    if brief.folded:
        odd = sum((k["strands_of"][c] & 1 for c in range(classes_kept(k.strands))), np.uint8(0))
        good &= odd <= k.strands % 2
    return np.asarray(good)


def _evenness(kinds: Kinds, brief: Brief) -> F64:
    """Return the evenness of a long band, float64 ``[N]``, with threads of the mean thickness."""
    model = brief.stash.model
    thick = [brief.stash.thread(n).diameter_mm for n in brief.palette] or [DEFAULT_DIAMETER_MM]
    d = float(np.mean(thick))
    p, q = model.row_gauge * d, model.strand_gauge * d
    loops = model.loop_mm(False, d, d), model.loop_mm(True, d, d)
    use = use_mm(kinds, 1000, loops, (float(np.hypot(p, q)), p, model.bend * d))
    out: F64 = (use.min(0) / use.max(0)).astype(np.float64)
    return out


def _promise(k: Kinds, brief: Brief, evenness: F64) -> F64:
    longest = brief.limits.repeat_rows_max
    per_row = knots_in_grid(k.strands, 2) / 2
    steps = k["stretches"] * k["round_rows"]
    few = KINDS_EASY[np.clip(k["kinds"], 0, 4)]
    short = 1.0 - np.clip((steps - STEPS_EASY[0]) / (STEPS_EASY[1] - STEPS_EASY[0]), 0, 1)
    carry = 1.0 - k["stretches"] / per_row
    long = np.clip((carry - CARRY_EASY[0]) / (CARRY_EASY[1] - CARRY_EASY[0]), 0, 1)
    raw = {
        "movement": k["movement"],
        "calm": 1.0 - k["lone"],
        "coherence": k["coherence"],
        "balance": _balance(k, brief),
        "symmetry": k["symmetry"],
        "evenness": evenness,
        "contrast": np.ones(len(k)),
        "flatness": k["flatness"],
        "short_repeat": np.clip(1.0 - k["repeat_rows"] / (longest + 2.0), 0.0, 1.0),
        "easy": 0.5 * few + 0.25 * short + 0.25 * long,
        "likeness": np.ones(len(k)),
    }
    met = degrees({n: np.asarray(v, np.float64) for n, v in raw.items()}, longest)
    total = sum(brief.wishes.values())
    mean = sum(brief.wishes[n] * met[n] for n in brief.wishes if brief.wishes[n] > 0)
    return np.asarray(mean / total, np.float64)


def _balance(k: Kinds, brief: Brief) -> F64:
    """Return the balance; with wanted shares, of the best colouring by size of share."""
    shares = np.asarray(k["shares"], np.float64)
    if brief.shares:
        wanted = np.sort([brief.shares.get(n, 0.0) for n in brief.palette])[::-1][: len(shares)]
        wanted = np.r_[wanted, np.zeros(len(shares) - len(wanted))]
        off: F64 = np.abs(np.sort(shares, 0)[::-1] - wanted[:, None]).sum(0)
        return 1.0 - 0.5 * off
    safe = np.where(shares > 0, shares, 1.0)
    entropy = -(safe * np.log(safe)).sum(0)
    classes = k["classes"].astype(np.int64)
    return np.where(classes > 1, entropy / np.log(np.maximum(classes, 2)), 1.0)


def _cells(k: Kinds) -> I64:
    """Return the cell of every kind in the search's archive (`motifsearch.search.archive`)."""
    parts = (
        k["frieze"].astype(np.int64),
        np.clip(k["movement"] * 6, 0, 5).astype(np.int64),
        np.clip(k["returns"] * 4, 0, 3).astype(np.int64),
        np.clip(k["classes"].astype(np.int64) - 1, 0, 3),
        np.clip(np.log2(np.maximum(k["repeat_rows"], 2) / 3.0), 0, 4).astype(np.int64),
    )
    return np.ravel_multi_index(parts, SHAPE).astype(np.int64)


def _best(parts: Sequence[tuple[F64, I64]]) -> list[I64]:
    """Return which kinds of every part go on: the best, at most `PER_CELL` of one cell."""
    if not parts:
        return []
    promise = np.concatenate([p for p, _ in parts])
    cells = np.concatenate([c for _, c in parts])
    part = np.repeat(np.arange(len(parts)), [len(p) for p, _ in parts])
    inside = np.concatenate([np.arange(len(p)) for p, _ in parts])
    # Of a million only the front is sorted: what stands far behind cannot come among the best.
    order = np.lexsort((inside, part, -np.round(promise, 6)))
    cell = cells[order]
    by_cell = np.argsort(cell, kind="stable")
    starts = np.r_[0, np.flatnonzero(np.diff(cell[by_cell])) + 1]
    place = np.arange(len(by_cell)) - np.repeat(starts, np.diff(np.r_[starts, len(by_cell)]))
    nth = np.empty(len(order), np.int64)
    nth[by_cell] = place
    chosen = order[nth < PER_CELL][:MOST]
    return [np.sort(inside[chosen[part[chosen] == k]]) for k in range(len(parts))]
