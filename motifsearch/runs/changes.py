"""What was changed in a workroom, so that it can be taken back, and done again.

``.motifsearch/changes.json`` in the workroom holds the last `MOST` changes of files that people
edit: the bytes before and after, and what was done in words.  A step back puts back what stood
there before, if the file still is what that change made of it; a file that another hand has changed
since is left alone, and that is said.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from filelock import FileLock

from motifsearch.base.errors import InputError
from motifsearch.base.tomlfile import write_atomic
from motifsearch.runs.store import STATE
from motifsearch.runs.versions import locked, put, read_bytes, version_of

#: Changes that are remembered.
MOST: Final = 100
NAME: Final = "changes.json"


@dataclass(frozen=True)
class Steps:
    """What can be undone and done again.

    Attributes:
        undo: The last change in words; empty for none.
        redo: The change that was undone last; empty for none.
    """

    undo: str = ""
    redo: str = ""


def _place(room: Path) -> Path:
    return room / STATE / NAME


def _read(room: Path) -> tuple[int, list[dict[str, Any]]]:
    try:
        data = json.loads(_place(room).read_text(encoding="utf-8"))
        steps = [
            s
            for s in data["steps"]
            if isinstance(s, dict) and isinstance(s["file"], str) and isinstance(s["words"], str)
        ]
        return min(max(0, int(data["at"])), len(steps)), steps
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return 0, []


def _write(room: Path, at: int, steps: list[dict[str, Any]]) -> None:
    _place(room).parent.mkdir(exist_ok=True)
    write_atomic(_place(room), json.dumps({"at": at, "steps": steps}, ensure_ascii=True))


def _lock(room: Path) -> FileLock:
    (room / STATE).mkdir(exist_ok=True)
    return FileLock(room / STATE / "changes.lock")


def note(room: Path, name: str, before: bytes | None, after: bytes | None, words: str) -> None:
    """Remember a change that was made.

    Args:
        room: The workroom's folder.
        name: The file, relative to it.
        before: What stood there; None for no file.
        after: What stands there now.
        words: What was done.
    """
    texts = [None if b is None else b.decode("utf-8", "surrogateescape") for b in (before, after)]
    with _lock(room):
        at, steps = _read(room)
        step = {"file": name, "before": texts[0], "after": texts[1], "words": words[:200]}
        steps = [*steps[:at], step][-MOST:]
        _write(room, len(steps), steps)


def steps(room: Path) -> Steps:
    """Return what can be undone and done again."""
    at, found = _read(room)
    return Steps(
        undo=found[at - 1]["words"] if at else "",
        redo=found[at]["words"] if at < len(found) else "",
    )


def step(room: Path, back: bool) -> str:
    """Take back the last change, or do again what was taken back; return it in words.

    Raises:
        InputError: There is none, or the file was changed since by another hand.
    """
    with _lock(room):
        at, found = _read(room)
        if not (at if back else at < len(found)):
            raise InputError(f"there is nothing to {'undo' if back else 'do again'}")
        one = found[at - 1 if back else at]
        path = room / one["file"]
        if not path.resolve().is_relative_to(room.resolve()):
            raise InputError("expected a file of this folder", one["file"])
        stands, wanted = ("after", "before") if back else ("before", "after")
        with locked(path):
            now = read_bytes(path)
            if version_of(now) != version_of(_bytes(one[stands])):
                raise InputError(
                    f"{one['file']} was changed since by another hand; it is left as it is"
                )
            put(path, _bytes(one[wanted]))
        _write(room, at + (-1 if back else 1), found)
        return str(one["words"])


def _bytes(text: str | None) -> bytes | None:
    return None if text is None else text.encode("utf-8", "surrogateescape")
