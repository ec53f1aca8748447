"""Prices for a group's linear program: which bands and cutting patterns would better it.

With the prices (dual values) of `motifsearch.thread.group_columns.Master` the most profitable
colouring of every offer is looked up, and the most valuable pattern of every piece is a knapsack
problem, solved by dynamic programming over centimetres.  When none pays, the bound is reached.
"""

from __future__ import annotations

from functools import reduce
from itertools import pairwise
from math import gcd
from typing import Final

import numpy as np

from motifsearch.base.work import OutOfWorkError, Work
from motifsearch.thread.group import Cuts, FloatArray, IntArray, Made
from motifsearch.thread.group_columns import BAND, Master, Pattern, Prices

#: Colourings that are added for one offer, and columns for all, in one round.
PER_OFFER, PER_ROUND = 2, 400
#: Rounds of generation at most.
MAX_ROUNDS: Final = 400
#: Work for one entry of the linear program in one round, and for one colouring that is looked at.
LP_WORK, LOOK_WORK = 0.6, 0.004
#: How near bound and value are, in bands, when only their number is the question.
NEAR_ENOUGH: Final = 0.02
#: Steps for one pattern that is listed, at most.
LOOKS: Final = 30
SMALL: Final = 1e-7


def knapsack(
    lengths: IntArray, values: FloatArray, room: int, unit: int
) -> tuple[FloatArray, IntArray]:
    """Return the best value of every room up to `room`, and a cut that it ends with (-1: none).

    Args:
        lengths: In cm, multiples of `unit`, ``[m]``.
        values: What each is worth, ``[m]``, 0 or more.
        room: The longest piece, in cm.
        unit: Of the rooms; the result has ``room // unit + 1`` entries.
    """
    size = room // unit
    best, last = np.zeros(size + 1), np.full(size + 1, -1, np.int64)
    good = np.flatnonzero((values > 0) & (lengths <= room))
    if not len(good):
        return best, last
    steps = (lengths[good] // unit).astype(np.int64)
    worth = values[good]
    for at in range(int(steps.min()), size + 1):
        can = steps <= at
        total = np.where(can, best[at - np.minimum(steps, at)] + worth, -1.0)
        k = int(total.argmax())
        if total[k] > best[at - 1] + SMALL:
            best[at], last[at] = total[k], good[k]
        else:
            best[at] = best[at - 1]
    return best, last


def _unpack(last: IntArray, best: FloatArray, lengths: IntArray, at: int, unit: int) -> Cuts:
    found: dict[int, int] = {}
    while at > 0:
        if last[at] < 0:
            at -= 1
            continue
        length = int(lengths[last[at]])
        found[length] = found.get(length, 0) + 1
        at -= length // unit
    return tuple(sorted(found.items(), reverse=True))


def near_patterns(
    lengths: IntArray, values: FloatArray, most: int, room: int, least: float, limit: int
) -> tuple[list[Cuts], bool]:
    """Return the patterns of a piece whose cuts are together worth at least `least`.

    Only those that no further cut fits into, and in which no cut can be the next longer one: as a
    longer cut may serve for a shorter one, any other pattern does no more than one of these.

    Args:
        lengths: In cm, ``[m]``, longest first.
        values: What each is worth, ``[m]``, 0 or more, no less for a longer one.
        most: Cuts that are of use in all.
        room: The piece, in cm.
        least: What they are worth together at the least.
        limit: At most so many patterns.

    Returns:
        The patterns, and whether they are all there are.

    Examples:
        >>> near_patterns(np.array([5, 3]), np.array([2.0, 1.0]), 4, 10, 3.5, 9)
        ([((5, 2),)], True)
        >>> near_patterns(np.array([5, 3]), np.array([2.0, 1.0]), 4, 11, 0.0, 9)
        ([((5, 2),), ((5, 1), (3, 2))], True)
    """
    found: list[Cuts] = []
    order = lengths.tolist()
    unit = reduce(gcd, order, 0) or 1
    bounds = [knapsack(lengths[k:], values[k:], room, unit)[0] for k in range(len(order))]
    bounds.append(np.zeros(room // unit + 1))
    counts = [0] * len(order)
    # From a length to the next longer one; the longest cannot be longer.
    steps = [room + 1, *(a - b for a, b in pairwise(order))]
    looks = 0

    def go(k: int, left: int, worth: float, more: int) -> bool:
        nonlocal looks
        looks += 1
        if looks > LOOKS * limit:
            return False
        if worth + float(bounds[k][left // unit]) < least:
            return True
        if k == len(order):
            if (more and left >= order[-1]) or any(
                n and left >= step for n, step in zip(counts, steps, strict=True)
            ):
                return True
            found.append(tuple((cm, n) for cm, n in zip(order, counts, strict=True) if n))
            return len(found) <= limit
        for n in range(min(more, left // order[k]), -1, -1):
            counts[k] = n
            if not go(k + 1, left - n * order[k], worth + n * float(values[k]), more - n):
                return False
        counts[k] = 0
        return True

    every = go(0, room, 0.0, most)
    return found[:limit], every


def price_patterns(master: Master, prices: Prices, work: Work) -> tuple[list[Pattern], float]:
    """Fill in the prices of lengths that nobody asks for yet; return patterns that pay.

    Returns:
        The patterns, and what all pieces together might gain.
    """
    problem, unit = master.problem, master.unit
    found: list[Pattern] = []
    gain = 0.0
    for c, own in enumerate(problem.pieces):
        if not own:
            prices.cut[c] = 0.0
            continue
        room = max(length for length, _ in own)
        rooms = [length // unit for length, _ in own]
        work.tick(4.0 * room / unit)
        known = np.isfinite(prices.cut[c])
        best, _ = knapsack(master.lengths, np.where(known, prices.cut[c], 0.0), room, unit)
        price = 0.0
        for k in range(len(master.lengths) - 1, -1, -1):
            if known[k]:
                price = float(prices.cut[c, k])
                continue
            need = int(master.lengths[k]) // unit
            tight = min(
                (float(mu) - best[r - need] for mu, r in zip(prices.piece[c], rooms, strict=True)
                 if r >= need), default=0.0,
            )  # fmt: skip
            longer = price if known[k + 1 :].any() else np.inf
            prices.cut[c, k] = max(0.0, min(tight, longer))
        best, last = knapsack(master.lengths, prices.cut[c], room, unit)
        for k, ((_, count), r) in enumerate(zip(own, rooms, strict=True)):
            pays = best[r] - float(prices.piece[c][k])
            if pays > 1e-6 * BAND * 0.01:
                found.append(Pattern(c, k, _unpack(last, best, master.lengths, r, unit)))
            gain += count * max(0.0, float(pays))
    return found, gain


def reduced(master: Master, prices: Prices, k: int) -> FloatArray:
    """Return what every colouring of offer `k` would gain, float64 ``[n]``."""
    problem = master.problem
    offer = problem.offers[k]
    colours = problem.colourings[offer.design]
    gain = BAND + master.allowed[k]
    for j, cuts in enumerate(offer.cuts):
        cost = sum(times * prices.cut[:, master.at[length]] for length, times in cuts)
        gain -= np.asarray(cost)[colours[:, j]]
    gain -= (
        prices.person[offer.person] + prices.design[offer.design] + prices.number
        + prices.link.get((offer.person, offer.design), 0.0)
    )  # fmt: skip
    for (d, row), price in prices.face.items():
        if d == offer.design:
            gain[row] -= price
    return gain


def price_options(
    master: Master, prices: Prices, work: Work
) -> tuple[list[tuple[float, Made]], float]:
    """Return the bands that pay, with what each gains, and what all people might gain."""
    problem = master.problem
    best = np.zeros(len(problem.people))
    found: list[tuple[float, Made]] = []
    for k, offer in enumerate(problem.offers):
        gain = reduced(master, prices, k)
        work.tick(20.0 + LOOK_WORK * gain.size * len(offer.cuts))
        if not len(gain):
            continue
        few = np.argpartition(-gain, min(PER_OFFER, len(gain) - 1))[:PER_OFFER]
        found += [(float(gain[r]), Made(k, int(r))) for r in few if gain[r] > 1e-5]
        best[offer.person] = max(best[offer.person], float(gain.max()))
    found.sort(key=lambda pair: (-pair[0], pair[1]))
    return found, float(np.array(problem.people) @ best)


def generate(master: Master, work: Work, enough: float = -np.inf) -> tuple[Prices | None, float]:
    """Generate columns until none pays, or the work is used up.

    Where the number of bands is the question, earlier too: when the bound is below `enough`, or so
    near to the program's value that both say the same number.

    Returns:
        The last prices, and an upper bound on the value of every set (`BAND` a band, and worth).
    """
    bound = np.inf
    prices: Prices | None = None
    for _ in range(MAX_ROUNDS):
        try:
            faces = len(master.faces)
            prices = master.solve()
            work.tick(LP_WORK * master.entries + 3000.0)
            patterns, piece_gain = price_patterns(master, prices, work)
            options, people_gain = price_options(master, prices, work)
        except OutOfWorkError:
            return prices, bound
        bound = min(bound, master.value + piece_gain + people_gain)
        master.patterns.update(dict.fromkeys(patterns))
        fresh = [one for _, one in options if one not in master.options][:PER_ROUND]
        master.options.update(dict.fromkeys(fresh))
        if len(master.faces) == faces and not fresh and not patterns:
            break
        if bound - master.value < 1e-5 or bound < enough:
            break
        same = bound // BAND == master.value // BAND and bound - master.value < NEAR_ENOUGH * BAND
        if same and np.isfinite(enough):
            break
    return prices, bound
