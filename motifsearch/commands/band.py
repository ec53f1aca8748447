"""``cut``, ``kits``, ``stash`` and ``calibrate``: thread, scissors and the shopping list."""

from __future__ import annotations

import math
import os
from pathlib import Path
from typing import TYPE_CHECKING

import click

from motifsearch.base.errors import InfeasibleError, InputError
from motifsearch.commands.design import (
    PATTERN,
    RUN_LENGTH,
    check_length,
    of_its_run,
    write_new,
)

if TYPE_CHECKING:
    from motifsearch.thread.cutting import CutList
    from motifsearch.thread.stash import Stash

STASH = click.option(
    "--stash",
    "stash_path",
    type=click.Path(path_type=Path),
    required=True,
    help="The threads on hand.",
)
GOAL = click.option(
    "--pairing",
    type=click.Choice(["total", "few_lengths", "fit"]),
    default="total",
    show_default=True,
    help="What folding aims at: least thread, fewest lengths, the pieces on hand.",
)
UNFOLDED = click.option("--unfolded", is_flag=True, help="Use threads single, not folded in two.")


def cuts_of(
    path: Path,
    length_mm: float,
    stash: Stash | None,
    unfolded: bool,
    goal: str,
    risk: float | None = None,
    unknown_mm: float | None = None,
) -> CutList:
    """Return the cut list of a pattern file.

    Args:
        path: The pattern.
        length_mm: Knotted length.
        stash: The threads on hand, or None.
        unfolded: Use threads single.
        goal: What folding and pairing aim at.
        risk: Chance that any strand runs out; the stated default when left out.
        unknown_mm: Thickness of colours that the stash does not have; an error when left out.
    """
    from motifsearch.pattern.files import read_pattern
    from motifsearch.thread.cutting import Allowances, cut_list
    from motifsearch.thread.stash import strand_diameters_mm

    pattern = read_pattern(path)
    if risk is not None and not math.isfinite(risk):
        raise InputError("expected a chance from 1e-06 to 0.5", risk, source="--risk")
    if goal == "fit" and stash is None:
        raise InputError("fit needs the pieces on hand: give --stash", source="--pairing")
    return cut_list(
        pattern,
        check_length(length_mm),
        model=stash.model if stash else None,
        diameters_mm=strand_diameters_mm(pattern, stash, unknown_mm) if stash else None,
        allowances=Allowances() if risk is None else Allowances(risk=risk),
        folded=not unfolded,
        goal=goal,
        stash=stash,
    )


@click.command()
@PATTERN
@RUN_LENGTH
@click.option(
    "--stash",
    "stash_path",
    type=click.Path(path_type=Path),
    default=None,
    help="The threads on hand; then the cutting plan is printed too.",
)
@UNFOLDED
@GOAL
@click.option(
    "--risk",
    type=click.FloatRange(1e-6, 0.5),
    default=None,
    help="Chance that any strand runs out (0.05).",
)
@click.option(
    "--first-notch",
    type=click.IntRange(1, 99),
    default=1,
    show_default=True,
    help="Number of the notch of strand 1, for --csv.",
)
@click.option("--csv", "as_csv", is_flag=True, help="Print the list as CSV.")
@click.option(
    "--measure",
    type=click.Path(path_type=Path),
    default=None,
    help="Write a form for `motifsearch calibrate`, to be filled in when the band is done.",
)
def cut(
    pattern: Path,
    length_mm: float | None,
    stash_path: Path | None,
    unfolded: bool,
    pairing: str,
    risk: float | None,
    first_notch: int,
    as_csv: bool,
    measure: Path | None,
) -> None:
    """Print what to cut for the design in PATTERN, where to fold, and from which piece."""
    from motifsearch.runs.folder import cut_csv
    from motifsearch.thread.plan import plan_cuts
    from motifsearch.thread.stash import read_stash
    from motifsearch.thread.texts import cut_list_text, plan_text

    length_mm, stash_path = of_its_run(pattern, length_mm, stash_path)
    stash = read_stash(stash_path) if stash_path else None
    cuts = cuts_of(pattern, length_mm, stash, unfolded, pairing, risk)
    plan = plan_cuts(cuts, stash) if stash else None
    if as_csv:
        click.echo(cut_csv(cuts, plan, first_notch), nl=False)
    else:
        show = stash.show if stash else "metric"
        click.echo(cut_list_text(cuts, show))
        if plan is not None:
            click.echo(plan_text(plan, show), nl=False)
    if measure is not None:
        from motifsearch.thread.cutting import Allowances
        from motifsearch.thread.measurement import measurement_form

        beside = Path(os.path.relpath(pattern, measure.parent)).as_posix()
        write_new(measure, measurement_form(beside, cuts, Allowances()), overwrite=False)
    if plan is not None and not plan.feasible:
        raise InfeasibleError(
            f"{stash_path}: not enough thread for {len(plan.missing)} of the cuts"
        )


@click.command()
@click.argument(
    "patterns", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="PATTERN..."
)
@STASH
@click.option(
    "--length",
    "lengths",
    multiple=True,
    type=float,
    metavar="MM",
    help="Knotted length; one for all, or one per pattern (150).",
)
@click.option(
    "--number",
    type=click.IntRange(1, 10000),
    default=None,
    help="The shopping list for so many bands of each; else how many there can be.",
)
@UNFOLDED
@GOAL
def kits(
    patterns: tuple[Path, ...],
    stash_path: Path,
    lengths: tuple[float, ...],
    number: int | None,
    unfolded: bool,
    pairing: str,
) -> None:
    """How many bands the stash yields, or what to buy for a number of them."""
    from motifsearch.thread.kits import kit_count, shopping_list
    from motifsearch.thread.model import DEFAULT_DIAMETER_MM
    from motifsearch.thread.stash import read_stash
    from motifsearch.thread.texts import kits_text, shopping_text

    if len(lengths) not in (0, 1, len(patterns)):
        raise InputError(
            f"expected one length, or {len(patterns)}: one per pattern",
            len(lengths),
            source="--length",
        )
    stash = read_stash(stash_path)
    # What is still to be bought is taken to be as thick as most thread.
    unknown = None if number is None else DEFAULT_DIAMETER_MM
    each = lengths if len(lengths) == len(patterns) else (lengths or (150.0,)) * len(patterns)
    cuts = [
        cuts_of(path, length, stash, unfolded, pairing, unknown_mm=unknown)
        for path, length in zip(patterns, each, strict=True)
    ]
    if number is None:
        click.echo(kits_text(kit_count(cuts, stash)), nl=False)
    else:
        click.echo(shopping_text(shopping_list(cuts, stash, number), stash.show), nl=False)


@click.group()
def stash() -> None:
    """The threads on hand."""


@stash.command("use")
@PATTERN
@STASH
@RUN_LENGTH
@click.option(
    "--bands",
    type=click.IntRange(1, 1000),
    default=1,
    show_default=True,
    help="How many bands are cut.",
)
@UNFOLDED
@GOAL
@click.option("--dry-run", is_flag=True, help="Say what would be cut; change nothing.")
def stash_use(
    pattern: Path,
    stash_path: Path,
    length_mm: float | None,
    bands: int,
    unfolded: bool,
    pairing: str,
    dry_run: bool,
) -> None:
    """Cut for PATTERN, and write the stash as it is afterwards.

    The file is replaced in one step; what stood there is kept beside it as a backup.
    """
    from motifsearch.base.units import total_text
    from motifsearch.thread.kits import kit_count
    from motifsearch.thread.plan import plan_cuts
    from motifsearch.thread.stash import read_stash, write_stash
    from motifsearch.thread.texts import plan_text
    from motifsearch.thread.usage import use_stash

    on_hand = read_stash(stash_path)
    length_mm, _ = of_its_run(pattern, length_mm, stash_path)
    cuts = cuts_of(pattern, length_mm, on_hand, unfolded, pairing)
    plan = plan_cuts([cuts] * bands, on_hand)
    if not plan.feasible:
        short: dict[str, float] = {}
        for colour, _, length in plan.missing:
            short[colour] = short.get(colour, 0.0) + length
        lacks = ", ".join(f"{c} {total_text(mm, on_hand.show)}" for c, mm in short.items())
        enough = ""
        if bands > 1:
            enough = f" (enough for {kit_count(cuts, on_hand).kits} of {bands} bands)"
        raise InfeasibleError(
            f"{stash_path}: not enough thread{enough}: short of {lacks}; nothing changed"
        )
    click.echo(plan_text(plan, on_hand.show), nl=False)
    after = use_stash(on_hand, plan)
    if dry_run:
        return
    backup = write_stash(after, stash_path)
    click.echo(f"{stash_path} is as after the cutting; before: {backup}")


@stash.command("show")
@click.argument("stash_path", type=click.Path(path_type=Path), metavar="STASH")
def stash_show(stash_path: Path) -> None:
    """Print the threads on hand."""
    from motifsearch.thread.stash import read_stash
    from motifsearch.thread.texts import stash_text

    click.echo(stash_text(read_stash(stash_path)), nl=False)


@click.command()
@click.argument(
    "measurements",
    nargs=-1,
    required=True,
    type=click.Path(path_type=Path),
    metavar="MEASUREMENT...",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    default=None,
    help="The calibration file to write; a stash names it.",
)
@click.option("--keep-bend", is_flag=True, help="Do not fit the bend of the core strands.")
@click.option("--overwrite", is_flag=True, help="Write over an existing file.")
def calibrate(
    measurements: tuple[Path, ...], out: Path | None, keep_bend: bool, overwrite: bool
) -> None:
    """Fit the thread model to finished bands: what was cut, and what was left over."""
    from motifsearch.thread import calibration
    from motifsearch.thread.fit import calibrate as fit

    found = fit(list(measurements), keep_bend=keep_bend)
    click.echo(calibration.calibration_text(found))
    if out is not None:
        write_new(out, calibration.format_calibration(found), overwrite)
        click.echo(f'written to {out}; name it in the stash: calibration = "{out.name}"')
