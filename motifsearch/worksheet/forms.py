"""The three forms of a worksheet: plain text, Markdown and PDF, of the same sections."""

from __future__ import annotations

from motifsearch.base.arrays import U8
from motifsearch.base.errors import InputError
from motifsearch.worksheet.content import Worksheet
from motifsearch.worksheet.text import render_markdown, render_text

PAPERS = ("A4", "Letter")


def to_text(ws: Worksheet) -> str:
    """Return the worksheet as plain text, UTF-8, lines up to 88 columns."""
    return render_text(ws)


def to_markdown(ws: Worksheet) -> str:
    """Return the worksheet as Markdown, for screen readers and for reading aloud."""
    return render_markdown(ws)


def to_pdf(ws: Worksheet, paper: str = "A4", standing: U8 | None = None) -> bytes:
    """Return the worksheet as a PDF; the same worksheet gives the same bytes.

    Args:
        ws: The worksheet.
        paper: "A4" or "Letter".
        standing: The picture of its band (`motifsearch.draw.whole_band.standing_band`), uint8
            ``[H, W, 3]``, where it is drawn already; the sheet is the same without.

    Raises:
        InputError: Another paper.
    """
    from motifsearch.worksheet.pdf import render_pdf  # late: reportlab takes its time

    if paper not in PAPERS:
        raise InputError(f"expected one of {', '.join(PAPERS)}", paper)
    return render_pdf(ws, paper, standing)
