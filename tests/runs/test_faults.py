"""Faults with real processes: signals, kill -9, a full disk, a folder that cannot be written.

After each, every file is whole or absent, ``--resume`` goes on, and the outcome is that of a run
that nothing happened to.  ``MOTIF_KILLS=50`` kills at fifty moments instead of a few.
"""

from __future__ import annotations

import contextlib
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import time
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest

from motifsearch.base.tomlfile import write_atomic
from motifsearch.pattern.files import read_pattern

CONFIGS = Path(__file__).parents[2] / "configs"
CHEVRON = str(CONFIGS / "patterns" / "chevron.toml")
KILLS = int(os.environ.get("MOTIF_KILLS", "3"))
BRIEF = """\
title = "Broken off"
stash = "stash.toml"
strands = 6
length_mm = 80
colours_max = 3

[limits]
repeat_rows_max = 12

[search]
seed = 11
population = 30
generations = 24
exchange_every = 4
rest_after = 0
periods = [4, 6]

[gallery]
size = 1
"""
#: No wait is longer; a process that has not moved by then is stuck.
PATIENCE_S = 120

linux = pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="reads /proc")


def tree(folder: Path) -> dict[str, bytes]:
    return {
        p.relative_to(folder).as_posix(): p.read_bytes()
        for p in sorted(folder.rglob("*"))
        if p.is_file()
    }


def command(*args: object) -> list[str]:
    return [sys.executable, "-m", "motifsearch", *(str(a) for a in args)]


def run(*args: object, **more) -> subprocess.CompletedProcess[str]:
    done = subprocess.run(
        command(*args), capture_output=True, text=True, timeout=PATIENCE_S, check=False, **more
    )
    assert "Traceback" not in done.stderr, done.stderr
    return done


@contextlib.contextmanager
def started(*args: object) -> Iterator[subprocess.Popen[str]]:
    """Start a process in a session of its own, and leave nothing of it behind."""
    process = subprocess.Popen(
        command(*args), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        start_new_session=True,
    )  # fmt: skip
    try:
        yield process
    finally:
        with contextlib.suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
        process.communicate(timeout=PATIENCE_S)


def until(true: Callable[[], object], process: subprocess.Popen[str] | None = None) -> None:
    """Wait until something is so."""
    end = time.monotonic() + PATIENCE_S
    while not true():
        assert time.monotonic() < end, "waited too long"
        assert process is None or process.poll() is None, process.communicate()
        time.sleep(0.005)


def session_of(leader: int) -> dict[int, str]:
    """Return the living processes of a session but its leader: pid to command line."""
    out = {}
    for stat in Path("/proc").glob("[0-9]*/stat"):
        with contextlib.suppress(OSError, ValueError):
            fields = stat.read_text().rpartition(")")[2].split()
            pid = int(stat.parent.name)
            if int(fields[3]) == leader and pid != leader and fields[0] not in "ZX":
                line = (stat.parent / "cmdline").read_bytes().replace(b"\0", b" ").decode()
                out[pid] = line
    return out


def check_whole(folder: Path) -> None:
    """Check that every file that bears its name is whole."""
    if not folder.exists():
        return
    for path in folder.rglob("*"):
        if not path.is_file() or any(part.startswith(".tmp-") for part in path.parts):
            continue
        raw = path.read_bytes()
        assert raw, path
        if path.suffix == ".toml":
            tomllib.loads(raw.decode())
        elif path.suffix == ".json":
            json.loads(raw)
        elif path.suffix == ".png":
            assert raw.endswith(b"IEND\xaeB`\x82"), path
        elif path.suffix == ".pdf":
            assert raw.rstrip().endswith(b"%%EOF"), path
        elif path.suffix == ".html":
            assert raw.rstrip().endswith(b"</html>"), path
        elif path.suffix == ".npz":
            with np.load(path) as files:
                assert all(files[name] is not None for name in files.files)
        else:
            assert raw.endswith(b"\n"), path
    candidates = folder / "candidates"
    if candidates.exists():
        for one in candidates.iterdir():
            assert len(list(one.iterdir())) == 6, one
            read_pattern(one / "pattern.toml")


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    folder = tmp_path_factory.mktemp("faults")
    shutil.copy(CONFIGS / "stash-workshop.toml", folder / "stash.toml")
    (folder / "brief.toml").write_text(BRIEF, encoding="utf-8")
    endless = BRIEF.replace("generations = 24", "generations = 1000000")
    (folder / "endless.toml").write_text(endless, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def whole(place):
    """The run that nothing happened to, and how long it took."""
    folder = place / "whole"
    begun = time.monotonic()
    done = run("search", place / "brief.toml", "--out", folder, "--workers", 1)
    assert done.returncode == 0, done.stderr
    return folder, time.monotonic() - begun


def go_on(place: Path, folder: Path) -> subprocess.CompletedProcess[str]:
    """Go on with a broken run as its user would: resume, or begin again."""
    if (folder / "checkpoint.npz").exists():
        return run("search", "--resume", folder, "--workers", 1)
    return run("search", place / "brief.toml", "--out", folder, "--overwrite", "--workers", 1)


# --- signals -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("number", "why", "workers"),
    [(signal.SIGINT, "interrupted", 1), (signal.SIGTERM, "terminated", 1),
     (signal.SIGINT, "interrupted", 2)],
)  # fmt: skip
def test_one_signal_ends_with_a_gallery(place, tmp_path, number, why, workers):
    """As Ctrl-C in a terminal does, the signal goes to the whole process group."""
    folder = tmp_path / "run"
    args = ("search", place / "endless.toml", "--out", folder, "--workers", workers)
    with started(*args) as process:
        until((folder / "checkpoint.npz").exists, process)
        os.killpg(process.pid, number) if number == signal.SIGINT else process.send_signal(number)
        out, err = process.communicate(timeout=PATIENCE_S)
    assert process.returncode == 0, err
    assert "Traceback" not in err
    assert f"To go on: motifsearch search --resume {folder}" in out
    info = json.loads((folder / "run.json").read_text())
    assert info["stopped_by"] == why
    assert len(list((folder / "candidates").iterdir())) == 1
    check_whole(folder)
    assert not list(folder.rglob(".tmp-*"))


@pytest.mark.slow
def test_interrupted_and_gone_on_with_is_the_whole_run(place, whole, tmp_path):
    folder = tmp_path / "run"
    with started("search", place / "brief.toml", "--out", folder, "--workers", 1) as process:
        until((folder / "checkpoint.npz").exists, process)
        process.send_signal(signal.SIGINT)
        _, err = process.communicate(timeout=PATIENCE_S)
    assert process.returncode == 0, err
    if json.loads((folder / "run.json").read_text())["stopped_by"] == "interrupted":
        done = run("search", "--resume", folder, "--workers", 1)
        assert done.returncode == 0, done.stderr
    same_run(folder, whole[0])


def same_run(folder: Path, other: Path) -> None:
    """Compare two run folders, bytes for bytes (JSON by its data, so that a difference shows)."""
    one, two = tree(folder), tree(other)
    assert one.keys() == two.keys()
    assert json.loads(one["run.json"]) == json.loads(two["run.json"])
    for name in one:
        if name != "run.json":
            assert one[name] == two[name], name


def test_two_signals_break_off(place, tmp_path):
    folder = tmp_path / "run"
    with started("search", place / "endless.toml", "--out", folder, "--workers", 1) as process:
        until((folder / "checkpoint.npz").exists, process)
        process.send_signal(signal.SIGINT)
        time.sleep(0.05)
        process.send_signal(signal.SIGINT)
        _, err = process.communicate(timeout=PATIENCE_S)
    assert "Traceback" not in err
    assert process.returncode == 130
    assert err.endswith("motifsearch: stopped.\n")
    check_whole(folder)


@pytest.mark.parametrize("call", ["fsync", "replace"])
def test_broken_off_while_a_file_is_written(tmp_path, monkeypatch, call):
    """Ctrl-C in the middle of a write: the old file is whole, and nothing lies about."""
    path = tmp_path / "file.toml"
    path.write_text("old")

    def stop(*args):
        raise KeyboardInterrupt

    monkeypatch.setattr(os, call, stop)
    with pytest.raises(KeyboardInterrupt):
        write_atomic(path, "new")
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]


# --- kill -9 -------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize("number", range(KILLS))
def test_killed_at_a_random_moment(place, whole, tmp_path, number):
    reference, seconds = whole
    moment = random.Random(number).uniform(0.25, 1.0) * seconds
    folder = tmp_path / "run"
    with started("search", place / "brief.toml", "--out", folder, "--workers", 1) as process:
        with contextlib.suppress(subprocess.TimeoutExpired):
            process.wait(moment)
        process.kill()
        process.wait()
    check_whole(folder)
    if process.returncode == 0:
        same_run(folder, reference)
        return
    done = go_on(place, folder)
    # Killed after its last file there is nothing to go on with: the gallery is whole.
    assert done.returncode == 0 or "has done its" in done.stderr, done.stderr
    same_run(folder, reference)
    assert not list(folder.rglob(".tmp-*"))


def test_killed_while_the_gallery_is_written(place, whole, tmp_path):
    """All generations are done, the checkpoint is there, the gallery is not."""
    folder = tmp_path / "run"
    with started("search", place / "brief.toml", "--out", folder, "--workers", 1) as process:
        until(lambda: list(folder.glob(".motifsearch/next-*")), process)
        process.kill()
        process.wait()
    check_whole(folder)
    assert not (folder / "candidates").exists()
    done = go_on(place, folder)
    assert done.returncode == 0, done.stderr
    same_run(folder, whole[0])


@pytest.mark.slow
def test_killed_when_it_had_come_to_rest(place, tmp_path):
    text = BRIEF.replace("rest_after = 0", "rest_after = 1").replace("= 24", "= 4000")
    # A space that is too large to be seen whole, and in which little gets better soon.
    text = text.replace("[4, 6]", "[4]").replace("rest_after = 1", "rest_after = 2")
    brief = place / "rest.toml"
    brief.write_text(text, encoding="utf-8")
    done = run("search", brief, "--out", tmp_path / "whole", "--workers", 1)
    assert done.returncode == 0
    info = json.loads((tmp_path / "whole" / "run.json").read_text())
    assert info["stopped_by"] == "rest"
    folder = tmp_path / "run"
    with started("search", brief, "--out", folder, "--workers", 1) as process:
        until(lambda: list(folder.glob(".motifsearch/next-*")), process)
        process.kill()
        process.wait()
    done = run("search", "--resume", folder, "--workers", 1)
    assert done.returncode == 0, done.stderr
    same_run(folder, tmp_path / "whole")


def test_killed_between_the_renames(whole, tmp_path):
    """The candidates of before are then under the name that _swap gives them."""
    folder = tmp_path / "run"
    shutil.copytree(whole[0], folder)
    (folder / "candidates").rename(folder / ".tmp-old-candidates~")
    done = run("gallery", folder)
    assert done.returncode == 0, done.stderr
    assert len(list((folder / "candidates").iterdir())) == 1


@linux
def test_workers_end_with_their_run(place, tmp_path):
    """kill -9 of the run leaves no worker that computes on."""
    folder = tmp_path / "run"
    args = ("search", place / "endless.toml", "--out", folder, "--workers", 2)
    with started(*args) as process:
        until((folder / "checkpoint.npz").exists, process)
        assert len(session_of(process.pid)) >= 2
        process.kill()
        process.wait()
        until(lambda: not session_of(process.pid))
    check_whole(folder)


@linux
def test_a_worker_that_is_killed(place, whole, tmp_path):
    """The work of a lost worker is done again: the same bytes."""
    folder = tmp_path / "run"
    args = ("search", place / "brief.toml", "--out", folder, "--workers", 2)

    def spawned(process):
        return [p for p, line in session_of(process.pid).items() if "spawn_main" in line]

    with started(*args) as process:
        until(lambda: len(spawned(process)) == 2, process)
        until((folder / "checkpoint.npz").exists, process)
        for pid in spawned(process)[:1]:
            os.kill(pid, signal.SIGKILL)
        _, err = process.communicate(timeout=PATIENCE_S)
    assert process.returncode == 0, err
    assert "Traceback" not in err
    assert tree(folder) == tree(whole[0])


# --- where nothing can be written ----------------------------------------------------------


@linux
def test_a_folder_that_cannot_be_made(place):
    """/proc takes no folders, whoever asks."""
    done = run("search", place / "brief.toml", "--out", "/proc/run", "--workers", 1)
    assert done.returncode == 1
    assert done.stderr.startswith("motifsearch: /proc/run: cannot make the run folder: ")
    assert done.stderr.count("\n") == 1


@pytest.mark.skipif(os.geteuid() == 0, reason="root writes everywhere")
def test_a_read_only_folder(place, tmp_path):
    folder = tmp_path / "locked"
    folder.mkdir()
    folder.chmod(0o555)
    try:
        for out in (folder, folder / "run"):
            done = run("search", place / "brief.toml", "--out", out, "--workers", 1)
            assert done.returncode == 1
            assert done.stderr.count("\n") == 1
        assert list(folder.iterdir()) == []
    finally:
        folder.chmod(0o755)


def no_file_above(limit: int) -> Callable[[], None]:
    """Return what lets a process write files of so many bytes, as a disk that is nearly full."""
    import resource

    return lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))


@pytest.mark.slow
@pytest.mark.parametrize("limit", [0, 300, 60_000])
def test_a_full_disk(place, tmp_path, limit):
    folder = tmp_path / "run"
    done = run(
        "search", place / "brief.toml", "--out", folder, "--workers", 1,
        preexec_fn=no_file_above(limit),
    )  # fmt: skip
    assert done.returncode == 1
    assert done.stderr.startswith(f"motifsearch: {folder}")
    assert "cannot write: File too large" in done.stderr
    assert done.stderr.count("\n") == 1
    assert not list(folder.rglob(".tmp-*"))
    check_whole(folder)
    if limit == 60_000:  # there is room again
        assert go_on(place, folder).returncode == 0


def test_a_full_disk_leaves_the_old_run_as_it_was(whole, tmp_path):
    folder = tmp_path / "run"
    shutil.copytree(whole[0], folder)
    before = tree(folder)
    limit = no_file_above(20_000)
    done = run("gallery", folder, preexec_fn=limit)
    assert done.returncode == 1
    assert "cannot write: File too large" in done.stderr
    assert tree(folder) == before
    assert not list(folder.rglob(".tmp-*"))
    done = run("search", "--resume", folder, "--generations", 28, "--workers", 1, preexec_fn=limit)
    assert done.returncode == 1
    assert "cannot write: File too large" in done.stderr
    after = tree(folder)
    for name in ("brief.toml", ".motifsearch/written.json"):
        after[name] = before[name]  # it says 28 generations now
    assert after == before


HELP = ["--help"]


@pytest.mark.parametrize("args", [["score", CHEVRON, "--json"], HELP])
def test_output_that_goes_nowhere(args):
    """A full disk behind ``>``: one message, no traceback."""
    if not Path("/dev/full").exists():
        pytest.skip("no /dev/full here")
    with open("/dev/full", "w") as full:
        done = subprocess.run(
            command(*args), stdout=full, stderr=subprocess.PIPE, text=True, timeout=PATIENCE_S,
            check=False,
        )  # fmt: skip
    assert done.returncode != 0
    assert "Traceback" not in done.stderr
    assert "No space left on device" in done.stderr


# --- two at once ---------------------------------------------------------------------------


def test_two_runs_into_one_folder(place, whole, tmp_path):
    """The first to write has the folder; the other says so, or both wrote the same bytes."""
    folder = tmp_path / "run"
    args = ("search", place / "brief.toml", "--out", folder, "--workers", 1)
    with started(*args) as one, started(*args) as two:
        ends = [p.communicate(timeout=PATIENCE_S) for p in (one, two)]
    codes = sorted(p.returncode for p in (one, two))
    assert codes in ([0, 0], [0, 2]), ends
    assert all("Traceback" not in err for _, err in ends)
    if codes == [0, 2]:
        assert any("the run folder exists already" in err or "at work" in err for _, err in ends)
    assert tree(folder) == tree(whole[0])
