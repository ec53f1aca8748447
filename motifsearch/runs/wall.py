"""What a page shows of a workroom: the box, the runs, and the bands of one run on the wall."""

from __future__ import annotations

import json
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

import numpy as np

from motifsearch.base.errors import InputError, MotifError
from motifsearch.library.store import opened
from motifsearch.pattern.files import read_pattern
from motifsearch.runs import changes
from motifsearch.runs.box import read_box
from motifsearch.runs.hanging import Band, wall_data
from motifsearch.runs.jobs import Job, Kind, broken_off, is_unfinished
from motifsearch.runs.live import Engines, Search
from motifsearch.runs.marking import picked, shelved
from motifsearch.runs.processes import cores
from motifsearch.runs.record import NAME as RECORD
from motifsearch.runs.record import read_record
from motifsearch.runs.remembering import BESIDE
from motifsearch.runs.shelf import mark, read_shelf
from motifsearch.runs.store import STATE, BusyError
from motifsearch.runs.varying import vary
from motifsearch.runs.workroom import Workroom
from motifsearch.search.brief import Brief, read_brief
from motifsearch.thread.threads import DEFAULT_SKEIN_M
from motifsearch.thread.yarn import wraps_per_cm

#: Bands of a run that are read at once.
MOST: Final = 1000


def box_data(room: Workroom) -> dict[str, Any]:
    """Return the box as a page shows it."""
    box = read_box(room)
    data: dict[str, Any] = {"file": box.name, "version": box.version, "problem": box.problem}
    if box.stash is None:
        return {**data, "threads": [], "show": "metric", "currency": ""}
    return {
        **data,
        "show": box.stash.show,
        "currency": box.stash.currency,
        "threads": [
            {
                "name": t.name,
                "hex": t.colour,
                "tex": t.tex,
                "mm": round(t.diameter_mm, 3),
                "wraps": round(wraps_per_cm(t.diameter_mm), 1),
                "pieces": [round(p / 1000, 3) for p in t.pieces_mm],
                "metres": round(t.total_mm / 1000, 2),
                "skein": t.skein_m,
                "fullSkein": t.skein_m or DEFAULT_SKEIN_M,
                "price": t.price,
            }
            for t in box.stash.threads
        ],
    }


def state_of(room: Workroom, engines: Engines) -> dict[str, Any]:
    """Return what every view of a page needs: box, runs, what is under way, steps back."""
    steps = changes.steps(room.path)
    runs = []
    for run in room.runs():
        record, _ = read_record(room.path / run.name) if run.finished else (None, ())
        search = engines.searches.get(room.path / run.name)
        runs.append(
            {
                "name": run.name,
                "title": (record.title if record is not None else "") or run.name,
                "bands": len(record.ranking) if record is not None else 0,
                "finished": run.finished,
                "canGoOn": run.can_go_on,
                "searching": search is not None and search.running,
            }
        )
    known = {r["name"] for r in runs}
    for folder, search in engines.searches.items():
        if folder.is_relative_to(room.path) and room.named(folder) not in known:
            runs.insert(0, {"name": room.named(folder), "title": folder.name, "bands": 0,
                            "finished": False, "canGoOn": False,
                            "searching": search.running})  # fmt: skip
    shelf = read_shelf(room)
    return {
        "folder": room.name,
        "box": box_data(room),
        "runs": runs,
        "briefs": list(room.briefs()),
        "groups": list(room.groups()),
        "undo": steps.undo,
        "redo": steps.redo,
        "shelf": {
            "version": shelf.version,
            "keys": {b.key: b.state for b in shelf.bands},
            "passed": list(shelf.passed),
        },
    }


def run_data(room: Workroom, engines: Engines, name: str) -> dict[str, Any]:
    """Return the bands of a run by place, and how far its search is.

    Raises:
        InputError: There is no such run.
    """
    folder = room.inside(name)
    search = engines.searches.get(folder)
    failed = search is not None and search.state == "failed" and not (folder / RECORD).is_file()
    if search is not None and (search.running or search.wall or failed):
        own = about(room, name) if search.kind != "group" or not search.running else {}
        return {**progress_of(search), "name": name, **own, **search.about, "wall": search.wall}
    return {
        "name": name, "kind": "search", "canOpen": True, **about(room, name),
        "wall": standing(room, name), "state": "done",
        "revision": 0, "progress": None, "curve": [], "log": "", "ended": {},
    }  # fmt: skip


def known_of(brief: Brief) -> dict[str, Any]:
    """Return what a brief says of its run: threads across, length, and rows where it has a text."""
    out: dict[str, Any] = {
        "title": brief.title, "strands": list(brief.widths) or brief.strands,
        "lengthMm": brief.length_mm, "wristMm": brief.wrist_mm, "reads": brief.reads,
    }  # fmt: skip
    if brief.text:
        thick = np.full(brief.strands, brief.stash.threads[0].diameter_mm)
        out["rows"] = brief.stash.model.rows_for(brief.length_mm, thick)
    return out


def about(room: Workroom, name: str) -> dict[str, Any]:
    """Return title, length and what can be done with a run."""
    folder = room.inside(name)
    record, _ = read_record(folder)
    data: dict[str, Any] = {"title": record.title or name, "scored": record.scored}
    if (folder / RECORD).is_file():
        data["kind"] = record.kind
    data["canGoOn"] = (folder / "checkpoint.npz").is_file()
    data["generations"] = record.generations
    with suppress(InputError):
        data |= known_of(read_brief(folder / "brief.toml"))
    return data


def standing(room: Workroom, name: str) -> list[dict[str, Any] | None]:
    """Return the bands of a finished run by place.

    Raises:
        InputError: There is no such run.
    """
    folder = room.run(name)
    record, _ = read_record(folder)
    worth = {line.folder: line.wishes_met for line in record.ranking}
    names = [line.folder for line in record.ranking][:MOST]
    for path in sorted((folder / "candidates").glob("*/pattern.toml")):
        one = path.parent.relative_to(folder).as_posix()
        if one not in worth and len(names) < MOST:
            names.append(one)
    try:
        places = json.loads((folder / STATE / "places.json").read_text(encoding="utf-8"))
        known = set(names)
        hung = [p for p in places if p in known]
        names = [*hung, *(n for n in names if n not in hung)]
    except (OSError, ValueError, TypeError):
        pass
    bands: list[Band | None] = []
    for one in names:
        try:
            pattern = read_pattern(folder / one / "pattern.toml")
        except InputError:
            continue
        bands.append(Band(pattern, -1, worth.get(one, 0.0), one))
    length = 150.0
    if (folder / "brief.toml").is_file():
        length = read_brief(folder / "brief.toml").length_mm
    return wall_data(bands, length)


def progress_of(search: Search) -> dict[str, Any]:
    """Return how far a search is, without its wall."""
    return {
        "kind": search.kind,
        "canOpen": search.can_open,
        "state": search.state,
        "revision": search.revision,
        "wallRevision": search.wall_revision,
        "progress": search.progress,
        "curve": search.curve,
        "log": search.log,
        "ended": search.ended,
    }


def start(
    room: Workroom,
    engines: Engines,
    brief: str,
    overrides: Mapping[str, Any] | None = None,
    *,
    known: bool = False,
) -> str:
    """Start what a brief of the workroom asks for; return the name of its run folder.

    Args:
        room: The workroom.
        engines: Where it runs.
        brief: The brief's file.
        overrides: Keys of the brief with other values.
        known: Nothing is searched: bands come from what was ever found.

    Raises:
        InputError: The brief cannot be used.
    """
    path = room.inside(brief)
    resolved = read_brief(path, overrides)
    kind: Kind = "letters" if resolved.text else "find" if known else "search"
    if kind == "search":
        with suppress(MotifError), opened(room.path / BESIDE, make=True):
            pass  # from now on it takes in what is found here
        overrides = {"search.warm": True, **(overrides or {})}
    name = room.free_name(resolved.title)
    shelf = read_shelf(room)
    search = engines.start(
        Job(
            folder=str(room.path / name), brief=str(path), overrides=overrides or {},
            workers=max(1, cores() - 1), refused=shelf.passed,
            kept=tuple(b.key for b in shelf.bands), kind=kind,
        )
    )  # fmt: skip
    search.about = {**known_of(resolved), "brief": brief}
    return name


def go_on(room: Workroom, engines: Engines, name: str, more: int = 0) -> None:
    """Go on with the search of a run, for so many generations more where it has done all of them.

    Raises:
        InputError: There is nothing to go on with.
    """
    folder = room.run(name)
    with suppress(BusyError):
        shelved(room, name)
    record, _ = read_record(folder)
    brief = read_brief(folder / "brief.toml")
    overrides: dict[str, Any] = {}
    if more:
        overrides["search.generations"] = max(brief.search.generations, record.generations) + more
    shelf = read_shelf(room)
    engines.start(
        Job(
            folder=str(folder), brief=None, overrides=overrides, workers=max(1, cores() - 1),
            refused=shelf.passed, kept=tuple(b.key for b in shelf.bands),
        )
    )  # fmt: skip


def go_on_all(room: Workroom, engines: Engines) -> list[str]:
    """Go on with every job that did not end; return the names of their runs.

    A search goes on from its checkpoint; what has none begins again, where its file still stands
    in the workroom.
    """
    names = []
    for run in room.runs():
        if run.can_go_on and is_unfinished(room.path / run.name):
            try:
                go_on(room, engines, run.name)
            except MotifError:
                continue
            names.append(run.name)
    for path in sorted(room.path.iterdir()):
        if path.name.startswith(".") or path.is_symlink() or not path.is_dir():
            continue
        job = None if path.name in names or (path / RECORD).is_file() else broken_off(path)
        if job is None or job.brief is None or (path / "checkpoint.npz").is_file():
            continue
        try:
            brief = room.inside(room.named(Path(job.brief)))
            about = known_of(read_brief(brief, job.overrides)) if job.kind != "group" else {}
            search = engines.start(replace(job, brief=str(brief), workers=max(1, cores() - 1)))
        except (MotifError, ValueError):
            continue
        search.about = {"title": path.name, **about, "brief": brief.name}
        names.append(path.name)
    return names


def marked(
    room: Workroom,
    engines: Engines,
    ask: Mapping[str, Any],
    as_: str,
    version: str | None = None,
) -> dict[str, Any]:
    """Mark a design, and tell the searches under way: what is wanted stays, what is not goes.

    Raises:
        InputError: No such design or mark.
        ChangedError: The shelf was changed meanwhile.
    """
    key, new = mark(room, ask, as_, version)
    picked(room, str(ask.get("of") or ""), as_)
    shelf = read_shelf(room)
    for search in engines.searches.values():
        search.marks([b.key for b in shelf.bands], shelf.passed)
    return {"key": key, "version": new}


def more_like(
    room: Workroom, ask: Mapping[str, Any], locks: Mapping[str, Any], size: int = 12
) -> str:
    """Write variations of a design into a run folder of their own; return its name.

    Args:
        room: The workroom.
        ask: The design (`motifsearch.runs.trying.tried`).
        locks: ``rows`` (a list from 1), ``border``, ``colours``, ``symmetry``.
        size: How many.

    Raises:
        InputError: The design cannot be used.
        InfeasibleError: No other design keeps all that is locked.
    """
    from motifsearch.runs.trying import tried

    one = tried(room, ask)
    name = room.free_name(f"like {one.candidate.title or 'this'}")
    rows = locks.get("rows") or []
    vary(
        one.candidate,
        keep_rows=[int(r) for r in rows],
        keep_border=bool(locks.get("border")),
        keep_colours=bool(locks.get("colours")),
        keep_symmetry=bool(locks.get("symmetry")),
        size=size,
        out=Path(room.path / name),
    )
    return name
