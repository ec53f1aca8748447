"""The next gallery of a taste: part best guess, part worth asking, part new kinds.

Who is shown only what was learnt so far teaches nothing new, and soon sees one band many times.  So
the places of a gallery are shared out (`SHARES`):

* *best*: what meets wishes and taste best;
* *asking*: what may well be liked, and of which the least is known: mean and deviation of the
  posterior together (an upper confidence bound; Srinivas and others, ICML 2010);
* *new*: kinds whose outlines are farthest from all that was shown.

What was shown and left takes no place as long as there is anything else; what is not for her takes
none.  Galleries are as varied as ever: all places are picked by `motifsearch.search.variety.pick`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from motifsearch.base.arrays import F64
from motifsearch.pattern.design import Pattern
from motifsearch.search.taste import Taste, kind_of
from motifsearch.search.taste_looks import Looks


@dataclass(frozen=True, kw_only=True)
class Share:
    """A part of the places.

    Attributes:
        name: best, asking or new.
        share: Of the places.
        words: Why such a band hangs there, as it is said beside it; empty for nothing.
    """

    name: str
    share: float
    words: str


SHARES: Final = (
    Share(name="best", share=0.75, words=""),
    Share(name="asking", share=0.125, words="Shown to ask: would you like this one?"),
    Share(name="new", share=0.125, words="Shown as something new."),
)
#: What counts beside the best guess: one deviation of the posterior, the whole distance.
UNSURE: Final = 1.0
FAR: Final = 1.0
#: What a design that was shown and left, or was shown before, is set back.
SET_BACK: Final = 10.0


@dataclass(frozen=True)
class Belief:
    """What is believed of one design.

    Attributes:
        worth: The expected worth, in units of what was shown.
        unsure: Its deviation, in the same.
        far: The distance of its outline to the nearest that was shown, 0..1.
    """

    worth: float
    unsure: float
    far: float


def beliefs(taste: Taste, seen: Looks) -> list[Belief]:
    """Return what is believed of every design of a batch."""
    posterior = taste.posterior
    mean, deviation = posterior.mean_and_deviation(seen)
    far = posterior.far(seen)
    unit = posterior.scale
    return [
        Belief(round(float(m) / unit, 9), round(float(d) / unit, 9), round(float(f), 9))
        for m, d, f in zip(mean, deviation, far, strict=True)
    ]


def parts_of(size: int) -> list[str]:
    """Return which part every place of a gallery belongs to.

    Examples:
        >>> parts_of(8)
        ['best', 'best', 'best', 'best', 'best', 'best', 'asking', 'new']
        >>> parts_of(1)
        ['best']
    """
    counts = [int(s.share * size) for s in SHARES]
    counts[0] += size - sum(counts)
    return [s.name for s, n in zip(SHARES, counts, strict=True) for _ in range(n)]


def words_of_part(name: str) -> str:
    """Return what is said beside a band of a part."""
    return next((s.words for s in SHARES if s.name == name), "")


def places(
    taste: Taste,
    patterns: Sequence[Pattern],
    utility: F64,
    believed: Sequence[Belief],
    size: int,
) -> F64:
    """Return what counts for every place of the gallery, float64 ``[size, n]``.

    Args:
        taste: The taste.
        patterns: n candidates.
        utility: How well they meet wishes and taste, float64 ``[n]``.
        believed: What is believed of each.
        size: Places.
    """
    kinds = [kind_of(p) for p in patterns]
    wanted = {kind_of(p) for p in taste.wanted}
    left = np.array([k in taste.seen or k in taste.refused for k in kinds])
    shown = left | np.array([k in wanted for k in kinds])
    worth = np.array([b.worth for b in believed])
    unsure = np.array([b.unsure for b in believed])
    far = np.array([b.far for b in believed])
    rows = {
        "best": utility - SET_BACK * left,
        "asking": worth + UNSURE * unsure - SET_BACK * shown,
        "new": worth + FAR * far - SET_BACK * shown,
    }
    return np.array([rows[name] for name in parts_of(size)]).reshape(size, len(patterns))
