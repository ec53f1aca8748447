"""``search``, ``gallery`` and ``example``: whole runs."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import click

from motifsearch.commands.options import OVERWRITE, PATH, WORKERS, say, tell
from motifsearch.runs.briefing import OPTIONS, diagnose, diagnosis_text, overrides_of

PAPER = click.option(
    "--paper",
    type=click.Choice(["A4", "Letter"]),
    default=None,
    help="Paper of the worksheets; the run's own, or A4.",
)

#: What an option takes, by the kind of its record.
TYPES: Mapping[str, Any] = {"whole": int, "number": float, "text": str, "file": click.Path()}


def numbers(text: str) -> int | list[int]:
    """Return a whole number, or a list of them where there are commas.

    Raises:
        click.BadParameter: It is neither.
    """
    try:
        found = [int(part) for part in str(text).split(",")]
    except ValueError:
        raise click.BadParameter(
            f"{text!r} is not a valid integer, or a list of them such as 10,12,14"
        ) from None
    return found if len(found) > 1 else found[0]


def _name(key: str) -> str:
    return key.replace(".", "__")


def brief_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add an option for every key of a brief that has one, from its record."""
    for r in reversed(OPTIONS):
        more: dict[str, Any] = {"type": numbers if r.several else TYPES.get(r.kind)}
        if r.kind == "knots":
            more = {"type": click.Choice(list(r.default)), "multiple": True}
        elif r.kind == "flag":
            more = {}
        default = () if r.kind == "knots" else None
        command = click.option(r.option, _name(r.key), default=default, help=r.help, **more)(
            command
        )
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


def overrides_from(options: Mapping[str, Any]) -> dict[str, Any]:
    """Return the keys of a brief that the options of `brief_options` gave."""
    return overrides_of(
        {r.key: options[_name(r.key)] for r in OPTIONS}, options["wish"], options["colour"]
    )


def refuse_nothing(brief: Path | None, overrides: Mapping[str, Any]) -> None:
    """Refuse a call that names neither a brief nor what one has to say.

    Raises:
        click.UsageError: Neither is there.
    """
    if brief is None and ("stash" not in overrides or "strands" not in overrides):
        raise click.UsageError(
            "give a BRIEF, or --stash, --strands and --wrist-mm (or --length-mm)"
        )


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
    "--picks",
    type=PATH,
    default=None,
    metavar="FILE",
    help="Learn from these picks, or from the taste in this file (see pick and taste).",
)
@WORKERS
@click.option(
    "--library",
    type=PATH,
    default=None,
    help="Add what is found to this library (the library.sqlite beside the run, where one is).",
)
@PAPER
@click.option("--check", is_flag=True, help="Only say whether the brief can be met.")
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

    overrides = overrides_from(options)
    goes_on: Path | None = options["resume"]
    if goes_on is not None and (brief is not None or options["seeds"]):
        raise click.UsageError("--resume takes its brief from the run folder")
    if goes_on is not None and options["picks"]:
        raise click.UsageError("--resume takes its picks from the run folder (see pick)")
    if goes_on is None:
        refuse_nothing(brief, overrides)
    if options["check"]:
        reasons = diagnose(brief, overrides)
        tell(diagnosis_text(reasons))
        if any(reason.stops for reason in reasons):
            raise click.exceptions.Exit(2)
        return
    display = Display(options["quiet"], overrides.get("search.seconds"))
    with Interrupts() as caught:
        hooks = display.hooks(caught)
        try:
            if goes_on is not None:
                run = resume(
                    goes_on, overrides=overrides, workers=options["workers"],
                    paper=options["paper"], hooks=hooks, library=options["library"],
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
                    picks=options["picks"],
                    library=options["library"],
                )
        finally:
            display.end()
    say(run.said)
    tell(search_text(run), nl=False)


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
    tell(rebuild_text(run), nl=False)


@click.command()
@click.argument("folder", type=PATH)
def example(folder: Path) -> None:
    """Write the demo stash, briefs and patterns into FOLDER."""
    from motifsearch.runs.example import example as written

    for path in written(folder):
        tell(str(path))


@click.command()
@click.argument("run", type=PATH)
@click.argument("names", nargs=-1, type=click.Choice(["progress", "trade-off", "map"]))
@click.option(
    "--form",
    type=click.Choice(["png", "svg"]),
    default="png",
    show_default=True,
    help="Of the files.",
)
@OVERWRITE
def chart(run: Path, names: tuple[str, ...], form: str, overwrite: bool) -> None:
    """Draw charts of RUN into its folder: how the search went, a trade-off, a map by likeness."""
    from motifsearch.runs.charting import charts

    for path in charts(run, names, form=form, overwrite=overwrite):
        tell(str(path))
