"""Marks go to the picks of the run too, where the search that learns from them finds them.

``RUN/picks.toml`` is written by `motifsearch.runs.picking`, as ``motifsearch pick RUN N`` does; the
shelf keeps what outlasts the run.
"""

from __future__ import annotations

import re
from importlib import import_module
from importlib.util import find_spec

from motifsearch.runs.workroom import Workroom

PICKING = "motifsearch.runs.picking"
_CANDIDATE = re.compile(r"(?P<run>.+)/candidates/(?P<number>\d+)")


def picked(room: Workroom, of: str, as_: str) -> bool:
    """Write a mark into the picks of a run; return whether there was one to write into.

    Args:
        room: The workroom.
        of: The design, such as ``saturday/candidates/003``; another one is in no run.
        as_: "wanted" or "passed".

    Raises:
        InputError: There is no such run or design.
    """
    found = _CANDIDATE.fullmatch(of)
    if found is None or as_ not in ("wanted", "passed") or find_spec(PICKING) is None:
        return False
    numbers = [int(found["number"])]
    wanted, not_for_me = (numbers, []) if as_ == "wanted" else ([], numbers)
    import_module(PICKING).pick(room.run(found["run"]), wanted, not_for_me)
    return True
