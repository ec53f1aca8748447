"""The box of threads: one thread added, changed or taken out, and its file stays hers.

Every change is an edit of ``stash.toml`` (`motifsearch.thread.stash_edit`): comments, order and all
other keys stay.  What comes out is read again before it is written, so that no edit leaves a stash
that cannot be read.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from motifsearch.base.errors import InputError
from motifsearch.base.tomlfile import Table
from motifsearch.base.units import piece_text
from motifsearch.runs.versions import read_bytes, version_of
from motifsearch.runs.workroom import Workroom
from motifsearch.thread.stash import THREAD_KEYS, Stash, parse_stash, read_stash
from motifsearch.thread.stash_edit import with_thread, without_thread
from motifsearch.thread.threads import DEFAULT_SKEIN_M
from motifsearch.thread.yarn import diameter_from_wraps

#: How thickness can be told: grams per kilometre, millimetres, or wraps that cover a centimetre.
THICKNESS: Final = ("tex", "mm", "wraps")


@dataclass(frozen=True)
class Box:
    """The stash as it stands.

    Attributes:
        name: The file, relative to the workroom.
        version: Of the file; empty when there is none.
        stash: What it says; None when there is none, or it cannot be read.
        problem: Why it cannot be read; empty when it can.
    """

    name: str
    version: str
    stash: Stash | None
    problem: str = ""


def read_box(room: Workroom) -> Box:
    """Return the box of a workroom; a file that cannot be read is a box with a problem."""
    path = room.stash
    raw = read_bytes(path)
    if raw is None:
        return Box(path.name, "", None)
    try:
        return Box(path.name, version_of(raw), read_stash(path))
    except InputError as bad:
        return Box(path.name, version_of(raw), None, str(bad))


def thread_keys(values: Mapping[str, Any]) -> dict[str, Any]:
    """Return the keys of a thread in a stash file from what a form says.

    Args:
        values: ``name, colour, thickness, unit, pieces_m, skein_m, price_per_skein``; what is
            missing is not changed, and None takes a key away.

    Raises:
        InputError: An unknown key, or a thickness in an unknown unit.

    Examples:
        >>> thread_keys({"name": "sand", "thickness": 16, "unit": "wraps"})
        {'name': 'sand', 'tex': None, 'diameter_mm': 0.625}
    """
    out: dict[str, Any] = {}
    for key, value in values.items():
        if key in ("thickness", "unit"):
            continue
        if key not in THREAD_KEYS:
            raise InputError("unknown key of a thread", key)
        out[key] = value
    if "thickness" in values:
        unit, size = values.get("unit", "tex"), values["thickness"]
        if unit not in THICKNESS:
            raise InputError(f"expected one of {', '.join(THICKNESS)}", unit, key="unit")
        good = isinstance(size, int | float) and not isinstance(size, bool) and size > 0
        if not good:
            raise InputError("expected a thickness above 0", size, key="thickness")
        if unit == "tex":
            out |= {"tex": size, "diameter_mm": None}
        else:
            across = size if unit == "mm" else round(diameter_from_wraps(float(size)), 4)
            out |= {"tex": None, "diameter_mm": across}
    return out


def add_thread(room: Workroom, values: Mapping[str, Any], version: str | None) -> str:
    """Put a new thread into the box; return the new version of its file.

    Args:
        room: The workroom; its stash file is made when there is none.
        values: See `thread_keys`.
        version: Of the file that the change was made for; None for any.

    Raises:
        InputError: With key, what was expected and what stood there.
        ChangedError: The file was changed meanwhile.
        MotifError: It cannot be written.
    """
    keys = thread_keys(values)
    keys["pieces_m"] = keys.pop("pieces_m", None) or []
    return _edit(room, version, f"{keys.get('name', 'a thread')} put into the box",
                 lambda raw: with_thread(raw or b"", None, keys))  # fmt: skip


def change_thread(room: Workroom, name: str, values: Mapping[str, Any], version: str | None) -> str:
    """Change a thread of the box; see `add_thread`."""
    keys = thread_keys(values)
    return _edit(room, version, f"{name} changed", lambda raw: with_thread(raw or b"", name, keys))


def remove_thread(room: Workroom, name: str, version: str | None) -> str:
    """Take a thread out of the box; see `add_thread`."""
    return _edit(room, version, f"{name} taken out",
                 lambda raw: without_thread(raw or b"", name))  # fmt: skip


def add_skein(room: Workroom, name: str, version: str | None) -> str:
    """Add a new skein of a thread; see `add_thread`."""
    stash = read_stash(room.stash)
    thread = stash.thread(name)
    metres = thread.skein_m or DEFAULT_SKEIN_M
    pieces = [*_metres(thread.pieces_mm), metres]
    said = f"a skein of {name} added ({piece_text(metres * 1000, stash.show)})"
    return _edit(room, version, said, lambda raw: with_thread(raw or b"", name,
                                                              {"pieces_m": pieces}))  # fmt: skip


def cut_off(room: Workroom, name: str, piece_m: float, length_m: float, version: str | None) -> str:
    """Cut a length off a piece by hand: the piece is shorter by it; see `add_thread`.

    Raises:
        InputError: Also where there is no such piece, or it is shorter.
    """
    pieces = _metres(read_stash(room.stash).thread(name).pieces_mm)
    if piece_m not in pieces:
        raise InputError("expected a piece on hand", piece_m, key="piece_m")
    if not 0 < length_m <= piece_m:
        raise InputError(f"expected a length up to {piece_m:g} m", length_m, key="length_m")
    at = pieces.index(piece_m)
    left = round(piece_m - length_m, 3)
    pieces[at : at + 1] = [left] if left >= 0.01 else []
    return _edit(room, version, f"{length_m:g} m of {name} cut off",
                 lambda raw: with_thread(raw or b"", name, {"pieces_m": pieces}))  # fmt: skip


def _metres(pieces_mm: Sequence[float]) -> list[float]:
    return [round(p / 1000.0, 6) for p in pieces_mm]


def _edit(room: Workroom, version: str | None, words: str, edit: Any) -> str:
    path = room.stash

    def checked(raw: bytes | None) -> bytes | None:
        after: bytes | None = edit(raw)
        if after is not None:
            try:
                data = tomllib.loads(after.decode("utf-8-sig"))
            except (tomllib.TOMLDecodeError, UnicodeDecodeError) as bad:
                raise InputError(f"cannot be changed: {bad}", source=path.name) from None
            parse_stash(Table(data, path.name), path.parent)
        return after

    return room.change(path, version, checked, words)


def demo_box(room: Workroom) -> str:
    """Put the demo's threads into an empty workroom, to try things out; return the version.

    Raises:
        InputError: There is a stash already.
    """
    from motifsearch.runs.example import demo_folder

    if room.stash.exists():
        raise InputError("there is a box of threads here already", source=room.stash.name)
    data = (demo_folder() / "stash-workshop.toml").read_bytes()
    return room.change(room.stash, "", lambda raw: data, "a box of threads to try things with")
