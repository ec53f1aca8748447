"""The model of a taste: preferences with a Gaussian process prior, in Laplace's approximation.

Every design x has a hidden worth f(x).  That a is wanted and b, shown beside it, was left, has the
probability 1 / (1 + exp(f(b) - f(a))) (Bradley and Terry, Biometrika 39, 1952).  f is a Gaussian
process (Chu and Ghahramani, Preference learning with Gaussian processes, ICML 2005) with mean 0
and the kernel

    k(x, y) = a^2 x.y / d + b^2 sum over t of exp(-|x_t - y_t|^2 / 2 l^2 d_t)
              + c^2 exp(-D(x, y)^2 / 2 o^2),

x and y the d traits of `motifsearch.search.taste_looks`, x_t those of colours and those of figures
in turn (who likes one band for its colours may like another for its figure), D the distance of
outlines that variety uses; designs of another width have no outline in common.  The mode of the
worths of what was shown is found by Newton's method, and the Hessian there gives the posterior
(Rasmussen and Williams, Gaussian Processes for Machine Learning, 2006, section 3.4; the likelihood
here joins two values, so that W is a matrix).  At another design

    mean = k' g,   variance = k(x, x) - k' (I + W K)^-1 W k,

k its kernel with what was shown, g the gradient of the log likelihood at the mode.

Distances of outlines make no kernel that is positive definite for certain; the outline part of K
is projected onto the nearest one that is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from motifsearch.base.arrays import F64, I64
from motifsearch.search.taste_looks import U64, Looks, outline_distances
from motifsearch.search.taste_traits import COLOUR, TRAITS

#: Steps of Newton's method at most, and the change below which it has arrived.
STEPS = 50
ARRIVED = 1e-10


@dataclass(frozen=True, kw_only=True)
class Kernel:
    """The kernel's numbers, as the module defines them; tuned by ``tests/bench/bench_taste.py``.

    Attributes:
        linear: a, of the linear part.
        smooth: b, of the two parts that are smooth, in colours and in figures.
        reach: l, how far these reach.
        outline: c, of the likeness of outlines.
        near: o, how far that likeness reaches.
        weight: What one pair counts: the pairs of one round repeat each other.
    """

    linear: float = 1.0
    smooth: float = 1.0
    reach: float = 1.0
    outline: float = 1.5
    near: float = 0.5
    weight: float = 1.0


KERNEL = Kernel()
#: How steep a degree is: the best of what was shown would be to the taste to 88 % if it were sure.
STEEP = 2.0
#: Deviations that a degree is below the mean.  A search finds where a model errs in its favour:
#: without caution it runs to where nothing is known (`tests/bench/bench_taste.py`).
CAUTION = 2.0
#: Which traits are those of colours.
_COLOUR = np.arange(len(TRAITS)) < len(COLOUR)


def smooth(one: F64, other: F64, reach: float) -> F64:
    """Return exp(-|x - y|^2 / 2 l^2 d), float64 ``[n, m]``, for ``[d, n]`` and ``[d, m]``."""
    d = max(1, len(one))
    apart = (one**2).sum(0)[:, None] + (other**2).sum(0)[None] - 2.0 * (one.T @ other)
    return np.asarray(np.exp(-np.maximum(apart, 0.0) / (2.0 * reach**2 * d)))


def trait_kernel(one: F64, other: F64, kernel: Kernel) -> F64:
    """Return the part of the kernel that traits make, float64 ``[n, m]``.

    Args:
        one: float64 ``[d, n]``.
        other: float64 ``[d, m]``.
        kernel: The numbers.
    """
    out = kernel.linear**2 * (one.T @ other) / len(one)
    if kernel.smooth:
        for part in (_COLOUR, ~_COLOUR):
            out = out + kernel.smooth**2 * smooth(one[part], other[part], kernel.reach)
    return np.asarray(out)


def likeness(distances: F64, kernel: Kernel) -> F64:
    """Return the part of the kernel that outlines make, of the shape of their distances."""
    return np.asarray(kernel.outline**2 * np.exp(-(distances**2) / (2.0 * kernel.near**2)))


def nearest_kernel(matrix: F64) -> F64:
    """Return the nearest symmetric matrix without negative eigenvalues (Higham, 1988)."""
    values, vectors = np.linalg.eigh((matrix + matrix.T) / 2.0)
    return np.asarray((vectors * np.maximum(values, 0.0)) @ vectors.T)


@dataclass(frozen=True)
class Laplace:
    """The posterior at what was shown.

    Attributes:
        mode: float64 ``[n]``.
        gradient: Of the log likelihood at the mode, float64 ``[n]``.
        inner: (I + W K)^-1 W, float64 ``[n, n]``.
    """

    mode: F64
    gradient: F64
    inner: F64


def laplace(matrix: F64, won: I64, lost: I64, weight: F64) -> Laplace:
    """Return Laplace's approximation of the posterior of a pairwise preference model.

    Args:
        matrix: The prior covariance K, float64 ``[n, n]``.
        won: Of every pair the design that was preferred, int64 ``[pairs]``.
        lost: The other one, int64 ``[pairs]``.
        weight: What every pair counts, float64 ``[pairs]``.
    """
    n = len(matrix)
    f = np.zeros(n)
    best = -np.inf

    def likelihood(f: F64) -> float:
        return float(-(weight * np.logaddexp(0.0, f[lost] - f[won])).sum())

    def slope(f: F64) -> tuple[F64, F64]:
        miss = 1.0 / (1.0 + np.exp(np.clip(f[won] - f[lost], -500, 500)))
        g, w = np.zeros(n), np.zeros((n, n))
        np.add.at(g, won, weight * miss)
        np.add.at(g, lost, -weight * miss)
        bend = weight * miss * (1.0 - miss)
        np.add.at(w, (won, won), bend)
        np.add.at(w, (lost, lost), bend)
        np.add.at(w, (won, lost), -bend)
        np.add.at(w, (lost, won), -bend)
        return g, w

    a = np.zeros(n)  # K^-1 f
    for _ in range(STEPS):
        g, w = slope(f)
        goal = np.linalg.solve(np.eye(n) + w @ matrix, w @ f + g)
        step = 1.0
        while True:
            tried = a + step * (goal - a)
            moved = matrix @ tried
            value = likelihood(moved) - 0.5 * float(tried @ moved)
            if value >= best or step < 1e-6:
                break
            step /= 2.0
        change = float(np.abs(moved - f).max(initial=0.0))
        a, f, best = tried, moved, max(best, value)
        if change < ARRIVED:
            break
    g, w = slope(f)
    return Laplace(f, g, np.asarray(np.linalg.solve(np.eye(n) + w @ matrix, w)))


@dataclass(frozen=True)
class Shown:
    """What was shown and how it was marked, ready for the model.

    Attributes:
        traits: float64 ``[d, n]``.
        anchors: Per design all variants of its outline, uint64 ``[words, variants]``.
        widths: The strands of each, int64 ``[n]``.
        own: The outline of each as it is, uint64 ``[words]``.
        won: Of every pair the design that was preferred, int64 ``[pairs]``.
        lost: The other one, int64 ``[pairs]``.
        weight: What every pair counts, float64 ``[pairs]``.
    """

    traits: F64
    anchors: tuple[U64, ...]
    widths: I64
    own: tuple[U64, ...]
    won: I64
    lost: I64
    weight: F64

    def distances(self) -> F64:
        """Return the distances of all outlines, symmetric; inf between designs of two widths."""
        n = len(self.anchors)
        out = np.full((n, n), np.inf)
        for width in np.unique(self.widths):
            some = np.flatnonzero(self.widths == width)
            own = np.stack([self.own[k] for k in some], 1)
            part = outline_distances([self.anchors[k] for k in some], own)
            out[np.ix_(some, some)] = np.minimum(part, part.T)
        return out


@dataclass(frozen=True)
class Posterior:
    """What is believed of every design after some picks; made by `fit`.

    Attributes:
        shown: What it was learnt from.
        counted: How much every trait counts, float64 ``[d]``: 1, or 0 where it was struck out.
        kernel: The kernel's numbers.
        laplace: The posterior at what was shown.
    """

    shown: Shown
    counted: F64
    kernel: Kernel
    laplace: Laplace

    @cached_property
    def scale(self) -> float:
        """The largest worth of what was shown, as the unit of `degree`; at least 1.

        Where marks contradict each other all worths are near 0, and then all is liked alike.
        """
        return max(float(np.abs(self.laplace.mode).max(initial=0.0)), 1.0)

    @cached_property
    def _traits(self) -> F64:
        return np.asarray(self.shown.traits * self.counted[:, None])

    def _kernel(self, looks: Looks) -> F64:
        """Return the kernel of what was shown with other designs, float64 ``[n, N]``."""
        there = looks.traits * self.counted[:, None]
        out = trait_kernel(self._traits, there, self.kernel)
        some = np.flatnonzero(self.shown.widths == looks.strands)
        if len(some) and self.kernel.outline:
            anchors = [self.shown.anchors[k] for k in some]
            out[some] += likeness(outline_distances(anchors, looks.outlines), self.kernel)
        return out

    def mean_and_deviation(self, looks: Looks) -> tuple[F64, F64]:
        """Return the expected worth of designs and how unsure it is, float64 ``[N]`` each."""
        with_shown = self._kernel(looks)
        there = looks.traits * self.counted[:, None]
        k = self.kernel
        own = k.linear**2 * (there**2).sum(0) / len(there)
        own = own + 2 * k.smooth**2 + k.outline**2
        known = (with_shown * (self.laplace.inner @ with_shown)).sum(0)
        return self.laplace.gradient @ with_shown, np.sqrt(np.maximum(own - known, 0.0))

    def far(self, looks: Looks) -> F64:
        """Return the distance to the nearest outline that was shown, float64 ``[N]``, 0..1."""
        some = np.flatnonzero(self.shown.widths == looks.strands)
        if not len(some):
            return np.ones(len(looks))
        return np.asarray(
            outline_distances([self.shown.anchors[k] for k in some], looks.outlines).min(0)
        )

    def degree(self, looks: Looks) -> F64:
        """Return how well designs are to the taste, float64 ``[N]``, 0..1, rather less than more.

        It is 1 / (1 + exp(-`STEEP` w)), w the mean less `CAUTION` deviations, in units of `scale`.
        """
        mean, deviation = self.mean_and_deviation(looks)
        sure = (mean - CAUTION * deviation) / self.scale
        return np.asarray(1.0 / (1.0 + np.exp(-STEEP * sure)))

    def drawn(self) -> tuple[F64, F64]:
        """Return the slope of the linear part in every trait, and how unsure it is.

        Returns:
            float64 ``[d]`` each: the posterior mean and the standard deviation.
        """
        x, a = self._traits, self.kernel.linear**2 / len(self._traits)
        mean = a * (x @ self.laplace.gradient)
        known = ((a * x) @ self.laplace.inner * (a * x)).sum(1)
        return mean, np.sqrt(np.maximum(a - known, 0.0))


def fit(shown: Shown, struck: Sequence[int] = (), kernel: Kernel = KERNEL) -> Posterior:
    """Return what is believed after some picks.

    Args:
        shown: What was shown, and how it was marked.
        struck: Traits that do not count, as indices into `TRAITS`.
        kernel: The kernel's numbers.
    """
    counted = np.ones(len(TRAITS))
    counted[list(struck)] = 0.0
    traits = shown.traits * counted[:, None]
    matrix = trait_kernel(traits, traits, kernel)
    if kernel.outline:
        matrix = matrix + nearest_kernel(likeness(shown.distances(), kernel))
    found = laplace(matrix, shown.won, shown.lost, kernel.weight * shown.weight)
    return Posterior(shown, counted, kernel, found)


__all__ = ["KERNEL", "Kernel", "Laplace", "Posterior", "Shown", "fit", "laplace"]
