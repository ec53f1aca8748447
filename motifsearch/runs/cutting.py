"""``cut``, ``kits`` and ``calibrate`` as they are read: the lists in words, and the forms."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from motifsearch.base.errors import InfeasibleError
from motifsearch.runs.one import Design, candidate, kits, write_new
from motifsearch.runs.settings import Asked, default_length
from motifsearch.runs.tables import cut_csv
from motifsearch.thread import texts
from motifsearch.thread.calibration import calibration_text, format_calibration
from motifsearch.thread.fit import calibrate
from motifsearch.thread.measurement import measurement_form


def cut_text(
    design: Design, asked: Asked | None = None, *, as_csv: bool = False
) -> tuple[str, tuple[str, ...], InfeasibleError | None]:
    """Return what to cut in words or as CSV, where the settings come from, and what is lacking.

    Args:
        design: The design.
        asked: What is to be other than in its own run.
        as_csv: As CSV.

    Raises:
        InputError: As `motifsearch.runs.one.candidate`.
    """
    made, said = candidate(design, asked)
    show = made.settings.show
    if as_csv:
        text = cut_csv(made.cuts, made.plan, made.settings.first_notch)
    else:
        text = texts.cut_list_text(made.cuts, show) + "\n"
        if made.plan is not None:
            text += texts.plan_text(made.plan, show)
    lacking = None
    if made.plan is not None and not made.plan.feasible:
        stash = made.settings.stash
        name = stash.source if stash is not None and stash.source else "the stash"
        lacking = InfeasibleError(
            f"{name}: not enough thread for {len(made.plan.missing)} of the cuts"
        )
    return text, (*said, *default_length(made.settings, asked)), lacking


def measure_form(design: Path, out: Path, asked: Asked | None = None) -> None:
    """Write a form for `motifsearch calibrate`, to be filled in when the band is done.

    Raises:
        InputError: The form exists already.
        MotifError: It cannot be written.
    """
    made, _ = candidate(design, asked)
    beside = Path(os.path.relpath(design, out.parent)).as_posix()
    form = measurement_form(beside, made.cuts, made.settings.allowances, made.diameters_mm)
    write_new(out, form, overwrite=False)


def kits_text(
    designs: Sequence[Design], asked: Sequence[Asked] | Asked | None, number: int | None
) -> tuple[str, tuple[str, ...]]:
    """Return how many kits there can be, or what to buy; and where the settings come from.

    Raises:
        InputError: As `motifsearch.runs.one.kits`.
        InfeasibleError: A cut is longer than a skein and than every piece on hand.
    """
    found = kits(designs, asked=asked, number=number)
    if found.count is not None:
        return texts.kits_text(found.count), found.said
    assert found.shopping is not None
    return texts.shopping_text(found.shopping, found.bands[0].settings.show), found.said


def calibrated(
    measurements: Sequence[Path], out: Path | None, *, keep_bend: bool, overwrite: bool
) -> str:
    """Fit the thread model to finished bands; return the fit in words, and write it where asked.

    Raises:
        InputError: A measurement cannot be used, or the file exists.
        MotifError: The file cannot be written.
    """
    found = calibrate(list(measurements), keep_bend=keep_bend)
    text = calibration_text(found)
    if out is None:
        return text
    write_new(out, format_calibration(found), overwrite)
    return f'{text}\nwritten to {out}; name it in the stash: calibration = "{out.name}"'
