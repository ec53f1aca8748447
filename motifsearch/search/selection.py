"""Selection: limits first, then Pareto ranks, then spread along reference directions.

Designs that break a limit come after all that break none, ordered by how far they break it.
Among the rest, nondominated sorting (Deb et al., IEEE Trans. Evol. Comput. 6(2), 2002; computed
by moocore) gives the ranks.  Within a rank the designs are spread: each belongs to the reference
direction (Das and Dennis, SIAM J. Optim. 8(3), 1998; made by DEAP) that it lies closest to, and
the best of every direction go first (Deb and Jain, IEEE Trans. Evol. Comput. 18(4), 2014).
"""

from __future__ import annotations

from functools import lru_cache

import moocore
import numpy as np
import numpy.typing as npt

F64 = npt.NDArray[np.float64]
I64 = npt.NDArray[np.int64]


@lru_cache(maxsize=8)
def directions(objectives: int) -> F64:
    """Return unit reference directions, float64 ``[m, objectives]``."""
    from deap.tools import uniform_reference_points

    divisions = {1: 1, 2: 60, 3: 10, 4: 6, 5: 5}[objectives]
    points: F64 = np.asarray(uniform_reference_points(objectives, divisions), float)
    unit: F64 = points / np.linalg.norm(points, axis=1, keepdims=True)
    return unit


def ranking(costs: F64, violation: F64, tie: F64) -> I64:
    """Return the indices of the designs, best first, int64 ``[N]``.

    Args:
        costs: What is to be small, float64 ``[objectives, N]``, within 0..1.
        violation: float64 ``[N]``, 0 where every limit is kept.
        tie: What is to be small among designs of one direction, float64 ``[N]``.
    """
    n = costs.shape[1]
    rank = np.zeros(n, np.int64)
    good = np.flatnonzero(violation == 0)
    if len(good):
        points = np.ascontiguousarray(costs[:, good].T)
        rank[good] = moocore.pareto_rank(points)
    niche = np.zeros(n, np.int64)
    if len(good):
        ways = directions(len(costs))
        lengths = np.linalg.norm(points, axis=1)
        along = points @ ways.T
        closest = along.argmax(1)
        away = np.sqrt(np.maximum(0.0, lengths**2 - along[np.arange(len(good)), closest] ** 2))
        # Within (rank, direction): the order by distance and wish is the turn in which they go.
        order = np.lexsort((np.round(away + tie[good], 9), closest, rank[good]))
        group = rank[good][order] * len(ways) + closest[order]
        begins = np.flatnonzero(np.r_[True, group[1:] != group[:-1]])
        turn = np.arange(len(order)) - np.repeat(begins, np.diff(np.r_[begins, len(order)]))
        niche[good[order]] = turn
    return np.lexsort((np.arange(n), tie, niche, rank, violation))
