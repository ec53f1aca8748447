"""A run folder on disk: one owner at a time, changes whole or not at all, nothing of hers lost.

**One owner.** Whoever writes holds a lock of the operating system on ``.motifsearch/lock`` (it goes
with its process, however that ends); a second writer is told who is at work.

**Whole changes.** What is to be written is laid out first under ``.motifsearch/``.  When all of it
is there, ``commit.json`` names it (a redo log: Gray, Reuter, Transaction Processing, 1992, ch. 9);
then the files take their places.  A change that was broken off before the commit is cleared away by
the next owner, one broken off after it is finished.

**Nothing of hers.** ``written.json`` holds the SHA-256 of every file that was written here.  A file
that it does not know, or that was changed since, is the maker's: it is never deleted, and never
written over inside a candidate; at the top of the folder it is kept under another name.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Final

from filelock import FileLock, Timeout

from motifsearch.base.errors import InputError, MotifError
from motifsearch.base.tomlfile import write_atomic

STATE: Final = ".motifsearch"
CANDIDATES: Final = "candidates"
CHECKPOINT: Final = "checkpoint.npz"
#: What is said where the list of what was written here cannot be used.
LOST_LIST: Final = (
    f"{STATE}/written.json is damaged, so it is not known what was written here: every file that "
    "stands in the folder is taken as yours and kept"
)
#: What is said where a broken-off change cannot be finished.
LOST_CHANGE: Final = (
    f"{STATE}/commit.json is damaged: the change that was broken off is not finished, and what "
    "stands in the folder stays"
)
#: What stands in the lock while nobody holds it.
FREE: Final = "nobody is at work in this folder"
#: The files of a candidate; a folder without a list of what was written is judged by these names.
OURS: Final = ("pattern.toml", "scores.json", "cut.csv", "face.png", "worksheet.pdf", "board.html",
               "target.png", "from.toml")  # fmt: skip


#: The files at the top of a run folder.
TOP: Final = ("brief.toml", "stash.toml", "calibration.toml", "target.txt", "picks.toml",
              "run.json", "ranking.csv", "gallery.html", "gallery.png", CHECKPOINT,
              "plan.json", "class.html", "cutting-list.csv")  # fmt: skip


class BusyError(InputError):
    """Another process is at work in the folder."""


def sha256(path: Path) -> str:
    """Return the SHA-256 of a file's bytes; empty when it cannot be read."""
    if not path.is_file():  # to open a pipe would wait for its other end
        return ""
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return ""


class RunFolder:
    """A run folder that this process may write to.  Made by `owned`."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.state = path / STATE
        self.said: tuple[str, ...] = ()
        self.written = self._read_written()

    def _read_written(self) -> dict[str, str] | None:
        """Return name to SHA-256 of what was written here; None where no list stands."""
        place = self.state / "written.json"
        if not place.is_file():
            return None
        try:
            data = json.loads(place.read_text(encoding="utf-8"))
        except (OSError, ValueError, RecursionError):
            data = None
        if not isinstance(data, dict) or _pairs(data) != data:
            self.said += (LOST_LIST,)
            return {}
        return _pairs(data)

    def is_hers(self, name: str) -> bool:
        """Return whether a file of the folder was not written by the tool, or changed since.

        Args:
            name: Relative to the folder, with ``/``.
        """
        path = self.path / name
        if not path.exists() and not path.is_symlink():
            return False
        if name == CHECKPOINT:
            return False
        if self.written is None:
            # Without the list: a run of an older version, or a folder that is no run at all.
            parts = name.split("/")
            known = parts[0] != CANDIDATES or parts[-1] in OURS
            return not (known and (self.path / "run.json").is_file())
        return path.is_symlink() or self.written.get(name) != sha256(path)

    def touched(self, candidate: str) -> tuple[str, ...]:
        """Return the files in ``candidates/NAME`` that are the maker's."""
        place = self.path / CANDIDATES / candidate
        names = (p.relative_to(self.path).as_posix() for p in sorted(place.rglob("*"))
                 if not p.is_dir() or p.is_symlink())  # fmt: skip
        return tuple(n for n in names if self.is_hers(n))

    def leave(self, folder: str) -> tuple[str, ...]:
        """Return the names of a candidate's files that are the maker's, and of its pattern.

        Args:
            folder: Such as ``candidates/001``.
        """
        mine = (n.removeprefix(f"{folder}/") for n in self.touched(Path(folder).name))
        return ("pattern.toml", *(n for n in mine if n != "pattern.toml"))

    def candidates(self) -> tuple[str, ...]:
        """Return the names of the candidates' folders, in order."""
        place = self.path / CANDIDATES
        if not place.is_dir():
            return ()
        return tuple(sorted(p.name for p in place.iterdir() if p.is_dir()))

    def refuse_unless_empty(self, overwrite: bool) -> None:
        """Refuse a folder that holds something, unless it was to be written over.

        Raises:
            InputError: It holds something.
        """
        if not overwrite and any(p.name != STATE for p in self.path.iterdir()):
            raise InputError(
                "the run folder exists already; choose another with --out, go on with --resume, "
                "or give --overwrite",
                source=self.path,
            )

    def refuse_inputs(self, inputs: Iterable[Path]) -> None:
        """Refuse to write where files that were read stand: inputs are never outputs.

        Raises:
            InputError: One of them would be written over.
        """
        here = self.path.resolve()
        for path in inputs:
            real = path.resolve()
            if not real.is_relative_to(here):
                continue
            name = real.relative_to(here).parts[0]
            if name in (*TOP, CANDIDATES, STATE):
                raise InputError(
                    f"{path} is read for this run and would be written over by it; choose another "
                    "folder with --out",
                    source=self.path,
                )

    def stage(self) -> Path:
        """Return a new empty folder in which a change is laid out before it is committed.

        Raises:
            MotifError: It cannot be made.
        """
        root = self.state / f"next-{os.getpid()}"
        shutil.rmtree(root, ignore_errors=True)
        try:
            root.mkdir(parents=True)
        except OSError as bad:
            raise MotifError(f"{self.path}: cannot write: {bad.strerror}") from None
        return root

    def commit(self, root: Path, gone: Iterable[str] = ()) -> tuple[str, ...]:
        """Let everything under a stage take its place in the folder, as one step.

        Args:
            root: The stage.
            gone: Names of files to be removed, where they are not the maker's.

        Returns:
            What was kept of hers, one line each.

        Raises:
            MotifError: Something cannot be written; nothing has changed then, or the change is
                finished when the folder is next opened.
        """
        files = sorted(p.relative_to(root).as_posix() for p in root.rglob("*") if p.is_file())
        written = dict(self.written or {})
        aside: dict[str, str] = {}
        said = [*self.said]
        for name in files:
            if self.is_hers(name):
                aside[name] = self._free_name(name)
                how = "may be yours" if LOST_LIST in self.said else "was changed by hand"
                said.append(f"{name} {how}: it is kept as {aside[name]}")
            if name != CHECKPOINT:
                written[name] = sha256(root / name)
        remove = {
            name: sha256(self.path / name)
            for name in gone
            if name not in files and (self.path / name).is_file() and not self.is_hers(name)
        }
        for name in remove:
            written.pop(name, None)
        before = {n: sha256(self.path / n) for n in files if n not in aside and n != CHECKPOINT}
        log = {"stage": root.name, "files": files, "aside": aside, "remove": remove,
               "before": before, "written": written}  # fmt: skip
        write_atomic(self.state / "commit.json", json.dumps(log, indent=1))
        self._finish(log)
        return tuple(said)

    def _free_name(self, name: str) -> str:
        path = Path(name)
        number = 1
        while True:
            more = f".edited{number if number > 1 else ''}"
            free = path.with_name(f"{path.stem}{more}{path.suffix}").as_posix()
            if not (self.path / free).exists():
                return free
            number += 1

    def _finish(self, log: Mapping[str, object]) -> None:
        """Carry out a commit; done again after it was broken off, it comes to the same."""
        root = self.state / str(log["stage"])
        files, aside = _names(log["files"]), _pairs(log["aside"])
        before = _pairs(log.get("before"))
        try:
            for name in files:
                staged, place = root / name, self.path / name
                if not staged.exists():
                    continue
                place.parent.mkdir(parents=True, exist_ok=True)
                if name in aside and place.exists() and not (self.path / aside[name]).exists():
                    os.replace(place, self.path / aside[name])
                elif sha256(place) not in ("", before.get(name, "")) and name in before:
                    # Edited while the change was on its way, or before it was finished.
                    os.replace(place, self.path / self._free_name(name))
                os.replace(staged, place)
            for name, digest in _pairs(log["remove"]).items():
                if sha256(self.path / name) == digest:
                    (self.path / name).unlink()
                    with suppress(OSError):
                        (self.path / name).parent.rmdir()
            written = _pairs(log["written"])
            write_atomic(
                self.state / "written.json", json.dumps(written, indent=1, sort_keys=True) + "\n"
            )
            (self.state / "commit.json").unlink()
        except OSError as bad:
            raise MotifError(f"{self.path}: cannot write: {bad.strerror or bad}") from None
        self.written = written
        shutil.rmtree(root, ignore_errors=True)

    def note(self, *names: str) -> None:
        """Take down files that were written straight into the folder as the tool's own."""
        written = dict(self.written or {})
        written.update({name: sha256(self.path / name) for name in names})
        write_atomic(
            self.state / "written.json", json.dumps(written, indent=1, sort_keys=True) + "\n"
        )
        self.written = written

    def _write_list(self, written: Mapping[str, str]) -> None:
        text = json.dumps(written, indent=1, sort_keys=True)
        write_atomic(self.state / "written.json", f"{text}\n")

    def settle(self) -> None:
        """Finish what a killed owner had committed, and clear away what it had not."""
        place = self.state / "commit.json"
        if place.is_file():
            try:
                log = json.loads(place.read_text(encoding="utf-8"))
                right = _is_commit(log)
            except (ValueError, KeyError, RecursionError):
                right = False
            if right:
                self._finish(log)
            else:
                self.said += (LOST_CHANGE,)
                place.unlink()
        older = self.path / ".tmp-old-candidates~"
        if older.is_dir() and not (self.path / CANDIDATES).exists():
            os.replace(older, self.path / CANDIDATES)  # an older version was killed between renames
        for left in [*self.state.glob("next-*"), *self.path.glob(".tmp-*~"),
                     *self.state.glob(".tmp-*~"), *self.path.glob(f"{CANDIDATES}/*/.tmp-*~"),
                     *self.state.glob("*/.tmp-*~")]:  # fmt: skip
            if left.is_dir() and not left.is_symlink():
                shutil.rmtree(left, ignore_errors=True)
            else:
                left.unlink(missing_ok=True)


def _is_commit(log: object) -> bool:
    """Return whether a commit is one of ours; what is not is cleared away, and nothing is moved."""
    if not isinstance(log, dict):
        return False
    stage, files = log.get("stage"), log.get("files")
    good = isinstance(stage, str) and stage.startswith("next-") and stage[5:].isdecimal()
    good = good and isinstance(files, list) and all(_inside(name) for name in files)
    return good and all(
        isinstance(log.get(key), dict) and _pairs(log[key]) == log[key]
        for key in ("aside", "remove", "written")
    )


def _names(value: object) -> list[str]:
    return [n for n in value if _inside(n)] if isinstance(value, list) else []


def _pairs(value: object) -> dict[str, str]:
    if not isinstance(value, dict):
        return {}
    return {k: v for k, v in value.items() if _inside(k) and isinstance(v, str)}


def _inside(name: object) -> bool:
    """Return whether a name stays inside the folder."""
    return isinstance(name, str) and ".." not in Path(name).parts and not Path(name).is_absolute()


@contextmanager
def owned(folder: Path, doing: str) -> Iterator[RunFolder]:
    """Own a run folder for a while; it is made when it is not there.

    A folder that was made here and into which nothing was written is gone again afterwards.

    Args:
        folder: The run folder.
        doing: What is done, for whoever comes second, such as ``a search``.

    Raises:
        InputError: Something else stands there, or another process is at work in it.
        MotifError: It cannot be made.
    """
    if folder.exists() and not folder.is_dir():
        raise InputError("expected a folder for the run; a file stands there", source=folder)
    made = not folder.exists()
    state = folder / STATE
    try:
        state.mkdir(parents=True, exist_ok=True)
    except OSError as bad:
        raise MotifError(f"{folder}: cannot make the run folder: {bad.strerror}") from None
    lock = FileLock(state / "lock", timeout=0)
    try:
        lock.acquire()
    except Timeout:
        raise BusyError(
            f"another motifsearch is at work in this folder{_owner(state)}; wait until it has "
            "ended, or choose another folder",
            source=folder,
        ) from None
    except OSError as bad:
        raise MotifError(f"{folder}: cannot write: {bad.strerror}") from None
    try:
        place = RunFolder(folder)
        place.settle()
        _say_owner(state, f"{doing}, process {os.getpid()}")
        mine = RunFolder(folder)
        mine.said = tuple(dict.fromkeys((*place.said, *mine.said)))
        yield mine
    finally:
        for left in state.glob("next-*"):
            shutil.rmtree(left, ignore_errors=True)
        _say_owner(state, FREE)
        empty = made and [p.name for p in folder.iterdir()] == [STATE]
        if empty and [p.name for p in state.iterdir()] == ["lock"]:
            (state / "lock").unlink(missing_ok=True)
            with suppress(OSError):
                state.rmdir()
                folder.rmdir()
        lock.release()


def _say_owner(state: Path, text: str) -> None:
    """Write into the lock who holds it; what stands there decides nothing."""
    with suppress(OSError), (state / "lock").open("r+", encoding="utf-8") as out:
        out.write(f"{text}\n")
        out.truncate()


def _owner(state: Path) -> str:
    try:
        text = (state / "lock").read_text(encoding="utf-8")[:80].strip()
    except (OSError, ValueError):
        return ""
    return f" ({text})" if text not in ("", FREE) else ""


def settled(folder: Path) -> None:
    """Finish a change of a run folder that was committed and broken off, before it is read.

    Raises:
        InputError: Another process is at work in it.
    """
    if (folder / STATE / "commit.json").is_file() or (folder / ".tmp-old-candidates~").is_dir():
        with owned(folder, "mending"):
            pass
