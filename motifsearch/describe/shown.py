"""What pages and worksheets may ask of a design that is to be shown.

The application assembles a design once (`motifsearch.runs.candidate.Candidate`); the rooms below
it, which draw and print, see it through this protocol and so never import upwards.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Protocol

from motifsearch.pattern.design import Pattern
from motifsearch.thread.cutting import CutList
from motifsearch.thread.model import ThreadModel
from motifsearch.thread.plan import CuttingPlan


class Shown(Protocol):
    """A design with all that is shown of it."""

    @property
    def rank(self) -> int:
        """Its place in the gallery, from 1."""

    @property
    def pattern(self) -> Pattern:
        """The design."""

    @property
    def scores(self) -> Mapping[str, Any]:
        """Its scores, as `motifsearch score --json` prints them."""

    @property
    def cuts(self) -> CutList:
        """What to cut, for the length that it is made for."""

    @property
    def plan(self) -> CuttingPlan | None:
        """Which piece each cut comes from; None when no stash is known."""

    @property
    def diameters_mm(self) -> Mapping[str, float]:
        """The thickness of every colour of the design."""

    @property
    def model(self) -> ThreadModel:
        """The maker's tension."""

    @property
    def minutes_per_knot(self) -> float | None:
        """The maker's own pace; None when it is not known."""

    @property
    def construction(self) -> str:
        """How the search built the grid: none, mirror, glide, half_turn, flip, mirror_flip."""

    @property
    def wishes(self) -> Mapping[str, float]:
        """A wish's name to how well it is met, 0..1."""

    @property
    def folder(self) -> str:
        """The design's folder relative to the page, such as ``candidates/001``; or empty."""

    @property
    def notes(self) -> tuple[str, ...]:
        """Further lines to be shown."""

    @property
    def target_png(self) -> bytes:
        """The wanted motif beside the face, wrong cells marked; empty without a target."""
