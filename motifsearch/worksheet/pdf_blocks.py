"""The blocks of a worksheet as flowables of ReportLab's Platypus.

Everything is drawn as vectors (`motifsearch.draw.board`) but the picture of the cloth.
"""

from __future__ import annotations

from typing import Any
from xml.sax.saxutils import escape

from reportlab.platypus import CondPageBreak, KeepTogether, Paragraph
from reportlab.platypus import Table as Grid

from motifsearch.draw import board
from motifsearch.worksheet.blocks import (
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
from motifsearch.worksheet.pdf_steps import LINE, SOFT, TIGHT, Drawn, StepSetter
from motifsearch.worksheet.pdf_type import BOLD, FONT, settable
from motifsearch.worksheet.sections import CARE, ORDER, facts, sections, title
from motifsearch.worksheet.steps import Again, Step


class Setter(StepSetter):
    """Sets the blocks of one sheet at one size of type."""

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
            return [CondPageBreak(140), *lead, *body[1:]]
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
        return self.all_steps(block)

    def bullet(self, n: int, words: str, ordered: bool, points: float = 9.6) -> Any:
        """Return one item of a list."""
        style = self.style(points, leftIndent=13 * self.size, bulletIndent=0)
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
                [[self.strip([colour], 13 * self.size), self.text(ws.names[colour])]],
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
        shares = (12, 24, 20, 18, 36) if ws.teaching else (8, 13, 14, 12, 26, 17, 14, 13)
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

    def board(self) -> Any:
        """Return the board from above."""
        ws = self.ws
        colours = [ws.pattern.colours[name] for name in ws.start]
        scale = 0.85 * self.size

        def draw(canvas: Any) -> None:
            canvas.scale(scale, scale)
            board.draw_board(
                canvas,
                self.width / scale,
                ws.setting.first_notch,
                colours,
                ws.labels,
                font=FONT,
                bold=BOLD,
            )

        return Drawn(self.width, (board.BOARD_HEIGHT + 6) * scale, draw)

    def all_steps(self, block: StepsBlock) -> list[Any]:
        """Return the steps of a part, each with the colours after it."""
        part = block.part
        before = self.text("before", 8.6, textColor=SOFT)
        out = [self.steps(part, part.told, before, 9.5)]
        if part.rounds:
            words = "At the start of every round (tick the round when it is done):"
            if part.comes_again:
                words = f"At the start of rounds 1 to {len(part.rounds)}, and so on in turn:"
            out += [self.gap(6), self.text(words), self.gap(3), self.rounds(part.rounds)]
            if part.comes_again:
                out += [self.gap(6), self.tally(part.times)]
        elif part.times > 1:
            out += [self.gap(6), self.tally(part.times)]
        return out

    def lesson(self) -> list[Any]:
        """Return what stands in the columns of the teaching sheet; not more steps than `most`."""
        out: list[Any] = []
        room = self.most
        for section in sections(self.ws, str):
            block = section.blocks[-1]
            if isinstance(block, StepsBlock):
                told = block.part.told if room is None else block.part.told[: max(room, 0)]
                if told:
                    name = self.text(section.title, 10.5, bold=True)
                    out += [self.gap(6), self.steps(block.part, told, name, 9.0)]
                if room is not None:
                    rest = block.part.told[len(told) :]
                    if rest and room >= 0:
                        out += [self.gap(3), self.text(_left_out(rest[0]), bold=True)]
                        room = -1
                    room -= len(told)
            elif section.title not in ("The band", CARE):
                out += self.section(section)
                if section.title == ORDER:
                    out.append(self.key())
        return out

    def chart(self, rows: int) -> Any:
        """Return the thread chart."""
        ws = self.ws
        strands = ws.pattern.strands
        left = 18.0
        step = min(13.0, (self.width - left) / strands, 560 / (rows * board.ROW_STEP))

        def draw(canvas: Any) -> None:
            canvas.translate(left, 0)
            board.draw_chart(canvas, ws.pattern, rows, ws.setting, step, font=FONT)

        return Drawn(self.width, board.chart_size(strands, rows, step)[1], draw)

    def cautions(self, section: Section) -> list[Any]:
        """Return the cautions in small type, in two columns: they must be on the first page."""
        block = section.blocks[0]
        assert isinstance(block, Bullets)
        half = -(-len(block.items) // 2)
        pairs = [
            [self.bullet(0, item, False, 8.2) for item in block.items[k::half]] for k in range(half)
        ]
        pairs[-1] += [""] * (2 - len(pairs[-1]))
        style = [*TIGHT, ("RIGHTPADDING", (0, 0), (0, -1), 12), ("VALIGN", (0, 0), (-1, -1), "TOP")]
        return [
            *self.heading(section.title),
            Grid(pairs, colWidths=[self.width / 2] * 2, style=style),
        ]


def _left_out(first: Step | Again) -> str:
    where = "the ending" if isinstance(first, Again) else f"step {first.number}"
    return f"The rest does not fit here: the full sheet goes on with {where}."
