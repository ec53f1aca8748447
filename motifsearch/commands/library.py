"""``find`` and ``library``: designs from the kinds that were ever found."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from motifsearch.commands.options import OVERWRITE, PATH, WORKERS, say, tell
from motifsearch.commands.run import PAPER, brief_options, overrides_from, refuse_nothing

LIBRARY = click.argument("library", type=PATH, metavar="LIBRARY")
LIBRARIES = click.argument("library", nargs=-1, type=PATH, metavar="[LIBRARY]...")


@click.command()
@click.argument("brief", required=False, type=PATH)
@brief_options
@click.option(
    "--library",
    "libraries",
    multiple=True,
    type=PATH,
    help="Look in this library; may be given several times (the one that comes with the program).",
)
@click.option("--both", is_flag=True, help="Look in the program's own library beside these.")
@click.option(
    "--like",
    type=PATH,
    default=None,
    metavar="PATTERN|PICTURE",
    help="First what is drawn most like this design, text or picture, whatever the colours.",
)
@click.option(
    "--out",
    type=PATH,
    default=None,
    help="The run folder; results/ and a name from the brief when left out.",
)
@OVERWRITE
@WORKERS
@PAPER
def find(brief: Path | None, **options: Any) -> None:
    """Find designs for BRIEF in a library of kinds, without a search.

    Without a brief, --stash, --strands and --wrist-mm (or --length-mm) are enough:

    \b
      motifsearch find --stash stash.toml --strands 10 --wrist-mm 165

    Every kind is coloured from the threads on hand; what keeps the limits and can be cut is ranked
    as a search ranks it.  search --resume goes on from there.
    """  # noqa: D301
    from motifsearch.runs.finding import asked, found_folder
    from motifsearch.runs.finding import find as found
    from motifsearch.runs.telling import found_text

    overrides = overrides_from(options)
    like: Path | None = options["like"]
    if brief is None and (like is None or like.suffix != ".toml" or "stash" not in overrides):
        refuse_nothing(brief, overrides)
    out: Path | None = options["out"]
    if out is None:
        resolved, path, _ = asked(brief, overrides, like)
        out = found_folder(path, resolved)
    run = found(
        brief, overrides=overrides, library=options["libraries"], both=options["both"],
        like=like, out=out, overwrite=options["overwrite"], workers=options["workers"],
        paper=options["paper"] or "A4",
    )  # fmt: skip
    say(run.said)
    tell(found_text(run), nl=False)


@click.group()
def library() -> None:
    """The kinds that were ever found, kept in a file.

    A library that stands as library.sqlite beside run folders takes in every run that ends there.
    """


@library.command("add")
@LIBRARY
@click.argument("runs", nargs=-1, type=PATH, metavar="RUN...")
@WORKERS
def library_add(library: Path, runs: tuple[Path, ...], workers: int | str | None) -> None:
    """Add what RUNs have found to LIBRARY, which is made when it is not there.

    Figures that were not looked at yet are looked at; without a RUN only that.
    """
    from motifsearch.runs.keeping import library_add as add

    with Watched() as hooks:
        added = add(library, runs, workers=workers, hooks=hooks)
    say(added.said)
    tell(f"{added.kinds:,} of {added.met:,} kinds are new in {library}")


@library.command("build")
@click.argument("briefs", nargs=-1, required=True, type=PATH, metavar="BRIEF...")
@brief_options
@click.option(
    "--library",
    required=True,
    type=PATH,
    help="The library that takes in what is found; made when it is not there.",
)
@click.option(
    "--seeds",
    type=click.IntRange(1, 100_000),
    default=1,
    show_default=True,
    metavar="N",
    help="Search every brief with so many seeds, from its own on.",
)
@WORKERS
def library_build(briefs: tuple[Path, ...], **options: Any) -> None:
    """Search every BRIEF to its end, without a gallery, and add all kinds found to a library.

    \b
      motifsearch library build briefs/*.toml --library big.sqlite --seeds 100

    Any option below replaces the key of all briefs. Ctrl-C ends it: what was added stays, and
    the same command goes on with the searches that are left.
    """  # noqa: D301
    from motifsearch.runs.building import built_text
    from motifsearch.runs.building import library_build as build

    with Watched() as hooks:
        built = build(
            options["library"], briefs, overrides=overrides_from(options),
            seeds=options["seeds"], workers=options["workers"], hooks=hooks,
        )  # fmt: skip
    say(built.said)
    tell(built_text(built, options["library"]), nl=False)


@library.command("merge")
@LIBRARY
@click.argument("others", nargs=-1, required=True, type=PATH, metavar="OTHER...")
@WORKERS
def library_merge(library: Path, others: tuple[Path, ...], workers: int | str | None) -> None:
    """Add all kinds of OTHER libraries to LIBRARY, which is made when it is not there."""
    from motifsearch.runs.keeping import library_merge as merge

    with Watched() as hooks:
        added = merge(library, others, workers=workers, hooks=hooks)
    say(added.said)
    tell(f"{added.kinds:,} of {added.met:,} kinds are new in {library}")


@library.command("stats")
@LIBRARIES
def library_stats(library: tuple[Path, ...]) -> None:
    """Print what LIBRARY holds; what comes with the program when left out."""
    from motifsearch.runs.keeping import library_text

    tell(library_text(library), nl=False)


@library.command("check")
@LIBRARIES
def library_check(library: tuple[Path, ...]) -> None:
    """Check LIBRARY: its bytes, and whether what it says follows from its grids."""
    from motifsearch.runs.keeping import library_damage

    wrong = library_damage(library)
    for line in wrong:
        tell(line)
    if wrong:
        raise click.exceptions.Exit(1)
    tell("nothing is wrong")


#: What is said at the first Ctrl-C.
STOPPING = (
    "Stopping after what is in hand. What was added to the library stays, and the same command "
    "goes on. Once more breaks it off."
)


class Watched:
    """Progress on the terminal; Ctrl-C ends between two changes, and what is done stays."""

    def __enter__(self) -> Any:
        from motifsearch.commands.running import Display, Interrupts

        self.display, self.caught = Display(False, None), Interrupts(STOPPING)
        self.caught.__enter__()
        return self.display.hooks(self.caught)

    def __exit__(self, *_: object) -> None:
        self.display.end()
        self.caught.__exit__()
