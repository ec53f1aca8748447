"""Workers on a Dask cluster: the same bytes, whatever becomes of scheduler and workers.

The cluster is a real one (``distributed``): a `LocalCluster` of two worker processes, and
schedulers and workers started as a maker would, all on 127.0.0.1.
"""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import as_completed
from pathlib import Path
from typing import Any

import pytest
from commands.test_cli import run, tree
from library.test_library_file import content

import motifsearch as ms
from motifsearch.base.errors import InputError, MotifError
from motifsearch.runs import cluster as clusters
from motifsearch.runs.building import library_build
from motifsearch.runs.hooks import Hooks
from motifsearch.runs.keeping import library_damage
from motifsearch.runs.workers import working

distributed = pytest.importorskip("distributed", reason="needs the extra dask")

CONFIGS = Path(__file__).parents[2] / "configs"
ASK = {"stash": str(CONFIGS / "stash-workshop.toml"), "strands": 8, "wrist_mm": 155.0}
TINY = {**ASK, "search.generations": 12, "search.exchange_every": 4, "search.population": 60,
        "search.rest_after": 0, "search.periods": [4, 6], "gallery.size": 1}  # fmt: skip
#: No wait is longer; what has not come by then does not come.
PATIENCE_S = 120

pytestmark = pytest.mark.slow


def until(true: Callable[[], object]) -> None:
    end = time.monotonic() + PATIENCE_S
    while not true():
        assert time.monotonic() < end, "waited too long"
        time.sleep(0.005)


@pytest.fixture(scope="module")
def two() -> Iterator[Any]:
    """A cluster of two worker processes; who is killed is started again by its nanny."""
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, host="127.0.0.1",
        dashboard_address=None, silence_logs=50,
    ) as own:  # fmt: skip
        yield own


@pytest.fixture(scope="module")
def alone(tmp_path_factory) -> dict[str, bytes]:
    """The files of a search in this process."""
    folder = tmp_path_factory.mktemp("alone") / "run"
    ms.search(None, overrides=TINY, out=folder)
    return files(folder)


def files(folder: Path) -> dict[str, bytes]:
    return {name: data for name, data in tree(folder).items() if not name.startswith(".")}


def kill_one_at_work(own: Any) -> int:
    """Kill a worker that is in the middle of a task, as soon as there is one; return its pid."""
    killed: list[int] = []

    def kill() -> bool:
        for nanny in list(own.workers.values()):
            state = own.scheduler.workers.get(nanny.worker_address)
            if state is not None and state.processing and nanny.pid:
                os.kill(nanny.pid, signal.SIGKILL)
                killed.append(nanny.pid)
                return True
        return False

    until(kill)
    return killed[0]


@contextlib.contextmanager
def killing(own: Any) -> Iterator[list[int]]:
    """Kill a worker that is at work, meanwhile."""
    killed: list[int] = []
    thread = threading.Thread(target=lambda: killed.append(kill_one_at_work(own)))
    thread.start()
    try:
        yield killed
    finally:
        thread.join()


class Started:
    """A scheduler, and workers without anybody who starts them again, as processes."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.file = folder / "scheduler.json"
        self.processes: list[subprocess.Popen[bytes]] = []
        self.scheduler = self.start(
            "scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard",
            "--scheduler-file", self.file,
        )  # fmt: skip
        until(lambda: self.file.is_file() and self.file.read_text().endswith("}"))
        self.address: str = json.loads(self.file.read_text())["address"]

    def start(self, *args: object, path: Path | None = None) -> subprocess.Popen[bytes]:
        before = [] if path is None else [str(path)]
        inherited = [p for p in (os.environ.get("PYTHONPATH", ""),) if p]
        tests = str(Path(__file__).parents[1])
        with (self.folder / f"{len(self.processes)}.log").open("wb") as log:
            process = subprocess.Popen(
                [sys.executable, "-m", "dask", *map(str, args)], stdout=log, stderr=log,
                cwd=self.folder,
                env={**os.environ, "PYTHONPATH": os.pathsep.join([*before, tests, *inherited])},
            )  # fmt: skip
        self.processes.append(process)
        return process

    def worker(self, path: Path | None = None) -> subprocess.Popen[bytes]:
        return self.start(
            "worker", self.address, "--host", "127.0.0.1", "--nthreads", "1", "--no-nanny",
            "--no-dashboard", path=path,
        )  # fmt: skip

    def end(self) -> None:
        for process in self.processes:
            process.kill()
            process.wait()


@pytest.fixture
def started(tmp_path) -> Iterator[Started]:
    own = Started(tmp_path)
    try:
        yield own
    finally:
        own.end()


def kill_once(mark: str) -> int:
    """Die at the first call; return who does it at the second."""
    if not Path(mark).exists():
        Path(mark).touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return os.getpid()


def fails_there(main: int, number: int) -> tuple[int, int]:
    """Fail in every process that a Dask worker is in."""
    if os.getpid() != main and distributed.worker.Worker._instances:
        raise RuntimeError("not here")
    return os.getpid(), number


def waits_for(mark: str, number: int) -> int:
    until(Path(mark).exists)
    return number


def plain(number: int) -> int:
    return number * number


def refused(number: int) -> int:
    raise InputError("expected another number", number)


def test_a_search_writes_the_same_though_a_worker_is_killed_at_its_work(two, alone, tmp_path):
    with killing(two) as killed:
        run_ = ms.search(
            None, overrides=TINY, out=tmp_path / "run", workers=f"dask:{two.scheduler_address}"
        )
    assert len(killed) == 1
    assert files(tmp_path / "run") == alone
    assert run_.said == ()


def test_a_task_whose_worker_dies_is_done_by_another(two, tmp_path):
    here = os.getpid()
    with clusters.cluster(two.scheduler_address) as hands:
        assert hands.threads >= 1
        first = hands.submit(kill_once, str(tmp_path / "mark"))
        others = [hands.submit(plain, n) for n in range(20)]
        # It is an executor like those of the standard library.
        done = [future.result() for future in as_completed(others, timeout=PATIENCE_S)]
        assert sorted(done) == [n * n for n in range(20)]
        assert list(hands.map(plain, [3, 1, 2])) == [9, 1, 4]
        assert first.result(timeout=PATIENCE_S) != here
        with pytest.raises(InputError, match="expected another number, found 7"):
            hands.submit(refused, 7).result(timeout=PATIENCE_S)
        assert hands.said == ()
        assert not hands.lost


def test_what_workers_fail_at_is_done_here_and_said(two):
    with clusters.cluster(two.scheduler_address) as hands:
        pids = {hands.submit(os.getpid).result(timeout=PATIENCE_S) for _ in range(4)}
        jobs = [hands.submit(fails_there, os.getpid(), n) for n in range(6)]
        made = [job.result(timeout=PATIENCE_S) for job in jobs]
    assert [number for _, number in made] == list(range(6))
    assert not pids & {pid for pid, _ in made}
    assert "gave no result (RuntimeError: not here)" in hands.said[0]
    # It is not asked for ever.
    assert hands.lost
    assert "failed again and again" in hands.said[1]


def test_a_library_is_built_the_same_though_a_worker_is_killed(two, tmp_path):
    briefs = [CONFIGS / "only-my-threads.toml", CONFIGS / "equal-use.toml"]
    few = {"search.generations": 5, "search.population": 30, "search.periods": [4]}
    one = library_build(tmp_path / "one.sqlite", briefs, overrides=few, seeds=2)
    assert one.searched == 4
    assert one.kinds > 20
    with killing(two) as killed:
        other = library_build(
            tmp_path / "two.sqlite", briefs, overrides=few, seeds=2,
            workers=f"dask:{two.scheduler_address}",
        )  # fmt: skip
    assert len(killed) == 1
    assert other == one
    assert content(tmp_path / "one.sqlite") == content(tmp_path / "two.sqlite")
    assert (tmp_path / "one.sqlite").read_bytes() == (tmp_path / "two.sqlite").read_bytes()
    assert library_damage(tmp_path / "two.sqlite") == ()
    # What is there already is not searched again.
    again = library_build(tmp_path / "two.sqlite", briefs, overrides=few, seeds=2)
    assert (again.searched, again.before, again.kinds) == (0, 4, 0)


def test_a_scheduler_that_goes_away_costs_no_result(started, alone, tmp_path):
    started.worker()
    seen = []

    def progress(_: object) -> None:
        if not seen:
            started.scheduler.kill()
        seen.append(started.scheduler.wait())

    run_ = ms.search(
        None, overrides=TINY, out=tmp_path / "run", workers=f"dask:{started.address}",
        hooks=Hooks(progress=progress),
    )  # fmt: skip
    assert len(seen) > 1  # it went on
    assert files(tmp_path / "run") == alone
    assert f"The cluster at {started.address} went away" in run_.said[-1]


@pytest.mark.parametrize(
    ("frozen", "why"), [(False, "has no workers any more"), (True, "does not answer any more")]
)
def test_nobody_is_waited_for_for_ever(started, tmp_path, monkeypatch, frozen, why):
    for name, value in (("PATIENCE", 2), ("LOOK_S", 0.1), ("ANSWER_S", 0.5)):
        monkeypatch.setattr(clusters, name, value)
    worker = started.worker()
    with working(f"dask:{started.address}", 1) as hands:
        assert isinstance(hands, clusters.Cluster)
        jobs = [hands.submit(waits_for, str(tmp_path / "mark"), n) for n in range(3)]
        if frozen:
            started.scheduler.send_signal(signal.SIGSTOP)
        else:
            worker.kill()
        until(lambda: hands.lost)
        (tmp_path / "mark").touch()
        assert [job.result(timeout=PATIENCE_S) for job in jobs] == [0, 1, 2]
        assert why in hands.said[0]
        # And nothing more is given to it.
        assert hands.submit(plain, 5).result(timeout=PATIENCE_S) == 25


def test_other_versions_are_refused_before_the_run(started, tmp_path):
    old = tmp_path / "old" / "numpy-1.0.0.dist-info"
    old.mkdir(parents=True)
    (old / "METADATA").write_text("Metadata-Version: 2.1\nName: numpy\nVersion: 1.0.0\n")
    worker = started.worker(old.parent)
    out = tmp_path / "run"
    text = f"dask:{started.address}"
    ask = ["--stash", ASK["stash"], "--strands", 8, "--wrist-mm", 155]
    said = run("search", *ask, "--out", out, "--workers", text, code=1).stderr
    assert "could come to another result" in said
    assert "has numpy 1.0.0, here is" in said
    assert len(said.strip().splitlines()) == 1
    assert not out.exists()
    worker.kill()
    worker.wait()
    # The same version, but not the same program.
    shutil.copytree(Path(ms.__file__).parent, tmp_path / "copy" / "motifsearch",
                    ignore=shutil.ignore_patterns("__pycache__"))  # fmt: skip
    with (tmp_path / "copy" / "motifsearch" / "search" / "loop.py").open("a") as file:
        file.write("\nMIGRANTS = 21\n")
    started.worker(tmp_path / "copy")
    until(lambda: worker_count(started.address) == 1)
    with pytest.raises(MotifError, match="has other files of motifsearch than this machine"):
        ms.letters("MIA", workers=text)


def worker_count(address: str) -> int:
    with distributed.Client(address, set_as_default=False) as client:
        return len(client.nthreads())


def test_a_scheduler_without_workers_is_said_to_have_none(started, monkeypatch):
    monkeypatch.setattr(clusters, "CONNECT_S", 1.0)
    with pytest.raises(MotifError, match=r"has no workers; start some with: dask worker tcp://"):
        library_build(
            started.folder / "a.sqlite", [CONFIGS / "equal-use.toml"],
            workers=f"dask:{started.address}",
        )  # fmt: skip


def test_nobody_there(tmp_path, monkeypatch):
    monkeypatch.setattr(clusters, "CONNECT_S", 1.0)
    with socket.socket() as own:
        own.bind(("127.0.0.1", 0))  # a port where nobody listens
        text = f"dask:tcp://127.0.0.1:{own.getsockname()[1]}"
        ask = ["--stash", ASK["stash"], "--strands", 8, "--wrist-mm", 155]
        for command in ("search", "find"):
            said = run(command, *ask, "--out", tmp_path / "out", "--workers", text, code=1).stderr
            assert "no Dask scheduler answers at tcp://127.0.0.1:" in said
            assert "within 1 seconds; start one with: dask scheduler" in said
            assert not (tmp_path / "out").exists()


def test_a_scheduler_without_encryption_is_refused_where_it_is_required(started, tmp_path):
    """Whatever the configuration of Dask refuses ends with one message too."""
    ask = ["--stash", ASK["stash"], "--strands", 8, "--wrist-mm", 155, "--out", tmp_path / "run"]
    done = subprocess.run(
        [sys.executable, "-m", "motifsearch", "search", *map(str, ask), "--workers",
         f"dask:{started.address}"],
        capture_output=True, text=True, timeout=PATIENCE_S, check=False,
        env={**os.environ, "DASK_DISTRIBUTED__COMM__REQUIRE_ENCRYPTION": "true"},
    )  # fmt: skip
    assert done.returncode == 1
    assert "encryption required" in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1, done.stderr


def test_certificates_are_asked_for():
    with pytest.raises(MotifError, match="needs certificates"):
        ms.search(None, overrides=TINY, workers="dask:tls://127.0.0.1:8786")


def test_without_distributed_the_extra_is_named(monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(MotifError, match=r"needs distributed.*pip install 'motifsearch\[dask\]'"):
        ms.search(None, overrides=TINY, workers="dask:tcp://127.0.0.1:8786")


def test_another_program_is_told_from_this_one():
    import pickle

    call = pickle.dumps((plain, (3,)))
    assert pickle.loads(clusters.done_there(clusters.code_here(), call)) == ("made", 9)
    assert pickle.loads(clusters.done_there("other", call)) == ("other code", None)
