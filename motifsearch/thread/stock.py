"""One-dimensional cutting stock: which lengths to cut from which pieces.

Given kinds of pieces (length, how many) and kinds of cuts (length, how many are wanted), a
*cutting pattern* says how many of each cut come from one piece (Gilmore and Gomory, Operations
Research 9, 1961).  Integer variables count how often each pattern is used; every wanted cut is
made or counted as missing.  `motifsearch.thread.stock_program.solve`
finds, one after the other,

1. the least length of cuts that are missing,
2. then the least waste: leftovers that are shorter than useful,
3. then the fewest whole skeins begun, and then the least length of the pieces begun,

by HiGHS (`scipy.optimize.milp`), starting from best-fit decreasing.  All patterns of a piece are
listed where they are few; a long piece, which has too many, gets one variable for every kind of
cut instead.  Nothing here knows of threads or colours.  Lengths are in mm.

A *need* is what is to be covered.  Usually every kind of cut covers a need of its own; when
strands are still to be paired, the cuts are the possible pairs and a need is one kind of strand.
"""

from __future__ import annotations

from bisect import bisect_left, insort
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

#: More cutting patterns than this for one kind of piece, and it is treated as a long piece.
MAX_PATTERNS = 3000
#: More kinds of cuts than this, and nobody lists their patterns.
MAX_CUTS = 200
#: Rounding dust in lengths that are multiples of a thousandth of a millimetre.
DUST = 1e-6

IntArray = npt.NDArray[np.int64]
FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Kind:
    """Pieces that are alike.

    Attributes:
        length: In mm.
        count: How many there are.
        whole: Whether it is a whole skein, which is spared where leftovers will do.
    """

    length: float
    count: int
    whole: bool = False


@dataclass(frozen=True)
class Filled:
    """A piece and what is cut from it.

    Attributes:
        kind: Index of the kind of piece.
        cuts: int ``[m]``, how many of each kind of cut.
    """

    kind: int
    cuts: tuple[int, ...]


@dataclass(frozen=True)
class Solution:
    """What is cut from what.

    Attributes:
        filled: One for every piece that is begun.
        missing: int ``[c]``, needs that no piece is left for.
        gaps: What each aim leaves open, as a fraction of its value: how much lower it might be.
    """

    filled: tuple[Filled, ...]
    missing: tuple[int, ...]
    gaps: tuple[float, ...] = (0.0, 0.0, 0.0)

    @property
    def gap(self) -> float:
        """The gap of what is missing and of what is wasted; 0 when no plan costs less thread."""
        return max(self.gaps[:2])


@dataclass(frozen=True)
class Problem:
    """A cutting stock problem.

    Attributes:
        kinds: The pieces.
        lengths: Length of each kind of cut, ``[m]``.
        demand: How many of each need, ``[c]``.
        cover: int ``[c, m]``, how many of each need one cut covers; the identity when None.
        useful: Leftovers below this are waste.
        need_mm: What a missing need counts, ``[c]``; the cut lengths when None.
    """

    kinds: tuple[Kind, ...]
    lengths: tuple[float, ...]
    demand: tuple[int, ...]
    useful: float = 0.0
    cover: IntArray | None = field(default=None, compare=False)
    need_mm: tuple[float, ...] | None = None

    @property
    def covers(self) -> IntArray:
        """`cover`, or the identity."""
        return np.eye(len(self.lengths), dtype=np.int64) if self.cover is None else self.cover

    @property
    def weights(self) -> FloatArray:
        """What each missing need counts, float64 ``[c]``."""
        return np.array(self.lengths if self.need_mm is None else self.need_mm, np.float64)

    def most(self) -> list[int]:
        """Return the largest number of each cut that can be of use, ``[m]``."""
        cover, demand = self.covers, np.array(self.demand)
        return [
            int(min((demand[c] // cover[c, i] for c in np.flatnonzero(cover[:, i])), default=0))
            for i in range(len(self.lengths))
        ]

    def left(self, filled: Filled) -> float:
        """Return what is left of a filled piece, in mm."""
        cut = sum(n * length for n, length in zip(filled.cuts, self.lengths, strict=True))
        return max(0.0, round(self.kinds[filled.kind].length - cut, 6))

    def aims(self, filled: Sequence[Filled], missing: Sequence[int]) -> tuple[float, float, float]:
        """Return (missing mm, waste mm, begun) of a solution; see `Solution`."""
        lefts = [self.left(one) for one in filled]
        return (
            float(self.weights @ np.array(missing)) if missing else 0.0,
            sum(left for left in lefts if left < self.useful),
            sum(self.begun(one.kind) for one in filled),
        )

    def begun(self, kind: int) -> float:
        """Return the price of beginning a piece: its length in m, and much more for a skein."""
        skein = 1.0 + sum(k.length * k.count for k in self.kinds) / 1000.0
        one = self.kinds[kind]
        return one.length / 1000.0 + (skein if one.whole else 0.0)


def patterns(
    lengths: Sequence[float], room: float, most: Sequence[int], limit: int = MAX_PATTERNS
) -> IntArray | None:
    """Return every cutting pattern of one piece, int64 ``[n, m]``, the empty one left out.

    Args:
        lengths: Length of each kind of cut, ``[m]``.
        room: Length of the piece.
        most: The largest number of each cut.
        limit: Give up, and return None, when there are more.

    Examples:
        >>> patterns([3.0, 5.0], 9.0, [9, 9]).tolist()
        [[1, 0], [2, 0], [3, 0], [0, 1], [1, 1]]
    """
    if len(lengths) > MAX_CUTS:
        return None
    order = sorted(range(len(lengths)), key=lambda i: -lengths[i])
    found: list[tuple[int, ...]] = []
    now = [0] * len(lengths)

    def grow(k: int, room: float) -> bool:
        if k == len(order):
            found.append(tuple(now))
            return len(found) <= limit + 1
        i = order[k]
        for n in range(min(most[i], int((room + DUST) / lengths[i])) + 1):
            now[i] = n
            if not grow(k + 1, room - n * lengths[i]):
                return False
        now[i] = 0
        return True

    if not grow(0, room):
        return None
    return np.array([row for row in found if any(row)], np.int64).reshape(-1, len(lengths))


def best_fit(problem: Problem) -> tuple[list[Filled], list[int]]:
    """Return (filled pieces, missing) by best-fit decreasing; identity cover only.

    The longest cut first; it goes to the begun piece that it fills best, else to the shortest
    leftover that holds it, else to the shortest whole skein.
    """
    m = len(problem.lengths)
    fresh = {
        whole: sorted(
            (one.length, k)
            for k, one in enumerate(problem.kinds)
            if one.whole is whole and one.count
        )
        for whole in (False, True)
    }
    stock = [one.count for one in problem.kinds]
    begun: list[tuple[float, int]] = []  # (room left, number), sorted
    filled: list[tuple[int, list[int]]] = []
    missing = [0] * m
    for i in sorted(range(m), key=lambda i: -problem.lengths[i]):
        length, wanted = problem.lengths[i], problem.demand[i]
        while wanted:
            at = bisect_left(begun, (length - DUST, -1))
            if at < len(begun):
                room, which = begun.pop(at)
            else:
                which = -1
                for whole in (False, True):
                    row = fresh[whole]
                    at = bisect_left(row, (length - DUST, -1))
                    while at < len(row) and not stock[row[at][1]]:
                        row.pop(at)
                    if at < len(row):
                        room, kind = row[at]
                        stock[kind] -= 1
                        which = len(filled)
                        filled.append((kind, [0] * m))
                        break
                if which < 0:
                    missing[i] = wanted
                    break
            # The next cut of this length fits the same piece best, as long as it fits at all.
            times = max(1, min(wanted, int((room + DUST) / length)))
            filled[which][1][i] += times
            wanted -= times
            insort(begun, (round(room - times * length, 6), which))
    return [Filled(kind, tuple(cuts)) for kind, cuts in filled], missing


def group_kinds(lengths: Sequence[float], whole: Sequence[bool]) -> tuple[Kind, ...]:
    """Return equal pieces as kinds, shortest first.

    Examples:
        >>> group_kinds([8.0, 2.0, 8.0], [True, False, True])
        (Kind(length=2.0, count=1, whole=False), Kind(length=8.0, count=2, whole=True))
    """
    counts = Counter(zip(lengths, whole, strict=True))
    return tuple(Kind(length, n, flag) for (length, flag), n in sorted(counts.items()))
