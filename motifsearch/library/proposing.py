"""From kinds to designs for a brief: coloured, judged as a search judges, and ranked.

The kinds that promise most (`motifsearch.library.screen`), or those that are most alike to what is
looked for (`motifsearch.library.alike`), are coloured (`motifsearch.library.colouring`) and judged
in full.  What keeps every limit is the pool that a gallery is chosen from, as after a search: the
best of every cell of the archive first, then the second best.  They also take their cells in the
archives of a run, so that a search can go on from there.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from motifsearch.base.arrays import F64, I64, U8
from motifsearch.library.alike import Looked, like_target, nearest
from motifsearch.library.building import together
from motifsearch.library.colouring import KEPT, Colourer
from motifsearch.library.columns import Kinds
from motifsearch.library.screen import Promising, screen
from motifsearch.library.store import Library
from motifsearch.search import loop
from motifsearch.search.brief import Brief
from motifsearch.search.genome import Genomes, Space
from motifsearch.search.island import Judge, space_of
from motifsearch.search.outcome import POOL_PER_PLACE, Choice, choices
from motifsearch.search.widths import open_widths
from motifsearch.simulate.thread_use import consumption

#: Colourings of one kind that are held against a wanted motif.
KEPT_FOR_TARGET: Final = 60


@dataclass(frozen=True)
class Proposed:
    """What a library has for a brief.

    Attributes:
        run: A run before its first generation, with the designs in its archives.
        pool: The designs that a gallery is chosen from, best first.
        looked_at: Kinds of the brief's width in the libraries.
        coloured: Designs that were judged in full.
        kept: Designs that keep every limit.
        each: By width, where the brief asks for several; else empty.
    """

    run: loop.Run
    pool: list[Choice]
    looked_at: int
    coloured: int
    kept: int
    each: Mapping[int, Proposed] = field(default_factory=dict)


@dataclass(frozen=True)
class _Kept:
    """Designs of one grid length that keep every limit.

    Attributes:
        space: What they share.
        genomes: N designs.
        cells: Their cells in the archive, int64 ``[N]``.
        utility: float64 ``[N]``.
        alike: float64 ``[N]``, how alike they are to what is looked for.
        eased: uint8 ``[N]``, whether they are known to be the least to work.
    """

    space: Space
    genomes: Genomes
    cells: I64
    utility: F64
    alike: F64
    eased: U8


def propose(libraries: Sequence[Library], brief: Brief, looked: Looked | None = None) -> Proposed:
    """Return what libraries have for a brief.

    Args:
        libraries: The libraries; a kind may stand in several.
        brief: The brief.
        looked: What designs shall be like; the wishes alone count when None.  It has one width, so
            the brief must ask for that one alone.
    """
    if brief.widths:
        return _together(
            brief, {s: propose(libraries, brief.of_width(s)) for s in open_widths(brief)}
        )
    judge = Judge(brief)
    colourer = Colourer(brief, judge)
    run = loop.new_run(brief)
    sizes = [size for library in libraries for size in library.sizes()]
    looked_at = sum(size.kinds for size in sizes if size.strands == brief.strands)
    most = KEPT
    found: list[Promising]
    if looked is not None:
        found = nearest(libraries, brief, looked)
    elif brief.target is not None:
        found, most = nearest(libraries, brief, like_target(brief.target, "")), KEPT_FOR_TARGET
    else:
        found = screen(libraries, brief)
    judged = 0
    kept = []
    for kinds, promise in _by_period(found):
        some, good = _judged(kinds, promise, brief, judge, colourer, most)
        judged += some
        if good is not None:
            kept.append(good)
            _settle(judge, run, good)
    pool = _pool(judge, kept, POOL_PER_PLACE * brief.gallery_size, looked)
    return Proposed(run, pool, looked_at, judged, sum(len(k.cells) for k in kept))


def _together(brief: Brief, each: Mapping[int, Proposed]) -> Proposed:
    """Return what libraries have for several widths as one."""
    run = loop.new_run(brief)
    for strands, found in each.items():
        for k, island in zip(run.of_width(strands), found.run.islands, strict=True):
            run.islands[k] = replace(run.islands[k], archive=island.archive)
    parts = each.values()
    return Proposed(
        run,
        [one for part in parts for one in part.pool],
        sum(part.looked_at for part in parts),
        sum(part.coloured for part in parts),
        sum(part.kept for part in parts),
        each,
    )


def _by_period(found: Sequence[Promising]) -> list[tuple[Kinds, F64]]:
    """Return kinds by grid length, each once, with what they promise."""
    promise = {int(k): p for part in found
               for k, p in zip(part.kinds["key"], part.promise.tolist(), strict=True)}  # fmt: skip
    return [
        (kinds, np.array([promise[int(k)] for k in kinds["key"]]))
        for kinds in together(part.kinds for part in found)
    ]


def _judged(
    kinds: Kinds, promise: F64, brief: Brief, judge: Judge, colourer: Colourer, most: int
) -> tuple[int, _Kept | None]:
    """Return how many designs of some kinds were judged, and those that keep every limit."""
    space = space_of(brief, kinds.period)
    thick = judge.setting.diameters_mm
    mean = np.full(len(thick), thick.mean())
    rows = judge.setting.model.rows_for(brief.length_mm, mean)
    loops, path = consumption(
        kinds.knots(), np.zeros((kinds.strands, len(kinds)), np.uint8), rows, judge.setting.model,
        mean,
    )  # fmt: skip
    who, orders = colourer.coloured(kinds, loops + path, most)
    if not len(who):
        return 0, None
    plain = np.zeros(len(who), np.uint8)
    genomes = Genomes(
        plain, plain, np.ascontiguousarray(kinds.knots()[..., who]), orders.astype(np.uint8)
    )
    seen, cells = judge.judge_designs(genomes, genomes.knots, genomes.colours, space)
    good = np.flatnonzero(seen.violation == 0)
    if not len(good):
        return len(who), None
    chosen = who[good]
    return len(who), _Kept(
        space, genomes.take(good), cells[good], seen.utility[good], promise[chosen],
        kinds["eased"][chosen],
    )  # fmt: skip


def _settle(judge: Judge, run: loop.Run, kept: _Kept) -> None:
    """Let designs take their cells on the island with the shortest grid that theirs fit into."""
    period = kept.space.period
    fitting = [i for i in run.islands if i.space.period % period == 0]
    if not fitting:
        return
    island = min(fitting, key=lambda i: i.space.period)
    longer = np.tile(kept.genomes.knots, (island.space.period // period, 1, 1))
    genomes = replace(kept.genomes, knots=longer)
    if island.space.period == period:
        island.archive.add(kept.cells, kept.utility, genomes)
        return
    # On a longer grid the colours may come again too late to be scored.
    seen, cells = judge.judge(genomes, island.space)
    good = np.flatnonzero(seen.violation == 0)
    island.archive.add(cells[good], seen.utility[good], genomes.take(good))


def _pool(judge: Judge, kept: Sequence[_Kept], most: int, looked: Looked | None) -> list[Choice]:
    """Return the designs that a gallery is chosen from, best first."""
    if not kept:
        return []
    part = np.repeat(np.arange(len(kept)), [len(k.cells) for k in kept])
    inside = np.concatenate([np.arange(len(k.cells)) for k in kept])
    cells, utility, alike = (
        np.concatenate([getattr(k, name) for k in kept]) for name in ("cells", "utility", "alike")
    )
    if looked is not None:
        order = np.lexsort((np.arange(len(part)), -utility, -np.round(alike, 6)))
    else:
        by_cell = np.lexsort((np.arange(len(part)), -utility, cells))
        cell = cells[by_cell]
        starts = np.r_[0, np.flatnonzero(np.diff(cell)) + 1]
        nth = np.empty(len(part), np.int64)
        nth[by_cell] = np.arange(len(part)) - np.repeat(starts, np.diff(np.r_[starts, len(part)]))
        order = np.lexsort((np.arange(len(part)), -utility, nth))
    order = order[:most]
    out: list[tuple[int, Choice]] = []
    for k, one in enumerate(kept):
        mine = np.flatnonzero(part[order] == k)
        some = inside[order[mine]]
        made = choices(judge, one.genomes.take(some), one.space)
        for place, n, choice in zip(mine.tolist(), some, made, strict=True):
            choice = replace(choice, eased=bool(one.eased[n]))
            if looked is not None:
                share = float(one.alike[n])
                note = f"Its lines are those of {looked.name} to {share:.0%}."
                choice = replace(choice, worth=round(share, 6), notes=(note,))
            out.append((place, choice))
    return [choice for _, choice in sorted(out, key=lambda item: item[0])]
