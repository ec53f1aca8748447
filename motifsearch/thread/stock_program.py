"""What is asked of a cutting stock problem.

`solve` makes the best of the pieces, `most_sets` asks how often a set of cuts can be had from
them, `fewest_new` how many new pieces must be bought.  Each starts from a plain heuristic, knows
a plain bound, and calls the integer program for what lies between.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from typing import Final

import numpy as np

from motifsearch.base.work import SECOND, OutOfWorkError, Work
from motifsearch.thread.stock import DUST, Filled, Kind, Problem, Solution, best_fit
from motifsearch.thread.stock_columns import MANY, Columns, FloatArray, IntArray, minimise

#: What setting a program up may cost beyond what is granted for solving it.
GRACE: Final = 0.25 * SECOND


def fill_without_waste(columns: Columns, work: Work | None = None) -> list[Filled] | None:
    """Return a plan in which nothing is missing and nothing wasted, or None if none is found.

    Piece after piece takes the fullest pattern that leaves nothing or something useful.  Tried
    with leftovers first and with skeins first, and with more and more weight on long cuts,
    which are hard to place later.
    """
    problem, work = columns.problem, work or Work()
    lengths = np.array(problem.lengths)
    tables = {}
    for k, _, table in columns.blocks:
        if table is not None:
            left = problem.kinds[k].length - table @ lengths
            table = table[(left <= DUST) | (left >= problem.useful - DUST)]
        tables[k] = table
    leftovers_first = sorted(
        tables, key=lambda k: (problem.kinds[k].whole, problem.kinds[k].length)
    )
    for order in (leftovers_first, leftovers_first[::-1]):
        for power in (1.01, 1.2, 1.5, 2.0, 3.0):
            if work.left <= 0:
                return None
            work.spend(100.0 * len(order) + 0.1 * columns.size * len(lengths))
            worth = lengths**power
            filled: list[Filled] = []
            rest = np.array(problem.demand, np.int64)
            for k in order:
                filled += _fill_kind(problem, k, tables[k], worth, rest)
            if not rest.any():
                return filled
    return None


def _fill_kind(
    problem: Problem, k: int, table: IntArray | None, worth: FloatArray, rest: IntArray
) -> list[Filled]:
    """Fill the pieces of one kind; takes what it cuts off `rest`."""
    kind, lengths = problem.kinds[k], np.array(problem.lengths)
    filled: list[Filled] = []
    value = None if table is None else table @ worth
    while len(filled) < kind.count and rest.any():
        if table is None or value is None:
            cuts = _greedy(lengths, rest, kind.length - problem.useful)
        else:
            fits = (table <= rest).all(axis=1)
            table, value = table[fits], value[fits]
            if not len(table):
                break
            cuts = table[np.argmax(value)]
        if not cuts.any():
            break
        used = cuts > 0
        times = min(kind.count - len(filled), int((rest[used] // cuts[used]).min()))
        filled += [Filled(k, tuple(int(n) for n in cuts))] * times
        rest -= times * cuts
    return filled


def _greedy(lengths: FloatArray, rest: IntArray, room: float) -> IntArray:
    cuts = np.zeros_like(rest)
    for i in np.argsort(-lengths):
        cuts[i] = max(0, min(int(rest[i]), int((room + DUST) / lengths[i])))
        room -= float(cuts[i] * lengths[i])
    return cuts


def solve(problem: Problem, work: Work | None = None, order: Sequence[int] = (0, 1, 2)) -> Solution:
    """Return the best cutting of a problem; see `motifsearch.thread.stock` for what best means.

    Args:
        problem: What to cut from what.
        work: What may be spent; when it is used up the best found so far comes with its gap.
        order: The aims to follow, the most important first.
    """
    work = Work(2.0 * SECOND) if work is None else work
    grace = Work(work.left + GRACE)
    filled: list[Filled] = []
    missing = list(problem.demand)
    if problem.cover is None:
        filled, missing = best_fit(problem)
    best = problem.aims(filled, missing)
    gaps = [0.0, 0.0, 0.0]
    if not any(problem.demand) or not any(kind.count for kind in problem.kinds):
        return Solution(tuple(filled), tuple(missing))
    caps: dict[int, float] = {}

    @cache
    def columns() -> Columns | None:
        try:
            return Columns(problem, grace)
        except OutOfWorkError:
            return None

    def look(aim: int, caps: dict[int, float], share: float) -> float:
        """Minimise an aim, keep what is better, return the bound."""
        nonlocal filled, missing, best
        program = columns()
        if program is None:
            return 0.0
        mine = work.part(share)
        before = mine.left
        few = program.fullest(MANY) if aim == 2 and program.size > MANY else None
        x, bound = minimise(program, aim, caps, mine, keep=few)
        work.spend(before - mine.left)
        if x is not None:
            other = program.read(x)
            value = problem.aims(*other)
            if _better(value, best, order):
                (filled, missing), best = other, value
        return bound

    for aim in order:
        # Nothing missing, nothing wasted and one piece begun cannot be bettered.
        if best[aim] > DUST and not (aim == 2 and _plainly_least(problem, filled, missing)):
            if aim == 1 and problem.cover is None and not any(missing):
                program = columns()
                other = fill_without_waste(program, grace) if program else None
                if other is not None:
                    filled, best = other, problem.aims(other, missing)
            if aim == 1 and best[1] > DUST and 2 in order:
                # A plan without waste is often there, and fewer patterns can be part of it.
                look(2, {**caps, 1: 0.0}, 0.5)
            if best[aim] > DUST:
                # The last aim is a preference: it gets half of the work that is left.
                share = 0.5 if aim == 2 and len(order) == 3 else 1.0
                bound = max(look(aim, caps, share), _least_begun(problem) if aim == 2 else 0.0)
                if best[aim] - bound > 1e-6 * max(1.0, best[aim]):
                    gaps[aim] = 1.0 - bound / best[aim]
        caps[aim] = best[aim]
    return Solution(tuple(filled), tuple(missing), tuple(gaps))


def _plainly_least(problem: Problem, filled: Sequence[Filled], missing: Sequence[int]) -> bool:
    """Return whether no dearer piece is begun than any plan must begin: one, the cheapest."""
    prices = [problem.begun(k) for k, kind in enumerate(problem.kinds) if kind.count]
    return len(filled) == 1 and not any(missing) and problem.begun(filled[0].kind) == min(prices)


def _least_begun(problem: Problem) -> float:
    """Return a lower bound on what is begun: pieces filled to the brim, the cheapest first.

    It holds when nothing is missing and every need has one cut; else 0 is returned.
    """
    if problem.cover is not None:
        return 0.0
    need = sum(n * length for n, length in zip(problem.demand, problem.lengths, strict=True))
    total = 0.0
    cheap = sorted(
        (problem.begun(k) / kind.length, k) for k, kind in enumerate(problem.kinds) if kind.count
    )
    for price, k in cheap:
        length = min(need, problem.kinds[k].length * problem.kinds[k].count)
        total += price * length
        need -= length
    return total if need <= DUST else 0.0


def _better(one: Sequence[float], other: Sequence[float], order: Sequence[int]) -> bool:
    for aim in order:
        if abs(one[aim] - other[aim]) > 1e-5:
            return one[aim] < other[aim]
    return False


def most_sets(problem: Problem, work: Work | None = None) -> tuple[int, int]:
    """Return (how many sets can be cut, a proven upper bound on it).

    Args:
        problem: The pieces, and the demand of one set.
        work: What may be spent; the two numbers are equal unless it is used up.
    """
    work = Work(10.0 * SECOND) if work is None else work
    per_set = sum(n * length for n, length in zip(problem.demand, problem.lengths, strict=True))
    total = sum(kind.length * kind.count for kind in problem.kinds)
    high = int((total + DUST) / per_set)
    for i, length in enumerate(problem.lengths):
        fits = sum(k.count * int((k.length + DUST) / length) for k in problem.kinds)
        high = min(high, fits // problem.demand[i])
    if high == 0:
        return 0, 0

    def times(sets: int) -> Problem:
        return replace(problem, demand=tuple(n * sets for n in problem.demand))

    low, reach = 0, high
    while low < reach:  # best-fit decreasing is not monotone, but a set that it finds is one
        middle = (low + reach + 1) // 2
        work.spend(_fit_work(times(middle)))
        if work.left <= 0:
            return low, high
        if any(best_fit(times(middle))[1]):
            reach = middle - 1
        else:
            low = middle
    if low == high:
        return low, high
    try:
        columns = Columns(times(high), work)
    except OutOfWorkError:
        return low, high
    x, bound = minimise(columns, 0, {}, work, problem.demand)
    if x is not None:
        low = max(low, round(float(x[-1])))
    return low, max(low, min(high, math.floor(-bound + 1e-6)))


def _fit_work(problem: Problem) -> float:
    """Return what best-fit decreasing costs: for every cut a piece is begun or looked at."""
    pieces = sum(kind.count for kind in problem.kinds)
    return 3.0 * min(sum(problem.demand), pieces + len(problem.demand)) * (1 + len(problem.demand))


def fewest_new(
    problem: Problem, new_length: float, work: Work | None = None
) -> tuple[Solution, int, int]:
    """Return how few new pieces must be added so that nothing is missing.

    Args:
        problem: What is wanted, and the pieces on hand (whole or not, all are used first).
        new_length: Length of a new piece; every cut must fit it or a piece on hand.
        work: What may be spent.

    Returns:
        solution: The cutting; new pieces are the last kind.
        number: New pieces in it.
        bound: A proven lower bound on it; equal unless the work was used up.
    """
    work = Work(10.0 * SECOND) if work is None else work
    held = tuple(replace(kind, whole=False) for kind in problem.kinds)
    plenty = sum(problem.demand)
    if _plain_work(problem, new_length) > work.left:
        return _plainly_new(problem, new_length)
    wide = replace(problem, kinds=(*held, Kind(new_length, plenty, True)))
    new = len(held)
    fitted = best_fit(wide)[0]
    most = sum(one.kind == new for one in fitted)
    wide = replace(wide, kinds=(*held, Kind(new_length, most, True)))
    total = sum(n * length for n, length in zip(problem.demand, problem.lengths, strict=True))
    least = max(0, math.ceil((total - sum(k.length * k.count for k in held)) / new_length - 1e-9))
    found = solve(wide, work, (0, 2))
    number = sum(one.kind == new for one in found.filled)
    value = wide.aims(found.filled, found.missing)[2]
    # Beginning a new piece costs more than all that is held, so the bound counts new pieces.
    rest = sum(wide.begun(k) * kind.count for k, kind in enumerate(held))
    bound = math.ceil((value * (1.0 - found.gaps[2]) - rest) / wide.begun(new) - 1e-6)
    return found, number, min(number, max(least, bound))


def _plain_work(problem: Problem, new_length: float) -> float:
    """Return what fitting costs when about as many new pieces are begun as the cuts are long."""
    total = sum(n * length for n, length in zip(problem.demand, problem.lengths, strict=True))
    pieces = total / new_length + sum(kind.count for kind in problem.kinds)
    return 5.0 * pieces * (1 + len(problem.demand))


def _plainly_new(problem: Problem, new_length: float) -> tuple[Solution, int, int]:
    """Return a number of new pieces that is enough, cutting one length from a piece, and a bound.

    For orders so large that no plan is made: nothing is taken from the pieces on hand.
    """
    number, missing = 0, []
    for n, length in zip(problem.demand, problem.lengths, strict=True):
        per_piece = int((new_length + DUST) / length)
        number += -(-n // per_piece) if per_piece else 0
        missing.append(0 if per_piece else n)
    total = sum(n * length for n, length in zip(problem.demand, problem.lengths, strict=True))
    held = sum(kind.length * kind.count for kind in problem.kinds)
    least = max(0, math.ceil((total - held) / new_length - 1e-9))
    return Solution((), tuple(missing), (0.0, 0.0, 1.0)), number, min(number, least)
