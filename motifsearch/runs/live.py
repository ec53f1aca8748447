"""A search that is looked at while it runs, in a process of its own.

An *engine* is a process that has loaded what a search needs and waits; a search that is asked for
starts in it at once.  What it finds comes back through a pipe: first designs from the library (or
of a short search of `FIRST` designs), then after every exchange the wall as it hangs now
(`motifsearch.runs.hanging`), progress, and how it ended.  Marks and "stop" go the other way.

The run folder is the same as ``motifsearch search --out`` writes, with its checkpoint after every
exchange.  A search that did not end (its machine or its server did) has left ``searching`` in the
folder's state, and `unfinished` finds it again: it is gone on with from its checkpoint.
"""

from __future__ import annotations

import multiprocessing
import threading
import time
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from multiprocessing.connection import Connection
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from motifsearch.base.errors import MotifError
from motifsearch.base.tomlfile import write_atomic
from motifsearch.runs.store import STATE

if TYPE_CHECKING:
    from motifsearch.search.brief import Brief
    from motifsearch.search.loop import Run as State

#: The short search whose designs hang first: generations, designs on an island, islands.
FIRST: Final = (2, 100, 3)
#: Bands that hang first, and titles that are found at one look.
FIRST_BANDS: Final = 12
TITLES: Final = 8
#: The share of a search's time that looking at it may cost, after the first looks.
SHARE: Final = 0.03
#: In the state of a run folder: a search is under way, or was when the lights went out.
SEARCHING: Final = "searching"


@dataclass(frozen=True)
class Job:
    """What an engine is asked for.

    Attributes:
        folder: The run folder.
        brief: The brief's file; None to go on with the run in the folder.
        overrides: Keys of the brief with other values.
        workers: Processes.
        refused: Keys of designs that are not to hang.
        kept: Keys of bands that stay where they hang.
    """

    folder: str
    brief: str | None
    overrides: Mapping[str, Any] = field(default_factory=dict)
    workers: int = 1
    refused: tuple[str, ...] = ()
    kept: tuple[str, ...] = ()


class _Looking:
    """The engine's side: hangs what is found and sends it."""

    def __init__(self, pipe: Connection, job: Job) -> None:
        from motifsearch.runs.hanging import Band

        self.pipe = pipe
        self.kept = set(job.kept)
        self.refused = set(job.refused)
        self.asked = ""
        self.hung: list[Band | None] = []
        self.started = time.monotonic()
        self.spent = 0.0
        self.looks = 0
        self.said: set[str] = set()

    def send(self, kind: str, **data: Any) -> None:
        with suppress(OSError, ValueError):
            self.pipe.send({"kind": kind, **data})

    def listen(self) -> bool:
        """Read what was asked meanwhile; return whether marks changed."""
        changed = False
        try:
            while self.pipe.poll():
                said = self.pipe.recv()
                if said[0] == "stop":
                    self.asked = "interrupted"
                elif said[0] == "marks":
                    self.kept, self.refused = set(said[1]), set(said[2])
                    changed = True
        except (EOFError, OSError):
            self.asked = "terminated"
        return changed

    def stop(self) -> str:
        self.listen()
        return self.asked

    def seen(self, brief: Any, state: Any) -> None:
        """Hang what was found, where there is time for it."""
        from motifsearch.runs.hanging import found, rehung, wall_data

        changed = self.listen()
        now = time.monotonic()
        over = self.spent > SHARE * (now - self.started)
        if self.looks > 2 and over and not changed:
            return
        pool = found(brief, state)
        if pool:
            size = brief.gallery_size
            if not self.looks:
                size = min(size, FIRST_BANDS)
                pool = pool[: 3 * size]
            self.hung = rehung(self.hung, pool, size, kept=self.kept, refused=self.refused)
            more = TITLES if self.looks else 0
            self.send("wall", wall=wall_data(self.hung, brief.length_mm, self.said, more))
        self.looks += 1
        self.spent += time.monotonic() - now


def _first(job: Job, looking: _Looking) -> None:
    """Hang designs of the library, or else of a very short search: something is there at once."""
    from motifsearch.runs.searching import resolve
    from motifsearch.search import loop

    assert job.brief is not None
    brief, _ = resolve(job.brief, job.overrides)
    known = _known(brief, Path(job.folder))
    if known is not None:
        looking.seen(brief, known)
        return
    generations, size, islands = FIRST
    some = replace(
        brief.search, population=size, periods=brief.search.periods[:islands], seconds=None
    )
    quick = replace(brief, search=some)
    state, _ = loop.evolve(quick, loop.new_run(quick), generations=generations, stop=looking.stop)
    looking.seen(brief, state)


def _known(brief: Brief, folder: Path) -> State | None:
    """Return what the libraries have for a brief; None where that is nothing, or none is sound."""
    from motifsearch.library.opening import libraries
    from motifsearch.library.proposing import propose
    from motifsearch.runs.remembering import library_of

    if brief.target is not None:
        return None
    with suppress(MotifError):
        beside = library_of(folder)
        with libraries(beside, both=True) as own:
            run = propose(own, brief).run
        if any(len(island.archive) for island in run.islands):
            return run
    return None


def _search(job: Job, looking: _Looking) -> None:
    from motifsearch.runs.hanging import Band, settled, wall_data
    from motifsearch.runs.hooks import Hooks, Progress
    from motifsearch.runs.searching import resume, search

    def progress(now: Progress) -> None:
        looking.send(
            "progress", generation=now.generation, most=now.most, best=now.best,
            kinds=now.kinds, scored=now.scored, seconds=time.monotonic() - looking.started,
        )  # fmt: skip

    hooks = Hooks(
        progress=progress,
        stop=looking.stop,
        log=lambda line: looking.send("log", line=line),
        seen=looking.seen,
    )
    mark(Path(job.folder), True)
    if job.brief is not None:
        _first(job, looking)
        run = search(
            job.brief, overrides=job.overrides, out=job.folder, workers=job.workers, hooks=hooks,
            overwrite=True,
        )  # fmt: skip
    else:
        run = resume(job.folder, overrides=job.overrides, workers=job.workers, hooks=hooks)
    final = [Band(c.pattern, -1, c.wishes_met, c.folder) for c in run.candidates]
    wall = settled(looking.hung, final)
    save_places(Path(job.folder), wall)
    length = run.brief.length_mm if run.brief is not None else 150.0
    mark(Path(job.folder), False)
    looking.send("wall", wall=wall_data(wall, length))
    looking.send("done", why=run.record.stopped_by, said=list(run.said), scored=run.record.scored)


def mark(folder: Path, searching: bool) -> None:
    """Write, or take away, the sign that a search is under way in a folder."""
    sign = folder / STATE / SEARCHING
    if searching:
        sign.parent.mkdir(parents=True, exist_ok=True)
        write_atomic(sign, "a search is under way here\n")
    else:
        sign.unlink(missing_ok=True)


def is_unfinished(folder: Path) -> bool:
    """Return whether a search was under way in a folder when its process ended."""
    return (folder / STATE / SEARCHING).is_file()


def save_places(folder: Path, wall: Sequence[Any]) -> None:
    """Keep which design hangs in which place."""
    from motifsearch.runs.record import json_text

    names = [None if band is None else band.folder for band in wall]
    write_atomic(folder / STATE / "places.json", json_text(names))


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
        looking = _Looking(pipe, said)
        try:
            _search(said, looking)
        except MotifError as bad:
            mark(Path(said.folder), False)
            looking.send("failed", text=str(bad), code=bad.exit_code)
        except Exception as bad:
            mark(Path(said.folder), False)
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
        _known(brief, demo_folder())


class Search:
    """One search that is under way, or has ended, as the page's side sees it.

    Attributes:
        folder: The run folder.
        revision: Counts every change of what is to be seen.
        wall: The bands by place, as data.
        progress: Where it stands; None before the first exchange.
        curve: (designs tried, how good) after every exchange.
        log: What is being done now.
        state: "starting", "searching", "stopping", "done" or "failed".
        ended: How it ended: why, or what was wrong.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
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
            search = Search(folder)
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
