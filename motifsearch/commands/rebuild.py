"""A gallery built again from run folders, what both need to write one, and the packaged example."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from motifsearch.base.errors import InputError
from motifsearch.base.tomlfile import read_text, write_atomic
from motifsearch.pattern.canonical_form import canonical_key
from motifsearch.pattern.design import Pattern
from motifsearch.runs.candidate import Entry
from motifsearch.runs.folder import (
    Band,
    make_folder,
    read_candidates,
    read_run_info,
    write_gallery,
)
from motifsearch.search.brief import Brief, format_brief, read_brief
from motifsearch.search.loop import cuts_for
from motifsearch.simulate.scores import score_pattern
from motifsearch.target.likeness import matched
from motifsearch.thread.plan import plan_cuts
from motifsearch.thread.stash import Stash, format_stash


def write_stash_copy(folder: Path, stash: Stash) -> None:
    """Write the stash into a run folder, and the calibration that it names beside it."""
    if stash.calibration:
        source = Path(stash.source).parent / stash.calibration
        write_atomic(folder / "calibration.toml", read_text(source, "a calibration file"))
        stash = replace(stash, calibration="calibration.toml")
    write_atomic(folder / "stash.toml", format_stash(stash))


def scores_for(pattern: Pattern, brief: Brief) -> dict[str, Any]:
    """Return the scores of a design as knotted from the brief's stash."""
    diameters = np.array([brief.stash.thread(name).diameter_mm for name in pattern.palette])
    return score_pattern(pattern, brief.length_mm, brief.stash.model, diameters)


def target_picture(pattern: Pattern, brief: Brief) -> bytes:
    """Return the PNG of the brief's target beside a design; empty without a target."""
    if brief.target is None:
        return b""
    from motifsearch.draw.wanted import png_bytes, target_view

    inks = [brief.stash.thread(name).colour for name in brief.palette]
    cells = matched(brief.target, brief.palette, inks)
    return png_bytes(target_view(pattern, cells, dict(zip(brief.palette, inks, strict=True))))


def rebuild(
    runs: Sequence[Path], out: Path | None, favourites: Sequence[str], overwrite: bool, paper: str
) -> Iterator[str]:
    """Build the gallery of one or several runs again; yield lines to be printed."""
    if len(runs) > 1 and out is None:
        raise InputError("several runs need --out", source="gallery")
    marked = {_favourite(f, runs) for f in favourites}
    rows: list[tuple[bool, float, str, Pattern, Brief, dict[str, Any]]] = []
    skipped: list[str] = []
    briefs = [read_brief(run / "brief.toml") for run in runs]
    for run, brief in zip(runs, briefs, strict=True):
        found, bad = read_candidates(run)
        skipped += [f"{run.name}/{line}" for line in bad]
        ranking = read_run_info(run).get("ranking")
        known = {
            str(r.get("folder", "")).rpartition("/")[2]: r
            for r in (ranking if isinstance(ranking, list) else [])
            if isinstance(r, dict)
        }
        for name, pattern in found:
            info = known.get(name, {})
            worth = info.get("wishes_met")
            worth = float(worth) if isinstance(worth, int | float) else 0.0
            try:
                for colour in pattern.palette:
                    brief.stash.thread(colour)
            except InputError as error:
                skipped.append(f"{run.name}/{name}: {error}")
                continue
            rows.append(((run, name) in marked, worth, name, pattern, brief, info))
    if not rows:
        raise InputError("no candidate is whole", source=", ".join(map(str, runs)))
    rows.sort(key=lambda r: (not r[0], -r[1], r[2]))
    entries = []
    for n, (_, _, _, pattern, brief, info) in enumerate(rows, 1):
        cuts = cuts_for(brief, pattern)
        wishes = info.get("wishes")
        entries.append(
            Entry(
                rank=n,
                pattern=pattern,
                scores=scores_for(pattern, brief),
                cuts=cuts,
                plan=plan_cuts(cuts, brief.stash),
                target_png=target_picture(pattern, brief),
                construction=str(info.get("construction", "none")),
                wishes=wishes if isinstance(wishes, dict) else {},
                folder=f"candidates/{n:03d}",
            )
        )
    folder = out or runs[0]
    if out is not None:
        make_folder(folder, overwrite)
        write_stash_copy(folder, briefs[0].stash)
        write_atomic(folder / "brief.toml", format_brief(briefs[0]))
    info = dict(read_run_info(runs[0])) if len(runs) == 1 else {"runs": [r.name for r in runs]}
    info["ranking"] = [
        {
            "folder": e.folder,
            "title": e.pattern.title,
            "canonical": canonical_key(e.pattern),
            "wishes_met": row[1],
            "construction": e.construction,
            "wishes": dict(e.wishes),
        }
        for e, row in zip(entries, rows, strict=True)
    ]
    brief = briefs[0]
    write_gallery(
        folder,
        entries,
        [r[1] for r in rows],
        Band(brief.title, brief.length_mm, brief.first_notch, brief.stash, paper, brief.wrist_mm),
        info,
        skipped,
    )
    yield f"{len(entries)} designs in {folder / 'gallery.html'}"
    for line in skipped:
        yield f"skipped {line}"


def _favourite(text: str, runs: Sequence[Path]) -> tuple[Path, str]:
    name, sign, number = text.rpartition(":")
    for run in runs:
        meant = (not sign and len(runs) == 1) or name in (str(run), run.name)
        if meant and number.isdigit() and len(number) < 6:
            folder = f"{int(number):03d}"
            if (run / "candidates" / folder).is_dir():
                return run, folder
    raise InputError(
        "expected the number of a candidate (with several runs: RUN:NUMBER)",
        text,
        source="--favourite",
    )


def write_example(folder: Path) -> list[Path]:
    """Write the packaged demo files; none that exists is written over.

    Raises:
        InputError: One of the files exists already.
        MotifError: The folder cannot be written.
    """
    from importlib.resources import as_file, files

    if folder.exists() and not folder.is_dir():
        raise InputError("expected a folder", source=folder)
    with as_file(files("motifsearch") / "demo") as source:
        names = sorted(
            p.relative_to(source) for p in source.rglob("*") if p.suffix in (".toml", ".txt")
        )
        for name in names:
            if (folder / name).exists():
                raise InputError("the file exists already", source=folder / name)
        for name in names:
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            write_atomic(folder / name, (source / name).read_bytes())
    return [folder / name for name in names]
