"""A class as a page asks for it: people and what all have in common, in a group's own file.

The file is the one that ``motifsearch group`` reads (`motifsearch.search.group`).  Every change is
an edit of it: comments, order and all other keys stay, and what comes out is read as a group again
before it is written, so that no edit leaves a file that cannot be planned.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

import tomlkit

from motifsearch.base.errors import InfeasibleError, InputError
from motifsearch.base.text import clean_text
from motifsearch.base.tomlfile import Table, read_toml
from motifsearch.pattern.effort import LEVELS
from motifsearch.runs.asking import flat, plain, sentence
from motifsearch.runs.box import read_box
from motifsearch.runs.group_offers import for_letters
from motifsearch.runs.letter_ideas import ideas
from motifsearch.runs.versions import read_bytes, version_of
from motifsearch.runs.workroom import Workroom
from motifsearch.search.diagnose import diagnose
from motifsearch.search.group import (
    ALIKE,
    MOST_BANDS,
    NAME_LENGTH,
    PERSON_KEYS,
    Group,
    parse_group,
)

#: What a class begins with: bands that first-timers can knot and that differ.
BEGINNING: Final[Mapping[str, Any]] = {
    "strands": 8,
    "wrist_mm": 150.0,
    "alike": "none",
    "limits.repeat_rows_max": 36,
    "limits.evenness_min": 0.5,
    "limits.flatness_min": 0.5,
    "limits.contrast_min": 12,
    "search.generations": 60,
}
MOST_COLOURS: Final = 3
Edit = Callable[[tomlkit.TOMLDocument], None]


def group_data(room: Workroom, name: str) -> dict[str, Any]:
    """Return a group's file as a page shows it.

    Returns:
        ``values``: the keys of its brief with dots, ``alike`` and ``designs``; ``people``: a table
        each, as it stands in the file; ``bands``: how many where no people are named; ``version``;
        ``problem``: why it cannot be planned, empty where it can; ``levels`` and ``ways``: what
        ``level`` and ``alike`` may be.

    Raises:
        InputError: There is no such file, or it is no TOML.
    """
    path, raw = _found(room, name)
    table = read_toml(path, "a group")
    data = dict(table.data)
    people = data.pop("people", [])
    bands = data.pop("bands", 0)
    data.pop("stash", None)
    problem = ""
    try:
        _parsed(raw, path)
    except InputError as bad:
        problem = _whose(bad, people)
    known = isinstance(people, list) and all(isinstance(one, dict) for one in people)
    return {
        "values": flat(data),
        "people": people if known else [],
        "bands": bands,
        "version": version_of(raw),
        "problem": problem,
        "levels": list(LEVELS),
        "ways": list(ALIKE),
    }


def names_in(text: str) -> list[str]:
    r"""Return the names of a list that was typed or pasted: one a line, or with commas in one line.

    Examples:
        >>> names_in("Mira, Jo"), names_in("Jo\n\n  L, Ada \n")
        (['Mira', 'Jo'], ['Jo', 'L, Ada'])
    """
    lines = text.strip().splitlines()
    parts = lines if len(lines) > 1 else text.replace(";", ",").split(",")
    found = [clean_text(one, NAME_LENGTH).strip() for one in parts]
    return [one for one in found if one]


def new_group(
    room: Workroom, title: str, names: str, values: Mapping[str, Any] | None = None
) -> str:
    """Write the file of a new group; return its name.

    Args:
        room: The workroom; its stash is the group's.
        title: What it is called.
        names: Of its people (`names_in`).
        values: Keys of the group, instead of those of `BEGINNING`.

    Raises:
        InputError: Nobody is named, or something of it cannot be used.
    """
    listed = _some(names)
    box = read_box(room).stash
    if box is None or not box.threads:
        raise InputError("the box is empty: put threads into it first")
    called = clean_text(title, 120).strip() or "Class"
    name = room.free_name(called, ".toml")
    given = {"colours_max": min(MOST_COLOURS, len(box.threads)), **BEGINNING, **(values or {})}

    def edit(document: tomlkit.TOMLDocument) -> None:
        document["title"] = called
        document["stash"] = room.stash.name
        _put(document, given)
        _join(document, listed)

    _change(room, name, "", edit, f"a class begun: {called}")
    return name


def save_group(room: Workroom, name: str, values: Mapping[str, Any], version: str | None) -> str:
    """Change what all bands of a group have in common; return the version of the file.

    Args:
        room: The workroom.
        name: Of the file.
        values: Keys with dots that change; None takes a key away.
        version: Of the file that was changed; None for any.

    Raises:
        InputError: The values make no group.
        ChangedError: The file was changed meanwhile.
    """
    for key in values:
        if key in ("people", "bands", "stash"):
            raise InputError("expected a key of the group", key)

    def edit(document: tomlkit.TOMLDocument) -> None:
        _put(document, values)
        if values.get("alike", "designs") != "designs":
            document.pop("designs", None)

    return _change(room, name, version, edit, f"changed for the class: {', '.join(values)}"[:120])


def add_people(room: Workroom, name: str, names: str, version: str | None) -> str:
    """Add people by their names; see `save_group`."""
    listed = _some(names)
    said = listed[0] if len(listed) == 1 else f"{len(listed)} people"
    return _change(room, name, version, lambda d: _join(d, listed), f"{said} joined the class")


def change_person(
    room: Workroom, name: str, at: int, values: Mapping[str, Any], version: str | None
) -> str:
    """Change one person of a group; see `save_group`.

    Args:
        room: The workroom.
        name: Of the file.
        at: Their place in the list, from 0.
        values: Keys of a person; None, or nothing in it, takes a key away.
        version: Of the file that was changed; None for any.
    """
    for key in values:
        if key not in PERSON_KEYS:
            raise InputError("unknown key of a person", key)

    def edit(document: tomlkit.TOMLDocument) -> None:
        person = _people(document, at)[at]
        for key, value in values.items():
            if value in (None, "", []):
                person.pop(key, None)
            else:
                person[key] = value
            if key == "wrist_mm" and value:
                person.pop("length_mm", None)

    return _change(room, name, version, edit, f"{values.get('name') or 'a person'} changed")


def drop_person(room: Workroom, name: str, at: int, version: str | None) -> str:
    """Take a person out of a group; see `save_group`."""
    path, _ = _found(room, name)
    listed = read_toml(path, "a group").data.get("people", [])
    who = listed[at].get("name") if 0 <= at < len(listed) else None

    def edit(document: tomlkit.TOMLDocument) -> None:
        people = _people(document, at)
        if len(people) == 1:
            raise InputError("a class needs somebody: add the next one first")
        del people[at]

    return _change(room, name, version, edit, f"{who or 'a person'} left the class")


def check_group(room: Workroom, name: str) -> dict[str, Any]:
    """Return what speaks against a group, as far as that is known without a search.

    Returns:
        ``reasons``: ``name`` of the person (empty for all) and ``text``; and ``people``, their
        number.

    Raises:
        InputError: There is no such file.
    """
    path, raw = _found(room, name)
    try:
        wanted = _parsed(raw, path)
    except InputError as bad:
        listed = read_toml(path, "a group").data.get("people", [])
        return {"people": 0, "reasons": [{"name": "", "text": _whose(bad, listed)}]}
    return {"people": len(wanted.people), "reasons": reasons_of(wanted)}


def reasons_of(wanted: Group) -> list[dict[str, str]]:
    """Return what speaks against a group: texts that do not fit, limits that no design keeps."""
    found: list[dict[str, str]] = []
    brief = wanted.brief
    if not any(brief.stash.thread(n).pieces_mm for n in brief.palette):
        found.append({"name": "", "text": "Nothing lies in the box: no thread has a piece."})
    if not all(one.text for one in wanted.people):
        # Whether there is thread for everyone is for the plan to say.
        free = replace(brief, limits=replace(brief.limits, on_hand=False))
        found += [{"name": "", "text": sentence(reason.text())} for reason in diagnose(free)]
    tried: dict[tuple[str, float], str] = {}
    for one in wanted.people:
        if not one.text:
            continue
        key = (one.text, one.length_mm)
        if key not in tried:
            own = replace(for_letters(brief), text=one.text, length_mm=one.length_mm,
                          wrist_mm=one.wrist_mm)  # fmt: skip
            try:
                next(ideas(own))
                tried[key] = ""
            except InputError as bad:
                tried[key] = plain(bad)
            except InfeasibleError as bad:
                tried[key] = sentence(str(bad))
        if tried[key]:
            found.append({"name": one.name, "text": tried[key]})
    return found


def _whose(bad: InputError, people: Any) -> str:
    """Return an error in words, with the name of the person whose key it is."""
    found = re.match(r"people\[(\d+)\]", bad.key or "")
    at = int(found[1]) - 1 if found else -1
    if not (isinstance(people, list) and 0 <= at < len(people)):
        return plain(bad)
    return f"{people[at].get('name', 'Somebody')}: {plain(bad)}"


def _some(names: str) -> list[str]:
    listed = names_in(names)
    if not listed:
        raise InputError("expected at least one name", key="names")
    if len(listed) > MOST_BANDS:
        raise InputError(f"expected at most {MOST_BANDS} names", len(listed), key="names")
    return listed


def _found(room: Workroom, name: str) -> tuple[Path, bytes]:
    path = room.inside(name)
    raw = read_bytes(path)
    if raw is None or not name.endswith(".toml"):
        raise InputError("expected a class of this folder", name)
    return path, raw


def _parsed(raw: bytes, path: Path) -> Group:
    try:
        data = tomllib.loads(raw.decode("utf-8-sig"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as bad:
        raise InputError(f"cannot be read: {bad}", source=path.name) from None
    return parse_group(Table(data, path.name), path.parent)


def _people(document: tomlkit.TOMLDocument, at: int) -> Any:
    people: Any = document.get("people", [])
    if not 0 <= at < len(people):
        raise InputError("expected a person of the class", at + 1)
    return people


def _put(document: tomlkit.TOMLDocument, values: Mapping[str, Any]) -> None:
    """Set keys with dots, or take them away."""
    for key, value in values.items():
        *way, last = key.split(".")
        table: Any = document
        for part in way:
            if part not in table:
                table[part] = tomlkit.table()
            table = table[part]
        if value is None:
            table.pop(last, None)
        else:
            table[last] = value


def _join(document: tomlkit.TOMLDocument, names: Iterable[str]) -> None:
    document.pop("bands", None)
    if "people" not in document:
        document["people"] = tomlkit.aot()
    people: Any = document["people"]
    for name in names:
        table = tomlkit.table()
        table["name"] = name
        table.add(tomlkit.nl())
        people.append(table)


def _change(room: Workroom, name: str, version: str | None, edit: Edit, words: str) -> str:
    if not name.endswith(".toml") or "/" in name or name in (room.stash.name, "shelf.toml"):
        raise InputError("expected a class of this folder", name)
    path = room.inside(name)

    def changed(raw: bytes | None) -> bytes:
        if raw is None and version != "":
            raise InputError("expected a class of this folder", name)
        document = tomlkit.parse((raw or b"").decode("utf-8-sig"))
        edit(document)
        after = _text(document).encode()
        _parsed(after, path)
        return after

    return room.change(path, version, changed, words)


def _text(document: tomlkit.TOMLDocument) -> str:
    """Return the text of a document, where nothing that was added stands inside a table."""
    text = tomlkit.dumps(document)
    if tomllib.loads(text) == document.unwrap():
        return text
    # A key of the top that was added after the tables: written anew, in order.
    data = document.unwrap()
    top = {k: v for k, v in data.items() if not isinstance(v, dict | list) or k == "colours"}
    tables = {k: v for k, v in data.items() if k not in top}
    return tomlkit.dumps(top | tables)
