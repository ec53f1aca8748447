"""The best allowed colouring of a kind from the threads on hand.

A colouring gives every class of a kind a colour of its own.  It is allowed where the least
CIEDE2000 difference of classes that touch is the brief's contrast at least, and where the threads
are enough by the search's fast bound (`motifsearch.search.limits`).  Of those allowed the best is
the one that meets the wishes for contrast and for shares best; of colourings as good as it, up to
`EQUAL`, a kind takes one by its key, so that a gallery does not show the same colours again and
again.

All colourings are tried where there are no more than `TRIED`; of a larger box the colours of which
most thread is on hand are tried.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import permutations
from typing import Final

import numpy as np

from motifsearch.base.arrays import F64, I64
from motifsearch.library.columns import Kinds, bit
from motifsearch.search.brief import Brief
from motifsearch.search.island import Judge
from motifsearch.search.wishes import degrees

TRIED: Final = 5040
#: Colourings whose wishes differ by less than this are as good as one another.
EQUAL: Final = 0.005
#: Colourings of one kind that are judged in full.
KEPT: Final = 2
#: Threads of several thicknesses are taken as the mean first: how much less may be enough.
UNEVEN: Final = 0.85


@dataclass(frozen=True)
class _Ways:
    """The colourings of all kinds that have so many classes of which these touch.

    Attributes:
        ways: Colours (indices into the palette), int64 ``[A, classes]``, those with contrast.
        worth: What they bring to the wish for contrast, float64 ``[A]``.
    """

    ways: I64
    worth: F64


class Colourer:
    """The colourings of one brief.

    Args:
        brief: The brief.
        judge: The same, ready to judge.
    """

    def __init__(self, brief: Brief, judge: Judge) -> None:
        self.brief, self.judge = brief, judge
        limiter = judge.limiter
        some = brief.limits.on_hand
        self.total_mm = limiter.total_mm if some else np.full(len(brief.palette), np.inf)
        self.longest_mm = limiter.longest_mm if some else self.total_mm
        wishes = sum(brief.wishes.values())
        self.for_contrast = brief.wishes.get("contrast", 0.0) / wishes
        self.for_shares = brief.wishes.get("balance", 0.0) / wishes if brief.shares else 0.0
        self.enough = 1.0 if np.ptp(judge.setting.diameters_mm) == 0 else UNEVEN
        self.known: dict[tuple[int, int], _Ways] = {}
        self.every: dict[int, I64] = {}

    def _all(self, classes: int) -> I64:
        """Return the ways to give so many classes different colours, int64 ``[A, classes]``."""
        if classes not in self.every:
            rich = np.lexsort((np.arange(len(self.total_mm)), -self.judge.limiter.total_mm))
            most = len(rich)
            while most > classes and _number(most, classes) > TRIED:
                most -= 1
            colours = sorted(rich[:most].tolist())
            ways = np.array(list(permutations(colours, classes)), np.int64)
            self.every[classes] = ways.reshape(-1, classes)
        return self.every[classes]

    def _ways(self, classes: int, touching: int) -> _Ways:
        if (classes, touching) not in self.known:
            ways, differ = self._all(classes), self.judge.setting.differences
            least = np.full(len(ways), np.inf)
            for c in range(classes):
                for d in range(c):
                    if touching >> bit(c, d) & 1:
                        np.minimum(least, differ[ways[:, c], ways[:, d]], out=least)
            seen = np.where(np.isfinite(least), least, 0.0)
            good = np.flatnonzero(seen >= self.brief.limits.contrast_min)
            raw = dict.fromkeys(
                ("movement", "calm", "coherence", "balance", "symmetry", "evenness", "flatness",
                 "short_repeat", "easy", "likeness"), np.zeros(len(good)),
            )  # fmt: skip
            raw["contrast"] = np.clip(seen[good] / 100.0, 0.0, 1.0)
            worth = self.for_contrast * degrees(raw, 8)["contrast"]
            self.known[classes, touching] = _Ways(ways[good], worth)
        return self.known[classes, touching]

    def coloured(self, kinds: Kinds, use_mm: F64, most: int = KEPT) -> tuple[I64, I64]:
        """Return colourings of kinds.

        Args:
            kinds: N kinds.
            use_mm: What every strand uses, float64 ``[S, N]``.
            most: Colourings of one kind.

        Returns:
            Of every colouring the kind, int64 ``[M]``, and the colour of every strand, int64
            ``[S, M]``; kinds without an allowed colouring are not among them.
        """
        who, orders = [], []
        for n in range(len(kinds)):
            order = kinds["colours"][:, n].astype(np.int64)
            for way in self._best(kinds, n, order, use_mm[:, n], most):
                who.append(n)
                orders.append(way[order])
        if not who:
            return np.zeros(0, np.int64), np.zeros((kinds.strands, 0), np.int64)
        return np.array(who), np.stack(orders, -1)

    def _best(self, kinds: Kinds, n: int, order: I64, use_mm: F64, most: int) -> I64:
        """Return the colourings of one kind that are judged in full, int64 ``[m, classes]``."""
        k = int(kinds["classes"][n])
        known = self._ways(k, int(kinds["touching"][n]))
        ways, worth = known.ways, known.worth
        if self.brief.limits.on_hand:
            limiter = self.judge.limiter
            share = (use_mm * limiter.margin + limiter.ends_mm) * self.enough
            need = np.bincount(order, share, k)
            strands = np.bincount(order, minlength=k)
            cuts = np.maximum(1, (strands + 1) // 2 if self.brief.folded else strands)
            fits = (self.total_mm[:, None] >= need) & (self.longest_mm[:, None] >= need / cuts)
            good = fits[ways, np.arange(k)].all(1)
            ways, worth = ways[good], worth[good]
        if not len(ways):
            return ways
        targets = self.judge.setting.targets
        if targets is not None and self.for_shares:
            shares = kinds["shares"][:k, n].astype(np.float64)
            off = np.abs(shares[None] - targets[ways]).sum(1)
            other = targets.sum() - targets[ways].sum(1)
            worth = worth + self.for_shares * (1.0 - 0.5 * (off + other))
        if most >= len(ways):
            return ways
        best = np.flatnonzero(worth >= worth.max() - EQUAL)
        start = int(kinds["key"][n] % np.uint64(len(best)))
        turned = np.roll(best, -start)[: most - 1]
        return ways[sorted({*turned.tolist(), int(worth.argmax())})]


def _number(colours: int, classes: int) -> int:
    out = 1
    for k in range(classes):
        out *= colours - k
    return out
