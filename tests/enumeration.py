"""Every design of a small space, one of each kind, written apart from the package's own search.

A design is a grid (4 codes per knot) and a colour order, taken here up to renaming: a partition of
the strands.  Two are the same kind when a shift along the band by whole pairs of rows, a mirror, a
flip, a half turn, or any of these together takes one to the other (design.md, section 4; the codes
change as `motifsearch.pattern.knots` says).  Whole spaces are held as arrays: grids as base-4
numbers, one kind being the least number of its orbit.

The brief that goes with a space has threads enough, so that no limit cuts anything off.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import moocore
import numpy as np

from motifsearch.search.brief import Brief, brief_of
from motifsearch.search.genome import Genomes
from motifsearch.search.island import Judge, space_of

# rr ll rl lr = 0 1 2 3, after a mirror, a flip and a half turn.
SAME, MIRROR, FLIP, TURN = (0, 1, 2, 3), (1, 0, 3, 2), (1, 0, 2, 3), (0, 1, 3, 2)

STASH = """
[[threads]]
name = "sand"
colour = "#d8c49a"
diameter_mm = 0.6
pieces_m = [1000.0]
skein_m = 1000
[[threads]]
name = "teal"
colour = "#1f7a78"
diameter_mm = 0.6
pieces_m = [1000.0]
skein_m = 1000
[[threads]]
name = "brick"
colour = "#a5432d"
diameter_mm = 0.6
pieces_m = [1000.0]
skein_m = 1000
"""


def ample_brief(folder: Path, strands: int, rows: int, **more: object) -> Brief:
    """The default wishes over three colours, with more thread than any band takes."""
    path = folder / "stash.toml"
    path.write_text(STASH, encoding="utf-8")
    return brief_of(
        {
            "stash": str(path),
            "strands": strands,
            "length_mm": 150,
            "colours_max": 2 if strands == 4 else 3,
            "search.periods": [rows],
            **{key.replace("__", "."): value for key, value in more.items()},
        }
    )


def cells(strands: int, rows: int) -> list[tuple[int, int]]:
    """The knots of one period: (row, left position)."""
    return [(r, i) for r in range(rows) for i in range(r % 2, strands - 1, 2)]


@dataclass(frozen=True)
class Motion:
    """One symmetry of the strip: where each knot comes from, what it becomes, where it starts."""

    source: tuple[int, ...]
    recode: tuple[int, ...]
    row: int
    upward: bool
    reverse: bool


@lru_cache(maxsize=32)
def motions(strands: int, rows: int) -> tuple[Motion, ...]:
    """All motions of a grid: P/2 phases times four."""
    where = {cell: n for n, cell in enumerate(cells(strands, rows))}
    out = []
    for recode, upward, reverse in (
        (SAME, False, False),
        (MIRROR, False, True),
        (FLIP, True, False),
        (TURN, True, True),
    ):
        for s in range(strands % 2 if reverse else 0, rows, 2):
            source = tuple(
                where[((s - r if upward else s + r) % rows, strands - 2 - i if reverse else i)]
                for r, i in where
            )
            out.append(Motion(source, recode, s, upward, reverse))
    return tuple(out)


def digits(numbers: np.ndarray, n_cells: int) -> np.ndarray:
    """The codes of grids given as base-4 numbers, uint8 ``[cells, N]``."""
    shifts = 2 * np.arange(n_cells)[:, None]
    return (numbers[None] >> shifts & 3).astype(np.uint8)


def number(codes: np.ndarray) -> np.ndarray:
    """The inverse of `digits`, int64 ``[N]``."""
    total = np.zeros(codes.shape[1], np.int64)
    for n, row in enumerate(codes):
        total += row.astype(np.int64) << (2 * n)
    return total


def moved(codes: np.ndarray, motion: Motion) -> np.ndarray:
    """Grids after a motion, uint8 ``[cells, N]``."""
    return np.array(motion.recode, np.uint8)[codes[list(motion.source)]]


def kinds_of_grid(strands: int, rows: int, chunk: int = 1 << 18) -> tuple[np.ndarray, np.ndarray]:
    """The least grid of every orbit of all 4^knots grids, and the size of the orbit."""
    n_cells = len(cells(strands, rows))
    least, sizes = [], []
    for start in range(0, 4**n_cells, chunk):
        numbers = np.arange(start, min(start + chunk, 4**n_cells))
        codes = digits(numbers, n_cells)
        images = np.array([number(moved(codes, m)) for m in motions(strands, rows)])
        some = images.min(0) == numbers
        least.append(numbers[some])
        fixed = (images[:, some] == numbers[some]).sum(0)
        sizes.append(len(images) // fixed)
    return np.concatenate(least), np.concatenate(sizes)


def colour_orders(strands: int, fewest: int, most: int, folded: bool = True) -> np.ndarray:
    """All colour orders up to renaming, uint8 ``[orders, S]``.

    Folded: every colour has an even number of strands, one an odd number where S is odd.
    """

    def grow(line: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
        if len(line) == strands:
            yield line
            return
        for c in range(min(max(line, default=-1) + 2, most)):
            yield from grow((*line, c))

    good = [
        line
        for line in grow(())
        if len(set(line)) >= fewest
        and (not folded or sum(line.count(c) % 2 for c in set(line)) <= strands % 2)
    ]
    return np.array(good, np.uint8)


def named_orders(strands: int, fewest: int, most: int, palette: int, folded: bool = True) -> int:
    """How many colour orders there are when the colours of a palette keep their names."""
    orders = colour_orders(strands, fewest, most, folded)
    return sum(math.perm(palette, len(set(line))) for line in orders.tolist())


def arrangement(codes: np.ndarray, strands: int, rows: int, motion: Motion) -> np.ndarray:
    """Which strand stands at every position of the moved strip's start, uint8 ``[S, N]``."""
    order = np.repeat(np.arange(strands, dtype=np.uint8)[:, None], codes.shape[1], 1)
    for (r, i), knot in zip(cells(strands, rows), codes, strict=True):
        if r > motion.row or (r == motion.row and not motion.upward):
            break
        crossing = knot < 2
        order[i], order[i + 1] = (
            np.where(crossing, order[i + 1], order[i]),
            np.where(crossing, order[i], order[i + 1]),
        )
    return order[::-1] if motion.reverse else order


def sigma_of(codes: np.ndarray, strands: int, rows: int) -> np.ndarray:
    """Which strand stands where after one period, uint8 ``[S, N]``."""
    end = Motion((), SAME, rows, False, False)
    return arrangement(codes, strands, rows, end)


def _pairs(lines: np.ndarray) -> np.ndarray:
    """A number for every partition: one bit per pair of strands of one colour."""
    total = np.zeros(lines.shape[1], np.int64)
    for x in range(len(lines)):
        for y in range(x):
            total = total * 2 + (lines[x] == lines[y])
    return total


def kinds_of_design(codes: np.ndarray, orders: np.ndarray, strands: int, rows: int) -> np.ndarray:
    """Where an order is the first of its kind on a grid, bool ``[orders, N]``.

    Args:
        codes: One grid of every orbit, uint8 ``[cells, N]``.
        orders: uint8 ``[orders, S]``.
        strands: S.
        rows: P.
    """
    n = codes.shape[1]
    known = np.full(1 << (strands * (strands - 1) // 2), -1, np.int16)
    known[_pairs(orders.T)] = np.arange(len(orders))
    labels = np.repeat(np.arange(len(orders), dtype=np.int16)[:, None], n, 1)
    maps = []
    everywhere = np.arange(n)
    starts = [(everywhere, sigma_of(codes, strands, rows))]
    for motion in motions(strands, rows):
        fixed = np.flatnonzero((moved(codes, motion) == codes).all(0))
        if len(fixed):
            starts.append((fixed, arrangement(codes[:, fixed], strands, rows, motion)))
    for some, start in starts:
        image = np.array([known[_pairs(line[start])] for line in orders])
        maps.append((some, image))
    while True:
        before = labels.copy()
        for some, image in maps:
            part = labels[:, some]
            labels[:, some] = np.minimum(part, np.take_along_axis(part, image.astype(np.intp), 0))
        if (labels == before).all():
            return labels == np.arange(len(orders))[:, None]


def as_grid(codes: np.ndarray, strands: int, rows: int) -> np.ndarray:
    """The package's grid, uint8 ``[P, S // 2, N]``."""
    grid = np.zeros((rows, strands // 2, codes.shape[1]), np.uint8)
    for (r, i), row in zip(cells(strands, rows), codes, strict=True):
        grid[r, i // 2] = row
    return grid


@dataclass(frozen=True)
class Truth:
    """What a whole space holds.

    Attributes:
        grids: Kinds of grid.
        designs: Kinds of design.
        raw: Designs when grids and named colour orders are counted one by one.
        front: The Pareto front of the costs, float64 ``[points, objectives]``.
        volume: Its hypervolume, the reference point being 1 in every cost.
        best: The best utility.
    """

    grids: int
    designs: int
    raw: int
    front: np.ndarray
    volume: float
    best: float


def all_kinds(strands: int, rows: int, fewest: int, most: int, chunk: int = 1 << 14):
    """Yield the designs of a space, one of every kind: grids and colours, population-last."""
    least, _ = kinds_of_grid(strands, rows)
    orders = colour_orders(strands, fewest, most)
    for start in range(0, len(least), chunk):
        codes = digits(least[start : start + chunk], len(cells(strands, rows)))
        order, which = np.nonzero(kinds_of_design(codes, orders, strands, rows))
        for first in range(0, len(which), chunk):
            part = slice(first, first + chunk)
            yield as_grid(codes[:, which[part]], strands, rows), orders[order[part]].T.copy()


def volume(costs: np.ndarray) -> float:
    """The hypervolume of costs ``[points, objectives]`` up to the reference point 1."""
    if not len(costs):
        return 0.0
    points = moocore.filter_dominated(np.ascontiguousarray(costs))
    return float(moocore.hypervolume(points, ref=np.ones(points.shape[1])))


def truth(brief: Brief, rows: int) -> Truth:
    """Score one design of every kind of a brief's space."""
    judge, space = Judge(brief), space_of(brief, rows)
    strands = brief.strands
    front = np.zeros((0, len(judge.objectives)))
    designs, best = 0, 0.0
    for grid, colours in all_kinds(strands, rows, brief.colours_min, brief.colours_max):
        n = colours.shape[1]
        genomes = Genomes(np.zeros(n, np.uint8), np.zeros(n, np.uint8), grid, colours)
        judged, _ = judge.judge_designs(genomes, grid, colours, space)
        assert (judged.violation == 0).all(), "a limit of the brief cuts the space"
        costs = np.unique(np.concatenate([front, judged.costs.T]), axis=0)
        front = moocore.filter_dominated(costs)
        designs, best = designs + n, max(best, float(judged.utility.max()))
    grids = len(kinds_of_grid(strands, rows)[0])
    raw = 4 ** len(cells(strands, rows)) * named_orders(
        strands, brief.colours_min, brief.colours_max, len(brief.palette)
    )
    return Truth(grids, designs, raw, front, volume(front), best)
