"""The worksheet on paper: PDF, A4 or Letter, the same bytes every time.

The full sheet begins with picture, cuts, cautions and board over the whole width; everything
else, the steps above all, runs in two columns over as many pages as it needs.  The teaching sheet
is one leaf: what to cut, the band, the board and the knots in pictures on its front, chart and
steps with boxes to tick on its back.  It is set smaller until it fits, and where even that is not
enough the steps break off and say so.
"""

from __future__ import annotations

import io
import os
import threading
from typing import TYPE_CHECKING, Any, Final

from reportlab import rl_config
from reportlab.lib import pagesizes
from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    BaseDocTemplate,
    Frame,
    FrameBreak,
    NextPageTemplate,
    PageBreak,
    PageTemplate,
)

from motifsearch.base.arrays import U8
from motifsearch.worksheet.blocks import BoardBlock, Section
from motifsearch.worksheet.pdf_blocks import Setter
from motifsearch.worksheet.pdf_steps import SOFT
from motifsearch.worksheet.pdf_type import FONT, load_fonts, settable
from motifsearch.worksheet.sections import CARE, ORDER, sections, title

if TYPE_CHECKING:
    from motifsearch.worksheet.content import Worksheet

COLUMN_GAP: Final = 16.0
MARGIN: Final = 13 * mm
LESSON_MARGIN: Final = 11 * mm
#: The size of type in the columns of the full sheet.
COLUMN_SIZE: Final = 0.93
#: Points; columns under the whole-width part that are shorter than this are left out.
LEAST_COLUMN: Final = 118.0
#: Front and back.
LESSON_PAGES: Final = 2
#: More steps than these never fit on one page.
MOST_STEPS: Final = 60
#: Sizes of type that the teaching sheet tries, 9.2 points times these.
SIZES: Final = (1.12, 1.04, 0.97, 0.9, 0.84, 0.79, 0.74)


def _cloth(ws: Worksheet, standing: U8 | None) -> ImageReader:
    """Return the band, lying, as a JPEG (the format takes a twentieth of the room of pixels)."""
    from PIL import Image

    from motifsearch.draw.whole_band import lying_band

    image = lying_band(ws.pattern, ws.rows, standing)
    stream = io.BytesIO()
    seen = image[::-1] if ws.setting.mirrored else image
    Image.fromarray(seen).save(stream, "JPEG", quality=92, subsampling=0)
    stream.seek(0)
    return ImageReader(stream)


def render_pdf(ws: Worksheet, paper: str, standing: U8 | None = None) -> bytes:
    """Return the worksheet as a PDF on "A4" or "Letter".

    Args:
        ws: The worksheet.
        paper: The paper.
        standing: The picture of its band (`motifsearch.draw.whole_band.standing_band`), uint8
            ``[H, W, 3]``, where it is drawn already.
    """
    page = pagesizes.A4 if paper == "A4" else pagesizes.LETTER
    load_fonts()
    cloth = _cloth(ws, standing)
    if not ws.teaching:
        return _build(ws, cloth, page, 1.0)[0]
    steps = sum(len(part.told) for part in ws.parts)
    tries: list[tuple[float, int | None]] = [(size, None) for size in SIZES]
    tries = tries if steps <= MOST_STEPS else []
    tries += [(SIZES[-1], most) for most in range(min(steps, MOST_STEPS), -1, -1)]
    low, high = 0, len(tries) - 1  # the first that fits; later ones take less room
    while low < high:
        middle = (low + high) // 2
        if _build(ws, cloth, page, *tries[middle])[1] <= LESSON_PAGES:
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

    column = (width - COLUMN_GAP) / 2
    narrow = Setter(ws, cloth, column, size if ws.teaching else COLUMN_SIZE, most)
    if ws.teaching:
        head, body = setter.lesson_pictures(), narrow.lesson()
    else:
        head, body = _full(ws, setter, narrow, height)
    tall = sum(part.wrap(width, height)[1] for part in head) + 4

    def columns(high: float) -> list[Any]:
        return [
            _frame(margin, margin, column, high),
            _frame(margin + column + COLUMN_GAP, margin, column, high),
        ]

    if not ws.teaching and tall <= height - LEAST_COLUMN:
        first = [_frame(margin, margin + height - tall, width, tall), *columns(height - tall)]
        story = [NextPageTemplate("columns"), *head, FrameBreak(), *body]
    else:  # a teaching sheet, or a cut list of very many threads
        first = [_frame(margin, margin, width, height)]
        story = [*head, NextPageTemplate("columns"), PageBreak(), *body]
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
    document.addPageTemplates(
        [
            PageTemplate("first", first, onPage=footer),
            PageTemplate("columns", columns(height), onPage=footer),
        ]
    )
    document.build(story, canvasmaker=timeless)
    return stream.getvalue(), pages[0]


#: ReportLab takes a time from here even where it is told to write none.
EPOCH: Final = "SOURCE_DATE_EPOCH"
_ONE_AT_A_TIME = threading.Lock()


def timeless(*args: Any, **more: Any) -> Canvas:
    """Return a canvas whose file holds no time, whatever the environment says."""
    with _ONE_AT_A_TIME:
        said = os.environ.pop(EPOCH, None)
        try:
            return Canvas(*args, **more)
        finally:
            if said is not None:
                os.environ[EPOCH] = said


def _full(
    ws: Worksheet, wide: Setter, narrow: Setter, height: float
) -> tuple[list[Any], list[Any]]:
    """Return what stands over the whole width of the full sheet, and what runs in columns.

    The cautions come after what is cut, but where the list is so long that they would leave the
    first page they come before it.
    """
    top, care, body = wide.head(), list[Any](), list[Any]()
    cuts: list[Any] = []
    drawn: list[Any] = []
    for section in sections(ws, str):
        if section.title == CARE:
            care = wide.cautions(section)
        elif section.title in ("The band", "Cut"):
            into = cuts if section.title == "Cut" else top
            for block in section.blocks:
                if section.title == "Cut" and block is section.blocks[0]:
                    into += wide.heading(section.title)
                into += [*wide.block(block), wide.gap(3)]
        else:
            shown = tuple(b for b in section.blocks if not isinstance(b, BoardBlock))
            drawn += [one for b in section.blocks if b not in shown for one in wide.block(b)]
            body += narrow.section(Section(section.title, shown))
            if section.title == ORDER:
                body += [narrow.gap(3), narrow.key()]
    parts = [*top, *cuts, *care]
    fits = sum(part.wrap(wide.width, height)[1] for part in parts) + 4 <= height
    return [*top, *cuts, *care, *drawn] if fits else [*top, *care, *cuts, *drawn], body


def _frame(left: float, low: float, width: float, height: float) -> Any:
    return Frame(left, low, width, height, 0, 0, 0, 0)
