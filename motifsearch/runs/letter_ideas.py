"""Which bands a text is tried as: threads, what stands beside it, an edge, the height of letters.

Threads come in pairs of ground and ink, those that look most apart first (CIEDE2000), the darker
one as ink unless ink or ground is asked for.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from motifsearch.base.colour import colour_difference, lab
from motifsearch.base.errors import InfeasibleError, InputError, nearest
from motifsearch.search.brief import Brief
from motifsearch.target.beside import side_cells
from motifsearch.target.lettering import Lettering, TooLongError, all_settings
from motifsearch.thread.model import ThreadModel
from motifsearch.thread.stash import StashThread

#: Colours that look less apart than this (CIEDE2000) are not offered for letters, or as an edge.
READABLE, APART = 25.0, 15.0
#: Pairs of threads that are tried.
PAIRS: Final = 4
#: The fewest cells of a pattern beside the text for which it is worth a design.
SIDE_CELLS: Final = 16

Pair = tuple[StashThread, StashThread]


@dataclass(frozen=True)
class Idea:
    """One design to be tried.

    Attributes:
        words: How the text is set.
        beside: What stands on both sides of it (`motifsearch.target.beside.SIDES`).
        ground: The thread behind the letters.
        ink: The thread of the letters.
        edge: The thread of the outermost strands, where they have their own.
    """

    words: Lettering
    beside: str
    ground: StashThread
    ink: StashThread
    edge: StashThread | None = None

    @property
    def threads(self) -> tuple[StashThread, ...]:
        """Ground, ink, and the edge if there is one."""
        return (self.ground, self.ink, *([self.edge] if self.edge else []))

    @property
    def title(self) -> str:
        """What the design is called."""
        more = f"{self.ink.name} on {self.ground.name}"
        if self.beside != "plain":
            more += f", {self.beside}"
        if self.edge is not None:
            more += f", edge of {self.edge.name}"
        return f"{self.words.text} ({more}, {self.words.height} high)"


def ideas(brief: Brief) -> Iterator[Idea]:
    """Yield the designs to be tried, the plainest first, each once.

    Raises:
        InputError: A thread that is not on hand.
        InfeasibleError: The text does not fit, or no two threads can be told apart.
    """
    seen = set()
    for idea in _all(brief):
        key = (idea.beside, idea.words.height, tuple(t.name for t in idea.threads))
        if key not in seen:
            seen.add(key)
            yield idea


def _all(brief: Brief) -> Iterator[Idea]:
    pairs = pairs_of(brief)
    swaps = not (brief.ink or brief.ground)
    settings: dict[int, list[Lettering]] = {}

    def one(n: int, beside: str, *, smaller: int = 0, swapped: bool = False) -> Iterator[Idea]:
        pair = pairs[n % len(pairs)]
        rows = _rows(brief, pair)
        if rows not in settings:
            settings[rows] = _set(brief, rows)
        words = settings[rows][min(smaller, len(settings[rows]) - 1)]
        ground, ink = pair[::-1] if swapped else pair
        if beside == "plain" or len(side_cells(words, beside)) >= SIDE_CELLS:
            yield Idea(words, beside, ground, ink)

    def edged(n: int, beside: str, smaller: int = 0) -> Iterator[Idea]:
        for idea in one(n, beside, smaller=smaller):
            edge = _edge(brief, idea)
            if edge is not None and _room_for_edge(brief, idea):
                yield replace(idea, edge=edge)

    yield from one(0, "plain")
    yield from one(0, "chevrons")
    tall = list(edged(0, "plain"))
    yield from tall or edged(0, "plain", smaller=1)
    if swaps:
        yield from one(0, "plain", swapped=True)
    yield from one(1, "lozenges")
    yield from one(2, "zigzag")
    yield from edged(0, "chevrons", smaller=1)
    for smaller in (0, 1, 2):
        for n in range(len(pairs)):
            for beside in ("plain", "lozenges", "zigzag", "chevrons"):
                yield from one(n, beside, smaller=smaller)
                yield from edged(n, beside, smaller=smaller)
                if swaps:
                    yield from one(n, beside, smaller=smaller, swapped=True)


def _set(brief: Brief, rows: int) -> list[Lettering]:
    try:
        return list(all_settings(brief.text, brief.strands, rows, brief.repeated))
    except TooLongError as long:
        needed = float(-(-brief.length_mm * long.needed // long.rows))
        wrist = ""
        if brief.wrist_mm is not None:
            wrist = f" (a wrist of {brief.wrist_mm + needed - brief.length_mm:.0f} mm)"
        near = f', or the text "{long.near}"' if long.near else ""
        raise InfeasibleError(
            f'"{long.text}" is too long: it needs {needed:.0f} mm, and {brief.length_mm:g} mm are '
            f"knotted; the nearest that works: a knotted length of {needed:.0f} mm{wrist}{near}"
        ) from None


def _rows(brief: Brief, pair: Pair) -> int:
    """Return the rows of the band, half of its strands of either thread."""
    thick = np.array([pair[n % 2].diameter_mm for n in range(brief.strands)])
    model: ThreadModel = brief.stash.model
    return model.rows_for(brief.length_mm, thick)


def pairs_of(brief: Brief) -> list[Pair]:
    """Return pairs of threads (ground, ink), the easiest to read first.

    Raises:
        InputError: A thread that is not on hand.
        InfeasibleError: No two threads can be told apart.
    """
    threads = [t for t in brief.stash.threads if t.name in brief.palette]
    names = [t.name for t in threads]
    asked = (brief.ink, brief.ground)
    for key, name in zip(("ink", "ground"), asked, strict=True):
        if name and name not in names:
            raise InputError(f"expected a thread of the stash{nearest(name, names)}", name, key=key)
    if brief.ink and brief.ink == brief.ground:
        raise InputError("expected two different threads for ink and ground", brief.ink, key="ink")
    if any(t.pieces_mm for t in threads):
        threads = [t for t in threads if t.pieces_mm or t.name in asked]
    found = []
    for ground in threads:
        for ink in threads:
            fits = brief.ground in ("", ground.name) and brief.ink in ("", ink.name)
            darker = any(asked) or lab(ink.colour)[0] < lab(ground.colour)[0]
            if ground.name != ink.name and fits and darker:
                found.append((colour_difference(ground.colour, ink.colour), ground, ink))
    found.sort(key=lambda item: -item[0])
    good = [item for item in found if item[0] >= READABLE] or found[:1]
    if not good:
        raise InfeasibleError(
            "letters need two threads of different colours; "
            f"on hand: {', '.join(t.name for t in threads) or 'nothing'}"
        )
    return [(ground, ink) for _, ground, ink in good[:PAIRS]]


def _room_for_edge(brief: Brief, idea: Idea) -> bool:
    """Whether letters and an edge of folded threads go together.

    Where half of the strands inside the edge is an odd number, two of the ground stand together
    there, and the knots between them cannot show ink (`motifsearch.target.alternate`).
    """
    folded = brief.folded and brief.strands % 2 == 0
    return not folded or brief.strands % 4 == 2 or (idea.words.foot > 1 and idea.beside == "plain")


def _edge(brief: Brief, idea: Idea) -> StashThread | None:
    """Return the thread of an edge: the one that is easiest to tell from ground and ink."""
    if brief.colours_max < 3:
        return None
    near = (idea.ground, idea.ink)
    others = [t for t in brief.stash.threads if t.name in brief.palette and t not in near]

    def apart(t: StashThread) -> float:
        return min(colour_difference(t.colour, other.colour) for other in near)

    best = max(others, key=apart, default=None)
    return best if best is not None and apart(best) >= APART else None
