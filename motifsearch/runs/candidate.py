"""A candidate: one design with all that is known of it, assembled in one place.

Scores, cut list and cutting plan follow from the design and its settings
(`motifsearch.runs.settings`) and from nothing else, so a design says the same wherever it is shown,
cut, printed or asked for.
"""

from __future__ import annotations

import base64
import html
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from motifsearch.base.text import clean_text
from motifsearch.describe import words
from motifsearch.pattern.design import Pattern
from motifsearch.runs.settings import Settings
from motifsearch.simulate.design_scores import DesignScores
from motifsearch.simulate.scores import score_pattern
from motifsearch.thread.cutting import SIMPLE_MOST, CutList, cut_list
from motifsearch.thread.model import DEFAULT_DIAMETER_MM, ThreadModel
from motifsearch.thread.plan import CuttingPlan, can_cut, plan_cuts
from motifsearch.thread.stash import Stash, StashThread, strand_diameters_mm

#: Rows of the picture that a candidate shows of itself in a notebook, at most.
SHOWN_ROWS: Final = 60


@dataclass(frozen=True, kw_only=True)
class Candidate:
    """A design with its settings and all that follows from them.

    Attributes:
        pattern: The design.
        settings: What it is made with.
        scores: As ``motifsearch score --json`` prints them.
        cuts: What to cut.
        plan: Which piece each cut comes from; None when nothing on hand is known.
        rank: Its number in its gallery, from 1.
        folder: Its folder relative to the run, such as ``candidates/001``; empty for none.
        construction: How the search built the grid: none, mirror, glide, half_turn, flip,
            mirror_flip.
        wishes: A wish's name to how well it is met, 0..1.
        wishes_met: The weighted mean of the wishes; for a target the share of right cells.
        notes: Further lines to be shown.
        target_png: The wanted motif beside the face, wrong cells marked; empty without a target.
    """

    pattern: Pattern
    settings: Settings
    scores: DesignScores
    cuts: CutList
    plan: CuttingPlan | None
    rank: int = 1
    folder: str = ""
    construction: str = "none"
    wishes: Mapping[str, float] = field(default_factory=dict)
    wishes_met: float = 0.0
    notes: tuple[str, ...] = ()
    target_png: bytes = b""

    @property
    def title(self) -> str:
        """The design's title."""
        return self.pattern.title

    @property
    def words(self) -> str:
        """What the design looks like, in plain words."""
        return words.alt_text(self.pattern, self.scores)

    @property
    def model(self) -> ThreadModel:
        """The maker's tension: the stash's, or the stated defaults."""
        return ThreadModel() if self.settings.stash is None else self.settings.stash.model

    @property
    def minutes_per_knot(self) -> float | None:
        """The maker's own pace, from the stash's calibration; None when it is not known."""
        return None if self.settings.stash is None else self.settings.stash.minutes_per_knot

    @property
    def diameters_mm(self) -> dict[str, float]:
        """The thickness of every colour of the design, as its cuts are reckoned with."""
        stash = self.settings.stash
        return {
            name: DEFAULT_DIAMETER_MM if stash is None else stash.thread(name).diameter_mm
            for name in self.pattern.palette
        }

    def png(self, rows: int | None = None, *, cell_px: int = 20, back: bool = False) -> bytes:
        """Return the knotted band as PNG.

        Args:
            rows: Rows drawn; the whole band, at most `SHOWN_ROWS`, when left out.
            cell_px: The size of a knot in pixels.
            back: The back of the band.
        """
        from motifsearch.draw.cloth import render_band
        from motifsearch.draw.png import png_bytes

        height = min(self.cuts.rows, SHOWN_ROWS) if rows is None else rows
        return png_bytes(render_band(self.pattern, height, cell_px=cell_px, back=back, ends=True))

    def _repr_png_(self) -> bytes:
        """Show the band in a notebook."""
        return self.png()

    def _repr_html_(self) -> str:
        """Show the band with its title, its facts and its words in a notebook."""
        picture = base64.b64encode(self.png(cell_px=14)).decode("ascii")
        facts = (
            f"{self.pattern.strands} strands, {self.cuts.length_mm:g} mm, "
            f"thread {self.cuts.total_mm / 1000:.1f} m in all, "
            f"evenness {self.scores.thread.evenness:.0%}"
        )
        return (
            f"<figure><figcaption><b>{html.escape(clean_text(self.title) or 'Untitled')}</b><br>"
            f"{html.escape(facts)}</figcaption>"
            f'<img alt="{html.escape(clean_text(self.words))}" '
            f'src="data:image/png;base64,{picture}"></figure>'
        )


def with_unknown(stash: Stash, pattern: Pattern) -> Stash:
    """Return the stash with the design's colours that it lacks, as threads to be bought.

    They are taken to be as thick as most thread, and nothing of them is on hand.
    """
    more = tuple(
        StashThread(name, pattern.colours[name], DEFAULT_DIAMETER_MM, None, ())
        for name in pattern.palette
        if name not in stash.names
    )
    return replace(stash, threads=stash.threads + more) if more else stash


def listed(pattern: Pattern, settings: Settings, *, simple: bool) -> CutList:
    """Return what to cut for a design, all threads alike or each to its need.

    Raises:
        InputError: A colour is not on hand, or the pairing lacks its stash.
    """
    stash = settings.stash
    return cut_list(
        pattern,
        settings.length_mm,
        model=None if stash is None else stash.model,
        diameters_mm=None if stash is None else strand_diameters_mm(pattern, stash),
        allowances=settings.allowances,
        folded=settings.folded,
        goal=settings.pairing,
        stash=stash,
        simple=simple,
    )


@dataclass(frozen=True, kw_only=True)
class Ways:
    """The two ways to cut for a band, side by side.

    Attributes:
        simple: All threads of one length.
        exact: Each thread to its need.
        simple_fits: Whether the pieces on hand are enough for the simple way; None where nothing
            on hand is known.
    """

    simple: CutList
    exact: CutList
    simple_fits: bool | None

    @property
    def more_mm(self) -> float:
        """What the simple way takes more, in all."""
        return self.simple.total_mm - self.exact.total_mm


def ways_to_cut(one: Candidate) -> Ways:
    """Return both ways to cut for a candidate, whichever is its own.

    Raises:
        InputError: A colour is not on hand.
    """
    simple, exact = (listed(one.pattern, one.settings, simple=way) for way in (True, False))
    stash = one.settings.stash
    known = stash is not None and any(thread.pieces_mm for thread in stash.threads)
    return Ways(
        simple=simple,
        exact=exact,
        simple_fits=can_cut(simple, stash) if known and stash is not None else None,
    )


def assemble(
    pattern: Pattern,
    settings: Settings,
    *,
    rank: int = 1,
    folder: str = "",
    construction: str = "none",
    wishes: Mapping[str, float] | None = None,
    wishes_met: float = 0.0,
    notes: tuple[str, ...] = (),
    target_png: bytes = b"",
    known: tuple[CutList, CuttingPlan] | None = None,
) -> Candidate:
    """Return a design as a candidate: its scores, what to cut, and from which piece.

    Args:
        pattern: The design.
        settings: What it is made with.
        rank: Its number in its gallery.
        folder: Its folder relative to the run.
        construction: How its grid was built.
        wishes: How well every wish is met.
        wishes_met: The weighted mean of the wishes.
        notes: Further lines.
        target_png: The wanted motif beside the face.
        known: A cut list and its plan from the same stash, to be taken where the list is the same.

    Raises:
        InputError: A colour is not on hand, or the pairing lacks its stash.
    """
    stash = settings.stash
    model = by_colour = None
    if stash is not None:
        model = stash.model
        by_colour = np.array([stash.thread(name).diameter_mm for name in pattern.palette])
    on_hand = stash is not None and any(thread.pieces_mm for thread in stash.threads)
    cuts = listed(pattern, settings, simple=settings.style == "simple")
    if settings.style == "auto" and settings.pairing == "total":
        simple = listed(pattern, settings, simple=True)
        cheap = simple.total_mm < SIMPLE_MOST * cuts.total_mm
        if cheap and (stash is None or not on_hand or can_cut(simple, stash)):
            cuts = simple
    plan = None
    if stash is not None and on_hand:
        same = known is not None and cuts == known[0]
        plan = known[1] if known is not None and same else plan_cuts(cuts, stash)
    return Candidate(
        pattern=pattern,
        settings=settings,
        scores=score_pattern(pattern, settings.length_mm, model, by_colour),
        cuts=cuts,
        plan=plan,
        rank=rank,
        folder=folder,
        construction=construction,
        wishes=dict(wishes or {}),
        wishes_met=wishes_met,
        notes=notes,
        target_png=target_png,
    )
