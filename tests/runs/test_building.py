"""``library build`` and the text after ``--workers``, on this machine."""

from __future__ import annotations

import shutil
from concurrent.futures import BrokenExecutor, Executor, Future
from pathlib import Path

import pytest
from commands.test_cli import run
from library.test_library_file import content

from motifsearch.base.errors import InfeasibleError, InputError
from motifsearch.runs.building import library_build
from motifsearch.runs.hooks import Hooks
from motifsearch.runs.keeping import library_damage
from motifsearch.runs.workers import StoppedError, in_turn, read_workers

CONFIGS = Path(__file__).parents[2] / "configs"
ASK = {"stash": str(CONFIGS / "stash-workshop.toml"), "strands": 8, "wrist_mm": 155.0}


@pytest.mark.parametrize(
    "text", ["dask:", "dask:tcp://", "dask:tcp://host", "dask:host:8786", "dask:tcp://host:0",
             "dask:tcp://host:99999", "dask:http://host:80", "dask:tcp://host:1/path", "two", "0",
             "65", "-1", "", "1.5"],
)  # fmt: skip
def test_texts_that_name_no_workers(text):
    with pytest.raises(InputError, match=r"expected a number|not in the range"):
        read_workers(text)
    ask = ["--stash", ASK["stash"], "--strands", 8, "--wrist-mm", 155]
    for command in (["search", *ask], ["find", *ask], ["letters", "MIA"], ["group", "none.toml"],
                    ["library", "add", "none.sqlite"], ["library", "merge", "none.sqlite", "b"],
                    ["library", "build", "none.toml", "--library", "c"]):  # fmt: skip
        said = run(*command, "--workers", text, code=2).stderr
        assert "Invalid value for '--workers'" in said


class Stops:
    """A stop that says so from the n-th search that was taken in."""

    def __init__(self, after: int) -> None:
        self.left = after

    def hooks(self) -> Hooks:
        return Hooks(stop=lambda: "" if self.left > 0 else "interrupted", log=self.log)

    def log(self, line: str) -> None:
        if "searches" in line:
            self.left -= 1


@pytest.mark.slow
@pytest.mark.parametrize("workers", [1, 2])
def test_a_build_that_is_stopped_keeps_what_it_has_and_goes_on(tmp_path, workers):
    brief = CONFIGS / "only-my-threads.toml"
    few = {"search.generations": 3, "search.population": 20, "search.periods": [4]}
    library_build(tmp_path / "whole.sqlite", [brief], overrides=few, seeds=6)
    part = tmp_path / "part.sqlite"
    built = library_build(
        part, [brief], overrides=few, seeds=6, workers=workers, hooks=Stops(2).hooks()
    )
    # What other processes had finished by then is kept too.
    assert built.searched == 2 if workers == 1 else built.searched >= 2
    assert built.left == 6 - built.searched
    kept = content(part)
    assert kept
    assert library_damage(part) == ()
    rest = library_build(part, [brief], overrides=few, seeds=6, workers=workers)
    assert (rest.before, rest.searched, rest.left) == (built.searched, built.left, 0)
    assert content(part) == content(tmp_path / "whole.sqlite")


@pytest.mark.slow
def test_build_says_what_it_did(tmp_path):
    brief = tmp_path / "brief.toml"
    shutil.copy(CONFIGS / "stash-workshop.toml", tmp_path)
    brief.write_text('stash = "stash-workshop.toml"\nstrands = 8\nwrist_mm = 155\n'
                     "[search]\nseconds = 0.001\nperiods = [4]\n")  # fmt: skip
    few = ["--generations", 4, "--population", 40]
    library = tmp_path / "a.sqlite"
    done = run("library", "build", brief, *few, "--library", library, "--workers", 1)
    assert "1 searches scored" in done.stdout
    assert "search.seconds does not count here" in done.stderr
    more = run("library", "build", brief, *few, "--library", library, "--seeds", 2)
    assert "1 searches were done before." in more.stdout
    assert "kinds in all" in run("library", "stats", library).stdout
    # A brief that cannot be met costs the others nothing; none at all is an error.
    two = [brief, CONFIGS / "only-my-threads.toml"]
    few_threads = {"length_mm": 2000.0, "search.generations": 4, "search.population": 40}
    with pytest.raises(InfeasibleError, match="too little"):
        library_build(tmp_path / "b.sqlite", two[:1], overrides=few_threads)
    with pytest.raises(InputError, match="a text has nothing to search"):
        library_build(library, [brief], overrides={"text": "MIA", "strands": 14})


def test_in_turn_stops_between_two_tasks():
    said = iter(["", "", "enough"])
    made = in_turn(None, abs, [-1, -2, -3, -4], lambda: next(said))
    assert [next(made), next(made)] == [1, 2]
    with pytest.raises(StoppedError):
        next(made)


class Dead(Executor):
    """Workers that take some tasks and die."""

    def __init__(self, takes: int) -> None:
        self.takes = takes

    def submit(self, fn, /, *args, **kwargs):
        if self.takes == 0:
            raise BrokenExecutor("gone")
        self.takes -= 1
        future: Future = Future()
        if self.takes % 2:
            future.set_result(fn(*args))
        else:
            future.set_exception(BrokenExecutor("gone"))
        return future


@pytest.mark.parametrize("takes", [0, 1, 4, 100])
def test_what_dead_workers_leave_is_done_here_in_turn(takes):
    numbers = list(range(-60, 0))
    assert list(in_turn(Dead(takes), abs, numbers)) == [-n for n in numbers]
