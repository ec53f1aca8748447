"""The record of a run: what ``run.json`` says, written and read by the same class.

The file is JSON (RFC 8259), one object.  Every field has a reader; a key that is not known is
passed over, and a value that cannot be used is left out and named, with its key, what was expected
and what stood there: the record tells about a run, it decides nothing that could not be found
again from the designs, so damage in it costs no design.  No record holds a time of day.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field, fields
from pathlib import Path
from typing import Any, Final

from motifsearch.base.errors import InputError
from motifsearch.base.text import clean_text
from motifsearch.base.tomlfile import REQUIRED, Table, read_text
from motifsearch.base.version import __version__

NAME: Final = "run.json"
KINDS: Final = ("search", "vary", "target", "letters", "gallery", "group")
PAPERS: Final = ("A4", "Letter")
#: Larger numbers are no counts of ours.
MOST: Final = 10**15
#: The most that a share is, with room for a last digit.
FULL: Final = 1.0 + 1e-6
#: Longer texts are none of ours.
LONGEST: Final = 2000
#: Values that cannot be used and are named one by one.
MOST_SAID: Final = 8


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
        kind: search, vary, target, letters, gallery or group.
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
        group: For a group: wanted, possible, bound, gap; else empty.
        runs: For a gallery made of several runs, their names.
        taste: What was learnt from picks, in words: said, marks, rounds; empty without picks, and
            then not written.
        widths: Where several numbers of strands were asked for, of each: strands, shown (designs
            in the gallery) and why there is none; empty for one, and then not written.
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
    group: Mapping[str, Any] = field(default_factory=dict)
    runs: tuple[str, ...] = ()
    taste: Mapping[str, Any] = field(default_factory=dict)
    widths: tuple[Mapping[str, Any], ...] = ()
    ranking: tuple[Line, ...] = ()

    @property
    def left_out(self) -> tuple[str, ...]:
        """What is said of the numbers of strands that were asked for and are not shown."""
        return tuple(
            f"No band of {one['strands']} strands is shown. {one['why']}"
            for one in self.widths
            if one["why"]
        )

    def line(self, folder: str) -> Line | None:
        """Return what the ranking says of the design in ``candidates/NAME``; None if nothing."""
        return next((r for r in self.ranking if r.folder.rpartition("/")[2] == folder), None)

    def to_json(self) -> str:
        """Return the text of ``run.json``: indented, a line at the end, no NaN."""
        data = asdict(self)
        for name in ("taste", "widths"):
            if not data[name]:
                del data[name]
        return json_text(data)

    @classmethod
    def from_json(cls, text: str) -> tuple[Record, tuple[InputError, ...]]:
        """Return the record that a text holds, and what of it had to be left out.

        Examples:
            >>> record, bad = Record.from_json('{"seed": 7, "scored": NaN, "title": "Lanes"}')
            >>> record.seed, record.title, record.scored
            (7, 'Lanes', 0)
            >>> print(bad[0])
            run.json: scored: expected a whole number from 0 to 1000000000000000, found nan
        """
        try:
            data = json.loads(text)
        except (ValueError, RecursionError) as wrong:
            return cls(), (InputError(f"expected JSON: {wrong}", source=NAME),)
        if not isinstance(data, dict):
            return cls(), (InputError("expected an object of JSON", data, source=NAME),)
        table, found, bad = Table(data, NAME), dict[str, Any](), list[InputError]()
        for f in fields(cls):
            if f.name in data:
                with _noted(bad):
                    found[f.name] = _READ[f.name](table, f.name, bad)
        return cls(**found), _few(bad)


def json_text(data: Any) -> str:
    """Return JSON as it is written to files: indented, a line at the end, no NaN."""
    return json.dumps(data, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def read_record(folder: Path) -> tuple[Record, tuple[InputError, ...]]:
    """Return what ``run.json`` of a run folder says, and what of it had to be left out.

    A missing or damaged file gives an empty record.
    """
    try:
        text = read_text(folder / NAME, "the record of a run")
    except InputError as bad:
        return Record(), (InputError(bad.expected, bad.found, source=NAME),)
    return Record.from_json(text)


#: What reads a field: its table, its key, and where damage inside of it is taken down.
_Reader = Callable[[Table, str, list[InputError]], Any]


@contextmanager
def _noted(bad: list[InputError]) -> Iterator[None]:
    """Take down what cannot be used, and go on."""
    try:
        yield
    except InputError as wrong:
        key = None if wrong.key is None else clean_text(wrong.key, 100)
        bad.append(InputError(wrong.expected, wrong.found, source=wrong.source, key=key))


def _few(bad: list[InputError]) -> tuple[InputError, ...]:
    """Return the first of what was left out, and how many more there are."""
    more = len(bad) - MOST_SAID
    if more <= 0:
        return tuple(bad)
    return (*bad[:MOST_SAID], InputError(f"{more} more values cannot be used", source=NAME))


def _text(table: Table, key: str, bad: list[InputError]) -> str:
    value = table.text(key, "")
    if len(value) > LONGEST:
        raise table.error(key, f"expected a text of at most {LONGEST} characters", value)
    return clean_text(value)


def _one_of(*known: str) -> _Reader:
    return lambda table, key, bad: table.text(key, choices=known)


def _whole(table: Table, key: str, bad: list[InputError]) -> int:
    return table.whole(key, 0, high=MOST)


def _number(table: Table, key: str, bad: list[InputError]) -> float:
    table.number(key, REQUIRED, low=-MOST, high=MOST)
    number: float = table.data[key]  # as it stands: a whole number stays one
    return number


def _mapping(table: Table, key: str, bad: list[InputError]) -> dict[str, Any]:
    """Return a table of numbers, flags and short texts."""
    inner, out = table.table(key), dict[str, Any]()
    for name, value in inner.data.items():
        with _noted(bad):
            if clean_text(name, 200) != name:
                raise table.error(key, "expected names of at most 200 plain characters", name)
            if isinstance(value, bool):
                out[name] = value
            else:
                read = _text if isinstance(value, str) else _number
                out[name] = read(inner, name, bad)
    return out


def _each(table: Table, key: str, bad: list[InputError], read: Callable[[Table], Any]) -> Any:
    """Return what is read of every table of a list; one that cannot be used is left out."""
    value = table.data[key]
    if not isinstance(value, list):
        raise table.error(key, "expected a list", value)
    out = []
    for n, item in enumerate(value):
        with _noted(bad):
            if not isinstance(item, dict):
                raise table.error(f"{key}[{n}]", "expected an object", item)
            out.append(read(Table(item, table.source, table.key(f"{key}[{n}]"))))
    return tuple(out)


#: What is kept of an island; its strands where there are several.
_OF_ISLAND: Final = ("strands", "rows", "scored", "kinds")


def _islands(table: Table, key: str, bad: list[InputError]) -> Any:
    return _each(
        table, key, bad,
        lambda one: {k: _whole(one, k, bad) for k in _OF_ISLAND if k in one},
    )  # fmt: skip


def _widths(table: Table, key: str, bad: list[InputError]) -> Any:
    return _each(
        table, key, bad,
        lambda one: {
            "strands": one.whole("strands", REQUIRED, high=MOST),
            "shown": _whole(one, "shown", bad),
            "why": _text(one, "why", bad),
        },
    )  # fmt: skip


def _progress(table: Table, key: str, bad: list[InputError]) -> Any:
    keys = ("generation", "best", "cells", "quality", "hypervolume")
    return _each(table, key, bad, lambda one: {k: _number(one, k, bad) for k in keys})


def _seen(table: Table, key: str, bad: list[InputError]) -> dict[str, Any]:
    """Return what is known of a whole space; nothing unless its two counts are there."""
    inner = table.table(key)
    if not inner.data:
        return {}
    out: dict[str, Any] = {
        name: inner.whole(name, REQUIRED, high=MOST) for name in ("designs", "feasible")
    }
    if "kinds" in inner:
        out["kinds"] = _whole(inner, "kinds", bad)
    if "every" in inner:
        out["every"] = inner.flag("every")
    return out


def _texts(table: Table, key: str, bad: list[InputError]) -> tuple[str, ...]:
    value = table.data[key]
    if not isinstance(value, list):
        raise table.error(key, "expected a list of texts", value)
    out = []
    for n, item in enumerate(value):
        with _noted(bad):
            name = f"{key}[{n}]"
            out.append(_text(Table({name: item}, table.source, table.prefix), name, bad))
    return tuple(out)


def _ranking(table: Table, key: str, bad: list[InputError]) -> Any:
    def line(one: Table) -> Line:
        found: dict[str, Any] = {"folder": clean_text(one.text("folder", REQUIRED)), "title": ""}
        for name, read in _LINE.items():
            if name in one:
                with _noted(bad):
                    found[name] = read(one, name, bad)
        return Line(**found)

    return _each(table, key, bad, line)


def _wishes(table: Table, key: str, bad: list[InputError]) -> dict[str, float]:
    inner, out = table.table(key), dict[str, float]()
    for name in _mapping(table, key, bad):
        with _noted(bad):
            out[name] = inner.number(name, REQUIRED, high=FULL)
    return out


def _share(table: Table, key: str, bad: list[InputError]) -> float:
    return table.number(key, REQUIRED, high=FULL)


_LINE: Final[Mapping[str, _Reader]] = {
    "title": _text,
    "canonical": _text,
    "wishes_met": _share,
    "construction": _text,
    "wishes": _wishes,
    "notes": _texts,
}
_READ: Final[Mapping[str, _Reader]] = {
    "version": _text,
    "kind": _one_of(*KINDS),
    "title": _text,
    "seed": _whole,
    "paper": _one_of(*PAPERS),
    "stopped_by": _text,
    "generations": _whole,
    "scored": _whole,
    "not_scored_twice": _whole,
    "islands": _islands,
    "variety": _mapping,
    "plan": _mapping,
    "progress": _progress,
    "whole": _seen,
    "target": _mapping,
    "group": _mapping,
    "runs": _texts,
    "taste": _mapping,
    "widths": _widths,
    "ranking": _ranking,
}
