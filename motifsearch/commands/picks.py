"""``pick`` and ``taste``: what is wanted, and what is learnt from it."""

from __future__ import annotations

from pathlib import Path

import click

from motifsearch.commands.options import PATH, tell


@click.command()
@click.argument("run", type=PATH)
@click.argument("numbers", nargs=-1, type=click.IntRange(0), metavar="N...")
@click.option(
    "--not",
    "not_for_me",
    multiple=True,
    type=click.IntRange(0),
    metavar="N",
    help="This one is not for me; may be given several times.",
)
@click.option(
    "--unmark",
    multiple=True,
    type=click.IntRange(0),
    metavar="N",
    help="Take a mark back; may be given several times.",
)
def pick(
    run: Path, numbers: tuple[int, ...], not_for_me: tuple[int, ...], unmark: tuple[int, ...]
) -> None:
    """Mark designs of RUN as wanted, by their numbers; a few are enough.

    \b
      motifsearch pick results/saturday 3 7 12 --not 5
      motifsearch search --resume results/saturday

    The search learns from them; the next gallery is part best guess, part bands that it asks about,
    part new kinds.
    """  # noqa: D301
    from motifsearch.runs.picking import pick as picked
    from motifsearch.runs.telling import pick_text

    if not (numbers or not_for_me or unmark):
        raise click.UsageError("give the numbers of designs")
    tell(pick_text(run, picked(run, numbers, not_for_me, unmark)), nl=False)


@click.command()
@click.argument("file", type=PATH)
@click.option(
    "--from",
    "runs",
    multiple=True,
    type=PATH,
    metavar="RUN",
    help="Take the picks of this run into FILE; may be given several times.",
)
@click.option(
    "--strike",
    multiple=True,
    metavar="LINE",
    help="This line is wrong: it does not count any more; may be given several times.",
)
@click.option(
    "--unstrike",
    multiple=True,
    metavar="LINE",
    help="Let a line count again; may be given several times.",
)
@click.option("--name", default=None, help="Whose taste it is.")
@click.option(
    "--designs",
    type=PATH,
    default=None,
    metavar="FOLDER",
    help="Write the wanted designs there, as pattern files.",
)
def taste(
    file: Path,
    runs: tuple[Path, ...],
    strike: tuple[str, ...],
    unstrike: tuple[str, ...],
    name: str | None,
    designs: Path | None,
) -> None:
    """Say what you seem to like, from the picks in FILE (or of a run).

    \b
      motifsearch taste results/saturday
      motifsearch taste ada.toml --from results/saturday --name Ada
      motifsearch taste ada.toml --strike "few colours"
      motifsearch search BRIEF --picks ada.toml

    A taste holds for other briefs and other threads: colours count by how they look.
    """  # noqa: D301
    from motifsearch.runs.tasting import taste as said
    from motifsearch.runs.tasting import taste_text

    found = said(file, runs=runs, strike=strike, unstrike=unstrike, name=name, designs=designs)
    tell(taste_text(found), nl=False)
