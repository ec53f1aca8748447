"""Tables of a run: the cut list and the ranking as CSV (RFC 4180, lines ending in LF)."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from typing import Final

from motifsearch.runs.candidate import Candidate
from motifsearch.thread.cutting import CutList
from motifsearch.thread.plan import CuttingPlan

#: What a cell begins with that a spreadsheet takes for a formula.
FORMULAS: Final = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")


def cell(text: str) -> str:
    """Return a text as a cell that no spreadsheet takes for a formula.

    A text that begins with one of ``= + - @`` (also in their full width, such as U+FF1D), a tab
    or a line end gets an apostrophe before it (CSV injection: OWASP,
    community/attacks/CSV_Injection; the full width from memory).

    Examples:
        >>> cell("=1+1"), cell("sand"), cell("")
        ("'=1+1", 'sand', '')
    """
    return f"'{text}" if text[:1] in FORMULAS else text


def cut_csv(cuts: CutList, plan: CuttingPlan | None, first_notch: int = 1) -> str:
    """Return the cut list as CSV, one line per thread; lengths in mm.

    The column `from_piece_mm` names the piece on hand that the cut comes from.
    """
    source = {
        label: piece.piece_mm for piece in (plan.pieces if plan else ()) for label, _ in piece.cuts
    }
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(
        ["label", "colour", "notches", "cut_mm", "fold_mm", "need_mm", "margin_mm",
         "allowance_mm", "from_piece_mm"]
    )  # fmt: skip
    for cut in cuts.cuts:
        writer.writerow(
            [
                cut.label,
                cell(cut.colour),
                " ".join(str(s + first_notch) for s in cut.strands),
                f"{cut.length_mm:.0f}",
                "" if cut.fold_mm is None else f"{cut.fold_mm:.0f}",
                " ".join(f"{v:.1f}" for v in cut.need_mm),
                " ".join(f"{v:.1f}" for v in cut.margin_mm),
                " ".join(f"{v:.1f}" for v in cut.allowance_mm),
                f"{source[cut.label]:.0f}" if cut.label in source else "",
            ]
        )
    return out.getvalue()


RANKING_COLUMNS = (
    "rank", "folder", "title", "wishes_met", "strands", "rows", "repeat_rows", "frieze_group",
    "colours", "evenness", "offcut", "balance", "contrast", "coherence", "movement", "lone",
    "flatness", "minutes", "cut_total_mm",
)  # fmt: skip


def ranking_csv(candidates: Sequence[Candidate]) -> str:
    """Return the ranking as CSV, best first; fractions with four digits."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(RANKING_COLUMNS)
    for one in candidates:
        s = one.scores
        contrast = s["colour"]["contrast"]
        writer.writerow(
            [
                one.rank,
                one.folder,
                cell(one.pattern.title),
                f"{one.wishes_met:.4f}",
                s["strands"],
                s["rows"],
                s["repeat_rows"],
                s["symmetry"]["frieze_group"],
                cell(" ".join(one.pattern.palette)),
                f"{s['thread']['evenness']:.4f}",
                f"{s['thread']['offcut']:.4f}",
                f"{s['colour']['balance']:.4f}",
                "" if contrast is None else f"{contrast:.2f}",
                f"{s['motif']['coherence']:.4f}",
                f"{s['motif']['movement']:.4f}",
                f"{s['motif']['lone']:.4f}",
                f"{s['flatness']:.4f}",
                f"{s['handling']['minutes']:.0f}",
                f"{one.cuts.total_mm:.0f}",
            ]
        )
    return out.getvalue()
