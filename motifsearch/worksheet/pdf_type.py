"""Type for the worksheet's PDF: fonts, and text made ready to be set.

DejaVu Sans comes out of matplotlib's own fonts.  A character that it lacks becomes a visible box,
and text that runs right to left is put in the order from left to right, in which ReportLab sets.
"""

from __future__ import annotations

import importlib.util
import unicodedata
from functools import lru_cache
from pathlib import Path
from typing import Final

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from motifsearch.base.text import clean_text

FONT: Final = "DejaVuSans"
BOLD: Final = "DejaVuSans-Bold"
#: Stands for a character that the fonts lack; also the box to tick.
BOX: Final = "\u25a1"


@lru_cache(maxsize=1)
def load_fonts() -> frozenset[int]:
    """Register the two fonts; return the characters that both have."""
    spec = importlib.util.find_spec("matplotlib")
    assert spec is not None
    assert spec.origin is not None
    folder = Path(spec.origin).parent / "mpl-data" / "fonts" / "ttf"
    both: set[int] | None = None
    for name in (FONT, BOLD):
        font = TTFont(name, str(folder / f"{name}.ttf"))
        pdfmetrics.registerFont(font)
        have = set(font.face.charToGlyph)
        both = have if both is None else both & have
    pdfmetrics.registerFontFamily(FONT, normal=FONT, bold=BOLD, italic=FONT, boldItalic=BOLD)
    assert both is not None
    return frozenset(both)


def settable(text: str) -> str:
    """Return text that can be set: known characters, in the order from left to right."""
    have = load_fonts()
    skipped = ("\u200d", "\ufe0e", "\ufe0f")
    known = "".join(
        ch if ord(ch) in have else BOX for ch in clean_text(text, 4000) if ch not in skipped
    )
    return _left_to_right(known)


def _left_to_right(text: str) -> str:
    """Turn runs of right-to-left letters round, with the spaces and marks between them.

    The part of the Unicode bidirectional algorithm (UAX 9, rule L2) that a short name needs.
    """
    out: list[str] = []
    run: list[str] = []
    tail: list[str] = []
    for ch in text:
        kind = unicodedata.bidirectional(ch)
        if kind in ("R", "AL") or (kind == "NSM" and run):
            run += [*tail, ch]
            tail = []
        elif run and kind in ("WS", "ON", "CS", "ES"):
            tail.append(ch)
        else:
            out += [*reversed(run), *tail, ch]
            run, tail = [], []
    return "".join([*out, *reversed(run), *tail])
