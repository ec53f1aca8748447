"""The sections of a worksheet before the first knot: what to cut and from what, and the set-up."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from motifsearch.base.text import clean_text, joined
from motifsearch.base.units import fine_texts, fold_words
from motifsearch.thread.texts import simple_text
from motifsearch.worksheet.blocks import (
    INCH_MM,
    Block,
    BoardBlock,
    Bullets,
    CutTable,
    Para,
    Say,
    Section,
    length,
)

if TYPE_CHECKING:
    from motifsearch.worksheet.content import Worksheet

#: mm; a loop that a braid of a dozen strands still goes through (common practice, no source).
LOOP_MM: Final = 15.0


def cutting(ws: Worksheet, say: Say) -> Section:
    """Return what to cut."""
    show, setting = ws.show, ws.setting
    rows = []
    for cut in ws.cuts.cuts:
        notches = [setting.notch(s) for s in cut.strands]
        cells = [
            length(cut.length_mm, show, up=True),
            " and ".join(str(n) for n in sorted(notches)),
            fold_words(cut.fold_mm, cut.length_mm, f"the end for notch {notches[0]}", show),
        ]
        if not ws.teaching:
            cells += [
                fine_texts(values, show)
                for values in (cut.need_mm, cut.margin_mm, cut.allowance_mm)
            ]
        rows.append((cut.label, cut.colour, tuple(cells)))
    head = ("Thread", "Colour", "Cut", "Notch", "Fold")
    blocks: list[Block] = [
        CutTable(head if ws.teaching else (*head, "Knots", "Margin", "Ends"), tuple(rows))
    ]
    if ws.cuts.exact_mm is not None:
        blocks.append(Para(simple_text(ws.cuts, show)))
    elif not ws.teaching:
        blocks.append(
            Para(
                "Cut is the whole thread: knots, margin and ends of its strands together, rounded "
                f"up{' to a whole centimetre' if show == 'metric' else ''}. Knots is what each "
                "strand uses in the band, margin what is added because no two hands pull alike, "
                "ends what is left over at the top and at the bottom for loop, braid and knot."
            )
        )
    if not ws.own_cuts:
        blocks.append(
            Para(
                "These lengths are worked out afresh for this band with the standard thread and an "
                "average hand; cut one trial band first."
            )
        )
    long_names = [name for name in ws.pattern.palette if clean_text(name) != ws.names[name]]
    if long_names:
        blocks.append(
            Bullets(
                tuple(
                    f"{say(ws.names[name])} stands for {say(clean_text(name))}"
                    for name in long_names
                )
            )
        )
    return Section("Cut", tuple(blocks))


def plan(ws: Worksheet, say: Say) -> Section:
    """Return which cut comes from which piece; the entry must have a plan."""
    plan, show = ws.entry.plan, ws.show
    assert plan is not None
    items = []
    for piece in plan.pieces:
        cuts = joined([f"{say(label)} ({length(mm, show, up=True)})" for label, mm in piece.cuts])
        left = f"{length(piece.left_mm, show)} is left" if piece.left_mm >= 5 else "nothing is left"
        items.append(
            f"{say(clean_text(piece.thread))}, the piece of {length(piece.piece_mm, show)}: "
            f"cut {cuts}; {left}."
        )
    for colour, label, mm in plan.missing:
        items.append(
            f"Missing: {say(clean_text(colour))}, {length(mm, show, up=True)} for {say(label)}."
        )
    return Section("Which piece to cut from", (Bullets(tuple(items)),))


def need(ws: Worksheet) -> Section:
    """Return what must be on the table."""
    from motifsearch.thread.model import ThreadModel

    notches = ws.setting.first_notch + ws.pattern.strands - 1
    thick = ws.cuts.length_mm / ws.cuts.rows / ThreadModel().row_gauge
    thickness = f"{thick:.1f} mm" if ws.show == "metric" else f"{thick / INCH_MM:.3f} in"
    return Section(
        "What you need",
        (
            Bullets(
                (
                    f"a board with notches up to number {notches}, and a clip or pins to hold "
                    "the knot",
                    "scissors and a tape measure",
                    f"stranded cotton in the colours above, about {thickness} thick: the lengths "
                    "are for that, and other thread needs its own",
                )
            ),
        ),
    )


def set_up(ws: Worksheet, say: Say) -> Section:
    """Return how threads are folded, tied and laid into the notches."""
    loop = length(LOOP_MM, ws.show)
    first, last = ws.setting.first_notch, ws.setting.first_notch + ws.pattern.strands - 1
    folded = [cut for cut in ws.cuts.cuts if cut.fold_mm is not None]
    items = []
    if folded:
        items.append("Fold every thread at its fold point, so that it gives two strands.")
        items.append(
            "Lay the folds side by side"
            + ("" if len(folded) == len(ws.cuts.cuts) else ", the single threads beside them")
            + f". Tie one overhand knot with all of them; above it stays a loop of about {loop}."
        )
    else:
        items.append(
            "Lay the ends side by side and tie one overhand knot with all of them, as far from the "
            f"ends as you want the braid to be long (about {length(LOOP_MM * 4, ws.show)})."
        )
    items.append(
        "Fix the knot above the middle of the board with the clip or a pin, and lay the strands "
        f"into notches {first} to {last}, as shown."
    )
    shown = zip(range(first, last + 1), ws.labels, ws.start, strict=True)
    lines = tuple(f"notch {n}: thread {label}, {say(ws.names[name])}" for n, label, name in shown)
    return Section("Set up", (Bullets(tuple(items), ordered=True), BoardBlock(lines)))
