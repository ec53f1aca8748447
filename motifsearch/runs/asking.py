"""Briefs as a page asks for them: three ways to begin, every key from its record, reasons at once.

A brief on a page is its keys with dots (``limits.evenness_min``) and their values: what the options
of the command line say too.  It is read by the one reader of briefs, and what is impossible comes
from the engine's own diagnosis.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any, Final

import tomli_w

from motifsearch.base.errors import InfeasibleError, InputError
from motifsearch.base.tomlfile import Table, read_toml
from motifsearch.runs.example import demo_folder
from motifsearch.runs.inputs import changed_brief
from motifsearch.runs.versions import read_bytes, version_of
from motifsearch.runs.workroom import Workroom
from motifsearch.search import records
from motifsearch.search.brief import Brief, parse_brief

#: The three ways in, and the demo briefs that say them.
STARTS: Final = ("only-my-threads", "equal-use", "browse-many")
#: Wrists of people, in mm: common sizes, rounded (common practice, no source).
WRISTS: Final = (
    ("small child", 125.0),
    ("child", 140.0),
    ("woman", 155.0),
    ("woman, larger", 165.0),
    ("man", 175.0),
    ("man, larger", 190.0),
)
#: How a name in a band begins; the threads are chosen, and the wearer reads it.
NAMING: Final[Mapping[str, Any]] = {
    "strands": 16, "wrist_mm": 165.0, "text": "", "gallery.size": 4,
}  # fmt: skip


def flat(data: Mapping[str, Any]) -> dict[str, Any]:
    """Return the keys of a brief with dots.

    Examples:
        >>> flat({"strands": 8, "limits": {"border": True}})
        {'strands': 8, 'limits.border': True}
    """
    out: dict[str, Any] = {}
    for key, value in data.items():
        if isinstance(value, dict) and key != "shares":
            out.update({f"{key}.{k}": v for k, v in value.items()})
        else:
            out[key] = value
    return out


def nested(values: Mapping[str, Any]) -> dict[str, Any]:
    """Return a brief's tables from keys with dots; None leaves a key out.

    Examples:
        >>> nested({"strands": 8, "limits.border": True, "title": None})
        {'strands': 8, 'limits': {'border': True}}
    """
    out: dict[str, Any] = {}
    for key, value in values.items():
        if value is None:
            continue
        table, dot, last = key.partition(".")
        if dot:
            out.setdefault(table, {})[last] = value
        else:
            out[key] = value
    return out


def starts() -> dict[str, dict[str, Any]]:
    """Return the three ways to begin: name to the keys of its brief, without its stash."""
    out = {}
    for name in STARTS:
        keys = flat(read_toml(demo_folder() / f"{name}.toml", "a brief").data)
        keys.pop("stash", None)
        out[name] = keys
    return out


def form() -> dict[str, Any]:
    """Return what a brief can ask for, as records: limits, wishes, and the rest by key."""
    return {
        "keys": {key: _record(r) for key, r in records.RECORDS.items()},
        "limits": [r.key for r in records.LIMITS],
        "wishes": [asdict(w) for w in records.WISHES if w.name != "likeness"],
        "wrists": [{"name": name, "mm": mm} for name, mm in WRISTS],
        "starts": starts(),
        "naming": dict(NAMING),
    }


def _record(r: records.Record) -> dict[str, Any]:
    data = asdict(r)
    data["default"] = list(r.default) if isinstance(r.default, tuple) else r.default
    return data


def brief_of(room: Workroom, values: Mapping[str, Any]) -> Brief:
    """Return the brief that values ask for, with the threads of the workroom.

    Raises:
        InputError: With key, what was expected and what stood there.
    """
    data = nested({**values, "stash": room.stash.name})
    return parse_brief(Table(data, "wishes"), room.path)


def check(room: Workroom, values: Mapping[str, Any]) -> dict[str, Any]:
    """Return whether values make a brief, and why no design could keep it.

    Returns:
        ``error`` (text, key) where a value cannot be used; else ``reasons`` (text, keys, nearest)
        and ``length_mm``.
    """
    from motifsearch.runs.briefing import diagnose

    try:
        brief = brief_of(room, values)
        reasons = diagnose(brief)
    except InputError as bad:
        return {"error": {"text": plain(bad), "key": bad.key or ""}}
    except InfeasibleError as bad:  # a text that does not fit
        words = sentence(str(bad))
        none = {"text": words, "keys": ["text"], "nearest": {}, "verified": True}
        return {"length_mm": brief.length_mm, "reasons": [none]}
    return {
        "length_mm": brief.length_mm,
        "reasons": [
            {
                "text": sentence(reason.sentence),
                "keys": list(reason.keys),
                "nearest": dict(reason.nearest),
                "verified": reason.verified,
            }
            for reason in reasons
        ],
    }


def sentence(text: str) -> str:
    """Return a message as a sentence.

    Examples:
        >>> sentence("it is too long")
        'It is too long.'
    """
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "!")) else ".")


def plain(bad: InputError) -> str:
    """Return an error in the words of a page: what was expected, and what stood there."""
    tail = "" if bad.found is None else f", found {bad.found}"
    return sentence(f"{bad.expected}{tail}")


def read_values(room: Workroom, name: str) -> tuple[dict[str, Any], str]:
    """Return the keys of a brief's file and its version.

    Raises:
        InputError: There is no such brief, or it cannot be read.
    """
    path = room.inside(name)
    raw = read_bytes(path)
    if raw is None:
        raise InputError("expected a brief of this folder", name)
    values = flat(read_toml(path, "a brief").data)
    values.pop("stash", None)
    return values, version_of(raw)


def write_values(room: Workroom, name: str, values: Mapping[str, Any], version: str | None) -> str:
    """Write a brief, or change one so that its comments stay; return its version.

    Args:
        room: The workroom.
        name: Of the file.
        values: All its keys with dots, without the stash; None takes a key away.
        version: Of the file that was changed; empty for a new one, None for any.

    Raises:
        InputError: The values make no brief.
        ChangedError: The file was changed meanwhile.
    """
    plain_name = name.endswith(".toml") and "/" not in name
    if not plain_name or name in (room.stash.name, "stash.toml", "shelf.toml"):
        raise InputError("expected a name such as saturday.toml", name)
    brief_of(room, values)
    path = room.inside(name)

    def edit(raw: bytes | None) -> bytes:
        if raw is None:
            data = {"stash": room.stash.name, **nested(values)}
            tables = {k: v for k, v in data.items() if isinstance(v, dict)}
            return tomli_w.dumps({k: v for k, v in data.items() if k not in tables} | tables
                                 ).encode()  # fmt: skip
        here = flat(read_toml(path, "a brief").data)
        new = {k: v for k, v in values.items() if v is not None and here.get(k) != v}
        return changed_brief(raw.decode("utf-8-sig"), new).encode()

    return room.change(path, version, edit, f"wishes changed: {name}")
