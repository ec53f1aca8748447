"""The first screen: of all kinds of one width those that can best meet a brief.

Limits that do not hang on colours are judged from the columns, the others by what the best
colouring could reach.  Wishes likewise: a kind's *promise* is the weighted mean of the degrees
(`motifsearch.search.wishes`) with contrast met in full, so no kind is better than it promises, up
to what evenness is rounded by (`motifsearch.library.columns`, thread).

So that what is shown stays varied, at most `PER_CELL` kinds of one cell of the search's archive go
on, best first.  Blocks of kinds are looked at one after the other, so memory stays small however
many there are.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from motifsearch.base.arrays import F64, I64, Bool
from motifsearch.library.columns import SCREEN, Kinds, layout, use_mm
from motifsearch.library.store import Block, Library, Size
from motifsearch.pattern.knots import knots_in_grid
from motifsearch.search.archive import SHAPE
from motifsearch.search.brief import Brief
from motifsearch.search.records import RECORDS, TASTE
from motifsearch.search.wishes import CARRY_EASY, KINDS_EASY, STEPS_EASY, degrees
from motifsearch.simulate.thread_use import evenness
from motifsearch.thread.model import ThreadModel

F32 = npt.NDArray[np.float32]

#: Kinds of one cell of the archive that go on to the colouring.
PER_CELL: Final = 6
#: Kinds that go on in all.
MOST: Final = 1200
#: Kinds that are sorted first; more where these lie in too few cells.
FRONT: Final = 20_000
#: Steps that promises are told apart by: sorting bytes is several times as fast.
STEPS: Final = (1 << 16) - 1
#: How far the use of this band may be from that of a long one, of evenness.
ROUNDING: Final = 0.03
#: What the limits are judged from, and what the wishes are.
LIMITED: Final = ("classes", "odd", "repeat_rows", "lone", "flatness", "used", "border", "symmetry",
                  "stretches", "round_rows")  # fmt: skip
WISHED: Final = ("movement", "coherence", "balance", "even", "kinds", "returns", "frieze")


@dataclass(frozen=True)
class Promising:
    """Kinds of one size that passed the screen.

    Attributes:
        kinds: Their columns, all of them.
        promise: float64 ``[N]``, at most how well they can meet the wishes; or how alike they are
            to what was asked for.
    """

    kinds: Kinds
    promise: F64


@dataclass(frozen=True)
class Front:
    """Kinds of one size of one library that break no limit of their own.

    Attributes:
        library: The library.
        size: The size.
        where: Their numbers among all of the size, int64 ``[N]``, ascending.
        promise: float32 ``[N]``.
        cells: Their cells in the search's archive, int32 ``[N]``.
    """

    library: Library
    size: Size
    where: I64
    promise: F32
    cells: npt.NDArray[np.int32]


def screen(libraries: Sequence[Library], brief: Brief) -> list[Promising]:
    """Return the most promising kinds of a brief's width.

    Args:
        libraries: The libraries.
        brief: The brief.
    """
    fronts = [
        look(library, size, brief)
        for library in libraries
        for size in library.sizes()
        if size.strands == brief.strands
    ]
    out = []
    for front, keep in zip(fronts, best(fronts), strict=True):
        if len(keep):
            size = front.size
            kinds = front.library.some(size.strands, size.period, front.where[keep])
            out.append(Promising(kinds, front.promise[keep].astype(np.float64)))
    return out


def look(library: Library, size: Size, brief: Brief) -> Front:
    """Return the kinds of one size that break no limit of their own, with what they promise."""
    parts = [_block(library, size, block, brief)
             for block in library.blocks(size.strands, size.period)]  # fmt: skip
    where, promise, cells = (np.concatenate(p) for p in zip(*parts, strict=True))
    return Front(library, size, where, promise, cells)


def _block(
    library: Library, size: Size, block: Block, brief: Brief
) -> tuple[I64, F32, npt.NDArray[np.int32]]:
    def read(names: Sequence[str]) -> dict[str, npt.NDArray[Any]]:
        return {n: library.column(block, n, np.dtype(SCREEN[n])) for n in names}

    limits = read(LIMITED)
    where = np.flatnonzero(np.logical_and.reduce(list(allowed(limits, brief).values())))
    if not len(where):
        return where, np.zeros(0, np.float32), np.zeros(0, np.int32)
    every = len(where) == block.kinds
    k = {n: v if every else v[where] for n, v in {**limits, **read(WISHED)}.items()}
    wants_even = brief.wishes.get("evenness", 0) > 0 or brief.limits.evenness_min > 0
    if wants_even and not _stated(brief.stash.model):
        k["even"] = _evenness(library, size, block, brief)[where]
    if brief.limits.evenness_min > 0:
        good = np.flatnonzero(k["even"] >= brief.limits.evenness_min - ROUNDING)
        where, k = where[good], {n: v[good] for n, v in k.items()}
    if brief.shares:
        kind, shape = layout(size.strands, size.period)["shares"]
        k["balance"] = _near_shares(library.column(block, "shares", kind, shape)[:, where], brief)
    return where + block.start, _promise(k, brief), _cells(k)


def allowed(k: dict[str, npt.NDArray[Any]], brief: Brief) -> dict[str, Bool]:
    """Return which kinds keep every limit that does not hang on colours, by its key."""
    limits = brief.limits
    out: dict[str, Bool] = {
        "colours_min": k["classes"] >= brief.colours_min,
        "colours_max": k["classes"] <= min(brief.colours_max, len(brief.palette)),
        "limits.repeat_rows_max": k["repeat_rows"] <= limits.repeat_rows_max,
    }
    if limits.flatness_min > 0:
        out["limits.flatness_min"] = k["flatness"] >= np.float32(limits.flatness_min - 1e-6)
    if limits.lone_max < 1:
        out["limits.lone_max"] = k["lone"] <= np.float32(limits.lone_max + 1e-6)
    codes = sum(1 << c for c in limits.codes)
    if codes != 15:
        out["limits.knots"] = (k["used"] & np.uint8(~codes & 15)) == 0
    if limits.symmetric:
        out["limits.symmetric"] = k["symmetry"] == 1
    if limits.border:
        out["limits.border"] = k["border"] == 1
    if limits.steps_max:
        most = np.float32(limits.steps_max + 1e-3)
        out["limits.steps_max"] = k["stretches"] * k["round_rows"] <= most
    if brief.folded:
        out["folded"] = k["odd"] <= brief.strands % 2
    return out


def kept_alone(libraries: Sequence[Library], brief: Brief) -> dict[str, int]:
    """Return for every limit how many kinds of the brief's width keep it, by its label."""
    total: dict[str, int] = {}
    for library in libraries:
        for size in library.sizes():
            if size.strands == brief.strands:
                k = dict(library.read(size.strands, size.period, [*LIMITED, "even"]).columns)
                kept = allowed(k, brief)
                if brief.limits.evenness_min > 0:
                    kept["limits.evenness_min"] = k["even"] >= brief.limits.evenness_min - ROUNDING
                for key, good in kept.items():
                    label = RECORDS[key].label
                    total[label] = total.get(label, 0) + int(good.sum())
    return total


def _stated(model: ThreadModel) -> bool:
    """Return whether a model's evenness is that of the stated constants."""
    plain = ThreadModel()
    same = ("row_gauge", "strand_gauge", "bend", "crossing", "returning", "loop_scale")
    return all(getattr(model, name) == getattr(plain, name) for name in same)


def _evenness(library: Library, size: Size, block: Block, brief: Brief) -> F32:
    """Return the evenness of a long band by a maker's own tension, float32 ``[kinds]``."""
    shapes = layout(size.strands, size.period)
    names = ("cycle", "crossing", "returning", "waits")
    columns = {name: library.column(block, name, *shapes[name]) for name in names}
    use = use_mm(Kinds(size.strands, size.period, columns), 1000, brief.stash.model, 1.0)
    return evenness(use)[0].astype(np.float32)


def _promise(k: dict[str, npt.NDArray[Any]], brief: Brief) -> F32:
    longest = brief.limits.repeat_rows_max
    per_row = np.float32(knots_in_grid(brief.strands, 2) / 2)
    one = np.ones(len(k["lone"]), np.float32)
    raw: dict[str, Any] = dict.fromkeys(
        ("movement", "calm", "coherence", "balance", "symmetry", "evenness", "contrast", "flatness",
         "short_repeat", "easy", "likeness"), one,
    )  # fmt: skip
    makers: dict[str, Callable[[], Any]] = {
        "movement": lambda: k["movement"],
        "calm": lambda: 1.0 - k["lone"],
        "coherence": lambda: k["coherence"],
        "balance": lambda: k["balance"],
        "symmetry": lambda: k["symmetry"],
        "evenness": lambda: k["even"],
        "flatness": lambda: k["flatness"],
        "short_repeat": lambda: np.clip(
            1.0 - k["repeat_rows"].astype(np.float32) / np.float32(longest + 2.0), 0.0, 1.0
        ),
        "easy": lambda: _easy(k, per_row),
    }
    for name, make in makers.items():
        if brief.wishes.get(name, 0) > 0:
            raw[name] = make()
    met = degrees(raw, longest)
    total = sum(brief.wishes.values())
    mean = np.zeros(len(one), np.float32)
    for name, weight in brief.wishes.items():
        if weight > 0:  # what is to somebody's taste shows in colours: at most in full
            met_here = one if name == TASTE.name else met[name].astype(np.float32)
            mean += np.float32(weight / total) * met_here
    return mean


def _easy(k: dict[str, npt.NDArray[Any]], per_row: np.float32) -> F32:
    steps = k["stretches"] * k["round_rows"]
    few = KINDS_EASY.astype(np.float32)[np.minimum(k["kinds"], 4)]
    short = 1.0 - np.clip((steps - STEPS_EASY[0]) / (STEPS_EASY[1] - STEPS_EASY[0]), 0, 1)
    carry = 1.0 - k["stretches"] / per_row
    long = np.clip((carry - CARRY_EASY[0]) / (CARRY_EASY[1] - CARRY_EASY[0]), 0, 1)
    return np.asarray(0.5 * few + 0.25 * short + 0.25 * long, np.float32)


def _near_shares(shares: npt.NDArray[Any], brief: Brief) -> F32:
    """Return how near shares can come to those wanted: both by size."""
    wanted = np.sort([brief.shares.get(n, 0.0) for n in brief.palette])[::-1]
    room = max(len(shares), len(wanted))
    mine = np.zeros((room, shares.shape[1]))
    mine[: len(shares)] = np.sort(shares, 0)[::-1]
    theirs = np.r_[wanted, np.zeros(room - len(wanted))]
    near: F32 = (1.0 - 0.5 * np.abs(mine - theirs[:, None]).sum(0)).astype(np.float32)
    return near


def _cells(k: dict[str, npt.NDArray[Any]]) -> npt.NDArray[np.int32]:
    """Return the cell of every kind in the search's archive (`motifsearch.search.archive`)."""
    # The edges of log2(repeat / 3): 2 and 4 rows are the first, then every doubling.
    rows = np.searchsorted(np.array([6, 12, 24, 48]), k["repeat_rows"], side="right")
    parts = (
        k["frieze"],
        np.minimum(k["movement"] * np.float32(6), 5).astype(np.int32),
        np.minimum(k["returns"] * np.float32(4), 3).astype(np.int32),
        np.minimum(k["classes"] - 1, 3),
        rows.astype(np.int32),
    )
    out = np.zeros(len(k["frieze"]), np.int32)
    for part, size in zip(parts, SHAPE, strict=True):
        out *= np.int32(size)
        out += part
    return out


def best(fronts: Sequence[Front], per_cell: int = PER_CELL, most: int = MOST) -> list[I64]:
    """Return which kinds of every front go on: the best, at most `per_cell` of one cell.

    Args:
        fronts: The fronts.
        per_cell: Kinds of one cell.
        most: Kinds in all.

    Returns:
        Indices into each front, int64, ascending.
    """
    total = sum(len(f.where) for f in fronts)
    if not total:
        return [np.zeros(0, np.int64) for _ in fronts]
    promise = np.concatenate([f.promise for f in fronts])
    cells = np.concatenate([f.cells for f in fronts]).astype(np.uint16)
    behind = STEPS - np.rint(np.clip(promise, 0, 1) * np.float32(STEPS)).astype(np.uint16)
    number = np.cumsum(np.bincount(behind, minlength=STEPS + 1))
    ahead = FRONT
    while True:
        # All that promise as much as the last of the front are in it.
        edge = np.searchsorted(number, min(ahead, total))
        some = np.flatnonzero(behind <= edge)
        # Equal promises stay in the order of the library.
        order = some[np.argsort(behind[some], kind="stable")]
        by_cell = np.argsort(cells[order], kind="stable")
        cell = cells[order][by_cell]
        starts = np.r_[0, np.flatnonzero(np.diff(cell)) + 1]
        nth = np.empty(len(order), np.int64)
        nth[by_cell] = np.arange(len(cell)) - np.repeat(starts, np.diff(np.r_[starts, len(cell)]))
        chosen = order[nth < per_cell][:most]
        if len(chosen) >= most or len(some) == total:
            break
        ahead *= 4
    edges = np.cumsum([0, *(len(f.where) for f in fronts)])
    return [
        np.sort(chosen[(chosen >= low) & (chosen < high)]) - low for low, high in pairwise(edges)
    ]
