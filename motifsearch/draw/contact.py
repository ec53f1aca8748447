"""The contact sheet: the ranked designs hung side by side, each with its number and a caption.

The bands hang from their loops on a rail, as they would on a stall, all to one scale, so that a
wider band is wider on the sheet too.  Captions are drawn in DejaVu Sans, which matplotlib brings
along; a character that it does not have becomes an empty square.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from motifsearch.base.text import clean_text
from motifsearch.draw.cloth import PAPER, Image, draw_cloth, lay_on_paper, pitch_of
from motifsearch.draw.ends import ends_px
from motifsearch.pattern.design import Pattern

if TYPE_CHECKING:
    from PIL import ImageDraw

CELL_PX: Final = 20
#: Pixels of a sheet, about; more than some thousand a side no viewer shows well.
MOST_SHEET_PX: Final = 24_000_000
#: Columns, rows of a band and pixels of a knot: the more designs, the smaller they are shown.
LAYOUTS: Final = ((8, 48, 20), (12, 48, 16), (16, 48, 12), (18, 32, 10), (20, 24, 8))
_GAP: Final = 18
_INK: Final = (59, 53, 44)
_QUIET: Final = (104, 95, 80)
_RAIL: Final = (198, 184, 158)
_NARROW: Final = 168
_CAPTION_LINES: Final = 3
_LINE_PX: Final = 17


@lru_cache(maxsize=1)
def _font_folder() -> Path:
    import matplotlib

    return Path(matplotlib.get_data_path()) / "fonts" / "ttf"


@lru_cache(maxsize=8)
def _font(name: str, size: int) -> Any:
    from PIL import ImageFont

    # The basic layout is there in every build of Pillow, so all draw the same picture.
    return ImageFont.truetype(
        str(_font_folder() / name), size, layout_engine=ImageFont.Layout.BASIC
    )


@lru_cache(maxsize=1)
def _drawable() -> frozenset[int]:
    """Return the code points that the caption font has."""
    from matplotlib.ft2font import FT2Font

    return frozenset(FT2Font(str(_font_folder() / "DejaVuSans.ttf")).get_charmap())


def drawable_text(text: str, width: int = 500) -> str:
    r"""Return `text` as it can be drawn from left to right in the caption font.

    Runs of characters that the font does not have become one empty square; runs that read from
    right to left are turned round, as the drawing itself knows one direction only.

    Examples:
        >>> drawable_text("Sea \U0001f30a\U0001f30a")
        'Sea □'
        >>> drawable_text("\u05d0\u05d1 x") == "\u05d1\u05d0 x"
        True
    """
    known = _drawable()
    out: list[str] = []
    run: list[str] = []
    for c in clean_text(text, width):
        if unicodedata.category(c) in ("Cf", "Mn", "Me") and ord(c) not in known:
            continue
        shown = c if ord(c) in known else "□"
        if shown == "□" and (run or out)[-1:] == ["□"]:
            continue
        if unicodedata.bidirectional(c) in ("R", "AL") or (run and c == " "):
            run.append(shown)
            continue
        out += _turned(run)
        run = []
        out.append(shown)
    return "".join(out + _turned(run))


def _turned(run: list[str]) -> list[str]:
    """Return a right-to-left run from its end, its trailing spaces still behind it."""
    words = run[: len("".join(run).rstrip(" "))]
    return words[::-1] + run[len(words) :]


def _wrapped(text: str, font: Any, width: int, lines: int) -> list[str]:
    """Return `text` broken at spaces (or inside a long word) into at most `lines` lines."""
    out: list[str] = []
    rest = drawable_text(text)
    while rest and len(out) < lines:
        n = len(rest)
        while n > 1 and font.getlength(rest[:n]) > width:
            n = max(1, min(n - 1, int(n * width / font.getlength(rest[:n])) + 1))
        if n < len(rest) and " " in rest[1 : n + 1]:
            n = rest.rindex(" ", 1, n + 1)
        out.append(rest[:n].strip())
        rest = rest[n:].strip()
    if rest and out:
        last = out[-1]
        while last and font.getlength(last + "…") > width:
            last = last[:-1]
        out[-1] = last.rstrip() + "…"
    return out


def _label(
    draw: ImageDraw.ImageDraw, number: int, caption: str, middle: int, top: int, width: int
) -> None:
    """Draw a number and, below it, its caption."""
    bold, plain = _font("DejaVuSans-Bold.ttf", 19), _font("DejaVuSans.ttf", 12)
    draw.text((middle, top), str(number), font=bold, fill=_INK, anchor="ma")
    for n, line in enumerate(_wrapped(caption, plain, width, _CAPTION_LINES)):
        at = (middle, top + 27 + n * _LINE_PX)
        draw.text(at, line, font=plain, fill=_QUIET, anchor="ma")


def _sizes(
    strands: Sequence[int], columns: int, rows: int, pitch: int, ends: bool
) -> tuple[int, list[int]]:
    """Return the width of a column and the height of the bands of every line, in pixels."""
    talls = []
    for s in strands:
        head, foot = ends_px(s, pitch) if ends else (0, 0)
        talls.append((rows + 1) * pitch + head + foot)
    heights = [max(talls[k : k + columns]) for k in range(0, len(talls), columns)]
    return max(_NARROW, (max(strands) + 2) * pitch) + _GAP, heights


def layout(strands: Sequence[int], rows: int = 48) -> tuple[int, int, int]:
    """Return (columns, rows, cell in pixels) of a contact sheet that stays small enough.

    The largest of `LAYOUTS` that takes at most `MOST_SHEET_PX` pixels, or the last one.

    Args:
        strands: Of every design.
        rows: Rows of a band, at most.

    Examples:
        >>> layout([8] * 24), layout([24] * 500)
        ((8, 48, 20), (20, 24, 8))
    """
    if len(strands) <= 8:
        return 4, rows, CELL_PX
    for columns, most, cell in LAYOUTS:
        shown = min(rows, most)
        wide, heights = _sizes(strands, columns, shown, cell // 2, True)
        label_px = 27 + _CAPTION_LINES * _LINE_PX + 16
        pixels = columns * wide * (sum(heights) + len(heights) * (label_px + _GAP))
        if pixels <= MOST_SHEET_PX:
            break
    return columns, shown, cell


def contact_sheet(
    entries: Sequence[tuple[str, Pattern]],
    *,
    columns: int = 4,
    length_rows: int = 48,
    ends: bool = True,
    numbers: Sequence[int] | None = None,
    note: str = "",
    cell_px: int = CELL_PX,
) -> Image:
    """Draw the ranked designs side by side, with their numbers.

    Args:
        entries: (caption, pattern), best first.
        columns: Bands in one line of the sheet, at least 1; fewer when there are fewer entries.
        length_rows: Rows of each band, at least 1.
        ends: Draw loop and braid too.
        numbers: The number of every design; 1, 2, ... when left out.
        note: A line below all, such as how much of every band is shown.
        cell_px: Pixels across one knot.

    Returns:
        uint8 ``[H, W, 3]``; without entries, a small empty sheet.

    Raises:
        ValueError: `columns` or `length_rows` is less than 1.
    """
    from PIL import Image as Pillow
    from PIL import ImageDraw

    if columns < 1 or length_rows < 1:
        raise ValueError(f"expected at least 1, got columns={columns}, length_rows={length_rows}")
    if not entries:
        return np.full((64, 256, 3), PAPER, np.uint8)
    pitch = pitch_of(length_rows, cell_px)
    columns = min(columns, len(entries))
    column_px, heights = _sizes([p.strands for _, p in entries], columns, length_rows, pitch, ends)
    lines = len(heights)
    label_px = 27 + _CAPTION_LINES * _LINE_PX + 16
    wide = columns * column_px + 2 * _GAP
    tall = sum(heights) + lines * (label_px + _GAP) + _GAP + (2 * _LINE_PX if note else 0)
    sheet = np.full((tall, wide, 3), PAPER, np.uint8)
    spots = []
    top = _GAP
    for k in range(lines):
        if ends:
            # The rail that the loops hang from: a soft rod behind them.
            rod = np.abs(np.linspace(-1.0, 1.0, 9))[:, None]
            tone = np.array(_RAIL) * (1.06 - 0.34 * rod**2)
            sheet[top + 9 : top + 18, _GAP : wide - _GAP] = tone.astype(np.uint8)[:, None, :]
        for c, (_, pattern) in enumerate(entries[k * columns : (k + 1) * columns]):
            # One band after the other: all together would take some megabytes each.
            band = draw_cloth(pattern, length_rows, pitch, back=False, ends=ends, light_x=-1)
            height, width = band.cover.shape
            left = _GAP + c * column_px + (column_px - width) // 2
            part = sheet[top : top + height, left : left + width]
            part[...] = lay_on_paper(band, pitch, ground=part)
            spots.append((left + width // 2, top + heights[k] + 8))
        top += heights[k] + label_px + _GAP
    picture = Pillow.fromarray(sheet)
    draw = ImageDraw.Draw(picture)
    if note:
        small = _font("DejaVuSans.ttf", 12)
        draw.text((2 * _GAP, tall - _LINE_PX), note, font=small, fill=_QUIET, anchor="ls")
    told = range(1, len(entries) + 1) if numbers is None else numbers
    for number, (caption, _), (middle, at) in zip(told, entries, spots, strict=True):
        _label(draw, number, caption, middle, at, column_px - 12)
    return np.asarray(picture)
