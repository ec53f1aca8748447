"""Jobs that are looked at while they run, in processes of their own.

An *engine* is a process that has loaded what a search needs and waits; a job
(`motifsearch.runs.jobs`) that is asked for starts in it at once.  What it finds comes back through
a pipe: the wall as it hangs now, progress, and how it ended.  Marks and "stop" go the other way.

The run folder is the same as the command writes, of a search with its checkpoint after every
exchange.
"""

from __future__ import annotations

import multiprocessing
import threading
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from motifsearch.base.errors import MotifError
from motifsearch.runs.jobs import Job, Looking, cleared, do, is_unfinished, known

__all__ = ["Engines", "Job", "Search", "is_unfinished"]


def _engine(pipe: Connection) -> None:
    """Wait for jobs and do them, one after the other, until nobody asks any more."""
    from motifsearch.runs.processes import ready_worker

    ready_worker()
    import motifsearch.runs.hanging
    import motifsearch.runs.searching  # noqa: F401

    _warmed_up()
    pipe.send({"kind": "ready"})
    while True:
        try:
            said = pipe.recv()
        except (EOFError, OSError):
            return
        if not isinstance(said, Job):
            continue
        looking = Looking(pipe, said)
        try:
            do(said, looking)
        except MotifError as bad:
            cleared(Path(said.folder))
            looking.send("failed", text=str(bad), code=bad.exit_code)
        except Exception as bad:
            cleared(Path(said.folder))
            looking.send("failed", text=f"{type(bad).__name__}: {bad}", code=1)


def _warmed_up() -> None:
    """Do once, on the demo's threads, what a search begins with: what is loaded late is loaded."""
    from motifsearch.runs.example import demo_folder
    from motifsearch.runs.hanging import found, rehung, wall_data
    from motifsearch.search import loop
    from motifsearch.search.brief import read_brief

    with suppress(MotifError):
        brief = read_brief(demo_folder() / "browse-many.toml")
        quick = replace(brief, search=replace(brief.search, population=60, periods=(8,)))
        state, _ = loop.evolve(quick, loop.new_run(quick), generations=2)
        wall = rehung([], found(quick, state)[:8], 4)
        wall_data(wall, brief.length_mm, more=1)
        known(brief, demo_folder())


class Search:
    """One job that is under way, or has ended, as the page's side sees it.

    Attributes:
        folder: The run folder.
        kind: What was asked for: search, letters, find or group.
        about: What is known of the run before its folder says so.
        can_open: Whether its bands can be looked at one by one yet: the folder knows its settings.
        revision: Counts every change of what is to be seen.
        wall: The bands by place, as data.
        progress: Where it stands; None before the first exchange.
        curve: (designs tried, how good) after every exchange.
        log: What is being done now.
        state: "starting", "searching", "stopping", "done" or "failed".
        ended: How it ended: why, or what was wrong.
    """

    def __init__(self, folder: Path, kind: str = "search") -> None:
        self.folder = folder
        self.kind = kind
        self.about: dict[str, Any] = {}
        self.can_open = kind == "search"
        self.revision = 0
        self.wall: list[dict[str, Any] | None] = []
        self.progress: dict[str, Any] | None = None
        self.curve: list[tuple[int, float]] = []
        self.log = ""
        self.state = "starting"
        self.ended: dict[str, Any] = {}
        self.pipe: Connection | None = None
        self.wall_revision = 0

    @property
    def running(self) -> bool:
        """Whether it is under way."""
        return self.state in ("starting", "searching", "stopping")

    def take(self, said: dict[str, Any]) -> None:
        """Take in what the engine sent."""
        kind = said.pop("kind")
        if kind == "wall":
            self.wall = said["wall"]
            self.can_open = self.can_open or bool(said.get("open"))
            self.wall_revision += 1
            self.state = "searching" if self.state == "starting" else self.state
        elif kind == "progress":
            self.progress = said
            self.curve.append((said["scored"], said["best"]))
            if len(self.curve) > 400:
                self.curve[:200] = self.curve[:200:2]
        elif kind == "log":
            self.log = said["line"]
        elif kind in ("done", "failed"):
            self.state, self.ended, self.log = kind, said, ""
        self.revision += 1

    def stop(self) -> None:
        """Ask it to stop; the gallery of what was found so far is made."""
        if self.running and self.pipe is not None:
            self.state = "stopping"
            self.revision += 1
            with suppress(OSError):
                self.pipe.send(("stop",))

    def marks(self, kept: Sequence[str], refused: Sequence[str]) -> None:
        """Tell it which bands stay and which do not hang any more."""
        if self.running and self.pipe is not None:
            with suppress(OSError):
                self.pipe.send(("marks", list(kept), list(refused)))


class _Process:
    """An engine's process and its pipe."""

    def __init__(self) -> None:
        context = multiprocessing.get_context("spawn")
        self.pipe, other = context.Pipe()
        self.process = context.Process(target=_engine, args=(other,), name="engine")
        self.process.start()
        other.close()
        self.search: Search | None = None


class Engines:
    """The engines of a workroom: one waits, so that a search starts at once."""

    def __init__(self) -> None:
        self.lock = threading.Lock()
        self.idle: list[_Process] = []
        self.all: list[_Process] = []
        self.searches: dict[Path, Search] = {}

    def warm(self) -> None:
        """Have one engine waiting."""
        with self.lock:
            if not self.idle:
                self._new()

    def _new(self) -> None:
        engine = _Process()
        self.idle.append(engine)
        self.all.append(engine)
        threading.Thread(target=self._listen, args=(engine,), daemon=True).start()

    def start(self, job: Job) -> Search:
        """Start a search, or go on with one; return it at once.

        Raises:
            MotifError: A search is under way in that folder already.
        """
        folder = Path(job.folder)
        with self.lock:
            there = self.searches.get(folder)
            if there is not None and there.running:
                raise MotifError(f"{folder.name}: a search is under way here already")
            while self.idle and not self.idle[-1].process.is_alive():
                self.idle.pop()
            if not self.idle:
                self._new()
            engine = self.idle.pop()
            search = Search(folder, job.kind)
            if there is not None:
                search.wall, search.revision = there.wall, there.revision + 1
            search.pipe, engine.search = engine.pipe, search
            self.searches[folder] = search
            engine.pipe.send(job)
        return search

    def _listen(self, engine: _Process) -> None:
        while True:
            try:
                said = engine.pipe.recv()
            except (EOFError, OSError):
                break
            search = engine.search
            if search is None or said["kind"] == "ready":
                continue
            ends = said["kind"] in ("done", "failed")
            search.take(said)
            if ends:
                with self.lock:
                    engine.search = None
                    self.idle.append(engine)
        with self.lock:
            if engine in self.idle:
                self.idle.remove(engine)
        if engine.search is not None and engine.search.running:
            lost = "the search's own process was ended; it can be gone on with"
            if engine.search.kind != "search":
                lost = "its process was ended before it was done; begin again"
            engine.search.take({"kind": "failed", "text": lost, "code": 1})

    def close(self, patience_s: float = 5.0) -> None:
        """End all engines; a search under way keeps its checkpoint and is gone on with later."""
        for engine in self.all:
            with suppress(OSError):
                engine.pipe.close()
            engine.process.terminate()
        for engine in self.all:
            engine.process.join(patience_s)
            if engine.process.is_alive():
                engine.process.kill()
