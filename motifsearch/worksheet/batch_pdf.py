"""A batch of kits on paper: the cutting list, and the packing list with labels and cards.

The cutting list goes piece by piece in the order of the stash, pieces that are cut alike together,
with a box to tick for each.  The packing list says what goes into every bag, how the cost of a kit
is reckoned, and has a label and a card with the cautions for every bag, to be cut out.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, Final
from xml.sax.saxutils import escape

from reportlab import rl_config
from reportlab.lib import pagesizes
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.utils import ImageReader
from reportlab.platypus import (
    KeepInFrame,
    KeepTogether,
    PageBreak,
    Paragraph,
    SimpleDocTemplate,
    Spacer,
)
from reportlab.platypus import Table as Grid

from motifsearch.base.text import clean_text, count
from motifsearch.base.units import cut_text
from motifsearch.draw import board
from motifsearch.pattern.effort import effort
from motifsearch.thread.batch import Batch, Taken
from motifsearch.thread.batch_texts import (
    bags_text,
    bought_text,
    cost_head,
    cost_notes,
    cost_rows,
    cuts_text,
    packed,
    rest_text,
    take_text,
)
from motifsearch.worksheet.blocks import duration, length
from motifsearch.worksheet.cautions import CAUTIONS
from motifsearch.worksheet.pdf import MARGIN, timeless
from motifsearch.worksheet.pdf_steps import INK, LINE, SOFT, Drawn
from motifsearch.worksheet.pdf_type import BOLD, FONT, load_fonts, settable

if TYPE_CHECKING:
    from motifsearch.describe.shown import Shown

#: Labels and cards: columns and rows of a page.
LABELS: Final = (2, 5)
CARDS: Final = (2, 4)
#: Boxes to tick for one line, at most; of more pieces the number says how many.
MOST_BOXES: Final = 12
#: Rows of a band in a picture, and pixels of a knot.
PICTURE_ROWS: Final = 60
CELL_PX: Final = 8
#: Points of a box to tick.
BOX: Final = 8.0


class _Leaf:
    """What stands on the leaves of one list, at the width of its page."""

    def __init__(self, name: str, paper: str) -> None:
        load_fonts()
        self.name = settable(name)
        self.page = pagesizes.A4 if paper == "A4" else pagesizes.LETTER
        self.width = self.page[0] - 2 * MARGIN
        self.height = self.page[1] - 2 * MARGIN

    def text(self, words: str, points: float = 9.6, *, bold: bool = False, **more: Any) -> Any:
        """Return a paragraph of plain text."""
        style = ParagraphStyle(
            "own", fontName=BOLD if bold else FONT, fontSize=points, leading=points * 1.34,
            textColor=more.pop("textColor", INK), splitLongWords=1, **more,
        )  # fmt: skip
        return Paragraph(escape(settable(words)), style)

    def head(self, facts: Sequence[str]) -> list[Any]:
        """Return title and facts."""
        lines = [self.text(line, 9.6, textColor=SOFT) for line in facts if line]
        return [self.text(self.name, 19, bold=True), Spacer(1, 4), *lines, Spacer(1, 6)]

    def heading(self, words: str) -> list[Any]:
        """Return the heading of a part."""
        return [Spacer(1, 9), self.text(words, 12.5, bold=True), Spacer(1, 3)]

    def grid(self, rows: list[list[Any]], shares: Sequence[float], head: bool = True) -> Any:
        """Return a table over the whole width, ruled below every line."""
        widths = [self.width * share / sum(shares) for share in shares]
        return Grid(
            rows,
            colWidths=widths,
            repeatRows=int(head),
            style=[
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("LINEBELOW", (0, 0), (-1, -1), 0.5, LINE),
                ("TOPPADDING", (0, 0), (-1, -1), 3),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 4),
                ("LEFTPADDING", (0, 0), (-1, -1), 1),
                ("RIGHTPADDING", (0, 0), (-1, -1), 5),
            ],
        )

    def cut_out(self, size: tuple[int, int], cells: Sequence[list[Any]]) -> list[Any]:
        """Return cells as leaves to be cut up: columns and rows of a page, with fine lines."""
        columns, rows = size
        wide, high = self.width / columns, (self.height - 14) / rows
        inner = (wide - 18, high - 16)
        boxed: list[Any] = [KeepInFrame(*inner, cell, mode="shrink") for cell in cells]
        boxed += [""] * (-len(boxed) % columns)
        out: list[Any] = []
        lines = [boxed[k : k + columns] for k in range(0, len(boxed), columns)]
        for k in range(0, len(lines), rows):
            part = lines[k : k + rows]
            out.append(
                Grid(
                    part,
                    colWidths=[wide] * columns,
                    rowHeights=[high] * len(part),
                    style=[
                        ("GRID", (0, 0), (-1, -1), 0.4, SOFT, None, (2, 3)),
                        ("VALIGN", (0, 0), (-1, -1), "TOP"),
                        ("LEFTPADDING", (0, 0), (-1, -1), 9),
                        ("RIGHTPADDING", (0, 0), (-1, -1), 9),
                        ("TOPPADDING", (0, 0), (-1, -1), 8),
                        ("BOTTOMPADDING", (0, 0), (-1, -1), 8),
                    ],
                )
            )
        return out

    def build(self, story: list[Any]) -> bytes:
        """Return the PDF: the same bytes every time."""
        stream = io.BytesIO()

        def footer(canvas: Any, document: Any) -> None:
            canvas.setFont(FONT, 7.5)
            canvas.setFillColor(SOFT)
            canvas.drawString(MARGIN, MARGIN - 11, self.name[:80])
            canvas.drawRightString(self.page[0] - MARGIN, MARGIN - 11, f"page {document.page}")

        rl_config.useA85 = 0
        document = SimpleDocTemplate(
            stream, pagesize=self.page, leftMargin=MARGIN - 6, rightMargin=MARGIN - 6,
            topMargin=MARGIN - 6, bottomMargin=MARGIN - 6, title=self.name, author="motifsearch",
            subject="Kits", invariant=1, lang="en",
        )  # fmt: skip
        document.build(story, onFirstPage=footer, onLaterPages=footer, canvasmaker=timeless)
        return stream.getvalue()


def _ticks(number: int) -> Any:
    """Return boxes to tick."""
    per_line = 6
    lines = -(-number // per_line)
    step = BOX + 2.4

    def draw(canvas: Any) -> None:
        canvas.setStrokeColor(SOFT)
        canvas.setLineWidth(0.7)
        for n in range(number):
            line, place = divmod(n, per_line)
            canvas.rect(place * step, (lines - 1 - line) * step + 1, BOX, BOX, stroke=1, fill=0)

    return Drawn(step * min(number, per_line), step * lines + 1, draw)


def _swatch(hex_: str, wide: float = 15.0, high: float = 9.5) -> Any:
    """Return a patch of a thread's colour, with an outline that shows on white."""
    red, green, blue = board.rgb(hex_)

    def draw(canvas: Any) -> None:
        canvas.setFillColorRGB(red, green, blue)
        canvas.setStrokeColor(SOFT)
        canvas.setLineWidth(0.4)
        canvas.roundRect(0, 0, wide, high, 2, stroke=1, fill=1)

    return Drawn(wide, high + 1.5, draw)


def _cloth(band: Shown) -> Callable[[float, float], Any]:
    """Return what gives a picture of a band, lying, at most so wide and so high in points."""
    from motifsearch.draw.cloth import render_band
    from motifsearch.draw.png import png_bytes

    rows = min(PICTURE_ROWS, band.cuts.rows)
    image = render_band(band.pattern, rows, cell_px=CELL_PX, horizontal=True)
    reader = ImageReader(io.BytesIO(png_bytes(image, keep=band.pattern.colours.values())))

    def picture(wide: float, high: float) -> Any:
        across, down = reader.getSize()
        scale = min(wide / across, high / down)
        size = across * scale, down * scale
        return Drawn(*size, lambda canvas: canvas.drawImage(reader, 0, 0, *size))

    return picture


def _inks(bands: Sequence[Shown]) -> dict[str, str]:
    return {name: hex_ for band in bands for name, hex_ in band.pattern.colours.items()}


def _facts(band: Shown, show: str) -> str:
    """Return what a label says of a band."""
    return ", ".join((
        count(band.pattern.strands, "strand"),
        f"{length(band.cuts.length_mm, show)} knotted",
        f"about {duration(float(band.scores['handling']['minutes']))}",
        effort(band.pattern).level,
    ))  # fmt: skip


def cutting_pdf(bands: Sequence[Shown], batch: Batch, paper: str = "A4") -> bytes:
    """Return the cutting list of a batch as a PDF.

    Args:
        bands: The bands of one kit.
        batch: The batch.
        paper: "A4" or "Letter".
    """
    leaf = _Leaf(f"Cutting list: {count(batch.kits, 'kit')}", paper)
    cuts = sum(len(piece.cuts) for piece in batch.pieces)
    facts = [
        f"{count(cuts, 'cut')} from {count(len(batch.pieces), 'piece')}, in the order of the box. "
        "Tick a piece when it is cut, and lay every thread with its kit.",
        bought_text(batch.bought),
    ]
    if len(bands) > 1:
        facts += [f"Band {n}: {clean_text(band.pattern.title)}" for n, band in enumerate(bands, 1)]
    story, inks = leaf.head(facts), _inks(bands)
    colour, rows = "", list[list[Any]]()

    def flush() -> None:
        if rows:
            head = [leaf.text(w, 8, textColor=SOFT) for w in ("", "take", "cut", "for", "then")]
            story.extend([leaf.grid([head, *rows], (11, 26, 34, 26, 25)), Spacer(1, 4)])
            rows.clear()

    for alike in batch.alike():
        one = alike[0]
        if one.colour != colour:
            flush()
            colour = one.colour
            patch = _swatch(inks.get(colour, "#000000"), 20, 12)
            named = Grid(
                [[patch, leaf.text(colour, 12.5, bold=True)]],
                colWidths=[28, None],
                hAlign="LEFT",
                style=[
                    ("LEFTPADDING", (0, 0), (-1, -1), 0),
                    ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
                ],
            )
            story.extend([Spacer(1, 6), named, Spacer(1, 2)])
        rows.append(_piece_row(leaf, alike, batch))
    flush()
    return leaf.build(story)


def _piece_row(leaf: _Leaf, alike: Sequence[Taken], batch: Batch) -> list[Any]:
    """Return the line of pieces that are cut alike."""
    one, times = alike[0], len(alike)
    take = take_text(one, batch.show)
    each = f"{times} pieces, each " if times > 1 else ""
    return [
        _ticks(min(times, MOST_BOXES)),
        leaf.text(f"{each}{take}"),
        leaf.text(cuts_text(one, batch.show), 10.5, bold=True),
        leaf.text(bags_text(alike, batch.bands), 8.6),
        leaf.text(rest_text(one, batch.show), 8.6),
    ]


def packing_pdf(bands: Sequence[Shown], batch: Batch, paper: str = "A4") -> bytes:
    """Return packing list, cost, labels and caution cards of a batch as a PDF.

    Args:
        bands: The bands of one kit.
        batch: The batch.
        paper: "A4" or "Letter".
    """
    leaf = _Leaf(f"Packing list: {count(batch.kits, 'kit')}", paper)
    pictures = [_cloth(band) for band in bands]
    each = "the bag" if batch.kits == 1 else f"each of {batch.kits} bags"
    story = leaf.head([f"Into {each}:"])
    for n, band in enumerate(bands):
        story.append(KeepTogether(_bag_part(leaf, n, band, pictures[n], batch)))
    rows = [
        [_ticks(1), leaf.text("The worksheet of every band (worksheets/)")],
        [_ticks(1), leaf.text("A card with the cautions (below)")],
        [_ticks(1), leaf.text("A label on the bag (below)")],
    ]
    rows += [[_ticks(1), leaf.text(clean_text(more.name))] for more in batch.cost.extras]
    story.append(KeepTogether([*leaf.heading("Beside them"), leaf.grid(rows, (4, 96), False)]))
    story += _bags(leaf, batch.kits)
    if batch.cost.asked:
        story.append(KeepTogether(_cost(leaf, batch)))
    labels = [_label(leaf, bands, pictures, n, batch) for n in range(1, batch.kits + 1)]
    story += [PageBreak(), *leaf.cut_out(LABELS, labels)]
    cards = [_card(leaf) for _ in range(batch.kits)]
    return leaf.build([*story, PageBreak(), *leaf.cut_out(CARDS, cards)])


def _bag_part(
    leaf: _Leaf, n: int, band: Shown, picture: Callable[[float, float], Any], batch: Batch
) -> list[Any]:
    """Return what of one band goes into a bag: its threads, those that are alike together."""
    title = clean_text(band.pattern.title) or "Untitled"
    name = title if batch.bands == 1 else f"Band {n + 1}: {title}"
    head = [
        leaf.text(w, 8, textColor=SOFT) for w in ("", "threads", "", "each", "labels", "in all")
    ]
    rows = [head]
    for colour, mm_, labels in packed(band.cuts):
        each = len(labels.split())
        rows.append([
            _ticks(1),
            leaf.text(f"{each}", 10.5, bold=True),
            Grid([[_swatch(band.pattern.colours[colour]), leaf.text(clean_text(colour))]],
                 colWidths=[20, None],
                 style=[("LEFTPADDING", (0, 0), (-1, -1), 0), ("TOPPADDING", (0, 0), (-1, -1), 0),
                        ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
                        ("VALIGN", (0, 0), (-1, -1), "MIDDLE")]),
            leaf.text(cut_text(mm_, batch.show), 10.5, bold=True),
            leaf.text(labels),
            leaf.text(f"{each * batch.kits}"),
        ])  # fmt: skip
    return [
        *leaf.heading(name),
        leaf.text(_facts(band, batch.show), 8.6, textColor=SOFT),
        Spacer(1, 3),
        picture(leaf.width * 0.6, 34),
        Spacer(1, 3),
        leaf.grid(rows, (4, 10, 36, 18, 20, 12)),
    ]


def _bags(leaf: _Leaf, kits: int) -> list[Any]:
    """Return a numbered box for every bag, to be ticked when it is packed."""
    per, cell = 12, leaf.width / 12
    lines = -(-kits // per)

    def drawn(first: int, number: int) -> Any:
        def draw(canvas: Any) -> None:
            canvas.setStrokeColor(SOFT)
            canvas.setLineWidth(0.7)
            canvas.setFont(FONT, 8.6)
            canvas.setFillColor(INK)
            for k in range(number):
                canvas.rect(k * cell, 2, 12, 12, stroke=1, fill=0)
                canvas.drawString(k * cell + 15, 4.5, str(first + k))

        return Drawn(leaf.width, 18, draw)

    rows = [drawn(k * per + 1, min(per, kits - k * per)) for k in range(lines)]
    return [KeepTogether([*leaf.heading("Bags that are packed"), *rows[:6]]), *rows[6:]]


def _cost(leaf: _Leaf, batch: Batch) -> list[Any]:
    """Return what one kit costs, and how it is reckoned."""
    cost = batch.cost
    head = ["of one kit", "thread", "its share of the waste", "price", "cost"]
    rows = [[leaf.text(word, 8, textColor=SOFT) for word in head]]
    rows += [[leaf.text(cell) for cell in row] for row in cost_rows(cost, batch.show)]
    notes = [leaf.text(note, 8.6, textColor=SOFT) for note in cost_notes(cost, batch.kits)]
    return [
        *leaf.heading("What one kit costs"),
        leaf.text(cost_head(cost), 10.5, bold=True),
        Spacer(1, 2),
        leaf.grid(rows, (30, 16, 22, 24, 14)),
        Spacer(1, 3),
        *notes,
    ]


def _label(
    leaf: _Leaf,
    bands: Sequence[Shown],
    pictures: Sequence[Callable[[float, float], Any]],
    number: int,
    batch: Batch,
) -> list[Any]:
    """Return what stands on the label of one bag."""
    out = [leaf.text(f"Kit {number} of {batch.kits}", 8, textColor=SOFT)]
    wide = leaf.width / LABELS[0] - 24
    for band, picture in zip(bands, pictures, strict=True):
        threads = ", ".join(
            f"{len(labels.split())} \u00d7 {cut_text(mm_, batch.show)} {clean_text(colour)}"
            for colour, mm_, labels in packed(band.cuts)
        )
        out += [
            leaf.text(clean_text(band.pattern.title) or "Untitled", 11, bold=True),
            Spacer(1, 2),
            picture(wide, 24),
            Spacer(1, 2),
            leaf.text(_facts(band, batch.show), 8),
            leaf.text(threads, 8, textColor=SOFT),
            Spacer(1, 3),
        ]
    return [*out, leaf.text(CAUTIONS[0], 7.4)]


def _card(leaf: _Leaf) -> list[Any]:
    """Return a card with the cautions."""
    return [
        leaf.text("Before you begin", 10.5, bold=True),
        Spacer(1, 3),
        *(leaf.text(words, 7.8, spaceAfter=2.5) for words in CAUTIONS),
    ]
