"""Kits: how many bands the stash yields, and what to buy for more.

A kit is one band of every cut list that is given (give a list twice for two of it).  Colours do
not mix, so each colour has its own largest number of kits, and the least of them counts: that
colour is what limits.  Both questions are answered exactly, as cutting stock problems.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from motifsearch.base.errors import InfeasibleError
from motifsearch.base.units import piece_text
from motifsearch.base.work import SECOND, Work
from motifsearch.thread.cutting import CutList
from motifsearch.thread.plan import Wanted, colour_problem, wanted_cuts
from motifsearch.thread.stash import Stash
from motifsearch.thread.stock import Problem
from motifsearch.thread.stock_program import fewest_new, most_sets
from motifsearch.thread.threads import DEFAULT_SKEIN_M

#: Work that a question is granted.
GRANTED: Final = 10.0 * SECOND


@dataclass(frozen=True)
class KitCount:
    """How many kits the stash yields.

    Attributes:
        kits: The number that can be cut.
        bound: No more than this can be; equal to `kits` when proven.
        per_colour: Colour to the kits that it would yield by itself.
        limiting: The colours that yield no more than `kits`.
    """

    kits: int
    bound: int
    per_colour: dict[str, int]
    limiting: tuple[str, ...]

    @property
    def proven(self) -> bool:
        """Whether no plan yields more."""
        return self.kits == self.bound


@dataclass(frozen=True)
class ToBuy:
    """One colour of a shopping list.

    Attributes:
        colour: The colour's name.
        need_mm: All its cuts together.
        cuts: How many cuts.
        held_mm: On hand before, all pieces together; 0 when the stash is not used.
        skeins: New skeins to buy.
        least: No fewer will do; equal to `skeins` when proven.
        skein_m: Metres in a new skein.
        assumed: Whether `skein_m` is the stated default, the stash being silent.
        price: Of one skein; None when the stash is silent.
    """

    colour: str
    need_mm: float
    cuts: int
    held_mm: float
    skeins: int
    least: int
    skein_m: float
    assumed: bool
    price: float | None

    @property
    def cost(self) -> float | None:
        """What the skeins cost; None when the price is not known and some must be bought."""
        if not self.skeins:
            return 0.0
        return None if self.price is None else self.skeins * self.price


@dataclass(frozen=True)
class ShoppingList:
    """What to buy for a number of kits.

    Attributes:
        kits: The number of kits.
        lines: One for every colour.
        currency: What prices are in; may be empty.
    """

    kits: int
    lines: tuple[ToBuy, ...]
    currency: str = ""

    @property
    def cost(self) -> float | None:
        """What all skeins cost; None when a price that is needed is not known."""
        costs = [line.cost for line in self.lines]
        return None if None in costs else float(sum(c for c in costs if c is not None))


def kit_count(
    kit: CutList | Sequence[CutList], stash: Stash, *, work: Work | None = None
) -> KitCount:
    """Return how many kits the stash yields.

    Args:
        kit: The cut list of the band, or of every band of one kit.
        stash: The threads on hand.
        work: What may be spent, about ten seconds when left out; where it is used up, `bound`
            stays above `kits`.

    Raises:
        InputError: A colour is not on hand.
    """
    work = Work(GRANTED) if work is None else work
    wanted = wanted_cuts(kit)
    threads = {colour: stash.thread(colour) for colour in wanted}
    counts: dict[str, tuple[int, int]] = {}
    for n, (colour, lengths) in enumerate(wanted.items()):
        mine = work.part(1.0 / (len(wanted) - n))
        before = mine.left
        counts[colour] = most_sets(colour_problem(lengths, threads[colour], 0.0), mine)
        work.spend(before - mine.left)
    kits = min((low for low, _ in counts.values()), default=0)
    return KitCount(
        kits,
        min((high for _, high in counts.values()), default=0),
        {colour: low for colour, (low, _) in counts.items()},
        tuple(colour for colour, (low, _) in counts.items() if low == kits),
    )


def shopping_list(
    kit: CutList | Sequence[CutList],
    stash: Stash,
    kits: int,
    *,
    use_stash: bool = True,
    work: Work | None = None,
) -> ShoppingList:
    """Return what to buy for a number of kits: the fewest skeins of every colour.

    A colour that the stash does not name is bought in skeins of `DEFAULT_SKEIN_M`.

    Args:
        kit: The cut list of the band, or of every band of one kit.
        stash: The threads on hand, with what a new skein holds and costs.
        kits: How many kits.
        use_stash: Cut from the threads on hand first.
        work: What may be spent, about ten seconds when left out; where it is used up, `least`
            stays below `skeins`.

    Raises:
        InfeasibleError: A cut is longer than a skein and than every piece on hand.
    """
    work = Work(GRANTED) if work is None else work
    wanted: Wanted = wanted_cuts(kit)
    lines = []
    for n, (colour, lengths) in enumerate(wanted.items()):
        thread = stash.thread(colour) if colour in stash.names else None
        skein_m = thread.skein_m if thread and thread.skein_m else DEFAULT_SKEIN_M
        held = thread if use_stash else None
        one = colour_problem(lengths, held, 0.0)
        problem = Problem(one.kinds, one.lengths, tuple(d * kits for d in one.demand))
        mine = work.part(1.0 / (len(wanted) - n))
        before = mine.left
        found, skeins, least = fewest_new(problem, skein_m * 1000.0, mine)
        work.spend(before - mine.left)
        if any(found.missing):
            longest = max(problem.lengths)
            raise InfeasibleError(
                f"{colour}: a cut of {piece_text(longest, stash.show)} fits no piece on hand and "
                f"no skein of {piece_text(skein_m * 1000.0, stash.show)}"
            )
        lines.append(
            ToBuy(
                colour,
                sum(d * length for d, length in zip(problem.demand, problem.lengths, strict=True)),
                sum(problem.demand),
                held.total_mm if held else 0.0,
                skeins,
                least,
                skein_m,
                thread is None or thread.skein_m is None,
                thread.price if thread else None,
            )
        )
    return ShoppingList(kits, tuple(lines), stash.currency)
