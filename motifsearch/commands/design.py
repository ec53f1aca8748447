"""``score``, ``show``, ``draw``, ``worksheet``, ``vary``, ``target``, ``letters``: one design.

What stands under "Settings" in a help text comes from the run of a design unless it is given.
"""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from motifsearch.commands.options import (
    OUT,
    OVERWRITE,
    PATH,
    PATTERN,
    SEED,
    WORKERS,
    say,
    settings,
    tell,
)

if TYPE_CHECKING:
    from motifsearch.runs.settings import Asked


@click.command()
@PATTERN
@settings("first_notch", "show", "paper")
@click.option("--json", "as_json", is_flag=True, help="Print plain data with all digits.")
def score(pattern: Path, asked: Asked, as_json: bool) -> None:
    """Print every score of the design in the file PATTERN."""
    from motifsearch.draw.terminal import score_table
    from motifsearch.runs.one import candidate
    from motifsearch.runs.settings import INSTEAD

    made, said = candidate(pattern, asked)
    # Whoever reads data wants nothing beside it but what differs from the design's own run.
    say([line for line in said if line.startswith(INSTEAD) or not as_json])
    if as_json:
        tell(json.dumps(made.scores.plain(), indent=1, allow_nan=False))
    else:
        tell(score_table(made.scores))


@click.command()
@click.argument("what", type=PATH, metavar="PATTERN|RUN")
@click.option(
    "--rows",
    type=click.IntRange(1, 400),
    default=None,
    help="Rows drawn; two repeats when left out.",
)
@settings("show", "paper")
@click.option("--passes", is_flag=True, help="Show the order of work too.")
@click.option("--plain", is_flag=True, help="No colours, even in a terminal.")
def show(what: Path, rows: int | None, asked: Asked, passes: bool, plain: bool) -> None:
    """Draw a design, or all designs of a run, in the terminal, with the scores."""
    from motifsearch.runs.showing import show as shown

    colour = sys.stdout.isatty() and not plain and "NO_COLOR" not in os.environ
    texts, said = shown(what, rows=rows, passes=passes, colour=colour, asked=asked)
    say(said)
    for text in texts:
        click.echo(text)  # coloured by our own drawing; titles in it are plain text


@click.command()
@click.argument("pattern", required=False, type=PATH)
@click.option(
    "--out", type=PATH, default=None, help="PNG (the band) or SVG (the thread chart), by its end."
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
@settings("length_mm", "stash", "folded", "pairing", "risk", "start_mm", "finish_mm", "show",
          "paper")  # fmt: skip
@OVERWRITE
def draw(
    pattern: Path | None,
    out: Path | None,
    rows: int | None,
    cell_px: int,
    back: bool,
    blank: bool,
    strands: int | None,
    asked: Asked,
    overwrite: bool,
) -> None:
    """Draw the design in the file PATTERN: the knotted band as PNG, or its thread chart as SVG.

    With --blank, write a template (text, or PNG by its ending) for `motifsearch target`.
    """
    from motifsearch.runs import sheets

    if blank:
        if strands is None:
            raise click.UsageError("--blank needs --strands")
        paper = sheets.blank(strands, rows or 12, out, overwrite=overwrite)
        tell(paper.decode() if out is None else str(out), nl=out is not None)
        return
    if pattern is None:
        raise click.UsageError("give a PATTERN, or --blank")
    path = out or pattern.with_suffix(".png")
    sheets.draw(
        pattern, path, rows=rows, cell_px=cell_px, back=back, asked=asked, overwrite=overwrite
    )
    tell(str(path))


@click.command()
@PATTERN
@settings()
@click.option(
    "--out",
    type=PATH,
    default=None,
    help="A .pdf, .html (the board page), .md or .txt file; plain text when left out.",
)
@click.option("--left-handed", is_flag=True, help="Mirror the whole sheet.")
@click.option("--teaching", is_flag=True, help="The short form for a class.")
@OVERWRITE
def worksheet(
    pattern: Path,
    asked: Asked,
    out: Path | None,
    left_handed: bool,
    teaching: bool,
    overwrite: bool,
) -> None:
    """Write the worksheet of the design in the file PATTERN."""
    from motifsearch.runs.sheets import worksheet as sheet

    data, said = sheet(
        pattern, out, left_handed=left_handed, teaching=teaching, asked=asked, overwrite=overwrite
    )
    say(said)
    tell(data.decode() if out is None else str(out), nl=out is not None)


@click.command()
@PATTERN
@settings("show")
@OUT
@OVERWRITE
@click.option("--keep-rows", default="", metavar="1-4,9", help="Rows whose knots stay.")
@click.option("--keep-border", is_flag=True, help="The knots of the outermost strands stay.")
@click.option("--keep-colours", is_flag=True, help="The colour order stays.")
@click.option("--keep-symmetry", is_flag=True, help="Every exact symmetry of the face stays.")
@SEED
@click.option(
    "--size", type=click.IntRange(1, 200), default=12, show_default=True, help="How many designs."
)
def vary(
    pattern: Path,
    asked: Asked,
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
    from motifsearch.runs.varying import vary as varied

    folder = out or Path("results") / f"vary-{pattern.stem}-seed{seed}"
    run = varied(
        pattern,
        asked=asked,
        keep_rows=keep_rows,
        keep_border=keep_border,
        keep_colours=keep_colours,
        keep_symmetry=keep_symmetry,
        seed=seed,
        size=size,
        out=folder,
        overwrite=overwrite,
    )
    say(run.said)
    tell(f"Open {folder / 'gallery.html'} in a browser.")


@click.command()
@click.argument("picture", type=PATH, metavar="IMAGE|TEXT")
@click.option(
    "--strands",
    type=click.IntRange(4, 24),
    default=None,
    help="Number of strands; for a picture it must be given.",
)
@click.option("--rows", type=click.IntRange(2, 200), default=None, help="Rows, for a picture.")
@settings()
@click.option("--seconds", type=float, default=20.0, show_default=True, help="At most this long.")
@click.option("--designs", type=click.IntRange(1, 50), default=6, show_default=True)
@SEED
@OUT
@OVERWRITE
def target(
    picture: Path,
    strands: int | None,
    rows: int | None,
    asked: Asked,
    seconds: float,
    designs: int,
    seed: int,
    out: Path | None,
    overwrite: bool,
) -> None:
    """Find knots that make the motif painted in a picture or a text, or come nearest to it."""
    from motifsearch.runs.wanted import target as wanted

    folder = out or Path("results") / f"target-{picture.stem}"
    run = wanted(
        picture,
        asked=asked,
        strands=strands,
        rows=rows,
        seconds=seconds,
        designs=designs,
        seed=seed,
        out=folder,
        overwrite=overwrite,
    )
    for line in run.said:
        tell(line)
    tell(f"Open {folder / 'gallery.html'} in a browser.")


def _words(command: Callable[..., None]) -> Callable[..., None]:
    """Add the options of a text, from the records of a brief."""
    from motifsearch.search.records import record

    for key in reversed(("reads", "repeated", "ink", "ground")):
        r = record(key)
        kind = click.Choice(r.choices) if r.choices else None if r.kind == "flag" else str
        command = click.option(r.option, key, type=kind, default=r.default, help=r.help)(command)
    return command


@click.command()
@click.argument("text")
@click.option(
    "--strands",
    type=click.IntRange(4, 24),
    default=16,
    show_default=True,
    help="Number of strands; letters need 10 at least.",
)
@_words
@settings()
@click.option("--designs", type=click.IntRange(1, 24), default=4, show_default=True)
@SEED
@WORKERS
@OUT
@OVERWRITE
def letters(
    text: str,
    strands: int,
    reads: str,
    repeated: bool,
    ink: str | None,
    ground: str | None,
    asked: Asked,
    designs: int,
    seed: int,
    workers: int | str | None,
    out: Path | None,
    overwrite: bool,
) -> None:
    """Knot TEXT in letters along a band: capitals, digits, & + - . ! and hearts and stars.

    \b
      motifsearch letters "MIA & JO" --strands 14 --stash stash.toml

    Write ♥ or ★ for a heart or a star.
    """  # noqa: D301
    from motifsearch.runs.lettering import folder_of
    from motifsearch.runs.lettering import letters as lettering

    folder = out or folder_of(text)
    run = lettering(
        text,
        strands=strands,
        asked=asked,
        reads=reads,
        repeated=repeated,
        ink=ink or "",
        ground=ground or "",
        designs=designs,
        seed=seed,
        workers=workers,
        out=folder,
        overwrite=overwrite,
    )
    for line in run.said:
        tell(line)
    tell(f"Open {folder / 'gallery.html'} in a browser.")
