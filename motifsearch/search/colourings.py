"""Colourings: one grid in all the colours of a box, each judged as a design of its own.

The strands of a design that share a colour are a *class*.  A colouring gives every class a colour
of the box, no colour to two classes.  With n colours and k classes there are n! / (n - k)! of them;
where these are more than asked for, as many are drawn at random, the design's own among them.

Each is judged in full, by the same batch scorer and the same limits as in a search: contrast,
shares and thread use depend on the colours, which may differ in thickness.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import permutations
from typing import Final

import numpy as np

from motifsearch.base.arrays import F64, I64
from motifsearch.base.errors import InputError
from motifsearch.pattern.design import Pattern
from motifsearch.search.genome import genomes_of
from motifsearch.search.island import Judge, space_of
from motifsearch.search.wishes import utility
from motifsearch.simulate.scores import score_batch

#: Colourings of one design that are looked at.
MOST: Final = 6000
#: Colourings that are scored at once.
AT_ONCE: Final = 4096


@dataclass(frozen=True, eq=False)
class Colourings:
    """A design in many colourings.

    Attributes:
        pattern: The design.
        classes: The colour name of every class in the design as it was given.
        colours: int64 ``[n, k]``: the brief's colour that each of the k classes gets.
        worth: float64 ``[n]``: how well the wishes are met, 0..1; -inf where a limit is broken.
        every: Whether these are all there are.
    """

    pattern: Pattern
    classes: tuple[str, ...]
    colours: I64
    worth: F64
    every: bool


def assignments(colours: int, classes: int, most: int, own: tuple[int, ...], seed: int) -> I64:
    """Return the ways to give classes different colours, int64 ``[n, classes]``.

    Args:
        colours: How many colours there are.
        classes: How many classes; none where there are more than colours.
        most: At most so many ways; drawn at random where there are more.
        own: A way that is among them.
        seed: Of the random generator.

    Examples:
        >>> assignments(3, 2, 9, (0, 1), 1).tolist()
        [[0, 1], [0, 2], [1, 0], [1, 2], [2, 0], [2, 1]]
        >>> assignments(9, 4, 5, (3, 1, 0, 2), 1).shape
        (5, 4)
    """
    if classes > colours:
        return np.zeros((0, classes), np.int64)
    if math.perm(colours, classes) <= most:
        return np.array(list(permutations(range(colours), classes)), np.int64)
    rng = np.random.Generator(np.random.PCG64(np.random.SeedSequence(seed)))
    drawn = np.argsort(rng.random((2 * most, colours)), 1)[:, :classes]
    _, first = np.unique(np.concatenate([[own], drawn]), axis=0, return_index=True)
    kept = np.sort(first)[:most]
    found: I64 = np.concatenate([[own], drawn])[kept].astype(np.int64)
    return found


def colourings(pattern: Pattern, judge: Judge, *, most: int = MOST, seed: int = 1) -> Colourings:
    """Return a design in all colourings from a brief's palette, judged.

    Args:
        pattern: The design; its colours are among the palette's.
        judge: The brief, with the length at which thread use is judged.
        most: At most so many.
        seed: Of what is drawn where there are more.

    Raises:
        InputError: The design does not have the brief's number of strands, or has colours that
            the brief lacks.
    """
    brief = judge.brief
    space = space_of(brief, pattern.rows)
    genome = genomes_of(pattern, space, brief.palette)
    if genome is None or set(pattern.palette) - set(brief.palette):
        raise InputError("expected a design of the brief's strands and colours", pattern.title)
    classes = tuple(pattern.palette)
    own = tuple(brief.palette.index(name) for name in classes)
    ways = assignments(len(brief.palette), len(classes), most, own, seed)
    every = math.perm(len(brief.palette), len(classes)) <= most
    of = np.array([classes.index(name) for name in pattern.colour_order])
    worth = np.zeros(len(ways))
    for first in range(0, len(ways), AT_ONCE):
        some = ways[first : first + AT_ONCE]
        grid = np.repeat(genome.knots, len(some), axis=2)
        colours = np.ascontiguousarray(some[:, of].T.astype(np.uint8))
        scores = score_batch(grid, colours, judge.setting)
        _, met = judge.wishes(scores, grid, colours, space)
        broken = judge.limiter.violation(scores, grid, colours, space)
        good = np.where(broken == 0, utility(met, brief.wishes), -np.inf)
        worth[first : first + AT_ONCE] = np.round(good, 9)
    return Colourings(pattern, classes, ways, worth, every)
