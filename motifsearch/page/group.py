"""The page of a group: who makes which, one cutting list in the order of the pieces, bag labels.

One HTML file without a script: it is read, ticked off and printed.  Every word stands in
``templates/group/words.en.json``, with names in braces where a number or a name goes.
"""

from __future__ import annotations

import base64
import json
import re
from collections.abc import Mapping, Sequence
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, Any, Final

from motifsearch.base.units import cut_text, fold_words, piece_text
from motifsearch.page.gallery import clean, content_policy
from motifsearch.pattern.effort import effort
from motifsearch.worksheet.cautions import CAUTIONS

if TYPE_CHECKING:
    from motifsearch.describe.shown import Shown
    from motifsearch.thread.cutting import Cut
    from motifsearch.thread.kits import ShoppingList

#: A piece: colour, its ``#rrggbb``, length before and after in mm, and (mm, name, label) of cuts.
Piece = tuple[str, str, float, float, Sequence[tuple[float, str, str]]]
#: Rows of the picture of a band, and the size of a knot in it in pixels.
ROWS: Final = 44
CELL_PX: Final = 12
MOST_ROWS: Final = 400
#: An ink that may stand in a style; anything else stays out of it.
_INK: Final = re.compile(r"#[0-9a-fA-F]{6}")


@cache
def _template(name: str) -> str:
    text = resources.files("motifsearch.page").joinpath("templates", "group", name)
    return text.read_text(encoding="utf-8").replace("\r\n", "\n")


@cache
def group_words() -> Mapping[str, str]:
    """Return every word of the page by its key."""
    words: dict[str, str] = json.loads(_template("words.en.json"))
    return words


def _said(key: str, **values: object) -> str:
    text = group_words()[key]
    for name, value in values.items():
        text = text.replace(f"{{{name}}}", str(value))
    return text


def group_html(
    bands: Sequence[tuple[str, Shown]],
    pieces: Sequence[Piece],
    *,
    title: str,
    without: Sequence[str],
    shopping: ShoppingList | None,
    told: Mapping[str, Any],
    show: str,
    useful_mm: float,
) -> str:
    """Return the page of a group; the same arguments give the same text.

    Args:
        bands: Name and band of everyone who gets one.
        pieces: The pieces that are cut into, in the order in which they are cut.
        title: Of the group.
        without: Names of those for whom there is no band.
        shopping: What to buy for them; None for nothing.
        told: wanted, possible, bound and gap.
        show: "metric" or "imperial".
        useful_mm: What is shorter is not kept.

    Returns:
        HTML to be written as UTF-8.
    """
    from jinja2 import Environment, StrictUndefined  # late: a command's help must not wait

    title = clean(title) or "Group"
    style = _template("group.css")
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True)
    return environment.from_string(_template("group.html.j2")).render(
        w=group_words(),
        title=title,
        page_title=_said("page", title=title),
        style=style,
        policy=content_policy(style, ""),
        count=_said("count", possible=told["possible"], wanted=told["wanted"]),
        proof=_proof(told),
        without=[clean(name) for name in without],
        bands=[_band(clean(name), one, show) for name, one in bands],
        pieces=[_piece(piece, show, useful_mm) for piece in pieces],
        buy=[
            _said("buy_line", colour=clean(line.colour), skeins=line.skeins,
                  length=piece_text(line.skein_m * 1000.0, show))
            for line in (shopping.lines if shopping else ())
            if line.skeins
        ],
        cautions=CAUTIONS,
    )  # fmt: skip


def _ink(hex_: str) -> str:
    return hex_ if _INK.fullmatch(hex_) else "#000000"


def _proof(told: Mapping[str, Any]) -> str:
    if told["possible"] < told["bound"]:
        return _said("bound", bound=told["bound"], possible=told["possible"])
    return _said("proven" if told["gap"] == 0 else "most")


def _band(name: str, one: Shown, show: str) -> dict[str, Any]:
    from motifsearch.describe.words import alt_text
    from motifsearch.draw.cloth import render_band
    from motifsearch.draw.png import png_bytes

    pattern = one.pattern
    # What does not come again, such as a name, is shown whole and lying, as it is read.
    lying = pattern.rows > ROWS
    rows = min(MOST_ROWS if lying else ROWS, one.cuts.rows)
    image = render_band(pattern, rows, cell_px=CELL_PX, horizontal=lying)
    picture = png_bytes(image, keep=pattern.colours.values())
    return {
        "name": name,
        "title": clean(pattern.title).removeprefix(f"{name}: "),
        "png": f"data:image/png;base64,{base64.b64encode(picture).decode('ascii')}",
        "lying": lying,
        "alt": clean(alt_text(pattern, one.scores)),
        "length": _said("length", length=cut_text(one.cuts.length_mm, show)),
        "level": effort(pattern).level,
        "folder": f"candidates/{one.rank:03d}",
        "cuts": [
            {
                "hex": _ink(pattern.colours[cut.colour]),
                "text": _said(
                    "bag_thread",
                    label=cut.label,
                    colour=clean(cut.colour),
                    length=cut_text(cut.length_mm, show),
                    strands=" + ".join(str(s + 1) for s in cut.strands),
                )
                + _fold(cut, show),
            }
            for cut in one.cuts.cuts
        ],
    }


def _fold(cut: Cut, show: str) -> str:
    if cut.fold_mm is None:
        return ""
    words = fold_words(cut.fold_mm, cut.length_mm, str(cut.strands[0] + 1), show)
    return _said("fold", words=words)


def _piece(piece: Piece, show: str, useful_mm: float) -> dict[str, Any]:
    colour, hex_, whole, left, cuts = piece
    rest = "waste" if left < useful_mm else "rest"
    return {
        "hex": _ink(hex_),
        "take": _said("take", colour=clean(colour), length=piece_text(whole, show)),
        "cuts": [
            {"length": cut_text(mm, show),
             "for": _said("for", name=clean(name), label=label)}
            for mm, name, label in cuts
        ],
        "rest": _said(rest, length=piece_text(left, show)) if left > 0.5 else "",
    }  # fmt: skip
