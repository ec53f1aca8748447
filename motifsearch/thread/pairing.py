"""Which two strands share a folded thread.

The strands of one colour are to be put in pairs, an odd one staying alone; a pair of shares a and
b is cut to the whole centimetre above a + b.  This is a perfect matching of least weight, on a
complete graph of at most 24 strands, plus a *phantom* strand of share 0 when the number is odd:
whoever is paired with the phantom is the unfolded thread.

- `pair_total`: least total length; among those the most even folds (least sum of |a - b|).
- `pair_few`: fewest different lengths over the whole band while the total stays within
  (1 + spare) times the least; among those the least total.

Strands with equal shares are interchangeable, so both work on classes of equal shares: by dynamic
programming over how many of each class are left where these are few, else as an integer program
(HiGHS).  `pair_total` is exact; `pair_few` is too unless a band has more different pairs than it
looks through (`MAX_SETS`, `MAX_TRIED`), when more lengths than needed may come out.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import combinations

import numpy as np

#: Cut lengths are whole centimetres: what a maker reads off a tape.
STEP_MM = 10.0
#: Shares that differ by less are one class.
SAME_MM = 1e-6
#: States of the dynamic programme; beyond it the integer program is faster.
MAX_STATES = 3000

#: Sets of cut lengths that are looked through for each number of lengths.
MAX_SETS = 300_000
#: Of these, how many are settled by an exact matching.
MAX_TRIED = 400

#: What a pair of classes costs.
Cost = Callable[[int, int], float]
#: The strands of one thread: two, or one when it stays unfolded.
Group = tuple[int, ...]


def whole_cm(length_mm: float) -> float:
    """Return the whole centimetre, in mm, that is not below a length.

    Examples:
        >>> whole_cm(1200.0), whole_cm(1200.1)
        (1200.0, 1210.0)
    """
    return STEP_MM * math.ceil(length_mm / STEP_MM - SAME_MM)


@dataclass(frozen=True)
class Classes:
    """Strands by equal share, shortest first; a phantom is a class with no strands.

    Attributes:
        shares: mm, ``[k]``.
        strands: The strands of each class, left to right; empty for the phantom.
        counts: How many of each are to be paired; 1 for the phantom.
    """

    shares: tuple[float, ...]
    strands: tuple[tuple[int, ...], ...]
    counts: tuple[int, ...]

    def length(self, i: int, j: int) -> float:
        """Return the cut length of a pair of classes i and j."""
        return whole_cm(self.shares[i] + self.shares[j])

    def unevenness(self, i: int, j: int) -> float:
        """Return how far apart two shares are; 0 when one of them is the phantom."""
        real = self.strands[i] and self.strands[j]
        return abs(self.shares[i] - self.shares[j]) if real else 0.0

    def pairs(self) -> list[tuple[int, int]]:
        """Return the pairs of classes that can be formed, i <= j."""
        k = len(self.shares)
        return [
            (i, j) for i in range(k) for j in range(i, k) if i != j or self.counts[i] >= 2
        ]  # fmt: skip


def classes_of(strands: Sequence[int], share: Mapping[int, float] | Sequence[float]) -> Classes:
    """Return the classes of equal share of strands of one colour, with a phantom if needed."""
    order = sorted(strands, key=lambda s: (share[s], s))
    groups: list[list[int]] = []
    for n, s in enumerate(order):
        if n and share[s] - share[groups[-1][0]] <= SAME_MM:
            groups[-1].append(s)
        else:
            groups.append([s])
    shares = [float(share[g[0]]) for g in groups]
    members = [tuple(sorted(g)) for g in groups]
    counts = [len(g) for g in groups]
    if len(order) % 2:
        shares.insert(0, 0.0)
        members.insert(0, ())
        counts.insert(0, 1)
    return Classes(tuple(shares), tuple(members), tuple(counts))


def spread(classes: Classes, chosen: Sequence[tuple[int, int]]) -> list[Group]:
    """Return the strands of every chosen pair of classes; neighbours go together."""
    waiting = [list(s) for s in classes.strands]
    groups: list[Group] = []
    for i, j in sorted(chosen, key=lambda p: (p[0] != p[1], p)):
        taken = [waiting[c].pop(0) for c in (i, j) if classes.strands[c]]
        groups.append(tuple(sorted(taken)))
    return sorted(groups)


def pair_total(classes: Classes) -> list[tuple[int, int]]:
    """Return pairs of classes with the least total length, then the most even folds."""
    return best_match(classes, classes.length, classes.unevenness)


def best_match(classes: Classes, first: Cost, then: Cost) -> list[tuple[int, int]]:
    """Return the perfect matching of classes with the least sum of `first`, then of `then`."""
    states = math.prod(n + 1 for n in classes.counts)
    method = _by_states if states <= MAX_STATES else _by_program
    return method(classes, first, then)


def _by_states(classes: Classes, first: Cost, then: Cost) -> list[tuple[int, int]]:
    @cache
    def best(left: tuple[int, ...]) -> tuple[float, float, tuple[int, int] | None]:
        i = next((i for i, n in enumerate(left) if n), None)
        if i is None:
            return 0.0, 0.0, None
        options = []
        for j in range(i, len(left)):
            rest = list(left)
            rest[i] -= 1
            if not rest[j]:
                continue
            rest[j] -= 1
            one, two, _ = best(tuple(rest))
            options.append((one + first(i, j), round(two + then(i, j), 6), (i, j)))
        return min(options)

    chosen: list[tuple[int, int]] = []
    left = list(classes.counts)
    while any(left):
        pair = best(tuple(left))[2]
        assert pair is not None
        chosen.append(pair)
        for i in pair:
            left[i] -= 1
    return chosen


def _by_program(classes: Classes, first: Cost, then: Cost) -> list[tuple[int, int]]:
    from scipy.optimize import LinearConstraint, milp

    pairs = classes.pairs()
    degree = np.zeros((len(classes.counts), len(pairs)))
    for p, (i, j) in enumerate(pairs):
        degree[i, p] += 1
        degree[j, p] += 1
    counts = np.array(classes.counts, np.float64)
    rules = [LinearConstraint(degree, counts, counts)]
    x = np.zeros(len(pairs))
    for cost in (first, then):
        value = np.array([cost(i, j) for i, j in pairs]) / STEP_MM
        result = milp(
            value,
            integrality=np.ones(len(pairs), np.int64),
            constraints=rules,
            options={"mip_rel_gap": 0.0},
        )
        assert result.x is not None  # a complete graph of even order has a perfect matching
        x = np.rint(np.asarray(result.x, np.float64))
        rules.append(LinearConstraint(value[None, :], -np.inf, float(value @ x) + 1e-6))
    return [pair for pair, n in zip(pairs, x, strict=True) for _ in range(round(n))]


def match_within(classes: Classes, limit_mm: float) -> list[tuple[int, int]]:
    """Return a perfect matching with the most pairs whose length stays within a limit.

    With the shares sorted, the shortest strand goes with the longest that it can take; what
    cannot be taken is paired at the end.  (The graph of pairs within the limit is a threshold
    graph, on which this greedy choice is a largest matching.)
    """
    order = [i for i, n in enumerate(classes.counts) for _ in range(n)]
    low, high = 0, len(order) - 1
    chosen: list[tuple[int, int]] = []
    over: list[int] = []
    while low < high:
        if classes.length(order[low], order[high]) <= limit_mm:
            chosen.append((order[low], order[high]))
            low += 1
        else:
            over.append(order[high])
        high -= 1
    if low == high:
        over.append(order[low])
    over.sort()
    return chosen + list(zip(over[::2], over[1::2], strict=True))


def pair_few(
    colours: Sequence[Classes], spare: float
) -> tuple[list[list[tuple[int, int]]], list[float]]:
    """Return pairs of classes per colour, and the few lengths that they are cut to.

    For a set of lengths v1 < ... < vk let a_n be the most pairs that stay within v_n.  No
    matching is cheaper than v1 a1 + v2 (a2 - a1) + ...; the sets are tried from the least such
    bound on, and an exact matching settles each, until the bound passes the best found.

    Args:
        colours: The classes of every colour.
        spare: How much more than the least total may be cut, as a fraction.

    Returns:
        pairs: Per colour, its pairs of classes.
        lengths: The lengths to cut, in mm, ascending; every pair is cut to the shortest that
            holds it.
    """
    plain = [pair_total(c) for c in colours]
    flat = [c.length(i, j) for c, own in zip(colours, plain, strict=True) for i, j in own]
    room = sum(flat) * (1.0 + spare) + SAME_MM
    sums = sorted({c.length(i, j) for c in colours for i, j in c.pairs()})
    within = np.array(
        [sum(_held(c, match_within(c, v), v) for c in colours) for v in sums], np.float64
    )
    top = int(np.flatnonzero(within == len(flat))[0])
    for k in range(1, len(set(flat))):
        if math.comb(len(sums), k) > MAX_SETS:
            break
        sets = np.array([t for t in combinations(range(len(sums)), k) if t[-1] >= top])
        steps = np.diff(within[sets], axis=1, prepend=0.0)
        bound = (np.array(sums)[sets] * steps).sum(axis=1)
        best: tuple[float, list[list[tuple[int, int]]], list[float]] | None = None
        for n in np.argsort(bound, kind="stable")[:MAX_TRIED]:
            if bound[n] > (room if best is None else best[0] - SAME_MM):
                break
            lengths = [sums[v] for v in sets[n]]
            total, chosen = _match_to(colours, lengths)
            if total <= room and (best is None or total < best[0] - SAME_MM):
                best = (total, chosen, lengths)
        if best is not None:
            return best[1], best[2]
    return plain, sorted(set(flat))


def _held(classes: Classes, chosen: Sequence[tuple[int, int]], limit_mm: float) -> int:
    return sum(classes.length(i, j) <= limit_mm for i, j in chosen)


def _match_to(
    colours: Sequence[Classes], lengths: Sequence[float]
) -> tuple[float, list[list[tuple[int, int]]]]:
    """Return the least total, and its pairs, when every pair is cut to one of `lengths`."""
    never = 1e7
    total = 0.0
    chosen = []
    for c in colours:

        def cost(i: int, j: int, c: Classes = c) -> float:
            need = c.length(i, j)
            return next((v for v in lengths if v >= need), never)

        own = best_match(c, cost, c.unevenness)
        total += sum(cost(i, j) for i, j in own)
        chosen.append(own)
    return total, chosen
