"""What no design can be: bounds that follow from a brief and its stash alone.

**Thread.**  In R rows of S strands there are K knots (one for every pair of neighbours that meet),
and the strands wait at the edges a number of times that no design changes.  With the shortest loop
of the knots that may be used and the thinnest of the threads, the band takes at least

    K loop + (S R - W) hypot(p, q) + W p

(the thread model of `motifsearch.thread.model`, W straight advances), so the mean strand takes that
over S, some thread takes at least the mean of all threads, and no thread less than two strands that
only lie in the core.  A piece is of use to as many threads as the shortest thread goes into it.

**Contrast.**  On a face of two colours or more at least one pair touches.

**Flatness.**  With one kind of leaning knots alone the band leans; with an odd number of crossing
knots in a period one is left over.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import combinations
from typing import Final

from motifsearch.base.colour import difference_matrix
from motifsearch.base.units import piece_text, total_text
from motifsearch.pattern.knots import CODE, knots_in_grid
from motifsearch.search.brief import Brief
from motifsearch.search.reasons import Reason
from motifsearch.search.resolved import threads_of
from motifsearch.simulate.thread_use import waiting_positions, waits_at
from motifsearch.thread.cutting import margin_quantile

CROSSING: Final = (CODE["rr"], CODE["ll"])


@dataclass(frozen=True)
class Need:
    """The least thread that a band of a brief takes.

    Attributes:
        rows: Rows knotted, R.
        total_mm: All its threads together, with margin and ends.
        mean_mm: The mean thread: some thread is at least as long.
        least_mm: No thread is shorter.
        threads: How many threads.
    """

    rows: int
    total_mm: float
    mean_mm: float
    least_mm: float
    threads: int


def least_need(brief: Brief) -> Need:
    """Return the least thread that any band of a brief takes."""
    model, s = brief.stash.model, brief.strands
    thick = [brief.stash.thread(name).diameter_mm for name in brief.palette]
    thin = min(thick)
    # The fewest rows: the thickest threads; the least thread a row: the thinnest.
    rows = max(1, math.floor(brief.length_mm / (model.row_gauge * max(thick)) + 0.5))
    p, q = model.row_gauge * thin, model.strand_gauge * thin
    codes = brief.limits.codes
    loop = min(model.loop_mm(code not in CROSSING, thin, thin) for code in codes)
    waits = sum(waits_at(row, rows) * len(waiting_positions(s, row)) for row in range(rows + 1))
    slanted = max(0, s * rows - waits)
    way = slanted * math.hypot(p, q) + min(waits, s * rows) * p
    knots = knots_in_grid(s, rows)
    z = margin_quantile(s, brief.allowances.risk, model.scatter_freedom)
    margin = 1.0 + z * model.scatter
    ends = brief.allowances.start_mm + brief.allowances.finish_mm
    # A little less, for what sums of floats are off by.
    total = ((knots * (loop + model.bend * thin) + way) * margin + s * ends) * (1 - 1e-9)
    threads = (s + 1) // 2 if brief.folded else s
    # A strand that only lies in the core, straight down wherever it can.
    core = rows * p * margin + ends
    least = core * (2 if brief.folded else 1)
    if brief.folded and s % 2:
        least = core
    return Need(rows, total, total / threads, least, threads)


def _usable(brief: Brief, need: Need) -> dict[str, int]:
    """Return how many threads the pieces of every colour can be cut into at most."""
    return {
        name: sum(int((p + 1e-6) / need.least_mm) for p in brief.stash.thread(name).pieces_mm)
        for name in brief.palette
    }


def too_little(brief: Brief) -> Reason | None:
    """Return the reason where the pieces on hand cannot be enough for any design."""
    if not brief.limits.on_hand:
        return None
    show = brief.stash.show
    need = least_need(brief)
    held = {name: brief.stash.thread(name).pieces_mm for name in brief.palette}
    longest = max((p for pieces in held.values() for p in pieces), default=0.0)
    keys = ("limits.on_hand", "length_mm" if brief.wrist_mm is None else "wrist_mm", "stash")
    if longest <= 0:
        return Reason(keys=keys, words="nothing is on hand: no thread of the stash has a piece",
                      asked=need.total_mm, possible=0.0, shown=True)  # fmt: skip
    rich = sorted((sum(pieces) for pieces in held.values()), reverse=True)[: brief.colours_max]
    all_together = sum(sum(pieces) for pieces in held.values())
    if all_together < need.total_mm:
        words = (
            f"the threads on hand are too little: {total_text(all_together, show)} in all, and any "
            f"band of this length takes {total_text(need.total_mm, show)} at least"
        )
        return Reason(
            keys=keys, words=words, asked=need.total_mm, possible=all_together, shown=True
        )
    if sum(rich) < need.total_mm:
        few = "one colour is" if brief.colours_max == 1 else f"{brief.colours_max} colours are"
        words = (
            f"{few} too little thread: the fullest hold "
            f"{total_text(sum(rich), show)}, and any band of this length takes "
            f"{total_text(need.total_mm, show)} at least"
        )
        return Reason(keys=("colours_max", *keys), words=words, asked=brief.colours_max,
                      possible=sum(rich), shown=True)  # fmt: skip
    if longest < need.mean_mm:
        words = (
            f"the pieces on hand are too short: the longest is {piece_text(longest, show)}, and "
            f"the longest thread of such a band is {piece_text(need.mean_mm, show)} at least "
            f"({total_text(all_together, show)} on hand in all would be enough)"
        )
        return Reason(keys=("limits.on_hand", "stash", *keys[1:2], "folded"), words=words,
                      asked=need.mean_mm, possible=longest, shown=True)  # fmt: skip
    usable = _usable(brief, need)
    if sum(usable.values()) < need.threads:
        words = (
            f"the pieces on hand are too short: of {need.threads} threads that a band takes, each "
            f"{piece_text(need.least_mm, show)} long or longer, they give "
            f"{sum(usable.values())} at most"
        )
        return Reason(keys=("limits.on_hand", "stash", *keys[1:2], "folded"), words=words,
                      asked=need.threads, possible=sum(usable.values()), shown=True)  # fmt: skip
    good = [name for name, n in usable.items() if n]
    if len(good) < brief.colours_min:
        empty = [n for n in brief.palette if n not in good]
        words = (
            f"of {', '.join(empty)} there is no piece long enough for a thread "
            f"({piece_text(need.least_mm, show)} at least), so {len(good)} colours are left and "
            f"{brief.colours_min} are asked for"
        )
        return Reason(keys=("colours_min", "stash", "limits.on_hand"), words=words,
                      asked=brief.colours_min, possible=len(good),
                      nearest={"colours_min": len(good)}, shown=True)  # fmt: skip
    return None


def usable_colours(brief: Brief) -> list[str]:
    """Return the colours of which a thread can be cut, or all where pieces do not count."""
    if not brief.limits.on_hand:
        return list(brief.palette)
    usable = _usable(brief, least_need(brief))
    return [name for name in brief.palette if usable[name]]


def too_alike(brief: Brief) -> Reason | None:
    """Return the reason where no two colours are as different as the brief asks."""
    least = brief.limits.contrast_min
    if least <= 0:
        return None
    names = usable_colours(brief)
    if len(names) < 2 or brief.colours_max < 2:
        words = (
            "a band of one colour has no contrast: two colours are needed, and "
            + (f"only {names[0]} is long enough" if len(names) == 1 and len(brief.palette) > 1
               else "the brief allows one")
        )  # fmt: skip
        return Reason(keys=("limits.contrast_min", "colours_max"), words=words, asked=least,
                      possible=0.0, nearest={"limits.contrast_min": 0}, shown=True)  # fmt: skip
    inks = [brief.stash.thread(n).colour for n in names]
    differ = difference_matrix(inks)
    best, a, b = max((float(differ[i, j]), i, j) for i, j in combinations(range(len(names)), 2))
    if best >= least:
        return None
    words = (
        f"no two colours differ by {least:g}: the most different are {names[a]} and {names[b]}, "
        f"by {math.floor(best * 10) / 10:.1f} (CIEDE2000)"
    )
    return Reason(keys=("limits.contrast_min", "stash"), words=words, asked=least, possible=best,
                  nearest={"limits.contrast_min": _down(best, 1.0)}, shown=True)  # fmt: skip


def leans(brief: Brief) -> Reason | None:
    """Return the reason where the knots that may be used make every band lean too much."""
    least, codes = brief.limits.flatness_min, set(brief.limits.codes)
    if least <= 0 or brief.limits.border:
        return None
    if codes - set(CROSSING):
        return None  # returning knots do not lean
    if len(codes) == 1:
        best = 0.0
    else:
        best = max(
            1.0 - (knots_in_grid(brief.strands, p) % 2) / knots_in_grid(brief.strands, p)
            for p in brief.search.periods
        )
    if best >= least:
        return None
    words = (
        f"with the knots {' '.join(brief.limits.knots)} alone every band leans to one side: "
        f"flatness is {best:.2f} at most, {least:g} is asked for"
    )
    return Reason(keys=("limits.flatness_min", "limits.knots"), words=words, asked=least,
                  possible=best, nearest={"limits.flatness_min": _down(best, 0.01)},
                  shown=True)  # fmt: skip


def uncuttable_colours(brief: Brief) -> Reason | None:
    """Return the reason where more colours are asked for than threads can be divided into."""
    threads = threads_of(brief.strands, brief.folded)
    if brief.colours_min <= threads:
        return None
    kind = "folded" if brief.folded else "single"
    words = (
        f"{brief.strands} strands are {threads} {kind} threads, so there can be {threads} colours "
        "at most"
    )
    return Reason(keys=("colours_min", "folded"), words=words, asked=brief.colours_min,
                  possible=threads, nearest={"colours_min": threads}, shown=True)  # fmt: skip


#: Every bound, in the order in which they are told.
BOUNDS: Final[tuple[Callable[[Brief], Reason | None], ...]] = (
    too_little, uncuttable_colours, too_alike, leans,
)  # fmt: skip


def impossible(brief: Brief) -> list[Reason]:
    """Return every reason for which no design whatever can keep a brief; each is shown."""
    return [reason for bound in BOUNDS for reason in [bound(brief)] if reason is not None]


def _down(value: float, step: float) -> float:
    """Return the multiple of a step that is no more than a value.

    Examples:
        >>> _down(41.97, 1.0), _down(0.8734, 0.01)
        (41, 0.87)
    """
    down = math.floor(value / step + 1e-9) * step
    return int(down) if step >= 1 else round(down, 6)


__all__ = ["BOUNDS", "Need", "impossible", "least_need", "usable_colours"]
