"""The order of work of a whole band: an opening, a cycle that is worked again and again, an ending.

A repeat cut off straight across would break the passes that run on into the next one.  A maker
lets them run on, so the edge of the work is slanted.  With D(n) the passes that touch a row above
row n, and all that they need, the *cycle* is D(n + q) without D(n), where after q rows knots and
colours stand as before.  D(n) is the opening, and what is left after the last whole cycle the
ending, which comes out straight across at the last row.

Passes that rows 0 or R-1 cut short differ from those inside, so the cycle is compared with each
of its repeats, and n is the least that lets it be worked most often.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from motifsearch.pattern.canonical import shortest_period
from motifsearch.pattern.design import Pattern
from motifsearch.pattern.passes import Knot, Pass, arrange, find_passes, needs
from motifsearch.pattern.walk import colour_return, walk


@dataclass(frozen=True)
class BandPlan:
    """All passes of a band.

    Attributes:
        rows: The rows of the band, R.
        opening: Worked once.
        cycle: Its first time; empty when nothing is worked twice.
        cycle_rows: Rows from one time to the next.
        times: How often the cycle is worked; 0 when nothing is worked twice.
        ending: Worked once; everything, when nothing is worked twice.
        colours_return: Whether the colours stand as before after the cycle.
    """

    rows: int
    opening: tuple[Pass, ...]
    cycle: tuple[Pass, ...]
    cycle_rows: int
    times: int
    ending: tuple[Pass, ...]
    colours_return: bool

    def passes(self) -> Iterator[Pass]:
        """Yield every pass in the order of work (strand numbers hold for the first cycle only)."""
        yield from self.opening
        for k in range(self.times):
            yield from (one.shifted(k * self.cycle_rows) for one in self.cycle)
        yield from self.ending


def plan_band(pattern: Pattern, rows: int, longest_cycle: int = 48) -> BandPlan:
    """Plan the work of a band of `rows` rows with the fewest passes.

    Args:
        pattern: The design.
        rows: Rows of the whole band, R.
        longest_cycle: The cycle brings the colours back where that takes at most so many rows;
            otherwise only the knots repeat, and the colours move on from time to time.

    Examples:
        >>> from motifsearch.pattern.design import make_pattern
        >>> p = make_pattern("", ["rr rr", "rr"], "aaaa", {"a": "#000000"})
        >>> plan = plan_band(p, 20)
        >>> len(plan.opening), len(plan.cycle), plan.times, len(plan.ending)
        (2, 1, 8, 1)
        >>> plan.cycle[0].knots
        ((2, 0, 0), (3, 1, 0), (4, 2, 0))
    """
    period = len(shortest_period(pattern.knots))
    whole = period * _times_until_colours_return(pattern, period)
    back = whole <= longest_cycle
    q = whole if back else period
    passes = find_passes(pattern, rows)
    before = needs(passes)
    level = _levels(passes, before)
    n, times = _best_cut(passes, level, q, rows)
    if times < 2:
        return BandPlan(rows, (), (), q, 0, tuple(arrange(pattern, passes, before)), back)
    parts: list[tuple[Pass, ...]] = []
    hand = 0
    for low, high in ((0, n), (n, n + q), (n + times * q, rows)):
        chosen = [k for k, depth in enumerate(level) if low < depth <= high]
        parts.append(tuple(arrange(pattern, passes, before, chosen, hand)))
        hand = parts[-1][-1].end if parts[-1] else hand
    return BandPlan(rows, parts[0], parts[1], q, times, parts[2], back)


def _times_until_colours_return(pattern: Pattern, period: int) -> int:
    orders = walk(pattern, period * colour_return(pattern) * (pattern.rows // period)).orders
    colours = [[pattern.colour_order[s] for s in order] for order in orders[::period]]
    return colours.index(colours[0], 1)


def _levels(passes: Sequence[Pass], before: Sequence[set[int]]) -> list[int]:
    """Return, per pass, the least n with the pass in D(n)."""
    level = [one.knots[0][0] + 1 for one in passes]
    todo = list(range(len(passes)))
    while todo:
        n = todo.pop()
        for m in before[n]:
            if level[m] > level[n]:
                level[m] = level[n]
                todo.append(m)
    return level


def _best_cut(passes: Sequence[Pass], level: Sequence[int], q: int, rows: int) -> tuple[int, int]:
    """Return (n, times): the least n after which the cycle is worked most often."""
    at: list[set[tuple[Knot, ...]]] = [set() for _ in range(rows + 1)]
    for one, depth in zip(passes, level, strict=True):
        at[depth].add(one.shifted(-depth).knots)
    run = 0  # how many levels from here on equal the level q rows further down
    best = (1, 0)
    for n in range(rows - q - 1, -1, -1):
        run = run + 1 if at[n + 1] == at[n + 1 + q] else 0
        best = max(best, (1 + run // q, -n))
    times, n = best
    return -n, times
