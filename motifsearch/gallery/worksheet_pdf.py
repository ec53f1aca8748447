"""The worksheet on paper: PDF, A4 or Letter, the same bytes every time.

The full sheet runs over as many pages as it needs.  The teaching sheet is one page: it is set
smaller until it fits, and where even that is not enough the steps break off and say so.
"""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any, Final

from reportlab import rl_config
from reportlab.lib import pagesizes
from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.platypus import BaseDocTemplate, Frame, FrameBreak, PageTemplate

from motifsearch.gallery.pdf_blocks import SOFT, Setter
from motifsearch.gallery.pdf_type import FONT, load_fonts, settable
from motifsearch.gallery.sheet import sections, title

if TYPE_CHECKING:
    from motifsearch.gallery.worksheet import Worksheet

COLUMN_GAP: Final = 16.0
MARGIN: Final = 15 * mm
LESSON_MARGIN: Final = 11 * mm
#: More steps than these never fit on one page.
MOST_STEPS: Final = 60
#: Sizes of type that the teaching sheet tries, 9.2 points times these.
SIZES: Final = (1.12, 1.04, 0.97, 0.9, 0.84, 0.79, 0.74)


def _cloth(ws: Worksheet) -> ImageReader:
    """Return the band, lying, as a JPEG (the format takes a twentieth of the room of pixels)."""
    from PIL import Image

    from motifsearch.gallery.fabric import render_band

    image = render_band(ws.pattern, ws.rows, cell_px=20, ends=True, horizontal=True)
    stream = io.BytesIO()
    seen = image[::-1] if ws.setting.mirrored else image
    Image.fromarray(seen).save(stream, "JPEG", quality=92, subsampling=0)
    stream.seek(0)
    return ImageReader(stream)


def render_pdf(ws: Worksheet, paper: str) -> bytes:
    """Return the worksheet as a PDF on "A4" or "Letter"."""
    page = pagesizes.A4 if paper == "A4" else pagesizes.LETTER
    load_fonts()
    cloth = _cloth(ws)
    if not ws.teaching:
        return _build(ws, cloth, page, 1.0)[0]
    steps = sum(len(part.steps) for part in ws.parts)
    tries: list[tuple[float, int | None]] = [(size, None) for size in SIZES]
    tries = tries if steps <= MOST_STEPS else []
    tries += [(SIZES[-1], most) for most in range(min(steps, MOST_STEPS), -1, -1)]
    low, high = 0, len(tries) - 1  # the first that fits; later ones take less room
    while low < high:
        middle = (low + high) // 2
        if _build(ws, cloth, page, *tries[middle])[1] == 1:
            high = middle
        else:
            low = middle + 1
    return _build(ws, cloth, page, *tries[low])[0]


def _build(
    ws: Worksheet,
    cloth: ImageReader,
    page: tuple[float, float],
    size: float,
    most: int | None = None,
) -> tuple[bytes, int]:
    stream = io.BytesIO()
    margin = LESSON_MARGIN if ws.teaching else MARGIN
    width, height = page[0] - 2 * margin, page[1] - 2 * margin
    setter = Setter(ws, cloth, width, size, most)
    name = settable(title(ws, str))
    pages = [0]

    def footer(canvas: Any, _: Any) -> None:
        pages[0] += 1
        canvas.setFont(FONT, 7.5)
        canvas.setFillColor(SOFT)
        canvas.drawString(margin, margin - 11, name[:80])
        canvas.drawRightString(page[0] - margin, margin - 11, f"page {pages[0]}")

    head = setter.head()
    if ws.teaching:
        for block in sections(ws, str)[0].blocks:
            head += setter.block(block)
        tall = sum(part.wrap(width, height)[1] for part in head) + 4
        column = (width - COLUMN_GAP) / 2
        story = [*head, FrameBreak(), *Setter(ws, cloth, column, size, most).lesson()]
        frames = [
            _frame(margin, margin + height - tall, width, tall),
            _frame(margin, margin, column, height - tall),
            _frame(margin + column + COLUMN_GAP, margin, column, height - tall),
        ]
    else:
        story = head
        for section in sections(ws, str):
            story += setter.section(section)
        frames = [_frame(margin, margin, width, height)]
    rl_config.useA85 = 0  # plain bytes: smaller, and no time spent on making them text
    document = BaseDocTemplate(
        stream,
        pagesize=page,
        title=name,
        author="motifsearch",
        subject="Worksheet",
        invariant=1,
        lang="en",
    )
    document.addPageTemplates(PageTemplate("sheet", frames, onPage=footer))
    document.build(story)
    return stream.getvalue(), pages[0]


def _frame(left: float, low: float, width: float, height: float) -> Any:
    return Frame(left, low, width, height, 0, 0, 0, 0)
