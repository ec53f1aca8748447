"""The record of a run: what ``run.json`` says, written and read by the same class.

The file is JSON (RFC 8259), one object; every key that is not known is kept out of harm's way, and
a value of the wrong kind counts as absent: the record tells about a run, it decides nothing that
could not be found again from the designs.  No record holds a time of day.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, field, fields
from pathlib import Path
from typing import Any, Final

from motifsearch.base.errors import InputError
from motifsearch.base.text import clean_text
from motifsearch.base.tomlfile import read_text
from motifsearch.base.version import __version__

NAME: Final = "run.json"
KINDS: Final = ("search", "vary", "target", "gallery")
PAPERS: Final = ("A4", "Letter")
#: Larger numbers are no counts of ours.
MOST: Final = 10**15


@dataclass(frozen=True, kw_only=True)
class Line:
    """One design of the ranking.

    Attributes:
        folder: Relative to the run folder, such as ``candidates/001``.
        title: Its title.
        canonical: The hash of its canonical form.
        wishes_met: The weighted mean of the wishes, 0..1; for a target the share of right cells.
        construction: How its grid was built.
        wishes: A wish's name to how well it is met, 0..1.
        notes: Further lines that are shown with it.
    """

    folder: str
    title: str
    canonical: str = ""
    wishes_met: float = 0.0
    construction: str = "none"
    wishes: Mapping[str, float] = field(default_factory=dict)
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Record:
    """What is known of a run beside its designs.

    Attributes:
        version: Of the program that wrote it.
        kind: search, vary, target or gallery.
        title: Of the gallery.
        seed: Of the search.
        paper: Of the worksheets.
        stopped_by: generations, seconds, rest, whole, interrupted, terminated; empty when unknown.
        generations: Generations done.
        scored: Designs scored.
        not_scored_twice: Designs that were met again and not scored again.
        islands: Per island its rows, and how many designs and kinds it saw.
        variety: How varied the gallery is: measure, smallest, mean_to_nearest.
        plan: What the exact cutting plans refused.
        progress: Per exchange: generation, best, cells, quality, hypervolume.
        whole: What is known when every design of the brief was seen: designs, kinds; else empty.
        target: For a wanted motif: wrong_cells, at_least, proven, wanted_cells; else empty.
        runs: For a gallery made of several runs, their names.
        ranking: The designs, best first.
    """

    version: str = __version__
    kind: str = "search"
    title: str = ""
    seed: int = 1
    paper: str = "A4"
    stopped_by: str = ""
    generations: int = 0
    scored: int = 0
    not_scored_twice: int = 0
    islands: tuple[Mapping[str, Any], ...] = ()
    variety: Mapping[str, Any] = field(default_factory=dict)
    plan: Mapping[str, Any] = field(default_factory=dict)
    progress: tuple[Mapping[str, float], ...] = ()
    whole: Mapping[str, Any] = field(default_factory=dict)
    target: Mapping[str, Any] = field(default_factory=dict)
    runs: tuple[str, ...] = ()
    ranking: tuple[Line, ...] = ()

    def line(self, folder: str) -> Line | None:
        """Return what the ranking says of the design in ``candidates/NAME``; None if nothing."""
        return next((r for r in self.ranking if r.folder.rpartition("/")[2] == folder), None)

    def to_json(self) -> str:
        """Return the text of ``run.json``: indented, a line at the end, no NaN."""
        return json_text(asdict(self))

    @classmethod
    def from_json(cls, text: str) -> tuple[Record, tuple[str, ...]]:
        """Return the record that a text holds, and the keys that had to be left out.

        Examples:
            >>> record, bad = Record.from_json('{"seed": 7, "scored": NaN, "title": "Lanes"}')
            >>> record.seed, record.title, record.scored, bad
            (7, 'Lanes', 0, ('scored',))
        """
        try:
            data = json.loads(text)
        except (ValueError, RecursionError):
            return cls(), (NAME,)
        if not isinstance(data, dict):
            return cls(), (NAME,)
        found: dict[str, Any] = {}
        bad = []
        for f in fields(cls):
            if f.name not in data:
                continue
            value = _READ[f.name](data[f.name])
            if value is None:
                bad.append(f.name)
            else:
                found[f.name] = value
        return cls(**found), tuple(bad)


def json_text(data: Any) -> str:
    """Return JSON as it is written to files: indented, a line at the end, no NaN."""
    return json.dumps(data, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def read_record(folder: Path) -> tuple[Record, tuple[str, ...]]:
    """Return what ``run.json`` of a run folder says, and what of it could not be read.

    A missing or damaged file gives an empty record.
    """
    try:
        text = read_text(folder / NAME, NAME)
    except InputError:
        return Record(), (NAME,)
    return Record.from_json(text)


def _text(value: object) -> str | None:
    if not isinstance(value, str) or len(value) > 2000:
        return None
    return clean_text(value)


def _one_of(known: Sequence[str]) -> Callable[[object], str | None]:
    return lambda value: value if isinstance(value, str) and value in known else None


def _whole(value: object) -> int | None:
    good = isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= MOST
    return value if good and isinstance(value, int) else None


def _number(value: object) -> float | None:
    if isinstance(value, bool) or not isinstance(value, int | float) or abs(value) > MOST:
        return None
    return float(value) if math.isfinite(value) else None


def _plain(value: object) -> Any:
    """Return numbers, flags and short texts as they are; None for the rest."""
    if isinstance(value, bool):
        return value
    whole = _whole(value)
    if whole is not None:
        return whole
    return _text(value) if isinstance(value, str) else _number(value)


def _mapping(value: object) -> dict[str, Any] | None:
    if not isinstance(value, dict) or len(value) > 100:
        return None
    out = {str(k)[:200]: _plain(v) for k, v in value.items()}
    return {k: v for k, v in out.items() if v is not None}


def _mappings(value: object) -> tuple[dict[str, Any], ...] | None:
    if not isinstance(value, list):
        return None
    out = [_mapping(v) for v in value]
    return tuple(v for v in out if v is not None)


def _progress(value: object) -> tuple[dict[str, float], ...] | None:
    found = _mappings(value)
    keys = ("generation", "best", "cells", "quality", "hypervolume")
    good = found is not None and all(
        all(_number(r.get(k)) is not None for k in keys) for r in found
    )
    return found if good else None


def _texts(value: object) -> tuple[str, ...] | None:
    if not isinstance(value, list):
        return None
    out = [_text(v) for v in value]
    return tuple(v for v in out if v is not None)


def _ranking(value: object) -> tuple[Line, ...] | None:
    if not isinstance(value, list):
        return None
    out = []
    for item in value:
        if not isinstance(item, dict):
            continue
        folder = _text(item.get("folder"))
        if not folder:
            continue
        wishes = _mapping(item.get("wishes")) or {}
        out.append(
            Line(
                folder=folder,
                title=_text(item.get("title")) or "",
                canonical=_text(item.get("canonical")) or "",
                wishes_met=_number(item.get("wishes_met")) or 0.0,
                construction=_text(item.get("construction")) or "none",
                wishes={k: float(v) for k, v in wishes.items() if _number(v) is not None},
                notes=_texts(item.get("notes")) or (),
            )
        )
    return tuple(out)


_READ: Final[Mapping[str, Callable[[object], Any]]] = {
    "version": _text,
    "kind": _one_of(KINDS),
    "title": _text,
    "seed": _whole,
    "paper": _one_of(PAPERS),
    "stopped_by": _text,
    "generations": _whole,
    "scored": _whole,
    "not_scored_twice": _whole,
    "islands": _mappings,
    "variety": _mapping,
    "plan": _mapping,
    "progress": _progress,
    "whole": _mapping,
    "target": _mapping,
    "runs": _texts,
    "ranking": _ranking,
}
