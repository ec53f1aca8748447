"""One design: opened with the settings of its run, scored, cut, booked, drawn and printed.

Each function here is one answer to one question, the same for the command line, Python and every
page.  A design may be given as its file (then the settings of its run hold), as a pattern of no
run, or as a candidate (then its own settings hold).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from motifsearch.base.errors import InputError
from motifsearch.base.tomlfile import write_atomic
from motifsearch.pattern.design import Pattern
from motifsearch.pattern.files import read_pattern
from motifsearch.runs.candidate import Candidate, assemble
from motifsearch.runs.handing import as_planned
from motifsearch.runs.settings import Asked, Settings, apply, own_settings

if TYPE_CHECKING:
    from motifsearch.simulate.design_scores import DesignScores
    from motifsearch.thread.plan import CuttingPlan
    from motifsearch.thread.stash import Stash

#: A design, however it is given.
Design = Pattern | Candidate | str | Path


@dataclass(frozen=True, kw_only=True)
class Opened:
    """A design with what it is to be made with.

    Attributes:
        pattern: The design.
        settings: Its own settings, with what was asked for instead.
        path: Its file; None when it has none.
        said: Where the settings come from, and what was asked for instead.
    """

    pattern: Pattern
    settings: Settings
    path: Path | None = None
    said: tuple[str, ...] = ()


def opened(design: Design, asked: Asked | None = None) -> Opened:
    """Return a design with its settings.

    Args:
        design: The design.
        asked: What is to be other than in its own run.

    Raises:
        InputError: The file, its run or what was asked for cannot be used.
    """
    path = None
    if isinstance(design, Candidate):
        pattern, own = design.pattern, design.settings
        if own.source is not None and design.folder:
            path = own.source / design.folder / "pattern.toml"
    elif isinstance(design, Pattern):
        pattern, own = design, Settings()
    else:
        path = Path(design)
        pattern, own = read_pattern(path), own_settings(path)
    settings, said = apply(own, asked or Asked())
    return Opened(pattern=pattern, settings=settings, path=path, said=said)


def candidate(design: Design, asked: Asked | None = None) -> tuple[Candidate, tuple[str, ...]]:
    """Return a design as a candidate, and where its settings come from.

    Raises:
        InputError: As `opened`; a colour that is not on hand.
    """
    one = opened(design, asked)
    notes = design.notes if isinstance(design, Candidate) else ()
    made = assemble(one.pattern, one.settings, notes=notes)
    if one.path is not None and (asked is None or asked.stash is None):
        made = as_planned(one.path, made)
    if isinstance(design, Candidate):
        made = replace(
            made,
            rank=design.rank,
            folder=design.folder,
            construction=design.construction,
            wishes=design.wishes,
            wishes_met=design.wishes_met,
            target_png=design.target_png,
        )
    return made, one.said


def score(design: Design, asked: Asked | None = None) -> DesignScores:
    """Return all scores of a design, as ``motifsearch score --json`` prints them.

    Args:
        design: The design.
        asked: What is to be other than in its own run.

    Raises:
        InputError: As `candidate`.
    """
    return candidate(design, asked)[0].scores


def cut(design: Design, asked: Asked | None = None) -> Candidate:
    """Return a design with its cut list, and its cutting plan where a stash is known.

    Args:
        design: The design.
        asked: What is to be other than in its own run.

    Raises:
        InputError: As `candidate`.
    """
    return candidate(design, asked)[0]


def plan_bands(one: Candidate, bands: int, stash: Stash) -> CuttingPlan:
    """Return the cutting plan for a number of bands of one design from a stash."""
    from motifsearch.thread.plan import plan_cuts

    return plan_cuts([one.cuts] * bands, stash)


def write_new(path: Path, data: bytes | str, overwrite: bool) -> None:
    """Write a file that was asked for by name.

    Raises:
        InputError: It exists and was not to be overwritten.
        MotifError: It cannot be written.
    """
    if path.exists() and not overwrite:
        raise InputError("the file exists already; give --overwrite", source=path)
    write_atomic(path, data)
