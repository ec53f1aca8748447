"""The genome: a construction, the knots of its part of the grid, and colour genes.

A batch of genomes is held population-last, as the scorer wants it.  `develop` makes designs of
them: the construction fills the grid, strands that must share a colour take the gene of the first
of them, and with folded threads the colours are made even: while two colours have an odd number
of strands, the first class of odd size of one takes the other's colour.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from motifsearch.base.arrays import I64, U8, Bool
from motifsearch.pattern.canonical_form import shortest_period
from motifsearch.pattern.design import Pattern
from motifsearch.pattern.knots import slots_in_row
from motifsearch.search.construction import available, colour_classes, develop_grid


@dataclass(frozen=True)
class Space:
    """What all genomes of an island share.

    Attributes:
        strands: S.
        period: P.
        palette: Number of colours that genes choose from.
        colours_min: The fewest colours in a design.
        colours_max: The most colours in a design.
        folded: Whether every colour needs an even number of strands (one may be odd if S is).
        border: Whether the outermost strands are fixed borders.
        codes: The codes of the knots that may be used, in order.
    """

    strands: int
    period: int
    palette: int
    colours_min: int
    colours_max: int
    folded: bool
    border: bool
    codes: tuple[int, ...] = (0, 1, 2, 3)

    @property
    def allowed(self) -> U8:
        """What every code becomes where only some knots may be used, uint8 ``[4]``.

        A knot that may not be used gives way to one that the same strand ties, or else to any.
        """
        table = np.arange(4, dtype=np.uint8)
        for code in range(4):
            if code not in self.codes:
                same = [c for c in self.codes if c & 1 == code & 1]
                table[code] = (same or list(self.codes))[0]
        return table

    @property
    def constructions(self) -> list[int]:
        """The constructions that exist here."""
        return available(self.strands, self.period)


@dataclass
class Genomes:
    """N genomes.

    Attributes:
        construction: uint8 ``[N]``.
        settled: uint8 ``[N]``, 0 or 1.
        knots: uint8 ``[P, S // 2, N]``, raw: only the free knots of the construction count.
        colours: uint8 ``[S, N]``, raw: only the first strand of every class counts.
    """

    construction: U8
    settled: U8
    knots: U8
    colours: U8

    def __len__(self) -> int:
        """Return N."""
        return len(self.construction)

    def take(self, where: npt.NDArray[np.integer] | Bool) -> Genomes:
        """Return some of the genomes, copied."""
        some = np.flatnonzero(where) if where.dtype == bool else where
        return Genomes(
            self.construction.take(some),
            self.settled.take(some),
            self.knots.take(some, axis=-1),
            self.colours.take(some, axis=-1),
        )


def join(parts: Sequence[Genomes]) -> Genomes:
    """Return all genomes of several batches of one space."""
    return Genomes(
        *(np.concatenate([getattr(p, f.name) for p in parts], -1) for f in fields(Genomes))
    )


def random_genomes(space: Space, n: int, rng: np.random.Generator) -> Genomes:
    """Return `n` random genomes: a few kinds of knots each, a few colours each."""
    s, p, k = space.strands, space.period, space.palette
    construction = rng.choice(np.array(space.constructions, np.uint8), n)
    # Designs of one or two kinds of knots are more ordered than a mix of all four.
    weights = rng.dirichlet((0.4, 0.4, 0.25, 0.25), n).T
    edges = np.cumsum(weights, 0)[:-1]
    draw = rng.random((p, s // 2, n))
    knots = sum((draw > edge).astype(np.uint8) for edge in edges)
    assert isinstance(knots, np.ndarray)
    chosen = np.argsort(rng.random((k, n)), axis=0)
    number = rng.integers(space.colours_min, space.colours_max + 1, n)
    colours = np.take_along_axis(chosen, (rng.random((s, n)) * number).astype(np.intp), 0).astype(
        np.uint8
    )
    settled = (rng.random(n) < 0.5).astype(np.uint8)
    return Genomes(construction, settled, knots.astype(np.uint8), colours)


def develop(genomes: Genomes, space: Space) -> tuple[U8, U8]:
    """Return the designs: knots uint8 ``[P, S // 2, N]`` and colours uint8 ``[S, N]``."""
    grid = develop_grid(genomes.construction, genomes.knots, space.strands, space.border)
    if len(space.codes) < 4:
        grid = space.allowed[grid]
    classes = colour_classes(genomes.construction, genomes.settled, grid, space.strands)
    colours = genomes.colours[classes, np.arange(len(genomes))]
    if space.folded:
        colours = even_out(colours, classes, space.palette)
    return grid, colours


def even_out(colours: U8, classes: U8, palette: int) -> U8:
    """Make the number of strands of every colour even, as far as the classes allow.

    Args:
        colours: uint8 ``[S, N]``.
        classes: For every strand the first of its class, uint8 ``[S, N]``.
        palette: Number of colours.

    Returns:
        uint8 ``[S, N]``; with S odd one colour stays odd.
    """
    strands = len(colours)
    colours = colours.copy()
    first = classes == np.arange(strands)[:, None]
    size_odd = np.array([(classes == x).sum(0) % 2 == 1 for x in range(strands)]) & first
    for _ in range(palette // 2 + 1):
        odd = np.array([(colours == c).sum(0) % 2 == 1 for c in range(palette)])
        todo = np.flatnonzero(odd.sum(0) >= 2)
        if not len(todo):
            break
        give = odd[:, todo].argmax(0)
        takes = odd[:, todo]
        takes[give, np.arange(len(todo))] = False
        take = takes.argmax(0)
        movable = size_odd[:, todo] & (colours[:, todo] == give)
        mover = movable.argmax(0)
        same = classes[:, todo] == mover
        colours[:, todo] = np.where(same, take, colours[:, todo]).astype(np.uint8)
    return colours


def odd_colours(colours: U8, palette: int) -> I64:
    """Return how many colours have an odd number of strands, int64 ``[N]``."""
    odd = np.array([(colours == c).sum(0) % 2 for c in range(palette)], np.int64)
    total: I64 = odd.sum(0)
    return total


@lru_cache(maxsize=64)
def _multipliers(number: int) -> npt.NDArray[np.uint64]:
    drawn = np.random.Generator(np.random.PCG64(20)).integers(0, 2**63, number, np.uint64)
    return drawn * np.uint64(2) + np.uint64(1)


def design_hash(grid: U8, colours: U8) -> npt.NDArray[np.uint64]:
    """Return a 64-bit hash of every developed design, uint64 ``[N]``.

    A multilinear hash with fixed odd multipliers, finished by a mix so that near designs land far
    apart.
    """
    flat = np.concatenate([grid.reshape(-1, grid.shape[-1]), colours])
    total = _multipliers(len(flat)) @ (flat.astype(np.uint64) + np.uint64(1))
    total ^= total >> np.uint64(31)
    total *= np.uint64(0x9E3779B97F4A7C15)
    mixed: npt.NDArray[np.uint64] = total ^ (total >> np.uint64(29))
    return mixed


def genomes_of(pattern: Pattern, space: Space, palette: Sequence[str]) -> Genomes | None:
    """Return a pattern as one genome without construction, or None if it does not fit the space.

    Args:
        pattern: The design.
        space: S must be the same and P a multiple of the rows after which the knots are as before.
        palette: The colour names that genes index; colours that are not there are mapped to
            colours that are, in order.
    """
    rows = len(shortest_period(pattern.knots))
    if pattern.strands != space.strands or space.period % rows:
        return None
    grid = np.tile(pattern.grid[:rows], (space.period // rows, 1))
    free = [n for n in range(len(palette)) if palette[n] not in pattern.palette]
    number = {}
    for name in pattern.palette:
        if name in palette:
            number[name] = list(palette).index(name)
        elif free:
            number[name] = free.pop(0)
        else:
            return None
    colours = np.array([[number[c]] for c in pattern.colour_order], np.uint8)
    return Genomes(np.zeros(1, np.uint8), np.zeros(1, np.uint8), grid[:, :, None], colours)


def pattern_of(
    grid: U8, colours: U8, title: str, palette: Sequence[str], inks: Sequence[str]
) -> Pattern:
    """Return one developed design as a pattern.

    Args:
        grid: uint8 ``[P, S // 2]``.
        colours: uint8 ``[S]``.
        title: The title.
        palette: Colour names.
        inks: ``#rrggbb`` of every colour.
    """
    strands = len(colours)
    knots = tuple(
        tuple(int(c) for c in row[: slots_in_row(strands, r)]) for r, row in enumerate(grid)
    )
    used = sorted({int(c) for c in colours})
    return Pattern(
        title,
        knots,
        tuple(palette[int(c)] for c in colours),
        {palette[c]: inks[c] for c in used},
    )
