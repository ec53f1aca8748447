"""Marks go to the picks of the run too, where the search that learns from them finds them.

``RUN/picks.toml`` is written by `motifsearch.runs.picking`, as ``motifsearch pick RUN N`` does; the
shelf keeps what outlasts the run.
"""

from __future__ import annotations

import re
from typing import Final

from motifsearch.runs.picking import pick, shown_in
from motifsearch.runs.shelf import read_shelf
from motifsearch.runs.store import CANDIDATES, BusyError
from motifsearch.runs.workroom import Workroom

#: A mark, and how `motifsearch.runs.picking.pick` calls it.
MARKS: Final = {"wanted": "wanted", "passed": "not_for_me", "": "unmarked"}
_CANDIDATE = re.compile(r"(?P<run>.+)/candidates/(?P<number>\d+)")


def shelved(room: Workroom, run: str) -> None:
    """Mark what of a gallery stands on the shelf, or was passed over, before its run goes on.

    A band may have been marked while the search was at work, when it had no number yet.

    Args:
        room: The workroom.
        run: The name of the run.

    Raises:
        InputError: There is no such run, or its picks cannot be read.
    """
    folder, shelf = room.run(run), read_shelf(room)
    if not (folder / CANDIDATES).is_dir():
        return
    hung = {band.key for band in shelf.bands}
    cards = shown_in(folder)
    wanted = [card.number for card in cards if card.key in hung]
    passed = [card.number for card in cards if card.key in shelf.passed]
    if wanted or passed:
        pick(folder, wanted, [n for n in passed if n not in wanted])


def picked(room: Workroom, of: str, as_: str) -> bool:
    """Write a mark into the picks of a run; return whether there was one to write into.

    Args:
        room: The workroom.
        of: The design, such as ``saturday/candidates/003``; another one is in no run.
        as_: "wanted", "passed", or nothing to take a mark back.

    Raises:
        InputError: There is no such run or design.
    """
    found = _CANDIDATE.fullmatch(of)
    if found is None or as_ not in MARKS:
        return False
    marks: dict[str, list[int]] = {MARKS[as_]: [int(found["number"])]}
    try:
        pick(room.run(found["run"]), **marks)
    except BusyError:
        return False  # a search is at work there: the mark stands on the shelf
    return True
