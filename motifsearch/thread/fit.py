"""Calibration: one maker's tension, from what a finished band or swatch left over.

A strand that ties the loops L (mm at nominal diameters) around cores, and lies as core under the
bends B (mm of core diameter), uses::

    use = loop_scale * L + bend * B + (R - waits) * sqrt(p^2 + q^2) + waits * p

(see `motifsearch.thread.model`).  The row pitch p is the knotted length over its rows R and the
strand pitch q the width over the strands, so what is left is linear in `loop_scale` and `bend`.
They are found by least squares with each observation weighted by its own spread, which grows
with its use: standard deviation = scatter * use.  The scatter is what the residuals show, with as
many degrees of freedom as there are observations beyond the fitted constants.

What is observed is a strand, or a folded thread as a whole when its fold was not measured:
cut length, less what lies above the first row, less what was left below the last row.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt

from motifsearch.base.errors import InputError
from motifsearch.pattern.knots import knots_in_grid
from motifsearch.thread.calibration import Calibration, Estimate
from motifsearch.thread.measurement import Measurement, read_measurement
from motifsearch.thread.model import ThreadModel, strand_use

FloatArray = npt.NDArray[np.float64]

#: Sine of the angle between the columns for loop and bend, below which they are not told apart:
#: at 0.2 the loop scale is five times less certain than with the bend known.
MIN_ANGLE = 0.2
#: Observations beyond the fitted constants that a scatter needs.
MIN_FREEDOM = 2
#: A larger scatter is no hand but a wrong number or another pattern.
MAX_SCATTER = 0.2
#: What hands can do, in the terms of the model (ours, no source).  A thread squeezed until no air
#: is left in it is sqrt(0.598) = 0.77 times as thick as it lies (packing fraction: DEVELOPERS.md);
#: with a thickness that was stated a good third too high that makes 0.45.  Loops nearly twice as
#: long as those of a tight knot would slide.  Rows and strands closer than one diameter, or wider
#: apart than four, or a core that takes two diameters and a half more at every knot, are no band.
HANDS: Final = {
    "row gauge": (1.0, 4.0),
    "strand gauge": (1.0, 4.0),
    "loop scale": (0.45, 1.8),
    "bend": (0.0, 2.5),
}
#: How well the length or width of a soft band can be read, as a standard deviation in mm.
READING_MM = 1.0
#: What tells loop and bend apart best among some thousand small grids of 8 strands with about as
#: many returning knots as crossing ones: its strands tie from none to all of their knots.
SWATCH = ("lr ll rl rl", "ll rr lr")


def calibrate(path: str | Path | Sequence[str | Path], *, keep_bend: bool = False) -> Calibration:
    """Fit a maker's tension to one or several measurement files.

    Args:
        path: The measurement file, or several of them by the same hand.
        keep_bend: Do not fit the bend but keep the model's; then every pattern will do.

    Raises:
        InputError: A file is wrong, or loop and bend cannot be told apart; the message says what
            to knot instead.
    """
    paths = [path] if isinstance(path, str | Path) else list(path)
    read = [read_measurement(one) for one in paths]
    for n, one in enumerate(read):
        for other in read[:n]:
            if one.same_as(other):
                raise InputError(
                    f"expected every band once; it says the same as {other.source}",
                    source=one.source,
                )
    return fit(read, keep_bend=keep_bend)


def fit(
    measurements: Sequence[Measurement],
    *,
    nominal: ThreadModel | None = None,
    keep_bend: bool = False,
) -> Calibration:
    """Fit a maker's tension to measurements.

    Args:
        measurements: One or several, by the same hand.
        nominal: The model whose loops are scaled; the stated defaults when left out.
        keep_bend: Keep the bend of `nominal`.

    Raises:
        InputError: As `calibrate`.
    """
    nominal = nominal or ThreadModel()
    source = measurements[0].source
    row_gauge, strand_gauge = _gauges(measurements, nominal)
    base = replace(
        nominal, row_gauge=row_gauge.value, strand_gauge=strand_gauge.value,
        loop_scale=1.0, bend=1.0,
    )  # fmt: skip
    rows = [row for one in measurements for row in _rows(one, base)]
    constants = 1 if keep_bend else 2
    if len(rows) < constants + MIN_FREEDOM:
        raise InputError(
            f"expected at least {constants + MIN_FREEDOM} measured strands or threads",
            len(rows), source=source, key="cuts",
        )  # fmt: skip
    notes: list[str] = []
    kept = nominal.bend if keep_bend else None
    if not keep_bend:
        _check_apart(rows, source)
    found = _least_squares(rows, kept)
    if kept is None and found.bend.value < 0.0:
        notes.append("the bend came out below 0, too small to show here: it is taken as 0")
        kept = 0.0
        found = _least_squares(rows, kept)
    elif kept is None and found.bend.value < found.bend.error:
        notes.append("the bend is smaller than its error: cuts hardly depend on it")
    if found.scale.value <= 0.0 or found.scatter > MAX_SCATTER:
        raise InputError(
            "expected leftovers that some tension can explain (the best leaves a scatter of "
            f"{found.scatter:.0%}); is it the pattern that was knotted, and are the rows, the cut "
            "lengths and the leftovers right?",
            source=source,
        )
    _check_hands(source, row_gauge, strand_gauge, found)
    if len(measurements) == 1:
        notes.append("one band shows how strands differ, not how bands do: add the next ones")
    freedom = len(rows) - (2 if kept is None else 1)
    notes += _strange(rows, found, freedom)
    scatter = found.scatter
    return Calibration(
        row_gauge,
        strand_gauge,
        found.scale,
        found.bend,
        Estimate(scatter, scatter / math.sqrt(2.0 * freedom)),
        freedom,
        len(rows),
        tuple(notes),
        nominal,
        _pace(measurements),
    )


def _pace(measurements: Sequence[Measurement]) -> float | None:
    """Return minutes per knot over all bands whose time was taken, each by its knots."""
    timed = [
        (one.minutes_per_knot, knots_in_grid(one.pattern.strands, one.rows))
        for one in measurements
        if one.minutes_per_knot is not None
    ]
    if not timed:
        return None
    return sum(pace * knots for pace, knots in timed) / sum(knots for _, knots in timed)


def _check_hands(source: str, row: Estimate, strand: Estimate, found: _Fit) -> None:
    """Refuse a fit that no hand can have made, with what is likely wrong."""
    values = {
        "row gauge": row.value,
        "strand gauge": strand.value,
        "loop scale": found.scale.value,
        "bend": found.bend.value,
    }
    for name, (low, high) in HANDS.items():
        value = values[name]
        if low <= value <= high:
            continue
        if name in ("row gauge", "strand gauge"):
            cause = "are the thickness, the rows, the length and the width right, and all in mm?"
        elif name == "loop scale":
            cause = "is the thread really that thick, and are all lengths in mm?"
        else:
            cause = "is it the pattern that was knotted?"
        raise InputError(
            f"expected a band that hands can make: its {name} comes out as {value:.2f}, where "
            f"{low:g} to {high:g} is possible; {cause}",
            source=source,
        )


@dataclass(frozen=True)
class _Row:
    """One observation: arrays over its one or two strands, in mm."""

    loop: FloatArray
    bend: FloatArray
    path: FloatArray
    used: float
    name: str


def _gauges(measured: Sequence[Measurement], nominal: ThreadModel) -> tuple[Estimate, Estimate]:
    run = sum(m.rows * float(np.mean(m.diameters_mm)) for m in measured)
    row = sum(m.length_mm for m in measured) / run
    row_gauge = Estimate(row, READING_MM * math.sqrt(len(measured)) / run)
    wide = [(m.width_mm, float(np.sum(m.diameters_mm))) for m in measured if m.width_mm]
    if not wide:  # a loose hand is loose both ways
        ratio = nominal.strand_gauge / nominal.row_gauge
        return row_gauge, Estimate(row * ratio, row_gauge.error * ratio)
    across = sum(d for _, d in wide)
    strand = sum(w for w, _ in wide) / across
    return row_gauge, Estimate(strand, READING_MM * math.sqrt(len(wide)) / across)


def _rows(one: Measurement, base: ThreadModel) -> list[_Row]:
    d = one.diameters_mm
    full = strand_use(one.pattern, one.rows, base, d)
    straight = strand_use(one.pattern, one.rows, replace(base, bend=0.0), d)
    bend = full.path_mm - straight.path_mm
    found = []
    for observed in one.observations:
        who = list(observed.strands)
        name = f"{one.source}: " if one.source else ""
        name += "strand " + " and ".join(str(s + 1) for s in who)
        path = straight.path_mm[who]
        found.append(_Row(full.loop_mm[who], bend[who], path, observed.used_mm, name))
    return found


def _check_apart(rows: Sequence[_Row], source: str) -> None:
    """Refuse when the columns of loop and bend point the same way."""
    spread = [float(np.linalg.norm(r.loop + r.path)) for r in rows]
    loop = np.array([r.loop.sum() for r in rows]) / spread
    bend = np.array([r.bend.sum() for r in rows]) / spread
    size = float(np.linalg.norm(loop) * np.linalg.norm(bend))
    cosine = float(loop @ bend) / size if size else 1.0
    if math.sqrt(max(0.0, 1.0 - cosine**2)) < MIN_ANGLE:
        raise InputError(
            "these strands tie and are tied alike, so their leftovers cannot tell the loops from "
            "the bend; knot a swatch of strands that differ, for example of 8 strands with rows = "
            f"{list(SWATCH)}, and measure every strand by itself (or give fold_mm); or keep the "
            "bend as it is",
            source=source,
            key="cuts",
        )


@dataclass(frozen=True)
class _Fit:
    scale: Estimate
    bend: Estimate
    scatter: float
    #: Externally studentised residual of every observation, float64 ``[n]``.
    outlying: FloatArray


def _least_squares(rows: Sequence[_Row], kept: float | None) -> _Fit:
    """Fit the loop scale, and the bend unless it is `kept`.

    The weights hang on the use and the use on the fit, so the fit is repeated.
    """
    loop = np.array([r.loop.sum() for r in rows])
    bend = np.array([r.bend.sum() for r in rows])
    rest = np.array([r.used - r.path.sum() for r in rows])
    if kept is not None:
        rest = rest - kept * bend
    x = np.column_stack([loop, bend])[:, : 1 if kept is not None else 2]
    n, k = x.shape
    scale, bend_value = 1.0, 0.0 if kept is None else kept
    for _ in range(8):
        spread = np.array(
            [
                float(np.linalg.norm(max(scale, 0.0) * r.loop + bend_value * r.bend + r.path))
                for r in rows
            ]
        )
        a, b = x / spread[:, None], rest / spread
        value = np.linalg.lstsq(a, b, rcond=None)[0]
        scale = float(value[0])
        bend_value = float(value[1]) if kept is None else kept
    residual = b - a @ value
    inverse = np.linalg.inv(a.T @ a)
    squares = float(np.sum(residual**2))
    variance = squares / (n - k)
    error = np.sqrt(variance * np.diag(inverse))
    free = np.maximum(1.0 - np.einsum("ij,jk,ik->i", a, inverse, a), 1e-9)
    others = np.maximum((squares - residual**2 / free) / max(n - k - 1, 1), 1e-12)
    return _Fit(
        Estimate(scale, float(error[0])),
        Estimate(bend_value, float(error[1]) if kept is None else 0.0),
        math.sqrt(variance),
        residual / np.sqrt(others * free),
    )


def _strange(rows: Sequence[_Row], found: _Fit, freedom: int) -> list[str]:
    """Return a note for every observation that the others make unlikely (1 % in all)."""
    from scipy.special import stdtrit

    limit = float(stdtrit(freedom - 1, 1.0 - 0.005 / len(rows)))
    return [
        f"{row.name} used {'more' if t > 0 else 'less'} than the others say: check its numbers"
        for row, t in zip(rows, found.outlying, strict=True)
        if abs(t) > limit
    ]
