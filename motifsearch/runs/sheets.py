"""Pictures and sheets of one design: the band, the thread chart, the worksheet, the blank.

Without a file the bytes are returned; with one they are written, by its ending.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

from motifsearch.base.errors import InputError
from motifsearch.draw.wanted import blank_png, blank_template
from motifsearch.draw.wanted import png_bytes as flat_png
from motifsearch.page.board import board_html
from motifsearch.pattern.walk import repeat_rows
from motifsearch.runs.candidate import Candidate
from motifsearch.runs.handing import text_of
from motifsearch.runs.one import Design, candidate, opened, write_new
from motifsearch.runs.settings import Asked, default_length
from motifsearch.worksheet.content import make_worksheet
from motifsearch.worksheet.forms import to_markdown, to_pdf, to_text

PICTURE_ROWS: Final = 60
MAX_ROWS: Final = 400
MAX_BLANK_ROWS: Final = 200
SHEETS: Final = ("pdf", "html", "md", "txt")


def draw(
    design: Design,
    out: str | Path | None = None,
    *,
    form: str | None = None,
    rows: int | None = None,
    cell_px: int = 20,
    back: bool = False,
    asked: Asked | None = None,
    overwrite: bool = False,
) -> bytes:
    """Return the knotted band as PNG, or its thread chart as SVG.

    Args:
        design: The design.
        out: The file to write, which ends in .png or .svg; None to write nothing.
        form: "png" or "svg"; by the file's ending, or "png", when None.
        rows: Rows drawn; 60 of the band, one repeat of the chart, when None.
        cell_px: The size of a knot in the PNG, in pixels.
        back: The back of the band.
        asked: The first notch, for the chart.
        overwrite: Write over an existing file.

    Raises:
        InputError: The design, the form or the file's name cannot be used.
        MotifError: The file cannot be written.
    """
    one = opened(design, asked)
    form = form or ("png" if out is None else Path(out).suffix.lower().removeprefix("."))
    if form == "svg":
        from motifsearch.draw.thread_chart import thread_chart_svg

        height = rows or min(MAX_ROWS, repeat_rows(one.pattern))
        notch = one.settings.first_notch
        data = thread_chart_svg(one.pattern, height, first_notch=notch).encode()
    elif form == "png":
        from motifsearch.draw.cloth import render_band
        from motifsearch.draw.png import png_bytes

        height = rows or PICTURE_ROWS
        image = render_band(one.pattern, height, cell_px=cell_px, back=back, ends=True)
        data = png_bytes(image)
    else:
        raise InputError("expected a name that ends in .png or .svg", str(out or form),
                         source="--out")  # fmt: skip
    if out is not None:
        write_new(Path(out), data, overwrite)
    return data


def _lettered(design: Design, made: Candidate) -> bool:
    """Return whether a band has a text, which a mirror would turn over."""
    brief = made.settings.brief
    if brief is not None and brief.text:
        return True
    if isinstance(design, str | Path):
        return bool(text_of(Path(design)))
    if isinstance(design, Candidate) and design.folder and design.settings.source is not None:
        # A band of its own length keeps its settings below the group's folder, in ``runs/``.
        source = design.settings.source
        return any(text_of(place / design.folder) for place in (source, source.parent.parent))
    return False


def worksheet(
    design: Design,
    out: str | Path | None = None,
    *,
    form: str | None = None,
    left_handed: bool = False,
    teaching: bool = False,
    asked: Asked | None = None,
    overwrite: bool = False,
) -> tuple[bytes, tuple[str, ...]]:
    """Return the worksheet of a design, and where its settings come from.

    Args:
        design: The design.
        out: The file to write, which ends in .pdf, .html (the board page), .md or .txt; None to
            write nothing.
        form: "pdf", "html", "md" or "txt"; by the file's ending, or "txt", when None.
        left_handed: Mirror the whole sheet.
        teaching: The short form for a class.
        asked: What is to be other than in the design's own run.
        overwrite: Write over an existing file.

    Raises:
        InputError: The design, the form or the file's name cannot be used.
        MotifError: The file cannot be written.
    """
    form = form or ("txt" if out is None else Path(out).suffix.lower().removeprefix("."))
    if form not in SHEETS:
        raise InputError("expected a name that ends in .pdf, .html, .md or .txt", str(out or form),
                         source="--out")  # fmt: skip
    made, said = candidate(design, asked)
    settings = made.settings
    if left_handed and _lettered(design, made):
        raise InputError("a mirrored sheet would turn the letters over; leave --left-handed out",
                         source="--left-handed")  # fmt: skip
    sheet = make_worksheet(
        made,
        length_mm=settings.length_mm,
        first_notch=settings.first_notch,
        left_handed=left_handed,
        teaching=teaching,
        show=settings.show,
        wrist_mm=settings.wrist_mm,
    )
    if form == "pdf":
        data = to_pdf(sheet, settings.paper)
    elif form == "html":
        data = board_html(sheet, settings.allowances).encode()
    else:
        data = (to_markdown(sheet) if form == "md" else to_text(sheet)).encode()
    if out is not None:
        write_new(Path(out), data, overwrite)
    return data, (*said, *default_length(settings, asked))


def blank(
    strands: int, rows: int = 12, out: str | Path | None = None, *, overwrite: bool = False
) -> bytes:
    """Return paper to paint a wanted motif on: a text, or a picture by the file's ending.

    Args:
        strands: S.
        rows: Rows to paint.
        out: The file to write; None to write nothing.
        overwrite: Write over an existing file.

    Raises:
        InputError: Too many rows, or the file exists.
        MotifError: The file cannot be written.
    """
    if not 1 <= rows <= MAX_BLANK_ROWS:
        raise InputError(f"expected 1 to {MAX_BLANK_ROWS} rows", rows, source="--rows")
    if out is not None and Path(out).suffix.lower() == ".png":
        data = flat_png(blank_png(strands, rows))
    else:
        data = blank_template(strands, rows).encode()
    if out is not None:
        write_new(Path(out), data, overwrite)
    return data
