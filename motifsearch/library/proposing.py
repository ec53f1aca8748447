"""From kinds to designs for a brief: a search whose archive is filled from the library.

The kinds that promise most (`motifsearch.library.screen`) are coloured
(`motifsearch.library.colouring`), judged in full as a search judges its designs, and take their
cells in the archive of an island whose grid length is a multiple of theirs.  What follows is what
follows a search: choosing, exact plans, titles; and such a run can be gone on with.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from motifsearch.library.colouring import coloured
from motifsearch.library.screen import Promising, screen
from motifsearch.library.store import Library
from motifsearch.search import loop
from motifsearch.search.brief import Brief
from motifsearch.search.genome import Genomes
from motifsearch.search.island import Island, Judge
from motifsearch.simulate.thread_use import consumption


@dataclass(frozen=True)
class Proposed:
    """A run whose archives were filled from a library.

    Attributes:
        run: The run, before its first generation.
        looked_at: Kinds of the brief's width in the library.
        coloured: Designs that were judged in full.
        kept: Designs that keep every limit.
    """

    run: loop.Run
    looked_at: int
    coloured: int
    kept: int


def propose(library: Library, brief: Brief) -> Proposed:
    """Return a run that begins with what a library knows.

    Args:
        library: The library.
        brief: The brief.
    """
    judge = Judge(brief)
    run = loop.new_run(brief)
    looked_at = sum(s.kinds for s in library.sizes() if s.strands == brief.strands)
    judged = kept = 0
    for part in screen(library, brief):
        home = _home(run, part.kinds.period)
        if home is not None:
            some, good = _join(part, home, brief, judge)
            judged, kept = judged + some, kept + good
    return Proposed(run, looked_at, judged, kept)


def _home(run: loop.Run, period: int) -> Island | None:
    """Return the island with the shortest grid that a shorter one fits into."""
    fitting = [i for i in run.islands if i.space.period % period == 0]
    return min(fitting, key=lambda i: i.space.period) if fitting else None


def _join(part: Promising, island: Island, brief: Brief, judge: Judge) -> tuple[int, int]:
    """Let kinds join an island's archive; return how many were judged, and how many are good."""
    kinds, space = part.kinds, island.space
    knots = np.tile(kinds.knots(), (space.period // kinds.period, 1, 1))
    thick = judge.setting.diameters_mm
    even = np.full(len(thick), thick.mean())
    rows = judge.setting.model.rows_for(brief.length_mm, even)
    loops, path = consumption(kinds.knots(), np.zeros((kinds.strands, len(kinds)), np.uint8),
                              rows, judge.setting.model, even)  # fmt: skip
    who, orders = coloured(kinds, loops + path, brief, judge)
    if not len(who):
        return 0, 0
    genomes = Genomes(
        np.zeros(len(who), np.uint8), np.zeros(len(who), np.uint8),
        np.ascontiguousarray(knots[..., who]), orders.astype(np.uint8),
    )  # fmt: skip
    found, cells = judge.judge_designs(genomes, genomes.knots, genomes.colours, space)
    good = np.flatnonzero(found.violation == 0)
    island.archive.add(cells[good], found.utility[good], found.genomes.take(good))
    return len(who), len(good)
