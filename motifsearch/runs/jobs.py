"""What an engine is asked for, and what is looked at while it works.

A *job* is a search, the bands of a text in letters, designs from the library, or the bands of a
group; each writes the run folder that its command writes.  What is found hangs at once: designs of
the library first (or of a short search of `FIRST` designs), then after every exchange the wall as
it hangs now (`motifsearch.runs.hanging`), and the designs that were chosen before they are drawn.

A job that did not end (its machine or its server did) has left ``searching`` in the folder's state:
a search is gone on with from its checkpoint, the others begin again.
"""

from __future__ import annotations

import json
import shutil
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from multiprocessing.connection import Connection
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal

from motifsearch.base.errors import MotifError
from motifsearch.base.tomlfile import write_atomic
from motifsearch.runs.store import STATE

if TYPE_CHECKING:
    from motifsearch.pattern.design import Pattern
    from motifsearch.runs.candidate import Candidate
    from motifsearch.runs.hooks import Hooks
    from motifsearch.runs.result import Run
    from motifsearch.search.brief import Brief
    from motifsearch.search.loop import Run as State
    from motifsearch.search.taste_model import Posterior

#: The short search whose designs hang first: generations, designs on an island, islands.
FIRST: Final = (2, 100, 3)
#: Bands that hang first, and titles that are found at one look.
FIRST_BANDS: Final = 12
TITLES: Final = 8
#: The share of a search's time that looking at it may cost, after the first looks.
SHARE: Final = 0.03
#: Bands that hung and were left, of which a taste is learnt while a search runs.
MOST_SHOWN: Final = 48
#: In the state of a run folder: a job is under way, or was when the lights went out.
SEARCHING: Final = "searching"
Kind = Literal["search", "letters", "find", "group"]


@dataclass(frozen=True)
class Job:
    """What an engine is asked for.

    Attributes:
        folder: The run folder.
        brief: The file of the brief, or of the group; None to go on with the run in the folder.
        overrides: Keys of the brief with other values.
        workers: Processes.
        refused: Keys of designs that are not to hang.
        kept: Keys of bands that stay where they hang.
        kind: What is asked for.
    """

    folder: str
    brief: str | None
    overrides: Mapping[str, Any] = field(default_factory=dict)
    workers: int = 1
    refused: tuple[str, ...] = ()
    kept: tuple[str, ...] = ()
    kind: Kind = "search"


class Looking:
    """The engine's side: hangs what is found and sends it."""

    def __init__(self, pipe: Connection, job: Job) -> None:
        from motifsearch.runs.hanging import Band

        self.pipe = pipe
        self.folder = Path(job.folder)
        self.kept = set(job.kept)
        self.refused = set(job.refused)
        self.asked = ""
        self.hung: list[Band | None] = []
        self.started = time.monotonic()
        self.spent = 0.0
        self.looks = 0
        self.said: set[str] = set()
        self.last: tuple[Brief, State] | None = None
        self.shown: dict[str, Pattern] = {}

    def send(self, kind: str, **data: Any) -> None:
        """Send something, if anybody listens."""
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
        """Return the word that ends a search, where it was told to stop.

        It is asked every few generations: a mark is answered then, and not only after an exchange.
        """
        if self.listen() and self.last is not None:
            self._hang(*self.last)
        return self.asked

    def seen(self, brief: Brief, state: State) -> None:
        """Hang what was found, where there is time for it."""
        changed = self.listen()
        self.last = brief, state
        over = self.spent > SHARE * (time.monotonic() - self.started)
        if self.looks <= 2 or changed or not over:
            self._hang(brief, state)

    def liked(self, brief: Brief) -> Posterior | None:
        """Return what the marks on the bands that hung here say of a taste; None without any."""
        from motifsearch.search.picks import Card, Picks, Round
        from motifsearch.search.taste import taste_of

        cards = [Card(number=n, pattern=p, key=k) for n, (k, p) in enumerate(self.shown.items())]
        wanted = tuple(c.number for c in cards if c.key in self.kept)
        refused = tuple(c.number for c in cards if c.key in self.refused)
        if not wanted and not refused:
            return None
        here = Round(shown=tuple(cards), wanted=wanted, not_for_me=refused)
        earlier = () if brief.taste is None else brief.taste.picks.rounds
        taste = taste_of(Picks(rounds=(*earlier, here)))
        return None if taste is None else taste.posterior

    def _hang(self, brief: Brief, state: State) -> None:
        from motifsearch.runs.hanging import found, rehung, wall_data

        now = time.monotonic()
        pool = found(brief, state, self.liked(brief))
        if pool:
            size = brief.gallery_size
            if not self.looks:
                size = min(size, FIRST_BANDS)
                pool = pool[: 3 * size]
            self.hung = rehung(self.hung, pool, size, kept=self.kept, refused=self.refused)
            for band in filter(None, self.hung):
                # Those that hang now are the latest: of very many the oldest are forgotten.
                self.shown.pop(band.key, None)
                self.shown[band.key] = band.pattern
            for key in list(self.shown)[:-MOST_SHOWN]:
                if key not in self.kept and key not in self.refused:
                    del self.shown[key]
            more = TITLES if self.looks else 0
            self.send("wall", wall=wall_data(self.hung, brief.length_mm, self.said, more))
        self.looks += 1
        self.spent += time.monotonic() - now

    def unseen(self, brief: Brief, state: State) -> None:
        """Hang nothing, but hear what is asked."""
        self.listen()

    def chosen(self, brief: Brief, candidates: Sequence[Candidate]) -> None:
        """Hang the designs that were chosen; they are drawn and written meanwhile."""
        from motifsearch.runs.hanging import Band, wall_data

        self.hung = [Band(c.pattern, -1, c.wishes_met) for c in candidates]
        known = (self.folder / "brief.toml").is_file()
        self.send("wall", wall=wall_data(self.hung, brief.length_mm, self.said), open=known)


def _first(job: Job, looking: Looking) -> None:
    """Hang designs of the library, or else of a very short search: something is there at once."""
    from motifsearch.runs.searching import resolve
    from motifsearch.search import loop

    assert job.brief is not None
    brief, _ = resolve(job.brief, job.overrides)
    there = known(brief, Path(job.folder))
    if there is not None:
        looking.seen(brief, there)
        return
    generations, size, islands = FIRST
    some = replace(
        brief.search, population=size, periods=brief.search.periods[:islands], seconds=None
    )
    quick = replace(brief, search=some)
    state, _ = loop.evolve(quick, loop.new_run(quick), generations=generations, stop=looking.stop)
    looking.seen(brief, state)


def known(brief: Brief, folder: Path) -> State | None:
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


def _search(job: Job, looking: Looking, hooks: Hooks) -> Run:
    from motifsearch.runs.searching import resume, search

    if job.brief is None:
        return resume(job.folder, overrides=job.overrides, workers=job.workers, hooks=hooks)
    if job.kind == "search":
        _first(job, looking)
    return search(
        job.brief, overrides=job.overrides, out=job.folder, workers=job.workers, hooks=hooks,
        overwrite=True,
    )  # fmt: skip


def _find(job: Job, looking: Looking, hooks: Hooks) -> Run:
    from motifsearch.runs.finding import find
    from motifsearch.runs.remembering import library_of

    assert job.brief is not None
    return find(
        job.brief, overrides=job.overrides, out=job.folder, workers=job.workers, hooks=hooks,
        library=library_of(Path(job.folder)), both=True, overwrite=True,
    )  # fmt: skip


def _group(job: Job, looking: Looking, hooks: Hooks) -> Run:
    from motifsearch.runs.grouping import group

    assert job.brief is not None
    return group(
        job.brief, overrides=job.overrides, out=job.folder, workers=job.workers, hooks=hooks,
        overwrite=True,
    )  # fmt: skip


_DONE: Final[Mapping[Kind, Callable[[Job, Looking, Hooks], Run]]] = {
    "search": _search, "letters": _search, "find": _find, "group": _group,
}  # fmt: skip


def do(job: Job, looking: Looking) -> None:
    """Do a job; what is found and how it ended is sent.

    Raises:
        MotifError: What the job itself raises.
    """
    from motifsearch.runs.hanging import Band, settled, wall_data
    from motifsearch.runs.hooks import Hooks, Progress

    def progress(now: Progress) -> None:
        looking.send(
            "progress", generation=now.generation, most=now.most, best=now.best,
            kinds=now.kinds, scored=now.scored, seconds=time.monotonic() - looking.started,
        )  # fmt: skip

    hooks = Hooks(
        progress=progress,
        stop=looking.stop,
        log=lambda line: looking.send("log", line=line),
        # Of a group, designs say nothing yet: who gets which, and in which colours, is chosen.
        seen=looking.unseen if job.kind == "group" else looking.seen,
        chosen=looking.chosen,
    )
    mark(Path(job.folder), job)
    run = _DONE[job.kind](job, looking, hooks)
    final = [Band(c.pattern, -1, c.wishes_met, c.folder) for c in run.candidates]
    wall = settled(looking.hung, final)
    save_places(Path(job.folder), wall)
    length = run.brief.length_mm if run.brief is not None else 150.0
    mark(Path(job.folder), None)
    looking.send("wall", wall=wall_data(wall, length), open=True)
    looking.send("done", why=run.record.stopped_by, said=list(run.said), scored=run.record.scored)


def mark(folder: Path, job: Job | None) -> None:
    """Write which job is under way in a folder, or take the sign away."""
    sign = folder / STATE / SEARCHING
    if job is not None:
        sign.parent.mkdir(parents=True, exist_ok=True)
        asked = {"kind": job.kind, "brief": job.brief, "overrides": dict(job.overrides)}
        write_atomic(sign, json.dumps(asked) + "\n")
    else:
        sign.unlink(missing_ok=True)


def broken_off(folder: Path) -> Job | None:
    """Return the job that was under way in a folder without a checkpoint; None where none was."""
    try:
        asked = json.loads((folder / STATE / SEARCHING).read_text(encoding="utf-8"))
        kind, brief, overrides = asked["kind"], asked["brief"], asked["overrides"]
    except (OSError, ValueError, KeyError, TypeError):
        return None
    if kind not in _DONE or not isinstance(brief, str) or not isinstance(overrides, dict):
        return None
    return Job(folder=str(folder), brief=brief, overrides=overrides, kind=kind)


def cleared(folder: Path) -> None:
    """Take away a folder in which nothing was made before its job failed."""
    mark(folder, None)
    if not any(one.name != STATE for one in folder.iterdir()):
        shutil.rmtree(folder, ignore_errors=True)


def is_unfinished(folder: Path) -> bool:
    """Return whether a search was under way in a folder when its process ended."""
    return (folder / STATE / SEARCHING).is_file()


def save_places(folder: Path, wall: Sequence[Any]) -> None:
    """Keep which design hangs in which place."""
    from motifsearch.runs.record import json_text

    names = [None if band is None else band.folder for band in wall]
    write_atomic(folder / STATE / "places.json", json_text(names))
