"""The integer program of a cutting stock problem (see `motifsearch.thread.stock`).

Rows: every need is covered or missing; no kind of piece is used more often than there are pieces.
Columns: for a kind of piece with few cutting patterns, how often each pattern is used; a long
piece, which has too many, gets a column for every kind of cut, and three for whether it is begun,
whether its leftover is useful, and how much of it is waste.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from motifsearch.base.arrays import Bool
from motifsearch.base.work import Work
from motifsearch.thread.stock import DUST, MAX_PATTERNS, Filled, Problem, patterns

if TYPE_CHECKING:  # scipy comes late: the command's help must not wait for it
    from scipy.sparse import csr_array

#: Long pieces that get variables of their own; more of them only repeat each other.
MAX_LONG = 40
#: Columns that HiGHS goes through in about a second, where an aim is only a preference.
MANY = 2500
#: Branch-and-bound nodes for one aim at most.
MAX_NODES = 20_000
#: Work of the root, by aim, and of a node for every entry of the matrix, as measured without
#: presolve, which costs many times what it saves in programs of a dozen rows.
ROOT_WORK, NODE_WORK = (80.0, 120.0, 300.0), 6.0
#: Columns that an aim is tried with when the work is not enough for all of them.
FEWEST = 200
#: When an aim is near enough to its bound; what is left open is in the gap.
REL_GAP = (0.0, 0.0, 1e-3)

IntArray = npt.NDArray[np.int64]
FloatArray = npt.NDArray[np.float64]


class _Matrix:
    """A sparse matrix that grows by entries."""

    def __init__(self) -> None:
        self.parts: list[tuple[IntArray, IntArray, FloatArray]] = []

    def add(self, rows: npt.ArrayLike, columns: npt.ArrayLike, values: npt.ArrayLike) -> None:
        wide = np.broadcast_arrays(np.asarray(rows), np.asarray(columns), np.asarray(values))
        r, c, v = (part.ravel() for part in wide)
        self.parts.append((r.astype(np.int64), c.astype(np.int64), v.astype(np.float64)))

    def build(self, shape: tuple[int, int]) -> csr_array:
        from scipy.sparse import coo_array

        r, c, v = (
            np.concatenate([part[k] for part in self.parts] or [np.zeros(0)]) for k in range(3)
        )
        return coo_array((v, (r.astype(np.int64), c.astype(np.int64))), shape=shape).tocsr()


class Columns:
    """The integer program of a problem: variables, rows and the aims as cost vectors.

    Args:
        problem: What to cut from what.
        work: What may be spent on setting the program up.

    Attributes:
        blocks: (kind, first column, patterns ``[n, m]`` or None for a long piece).
        missing_at: The first of the columns that count missing needs.
        size: Number of columns n.
        costs: float64 ``[3, n]``, one row for every aim.
        upper: float64 ``[n]``, upper bounds; the lower ones are 0.
        integer: int64 ``[n]``, 1 for whole numbers.
        need: ``[c, n]``, whose product with the columns is the demand.
        stock: ``[rows, n]``, whose product is at most `bound`.
        mixed: Whether there are long pieces, and so columns that need not be whole.
        complete: Whether every plan can be written in these columns; if not, no bound follows.

    Raises:
        OutOfWorkError: It was not enough.
    """

    def __init__(self, problem: Problem, work: Work | None = None) -> None:
        work = work or Work()
        self.problem = problem
        self.blocks: list[tuple[int, int, IntArray | None]] = []
        self.size = 0
        self.complete = True
        self.mixed = False
        self._need, self._stock = _Matrix(), _Matrix()
        self._costs: list[FloatArray] = []
        self._upper: list[FloatArray] = []
        self._integer: list[IntArray] = []
        self._bound: list[float] = []
        self._lengths = np.array(problem.lengths)
        self._most = problem.most()
        for k, kind in enumerate(problem.kinds):
            if not kind.count:
                continue
            table = patterns(problem.lengths, kind.length, self._most)
            m = len(problem.lengths)
            work.tick(m * (10.0 + 0.4 * (MAX_PATTERNS if table is None else len(table))))
            if table is not None:
                self._add_patterns(k, table)
                continue
            self.mixed = True
            useful_copies = min(kind.count, sum(problem.demand))
            self.complete &= useful_copies <= MAX_LONG
            for copy in range(min(useful_copies, MAX_LONG)):
                work.tick(20.0 * m)
                self._add_long(k, copy > 0)
        c = len(problem.demand)
        self.missing_at = self.size
        self._need.add(np.arange(c), self.size + np.arange(c), 1.0)
        self._columns([problem.weights, np.zeros(c), np.zeros(c)], np.array(problem.demand))
        self.costs: FloatArray = np.concatenate(self._costs, axis=1)
        self.upper: FloatArray = np.concatenate(self._upper)
        self.integer: IntArray = np.concatenate(self._integer)
        self.need = self._need.build((c, self.size))
        self.stock = self._stock.build((len(self._bound), self.size))
        self.bound: FloatArray = np.array(self._bound)

    def _columns(
        self, costs: Sequence[npt.ArrayLike], upper: npt.ArrayLike, integer: npt.ArrayLike = 1
    ) -> None:
        """Append columns: three rows of costs, the upper bounds, and which are whole."""
        table = np.array(costs, np.float64)
        n = table.shape[1]
        self._costs.append(table)
        self._upper.append(np.broadcast_to(np.asarray(upper, np.float64), n))
        self._integer.append(np.broadcast_to(np.asarray(integer, np.int64), n))
        self.size += n

    def _row(self, columns: npt.ArrayLike, values: npt.ArrayLike, bound: float) -> None:
        self._stock.add(len(self._bound), columns, values)
        self._bound.append(bound)

    def _add_patterns(self, k: int, table: IntArray) -> None:
        """One column for every pattern: how often it is used."""
        kind, useful = self.problem.kinds[k], self.problem.useful
        at = self.size + np.arange(len(table))
        self.blocks.append((k, self.size, table))
        covered = table @ self.problem.covers.T  # [n, c]
        which, need = np.nonzero(covered)
        self._need.add(need, at[which], covered[which, need])
        left = np.maximum(0.0, kind.length - table @ self._lengths)
        waste = np.where(left < useful - DUST, left, 0.0)
        begun = np.full(len(table), self.problem.begun(k))
        self._columns([np.zeros(len(table)), waste, begun], kind.count)
        self._row(at, 1.0, kind.count)

    def _add_long(self, k: int, again: bool) -> None:
        """The columns of one long piece: its cuts, begun, useful, waste."""
        kind, useful, m = self.problem.kinds[k], self.problem.useful, len(self._lengths)
        at, zero = self.size + np.arange(m), np.zeros(m)
        begun, kept, waste = self.size + m, self.size + m + 1, self.size + m + 2
        self.blocks.append((k, self.size, None))
        need, cut = np.nonzero(self.problem.covers)
        self._need.add(need, at[cut], self.problem.covers[need, cut])
        room = np.minimum(self._most, (kind.length + DUST) // self._lengths)
        self._columns(
            [[*zero, 0, 0, 0], [*zero, 0, 0, 1], [*zero, self.problem.begun(k), 0, 0]],
            [*room, 1, 1, useful],
            [*np.ones(m), 1, 1, 0],
        )
        # The cuts, and a useful leftover, must fit a piece that is begun.
        # Rows are scaled, so that what HiGHS takes for a whole number breaks no row.
        part = self._lengths / kind.length
        self._row([*at, kept, begun], [*part, useful / kind.length, -1.0], DUST / kind.length)
        # What is left is waste unless it is useful.
        self._row(
            [*at, begun, kept, waste], [*-part, 1.0, -1.0, -1.0 / kind.length], DUST / kind.length
        )
        if again:  # copies are alike: they are begun in turn
            self._row([begun, begun - m - 3], [1.0, -1.0], 0.0)

    def fullest(self, most: int) -> Bool:
        """Return a mask ``[n]`` of about `most` columns: the fullest patterns of every kind.

        Kinds share the columns by the square root of how many pieces they have.
        """
        keep = np.ones(self.size, np.bool_)
        kinds = self.problem.kinds
        weight = {k: math.sqrt(kinds[k].count) for k, _, table in self.blocks if table is not None}
        total = sum(weight.values())
        for k, first, table in self.blocks:
            if table is None:
                continue
            n = max(20, int(most * weight[k] / total))
            order = np.argsort(-(table @ self._lengths), kind="stable")
            keep[first + order[n:]] = False
        return keep

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
    work: Work,
    sets: Sequence[int] | None = None,
    keep: Bool | None = None,
) -> tuple[FloatArray | None, float]:
    """Minimise one aim while others stay at their caps; return (variables, lower bound).

    With `sets`, the demand of one set, as many sets as possible are made instead, and their
    number is one more variable at the end.  Columns that are not in `keep` are left out, and the
    bound is that of the program without whole numbers.  So it is where `work` is not enough for all
    columns: the fullest are tried then.
    """
    from scipy.optimize import Bounds, LinearConstraint, linprog, milp
    from scipy.sparse import csr_array, hstack, vstack

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
    limits = [
        (columns.costs[which][None, :], value + 1e-6 * max(1.0, value))
        for which, value in caps.items()
    ]
    worst = -float(upper[-1]) if sets is not None else 0.0
    entries = need.nnz + stock.nnz + len(caps) * columns.size
    bound = worst
    enough = int(columns.size * work.left / ROOT_WORK[aim] / entries)
    if enough < columns.size:
        few = columns.fullest(max(FEWEST, enough))
        keep = few if keep is None or few.sum() < keep.sum() else keep
    if keep is not None:
        if columns.complete and work.left > 2.0 * entries:
            work.spend(2.0 * entries)
            relaxed = linprog(
                cost, A_ub=vstack([stock, *(csr_array(row) for row, _ in limits)]),
                b_ub=np.append(columns.bound, [most for _, most in limits]), A_eq=need,
                b_eq=demand, bounds=np.stack([np.zeros(len(upper)), upper], 1), method="highs-ds",
                options={"presolve": False},
            )  # type: ignore[call-overload]  # fmt: skip
            if relaxed.status == 0:
                bound = max(worst, float(relaxed.fun) - 1e-6 * abs(float(relaxed.fun)))
        upper[: len(keep)][~keep] = 0.0
        entries = max(1, int(entries * keep.mean()))
        if work.left < 0.1 * ROOT_WORK[aim] * entries:
            return None, bound
    rules = [
        LinearConstraint(need, demand, demand),
        LinearConstraint(stock, -np.inf, columns.bound),
        *(LinearConstraint(row, -np.inf, most) for row, most in limits),
    ]
    left = (work.left - ROOT_WORK[aim] * entries) / (NODE_WORK * entries)
    result = milp(
        cost,
        integrality=integer,
        bounds=Bounds(0, upper),
        constraints=rules,
        options={
            "node_limit": int(min(MAX_NODES, max(1.0, left))),
            "mip_rel_gap": REL_GAP[aim],
            "presolve": columns.mixed,
        },
    )
    nodes = 0 if result.mip_node_count is None else max(0, int(result.mip_node_count) - 1)
    work.spend((ROOT_WORK[aim] + NODE_WORK * nodes) * entries)
    proven = result.mip_dual_bound
    if keep is None and columns.complete and proven is not None and math.isfinite(proven):
        bound = float(proven)
    x = None if result.x is None else np.asarray(result.x, np.float64)
    return x, bound
