"""One search over several numbers of strands: whose turn it is, and what each is judged by.

Every number of strands has islands of its own, for nothing can be exchanged between grids of
different widths.  The generations of the brief are shared: from one exchange to the next the
islands of one width evolve, that which has done the fewest generations so far (the smaller number
where two have done as many).  So three widths take no longer than one, and the turn follows from
the state alone.  A width that no design can be made in (`motifsearch.search.bounds`) has no turns.
"""

from __future__ import annotations

from collections.abc import Sequence

from motifsearch.search.bounds import impossible
from motifsearch.search.brief import Brief
from motifsearch.search.island import Island, Judge


class Judges:
    """A brief, ready to judge batches of every width that it asks for.

    Args:
        brief: The brief.
        share: The share of the thread on hand that the fast bound counts on.
    """

    def __init__(self, brief: Brief, share: float = 1.0) -> None:
        self.brief, self.share = brief, share
        self.known: dict[int, Judge] = {}

    def of(self, strands: int) -> Judge:
        """Return the judge of designs of so many strands."""
        if strands not in self.known:
            self.known[strands] = Judge(self.brief.of_width(strands), share=self.share)
        return self.known[strands]


def open_widths(brief: Brief) -> tuple[int, ...]:
    """Return the numbers of strands that no bound speaks against; all where every one is refused.

    A brief that asks for one is taken as it is.
    """
    if not brief.widths:
        return (brief.strands,)
    good = tuple(s for s in brief.widths if not impossible(brief.of_width(s)))
    return good or brief.widths


def turn(islands: Sequence[Island], generation: int, every: int) -> int:
    """Return the number of strands whose islands evolve next.

    Args:
        islands: Of the widths that take turns; those of one width have done as many generations.
        generation: Generations that were done on all of them together.
        every: Generations between exchanges.
    """
    done = {i.space.strands: i.generation for i in islands}
    if generation % every:
        under_way = [s for s, g in done.items() if g % every]
        if under_way:
            return min(under_way, key=lambda s: (done[s], s))
    waiting = {i.space.strands for i in islands if not i.whole}
    return min(waiting or done, key=lambda s: (done[s], s))


def rest_after(brief: Brief) -> int:
    """Return after how many exchanges without anything better a run has come to rest."""
    return brief.search.rest_after * len(open_widths(brief))
