"""The order of work: the knots of a band as passes, with the fewest changes of strand.

A knot (r, i) can be tied as soon as the two above it, (r-1, i-1) and (r-1, i+1), are tied: the
knots form a partial order, a heap of pieces (Viennot, "Heaps of pieces, I", LNM 1234, 1986).  Any
linear extension of it makes the same band.  A *pass* is a stretch of knots tied by one strand
without laying it down, so a linear extension has as many passes as it has runs of one tying
strand.  `plan_passes` returns an extension with the fewest passes.

**The minimum has a closed form**, so nothing is searched and it is exact for every width.

1. In one run stand, with two knots a < b, all knots between them, so these are tied by the same
   strand.  Between (r, i) and a later knot of a strand that went straight on, row by row in one
   direction, there is nothing else.  If it turned, (r, i), (r+1, i+-1), (r+2, i), then the knot on
   the other side, (r+1, i-+1), lies between and belongs to others; it is missing only where i is
   at an edge.  If it waited at an edge, its neighbour's knot lies between.  So a run is a diagonal,
   or three knots that turn at an edge, and cutting each strand's knots into runs from the top,
   each as long as it can be, gives the fewest for that strand.  The sum is a lower bound.
2. With u = r + i and v = r - i the partial order is (u, v) <= (u', v') in both, and the runs of 1.
   are disjoint boxes with sides along u and v.  Disjoint boxes of the plane always have an order
   in which none comes before another that is left of it or below it (Guibas and Yao, STOC 1980;
   the "sequence pair" of Murata and others, IEEE Trans. CAD 15, 1996).  So the lower bound is met,
   in any order of the passes that keeps what a pass needs before it.

Among these orders `arrange` chooses the working order: left, right, left, right and then the
middle for a grid that is its own mirror image, and short ways for the hands otherwise.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import pairwise

from motifsearch.pattern.design import Pattern
from motifsearch.pattern.knots import MIRRORED, RETURNING, TIED_FROM_RIGHT
from motifsearch.pattern.walk import Tied, row_by_row

Knot = tuple[int, int, int]


@dataclass(frozen=True)
class Pass:
    """A stretch of knots that one strand ties without being laid down.

    Attributes:
        strand: The strand, by its position before row 0 (0-based).
        start: The position where it is picked up.
        knots: The knots in turn, each (row, left position, code).
        end: The position where it is laid down.
    """

    strand: int
    start: int
    knots: tuple[Knot, ...]
    end: int

    def shifted(self, rows: int) -> Pass:
        """Return the pass `rows` rows further down."""
        knots = tuple((r + rows, i, code) for r, i, code in self.knots)
        return Pass(self.strand, self.start, knots, self.end)


@dataclass(frozen=True)
class PassPlan:
    """A working order with the fewest passes.

    Attributes:
        passes: In the order of work.
        lower_bound: A proven lower bound on their number.
        exact: Whether no order has fewer passes.
    """

    passes: tuple[Pass, ...]
    lower_bound: int
    exact: bool


def plan_passes(pattern: Pattern, rows: int | None = None) -> PassPlan:
    """Return a working order of the first `rows` rows with the fewest passes.

    Args:
        pattern: The design.
        rows: Rows of the block that is worked, all knots of rows 0 .. rows-1; one period when
            left out.

    Examples:
        >>> from motifsearch.pattern.design import make_pattern
        >>> p = make_pattern("", ["rr rr", "rr"], "aaaa", {"a": "#000000"})
        >>> plan = plan_passes(p, 4)
        >>> len(plan.passes), plan.lower_bound, plan.exact
        (3, 3, True)
        >>> [one.knots for one in plan.passes]
        [((0, 2, 0),), ((0, 0, 0), (1, 1, 0), (2, 2, 0)), ((2, 0, 0), (3, 1, 0))]
    """
    passes = find_passes(pattern, pattern.rows if rows is None else rows)
    ordered = arrange(pattern, passes, needs(passes))
    return PassPlan(tuple(ordered), len(passes), True)


def pass_lower_bound(pattern: Pattern, rows: int | None = None) -> int:
    """Return a quick lower bound on the passes of a block: the maximal stretches of its strands.

    A knot starts a stretch unless its tying strand tied its own previous knot too.  (The exact
    minimum, `minimum_passes`, also counts where such a stretch must be broken.)

    Examples:
        >>> from motifsearch.pattern.design import make_pattern
        >>> p = make_pattern("", ["rr rr", "rr"], "aaaa", {"a": "#000000"})
        >>> pass_lower_bound(p, 4)
        3
    """
    tied_last = [False] * pattern.strands
    starts = 0
    for row, _ in row_by_row(pattern, pattern.rows if rows is None else rows):
        for knot in row:
            starts += not tied_last[knot.tying]
            tied_last[knot.tying] = True
            tied_last[knot.core] = False
    return starts


def minimum_passes(pattern: Pattern, rows: int | None = None) -> int:
    """Return the fewest passes of a block, exactly, without ordering them."""
    return len(find_passes(pattern, pattern.rows if rows is None else rows))


def steady_passes(pattern: Pattern) -> int:
    """Return the passes of one period well inside a long band.

    There passes run on from one period into the next, where a block worked alone cuts them off
    at both its ends; this is what a long band takes per period.

    Examples:
        >>> from motifsearch.pattern.design import make_pattern
        >>> p = make_pattern("", ["rr rr", "rr"], "aaaa", {"a": "#000000"})
        >>> minimum_passes(p), steady_passes(p)
        (2, 1)
    """
    period = pattern.rows
    skipped = -(-2 * pattern.strands // period) * period  # longer than any pass that row 0 cut
    starts = [one.knots[0][0] for one in find_passes(pattern, skipped + period)]
    return sum(row >= skipped for row in starts)


def find_passes(pattern: Pattern, rows: int) -> list[Pass]:
    """Return the passes of the first `rows` rows, in the order of their first knots.

    Every knot is in one pass; every pass is as long as it can be from the top (step 1 of the
    module's text).
    """
    edge = pattern.strands - 2
    found: list[tuple[int, list[Tied]]] = []
    open_pass: dict[int, list[Tied]] = {}
    for row, _ in row_by_row(pattern, rows):
        for knot in row:
            stretch = open_pass.get(knot.tying)
            if stretch is None or not _goes_on(stretch, knot, edge):
                stretch = open_pass[knot.tying] = []
                found.append((knot.tying, stretch))
            stretch.append(knot)
    return [_as_pass(strand, stretch) for strand, stretch in found]


def _goes_on(stretch: Sequence[Tied], knot: Tied, edge: int) -> bool:
    last = stretch[-1]
    if last.row != knot.row - 1:  # it was tied around, or waited, in between
        return False
    if len(stretch) == 1 or knot.position - last.position == last.position - stretch[-2].position:
        return True
    return len(stretch) == 2 and knot.position in (0, edge)


def _as_pass(strand: int, stretch: Sequence[Tied]) -> Pass:
    first, last = stretch[0], stretch[-1]
    start = first.position + bool(first.code & TIED_FROM_RIGHT)
    end = last.position + (bool(last.code & TIED_FROM_RIGHT) != (not last.code & RETURNING))
    return Pass(strand, start, tuple((k.row, k.position, k.code) for k in stretch), end)


def needs(passes: Sequence[Pass]) -> list[set[int]]:
    """Return, per pass, the indices of the passes that hold a knot right above one of its own."""
    owner = {(r, i): n for n, one in enumerate(passes) for r, i, _ in one.knots}
    before: list[set[int]] = []
    for n, one in enumerate(passes):
        above = {owner.get((r - 1, i + d), n) for r, i, _ in one.knots for d in (-1, 1)}
        before.append(above - {n})
    return before


def arrange(
    pattern: Pattern,
    passes: Sequence[Pass],
    before: Sequence[Collection[int]],
    chosen: Collection[int] | None = None,
    hand: int = 0,
) -> list[Pass]:
    """Return passes in a pleasant working order that keeps what each needs before it.

    Args:
        pattern: The design.
        passes: All passes.
        before: Per pass, the passes that it needs (see `needs`).
        chosen: Which passes to order, a set whose needs are done or chosen; all when left out.
        hand: Where the hands are at the start, a position.

    A grid that is its own mirror image is worked side by side: a pass on the left, its mirror
    image on the right, the next on the left, as long as any is ready that is at most S rows below
    the rest; then one pass that reaches across the middle.  Any other grid is worked from the pass
    that starts nearest to the hands among those at most S/2 rows below the highest that is ready.
    """
    todo = set(range(len(passes)) if chosen is None else chosen)
    waiting = {n: {m for m in before[n] if m in todo} for n in todo}
    blocks: dict[int, list[int]] = {n: [] for n in todo}
    for n, others in waiting.items():
        for m in others:
            blocks[m].append(n)
    sided = is_own_mirror(pattern)
    side = [_side(one, pattern.strands) for one in passes]
    depth = pattern.strands if sided else pattern.strands // 2
    ready = {n for n in todo if not waiting[n]}
    done: list[Pass] = []
    while todo:
        top = min(passes[n].knots[0][0] for n in ready)
        near = [n for n in ready if passes[n].knots[0][0] <= top + depth]
        last = done[-1] if done else None
        if sided:
            turns = (1, 0, 2) if last and _side(last, pattern.strands) == 0 else (0, 1, 2)
            turn = next(s for s in turns if any(side[n] == s for n in near))
            near = [n for n in near if side[n] == turn]
        here, mirrored = hand, last and sided and _mirrored(last.knots, pattern.strands)
        pick = min(
            near, key=lambda n: (passes[n].knots != mirrored, *_ease(passes[n], here, sided))
        )
        hand = passes[pick].end
        done.append(passes[pick])
        todo.discard(pick)
        ready.discard(pick)
        for n in blocks[pick]:
            waiting[n].discard(pick)
            if not waiting[n]:
                ready.add(n)
    return done


def _ease(one: Pass, hand: int, sided: bool) -> tuple[int, ...]:
    row, jump = one.knots[0][0], abs(one.start - hand)
    return (row, jump, one.start) if sided else (jump, row, one.start)


def _mirrored(knots: Sequence[Knot], strands: int) -> tuple[Knot, ...]:
    return tuple((r, strands - 2 - i, int(MIRRORED[code])) for r, i, code in knots)


def _side(one: Pass, strands: int) -> int:
    """Return 0 for a pass in the left half, 1 in the right half, 2 across the middle."""
    places = [i for _, i, _ in one.knots]
    if max(places) + 1 < strands // 2:
        return 0
    return 1 if min(places) >= strands - strands // 2 else 2


def is_own_mirror(pattern: Pattern) -> bool:
    """Return whether the knots mirror themselves, the knots in the very middle aside.

    (A knot in the middle has one tying strand, so no grid of crossing knots is fully its mirror.)
    """
    if pattern.strands % 2:
        return False
    for row in pattern.knots:
        half = len(row) // 2
        if any(row[k] != MIRRORED[row[-1 - k]] for k in range(half)):
            return False
    return True


def jumps(passes: Sequence[Pass]) -> int:
    """Return how many positions the hands move between passes, in all."""
    return sum(abs(b.start - a.end) for a, b in pairwise(passes))
