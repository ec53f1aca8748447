"""The book of what was cut for which band, and how a booking is taken back.

A **chain** is one piece and all cuts ever booked from it: a booking from a leftover goes on with
the chain of the booking that left it.  Let ``m`` be the length of the piece as it was first cut
into, and ``c_b`` what booking b took from it.  Then the chain's piece now measures::

    left = m - sum of c_b over the bookings b that stand (are not undone)

and it is on hand where it is useful (``left >= max(useful_mm, 1 mm)``), or nothing that stands was
cut from it.  To undo a booking is to leave its ``c_b`` out: of every chain that it cut from, the
piece as it is goes and the longer one comes.  So bookings can be undone in any order; only a
leftover that is no longer in the stash (cut by hand, thrown away) forbids it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

from motifsearch.base.errors import InputError
from motifsearch.base.units import piece_text
from motifsearch.thread.plan import CuttingPlan
from motifsearch.thread.stash import Stash

#: A chain: the booking that first cut into the piece, and which of its pieces it was (0-based).
Root = tuple[int, int]


@dataclass(frozen=True)
class Taken:
    """What a booking took from one piece.

    Attributes:
        thread: The thread's name.
        piece_mm: The piece before.
        cuts: (label, length in mm) of every cut from it.
        left_mm: What was left of it, useful or not.
        root: The chain that the piece continues; None where it is the first.
    """

    thread: str
    piece_mm: float
    cuts: tuple[tuple[str, float], ...]
    left_mm: float
    root: Root | None = None


@dataclass(frozen=True, kw_only=True)
class Booking:
    """What was cut, when, and for what.

    Attributes:
        number: 1-based, in order; never given twice.
        at: When, in UTC, as ISO 8601.
        title: The design's title.
        pattern: The design's file, as it was named; empty where it came from no file.
        bands: How many bands.
        length_mm: The knotted length of one.
        useful_mm: What was shorter was not kept.
        pieces: What was cut.
        undone: When it was undone; empty while it stands.
    """

    number: int
    at: str
    title: str = ""
    pattern: str = ""
    bands: int = 1
    length_mm: float = 0.0
    useful_mm: float = 0.0
    pieces: tuple[Taken, ...] = ()
    undone: str = ""


@dataclass
class _Chain:
    thread: str
    piece_mm: float
    cuts: dict[int, float] = field(default_factory=dict)
    useful: dict[int, float] = field(default_factory=dict)

    def on_hand(self, leave_out: int = 0) -> float | None:
        """Return the length of the chain's piece; None where it was too short to keep."""
        taken = {b: c for b, c in self.cuts.items() if b != leave_out}
        if not taken:
            return self.piece_mm
        left = round(self.piece_mm - sum(taken.values()), 3)
        return left if left >= max(self.useful[max(taken)], 1.0) else None


def _chains(bookings: Iterable[Booking]) -> dict[Root, _Chain]:
    found: dict[Root, _Chain] = {}
    for booking in bookings:
        for index, one in enumerate(booking.pieces):
            root = (booking.number, index)
            if one.root is not None and one.root in found:
                root = one.root
            else:
                found[root] = _Chain(one.thread, one.piece_mm)
            if not booking.undone:
                found[root].cuts[booking.number] = one.piece_mm - one.left_mm
                found[root].useful[booking.number] = booking.useful_mm
    return found


def taken(plan: CuttingPlan, bookings: Sequence[Booking]) -> tuple[Taken, ...]:
    """Return what a plan takes, each piece with the chain that it continues.

    Pieces of one thread and one length are alike, so any chain of that length is the right one.

    Args:
        plan: The cutting plan.
        bookings: All bookings before.
    """
    free: dict[tuple[str, float], list[Root]] = {}
    for root, chain in _chains(bookings).items():
        length = chain.on_hand()
        if length is not None:
            free.setdefault((chain.thread, length), []).append(root)
    pieces = []
    for piece in plan.pieces:
        roots = free.get((piece.thread, piece.piece_mm), [])
        goes_on = roots.pop() if roots else None
        pieces.append(Taken(piece.thread, piece.piece_mm, piece.cuts, piece.left_mm, goes_on))
    return tuple(pieces)


def standing(bookings: Sequence[Booking], number: int | None, source: str) -> Booking:
    """Return the booking of this number, or the last one that stands.

    Raises:
        InputError: There is none, or it is undone already.
    """
    if number is None:
        for booking in reversed(bookings):
            if not booking.undone:
                return booking
        raise InputError("expected a booking that stands; there is none", source=source)
    for booking in bookings:
        if booking.number == number:
            if booking.undone:
                raise InputError(f"booking {number} was undone at {booking.undone}", source=source)
            return booking
    known = f"1 to {bookings[-1].number}" if bookings else "none yet"
    raise InputError(f"expected the number of a booking ({known})", number, source=source)


def without(stash: Stash, bookings: Sequence[Booking], number: int) -> Stash:
    """Return the stash as it is when a booking is taken back.

    Args:
        stash: The threads on hand now.
        bookings: All bookings.
        number: The booking; it stands.

    Raises:
        InputError: A leftover that would become longer again is no longer in the stash.
    """
    gone: dict[str, Counter[float]] = {}
    back: dict[str, list[float]] = {}
    for chain in _chains(bookings).values():
        if number not in chain.cuts:
            continue
        now, then = chain.on_hand(), chain.on_hand(leave_out=number)
        if now is not None:
            gone.setdefault(chain.thread, Counter())[now] += 1
        if then is not None:
            back.setdefault(chain.thread, []).append(then)
    threads = []
    for name in {**gone, **back}:
        stash.thread(name)
    for thread in stash.threads:
        lost = gone.get(thread.name, Counter()).copy()
        kept = []
        for piece in thread.pieces_mm:
            if lost[piece]:
                lost[piece] -= 1
            else:
                kept.append(piece)
        if +lost:
            raise InputError(
                f"booking {number} cannot be undone: the leftover of "
                f"{piece_text(next(iter(+lost)), stash.show)} of {thread.name!r} is no longer in "
                "the stash; put back by hand what came back",
                source=stash.source or None,
            )
        longer = sorted(back.get(thread.name, []), reverse=True)
        threads.append(replace(thread, pieces_mm=(*kept, *longer)))
    return replace(stash, threads=tuple(threads))
