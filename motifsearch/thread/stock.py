"""One-dimensional cutting stock: which lengths to cut from which pieces.

Given kinds of pieces (length, how many) and kinds of cuts (length, how many are wanted), a
*cutting pattern* says how many of each cut come from one piece (Gilmore and Gomory, Operations
Research 9, 1961).  Integer variables count how often each pattern is used; every wanted cut is
made or counted as missing.  `solve` finds, one after the other,

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

import math
import time
from bisect import bisect_left, insort
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

#: More cutting patterns than this for one kind of piece, and it is treated as a long piece.
MAX_PATTERNS = 3000
#: Long pieces that get variables of their own; more of them only repeat each other.
MAX_LONG = 40
#: Rounding dust in lengths that are multiples of a thousandth of a millimetre.
DUST = 1e-6
#: Branch-and-bound nodes for one aim, so that the result does not hang on the machine's speed.
MAX_NODES = 20_000
#: When an aim is near enough to its bound; what is left open is in the gap.
REL_GAP = (0.0, 0.0, 1e-3)

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
        gap: The largest gap left open by an aim, as a fraction of its value; 0 when all are
            proven best.
        gaps: The gap of each aim.
    """

    filled: tuple[Filled, ...]
    missing: tuple[int, ...]
    gap: float
    gaps: tuple[float, ...] = (0.0, 0.0, 0.0)


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
        length = problem.lengths[i]
        for n in range(problem.demand[i]):
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
                    missing[i] = problem.demand[i] - n
                    break
            filled[which][1][i] += 1
            insort(begun, (round(room - length, 6), which))
    return [Filled(kind, tuple(cuts)) for kind, cuts in filled], missing


class Columns:
    """The integer program of a problem: variables, rows and the aims as cost vectors.

    Variables: for every kind of piece with few patterns, one per pattern; for every long piece,
    its cuts ``[m]``, begun, useful and waste; then one missing count per need.
    """

    def __init__(self, problem: Problem) -> None:
        from scipy.sparse import coo_array, csr_array

        self.problem = problem
        m, c = len(problem.lengths), len(problem.demand)
        most, cover = problem.most(), problem.covers
        self.blocks: list[tuple[int, int, IntArray | None]] = []  # (kind, first column, patterns)
        costs: list[tuple[float, float, float]] = []
        upper: list[float] = []
        integer: list[int] = []
        need: list[tuple[int, int, float]] = []  # (need, column, coefficient)
        rows: list[tuple[list[tuple[int, float]], float]] = []  # sum <= bound
        lengths = np.array(problem.lengths)
        for k, kind in enumerate(problem.kinds):
            if not kind.count:
                continue
            table = patterns(problem.lengths, kind.length, most)
            first = len(costs)
            if table is not None:
                self.blocks.append((k, first, table))
                lefts = np.maximum(0.0, kind.length - table @ lengths)
                for row, left in zip(table, lefts, strict=True):
                    column = len(costs)
                    covered = cover @ row
                    need += [(int(n), column, float(covered[n])) for n in np.flatnonzero(covered)]
                    waste = float(left) if left < problem.useful - DUST else 0.0
                    costs.append((0.0, waste, problem.begun(k)))
                    upper.append(kind.count)
                    integer.append(1)
                rows.append(([(first + j, 1.0) for j in range(len(table))], kind.count))
                continue
            for copy in range(min(kind.count, MAX_LONG)):
                first = len(costs)
                self.blocks.append((k, first, None))
                begun, useful, waste_at = first + m, first + m + 1, first + m + 2
                for i in range(m):
                    need += [
                        (int(n), first + i, float(cover[n, i])) for n in np.flatnonzero(cover[:, i])
                    ]
                    costs.append((0.0, 0.0, 0.0))
                    upper.append(min(most[i], int((kind.length + DUST) / lengths[i])))
                costs += [(0.0, 0.0, problem.begun(k)), (0.0, 0.0, 0.0), (0.0, 1.0, 0.0)]
                upper += [1, 1, problem.useful]
                integer += [1] * (m + 2) + [0]
                cut = [(first + i, float(lengths[i])) for i in range(m)]
                # The cuts, and a useful leftover, must fit a piece that is begun.
                rows.append(([*cut, (useful, problem.useful), (begun, -kind.length)], DUST))
                # What is left is waste unless it is useful.
                rest = [(at, -length) for at, length in cut]
                rows.append(
                    (
                        [*rest, (begun, kind.length), (useful, -kind.length), (waste_at, -1.0)],
                        DUST,
                    )
                )
                if copy:
                    before = first - (m + 3) + m
                    rows.append(([(begun, 1.0), (before, -1.0)], 0.0))
        self.missing_at = len(costs)
        for n in range(c):
            need.append((n, len(costs), 1.0))
            costs.append((float(problem.weights[n]), 0.0, 0.0))
            upper.append(problem.demand[n])
            integer.append(1)
        self.size = len(costs)
        self.costs: FloatArray = np.array(costs, np.float64).T  # [3, size]
        self.upper: FloatArray = np.array(upper, np.float64)
        self.integer: IntArray = np.array(integer, np.int64)
        self.need: csr_array = coo_array(
            ([v for _, _, v in need], ([r for r, _, _ in need], [x for _, x, _ in need])),
            shape=(c, self.size),
        ).tocsr()
        entries = [(r, at, v) for r, (row, _) in enumerate(rows) for at, v in row]
        self.stock: csr_array = coo_array(
            ([v for _, _, v in entries], ([r for r, _, _ in entries], [x for _, x, _ in entries])),
            shape=(len(rows), self.size),
        ).tocsr()
        self.bound: FloatArray = np.array([bound for _, bound in rows], np.float64)

    def read(self, x: FloatArray) -> tuple[list[Filled], list[int]]:
        """Return (filled pieces, missing) of a vector of variables."""
        whole = np.rint(x).astype(np.int64)
        m = len(self.problem.lengths)
        filled: list[Filled] = []
        for kind, first, table in self.blocks:
            if table is None:
                cuts = tuple(int(n) for n in whole[first : first + m])
                filled += [Filled(kind, cuts)] if any(cuts) else []
                continue
            for j in np.flatnonzero(whole[first : first + len(table)]):
                one = Filled(kind, tuple(int(n) for n in table[j]))
                filled += [one] * int(whole[first + j])
        return filled, [
            int(n) for n in whole[self.missing_at : self.missing_at + self.need.shape[0]]
        ]


def solve(problem: Problem, seconds: float = 2.0, aims: int = 3) -> Solution:
    """Return the best cutting of a problem; see the head of this module for what best means.

    Args:
        problem: What to cut from what.
        seconds: Time bound; when it is hit the best found so far comes with its gap.
        aims: How many of the three aims to follow.
    """
    deadline = time.monotonic() + seconds
    filled: list[Filled] = []
    missing = list(problem.demand)
    if problem.cover is None:
        filled, missing = best_fit(problem)
    best = problem.aims(filled, missing)
    gaps = [0.0, 0.0, 0.0]
    columns: Columns | None = None
    aim = 0
    while aim < aims and any(problem.demand) and any(kind.count for kind in problem.kinds):
        if best[aim] <= DUST or (aim == 2 and _plainly_least(problem, filled, missing)):
            aim += 1  # nothing missing, nothing wasted and one piece begun cannot be bettered
            continue
        columns = columns or Columns(problem)
        left = deadline - time.monotonic()
        if aim == 1 and aims == 3:
            # A plan without waste is often there, and far fewer patterns can be part of it.
            found = _minimise(columns, 2, (best[0], 0.0), left / 2)
            if found.x is not None:
                filled, missing = columns.read(found.x)
                best = problem.aims(filled, missing)
                gaps[2] = _gap(best[2], found.bound)
                break
            left = deadline - time.monotonic()
        found = _minimise(columns, aim, best[:aim], max(left, 0.02))
        if found.x is not None:
            other = columns.read(found.x)
            value = problem.aims(*other)
            if _better(value, best):
                (filled, missing), best = other, value
        gaps[aim] = _gap(best[aim], found.bound)
        aim += 1
    return Solution(tuple(filled), tuple(missing), max(gaps), tuple(gaps))


def _gap(value: float, bound: float) -> float:
    return 0.0 if value - bound <= 1e-6 * max(1.0, value) else 1.0 - max(0.0, bound) / value


def _plainly_least(problem: Problem, filled: Sequence[Filled], missing: Sequence[int]) -> bool:
    """Return whether no dearer piece is begun than any plan must begin: one, the cheapest."""
    prices = [problem.begun(k) for k, kind in enumerate(problem.kinds) if kind.count]
    return len(filled) == 1 and not any(missing) and problem.begun(filled[0].kind) == min(prices)


def _better(one: Sequence[float], other: Sequence[float]) -> bool:
    for a, b in zip(one, other, strict=True):
        if abs(a - b) > 1e-5:
            return a < b
    return False


@dataclass(frozen=True)
class _Minimum:
    x: FloatArray | None
    bound: float


def _minimise(columns: Columns, aim: int, caps: Sequence[float], seconds: float) -> _Minimum:
    """Minimise one aim while the earlier ones stay at `caps`."""
    from scipy.optimize import Bounds, LinearConstraint, milp

    upper = columns.upper.copy()
    demand = np.array(columns.problem.demand, np.float64)
    rules = [LinearConstraint(columns.need, demand, demand)]
    if len(columns.bound):
        rules.append(LinearConstraint(columns.stock, -np.inf, columns.bound))
    for which, value in enumerate(caps):
        slack = 1e-6 * max(1.0, abs(value))
        cost = columns.costs[which]
        rules.append(LinearConstraint(cost[None, :], -np.inf, value + slack))
        upper[(cost > value + slack) & (columns.integer == 1)] = 0.0
    result = milp(
        columns.costs[aim],
        integrality=columns.integer,
        bounds=Bounds(0, upper),
        constraints=rules,
        options={
            "time_limit": max(seconds, 0.01),
            "node_limit": MAX_NODES,
            "mip_rel_gap": REL_GAP[aim],
        },
    )
    bound = result.mip_dual_bound if result.mip_dual_bound is not None else 0.0
    return _Minimum(
        None if result.x is None else np.asarray(result.x, np.float64),
        float(bound) if math.isfinite(bound) else 0.0,
    )


def group_kinds(lengths: Sequence[float], whole: Sequence[bool]) -> tuple[Kind, ...]:
    """Return equal pieces as kinds, shortest first.

    Examples:
        >>> group_kinds([8.0, 2.0, 8.0], [True, False, True])
        (Kind(length=2.0, count=1, whole=False), Kind(length=8.0, count=2, whole=True))
    """
    counts = Counter(zip(lengths, whole, strict=True))
    return tuple(Kind(length, n, flag) for (length, flag), n in sorted(counts.items()))
