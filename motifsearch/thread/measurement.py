"""Measurement files: what was cut for a finished band or swatch, and what was left.

::

    format = "motifsearch-measurement-1"
    pattern = "lanes.toml"        # relative to this file
    rows_knotted = 120
    finished_length_mm = 152      # first to last row
    width_mm = 10                 # optional; needed to tell the strand pitch from the row pitch
    diameter_mm = 0.6             # or tex; one number, or a table colour = number
    start_mm = 60                 # on every strand, above the first row

    [[cuts]]                      # one for every thread that was cut
    strands = [1, 8]              # counted from 1 at the left; one when it was not folded
    length_mm = 2100
    left_mm = [310, 255]          # below the last row, before any braid
    fold_mm = 1050                # optional: from the end that became the first strand

Where every strand was cut and measured by itself, `cut_mm` and `left_mm` at the top, with one
number per strand, may stand instead of the cuts.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import tomli_w

from motifsearch.base.arrays import F64
from motifsearch.base.errors import InputError, nearest
from motifsearch.base.tomlfile import REQUIRED, Table, read_toml
from motifsearch.pattern.design import Pattern
from motifsearch.pattern.files import read_pattern
from motifsearch.thread.cutting import Allowances, CutList
from motifsearch.thread.model import DEFAULT_DIAMETER_MM
from motifsearch.thread.yarn import diameter_mm

FORMAT = "motifsearch-measurement-1"
KEYS = (
    "format", "pattern", "rows_knotted", "finished_length_mm", "width_mm", "diameter_mm", "tex",
    "start_mm", "cuts", "cut_mm", "left_mm",
)  # fmt: skip
CUT_KEYS = ("strands", "length_mm", "left_mm", "fold_mm")
MAX_LENGTH_MM = 100_000.0
MIN_ROWS = 10


@dataclass(frozen=True)
class Observation:
    """Thread that went into the band.

    Attributes:
        strands: 0-based; one strand, or both of a folded thread together.
        used_mm: What they used together between the first and the last row.
    """

    strands: tuple[int, ...]
    used_mm: float


@dataclass(frozen=True)
class Measurement:
    """One finished band or swatch.

    Attributes:
        pattern: What was knotted.
        rows: Rows knotted.
        length_mm: Knotted length, first to last row.
        width_mm: Width of the band; None when it was not measured.
        diameters_mm: Thread diameter of every strand, float64 ``[S]``.
        observations: What was used.
        source: The file, for messages.
    """

    pattern: Pattern
    rows: int
    length_mm: float
    width_mm: float | None
    diameters_mm: F64
    observations: tuple[Observation, ...]
    source: str = ""

    def same_as(self, other: Measurement) -> bool:
        """Return whether two files tell of one band: every number is the same.

        What a design and its colours are called, and how they look, tells no two bands apart.
        """
        return (
            self.pattern.knots == other.pattern.knots
            and (self.rows, self.length_mm, self.width_mm, self.observations)
            == (other.rows, other.length_mm, other.width_mm, other.observations)
            and bool(np.array_equal(self.diameters_mm, other.diameters_mm))
        )


def measurement_form(
    pattern_file: str,
    cuts: CutList,
    allowances: Allowances,
    diameters_mm: Mapping[str, float] | None = None,
) -> str:
    """Return a measurement file to be filled in: what was cut stands in it already.

    What only the finished band can tell is left open, so that the form is refused until it is
    filled in.

    Args:
        pattern_file: The pattern's path, relative to where the form will lie.
        cuts: What was cut for the band.
        allowances: What was reckoned for the ends.
        diameters_mm: The thickness of every colour, as the cuts were reckoned with; the stated
            default when left out.
    """
    top = tomli_w.dumps({"format": FORMAT, "pattern": pattern_file})
    lines = [
        top.rstrip(),
        f"rows_knotted = {cuts.rows}  # correct it if you stopped earlier or later",
        "finished_length_mm = 0  # from the first row to the last, lying flat",
        "# width_mm = 0  # across the band; take the mark away when measured",
        f"diameter_mm = {_thickness(diameters_mm)}  # as the cuts were reckoned; or tex = ...",
        f"start_mm = {allowances.start_mm:g}  # on every strand, above the first row",
    ]
    for cut in cuts.cuts:
        strands = [s + 1 for s in cut.strands]
        below = "each strand" if len(strands) == 2 else "the strand"
        lines += [
            "",
            f"[[cuts]]  # {cut.label}, {cut.colour}",
            f"strands = {strands}",
            f"length_mm = {cut.length_mm:g}",
            f"left_mm = []  # what {below} has left below the last row, before the braid",
        ]
        if cut.fold_mm is not None:
            lines.append(f"fold_mm = {cut.fold_mm:g}  # from the end of strand {strands[0]}")
    return "\n".join(lines) + "\n"


def _thickness(diameters_mm: Mapping[str, float] | None) -> str:
    """Return one number where all threads are alike, else an inline table by colour."""
    if not diameters_mm:
        return f"{DEFAULT_DIAMETER_MM:g}"
    if len(set(diameters_mm.values())) == 1:
        return f"{next(iter(diameters_mm.values())):g}"
    parts = (f"{json.dumps(name)} = {mm:g}" for name, mm in diameters_mm.items())
    return f"{{ {', '.join(parts)} }}"


def read_measurement(path: str | Path) -> Measurement:
    """Read a measurement file and the pattern that it names.

    Raises:
        InputError: With file, key, what was expected and what stood there.
    """
    table = read_toml(path, "a measurement file")
    table.only(KEYS)
    found = table.text("format", REQUIRED)
    if found != FORMAT:
        raise table.error("format", f'expected "{FORMAT}"', found)
    pattern = read_pattern(Path(path).parent / table.text("pattern", REQUIRED))
    start = table.number("start_mm", REQUIRED, high=MAX_LENGTH_MM)
    has_lists = "cut_mm" in table or "left_mm" in table
    if has_lists and "cuts" in table:
        raise table.error("cuts", "expected either tables [[cuts]] or the lists cut_mm and left_mm")
    if has_lists:
        observations = _from_lists(table, pattern.strands, start)
    else:
        observations = _from_cuts(table, pattern.strands, start)
    return Measurement(
        pattern,
        table.whole("rows_knotted", REQUIRED, low=MIN_ROWS, high=100_000),
        table.number("finished_length_mm", REQUIRED, high=MAX_LENGTH_MM, above=True),
        table.number("width_mm", None, high=MAX_LENGTH_MM, above=True),
        _diameters(table, pattern),
        observations,
        table.source,
    )


def _diameters(table: Table, pattern: Pattern) -> F64:
    if "tex" in table and "diameter_mm" in table:
        raise table.error("tex", "expected either tex or diameter_mm")
    key = "tex" if "tex" in table else "diameter_mm"
    value: Any = table.data.get(key, DEFAULT_DIAMETER_MM)
    if isinstance(value, dict):
        inner = table.table(key)
        for name in inner.data:
            if name not in pattern.palette:
                hint = nearest(name, pattern.palette)
                raise inner.error(name, f"expected a colour of the pattern{hint}", name)
        of = {name: inner.number(name, REQUIRED, high=1e5, above=True) for name in pattern.palette}
    else:
        of = dict.fromkeys(
            pattern.palette, table.number(key, DEFAULT_DIAMETER_MM, high=1e5, above=True)
        )
    if key == "tex":
        of = {name: diameter_mm(tex) for name, tex in of.items()}
    return np.array([of[name] for name in pattern.colour_order])


def _lengths(table: Table, key: str, count: int) -> list[float]:
    what = f"a list of {count} lengths in mm"
    values = table.items(key, REQUIRED, of=(int, float), what=what)
    if len(values) != count:
        raise table.error(key, f"expected {what}", values)
    return [
        table.check_number(
            f"{key}[{n}]", value, "a length in mm", low=0.0, high=MAX_LENGTH_MM, above=False
        )
        for n, value in enumerate(values)
    ]


def _used(table: Table, key: str, used: float) -> float:
    if used <= 0.0:
        raise table.error(key, "expected less to be left than was cut", f"{used:g} mm used")
    return used


def _from_lists(table: Table, strands: int, start: float) -> tuple[Observation, ...]:
    cut = _lengths(table, "cut_mm", strands)
    left = _lengths(table, "left_mm", strands)
    return tuple(
        Observation((s,), _used(table, f"left_mm[{s}]", cut[s] - start - left[s]))
        for s in range(strands)
    )


def _from_cuts(table: Table, strands: int, start: float) -> tuple[Observation, ...]:
    found: list[Observation] = []
    seen: set[int] = set()
    for cut in table.tables("cuts"):
        cut.only(CUT_KEYS)
        mine = cut.items(
            "strands", REQUIRED, of=int, what=f"one or two strands out of 1 to {strands}",
            check=lambda s: 1 <= s <= strands,
        )  # fmt: skip
        if len(mine) not in (1, 2) or seen.intersection(mine) or len(set(mine)) != len(mine):
            raise cut.error("strands", "expected one or two strands, each in one cut", mine)
        seen.update(mine)
        length = cut.number("length_mm", REQUIRED, high=MAX_LENGTH_MM, above=True)
        left = _lengths(cut, "left_mm", len(mine))
        fold = cut.number("fold_mm", None, high=length, above=True)
        ids = [s - 1 for s in mine]
        if len(mine) == 2 and fold is not None:
            parts = (fold, length - fold)
            found += [
                Observation((s,), _used(cut, "left_mm", part - start - rest))
                for s, part, rest in zip(ids, parts, left, strict=True)
            ]
            continue
        if fold is not None:
            raise cut.error("fold_mm", "expected no fold in a thread of one strand", fold)
        used = _used(cut, "left_mm", length - len(mine) * start - sum(left))
        found.append(Observation(tuple(ids), used))
    if not found:
        raise InputError("expected at least one table [[cuts]]", source=table.source, key="cuts")
    return tuple(found)
