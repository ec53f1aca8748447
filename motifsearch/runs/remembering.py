"""What a run has found is kept in a library when it ends.

A library that is named, or one that stands as ``library.sqlite`` in the folder that a run folder
stands in (or around its ``results/``), takes in every kind that the run found.  The run folder is
the same as without.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Final

from motifsearch.base.errors import MotifError
from motifsearch.library.building import kinds_in, kinds_of, marked_eased, together
from motifsearch.library.columns import Kinds
from motifsearch.library.store import opened
from motifsearch.pattern.design import Pattern
from motifsearch.search.genome import develop
from motifsearch.search.loop import Run as State

#: The name of a library that takes in the runs beside it.
BESIDE: Final = "library.sqlite"


def library_of(folder: str | Path | None, named: str | Path | None = None) -> Path | None:
    """Return the library that takes in a run: the one that is named, or the one beside it.

    Args:
        folder: The run folder; None where nothing is written.
        named: The library that was asked for; it is made when it is not there.

    Raises:
        InputError: What was asked for is no library.
        MotifError: It cannot be made.
    """
    if named is not None:
        with opened(named, make=True):
            return Path(named)
    if folder is None:
        return None
    places = [Path(folder).parent]
    if places[0].name == "results":
        places.append(places[0].parent)
    return next((p / BESIDE for p in places if (p / BESIDE).is_file()), None)


def remember(library: Path | None, state: State, shown: Sequence[Pattern]) -> tuple[str, ...]:
    """Add what a run found to a library; say what became of it, and never fail the run.

    Args:
        library: The library; None for none.
        state: The run.
        shown: The designs of its gallery.
    """
    if library is None:
        return ()
    try:
        batches = kinds_found(state, shown)
        with opened(library, make=True) as own:
            added = own.add(batches)
    except MotifError as bad:
        return (f"The library took nothing in: {bad}",)
    met = sum(len(batch) for batch in batches)
    return (f"{added:,} of {met:,} kinds are new in {library}.",)


def kinds_found(state: State, shown: Iterable[Pattern]) -> list[Kinds]:
    """Return every kind that a search holds, and those of its gallery.

    Args:
        state: The search.
        shown: The designs of its gallery.
    """
    batches = marked_eased(kinds_of(shown))  # a search eases what it shows
    for island in state.islands:
        if len(island.archive):
            batches += kinds_in(*develop(island.archive.genomes, island.space))
    return together(batches)
