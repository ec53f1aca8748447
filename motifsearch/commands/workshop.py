"""``workshop``: the page on which the whole job is done."""

from __future__ import annotations

from pathlib import Path

import click

from motifsearch.commands.options import PATH


@click.command()
@click.argument("folder", type=PATH, default=Path("workshop"), required=False)
@click.option(
    "--port", type=click.IntRange(0, 65535), default=0, help="Any free one when left out."
)
@click.option("--no-browser", is_flag=True, help="Do not open the browser.")
@click.option("--lan", is_flag=True, help="Serve the home network too, for a phone at the board.")
def workshop(folder: Path, port: int, no_browser: bool, lan: bool) -> None:
    """Open the workshop of FOLDER (workshop/ when left out): a page for the whole job.

    It is served on this machine only, or with --lan in the home network too.  FOLDER holds plain
    files, the same as the commands read and write: stash.toml, briefs, run folders.  Ctrl-C ends
    it; a search keeps its checkpoint.
    """
    from motifsearch.workshop.serve import workshop as serve

    serve(folder, port=port, browser=not no_browser, lan=lan, say=lambda line: click.echo(line))
