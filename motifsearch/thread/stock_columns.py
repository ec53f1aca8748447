"""The integer program of a cutting stock problem (see `motifsearch.thread.stock`).

Rows: every need is covered or missing; no kind of piece is used more often than there are pieces.
Columns: for a kind of piece with few cutting patterns, how often each pattern is used; a long
piece, which has too many, gets a column for every kind of cut, and three for whether it is begun,
whether its leftover is useful, and how much of it is waste.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt

from motifsearch.thread.stock import DUST, Filled, Problem, patterns

#: Long pieces that get variables of their own; more of them only repeat each other.
MAX_LONG = 40
#: Branch-and-bound nodes for one aim, so that the result does not hang on the machine's speed.
MAX_NODES = 20_000
#: When an aim is near enough to its bound; what is left open is in the gap.
REL_GAP = (0.0, 0.0, 1e-3)

IntArray = npt.NDArray[np.int64]
FloatArray = npt.NDArray[np.float64]


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


def minimise(
    columns: Columns,
    aim: int,
    caps: Mapping[int, float],
    seconds: float,
    sets: Sequence[int] | None = None,
) -> tuple[FloatArray | None, float]:
    """Minimise one aim while others stay at their caps; return (variables, lower bound).

    With `sets`, the demand of one set, as many sets as possible are made instead, and their
    number is one more variable at the end.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csr_array, hstack

    upper, cost, integer = columns.upper.copy(), columns.costs[aim], columns.integer
    need, stock = columns.need, columns.stock
    demand = np.array(columns.problem.demand, np.float64)
    for which, value in caps.items():
        # No single pattern may exceed the cap: this closes most of them at once.
        over = columns.costs[which] > value + 1e-6 * max(1.0, value)
        upper[over & (integer == 1)] = 0.0
    if sets is not None:
        per_set = csr_array(-np.array(sets, np.float64)[:, None])
        need = hstack([need, per_set]).tocsr()
        stock = hstack([stock, csr_array((stock.shape[0], 1))]).tocsr()
        upper[columns.missing_at :] = 0.0
        upper = np.append(upper, demand[0] // sets[0])
        demand = np.zeros(len(demand))
        cost = np.append(np.zeros(columns.size), -1.0)
        integer = np.append(integer, 1)
    rules = [
        LinearConstraint(need, demand, demand),
        LinearConstraint(stock, -np.inf, columns.bound),
    ]
    for which, value in caps.items():
        slack = 1e-6 * max(1.0, value)
        rules.append(LinearConstraint(columns.costs[which][None, :], -np.inf, value + slack))
    result = milp(
        cost,
        integrality=integer,
        bounds=Bounds(0, upper),
        constraints=rules,
        options={
            "time_limit": max(seconds, 0.01),
            "node_limit": MAX_NODES,
            "mip_rel_gap": REL_GAP[aim],
        },
    )
    bound = result.mip_dual_bound
    if bound is None or not math.isfinite(bound):
        bound = -float(upper[-1]) if sets is not None else 0.0
    x = None if result.x is None else np.asarray(result.x, np.float64)
    return x, float(bound)
