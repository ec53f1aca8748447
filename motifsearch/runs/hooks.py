"""What a caller may listen to while something is worked on: progress, stop, and a log."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from motifsearch.runs.candidate import Candidate
    from motifsearch.search.brief import Brief
    from motifsearch.search.loop import Run


@dataclass(frozen=True, kw_only=True)
class Progress:
    """Where a search stands.

    Attributes:
        generation: Generations done.
        most: Generations at most.
        best: How well the best design meets the wishes, 0..1.
        kinds: Kinds of designs found.
        scored: Designs scored.
    """

    generation: int
    most: int
    best: float
    kinds: int
    scored: int


def _nothing(_: object) -> None:
    return None


def _unseen(_: Brief, __: Run) -> None:
    return None


def _unchosen(_: Brief, __: Sequence[Candidate]) -> None:
    return None


def _never() -> str:
    return ""


@dataclass(frozen=True, kw_only=True)
class Hooks:
    """Callbacks; each is called in the process and the thread that works.

    Attributes:
        progress: Called after every exchange between islands.
        stop: Asked every few generations; a word such as "interrupted" ends the search, and the
            gallery of what was found so far is made.
        log: Called with a line for whatever takes its time.
        seen: Called after every exchange with the brief and the state of the search, to look at
            the designs found so far; nothing of it may be changed.
        chosen: Called once with the brief and the designs that were chosen, before they are drawn
            and written, which takes longer than to find them.
    """

    progress: Callable[[Progress], None] = _nothing
    stop: Callable[[], str] = _never
    log: Callable[[str], None] = _nothing
    seen: Callable[[Brief, Run], None] = _unseen
    chosen: Callable[[Brief, Sequence[Candidate]], None] = _unchosen


SILENT = Hooks()
