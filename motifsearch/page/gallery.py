"""The gallery page: one HTML file that shows, filters, compares and recolours the designs.

The file needs no server and no network: style, script and data stand in it, and its content
security policy (W3C, Content Security Policy Level 3) allows just those, by their SHA-256.  The
designs go in as JSON; the page plays the knots itself and draws the cloth on canvases, so that a
design takes a few kilobytes and can be recoloured at once.

Text from outside (titles, colour names, file names) is data all the way: it is escaped by Jinja2
where it stands in HTML, `<`, `>` and `&` are written as escapes in the JSON, and the script only
ever sets it as text, isolated in its own direction.
"""

from __future__ import annotations

import base64
import hashlib
import json
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

import numpy as np

from motifsearch.describe import words
from motifsearch.describe.remarks import CONTRAST, remarks
from motifsearch.draw import vision
from motifsearch.thread.threads import DEFAULT_SKEIN_M
from motifsearch.worksheet.cautions import CAUTIONS

if TYPE_CHECKING:
    from motifsearch.describe.shown import Shown
    from motifsearch.thread.cutting import CutList
    from motifsearch.thread.plan import CuttingPlan
    from motifsearch.thread.stash import Stash

#: The script's parts, in the order in which they are joined into one.
SCRIPTS = (
    *("walk.js", "colour.js", "cloth.js", "chart.js", "base.js", "state.js"),
    *("shop.js", "cards.js", "filters.js", "detail.js", "page.js"),
)

#: What the page can sort by: key, words, which end is the better one, how the number is shown.
SORTS: tuple[tuple[str, str, str, str], ...] = (
    ("thread.evenness", "thread evenness", "high", "percent"),
    ("thread.offcut", "wasted when all are cut alike", "low", "percent"),
    ("colour.contrast", "contrast of touching colours", "high", "number"),
    ("colour.balance", "colour balance", "high", "percent"),
    ("motif.coherence", "areas of one colour", "high", "percent"),
    ("motif.movement", "movement along the band", "high", "percent"),
    ("motif.lone", "lone knots", "low", "percent"),
    ("symmetry.mirror", "mirror, left to right", "high", "percent"),
    ("symmetry.glide", "sides take turns", "high", "percent"),
    ("symmetry.flip", "the same from both ends", "high", "percent"),
    ("symmetry.half_turn", "the same upside down", "high", "percent"),
    ("flatness", "lies flat", "high", "percent"),
    ("repeat_mm", "length of the repeat", "low", "length"),
    ("strands", "strands", "low", "number"),
    ("thread_mm", "thread needed in all", "low", "long"),
    ("handling.minutes", "knotting time", "low", "time"),
    ("handling.passes_per_repeat", "changes of strand in a repeat", "low", "number"),
    ("handling.hitches_per_pass", "hitches before the hand changes strand", "high", "decimal"),
    ("handling.returning_knots", "returning knots", "low", "number"),
    ("handling.steps_per_round", "steps in a round", "low", "number"),
    ("handling.kinds_of_knots", "kinds of knots", "low", "number"),
)

#: What the search built a grid from, in plain words; the finished face may be symmetric otherwise.
CONSTRUCTIONS: Mapping[str, str] = {
    "mirror": "one half, mirrored to the other side",
    "glide": "half a repeat, the sides taking turns",
    "half_turn": "half a repeat, turned upside down",
    "flip": "half a repeat, read back from the other end",
    "mirror_flip": "a quarter, mirrored both ways",
}


@dataclass(frozen=True)
class Chart:
    """A chart on the page.

    Attributes:
        png: The picture.
        caption: What it shows.
        alt: The same for people who do not see it, with its numbers.
    """

    png: bytes
    caption: str
    alt: str


def gallery_html(
    entries: Sequence[Shown],
    *,
    title: str,
    stash: Stash | None = None,
    skipped: Sequence[str] = (),
    wish_words: Mapping[str, str] | None = None,
    charts: Sequence[Chart] = (),
    taste: str = "",
) -> str:
    """Return the gallery as one self-contained HTML file.

    Args:
        entries: The designs, in the order in which they are first shown; may be empty.
        title: What stands at the top; any text.
        stash: The threads on hand: what can be recoloured with, and the units to show.
        skipped: What could not be shown and why, one line each.
        wish_words: Wishes in plain words; one that is not there is shown with spaces for its
            underscores.
        charts: How the gallery came about.
        taste: What was learnt from picks, in words; empty without.

    Returns:
        Text to be written as UTF-8; the same arguments give the same text.
    """
    from jinja2 import Environment, StrictUndefined  # late: the command's help must not wait

    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True)
    designs = _designs(entries, wish_words or {})
    title = clean(title)
    data = {
        "title": title,
        "units": "imperial" if stash is not None and stash.show == "imperial" else "metric",
        "stash": None if stash is None else [_thread(t) for t in stash.threads],
        "currency": "" if stash is None else clean(stash.currency),
        "skeinMm": DEFAULT_SKEIN_M * 1000,
        "contrastSays": _contrast_says(),
        "constructions": CONSTRUCTIONS,
        "sights": sights(),
        "mergeBelow": vision.MERGE_BELOW,
        "sorts": [dict(zip(("key", "words", "better", "as"), s, strict=True)) for s in SORTS],
        "frieze": {f.symbol: {"short": f.short, "long": f.sentence} for f in words.FRIEZE.values()},
        "designs": designs,
    }
    style, script = _template("page.css"), _script()
    plain = [
        {
            "title": d["title"],
            "alt": clean(words.alt_text(e.pattern, e.scores)),
            "folder": d["folder"],
        }
        for d, e in zip(designs, entries, strict=True)
    ]
    return environment.from_string(_template("gallery.html.j2")).render(
        title=title,
        style=style,
        script=script,
        policy=content_policy(style, script),
        data=json_in_html(data),
        plain=plain,
        skipped=[clean(line) for line in skipped],
        cautions=CAUTIONS,
        taste=clean(taste),
        charts=[
            {
                "source": f"data:image/png;base64,{base64.b64encode(one.png).decode('ascii')}",
                "alt": clean(one.alt),
                "caption": clean(one.caption),
            }
            for one in charts
        ],
    )


def clean(text: str) -> str:
    """Return `text` without what no HTML file can hold: lone surrogates and control characters.

    Each becomes the replacement character U+FFFD.

    Examples:
        >>> len(clean("a" + chr(0) + "b" + chr(0xD800))), ascii(clean(chr(7)))[1:-1].upper()[-4:]
        (4, 'FFFD')
    """
    return "".join(
        "\ufffd" if 0xD800 <= (n := ord(c)) <= 0xDFFF or (n < 32 and c not in "\t\n") else c
        for c in str(text)
    )


def json_in_html(data: Any) -> str:
    """Return JSON that can stand inside a script element of any HTML file.

    Examples:
        >>> text = json_in_html({"a": "</script>"})
        >>> "<" in text, json.loads(text)
        (False, {'a': '</script>'})
    """
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    for character in "<>&\u2028\u2029":
        text = text.replace(character, f"\\u{ord(character):04x}")
    return text


def content_policy(style: str, script: str) -> str:
    """Return the content security policy: nothing but this style and this script."""

    def digest(text: str) -> str:
        return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()

    return (
        f"default-src 'none'; style-src 'sha256-{digest(style)}'; "
        f"script-src 'sha256-{digest(script)}'; img-src data:; base-uri 'none'; form-action 'none'"
    )


@cache
def _template(name: str) -> str:
    text = resources.files("motifsearch.page").joinpath("templates", name)
    # A browser reads every line end as LF before it takes the digest.
    return text.read_text(encoding="utf-8").replace("\r\n", "\n")


def _script() -> str:
    parts = "\n".join(_template(name) for name in SCRIPTS)
    return f'(function () {{\n"use strict";\n{parts}\n}})();\n'


def _number(value: float | None, digits: int = 4) -> float | int | None:
    """Return a number with few digits, as JSON can hold it; None where there is none."""
    if value is None or not math.isfinite(value):
        return None
    short = round(float(value), digits)
    return int(short) if short == int(short) else short


def _designs(entries: Sequence[Shown], wish_words: Mapping[str, str]) -> list[dict[str, Any]]:
    taken: dict[str, int] = {}
    designs = []
    for entry in entries:
        pattern = entry.pattern
        text = "/".join(pattern.row_texts()) + "|" + "|".join(pattern.colour_order)
        key = hashlib.sha256(text.encode("utf-8", "replace")).hexdigest()[:8]
        taken[key] = taken.get(key, 0) + 1
        # The name of a design in the address: the same after the gallery is ranked anew.
        name = key if taken[key] == 1 else f"{key}-{taken[key]}"
        designs.append(design_data(entry, name, wish_words))
    return designs


def design_data(entry: Shown, key: str, wish_words: Mapping[str, str]) -> dict[str, Any]:
    """Return one design as data: what every page draws and says of it.

    Args:
        entry: The design.
        key: What its address calls it.
        wish_words: Wishes in plain words.
    """
    pattern, scores = entry.pattern, entry.scores
    model, known = entry.model, entry.diameters_mm
    diameters = np.array([known[n] for n in pattern.colour_order])
    pitch = model.row_pitch_mm(diameters)
    repeat = words.score(scores, "repeat_rows")
    said = remarks(pattern, scores, entry.plan)
    strong = [remark for remark in said if remark.strong]
    weak = [remark for remark in said if not remark.strong]
    share = scores.get("colour", {}).get("share") or {}
    flat = {k: _number(words.score(scores, *k.split("."))) for k, _, _, _ in SORTS if "." in k}
    flat["flatness"] = _number(words.score(scores, "flatness"))
    flat["strands"] = pattern.strands
    flat["repeat_mm"] = None if repeat is None else _number(repeat * pitch, 1)
    flat["thread_mm"] = _number(entry.cuts.total_mm, 0)
    return {
        "id": key,
        "rank": entry.rank,
        "title": clean(pattern.title) or f"Design {entry.rank}",
        "knots": " ".join("".join(map(str, row)) for row in pattern.knots),
        "order": [int(k) for k in pattern.colour_index],
        "names": [clean(name) for name in pattern.palette],
        "hexes": [pattern.colours[name] for name in pattern.palette],
        "diameters": [_number(known[n]) for n in pattern.palette],
        "share": [_number(float(share.get(name, 0.0))) for name in pattern.palette],
        "rows": entry.cuts.rows,
        "lengthMm": _number(entry.cuts.length_mm),
        "repeatRows": _number(repeat),
        "pitchMm": _number(pitch),
        "strandMm": _number(model.strand_pitch_mm(diameters)),
        "frieze": scores.get("symmetry", {}).get("frieze_group") or "",
        "construction": entry.construction,
        "scores": flat,
        "look": clean(words.look_sentences(pattern, scores)),
        "strong": [clean(remark.text) for remark in strong],
        "weak": [clean(remark.text) for remark in weak],
        "strongOf": "".join(_RESTS.get(remark.rests_on, ".") for remark in strong),
        "weakOf": "".join(_RESTS.get(remark.rests_on, ".") for remark in weak),
        "cuts": _cuts(entry.cuts),
        "folded": entry.cuts.folded,
        "plan": None if entry.plan is None else _plan(entry.plan),
        "wishes": _wishes(entry.wishes, wish_words),
        "folder": _folder(entry.folder),
        "notes": [clean(line) for line in entry.notes],
        "target": base64.b64encode(entry.target_png).decode("ascii"),
    }


def _wishes(wishes: Mapping[str, float], words_of: Mapping[str, str]) -> list[list[Any]]:
    plain = {name: words_of.get(name, clean(name).replace("_", " ")) for name in wishes}
    return [[plain[name], _number(value)] for name, value in wishes.items()]


#: What recolouring changes of the remarks: all colours, and where two become one.
_RESTS: Mapping[str, str] = {
    "colour.contrast": "c",
    "plan": "p",
    "motif.lone": "m",
    "motif.movement": "m",
    "repeats": "m",
    "colour.balance": "m",
}


def _contrast_says() -> list[list[Any]]:
    """Return what is said of any contrast: [first half step, kind, sentence].

    The page needs it for recoloured designs; the number stands as ``{n}``; kind is "strong", "weak"
    or empty.
    """
    kinds = [CONTRAST.kind(half / 2) for half in range(201)]
    first = [k for k in range(201) if k == 0 or kinds[k] != kinds[k - 1]]
    return [[k, kinds[k], clean(CONTRAST.sentence(kinds[k]))] for k in first]


def _folder(folder: str) -> str:
    """Return the folder as a relative address; a scheme such as ``javascript:`` cannot stand."""
    parts = [p for p in clean(folder).replace("\\", "/").split("/") if p not in ("", ".")]
    return "/".join(quote(part, safe="") for part in parts)


def _cuts(cuts: CutList) -> list[dict[str, Any]]:
    return [
        {
            "label": clean(cut.label),
            "colour": clean(cut.colour),
            "strands": list(cut.strands),
            "need": _all(cut.need_mm),
            "margin": _all(cut.margin_mm),
            "ends": _all(cut.allowance_mm),
            "length": _number(cut.length_mm, 1),
            "fold": _number(cut.fold_mm, 0),
        }
        for cut in cuts.cuts
    ]


def _all(values: Iterable[float]) -> list[float | int | None]:
    return [_number(v, 2) for v in values]


def _plan(plan: CuttingPlan) -> dict[str, Any]:
    return {
        "feasible": bool(plan.feasible),
        "waste": _number(plan.waste_mm, 0),
        "shortest": _number(plan.shortest_mm, 0),
        "gap": _number(plan.gap),
        "pieces": [
            {
                "thread": clean(piece.thread),
                "length": _number(piece.piece_mm, 0),
                "cuts": [[clean(label), _number(mm, 0)] for label, mm in piece.cuts],
                "left": _number(piece.left_mm, 0),
            }
            for piece in plan.pieces
        ],
        "missing": [[clean(c), clean(label), _number(mm, 0)] for c, label, mm in plan.missing],
    }


def sights() -> dict[str, dict[str, Any]]:
    """Return the ways of seeing: in words, and the matrix on linear sRGB, row by row."""
    sights: dict[str, dict[str, Any]] = {"usual": {"words": "by most eyes", "matrix": None}}
    for kind in vision.KINDS:
        matrix = [float(v) for v in vision.MATRICES[kind].ravel()]
        sights[kind] = {"words": f"by {vision.KIND_WORDS[kind]} eyes", "matrix": matrix}
    return sights


def _thread(thread: Any) -> dict[str, Any]:
    return {
        "name": clean(thread.name),
        "hex": thread.colour,
        "diameter": _number(thread.diameter_mm),
        "pieces": [_number(v, 0) for v in thread.pieces_mm],
        "skein": None if thread.skein_m is None else _number(thread.skein_m * 1000, 0),
        "price": _number(thread.price),
    }
