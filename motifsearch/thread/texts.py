"""Cut lists, plans, kits and shopping lists as plain text, in metric or imperial."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from motifsearch.base.text import count as counted
from motifsearch.base.units import (
    cut_text,
    fine_texts,
    fold_words,
    piece_text,
    total_text,
    width_text,
)
from motifsearch.thread.bookings import Booking
from motifsearch.thread.cutting import CutList
from motifsearch.thread.kits import KitCount, ShoppingList
from motifsearch.thread.plan import CuttingPlan, PieceUse
from motifsearch.thread.stash import Stash

#: The aims of a plan, as people read them.
AIMS = ("what is missing", "waste", "pieces begun")


def table(head: Sequence[str], rows: Sequence[Sequence[str]], left: int = 1) -> str:
    """Return aligned columns; the first `left` columns and the last lean left, others right.

    Examples:
        >>> print(table(["cut", "length"], [["A", "205 cm"], ["B", "99 cm"]]), end="")
        cut  length
        A    205 cm
        B    99 cm
    """
    lines = [list(head), *[list(row) for row in rows]]
    widths = [max(len(line[k]) for line in lines) for k in range(len(head))]
    last = len(head) - 1
    out = []
    for line in lines:
        cells = [
            text.ljust(widths[k]) if k < left or k == last else text.rjust(widths[k])
            for k, text in enumerate(line)
        ]
        out.append("  ".join(cells).rstrip())
    return "\n".join(out) + "\n"


def cut_list_text(cuts: CutList, show: str = "metric") -> str:
    """Return what to cut: per thread its strands, need, margin, allowance, length and fold.

    Need, margin and ends are those of each of its strands, as on the worksheet; strands are counted
    from 1.
    """
    rows = []
    for cut in cuts.cuts:
        strands = "+".join(str(s + 1) for s in cut.strands)
        end = f"the end of strand {cut.strands[0] + 1}"
        fold = fold_words(cut.fold_mm, cut.length_mm, end, show)
        parts = (cut.need_mm, cut.margin_mm, cut.allowance_mm)
        rows.append(
            [
                cut.label,
                cut.colour,
                strands,
                *(fine_texts(values, show) for values in parts),
                cut_text(cut.length_mm, show),
                fold,
            ]
        )
    head = ["cut", "colour", "strands", "need", "margin", "ends", "length", "fold"]
    totals = ", ".join(
        f"{colour} {total_text(sum(c.length_mm for c in own), show)}"
        for colour, own in cuts.by_colour().items()
    )
    return (
        f"{cuts.rows} rows, {width_text(cuts.length_mm, show)} knotted\n"
        + table(head, rows, 2)
        + f"in all {total_text(cuts.total_mm, show)}: {totals}\n"
        + (f"{simple_text(cuts, show)}\n" if cuts.exact_mm is not None else "")
    )


def simple_text(cuts: CutList, show: str = "metric") -> str:
    """Return what simple cutting is, and what it costs; of a list that is cut simply."""
    assert cuts.exact_mm is not None
    more = cuts.total_mm - cuts.exact_mm
    fold = ", folded in half" if cuts.folded else ""
    cost = f"{cut_text(more, show)} more ({more / cuts.exact_mm:.1%})" if more > 0.5 else "no more"
    return f"Cut simply: one length for all{fold}. It takes {cost} than cutting each to its need."


def labels_text(labels: Sequence[str]) -> str:
    """Return labels of cuts, those of many bands in short.

    Examples:
        >>> labels_text(["A", "E"])
        'A E'
        >>> labels_text(["1A", "2A", "3A", "5A", "1C"])
        'A of bands 1-3, 5; C of band 1'
    """
    bands: dict[str, list[int]] = {}
    for label in labels:
        number = label.rstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ")
        if not number:
            return " ".join(labels)
        bands.setdefault(label[len(number) :], []).append(int(number))
    parts = []
    for name, numbers in bands.items():
        runs: list[list[int]] = []
        for n in sorted(numbers):
            if runs and n == runs[-1][1] + 1:
                runs[-1][1] = n
            else:
                runs.append([n, n])
        text = ", ".join(f"{low}" if low == high else f"{low}-{high}" for low, high in runs)
        parts.append(f"{name} of band{'' if len(numbers) == 1 else 's'} {text}")
    return "; ".join(parts)


def _one_piece(piece: PieceUse, show: str) -> tuple[str, str, str, str]:
    cuts = " + ".join(
        f"{labels_text([label for label, _ in own])} ({cut_text(length, show)}"
        f"{' each' if len(own) > 1 else ''})"
        for length, group in groupby(piece.cuts, key=lambda cut: cut[1])
        if (own := list(group))
    )
    return piece.thread, piece_text(piece.piece_mm, show), piece_text(piece.left_mm, show), cuts


def plan_text(plan: CuttingPlan, show: str = "metric") -> str:
    """Return which cut comes from which piece, what is left, and what is missing."""
    rows = []
    for piece in plan.pieces:
        thread, length, left, cuts = _one_piece(piece, show)
        if piece.left_mm < plan.shortest_mm:
            kept = ", kept" if piece.left_mm >= plan.useful_mm else ""
            left = f"{left} (waste{kept})" if piece.left_mm >= 1.0 else "nothing"
        rows.append([thread, length, left, cuts])
    text = table(["thread", "piece", "left", "cuts"], rows) if rows else ""
    if plan.missing:
        text += "missing:\n" + "".join(
            f"  {colour}: cut {label}, {cut_text(length, show)}\n"
            for colour, label, length in plan.missing
        )
    text += f"waste: {cut_text(plan.waste_mm, show)} (leftovers under "
    text += f"{cut_text(plan.shortest_mm, show)}, the shortest cut)\n"
    if not any(plan.gaps):
        return text + "no plan is better\n"
    proven = "the search for a better plan ended early" if plan.gap else "no plan wastes less"
    rest = (
        f"{name} within {gap:.1%} of the best"
        for name, gap in zip(AIMS, plan.gaps, strict=True)
        if gap
    )
    return f"{text}{proven}: {', '.join(rest)}\n"


def kits_text(count: KitCount) -> str:
    """Return how many kits the stash yields, and which colour limits."""
    rows = [
        [colour, str(n), "limits" if colour in count.limiting else ""]
        for colour, n in count.per_colour.items()
    ]
    sure = (
        "no more is possible"
        if count.proven
        else f"no more than {count.bound}; the search for more ended early"
    )
    return f"{counted(count.kits, 'kit')} ({sure})\n" + table(["colour", "kits", ""], rows)


def shopping_text(shopping: ShoppingList, show: str = "metric") -> str:
    """Return what to buy: thread and skeins per colour, and the cost where it is known."""
    rows = []
    for line in shopping.lines:
        note = []
        if line.assumed:
            note.append(f"a skein is taken as {piece_text(line.skein_m * 1000.0, show)}")
        if line.least < line.skeins:
            note.append(f"perhaps {line.least}; ended early")
        cost = "?" if line.cost is None else f"{line.cost:.2f}"
        rows.append(
            [
                line.colour,
                str(line.cuts),
                total_text(line.need_mm, show),
                piece_text(line.held_mm, show),
                str(line.skeins),
                cost,
                "; ".join(note),
            ]
        )
    head = ["colour", "cuts", "thread", "on hand", "buy", "cost", ""]
    total = "not known" if shopping.cost is None else f"{shopping.cost:.2f} {shopping.currency}"
    skeins = sum(line.skeins for line in shopping.lines)
    kits = f"{shopping.kits} kit{'' if shopping.kits == 1 else 's'}"
    return (
        f"for {kits}: buy {skeins} skein{'' if skeins == 1 else 's'}, cost {total.strip()}\n"
        + table(head, rows)
    )


def stash_text(stash: Stash) -> str:
    """Return what is on hand."""
    rows = [
        [
            thread.name,
            thread.colour,
            f"{thread.diameter_mm:.2f} mm",
            piece_text(thread.total_mm, stash.show),
            ", ".join(piece_text(piece, stash.show) for piece in thread.pieces_mm) or "nothing",
        ]
        for thread in stash.threads
    ]
    return table(["thread", "colour", "thick", "in all", "pieces"], rows, 2)


def bookings_text(bookings: Sequence[Booking], show: str) -> str:
    """Return the book of what was cut, a booking a paragraph."""
    if not bookings:
        return "nothing was booked yet\n"
    lines = []
    for one in bookings:
        many = "1 band" if one.bands == 1 else f"{one.bands} bands"
        ends = f"; undone {_when(one.undone)}" if one.undone else ""
        where = f" ({one.pattern})" if one.pattern else ""
        lines.append(
            f"{one.number}. {_when(one.at)}: {many} of {total_text(one.length_mm, show)}, "
            f"{one.title or 'no title'}{where}{ends}"
        )
        for piece in one.pieces:
            left = f"{piece_text(piece.left_mm, show)} left"
            if piece.left_mm < max(one.useful_mm, 1.0):
                left += ", not kept"
            cuts = ", ".join(f"{label} {piece_text(mm, show)}" for label, mm in piece.cuts)
            lines.append(f"   {piece.thread} {piece_text(piece.piece_mm, show)}: {cuts}; {left}")
    return "\n".join(lines) + "\n"


def _when(at: str) -> str:
    """Return a time of the book as it is read: 2026-01-31 14:05 UTC."""
    return f"{at[:10]} {at[11:16]} UTC"
