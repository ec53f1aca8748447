"""The drawings of a worksheet, as vectors: the board from above, colours in notches, thread chart.

The board: seen as it lies before the maker, the clip at the far edge, the notches at the near
one.  The strip: one square a notch.  The thread chart: as in `motifsearch.draw.thread_chart`,
strands as ribbons that pass over one another, the two wraps of every knot on its node.

All functions draw on a reportlab canvas with the origin at the lower left corner; units are
points.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from motifsearch.base.colour import hex_to_rgb
from motifsearch.pattern.design import Pattern
from motifsearch.pattern.knots import RETURNING, TIED_FROM_RIGHT
from motifsearch.pattern.notches import Setting
from motifsearch.pattern.walk import Tied, walk

Canvas = Any

INK: Final = (0.13, 0.14, 0.18)
FAINT: Final = (0.62, 0.60, 0.56)
WOOD: Final = (0.955, 0.918, 0.850)
WOOD_EDGE: Final = (0.66, 0.58, 0.46)
BOARD_HEIGHT: Final = 132.0
NOTCH_DEPTH: Final = 9.0
#: Distance of rows over distance of strands in the thread chart.
ROW_STEP: Final = 38 / 30


def rgb(colour: str) -> tuple[float, float, float]:
    """Return ``#rrggbb`` as three fractions."""
    r, g, b = hex_to_rgb(colour)
    return r / 255, g / 255, b / 255


def darker(colour: tuple[float, float, float], share: float = 0.55) -> tuple[float, float, float]:
    """Return an outline colour that stands out from paper and from the colour itself."""
    r, g, b = (v * share for v in colour)
    return (r, g, b) if max(colour) > 0.25 else (0.45, 0.45, 0.48)


def ink_on(colour: tuple[float, float, float]) -> tuple[float, float, float]:
    """Return black or white, whichever is easier to read on the colour.

    By relative luminance (WCAG 2.2): the two contrasts are equal at 0.179.
    """
    linear = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in colour]
    light = 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
    return (0.0, 0.0, 0.0) if light > 0.179 else (1.0, 1.0, 1.0)


def draw_swatch(canvas: Canvas, x: float, y: float, size: float, colour: str) -> None:
    """Draw one square of colour with an outline."""
    fill = rgb(colour)
    canvas.setFillColorRGB(*fill)
    canvas.setStrokeColorRGB(*darker(fill))
    canvas.setLineWidth(0.6)
    canvas.roundRect(x, y, size, size, size * 0.16, stroke=1, fill=1)


def draw_strip(
    canvas: Canvas,
    colours: Sequence[str],
    letters: Sequence[str],
    cell: float,
    *,
    font: str,
    marked: int | None = None,
) -> None:
    """Draw the colours in the notches, one square each, ``[S]`` of ``#rrggbb``.

    Args:
        canvas: The canvas; the strip stands at its origin, `cell` + 4 points high.
        colours: From the left.
        letters: What is written in every square, so that a black-and-white print tells them apart.
        cell: Width of a square.
        font: For the letters.
        marked: The square with a mark below it, from 0: where the strand was just laid down.
    """
    size = min(7.0, cell * 0.66)
    canvas.setLineWidth(1.0)
    canvas.setLineJoin(1)  # plain rectangles with round joins: a tenth of a rounded one's code
    for k, colour in enumerate(colours):
        if k == 0 or colour != colours[k - 1]:
            fill = rgb(colour)
            canvas.setStrokeColorRGB(*darker(fill))
        canvas.setFillColorRGB(*fill)
        canvas.rect(k * cell + 1, 4.5, cell - 2, cell - 2, stroke=1, fill=1)
    words = canvas.beginText()
    words.setFont(font, size)
    for k, (colour, letter) in enumerate(zip(colours, letters, strict=True)):
        wide = canvas.stringWidth(letter, font, size)
        if k == 0 or colour != colours[k - 1]:
            words.setFillColorRGB(*ink_on(rgb(colour)))
        words.setTextOrigin((k + 0.5) * cell - wide / 2, 3.5 + cell / 2 - size * 0.3)
        words.textOut(letter)
    canvas.drawText(words)
    if marked is not None:
        x = (marked + 0.5) * cell
        canvas.setFillColorRGB(*INK)
        path = canvas.beginPath()
        path.moveTo(x, 3.4)
        path.lineTo(x - 2.6, 0)
        path.lineTo(x + 2.6, 0)
        path.close()
        canvas.drawPath(path, stroke=0, fill=1)


def draw_notches(
    canvas: Canvas, strands: int, first_notch: int, cell: float, *, font: str, y: float = 0.0
) -> None:
    """Write the notch numbers over the squares of a strip, or the strands of a chart."""
    size = min(6.5, cell * 0.62)
    canvas.setFont(font, size)
    canvas.setFillColorRGB(*INK)
    for k in range(strands):
        canvas.drawCentredString((k + 0.5) * cell, y, str(first_notch + k))


def draw_board(
    canvas: Canvas,
    width: float,
    first_notch: int,
    colours: Sequence[str],
    labels: Sequence[str],
    *,
    font: str,
    bold: str,
) -> None:
    """Draw the board from above with the strands laid in, `BOARD_HEIGHT` high.

    Args:
        canvas: The canvas.
        width: The width to fill at most.
        first_notch: The number of the first notch that is used.
        colours: ``#rrggbb`` per strand from the left.
        labels: The thread's label per strand from the left.
        font: For notch numbers.
        bold: For labels.
    """
    strands = len(colours)
    before = min(2, first_notch - 1)
    slots = strands + before + 2
    step = min(30.0, (width - 84) / slots)
    wide = slots * step + 20
    left = (width - wide) / 2
    low, high = 50.0, BOARD_HEIGHT - 12
    canvas.setFillColorRGB(*WOOD)
    canvas.setStrokeColorRGB(*WOOD_EDGE)
    canvas.setLineWidth(1)
    canvas.roundRect(left, low, wide, high - low, 7, stroke=1, fill=1)
    first_x = left + 10 + step * (before + 0.5)
    middle = first_x + (strands - 1) * step / 2
    size = min(9.5, step * 0.6)
    for k in range(-before, strands + 2):
        x = first_x + k * step
        canvas.setFillColorRGB(1, 1, 1)
        canvas.setStrokeColorRGB(*WOOD_EDGE)
        path = canvas.beginPath()
        path.moveTo(x - min(4.0, step * 0.3), low - 0.6)
        path.lineTo(x, low + NOTCH_DEPTH)
        path.lineTo(x + min(4.0, step * 0.3), low - 0.6)
        canvas.drawPath(path, stroke=1, fill=1)
        used = 0 <= k < strands
        canvas.setFillColorRGB(*(INK if used else FAINT))
        canvas.setFont(bold if used else font, size)
        canvas.drawCentredString(x, 21, str(first_notch + k))
    thick = min(3.6, step * 0.24)
    knot_y = high - 14
    for k, colour in enumerate(colours):
        x = first_x + k * step
        to_notch = [(middle, knot_y), (x, low + 20), (x, low + NOTCH_DEPTH), (x, low + 8)]
        _ribbon(canvas, [to_notch, [(x, low + 8), (x, 33)]], colour, thick)
        canvas.setFillColorRGB(*INK)
        canvas.setFont(font, size)
        canvas.drawCentredString(x, 6, labels[k])
    canvas.setFillColorRGB(*FAINT)
    canvas.setFont(font, min(7.5, size))
    for y, word in ((21, "notch"), (6, "thread")):
        canvas.drawRightString(first_x - step * (before + 0.6), y, word)
    _clip(canvas, middle, knot_y, high)


def _clip(canvas: Canvas, x: float, y: float, top: float) -> None:
    canvas.setStrokeColorRGB(*INK)
    canvas.setLineWidth(2)
    canvas.setFillColorRGB(1, 1, 1)
    canvas.ellipse(x - 5, y, x + 5, top + 9, stroke=1, fill=0)
    canvas.setFillColorRGB(*INK)
    canvas.roundRect(x - 24, y - 3, 48, 9, 2.5, stroke=0, fill=1)


def chart_size(strands: int, rows: int, step: float) -> tuple[float, float]:
    """Return (width, height) of a thread chart in points."""
    return strands * step, rows * step * ROW_STEP + step / 2 + 10


def draw_chart(
    canvas: Canvas, pattern: Pattern, rows: int, setting: Setting, step: float, *, font: str
) -> None:
    """Draw the thread chart of the first rows, notches above and row numbers at the left.

    The same drawing as `motifsearch.draw.thread_chart` makes for the screen.

    Args:
        canvas: The canvas; the strands begin at its origin, row numbers stand left of it.
        pattern: The design.
        rows: How many rows.
        setting: Notches, and whether the chart is mirrored.
        step: Distance of strands.
        font: For the numbers.
    """
    played = walk(pattern, rows)
    row_step = step * ROW_STEP
    ceiling = rows * row_step + step / 2
    draw_notches(canvas, pattern.strands, setting.first_notch, step, font=font, y=ceiling + 3)
    size = min(6.5, step * 0.62)
    for r in range(rows):
        top = ceiling - r * row_step
        canvas.setFont(font, size)
        canvas.setFillColorRGB(*INK)
        canvas.drawRightString(-3, top - row_step / 2 - size * 0.36, str(r + 1))
        order = played.orders[r]
        tied = {p for knot in played.rows[r] for p in (knot.position, knot.position + 1)}
        for p in range(pattern.strands):
            if p not in tied:
                x = _place(p, pattern.strands, setting, step)
                way = [(x, top), (x, top - row_step)]
                _ribbon(canvas, [way], pattern.hex_of(order[p]), step * 0.27)
        for knot in played.rows[r]:
            _knot(canvas, pattern, knot, setting, step, top)


def _place(position: float, strands: int, setting: Setting, step: float) -> float:
    return ((strands - 1 - position if setting.mirrored else position) + 0.5) * step


def _knot(
    canvas: Canvas, pattern: Pattern, knot: Tied, setting: Setting, step: float, top: float
) -> None:
    places = [_place(knot.position + k, pattern.strands, setting, step) for k in (0, 1)]
    tie_in, core_in = places[::-1] if knot.from_right else places
    row_step = step * ROW_STEP
    for x, other, reach, strand in (
        (core_in, tie_in, 0.34, knot.core),
        (tie_in, core_in, 0.60, knot.tying),
    ):
        half, low = top - row_step / 2, top - row_step
        if knot.returning:
            turn = x + reach * (other - x)
            way = [
                [(x, top), (x, top - row_step * 0.3), (turn, top - row_step * 0.22), (turn, half)],
                [(turn, half), (turn, low + row_step * 0.22), (x, low + row_step * 0.3), (x, low)],
            ]
        else:
            way = [[(x, top), (x, half), (other, half), (other, low)]]
        _ribbon(canvas, way, pattern.hex_of(strand), step * 0.27)
    _wraps(
        canvas,
        sum(places) / 2,
        top - row_step / 2,
        step,
        setting.code(knot.code),
        pattern.hex_of(knot.tying),
    )


def _ribbon(
    canvas: Canvas, way: Sequence[Sequence[tuple[float, float]]], colour: str, width: float
) -> None:
    """Draw a thread with its outline: per piece two points of a line or four of a curve."""
    fill = rgb(colour)
    for line, paint, cap in ((width + 1.0, darker(fill), 0), (width, fill, 1)):
        canvas.setStrokeColorRGB(*paint)
        canvas.setLineWidth(line)
        canvas.setLineCap(cap)
        canvas.setLineJoin(1)
        path = canvas.beginPath()
        for piece in way:
            path.moveTo(*piece[0])
            if len(piece) == 4:
                path.curveTo(*piece[1], *piece[2], *piece[3])
            else:
                path.lineTo(*piece[1])
        canvas.drawPath(path, stroke=1, fill=0)


def _wraps(canvas: Canvas, x: float, y: float, step: float, code: int, colour: str) -> None:
    """Draw the two wraps of the tying strand over the node, `y` its middle."""
    way = -step / 30 if code & TIED_FROM_RIGHT else step / 30
    up = step / 30
    if code & RETURNING:
        bars = (((-7, 8), (7, 3.6)), ((7, -3.6), (-7, -8)))
    else:
        bars = (((-3, 9), (8, 0)), ((-8, 0), (3, -9)))
    for start, end in bars:
        line = [(x + px * way, y + py * up) for px, py in (start, end)]
        fill = rgb(colour)
        for width, paint in ((9.2, darker(fill)), (7.0, fill)):
            canvas.setStrokeColorRGB(*paint)
            canvas.setLineWidth(width * up)
            canvas.setLineCap(1)
            canvas.line(*line[0], *line[1])
