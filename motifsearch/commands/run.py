"""``search``, ``gallery`` and ``example``: whole runs."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import click

from motifsearch.base.errors import InputError
from motifsearch.commands.options import OVERWRITE, PATH, say

Decorator = Callable[[Callable[..., Any]], Callable[..., Any]]

PAPER = click.option(
    "--paper",
    type=click.Choice(["A4", "Letter"]),
    default=None,
    help="Paper of the worksheets; the run's own, or A4.",
)

#: Option, key of the brief, type, help.
BRIEF_OPTIONS: Sequence[tuple[str, str, Any, str]] = (
    ("--stash", "stash", click.Path(), "The threads on hand (a stash file)."),
    ("--strands", "strands", int, "Number of strands, 4 to 24."),
    ("--wrist-mm", "wrist_mm", float, "Wrist; knotted length = wrist + ease - fastening."),
    ("--length-mm", "length_mm", float, "Knotted length, instead of the wrist."),
    ("--ease-mm", "ease_mm", float, "Added to the wrist (10)."),
    ("--fastening-mm", "fastening_mm", float, "Left to the fastening (30)."),
    ("--first-notch", "first_notch", int, "Number of the notch of strand 1 (1)."),
    ("--colours-min", "colours_min", int, "Fewest colours in a design (2)."),
    ("--colours-max", "colours_max", int, "Most colours in a design (4)."),
    ("--repeat-rows-max", "limits.repeat_rows_max", int, "Longest repeat in rows (48)."),
    ("--evenness-min", "limits.evenness_min", float, "Least evenness of thread use, 0 to 1."),
    ("--contrast-min", "limits.contrast_min", float, "Least CIEDE2000 of touching colours."),
    ("--flatness-min", "limits.flatness_min", float, "Least flatness, 0 to 1."),
    ("--lone-max", "limits.lone_max", float, "Largest share of lone knots, 0 to 1."),
    ("--seed", "search.seed", int, "Seed of the search (1)."),
    ("--generations", "search.generations", int, "At most this many generations, in all."),
    ("--seconds", "search.seconds", float, "Search at most this long; drawing comes on top."),
    ("--population", "search.population", int, "Designs per island."),
    ("--size", "gallery.size", int, "Designs in the gallery (24)."),
    ("--title", "title", str, "Title of the gallery."),
)
BRIEF_FLAGS: Sequence[tuple[str, str, str]] = (
    ("--folded/--unfolded", "folded", "Fold every thread in two (the default), or use it single."),
    ("--border/--no-border", "limits.border", "Keep the outermost strands outside as a border."),
    ("--symmetric/--any-symmetry", "limits.symmetric", "Only faces with an exact symmetry."),
    ("--on-hand/--any-amount", "limits.on_hand", "Only what the pieces on hand are enough for."),
)


def _name(key: str) -> str:
    return key.replace(".", "__")


def brief_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add an option for every common key of a brief."""
    for option, key, kind, text in reversed(BRIEF_OPTIONS):
        command = click.option(option, _name(key), type=kind, default=None, help=text)(command)
    for option, key, text in BRIEF_FLAGS:
        command = click.option(option, _name(key), default=None, help=text)(command)
    command = click.option(
        "--wish",
        "wish",
        multiple=True,
        metavar="NAME=WEIGHT",
        help="Weight of a wish, such as movement=2; may be given several times.",
    )(command)
    return click.option(
        "--colour",
        "colour",
        multiple=True,
        metavar="NAME",
        help="Use only these threads of the stash; may be given several times.",
    )(command)


def overrides_of(options: dict[str, Any]) -> dict[str, Any]:
    """Return the keys of a brief that options give."""
    keys = [key for _, key, _, _ in BRIEF_OPTIONS] + [key for _, key, _ in BRIEF_FLAGS]
    out = {key: options[_name(key)] for key in keys if options.get(_name(key)) is not None}
    if options.get("colour"):
        out["colours"] = list(options["colour"])
    for wish in options.get("wish") or ():
        name, sign, weight = wish.partition("=")
        try:
            out[f"wishes.{name.strip()}"] = float(weight) if sign else 1.0
        except ValueError:
            raise InputError("expected NAME=WEIGHT", wish, source="--wish") from None
    return out


@click.command()
@click.argument("brief", required=False, type=PATH)
@brief_options
@click.option(
    "--out",
    type=PATH,
    default=None,
    help="The run folder; results/ and a name from brief and seed when left out.",
)
@OVERWRITE
@click.option(
    "--resume",
    type=PATH,
    default=None,
    metavar="RUN",
    help="Go on with the run in this folder.",
)
@click.option(
    "--from",
    "seeds",
    multiple=True,
    type=PATH,
    metavar="PATTERN",
    help="Start from this design; may be given several times.",
)
@click.option(
    "--workers",
    type=click.IntRange(1, 64),
    default=None,
    help="Processes; the result is the same for any number (as many as cores).",
)
@PAPER
@click.option("--quiet", is_flag=True, help="No progress display.")
def search(brief: Path | None, **options: Any) -> None:
    """Search designs for BRIEF and write a ranked gallery.

    Without a brief, --stash, --strands and --wrist-mm (or --length-mm) are enough:

    \b
      motifsearch search --stash stash.toml --strands 10 --wrist-mm 165

    Any option below replaces the key of the brief.  Ctrl-C finishes the generation, writes the
    gallery of what was found so far, and says how to go on.
    """  # noqa: D301
    from motifsearch.commands.running import Display, Interrupts
    from motifsearch.runs.searching import default_folder, resolve, resume, search
    from motifsearch.runs.telling import search_text

    overrides = overrides_of(options)
    goes_on: Path | None = options["resume"]
    if goes_on is not None and (brief is not None or options["seeds"]):
        raise click.UsageError("--resume takes its brief from the run folder")
    missing = "stash" not in overrides or "strands" not in overrides
    if goes_on is None and brief is None and missing:
        raise click.UsageError(
            "give a BRIEF, or --stash, --strands and --wrist-mm (or --length-mm)"
        )
    display = Display(options["quiet"], overrides.get("search.seconds"))
    with Interrupts() as caught:
        hooks = display.hooks(caught)
        try:
            if goes_on is not None:
                run = resume(
                    goes_on, overrides=overrides, workers=options["workers"],
                    paper=options["paper"], hooks=hooks,
                )  # fmt: skip
            else:
                resolved, path = resolve(brief, overrides)
                run = search(
                    resolved,
                    origin=path,
                    out=options["out"] or default_folder(path, resolved),
                    overwrite=options["overwrite"],
                    seeds=options["seeds"],
                    workers=options["workers"],
                    paper=options["paper"] or "A4",
                    hooks=hooks,
                )
        finally:
            display.end()
    say(run.said)
    click.echo(search_text(run), nl=False)


@click.command()
@click.argument("runs", nargs=-1, required=True, type=PATH, metavar="RUN...")
@click.option(
    "--out",
    type=PATH,
    default=None,
    help="Where to write; the run folder itself when there is only one.",
)
@click.option(
    "--favourite",
    "favourites",
    multiple=True,
    metavar="RUN:NNN",
    help="A candidate that comes first; with one run its number is enough.",
)
@OVERWRITE
@PAPER
def gallery(
    runs: tuple[Path, ...],
    out: Path | None,
    favourites: tuple[str, ...],
    overwrite: bool,
    paper: str | None,
) -> None:
    """Build the page, the pictures and the worksheets of one or several RUNs again.

    Nothing is searched, numbers do not change, and damaged candidates are named and stay.
    """
    from motifsearch.runs.rebuilding import rebuild
    from motifsearch.runs.telling import rebuild_text

    run = rebuild(runs, out=out, favourites=favourites, overwrite=overwrite, paper=paper)
    click.echo(rebuild_text(run), nl=False)


@click.command()
@click.argument("folder", type=PATH)
def example(folder: Path) -> None:
    """Write the demo stash, briefs and patterns into FOLDER."""
    from motifsearch.runs.example import example as written

    for path in written(folder):
        click.echo(str(path))
