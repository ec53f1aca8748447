"""The cutting plan: which cut comes from which piece on hand.

Per colour this is a cutting stock problem, solved by `motifsearch.thread.stock`: first nothing
is missing if that can be done at all, then the least thread is wasted, then leftover pieces are
used before whole skeins are begun, and short pieces before long ones.

**Waste** is what nothing can be made of any more: leftovers shorter than the shortest cut of all
that is planned.  Whether a leftover goes back into the box is another question: what is at least
`USEFUL_MM` long does, and what could still make the shortest cut.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from motifsearch.base.work import SECOND, Work
from motifsearch.thread.cutting import CutList
from motifsearch.thread.stash import Stash, StashThread
from motifsearch.thread.stock import Filled, Problem, best_fit, group_kinds
from motifsearch.thread.stock_program import solve

#: Work that a plan is granted.
GRANTED: Final = 4.0 * SECOND
#: A leftover of this length goes back into the box in any case (common practice, no source).
USEFUL_MM: Final = 300.0


@dataclass(frozen=True)
class PieceUse:
    """One piece on hand that is cut into.

    Attributes:
        thread: The thread's name.
        piece_mm: The piece before.
        cuts: (label, length in mm) of every cut from it, longest first.
        left_mm: What is left of it.
    """

    thread: str
    piece_mm: float
    cuts: tuple[tuple[str, float], ...]
    left_mm: float


@dataclass(frozen=True)
class CuttingPlan:
    """Which cut comes from which piece.

    Attributes:
        pieces: The pieces that are cut into; untouched pieces are not listed.
        missing: (colour, label, length in mm) of every cut that no piece is left for.
        gap: How far the plan may be from the best, as a fraction; 0 when it is proven that no
            plan has less missing, or as little missing and less waste.
        waste_mm: Leftovers too short for the shortest cut, together.
        shortest_mm: The shortest cut: a leftover below it is waste.
        useful_mm: What is shorter does not go back into the box.
        gaps: The gap of each aim: missing, waste, and the preference for leftovers and short
            pieces, which is not part of `gap`.
    """

    pieces: tuple[PieceUse, ...]
    missing: tuple[tuple[str, str, float], ...] = ()
    gap: float = 0.0
    waste_mm: float = 0.0
    shortest_mm: float = USEFUL_MM
    useful_mm: float = USEFUL_MM
    gaps: tuple[float, ...] = (0.0, 0.0, 0.0)

    @property
    def feasible(self) -> bool:
        """Whether every cut has its piece."""
        return not self.missing


#: Colour to cut length to the labels of the cuts of that length.
Wanted = dict[str, dict[float, list[str]]]


def wanted_cuts(cuts: CutList | Sequence[CutList]) -> Wanted:
    """Return the labels of all cuts by colour and by length, longest first.

    With several bands a label starts with the band's number: "2A" is cut A of the second.
    """
    lists = [cuts] if isinstance(cuts, CutList) else list(cuts)
    found: Wanted = {}
    for n, one in enumerate(lists, 1):
        for cut in one.cuts:
            label = cut.label if len(lists) == 1 else f"{n}{cut.label}"
            found.setdefault(cut.colour, {}).setdefault(cut.length_mm, []).append(label)
    return {
        colour: dict(sorted(lengths.items(), reverse=True)) for colour, lengths in found.items()
    }


def colour_problem(
    lengths: dict[float, list[str]], thread: StashThread | None, shortest_mm: float
) -> Problem:
    """Return the cutting stock problem of one colour; without a thread nothing is on hand.

    Args:
        lengths: The labels of its cuts by length in mm.
        thread: The thread on hand.
        shortest_mm: A leftover below this is waste.
    """
    pieces = thread.pieces_mm if thread else ()
    return Problem(
        group_kinds(pieces, [thread.is_whole(p) for p in pieces] if thread else []),
        tuple(lengths),
        tuple(len(labels) for labels in lengths.values()),
        shortest_mm,
    )


def as_plan(
    pieces: Sequence[PieceUse],
    missing: Sequence[tuple[str, str, float]] = (),
    gaps: tuple[float, ...] = (0.0, 0.0, 0.0),
    shortest_mm: float | None = None,
) -> CuttingPlan:
    """Return the plan that some pieces make, with its waste.

    Args:
        pieces: The pieces that are cut into.
        missing: (colour, label, length in mm) of what is missing.
        gaps: What each aim leaves open.
        shortest_mm: The shortest cut; that of pieces and missing when left out.
    """
    if shortest_mm is None:
        cuts = [mm for piece in pieces for _, mm in piece.cuts] + [mm for *_, mm in missing]
        shortest_mm = min(cuts, default=USEFUL_MM)
    waste = sum(piece.left_mm for piece in pieces if piece.left_mm < shortest_mm)
    useful = min(USEFUL_MM, shortest_mm)
    return CuttingPlan(
        tuple(pieces), tuple(missing), max(gaps[:2]), waste, shortest_mm, useful, tuple(gaps)
    )


def plan_cuts(
    cuts: CutList | Sequence[CutList],
    stash: Stash,
    *,
    shortest_mm: float | None = None,
    work: Work | None = None,
) -> CuttingPlan:
    """Return the best cutting plan for one or several bands.

    A colour that the stash does not have has all its cuts missing.

    Args:
        cuts: The cut list, or one for every band; labels then start with the band's number.
        stash: The threads on hand.
        shortest_mm: Leftovers below this are waste; below the shortest of the cuts when left out.
        work: What may be spent, about two seconds when left out; where it is used up, `gap` says
            what is not proven.
    """
    work = Work(GRANTED) if work is None else work
    wanted = wanted_cuts(cuts)
    if shortest_mm is None:
        shortest_mm = min((mm for lengths in wanted.values() for mm in lengths), default=USEFUL_MM)
    used: list[PieceUse] = []
    missing: list[tuple[str, str, float]] = []
    gaps = [0.0, 0.0, 0.0]
    for n, (colour, lengths) in enumerate(wanted.items()):
        thread = stash.thread(colour) if colour in stash.names else None
        problem = colour_problem(lengths, thread, shortest_mm)
        mine = work.part(1.0 / (len(wanted) - n))
        before = mine.left
        found = solve(problem, mine)
        work.spend(before - mine.left)
        gaps = [max(pair) for pair in zip(gaps, found.gaps, strict=True)]
        waiting = {length: list(labels) for length, labels in lengths.items()}
        for one in sorted(found.filled, key=lambda f: _order(problem, f)):
            taken = [
                (waiting[length].pop(0), length)
                for length, times in zip(problem.lengths, one.cuts, strict=True)
                for _ in range(times)
            ]
            left = round(problem.left(one), 3)
            used.append(PieceUse(colour, problem.kinds[one.kind].length, tuple(taken), left))
        missing += [
            (colour, label, length) for length, labels in waiting.items() for label in labels
        ]
    return as_plan(used, missing, tuple(gaps), shortest_mm)


def _order(problem: Problem, one: Filled) -> tuple[bool, float, list[int]]:
    """Leftovers first, short pieces first, the longest cuts first."""
    kind = problem.kinds[one.kind]
    return kind.whole, kind.length, [-n for n in one.cuts]


def can_cut(
    cuts: CutList | Sequence[CutList], stash: Stash, *, work: Work | None = None
) -> bool | None:
    """Return whether a plan exists: the exact answer without the plan's further aims.

    Best-fit decreasing mostly finds a plan; total and longest piece mostly refute one; what is
    left is decided by the integer program.

    Returns:
        True or False when proven; None when the work was used up first.
    """
    work = Work(GRANTED) if work is None else work
    wanted = wanted_cuts(cuts)
    open_problems: list[Problem] = []
    for colour, lengths in wanted.items():
        if colour not in stash.names:
            return False
        problem = colour_problem(lengths, stash.thread(colour), 0.0)
        pieces = stash.thread(colour).pieces_mm
        total = sum(
            length * n for length, n in zip(problem.lengths, problem.demand, strict=True)
        )  # fmt: skip
        if max(problem.lengths) > max(pieces, default=0.0) or total > sum(pieces):
            return False
        if any(best_fit(problem)[1]):
            open_problems.append(problem)
    verdict: bool | None = True
    for problem in open_problems:
        found = solve(problem, work.part(1.0 / len(open_problems)), (0,))
        if any(found.missing):
            if found.gap < 1.0 - 1e-6:  # the bound says that something must be missing
                return False
            verdict = None
    return verdict
