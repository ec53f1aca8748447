"""Can this motif be knotted?  The fewest wrong cells of any design, and designs that have them.

At every cell one of the two strands that meet there must have the wanted colour, and the strands
go on from there.  The fewest wrong cells over all knots and all colour orders whose colours stand
as at the start after the target's rows is a least-cost closed walk over arrangements of colours
(`motifsearch.search.reach_space`), found exactly by dynamic programming over the rows
(`motifsearch.search.reach_close`, after R. Bellman, Dynamic Programming, 1957); where the states
are too many, block by block (`motifsearch.search.reach_local`), with a lower bound beside it.
"""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from motifsearch.pattern.design import Pattern
from motifsearch.pattern.errors import InfeasibleError
from motifsearch.search.reach_close import OutOfBudgetError
from motifsearch.search.reach_exact import ExactSearch
from motifsearch.search.reach_knots import Walk, pattern_of, varied, wrong_of
from motifsearch.search.reach_space import StateSpace
from motifsearch.search.target import Target

#: States of all rows together that the exact search holds: three bytes each.
DENSE_STATES = 200_000_000


@dataclass(frozen=True)
class Reach:
    """How near a target can be knotted.

    Attributes:
        target: The target of an even number of rows that the patterns stand beside.
        cost: The fewest wrong cells found, in one period of the target's rows.
        lower_bound: No design has fewer.
        exact: Whether `cost` is proven to be the fewest: it equals `lower_bound`.
        patterns: Designs, best first; row 0 of each stands at row 0 of the target.
        wrong: Per pattern its wrong cells, bool ``[P, S // 2]``.
    """

    target: Target
    cost: int
    lower_bound: int
    exact: bool
    patterns: tuple[Pattern, ...]
    wrong: tuple[npt.NDArray[np.bool_], ...]

    @property
    def wrong_cells(self) -> tuple[tuple[int, int], ...]:
        """The wrong cells (row, slot) of the first pattern."""
        return tuple((int(r), int(k)) for r, k in np.argwhere(self.wrong[0]))


class Budget:
    """Time and work that are granted; work is counted alike on every machine."""

    def __init__(self, seconds: float, work: float | None) -> None:
        self.until = time.monotonic() + seconds
        self.work = float("inf") if work is None else work

    def tick(self, work: float) -> None:
        """Count work.

        Raises:
            OutOfBudgetError: Nothing is left.
        """
        self.work -= work
        if self.work < 0 or time.monotonic() > self.until:
            raise OutOfBudgetError


def solve(
    target: Target,
    *,
    folded: bool = True,
    max_strands: Mapping[str, int] | None = None,
    max_seconds: float = 60.0,
    n_solutions: int = 8,
    rng: np.random.Generator,
) -> Reach:
    """Find x."""
    space = StateSpace(target.strands, len(target.names))
    most = np.array([(max_strands or {}).get(n, target.strands) for n in target.names])
    budget = Budget(max_seconds, None)
    search = ExactSearch(space, target.cells, folded, most, budget.tick)
    found = search.prove(target.wanted + 1)
    if not found:
        raise InfeasibleError("none")
    walks: list[Walk] = []
    for cls, starts in found:
        for s in rng.permutation(starts)[:n_solutions]:
            walks += cls.traces(int(s), search.lower_bound, rng, 4)
    chosen = varied(walks, target, n_solutions, rng)
    patterns = tuple(pattern_of(w, target, target.title, rng) for w in chosen)
    wrong = tuple(wrong_of(w, target.cells) for w in chosen)
    return Reach(target, search.lower_bound, search.lower_bound, True, patterns, wrong)
