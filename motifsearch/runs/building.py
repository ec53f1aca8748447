"""``library build``: whole briefs are searched, many at once, for all the kinds they find.

A brief with its seed is one task: a search from beginning to end, without a gallery, in one process
of whichever machine.  The library takes in the results in the order of the briefs, each as one
change that also notes that its brief was searched, so the library is the same whoever worked, and a
build that was broken off goes on where it ended when it is called again.

Only generations, rest and the size of the space end such a search: with a limit in seconds a
library would hang on the speed of a machine.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any, Final

from motifsearch.base.errors import InfeasibleError, InputError, MotifError
from motifsearch.base.version import __version__
from motifsearch.library.columns import Kinds
from motifsearch.library.store import opened
from motifsearch.runs.hooks import SILENT, Hooks
from motifsearch.runs.keeping import looked_at
from motifsearch.runs.remembering import kinds_found
from motifsearch.runs.searching import resolve, target_patterns, warmed
from motifsearch.runs.workers import (
    StoppedError,
    Workers,
    connected,
    in_turn,
    said_by,
    working,
)
from motifsearch.search import loop
from motifsearch.search.anew import asked_of
from motifsearch.search.brief import Brief
from motifsearch.search.diagnose import diagnose

#: Of one brief, at most.
MOST_SEEDS: Final = 100_000
LAST_SEED: Final = 2**32 - 1


@dataclass(frozen=True)
class Built:
    """What became of a build.

    Attributes:
        kinds: Kinds that are new in the library.
        met: Kinds that the searches held, before those of several searches are counted once.
        scored: Designs that were scored.
        searched: Searches that were done.
        before: Searches that an earlier build had done.
        left: Searches that are still to be done, because the build was told to stop.
        said: Briefs in which nothing was found, and what became of workers, a line each.
    """

    kinds: int = 0
    met: int = 0
    scored: int = 0
    searched: int = 0
    before: int = 0
    left: int = 0
    said: tuple[str, ...] = ()


@dataclass(frozen=True)
class Found:
    """What one search found: its kinds, the designs it scored, or why there is nothing."""

    kinds: tuple[Kinds, ...] = ()
    scored: int = 0
    why: str = ""


@dataclass(frozen=True)
class Part:
    """One search of a build: its brief, what it is called, and its mark in the library."""

    brief: Brief
    name: str
    mark: str


def library_build(
    library: str | Path,
    briefs: Sequence[Brief | str | Path],
    *,
    overrides: Mapping[str, Any] | None = None,
    seeds: int = 1,
    workers: Workers = 1,
    hooks: Hooks = SILENT,
) -> Built:
    """Search whole briefs, and add all kinds found to a library, which is made when not there.

    What was added before a build is broken off stays; the same call goes on with the rest.  At
    the end the figures of what is new are looked at, as `motifsearch.runs.keeping` does.

    Args:
        library: The library's file.
        briefs: Briefs, or their files.
        overrides: Keys of all briefs, such as ``search.generations``, with other values.
        seeds: Every brief is searched with so many seeds, from its own on.
        workers: Processes; None for as many as there are cores; or ``dask:tcp://HOST:PORT``.  The
            library holds the same.
        hooks: A log, and a stop.

    Raises:
        InputError: A brief or the library cannot be used.
        InfeasibleError: In no brief anything was found.
        MotifError: The library cannot be written; what was added before stays.
    """
    parts = list(_parts(briefs, overrides, seeds))
    timed = [part.name.rpartition(", ")[0] for part in parts if part.brief.search.seconds]
    said = [f"{name}: search.seconds does not count here" for name in dict.fromkeys(timed)]
    with opened(library, make=True) as own, connected(workers) as hands:
        todo = [part for part in parts if not own.marked(part.mark)]
        done = Built(before=len(parts) - len(todo), left=len(todo))
        nothing: list[str] = []
        with suppress(StoppedError):
            for part, found in _all_searched(todo, hands, hooks):
                new = own.add(found.kinds, part.mark)
                done = replace(
                    done,
                    kinds=done.kinds + new,
                    met=done.met + sum(map(len, found.kinds)),
                    scored=done.scored + found.scored,
                    searched=done.searched + 1,
                    left=done.left - 1,
                )
                if found.why:
                    nothing.append(f"{part.name}: {found.why}")
                hooks.log(f"{done.before + done.searched:,} of {len(parts):,} searches: "
                          f"{done.kinds:,} kinds are new, {part.name} last")  # fmt: skip
        if nothing and len(nothing) == len(parts):
            raise InfeasibleError(" ".join(nothing))
        if not done.left and not hooks.stop():
            looked_at(own, hands, hooks)
        return replace(done, said=(*said, *nothing, *said_by(hands)))


def _parts(
    briefs: Sequence[Brief | str | Path], overrides: Mapping[str, Any] | None, seeds: int
) -> Iterator[Part]:
    """Yield the searches of a build, those of one brief after those of the other.

    Raises:
        InputError: A brief cannot be used.
    """
    if not 1 <= seeds <= MOST_SEEDS:
        raise InputError(f"expected 1 to {MOST_SEEDS}", seeds, source="--seeds")
    for given in briefs:
        brief, path = resolve(given, overrides)
        name = brief.title if path is None else str(path)
        if brief.text:
            raise InputError("a brief with a text has nothing to search", source=path, key="text")
        first = brief.search.seed
        if first + seeds - 1 > LAST_SEED:
            raise InputError(f"expected seeds up to {LAST_SEED}", first + seeds - 1, source=path)
        for seed in range(first, first + seeds):
            one = replace(brief, search=replace(brief.search, seed=seed))
            yield Part(one, f"{name}, seed {seed}", mark_of(one))


def mark_of(brief: Brief) -> str:
    """Return what a search is known by: all that its kinds hang on, as a hash."""
    search = brief.search
    asked = [asked_of(brief), search.generations, search.exchange_every, search.rest_after,
             search.warm, __version__]  # fmt: skip
    text = json.dumps(asked, sort_keys=True, default=str)
    return f"built {hashlib.sha256(text.encode()).hexdigest()}"


def _all_searched(
    todo: Sequence[Part], hands: Workers, hooks: Hooks
) -> Iterator[tuple[Part, Found]]:
    """Yield searches in their order, each with what it found.

    Raises:
        StoppedError: It was told to stop; a search that had not ended is as if it never began.
    """
    # Raised in here, it ends processes that are in the middle of a search.
    with working(hands, max(len(todo), 1)) as pool:
        task = searched if pool is not None else partial(searched, stop=hooks.stop)
        jobs = (part.brief for part in todo)
        yield from zip(todo, in_turn(pool, task, jobs, hooks.stop), strict=True)


def searched(brief: Brief, stop: Callable[[], str] = lambda: "") -> Found:
    """Return what a search for a brief finds: a pure function, whoever calls it.

    Args:
        brief: The brief.
        stop: A word ends the search, and nothing of it counts.

    Raises:
        StoppedError: `stop` said so.
    """
    brief = replace(brief, search=replace(brief.search, seconds=None))
    try:
        reasons = diagnose(brief)
        if reasons:
            return Found(why=" ".join(reason.text() for reason in reasons))
        state = loop.new_run(brief, target_patterns(brief))
        if brief.search.warm:
            state = warmed(brief, state)
        state, why = loop.evolve(brief, state, stop=stop)
    except MotifError as bad:
        return Found(why=str(bad))
    if why not in ("whole", "generations", "rest"):
        raise StoppedError
    kinds = tuple(kinds_found(state, ()))
    return Found(kinds, state.scored, "" if kinds else "nothing was found that keeps the limits")


def built_text(built: Built, library: str | Path) -> str:
    """Return what became of a build, in words."""
    lines = [
        f"{built.searched:,} searches scored {built.scored:,} designs and held {built.met:,} "
        f"kinds; {built.kinds:,} are new in {library}."
    ]
    if built.before:
        lines.append(f"{built.before:,} searches were done before.")
    if built.left:
        lines.append(f"Stopped: {built.left:,} searches are left; the same command goes on.")
    return "\n".join(lines) + "\n"
