"""The blocks of a worksheet as flowables of ReportLab's Platypus.

Everything is drawn as vectors (`motifsearch.gallery.board`) but the picture of the cloth.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, Final
from xml.sax.saxutils import escape

from reportlab.lib.colors import Color
from reportlab.lib.enums import TA_CENTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.utils import ImageReader
from reportlab.platypus import CondPageBreak, Flowable, KeepTogether, Paragraph, Spacer
from reportlab.platypus import Table as Grid

from motifsearch.gallery import board
from motifsearch.gallery.pdf_type import BOLD, BOX, FONT, settable
from motifsearch.gallery.sheet import CHART_ROWS, facts, sections, title
from motifsearch.gallery.sheet_blocks import (
    Block,
    BoardBlock,
    Bullets,
    ChartBlock,
    CutTable,
    Para,
    Picture,
    Section,
    StepsBlock,
)
from motifsearch.gallery.worksheet_text import step_words

if TYPE_CHECKING:
    from motifsearch.gallery.steps import Step
    from motifsearch.gallery.worksheet import Part, Worksheet

INK: Final = Color(*board.INK)
SOFT: Final = Color(0.38, 0.37, 0.36)
LINE: Final = Color(0.85, 0.82, 0.76)
TIGHT: Final = [
    ("LEFTPADDING", (0, 0), (-1, -1), 0),
    ("RIGHTPADDING", (0, 0), (-1, -1), 0),
    ("TOPPADDING", (0, 0), (-1, -1), 0),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 1),
]


class Drawn(Flowable):  # type: ignore[misc]
    """A drawing of a fixed size, by a function of the canvas."""

    def __init__(self, width: float, height: float, draw: Callable[[Any], None]) -> None:
        super().__init__()
        self.width, self.height, self.paint = width, height, draw

    def draw(self) -> None:
        """Draw at the origin, as Platypus asks."""
        self.paint(self.canv)


class Setter:
    """Sets the blocks of one sheet at one size of type."""

    def __init__(
        self, ws: Worksheet, cloth: ImageReader, width: float, size: float, most: int | None
    ) -> None:
        self.ws, self.cloth, self.width, self.size, self.most = ws, cloth, width, size, most

    def style(self, points: float, *, bold: bool = False, **more: Any) -> ParagraphStyle:
        """Return a paragraph style of `points` at the sheet's size."""
        size = points * self.size
        return ParagraphStyle(
            "own",
            fontName=BOLD if bold else FONT,
            fontSize=size,
            leading=size * 1.34,
            textColor=more.pop("textColor", INK),
            splitLongWords=1,
            **more,
        )

    def text(self, words: str, points: float = 9.6, **more: Any) -> Any:
        """Return a paragraph of plain text."""
        return Paragraph(escape(settable(words)), self.style(points, **more))

    def gap(self, points: float) -> Any:
        """Return some space."""
        return Spacer(1, points * self.size)

    def head(self) -> list[Any]:
        """Return title and facts, over a stripe of the band's colours."""
        ws = self.ws
        name = title(ws, str)
        points = 22 if len(name) <= 42 else 15 if len(name) <= 140 else 9.5
        return [
            self.text(name, points, bold=True),
            self.gap(3),
            self.text(facts(ws), 9.6, textColor=SOFT),
            self.gap(5),
            self.stripe(),
            self.gap(8),
        ]

    def stripe(self) -> Any:
        """Return a thin line in the colours of the notches, as they are laid in."""
        colours = [board.rgb(self.ws.pattern.colours[name]) for name in self.ws.start]

        def draw(canvas: Any) -> None:
            part = self.width / len(colours)
            for k, colour in enumerate(colours):
                canvas.setFillColorRGB(*colour)
                canvas.rect(k * part, 0, part + 0.2, 2.6, stroke=0, fill=1)
            canvas.setStrokeColorRGB(*board.FAINT)
            canvas.setLineWidth(0.4)
            canvas.rect(0, 0, self.width, 2.6, stroke=1, fill=0)

        return Drawn(self.width, 2.6, draw)

    def heading(self, words: str) -> list[Any]:
        """Return a section's heading."""
        return [self.gap(9), self.text(words, 12.5, bold=True), self.gap(3)]

    def section(self, section: Section) -> list[Any]:
        """Return a section; its heading stays with what comes first in it."""
        body: list[Any] = []
        for block in section.blocks:
            body += [*self.block(block), self.gap(3)]
        if not body:
            return []
        lead = [*self.heading(section.title), body[0]]
        if any(isinstance(block, StepsBlock) for block in section.blocks):
            return [CondPageBreak(110), *lead, *body[1:]]
        return [KeepTogether([*lead, *body[1:]])]

    def block(self, block: Block) -> list[Any]:
        """Return the flowables of one block."""
        if isinstance(block, Para):
            return [self.text(block.text)]
        if isinstance(block, Picture):
            return [self.picture(), self.gap(3), self.text(block.words)]
        if isinstance(block, Bullets):
            return [self.bullet(n, item, block.ordered) for n, item in enumerate(block.items, 1)]
        if isinstance(block, CutTable):
            return [self.cuts(block)]
        if isinstance(block, BoardBlock):
            return [self.gap(4), self.board()]
        if isinstance(block, ChartBlock):
            return [self.text(block.words), self.gap(4), self.chart(block.rows)]
        return self.steps(block)

    def bullet(self, n: int, words: str, ordered: bool) -> Any:
        """Return one item of a list."""
        style = self.style(9.6, leftIndent=13 * self.size, bulletIndent=0)
        style.bulletFontName, style.bulletFontSize = FONT, style.fontSize
        mark = f"{n}." if ordered else "–"
        return Paragraph(escape(settable(words)), style, bulletText=mark)

    def picture(self) -> Any:
        """Return the band, lying, as an image of cloth."""
        wide, high = self.cloth.getSize()
        scale = min(self.width / wide, 92 * self.size / high)

        def draw(canvas: Any) -> None:
            left = (self.width - wide * scale) / 2
            canvas.drawImage(self.cloth, left, 0, wide * scale, high * scale)

        return Drawn(self.width, high * scale, draw)

    def cuts(self, block: CutTable) -> Any:
        """Return the cut list as a table."""
        ws = self.ws
        head = [self.text(word, 8, textColor=SOFT) for word in block.head]
        rows: list[list[Any]] = [head]
        for label, colour, cells in block.rows:
            named = Grid(
                [[self.swatch(ws.pattern.colours[colour]), self.text(ws.names[colour])]],
                colWidths=[15 * self.size, None],
                style=[*TIGHT, ("VALIGN", (0, 0), (-1, -1), "MIDDLE")],
            )
            rows.append(
                [
                    self.text(label, 11, bold=True),
                    named,
                    self.text(cells[0], 10.5, bold=True),
                    self.text(cells[1]),
                    self.text(cells[2]),
                    *(self.text(cell, 8.6) for cell in cells[3:]),
                ]
            )
        shares = (12, 24, 20, 18, 36) if ws.teaching else (9, 18, 13, 12, 22, 15, 15, 15)
        widths = [self.width * share / sum(shares) for share in shares]
        return Grid(
            rows,
            colWidths=widths,
            repeatRows=1,
            style=[
                ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
                ("LINEBELOW", (0, 0), (-1, -1), 0.5, LINE),
                ("TOPPADDING", (0, 0), (-1, -1), 2.5 * self.size),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 3 * self.size),
                ("LEFTPADDING", (0, 0), (-1, -1), 2),
                ("RIGHTPADDING", (0, 0), (-1, -1), 3),
            ],
        )

    def swatch(self, colour: str) -> Any:
        """Return a square of colour."""
        size = 10 * self.size
        return Drawn(size, size, lambda canvas: board.draw_swatch(canvas, 0, 0, size, colour))

    def board(self) -> Any:
        """Return the board from above."""
        ws = self.ws
        colours = [ws.pattern.colours[name] for name in ws.start]

        def draw(canvas: Any) -> None:
            canvas.scale(self.size, self.size)
            board.draw_board(
                canvas,
                self.width / self.size,
                ws.setting.first_notch,
                colours,
                ws.labels,
                font=FONT,
                bold=BOLD,
            )

        return Drawn(self.width, (board.BOARD_HEIGHT + 6) * self.size, draw)

    def strip(self, names: Sequence[str], cell: float, marked: int | None = None) -> Any:
        """Return the colours in the notches."""
        ws = self.ws
        colours = [ws.pattern.colours[name] for name in names]

        def draw(canvas: Any) -> None:
            board.draw_strip(
                canvas, colours, cell, ws.setting.first_notch, font=FONT, marked=marked
            )

        return Drawn(cell * len(colours), cell + 4, draw)

    def steps(self, block: StepsBlock) -> list[Any]:
        """Return the steps of a part, each with the colours after it."""
        part = block.part
        cell = min(15.0 * self.size, self.width * 0.46 / self.ws.pattern.strands)
        before = self.text("before", 8.6, textColor=SOFT)
        rows = [[None, before, self.strip(part.before, cell)]]
        rows += [self.step(step, part, cell, 10.2) for step in part.steps]
        out = [self.step_grid(rows, cell)]
        if part.rounds:
            words = "At the start of every round (tick the round when it is done):"
            out += [self.gap(6), self.text(words), self.gap(3), self.rounds(part.rounds)]
        elif part.times > 1:
            out += [self.gap(6), self.tally(part.times)]
        return out

    def lesson(self) -> list[Any]:
        """Return what stands in the columns of the teaching sheet; not more steps than `most`."""
        out: list[Any] = []
        left_out = None
        for section in sections(self.ws, str):
            block = section.blocks[-1]
            if section.title == "The band":
                continue
            if not isinstance(block, StepsBlock):
                out += self.section(section)
                continue
            steps = [s for s in block.part.steps if self.most is None or s.number <= self.most]
            if steps:
                cell = min(13.0 * self.size, self.width * 0.42 / self.ws.pattern.strands)
                name = self.text(section.title, 10.5, bold=True)
                rows = [[None, name, self.strip(block.part.before, cell)]]
                rows += [self.step(step, block.part, cell, 9.2) for step in steps]
                out += [self.gap(6), self.step_grid(rows, cell, 1.2)]
            if len(steps) < len(block.part.steps) and left_out is None:
                left_out = block.part.steps[len(steps)].number
                words = f"The rest does not fit here: the full sheet goes on with step {left_out}."
                out += [self.gap(3), self.text(words, bold=True)]
        return out

    def step(self, step: Step, part: Part, cell: float, points: float) -> list[Any]:
        """Return one step as a row of a table."""
        words = escape(settable(step_words(step, part, self.ws.names, str)))
        start = f"notch {step.notch}"
        words = f"<b>{start}</b>{words.removeprefix(start)}"
        return [
            self.text(str(step.number), 8.6, textColor=SOFT, alignment=TA_CENTER),
            Paragraph(words, self.style(points)),
            self.strip(step.after, cell, step.end_notch),
        ]

    def step_grid(self, rows: list[list[Any]], cell: float, pad: float = 2.0) -> Any:
        """Return steps as a table that may break between them."""
        number = 24 * self.size
        strip = cell * self.ws.pattern.strands + 4
        return Grid(
            rows,
            colWidths=[number, self.width - number - strip, strip],
            style=[
                *TIGHT,
                ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
                ("LINEBELOW", (0, 0), (-1, -1), 0.5, LINE),
                ("TOPPADDING", (0, 0), (-1, -1), pad * self.size),
                ("BOTTOMPADDING", (0, 0), (-1, -1), pad * self.size),
                ("RIGHTPADDING", (1, 0), (1, -1), 4),
            ],
        )

    def tally(self, times: int) -> Any:
        """Return boxes to tick, one a round, in tens."""
        box = 10.0 * self.size
        step = box * 1.35
        per = max(10, int((self.width - 90 * self.size) / (step * 10.6)) * 10)
        lines = -(-times // per)

        def draw(canvas: Any) -> None:
            canvas.setFillColor(SOFT)
            canvas.setFont(FONT, 8.6 * self.size)
            canvas.drawString(0, (lines - 1) * step + 2, "Tick each round:")
            canvas.setStrokeColor(SOFT)
            canvas.setLineWidth(0.7)
            for k in range(times):
                line, place = divmod(k, per)
                x = 84 * self.size + place * step + place // 10 * box * 0.6
                canvas.rect(x, (lines - 1 - line) * step, box, box, stroke=1, fill=0)

        return Drawn(self.width, lines * step, draw)

    def rounds(self, rounds: Sequence[Sequence[str]]) -> Any:
        """Return the colours at the start of every round, each with a box to tick."""
        strands = self.ws.pattern.strands
        cell = min(11.0 * self.size, (self.width - 40) / strands)
        wide = strands * cell + 40 * self.size
        columns = max(1, min(4, int(self.width / (wide + 10))))
        cells = [
            Grid(
                [[self.text(f"{BOX} {n}", 8.6, textColor=SOFT), self.strip(colours, cell)]],
                colWidths=[30 * self.size, None],
                style=[*TIGHT, ("VALIGN", (0, 0), (-1, -1), "MIDDLE")],
            )
            for n, colours in enumerate(rounds, 1)
        ]
        cells += [""] * (-len(cells) % columns)
        rows = [cells[k : k + columns] for k in range(0, len(cells), columns)]
        return Grid(rows, colWidths=[self.width / columns] * columns, style=TIGHT)

    def chart(self, rows: int) -> Any:
        """Return the thread chart, in columns where it is long."""
        ws = self.ws
        per = min(rows, CHART_ROWS)
        columns = -(-rows // per)
        step = min(20.0, self.width / (columns * (ws.pattern.strands + 1)))
        wide = board.chart_size(ws.pattern.strands, per, step)[0] + step
        high = board.chart_size(ws.pattern.strands, per, step)[1]

        def draw(canvas: Any) -> None:
            for k in range(columns):
                first = k * per
                part = min(per, rows - first)
                canvas.saveState()
                tall = board.chart_size(ws.pattern.strands, part, step)[1]
                canvas.translate(k * wide, high - tall)
                board.draw_chart(canvas, ws.pattern, first, part, ws.setting, step)
                canvas.restoreState()

        return Drawn(self.width, high, draw)
