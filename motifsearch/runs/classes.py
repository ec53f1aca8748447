"""The bands of a class: started as a job, shown with names, booked in one step.

What is shown is read from the run folder that ``motifsearch group`` writes: ``plan.json`` says who
gets which band and which piece every cut comes from (`motifsearch.runs.handing`).
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

from motifsearch.base.errors import InputError
from motifsearch.base.tomlfile import read_text, read_toml
from motifsearch.base.units import cut_text, piece_text
from motifsearch.page.group import ROWS as HANGING_ROWS
from motifsearch.pattern.effort import effort
from motifsearch.pattern.files import read_pattern
from motifsearch.runs.booking import bookings, use
from motifsearch.runs.box import read_box
from motifsearch.runs.handing import PLAN, read_plan
from motifsearch.runs.hanging import design_data, key_of
from motifsearch.runs.jobs import Job
from motifsearch.runs.live import Engines
from motifsearch.runs.making import unchanged
from motifsearch.runs.people import check_group
from motifsearch.runs.processes import cores
from motifsearch.runs.record import read_record
from motifsearch.runs.versions import read_bytes, version_of
from motifsearch.runs.workroom import Workroom
from motifsearch.search.group import read_group
from motifsearch.thread.batch import parted
from motifsearch.thread.stash import read_stash
from motifsearch.thread.usage import use_stash
from motifsearch.worksheet.cautions import CAUTIONS


def start_group(
    room: Workroom, engines: Engines, name: str, overrides: Mapping[str, Any] | None = None
) -> str:
    """Start to plan the bands of a group; return the name of the run folder.

    Args:
        room: The workroom.
        engines: Where it runs.
        name: Of the group's file.
        overrides: Keys of its brief with other values.

    Raises:
        InputError: The group cannot be used, or something speaks against it.
    """
    path = room.inside(name)
    wanted = read_group(path, overrides)
    reasons = check_group(room, name)["reasons"]
    if reasons:
        first = reasons[0]
        raise InputError(f"{first['name']}: {first['text']}" if first["name"] else first["text"])
    run = room.free_name(wanted.brief.title)
    search = engines.start(
        Job(
            folder=str(room.path / run), brief=str(path), overrides=overrides or {},
            workers=max(1, cores() - 1), kind="group",
        )
    )  # fmt: skip
    search.about = {
        "title": wanted.brief.title, "wanted": len(wanted.people), "file": name,
        "strands": wanted.brief.strands,
    }  # fmt: skip
    return run


def class_data(room: Workroom, name: str) -> dict[str, Any]:
    """Return the bands of a group's run as a page shows them.

    Args:
        room: The workroom.
        name: Of the run.

    Returns:
        ``wanted``, ``possible``, ``bound``, ``gap``; ``bands``: name, title, design, folder,
        length, level, cuts; ``without``: names; ``pieces``: one cutting list in the order of the
        pieces; ``buy``: for those without; ``booked``: the number of the booking that stands, or
        None; ``fits``: whether the box still holds the pieces; ``file``: the group's, or empty.

    Raises:
        InputError: There is no such run, or its plan is damaged.
    """
    folder = room.run(name)
    plan, named = read_plan(folder)
    data = json.loads(read_text(folder / PLAN, "the plan of a group"))
    stash = read_stash(folder / "stash.toml")
    title = read_record(folder)[0].title
    names = [one for one, _ in named]
    show = stash.show
    box = read_box(room).stash
    fits = False
    if box is not None:
        with suppress(InputError):
            use_stash(box, plan)
            fits = True
    return {
        "title": title,
        "show": show,
        **{key: data.get(key, 0) for key in ("wanted", "possible", "bound", "gap")},
        "bands": [_band(folder, n, one, stash.show) for n, one in enumerate(data["bands"])],
        "without": [str(one) for one in data.get("without", [])],
        "pieces": [
            {
                "colour": piece.thread,
                "hex": stash.thread(piece.thread).colour,
                "length": piece_text(piece.piece_mm, show),
                "left": piece_text(piece.left_mm, show) if piece.left_mm > 0.5 else "",
                "kept": piece.left_mm >= plan.useful_mm,
                "cuts": [
                    {"length": cut_text(mm, show), "name": names[number - 1], "label": label}
                    for own, mm in piece.cuts
                    for number, label in [parted(own)]
                ],
            }
            for piece in plan.pieces
        ],
        "buy": [
            {
                "colour": str(line["colour"]),
                "hex": stash.thread(line["colour"]).colour,
                "skeins": int(line["skeins"]),
                "skein": piece_text(1000.0 * float(line["skein_m"]), show),
            }
            for line in data.get("to_buy", [])
            if line["skeins"]
        ],
        "booked": _booked(room, folder),
        "fits": fits,
        "file": _file_of(room, title),
        "cautions": list(CAUTIONS),
    }


def _band(folder: Path, n: int, one: Mapping[str, Any], show: str) -> dict[str, Any]:
    place = str(one["pattern"]).rpartition("/")[0]
    pattern = read_pattern(folder / place / "pattern.toml")
    whose = str(one["name"])
    return {
        **design_data(pattern),
        "key": key_of(pattern),
        "name": whose,
        "title": pattern.title.removeprefix(f"{whose}: "),
        "folder": place,
        "length": cut_text(float(one["length_mm"]), show),
        "level": effort(pattern).level,
        "lying": pattern.rows > HANGING_ROWS,
        "cuts": [
            {
                "label": str(cut["label"]),
                "colour": str(cut["colour"]),
                "hex": pattern.colours[cut["colour"]],
                "length": cut_text(float(cut["length_mm"]), show),
                "strands": list(cut["strands"]),
            }
            for cut in one["cuts"]
        ],
    }


def _booked(room: Workroom, folder: Path) -> int | None:
    """Return the number of the booking of a group that stands; None where none does."""
    if read_box(room).stash is None:
        return None
    mine = folder.resolve()
    for one in reversed(bookings(room.stash)):
        if one.pattern and not one.undone:
            ways = (Path(one.pattern), room.path / one.pattern)
            if any(way.resolve() == mine for way in ways):
                return one.number
    return None


def _file_of(room: Workroom, title: str) -> str:
    """Return the file of the group of this title, to plan it again; empty where there is none."""
    for name in room.groups():
        with suppress(InputError):
            if read_toml(room.path / name, "a group").data.get("title") == title:
                return name
    return ""


def book_class(room: Workroom, name: str, version: str | None) -> dict[str, Any]:
    """Cut for all bands of a group as they were planned: one booking, which one step takes back.

    Args:
        room: The workroom.
        name: Of the run.
        version: Of the box that was looked at; None for any.

    Raises:
        InfeasibleError: The box does not hold the pieces of the plan any more; nothing is changed.
        ChangedError: The box was changed meanwhile; nothing is changed.
    """
    unchanged(room, version)
    used = use(room.run(name), room.stash)
    assert used.booking is not None
    return {"number": used.booking.number, "version": version_of(read_bytes(room.stash))}
