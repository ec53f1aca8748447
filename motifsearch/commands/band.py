"""``cut``, ``kits``, ``stash`` and ``calibrate``: thread, scissors and the shopping list."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from motifsearch.commands.options import OVERWRITE, PATH, PATTERN, say, settings, tell

if TYPE_CHECKING:
    from motifsearch.runs.settings import Asked


@click.command()
@PATTERN
@settings("paper")
@click.option("--csv", "as_csv", is_flag=True, help="Print the list as CSV.")
@click.option(
    "--measure",
    type=PATH,
    default=None,
    help="Write a form for `motifsearch calibrate`, to be filled in when the band is done.",
)
def cut(pattern: Path, asked: Asked, as_csv: bool, measure: Path | None) -> None:
    """Print what to cut for the design in PATTERN, where to fold, and from which piece."""
    from motifsearch.runs.cutting import cut_text, measure_form

    text, said, lacking = cut_text(pattern, asked, as_csv=as_csv)
    say(said)
    tell(text, nl=False)
    if measure is not None:
        measure_form(pattern, measure, asked)
    if lacking is not None:
        raise lacking


@click.command()
@click.argument("patterns", nargs=-1, required=True, type=PATH, metavar="PATTERN...")
@click.option(
    "--length",
    "lengths",
    multiple=True,
    type=float,
    metavar="MM",
    help="Knotted length; one for all, or one per pattern.",
)
@settings("length_mm", "first_notch")
@click.option(
    "--number",
    type=click.IntRange(1, 10000),
    default=None,
    help="The shopping list for so many bands of each; else how many there can be.",
)
@click.option(
    "--extra",
    multiple=True,
    metavar="NAME=COST",
    help="What else goes into a kit, such as bag=0.20; may be given several times.",
)
@click.option(
    "--out",
    type=PATH,
    default=None,
    help="Write cutting list, packing list, labels, cost and worksheets into this folder.",
)
@OVERWRITE
def kits(
    patterns: tuple[Path, ...],
    lengths: tuple[float, ...],
    asked: Asked,
    number: int | None,
    extra: tuple[str, ...],
    out: Path | None,
    overwrite: bool,
) -> None:
    """How many bands the stash yields, or what to buy for a number of them, and what one costs.

    A kit is one band of every PATTERN.  What it costs is reckoned from the prices in the stash
    (price_per_skein), with its share of what is wasted.
    """
    from motifsearch.runs.cutting import kits_text

    each = lengths if len(lengths) != 1 else lengths * len(patterns)
    wants = [replace(asked, length_mm=one) for one in each] if each else asked
    text, said = kits_text(patterns, wants, number, extra, out, overwrite=overwrite)
    say(said)
    tell(text, nl=False)


STASH = click.argument("stash_path", type=PATH, metavar="STASH")


@click.group()
def stash() -> None:
    """The threads on hand."""


@stash.command("use")
@PATTERN
@click.option("--stash", "stash_path", type=PATH, required=True, help="The stash that is cut.")
@settings("stash", "paper", "first_notch", "show")
@click.option(
    "--bands",
    type=click.IntRange(1, 1000),
    default=1,
    show_default=True,
    help="How many bands are cut.",
)
@click.option("--dry-run", is_flag=True, help="Say what would be cut; change nothing.")
def stash_use(pattern: Path, stash_path: Path, asked: Asked, bands: int, dry_run: bool) -> None:
    """Cut for PATTERN: book it, and write the stash as it is afterwards.

    PATTERN may be the folder that `motifsearch group` wrote: then all its bands are cut as they
    were planned, in one booking.  The book stands beside the stash; `motifsearch stash undo`
    takes a booking back.
    """
    from motifsearch.runs.booking import use
    from motifsearch.thread.texts import plan_text

    used = use(pattern, stash_path, bands=bands, asked=asked, dry_run=dry_run)
    say(used.said)
    tell(plan_text(used.plan, used.after.show), nl=False)
    if used.booking is not None:
        number = used.booking.number
        tell(
            f"{stash_path} is as after the cutting; this is booking {number} "
            f"(to take it back: motifsearch stash undo {stash_path} {number})"
        )


@stash.command("log")
@STASH
def stash_log(stash_path: Path) -> None:
    """Print what was cut from STASH, for which band and when."""
    from motifsearch.runs.booking import bookings_text

    tell(bookings_text(stash_path), nl=False)


@stash.command("undo")
@STASH
@click.argument("number", type=click.IntRange(1), required=False)
def stash_undo(stash_path: Path, number: int | None) -> None:
    """Take back a booking: the NUMBER of `motifsearch stash log`, or the last one.

    Its threads are in STASH again, as if they had not been cut.
    """
    from motifsearch.runs.booking import undo

    taken_back = undo(stash_path, number)
    tell(f"booking {taken_back.number} is undone: {taken_back.title}")


@stash.command("show")
@STASH
def stash_show(stash_path: Path) -> None:
    """Print the threads on hand."""
    from motifsearch.thread.stash import read_stash
    from motifsearch.thread.texts import stash_text

    tell(stash_text(read_stash(stash_path)), nl=False)


@click.command()
@click.argument("measurements", nargs=-1, required=True, type=PATH, metavar="MEASUREMENT...")
@click.option("--out", type=PATH, default=None, help="The calibration file; a stash names it.")
@click.option("--keep-bend", is_flag=True, help="Do not fit the bend of the core strands.")
@OVERWRITE
def calibrate(
    measurements: tuple[Path, ...], out: Path | None, keep_bend: bool, overwrite: bool
) -> None:
    """Fit the thread model to finished bands: what was cut, and what was left over."""
    from motifsearch.runs.cutting import calibrated

    tell(calibrated(measurements, out, keep_bend=keep_bend, overwrite=overwrite))
