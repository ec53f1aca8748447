"""Painting on the cloth: the nearest designs whose cells have the colours that were touched.

Let ``w(p) = sum of W_c [cell c of p is not as wanted]`` over one repeat of the face: wanted is the
painted colour where a cell was painted (weight `PAINTED`), and the colour that is there now
everywhere else (weight 1): wishes, not demands.  From the design as it is, windows of strands are
freed and made the best of exactly (`motifsearch.target.blocks`), with a fixed amount of work, so
that the answer is the same on every machine.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import count
from pathlib import Path
from typing import Any, Final

import numpy as np

from motifsearch.base.arrays import I8, I64, Bool
from motifsearch.base.errors import InputError
from motifsearch.base.work import OutOfWorkError, Work
from motifsearch.pattern.canonical_form import shortest_period
from motifsearch.pattern.design import Pattern
from motifsearch.pattern.files import format_pattern, read_pattern
from motifsearch.pattern.knots import slots_in_row
from motifsearch.pattern.walk import colour_return, walk
from motifsearch.runs.box import read_box
from motifsearch.runs.hanging import design_data, key_of
from motifsearch.runs.one import write_new
from motifsearch.runs.trying import tried
from motifsearch.runs.workroom import Workroom
from motifsearch.target.blocks import LocalSearch
from motifsearch.target.grids import Walk, pattern_of, returning_knots, wrong_of
from motifsearch.target.motif import Target
from motifsearch.thread.stash import read_stash

#: What a painted cell counts, when one as it was counts 1.
PAINTED: Final = 100
#: Work granted: well under a second of an ordinary core.
WORK: Final = 8e7
#: Work of a step beside what its table takes: in a small band that is nearly all of it.
STEP: Final = 2e5
#: Rows of a face that can be painted; a longer repeat is painted in its first rows' round.
MOST_ROWS: Final = 64
#: Steps without gain before the search begins again from the design as it is.
PATIENCE: Final = 30


@dataclass(frozen=True)
class Near:
    """A design near to what was painted.

    Attributes:
        pattern: The design.
        missed: Painted cells (row, slot) that have another colour.
        moved: Cells that were not painted and changed their colour, as many as there are.
        cells: Cells of the face over which these are counted.
    """

    pattern: Pattern
    missed: tuple[tuple[int, int], ...]
    moved: int
    cells: int


@dataclass(frozen=True)
class Painted:
    """The answer.

    Attributes:
        near: The nearest designs, nearest first.
        rows: The rows of the face that the cells were painted on.
        why: Why cells could not be, in a sentence; empty where all can.
    """

    near: tuple[Near, ...]
    rows: int
    why: str = ""


def face_rows(pattern: Pattern) -> int:
    """Return the rows after which the colours stand as at the start: what can be painted on."""
    return pattern.rows * colour_return(pattern)


def paint(
    pattern: Pattern,
    cells: Mapping[tuple[int, int], str],
    *,
    inks: Mapping[str, str] | None = None,
    folded: bool = True,
    most: int = 4,
    seed: int = 1,
    work: float = WORK,
) -> Painted:
    """Return the nearest designs whose painted cells have the wanted colours.

    Args:
        pattern: The design as it is.
        cells: (row, slot), both from 0, to the name of a colour: of the design, or of `inks`.
            Rows beyond the round of the design come again at its start.
        inks: ``#rrggbb`` of further threads.
        folded: Whether every colour must have an even number of strands.
        most: At most so many designs.
        seed: Of the random generator.
        work: Work granted.

    Raises:
        InputError: No cell, a cell that the band does not have, an unknown colour, or a round that
            is too long.
    """
    rows = face_rows(pattern)
    if rows > MOST_ROWS:
        raise InputError(f"expected a design whose colours come again within {MOST_ROWS} rows",
                         f"{rows} rows")  # fmt: skip
    if not cells:
        raise InputError("expected at least one painted cell")
    target, weights, marked = _wanted(pattern, rows, cells, inks or {})
    start = _orders(pattern, rows, target.names)
    even = folded and all(pattern.colour_order.count(n) % 2 == 0 for n in pattern.palette)
    pool = _searched(target, weights, start, even, seed, work)
    rng = np.random.Generator(np.random.PCG64(np.random.SeedSequence(seed)))
    near: list[Near] = []
    seen = {str(_face(pattern, rows))}
    for walked in pool:
        made = pattern_of(walked, target, pattern.title, rng)
        made = replace(made, knots=shortest_period(made.knots))
        made = _faithful(pattern, made)
        key = str(_face(made, rows))
        if key in seen:
            continue
        seen.add(key)
        wrong = wrong_of(walked, target.cells)
        missed = tuple((int(r), int(k)) for r, k in np.argwhere(wrong & marked))
        near.append(Near(made, missed, int((wrong & ~marked).sum()), target.wanted))
        if len(near) == most:
            break
    why = ""
    if not near or near[0].missed:
        why = (
            "At every knot one of the two strands that meet there gives its colour, and every "
            "strand goes on from where it is; no way was found to bring that colour there."
        )
    return Painted(tuple(near), rows, why)


def paint_text(
    pattern: str | Path,
    cells: Mapping[str, str],
    out: str | Path,
    *,
    stash: str | Path | None = None,
    overwrite: bool = False,
) -> str:
    """Write the nearest designs to what was painted as pattern files; say what they are.

    Args:
        pattern: The design's file.
        cells: ``"ROW,KNOT"``, both from 1, to the name of a colour.
        out: The folder; the files are ``1.toml``, ``2.toml``, ..., nearest first.
        stash: Threads that may be painted with, beside the design's own.
        overwrite: Write over existing files.

    Raises:
        InputError: As `paint`, and a place that is none.
        MotifError: A file cannot be written.
    """
    wanted: dict[tuple[int, int], str] = {}
    for place, name in cells.items():
        row, _, knot = place.partition(",")
        if not (row.strip().isdecimal() and knot.strip().isdecimal()) or "0" in (row, knot):
            raise InputError("expected ROW,KNOT such as 4,2", place, source="--cell")
        wanted[int(row) - 1, int(knot) - 1] = name
    design = read_pattern(pattern)
    inks = {t.name: t.colour for t in read_stash(stash).threads} if stash is not None else {}
    made = paint(design, wanted, inks=inks)
    lines = []
    for n, one in enumerate(made.near, 1):
        path = Path(out) / f"{n}.toml"
        path.parent.mkdir(parents=True, exist_ok=True)
        write_new(path, format_pattern(one.pattern), overwrite)
        missed = ", ".join(f"{r + 1},{k + 1}" for r, k in one.missed)
        said = f"not as painted: {missed}" if missed else "as painted"
        lines.append(f"{path}  {said}; other knots that change: {one.moved} of {one.cells}")
    return "\n".join([*lines, *([made.why] if made.why else [])]) + "\n"


def answer(room: Workroom, ask: Mapping[str, Any], cells: Any) -> dict[str, Any]:
    """Return the nearest designs to what was painted on a design, as a page shows them.

    Args:
        room: The workroom; threads of its box may be painted with.
        ask: The design (`motifsearch.runs.trying.tried`).
        cells: A list of ``[row, slot, name]``, row and slot from 0.

    Raises:
        InputError: As `paint`, and where the cells are no such list.
    """
    if not isinstance(cells, list) or len(cells) > 2000:
        raise InputError("expected a list of cells", source="cells")
    wanted: dict[tuple[int, int], str] = {}
    for cell in cells:
        good = isinstance(cell, list) and len(cell) == 3 and isinstance(cell[2], str)
        if not good or not all(isinstance(n, int) and 0 <= n < 10_000 for n in cell[:2]):
            raise InputError("expected [row, slot, name]", cell, source="cells")
        wanted[cell[0], cell[1]] = cell[2]
    one = tried(room, ask)
    stash = read_box(room).stash
    inks = {t.name: t.colour for t in stash.threads} if stash is not None else {}
    made = paint(one.candidate.pattern, wanted, inks=inks, folded=one.candidate.settings.folded)
    return {
        "near": [
            {
                "design": design_data(n.pattern),
                "key": key_of(n.pattern),
                "missed": [list(cell) for cell in n.missed],
                "moved": n.moved,
                "cells": n.cells,
            }
            for n in made.near
        ],
        "rows": made.rows,
        "why": made.why,
    }


def _wanted(
    pattern: Pattern, rows: int, cells: Mapping[tuple[int, int], str], inks: Mapping[str, str]
) -> tuple[Target, I64, Bool]:
    """Return the wanted face, what every cell counts, and which were painted."""
    strands = pattern.strands
    names = list(dict.fromkeys([*pattern.palette, *cells.values()]))
    colours = {**inks, **{n: pattern.colours[n] for n in pattern.palette}}
    played = walk(pattern, rows)
    wanted: I8 = np.full((rows, strands // 2), -1, np.int8)
    for r, knots in enumerate(played.rows):
        for k, knot in enumerate(knots):
            wanted[r, k] = names.index(pattern.colour_order[knot.tying])
    weights: I64 = np.ones(wanted.shape, np.int64)
    marked: Bool = np.zeros(wanted.shape, np.bool_)
    for (row, slot), name in cells.items():
        if row < 0 or not 0 <= slot < slots_in_row(strands, row):
            raise InputError("expected a knot of the band", f"row {row + 1}, knot {slot + 1}")
        if name not in colours:
            raise InputError("expected a thread on hand", name)
        wanted[row % rows, slot] = names.index(name)
        weights[row % rows, slot] = PAINTED
        marked[row % rows, slot] = True
    inked = tuple(colours[n] for n in names)
    return Target(pattern.title, strands, tuple(names), inked, wanted), weights, marked


def _orders(pattern: Pattern, rows: int, names: tuple[str, ...]) -> Walk:
    """Return the colours before every row, uint8 ``[rows, S]``."""
    own = np.array([names.index(n) for n in pattern.colour_order], np.uint8)
    before: Walk = own[np.array(walk(pattern, rows).orders[:rows])]
    return before


def _searched(
    target: Target, weights: I64, start: Walk, even: bool, seed: int, work: float
) -> list[Walk]:
    """Return closed walks, nearest first."""
    colours = len(target.names)
    granted = Work(work)
    rng = np.random.Generator(np.random.PCG64(np.random.SeedSequence(seed)))
    most = np.full(colours, target.strands, np.int64)
    local = LocalSearch(
        target.cells, target.strands, colours, even, most, rng, granted.tick, weights=weights
    )
    found: dict[bytes, tuple[int, int, Walk]] = {}

    def keep() -> int:
        wrong = wrong_of(local.walk, target.cells)
        cost = int((weights * wrong).sum())
        # Among equals: few knots that return, then what is nearest to the design as it is.
        turns = returning_knots(local.walk) * local.walk.size + int((local.walk != start).sum())
        found.setdefault(local.walk.tobytes(), (cost, turns, local.walk.copy()))
        return cost

    starts = [start, *_with_new(start, target)]
    try:
        for turn in count():
            local.adopt(starts[turn % len(starts)])
            best, idle = keep(), 0
            while idle < PATIENCE:
                granted.tick(STEP)
                local.step()
                cost = keep()
                idle = 0 if cost < best else idle + 1
                best = min(best, cost)
    except OutOfWorkError:
        pass
    ranked = sorted(found.values(), key=lambda item: (item[0], item[1], item[2].tobytes()))
    return [walked for _, _, walked in ranked[:400]]


def _with_new(start: Walk, target: Target) -> list[Walk]:
    """Return the walk with all strands of one colour exchanged for a colour that it lacks.

    From there windows of strands bring back what was better as it was.
    """
    lacking = sorted(set(np.unique(target.cells[target.cells >= 0])) - set(np.unique(start)))
    out = []
    for new in lacking:
        for old in np.unique(start):
            walked = start.copy()
            walked[start == old] = new
            out.append(walked)
    return out


def _faithful(old: Pattern, new: Pattern) -> Pattern:
    """Return the new design with the old knots where they make the same face.

    A cell whose two strands have one colour may be tied by either: then the knot stays what it was.
    """
    if new.strands != old.strands:
        return new
    rows = max(len(new.knots), len(old.knots))
    if rows % len(new.knots) or rows % len(old.knots):
        return new
    played = walk(new, len(new.knots))
    knots = []
    for r, row in enumerate(new.knots):
        codes = []
        for k, code in enumerate(row):
            knot = played.rows[r][k]
            was = old.knots[r % len(old.knots)][k]
            same = new.colour_order[knot.tying] == new.colour_order[knot.core]
            codes.append(was if same else code)
        knots.append(tuple(codes))
    kept = replace(new, knots=tuple(knots))
    # Other strands may have met since; then the face decides.
    if _face(kept, 2 * MOST_ROWS) == _face(new, 2 * MOST_ROWS):
        return kept
    return new


def _face(pattern: Pattern, rows: int) -> list[list[str]]:
    return [[pattern.colour_order[k.tying] for k in row] for row in walk(pattern, rows).rows]
