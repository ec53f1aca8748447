"""One island: a population of one period, evolved generation by generation.

The batch is the unit: DEAP's toolbox holds operators that work on whole arrays, its `Statistics`
and `Logbook` keep the record, its reference points spread the selection; no object is made per
individual.  An epoch is a pure function of the island's state, so it gives the same bytes in
whichever process it runs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt

from motifsearch.base.arrays import F64, I64, U8, Bool
from motifsearch.base.colour import difference_matrix, lab
from motifsearch.search.archive import Archive, cell_of, empty_archive
from motifsearch.search.brief import Brief
from motifsearch.search.genome import Genomes, Space, design_hash, develop, join, random_genomes
from motifsearch.search.limits import Limiter
from motifsearch.search.selection import ranking
from motifsearch.search.taste_looks import Looks, looks
from motifsearch.search.variation import exchange_bands, mutate
from motifsearch.search.whole import AT_ONCE, FROM, designs, designs_in
from motifsearch.search.wishes import (
    DIGITS,
    degrees,
    measures,
    objectives_of,
    utility,
)
from motifsearch.simulate.scores import Scores, Setting, score_batch, score_batches
from motifsearch.simulate.walk import faces
from motifsearch.target.likeness import likeness, matched, rows_compared

#: Slots of the table of designs already scored; a newer design takes the place of an older one,
#: so memory stays flat however long the run is.
SEEN_SLOTS = 1 << 16
#: Records of generations that are kept, for the same reason.
LOG_LENGTH = 200
#: Designs that keep every limit, of a space that is seen whole, that are kept one and all.
MOST_KEPT = 2000
#: Where there is a taste: the shares of parents that are wanted designs themselves, and the best
#: of `AMONG` elites drawn by chance.
FROM_WANTED, FROM_LIKED, AMONG = 0.1, 0.25, 4


@dataclass
class Judged:
    """Designs with all that selection needs.

    Attributes:
        genomes: N genomes.
        costs: 1 - measure of every objective, float64 ``[objectives, N]``.
        violation: float64 ``[N]``.
        utility: float64 ``[N]``.
    """

    genomes: Genomes
    costs: F64
    violation: F64
    utility: F64

    def take(self, where: npt.NDArray[np.integer]) -> Judged:
        """Return some of the designs, copied."""
        return Judged(
            self.genomes.take(where),
            self.costs[:, where],
            self.violation[where],
            self.utility[where],
        )


def merge(parts: list[Judged]) -> Judged:
    """Return the designs of several batches."""
    return Judged(
        join([p.genomes for p in parts]),
        np.concatenate([p.costs for p in parts], 1),
        np.concatenate([p.violation for p in parts]),
        np.concatenate([p.utility for p in parts]),
    )


@dataclass
class Island:
    """The state of one island; arrays and plain data only.

    Attributes:
        space: S, P and the colours.
        rng_state: State of its own PCG64 generator.
        population: The designs, best first.
        archive: Its elites.
        seen: uint64 ``[SEEN_SLOTS]``, hashes of designs already scored.
        generation: Generations done.
        scored: Designs scored.
        repeated: Designs that were not scored because they had been.
        log: One record per generation, the latest `LOG_LENGTH`.
        number: Where the space is small, designs looked at one by one (`motifsearch.search.whole`).
        feasible: How many of these keep every limit.
        kept: These, as long as they are `MOST_KEPT` at most; None where they are more.
    """

    space: Space
    rng_state: dict[str, Any]
    population: Judged | None
    archive: Archive
    seen: npt.NDArray[np.uint64]
    generation: int = 0
    scored: int = 0
    repeated: int = 0
    log: list[dict[str, float]] = field(default_factory=list)
    number: int = 0
    feasible: int = 0
    kept: Genomes | None = None

    @property
    def whole(self) -> bool:
        """Whether every design of the island's space was looked at."""
        return 0 < designs_in(self.space) <= self.number

    @property
    def counting(self) -> bool:
        """Whether the space is being looked at one by one, and not whole yet."""
        return self.number < designs_in(self.space)


#: Genomes, their grids uint8 ``[P, S // 2, N]``, their colours uint8 ``[S, N]``, and their space.
Developed: TypeAlias = tuple[Genomes, Any, Any, Space]


class Judge:
    """The brief, ready to judge batches of genomes.

    Args:
        brief: The brief.
        without: A limit that is not judged.
        share: The share of the thread on hand that the fast bound counts on.
    """

    def __init__(self, brief: Brief, without: str = "", share: float = 1.0) -> None:
        threads = [brief.stash.thread(name) for name in brief.palette]
        targets = None
        if brief.shares:
            targets = np.array([brief.shares.get(name, 0.0) for name in brief.palette])
        self.brief = brief
        self.limiter = Limiter(brief, without, share)
        self.objectives = objectives_of(brief.wishes)
        self.target = None
        if brief.target is not None:
            self.target = matched(brief.target, brief.palette, [t.colour for t in threads])
        self.labs = np.array([lab(t.colour) for t in threads])
        self.setting = Setting(
            differences=difference_matrix([t.colour for t in threads]),
            diameters_mm=np.array([t.diameter_mm for t in threads]),
            length_mm=brief.length_mm,
            model=brief.stash.model,
            targets=targets,
            most_rows=brief.limits.repeat_rows_max,
        )

    def scores(self, genomes: Genomes, space: Space) -> tuple[Scores, Any, Any]:
        """Return the scores, the grids and the colours of developed genomes."""
        grid, colours = develop(genomes, space)
        return score_batch(grid, colours, self.setting), grid, colours

    def wishes(
        self, scores: Scores, grid: Any, colours: Any, space: Space, good: Bool | None = None
    ) -> tuple[dict[str, F64], dict[str, F64]]:
        """Return the measure and the degree of every wish, float64 ``[N]`` each.

        Args:
            scores: Of N designs.
            grid: uint8 ``[P, S // 2, N]``.
            colours: uint8 ``[S, N]``.
            space: What they share.
            good: Which keep the limits: only these are held against a taste, bool ``[N]``.
        """
        longest = self.brief.limits.repeat_rows_max
        like = None
        if self.target is not None:
            like = self.likeness(scores, grid, colours)
        raw = measures(scores, space, longest, like)
        met = degrees(raw, longest)
        taste = self.brief.taste
        if taste is not None:
            raw["taste"] = np.zeros(len(scores.scored))
            some = np.flatnonzero(scores.scored if good is None else scores.scored & good)
            if len(some):
                seen = self.looks(scores, grid, colours, some)
                raw["taste"][some] = np.round(taste.posterior.degree(seen), DIGITS)
            met["taste"] = raw["taste"]
        return raw, met

    def looks(self, scores: Scores, grid: U8, colours: U8, some: I64) -> Looks:
        """Return what one sees of some designs of a batch.

        Args:
            scores: Of N designs.
            grid: uint8 ``[P, S // 2, N]``.
            colours: uint8 ``[S, N]``.
            some: Indices of designs that are scored.
        """
        part = scores if len(some) == len(scores.scored) else scores.take(some)
        return looks(grid[:, :, some], colours[:, some], part, self.labs, self.setting.differences)

    def likeness(self, scores: Scores, grid: U8, colours: U8) -> F64:
        """Return the likeness to the brief's motif over the whole repeat, float64 ``[N]``.

        Args:
            scores: Of N designs.
            grid: uint8 ``[P, S // 2, N]``.
            colours: uint8 ``[S, N]``.
        """
        assert self.target is not None
        out = np.zeros(colours.shape[1])
        for total in np.unique(scores.total_rows[scores.scored]):
            some = np.flatnonzero(scores.total_rows == total)
            rows = rows_compared(int(total), len(self.target))
            face = faces(grid[:, :, some], colours[:, some], rows)
            out[some] = likeness(face, self.target)
        return out

    def judge(self, genomes: Genomes, space: Space) -> tuple[Judged, I64]:
        """Return the judged designs and their archive cells, int64 ``[N]``."""
        grid, colours = develop(genomes, space)
        return self.judge_designs(genomes, grid, colours, space)

    def judge_designs(
        self, genomes: Genomes, grid: Any, colours: Any, space: Space
    ) -> tuple[Judged, I64]:
        """As `judge`, for genomes that are developed already."""
        return self.judge_batches([(genomes, grid, colours, space)])[0]

    def judge_batches(self, batches: Sequence[Developed]) -> list[tuple[Judged, I64]]:
        """As `judge`, for developed genomes of several spaces of one width, scored together.

        Args:
            batches: Genomes, grids, colours and space of each.
        """
        scored = score_batches([(grid, colours) for _, grid, colours, _ in batches], self.setting)
        return [self._judged(scores, *batch) for scores, batch in zip(scored, batches, strict=True)]

    def _judged(
        self, scores: Scores, genomes: Genomes, grid: Any, colours: Any, space: Space
    ) -> tuple[Judged, I64]:
        violation = self.limiter.violation(scores, grid, colours, space)
        raw, met = self.wishes(scores, grid, colours, space, violation == 0)
        costs = np.array([np.round(1.0 - raw[name], DIGITS) for name in self.objectives])
        judged = Judged(
            genomes,
            costs,
            violation,
            utility(met, self.brief.wishes),
        )
        return judged, cell_of(scores, colours, space.palette)


def space_of(brief: Brief, period: int) -> Space:
    """Return the space of one island."""
    return Space(
        brief.strands,
        period,
        len(brief.palette),
        brief.colours_min,
        brief.colours_max,
        brief.folded,
        brief.limits.border,
        brief.limits.codes,
    )


def new_island(brief: Brief, period: int, seed: np.random.SeedSequence) -> Island:
    """Return an island before its first generation."""
    space = space_of(brief, period)
    rng = np.random.Generator(np.random.PCG64(seed))
    return Island(
        space,
        dict(rng.bit_generator.state),
        None,
        empty_archive(space),
        np.zeros(SEEN_SLOTS, np.uint64),
    )


def toolbox_of(space: Space, rng: np.random.Generator) -> Any:
    """Return DEAP's toolbox with the operators of this island, all on whole arrays."""
    from deap.base import Toolbox

    toolbox = Toolbox()
    toolbox.register("population", random_genomes, space, rng=rng)
    toolbox.register("mate", exchange_bands, space=space, rng=rng)
    toolbox.register("mutate", mutate, space=space, rng=rng)
    toolbox.register("develop", develop, space=space)
    toolbox.register("rank", ranking)
    return toolbox


def _statistics() -> Any:
    from deap.tools import Statistics

    statistics = Statistics()
    statistics.register("best", lambda batch: float(batch[0].utility.max(initial=0.0)))
    statistics.register("feasible", lambda batch: float((batch[0].violation == 0).mean()))
    return statistics


def _fresh(island: Island, genomes: Genomes, grid: Any, colours: Any) -> I64:
    """Return the indices of designs not scored before, and remember them."""
    keys = design_hash(grid, colours)
    slot = (keys & np.uint64(SEEN_SLOTS - 1)).astype(np.intp)
    new = island.seen[slot] != keys
    _, first = np.unique(keys, return_index=True)
    once = np.zeros(len(keys), bool)
    once[first] = True
    fresh = np.flatnonzero(new & once)
    island.seen[slot[fresh]] = keys[fresh]
    island.repeated += len(genomes) - len(fresh)
    return fresh


def parents(
    island: Island,
    n: int,
    rng: np.random.Generator,
    liked: bool = False,
    wanted: Genomes | None = None,
) -> Genomes:
    """Draw `n` parents: half by binary tournament from the population, half from the elites.

    Args:
        island: The island.
        n: How many.
        rng: Its generator.
        liked: There is a taste: some are the best of several elites instead, and some are wanted.
        wanted: Designs that are wanted and fit the island.
    """
    assert island.population is not None
    size = len(island.population.utility)
    # The population is ranked: of two drawn places the smaller one is the better design.
    place = rng.integers(0, size, (2, n)).min(0)
    elites = len(island.archive)
    from_elites = (rng.random(n) < 0.5) & (elites > 0)
    pool = join([island.population.genomes, island.archive.genomes])
    pick = rng.integers(0, max(1, elites), n) + size
    chosen = np.where(from_elites, pick, place)
    if liked and elites:
        # The elites are worth what they are to her taste too: the best of a few are near to it.
        some = rng.integers(0, elites, (AMONG, n))
        best = some[island.archive.utility[some].argmax(0), np.arange(n)] + size
        chosen = np.where(rng.random(n) < FROM_LIKED, best, chosen)
    if wanted is not None and len(wanted):
        hers = rng.integers(0, len(wanted), n) + size + elites
        chosen = np.where(rng.random(n) < FROM_WANTED, hers, chosen)
        pool = join([pool, wanted])
    return pool.take(chosen)


def run_epoch(
    judge: Judge, island: Island, generations: int, population: int, seeds: Genomes | None = None
) -> Island:
    """Evolve an island by a number of generations; the given island is not changed.

    Args:
        judge: The brief.
        island: The state.
        generations: How many.
        population: Designs kept.
        seeds: Designs that join before the first generation.
    """
    return run_epochs(judge, [island], generations, population, [seeds])[0]


def run_epochs(
    judge: Judge,
    islands: Sequence[Island],
    generations: int,
    population: int,
    seeds: Sequence[Genomes | None],
) -> list[Island]:
    """Evolve islands of one width side by side: their designs are scored together.

    Each comes out as it does alone, whichever islands stand beside it.

    Args:
        judge: The brief.
        islands: Their states, which are not changed.
        generations: How many.
        population: Designs kept by each.
        seeds: Designs that join each before its first generation.
    """
    beds = [
        _Bed(judge, island, population, some) for island, some in zip(islands, seeds, strict=True)
    ]
    for _ in range(generations):
        sown = [(bed, batch) for bed in beds if (batch := bed.sow()) is not None]
        if sown:
            judged = judge.judge_batches([batch for _, batch in sown])
            for (bed, batch), (found, cells) in zip(sown, judged, strict=True):
                bed.reap(batch, found, cells)
    return [bed.state() for bed in beds]


class _Bed:
    """An island while it is evolved: a copy of its state, its generator and its operators."""

    def __init__(
        self, judge: Judge, island: Island, population: int, seeds: Genomes | None
    ) -> None:
        self.judge, self.population, self.seeds = judge, population, seeds
        self.rng = np.random.Generator(np.random.PCG64())
        self.rng.bit_generator.state = island.rng_state
        self.island = replace(
            island, seen=island.seen.copy(), log=list(island.log), archive=replace(island.archive)
        )
        self.toolbox, self.statistics = toolbox_of(island.space, self.rng), _statistics()
        taste = judge.brief.taste
        wanted = None if taste is None else taste.genomes(island.space, judge.brief.palette)
        self.drawn = partial(parents, self.island, population, self.rng)
        if taste is not None:
            self.drawn = partial(self.drawn, liked=True, wanted=wanted)

    def state(self) -> Island:
        """Return the island as it stands."""
        return replace(self.island, rng_state=dict(self.rng.bit_generator.state))

    def sow(self) -> Developed | None:
        """Return the next generation's designs that are to be judged; None where there are none."""
        island = self.island
        if island.whole:
            island.generation += 1
            return None
        if island.counting and island.generation >= FROM:
            _look(self.judge, island, self.population)
        children = self._children()
        if self.seeds is not None and len(self.seeds):
            children, self.seeds = join([children, self.seeds]), None
        grid, colours = self.toolbox.develop(children)
        fresh = _fresh(island, children, grid, colours)
        if not len(fresh):
            island.generation += 1
            return None
        return children.take(fresh), grid[..., fresh], colours[:, fresh], island.space

    def _children(self) -> Genomes:
        if self.island.population is None:
            born: Genomes = self.toolbox.population(self.population)
            return born
        one, other = self.drawn(), self.drawn()
        mated = self.rng.random(self.population) < 0.4
        children = join([self.toolbox.mate(one.take(mated), other.take(mated)), one.take(~mated)])
        twice = self.rng.random(self.population) < 0.3
        children = self.toolbox.mutate(children)
        return join([children.take(~twice), self.toolbox.mutate(children.take(twice))])

    def reap(self, batch: Developed, judged: Judged, cells: I64) -> None:
        """Let judged designs compete, and keep the best; changes the island."""
        island = self.island
        _, grid, colours, _ = batch
        # What is kept is the developed design: its free knots and first strands are the genes.
        judged.genomes.knots, judged.genomes.colours = grid, colours
        good = np.flatnonzero(judged.violation == 0)
        changed = island.archive.add(cells[good], judged.utility[good], judged.genomes.take(good))
        pool = judged if island.population is None else merge([island.population, judged])
        order = self.toolbox.rank(pool.costs, pool.violation, 1.0 - pool.utility)
        island.population = pool.take(order[: self.population])
        island.generation += 1
        island.scored += len(cells)
        record = self.statistics.compile([island.population])
        island.log.append(
            {
                "generation": island.generation,
                "cells": len(island.archive),
                "changed": changed,
                **record,
            }
        )
        del island.log[:-LOG_LENGTH]


def _look(judge: Judge, island: Island, population: int) -> None:
    """Judge the next designs of a space that is looked at one by one; changes the island."""
    stop = min(island.number + AT_ONCE, designs_in(island.space))
    genomes = designs(island.space, island.number, stop)
    judged, cells = judge.judge_designs(genomes, genomes.knots, genomes.colours, island.space)
    good = np.flatnonzero(judged.violation == 0)
    island.archive.add(cells[good], judged.utility[good], genomes.take(good))
    if island.number == 0 or island.kept is not None:
        parts = [genomes.take(good)] if island.kept is None else [island.kept, genomes.take(good)]
        some = join(parts)
        island.kept = some if len(some) <= MOST_KEPT else None
    island.scored += len(genomes)
    island.feasible += len(good)
    island.number = stop
    # The best of them take part in the evolution, so that it need not find them again.
    order = np.lexsort((-judged.utility, judged.violation))[:population]
    pool = judged.take(order)
    island.population = pool if island.population is None else merge([island.population, pool])
