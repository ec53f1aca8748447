"""``chart``: the charts of a run, as files or as bytes."""

from __future__ import annotations

from pathlib import Path

from motifsearch.base.errors import InputError
from motifsearch.draw.charts import FORMS
from motifsearch.runs.graphs import CHARTS, graph
from motifsearch.runs.one import write_new
from motifsearch.runs.rebuilding import open_run
from motifsearch.runs.result import Run


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
        name: A key of `motifsearch.runs.graphs.CHARTS`.
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
    data = graph(run.candidates, run.record, name, form, wishes)
    if out is not None:
        write_new(Path(out), data, overwrite)
    return data


def charts(
    folder: str | Path, names: tuple[str, ...] = (), *, form: str = "png", overwrite: bool = False
) -> list[Path]:
    """Write charts of a run into its folder; return their files.

    Args:
        folder: The run folder.
        names: Keys of `motifsearch.runs.graphs.CHARTS`; all when empty.
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
