"""Ease: the same face with fewer and plainer steps.

A knot whose two strands have the same colour, in every period, shows the same whoever ties it and
whether they change places, so a face has many grids.  Before a design is shown, such *loose* knots
are changed, face unchanged, as long as the work gets less: `EFFORT` times the steps per row, `KIND`
for every kind of knot and one for every step of a round, where steps are the passes of a long band
and a round is what the worksheet repeats.  Every limit is kept, and evenness and flatness may lose
`GIVE` and `GIVE_FLAT` at most.  The climb starts from the design itself and from those with all
loose knots forward, or backward, under its own construction (a mirror then has them run to the
middle, or from it).
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Final

import numpy as np

from motifsearch.base.arrays import I64, U8, Bool
from motifsearch.pattern.canonical_form import shortest_period
from motifsearch.pattern.passes import steady_passes
from motifsearch.search.construction import develop_grid, plan
from motifsearch.search.genome import Genomes, Space, develop, pattern_of
from motifsearch.search.island import Judge
from motifsearch.simulate.scores import score_batch
from motifsearch.simulate.walk import faces, return_periods

GIVE: Final = 0.02
GIVE_FLAT: Final = 0.15
EFFORT: Final = 100.0
#: A further kind of knot is worth so many steps of a round.
KIND: Final = 4.0
ROUNDS: Final = 6
#: Neighbours whose work is reckoned in full at every step of a climb.
TRIED: Final = 20


class _Easer:
    """One design and what a simpler grid must keep."""

    def __init__(self, judge: Judge, genome: Genomes, space: Space) -> None:
        self.judge = judge
        self.space = space
        self.setting = replace(judge.setting, with_symmetry=False)
        grid, self.order = develop(genome, space)
        periods = int(return_periods(grid, self.order, 10**4)[0])
        self.rows = periods * space.period
        self.face = faces(grid, self.order, self.rows)
        scores = score_batch(grid, self.order, self.setting)
        self.least = float(scores.evenness[0]) - GIVE, float(scores.flatness[0]) - GIVE_FLAT
        self.periods = periods

    def designs(self, genomes: Genomes) -> tuple[U8, U8]:
        """Return the grids of genomes and the one colour order, which does not follow sigma."""
        grid = develop_grid(
            genomes.construction, genomes.knots, self.space.strands, self.space.border
        )
        if len(self.space.codes) < 4:
            grid = self.space.allowed[grid]
        return grid, np.repeat(self.order, len(genomes), axis=1)

    def keeps(self, genomes: Genomes) -> I64:
        """Return the genomes that keep face and limits, int64 ``[n]``, the most promising first.

        Fewer tying stretches promise less work: they are a bound of the passes.
        """
        grid, colours = self.designs(genomes)
        good: Bool = (faces(grid, colours, self.rows) == self.face).all((0, 1))
        scores = score_batch(grid, colours, self.setting)
        good &= (scores.evenness >= self.least[0]) & (scores.flatness >= self.least[1])
        each = self.judge.limiter.each(scores, grid, colours, self.space)
        for name in ("evenness_min", "flatness_min", "on_hand", "knots"):
            if name in each:
                good &= each[name] == 0
        kept = np.flatnonzero(good)
        return kept[np.lexsort((kept, scores.stretches_per_row[kept]))]

    def work(self, genome: Genomes) -> float:
        """Return how much work a grid is: steps per row and steps of a round together."""
        grid, colours = self.designs(genome)
        names = [str(c) for c in range(self.space.palette)]
        pattern = pattern_of(grid[..., 0], colours[:, 0], "", names, ["#000000"] * len(names))
        period = len(shortest_period(pattern.knots))
        per_row = steady_passes(pattern) / pattern.rows
        kinds = len({code for row in pattern.knots for code in row})
        return round(EFFORT * per_row + per_row * self.round_rows(period) + KIND * kinds, 6)

    def round_rows(self, period: int) -> int:
        """Return the rows of a round: whole shortest periods after which the colours stand right.

        The colours stand as at the start after every whole number of `periods` of the full grid,
        and the face repeats at the latest then; a shorter grid makes a shorter round where the
        face allows it.
        """
        for rows in range(period, self.rows, period):
            if self.rows % rows == 0 and (np.roll(self.face, -rows, axis=0) == self.face).all():
                return rows
        return self.rows


def _with(genome: Genomes, cells: I64, codes: Any) -> Genomes:
    """Return copies of a genome, copy n with the raw cell ``cells[n]`` set to ``codes[n]``."""
    n = len(cells)
    out = genome.take(np.zeros(n, np.int64))
    flat = out.knots.reshape(-1, n).copy()
    flat[cells, np.arange(n)] = codes
    out.knots = flat.reshape(out.knots.shape)
    return out


def ease(judge: Judge, genome: Genomes, space: Space) -> Genomes:
    """Return one genome with the same face and fewer tying stretches, or the given one.

    The colours of a settled design, or of one that a glide or half turn made, follow from its
    knots; here they stay while knots change, so the result is a genome without construction.

    Args:
        judge: The brief.
        genome: One genome.
        space: Its space.
    """
    easer = _Easer(judge, genome, space)
    free = np.flatnonzero(plan(int(genome.construction[0]), space.strands, space.period,
                               space.border).free)  # fmt: skip
    cells, codes = np.repeat(free, 4), np.tile(np.arange(4, dtype=np.uint8), len(free))
    # Which knots may be changed at all is found by changing each alone.
    grid, colours = easer.designs(_with(genome, cells, codes))
    same = (faces(grid, colours, easer.rows) == easer.face).all((0, 1))
    loose = np.array([c for c in free if same[cells == c].all()], np.int64)
    if not len(loose):
        return genome
    starts = [genome]
    for code in (0, 1):
        start = genome.take(np.array([0]))
        start.knots.reshape(-1, 1)[loose] = code
        starts.append(start)
    good = [len(easer.keeps(start)) > 0 for start in starts]
    found = [_climb(easer, start, loose) for start, ok in zip(starts, good, strict=True) if ok]
    if not found:
        return genome  # it breaks a limit itself: nothing to be made easier
    work, best = min(found, key=lambda pair: pair[0])
    if not work < easer.work(genome):
        return genome
    grid, colours = easer.designs(best)
    plain = np.zeros(1, np.uint8)
    return Genomes(plain, plain.copy(), grid, colours)


def _climb(easer: _Easer, start: Genomes, loose: I64) -> tuple[float, Genomes]:
    """Return (work, genome) where no loose knot alone makes the work less."""
    cells, codes = np.repeat(loose, 4), np.tile(np.arange(4, dtype=np.uint8), len(loose))
    current, least = start, easer.work(start)
    for _ in range(ROUNDS):
        around = _with(current, cells, codes)
        tried = [
            (easer.work(one), int(n), one)
            for n in easer.keeps(around)[:TRIED]
            for one in [around.take(np.array([n]))]
        ]
        if not tried:
            break
        work, _, one = min(tried, key=lambda t: t[:2])
        if not work < least:
            break
        least, current = work, one
    return least, current
