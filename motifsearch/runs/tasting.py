"""A person's taste: a file of its own, that is carried to other briefs and other threads.

It has the form of picks (`motifsearch.search.picks`): the rounds of the runs that were taken into
it, and what was struck out.  The picks of a run are such a file too.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import tomli_w
import tomlkit

from motifsearch.base.errors import InputError
from motifsearch.base.tomlfile import read_text, write_atomic
from motifsearch.pattern.files import format_pattern
from motifsearch.runs.inputs import PICKS
from motifsearch.runs.picking import picks_of
from motifsearch.runs.store import STATE, owned
from motifsearch.runs.versions import locked
from motifsearch.search.picks import Picks, format_picks, read_picks, round_data, together
from motifsearch.search.taste import wanted_of
from motifsearch.search.taste_words import Said, key_of_line, lines_known, said_of


def taste(
    file: str | Path,
    *,
    runs: Sequence[str | Path] = (),
    strike: Sequence[str] = (),
    unstrike: Sequence[str] = (),
    name: str | None = None,
    designs: str | Path | None = None,
) -> Said:
    """Return what a taste seems to be; take runs into it and strike lines out first.

    Args:
        file: The taste, or the picks of a run (or its folder); it is made where runs are taken in.
        runs: Run folders, or files of picks, that are taken in; a round that is known already takes
            the marks that it has there.
        strike: Lines that do not count any more, in the words in which they are said.
        unstrike: Lines that count again.
        name: Whose taste it is.
        designs: A folder into which every wanted design is written as a pattern file, for a gallery
            that is renewed gives its places to others.

    Raises:
        InputError: A file that cannot be read, or a line that is not known.
        MotifError: The file cannot be written.
    """
    path = Path(file)
    path = path / PICKS if path.is_dir() else path
    if not (runs or strike or unstrike or name is not None):
        old = read_picks(path)
        if designs is not None:
            write_wanted(old, Path(designs))
        return said_of(old)
    more = [picks_of(run) for run in runs]
    off, on = [_key(line) for line in strike], [_key(line) for line in unstrike]
    with _writing(path):
        old = read_picks(path) if path.exists() or not runs else Picks()
        new = together([old, *(replace(p, struck=()) for p in more)])
        struck = tuple(k for k in dict.fromkeys([*old.struck, *off]) if k not in on)
        new = replace(new, struck=struck, name=old.name if name is None else name.strip()[:200])
        if new != old or not path.exists():
            write_atomic(path, _text(path, old, new))
    if designs is not None:
        write_wanted(new, Path(designs))
    return said_of(new)


def write_wanted(picks: Picks, folder: Path) -> tuple[Path, ...]:
    """Write every wanted design as a pattern file, in the order of the marks; return the files.

    Args:
        picks: The picks.
        folder: The folder, which is made; a file of another content there is left alone.

    Raises:
        InputError: Another file has the name of one.
        MotifError: A file cannot be written.
    """
    out = []
    for n, pattern in enumerate(reversed(wanted_of(picks)), 1):
        letters = "".join(c if c.isalnum() and c.isascii() else "-" for c in pattern.title.lower())
        stem = "-".join(part for part in letters.split("-") if part)[:40] or "band"
        path, text = folder / f"{n:03d}-{stem}.toml", format_pattern(pattern)
        if path.exists() and read_text(path, "a pattern file") != text:
            raise InputError(
                "expected a folder of your own: another file stands there", source=path
            )
        folder.mkdir(parents=True, exist_ok=True)
        write_atomic(path, text)
        out.append(path)
    return tuple(out)


def _key(line: str) -> str:
    key = key_of_line(line)
    if key is None:
        known = ", ".join(lines_known().values())
        raise InputError(f"expected a line of a taste: {known}", line)
    return key


def _text(path: Path, old: Picks, new: Picks) -> str:
    """Return the text of the new taste; where rounds are only added, all else stays as written."""
    if not path.exists() or new.rounds[: len(old.rounds)] != old.rounds:
        return format_picks(new)
    document: Any = tomlkit.parse(read_text(path, "a taste"))
    for key, value in (("struck", list(new.struck)), ("name", new.name)):
        if value:
            document[key] = value
        else:
            document.pop(key, None)
    text = tomlkit.dumps(document)
    more = [round_data(one) for one in new.rounds[len(old.rounds) :]]
    if not more:
        return str(text)
    if not old.rounds:
        return format_picks(new)
    return f"{text.rstrip()}\n\n{tomli_w.dumps({'rounds': more})}"


@contextmanager
def _writing(path: Path) -> Iterator[None]:
    """Hold the lock of a file, or of the run folder that it stands in."""
    if path.name == PICKS and (path.parent / STATE).is_dir():
        with owned(path.parent, "changing the picks") as place:
            hers = place.is_hers(PICKS)
            yield
            if not hers and path.exists():
                place.note(PICKS)
        return
    with locked(path):
        yield


def taste_text(said: Said) -> str:
    """Return a taste as a person reads it: the sentences, and every line with how sure it is."""
    lines = said.sentences()
    for one in (*said.likes, *said.passes):
        lines.append(f"  {one.words:40} {'*' * min(5, max(1, int(one.sure - 1)))}")
    if said.likes or said.passes:
        lines.append('A line that is wrong: motifsearch taste FILE --strike "LINE"')
    return "\n".join(lines) + "\n"
