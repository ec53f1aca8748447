"""The best allowed colouring of a kind from the threads on hand.

A colouring gives every class of a kind a colour of its own.  It is allowed where the least
CIEDE2000 difference of classes that touch is the brief's contrast at least, and where the threads
are enough by the search's fast bound (`motifsearch.search.limits`).  Of those allowed the best is
the one that meets the wishes for contrast and for shares best; of colourings as good as it, up to
`EQUAL`, a kind takes one by its key, so that a gallery does not show the same colours again and
again.

All colourings are tried where there are no more than `TRIED`; of a larger box the colours of which
most thread is on hand are tried first.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import permutations
from typing import Final

import numpy as np

from motifsearch.base.arrays import F64, I64
from motifsearch.library.columns import Kinds, bit
from motifsearch.search.brief import Brief
from motifsearch.search.island import Judge

TRIED: Final = 5040
#: Colourings whose wishes differ by less than this are as good as one another.
EQUAL: Final = 0.02
#: Colourings of one kind that are judged in full.
KEPT: Final = 2


@lru_cache(maxsize=64)
def _assignments(colours: tuple[int, ...], classes: int) -> I64:
    """Return all ways to give so many classes different colours, int64 ``[A, classes]``."""
    return np.array(list(permutations(colours, classes)), np.int64).reshape(-1, classes)


def tried(brief: Brief, judge: Judge, classes: int) -> tuple[int, ...]:
    """Return the colours (indices into the palette) that are tried for so many classes."""
    rich = np.lexsort((np.arange(len(brief.palette)), -judge.limiter.total_mm))
    most = len(rich)
    while most > classes and _number(most, classes) > TRIED:
        most -= 1
    return tuple(sorted(rich[:most].tolist()))


def _number(colours: int, classes: int) -> int:
    out = 1
    for k in range(classes):
        out *= colours - k
    return out


def coloured(kinds: Kinds, use_mm: F64, brief: Brief, judge: Judge) -> tuple[I64, I64]:
    """Return colourings of kinds.

    Args:
        kinds: N kinds.
        use_mm: What every strand uses, float64 ``[S, N]``.
        brief: The brief.
        judge: The same, ready to judge.

    Returns:
        Of every colouring the kind, int64 ``[M]``, and the colour of every strand, int64
        ``[S, M]``; kinds without an allowed colouring are not among them.
    """
    limiter, differ = judge.limiter, judge.setting.differences
    total = limiter.total_mm if brief.limits.on_hand else np.full(len(brief.palette), np.inf)
    longest = limiter.longest_mm if brief.limits.on_hand else total
    total_wish = sum(brief.wishes.values())
    for_contrast = brief.wishes.get("contrast", 0.0) / total_wish
    for_shares = brief.wishes.get("balance", 0.0) / total_wish if brief.shares else 0.0
    targets = judge.setting.targets
    who, orders = [], []
    for n in range(len(kinds)):
        k = int(kinds["classes"][n])
        order = kinds["colours"][:, n].astype(np.int64)
        ways = _assignments(tried(brief, judge, k), k)
        least = np.full(len(ways), np.inf)
        pairs = int(kinds["touching"][n])
        for c in range(k):
            for d in range(c):
                if pairs >> bit(c, d) & 1:
                    np.minimum(least, differ[ways[:, c], ways[:, d]], out=least)
        good = least >= brief.limits.contrast_min
        if brief.limits.contrast_min > 0:
            good &= np.isfinite(least)
        for c in range(k):
            strands = np.flatnonzero(order == c)
            need = float((use_mm[strands, n] * limiter.margin + limiter.ends_mm).sum())
            cuts = max(1, (len(strands) + 1) // 2 if brief.folded else len(strands))
            good &= (total[ways[:, c]] >= need) & (longest[ways[:, c]] >= need / cuts)
        allowed = np.flatnonzero(good)
        if not len(allowed):
            continue
        seen = np.where(np.isfinite(least[allowed]), least[allowed], 0.0)
        worth = for_contrast * np.clip(seen / 30.0, 0.0, 1.0)
        if targets is not None and for_shares:
            shares = kinds["shares"][:k, n].astype(np.float64)
            off = np.abs(shares[None] - targets[ways[allowed]]).sum(1)
            other = targets.sum() - targets[ways[allowed]].sum(1)
            worth = worth + for_shares * (1.0 - 0.5 * (off + other))
        best = allowed[worth >= worth.max() - EQUAL]
        start = int(kinds["key"][n] % np.uint64(len(best)))
        picked = {int(best[start]), int(allowed[int(worth.argmax())])}
        for way in sorted(picked)[:KEPT]:
            who.append(n)
            orders.append(ways[way][order])
    if not who:
        return np.zeros(0, np.int64), np.zeros((kinds.strands, 0), np.int64)
    return np.array(who), np.stack(orders, -1)
