"""The board page: one self-contained HTML file that goes along with the knotting, step by step.

The page holds a design, its settings and the order of work of the whole band, and nothing else:
the passes of `motifsearch.pattern.bandplan`, each as the row and left position of its first knot
and the number of its knots, from which its way follows.  Everything shown (notches, colours, cloth,
what must be untied) is played from these on the device, and nothing leaves it.

Every word of the page stands in ``templates/board/words.en.json``, with names in braces where a
number or a colour goes; another language is another such file.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, Any, Final

from motifsearch.base.units import LONGEST_MM, SHORTEST_MM
from motifsearch.draw.knot_pictures import knot_svg
from motifsearch.page.gallery import clean, content_policy, json_in_html
from motifsearch.pattern.files import format_pattern
from motifsearch.pattern.names import KNOTS
from motifsearch.simulate.handling import SECONDS_PER_KNOT, SECONDS_PER_PICK_UP
from motifsearch.thread.cutting import Allowances
from motifsearch.thread.measurement import thickness
from motifsearch.worksheet.cautions import CAUTIONS

if TYPE_CHECKING:
    from collections.abc import Iterable

    from jinja2 import Template

    from motifsearch.pattern.passes import Pass
    from motifsearch.worksheet.content import Worksheet

#: The script's parts, in the order in which they are joined into one.
SCRIPTS: Final = (
    *("board/work.js", "cloth.js", "board/say.js", "board/kept.js", "board/weave.js"),
    *("board/stage.js", "board/step.js", "board/find.js", "board/finding.js", "board/wrong.js"),
    *("board/measure.js", "board/board.js"),
)
WORDS: Final = "board/words.en.json"


@cache
def _template(name: str) -> str:
    text = resources.files("motifsearch.page").joinpath("templates", *name.split("/"))
    return text.read_text(encoding="utf-8").replace("\r\n", "\n")


@cache
def board_words() -> Mapping[str, str]:
    """Return every word of the page by its key."""
    words: dict[str, str] = json.loads(_template(WORDS))
    return words


@cache
def _page() -> Template:
    from jinja2 import Environment, StrictUndefined  # late: a command's help must not wait

    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True)
    return environment.from_string(_template("board/board.html.j2"))


def board_html(ws: Worksheet, allowances: Allowances | None = None) -> str:
    """Return the board page of a worksheet; the same arguments give the same text.

    Args:
        ws: The worksheet: design, length, notches, hand and units.
        allowances: What was reckoned for the ends of every strand; the stated default when left
            out.

    Returns:
        HTML to be written as UTF-8.
    """
    words = board_words()
    title = clean(ws.pattern.title) or "Knotted band"
    style = _template("board/board.css")
    script = "\n".join(_template(name) for name in SCRIPTS)
    script = f'(function () {{\n"use strict";\n{script}\n}})();\n'
    return _page().render(
        w=words,
        title=title,
        page_title=words["page"].replace("{title}", title),
        style=style,
        script=script,
        policy=content_policy(style, script),
        data=json_in_html(_data(ws, allowances or Allowances())),
        pictures=[(f"knot-{c}-{k}", knot_svg(c, k)) for c in range(len(KNOTS)) for k in (0, 1)],
        cautions=CAUTIONS,
        unit=words[f"unit_{ws.show}"],
    )


def _data(ws: Worksheet, allowances: Allowances) -> dict[str, Any]:
    pattern, plan, pace = ws.pattern, ws.plan, ws.entry.minutes_per_knot
    knots = " ".join("".join(map(str, row)) for row in pattern.knots)
    names = [clean(ws.names[name]) for name in pattern.palette]
    key = f"{knots}|{'|'.join(pattern.colour_order)}|{ws.rows}"
    return {
        "id": hashlib.sha256(key.encode("utf-8", "replace")).hexdigest()[:12],
        "words": board_words(),
        "knots": knots,
        "knotNames": list(KNOTS),
        "order": [int(k) for k in pattern.colour_index],
        "names": names,
        "letters": [ws.letters[name] for name in pattern.palette],
        "hexes": [pattern.colours[name] for name in pattern.palette],
        "rows": ws.rows,
        "repeat": ws.repeat,
        "opening": _passes(plan.opening),
        "cycle": _passes(plan.cycle),
        "cycleRows": plan.cycle_rows,
        "times": plan.times,
        "ending": _passes(plan.ending),
        "firstNotch": ws.setting.first_notch,
        "mirrored": ws.setting.mirrored,
        "show": ws.show,
        "secondsPerKnot": SECONDS_PER_KNOT if pace is None else round(pace * 60, 3),
        "secondsPerPickUp": SECONDS_PER_PICK_UP if pace is None else 0,
        "startMm": round(allowances.start_mm, 2),
        "shortestMm": SHORTEST_MM,
        "longestMm": LONGEST_MM,
        "thickness": thickness(ws.entry.diameters_mm),
        "cuts": [
            {
                "label": clean(cut.label),
                "strands": [s + 1 for s in cut.strands],
                "length": round(cut.length_mm, 1),
                "fold": None if cut.fold_mm is None else round(cut.fold_mm, 1),
                "need": [round(mm, 1) for mm in cut.need_mm],
            }
            for cut in ws.cuts.cuts
        ],
        "pattern": clean(format_pattern(pattern)),
    }


def _passes(passes: Iterable[Pass]) -> list[int]:
    """Return passes as row, left position and number of knots, one after the other."""
    return [n for one in passes for n in (*one.knots[0][:2], len(one.knots))]
