"""The thread chart: every strand as one ribbon that runs down the page.

This is the braid diagram of mathematics (Artin 1947): S lines run monotonically downwards and
change places two at a time, one passing over the other.  At a crossing knot the tying strand
passes over the core strand; at a returning knot it reaches over it and comes back.  On the node
lie the knot's two wraps as they lie on the finished band: both slanted the way the tying strand
goes, or one each way.

The chart is SVG 1.1 with nothing outside itself, and the same pattern gives the same bytes.
"""

from __future__ import annotations

import hashlib
from typing import Final
from xml.sax.saxutils import escape

from motifsearch.base.colour import hex_to_rgb
from motifsearch.base.text import clean_text
from motifsearch.pattern.design import Pattern
from motifsearch.pattern.knots import KNOT_WORDS
from motifsearch.pattern.walk import Tied, Walk, walk

_STEP: Final = 30.0  # px from strand to strand
_ROW: Final = 38.0  # px from row to row
_RIBBON: Final = 8.0  # px, width of a ribbon
_TOP: Final = 62.0  # px above the first row: the board's edge
_LEFT: Final = 58.0  # px before the first strand: row numbers
_RIGHT: Final = 112.0  # px after the last strand: how often the rows come again
_PAPER: Final = "#f7f3ea"
_INK: Final = "#3b352c"
_FAINT: Final = "#c9c0ae"
_BOARD: Final = "#d9cfba"
_FONT: Final = "font-family=\"'DejaVu Sans', Verdana, sans-serif\""


def _n(value: float) -> str:
    """Return a number with at most one decimal."""
    text = f"{value:.1f}"
    return text[:-2] if text.endswith(".0") else text


def _edge(colour: str) -> str:
    """Return the outline of a ribbon: darker than a light thread, lighter than a dark one."""
    rgb = hex_to_rgb(colour)
    luma = (0.2126 * rgb[0] + 0.7152 * rgb[1] + 0.0722 * rgb[2]) / 255.0
    mixed = [c * 0.52 for c in rgb] if luma > 0.22 else [c + (255 - c) * 0.42 for c in rgb]
    return "#" + "".join(f"{round(c):02x}" for c in mixed)


def _x(position: float) -> float:
    return _LEFT + position * _STEP


def _step_path(knot: Tied | None, strand: int, position: int, y: float) -> str:
    """Return the curve of one strand through one row, continuing a path at the row's top."""
    x0, low, half = _x(position), y + _ROW, _ROW / 2
    if knot is None:
        return f"V{_n(low)}"
    if not knot.returning:
        x1 = _x(knot.position + 1 if position == knot.position else knot.position)
        return f"C{_n(x0)} {_n(y + half)} {_n(x1)} {_n(y + half)} {_n(x1)} {_n(low)}"
    side = 1 if position == knot.position else -1
    reach = _STEP * (0.60 if strand == knot.tying else 0.34) * side
    return (
        f"C{_n(x0)} {_n(y + half * 0.6)} {_n(x0 + reach)} {_n(y + half * 0.45)} "
        f"{_n(x0 + reach)} {_n(y + half)}"
        f"S{_n(x0)} {_n(y + half * 1.4)} {_n(x0)} {_n(low)}"
    )


def _strand_paths(pattern: Pattern, played: Walk) -> list[str]:
    """Return the whole way of every strand."""
    rows = len(played.rows)
    paths = [f"M{_n(_x(s))} {_n(_TOP - 14)}V{_n(_TOP)}" for s in range(pattern.strands)]
    for r, row in enumerate(played.rows):
        at = {s: k for k in row for s in (k.tying, k.core)}
        for position, strand in enumerate(played.orders[r]):
            paths[strand] += _step_path(at.get(strand), strand, position, _TOP + r * _ROW)
    return [f"{path}V{_n(_TOP + rows * _ROW + 16)}" for path in paths]


def _knot_marks(knot: Tied, colour: str) -> str:
    """Return the tying strand once more over the core, and the two wraps on the node."""
    y = _TOP + knot.row * _ROW
    position = knot.position + 1 if knot.from_right else knot.position
    over = f"M{_n(_x(position))} {_n(y)}" + _step_path(knot, knot.tying, position, y)
    cx, cy = _x(knot.position + 0.5), y + _ROW / 2
    way = -1.0 if knot.from_right else 1.0
    if knot.returning:
        wraps = (
            f"M{_n(cx - 7 * way)} {_n(cy - 8)}L{_n(cx + 7 * way)} {_n(cy - 3.6)}"
            f"M{_n(cx + 7 * way)} {_n(cy + 3.6)}L{_n(cx - 7 * way)} {_n(cy + 8)}"
        )
    else:
        wraps = (
            f"M{_n(cx - 3 * way)} {_n(cy - 9)}L{_n(cx + 8 * way)} {_n(cy)}"
            f"M{_n(cx - 8 * way)} {_n(cy)}L{_n(cx + 3 * way)} {_n(cy + 9)}"
        )
    edge = _edge(colour)
    halo = ""
    if not knot.returning:
        halo = f'<path d="{over}" stroke="{_PAPER}" stroke-width="{_n(_RIBBON + 5)}"/>'
    return (
        f'<g stroke-linecap="butt">{halo}'
        f'<path d="{over}" stroke="{edge}" stroke-width="{_n(_RIBBON + 1.6)}"/>'
        f'<path d="{over}" stroke="{colour}" stroke-width="{_n(_RIBBON)}"/></g>'
        f'<path d="{wraps}" stroke="{edge}" stroke-width="9.2"/>'
        f'<path d="{wraps}" stroke="{colour}" stroke-width="7"/>\n'
    )


def _text(x: float, y: float, words: str, size: int, *, anchor: str = "start") -> str:
    return (
        f'<text x="{_n(x)}" y="{_n(y)}" font-size="{size}" text-anchor="{anchor}" '
        f'fill="{_INK}">{escape(words)}</text>\n'
    )


def _description(pattern: Pattern, played: Walk, first_notch: int) -> str:
    """Return the chart in words."""
    start = ", ".join(
        f"notch {first_notch + s} {clean_text(name, 40)}"
        for s, name in enumerate(pattern.colour_order)
    )
    rows = " ".join(
        f"Row {r + 1}: " + ", ".join(KNOT_WORDS[k.code] for k in row) + "."
        for r, row in enumerate(played.rows)
    )
    return (
        f"Thread chart of {pattern.strands} strands and {len(played.rows)} rows, from the top "
        f"down. At the start: {start}. {rows}"
    )


def _again(pattern: Pattern, rows: int) -> str:
    """Return the bracket beside the rows of one period."""
    if pattern.rows > rows:
        return ""
    x = _x(pattern.strands - 1) + 26
    top, low = _TOP + 5, _TOP + pattern.rows * _ROW - 5
    middle = (top + low) / 2
    bracket = f"M{_n(x - 6)} {_n(top)}H{_n(x)}V{_n(low)}H{_n(x - 6)}"
    return (
        f'<path d="{bracket}" fill="none" stroke="{_INK}" stroke-width="1.4"/>\n'
        + _text(x + 8, middle - 3, f"rows 1–{pattern.rows},", 12)
        + _text(x + 8, middle + 13, "then again", 12)
    )


def thread_chart_svg(pattern: Pattern, rows: int, *, first_notch: int = 1) -> str:
    """Return the thread chart of the first `rows` rows as a self-contained SVG document.

    Args:
        pattern: The design.
        rows: Rows drawn, at least 1.
        first_notch: The number of the notch that strand 1 sits in.

    Raises:
        ValueError: `rows` is less than 1.

    Examples:
        >>> from motifsearch.pattern.design import make_pattern
        >>> p = make_pattern("<b>", ["rr rl", "ll"], "aabb", {"a": "#204060", "b": "#e0d0a0"})
        >>> svg = thread_chart_svg(p, 2, first_notch=3)
        >>> svg.startswith("<svg"), "&lt;b&gt;" in svg, "notch 3 a" in svg
        (True, True, True)
    """
    if rows < 1:
        raise ValueError(f"expected at least one row, got {rows}")
    played = walk(pattern, rows)
    strands = pattern.strands
    legend_y = _TOP + rows * _ROW + 50
    per_line = max(1, int((_x(strands - 1) + _RIGHT - 24) // 130))
    lines = -(-len(pattern.palette) // per_line)
    wide = _x(strands - 1) + _RIGHT
    tall = legend_y + lines * 22
    body = [f'<rect width="{_n(wide)}" height="{_n(tall)}" rx="10" fill="{_PAPER}"/>\n']
    for r in range(rows):
        y = _TOP + (r + 0.5) * _ROW
        line = f"M{_n(_LEFT - 22)} {_n(y)}H{_n(_x(strands - 1) + 14)}"
        body.append(f'<path d="{line}" stroke="{_FAINT}" stroke-dasharray="1 5"/>\n')
        body.append(_text(_LEFT - 28, y + 4, str(r + 1), 12, anchor="end"))
    board = (_LEFT - 18, 16, (strands - 1) * _STEP + 36, 30)
    body.append(
        '<rect x="{}" y="{}" width="{}" height="{}" rx="7" '.format(*map(_n, board))
        + f'fill="{_BOARD}"/>\n'
    )
    for s in range(strands):
        body.append(_text(_x(s), 36, str(first_notch + s), 12, anchor="middle"))
    body.append('<g fill="none" stroke-linecap="round" stroke-linejoin="round">\n')
    for strand, path in enumerate(_strand_paths(pattern, played)):
        colour = pattern.hex_of(strand)
        body.append(
            f'<path d="{path}" stroke="{_edge(colour)}" stroke-width="{_n(_RIBBON + 1.6)}"/>'
            f'<path d="{path}" stroke="{colour}" stroke-width="{_n(_RIBBON)}"/>\n'
        )
    body += [_knot_marks(k, pattern.hex_of(k.tying)) for row in played.rows for k in row]
    body.append("</g>\n")
    body.append(_again(pattern, rows))
    for n, name in enumerate(pattern.palette):
        x, y = 24 + n % per_line * 130.0, legend_y + n // per_line * 22
        colour = pattern.colours[name]
        body.append(
            f'<rect x="{_n(x)}" y="{_n(y - 10)}" width="20" height="11" rx="5.5" '
            f'fill="{colour}" stroke="{_edge(colour)}"/>\n'
        )
        body.append(_text(x + 27, y, clean_text(name, 14), 12))
    title = clean_text(pattern.title) or "Thread chart"
    inner = "".join(body)
    about = _description(pattern, played, first_notch)
    mark = hashlib.sha256((title + about + inner).encode()).hexdigest()[:10]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_n(wide)} {_n(tall)}" '
        f'width="{_n(wide)}" height="{_n(tall)}" role="img" '
        f'aria-labelledby="t-{mark} d-{mark}" {_FONT}>\n'
        f'<title id="t-{mark}">{escape(title)}</title>\n'
        f'<desc id="d-{mark}">{escape(about)}</desc>\n'
        f"{inner}</svg>\n"
    )
