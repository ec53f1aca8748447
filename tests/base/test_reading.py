"""What is no file is refused at once, and no text keeps the parser busy."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from motifsearch.base.errors import InputError
from motifsearch.base.tomlfile import (
    MOST_DEPTH,
    MOST_PARTS,
    check_form,
    read_file,
    read_text,
    read_toml,
)

CONFIGS = Path(__file__).parents[2] / "configs"
#: Seconds after which a process that should have ended long ago is ended.
LATE = 60.0

needs_pipes = pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")


def run(*words: object, cwd: Path) -> subprocess.CompletedProcess[str]:
    """Run the command; a process that hangs is killed, and the test fails."""
    return subprocess.run(
        [sys.executable, "-m", "motifsearch", *map(str, words)],
        capture_output=True, text=True, timeout=LATE, cwd=cwd, stdin=subprocess.DEVNULL,
    )  # fmt: skip


@needs_pipes
@pytest.mark.parametrize(
    "words",
    [
        ("target", "PIPE", "--strands", "8"),
        ("score", "PIPE"),
        ("search", "PIPE"),
        ("search", CONFIGS / "equal-use.toml", "--from", "PIPE"),
        ("cut", CONFIGS / "patterns" / "chevron.toml", "--stash", "PIPE"),
        ("calibrate", "PIPE"),
    ],
    ids=["target", "score", "brief", "from", "stash", "calibrate"],
)
def test_a_pipe_is_refused_without_waiting(tmp_path, words):
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    done = run(*[pipe if w == "PIPE" else w for w in words], cwd=tmp_path)
    assert done.returncode == 2
    assert "this is a pipe or a device" in done.stderr
    assert "Traceback" not in done.stderr


@needs_pipes
def test_a_book_of_bookings_that_is_a_pipe_is_refused(tmp_path):
    stash = tmp_path / "stash.toml"
    stash.write_bytes((CONFIGS / "stash-workshop.toml").read_bytes())
    os.mkfifo(tmp_path / "stash.bookings.jsonl")
    done = run("stash", "log", stash, cwd=tmp_path)
    assert done.returncode == 2
    assert "expected the book of bookings; this is a pipe or a device" in done.stderr


def test_a_device_and_a_folder_are_refused(tmp_path):
    with pytest.raises(InputError, match="a pipe or a device"):
        read_file("/dev/zero", "a target")
    with pytest.raises(InputError, match="a folder"):
        read_text(tmp_path, "a target")
    with pytest.raises(InputError, match="no such file"):
        read_text(tmp_path / "none", "a target")


def test_a_file_of_one_byte_too_many_is_refused(tmp_path):
    path = tmp_path / "x"
    path.write_bytes(b"12345")
    assert read_file(path, "a text", 5) == b"12345"
    with pytest.raises(InputError, match="at most 4 bytes"):
        read_file(path, "a text", 4)


@pytest.mark.parametrize(
    "text",
    [
        "a" + ".a" * 60_000 + " = 1\n",
        "[a" + ".a" * 60_000 + "]\nx = 1\n",
        "x = {" + "a . " * 60_000 + "a = 1}\n",
        "x = {" + '"a"."b".' * 30_000 + "a = 1}\n",
        "x = " + "[" * 60_000 + "]" * 60_000 + "\n",
        "x = " + "{a=" * 60_000 + "1" + "}" * 60_000 + "\n",
    ],
    ids=["key", "table", "blanks", "quoted", "lists", "tables"],
)
def test_absurd_keys_and_nesting_are_refused_before_they_are_parsed(tmp_path, text):
    path = tmp_path / "x.toml"
    path.write_text(text, encoding="utf-8")
    done = run("score", path, cwd=tmp_path)
    assert done.returncode == 2
    assert "at most" in done.stderr
    assert len(done.stderr) < 400


def test_what_only_looks_like_a_long_key_is_read(tmp_path):
    path = tmp_path / "x.toml"
    dots = "." * 100
    brackets = "[" * 100
    path.write_text(
        f'# {dots}{brackets}\na = "{dots}{brackets} \\" {dots}"\nb = \'{dots}\'\n'
        f'c = """\n{dots} "" {brackets}\n"""\nd = \'\'\'{dots}\n{brackets}\'\'\'\n'
        f'e = """x""""\nf = [{", ".join(["1.5"] * 100)}]\n'
        + "".join(f"[t{n}]\nx.y = 1.25\n" for n in range(100))
        + "".join("[[u]]\nx = [[1.5], [2.5]]\n" for _ in range(100)),
        encoding="utf-8",
    )
    table = read_toml(path, "a text")
    assert table.text("e") == 'x"'
    assert len(table.data["u"]) == 100


def test_the_bounds_are_where_they_say():
    check_form("a" + ".a" * (MOST_PARTS - 1) + " = 1", "a text", "x")
    check_form("x = " + "[" * MOST_DEPTH + "]" * MOST_DEPTH, "a text", "x")
    with pytest.raises(InputError, match=f"at most {MOST_PARTS} parts"):
        check_form("a" + ".a" * MOST_PARTS + " = 1", "a text", "x")
    with pytest.raises(InputError, match=f"at most {MOST_DEPTH} lists"):
        check_form("x = " + "[" * (MOST_DEPTH + 1) + "]" * (MOST_DEPTH + 1), "a text", "x")
