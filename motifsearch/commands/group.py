"""``group``: bands for several people from one box."""

from __future__ import annotations

from pathlib import Path

import click

from motifsearch.commands.options import OVERWRITE, PATH, WORKERS, say, tell
from motifsearch.commands.run import PAPER


@click.command()
@click.argument("file", type=PATH, metavar="GROUP")
@click.option(
    "--out",
    type=PATH,
    default=None,
    help="The run folder; results/ and the file's name when left out.",
)
@OVERWRITE
@click.option("--seed", type=click.IntRange(0, 2**32 - 1), default=None, help="Of the search.")
@WORKERS
@PAPER
@click.option("--quiet", is_flag=True, help="No progress display.")
def group(
    file: Path,
    out: Path | None,
    overwrite: bool,
    seed: int | None,
    workers: int | str | None,
    paper: str | None,
    quiet: bool,
) -> None:
    """Plan the bands of the people in GROUP from one box of threads.

    As many bands as the box gives, and of these the best; a page for the class, a worksheet with
    the name on it for everyone, and one cutting list in the order of the pieces.
    """
    from motifsearch.commands.running import Display, Interrupts
    from motifsearch.runs.grouping import group as planned
    from motifsearch.runs.grouping import group_text

    display = Display(quiet, None)
    with Interrupts() as caught:
        try:
            run = planned(
                file,
                overrides={} if seed is None else {"search.seed": seed},
                out=out or Path("results") / (file.stem or "group"),
                overwrite=overwrite,
                workers=workers,
                paper=paper or "A4",
                hooks=display.hooks(caught),
            )
        finally:
            display.end()
    say(run.said)
    tell(group_text(run), nl=False)
