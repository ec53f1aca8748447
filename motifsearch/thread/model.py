"""The thread model: how much thread every strand of a band uses.

A knot sits at a node of the fabric.  A strand's use is the sum of two things.

**Path**, from node to node.  With d the mean thread diameter, rows advance by the row pitch
p = g d and positions by the strand pitch q = w d, so one row's step is sqrt(p^2 + q^2); where a
strand waits at an edge it goes straight down, 2 p for the two rows around the wait.  A core
strand bends a little on top: c d_core for every knot around it.

**Loops**: what the two wraps of the tying strand take beyond its straight way through the node,
loop(kind) = a_kind (d_tie + d_core) + b_kind d_tie, kind being crossing (a clove hitch) or
returning (a cow hitch).  The constants a and b are computed by `motifsearch.thread.tight`.

Counting: over R rows a strand makes R advances, from row r to row r + 1 for r = 0 .. R-1; an
advance is straight (p) when the strand waits in row r or in row r + 1, and slanted otherwise.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from motifsearch.base.arrays import F64, I64
from motifsearch.pattern.design import Pattern
from motifsearch.pattern.walk import Tied, row_by_row, strands_return
from motifsearch.thread.tight import loop_constants

#: mm; six-strand cotton as most people use it for bracelets: 8 strands make about 1 cm of width
#: at the default gauge (common practice, no source).
DEFAULT_DIAMETER_MM = 0.6


@dataclass(frozen=True)
class ThreadModel:
    """The constants of one maker's tension.

    Attributes:
        row_gauge: g, row pitch per mean thread diameter.
        strand_gauge: w, strand pitch per mean thread diameter.
        bend: c, extra length of the core strand per knot, in its diameters.  The loops are those
            of a taut core; a rod would have c = 0, a core pulled four times as hard as the tying
            strand has 0.1 (`motifsearch.thread.tight`, slack core), so half of that is taken.
        crossing: (a, b) of the loop of a crossing knot.
        returning: (a, b) of the loop of a returning knot.
        loop_scale: Effective over nominal diameter in loops; below 1 for a tight hand.
        scatter: Standard deviation of a strand's use over its mean use, as a fraction.
        scatter_freedom: Degrees of freedom that the scatter was fitted with; infinite for the
            stated default.
    """

    row_gauge: float = 2.1
    strand_gauge: float = 2.1
    bend: float = 0.05
    crossing: tuple[float, float] = field(default_factory=lambda: loop_constants()["crossing"])
    returning: tuple[float, float] = field(default_factory=lambda: loop_constants()["returning"])
    loop_scale: float = 1.0
    scatter: float = 0.04
    scatter_freedom: float = math.inf

    def row_pitch_mm(self, diameters_mm: F64) -> float:
        """Return the row pitch p for strands of these diameters (mm, ``[S]``)."""
        return self.row_gauge * float(np.mean(diameters_mm))

    def strand_pitch_mm(self, diameters_mm: F64) -> float:
        """Return the strand pitch q for strands of these diameters (mm, ``[S]``)."""
        return self.strand_gauge * float(np.mean(diameters_mm))

    def rows_for(self, length_mm: float, diameters_mm: F64) -> int:
        """Return the whole number of rows nearest to a knotted length, at least 1.

        Examples:
            >>> ThreadModel().rows_for(150.0, np.full(8, 0.6))
            119
        """
        return max(1, math.floor(length_mm / self.row_pitch_mm(diameters_mm) + 0.5))

    def loop_mm(self, returning: bool, tying_mm: float, core_mm: float) -> float:
        """Return the loop length of one knot.

        Examples:
            >>> model = ThreadModel()
            >>> [round(model.loop_mm(kind, 1.0, 1.0), 1) for kind in (False, True)]
            [15.8, 15.0]
        """
        a, b = self.returning if returning else self.crossing
        return self.loop_scale * (a * (tying_mm + core_mm) + b * tying_mm)


@dataclass(frozen=True)
class StrandUse:
    """The thread that every strand uses, in the order of the strands at the start.

    Attributes:
        rows: The rows knotted.
        loop_mm: float64 ``[S]``, in loops as the tying strand.
        path_mm: float64 ``[S]``, from node to node with the bends as core strand.
        loops: int ``[S]``, knots that the strand ties.
        cores: int ``[S]``, knots tied around the strand.
        waits: int ``[S]``, straight advances at an edge.
    """

    rows: int
    loop_mm: F64
    path_mm: F64
    loops: I64
    cores: I64
    waits: I64

    @property
    def use_mm(self) -> F64:
        """Loop and path together, float64 ``[S]``."""
        return self.loop_mm + self.path_mm


def strand_use(
    pattern: Pattern,
    rows: int,
    model: ThreadModel | None = None,
    diameters_mm: F64 | None = None,
) -> StrandUse:
    """Return what every strand uses over `rows` rows; the plain version, knot by knot.

    After `motifsearch.pattern.walk.strands_return` rows every strand stands where it stood, and
    from then on does the same again: the whole rounds of that many rows are counted once.

    Args:
        pattern: The design.
        rows: Rows knotted, R.
        model: The constants; the stated defaults when left out.
        diameters_mm: Thread diameter of every strand, float64 ``[S]``.

    Examples:
        >>> from motifsearch.pattern.design import make_pattern
        >>> p = make_pattern("", ["rr rr", "rr"], "aaaa", {"a": "#000000"})
        >>> strand_use(p, 8).loops.tolist()
        [3, 3, 3, 3]
    """
    model = model or ThreadModel()
    strands = pattern.strands
    d = np.full(strands, DEFAULT_DIAMETER_MM) if diameters_mm is None else diameters_mm
    p, q = model.row_pitch_mm(d), model.strand_pitch_mm(d)
    once = strands_return(pattern)
    whole, rest = divmod(rows, once)
    total = _Tally(strands)
    tally = _Tally(strands)
    for r, (now, then) in enumerate(pairwise(row_by_row(pattern, min(rows, once) + 1)), 1):
        tally.add(now[0], then[0], model, d)
        if r == rest:
            total = tally.times(1)
    if whole:
        total.take(tally.times(whole))
    waits = np.array(total.waits, np.int64)
    path = (rows - waits) * math.hypot(p, q) + waits * p + np.array(total.bend)
    loops, cores = np.array(total.loops, np.int64), np.array(total.cores, np.int64)
    return StrandUse(rows, np.array(total.loop), path, loops, cores, waits)


class _Tally:
    """What every strand has done so far; lists by strand, `loop` and `bend` in mm."""

    def __init__(self, strands: int) -> None:
        self.loop, self.bend = [0.0] * strands, [0.0] * strands
        self.loops, self.cores, self.waits = [0] * strands, [0] * strands, [0] * strands

    def add(self, row: Sequence[Tied], after: Sequence[Tied], model: ThreadModel, d: F64) -> None:
        """Count the knots of a row, and the advances from it to the row after it."""
        for knot in row:
            tying, core = knot.tying, knot.core
            self.loop[tying] += model.loop_mm(knot.returning, float(d[tying]), float(d[core]))
            self.bend[core] += model.bend * float(d[core])
            self.loops[tying] += 1
            self.cores[core] += 1
        busy = _both(row) & _both(after)
        for s in range(len(self.waits)):
            self.waits[s] += s not in busy

    def times(self, number: int) -> _Tally:
        """Return what is done when all of it is done so often."""
        out = _Tally(len(self.loop))
        for name, mine in vars(self).items():
            setattr(out, name, [number * value for value in mine])
        return out

    def take(self, more: _Tally) -> None:
        """Add what is done besides."""
        for name, mine in vars(self).items():
            both = zip(mine, getattr(more, name), strict=True)
            setattr(self, name, [a + b for a, b in both])


def _both(row: Sequence[Tied]) -> set[int]:
    """Return the strands that have a knot in a row."""
    return {s for knot in row for s in (knot.tying, knot.core)}
