"""A worksheet as plain text and as Markdown, for screen readers and for reading aloud."""

from __future__ import annotations

import re
import textwrap
import unicodedata
from collections.abc import Mapping, Sequence
from itertools import groupby
from typing import TYPE_CHECKING

from motifsearch.worksheet.blocks import (
    Block,
    BoardBlock,
    Bullets,
    ChartBlock,
    CutTable,
    KnotsBlock,
    Para,
    Picture,
    Say,
    StepsBlock,
)
from motifsearch.worksheet.sections import facts, sections, title
from motifsearch.worksheet.steps import Again, Step

if TYPE_CHECKING:
    from motifsearch.worksheet.content import Part, Worksheet

WIDTH = 88
#: A space that lines are not broken at; plain text shows it as a plain one.
TIE = "\u00a0"


def apart(text: str) -> str:
    """Return text that runs right to left between isolates, so that it moves nothing around it.

    The marks are FSI and PDI of Unicode Standard Annex 9; other text is left as it is.
    """
    if any(unicodedata.bidirectional(ch) in ("R", "AL", "AN") for ch in text):
        return f"\u2068{text}\u2069"
    return text


def escaped(text: str) -> str:
    r"""Return text that Markdown shows as it is, HTML included.

    Examples:
        >>> print(escaped("<b>*red*</b>"))
        \<b\>\*red\*\</b\>
    """
    return apart(re.sub(r"([\\`*_{}\[\]<>#|~&!$^=])", r"\\\1", text))


def strip_words(
    colours: Sequence[str], first_notch: int, names: Mapping[str, str], say: Say
) -> str:
    """Return the colours in the notches, neighbours of one colour together.

    Examples:
        >>> strip_words(["a", "a", "b"], 3, {"a": "sand", "b": "teal"}, str).replace(TIE, " ")
        '3-4 sand, 5 teal'
    """
    words = []
    notch = first_notch
    for name, run in groupby(colours):
        n = len(list(run))
        where = str(notch) if n == 1 else f"{notch}-{notch + n - 1}"
        words.append(f"{where}{TIE}{say(names[name])}")
        notch += n
    return ", ".join(words)


def step_words(step: Step, part: Part, names: Mapping[str, str], say: Say) -> str:
    """Return a step as it is read out, without its number."""
    which = " in round 1" if part.rounds else ""
    colour = say(names[step.colour])
    return f"notch {step.notch}, {colour}{which}: {step.action}; {step.outcome}."


def again_words(again: Again) -> str:
    """Return what is said of steps of the round that are worked once more."""
    return f"Work {again.words} of the round once more."


def render_text(ws: Worksheet) -> str:
    """Return the worksheet as plain text."""
    head = title(ws, apart)
    lines = [*_wrap(head), "=" * min(len(head), WIDTH), *_wrap(facts(ws)), ""]
    for section in sections(ws, apart):
        body = [line for block in section.blocks for line in _text_block(ws, block)]
        if body:
            lines += [section.title, "-" * len(section.title), *body, ""]
    return "\n".join(line.replace(TIE, " ").rstrip() for line in lines).rstrip() + "\n"


def _wrap(text: str, first: str = "", rest: str | None = None) -> list[str]:
    indent = " " * len(first) if rest is None else rest
    wrapped = textwrap.wrap(
        text, WIDTH, initial_indent=first, subsequent_indent=indent,
        break_on_hyphens=False,  # backward-forward is one name
    )  # fmt: skip
    return wrapped or [first]


def _text_block(ws: Worksheet, block: Block) -> list[str]:
    if isinstance(block, Para):
        return _wrap(block.text)
    if isinstance(block, Picture):
        return _wrap(block.words)
    if isinstance(block, Bullets):
        marks = [f"{n}. " if block.ordered else "- " for n in range(1, len(block.items) + 1)]
        return [
            line
            for mark, item in zip(marks, block.items, strict=True)
            for line in _wrap(item, mark)
        ]
    if isinstance(block, BoardBlock):
        return [line for text in block.lines for line in _wrap(text, "  ", "      ")]
    if isinstance(block, CutTable):
        out = []
        for row in cut_lines(ws, block, apart):
            out += _wrap(row, "  ", "     ")
        return out
    if isinstance(block, StepsBlock):
        return _text_steps(ws, block)
    return []


def cut_lines(ws: Worksheet, block: CutTable, say: Say) -> list[str]:
    """Return the cut list, one sentence a thread (tables read badly aloud)."""
    keys = ("cut", "for notch", "fold", "knots", "margin", "ends")
    lines = []
    for label, colour, cells in block.rows:
        parts = []
        for key, cell in zip(keys, cells, strict=False):
            bare = cell == "do not fold"
            parts.append(cell if bare else f"{key} {cell}")
        lines.append(f"{label}, {say(ws.names[colour])}: {'; '.join(parts)}.")
    return lines


def _text_steps(ws: Worksheet, block: StepsBlock) -> list[str]:
    first, part = ws.setting.first_notch, block.part
    lines = _wrap(f"before: {strip_words(part.before, first, ws.names, apart)}", "     ", "       ")
    for step in part.told:
        if isinstance(step, Again):
            lines += _wrap(again_words(step), "     ")
        else:
            lines += _wrap(step_words(step, part, ws.names, apart), f"{step.number:3d}. ")
        now = strip_words(step.after, first, ws.names, apart)
        lines += _wrap(f"now: {now}", "     ", "       ")
    for n, colours in enumerate(part.rounds, 1):
        shown = strip_words(colours, first, ws.names, apart)
        lines += _wrap(f"round {n} starts with {shown}", "     ", "       ")
    return lines


def render_markdown(ws: Worksheet) -> str:
    """Return the worksheet as Markdown (CommonMark)."""
    out = [f"# {title(ws, escaped)}", facts(ws)]
    for section in sections(ws, escaped):
        body = [text for block in section.blocks for text in _markdown_block(ws, block)]
        if body:
            out += [f"## {section.title}", *body]
    return ("\n\n".join(out) + "\n").replace(TIE, " ")


def _markdown_block(ws: Worksheet, block: Block) -> list[str]:
    if isinstance(block, Para):
        return [block.text]
    if isinstance(block, Picture):
        return [block.words]
    if isinstance(block, ChartBlock | KnotsBlock):
        return []
    if isinstance(block, Bullets):
        marks = [f"{n}." if block.ordered else "-" for n in range(1, len(block.items) + 1)]
        pairs = zip(marks, block.items, strict=True)
        return ["\n".join(f"{mark} {item}" for mark, item in pairs)]
    if isinstance(block, BoardBlock):
        return ["\n".join(f"- {line}" for line in block.lines)]
    if isinstance(block, CutTable):
        return ["\n".join(f"- {line}" for line in cut_lines(ws, block, escaped))]
    first, part = ws.setting.first_notch, block.part
    steps = [f"Before: {strip_words(part.before, first, ws.names, escaped)}."]
    for again, group in groupby(part.told, key=lambda step: isinstance(step, Again)):
        lines = []
        for step in group:
            now = strip_words(step.after, first, ws.names, escaped)
            if isinstance(step, Again):
                words = again_words(step)
            else:
                words = f"{step.number}. {step_words(step, part, ws.names, escaped)}"
            lines.append(f"{words} Now: {now}.")
        steps.append(("\n\n" if again else "\n").join(lines))
    if part.rounds:
        steps.append(
            "\n".join(
                f"- Round {n} starts with {strip_words(colours, first, ws.names, escaped)}."
                for n, colours in enumerate(part.rounds, 1)
            )
        )
    return steps
