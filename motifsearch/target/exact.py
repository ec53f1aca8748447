"""The fewest wrong cells, proven: the limit is raised until a walk closes.

The limit starts at the least cost without closing (`motifsearch.target.bound`) and rises one
wrong cell at a time; at each limit the states that are left are searched for a closed walk, class
by class (`motifsearch.target.closing`).  The first that appears has the fewest wrong cells, and
every limit that fails proves a larger lower bound, so the search may be stopped at any time.
"""

from __future__ import annotations

from collections.abc import Callable

from motifsearch.base.arrays import I64
from motifsearch.base.work import OutOfWorkError
from motifsearch.target.bound import Cells, Index, OpenBound
from motifsearch.target.closing import ClassWalks
from motifsearch.target.states import StateSpace

Found = list[tuple[ClassWalks, Index]]


class ExactSearch:
    """The search for one target; arguments as `motifsearch.target.bound.OpenBound`.

    Attributes:
        lower_bound: Proven so far.
    """

    def __init__(
        self,
        space: StateSpace,
        cells: Cells,
        even: bool,
        most: I64,
        tick: Callable[[float], None],
    ) -> None:
        self.space = space
        self.cells = cells
        self.tick = tick
        self.bound = OpenBound(space, cells, even, most, tick)
        self.lower_bound = self.bound.least

    def prove(self, upper: int) -> Found:
        """Raise `lower_bound` to the fewest wrong cells, or to `upper`.

        Args:
            upper: A cost that is known to be reached; limits below it are tried.

        Returns:
            Per class with closed walks of `lower_bound` wrong cells, the class and its starts;
            empty when `lower_bound` has risen to `upper`.

        Raises:
            OutOfWorkError: From `tick`; `lower_bound` holds what is proven by then.
        """
        while self.lower_bound < upper:
            found = self.at(self.lower_bound)
            if found:
                return found
            self.lower_bound += 1
        return []

    def at(self, limit: int) -> Found:
        """Return the classes and starts with closed walks of exactly the least cost up to `limit`.

        When the budget ends after something was found, what was found is returned.
        """
        found: Found = []
        try:
            for states in self.bound.classes(limit):
                walks = ClassWalks(self.space, self.cells, states, limit, self.tick)
                least, starts = walks.best(limit)
                if least <= limit:
                    found.append((walks, starts))
        except OutOfWorkError:
            if not found:
                raise
        return found
