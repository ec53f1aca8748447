"""``library``: adding runs to a library, merging, counting, checking.

Figures (`motifsearch.describe.figures`) take ten times as long as all else that is kept of a kind:
a run that ends leaves them out, and an addition by hand looks at all that are still missing.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from motifsearch.base.errors import InputError
from motifsearch.describe.figures import FIGURES
from motifsearch.library.building import (
    described,
    kinds_in,
    kinds_of,
    marked_eased,
    together,
    with_figures,
)
from motifsearch.library.columns import UNSEEN, Kinds
from motifsearch.library.opening import Where, libraries
from motifsearch.library.store import Library, opened
from motifsearch.runs.hooks import SILENT, Hooks
from motifsearch.runs.rebuilding import open_run
from motifsearch.runs.remembering import kinds_found
from motifsearch.runs.store import CHECKPOINT
from motifsearch.runs.workers import StoppedError, Workers, in_turn, said_by, working
from motifsearch.search.checkpoint import load_checkpoint

#: Kinds whose figures one task looks at, and at least so many between two changes of the file.
PART: Final = 50
AT_ONCE: Final = 400
#: Kinds that a check computes anew, of one size.
CHECKED: Final = 50


@dataclass(frozen=True)
class Added:
    """What became of an addition.

    Attributes:
        kinds: Kinds that are new in the library.
        met: Kinds that were offered.
        said: What became of workers that gave no result, a line each.
    """

    kinds: int
    met: int
    said: tuple[str, ...] = ()


def library_add(
    library: str | Path,
    runs: Sequence[str | Path] = (),
    *,
    workers: Workers = 1,
    hooks: Hooks = SILENT,
) -> Added:
    """Add what runs have found to a library, which is made when it is not there.

    Figures that are still to be looked at are looked at then; without runs only that.

    Args:
        library: The library's file.
        runs: Run folders; what stands in their galleries, and what their searches hold.
        workers: Processes, or ``dask:tcp://HOST:PORT``; None for as many as there are cores.
        hooks: A log, and a stop between two changes.

    Raises:
        InputError: A run or the library cannot be read.
        MotifError: The library cannot be written; nothing is added.
    """
    batches: list[Kinds] = []
    for run in runs:
        batches += _of_run(Path(run))
    batches = together(batches)
    with opened(library, make=True) as own:
        added = own.add(batches)
        said = looked_at(own, workers, hooks)
    return Added(added, sum(len(batch) for batch in batches), said)


def _of_run(folder: Path) -> list[Kinds]:
    """Return every kind that a run folder knows: of its candidates, and of its search."""
    run = open_run(folder)
    patterns = [one.pattern for one in run]
    batches = kinds_of(patterns)
    if run.record.kind == "search":
        batches = marked_eased(batches)
    if run.brief is not None and (folder / CHECKPOINT).is_file():
        # Where the brief was edited since, what stands in the gallery still counts.
        with suppress(InputError):
            batches += kinds_found(load_checkpoint(folder / CHECKPOINT, run.brief), ())
    return batches


def library_merge(
    library: str | Path,
    others: Sequence[str | Path],
    *,
    workers: Workers = 1,
    hooks: Hooks = SILENT,
) -> Added:
    """Add all kinds of other libraries to one.

    Args:
        library: The library that takes in the others; made when it is not there.
        others: Libraries.
        workers: Processes, or ``dask:tcp://HOST:PORT``; None for as many as there are cores.
        hooks: A log, and a stop between two changes.

    Raises:
        InputError: A library cannot be read.
        MotifError: The library cannot be written; nothing is added.
    """
    with libraries(list(others)) as sources, opened(library, make=True) as own:
        met = sum(len(source) for source in sources)
        added = own.add(_parts(sources))
        said = looked_at(own, workers, hooks)
    return Added(added, met, said)


def _parts(sources: Sequence[Library]) -> Iterable[Kinds]:
    for source in sources:
        for size in source.sizes():
            for block in source.blocks(size.strands, size.period):
                where = np.arange(block.start, block.start + block.kinds)
                yield source.some(size.strands, size.period, where)


def looked_at(own: Library, workers: Workers, hooks: Hooks) -> tuple[str, ...]:
    """Look at the figures of all kinds that have none yet.

    Args:
        own: The library.
        workers: Who looks.
        hooks: A log, and a stop between two changes.

    Returns:
        What became of workers that gave no result, a line each.

    Raises:
        MotifError: The library cannot be written; what was looked at before stays.
    """
    todo = []
    for size in own.sizes():
        figure = own.read(size.strands, size.period, ["figure"])["figure"]
        unseen = np.flatnonzero(figure == UNSEEN)
        todo += [(size, unseen[k : k + PART]) for k in range(0, len(unseen), PART)]
    total, done = sum(len(some) for _, some in todo), 0
    with working(workers, max(len(todo), 1)) as pool:
        parts = (own.some(size.strands, size.period, some) for size, some in todo)
        seen: list[Kinds] = []
        with suppress(StoppedError):
            for kinds in in_turn(pool, with_figures, parts, hooks.stop):
                seen.append(kinds)
                done += len(kinds)
                if done == total or sum(map(len, seen)) >= AT_ONCE:
                    own.complete(together(seen))
                    seen = []
                    hooks.log(f"figures: {done:,} of {total:,} kinds")
        if seen:
            own.complete(together(seen))
    return said_by(pool)


def library_text(library: Where = None) -> str:
    """Return what a library holds, by strands and by figure, in words.

    Raises:
        InputError: It cannot be read.
    """
    lines = []
    names = list(FIGURES)
    number = np.zeros(256, np.int64)
    total = 0
    with libraries(library) as own:
        sizes = [size for one in own for size in one.sizes()]
        for strands in sorted({s.strands for s in sizes}):
            mine = [s for s in sizes if s.strands == strands]
            grids = ", ".join(f"{s.period} rows: {s.kinds:,}" for s in mine)
            kinds = sum(s.kinds for s in mine)
            total += kinds
            lines.append(f"{strands} strands: {kinds:,} kinds ({grids})")
        for one in own:
            for size in one.sizes():
                figure = one.read(size.strands, size.period, ["figure"])["figure"]
                number += np.bincount(figure, minlength=256)
    lines.append(f"{total:,} kinds in all")
    for k in np.argsort(-number[: len(names)], kind="stable"):
        if number[k]:
            lines.append(f"  {FIGURES[names[k]]}: {number[k]:,}")
    if number[UNSEEN]:
        lines.append(f"  not looked at yet: {number[UNSEEN]:,} (motifsearch library add looks)")
    return "\n".join(lines) + "\n"


def library_damage(library: Where = None) -> tuple[str, ...]:
    """Return what is wrong with a library: its file, and columns that do not follow from its grids.

    Of every size `CHECKED` kinds, spread over all, are computed anew.

    Raises:
        InputError: It cannot be read at all.
    """
    wrong: list[str] = []
    with libraries(library) as own:
        for one in own:
            damage = one.damage()
            wrong += damage
            for size in () if damage else one.sizes():
                where = np.unique(np.linspace(0, size.kinds - 1, CHECKED).astype(np.int64))
                kinds = one.some(size.strands, size.period, where)
                colours = np.ascontiguousarray(kinds["colours"])
                fresh = described(kinds["key"], kinds.knots(), colours)
                for name in kinds.columns:
                    if name not in ("figure", "eased") and not np.array_equal(
                        kinds[name], fresh[name]
                    ):
                        wrong.append(
                            f"{size.strands} strands, {size.period} rows: {name} does not follow "
                            "from the grids"
                        )
                named = kinds_in(kinds.knots(), colours)
                if sorted(k for n in named for k in n["key"]) != sorted(kinds["key"]):
                    wrong.append(
                        f"{size.strands} strands, {size.period} rows: keys are not those of the "
                        "grids"
                    )
    return tuple(wrong)
