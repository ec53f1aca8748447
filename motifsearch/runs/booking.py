"""Cut for a band and book it, read the book of what was cut, and take a booking back.

The run folder of a group is booked as it was planned, all bands in one booking.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from motifsearch.base.errors import InfeasibleError, InputError
from motifsearch.base.units import total_text
from motifsearch.pattern.design import Pattern
from motifsearch.runs.candidate import Candidate
from motifsearch.runs.handing import PLAN, read_plan
from motifsearch.runs.one import Design, candidate
from motifsearch.runs.rebuilding import open_run
from motifsearch.runs.settings import Asked, default_length
from motifsearch.thread import texts
from motifsearch.thread.bookings import Booking, standing, taken, without
from motifsearch.thread.kits import kit_count
from motifsearch.thread.ledger import ChangedError, book_entry, now, owned, read_ledger, undo_entry
from motifsearch.thread.plan import CuttingPlan, plan_cuts
from motifsearch.thread.stash import Stash, read_stash, stash_bytes
from motifsearch.thread.usage import use_stash


@dataclass(frozen=True, kw_only=True)
class Used:
    """What was cut.

    Attributes:
        band: The design as it is made; of a group, its first.
        plan: Which cut comes from which piece.
        after: The stash as it is afterwards.
        booking: What the book says of it; None when nothing was changed.
        said: Where the settings come from.
    """

    band: Candidate
    plan: CuttingPlan
    after: Stash
    booking: Booking | None
    said: tuple[str, ...]


def use(
    design: Design,
    stash: str | Path,
    *,
    bands: int = 1,
    asked: Asked | None = None,
    dry_run: bool = False,
) -> Used:
    """Plan the cuts of so many bands from a stash, book them, and write what is left.

    One booking at a time: another process waits for this one, and plans on what it leaves.

    Args:
        design: The design; or the run folder of a group, whose bands are all booked.
        stash: The stash file; its threads are those that are cut.
        bands: How many bands.
        asked: What else is to be other than in the design's own run.
        dry_run: Change nothing.

    Raises:
        InputError: The design or the stash cannot be used.
        InfeasibleError: There is not enough thread; nothing is changed.
        MotifError: The stash cannot be written; it is as it was.
    """
    path = Path(stash)
    if dry_run:
        on_hand = read_stash(path)
        band, said, plan = _planned(design, path, on_hand, bands, asked)
        return _used(band, plan, use_stash(on_hand, plan), None, said, asked)
    read_stash(path)  # what is no stash is refused before a lock stands beside it
    with owned(path) as book:
        for last in (False, False, True):
            before = book.stash.read_bytes()
            on_hand = read_stash(path)
            band, said, plan = _planned(design, path, on_hand, bands, asked)
            after = use_stash(on_hand, plan)
            booking = Booking(
                number=book.numbers + 1,
                at=now(),
                title=_title(design, band),
                pattern="" if isinstance(design, Candidate | Pattern) else str(design),
                bands=_number(design, bands),
                length_mm=band.settings.length_mm,
                useful_mm=plan.useful_mm,
                pieces=taken(plan, book.bookings),
            )
            try:
                book.commit(book_entry(booking), before, stash_bytes(before, after))
            except ChangedError:
                if last:
                    raise
                continue
            return _used(band, plan, after, booking, said, asked)
    raise AssertionError("the last try returns or raises")


def bookings(stash: str | Path) -> tuple[Booking, ...]:
    """Return what was cut from a stash, in order; what was undone too.

    Raises:
        InputError: The stash or its book cannot be read.
    """
    read_stash(stash)
    return read_ledger(stash).bookings


def bookings_text(stash: str | Path) -> str:
    """Return what was cut from a stash in words.

    Raises:
        InputError: As `bookings`.
    """
    on_hand = read_stash(stash)
    book = read_ledger(stash)
    text = texts.bookings_text(book.bookings, on_hand.show)
    if book.damaged:
        lines = ", ".join(map(str, book.damaged))
        text += f"{book.path}: cannot be read and is left out: line {lines}\n"
    return text


def undo(stash: str | Path, number: int | None = None) -> Booking:
    """Take back a booking: its pieces are in the stash again, as if they had not been cut.

    Args:
        stash: The stash file.
        number: The booking; the last one that stands when left out.

    Raises:
        InputError: There is no such booking, it is undone already, or one of its leftovers is no
            longer in the stash.
        MotifError: The files cannot be written; nothing is changed.
    """
    read_stash(stash)
    with owned(stash) as book:
        found = standing(book.bookings, number, str(stash))
        before = book.stash.read_bytes()
        after = without(read_stash(stash), book.bookings, found.number)
        book.commit(undo_entry(found.number), before, stash_bytes(before, after))
        return next(b for b in book.bookings if b.number == found.number)


def _group_of(design: Design) -> Path | None:
    """Return the run folder of a group; None where the design is one design.

    Raises:
        InputError: It is a folder, and not that of a group.
    """
    if isinstance(design, Candidate | Pattern) or not Path(design).is_dir():
        return None
    if not (Path(design) / PLAN).is_file():
        raise InputError("expected a pattern, or the run folder of a group", source=design)
    return Path(design)


def _number(design: Design, bands: int) -> int:
    folder = _group_of(design)
    return bands if folder is None else len(read_plan(folder)[1])


def _title(design: Design, band: Candidate) -> str:
    folder = _group_of(design)
    if folder is None:
        return band.title
    names = [name for name, _ in read_plan(folder)[1]]
    return shortened_names(band.settings.title or folder.name, names)


def shortened_names(title: str, names: Sequence[str], most: int = 6) -> str:
    """Return the title of a group's booking, with the first names.

    Examples:
        >>> shortened_names("Class", ["Mira", "Jo", "Bo"], 2)
        'Class (Mira, Jo and 1 more)'
    """
    more = len(names) - most
    tail = f" and {more} more" if more > 0 else ""
    return f"{title} ({', '.join(names[:most])}{tail})"


def _planned_group(
    folder: Path, path: Path, on_hand: Stash, bands: int, asked: Asked | None
) -> tuple[Candidate, tuple[str, ...], CuttingPlan]:
    """Return the plan of a group as it was printed; the box must still hold its pieces."""
    if bands != 1 or (asked is not None and asked != Asked()):
        raise InputError(
            "a group is booked as it was planned, without other settings", source=folder
        )
    plan, _ = read_plan(folder)
    try:
        use_stash(on_hand, plan)
    except InputError as bad:
        raise InfeasibleError(
            f"{path}: the box has changed since the group was planned ({bad}); "
            "plan it again with motifsearch group; nothing changed"
        ) from None
    return open_run(folder)[0], (), plan


def _planned(
    design: Design, path: Path, on_hand: Stash, bands: int, asked: Asked | None
) -> tuple[Candidate, tuple[str, ...], CuttingPlan]:
    folder = _group_of(design)
    if folder is not None:
        return _planned_group(folder, path, on_hand, bands, asked)
    band, said = candidate(design, replace(asked or Asked(), stash=on_hand))
    plan = plan_cuts([band.cuts] * bands, on_hand)
    if not plan.feasible and band.settings.style == "auto" and band.cuts.exact_mm is not None:
        # Cut simply it is not enough for all: then each thread to its need.
        exact = replace(asked or Asked(), stash=on_hand, style="exact")
        band, said = candidate(design, exact)
        plan = plan_cuts([band.cuts] * bands, on_hand)
    if not plan.feasible:
        raise InfeasibleError(f"{path}: {_short(band, plan, on_hand, bands)}; nothing changed")
    return band, said, plan


def _used(
    band: Candidate,
    plan: CuttingPlan,
    after: Stash,
    booking: Booking | None,
    said: tuple[str, ...],
    asked: Asked | None,
) -> Used:
    said = (*said, *default_length(band.settings, asked))
    return Used(band=band, plan=plan, after=after, booking=booking, said=said)


def _short(band: Candidate, plan: CuttingPlan, on_hand: Stash, bands: int) -> str:
    short: dict[str, float] = {}
    for colour, _, length in plan.missing:
        short[colour] = short.get(colour, 0.0) + length
    lacks = ", ".join(f"{c} {total_text(mm, on_hand.show)}" for c, mm in short.items())
    enough = ""
    if bands > 1:
        enough = f" (enough for {kit_count(band.cuts, on_hand).kits} of {bands} bands)"
    return f"not enough thread{enough}: short of {lacks}"
