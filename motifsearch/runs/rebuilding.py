"""``rebuild``: the gallery of one or several runs made again from their designs, without a search.

In its own folder every design keeps its number and its place; a damaged one stays, and is named.
Runs brought together are copied: every design keeps the settings of its own run, which are kept
under ``runs/NAME`` of the new folder.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from motifsearch.base.errors import InputError
from motifsearch.runs.candidate import Candidate
from motifsearch.runs.gallery import numbered, older_files, write_gallery
from motifsearch.runs.handing import planned
from motifsearch.runs.hooks import SILENT, Hooks
from motifsearch.runs.inputs import INPUTS
from motifsearch.runs.kept import again, own_of, standing
from motifsearch.runs.record import PAPERS, Record, read_record
from motifsearch.runs.result import Run
from motifsearch.runs.settings import FROM, run_of
from motifsearch.runs.store import CANDIDATES, owned, settled
from motifsearch.search.brief import Brief, read_brief


def open_run(folder: str | Path) -> Run:
    """Read a run folder: its designs with all that follows from its settings.

    Nothing is written, but a change that a killed process had committed is finished first.

    Args:
        folder: The run folder.

    Raises:
        InputError: It is no run folder, or no design in it is whole.
    """
    folder = Path(folder)
    if not folder.is_dir():
        raise InputError("expected a run folder; no such file or folder", source=folder)
    settled(folder)
    record, bad = read_record(folder)
    brief = read_brief(folder / "brief.toml") if (folder / "brief.toml").is_file() else None
    found, damaged = standing(folder)
    candidates, skipped = again(found, own_of(folder), record.line, brief)
    if not candidates:
        raise InputError("no candidate is whole", source=folder)
    if record.kind == "group":
        try:
            candidates = list(planned(folder, candidates))
        except InputError as wrong:
            skipped.append(f"{wrong}; every band has a plan of its own")
    place = {line.folder: n for n, line in enumerate(record.ranking)}
    candidates.sort(key=lambda one: (place.get(one.folder, len(place)), one.folder))
    said = [f"{wrong}; it is left out" for wrong in bad]
    return Run(
        candidates=tuple(candidates),
        record=record,
        brief=brief,
        folder=folder,
        said=(*damaged, *skipped, *said),
    )


def rebuild(
    runs: Sequence[str | Path],
    *,
    out: str | Path | None = None,
    favourites: Sequence[str] = (),
    overwrite: bool = False,
    paper: str | None = None,
    hooks: Hooks = SILENT,
) -> Run:
    """Make the page, the pictures and the worksheets of one or several runs again.

    Args:
        runs: The run folders.
        out: Where to write; the run folder itself when there is only one.
        favourites: Candidates that come first: ``RUN:NUMBER``, or the number with one run.
        overwrite: Write into a folder that holds something already.
        paper: Of the worksheets; each run's own when None.
        hooks: A log.

    Raises:
        InputError: A run or a favourite that is not there.
        MotifError: The folder cannot be written.
    """
    folders = [Path(run) for run in runs]
    if len(folders) > 1 and out is None:
        raise InputError("several runs need --out", source="gallery")
    if paper is not None and paper not in PAPERS:
        raise InputError(f"expected one of {', '.join(PAPERS)}", paper, source="--paper")
    marked = {_favourite(text, folders) for text in favourites}
    if out is None:
        return _in_place(folders[0], {name for _, name in marked}, paper, hooks)
    return _together(folders, Path(out), marked, overwrite, paper, hooks)


def _on(paper: str | None, one: Candidate) -> Candidate:
    return one if paper is None else replace(one, settings=replace(one.settings, paper=paper))


def _in_place(folder: Path, first: set[str], paper: str | None, hooks: Hooks) -> Run:
    """Renew a run in its own folder; nothing moves, nothing of hers is written over."""
    if not folder.is_dir():
        raise InputError("expected a run folder; no such file or folder", source=folder)
    with owned(folder, "building a gallery") as place:
        run = open_run(folder)
        candidates = [_on(paper, one) for one in run.candidates]
        candidates.sort(key=lambda one: Path(one.folder).name not in first)
        record = run.record if paper is None else replace(run.record, paper=paper)
        written = write_gallery(
            place,
            candidates,
            record,
            leave={one.folder: place.leave(one.folder) for one in candidates},
            skipped=(*record.left_out, *run.said),
            tick=lambda done: hooks.log(f"writing candidate {done} of {len(candidates)} ..."),
        )
    return replace(run, candidates=written.candidates, record=record,
                   said=(*run.said, *written.said))  # fmt: skip


def _together(
    folders: Sequence[Path],
    out: Path,
    marked: set[tuple[Path, str]],
    overwrite: bool,
    paper: str | None,
    hooks: Hooks,
) -> Run:
    """Copy the designs of several runs into a gallery of their own."""
    runs = [open_run(folder) for folder in folders]
    names = _names([run.folder or Path() for run in runs])
    every: list[tuple[bool, float, str, Candidate, str]] = []
    inputs: dict[str, str | bytes] = {}
    said: list[str] = []
    for run, name in zip(runs, names, strict=True):
        assert run.folder is not None
        said += [f"{run.folder.name}/{line}" for line in run.said]
        for one in run.candidates:
            own = Path(one.folder).name
            source = run_of(run.folder / one.folder / "pattern.toml") or run.folder
            kept = _kept(source, run.folder, name, inputs)
            favourite = (run.folder, own) in marked
            every.append((not favourite, -one.wishes_met, own, _on(paper, one), kept))
    every.sort(key=lambda row: row[:3])
    candidates = numbered([row[3] for row in every])
    for one, row in zip(candidates, every, strict=True):
        if row[4]:
            inputs[f"{one.folder}/{FROM}"] = f'run = "{row[4]}"\n'
    first = runs[0]
    record = Record(
        kind="gallery",
        title=first.record.title or out.name,
        seed=first.record.seed,
        paper=paper or first.record.paper,
        runs=tuple(names),
    )
    if len(runs) == 1:
        record = replace(first.record, paper=record.paper)
    inputs |= _inputs(folders[0], "")
    with owned(out, "building a gallery") as place:
        place.refuse_unless_empty(overwrite)
        place.refuse_inputs(folders)
        written = write_gallery(
            place,
            candidates,
            record,
            inputs=inputs,
            gone=older_files(place, candidates),
            skipped=said,
            tick=lambda done: hooks.log(f"writing candidate {done} of {len(candidates)} ..."),
        )
    brief: Brief | None = first.brief if len(runs) == 1 else None
    return Run(
        candidates=candidates,
        record=record,
        brief=brief,
        folder=out,
        said=(*said, *written.said),
    )


def _inputs(folder: Path, under: str) -> dict[str, str | bytes]:
    """Return brief, stash and what belongs to them, as files below another folder."""
    return {
        f"{under}{name}": (folder / name).read_bytes()
        for name in INPUTS
        if (folder / name).is_file()
    }


def _kept(source: Path, run: Path, name: str, inputs: dict[str, str | bytes]) -> str:
    """Take down the files of a design's own run; return where they stand in the new folder."""
    if not (source / "brief.toml").is_file():
        return ""
    kept = (
        f"runs/{name}" if source == run.resolve() or source == run else f"runs/{name}-{source.name}"
    )
    inputs.update(_inputs(source, f"{kept}/"))
    return kept


def _names(folders: Sequence[Path]) -> list[str]:
    """Return a name for every run that is safe in a path and unlike the others."""
    out: list[str] = []
    for folder in folders:
        safe = "".join(c if c.isalnum() or c in "-_" else "-" for c in folder.resolve().name)[:60]
        name, number = safe or "run", 2
        while name in out:
            name = f"{safe or 'run'}-{number}"
            number += 1
        out.append(name)
    return out


def _favourite(text: str, runs: Sequence[Path]) -> tuple[Path, str]:
    name, sign, number = text.rpartition(":")
    for run in runs:
        meant = (not sign and len(runs) == 1) or name in (str(run), run.name)
        if meant and number.isascii() and number.isdigit() and len(number) < 6:
            folder = f"{int(number):03d}"
            if (run / CANDIDATES / folder).is_dir():
                return run, folder
    raise InputError(
        "expected the number of a candidate (with several runs: RUN:NUMBER)",
        text,
        source="--favourite",
    )
