"""The order of work of a whole band: an opening, a cycle that is worked again and again, an ending.

A repeat cut off straight across would break the passes that run on into the next one.  A maker
lets them run on, so the edge of the work is slanted.  With D(n) the passes that touch a row above
row n, and all that they need, the *cycle* is D(n + q) without D(n), where after q rows knots and
colours stand as before.  D(n) is the opening, and what is left after the last whole cycle the
ending, which comes out straight across at the last row.

Passes that rows 0 or R-1 cut short differ from those inside, so the cycle is compared with each
of its repeats, and n is the least that lets it be worked most often.

The ending is the beginning of further cycles, but for passes that the last row cuts short.  So it
is ordered in turns: all passes that are whole passes of the cycle and that are ready, in the
cycle's order, then all that were cut short and are ready, and so on.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

from motifsearch.pattern.canonical_form import shortest_period
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
        again: Per pass of the ending, the index of the pass of the cycle that it is once more,
            knot by knot; None where there is none.
    """

    rows: int
    opening: tuple[Pass, ...]
    cycle: tuple[Pass, ...]
    cycle_rows: int
    times: int
    ending: tuple[Pass, ...]
    colours_return: bool
    again: tuple[int | None, ...] = ()

    @property
    def number(self) -> int:
        """How many passes there are in all."""
        return len(self.opening) + self.times * len(self.cycle) + len(self.ending)

    def passes(self) -> Iterator[Pass]:
        """Yield every pass in the order of work (strand numbers hold for the first cycle only)."""
        yield from self.opening
        for k in range(self.times):
            yield from (one.shifted(k * self.cycle_rows) for one in self.cycle)
        yield from self.ending


#: Rows in which what the two ends of a band do to its passes has died away: some times the width
#: (no pass is longer, and no pass that another one needs lies further off), and some rounds.
SETTLED_WIDTHS: Final = 16
SETTLED_ROUNDS: Final = 8


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
        >>> plan.ending[0].knots, plan.again
        (((18, 0, 0), (19, 1, 0)), (None,))
    """
    period = len(shortest_period(pattern.knots))
    whole = period * _times_until_colours_return(pattern, period)
    back = whole <= longest_cycle
    q = whole if back else period
    more = (rows - SETTLED_WIDTHS * pattern.strands - SETTLED_ROUNDS * q) // q
    if more > 0:  # a long band: the same, with further rounds in its middle
        plan = _plan(pattern, rows - more * q, q, back)
        if plan.times:
            return _longer(pattern, plan, more)
    return _plan(pattern, rows, q, back)


def _longer(pattern: Pattern, plan: BandPlan, more: int) -> BandPlan:
    """Return the plan of a band with so many further rounds."""
    down = more * plan.cycle_rows
    order = order_after(pattern, plan.cycle_rows, more)
    ending = tuple(
        Pass(order[one.strand], one.start, one.shifted(down).knots, one.end) for one in plan.ending
    )
    times = plan.times + more
    return replace(plan, rows=plan.rows + down, times=times, ending=ending)


def order_after(pattern: Pattern, rows: int, times: int) -> tuple[int, ...]:
    """Return the strand at every position after `times` times `rows` rows, whole periods.

    Found by squaring, so that `times` may be as large as it likes.
    """
    power = walk(pattern, rows).orders[-1]
    order = tuple(range(pattern.strands))
    while times:
        if times & 1:
            order = tuple(order[s] for s in power)
        power = tuple(power[s] for s in power)
        times >>= 1
    return order


def _plan(pattern: Pattern, rows: int, q: int, back: bool) -> BandPlan:
    passes = find_passes(pattern, rows)
    before = needs(passes)
    level = _levels(passes, before)
    n, times = _best_cut(passes, level, q, rows)
    if times < 2:
        return BandPlan(rows, (), (), q, 0, tuple(arrange(pattern, passes, before)), back)
    parts: list[list[int]] = []
    number = {one.knots: k for k, one in enumerate(passes)}
    hand = 0
    for low, high in ((0, n), (n, n + q), (n + times * q, rows)):
        chosen = [k for k, depth in enumerate(level) if low < depth <= high]
        arranged = arrange(pattern, passes, before, chosen, hand)
        parts.append([number[one.knots] for one in arranged])
        hand = arranged[-1].end if arranged else hand
    opening, cycle, ending = parts
    shifted = [passes[k].shifted(times * q) for k in cycle]
    ending = _in_turns(passes, before, ending, shifted, q)
    known = {
        one.shifted(m * q).knots: k for k, one in enumerate(shifted) for m in range(rows // q + 1)
    }
    return BandPlan(
        rows,
        tuple(passes[k] for k in opening),
        tuple(passes[k] for k in cycle),
        q,
        times,
        tuple(passes[k] for k in ending),
        back,
        tuple(known.get(passes[k].knots) for k in ending),
    )


def _in_turns(
    passes: Sequence[Pass],
    before: Sequence[set[int]],
    ending: Sequence[int],
    cycle: Sequence[Pass],
    q: int,
) -> list[int]:
    """Return the ending in turns of passes that are whole passes of the cycle, and of others.

    `cycle` are the passes that would come next.  What the ending holds of them, and of the times
    after, keeps their order, in which every pass comes after what it needs.
    """
    place = {
        one.shifted(m * q).knots[0]: (m, k, len(one.knots))
        for k, one in enumerate(cycle)
        for m in range(passes[-1].knots[0][0] // q + 1)
    }
    known = {k: place.get(passes[k].knots[0], (0, n, 0)) for n, k in enumerate(ending)}
    todo = sorted(ending, key=lambda k: known[k][:2])
    out: list[int] = []
    want_whole = True
    while todo:
        left = set(todo)
        taken = []
        for k in todo:
            if (known[k][2] == len(passes[k].knots)) == want_whole and not before[k] & left:
                taken.append(k)
                left.discard(k)
        out += taken
        todo = [k for k in todo if k in left]
        want_whole = not want_whole
    return out


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
