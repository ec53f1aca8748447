"""``chart``: the charts of a run, as files or as bytes."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Final

import numpy as np

from motifsearch.base.errors import InputError
from motifsearch.draw.charts import FORMS, likeness_map, progress_chart, trade_off_chart
from motifsearch.runs.briefing import wish_label
from motifsearch.runs.one import write_new
from motifsearch.runs.rebuilding import open_run
from motifsearch.runs.result import Run
from motifsearch.search.variety import face_distance

#: The charts by name, and what each shows.
CHARTS: Final[Mapping[str, str]] = {
    "progress": "how the search went: best, kinds found and the room that is covered",
    "trade-off": "what two wishes cost each other, with the designs of the gallery",
    "map": "the gallery by likeness: designs that look alike lie close together",
}


def wishes_apart(run: Run) -> tuple[str, str]:
    """Return the two wishes that are met most unevenly over a gallery, the pair of a trade-off.

    They are those with the most negative covariance of how well they are met; for a gallery that
    agrees in all, the first two by name.
    """
    names = sorted({name for one in run for name in one.wishes})
    if len(names) < 2:
        return "evenness", "movement"
    met = np.array([[one.wishes.get(name, 0.0) for one in run] for name in names])
    spread = np.round(np.cov(met), 9) if len(run) > 1 else np.zeros((len(names), len(names)))
    pairs = [(spread[i, j], names[i], names[j]) for i in range(len(names)) for j in range(i)]
    _, one, other = min(pairs)
    return one, other


def chart(
    run: Run | str | Path,
    name: str,
    out: str | Path | None = None,
    *,
    form: str | None = None,
    wishes: tuple[str, str] | None = None,
    overwrite: bool = False,
) -> bytes:
    """Return a chart of a run.

    Args:
        run: The run, or its folder.
        name: A key of `CHARTS`.
        out: The file to write, which ends in .png or .svg; None to write nothing.
        form: "png" or "svg"; by the file's ending, or "png", when None.
        wishes: The two wishes of a trade-off; those that cost each other most when None.
        overwrite: Write over an existing file.

    Raises:
        InputError: The run, the chart, a wish or the file's name cannot be used.
        MotifError: The file cannot be written.
    """
    run = run if isinstance(run, Run) else open_run(run)
    form = form or ("png" if out is None else Path(out).suffix.lower().removeprefix("."))
    if form not in FORMS:
        raise InputError(
            "expected a name that ends in .png or .svg", str(out or form), source="--out"
        )
    inks = [[one.pattern.colours[n] for n in one.pattern.palette] for one in run]
    numbers = [one.rank for one in run]
    if name == "progress":
        data = progress_chart(run.record.progress, form)
    elif name == "trade-off":
        first, second = wishes or wishes_apart(run)
        for wish in (first, second):
            if not any(wish in one.wishes for one in run):
                known = ", ".join(sorted({n for one in run for n in one.wishes}))
                raise InputError(f"expected a wish of this run ({known})", wish, source="--wish")
        data = trade_off_chart(
            [one.wishes.get(first, 0.0) for one in run],
            [one.wishes.get(second, 0.0) for one in run],
            inks, wish_label(first), wish_label(second), numbers, form,
        )  # fmt: skip
    elif name == "map":
        designs = [one.pattern for one in run]
        distances = np.array([[face_distance(a, b) for b in designs] for a in designs])
        data = likeness_map((distances + distances.T) / 2, inks, numbers, form)
    else:
        raise InputError(f"expected one of {', '.join(CHARTS)}", name, source="chart")
    if out is not None:
        write_new(Path(out), data, overwrite)
    return data


def charts(
    folder: str | Path, names: tuple[str, ...] = (), *, form: str = "png", overwrite: bool = False
) -> list[Path]:
    """Write charts of a run into its folder; return their files.

    Args:
        folder: The run folder.
        names: Keys of `CHARTS`; all when empty.
        form: "png" or "svg".
        overwrite: Write over existing files.

    Raises:
        InputError: As `chart`.
        MotifError: A file cannot be written.
    """
    run = open_run(folder)
    paths = [Path(folder) / f"chart-{name}.{form}" for name in names or tuple(CHARTS)]
    for name, path in zip(names or tuple(CHARTS), paths, strict=True):
        chart(run, name, path, overwrite=overwrite)
    return paths
