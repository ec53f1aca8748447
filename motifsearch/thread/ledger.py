"""The book beside the stash: one writer at a time, every booking whole, nothing ever rubbed out.

Beside ``stash.toml`` stands ``stash.bookings.jsonl``: one JSON object a line, only ever appended.
A change goes in four steps, under a lock of the operating system on ``.stash.toml.lock``::

    1. the new stash is laid out in .stash.toml.next
    2. the book says what is about to be done     {"event": "book" | "undo", "entry": k, ...}
    3. .stash.toml.next takes the name of the stash, in one step
    4. the book says that it is done              {"event": "done", "entry": k}

A process can be killed between any two.  Whoever opens the book next sees it by the two files: an
entry without ``done`` whose ``.next`` is still there was not done (``{"event": "dropped"}``); one
whose ``.next`` is gone was (a write-ahead log with one rename as its commit point: Gray, Reuter,
Transaction Processing, 1992, ch. 9).
"""

from __future__ import annotations

import json
import os
import stat
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import asdict, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from filelock import FileLock, Timeout

from motifsearch.base.errors import MotifError
from motifsearch.base.tomlfile import read_file, write_atomic
from motifsearch.thread.bookings import Booking, Taken

#: How long a booking waits for another one to end, in seconds.
PATIENCE_S: Final = 120.0
#: Some hundred thousand bookings.
MAX_BOOK_BYTES: Final = 100_000_000
FORMAT: Final = "motifsearch-bookings-1"


class Ledger:
    """The book of a stash.  Made by `read_ledger`, or by `owned` for one who writes.

    Attributes:
        stash: The stash file itself; a symbolic link is followed.
        path: The book.
        bookings: All bookings that were done, in order; those undone too.
        damaged: The lines (1-based) that cannot be read; a kill in the middle leaves one.
    """

    def __init__(self, stash: str | Path) -> None:
        self.stash = Path(os.path.realpath(stash))
        self.path = self.stash.with_name(f"{self.stash.stem}.bookings.jsonl")
        self.next = self.stash.with_name(f".{self.stash.name}.next")
        self._read()

    def _read(self) -> None:
        entries: dict[int, Mapping[str, Any]] = {}
        ends: dict[int, str] = {}
        damaged: list[int] = []
        for n, line in enumerate(self._lines(), 1):
            if not line.strip():
                continue
            try:
                data = json.loads(line)
                event, entry = data["event"], int(data["entry"])
                if event in ("done", "dropped"):
                    ends[entry] = event
                elif event in ("book", "undo") and _understood(data):
                    entries[entry] = data
                else:
                    damaged.append(n)
            except (ValueError, KeyError, TypeError, RecursionError, OverflowError):
                damaged.append(n)
        self.damaged = tuple(damaged)
        self.last = max((*entries, *ends), default=0)
        self.open = tuple(k for k in entries if k not in ends)
        waiting = self.next.exists()
        dropped = {k for k, end in ends.items() if end == "dropped"}
        if waiting and self.open:
            dropped.add(self.open[-1])
        found: dict[int, Booking] = {}
        for k, data in sorted(entries.items()):
            if k in dropped:
                continue
            if data["event"] == "book":
                booking = _booking(data)
                found[booking.number] = booking
            elif data["number"] in found:
                found[data["number"]] = replace(found[data["number"]], undone=data["at"])
        self.bookings = tuple(found.values())
        self.numbers = max(
            (int(d["number"]) for d in entries.values() if d["event"] == "book"), default=0
        )

    def _lines(self) -> list[str]:
        if not os.path.lexists(self.path):
            return []
        data = read_file(self.path, "the book of bookings", MAX_BOOK_BYTES)
        return data.decode(errors="replace").split("\n")

    def _append(self, data: Mapping[str, Any]) -> None:
        """Append one line, and see it on the disk."""
        line = json.dumps(data, ensure_ascii=True) + "\n"
        with self.path.open("a+b") as out:
            size = out.seek(0, os.SEEK_END)
            if size:
                out.seek(size - 1)
                if out.read(1) != b"\n":
                    line = "\n" + line
            out.write(line.encode())
            out.flush()
            os.fsync(out.fileno())

    def recover(self) -> None:
        """End what a killed process left open."""
        for k in self.open:
            lost = self.next.exists() and k == self.open[-1]
            self._append({"event": "dropped" if lost else "done", "entry": k})
        self.next.unlink(missing_ok=True)
        if self.open:
            self._read()

    def commit(self, entry: Mapping[str, Any], before: bytes, after: bytes) -> None:
        """Write stash and book, both or neither.

        Args:
            entry: What the book says.
            before: The stash that the change was planned on.
            after: The stash as it shall be.

        Raises:
            ChangedError: The stash was changed by another hand meanwhile; nothing is written.
            MotifError: A file cannot be written; nothing is booked.
        """
        k = self.last + 1
        try:
            write_atomic(self.next, after)
            self.next.chmod(stat.S_IMODE(self.stash.stat().st_mode))
            self._append({"format": FORMAT, "entry": k, **entry})
            if self.stash.read_bytes() != before:
                raise ChangedError(
                    f"{self.stash}: was changed by another program meanwhile; try again"
                )
            os.replace(self.next, self.stash)
        except BaseException as bad:
            with suppress(OSError):
                if self.next.exists():
                    self._append({"event": "dropped", "entry": k})
                    self.next.unlink()
            if isinstance(bad, OSError):
                raise MotifError(f"{self.path}: cannot write: {bad.strerror or bad}") from None
            raise
        with suppress(OSError):  # the next one who opens the book sees that it was done
            self._append({"event": "done", "entry": k})
        self._read()


class ChangedError(MotifError):
    """The stash is not what the change was planned on."""


def read_ledger(stash: str | Path) -> Ledger:
    """Return the book of a stash; nothing is written.

    Raises:
        InputError: The book cannot be read.
    """
    return Ledger(stash)


@contextmanager
def owned(stash: str | Path) -> Iterator[Ledger]:
    """Hold the book of a stash: the only writer until the block ends.

    Raises:
        MotifError: Another process holds it for too long, or the folder cannot be written to.
    """
    path = Path(os.path.realpath(stash))
    lock = FileLock(path.with_name(f".{path.name}.lock"))
    try:
        lock.acquire(timeout=PATIENCE_S)
    except Timeout:
        raise MotifError(f"{path}: another booking is being written; try again") from None
    except OSError as bad:
        raise MotifError(f"{path.parent}: cannot write: {bad.strerror or bad}") from None
    try:
        book = Ledger(stash)
        try:
            book.recover()
        except OSError as bad:
            raise MotifError(f"{book.path}: cannot write: {bad.strerror or bad}") from None
        yield book
    finally:
        lock.release()


def now() -> str:
    """Return the time in UTC, as ISO 8601 to the second."""
    return datetime.now(UTC).isoformat(timespec="seconds")


def book_entry(booking: Booking) -> dict[str, Any]:
    """Return the line of a booking."""
    data = asdict(booking)
    del data["undone"]
    return {"event": "book", **data}


def undo_entry(number: int) -> dict[str, Any]:
    """Return the line that undoes a booking."""
    return {"event": "undo", "number": number, "at": now()}


def _understood(data: Mapping[str, Any]) -> bool:
    """Return whether an entry can be read; raises what `_read` counts as damage."""
    if not isinstance(data["at"], str) or isinstance(data["number"], bool):
        return False
    return isinstance(data["number"], int) and (data["event"] == "undo" or bool(_booking(data)))


def _booking(data: Mapping[str, Any]) -> Booking:
    pieces = tuple(
        Taken(
            str(p["thread"]),
            float(p["piece_mm"]),
            tuple((str(label), float(mm)) for label, mm in p["cuts"]),
            float(p["left_mm"]),
            None if p["root"] is None else (int(p["root"][0]), int(p["root"][1])),
        )
        for p in data["pieces"]
    )
    return Booking(
        number=data["number"],
        at=data["at"],
        title=str(data["title"]),
        pattern=str(data["pattern"]),
        bands=int(data["bands"]),
        length_mm=float(data["length_mm"]),
        useful_mm=float(data["useful_mm"]),
        pieces=pieces,
    )
