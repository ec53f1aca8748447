"""Selection: limits first, then Pareto ranks, then spread along reference directions.

Designs that break a limit come after all that break none, ordered by how far they break it.
Among the rest, nondominated sorting (Deb et al., IEEE Trans. Evol. Comput. 6(2), 2002; computed
by moocore) gives the ranks.  Within a rank the designs are spread: each belongs to the reference
direction (Das and Dennis, SIAM J. Optim. 8(3), 1998; made by DEAP) that it lies closest to, and
the best of every direction go first (Deb and Jain, IEEE Trans. Evol. Comput. 18(4), 2014).

Many designs have exactly the same objectives (the same band with other colours, or shifted).  A
copy is worth less than a design that stands for itself: the n-th of equals is put n ranks lower,
or else a few dozen points of the front would fill the whole population.
"""

from __future__ import annotations

from functools import lru_cache

import moocore
import numpy as np

from motifsearch.base.arrays import F64, I64

#: Odd factors of a multilinear hash, fixed.
_FACTORS = np.array(
    [
        0x9E3779B97F4A7C15,
        0xC2B2AE3D27D4EB4F,
        0x165667B19E3779F9,
        0xD6E8FEB86659FD93,
        0xA0761D6478BD642F,
    ],
    np.uint64,
)


@lru_cache(maxsize=8)
def directions(objectives: int) -> F64:
    """Return unit reference directions, float64 ``[m, objectives]``."""
    from deap.tools import uniform_reference_points

    divisions = {1: 1, 2: 60, 3: 10, 4: 6, 5: 5}[objectives]
    points: F64 = np.asarray(uniform_reference_points(objectives, divisions), float)
    unit: F64 = points / np.linalg.norm(points, axis=1, keepdims=True)
    return unit


def equals(costs: F64, tie: F64) -> tuple[I64, I64, I64]:
    """Group designs of exactly the same costs.

    Args:
        costs: float64 ``[objectives, N]``, within 0..1, with at most nine digits.
        tie: What is to be small among equals, float64 ``[N]``.

    Returns:
        The first of every group, int64 ``[groups]``; the group of every design and how many of it
        go before that design, int64 ``[N]`` each.

    Examples:
        >>> [part.tolist() for part in equals(np.array([[0.5, 0.5, 0.5]]), np.array([0.3, 0, 0.1]))]
        [[1], [0, 0, 0], [2, 0, 1]]
    """
    # One number per cost vector is sorted many times faster than the vectors.
    whole = np.rint(costs * 1e9).astype(np.int64).view(np.uint64)
    key = (whole * _FACTORS[: len(costs), None]).sum(0, dtype=np.uint64)
    order = np.lexsort((tie, key))
    ordered = key[order]
    news = np.r_[True, ordered[1:] != ordered[:-1]][: len(order)]
    group, before = np.empty(len(order), np.int64), np.empty(len(order), np.int64)
    group[order] = np.cumsum(news) - 1
    begins = np.flatnonzero(news)
    before[order] = np.arange(len(order)) - begins[group[order]]
    return order[begins], group, before


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
        first, group_of, before = equals(costs[:, good], tie[good])
        rank[good] = moocore.pareto_rank(points[first])[group_of] + before
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
