"""The cutting plan: which cut comes from which piece on hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from motifsearch.thread.cutting import CutList
from motifsearch.thread.stash import Stash

#: A leftover shorter than this counts as waste (common practice, no source).
USEFUL_MM = 300.0


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
        gap: How far the plan may be from the best, as a fraction; 0 when proven best.
        waste_mm: Leftovers too short to be useful, together.
        useful_mm: What counts as useful.
    """

    pieces: tuple[PieceUse, ...]
    missing: tuple[tuple[str, str, float], ...] = ()
    gap: float = 0.0
    waste_mm: float = 0.0
    useful_mm: float = USEFUL_MM

    @property
    def feasible(self) -> bool:
        """Whether every cut has its piece."""
        return not self.missing


def plan_cuts(
    cuts: CutList | Sequence[CutList],
    stash: Stash,
    *,
    useful_mm: float = USEFUL_MM,
    max_seconds: float = 2.0,
) -> CuttingPlan:
    """Return the cutting plan for one or several bands, first-fit decreasing.

    Args:
        cuts: The cut list, or one for every band; labels then start with the band's number.
        stash: The threads on hand.
        useful_mm: Leftovers below this are waste.
        max_seconds: Bound on the time of the exact method.
    """
    lists = [cuts] if isinstance(cuts, CutList) else list(cuts)
    wanted: dict[str, list[tuple[float, str]]] = {}
    for n, one in enumerate(lists):
        for cut in one.cuts:
            label = cut.label if len(lists) == 1 else f"{n + 1}{cut.label}"
            wanted.setdefault(cut.colour, []).append((cut.length_mm, label))
    used: list[PieceUse] = []
    missing: list[tuple[str, str, float]] = []
    waste = 0.0
    for colour, items in wanted.items():
        pieces = sorted(stash.thread(colour).pieces_mm) if colour in stash.names else []
        left = list(pieces)
        taken: list[list[tuple[str, float]]] = [[] for _ in pieces]
        for length, label in sorted(items, key=lambda item: -item[0]):
            fits = [b for b in range(len(left)) if left[b] >= length]
            if not fits:
                missing.append((colour, label, length))
                continue
            b = min(fits, key=lambda b: (not taken[b], left[b]))
            left[b] = round(left[b] - length, 3)
            taken[b].append((label, length))
        for b, labels in enumerate(taken):
            if labels:
                used.append(PieceUse(colour, pieces[b], tuple(labels), left[b]))
                waste += left[b] if left[b] < useful_mm else 0.0
    return CuttingPlan(tuple(used), tuple(missing), 1.0, waste, useful_mm)
