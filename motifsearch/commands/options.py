"""Options that several commands share: what a design is to be made with, where to write."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from pathlib import Path
from typing import Any

import click

from motifsearch.base.text import for_terminal

Command = Callable[..., Any]
PATH = click.Path(path_type=Path)

PATTERN = click.argument("pattern", type=PATH)
OUT = click.option("--out", type=PATH, default=None, help="The folder to write.")
OVERWRITE = click.option("--overwrite", is_flag=True, help="Write over what stands there.")


def _workers(ctx: click.Context, param: click.Parameter, value: str | None) -> int | str | None:
    from motifsearch.base.errors import InputError, shorten
    from motifsearch.runs.workers import read_workers

    if value is None:
        return None
    try:
        return read_workers(value)
    except InputError as bad:
        found = "" if bad.found is None else f", found {shorten(bad.found)}"
        raise click.BadParameter(f"{bad.expected}{found}", ctx, param) from None


WORKERS = click.option(
    "--workers",
    default=None,
    callback=_workers,
    metavar="N|dask:tcp://HOST:PORT",
    help="Processes (as many as cores), or the workers of a Dask cluster; the result is the same.",
)
SEED = click.option("--seed", type=click.IntRange(0, 2**32 - 1), default=1, show_default=True)

#: Option, name in `Asked`, type, metavar, help.
SETTINGS: tuple[tuple[str, str, Any, str | None, str], ...] = (
    ("--length", "length_mm", float, "MM", "Knotted length in mm."),
    ("--stash", "stash", PATH, None, "The threads on hand: pieces, thickness and your tension."),
    (
        "--pairing",
        "pairing",
        click.Choice(["total", "few_lengths", "fit"]),
        None,
        "What folding aims at: least thread, fewest lengths, the pieces on hand.",
    ),
    (
        "--cut",
        "style",
        click.Choice(["auto", "simple", "exact"]),
        None,
        "One length for all threads, each to its need, or what suits (auto).",
    ),
    ("--risk", "risk", click.FloatRange(1e-6, 0.5), None, "Chance that any strand runs out."),
    ("--start-allowance-mm", "start_mm", float, "MM", "Per strand, above the first row."),
    ("--finish-allowance-mm", "finish_mm", float, "MM", "Per strand, below the last row."),
    ("--first-notch", "first_notch", click.IntRange(1, 99), None, "Number of strand 1's notch."),
    ("--units", "show", click.Choice(["metric", "imperial"]), None, "What lengths are shown in."),
    ("--paper", "paper", click.Choice(["A4", "Letter"]), None, "Paper of worksheets."),
)


def settings(*left_out: str) -> Callable[[Command], Command]:
    """Add the options that replace the settings of a design's run; they arrive as `asked`.

    Args:
        left_out: Names in `Asked` that this command has no option for.
    """

    def add(command: Command) -> Command:
        @wraps(command)
        def called(**options: Any) -> Any:
            from motifsearch.runs.settings import Asked

            given = {
                name: options.pop(f"asked_{name}")
                for name in [row[1] for row in SETTINGS] + ["folded"]
                if f"asked_{name}" in options
            }
            return command(asked=Asked(**given), **options)

        decorated: Command = called
        for option, name, kind, metavar, text in reversed(SETTINGS):
            if name not in left_out:
                decorated = click.option(
                    option, f"asked_{name}", type=kind, default=None, metavar=metavar, help=text
                )(decorated)
        if "folded" not in left_out:
            decorated = click.option(
                "--folded/--unfolded",
                "asked_folded",
                default=None,
                help="Fold every thread in two, or use it single.",
            )(decorated)
        return decorated

    return add


def tell(text: str, *, nl: bool = True, err: bool = False) -> None:
    """Print text for a person; control characters from titles and files show as what they are.

    Args:
        text: What is said; lines may be coloured only by `motifsearch.draw.terminal`.
        nl: End the line.
        err: On the error stream.
    """
    click.echo(for_terminal(text), nl=nl, err=err)


def say(lines: tuple[str, ...] | list[str]) -> None:
    """Print lines on the error stream: where settings come from, what was kept or skipped."""
    for line in lines:
        tell(line, err=True)
