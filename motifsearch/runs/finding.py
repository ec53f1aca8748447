"""``find``: designs for a box of threads without a search, from the kinds that were ever found.

The same run comes out as from a search: ranked, varied, proven by exact plans, with a gallery where
there is a folder, and it can be gone on with.  ``library_*`` keep the file of kinds.
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np

from motifsearch.base.errors import InputError, NotFoundError
from motifsearch.library.building import kinds_of
from motifsearch.library.proposing import propose
from motifsearch.library.starter import starter
from motifsearch.library.store import Library, Size, opened
from motifsearch.pattern.design import Pattern
from motifsearch.runs.home import Home
from motifsearch.runs.hooks import SILENT, Hooks
from motifsearch.runs.inputs import read_files
from motifsearch.runs.rebuilding import open_run
from motifsearch.runs.result import Run
from motifsearch.runs.searching import default_folder, finished, resolve
from motifsearch.runs.store import CHECKPOINT, owned
from motifsearch.search.anew import asked_of
from motifsearch.search.brief import Brief
from motifsearch.search.checkpoint import load_checkpoint
from motifsearch.search.diagnose import conflict, diagnose
from motifsearch.search.genome import develop, pattern_of

#: What a run is said to have ended with that came from a library.
FOUND: Final = "found"


@contextmanager
def _open(library: str | Path | None) -> Iterator[Library]:
    """Open a library, or the one that comes with the program."""
    if library is None:
        with starter() as own:
            yield own
    else:
        with opened(library) as other:
            yield other


def find(
    brief: Brief | str | Path | None = None,
    *,
    overrides: Mapping[str, Any] | None = None,
    library: str | Path | None = None,
    out: str | Path | None = None,
    overwrite: bool = False,
    workers: int | None = 1,
    paper: str = "A4",
    hooks: Hooks = SILENT,
) -> Run:
    """Find designs for a brief among the kinds of a library; nothing is searched.

    Args:
        brief: The brief, or its file; None when the overrides say everything.
        overrides: Keys of the brief with other values.
        library: The library's file; the one that comes with the program when None.
        out: The run folder to write; None to write nothing.
        overwrite: Write into a folder that holds something already.
        workers: Processes that draw; None for as many as there are cores.
        paper: Of the worksheets: A4 or Letter.
        hooks: A log.

    Raises:
        InputError: Something that was given cannot be used.
        InfeasibleError: No design can keep the limits, or no kind of the library does.
        MotifError: The folder cannot be written.
    """
    resolved, path = resolve(brief, overrides)
    started = time.monotonic()
    with ExitStack() as stack:
        own = stack.enter_context(_open(library))
        home = None
        if out is not None:
            place = stack.enter_context(owned(Path(out), "designs from the library"))
            place.refuse_unless_empty(overwrite)
            inputs = [] if library is None else [Path(library)]
            place.refuse_inputs(read_files(resolved, path, inputs))
            home = Home(place, fresh=True)
        reasons = diagnose(resolved)
        proposed = None if reasons else propose(own, resolved)
        if proposed is None or not proposed.kept:
            raise NotFoundError(_nothing(resolved, own, reasons or conflict(resolved)))
        proposed.run.asked = asked_of(resolved)
        said = (
            f"{proposed.looked_at:,} kinds of {resolved.strands} strands were looked at, "
            f"{proposed.coloured:,} designs judged, {proposed.kept:,} keep the limits",
        )
        return finished(
            resolved, proposed.run, home, why=FOUND, seconds=time.monotonic() - started,
            scored=proposed.coloured, said=said, workers=workers, paper=paper, hooks=hooks,
        )  # fmt: skip


def found_folder(path: Path | None, brief: Brief) -> Path:
    """Return ``results/NAME-found``, NAME from the brief's file or from its strands."""
    folder = default_folder(path, brief)
    return folder.with_name(folder.name.rpartition("-seed")[0] + "-found")


def _nothing(brief: Brief, library: Library, reasons: Sequence[Any]) -> str:
    sizes = [s for s in library.sizes() if s.strands == brief.strands]
    if not sizes:
        have = ", ".join(sorted({str(s.strands) for s in library.sizes()}, key=int)) or "none"
        return f"the library has no kinds of {brief.strands} strands (it has: {have}); search"
    text = " ".join(reason.text() for reason in reasons)
    return text or "no kind of the library keeps the limits of this brief; search"


@dataclass(frozen=True)
class Added:
    """What became of an addition.

    Attributes:
        kinds: Kinds that are new in the library.
        met: Kinds that were offered.
    """

    kinds: int
    met: int


def patterns_of(run: str | Path) -> list[Pattern]:
    """Return every design that a run folder knows: its candidates, and the elites of its search."""
    folder = Path(run)
    opened_run = open_run(folder)
    found = [one.pattern for one in opened_run]
    if opened_run.brief is not None and (folder / CHECKPOINT).is_file():
        brief = opened_run.brief
        try:
            state = load_checkpoint(folder / CHECKPOINT, brief)
        except InputError:
            return found  # edited since: what stands in the gallery still counts
        inks = [brief.stash.thread(name).colour for name in brief.palette]
        for island in state.islands:
            grid, colours = develop(island.archive.genomes, island.space)
            found += [
                pattern_of(grid[..., n], colours[:, n], "", brief.palette, inks)
                for n in range(grid.shape[-1])
            ]
    return found


def library_add(library: str | Path, runs: Sequence[str | Path]) -> Added:
    """Add what runs have found to a library, which is made when it is not there.

    Raises:
        InputError: A run or the library cannot be read.
        MotifError: The library cannot be written; nothing is added.
    """
    batches = kinds_of([p for run in runs for p in patterns_of(run)])
    with opened(library, make=True) as own:
        added = own.add(batches)
    return Added(added, sum(len(batch) for batch in batches))


def library_merge(library: str | Path, others: Sequence[str | Path]) -> Added:
    """Add all kinds of other libraries to one.

    Raises:
        InputError: A library cannot be read.
        MotifError: The library cannot be written; nothing is added.
    """
    with ExitStack() as stack:
        sources = [stack.enter_context(opened(other)) for other in others]
        with opened(library, make=True) as own:
            batches = [s.read(z.strands, z.period) for s in sources for z in s.sizes()]
            return Added(own.add(batches), sum(len(batch) for batch in batches))


def library_sizes(library: str | Path | None = None) -> tuple[Size, ...]:
    """Return how many kinds of every size a library holds.

    Raises:
        InputError: It cannot be read.
    """
    with _open(library) as own:
        return own.sizes()


def library_text(library: str | Path | None = None) -> str:
    """Return what a library holds, by strands, in words."""
    sizes = library_sizes(library)
    lines = []
    for strands in sorted({s.strands for s in sizes}):
        own = [s for s in sizes if s.strands == strands]
        grids = ", ".join(f"{s.period} rows {s.kinds:,}" for s in own)
        lines.append(f"{strands} strands: {sum(s.kinds for s in own):,} kinds ({grids})\n")
    return "".join(lines) + f"{sum(s.kinds for s in sizes):,} kinds in all\n"


def library_damage(library: str | Path | None = None) -> tuple[str, ...]:
    """Return what is wrong with a library: its file, and figures that do not follow from its grids.

    Every hundredth kind is computed anew.

    Raises:
        InputError: It cannot be read at all.
    """
    from motifsearch.library.building import described

    with _open(library) as own:
        wrong = list(own.damage())
        for size in own.sizes():
            if wrong:
                break
            kinds = own.read(size.strands, size.period)
            some = kinds.take(np.arange(0, len(kinds), 100))
            fresh = described(some["key"], some.knots(), np.ascontiguousarray(some["colours"]))
            wrong += [
                f"{size.strands} strands, {size.period} rows: {name} does not follow from the grids"
                for name in some.columns
                if not np.array_equal(np.asarray(some[name]), fresh[name])
            ]
    return tuple(wrong)
