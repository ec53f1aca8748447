"""The candidates that stand in a run folder: read again, each in its place and with its number."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from motifsearch.base.errors import InputError
from motifsearch.base.text import clean_text
from motifsearch.pattern.design import Pattern
from motifsearch.pattern.files import read_pattern
from motifsearch.runs.candidate import Candidate, assemble
from motifsearch.runs.inputs import INPUTS, target_picture
from motifsearch.runs.record import Line
from motifsearch.runs.settings import FROM, Settings, lacking, own_settings, run_of
from motifsearch.runs.store import CANDIDATES, RunFolder
from motifsearch.search.brief import Brief

MAX_CANDIDATES: Final = 2000
HERS: Final = "Kept as it is: its folder holds files of yours."


@dataclass(frozen=True)
class Standing:
    """A whole candidate as it stands in a run folder.

    Attributes:
        name: Of its folder, such as ``001``.
        pattern: Its design.
    """

    name: str
    pattern: Pattern


def standing(folder: Path) -> tuple[tuple[Standing, ...], tuple[str, ...]]:
    """Return the candidates of a run folder in order, and one line for each that is damaged.

    Raises:
        InputError: There is no folder of candidates.
    """
    place = folder / CANDIDATES
    if not place.is_dir():
        raise InputError("expected a run folder with candidates/", source=folder)
    names = sorted(p for p in place.iterdir() if p.is_dir() and not p.name.startswith("."))
    found, damaged = [], []
    for path in names[:MAX_CANDIDATES]:
        try:
            found.append(Standing(path.name, read_pattern(path / "pattern.toml")))
        except InputError as bad:
            damaged.append(f"{clean_text(path.name)}: {bad}")
    more = len(names) - MAX_CANDIDATES
    if more > 0:
        damaged.append(f"{more} more candidates are not shown: {MAX_CANDIDATES} at most")
    return tuple(found), tuple(damaged)


def number_of(name: str, order: int) -> int:
    """Return the number of a candidate's folder; its place in order where the name is no number.

    Examples:
        >>> number_of("007", 3), number_of("mine", 3)
        (7, 3)
    """
    return int(name) if name.isascii() and name.isdigit() and len(name) < 8 else order


def again(
    found: Iterable[Standing],
    settings: Callable[[str], Settings],
    line: Callable[[str], Line | None],
    brief: Brief | None,
) -> tuple[list[Candidate], list[str]]:
    """Assemble candidates that stand in a folder again.

    Args:
        found: The candidates.
        settings: From a candidate's name to what it is made with.
        line: From its name to what the record says of it.
        brief: Whose wanted motif is shown beside them; None for none.

    Returns:
        The candidates, and one line for each that cannot be made with its run's threads.
    """
    out: list[Candidate] = []
    skipped: list[str] = []
    for n, one in enumerate(found, 1):
        known = line(one.name)
        try:
            mine = settings(one.name)
            if mine.stash is not None:
                for colour in lacking(one.pattern, mine.stash):
                    mine.stash.thread(colour)
            picture = b"" if brief is None else target_picture(one.pattern, brief)
            out.append(
                assemble(
                    one.pattern,
                    mine,
                    rank=number_of(one.name, n),
                    folder=f"{CANDIDATES}/{one.name}",
                    construction="none" if known is None else known.construction,
                    wishes={} if known is None else known.wishes,
                    wishes_met=0.0 if known is None else known.wishes_met,
                    notes=() if known is None else known.notes,
                    target_png=picture,
                )
            )
        except InputError as bad:
            skipped.append(f"{clean_text(one.name)}: {bad}")
    return out, skipped


def kept_candidates(
    place: RunFolder, names: Sequence[str], brief: Brief | None
) -> tuple[list[Candidate], list[str]]:
    """Return the candidates that stay beside new ones, because their folders hold her files.

    Args:
        place: The run folder; what it says now is what they are made with.
        names: Of the candidates' folders.
        brief: The run's, where they are of the same run as the new ones.

    Returns:
        The candidates, and one line for each that is damaged; it stays as well, but is not shown.
    """
    if not names:
        return [], []
    found, damaged = standing(place.path)
    here = [one for one in found if one.name in names]
    note = Line(folder="", title="", notes=(HERS,))
    made, skipped = again(here, own_of(place.path), lambda _: note, brief)
    return made, [*damaged, *skipped]


def own_of(folder: Path) -> Callable[[str], Settings]:
    """Return what gives every candidate of a folder, by name, the settings of its own run."""
    known: dict[Path | None, Settings] = {}

    def settings(name: str) -> Settings:
        pattern = folder / CANDIDATES / name / "pattern.toml"
        run = run_of(pattern)
        if run not in known:
            known[run] = own_settings(pattern)
        return known[run]

    return settings


def earlier_run(place: RunFolder, names: Sequence[str]) -> dict[str, str | bytes]:
    """Return the files that keep the settings of candidates whose run is written over.

    Args:
        place: The run folder.
        names: Of the candidates that stay.
    """
    number = 1
    while (place.path / f"runs/earlier-{number}").exists():
        number += 1
    kept = f"runs/earlier-{number}"
    of_this = [n for n in names if not (place.path / CANDIDATES / n / FROM).exists()]
    if not of_this or not (place.path / "brief.toml").is_file():
        return {}
    files: dict[str, str | bytes] = {
        f"{kept}/{name}": (place.path / name).read_bytes()
        for name in INPUTS
        if (place.path / name).is_file()
    }
    return files | {f"{CANDIDATES}/{n}/{FROM}": f'run = "{kept}"\n' for n in of_this}
