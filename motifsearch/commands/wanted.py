"""``target``: knots for a painted motif, exactly or with the fewest wrong cells."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np

from motifsearch import __version__
from motifsearch.base.errors import InputError
from motifsearch.commands.design import check_length, entry_of
from motifsearch.draw.wanted import png_bytes, target_view
from motifsearch.pattern.canonical_form import canonical_key
from motifsearch.pattern.design import Pattern
from motifsearch.runs.candidate import Entry
from motifsearch.runs.folder import Band, make_folder, write_gallery
from motifsearch.target.reading import read_target
from motifsearch.target.solver import Reach, solve
from motifsearch.thread.model import DEFAULT_DIAMETER_MM
from motifsearch.thread.stash import Stash, StashThread, read_stash


def find_target(
    picture: Path,
    *,
    strands: int | None,
    rows: int | None,
    stash: Path | None,
    length_mm: float,
    seconds: float,
    unfolded: bool,
    designs: int,
    seed: int,
    out: Path | None,
    overwrite: bool,
) -> Iterator[str]:
    """Solve a target and write a gallery of the designs; yield lines to be printed.

    Raises:
        MotifError: Input, a target that no band can show, or a folder that cannot be written.
    """
    check_length(length_mm)
    if not seconds > 0:
        raise InputError("expected a time above 0", seconds, source="--seconds")
    folder = out or Path("results") / f"target-{picture.stem}"
    if folder.exists() and not overwrite:
        make_folder(folder, False)
    on_hand = None if stash is None else read_stash(stash)
    colours = {t.name: t.colour for t in on_hand.threads} if on_hand else None
    target = read_target(picture, strands=strands, rows=rows, colours=colours)
    rng = np.random.Generator(np.random.PCG64(np.random.SeedSequence(seed)))
    # With an odd number of strands one thread stays single; then any numbers are taken.
    folded = not unfolded and target.strands % 2 == 0
    reach = solve(target, folded=folded, max_seconds=seconds, n_solutions=designs, rng=rng)
    yield verdict(reach)
    for r, k in reach.wrong_cells[:20]:
        yield f"  row {r + 1}, knot {k + 1} of the row is of another colour"
    if len(reach.wrong_cells) > 20:
        yield f"  and {len(reach.wrong_cells) - 20} more"
    write_reach(reach, folder, length_mm, on_hand, overwrite)
    yield f"Open {folder / 'gallery.html'} in a browser."


def verdict(reach: Reach) -> str:
    """Return in one sentence how near the motif can be knotted."""
    wanted = reach.target.wanted
    if reach.cost == 0:
        return (
            f"{reach.target.title or 'The motif'} can be knotted exactly (painted cells: {wanted})."
        )
    text = f"The nearest design has {reach.cost} of {wanted} cells wrong"
    if reach.exact:
        return f"{text}; no knots come nearer."
    return f"{text}; whether fewer is possible is not proven (at least {reach.lower_bound})."


def write_reach(
    reach: Reach, folder: Path, length_mm: float, on_hand: Stash | None, overwrite: bool
) -> None:
    """Write the gallery of the designs found for a target."""
    cells = reach.target.cells
    palette = dict(zip(reach.target.names, reach.target.colours, strict=True))
    entries = []
    for n, (pattern, wrong) in enumerate(zip(reach.patterns, reach.wrong, strict=True), 1):
        count = int(wrong.sum())
        titled = replace(pattern, title=f"{reach.target.title or 'Motif'}, {_words(count)}")
        has = on_hand is not None and set(pattern.palette) <= set(on_hand.names)
        entry = entry_of(titled, length_mm, on_hand if has else None)
        note = f"{count} of {reach.target.wanted} cells differ from the wanted motif."
        entries.append(
            replace(
                entry,
                rank=n,
                folder=f"candidates/{n:03d}",
                notes=(note,),
                target_png=png_bytes(target_view(pattern, cells, palette)),
            )
        )
    make_folder(folder, overwrite)
    band = Band(
        reach.target.title or "Motif", length_mm, 1, on_hand or stash_like(reach.patterns[0])
    )
    info = {
        "version": __version__,
        "title": band.title,
        "target": {
            "wrong_cells": reach.cost,
            "at_least": reach.lower_bound,
            "proven": reach.exact,
            "wanted_cells": reach.target.wanted,
        },
        "ranking": [_line(e, reach) for e in entries],
    }
    right = [1.0 - float(w.sum()) / max(1, reach.target.wanted) for w in reach.wrong]
    write_gallery(folder, entries, right, band, info)


def _words(wrong: int) -> str:
    return "exact" if wrong == 0 else f"{wrong} cell{'s' if wrong > 1 else ''} off"


def _line(entry: Entry, reach: Reach) -> dict[str, object]:
    return {
        "folder": entry.folder,
        "title": entry.pattern.title,
        "canonical": canonical_key(entry.pattern),
        "wrong_cells": int(reach.wrong[entry.rank - 1].sum()),
    }


def stash_like(pattern: Pattern) -> Stash:
    """Return a stash that names the pattern's colours and has nothing on hand."""
    return Stash(
        tuple(
            StashThread(name, colour, DEFAULT_DIAMETER_MM, None, ())
            for name, colour in pattern.colours.items()
        )
    )
