"""Where a search keeps brief, stash and checkpoint until its gallery is there.

The run folder itself; where an older gallery stands in it that is to be written over, a folder of
its own inside, so that a search that is broken off leaves the older run as it was, and can go on.
"""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from typing import Any, Final

from motifsearch.base.tomlfile import read_text, write_atomic
from motifsearch.runs.inputs import brief_files, changed_brief
from motifsearch.runs.store import CHECKPOINT, STATE, RunFolder
from motifsearch.search.brief import Brief

#: Where a search that writes over an older run keeps its state until its gallery is there.
UNFINISHED: Final = f"{STATE}/unfinished"


class Home:
    """The folder of a search's own state.

    Args:
        place: The run folder, owned.
        fresh: Whether a search begins; else one goes on.
    """

    def __init__(self, place: RunFolder, *, fresh: bool) -> None:
        self.place = place
        apart = place.path / UNFINISHED
        if fresh:
            shutil.rmtree(apart, ignore_errors=True)
            self.apart = any(p.name != STATE for p in place.path.iterdir())
        else:
            self.apart = (apart / CHECKPOINT).is_file()
        self.path = apart if self.apart else place.path
        self.ready = not fresh
        self.fresh = fresh

    def prepare(self, brief: Brief) -> None:
        """Write brief and stash, once."""
        if self.ready:
            return
        self.path.mkdir(parents=True, exist_ok=True)
        files = brief_files(brief)
        for name, data in files.items():
            write_atomic(self.path / name, data)
        if not self.apart:
            self.place.note(*files)
        self.ready = True

    def change(self, overrides: Mapping[str, Any]) -> None:
        """Set keys of the brief, in a text that stays hers otherwise."""
        if not overrides:
            return
        path = self.path / "brief.toml"
        hers = not self.apart and self.place.is_hers("brief.toml")
        write_atomic(path, changed_brief(read_text(path, "a brief"), dict(overrides)))
        if not self.apart and not hers:
            self.place.note("brief.toml")

    def files(self) -> dict[str, str | bytes]:
        """Return what has to take its place in the run folder with the gallery."""
        if not self.apart:
            return {}
        return {p.name: p.read_bytes() for p in sorted(self.path.iterdir()) if p.is_file()}

    def done(self) -> None:
        """Clear away what has taken its place."""
        if self.apart:
            shutil.rmtree(self.path, ignore_errors=True)

    def discard(self) -> None:
        """Take back what a search that began here has written: it has come to nothing.

        One that went on leaves what it went on from.
        """
        if not self.fresh:
            return
        if self.apart:
            self.done()
            return
        for name in (*(self.place.written or {}), CHECKPOINT):
            if not self.place.is_hers(name):
                (self.path / name).unlink(missing_ok=True)
        (self.place.state / "written.json").unlink(missing_ok=True)
