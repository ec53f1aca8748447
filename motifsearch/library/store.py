"""The file of a library: SQLite, kinds in blocks, a block's columns side by side.

``block`` has a row for up to `BLOCK` kinds of one size, ``data`` a row for each of its columns:
the bytes of the array, and their SHA-256.  So a question reads only the columns that it needs, as
fast as the disk gives them, and SQLite gives what is hard: one writer at a time, changes whole or
not at all, and a check of the file.  A kind is there once, by its key.
"""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from motifsearch.base.errors import InputError, MotifError
from motifsearch.library.columns import Kinds, join, layout

FORMAT: Final = "motifsearch-library-1"
BLOCK: Final = 1 << 16
#: How long a writer waits for another one, in seconds.
PATIENCE_S: Final = 120.0
SCHEMA: Final = """
CREATE TABLE about (key TEXT PRIMARY KEY, value TEXT NOT NULL);
CREATE TABLE block (id INTEGER PRIMARY KEY, strands INTEGER NOT NULL, period INTEGER NOT NULL,
                    kinds INTEGER NOT NULL);
CREATE TABLE data (block INTEGER NOT NULL REFERENCES block (id) ON DELETE CASCADE,
                   name TEXT NOT NULL, bytes BLOB NOT NULL, sha256 TEXT NOT NULL,
                   PRIMARY KEY (block, name)) WITHOUT ROWID;
"""


@dataclass(frozen=True)
class Size:
    """How many kinds of one size a library holds.

    Attributes:
        strands: S.
        period: P.
        kinds: How many.
    """

    strands: int
    period: int
    kinds: int


class Library:
    """A library that is open.  Made by `opened`."""

    def __init__(self, path: Path, link: sqlite3.Connection) -> None:
        self.path = path
        self.link = link

    def sizes(self) -> tuple[Size, ...]:
        """Return how many kinds there are of every size, narrow and short ones first."""
        rows = self.link.execute(
            "SELECT strands, period, SUM(kinds) FROM block GROUP BY strands, period "
            "ORDER BY strands, period"
        )
        return tuple(Size(*map(int, row)) for row in rows)

    def __len__(self) -> int:
        """Return the number of kinds."""
        return sum(size.kinds for size in self.sizes())

    def read(self, strands: int, period: int, names: Sequence[str] = ()) -> Kinds:
        """Return all kinds of one size with these columns; with all of them when left out."""
        shapes = layout(strands, period)
        wanted = names or tuple(shapes)
        blocks = self.link.execute(
            "SELECT id, kinds FROM block WHERE strands = ? AND period = ? ORDER BY id",
            (strands, period),
        ).fetchall()
        columns = {}
        for name in wanted:
            kind, shape = shapes[name]
            parts = []
            for block, n in blocks:
                row = self.link.execute(
                    "SELECT bytes FROM data WHERE block = ? AND name = ?", (block, name)
                ).fetchone()
                try:
                    parts.append(np.frombuffer(row[0], kind).reshape(*shape, n))
                except (TypeError, ValueError):
                    raise InputError(
                        f"the library is damaged: block {block}, {name}", source=self.path
                    ) from None
            if not parts:
                parts = [np.zeros((*shape, 0), kind)]
            columns[name] = parts[0] if len(parts) == 1 else np.concatenate(parts, -1)
        return Kinds(strands, period, columns)

    def add(self, batches: Iterable[Kinds]) -> int:
        """Add kinds that are not there yet, as one change; return how many they were.

        Raises:
            MotifError: The file cannot be written; nothing is added.
        """
        added = 0
        try:
            self.link.execute("BEGIN IMMEDIATE")
            for kinds in batches:
                added += self._add(kinds)
            self.link.execute("COMMIT")
        except (sqlite3.Error, OSError) as bad:
            self._back()
            raise MotifError(f"{self.path}: cannot write: {bad}") from None
        except BaseException:
            self._back()
            raise
        return added

    def _back(self) -> None:
        if self.link.in_transaction:
            self.link.execute("ROLLBACK")

    def _add(self, kinds: Kinds) -> int:
        known = self.read(kinds.strands, kinds.period, ["key"])["key"]
        _, first = np.unique(kinds["key"], return_index=True)
        new = first[~np.isin(kinds["key"][first], known)]
        if not len(new):
            return 0
        fresh = kinds.take(new)
        last = self.link.execute(
            "SELECT id, kinds FROM block WHERE strands = ? AND period = ? ORDER BY id DESC LIMIT 1",
            (kinds.strands, kinds.period),
        ).fetchone()
        if last is not None and last[1] < BLOCK:
            fresh = join([self._block(last[0], kinds.strands, kinds.period, last[1]), fresh])
            self.link.execute("DELETE FROM data WHERE block = ?", (last[0],))
            self.link.execute("DELETE FROM block WHERE id = ?", (last[0],))
        for start in range(0, len(fresh), BLOCK):
            self._write(fresh.take(np.arange(start, min(start + BLOCK, len(fresh)))))
        return len(new)

    def _block(self, block: int, strands: int, period: int, n: int) -> Kinds:
        rows = dict(self.link.execute("SELECT name, bytes FROM data WHERE block = ?", (block,)))
        try:
            columns = {
                name: np.frombuffer(rows[name], kind).reshape(*shape, n)
                for name, (kind, shape) in layout(strands, period).items()
            }
        except (KeyError, ValueError):
            raise InputError(f"the library is damaged: block {block}", source=self.path) from None
        return Kinds(strands, period, columns)

    def _write(self, kinds: Kinds) -> None:
        cursor = self.link.execute(
            "INSERT INTO block (strands, period, kinds) VALUES (?, ?, ?)",
            (kinds.strands, kinds.period, len(kinds)),
        )
        for name, column in sorted(kinds.columns.items()):
            raw = np.ascontiguousarray(column).tobytes()
            self.link.execute(
                "INSERT INTO data VALUES (?, ?, ?, ?)",
                (cursor.lastrowid, name, raw, hashlib.sha256(raw).hexdigest()),
            )

    def damage(self) -> tuple[str, ...]:
        """Return what is wrong with the file: its pages, and the bytes of every column."""
        said = [str(row[0]) for row in self.link.execute("PRAGMA integrity_check")]
        wrong = [] if said == ["ok"] else said
        for block, name, raw, digest in self.link.execute(
            "SELECT block, name, bytes, sha256 FROM data ORDER BY block, name"
        ):
            if hashlib.sha256(raw).hexdigest() != digest:
                wrong.append(f"block {block}, {name}: its bytes are not those that were written")
        return tuple(wrong)


@contextmanager
def opened(path: str | Path, *, make: bool = False) -> Iterator[Library]:
    """Open a library.

    Args:
        path: The file.
        make: Whether an empty one is made where none is; and whether it is written to.

    Raises:
        InputError: It is not there, or is no library.
        MotifError: It cannot be made.
    """
    path = Path(path)
    there = path.is_file()
    if not there and (not make or path.exists()):
        raise InputError("expected a library; no such file", source=path)
    try:
        if make:
            link = sqlite3.connect(path, timeout=PATIENCE_S, isolation_level=None)
        else:
            link = sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True,
                                   timeout=PATIENCE_S, isolation_level=None)  # fmt: skip
    except sqlite3.Error as bad:
        raise MotifError(f"{path}: cannot open: {bad}") from None
    try:
        try:
            if make:
                _made(link)
            row = link.execute("SELECT value FROM about WHERE key = 'format'").fetchone()
        except sqlite3.DatabaseError as bad:
            raise InputError(f"expected a library of designs ({bad})", source=path) from None
        if row is None or row[0] != FORMAT:
            raise InputError(f"expected the format {FORMAT}", row and row[0], source=path)
        yield Library(path, link)
    finally:
        link.close()


def _made(link: sqlite3.Connection) -> None:
    """Lay out an empty library, once, whoever comes first."""
    link.execute("PRAGMA foreign_keys = ON")
    link.execute("BEGIN IMMEDIATE")
    there = link.execute("SELECT COUNT(*) FROM sqlite_master").fetchone()[0]
    if not there:
        for part in SCHEMA.split(";"):
            if part.strip():
                link.execute(part)
        link.execute("INSERT INTO about VALUES ('format', ?)", (FORMAT,))
    link.execute("COMMIT")
