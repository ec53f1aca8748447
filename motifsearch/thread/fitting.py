"""Pairing for the pieces on hand: pairs and cutting plan chosen together.

Which strands share a thread decides how long the threads are, and so which pieces they can be cut
from.  The two choices are one integer program: the cuts are all the pairs that could be formed,
and a need is one kind of strand (see `motifsearch.thread.stock`).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from motifsearch.base.work import Work
from motifsearch.thread.pairing import Classes, pair_total
from motifsearch.thread.stash import StashThread
from motifsearch.thread.stock import Problem, group_kinds
from motifsearch.thread.stock_program import solve


def pair_fit(
    classes: Classes,
    thread: StashThread,
    shortest_mm: float | None = None,
    work: Work | None = None,
) -> list[tuple[int, int]]:
    """Return pairs of classes that the pieces of a thread serve best.

    Best means the least missing, then the least waste, then the fewest skeins begun, as in the
    cutting plan.  Strands that no piece is left for are paired for the least total.

    Args:
        classes: The strands of one colour.
        thread: The thread on hand.
        shortest_mm: A leftover below this is waste; below the shortest thread that two strands
            can share when left out.
        work: What may be spent.
    """
    pairs = classes.pairs()
    cover = np.zeros((len(classes.counts), len(pairs)), np.int64)
    for p, (i, j) in enumerate(pairs):
        cover[i, p] += 1
        cover[j, p] += 1
    lengths = tuple(classes.length(i, j) for i, j in pairs)
    problem = Problem(
        group_kinds(thread.pieces_mm, [thread.is_whole(p) for p in thread.pieces_mm]),
        lengths,
        classes.counts,
        min(lengths, default=0.0) if shortest_mm is None else shortest_mm,
        cover,
        classes.shares,
    )
    found = solve(problem, work)
    chosen = [
        pair
        for one in found.filled
        for pair, n in zip(pairs, one.cuts, strict=True)
        for _ in range(n)
    ]
    if any(found.missing):
        chosen += pair_total(replace(classes, counts=found.missing))
    return chosen
