"""From the shelf to the scissors: sheets of all wanted bands, kits, what to buy, what to pack.

Each function is one answer for several designs of a workroom at once; for one design they are the
calls of `motifsearch.runs.sheets`, `motifsearch.runs.one` and `motifsearch.runs.booking`.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping, Sequence
from typing import Any, Final

from motifsearch.base.errors import InputError
from motifsearch.base.units import cut_text, piece_text, total_text, width_text
from motifsearch.page.group import ROWS as HANGING_ROWS
from motifsearch.runs.booking import bookings, undo, use
from motifsearch.runs.box import read_box
from motifsearch.runs.candidate import Candidate, with_unknown
from motifsearch.runs.sheets import SHEETS, worksheet
from motifsearch.runs.trying import tried
from motifsearch.runs.versions import read_bytes, version_of
from motifsearch.runs.workroom import Workroom
from motifsearch.thread.batch import kit_cost
from motifsearch.thread.kits import kit_count, shopping_list
from motifsearch.thread.ledger import ChangedError
from motifsearch.thread.plan import plan_cuts
from motifsearch.thread.stash import Stash
from motifsearch.worksheet.cautions import CAUTIONS

#: Bands of one answer, at most.
MOST: Final = 60


def sheet(
    room: Workroom,
    ask: Mapping[str, Any],
    form: str = "pdf",
    *,
    left_handed: bool = False,
    teaching: bool = False,
) -> tuple[bytes, str]:
    """Return the worksheet of a design as it is now, and a name for its file.

    Args:
        room: The workroom.
        ask: The design (`motifsearch.runs.trying.tried`).
        form: "pdf", "md" or "txt".
        left_handed: Mirror the whole sheet.
        teaching: The short form for a class.

    Raises:
        InputError: The design or the form cannot be used.
    """
    made = tried(room, ask).candidate
    data, _ = worksheet(made, form=form, left_handed=left_handed, teaching=teaching)
    return data, f"{room.free_name(made.title)}.{form}"


def sheets(
    room: Workroom,
    asks: Sequence[Mapping[str, Any]],
    form: str = "pdf",
    *,
    left_handed: bool = False,
    teaching: bool = False,
) -> bytes:
    """Return the worksheets of several designs as one ZIP; see `sheet`.

    Raises:
        InputError: None, too many, or one that cannot be used.
    """
    if form not in SHEETS:
        raise InputError(f"expected one of {', '.join(SHEETS)}", form)
    _some(asks)
    files: dict[str, str | bytes] = {}
    for n, ask in enumerate(asks, 1):
        data, name = sheet(room, ask, form, left_handed=left_handed, teaching=teaching)
        files[f"{n}-{name}" if name in files else name] = data
    return _zipped(files)


def _zipped(files: Mapping[str, str | bytes]) -> bytes:
    """Return files as a ZIP, always the same bytes: its entries have the oldest date there is."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as pack:
        for name, data in files.items():
            pack.writestr(zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0)), data)
    return out.getvalue()


def kit_papers(room: Workroom, asks: Sequence[Mapping[str, Any]], number: int = 1) -> bytes:
    """Return what is handed out for a batch of kits as one ZIP: the files of `kits --out`.

    Args:
        room: The workroom.
        asks: The designs; a kit is one band of each.
        number: How many kits.

    Raises:
        InputError: No box, or a design that cannot be used, or too many kits for one batch.
        InfeasibleError: A cut is longer than a skein and than every piece on hand.
    """
    from motifsearch.runs.kitting import Kits

    made, stash = _kit(room, asks, number)
    shopping = shopping_list([one.cuts for one in made], stash, number)
    found = Kits(bands=tuple(made), count=None, shopping=shopping, stash=stash)
    return _zipped(found.files())


def _kit(
    room: Workroom, asks: Sequence[Mapping[str, Any]], number: int
) -> tuple[list[Candidate], Stash]:
    """Return the bands of a kit, and the box with what is to be bought first."""
    if not 1 <= number <= 1000:
        raise InputError("expected 1 to 1000 kits", number)
    made = _bands(room, asks)
    box = read_box(room)
    if box.stash is None:
        raise InputError(box.problem or "the box is empty: put threads into it first")
    stash = box.stash
    for one in made:
        stash = with_unknown(stash, one.pattern)
    return made, stash


def _some(asks: Sequence[Mapping[str, Any]]) -> None:
    if not 1 <= len(asks) <= MOST:
        raise InputError(f"expected 1 to {MOST} bands", len(asks))


def _bands(room: Workroom, asks: Sequence[Mapping[str, Any]]) -> list[Candidate]:
    _some(asks)
    return [tried(room, ask).candidate for ask in asks]


def together(room: Workroom, asks: Sequence[Mapping[str, Any]], number: int = 1) -> dict[str, Any]:
    """Return what several bands take together: kits, what to buy, what to pack, labels.

    Args:
        room: The workroom.
        asks: The designs; a kit is one band of each.
        number: How many kits are wanted.

    Returns:
        ``kits`` and ``limiting``: how many the box yields and which colour is short; ``buy``: a
        line a colour; ``cost``; ``each``: what one kit costs, None where that is not known or the
        box is not enough; ``pack``: texts a band; ``cautions``.

    Raises:
        InputError: No box, or a design that cannot be used.
        InfeasibleError: A cut is longer than a skein and than every piece on hand.
    """
    made, stash = _kit(room, asks, number)
    show = stash.show
    cuts = [one.cuts for one in made]
    count = kit_count(cuts, stash)
    buy = shopping_list(cuts, stash, number)
    plan = plan_cuts(cuts * number, stash) if len(cuts) * number <= MOST else None
    return {
        "kits": count.kits,
        "proven": count.proven,
        "limiting": list(count.limiting),
        "number": number,
        "buy": [
            {
                "colour": line.colour,
                "hex": stash.thread(line.colour).colour,
                "need": total_text(line.need_mm, show),
                "held": piece_text(line.held_mm, show),
                "skeins": line.skeins,
                "skein": piece_text(line.skein_m * 1000, show),
                "cost": line.cost,
            }
            for line in buy.lines
        ],
        "cost": buy.cost,
        "currency": buy.currency,
        "each": None if plan is None or plan.missing else kit_cost(cuts, stash, plan, number).cost,
        "enough": plan is not None and not plan.missing,
        "pack": [_packed(one) for one in made],
        "minutes": sum(float(one.scores["handling"]["minutes"]) for one in made),
        "cautions": list(CAUTIONS),
    }


def _packed(one: Candidate) -> dict[str, Any]:
    show = one.settings.show
    return {
        "title": one.title,
        "length": width_text(one.cuts.length_mm, show),
        "strands": one.pattern.strands,
        "lying": one.pattern.rows > HANGING_ROWS
        or bool(one.settings.brief is not None and one.settings.brief.text),
        "minutes": float(one.scores["handling"]["minutes"]),
        "threads": [
            {
                "label": cut.label,
                "colour": cut.colour,
                "hex": one.pattern.colours[cut.colour],
                "length": cut_text(cut.length_mm, show),
                "strands": [s + 1 for s in cut.strands],
            }
            for cut in one.cuts.cuts
        ],
    }


def book(room: Workroom, ask: Mapping[str, Any], bands: int, version: str | None) -> dict[str, Any]:
    """Cut for a design as it is now, and book it in the box.

    Args:
        room: The workroom.
        ask: The design.
        bands: How many.
        version: Of the box that was looked at; None for any.

    Raises:
        InfeasibleError: There is not enough thread; nothing is changed.
        ChangedError: The box was changed meanwhile; nothing is changed.
    """
    unchanged(room, version)
    made = tried(room, ask).candidate
    used = use(made, room.stash, bands=bands)
    assert used.booking is not None
    return {"number": used.booking.number, "version": version_of(read_bytes(room.stash))}


def unbook(room: Workroom, number: int | None, version: str | None = None) -> dict[str, Any]:
    """Take a booking back: its threads are in the box again.

    Raises:
        InputError: There is none, or a leftover of it is gone.
    """
    unchanged(room, version)
    undone = undo(room.stash, number)
    return {"number": undone.number, "version": version_of(read_bytes(room.stash))}


def unchanged(room: Workroom, version: str | None) -> None:
    """Refuse to cut from a box that is not the one that was looked at.

    Raises:
        ChangedError: It was changed meanwhile.
    """
    if version is not None and version_of(read_bytes(room.stash)) != version:
        raise ChangedError(
            f"{room.stash.name}: was changed meanwhile, in another window or by another program; "
            "nothing was cut"
        )


def booked(room: Workroom) -> list[dict[str, Any]]:
    """Return what was cut from the box, the last first."""
    if read_box(room).stash is None:
        return []
    return [
        {
            "number": one.number,
            "at": one.at,
            "title": one.title,
            "bands": one.bands,
            "lengthMm": one.length_mm,
            "undone": one.undone,
            "metres": round(sum(mm for p in one.pieces for _, mm in p.cuts) / 1000, 2),
        }
        for one in reversed(bookings(room.stash))
    ]
