"""``find`` and ``library``: designs from the kinds that were ever found."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from motifsearch.commands.options import OVERWRITE, PATH, tell
from motifsearch.commands.run import PAPER, brief_options, overrides_from, refuse_nothing

LIBRARY = click.argument("library", type=PATH, metavar="LIBRARY")


@click.command()
@click.argument("brief", required=False, type=PATH)
@brief_options
@click.option(
    "--library",
    type=PATH,
    default=None,
    help="The library; the one that comes with the program when left out.",
)
@click.option("--out", type=PATH, default=None, help="The run folder.")
@OVERWRITE
@click.option("--workers", type=click.IntRange(1, 64), default=None, help="Processes that draw.")
@PAPER
def find(brief: Path | None, **options: Any) -> None:
    """Find designs for BRIEF in a library of kinds, without a search.

    Without a brief, --stash, --strands and --wrist-mm (or --length-mm) are enough.  The gallery can
    be gone on with: search --resume.
    """
    from motifsearch.runs.finding import find as found
    from motifsearch.runs.finding import found_folder
    from motifsearch.runs.searching import resolve
    from motifsearch.runs.telling import search_text

    overrides = overrides_from(options)
    refuse_nothing(brief, overrides)
    resolved, path = resolve(brief, overrides)
    out = options["out"] or found_folder(path, resolved)
    run = found(
        brief, overrides=overrides, library=options["library"], out=out,
        overwrite=options["overwrite"], workers=options["workers"],
        paper=options["paper"] or "A4",
    )  # fmt: skip
    for line in run.said:
        tell(line, err=True)
    tell(search_text(run), nl=False)


@click.group()
def library() -> None:
    """The kinds that were ever found, kept in a file."""


@library.command("add")
@LIBRARY
@click.argument("runs", nargs=-1, required=True, type=PATH, metavar="RUN...")
def library_add(library: Path, runs: tuple[Path, ...]) -> None:
    """Add what RUNs have found to LIBRARY, which is made when it is not there."""
    from motifsearch.runs.finding import library_add as add

    added = add(library, runs)
    tell(f"{added.kinds:,} of {added.met:,} kinds are new in {library}")


@library.command("merge")
@LIBRARY
@click.argument("others", nargs=-1, required=True, type=PATH, metavar="OTHER...")
def library_merge(library: Path, others: tuple[Path, ...]) -> None:
    """Add all kinds of OTHER libraries to LIBRARY."""
    from motifsearch.runs.finding import library_merge as merge

    added = merge(library, others)
    tell(f"{added.kinds:,} of {added.met:,} kinds are new in {library}")


@library.command("stats")
@click.argument("library", type=PATH, required=False)
def library_stats(library: Path | None) -> None:
    """Print what LIBRARY holds; what comes with the program when left out."""
    from motifsearch.runs.finding import library_text

    tell(library_text(library), nl=False)


@library.command("check")
@click.argument("library", type=PATH, required=False)
def library_check(library: Path | None) -> None:
    """Check LIBRARY: its bytes, and whether its figures follow from its grids."""
    from motifsearch.runs.finding import library_damage

    wrong = library_damage(library)
    for line in wrong:
        tell(line)
    if wrong:
        raise click.exceptions.Exit(1)
    tell("nothing is wrong")
