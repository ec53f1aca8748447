"""The file of a library: whole changes, one of each kind, damage that is named."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from motifsearch.base.errors import InputError, MotifError
from motifsearch.library import store
from motifsearch.library.building import kinds_in, together, with_figures
from motifsearch.library.columns import UNSEEN, join
from motifsearch.library.store import opened


def some(n: int, seed: int = 1, strands: int = 8, period: int = 4):
    rng = np.random.default_rng(seed)
    knots = rng.choice(4, (period, strands // 2, n), p=[0.4, 0.4, 0.1, 0.1]).astype(np.uint8)
    colours = rng.integers(0, 3, (strands, n)).astype(np.uint8)
    return kinds_in(knots, colours)


def content(path: Path) -> dict[tuple[int, int], dict[str, list[object]]]:
    out = {}
    with opened(path) as library:
        for size in library.sizes():
            kinds = library.read(size.strands, size.period)
            order = np.argsort(kinds["key"])
            out[size.strands, size.period] = {
                name: column[..., order].tolist() for name, column in kinds.columns.items()
            }
    return out


def test_a_kind_is_there_once(tmp_path):
    batches = some(200)
    number = sum(map(len, batches))
    with opened(tmp_path / "a.sqlite", make=True) as library:
        assert library.add(batches) == number == len(library)
        assert library.add(batches) == 0
        assert library.add([join([b, b]) for b in batches]) == 0
        assert len(library) == number
        assert library.damage() == ()


def test_by_parts_comes_to_the_same_as_at_once(tmp_path, monkeypatch):
    monkeypatch.setattr(store, "BLOCK", 64)
    batches = [k for period in (2, 4, 6) for k in some(150, period, 7, period)]
    with opened(tmp_path / "once.sqlite", make=True) as library:
        library.add(together(batches))
        assert max(b.kinds for s in library.sizes() for b in library.blocks(7, s.period)) <= 64
    with opened(tmp_path / "parts.sqlite", make=True) as library:
        for kinds in batches:
            for k in range(0, len(kinds), 17):
                library.add([kinds.take(np.arange(k, min(k + 17, len(kinds))))])
    assert content(tmp_path / "once.sqlite") == content(tmp_path / "parts.sqlite")


def test_some_are_those_of_all(tmp_path, monkeypatch):
    monkeypatch.setattr(store, "BLOCK", 50)
    with opened(tmp_path / "a.sqlite", make=True) as library:
        library.add(some(300))
        size = max(library.sizes(), key=lambda s: s.kinds)
        every = library.read(size.strands, size.period)
        where = np.arange(3, size.kinds, 7)
        picked = library.some(size.strands, size.period, where)
        assert len(library.blocks(size.strands, size.period)) > 1
        for name in every.columns:
            assert (picked[name] == every[name][..., where]).all(), name
        assert len(library.some(size.strands, size.period, where[:0])) == 0


def test_figures_are_filled_in_and_stay(tmp_path):
    batches = some(40)
    with opened(tmp_path / "a.sqlite", make=True) as library:
        library.add(batches)
        part = batches[0].take(np.arange(0, len(batches[0]), 2))
        seen = with_figures(part)
        assert library.complete([seen]) == len(part)
        assert library.complete([seen]) == 0
        now = library.read(part.strands, part.period, ["key", "figure"])
        figures = dict(zip(now["key"].tolist(), now["figure"].tolist(), strict=True))
        assert [figures[k] for k in part["key"].tolist()] == seen["figure"].tolist()
        assert sum(f == UNSEEN for f in figures.values()) == len(batches[0]) - len(part)
        assert library.damage() == ()


def test_bytes_that_were_not_written_are_named(tmp_path):
    path = tmp_path / "a.sqlite"
    with opened(path, make=True) as library:
        library.add(some(50))
    link = sqlite3.connect(path)
    link.execute("UPDATE data SET bytes = zeroblob(LENGTH(bytes)) WHERE name = 'movement'")
    link.commit()
    link.close()
    with opened(path) as library:
        assert any("movement" in line for line in library.damage())


def test_a_column_that_is_too_short_is_an_error_and_no_wrong_answer(tmp_path):
    path = tmp_path / "a.sqlite"
    with opened(path, make=True) as library:
        library.add(some(50))
        size = library.sizes()[-1]
    link = sqlite3.connect(path)
    link.execute("UPDATE data SET bytes = x'00'")
    link.commit()
    link.close()
    with opened(path) as library:
        with pytest.raises(InputError, match="damaged"):
            library.read(size.strands, size.period)
        with pytest.raises(InputError, match="damaged"):
            library.some(size.strands, size.period, np.array([0]))


@pytest.mark.parametrize("data", [b"", b"no library\n" * 100, b"SQLite format 3\x00" + bytes(300)])
def test_another_file_is_refused_and_left_as_it_is(tmp_path, data):
    path = tmp_path / "a.sqlite"
    path.write_bytes(data)
    with pytest.raises((InputError, MotifError)), opened(path):
        pass
    assert path.read_bytes() == data
    if data:
        with pytest.raises((InputError, MotifError)), opened(path, make=True):
            pass
        assert path.read_bytes() == data


def test_a_database_of_something_else_is_refused(tmp_path):
    path = tmp_path / "a.sqlite"
    link = sqlite3.connect(path)
    link.execute("CREATE TABLE recipes (name TEXT)")
    link.commit()
    link.close()
    for make in (False, True):
        with pytest.raises(InputError, match="expected a library"), opened(path, make=make):
            pass


def test_where_none_is_none_is_read(tmp_path):
    with pytest.raises(InputError, match="no such file"), opened(tmp_path / "none.sqlite"):
        pass
    assert list(tmp_path.iterdir()) == []


def test_what_is_only_read_is_not_written(tmp_path):
    path = tmp_path / "a.sqlite"
    with opened(path, make=True) as library:
        library.add(some(20))
    before = path.read_bytes()
    with opened(path) as library, pytest.raises(MotifError, match="cannot write"):
        library.add(some(20, 2))
    assert path.read_bytes() == before


WRITER = """
import sys
import numpy as np
sys.path.insert(0, {tests!r})
from library.test_library_file import some
from motifsearch.library.store import opened
print("ready", flush=True)
with opened({path!r}, make=True) as library:
    for k in range({first}, {last}):
        library.add(some(30, k))
        print(k, flush=True)
"""


def writer(path: Path, first: int, last: int) -> subprocess.Popen[str]:
    tests = str(Path(__file__).parents[1])
    text = WRITER.format(tests=tests, path=str(path), first=first, last=last)
    return subprocess.Popen([sys.executable, "-c", text], stdout=subprocess.PIPE, text=True,
                            env={**os.environ, "PYTHONPATH": str(Path(tests).parent)})  # fmt: skip


@pytest.mark.slow
def test_a_killed_writer_leaves_whole_changes(tmp_path):
    path = tmp_path / "a.sqlite"
    done = 0
    for _ in range(4):
        with writer(path, done, 10_000) as process:
            assert process.stdout is not None
            seen = [process.stdout.readline() for _ in range(5)]
            time.sleep(0.01)  # wherever it is by then
            process.send_signal(signal.SIGKILL)
            seen += process.stdout.readlines()
        done = max(int(line) for line in seen if line.strip().isdecimal())
        with opened(path) as library:
            assert library.damage() == ()
            there = {int(k) for s in library.sizes()
                     for k in library.read(s.strands, s.period, ["key"])["key"]}  # fmt: skip
        for k in range(done + 1):
            assert {int(key) for kinds in some(30, k) for key in kinds["key"]} <= there


@pytest.mark.slow
def test_two_writers_at_once_lose_nothing(tmp_path):
    path = tmp_path / "a.sqlite"
    with writer(path, 0, 20) as one, writer(path, 20, 40) as other:
        assert one.wait() == 0
        assert other.wait() == 0
    want = {int(k) for n in range(40) for kinds in some(30, n) for k in kinds["key"]}
    with opened(path) as library:
        keys = [int(k) for s in library.sizes()
                for k in library.read(s.strands, s.period, ["key"])["key"]]  # fmt: skip
        assert len(keys) == len(set(keys))
        assert set(keys) == want
        assert library.damage() == ()
