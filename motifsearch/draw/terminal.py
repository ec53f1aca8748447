"""The face and the scores in a terminal.

In colour, every knot is two characters wide and half a character high: the upper half block shows
one row in its foreground and the next one in its background.  A strand pitch is one character
wide, and a character is about twice as high as wide, so the bricks keep their real proportions;
odd rows stand one character to the right of even ones, as in the fabric.  Without colour a letter
stands for each thread colour, and a legend says which.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from typing import Any, Final

from motifsearch.base.colour import hex_to_rgb
from motifsearch.base.text import clean_text
from motifsearch.pattern.design import Pattern
from motifsearch.pattern.walk import walk

_RESET: Final = "\x1b[0m"
_LETTERS: Final = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz"


def _pixels(pattern: Pattern, rows: int) -> list[list[int]]:
    """Return the strand seen at every position of every row, ``[rows][S]``.

    A knot shows its tying strand at both of its positions; a strand that waits at an edge shows
    itself.
    """
    played = walk(pattern, rows)
    out = []
    for r, row in enumerate(played.rows):
        line = list(played.orders[r])
        for knot in row:
            line[knot.position] = line[knot.position + 1] = knot.tying
        out.append(line)
    return out


def _letter_names(pattern: Pattern) -> dict[str, str]:
    """Return a letter for every colour: its own first letter where that is free."""
    taken: dict[str, str] = {}
    for name in pattern.palette:
        wish = clean_text(name)[:1].upper()
        free = [wish] if wish in _LETTERS and wish else []
        letter = next(c for c in [*free, *_LETTERS] if c not in taken.values())
        taken[name] = letter
    return taken


def _fg(colour: str) -> str:
    return "\x1b[38;2;{};{};{}m".format(*hex_to_rgb(colour))


def _bg(colour: str) -> str:
    return "\x1b[48;2;{};{};{}m".format(*hex_to_rgb(colour))


def show_face(pattern: Pattern, rows: int, *, colour: bool) -> str:
    """Return the face of the first `rows` rows as lines of text, with a legend.

    Args:
        pattern: The design.
        rows: Rows shown, at least 1.
        colour: Use 24-bit colour; otherwise letters.

    Raises:
        ValueError: `rows` is less than 1.

    Examples:
        >>> from motifsearch.pattern.design import make_pattern
        >>> ink = {"sand": "#e0d0a0", "teal": "#204060"}
        >>> p = make_pattern("", ["rr ll", "rr"], ["sand", "teal", "teal", "sand"], ink)
        >>> print(show_face(p, 4, colour=False))
          1  S S
          2   S
          3  T T
          4   T
        <BLANKLINE>
        S sand   T teal
    """
    if rows < 1:
        raise ValueError(f"expected at least one row, got {rows}")
    return _in_colour(pattern, rows) if colour else _in_letters(pattern, rows)


def _in_letters(pattern: Pattern, rows: int) -> str:
    letters = _letter_names(pattern)
    margin = max(3, len(str(rows)))
    lines = []
    for r, row in enumerate(walk(pattern, rows).rows):
        cells = " ".join(letters[pattern.colour_order[knot.tying]] for knot in row)
        lines.append(f"{r + 1:>{margin}}  {' ' * (r % 2)}{cells}")
    legend = "   ".join(f"{letters[name]} {clean_text(name, 40)}" for name in pattern.palette)
    return "\n".join([*lines, "", legend])


def _in_colour(pattern: Pattern, rows: int) -> str:
    pixels = _pixels(pattern, rows)
    margin = max(3, len(str(rows)))
    lines = []
    for r in range(0, rows, 2):
        upper = pixels[r]
        lower = pixels[r + 1] if r + 1 < rows else None
        text = f"{r + 1:>{margin}}  "
        last = ""
        for c, strand in enumerate(upper):
            code = _fg(pattern.hex_of(strand))
            code += _bg(pattern.hex_of(lower[c])) if lower else ""
            text += ("" if code == last else code) + "▀"
            last = code
        lines.append(text + _RESET)
    legend = "   ".join(
        f"{_fg(pattern.colours[name])}██{_RESET} {clean_text(name, 40)}" for name in pattern.palette
    )
    return "\n".join([*lines, "", legend])


def _shown(key: str, value: Any) -> str:
    """Return a score as people read it."""
    if value is None:
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list | tuple):
        return "  ".join(_shown("", v) for v in value)
    if isinstance(value, float):
        text = f"{value:.1f}" if key.endswith("_mm") or abs(value) >= 10 else f"{value:.3f}"
        if key.endswith(("_mm", "minutes")):
            return f"{text} {'mm' if key.endswith('_mm') else 'min'}"
        return text
    return clean_text(str(value), 60)


def _wide(text: str) -> int:
    """Return how many terminal columns a text takes."""
    return sum(
        0 if unicodedata.combining(c) else 2 if unicodedata.east_asian_width(c) in "WF" else 1
        for c in text
    )


def _lines(scores: Mapping[str, Any], depth: int) -> list[tuple[int, str, str | None]]:
    """Return (depth, name, value or None for a heading) of every score in order."""
    out: list[tuple[int, str, str | None]] = []
    for key, value in scores.items():
        name = clean_text(str(key).removesuffix("_mm").replace("_", " "), 40)
        if isinstance(value, Mapping):
            out.append((depth, name, None))
            out.extend(_lines(value, depth + 1))
        elif isinstance(value, list | tuple) and str(key).endswith("_mm"):
            numbers = "  ".join(f"{v:.0f}" for v in value)
            out.append((depth, f"{name} of each strand, mm", numbers))
        else:
            out.append((depth, name, _shown(str(key), value)))
    return out


def score_table(scores: Mapping[str, Any]) -> str:
    """Return nested scores as a table, one a line, in their own order.

    Args:
        scores: As ``motifsearch score --json`` prints them; unknown keys are shown too.

    Examples:
        >>> print(score_table({"strands": 8, "symmetry": {"mirror": 1.0, "glide": None}}))
        strands      8
        symmetry
          mirror     1.000
          glide      none
    """
    lines = _lines(scores, 0)
    width = max((2 * depth + _wide(name) for depth, name, _ in lines), default=0) + 3
    width = max(width, 13)
    out = []
    for depth, name, value in lines:
        label = "  " * depth + name
        pad = " " * (width - _wide(label))
        out.append(label if value is None else label + pad + value)
    return "\n".join(out)
