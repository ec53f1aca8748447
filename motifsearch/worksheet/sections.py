"""The sections of a worksheet, in words: the one source of its text, Markdown and PDF.

A section is a heading and blocks.  Every text in a block is ready to be read; what people wrote
themselves (titles, colour names) goes through `say`, which each form brings along to make such
text harmless.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import groupby
from typing import TYPE_CHECKING, Any, Final

from motifsearch.base.text import clean_text, count, joined
from motifsearch.base.units import fine_text
from motifsearch.describe.remarks import strengths
from motifsearch.describe.words import look, symmetry_words
from motifsearch.pattern.effort import effort
from motifsearch.worksheet.blocks import (
    Block,
    Bullets,
    ChartBlock,
    Para,
    Picture,
    Say,
    Section,
    StepsBlock,
    duration,
    length,
)
from motifsearch.worksheet.cautions import CAUTIONS
from motifsearch.worksheet.setup import cutting, need, plan, set_up
from motifsearch.worksheet.steps import KNOT_HELP, Again, mirror_image

if TYPE_CHECKING:
    from motifsearch.pattern.design import Pattern
    from motifsearch.worksheet.content import Part, Worksheet

#: mm; the braid at the end, knot not counted (common practice, no source).
BRAID_MM: Final = 70.0
#: mm; the least that hands can still knot with (common practice, no source).
SHORTEST_MM: Final = 80.0
#: The most rows of the thread chart.
CHART_ROWS: Final = 48
#: The heading of the cautions.
CARE: Final = "Take care"
#: The heading over the order of the parts.
ORDER: Final = "Order of work"


def title(ws: Worksheet, say: Say) -> str:
    """Return the heading of the sheet."""
    return say(clean_text(ws.pattern.title) or "Knotted band")


def facts(ws: Worksheet) -> str:
    """Return the line below the heading."""
    threads = len(ws.cuts.cuts)
    parts = [
        count(ws.pattern.strands, "strand") + f" from {count(threads, 'thread')}",
        f"{fine_text(ws.length_mm, ws.show)} knotted, {count(ws.rows, 'row')}",
        f"about {length(ws.width_mm, ws.show)} wide",
        *([f"for a wrist of {fine_text(ws.wrist_mm, ws.show)}"] if ws.wrist_mm else []),
        f"about {duration(ws.minutes)}",
        effort(ws.pattern).words,
    ]
    if ws.setting.mirrored:
        parts.append("left-handed: the whole sheet is mirrored")
    return " · ".join(parts)


def sections(ws: Worksheet, say: Say) -> list[Section]:
    """Return the sections of the sheet, in reading order."""
    out = [_picture(ws, say), Section(CARE, (Bullets(CAUTIONS),)), cutting(ws, say)]
    if ws.entry.plan is not None and ws.own_cuts and not ws.teaching:
        out.append(plan(ws, say))
    if not ws.teaching:
        out.append(need(ws))
    out += [set_up(ws, say), _knots(ws), _order(ws), *_steps(ws), _moving(ws)]
    if not ws.teaching:
        out.append(_too_short(ws))
    out.append(_finish(ws))
    if not ws.teaching:
        out.append(_chart(ws))
    return out


def _picture(ws: Worksheet, say: Say) -> Section:
    pattern, scores = _as_seen(ws)
    colours = joined([say(ws.names[name]) for name in ws.pattern.palette])
    words = f"A band in {colours}. {say(clean_text(look(pattern, scores)))}"
    symbol = (scores.get("symmetry") or {}).get("frieze_group")
    if symbol:
        words += f" {symmetry_words(symbol).sentence}"
    blocks: list[Block] = [Picture(words)]
    if not ws.teaching:
        strong, weak = strengths(pattern, scores, ws.entry.plan)
        points = [
            *(say(clean_text(s)) for s in strong),
            *(f"But: {say(clean_text(s))}" for s in weak),
        ]
        notes = [say(clean_text(note)) for note in ws.entry.notes]
        if points or notes:
            blocks.append(Bullets((*points, *notes)))
    return Section("The band", tuple(blocks))


def _as_seen(ws: Worksheet) -> tuple[Pattern, dict[str, Any]]:
    """Return design and scores as this sheet shows them: short names, and mirrored."""
    pattern, scores = ws.pattern, dict(ws.entry.scores)
    if ws.setting.mirrored:
        pattern = mirror_image(pattern)
        thread = scores.get("thread") or {}
        scores["thread"] = {
            key: value[::-1] if isinstance(value, list | tuple) else value
            for key, value in thread.items()
        }
    pattern = replace(
        pattern,
        colour_order=tuple(ws.names[name] for name in pattern.colour_order),
        colours={ws.names[name]: pattern.colours[name] for name in pattern.palette},
    )
    return pattern, scores


def _knots(ws: Worksheet) -> Section:
    used = {ws.setting.code(code) for row in ws.pattern.knots for code in row}
    text = (
        "A knot is two half hitches of the strand in your hand around its neighbour, which is "
        "held straight: over it, under it, up through the gap and pulled snug, then once more."
    )
    return Section(
        "The knots", (Para(text), Bullets(tuple(KNOT_HELP[code] for code in sorted(used))))
    )


def span(part: Part) -> str:
    """Return which steps a part has, such as ``steps 6 to 9 once more, then steps 18 to 20``."""
    words = [
        Again(tuple(steps)).words + (" once more" if again else "")
        for again, steps in groupby(part.steps, key=lambda step: step.again)
    ]
    return ", then ".join(words)


def _order(ws: Worksheet) -> Section:
    full, more = divmod(ws.rows, ws.repeat)
    per_row = ws.length_mm / ws.rows
    if full:
        fits = f"{count(full, 'full repeat')}" + (f" and {count(more, 'row')} more" if more else "")
        fits = f"this length holds {fits}."
    else:
        fits = "this length holds less than one repeat."
    texts = [
        f"The band has {count(ws.rows, 'row')}. It looks the same again after {ws.repeat} rows "
        f"({length(ws.repeat * per_row, ws.show)}); {fits}"
    ]
    if ws.plan.times:
        work = []
        for part in ws.parts:
            name = part.title.lower()
            times = f"{part.times} times" if part.times > 1 else "once"
            work.append(f"the {name} ({span(part)}) {times}")
        rows = ws.plan.cycle_rows
        text = f"Work {', then '.join(work)}. One round makes {rows} rows"
        if rows % ws.repeat == 0 and rows > ws.repeat:
            text += f", {rows // ws.repeat} repeats"
        texts.append(text + ".")
    else:
        texts.append(f"Work {span(ws.parts[0])} once, in order.")
    texts.append(
        f"Then stop: row {ws.rows} is complete and the lower edge straight; before that it may be "
        "slanted. A step is one strand, carried on until it is laid down. The colours in the "
        "notches after it show a slip at once."
    )
    return Section(ORDER, tuple(Para(text) for text in texts))


def _steps(ws: Worksheet) -> list[Section]:
    out = []
    for part in ws.parts:
        head = part.title if part.times == 1 else f"{part.title}: work it {part.times} times"
        blocks: list[Block] = []
        if part.times > 1:
            blocks.append(
                Para(
                    "The notches are the same in every round, but the colours move on from round "
                    "to round: steps name those of round 1, and a list after them gives those at "
                    "the start of every round." + _again(part)
                    if part.rounds
                    else "At the end of a round the colours stand as at its start."
                )
            )
        blocks.append(StepsBlock(part))
        out.append(Section(head, tuple(blocks)))
    return out


def _again(part: Part) -> str:
    if not part.comes_again:
        return ""
    n = len(part.rounds)
    return f" After round {n} they come again in the same turn: round {n + 1} starts as round 1."


def _moving(ws: Worksheet) -> Section:
    every = length(30, ws.show)
    return Section(
        "Moving the band",
        (
            Para(
                f"After every {every} or so, when the knots come close to the notches, finish the "
                "step, open the clip or take the pins out, slide the band up, and fix it again "
                "just above the last knots. Strands that came out of their notches go back as the "
                "last row of colours shows."
            ),
        ),
    )


def _too_short(ws: Worksheet) -> Section:
    least, snip = length(SHORTEST_MM, ws.show), length(10, ws.show)
    return Section(
        "When a strand gets short",
        (
            Para(
                f"If a strand has less than about {least} left and rows are still to come, tie a "
                "new thread of its colour to it with one overhand knot at the back, close to the "
                "last knot it made, and go on with the new one from the same notch. Trim both "
                f"ends to {snip} when the band is done. Note which strand it was and cut that "
                "thread longer the next time."
            ),
        ),
    )


def _chart(ws: Worksheet) -> Section:
    wanted = min(ws.rows, ws.plan.cycle_rows if ws.plan.times else ws.repeat)
    rows = min(wanted, CHART_ROWS)
    what = f"Rows 1 to {rows}"
    if rows < wanted:
        what += f" of the {wanted} of one round" if ws.plan.times else f" of {wanted}"
    elif ws.plan.times:
        what += ", as many as one round makes"
    words = (
        f"{what}, from the top down: the strands as they pass over one another, and on every "
        "knot its two wraps. Above are the notches, at the left the rows."
    )
    return Section("Thread chart", (ChartBlock(rows, words),))


def _finish(ws: Worksheet) -> Section:
    ends = min((mm for cut in ws.cuts.cuts for mm in cut.allowance_mm), default=0.0)
    braid, snip = length(BRAID_MM, ws.show), length(10, ws.show)
    return Section(
        "Finish",
        (
            Bullets(
                (
                    "Take the strands out of the notches and sort them into three bundles.",
                    f"Braid about {braid}, pull snug, and tie one overhand knot with all strands.",
                    f"Trim the ends about {snip} below the knot. To wear it, pass the braid "
                    "through the loop and tie it.",
                ),
                ordered=True,
            ),
            Para(f"For both ends together {length(ends, ws.show)} of every strand is allowed."),
        ),
    )
