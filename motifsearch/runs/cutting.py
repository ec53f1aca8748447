"""``cut``, ``kits`` and ``calibrate`` as they are read: the lists in words, and the forms."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from motifsearch.base.errors import InfeasibleError
from motifsearch.runs.kitting import Kits, kits
from motifsearch.runs.one import Design, candidate, write_new
from motifsearch.runs.settings import Asked, default_length
from motifsearch.runs.tables import cut_csv
from motifsearch.thread import texts
from motifsearch.thread.batch import MOST_KITS
from motifsearch.thread.batch_texts import cost_text
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
    designs: Sequence[Design],
    asked: Sequence[Asked] | Asked | None,
    number: int | None,
    extra: Sequence[str] = (),
    out: Path | None = None,
    *,
    overwrite: bool = False,
) -> tuple[str, tuple[str, ...]]:
    """Return how many kits there can be, or what to buy; and where the settings come from.

    Where a price is known it also says what a kit costs.

    Args:
        designs: The designs; a kit is one band of each.
        asked: What is to be other than in each design's own run.
        number: So many kits; as many as the stash yields when None.
        extra: What else goes into a kit and costs something.
        out: The folder to write cutting list, packing list, cost and worksheets into.
        overwrite: Write over what stands there.

    Raises:
        InputError: As `motifsearch.runs.kitting.kits`, or a file exists.
        InfeasibleError: A cut is longer than a skein and than every piece on hand; or files are
            asked for and the stash yields no kit.
        MotifError: A file cannot be written.
    """
    found = kits(designs, asked=asked, number=number, extra=extra)
    show = found.bands[0].settings.show
    if found.count is not None:
        text = texts.kits_text(found.count)
    else:
        assert found.shopping is not None
        text = texts.shopping_text(found.shopping, show)
    if 1 <= found.number <= MOST_KITS and (extra or _priced(found)):
        try:
            text += cost_text(found.cost, found.number, show)
        except InfeasibleError as bad:  # the plan of so many was not found in the work granted
            text += f"What one kit costs is not known: {bad}.\n"
    if out is not None:
        written = found.write(out, overwrite=overwrite)
        text += "".join(f"written: {path}\n" for path in written)
    return text, found.said


def _priced(found: Kits) -> bool:
    """Return whether a price is known of the thread of some colour of a kit."""
    names = {name for band in found.bands for name in band.pattern.palette}
    return any(found.stash.thread(name).price is not None for name in names)


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
