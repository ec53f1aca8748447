"""One truth: what every design of a run is made with, wherever it is shown, cut or printed.

A run folder knows its settings: the stash (with thickness and calibration), the knotted length,
folding, pairing, allowances, risk, first notch, units and paper.  They hold for each of its designs
in every command and on every page, unless something else is asked for; what was asked for instead
is said.  A design that belongs to no run has the stated defaults.

Where a design lies in ``RUN/candidates/NNN/``, its settings are those of ``RUN/brief.toml``; in a
gallery made of several runs, ``NNN/from.toml`` names the run's own brief and stash that were kept.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from pathlib import Path
from typing import Final

from motifsearch.base.errors import InputError
from motifsearch.base.tomlfile import read_toml
from motifsearch.base.units import LONGEST_MM, SHORTEST_MM, length_expected
from motifsearch.pattern.design import Pattern
from motifsearch.runs.record import PAPERS, read_record
from motifsearch.search.brief import Brief, read_brief
from motifsearch.thread.cutting import GOALS, STYLES, Allowances
from motifsearch.thread.stash import SHOW, Stash, read_stash

DEFAULT_LENGTH_MM: Final = 150.0
#: In a candidate's folder of a merged gallery: which kept run it came from.
FROM: Final = "from.toml"


@dataclass(frozen=True, kw_only=True)
class Settings:
    """What a design is made with.

    Attributes:
        stash: The threads on hand, their thickness and the maker's tension; None when no stash is
            known (then the stated defaults of the thread model hold, and there is no plan).
        length_mm: The knotted length.
        wrist_mm: The wrist that the length was reckoned for, where one was given.
        folded: Whether threads are folded in two.
        pairing: What folding and pairing aim at: total, few_lengths or fit.
        style: How threads are cut: auto, simple or exact.
        allowances: Start and finish of every strand in mm, and the chance that any runs out.
        first_notch: The number of the notch of strand 1.
        show: "metric" or "imperial".
        paper: "A4" or "Letter".
        title: Of the run; empty for a design of its own.
        source: The run folder that they come from; None for the stated defaults.
        brief: The brief of the run; None for a design of no run.
    """

    stash: Stash | None = None
    length_mm: float = DEFAULT_LENGTH_MM
    wrist_mm: float | None = None
    folded: bool = True
    pairing: str = "total"
    style: str = "auto"
    allowances: Allowances = field(default_factory=Allowances)
    first_notch: int = 1
    show: str = "metric"
    paper: str = "A4"
    title: str = ""
    source: Path | None = None
    brief: Brief | None = field(default=None, repr=False, compare=False)


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What was asked for instead of a design's own settings; None where nothing was.

    Attributes:
        stash: The stash, or the file that it stands in.
        length_mm: Knotted length.
        folded: Whether threads are folded.
        pairing: What folding and pairing aim at.
        style: "simple" for one length for all, "exact" for each to its need, or "auto".
        risk: The chance that any strand runs out.
        start_mm: Per strand, above the first row.
        finish_mm: Per strand, below the last row.
        first_notch: The number of the notch of strand 1.
        show: "metric" or "imperial".
        paper: "A4" or "Letter".
    """

    stash: Stash | Path | str | None = None
    length_mm: float | None = None
    folded: bool | None = None
    pairing: str | None = None
    style: str | None = None
    risk: float | None = None
    start_mm: float | None = None
    finish_mm: float | None = None
    first_notch: int | None = None
    show: str | None = None
    paper: str | None = None


#: What each setting is called when it is said that something else was asked for.
SAID: Final[Mapping[str, str]] = {
    "stash": "threads",
    "length_mm": "length",
    "folded": "folding",
    "pairing": "pairing",
    "style": "cutting",
    "risk": "risk",
    "start_mm": "start allowance",
    "finish_mm": "finish allowance",
    "first_notch": "first notch",
    "show": "units",
    "paper": "paper",
}
#: How the line begins that says what was asked for instead.
INSTEAD: Final = "asked for instead: "
#: The option of each, for messages.
OPTIONS: Final[Mapping[str, str]] = {
    "stash": "--stash",
    "length_mm": "--length",
    "folded": "--folded",
    "pairing": "--pairing",
    "style": "--cut",
    "risk": "--risk",
    "start_mm": "--start-allowance-mm",
    "finish_mm": "--finish-allowance-mm",
    "first_notch": "--first-notch",
    "show": "--units",
    "paper": "--paper",
}


def settings_of(brief: Brief, *, paper: str = "A4", source: Path | None = None) -> Settings:
    """Return the settings that a brief gives to its designs."""
    return Settings(
        stash=brief.stash,
        length_mm=brief.length_mm,
        wrist_mm=brief.wrist_mm,
        folded=brief.folded,
        pairing=brief.pairing,
        style=brief.cut_style,
        allowances=brief.allowances,
        first_notch=brief.first_notch,
        show=brief.stash.show,
        paper=paper,
        title=brief.title,
        source=source,
        brief=brief,
    )


def run_of(pattern: Path) -> Path | None:
    """Return the folder that holds the settings of a pattern file; None where it is in no run.

    Raises:
        InputError: The design says that it came from a run that is not kept.
    """
    place = pattern.resolve().parent
    run = place.parent.parent
    if place.parent.name != "candidates" or not run.is_dir():
        return None
    if (place / FROM).is_file():
        table = read_toml(place / FROM, "the name of a run")
        name = str(table.text("run", ""))
        kept = run / name
        try:
            good = bool(name) and kept.resolve().is_relative_to(run)
            good = good and (kept / "brief.toml").is_file()
        except (OSError, ValueError):  # a name that no system takes
            good = False
        if not good:
            raise table.error("run", "expected a folder of this gallery with a brief.toml", name)
        return kept
    return run if (run / "brief.toml").is_file() else None


def own_settings(pattern: Path) -> Settings:
    """Return the settings of the run that a pattern file lies in, or the stated defaults.

    Raises:
        InputError: The run's brief or stash is damaged.
    """
    run = run_of(pattern)
    if run is None:
        return Settings()
    paper = read_record(run)[0].paper
    return settings_of(read_brief(run / "brief.toml"), paper=paper, source=run)


def apply(own: Settings, asked: Asked) -> tuple[Settings, tuple[str, ...]]:
    """Return settings with what was asked for instead, and one line that says what it was.

    Args:
        own: The design's own settings.
        asked: What was asked for.

    Returns:
        The settings, and lines to be said: which settings came from where.

    Raises:
        InputError: Something that was asked for cannot be used.
    """
    stash = asked.stash
    if isinstance(stash, Path | str):
        stash = read_stash(stash)
    limits = own.allowances
    made = replace(
        own,
        stash=own.stash if stash is None else stash,
        length_mm=own.length_mm if asked.length_mm is None else asked.length_mm,
        wrist_mm=own.wrist_mm if asked.length_mm in (None, own.length_mm) else None,
        folded=own.folded if asked.folded is None else asked.folded,
        pairing=own.pairing if asked.pairing is None else asked.pairing,
        style=own.style if asked.style is None else asked.style,
        allowances=Allowances(
            limits.start_mm if asked.start_mm is None else asked.start_mm,
            limits.finish_mm if asked.finish_mm is None else asked.finish_mm,
            limits.risk if asked.risk is None else asked.risk,
        ),
        first_notch=own.first_notch if asked.first_notch is None else asked.first_notch,
        show=asked.show or (own.show if stash is None else stash.show),
        paper=asked.paper or own.paper,
    )
    _check(made)
    return made, _lines(own, made, asked)


def _check(made: Settings) -> None:
    """Refuse settings that no band can have, by the name of the option that gave them."""

    def refuse(expected: str, found: object, key: str) -> None:
        raise InputError(expected, found, source=OPTIONS[key])

    if not SHORTEST_MM <= made.length_mm <= LONGEST_MM:
        refuse(length_expected(made.length_mm), made.length_mm, "length_mm")
    for key, value in (
        ("start_mm", made.allowances.start_mm),
        ("finish_mm", made.allowances.finish_mm),
    ):
        if not 0 <= value <= LONGEST_MM:
            refuse(f"expected an allowance from 0 to {LONGEST_MM:g} mm", value, key)
    if not 1e-6 <= made.allowances.risk <= 0.5:
        refuse("expected a chance from 1e-06 to 0.5", made.allowances.risk, "risk")
    if made.pairing not in GOALS:
        refuse(f"expected one of {', '.join(GOALS)}", made.pairing, "pairing")
    if made.style not in STYLES:
        refuse(f"expected one of {', '.join(STYLES)}", made.style, "style")
    if made.pairing == "fit" and made.stash is None:
        raise InputError("fit needs the pieces on hand: give --stash", source="--pairing")
    if isinstance(made.first_notch, bool) or not 1 <= made.first_notch <= 99:
        refuse("expected a first notch from 1 to 99", made.first_notch, "first_notch")
    if made.show not in SHOW:
        refuse(f"expected one of {', '.join(SHOW)}", made.show, "show")
    if made.paper not in PAPERS:
        refuse(f"expected one of {', '.join(PAPERS)}", made.paper, "paper")


def _lines(own: Settings, made: Settings, asked: Asked) -> tuple[str, ...]:
    """Say where settings come from, and what was asked for instead."""
    given = [f.name for f in fields(Asked) if getattr(asked, f.name) is not None]
    if own.source is None:
        return ()
    head = f"settings of {own.source} (length {own.length_mm:g} mm)"
    changed = [name for name in given if _value(own, name) != _value(made, name)]
    if not changed:
        return (head,)
    return (head, INSTEAD + ", ".join(_told(made, name) for name in changed))


def default_length(made: Settings, asked: Asked | None) -> tuple[str, ...]:
    """Say that nobody gave the length, where thread is cut for it."""
    if made.source is not None or (asked is not None and asked.length_mm is not None):
        return ()
    return (f"length {made.length_mm:g} mm (none was given)",)


def _value(settings: Settings, name: str) -> object:
    if name == "stash":
        return settings.stash and (settings.stash.threads, settings.stash.model)
    holds = settings.allowances if name in ("risk", "start_mm", "finish_mm") else settings
    return getattr(holds, name)


def _told(made: Settings, name: str) -> str:
    value = _value(made, name)
    if name == "stash":
        return f"threads of {made.stash.source or 'a stash'}" if made.stash else "no threads"
    if name == "folded":
        return "threads folded" if value else "threads single"
    unit = " mm" if name.endswith("_mm") else ""
    return f"{SAID[name]} {value:g}{unit}" if isinstance(value, float) else f"{SAID[name]} {value}"


def lacking(pattern: Pattern, stash: Stash) -> tuple[str, ...]:
    """Return the colours of a design that a stash does not have."""
    return tuple(name for name in pattern.palette if name not in stash.names)


__all__ = [
    "DEFAULT_LENGTH_MM", "FROM", "INSTEAD", "OPTIONS", "PAPERS", "Asked",
    "Settings", "apply", "default_length", "lacking", "own_settings", "run_of", "settings_of",
]  # fmt: skip
