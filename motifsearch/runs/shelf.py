"""The shelf: wanted bands, with a note and how far they are; it outlasts the run they came from.

``shelf.toml`` in the workroom, one table a band::

    [[bands]]
    key = "1f6f73aa02bc-c04020"     # of the design, the same wherever it is shown
    title = "Teal arrowheads on sand"
    pattern = "shelf/teal-arrowheads-on-sand.toml"
    run = "saturday"                # whose settings it has; may be empty
    wrist_mm = 155                  # or length_mm, where it is not the run's
    cut = "simple"                  # or "exact", where it is not the run's
    note = "for the fair"
    state = "wanted"                # "to make", "made"

    [[passed]]                      # not for me: it does not hang again
    key = "..."
    run = "saturday"

The design itself is a pattern file beside it, so that it can be scored, cut and printed by every
command.  Marks of a finished run go to its ``picks.toml`` too (`motifsearch.runs.marking`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import tomlkit

from motifsearch.base.errors import InputError
from motifsearch.base.tomlfile import Table, read_toml
from motifsearch.pattern.files import format_pattern, read_pattern
from motifsearch.runs.hanging import design_data, key_of
from motifsearch.runs.trying import opened_design
from motifsearch.runs.versions import put, read_bytes, version_of
from motifsearch.runs.workroom import Workroom
from motifsearch.thread.cutting import STYLES

NAME: Final = "shelf.toml"
FOLDER: Final = "shelf"
STATES: Final = ("wanted", "to make", "made")
MOST: Final = 1000
KEYS: Final = ("key", "title", "pattern", "run", "wrist_mm", "length_mm", "cut", "note", "state")


@dataclass(frozen=True)
class Kept:
    """A band on the shelf; see the module for what each field is."""

    key: str
    title: str
    pattern: str
    run: str = ""
    wrist_mm: float | None = None
    length_mm: float | None = None
    cut: str = ""
    note: str = ""
    state: str = "wanted"

    @property
    def ask(self) -> dict[str, Any]:
        """How the design is asked for (`motifsearch.runs.trying.tried`)."""
        return {
            "of": self.pattern, "run": self.run, "wrist_mm": self.wrist_mm,
            "length_mm": self.length_mm if self.wrist_mm is None else None,
            "style": self.cut or None,
        }  # fmt: skip


@dataclass(frozen=True)
class Shelf:
    """The shelf as it stands.

    Attributes:
        bands: The wanted ones, in the order in which they were hung there.
        passed: Keys of designs that are not for her.
        version: Of the file; empty when there is none.
    """

    bands: tuple[Kept, ...] = ()
    passed: tuple[str, ...] = ()
    version: str = ""

    def band(self, key: str) -> Kept:
        """Return the band of this key.

        Raises:
            InputError: It is not on the shelf.
        """
        for one in self.bands:
            if one.key == key:
                return one
        raise InputError("expected a band of the shelf", key)


def read_shelf(room: Workroom) -> Shelf:
    """Return the shelf of a workroom.

    Raises:
        InputError: Its file cannot be read, with key, what was expected and what stood there.
    """
    path = room.path / NAME
    raw = read_bytes(path)
    if raw is None:
        return Shelf()
    table = read_toml(path, "a shelf")
    table.only(["bands", "passed"])
    bands = []
    for one in table.tables("bands", required=False):
        one.only(KEYS)
        bands.append(
            Kept(
                key=one.text("key", ""),
                title=one.text("title", ""),
                pattern=one.text("pattern", ""),
                run=one.text("run", ""),
                wrist_mm=one.number("wrist_mm", None, low=50, high=600),
                length_mm=one.number("length_mm", None, low=35, high=2000),
                cut=one.text("cut", "", choices=("", *STYLES)),
                note=one.text("note", ""),
                state=one.text("state", "wanted", choices=STATES),
            )
        )
    passed = [one.text("key", "") for one in table.tables("passed", required=False)]
    return Shelf(tuple(bands), tuple(passed), version_of(raw))


def mark(
    room: Workroom, ask: Mapping[str, Any], as_: str, version: str | None = None
) -> tuple[str, str]:
    """Mark a design: "wanted" hangs it on the shelf, "passed" says not for me, "" takes both away.

    Args:
        room: The workroom.
        ask: The design (`motifsearch.runs.trying.opened_design`), with ``wrist_mm`` or
            ``length_mm`` where it is not its run's.
        as_: The mark.
        version: Of the shelf; None for any.

    Returns:
        The design's key and the shelf's new version.

    Raises:
        InputError: An unknown mark, or no such design.
        ChangedError: The shelf was changed meanwhile.
    """
    if as_ not in ("wanted", "passed", ""):
        raise InputError("expected wanted, passed or nothing", as_)
    pattern, run = opened_design(room, ask)
    key = key_of(pattern)
    title = pattern.title or "a band"

    def edit(raw: bytes | None) -> bytes | None:
        document, _ = _document(room, raw)
        bands, passed = document.get("bands", []), document.get("passed", [])
        hung = next((b for b in bands if b.get("key") == key), None)
        _without(document, "passed", key)
        if as_ != "wanted":
            _without(document, "bands", key)
        if as_ == "wanted" and hung is None:
            if len(bands) >= MOST:
                raise InputError(f"expected at most {MOST} bands on the shelf")
            name = f"{FOLDER}/{room.free_name(title)}.toml"
            (room.path / FOLDER).mkdir(exist_ok=True)
            n = 1
            while (room.path / name).exists():
                n += 1
                name = f"{FOLDER}/{room.free_name(title)}-{n}.toml"
            put(room.path / name, format_pattern(pattern).encode())
            data: dict[str, Any] = {"key": key, "title": title, "pattern": name, "run": run}
            for length in ("wrist_mm", "length_mm"):
                if ask.get(length) is not None:
                    data[length] = float(ask[length])
            if ask.get("style") in STYLES:
                data["cut"] = ask["style"]
            _add(document, "bands", {**data, "note": "", "state": "wanted"})
        if as_ == "passed":
            if len(passed) >= 10 * MOST:
                del document["passed"][0]
            _add(document, "passed", {"key": key, "run": run})
        text = tomlkit.dumps(document)
        return text.encode() if text.strip() else None

    words = {"wanted": f"{title} hung on the shelf", "passed": f"{title}: not for me",
             "": f"{title}: no mark"}[as_]  # fmt: skip
    return key, room.change(room.path / NAME, version, edit, words)


def note(room: Workroom, key: str, values: Mapping[str, Any], version: str | None = None) -> str:
    """Change the note, the state, the wrist or the title of a band on the shelf.

    Args:
        room: The workroom.
        key: The band's.
        values: ``note``, ``state``, ``title``, ``wrist_mm``, ``length_mm``; None takes one away.
        version: Of the shelf; None for any.

    Returns:
        The shelf's new version.

    Raises:
        InputError: No such band, or a value that cannot be used.
        ChangedError: The shelf was changed meanwhile.
    """
    for name, value in values.items():
        if name not in ("note", "state", "title", "wrist_mm", "length_mm"):
            raise InputError("unknown key of a band on the shelf", name)
        if isinstance(value, str) and len(value) > 2000:
            raise InputError("expected a shorter text", key=name)

    def edit(raw: bytes | None) -> bytes | None:
        document, table = _document(room, raw)
        for band in document.get("bands", []):
            if band.get("key") == key:
                for name, value in values.items():
                    if value is None:
                        band.pop(name, None)
                    else:
                        band[name] = value
                break
        else:
            raise table.error("bands", "expected a band of the shelf", key)
        return tomlkit.dumps(document).encode()

    said = ", ".join(str(v) for v in values.values() if v)[:60] or "changed"
    version = room.change(room.path / NAME, version, edit, f"on the shelf: {said}")
    read_shelf(room)
    return version


def shelf_data(room: Workroom) -> dict[str, Any]:
    """Return the shelf as a page shows it: every band with its design, or why there is none."""
    shelf = read_shelf(room)
    bands = []
    for one in shelf.bands:
        data: dict[str, Any] = {
            "key": one.key, "title": one.title, "of": one.pattern, "run": one.run,
            "wristMm": one.wrist_mm, "lengthMm": one.length_mm, "cut": one.cut, "note": one.note,
            "state": one.state, "design": None, "problem": "",
        }  # fmt: skip
        try:
            data["design"] = design_data(read_pattern(room.inside(one.pattern)))
        except InputError as bad:
            data["problem"] = str(bad)
        bands.append(data)
    return {"version": shelf.version, "bands": bands, "passed": list(shelf.passed)}


def _document(room: Workroom, raw: bytes | None) -> tuple[Any, Table]:
    if raw is not None:
        read_shelf(room)  # what cannot be read is not written over
    document: Any = tomlkit.parse((raw or b"").decode("utf-8-sig"))
    return document, Table(document.unwrap(), NAME)


def _without(document: Any, name: str, key: str) -> None:
    listed = document.get(name, [])
    for n in reversed(range(len(listed))):
        if listed[n].get("key") == key:
            del listed[n]
    if name in document and not len(document[name]):
        del document[name]


def _add(document: Any, name: str, data: Mapping[str, Any]) -> None:
    if name not in document:
        document[name] = tomlkit.aot()
    table = tomlkit.table()
    for key, value in data.items():
        table[key] = value
    table.add(tomlkit.nl())
    document[name].append(table)


def shelf_text(room: Workroom) -> str:
    """Return the bands on the shelf as a table of text."""
    from motifsearch.base.text import clean_text
    from motifsearch.thread.texts import table

    rows = [
        [one.key, clean_text(one.title), one.state, one.pattern, clean_text(one.note)]
        for one in read_shelf(room).bands
    ]
    return table(["key", "band", "", "pattern", "note"], rows, left=5) if rows else "no bands\n"
