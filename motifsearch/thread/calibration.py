"""A calibration: the fitted constants of one maker's tension, and the file that keeps them.

The file is written by ``motifsearch calibrate`` and named by a stash (``calibration = "FILE"``);
every cut list from that stash then uses it.  Each constant stands beside its standard error.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import tomli_w

from motifsearch.base.tomlfile import REQUIRED, read_toml, write_atomic
from motifsearch.thread.model import ThreadModel

FORMAT = "motifsearch-calibration-1"
#: How many observations the stated scatter of the model counts for, against a smaller fitted one.
PRIOR_FREEDOM = 2
#: No hand is more even from strand to strand, and no leftover is read more exactly (ours).
LEAST_SCATTER = 0.015


@dataclass(frozen=True)
class Estimate:
    """A fitted value.

    Attributes:
        value: The estimate.
        error: Its standard error.
    """

    value: float
    error: float


@dataclass(frozen=True)
class Calibration:
    """What was fitted, and the thread model that follows.

    Attributes:
        row_gauge: g, row pitch per mean diameter.
        strand_gauge: w, strand pitch per mean diameter.
        loop_scale: Effective over nominal diameter in loops.
        bend: c, extra core length per knot, in diameters; its error is 0 when it was kept.
        scatter: Standard deviation of a strand's use, as a fraction of the use.
        freedom: Degrees of freedom of the scatter.
        observations: How many strands, or folded threads, were measured.
        notes: What a reader should know.
        nominal: The model whose loops were scaled.
        minutes_per_knot: The maker's pace, changes of strand and all; None when not measured.
    """

    row_gauge: Estimate
    strand_gauge: Estimate
    loop_scale: Estimate
    bend: Estimate
    scatter: Estimate
    freedom: int
    observations: int
    notes: tuple[str, ...] = ()
    nominal: ThreadModel = field(default_factory=ThreadModel)
    minutes_per_knot: float | None = None

    @property
    def model(self) -> ThreadModel:
        """The thread model for cut lengths.

        Its scatter also carries what the fitted constants leave open: a new strand misses its
        prediction by sqrt(1 + k / n) times the scatter when k constants were fitted to n
        observations much like it.

        Few strands that happen to agree do not make an even hand, so the scatter has a floor that
        only many of them lower: what `PRIOR_FREEDOM` observations of the stated scatter leave when
        all that were made show none (the pooled variance; the scaled inverse chi-square prior of
        Gelman et al., Bayesian Data Analysis, 3rd ed., section 2.6), and never under
        `LEAST_SCATTER`.
        """
        fitted = self.observations - self.freedom
        weight = PRIOR_FREEDOM / (PRIOR_FREEDOM + self.freedom)
        floor = max(LEAST_SCATTER, self.nominal.scatter * math.sqrt(weight))
        scatter = max(self.scatter.value, floor)
        return replace(
            self.nominal,
            row_gauge=self.row_gauge.value,
            strand_gauge=self.strand_gauge.value,
            loop_scale=self.loop_scale.value,
            bend=self.bend.value,
            scatter=scatter * math.sqrt(1.0 + fitted / self.observations),
            scatter_freedom=float(self.freedom),
        )


_ESTIMATES = ("row_gauge", "strand_gauge", "loop_scale", "bend", "scatter")
_LIMITS = {
    "row_gauge": (0.2, 20.0),
    "strand_gauge": (0.2, 20.0),
    "loop_scale": (0.01, 20.0),
    "bend": (0.0, 20.0),
    "scatter": (0.0, 1.0),
}


def format_calibration(calibration: Calibration) -> str:
    """Return the text of the calibration file; reading it gives the same calibration."""
    data: dict[str, Any] = {"format": FORMAT}
    for name in _ESTIMATES:
        estimate: Estimate = getattr(calibration, name)
        data[name] = estimate.value
        data[f"{name}_error"] = estimate.error
    data["observations"] = calibration.observations
    data["freedom"] = calibration.freedom
    data["crossing_loop"] = list(calibration.nominal.crossing)
    data["returning_loop"] = list(calibration.nominal.returning)
    if calibration.minutes_per_knot is not None:
        data["minutes_per_knot"] = calibration.minutes_per_knot
    data["notes"] = list(calibration.notes)
    return tomli_w.dumps(data)


def write_calibration(calibration: Calibration, path: str | Path) -> None:
    """Write a calibration file, whole or not at all.

    Raises:
        MotifError: The file cannot be written.
    """
    write_atomic(Path(path), format_calibration(calibration))


def read_calibration(path: str | Path) -> Calibration:
    """Read a calibration file.

    Raises:
        InputError: With file, key, what was expected and what stood there.
    """
    table = read_toml(path, "a calibration file")
    errors = [f"{name}_error" for name in _ESTIMATES]
    loops = ["crossing_loop", "returning_loop"]
    counts = ["observations", "freedom", "minutes_per_knot"]
    table.only(["format", *_ESTIMATES, *errors, *counts, *loops, "notes"])
    found = table.text("format", REQUIRED)
    if found != FORMAT:
        raise table.error("format", f'expected "{FORMAT}"', found)

    def estimate(name: str) -> Estimate:
        low, high = _LIMITS[name]
        return Estimate(
            table.number(name, REQUIRED, low=low, high=high),
            table.number(f"{name}_error", 0.0, high=1e6),
        )

    def loop(key: str, default: tuple[float, float]) -> tuple[float, float]:
        what = "two numbers [a, b]"
        pair = table.items(key, list(default), of=(int, float), what=what)
        if len(pair) != 2:
            raise table.error(key, f"expected {what}", pair)
        first, second = (
            table.check_number(f"{key}[{n}]", v, what, low=-1e3, high=1e3, above=False)
            for n, v in enumerate(pair)
        )
        return first, second

    plain = ThreadModel()
    observations = table.whole("observations", REQUIRED, low=2)
    freedom = table.whole("freedom", REQUIRED, low=1, high=observations)
    return Calibration(
        estimate("row_gauge"),
        estimate("strand_gauge"),
        estimate("loop_scale"),
        estimate("bend"),
        estimate("scatter"),
        freedom,
        observations,
        tuple(table.items("notes", [])),
        replace(
            plain,
            crossing=loop("crossing_loop", plain.crossing),
            returning=loop("returning_loop", plain.returning),
        ),
        table.number("minutes_per_knot", None, high=60.0, above=True),
    )


def calibration_text(calibration: Calibration) -> str:
    """Return what was fitted, as people read it: value, standard error, meaning."""
    rows = (
        ("row gauge", calibration.row_gauge, "thread diameters from row to row"),
        ("strand gauge", calibration.strand_gauge, "thread diameters from strand to strand"),
        ("loop scale", calibration.loop_scale, "loops against the model's; below 1 is tight"),
        ("bend", calibration.bend, "extra diameters per knot for the core strand"),
        ("scatter", calibration.scatter, "how far strands vary, as a share of their use"),
    )
    lines = [f"{name:<13}{e.value:8.3f} +- {e.error:<7.3f}{meaning}" for name, e, meaning in rows]
    lines.append(
        f"from {calibration.observations} measured strands or threads, "
        f"{calibration.freedom} degrees of freedom"
    )
    if calibration.minutes_per_knot is not None:
        lines.append(f"your pace: {calibration.minutes_per_knot * 60:.0f} seconds a knot")
    return "\n".join([*lines, *(f"note: {note}" for note in calibration.notes)]) + "\n"
