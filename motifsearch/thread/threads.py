"""The threads on hand, as data: what a stash file says, and what follows from it at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from motifsearch.base.arrays import F64
from motifsearch.base.errors import InputError, nearest
from motifsearch.pattern.design import Pattern
from motifsearch.thread.model import ThreadModel

#: Metres in a skein where the stash does not say: stranded cotton is sold in about 8 m (common
#: practice, no source).
DEFAULT_SKEIN_M = 8.0


@dataclass(frozen=True)
class StashThread:
    """One kind of thread on hand.

    Attributes:
        name: The colour's name, as patterns call it.
        colour: ``#rrggbb``, lower case.
        diameter_mm: Measured, or computed from `tex`.
        tex: Linear density in g/km, when the stash gives it.
        pieces_mm: Lengths on hand, whole skeins and leftovers, as listed; may be empty.
        skein_m: Metres in a new skein, when the stash says so.
        price: Price of a new skein, when the stash says so.
    """

    name: str
    colour: str
    diameter_mm: float
    tex: float | None
    pieces_mm: tuple[float, ...]
    skein_m: float | None = None
    price: float | None = None

    @property
    def total_mm(self) -> float:
        """Millimetres on hand, all pieces together."""
        return float(sum(self.pieces_mm))

    def is_whole(self, piece_mm: float) -> bool:
        """Return whether a piece is a whole skein: 99 % of what a new one holds is there."""
        return piece_mm >= 990.0 * (self.skein_m or DEFAULT_SKEIN_M)


@dataclass(frozen=True)
class Stash:
    """All threads on hand.

    Attributes:
        threads: In the order of the file; names differ.
        show: "metric" or "imperial": how lengths are shown.
        model: The maker's tension: calibrated, or the stated defaults.
        currency: What prices are in; may be empty.
        source: The file that it came from, for messages.
        calibration: The calibration file as the stash names it; empty when there is none.
        minutes_per_knot: The maker's pace from the calibration; None when it is not known.
    """

    threads: tuple[StashThread, ...]
    show: str = "metric"
    model: ThreadModel = field(default_factory=ThreadModel)
    currency: str = ""
    source: str = ""
    calibration: str = ""
    minutes_per_knot: float | None = None

    @property
    def names(self) -> tuple[str, ...]:
        """The names of the threads, in order."""
        return tuple(t.name for t in self.threads)

    def thread(self, name: str) -> StashThread:
        """Return the thread of this name.

        Raises:
            InputError: The stash has none; the message names the nearest.
        """
        for thread in self.threads:
            if thread.name == name:
                return thread
        hint = nearest(name, self.names) or f"; threads: {', '.join(map(repr, self.names))}"
        raise InputError(
            f"expected a thread on hand{hint}", name, source=self.source or "stash", key="threads"
        )


def strand_diameters_mm(pattern: Pattern, stash: Stash, default_mm: float | None = None) -> F64:
    """Return the thread diameter of every strand, float64 ``[S]``, in mm.

    Args:
        pattern: The design.
        stash: The threads on hand.
        default_mm: What a colour that is not on hand is taken to have (it is to be bought);
            without it such a colour is an error.

    Raises:
        InputError: A colour of the pattern is not on hand, and there is no default.
    """
    of = {
        name: default_mm
        if default_mm is not None and name not in stash.names
        else stash.thread(name).diameter_mm
        for name in pattern.palette
    }
    return np.array([of[name] for name in pattern.colour_order])


def stash_bounds(stash: Stash) -> tuple[F64, F64]:
    """Return what no plan can exceed: the total and the longest piece of every thread.

    Returns:
        total_mm: float64 ``[k]``, in the order of ``stash.threads``.
        longest_mm: float64 ``[k]``; 0 where nothing is on hand.
    """
    total = np.array([t.total_mm for t in stash.threads], np.float64)
    longest = np.array([max(t.pieces_mm, default=0.0) for t in stash.threads], np.float64)
    return total, longest


def only_threads(stash: Stash, names: Sequence[str]) -> Stash:
    """Return the stash with only the threads of these names, in the stash's order.

    Raises:
        InputError: One of them is not on hand.
    """
    for name in names:
        stash.thread(name)
    return replace(stash, threads=tuple(t for t in stash.threads if t.name in names))
