"""What is handed out for a batch of kits: cutting list, packing list with labels, cost, worksheets.

Lists are CSV, to be reckoned on with, and PDF, to be worked by; the cutting list goes piece by
piece in the order of the stash, and says for which bag every cut is.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from motifsearch.base.errors import InputError, MotifError
from motifsearch.base.text import file_stem
from motifsearch.base.tomlfile import write_atomic
from motifsearch.runs.candidate import Candidate
from motifsearch.runs.tables import cell
from motifsearch.thread.batch import Batch
from motifsearch.thread.batch_texts import packed
from motifsearch.worksheet.batch_pdf import cutting_pdf, packing_pdf
from motifsearch.worksheet.content import make_worksheet
from motifsearch.worksheet.forms import to_pdf

#: What goes into every bag beside threads and worksheets.
CARD = "cautions card"
LABEL = "label"


def cutting_csv(bands: Sequence[Candidate], batch: Batch) -> str:
    """Return the cutting list in the order of the pieces, one line a cut; lengths in mm."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["colour", "piece", "new_skein", "piece_mm", "cut_mm", "kit", "band", "title",
                     "label", "left_mm", "left_is"])  # fmt: skip
    for piece in batch.pieces:
        rest = "waste" if piece.waste else "kept"
        for cut in piece.cuts:
            writer.writerow([
                cell(piece.colour), piece.place, "yes" if piece.new else "no",
                f"{piece.piece_mm:g}", f"{cut.length_mm:g}", cut.kit, cut.band,
                cell(bands[cut.band - 1].title), cut.label, f"{piece.left_mm:g}",
                rest if piece.left_mm >= 1.0 else "nothing",
            ])  # fmt: skip
    return out.getvalue()


def packing_csv(bands: Sequence[Candidate], batch: Batch) -> str:
    """Return what goes into every bag, one line a kind of thing; lengths in mm."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["what", "band", "title", "colour", "number", "cut_mm", "labels", "for_all"])
    for n, band in enumerate(bands, 1):
        title = cell(band.title)
        for colour, mm, labels in packed(band.cuts):
            each = len(labels.split())
            writer.writerow(["thread", n, title, cell(colour), each, f"{mm:g}", labels,
                             each * batch.kits])  # fmt: skip
        writer.writerow(["worksheet", n, title, "", 1, "", "", batch.kits])
    for what in (CARD, LABEL):
        writer.writerow([what, "", "", "", 1, "", "", batch.kits])
    return out.getvalue()


def cost_csv(batch: Batch) -> str:
    """Return what one kit costs, one line a colour or thing; empty where a price is not known."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["what", "used_mm", "waste_share_mm", "price_per_skein", "skein_m", "cost",
                     "currency"])  # fmt: skip
    cost, currency = batch.cost, cell(batch.cost.currency)
    for one in cost.threads:
        writer.writerow([
            cell(one.colour), f"{one.used_mm:g}", f"{one.waste_mm:.1f}",
            "" if one.price is None else f"{one.price:g}", f"{one.skein_m:g}",
            _money(one.cost), currency,
        ])  # fmt: skip
    for more in cost.extras:
        writer.writerow([cell(more.name), "", "", "", "", _money(more.cost), currency])
    writer.writerow(["together", "", "", "", "", _money(cost.cost), currency])
    return out.getvalue()


def _money(value: float | None) -> str:
    return "" if value is None else f"{value:.2f}"


def batch_files(bands: Sequence[Candidate], batch: Batch) -> dict[str, str | bytes]:
    """Return the files of a batch: name to content.

    Args:
        bands: The bands of one kit.
        batch: The batch.
    """
    paper = bands[0].settings.paper
    sheets: dict[str, str | bytes] = {}
    for n, band in enumerate(bands, 1):
        settings = band.settings
        sheet = make_worksheet(
            replace(band, plan=None),  # the threads of a kit are cut: of what piece says nothing
            length_mm=settings.length_mm,
            first_notch=settings.first_notch,
            show=settings.show,
            wrist_mm=settings.wrist_mm,
        )
        sheets[f"worksheets/{n}-{file_stem(band.title)}.pdf"] = to_pdf(sheet, paper)
    return {
        "cutting-list.csv": cutting_csv(bands, batch),
        "cutting-list.pdf": cutting_pdf(bands, batch, paper),
        "packing-list.csv": packing_csv(bands, batch),
        "packing-list.pdf": packing_pdf(bands, batch, paper),
        "cost.csv": cost_csv(batch),
        **sheets,
    }


def write_files(
    folder: Path, files: Mapping[str, str | bytes], *, overwrite: bool
) -> tuple[Path, ...]:
    """Write files into a folder; none where one of them exists already.

    Raises:
        InputError: One exists and was not to be overwritten.
        MotifError: One cannot be written.
    """
    paths = [folder / name for name in files]
    for path in paths:
        if path.exists() and not overwrite:
            raise InputError("the file exists already; give --overwrite", source=path)
    for path, data in zip(paths, files.values(), strict=True):
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
        except OSError as bad:
            raise MotifError(f"{path.parent}: cannot be made: {bad.strerror}") from None
        write_atomic(path, data)
    return tuple(paths)
