"""Invented makers: whose taste is known, so that what a search learns of it can be measured.

(a) is linear in the traits of `motifsearch.search.taste_traits`: what the model is made for.
(b) likes what is near to one design of another search, by the outline, and two colours by name.
(c) is a random smooth function of the picture: the strengths of its waves (two-dimensional Fourier
    transform of L*, a* and b*, twelve bands each), their means and spreads; a Gaussian process of
    reach 1 in 42 standardised numbers, by random Fourier features (Rahimi and Recht, NIPS 2007).
    None of these numbers is a trait.

Every worth is centred and scaled over a reference: the elites of searches that nobody marked.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from motifsearch.base.arrays import F64, U8
from motifsearch.pattern.design import Pattern
from motifsearch.search.brief import Brief
from motifsearch.search.genome import develop
from motifsearch.search.island import Judge
from motifsearch.search.loop import Run
from motifsearch.search.taste_looks import all_variants, outline_distances
from motifsearch.search.taste_traits import TRAITS
from motifsearch.simulate.scores import Scores, score_batch
from motifsearch.simulate.walk import faces

FAMILIES = ("a", "b", "c")
#: Edges of the bands along the band and across it.
ALONG, ACROSS = (0, 1, 3, 6, 13), (0, 1, 2, 4)
WAVES = 300

#: From designs (knots, colours, scores) to a number each.
Raw = Callable[[U8, U8, Scores], F64]


def picture(judge: Judge, knots: U8, colours: U8) -> F64:
    """The numbers of the picture, float64 ``[42, N]``."""
    face = faces(knots, colours, 48)[0::2]
    out = []
    for channel in range(3):
        cells = judge.labs[face][..., channel] / 50.0
        waves = np.abs(np.fft.fft2(cells - cells.mean((0, 1)), axes=(0, 1)))
        waves /= np.sqrt(cells.shape[0] * cells.shape[1])
        for r in range(len(ALONG) - 1):
            for c in range(len(ACROSS) - 1):
                part = waves[ALONG[r] : ALONG[r + 1], ACROSS[c] : ACROSS[c + 1]]
                out.append(np.log1p(part.mean((0, 1))))
        out += [cells.mean((0, 1)), cells.std((0, 1))]
    return np.array(out)


@dataclass
class Reference:
    """Elites of searches that nobody marked, with what makers see in them."""

    knots: list[U8]
    colours: list[U8]
    scores: list[Scores]
    judge: Judge

    def each(self, raw: Raw) -> F64:
        parts = zip(self.knots, self.colours, self.scores, strict=True)
        return np.concatenate([raw(k, c, s) for k, c, s in parts])


def reference(brief: Brief, runs: Sequence[Run]) -> Reference:
    judge = Judge(brief)
    knots, colours, scores = [], [], []
    for run in runs:
        for island in run.islands:
            grid, order = develop(island.archive.genomes, island.space)
            knots.append(grid)
            colours.append(order)
            scores.append(score_batch(grid, order, judge.setting))
    return Reference(knots, colours, scores, judge)


@dataclass
class Maker:
    """One invented maker.

    Attributes:
        raw: The worth before it is centred and scaled.
        all: The worths of the reference, sorted.
        centre: Their mean.
        spread: Their standard deviation.
        judge: Of the brief.
    """

    raw: Raw
    all: F64
    centre: float
    spread: float
    judge: Judge

    def worth(self, knots: U8, colours: U8, scores: Scores) -> F64:
        return (self.raw(knots, colours, scores) - self.centre) / self.spread

    def of(self, patterns: Sequence[Pattern]) -> F64:
        palette = list(self.judge.brief.palette)
        out = []
        for p in patterns:
            order = np.array([[palette.index(c)] for c in p.colour_order], np.uint8)
            grid = p.grid[:, :, None]
            out.append(self.worth(grid, order, score_batch(grid, order, self.judge.setting))[0])
        return np.array(out)

    def share_below(self, worth: F64) -> F64:
        """The share of the reference that is worth less."""
        return np.searchsorted(self.all, worth) / len(self.all)


def maker(kind: str, seed: int, ref: Reference, unseen: Sequence[Pattern]) -> Maker:
    """An invented maker of a family.

    Args:
        kind: a, b or c.
        seed: Of this maker.
        ref: The reference.
        unseen: Designs of another search, of which (b) has an ideal.
    """
    rng = np.random.default_rng([seed, FAMILIES.index(kind)])
    judge = ref.judge
    every = np.arange

    def seen(k: U8, c: U8, s: Scores):
        return judge.looks(s, k, c, every(c.shape[1]))

    if kind == "a":
        weights = rng.normal(size=len(TRAITS))

        def raw(k: U8, c: U8, s: Scores) -> F64:
            return weights @ seen(k, c, s).traits

    elif kind == "b":
        ideal = all_variants(unseen[int(rng.integers(len(unseen)))])
        two = rng.choice(len(judge.brief.palette), 2, replace=False)

        def apart(k: U8, c: U8, s: Scores) -> F64:
            return outline_distances([ideal], seen(k, c, s).outlines)[0]

        d = ref.each(apart).std()
        q = ref.each(lambda k, c, s: s.shares[two].sum(0)).std()

        def raw(k: U8, c: U8, s: Scores) -> F64:
            return s.shares[two].sum(0) / q - apart(k, c, s) / d

    else:
        x = ref.each(lambda k, c, s: picture(judge, k, c).T).T
        mean, scale = x.mean(1, keepdims=True), x.std(1, keepdims=True) + 1e-9
        ways = rng.normal(size=(WAVES, len(x))) / np.sqrt(len(x))
        phase, size = rng.uniform(0, 2 * np.pi, (WAVES, 1)), rng.normal(size=WAVES)

        def raw(k: U8, c: U8, s: Scores) -> F64:
            return size @ np.cos(ways @ ((picture(judge, k, c) - mean) / scale) + phase)

    worths = np.sort(ref.each(raw))
    centre, spread = float(worths.mean()), float(worths.std())
    return Maker(raw, (worths - centre) / spread, centre, spread, judge)
