"""A brief as resolved: every key has its value; bounds and words are in `records`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Final

from motifsearch.pattern.knots import CODE
from motifsearch.search import records
from motifsearch.search.taste import Taste
from motifsearch.target.motif import Target
from motifsearch.thread.cutting import Allowances
from motifsearch.thread.stash import Stash

#: What a maker can wish for, and how much each counts when a brief says nothing.
WISHES: Final[Mapping[str, float]] = {wish.name: wish.weight for wish in records.WISHES}


def _default(key: str) -> Any:
    return records.record(key).default


@dataclass(frozen=True, kw_only=True)
class Limits:
    """What no shown design may break; bounds and words are in `motifsearch.search.records`.

    Attributes:
        repeat_rows_max: The longest repeat, in rows.
        evenness_min: The least evenness, 0..1.
        contrast_min: The least CIEDE2000 difference of two colours that touch.
        flatness_min: The least flatness, 0..1.
        lone_max: The largest share of lone knots, 0..1.
        steps_max: The most steps in a round (`motifsearch.pattern.bandplan.round_of`); 0 for any.
        knots: The knots that may be used, such as ``("rr", "ll")``.
        symmetric: Whether the face must have a symmetry that is exact.
        border: Whether the two outermost strands tie every one of their knots forward-backward
            and so stay outside.
        on_hand: Whether the cuts must come from the pieces on hand.
    """

    repeat_rows_max: int = _default("limits.repeat_rows_max")
    evenness_min: float = _default("limits.evenness_min")
    contrast_min: float = _default("limits.contrast_min")
    flatness_min: float = _default("limits.flatness_min")
    lone_max: float = _default("limits.lone_max")
    steps_max: int = _default("limits.steps_max")
    knots: tuple[str, ...] = _default("limits.knots")
    symmetric: bool = _default("limits.symmetric")
    border: bool = _default("limits.border")
    on_hand: bool = _default("limits.on_hand")

    @property
    def codes(self) -> tuple[int, ...]:
        """The codes of the knots that may be used (`motifsearch.pattern.knots`), in order."""
        return tuple(sorted(CODE[name] for name in self.knots))


@dataclass(frozen=True, kw_only=True)
class SearchSettings:
    """How the search is run.

    Attributes:
        seed: Of the one random generator.
        generations: At most this many.
        seconds: At most this long; None for no limit.
        population: Designs per island.
        periods: The grid lengths P that are tried, in rows; one island or more for each.
        exchange_every: Generations between exchanges (and checkpoints).
        rest_after: Stop when nothing has got better for this many exchanges; 0 for never.
        warm: Start from the kinds of the library that comes with the program.
    """

    seed: int = _default("search.seed")
    generations: int = _default("search.generations")
    seconds: float | None = None
    population: int = _default("search.population")
    periods: tuple[int, ...] = ()
    exchange_every: int = _default("search.exchange_every")
    rest_after: int = _default("search.rest_after")
    warm: bool = _default("search.warm")


@dataclass(frozen=True, kw_only=True)
class Brief:
    """One brief, as resolved; every length in mm.

    Attributes:
        title: The title.
        strands: S; the smallest where several are asked for.
        length_mm: The knotted length.
        wrist_mm: The wrist that it was computed from; None when the length was given.
        ease_mm: Added to the wrist.
        fastening_mm: Taken off for what is not knotted.
        folded: Whether threads are folded, so that every colour has an even number of strands.
        first_notch: The number of the notch of strand 1.
        stash: The threads on hand.
        stash_path: Where the stash was read.
        colours: The colours that may be used; all of the stash's when empty.
        colours_min: The fewest colours in a design.
        colours_max: The most colours in a design.
        pairing: What folding and pairing aim at: total, few_lengths or fit.
        cut_style: How threads are cut: simple (one length for all), exact (each to its need), or
            auto: simply where that takes under 5 % more and the stash suffices.
        target: The wanted motif, or None.
        text: What is knotted in letters along the band; empty for a search.
        reads: For whom the text reads: wearer or onlooker.
        repeated: Whether the text stands as often as there is room.
        ink: The thread of the letters; empty for the best.
        ground: The thread behind the letters; empty for the best.
        allowances: Start and finish of every strand, and the risk.
        shares: Wanted colour shares by name; empty for even use.
        limits: Hard limits.
        wishes: Weights.
        search: Search settings.
        gallery_size: How many designs are shown.
        taste: What picks have shown (`motifsearch.search.taste.with_taste`), or None.
        taste_weight: What it counts beside the wishes.
        widths: Every S where several are asked for, ascending; empty for one.
    """

    title: str
    strands: int
    length_mm: float
    stash: Stash
    stash_path: str
    wrist_mm: float | None = None
    ease_mm: float = records.DEFAULT_EASE_MM
    fastening_mm: float = records.DEFAULT_FASTENING_MM
    folded: bool = True
    first_notch: int = 1
    colours: tuple[str, ...] = ()
    colours_min: int = 2
    colours_max: int = 4
    pairing: str = "total"
    cut_style: str = _default("cut.style")
    target: Target | None = None
    text: str = ""
    reads: str = _default("reads")
    repeated: bool = _default("repeated")
    ink: str = ""
    ground: str = ""
    allowances: Allowances = field(default_factory=Allowances)
    shares: Mapping[str, float] = field(default_factory=dict)
    limits: Limits = field(default_factory=Limits)
    wishes: Mapping[str, float] = field(default_factory=lambda: dict(WISHES))
    search: SearchSettings = field(default_factory=SearchSettings)
    gallery_size: int = _default("gallery.size")
    taste: Taste | None = field(default=None, repr=False)
    taste_weight: float = records.TASTE.weight
    widths: tuple[int, ...] = ()

    @property
    def every_width(self) -> tuple[int, ...]:
        """Every number of strands that is asked for, ascending."""
        return self.widths or (self.strands,)

    @property
    def strands_text(self) -> str:
        """The numbers of strands as they are said, such as ``10, 12 or 14``."""
        *first, last = map(str, self.every_width)
        return f"{', '.join(first)} or {last}" if first else last

    def of_width(self, strands: int) -> Brief:
        """Return what is asked of one number of strands: the brief that asks for it alone."""
        if not self.widths:
            return self
        most = min(self.colours_max, threads_of(strands, self.folded))
        return replace(self, strands=strands, widths=(), colours_max=most)

    @property
    def palette(self) -> tuple[str, ...]:
        """The colours that designs are made of, in the stash's order."""
        return tuple(n for n in self.stash.names if not self.colours or n in self.colours)


def threads_of(strands: int, folded: bool) -> int:
    """Return how many threads give so many strands: the most colours that a band can have.

    Examples:
        >>> threads_of(10, True), threads_of(9, True), threads_of(9, False)
        (5, 5, 9)
    """
    return (strands + 1) // 2 if folded else strands
