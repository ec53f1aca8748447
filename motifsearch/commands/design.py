"""``score``, ``show``, ``draw``, ``worksheet``, ``vary`` and ``target``: one design."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from motifsearch.base.errors import InputError

if TYPE_CHECKING:
    from motifsearch.pattern.design import Pattern
    from motifsearch.runs.candidate import Entry
    from motifsearch.thread.stash import Stash

PATTERN = click.argument("pattern", type=click.Path(path_type=Path))
LENGTH = click.option(
    "--length",
    "length_mm",
    type=float,
    default=150.0,
    show_default=True,
    metavar="MM",
    help="Knotted length in mm.",
)
STASH = click.option(
    "--stash",
    type=click.Path(path_type=Path),
    default=None,
    help="The threads on hand: their thickness and your tension.",
)
RUN_LENGTH = click.option(
    "--length",
    "length_mm",
    type=float,
    default=None,
    metavar="MM",
    help="Knotted length in mm; that of its run for a design of a run folder, else 150.",
)
DEFAULT_LENGTH_MM = 150.0
MAX_LENGTH_MM = 2000.0
MAX_BLANK_ROWS = 200


def check_length(length_mm: float) -> float:
    """Return a knotted length that can be used.

    Raises:
        InputError: It is not above 0, or longer than any band.
    """
    if not 0 < length_mm <= MAX_LENGTH_MM:
        raise InputError(
            f"expected a knotted length above 0 and up to {MAX_LENGTH_MM:g} mm",
            length_mm,
            source="--length",
        )
    return length_mm


def of_its_run(
    pattern: Path, length_mm: float | None, stash: Path | None
) -> tuple[float, Path | None]:
    """Return length and stash: what was given, or for a design of a run those of its run.

    What is taken from elsewhere than the command line is said on the error stream.

    Raises:
        InputError: The length cannot be used, or the run's brief is damaged.
    """
    run = pattern.parent.parent.parent
    in_run = pattern.parent.parent.name == "candidates" and (run / "brief.toml").is_file()
    if length_mm is None and in_run:
        from motifsearch.search.brief import read_brief

        length_mm = read_brief(run / "brief.toml").length_mm
        click.echo(f"length {length_mm:g} mm, from {run / 'brief.toml'}", err=True)
    elif length_mm is None:
        length_mm = DEFAULT_LENGTH_MM
        click.echo(f"length {length_mm:g} mm (no --length given)", err=True)
    if stash is None and in_run and (run / "stash.toml").is_file():
        stash = run / "stash.toml"
        click.echo(f"threads from {stash}", err=True)
    return check_length(length_mm), stash


def write_new(path: Path, data: bytes | str, overwrite: bool) -> None:
    """Write a file that was asked for by name.

    Raises:
        InputError: It exists and was not to be overwritten.
        MotifError: It cannot be written.
    """
    from motifsearch.base.tomlfile import write_atomic

    if path.exists() and not overwrite:
        raise InputError("the file exists already; give --overwrite", source=path)
    write_atomic(path, data)


def scored(pattern: Pattern, length_mm: float, stash: Stash | None) -> dict[str, Any]:
    """Return the scores of a design, knotted from a stash when there is one."""
    import numpy as np

    from motifsearch.simulate.scores import score_pattern

    if stash is None:
        return score_pattern(pattern, length_mm)
    diameters = np.array([stash.thread(name).diameter_mm for name in pattern.palette])
    return score_pattern(pattern, length_mm, stash.model, diameters)


def entry_of(pattern: Pattern, length_mm: float, stash: Stash | None) -> Entry:
    """Return a design as an entry of its own, with cuts, and a plan where there is a stash."""
    from motifsearch.runs.candidate import Entry
    from motifsearch.thread.cutting import cut_list
    from motifsearch.thread.plan import plan_cuts
    from motifsearch.thread.stash import strand_diameters_mm

    if stash is None:
        cuts = cut_list(pattern, length_mm)
    else:
        cuts = cut_list(
            pattern,
            length_mm,
            model=stash.model,
            diameters_mm=strand_diameters_mm(pattern, stash),
        )
    plan = None if stash is None else plan_cuts(cuts, stash)
    return Entry(1, pattern, scored(pattern, length_mm, stash), cuts, plan)


def _stash(path: Path | None) -> Stash | None:
    from motifsearch.thread.stash import read_stash

    return None if path is None else read_stash(path)


@click.command()
@PATTERN
@LENGTH
@STASH
@click.option("--json", "as_json", is_flag=True, help="Print plain data with all digits.")
def score(pattern: Path, length_mm: float, stash: Path | None, as_json: bool) -> None:
    """Print every score of the design in the file PATTERN."""
    from motifsearch.draw.terminal import score_table
    from motifsearch.pattern.files import read_pattern

    scores = scored(read_pattern(pattern), check_length(length_mm), _stash(stash))
    if as_json:
        click.echo(json.dumps(scores, indent=1, ensure_ascii=False, allow_nan=False))
    else:
        click.echo(score_table(scores))


@click.command()
@click.argument("what", type=click.Path(path_type=Path), metavar="PATTERN|RUN")
@click.option(
    "--rows",
    type=click.IntRange(1, 400),
    default=None,
    help="Rows drawn; two repeats when left out.",
)
@LENGTH
@click.option("--passes", is_flag=True, help="Show the order of work too.")
@click.option("--plain", is_flag=True, help="No colours, even in a terminal.")
def show(what: Path, rows: int | None, length_mm: float, passes: bool, plain: bool) -> None:
    """Draw a design, or all designs of a run, in the terminal, with the scores."""
    import os
    import sys

    from motifsearch.draw.terminal import score_table, show_face
    from motifsearch.pattern.files import read_pattern
    from motifsearch.runs.folder import read_candidates

    check_length(length_mm)
    colour = sys.stdout.isatty() and not plain and "NO_COLOR" not in os.environ
    if what.is_dir():
        found, skipped = read_candidates(what)
        for line in skipped:
            click.echo(f"skipped {line}", err=True)
    else:
        found = [("", read_pattern(what))]
    for name, pattern in found:
        scores = scored(pattern, length_mm, None)
        click.echo(f"{name}  {pattern.title}".strip())
        click.echo(show_face(pattern, rows or min(2 * scores["repeat_rows"], 40), colour=colour))
        if not what.is_dir():
            click.echo(score_table(scores))
        if passes:
            click.echo(_pass_lines(pattern))
        click.echo()


def _pass_lines(pattern: Pattern) -> str:
    from motifsearch.pattern.notches import Setting
    from motifsearch.pattern.passes import plan_passes
    from motifsearch.worksheet.steps import describe

    setting = Setting(pattern.strands, 1, False)
    plan = plan_passes(pattern)
    lines = [f"Order of work for one period: {len(plan.passes)} passes"]
    for n, one in enumerate(plan.passes, 1):
        action, outcome, _ = describe(one, setting)
        lines.append(f"{n:3d}. notch {setting.notch(one.start)}: {action}; {outcome}")
    return "\n".join(lines)


@click.command()
@click.argument("pattern", required=False, type=click.Path(path_type=Path))
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    default=None,
    help="PNG (the band) or SVG (the thread chart), by its ending.",
)
@click.option("--rows", type=click.IntRange(1, 400), default=None, help="Rows drawn.")
@click.option(
    "--cell-px",
    type=click.IntRange(6, 80),
    default=20,
    show_default=True,
    help="Size of a knot in the PNG.",
)
@click.option("--back", is_flag=True, help="The back of the band.")
@click.option("--blank", is_flag=True, help="A blank template to paint a wanted motif on.")
@click.option("--strands", type=click.IntRange(4, 24), default=None, help="For --blank.")
@click.option("--first-notch", type=click.IntRange(1, 99), default=1, show_default=True)
@click.option("--overwrite", is_flag=True, help="Write over an existing file.")
def draw(
    pattern: Path | None,
    out: Path | None,
    rows: int | None,
    cell_px: int,
    back: bool,
    blank: bool,
    strands: int | None,
    first_notch: int,
    overwrite: bool,
) -> None:
    """Draw the design in the file PATTERN: the knotted band as PNG, or its thread chart as SVG.

    With --blank, write a template (text, or PNG by its ending) for `motifsearch target`.
    """
    from motifsearch.pattern.files import read_pattern

    if blank:
        if strands is None:
            raise click.UsageError("--blank needs --strands")
        _blank(strands, rows or 12, out, overwrite)
        return
    if pattern is None:
        raise click.UsageError("give a PATTERN, or --blank")
    design = read_pattern(pattern)
    path = out or pattern.with_suffix(".png")
    if path.suffix.lower() == ".svg":
        from motifsearch.draw.thread_chart import thread_chart_svg
        from motifsearch.pattern.walk import repeat_rows

        height = rows or min(400, repeat_rows(design))
        write_new(path, thread_chart_svg(design, height, first_notch=first_notch), overwrite)
    elif path.suffix.lower() == ".png":
        from motifsearch.draw.cloth import png_bytes, render_band

        image = render_band(design, rows or 60, cell_px=cell_px, back=back, ends=True)
        write_new(path, png_bytes(image), overwrite)
    else:
        raise InputError("expected a name that ends in .png or .svg", str(path), source="--out")
    click.echo(str(path))


def _blank(strands: int, rows: int, out: Path | None, overwrite: bool) -> None:
    if rows > MAX_BLANK_ROWS:
        raise InputError(f"expected at most {MAX_BLANK_ROWS} rows", rows, source="--rows")
    from motifsearch.draw.wanted import blank_png, blank_template, png_bytes

    if out is None:
        click.echo(blank_template(strands, rows), nl=False)
        return
    if out.suffix.lower() == ".png":
        write_new(out, png_bytes(blank_png(strands, rows)), overwrite)
    else:
        write_new(out, blank_template(strands, rows), overwrite)
    click.echo(str(out))


@click.command()
@PATTERN
@RUN_LENGTH
@STASH
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    default=None,
    help="A .pdf, .md or .txt file; plain text to the terminal when left out.",
)
@click.option("--first-notch", type=click.IntRange(1, 99), default=1, show_default=True)
@click.option("--left-handed", is_flag=True, help="Mirror the whole sheet.")
@click.option("--teaching", is_flag=True, help="The short form for a class.")
@click.option(
    "--units",
    type=click.Choice(["metric", "imperial"]),
    default=None,
    help="What lengths are shown in; the stash's, or metric.",
)
@click.option("--paper", type=click.Choice(["A4", "Letter"]), default="A4", show_default=True)
@click.option("--overwrite", is_flag=True, help="Write over an existing file.")
def worksheet(
    pattern: Path,
    length_mm: float | None,
    stash: Path | None,
    out: Path | None,
    first_notch: int,
    left_handed: bool,
    teaching: bool,
    units: str | None,
    paper: str,
    overwrite: bool,
) -> None:
    """Write the worksheet of the design in the file PATTERN."""
    from motifsearch.pattern.files import read_pattern
    from motifsearch.worksheet import forms as sheets
    from motifsearch.worksheet.content import make_worksheet

    design = read_pattern(pattern)
    length_mm, stash = of_its_run(pattern, length_mm, stash)
    on_hand = _stash(stash)
    entry = entry_of(design, length_mm, on_hand)
    sheet = make_worksheet(
        entry,
        length_mm=length_mm,
        first_notch=first_notch,
        left_handed=left_handed,
        teaching=teaching,
        show=units or (on_hand.show if on_hand else "metric"),
    )
    if out is None:
        click.echo(sheets.to_text(sheet), nl=False)
        return
    ending = out.suffix.lower()
    if ending == ".pdf":
        write_new(out, sheets.to_pdf(sheet, paper), overwrite)
    elif ending in (".md", ".txt"):
        make = sheets.to_markdown if ending == ".md" else sheets.to_text
        write_new(out, make(sheet), overwrite)
    else:
        raise InputError("expected a name that ends in .pdf, .md or .txt", str(out), source="--out")
    click.echo(str(out))


@click.command()
@PATTERN
@click.option("--stash", type=click.Path(path_type=Path), required=True, help="Threads on hand.")
@RUN_LENGTH
@click.option("--out", type=click.Path(path_type=Path), default=None, help="The run folder.")
@click.option("--overwrite", is_flag=True, help="Write into an existing run folder.")
@click.option("--keep-rows", default="", metavar="1-4,9", help="Rows whose knots stay.")
@click.option("--keep-border", is_flag=True, help="The knots of the outermost strands stay.")
@click.option("--keep-colours", is_flag=True, help="The colour order stays.")
@click.option("--keep-symmetry", is_flag=True, help="Every exact symmetry of the face stays.")
@click.option("--seed", type=click.IntRange(0, 2**32 - 1), default=1, show_default=True)
@click.option(
    "--size",
    type=click.IntRange(1, 200),
    default=12,
    show_default=True,
    help="Designs in the gallery.",
)
def vary(
    pattern: Path,
    stash: Path,
    length_mm: float | None,
    out: Path | None,
    overwrite: bool,
    keep_rows: str,
    keep_border: bool,
    keep_colours: bool,
    keep_symmetry: bool,
    seed: int,
    size: int,
) -> None:
    """Show designs that are near to the one in PATTERN: more like this."""
    from motifsearch.commands.variations import vary_pattern

    length_mm, _ = of_its_run(pattern, length_mm, stash)
    folder = vary_pattern(
        pattern,
        stash,
        length_mm,
        out,
        overwrite=overwrite,
        keep_rows=keep_rows,
        keep_border=keep_border,
        keep_colours=keep_colours,
        keep_symmetry=keep_symmetry,
        seed=seed,
        size=size,
    )
    click.echo(f"Open {folder / 'gallery.html'} in a browser.")


@click.command()
@click.argument("picture", type=click.Path(path_type=Path), metavar="IMAGE|TEXT")
@click.option(
    "--strands",
    type=click.IntRange(4, 24),
    default=None,
    help="Number of strands; for a picture it must be given.",
)
@click.option("--rows", type=click.IntRange(2, 200), default=None, help="Rows, for a picture.")
@click.option(
    "--stash",
    type=click.Path(path_type=Path),
    default=None,
    help="Colours that a picture is matched to, and what is cut from.",
)
@LENGTH
@click.option("--seconds", type=float, default=20.0, show_default=True, help="At most this long.")
@click.option("--unfolded", is_flag=True, help="Single strands: any number of each colour.")
@click.option("--designs", type=click.IntRange(1, 50), default=6, show_default=True)
@click.option("--seed", type=click.IntRange(0, 2**32 - 1), default=1, show_default=True)
@click.option("--out", type=click.Path(path_type=Path), default=None, help="The folder to write.")
@click.option("--overwrite", is_flag=True, help="Write into an existing folder.")
def target(picture: Path, **options: Any) -> None:
    """Find knots that make the motif painted in a picture or a text, or come nearest to it."""
    from motifsearch.commands.wanted import find_target

    for line in find_target(picture, **options):
        click.echo(line)
