"""``target``: knots for a painted motif, exactly or with the fewest wrong cells.

The gallery of a wanted motif is a run like any other: its folder keeps the brief (threads, length,
folding) that its designs are made with.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any, Final

import numpy as np

from motifsearch.base.errors import InputError
from motifsearch.draw.wanted import png_bytes, target_view
from motifsearch.pattern.design import Pattern
from motifsearch.runs.candidate import Candidate, assemble, with_unknown
from motifsearch.runs.gallery import numbered, older_files, write_gallery
from motifsearch.runs.hooks import SILENT, Hooks
from motifsearch.runs.inputs import brief_files
from motifsearch.runs.record import Record
from motifsearch.runs.result import Run
from motifsearch.runs.settings import Asked, Settings, apply, settings_of
from motifsearch.runs.store import owned
from motifsearch.search.brief import WISHES, Brief, Limits, SearchSettings
from motifsearch.search.records import TARGET_WEIGHT
from motifsearch.target.budget import A_SECOND
from motifsearch.target.motif import Target
from motifsearch.target.reading import read_target
from motifsearch.target.solver import Reach, solve
from motifsearch.thread.stash import Stash

#: Wrong cells that are told one by one.
TOLD: Final = 20
SECONDS: Final = 20.0
DESIGNS: Final = 6


def target(
    picture: str | Path,
    *,
    asked: Asked | None = None,
    strands: int | None = None,
    rows: int | None = None,
    seconds: float = SECONDS,
    designs: int = DESIGNS,
    seed: int = 1,
    out: str | Path | None = None,
    overwrite: bool = False,
    hooks: Hooks = SILENT,
) -> Run:
    """Return the designs that come nearest to a painted motif, the nearest first.

    Args:
        picture: A text or a picture.
        asked: Threads, length, folding and the rest; the stated defaults for what is left out.
        strands: Must agree with a text; a picture needs it.
        rows: For a picture, its rows.
        seconds: At most this long for the proof.
        designs: At most so many.
        seed: Of the random generator.
        out: The run folder to write; None to write nothing.
        overwrite: Write into a folder that holds something already.
        hooks: A log.

    Raises:
        InputError: Something that was given cannot be used.
        InfeasibleError: No band can show the motif.
        MotifError: The folder cannot be written.
    """
    picture = Path(picture)
    settings, said = apply(Settings(), asked or Asked())
    if not seconds > 0:
        raise InputError("expected a time above 0", seconds, source="--seconds")
    colours = {t.name: t.colour for t in settings.stash.threads} if settings.stash else None
    wanted = read_target(picture, strands=strands, rows=rows, colours=colours)

    def found() -> tuple[tuple[Candidate, ...], Reach, Brief]:
        rng = np.random.Generator(np.random.PCG64(np.random.SeedSequence(seed)))
        # With an odd number of strands one thread stays single; then any numbers are taken.
        folded = settings.folded and wanted.strands % 2 == 0
        reach = solve(
            wanted, folded=folded, max_work=seconds * A_SECOND, n_solutions=designs, rng=rng
        )
        brief = _brief(reach.target, settings, reach.patterns, seed)
        return _candidates(reach, brief, settings), reach, brief

    if out is None:
        candidates, reach, brief = found()
        return Run(
            candidates=candidates, record=_record(reach, brief, settings, seed), brief=brief,
            said=(*said, *verdict(reach)), inputs=brief_files(brief),
        )  # fmt: skip
    with owned(Path(out), "a wanted motif") as place:
        place.refuse_unless_empty(overwrite)
        stash = settings.stash
        place.refuse_inputs([picture, *([Path(stash.source)] if stash and stash.source else [])])
        candidates, reach, brief = found()
        record = _record(reach, brief, settings, seed)
        written = write_gallery(
            place,
            candidates,
            record,
            inputs=brief_files(brief),
            gone=older_files(place, candidates),
            tick=lambda done: hooks.log(f"writing candidate {done} of {len(candidates)} ..."),
        )
    return Run(
        candidates=candidates, record=record, brief=brief, folder=Path(out),
        said=(*said, *verdict(reach), *written.said),
    )  # fmt: skip


def verdict(reach: Reach) -> tuple[str, ...]:
    """Return how near the motif can be knotted, and which cells are wrong."""
    wanted = reach.target.wanted
    if reach.cost == 0:
        name = reach.target.title or "The motif"
        return (f"{name} can be knotted exactly (painted cells: {wanted}).",)
    text = f"The nearest design has {reach.cost} of {wanted} cells wrong"
    if reach.exact:
        head = f"{text}; no knots come nearer."
    else:
        head = f"{text}; whether fewer is possible is not proven (at least {reach.lower_bound})."
    cells = [
        f"  row {r + 1}, knot {k + 1} of the row is of another colour"
        for r, k in reach.wrong_cells[:TOLD]
    ]
    more = len(reach.wrong_cells) - TOLD
    return (head, *cells, *([f"  and {more} more"] if more > 0 else []))


def _brief(
    target: Target, settings: Settings, patterns: tuple[Pattern, ...] | list[Pattern], seed: int
) -> Brief:
    """Return the brief that a wanted motif's designs are made with."""
    stash = settings.stash or Stash((), show=settings.show)
    for pattern in patterns:
        stash = with_unknown(stash, pattern)
    names = tuple(dict.fromkeys(name for p in patterns for name in p.palette))
    most = max(target.rows, *(p.rows for p in patterns))
    return Brief(
        title=target.title or "Motif",
        strands=target.strands,
        length_mm=settings.length_mm,
        stash=stash,
        stash_path=stash.source,
        wrist_mm=settings.wrist_mm,
        folded=settings.folded,
        first_notch=settings.first_notch,
        colours=names,
        colours_min=1,
        colours_max=max(1, len(names)),
        pairing=settings.pairing,
        cut_style=settings.style,
        target=target,
        allowances=settings.allowances,
        limits=Limits(repeat_rows_max=max(48, most), on_hand=False),
        wishes={**WISHES, "likeness": TARGET_WEIGHT},
        search=SearchSettings(seed=seed, periods=(most + most % 2,)),
        gallery_size=max(1, len(patterns)),
    )


def _candidates(reach: Reach, brief: Brief, settings: Settings) -> tuple[Candidate, ...]:
    palette = dict(zip(reach.target.names, reach.target.colours, strict=True))
    made_with = settings_of(brief, paper=settings.paper)
    wanted = max(1, reach.target.wanted)
    out = []
    for pattern, wrong in zip(reach.patterns, reach.wrong, strict=True):
        count = int(wrong.sum())
        title = f"{reach.target.title or 'Motif'}, {_off(count)}"
        out.append(
            assemble(
                replace(pattern, title=title),
                made_with,
                wishes_met=1.0 - count / wanted,
                notes=(f"{count} of {reach.target.wanted} cells differ from the wanted motif.",),
                target_png=png_bytes(target_view(pattern, reach.target.cells, palette)),
            )
        )
    return numbered(out)


def _off(wrong: int) -> str:
    return "exact" if wrong == 0 else f"{wrong} cell{'s' if wrong > 1 else ''} off"


def _record(reach: Reach, brief: Brief, settings: Settings, seed: int) -> Record:
    known: dict[str, Any] = {
        "wrong_cells": reach.cost,
        "at_least": reach.lower_bound,
        "proven": reach.exact,
        "wanted_cells": reach.target.wanted,
    }
    return Record(kind="target", title=brief.title, seed=seed, paper=settings.paper, target=known)
