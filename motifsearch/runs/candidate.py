"""One candidate of a gallery, with all that is shown of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from motifsearch.pattern.design import Pattern
from motifsearch.thread.cutting import CutList
from motifsearch.thread.plan import CuttingPlan


@dataclass(frozen=True)
class Entry:
    """A ranked candidate.

    Attributes:
        rank: From 1.
        pattern: The design.
        scores: As ``motifsearch score --json`` prints them.
        cuts: What to cut, for the length of the run.
        plan: Which piece each cut comes from; None when the run knows no stash.
        construction: How the grid was built: none, mirror, glide, half_turn, flip, mirror_flip.
        wishes: The wish's name to how well it is met, 0..1.
        folder: The candidate's folder relative to the page, such as ``candidates/001``.
        notes: Further lines to be shown.
        target_png: The wanted motif beside the face, wrong cells marked; empty without a target.
    """

    rank: int
    pattern: Pattern
    scores: Mapping[str, Any]
    cuts: CutList
    plan: CuttingPlan | None
    construction: str = "none"
    wishes: Mapping[str, float] = field(default_factory=dict)
    folder: str = ""
    notes: tuple[str, ...] = ()
    target_png: bytes = b""
