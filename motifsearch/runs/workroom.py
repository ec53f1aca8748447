"""The workroom: a folder of plain files, which are the only truth about what a maker is at.

``stash.toml``, briefs, run folders, ``shelf.toml``: the command line, Python and the page read and
write the same ones, while each of them is open.  So every change says which *version* of a file it
was thought out on: the first 16 hex digits of the SHA-256 of its bytes.  It is compared under a
lock of the operating system, just before the file is replaced; a change on stale data is refused
(`ChangedError`), never merged and never lost.

Nothing outside the folder is ever opened for a name that came from a page: `Workroom.inside`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from motifsearch.base.errors import InputError, MotifError
from motifsearch.base.text import file_stem
from motifsearch.base.tomlfile import read_toml
from motifsearch.runs import changes
from motifsearch.runs.record import NAME as RECORD
from motifsearch.runs.store import CHECKPOINT
from motifsearch.runs.versions import locked, put, read_bytes, version_of
from motifsearch.thread.ledger import ChangedError

STASH: Final = "stash.toml"
#: Folders of a workroom that are no runs.
OURS: Final = ("shelf", "results", "candidates")


@dataclass(frozen=True)
class RunNote:
    """A run folder, as it is named in a list.

    Attributes:
        name: Relative to the workroom, with ``/``.
        finished: Whether a gallery stands in it.
        can_go_on: Whether a checkpoint stands in it.
        changed: When it was last written, in seconds since 1970; to sort by.
    """

    name: str
    finished: bool
    can_go_on: bool
    changed: float


@dataclass(frozen=True)
class Workroom:
    """A folder as the truth.  Made by `open_workroom`.

    Attributes:
        path: The folder, without symbolic links.
        box: The stash file, where it is not the folder's usual one.
    """

    path: Path
    box: Path | None = None

    @property
    def name(self) -> str:
        """What people call it."""
        return self.path.name or str(self.path)

    @property
    def stash(self) -> Path:
        """The stash file: ``stash.toml``, or the first ``stash*.toml`` where there is none."""
        if self.box is not None:
            return self.box
        plain = self.path / STASH
        if not plain.exists():
            others = sorted(p for p in self.path.glob("stash*.toml") if p.is_file())
            if others:
                return others[0]
        return plain

    def inside(self, name: str) -> Path:
        """Return the path of a name in the folder.

        Args:
            name: Relative, with ``/``; no part may be hidden or lead out of the folder, and no
                symbolic link may either.

        Raises:
            InputError: It would lead out of the folder, or names what is not hers to name.
        """
        parts = name.split("/")
        plain = all(
            p and not p.startswith(".") and p.isprintable() and not set(p) & set('\\:*?"<>|')
            for p in parts
        )
        if not plain or len(name) > 300:
            raise InputError("expected a name inside the folder", name)
        path = self.path.joinpath(*parts)
        if not path.resolve().is_relative_to(self.path):
            raise InputError("expected a name inside the folder", name)
        return path

    def named(self, path: Path) -> str:
        """Return the name of a path in the folder."""
        return path.resolve().relative_to(self.path).as_posix()

    def run(self, name: str) -> Path:
        """Return a run folder.

        Raises:
            InputError: There is none of this name.
        """
        path = self.inside(name)
        if not (path / "brief.toml").is_file() and not (path / RECORD).is_file():
            raise InputError("expected a run of this folder", name)
        return path

    def runs(self) -> tuple[RunNote, ...]:
        """Return the run folders, the one that was written last first."""
        found = []
        for place in (self.path, self.path / "results"):
            if not place.is_dir() or place.is_symlink():
                continue
            for path in sorted(place.iterdir()):
                if path.name.startswith(".") or not path.is_dir() or path.is_symlink():
                    continue
                record, going = (path / RECORD).is_file(), (path / CHECKPOINT).is_file()
                if not (path / "brief.toml").is_file() or not (record or going):
                    continue
                newest = path / (RECORD if record else CHECKPOINT)
                found.append(RunNote(self.named(path), record, going, newest.stat().st_mtime))
        return tuple(sorted(found, key=lambda r: (-r.changed, r.name)))

    def briefs(self) -> tuple[str, ...]:
        """Return the names of the briefs: TOML files that ask for a number of strands."""
        return self._asking()[0]

    def groups(self) -> tuple[str, ...]:
        """Return the names of the groups: such files with a list of people, or of so many bands."""
        return self._asking()[1]

    def _asking(self) -> tuple[tuple[str, ...], tuple[str, ...]]:
        briefs: list[str] = []
        groups: list[str] = []
        for path in sorted(self.path.glob("*.toml")):
            try:
                table = read_toml(path, "a brief")
            except InputError:
                continue
            if "strands" in table:
                (groups if "people" in table or "bands" in table else briefs).append(path.name)
        return tuple(briefs), tuple(groups)

    def free_name(self, wanted: str, end: str = "") -> str:
        """Return a name that nothing in the folder has, near to the wanted one."""
        stem = file_stem(wanted)
        for n in range(1, 10_000):
            name = f"{stem}{'' if n == 1 else f'-{n}'}{end}"
            if name not in OURS and not (self.path / name).exists():
                return name
        raise MotifError(f"{self.path}: too many files of the name {stem}")

    def change(
        self,
        path: Path,
        version: str | None,
        edit: Callable[[bytes | None], bytes | None],
        words: str,
        *,
        remembered: bool = True,
    ) -> str:
        """Change a file as a whole: under its lock, on the version that the change was made for.

        Args:
            path: The file.
            version: What stood there when the change was thought out; None for any.
            edit: From the bytes that stand there to those that shall; None for no file.
            words: What is done, to be shown beside "undo".
            remembered: Whether it can be undone.

        Returns:
            The new version.

        Raises:
            ChangedError: Something else stands there now.
            InputError: What the edit refused.
            MotifError: The file cannot be written.
        """
        with locked(path):
            before = read_bytes(path)
            if version is not None and version_of(before) != version:
                raise ChangedError(
                    f"{path.name}: was changed meanwhile, in another window or by another program; "
                    "nothing was overwritten"
                )
            after = edit(before)
            if after == before:
                return version_of(before)
            put(path, after)
            if remembered:
                changes.note(self.path, self.named(path), before, after, words)
            return version_of(after)


def open_workroom(folder: str | Path) -> Workroom:
    """Return the workroom of a folder, which is made when it is not there.

    Raises:
        InputError: It is a file.
        MotifError: It cannot be made.
    """
    path = Path(folder)
    if path.exists() and not path.is_dir():
        raise InputError("expected a folder", source=path)
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as bad:
        raise MotifError(f"{path}: cannot make the folder: {bad.strerror}") from None
    return Workroom(path.resolve())


def room_of(stash: str | Path) -> Workroom:
    """Return the workroom that a stash file stands in, with that file as its box.

    Raises:
        InputError: Its folder is a file.
        MotifError: Its folder cannot be made.
    """
    room = open_workroom(Path(stash).parent)
    return Workroom(room.path, room.path / Path(stash).name)
