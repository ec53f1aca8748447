"""Generative design search for knotted friendship bracelets.

The names of `__all__` are what Python may use; each is loaded when it is first asked for::

    import motifsearch as ms

    run = ms.search("brief.toml")     # a run: a sequence of candidates that show themselves
    run[0].scores["repeat_rows"]
    run.write("results/mine")         # the gallery, with worksheets

The package is a house of rooms; each imports only from the floors below it (see DEVELOPERS.md).
"""

from __future__ import annotations

import sys
from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING, Any, Final

from motifsearch.base.version import __version__ as __version__

if TYPE_CHECKING:
    from motifsearch.base.errors import InfeasibleError, InputError, MotifError
    from motifsearch.pattern.files import read_pattern
    from motifsearch.runs.booking import bookings, undo, use
    from motifsearch.runs.briefing import diagnose
    from motifsearch.runs.finding import find
    from motifsearch.runs.grouping import group
    from motifsearch.runs.kitting import kits
    from motifsearch.runs.lettering import letters
    from motifsearch.runs.one import cut, score
    from motifsearch.runs.picking import pick
    from motifsearch.runs.rebuilding import open_run
    from motifsearch.runs.searching import resume, search
    from motifsearch.runs.settings import Asked
    from motifsearch.runs.sheets import draw, worksheet
    from motifsearch.runs.tasting import taste
    from motifsearch.runs.varying import vary
    from motifsearch.runs.wanted import target
    from motifsearch.search.brief import read_brief
    from motifsearch.thread.stash import read_stash

#: The public names, and the modules that they are loaded from.
_PUBLIC: Final = {
    "read_stash": "thread.stash",
    "read_brief": "search.brief",
    "read_pattern": "pattern.files",
    "search": "runs.searching",
    "resume": "runs.searching",
    "pick": "runs.picking",
    "taste": "runs.tasting",
    "find": "runs.finding",
    "vary": "runs.varying",
    "target": "runs.wanted",
    "group": "runs.grouping",
    "letters": "runs.lettering",
    "score": "runs.one",
    "cut": "runs.one",
    "kits": "runs.kitting",
    "use": "runs.booking",
    "bookings": "runs.booking",
    "undo": "runs.booking",
    "diagnose": "runs.briefing",
    "draw": "runs.sheets",
    "worksheet": "runs.sheets",
    "open_run": "runs.rebuilding",
    "Asked": "runs.settings",
    "MotifError": "base.errors",
    "InputError": "base.errors",
    "InfeasibleError": "base.errors",
}

__all__ = [
    "Asked",
    "InfeasibleError",
    "InputError",
    "MotifError",
    "bookings",
    "cut",
    "diagnose",
    "draw",
    "find",
    "group",
    "kits",
    "letters",
    "open_run",
    "pick",
    "read_brief",
    "read_pattern",
    "read_stash",
    "resume",
    "score",
    "search",
    "target",
    "taste",
    "undo",
    "use",
    "vary",
    "worksheet",
]


def __getattr__(name: str) -> Any:
    """Load a public name from its module."""
    if name in _PUBLIC:
        value = getattr(import_module(f"motifsearch.{_PUBLIC[name]}"), name)
        globals()[name] = value
        return value
    raise AttributeError(f"module 'motifsearch' has no attribute {name!r}")


def __dir__() -> list[str]:
    """Return the public names too, though they are not loaded yet."""
    return sorted({*globals(), *__all__})


class _Package(ModuleType):
    """The package: four rooms are named as functions are, and the function is what Python means.

    The import system sets a room as an attribute of its package; ``ms.search`` must stay the
    function all the same.  A room is imported with ``from motifsearch.search import ...``.
    """

    def __setattr__(self, name: str, value: Any) -> None:
        if name in _PUBLIC and isinstance(value, ModuleType):
            return
        super().__setattr__(name, value)


sys.modules[__name__].__class__ = _Package
