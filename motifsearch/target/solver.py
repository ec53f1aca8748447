"""Can this motif be knotted?  The fewest wrong cells of any design, and designs that have them.

At every cell one of the two strands that meet there must have the wanted colour, and the strands
go on from there.  The fewest wrong cells over all knots and all colour orders whose colours stand
as at the start after the target's rows is a least-cost closed walk over arrangements of colours
(`motifsearch.target.states`).

Good designs come first, from one block of strands at a time (`motifsearch.target.blocks`).
Then dynamic programming over the rows (R. Bellman, Dynamic Programming, 1957) proves how far that
is from the best, and finds the best (`motifsearch.target.exact`); where the states are too
many for that, windows of strands give a lower bound (`motifsearch.target.windows`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass

import numpy as np

from motifsearch.base.arrays import I64, Bool
from motifsearch.base.errors import InputError
from motifsearch.base.work import OutOfWorkError, Work
from motifsearch.pattern.design import Pattern, make_pattern
from motifsearch.target.blocks import LocalSearch
from motifsearch.target.bound import MAX_BYTES, table_bytes
from motifsearch.target.budget import A_SECOND, choose_colours
from motifsearch.target.exact import ExactSearch, Found
from motifsearch.target.grids import Walk, pattern_of, varied, wrong_of
from motifsearch.target.motif import Target
from motifsearch.target.states import StateSpace
from motifsearch.target.windows import LARGE, SMALL, window_bound

#: Below this the proof takes a second, and the local search need not try long; bytes.
QUICK_BYTES = 3_000_000
#: Steps of the local search without gain before it begins anew.
PATIENCE = 50
#: Rounds that begin anew before some begin near the best.
FRESH_ROUNDS = 6
#: Rounds when the best is not proven; the time granted mostly ends it before.
ROUNDS = 400
#: Steps of the local search that tidy one design.
TIDY_STEPS = 25
#: Walks kept for the choice of varied designs.
POOL = 600


@dataclass(frozen=True)
class Reach:
    """How near a target can be knotted.

    Attributes:
        target: The target with an even number of rows.
        cost: The fewest wrong cells found, in one period of the target's rows.
        lower_bound: No design whose colours stand as at the start after the target's rows has
            fewer.
        open_bound: No design at all, however long its repeat, has fewer in any stretch of that many
            rows.  Where `cost` is larger, ``target.repeated(2)`` may gain something.
        exact: Whether `cost` is proven to be the fewest: it equals `lower_bound`.
        patterns: Designs, best first, the first of `cost` wrong cells and the last of at most two
            more; row 0 of each stands at row 0 of the target.
        wrong: Per pattern its wrong cells, bool ``[P, S // 2]``.
    """

    target: Target
    cost: int
    lower_bound: int
    open_bound: int
    exact: bool
    patterns: tuple[Pattern, ...]
    wrong: tuple[Bool, ...]

    @property
    def wrong_cells(self) -> tuple[tuple[int, int], ...]:
        """The wrong cells (row, slot) of the first pattern."""
        return tuple((int(r), int(k)) for r, k in np.argwhere(self.wrong[0]))


def solve(
    target: Target,
    *,
    folded: bool = True,
    max_strands: Mapping[str, int] | None = None,
    max_work: float = 60.0 * A_SECOND,
    n_solutions: int = 8,
    rng: np.random.Generator,
    on_better: Callable[[Reach], None] | None = None,
) -> Reach:
    """Find the designs with the fewest wrong cells.

    The strands have the colours that cells ask for; others of the target's palette come in only
    when `max_strands` leaves too few.

    Args:
        target: What is wanted; an odd number of rows is made even.
        folded: Whether every colour must have an even number of strands.
        max_strands: Colour name to the largest number of strands; others are free.
        max_work: Work granted, the same on every machine; about `A_SECOND` is done in a second.
        n_solutions: The most designs to return.
        rng: All chance.
        on_better: Called with every better result, with one design.

    Raises:
        InputError: `max_strands` names a colour that the target does not have.
        InfeasibleError: No numbers of strands fit; the message says why.
    """
    whole = target.evened()
    inner, most = choose_colours(whole, folded, max_strands or {})
    search = _Search(whole, inner, folded, most, Work(max_work), rng, on_better)
    return search.run(n_solutions)


def seed_patterns(
    target: Target,
    n: int,
    *,
    rng: np.random.Generator,
    rows: int | None = None,
    folded: bool = True,
    max_strands: Mapping[str, int] | None = None,
    max_work: float = 10.0 * A_SECOND,
) -> list[Pattern]:
    """Return designs near the target to start the evolutionary search from, best first.

    Args:
        target: What is wanted.
        n: The most designs.
        rng: All chance.
        rows: Rows of the grids, a multiple of the target's (even) rows; the target's rows when left
            out.  The colours of every design stand as at the start after the target's rows, so the
            grid is the same rows several times.
        folded: As in `solve`.
        max_strands: As in `solve`.
        max_work: As in `solve`.

    Raises:
        InputError: `rows` is no multiple of the target's rows.
        InfeasibleError: As `solve`.
    """
    period = target.evened().rows
    if rows is not None and (rows < period or rows % period):
        raise InputError(f"expected a multiple of the target's {period} rows", rows, key="rows")
    reach = solve(
        target,
        folded=folded,
        max_strands=max_strands,
        max_work=max_work,
        n_solutions=n,
        rng=rng,
    )
    times = (rows or period) // period
    return [
        make_pattern(p.title, np.tile(p.grid, (times, 1)), p.colour_order, p.colours)
        for p in reach.patterns
    ]


class _Search:
    """One run of `solve`: the pool of walks, the best cost and what is proven."""

    def __init__(
        self,
        whole: Target,
        inner: Target,
        folded: bool,
        most: I64,
        budget: Work,
        rng: np.random.Generator,
        on_better: Callable[[Reach], None] | None,
    ) -> None:
        self.whole = whole
        self.inner = inner
        self.folded = folded
        self.most = most
        self.tick = budget.tick
        self.rng = rng
        self.on_better = on_better
        self.cost = inner.wanted + 1
        self.lower_bound = 0
        self.open_bound = 0
        self.rounds = 0
        self.pool: dict[bytes, tuple[int, Walk]] = {}
        self.tidied: list[Walk] = []

    def run(self, n_solutions: int) -> Reach:
        names, strands = self.inner.names, self.inner.strands
        space = StateSpace(strands, len(names))
        size = table_bytes(space, self.inner.rows, self.folded)
        local = LocalSearch(
            self.inner.cells, strands, len(names), self.folded, self.most, self.rng, self.tick
        )
        self.keep(local.walk)
        try:
            self.improve(local, 1 if size <= QUICK_BYTES else 3)
            if size <= MAX_BYTES:
                self.prove(space, n_solutions)
            else:
                self.windows(SMALL)
                self.improve(local, 12)
                self.windows(LARGE)
            self.improve(local, ROUNDS)  # nothing left to do when the best is proven
            self.vary(local, n_solutions)
        except OutOfWorkError:
            pass
        return self.result(n_solutions)

    def keep(self, walk: Walk) -> None:
        """Put a walk into the pool; tell when it is the best so far."""
        cost = int(wrong_of(walk, self.inner.cells).sum())
        if cost > self.cost + 2 or (len(self.pool) >= POOL and cost >= self.cost):
            return
        self.pool[walk.tobytes()] = (cost, walk.copy())
        if cost < self.cost:
            self.cost = cost
            self.pool = {k: v for k, v in self.pool.items() if v[0] <= cost + 2}
            if self.on_better is not None:
                self.on_better(self.result(1))

    def improve(self, local: LocalSearch, rounds: int) -> None:
        """Run the local search until the lower bound is met.

        Each round begins anew, or, most of the later ones, near the best walk so far.
        """
        for _ in range(rounds):
            best, idle = local.cost, 0
            while idle < PATIENCE and self.cost > self.lower_bound:
                local.step()
                self.keep(local.walk)
                idle = 0 if local.cost < best else idle + 1
                best = min(best, local.cost)
            if self.cost == self.lower_bound:
                return
            self.rounds += 1
            if self.rounds >= FRESH_ROUNDS and self.rounds % 4:
                walks = [walk for cost, walk in self.pool.values() if cost == self.cost]
                local.adopt(walks[int(self.rng.integers(len(walks)))])
                local.kick()
            else:
                local.restart()

    def windows(self, max_states: int) -> None:
        """Raise the lower bound by windows of strands."""
        cells, strands, names = self.inner.cells, self.inner.strands, self.inner.names
        for bound in window_bound(cells, strands, len(names), self.tick, max_states):
            self.lower_bound = max(self.lower_bound, bound)

    def prove(self, space: StateSpace, n_solutions: int) -> None:
        """Find the fewest wrong cells, and walks that have them."""
        search = ExactSearch(space, self.inner.cells, self.folded, self.most, self.tick)
        self.lower_bound = self.open_bound = search.lower_bound
        found: Found = []
        # Too many arrangements for memory, or no time: in the latter case the next step ends it.
        with suppress(OutOfWorkError):
            found = search.prove(self.cost)
        self.lower_bound = search.lower_bound
        for walks, starts in found:
            for start in self.rng.permutation(starts)[: 2 * n_solutions]:
                for walk in walks.traces(int(start), search.lower_bound, self.rng, 4):
                    self.keep(walk)

    def vary(self, local: LocalSearch, n_solutions: int) -> None:
        """Find more walks as good as the best, and tidy the most varied of them."""
        for _ in range(n_solutions):
            best = [walk for cost, walk in self.pool.values() if cost == self.cost]
            if len(best) >= 4 * n_solutions:
                break
            local.restart()
            for _ in range(PATIENCE):
                if local.step() == self.cost:
                    break
            if local.cost > self.cost:
                local.adopt(best[int(self.rng.integers(len(best)))])
            for _ in range(5):
                self.keep(local.walk)
                local.step()
        walks = [walk for cost, walk in self.pool.values() if cost == self.cost]
        chosen = varied(walks, self.inner, n_solutions)
        local.tidy = True
        for walk in chosen:
            local.adopt(walk)
            for _ in range(TIDY_STEPS):
                local.step()
            self.tidied.append(local.walk.copy())

    def result(self, n_solutions: int) -> Reach:
        chosen = varied(self.tidied, self.inner, n_solutions)
        if len(chosen) < n_solutions:
            walks = [*chosen, *(walk for _, walk in self.pool.values())]
            chosen = varied(walks, self.inner, n_solutions)
        title = self.whole.title
        patterns = tuple(pattern_of(w, self.inner, title, self.rng) for w in chosen)
        wrong = tuple(wrong_of(w, self.inner.cells) for w in chosen)
        exact = self.cost == self.lower_bound
        bounds = self.lower_bound, self.open_bound
        return Reach(self.whole, self.cost, *bounds, exact, patterns, wrong)
