"""The steps of a worksheet as flowables of ReportLab's Platypus, and the type they are set in.

Every step has the colours after it below it, or beside it on the teaching sheet: a box a notch,
with the letter of its colour, and a triangle under the strand that was just laid down.  The notch
numbers stand once above, again at the top of every column.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, Final
from xml.sax.saxutils import escape

from reportlab.lib.colors import Color
from reportlab.lib.enums import TA_CENTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.utils import ImageReader
from reportlab.platypus import Flowable, Paragraph, Spacer
from reportlab.platypus import Table as Grid

from motifsearch.draw import board
from motifsearch.worksheet.pdf_type import BOLD, BOX, FONT, settable
from motifsearch.worksheet.steps import Again, Step
from motifsearch.worksheet.text import again_words, step_words

if TYPE_CHECKING:
    from motifsearch.worksheet.content import Part, Worksheet

INK: Final = Color(*board.INK)
SOFT: Final = Color(0.38, 0.37, 0.36)
LINE: Final = Color(0.85, 0.82, 0.76)
TIGHT: Final = [
    ("LEFTPADDING", (0, 0), (-1, -1), 0),
    ("RIGHTPADDING", (0, 0), (-1, -1), 0),
    ("TOPPADDING", (0, 0), (-1, -1), 0),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 1),
]

#: Points; the least width of a box in which a letter can be read.
LEAST_CELL: Final = 7.0


class Drawn(Flowable):  # type: ignore[misc]
    """A drawing of a fixed size, by a function of the canvas."""

    def __init__(self, width: float, height: float, draw: Callable[[Any], None]) -> None:
        super().__init__()
        self.width, self.height, self.paint = width, height, draw

    def draw(self) -> None:
        """Draw at the origin, as Platypus asks."""
        self.paint(self.canv)


#: Boxes to tick, at most: they must all stand in one column.
TICKS: Final = 300
#: With more strands than these the boxes never stand beside the words of a step.
BESIDE: Final = 12


class StepSetter:
    """Sets the steps of one sheet at one size of type, in a column of a width in points."""

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
            allowWidows=0,
            allowOrphans=0,
            **more,
        )

    def text(self, words: str, points: float = 9.6, **more: Any) -> Any:
        """Return a paragraph of plain text."""
        return Paragraph(escape(settable(words)), self.style(points, **more))

    def gap(self, points: float) -> Any:
        """Return some space."""
        return Spacer(1, points * self.size)

    @property
    def beside(self) -> bool:
        """Whether the boxes stand beside the words of a step."""
        return self.ws.teaching and self.ws.pattern.strands <= BESIDE

    @property
    def cell(self) -> float:
        """The width of a box, in points."""
        strands = self.ws.pattern.strands
        if self.beside:
            return min(13.0 * self.size, self.width * 0.44 / strands)
        return min(12.0 * self.size, (self.width - self.number) / strands)

    @property
    def number(self) -> float:
        """The width of the column of step numbers, in points."""
        return 17 * self.size

    def strip(self, names: Sequence[str], cell: float, marked: int | None = None) -> Any:
        """Return the colours in the notches; `marked` is the notch with the triangle."""
        ws = self.ws
        colours = [ws.pattern.colours[name] for name in names]
        letters = [ws.letters[name] for name in names]
        place = None if marked is None else marked - ws.setting.first_notch

        def draw(canvas: Any) -> None:
            board.draw_strip(canvas, colours, letters, cell, font=FONT, marked=place)

        return Drawn(cell * len(colours), cell + 4, draw)

    def key(self) -> Any:
        """Return what the boxes beside the steps show."""
        ws = self.ws
        letters = ", ".join(f"{ws.letters[name]} {ws.names[name]}" for name in ws.pattern.palette)
        return self.text(
            f"In the boxes at the steps: {letters}. The small black triangle marks the notch "
            "where the strand of that step now sits."
        )

    def steps(self, part: Part, told: Sequence[Step | Again], head: Any, points: float) -> Any:
        """Return steps of a part as a table that may break between them.

        Args:
            part: The part.
            told: Which of its steps.
            head: What stands beside the boxes as they are before the first.
            points: The size of type.
        """
        ws, cell, strands = self.ws, self.cell, self.ws.pattern.strands

        def draw(canvas: Any) -> None:
            board.draw_notches(canvas, strands, ws.setting.first_notch, cell, font=FONT, y=1)

        wide = cell * strands
        rows: list[list[Any]] = [[None, None, Drawn(wide, 7, draw)]]
        strip = self.strip(part.before, cell)
        rest = self.width - self.number - wide - 6
        if not self.beside and rest > 50:
            strip = Grid([[strip, head]], colWidths=[wide + 6, rest], style=TIGHT)
            head = None
        rows.append([None, head, strip])
        for step in told:
            strip = self.strip(step.after, cell, step.end_notch)
            if isinstance(step, Again):
                mark, words = None, f"<b>{escape(again_words(step))}</b>"
            else:
                mark = self.text(str(step.number), 8.2, textColor=SOFT, alignment=TA_CENTER)
                words = escape(settable(step_words(step, part, ws.names, str)))
                start = f"notch {step.notch}"
                words = f"<b>{start}</b>{words.removeprefix(start)}"
            rows.append([mark, Paragraph(words, self.style(points)), strip])
        columns = [self.number, self.width - self.number - wide, wide]
        if not self.beside:
            rows = [[mark, [one for one in (words, strip) if one]] for mark, words, strip in rows]
            columns = [self.number, self.width - self.number]
        pad = 1.5 * self.size
        return Grid(
            rows,
            colWidths=columns,
            repeatRows=1,
            style=[
                *TIGHT,
                ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
                ("LINEBELOW", (0, 1), (-1, -1), 0.5, LINE),
                ("TOPPADDING", (0, 1), (-1, -1), pad),
                ("BOTTOMPADDING", (0, 1), (-1, -1), pad),
                ("RIGHTPADDING", (1, 0), (1, -1), 4),
                ("RIGHTPADDING", (0, 0), (0, -1), 3),
                ("NOSPLIT", (0, 0), (-1, 2)),
            ],
        )

    def tally(self, times: int) -> Any:
        """Return boxes to tick, one a round, in tens; of very many rounds, one for several."""
        each = next(n for n in (1, 10, 20, 50, 100, 200, 500, 1000, times) if times <= n * TICKS)
        boxes = -(-times // each)
        words = "Tick each round:" if each == 1 else f"Tick every {each} rounds:"
        left = (84 if each == 1 else 112) * self.size
        box = 10.0 * self.size
        step = box * 1.35
        per = max(10, int((self.width - left - 6 * self.size) / (step * 10.6)) * 10)
        lines = -(-boxes // per)

        def draw(canvas: Any) -> None:
            canvas.setFillColor(SOFT)
            canvas.setFont(FONT, 8.6 * self.size)
            canvas.drawString(0, (lines - 1) * step + 2, words)
            canvas.setStrokeColor(SOFT)
            canvas.setLineWidth(0.7)
            for k in range(boxes):
                line, place = divmod(k, per)
                x = left + place * step + place // 10 * box * 0.6
                canvas.rect(x, (lines - 1 - line) * step, box, box, stroke=1, fill=0)

        return Drawn(self.width, lines * step, draw)

    def rounds(self, rounds: Sequence[Sequence[str]]) -> Any:
        """Return the colours at the start of every round, each with a box to tick."""
        strands = self.ws.pattern.strands
        mark = 28 * self.size
        columns = max(1, min(4, int(self.width / (strands * LEAST_CELL + mark + 4))))
        cell = min(10.0 * self.size, (self.width / columns - mark - 4) / strands)
        cells = [
            Grid(
                [[self.text(f"{BOX} {n}", 8.6, textColor=SOFT), self.strip(colours, cell)]],
                colWidths=[mark, None],
                style=[*TIGHT, ("VALIGN", (0, 0), (-1, -1), "MIDDLE")],
            )
            for n, colours in enumerate(rounds, 1)
        ]
        cells += [""] * (-len(cells) % columns)
        rows = [cells[k : k + columns] for k in range(0, len(cells), columns)]
        return Grid(rows, colWidths=[self.width / columns] * columns, style=TIGHT)
