"""The file of a library: SQLite, kinds in blocks, a block's columns side by side.

``block`` has a row for up to `BLOCK` kinds of one size, ``data`` a row for each of its columns: the
bytes of the array, and their SHA-256.  A column of `motifsearch.library.columns.SCREEN` is one
array; of the others the numbers of one kind stand together, so that a few kinds are read without
the rest.  SQLite gives what is hard: one writer at a time, changes whole or not at all, and a check
of the file.  A kind is there once, by its key.
"""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from motifsearch.base.arrays import I64
from motifsearch.base.errors import InputError, MotifError
from motifsearch.library.columns import SCREEN, UNSEEN, Kinds, join, layout

FORMAT: Final = "motifsearch-library-1"
BLOCK: Final = 1 << 16
#: How long a writer waits for another one, in seconds.
PATIENCE_S: Final = 120.0
#: Bytes of the file that are read as memory, at most, and of one page of it.
MAPPED: Final = 1 << 36
PAGE: Final = 1 << 14
SCHEMA: Final = """
CREATE TABLE about (key TEXT PRIMARY KEY, value TEXT NOT NULL);
CREATE TABLE block (id INTEGER PRIMARY KEY, strands INTEGER NOT NULL, period INTEGER NOT NULL,
                    kinds INTEGER NOT NULL);
CREATE TABLE data (id INTEGER PRIMARY KEY, block INTEGER NOT NULL, name TEXT NOT NULL,
                   bytes BLOB NOT NULL, sha256 TEXT NOT NULL, UNIQUE (block, name));
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


@dataclass(frozen=True)
class Block:
    """Kinds of one size that stand together.

    Attributes:
        number: Its number in the file.
        kinds: How many.
        start: Kinds of the same size in the blocks before it.
    """

    number: int
    kinds: int
    start: int


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

    def blocks(self, strands: int, period: int) -> tuple[Block, ...]:
        """Return the blocks of one size."""
        out, start = [], 0
        for number, kinds in self.link.execute(
            "SELECT id, kinds FROM block WHERE strands = ? AND period = ? ORDER BY id",
            (strands, period),
        ):
            out.append(Block(number, kinds, start))
            start += kinds
        return tuple(out)

    def column(
        self, block: Block, name: str, kind: np.dtype[Any], shape: tuple[int, ...] = ()
    ) -> npt.NDArray[Any]:
        """Return a column of a block, ``[*shape, kinds]``.

        Raises:
            InputError: It is damaged.
        """
        row = self.link.execute(
            "SELECT bytes FROM data WHERE block = ? AND name = ?", (block.number, name)
        ).fetchone()
        try:
            flat = np.frombuffer(row[0], kind)
            return flat if not shape else np.moveaxis(flat.reshape(block.kinds, *shape), 0, -1)
        except (TypeError, ValueError):
            raise self._damaged(block.number, name) from None

    def _damaged(self, block: int, name: str) -> InputError:
        return InputError(f"the library is damaged: block {block}, {name}", source=self.path)

    def read(self, strands: int, period: int, names: Sequence[str] = ()) -> Kinds:
        """Return all kinds of one size with these columns; with all of them when left out.

        Raises:
            InputError: The library is damaged.
        """
        shapes = layout(strands, period)
        blocks = self.blocks(strands, period)
        columns = {}
        for name in names or tuple(shapes):
            kind, shape = shapes[name]
            parts = [self.column(block, name, kind, shape) for block in blocks]
            columns[name] = np.concatenate([np.zeros((*shape, 0), kind), *parts], -1)
        return Kinds(strands, period, columns)

    def some(self, strands: int, period: int, where: I64) -> Kinds:
        """Return some kinds of one size with all their columns, without reading the others.

        Args:
            strands: S.
            period: P.
            where: Their numbers among all of the size, int64 ``[n]``, ascending.

        Raises:
            InputError: The library is damaged.
        """
        shapes = layout(strands, period)
        parts: dict[str, list[npt.NDArray[Any]]] = {name: [] for name in shapes}
        for block in self.blocks(strands, period):
            inside = where[(where >= block.start) & (where < block.start + block.kinds)]
            inside = inside - block.start
            if not len(inside):
                continue
            for name, (kind, shape) in shapes.items():
                if name in SCREEN:
                    parts[name].append(self.column(block, name, kind)[inside])
                else:
                    size = kind.itemsize * int(np.prod(shape, dtype=np.int64))
                    raw = self._pieces(block, name, inside, size)
                    flat = np.frombuffer(raw, kind).reshape(len(inside), *shape)
                    parts[name].append(np.moveaxis(flat, 0, -1))
        return Kinds(strands, period, {
            name: np.concatenate([np.zeros((*shape, 0), kind), *parts[name]], -1)
            for name, (kind, shape) in shapes.items()
        })  # fmt: skip

    def _pieces(self, block: Block, name: str, where: I64, size: int) -> bytes:
        """Return the bytes of some kinds in a column whose kinds are `size` bytes each."""
        row = self.link.execute(
            "SELECT id, LENGTH(bytes) FROM data WHERE block = ? AND name = ?", (block.number, name)
        ).fetchone()
        if row is None or row[1] != size * block.kinds:
            raise self._damaged(block.number, name)
        with self.link.blobopen("data", "bytes", row[0], readonly=True) as blob:
            out = []
            for n in where.tolist():
                blob.seek(n * size)
                out.append(blob.read(size))
        return b"".join(out)

    def add(self, batches: Iterable[Kinds], mark: str = "") -> int:
        """Add kinds that are not there yet, as one change; return how many they were.

        Args:
            batches: The kinds.
            mark: What they come from; noted in the same change (`marked`).

        Raises:
            MotifError: The file cannot be written; nothing is added.
        """

        def work() -> int:
            if mark:
                self.link.execute("INSERT OR IGNORE INTO about VALUES (?, '')", (mark,))
            return sum(self._add(kinds) for kinds in batches)

        return self._change(work)

    def marked(self, mark: str) -> bool:
        """Return whether what bears a mark was added."""
        row = self.link.execute("SELECT 1 FROM about WHERE key = ?", (mark,)).fetchone()
        return row is not None

    def complete(self, batches: Iterable[Kinds]) -> int:
        """Write the figures of kinds that are there without one; return how many they were.

        Raises:
            MotifError: The file cannot be written; nothing is changed.
        """
        return self._change(lambda: sum(self._complete(kinds) for kinds in batches))

    def _change(self, work: Any) -> int:
        try:
            self.link.execute("BEGIN IMMEDIATE")
            done = int(work())
            self.link.execute("COMMIT")
        except (sqlite3.Error, OSError) as bad:
            self._back()
            raise MotifError(f"{self.path}: cannot write: {bad}") from None
        except BaseException:
            self._back()
            raise
        return done

    def _back(self) -> None:
        if self.link.in_transaction:
            self.link.execute("ROLLBACK")

    def _add(self, kinds: Kinds) -> int:
        size = kinds.strands, kinds.period
        if not len(kinds):
            return 0
        # Many keys are there and few come: those that come are sorted, not those that are there.
        keys, first = np.unique(kinds["key"], return_index=True)
        known = self.read(*size, ["key"])["key"]
        place = np.minimum(np.searchsorted(keys, known), len(keys) - 1)
        there = np.zeros(len(keys), bool)
        there[place[keys[place] == known]] = True
        new = first[~there]
        if not len(new):
            return 0
        fresh = kinds.take(new)
        blocks = self.blocks(*size)
        if blocks and blocks[-1].kinds < BLOCK:
            last = blocks[-1]
            old = self.some(*size, np.arange(last.start, last.start + last.kinds))
            fresh = join([old, fresh])
            self.link.execute("DELETE FROM data WHERE block = ?", (last.number,))
            self.link.execute("DELETE FROM block WHERE id = ?", (last.number,))
        for start in range(0, len(fresh), BLOCK):
            self._write(fresh.take(np.arange(start, min(start + BLOCK, len(fresh)))))
        return len(new)

    def _write(self, kinds: Kinds) -> None:
        cursor = self.link.execute(
            "INSERT INTO block (strands, period, kinds) VALUES (?, ?, ?)",
            (kinds.strands, kinds.period, len(kinds)),
        )
        for name, column in kinds.columns.items():
            raw = np.ascontiguousarray(np.moveaxis(column, -1, 0)).tobytes()
            self.link.execute(
                "INSERT INTO data (block, name, bytes, sha256) VALUES (?, ?, ?, ?)",
                (cursor.lastrowid, name, raw, hashlib.sha256(raw).hexdigest()),
            )

    def _complete(self, kinds: Kinds) -> int:
        """Write the figures of some kinds where none stands."""
        done = 0
        order = np.argsort(kinds["key"])
        sorted_keys, figures = kinds["key"][order], kinds["figure"][order]
        shapes = layout(kinds.strands, kinds.period)
        for block in self.blocks(kinds.strands, kinds.period):
            key = self.column(block, "key", shapes["key"][0])
            figure = self.column(block, "figure", shapes["figure"][0]).copy()
            place = np.minimum(np.searchsorted(sorted_keys, key), len(order) - 1)
            mine = (figure == UNSEEN) & (sorted_keys[place] == key)
            if mine.any():
                figure[mine] = figures[place[mine]]
                raw = figure.tobytes()
                self.link.execute(
                    "UPDATE data SET bytes = ?, sha256 = ? WHERE block = ? AND name = 'figure'",
                    (raw, hashlib.sha256(raw).hexdigest(), block.number),
                )
                done += int(mine.sum())
        return done

    def damage(self) -> tuple[str, ...]:
        """Return what is wrong with the file: its pages, and the bytes of every column."""
        try:
            said = [str(row[0]) for row in self.link.execute("PRAGMA integrity_check")]
            wrong = [] if said == ["ok"] else said
            for block, name, raw, digest in self.link.execute(
                "SELECT block, name, bytes, sha256 FROM data ORDER BY block, id"
            ):
                if hashlib.sha256(raw).hexdigest() != digest:
                    wrong.append(
                        f"block {block}, {name}: its bytes are not those that were written"
                    )
        except sqlite3.DatabaseError as bad:
            return (f"the file cannot be read: {bad}",)
        return tuple(wrong)


@contextmanager
def opened(path: str | Path, *, make: bool = False) -> Iterator[Library]:
    """Open a library.

    Args:
        path: The file.
        make: Whether an empty one is made where none is; and whether it is written to.

    Raises:
        InputError: It is not there, or is no library.
        MotifError: It cannot be made or read.
    """
    path = Path(path)
    if not path.is_file() and (not make or path.exists()):
        raise InputError("expected a library; no such file", source=path)
    try:
        if make:
            path.parent.mkdir(parents=True, exist_ok=True)
            link = sqlite3.connect(path, timeout=PATIENCE_S, isolation_level=None)
        else:
            # Not "ro": what a killed writer left half done is taken back by whoever reads next.
            link = sqlite3.connect(f"{path.resolve().as_uri()}?mode=rw", uri=True,
                                   timeout=PATIENCE_S, isolation_level=None)  # fmt: skip
    except (sqlite3.Error, OSError) as bad:
        raise MotifError(f"{path}: cannot open: {bad}") from None
    try:
        try:
            if make:
                _made(link)
            else:
                link.execute("PRAGMA query_only = ON")
            link.execute(f"PRAGMA mmap_size = {MAPPED}")
            row = link.execute("SELECT value FROM about WHERE key = 'format'").fetchone()
        except sqlite3.OperationalError as bad:
            if "no such table" in str(bad):
                raise InputError("expected a library of designs", source=path) from None
            raise MotifError(f"{path}: cannot be used: {bad}") from None
        except sqlite3.DatabaseError as bad:
            raise InputError(f"expected a library of designs ({bad})", source=path) from None
        if row is None or row[0] != FORMAT:
            raise InputError(f"expected the format {FORMAT}", row and row[0], source=path)
        try:
            yield Library(path, link)
        except sqlite3.DatabaseError as bad:
            raise InputError(f"the library is damaged: {bad}", source=path) from None
    finally:
        link.close()


def _made(link: sqlite3.Connection) -> None:
    """Lay out an empty library, once, whoever comes first."""
    link.execute(f"PRAGMA page_size = {PAGE}")
    link.execute("BEGIN IMMEDIATE")
    there = link.execute("SELECT COUNT(*) FROM sqlite_master").fetchone()[0]
    if not there:
        for part in SCHEMA.split(";"):
            if part.strip():
                link.execute(part)
        link.execute("INSERT INTO about VALUES ('format', ?)", (FORMAT,))
    link.execute("COMMIT")
