"""The outcome of a run: the designs of the gallery, polished, varied, eased and proven.

The best elites of every kind from all islands are polished; the best of the run are picked so
that they differ (see `motifsearch.search.variety`); each is given the simplest grid of its face
(see `motifsearch.search.easing`); each must be possible to cut from the pieces
on hand by an exact plan, where the brief says so.  One that is not makes the fast bound of its
search stricter by what it lacked, and the next in line takes its place.

Where every design of the brief was looked at and those that keep its limits are few, all of them
are candidates, and their kinds are counted.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from motifsearch.describe.titles import give_titles
from motifsearch.pattern.canonical_form import canonical_key
from motifsearch.pattern.design import Pattern
from motifsearch.pattern.effort import effort
from motifsearch.search.brief import Brief
from motifsearch.search.construction import CONSTRUCTIONS
from motifsearch.search.easing import GIVE, GIVE_FLAT, ease
from motifsearch.search.genome import Genomes, Space, develop, genomes_of, pattern_of
from motifsearch.search.island import MOST_KEPT, Judge, Judged
from motifsearch.search.loop import Run, cuts_for
from motifsearch.search.polishing import polish
from motifsearch.search.reducing import reductions, work
from motifsearch.search.sharing import hands, shared
from motifsearch.search.taste import kind_of
from motifsearch.search.taste_gallery import Belief, beliefs, parts_of, places
from motifsearch.search.variety import NEAR, SPREAD, nearest_distances, pick
from motifsearch.search.whole import every_design
from motifsearch.search.widths import Judges, open_widths
from motifsearch.simulate.scores import Scores, score_batch, score_pattern
from motifsearch.thread.cutting import CutList
from motifsearch.thread.plan import CuttingPlan, plan_cuts

#: Elites that are polished, and candidates for one place of the gallery.
POOL_PER_PLACE = 8
POLISHED_PER_PLACE = 3
#: From this degree on a design has its target's name: the degree is the likeness squared, so at
#: most one painted cell in thirty-three is of another colour, and the picture is still the picture.
ALIKE = 0.97**2


@dataclass(frozen=True)
class Found:
    """One design of the gallery.

    Attributes:
        pattern: The design.
        utility: The weighted mean of the wishes.
        degrees: How well every wish is met, 0..1.
        construction: How its grid was built.
        cuts: What to cut.
        plan: Which piece each cut comes from.
        distance: To the nearest design picked before it, 0..1; 1 for the first.
        notes: Further lines to be shown.
        part: Which part of the gallery it is, where there is a taste
            (`motifsearch.search.taste_gallery`).
    """

    pattern: Pattern
    utility: float
    degrees: Mapping[str, float]
    construction: str
    cuts: CutList
    plan: CuttingPlan
    distance: float
    notes: tuple[str, ...] = ()
    part: str = ""


@dataclass(frozen=True)
class Whole:
    """What is known when every design of the brief was looked at.

    Attributes:
        designs: How many were looked at, on all islands together.
        feasible: How many of these keep every limit.
        kinds: How many kinds these are, up to shifts, turns, mirrors and the names of colours;
            None where they are too many to be counted.
        every: Whether every design was looked at; else one grid of every kind.
    """

    designs: int
    feasible: int
    kinds: int | None
    every: bool


def whole_of(brief: Brief, run: Run) -> Whole | None:
    """Return what is known of a run that has looked at every design; kinds are not counted yet.

    A width in which no design can be made needs no looking at.
    """
    widths = open_widths(brief)
    islands = [island for island in run.islands if island.space.strands in widths]
    if not all(island.whole for island in islands):
        return None
    return Whole(
        sum(island.number for island in islands),
        sum(island.feasible for island in islands),
        0 if not any(island.feasible for island in islands) else None,
        all(every_design(island.space) for island in islands),
    )


@dataclass(frozen=True)
class Outcome:
    """The gallery's designs, and how they were come by.

    Attributes:
        found: Best first.
        pool: Elites that were looked at.
        refused: Candidates that the fast bound let through and the exact plan refused.
        nearest: Over all pairs of the gallery, the smallest distance of two faces.
        mean_nearest: The mean distance of a design to its nearest neighbour in the gallery.
        whole: What is known when every design of the brief was looked at; else None.
    """

    found: tuple[Found, ...]
    pool: int
    refused: int
    nearest: float
    mean_nearest: float
    whole: Whole | None = None


@dataclass(frozen=True)
class Choice:
    """A design that may stand in the gallery.

    Attributes:
        pattern: The design.
        utility: The weighted mean of the wishes.
        degrees: How well every wish is met, 0..1.
        construction: How its grid was built.
        genome: Its genome.
        space: What that is a genome of.
        worth: What it is ranked by, where that is not `utility`.
        notes: Further lines to be shown.
        eased: Whether its grid is known to be the one of its face that is least to work.
    """

    pattern: Pattern
    utility: float
    degrees: Mapping[str, float]
    construction: str
    genome: Genomes
    space: Space
    believed: Belief | None = None
    worth: float | None = None
    notes: tuple[str, ...] = ()
    eased: bool = False

    @property
    def standing(self) -> float:
        """What it is ranked by."""
        return self.utility if self.worth is None else self.worth


def best_elites(run: Run, most: int) -> list[tuple[int, Judged]]:
    """Return the best elite of every kind over all islands: (island, designs) with at most `most`.

    A kind that several islands found is taken from the one that met the wishes best.  Several
    widths that have found something have equal parts of `most`.
    """
    rows = [
        (-float(u), int(c), k, n)
        for k, island in enumerate(run.islands)
        for n, (c, u) in enumerate(zip(island.archive.cells, island.archive.utility, strict=True))
    ]
    rows.sort()
    widths = [island.space.strands for island in run.islands]
    each = -(-most // max(1, len({widths[k] for _, _, k, _ in rows})))
    seen: set[tuple[int, int]] = set()
    picked: dict[int, list[int]] = {}
    total: Counter[int] = Counter()
    for _, cell, k, n in rows:
        if (widths[k], cell) in seen or total[widths[k]] >= each:
            continue
        seen.add((widths[k], cell))
        picked.setdefault(k, []).append(n)
        total[widths[k]] += 1
    out = []
    for k in sorted(picked):
        archive, where = run.islands[k].archive, np.array(picked[k])
        zeros = np.zeros(len(where))
        out.append(
            (k, Judged(archive.genomes.take(where), zeros[None], zeros, archive.utility[where]))
        )
    return out


def candidates(
    brief: Brief, run: Run, executor: Executor | None = None
) -> tuple[list[Choice], int | None]:
    """Return the polished elites as patterns, best first, and how many kinds there are in all.

    The number is None where not every design was looked at, or those that keep the limits are many.

    Args:
        brief: The brief.
        run: The run.
        executor: Workers that polish.
    """
    judges = Judges(brief)
    if whole_of(brief, run) is not None and sum(i.feasible for i in run.islands) <= MOST_KEPT:
        kept = [
            one
            for island in run.islands
            if island.kept is not None
            for one in choices(judges.of(island.space.strands), island.kept, island.space)
        ]
        best: dict[str, Choice] = {}
        for one in sorted(kept, key=_rank):
            best.setdefault(canonical_key(one.pattern), one)
        return list(best.values()), len(best)
    pool = best_elites(run, POOL_PER_PLACE * brief.gallery_size)
    limits = _polished_from(run, pool, POLISHED_PER_PLACE * brief.gallery_size)
    parts = []
    for k, part in pool:
        space = run.islands[k].space
        parts.append((brief.of_width(space.strands), part, space, limits[space.strands]))
    out = [one for some in shared(executor, _polished, parts) for one in some]
    out.sort(key=_rank)
    return out, None


def _polished(brief: Brief, part: Judged, space: Space, limit: float) -> list[Choice]:
    """Return the elites of one island as designs, polished where they are worth `limit`."""
    judge = Judge(brief)
    high = np.flatnonzero(part.utility >= limit)
    genomes = [part.genomes]
    if len(high):
        better = polish(judge, part.take(high), space)
        genomes = [better.genomes, part.genomes.take(np.flatnonzero(part.utility < limit))]
    return [one for g in genomes for one in choices(judge, g, space)]


def _polished_from(run: Run, pool: Sequence[tuple[int, Judged]], most: int) -> dict[int, float]:
    """Return by width how well the wishes must be met by elites that are polished.

    Args:
        run: The run.
        pool: The elites by island.
        most: How many are polished, about; equal parts of every width.
    """
    met: dict[int, list[float]] = {}
    for k, part in pool:
        met.setdefault(run.islands[k].space.strands, []).extend(part.utility.tolist())
    each = -(-most // max(1, len(met)))
    return {s: sorted(u, reverse=True)[min(len(u), each) - 1] for s, u in met.items()}


def _rank(c: Choice) -> tuple[float, Any, Any]:
    return -c.utility, c.pattern.knots, c.pattern.colour_order


def choices(judge: Judge, genomes: Genomes, space: Space) -> list[Choice]:
    """Return genomes of one space as designs that may stand in the gallery."""
    if not len(genomes):
        return []
    brief = judge.brief
    inks = [brief.stash.thread(name).colour for name in brief.palette]
    grid, colours = develop(genomes, space)
    scores = score_batch(grid, colours, judge.setting)
    _, met = judge.wishes(scores, grid, colours, space)
    total = sum(brief.wishes.values())
    believed: list[Belief] = []
    if brief.taste is not None:
        seen = judge.looks(scores, grid, colours, np.arange(len(genomes)))
        believed = beliefs(brief.taste, seen)
    out = []
    for n in range(len(genomes)):
        worth = sum(brief.wishes[w] * float(met[w][n]) for w in brief.wishes) / total
        pattern = pattern_of(grid[..., n], colours[:, n], "", brief.palette, inks)
        out.append(
            Choice(
                pattern,
                round(worth, 9),
                {w: round(float(met[w][n]), 6) for w, k in brief.wishes.items() if k > 0},
                CONSTRUCTIONS[int(genomes.construction[n])],
                genomes.take(np.array([n])),
                space,
                believed[n] if believed else None,
            )
        )
    return out


def _eased(judge: Judge, candidate: Choice) -> Choice:
    """Return the candidate with fewer steps for the same face, or as it is."""
    easier = ease(judge, candidate.genome, candidate.space)
    if easier is candidate.genome:
        return candidate
    found = choices(judge, easier, candidate.space)[0]
    return _instead(candidate, found)


def _instead(candidate: Choice, found: Choice) -> Choice:
    """Return a simpler grid of the same face, ranked and described as the candidate is."""
    return replace(
        found, construction=candidate.construction, worth=candidate.worth, notes=candidate.notes
    )


def _reduced(judge: Judge, candidate: Choice) -> Choice:
    """Return the candidate from a shorter grid of its own, where that is less to work."""
    best, least = candidate, work(candidate.pattern)
    own = _scored(judge, candidate)
    for short in reductions(candidate.pattern):
        space = replace(candidate.space, period=short.rows, border=False)
        genome = genomes_of(short, space, judge.brief.palette)
        effort_of = work(short)
        if genome is None or not effort_of < least:
            continue
        judged, _ = judge.judge(genome, space)
        found = choices(judge, genome, space)[0]
        scores = _scored(judge, found)
        even = scores.evenness[0] >= own.evenness[0] - GIVE
        flat = scores.flatness[0] >= own.flatness[0] - GIVE_FLAT
        if judged.violation[0] == 0 and even and flat:
            best, least = _instead(candidate, found), effort_of
    return best


def _forms(judge: Judge, candidate: Choice, easy: Choice) -> Iterator[Choice]:
    """Yield the grids that a design may be shown with, the one that is least to work first."""
    yield easy
    if not candidate.eased:
        yield _reduced(judge, candidate)


def simplest(judge: Judge, choice: Choice) -> Choice:
    """Return the design with the grid of its face that is least to work."""
    return choice if choice.eased else _reduced(judge, _eased(judge, choice))


def _all_simplest(brief: Brief, some: list[Choice]) -> list[Choice]:
    judges = Judges(brief)
    return [simplest(judges.of(one.space.strands), one) for one in some]


class _Easy:
    """The simplest forms of designs of a pool: worked out by many hands, each once.

    Args:
        brief: The brief.
        executor: Workers; None to do it here.
    """

    def __init__(self, brief: Brief, executor: Executor | None) -> None:
        self.brief, self.executor = brief, executor
        self.known: dict[int, tuple[Choice, Choice]] = {}

    def learn(self, some: list[Choice]) -> None:
        """Work out the simplest forms of designs that are not known yet."""
        new = [one for one in some if id(one) not in self.known]
        parts = hands(self.executor, len(new)) if new else 0
        lots = [new[first::parts] for first in range(parts)]
        found = shared(self.executor, _all_simplest, [(self.brief, lot) for lot in lots])
        for lot, easy in zip(lots, found, strict=True):
            self.known.update({id(a): (a, b) for a, b in zip(lot, easy, strict=True)})

    def of(self, choice: Choice) -> Choice:
        """Return the simplest form of a design that was learnt."""
        return self.known[id(choice)][1]


def _scored(judge: Judge, candidate: Choice) -> Scores:
    return score_batch(*develop(candidate.genome, candidate.space), judge.setting)


def _titled(brief: Brief, found: list[Found]) -> list[Found]:
    """Return the designs with titles that say what is seen and differ within the gallery."""
    scores = []
    for f in found:
        diameters = [brief.stash.thread(name).diameter_mm for name in f.pattern.palette]
        model = brief.stash.model
        scores.append(score_pattern(f.pattern, brief.length_mm, model, np.array(diameters)))
    name = "" if brief.target is None else brief.target.title
    wanted = [name if f.degrees.get("likeness", 0.0) >= ALIKE else "" for f in found]
    titles = give_titles([f.pattern for f in found], scores, wanted)
    return [
        replace(f, pattern=replace(f.pattern, title=title))
        for f, title in zip(found, titles, strict=True)
    ]


def finish(
    brief: Brief,
    run: Run,
    *,
    pool: list[Choice] | None = None,
    alike: bool = False,
    executor: Executor | None = None,
) -> Outcome:
    """Return the gallery's designs: polished, varied, and proven by an exact plan.

    Args:
        brief: The brief.
        run: The run.
        pool: The designs to choose from, best first; the polished elites of the run when None.
        alike: Whether designs near to one another are wanted: what is looked for is one design.
        executor: Workers; the outcome is the same without.
    """
    judges, easy = Judges(brief), _Easy(brief, executor)
    kinds = None
    if pool is None:
        pool, kinds = candidates(brief, run, executor)
    if brief.taste is not None:
        pool = [c for c in pool if kind_of(c.pattern) not in brief.taste.refused] or pool
    whole = whole_of(brief, run)
    refused = 0
    most_steps = brief.limits.steps_max
    # Pick more than are shown, so that those that cannot be cut can be replaced.
    patterns = [c.pattern for c in pool]
    utility = np.array([c.standing for c in pool])
    while True:
        # A wanted motif is looked for in its near variants, not among all kinds of designs.
        apart, spread = (
            (NEAR, SPREAD) if brief.target is None and not alike else (NEAR / 3, SPREAD / 10)
        )
        counts, parts = utility, [""] * brief.gallery_size
        if brief.taste is not None:
            believed = [c.believed for c in pool if c.believed is not None]
            counts = places(brief.taste, patterns, utility, believed, brief.gallery_size)
            parts = parts_of(brief.gallery_size)
        chosen, gaps = pick(patterns, counts, brief.gallery_size, near=apart, spread=spread)
        found, bad = [], []
        easy.learn([pool[n] for n in chosen])
        for n, gap, part in zip(chosen, gaps, parts, strict=False):
            judge = judges.of(pool[n].space.strands)
            for candidate in _forms(judge, pool[n], easy.of(pool[n])):
                if 0 < most_steps < effort(candidate.pattern).steps:
                    plan = None
                    continue
                cuts = cuts_for(brief, candidate.pattern)
                plan = plan_cuts(cuts, brief.stash)
                if plan.feasible or not brief.limits.on_hand:
                    break
            if plan is None or (brief.limits.on_hand and not plan.feasible):
                bad.append(n)
                continue
            found.append((
                candidate.standing,
                Found(candidate.pattern, candidate.utility, candidate.degrees,
                      candidate.construction, cuts, plan, gap, candidate.notes, part),
            ))  # fmt: skip
        if not bad:
            break
        refused += len(bad)
        gone = set(bad)
        keep = [n for n in range(len(pool)) if n not in gone]
        pool = [pool[n] for n in keep]
        patterns = [patterns[n] for n in keep]
        utility = utility[keep]
    found.sort(key=lambda one: (-one[0], one[1].pattern.knots, one[1].pattern.colour_order))
    titled = _titled(brief, [one for _, one in found])
    near = nearest_distances([f.pattern for f in titled])
    return Outcome(
        tuple(titled),
        len(pool) + refused,
        refused,
        round(float(near.min(initial=1.0)), 6),
        round(float(near.mean()) if len(near) else 1.0, 6),
        None if whole is None else replace(whole, kinds=kinds),
    )
