"""Variation made for cloth: operators on whole batches of genomes.

Every operator takes genomes and returns changed copies; each is registered with DEAP's toolbox
by `motifsearch.search.island`.  Bands and regions are drawn per genome and applied with one mask
for the whole batch.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np

from motifsearch.base.arrays import U8, Bool
from motifsearch.search.construction import CONSTRUCTIONS, plan
from motifsearch.search.genome import Genomes, Space

Operator = Callable[[Genomes, Space, np.random.Generator], Genomes]


def _copy(g: Genomes) -> Genomes:
    return Genomes(g.construction.copy(), g.settled.copy(), g.knots.copy(), g.colours.copy())


def _region(space: Space, n: int, rng: np.random.Generator, whole_rows: bool = False) -> Bool:
    """Return a random region of cells per genome, bool ``[P, K, N]``; rows wrap around."""
    p, k = space.period, space.strands // 2
    start, height = rng.integers(0, p, n), rng.integers(1, max(2, p // 2 + 1), n)
    rows = (np.arange(p)[:, None] - start) % p < height
    if whole_rows:
        return np.broadcast_to(rows[:, None], (p, k, n))
    left, width = rng.integers(0, k, n), rng.integers(1, k + 1, n)
    slots = (np.arange(k)[:, None] - left) % k < width
    return rows[:, None] & slots[None]


def exchange_bands(a: Genomes, b: Genomes, space: Space, rng: np.random.Generator) -> Genomes:
    """Return `a` with a band of rows, or a region of it, from `b`; colours of either.

    Half of the children take the region from `b` at another height, moved by whole pairs of rows.
    """
    n = len(a)
    child = _copy(a)
    band = _region(space, n, rng, whole_rows=True)
    patch = _region(space, n, rng)
    mask = np.where(rng.random(n) < 0.5, band, patch)
    shift = 2 * rng.integers(0, max(1, space.period // 2), n) * (rng.random(n) < 0.5)
    rows = (np.arange(space.period)[:, None] + shift) % space.period
    moved = np.take_along_axis(b.knots, rows[:, None], 0)
    child.knots = np.where(mask, moved, a.knots)
    other = rng.random(n) < 0.3
    child.colours = np.where(other, b.colours, a.colours)
    child.settled = np.where(other, b.settled, a.settled)
    return child


def change_knots(g: Genomes, space: Space, rng: np.random.Generator) -> Genomes:
    """Change one to three free knots to any other knot."""
    child = _copy(g)
    n = len(g)
    flat = child.knots.reshape(space.period * (space.strands // 2), n)
    number, where = rng.integers(1, 4, n), rng.random((3, n))
    step = rng.integers(1, 4, (3, n), np.uint8)
    for c in np.unique(g.construction):
        free = np.flatnonzero(plan(int(c), space.strands, space.period, space.border).free)
        for k in range(3 if len(free) else 0):
            some = np.flatnonzero((g.construction == c) & (number > k))
            cell = free[(where[k, some] * len(free)).astype(np.intp)]
            flat[cell, some] = (flat[cell, some] + step[k, some]) & 3
    return child


def repeat_band(g: Genomes, space: Space, rng: np.random.Generator) -> Genomes:
    """Copy a band of rows to another height, so that a figure comes twice."""
    child = _copy(g)
    n, p = len(g), space.period
    shift = 2 * rng.integers(1, max(2, p // 2), n)
    moved = np.take_along_axis(g.knots, ((np.arange(p)[:, None] + shift) % p)[:, None], 0)
    child.knots = np.where(_region(space, n, rng, whole_rows=True), moved, g.knots)
    return child


def shift_phase(g: Genomes, space: Space, rng: np.random.Generator) -> Genomes:
    """Move the grid by whole pairs of rows under its construction's axes."""
    child = _copy(g)
    shift = 2 * rng.integers(0, max(1, space.period // 2), len(g))
    rows = (np.arange(space.period)[:, None] + shift) % space.period
    child.knots = np.take_along_axis(g.knots, rows[:, None], 0)
    return child


def recolour(g: Genomes, space: Space, rng: np.random.Generator) -> Genomes:
    """Exchange two strands, give one another colour, or rename a colour; settle or unsettle."""
    child = _copy(g)
    n, every = len(g), np.arange(len(g))
    x = rng.integers(0, space.strands, n)
    # y: any strand of another colour, where there is one.
    y = (rng.random(g.colours.shape) * (g.colours != g.colours[x, every])).argmax(0)
    kind = rng.integers(0, 4, n)
    swap = every[kind == 0]
    child.colours[x[swap], swap] = g.colours[y[swap], swap]
    child.colours[y[swap], swap] = g.colours[x[swap], swap]
    one = every[kind == 1]
    child.colours[x[one], one] = g.colours[y[one], one]
    step = rng.integers(min(1, space.palette - 1), space.palette, n)
    new = ((g.colours[x, every] + step) % space.palette).astype(np.uint8)
    rename = kind == 2
    child.colours = np.where(rename & (g.colours == g.colours[x, every]), new, child.colours)
    child.settled ^= (kind == 3).astype(np.uint8)
    return child


def reconstruct(g: Genomes, space: Space, rng: np.random.Generator) -> Genomes:
    """Grow the motif under another construction."""
    child = _copy(g)
    there = np.array(space.constructions, np.uint8)
    step = rng.integers(1, len(there), len(g))
    child.construction = there[(np.searchsorted(there, g.construction) + step) % len(there)]
    return child


#: Left out because the ablation (`tests/bench/bench_ablation.py`) showed nothing that they bring:
#: exchanging who ties in a region, and filling a region with one kind of knot.
MUTATIONS: Final[dict[str, tuple[Operator, float]]] = {
    "change_knots": (change_knots, 1.0),
    "repeat_band": (repeat_band, 2.0),
    "shift_phase": (shift_phase, 1.0),
    "recolour": (recolour, 1.5),
    "reconstruct": (reconstruct, 1.0),
}


def mutate(
    g: Genomes, space: Space, rng: np.random.Generator, without: frozenset[str] = frozenset()
) -> Genomes:
    """Apply one operator of `MUTATIONS` to every genome, drawn by its weight.

    Args:
        g: The genomes.
        space: What they share.
        rng: The random generator.
        without: Operators that are left out (for the ablation).
    """
    names = [name for name in MUTATIONS if name not in without]
    weights = np.array([MUTATIONS[name][1] for name in names])
    which = rng.choice(len(names), len(g), p=weights / weights.sum())
    child = _copy(g)
    for k, name in enumerate(names):
        some = np.flatnonzero(which == k)
        if len(some):
            part = MUTATIONS[name][0](g.take(some), space, rng)
            child.construction[some], child.settled[some] = part.construction, part.settled
            child.knots[..., some], child.colours[:, some] = part.knots, part.colours
    return child


def at_period(g: Genomes, grid: U8, colours: U8, period: int) -> Genomes:
    """Return developed designs as genomes of another period: repeated, or cut to the first rows.

    A repeated design stays what it is; its construction is kept where it still holds (a glide by
    half the old period is none of the new one).

    Args:
        g: The genomes, all of one period.
        grid: Their developed grids, uint8 ``[P, K, N]``.
        colours: Their developed colours, uint8 ``[S, N]``.
        period: The new period.
    """
    times = -(-period // len(grid))
    knots = np.tile(grid, (times, 1, 1))[:period]
    construction = g.construction.copy()
    construction[construction == CONSTRUCTIONS.index("glide")] = CONSTRUCTIONS.index("none")
    return Genomes(construction, g.settled.copy(), knots, colours.copy())
