"""The run: islands that evolve apart and exchange designs at fixed generations.

Between exchanges every island is a pure function of its state, so the run gives the same bytes
whether its islands are evolved here or by 1, 2 or 4 worker processes, and whether 50 generations
are run at once or as 25 and 25.  At an exchange every island receives elites of the island before
it, brought to its own period.  Islands of several widths take turns (`motifsearch.search.widths`).
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, field, replace
from typing import Any

import moocore
import numpy as np

from motifsearch.pattern.design import Pattern
from motifsearch.search.archive import Archive
from motifsearch.search.brief import Brief
from motifsearch.search.genome import Genomes, develop, genomes_of, join, pattern_of
from motifsearch.search.island import Island, Judge, new_island, run_epochs
from motifsearch.search.sharing import hands, shared
from motifsearch.search.variation import at_period
from motifsearch.search.widths import Judges, open_widths, rest_after, turn
from motifsearch.thread.cutting import CutList, cut_list
from motifsearch.thread.plan import can_cut
from motifsearch.thread.stash import strand_diameters_mm

#: Elites that go to the next island at an exchange.
MIGRANTS = 20
#: Relative growth below which hypervolume and archive count as being at rest.
REST = 1e-3
#: Points whose hypervolume is watched; more cost seconds in five dimensions.
FRONT = 150
#: Records of exchanges that are kept at most; memory stays flat however long a run is.
PROGRESS_LENGTH = 1000
#: Generations between two looks at the clock and at what was asked meanwhile.
AT_ONCE = 5
#: Elites of every island that are held against the exact cutting plan at an exchange.
PROVEN = 3
SHY = 0.02


@dataclass
class Run:
    """The state of a run between two generations.

    Attributes:
        islands: The islands.
        rng_state: State of the generator that draws migrants.
        generation: Generations done.
        pending: Per island, genomes that join at its next generation, or None.
        progress: Per exchange: generation, best, cells, quality (the sum of the elites' wishes),
            hypervolume.
        share: The share of the thread on hand that the fast bound counts on.
        refused: Elites that the bound let through and the exact plan refused.
        asked: What the search was asked (`motifsearch.search.anew.asked_of`); empty when unknown.
    """

    islands: list[Island]
    rng_state: dict[str, Any]
    generation: int = 0
    pending: list[Genomes | None] = field(default_factory=list)
    progress: list[dict[str, float]] = field(default_factory=list)
    share: float = 1.0
    refused: int = 0
    asked: dict[str, Any] = field(default_factory=dict)

    @property
    def scored(self) -> int:
        """Designs scored on all islands."""
        return sum(i.scored for i in self.islands)

    def of_width(self, strands: int) -> list[int]:
        """Return which islands are of so many strands, in order."""
        return [k for k, i in enumerate(self.islands) if i.space.strands == strands]


def part_of(run: Run, strands: int) -> Run:
    """Return the part of a run that looks at designs of so many strands; it cannot be gone on with.

    Args:
        run: The run.
        strands: S.
    """
    islands = [run.islands[k] for k in run.of_width(strands)]
    return replace(run, islands=islands, generation=max(i.generation for i in islands))


def new_run(brief: Brief, seeds: Iterable[Pattern] = ()) -> Run:
    """Return a run before its first generation.

    Args:
        brief: The brief.
        seeds: Designs to start from; those of another width are left out.
    """
    root = np.random.SeedSequence(brief.search.seed)
    sizes = [(brief.of_width(s), p) for s in brief.every_width for p in brief.search.periods]
    parts = root.spawn(len(sizes) + 1)
    rng = np.random.Generator(np.random.PCG64(parts[-1]))
    islands = [new_island(one, p, s) for (one, p), s in zip(sizes, parts[:-1], strict=True)]
    patterns = list(seeds)
    pending: list[Genomes | None] = []
    for island in islands:
        found = [genomes_of(p, island.space, brief.palette) for p in patterns]
        fitting = [g for g in found if g is not None]
        pending.append(join(fitting) if fitting else None)
    return Run(islands, dict(rng.bit_generator.state), pending=pending)


def _exchange(run: Run, strands: int) -> None:
    """Draw the migrants of every island of one width for its next generation."""
    rng = np.random.Generator(np.random.PCG64())
    rng.bit_generator.state = run.rng_state
    ring = run.of_width(strands)
    for n, k in enumerate(ring):
        island, donor = run.islands[k], run.islands[ring[n - 1]]
        if donor is island or not len(donor.archive):
            continue
        some = rng.choice(len(donor.archive), min(MIGRANTS, len(donor.archive)), replace=False)
        genomes = donor.archive.genomes.take(np.sort(some))
        grid, colours = develop(genomes, donor.space)
        run.pending[k] = at_period(genomes, grid, colours, island.space.period)
    run.rng_state = dict(rng.bit_generator.state)


def _prove(brief: Brief, run: Run, strands: int) -> None:
    """Hold the best elites against the exact plan; drop those refused and trust the bound less.

    Those of the islands of one width, which have evolved since they were last looked at.

    A design that comes from the bound's margin is likely to fail again, so one refusal lowers the
    share of the thread that the bound counts on by `SHY`.
    """
    inks = [brief.stash.thread(name).colour for name in brief.palette]
    for k in run.of_width(strands):
        island = run.islands[k]
        archive = island.archive
        best = np.lexsort((archive.cells, -archive.utility))[:PROVEN]
        grid, colours = develop(archive.genomes.take(best), island.space)
        bad = []
        for n, where in enumerate(best):
            pattern = pattern_of(grid[..., n], colours[:, n], "", brief.palette, inks)
            if can_cut(cuts_for(brief, pattern), brief.stash) is False:
                bad.append(int(where))
        if bad:
            keep = np.setdiff1d(np.arange(len(archive)), bad)
            island.archive = Archive(
                archive.cells[keep], archive.utility[keep], archive.genomes.take(keep)
            )
            run.refused += len(bad)
            run.share = round(max(0.5, run.share - SHY), 6)


def cuts_for(brief: Brief, pattern: Pattern) -> CutList:
    """Return the cut list of a design for the brief's band."""
    return cut_list(
        pattern,
        brief.length_mm,
        model=brief.stash.model,
        diameters_mm=strand_diameters_mm(pattern, brief.stash),
        allowances=brief.allowances,
        folded=brief.folded,
        goal=brief.pairing,
        stash=brief.stash if brief.pairing == "fit" else None,
        simple=brief.cut_style == "simple",
    )


def hypervolume(islands: list[Island]) -> float:
    """Return the share of the unit box of objectives that the feasible designs dominate.

    Of every island the first `FRONT` designs count, in the order of selection.
    """
    points = []
    for island in islands:
        if island.population is not None:
            head = island.population.costs[:, :FRONT]
            points.append(head[:, island.population.violation[:FRONT] == 0])
    costs = np.concatenate(points, 1).T if points else np.zeros((0, 1))
    if not len(costs):
        return 0.0
    front = moocore.filter_dominated(np.ascontiguousarray(costs))[:FRONT]
    return float(moocore.hypervolume(front, ref=np.ones(front.shape[1])))


def _note_progress(run: Run) -> None:
    best = max((float(i.archive.utility.max(initial=0.0)) for i in run.islands), default=0.0)
    run.progress.append(
        {
            "generation": run.generation,
            "best": best,
            "cells": sum(len(i.archive) for i in run.islands),
            "quality": round(sum(float(i.archive.utility.sum()) for i in run.islands), 6),
            "hypervolume": round(hypervolume(run.islands), 9),
        }
    )

    if len(run.progress) > PROGRESS_LENGTH:
        # Of a long run every second record of the older half is kept, again and again.
        half = PROGRESS_LENGTH // 2
        run.progress[:half] = run.progress[:half:2]


def at_rest(progress: list[dict[str, float]], exchanges: int) -> bool:
    """Return whether hypervolume and archive have been at rest for so many exchanges."""
    if exchanges == 0 or len(progress) <= exchanges:
        return False
    then, now = progress[-1 - exchanges], progress[-1]
    return all(now[k] <= then[k] * (1 + REST) for k in ("hypervolume", "quality", "best"))


def _work(
    judge: Judge,
    islands: Sequence[Island],
    steps: int,
    size: int,
    seeds: Sequence[Genomes | None],
) -> list[Island]:
    return run_epochs(judge, islands, steps, size, seeds)


def together(number: int, executor: Executor | None) -> list[list[int]]:
    """Return which islands are evolved side by side: as many lots as there are workers.

    Islands that are scored together take less time, and none of them comes out another for it.

    Args:
        number: Of islands.
        executor: The workers; where it does not say how many it has, every island is a lot.
    """
    lots = hands(executor, number)
    # Neighbours are alike in length: dealt out in turn, the lots take about as long.
    return [list(range(first, number, lots)) for first in range(lots)]


def advance(judge: Judge, run: Run, generations: int, executor: Executor | None) -> Run:
    """Evolve every island of the judge's width, here or by the executor's workers."""
    size = judge.brief.search.population
    pending = list(run.pending) or [None] * len(run.islands)
    mine = run.of_width(judge.brief.strands)
    lots = [[mine[n] for n in lot] for lot in together(len(mine), executor)]
    work = [
        (judge, [run.islands[k] for k in lot], generations, size, [pending[k] for k in lot])
        for lot in lots
    ]
    islands = list(run.islands)
    for lot, part in zip(lots, shared(executor, _work, work), strict=True):
        for k, island in zip(lot, part, strict=True):
            islands[k], pending[k] = island, None
    return replace(
        run,
        islands=islands,
        generation=run.generation + generations,
        pending=pending,
        progress=list(run.progress),
    )


def evolve(
    brief: Brief,
    run: Run,
    *,
    executor: Executor | None = None,
    generations: int | None = None,
    seconds: float | None = None,
    rest_from: int = 0,
    stop: Callable[[], str] = lambda: "",
    on_exchange: Callable[[Run], None] = lambda run: None,
) -> tuple[Run, str]:
    """Evolve until something says stop.

    Args:
        brief: The brief.
        run: Where to go on.
        executor: Workers; None to work in this process.
        generations: In all, those done already included; the brief's when left out.
        seconds: From now on; the brief's when left out.
        rest_from: The generation from which on rest is looked for; later than 0 when a run that
            had come to rest is to go on all the same.
        stop: Asked every few generations; a reason such as "interrupted" stops the run.
        on_exchange: Called after every exchange, with the run as it would be resumed.

    Returns:
        The run and why it stopped: whole (every design was looked at), generations, seconds, rest,
        or what `stop` said.
    """
    settings = brief.search
    most = settings.generations if generations is None else generations
    limit = settings.seconds if seconds is None else seconds
    started = time.monotonic()
    widths, rest = open_widths(brief), rest_after(brief)
    while True:
        islands = [island for island in run.islands if island.space.strands in widths]
        if all(island.whole for island in islands):
            return run, "whole"
        if run.generation >= most:
            return run, "generations"
        if limit is not None and time.monotonic() - started >= limit:
            return run, "seconds"
        counting = any(island.counting for island in islands)
        since = [p for p in run.progress if p["generation"] >= rest_from]
        if not counting and at_rest(since, rest):
            return run, "rest"
        said = stop()
        if said:
            return run, said
        every = settings.exchange_every
        steps = min(every - run.generation % every, most - run.generation, AT_ONCE)
        now = turn(islands, run.generation, every)
        run = advance(Judges(brief, run.share).of(now), run, steps, executor)
        if run.generation % every == 0:
            if brief.limits.on_hand:
                _prove(brief, run, now)
            _exchange(run, now)
            _note_progress(run)
            on_exchange(run)
