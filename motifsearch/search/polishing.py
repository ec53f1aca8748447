"""Polish: a hill climb on designs that are to be shown.

The neighbours of a design are all designs with one free knot changed and all with the colours of
two strands exchanged, under its own construction.  As long as a neighbour that keeps every limit
meets the wishes better, the best one takes its place.
"""

from __future__ import annotations

import numpy as np

from motifsearch.search.construction import plan
from motifsearch.search.genome import Genomes, Space, join
from motifsearch.search.island import Judge, Judged, merge


def neighbours(g: Genomes, space: Space) -> Genomes:
    """Return all neighbours of one genome."""
    free = np.flatnonzero(
        plan(int(g.construction[0]), space.strands, space.period, space.border).free
    )
    pairs = [(x, y) for x in range(space.strands) for y in range(x) if g.colours[x] != g.colours[y]]
    n = 3 * len(free) + len(pairs)
    out = g.take(np.zeros(n, np.int64))
    flat = out.knots.reshape(-1, n)
    for step in (1, 2, 3):
        where = np.arange(len(free)) + (step - 1) * len(free)
        flat[free, where] ^= np.uint8(step)
    out.knots = flat.reshape(out.knots.shape)
    for k, (x, y) in enumerate(pairs, 3 * len(free)):
        out.colours[[x, y], k] = out.colours[[y, x], k]
    return out


def polish(judge: Judge, designs: Judged, space: Space, rounds: int = 12) -> Judged:
    """Return the designs climbed to where no neighbour is better; each stays in its place.

    Args:
        judge: The brief.
        designs: N designs that keep every limit.
        space: What they share.
        rounds: Steps at most.
    """
    judged, _ = judge.judge(designs.genomes, space)
    current = [judged.take(np.array([k])) for k in range(len(designs.utility))]
    open_ = list(range(len(current)))
    for _ in range(rounds):
        if not open_:
            break
        around = [neighbours(current[k].genomes, space) for k in open_]
        judged, _ = judge.judge(join(around), space)
        worth = np.where(judged.violation == 0, judged.utility, -1.0)
        start, still = 0, []
        for k, part in zip(open_, around, strict=True):
            stop = start + len(part)
            best = start + int(worth[start:stop].argmax())
            if worth[best] > current[k].utility[0]:
                current[k] = judged.take(np.array([best]))
                still.append(k)
            start = stop
        open_ = still
    return merge(current)
