"""``change``, ``paint``, ``shelf``, and the threads of a stash: what the workshop's page does."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import click

from motifsearch.commands.options import OVERWRITE, PATH, PATTERN, settings


@click.command()
@PATTERN
@settings("paper")
@click.option(
    "--recolour",
    "exchange",
    multiple=True,
    metavar="OLD=NEW",
    help="Another thread for a colour; may be given several times.",
)
@click.option("--mirror", is_flag=True, help="Left and right change places.")
@click.option("--out", type=PATH, required=True, metavar="PATTERN", help="The pattern to write.")
@OVERWRITE
def change(
    pattern: Path, asked: Any, exchange: tuple[str, ...], mirror: bool, out: Path, overwrite: bool
) -> None:
    """Write the design in PATTERN with other threads, or mirrored, and print what to cut for it."""
    from motifsearch.runs.trying import change as changed
    from motifsearch.thread.texts import cut_list_text

    made = changed(
        pattern, recolour=_pairs(exchange, "--recolour"), mirror=mirror, asked=asked, out=out,
        overwrite=overwrite,
    )  # fmt: skip
    click.echo(cut_list_text(made.cuts, made.settings.show), nl=False)


@click.command()
@PATTERN
@click.option(
    "--cell",
    "cells",
    multiple=True,
    required=True,
    metavar="ROW,KNOT=COLOUR",
    help="A knot, counted from 1, and the colour that it shall have; may be given several times.",
)
@click.option("--stash", type=PATH, default=None, help="Threads that may be painted with.")
@click.option("--out", type=PATH, required=True, help="The folder to write the patterns into.")
@OVERWRITE
def paint(
    pattern: Path, cells: tuple[str, ...], stash: Path | None, out: Path, overwrite: bool
) -> None:
    """Find the designs nearest to PATTERN whose painted knots have the wanted colours."""
    from motifsearch.runs.painting import paint_text

    click.echo(paint_text(pattern, _pairs(cells, "--cell"), out, stash=stash, overwrite=overwrite),
               nl=False)  # fmt: skip


def _pairs(texts: tuple[str, ...], option: str) -> Mapping[str, str]:
    out = {}
    for text in texts:
        old, sign, new = text.partition("=")
        if not sign or not old.strip() or not new.strip():
            raise click.BadParameter(f"expected NAME=NAME, found {text!r}", param_hint=option)
        out[old.strip()] = new.strip()
    return out


@click.group()
def shelf() -> None:
    """The wanted bands of a workshop's folder."""


FOLDER = click.argument("folder", type=PATH)


@shelf.command("add")
@FOLDER
@PATTERN
@click.option("--run", default="", help="The run of FOLDER whose settings it has.")
def shelf_add(folder: Path, pattern: Path, run: str) -> None:
    """Hang the design in PATTERN on the shelf of FOLDER."""
    from motifsearch.pattern.files import read_pattern
    from motifsearch.runs.hanging import design_data
    from motifsearch.runs.shelf import mark
    from motifsearch.runs.workroom import open_workroom

    key, _ = mark(open_workroom(folder), {"design": design_data(read_pattern(pattern)), "run": run},
                  "wanted")  # fmt: skip
    click.echo(key)


@shelf.command("show")
@FOLDER
def shelf_show(folder: Path) -> None:
    """Print the bands on the shelf of FOLDER."""
    from motifsearch.runs.shelf import shelf_text
    from motifsearch.runs.workroom import open_workroom

    click.echo(shelf_text(open_workroom(folder)), nl=False)


@shelf.command("note")
@FOLDER
@click.argument("key")
@click.option(
    "--state",
    type=click.Choice(["wanted", "to make", "made"]),
    default=None,
    help="How far the band is.",
)
@click.option("--note", default=None, help="A note.")
def shelf_note(folder: Path, key: str, state: str | None, note: str | None) -> None:
    """Say how far the band KEY is, or note something."""
    from motifsearch.runs.shelf import note as noted
    from motifsearch.runs.workroom import open_workroom

    values = {k: v for k, v in (("state", state), ("note", note)) if v is not None}
    noted(open_workroom(folder), key, values)


@shelf.command("remove")
@FOLDER
@click.argument("key")
def shelf_remove(folder: Path, key: str) -> None:
    """Take the band KEY down from the shelf."""
    from motifsearch.runs.shelf import mark, read_shelf
    from motifsearch.runs.workroom import open_workroom

    room = open_workroom(folder)
    mark(room, read_shelf(room).band(key).ask, "")


THREAD = (
    click.option("--colour", default=None, metavar="#RRGGBB", help="Its colour as #rrggbb."),
    click.option("--tex", type=float, default=None, help="Grams per kilometre."),
    click.option("--mm", type=float, default=None, help="Thickness, measured."),
    click.option("--wraps", type=float, default=None, help="Wraps that cover a centimetre."),
    click.option(
        "--piece",
        "pieces",
        type=float,
        multiple=True,
        metavar="METRES",
        help="Length of a piece; once for each.",
    ),
    click.option("--skein-m", type=float, default=None, help="What a new skein holds."),
    click.option("--price", type=float, default=None, help="Of a new skein."),
)
STASH = click.argument("stash_path", type=PATH, metavar="STASH")


def _thread(command: Any) -> Any:
    for option in reversed(THREAD):
        command = option(command)
    return command


def _values(**given: Any) -> dict[str, Any]:
    out: dict[str, Any] = {}
    for unit in ("tex", "mm", "wraps"):
        if given[unit] is not None:
            out |= {"thickness": given[unit], "unit": unit}
    names = {"colour": "colour", "skein_m": "skein_m", "price": "price_per_skein"}
    out |= {key: given[name] for name, key in names.items() if given[name] is not None}
    if given["pieces"]:
        out["pieces_m"] = list(given["pieces"])
    return out


@click.command("add")
@STASH
@click.argument("name")
@_thread
def stash_add(stash_path: Path, name: str, **given: Any) -> None:
    """Put the thread NAME into STASH, which is made when it is not there; comments stay."""
    from motifsearch.runs.box import add_thread
    from motifsearch.runs.workroom import room_of

    add_thread(room_of(stash_path), {"name": name, **_values(**given)}, None)


@click.command("set")
@STASH
@click.argument("name")
@_thread
def stash_set(stash_path: Path, name: str, **given: Any) -> None:
    """Change the thread NAME of STASH; comments stay."""
    from motifsearch.runs.box import change_thread
    from motifsearch.runs.workroom import room_of

    change_thread(room_of(stash_path), name, _values(**given), None)


@click.command("skein")
@STASH
@click.argument("name")
def stash_skein(stash_path: Path, name: str) -> None:
    """Add a new skein of the thread NAME to STASH."""
    from motifsearch.runs.box import add_skein
    from motifsearch.runs.workroom import room_of

    add_skein(room_of(stash_path), name, None)


@click.command("remove")
@STASH
@click.argument("name")
def stash_remove(stash_path: Path, name: str) -> None:
    """Take the thread NAME out of STASH."""
    from motifsearch.runs.box import remove_thread
    from motifsearch.runs.workroom import room_of

    remove_thread(room_of(stash_path), name, None)
