"""The best set of bands from one box: column generation, then an integer program.

The linear program over all columns (`motifsearch.thread.group_columns`) bounds the number of bands,
and with that number held, their worth.  The integer program (HiGHS, `scipy.optimize.milp`) is
solved over the columns that were generated and those that are nearly worth their price, bands and
cutting patterns alike.  A column that loses more than the distance of bound and best set cannot be
part of a better one (reduced-cost fixing; Nemhauser and Wolsey, Integer and Combinatorial
Optimization, 1988, II.5): when all others are in the program, its answer is proven.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any, Final

import numpy as np

from motifsearch.base.work import SECOND, Work
from motifsearch.thread.group import (
    FloatArray,
    GroupProblem,
    GroupSolution,
    Made,
    Piece,
    cut_all,
    down_the_list,
    thriftily,
)
from motifsearch.thread.group_columns import BAND, Master, Pattern, Prices
from motifsearch.thread.group_pricing import generate, near_patterns, price_patterns, reduced

#: Work that a group is granted.
GRANTED: Final = 60.0 * SECOND
#: Bands that the integer program chooses from at most, and patterns that are listed for a piece.
MOST_OPTIONS: Final = 800
MOST_PATTERNS: Final = 2000
#: Nodes of one integer program.
NODES: Final = 3000
#: Work of the root and of a node of the integer program for every entry of its matrix.
ROOT_WORK, NODE_WORK = 60.0, 4.0
DUST: Final = 1e-6

Set = tuple[Made, ...]
Found = tuple[Set, dict[int, tuple[Piece, ...]]]


def solve_group(problem: GroupProblem, work: Work | None = None) -> GroupSolution:
    """Return the best set of bands, with what is proven of it.

    Args:
        problem: What may be made from what, and for whom.
        work: What may be spent, about a minute when left out.
    """
    work = Work(GRANTED) if work is None else work
    best = _start(problem)
    if not problem.offers or not problem.number:
        return GroupSolution((), {}, 0.0, 0, 0.0)
    master = Master(problem)
    master.add_made(*best)
    prices, bound = generate(master, work.part(0.4), BAND * (len(best[0]) + 1))
    number = min(problem.number, _number(bound))
    if len(best[0]) < number and prices is not None:
        best, number = _more_bands(problem, master, prices, best, number, bound, work)
    worth_bound = bound - BAND * len(best[0]) if len(best[0]) == number else math.inf
    if best[0] and len(best[0]) == number:
        if worth_bound > number * _most_worth(problem):
            # The linear program makes a part of one more band, or was not solved to its end.
            master.most = number
            master.add_made(*best)
        # For the number of bands it was enough to be near; for their worth it is not.
        prices, bound = generate(master, work.part(0.5))
        worth_bound = min(worth_bound, bound - BAND * number)
        if prices is not None:
            best, worth_bound = _more_worth(problem, master, prices, best, worth_bound, work)
    made = tuple(sorted(best[0], key=lambda m: (problem.offers[m.offer].person, m)))
    worth = problem.worth(made)
    return GroupSolution(made, best[1], worth, number, max(worth, worth_bound))


def _most_worth(problem: GroupProblem) -> float:
    """Return the most that one band may be worth."""
    every = [float(offer.worth.max(initial=-math.inf)) for offer in problem.offers]
    return max(every, default=0.0)


def _number(bound: float) -> int:
    """Return the largest number of bands that a bound leaves."""
    return 10**9 if math.isinf(bound) else math.floor(bound / BAND + DUST)


def _start(problem: GroupProblem) -> Found:
    best: Found = ((), {})
    for made in (down_the_list(problem), thriftily(problem)):
        pieces = cut_all(problem, made, Work(SECOND))
        if pieces is not None:
            best = _better(problem, (made, pieces), best)
    return best


def _better(problem: GroupProblem, one: Found, other: Found) -> Found:
    def key(found: Found) -> tuple[int, float]:
        return len(found[0]), problem.worth(found[0])

    return one if key(one) > key(other) else other


def _more_bands(
    problem: GroupProblem,
    master: Master,
    prices: Prices,
    best: Found,
    number: int,
    top: float,
    work: Work,
) -> tuple[Found, int]:
    """Return the set with the most bands, and the bound on their number.

    Args:
        problem: What may be made.
        master: The linear program, solved.
        prices: Its prices.
        best: The best set so far.
        number: No set has more bands.
        top: No set has more value.
        work: What may be spent.
    """
    # One band more is worth BAND at the least: a column that loses more is in no such set.
    columns = _Columns(master, prices, top - BAND * (len(best[0]) + 1))
    found, bound = columns.solve(work.part(0.5), most_bands=True)
    if found is not None:
        best = _better(problem, found, best)
    if columns.complete:
        number = min(number, max(len(best[0]), math.floor(bound + DUST)))
    return best, number


def _more_worth(
    problem: GroupProblem, master: Master, prices: Prices, best: Found, bound: float, work: Work
) -> tuple[Found, float]:
    """Return the set of as many bands with the most worth, and the bound on it."""
    number, worth = len(best[0]), problem.worth(best[0])
    if bound - worth <= DUST:
        return best, worth
    columns = _Columns(master, prices, bound - worth)
    found, other = columns.solve(work.part(0.6), number=number)
    if found is not None:
        best = _better(problem, found, best)
    if columns.complete:
        bound = min(bound, max(problem.worth(best[0]), other))
    return best, bound


class _Columns:
    """The columns that an integer program is solved over.

    Args:
        master: The linear program, solved.
        prices: Its prices.
        distance: Of bound and best set; columns that lose more than this cannot better it.

    Attributes:
        complete: Whether every set that is better can be written in these columns.
    """

    def __init__(self, master: Master, prices: Prices, distance: float) -> None:
        problem = master.problem
        self.master, self.problem = master, problem
        full = Prices(
            prices.cut.copy(), prices.piece, prices.person, prices.design, prices.link,
            prices.face, prices.number,
        )  # fmt: skip
        price_patterns(master, full, Work())
        near: list[tuple[float, Made]] = []
        for k in range(len(problem.offers)):
            gain = reduced(master, full, k)
            rows = np.flatnonzero(np.isfinite(gain) & (gain >= -distance - 1e-4))
            if len(rows) > MOST_OPTIONS:
                rows = rows[np.argpartition(-gain[rows], MOST_OPTIONS)[: MOST_OPTIONS + 1]]
            near += [(-float(gain[r]), Made(k, int(r))) for r in rows]
        near.sort()
        self.complete = len(near) <= MOST_OPTIONS
        chosen = dict.fromkeys(one for _, one in near[:MOST_OPTIONS])
        chosen.update(dict.fromkeys(one for one in master.options))
        self.options = list(chosen)
        self.patterns = self._patterns(full, distance)

    def _patterns(self, prices: Prices, distance: float) -> list[Pattern]:
        problem = self.problem
        lengths: dict[int, dict[int, int]] = {}
        for one in self.options:
            for colour, cuts in problem.demand([one]).items():
                own = lengths.setdefault(colour, {})
                for length, times in cuts.items():
                    own[length] = max(own.get(length, 0), times)
        chosen: dict[Pattern, None] = {}
        for colour, own in lengths.items():
            mine = np.array(sorted(own, reverse=True), np.int64)
            values = prices.cut[colour, [self.master.at[int(v)] for v in mine]]
            most = sum(own.values()) * problem.number
            for kind, (room, _) in enumerate(problem.pieces[colour]):
                least = float(prices.piece[colour][kind]) - distance - 1e-4
                near, every = near_patterns(mine, values, most, room, least, MOST_PATTERNS)
                self.complete &= every
                for pattern in near:
                    chosen[Pattern(colour, kind, pattern)] = None
        for p in self.master.patterns:
            known = lengths.get(p.colour, {})
            if known and all(v in known for v, _ in p.cuts):
                chosen[p] = None
        return list(chosen)

    def solve(
        self, work: Work, *, most_bands: bool = False, number: int | None = None
    ) -> tuple[Found | None, float]:
        """Solve the integer program: the most bands, or with their number held the most worth.

        Returns:
            What was found, and an upper bound over these columns.
        """
        from scipy.optimize import Bounds, LinearConstraint, milp

        master, problem = self.master, self.problem
        held, master.most = master.most, None
        faces = master.faces
        if problem.per_design > problem.per_face:
            master.faces = {(problem.offers[o.offer].design, o.row) for o in self.options}
        rows = master.rows(self.options, self.patterns)
        master.most, master.faces = held, faces
        n = len(self.options)
        worth = np.array([master.allowed[o.offer][o.row] for o in self.options])
        gain = np.zeros(rows.size)
        gain[:n] = 1.0 if most_bands else worth
        matrix = rows.matrix()
        limits = [LinearConstraint(matrix, -np.inf, np.array(rows.right))]
        if number is not None:
            total = np.zeros(rows.size)
            total[:n] = 1.0
            limits.append(LinearConstraint(total[None, :], number, number))
        cost = ROOT_WORK * matrix.nnz
        nodes = int(min(NODES, max(1.0, (work.left - cost) / (NODE_WORK * matrix.nnz))))
        upper = np.full(rows.size, np.inf)
        upper[:n] = [min(problem.people[problem.offers[o.offer].person], problem.per_face)
                     for o in self.options]  # fmt: skip
        result = milp(
            -gain,
            integrality=np.ones(rows.size, np.int64),
            bounds=Bounds(0, upper),
            constraints=limits,
            options={"node_limit": nodes, "mip_rel_gap": 0.0 if most_bands else 1e-7},
        )
        used = 0 if result.mip_node_count is None else int(result.mip_node_count)
        work.spend(cost + NODE_WORK * used * matrix.nnz)
        dual = result.mip_dual_bound
        bound = -float(dual) if dual is not None and math.isfinite(dual) else math.inf
        if result.x is None:
            return None, bound
        made = self._made(np.asarray(result.x)[:n])
        pieces = cut_all(problem, made, Work(SECOND)) or self._read(
            rows, np.asarray(result.x), made
        )
        return (made, pieces), bound

    def _made(self, x: FloatArray) -> Set:
        out: list[Made] = []
        for one, times in zip(self.options, np.rint(x), strict=True):
            out += [one] * int(times)
        return tuple(out)

    def _read(self, rows: Any, x: FloatArray, made: Set) -> dict[int, tuple[Piece, ...]]:
        """Return the pieces as the program cuts them: every cut taken for the longest it serves."""
        demand = self.problem.demand(made)
        found: dict[int, list[Piece]] = {}
        wanted = {c: sorted(d.elements(), reverse=True) for c, d in demand.items()}
        slots: dict[int, list[tuple[int, int]]] = {}
        held: list[tuple[Pattern, dict[int, int]]] = []
        for p, times in zip(self.patterns, np.rint(x[rows.pattern_at :]), strict=False):
            for _ in range(int(times)):
                held.append((p, {}))
                for length, n in p.cuts:
                    slots.setdefault(p.colour, []).extend([(length, len(held) - 1)] * n)
        for colour, lengths in wanted.items():
            free = sorted(slots.get(colour, []), reverse=True)
            for length in lengths:
                at = max(i for i, (room, _) in enumerate(free) if room >= length)
                _, which = free.pop(at)
                cuts = held[which][1]
                cuts[length] = cuts.get(length, 0) + 1
        for p, cuts in held:
            if cuts:
                piece = self.problem.pieces[p.colour][p.kind][0]
                mine = tuple(sorted(cuts.items(), reverse=True))
                found.setdefault(p.colour, []).append((piece, mine))
        return {colour: tuple(sorted(own)) for colour, own in found.items()}


def solve_alike(problem: GroupProblem, work: Work | None = None) -> GroupSolution:
    """Return the best set of bands that all look the same: one design in one colouring.

    Every design in every colouring has a bound by what is on hand in all; the highest bounds are
    looked at first, until none of the rest can be better.

    Args:
        problem: As for `solve_group`; what it says of designs and faces does not count.
        work: What may be spent, about a minute when left out.
    """
    work = Work(GRANTED) if work is None else work
    totals = np.array([sum(cm * n for cm, n in own) for own in problem.pieces], np.float64)
    looks: list[tuple[int, float, int, int]] = []
    for d, colours in enumerate(problem.colourings):
        mine = [o for o in problem.offers if o.design == d]
        n = len(colours)
        if not mine or not n:
            continue
        # Per colouring: how many of the people, the least need first, each class's thread is
        # enough for; the least of these is a bound.
        count = np.full(n, problem.number)
        worth = np.zeros(n)
        people = np.zeros(n, np.int64)
        for o in mine:
            good = np.isfinite(o.worth)
            people += good * problem.people[o.person]
            worth += np.where(good, o.worth, 0.0) * problem.people[o.person]
        for j in range(colours.shape[1]):
            needs = sorted(
                sum(cm * t for cm, t in o.cuts[j])
                for o in mine
                for _ in range(problem.people[o.person])
            )
            enough = np.searchsorted(np.cumsum(needs), totals, side="right")
            count = np.minimum(count, enough[colours[:, j]])
        count = np.minimum(count, people)
        looks += [(-int(count[r]), -float(worth[r]), d, int(r)) for r in np.flatnonzero(count > 0)]
    looks.sort()
    best: GroupSolution | None = None
    worth_bound = 0.0
    number = 0
    for bound, _, d, r in looks:
        if best is not None and (-bound < best.possible or work.left <= 0):
            number = max(best.possible, -bound if work.left <= 0 else 0)
            break
        offers = tuple(
            replace(o, worth=o.worth[r : r + 1]) for o in problem.offers if o.design == d
        )
        colourings = tuple(
            c[r : r + 1] if k == d else c[:0] for k, c in enumerate(problem.colourings)
        )
        small = replace(
            problem, offers=offers, colourings=colourings, per_design=problem.number,
            per_face=problem.number, most_designs=0,
        )  # fmt: skip
        part = Work(min(work.left, 0.5 * SECOND))
        before = part.left
        one = solve_group(small, part)
        work.spend(before - part.left + 2000.0)
        index = [k for k, o in enumerate(problem.offers) if o.design == d]
        one = replace(one, made=tuple(Made(index[m.offer], r) for m in one.made))
        worth_bound = max(worth_bound, one.worth_bound) if best else one.worth_bound
        if best is None or (one.possible, one.worth) > (best.possible, best.worth):
            best = one
    if best is None:
        return GroupSolution((), {}, 0.0, 0, 0.0)
    return replace(best, bound=max(number, best.possible), worth_bound=best.worth)
