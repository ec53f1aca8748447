"""A batch of kits: all their cuts in one plan, in the order of the pieces, and what a kit costs.

What has to be bought is bought first (`motifsearch.thread.kits.shopping_list`), so that every cut
of every kit has its piece.  The cost of a kit is, for every colour,

    (its cuts + its share of the waste) x price of a skein / length of a skein,

and what else goes into a bag.  Waste is what the plan of the whole batch leaves that is shorter
than the shortest cut; longer leftovers go back into the box and are not charged.  Every line is
rounded to a hundredth, and the cost is the sum of the lines as they are shown.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import Final

from motifsearch.base.errors import InfeasibleError, InputError
from motifsearch.base.text import clean_text
from motifsearch.base.work import Work
from motifsearch.thread.cutting import CutList
from motifsearch.thread.kits import ShoppingList
from motifsearch.thread.plan import CuttingPlan, PieceUse, plan_cuts
from motifsearch.thread.stash import Stash
from motifsearch.thread.threads import DEFAULT_SKEIN_M

#: Kits of one batch, at most.
MOST_KITS: Final = 1000
#: The most that something else in a bag costs, and the longest name for it.
MOST_COST: Final = 1e6
LONGEST_NAME: Final = 60


@dataclass(frozen=True)
class Extra:
    """Something else that goes into every kit.

    Attributes:
        name: What it is.
        cost: For one kit.
    """

    name: str
    cost: float


@dataclass(frozen=True)
class ThreadCost:
    """What the thread of one colour costs in one kit.

    Attributes:
        colour: The colour's name.
        used_mm: All its cuts in one kit.
        waste_mm: Its share of what the whole batch wastes.
        skein_m: Metres in a new skein.
        assumed: Whether `skein_m` is the stated default, the stash being silent.
        price: Of one skein; None when the stash is silent.
    """

    colour: str
    used_mm: float
    waste_mm: float
    skein_m: float
    assumed: bool
    price: float | None

    @property
    def per_m(self) -> float | None:
        """What a metre costs; None when it is not known."""
        return None if self.price is None else self.price / self.skein_m

    @property
    def cost(self) -> float | None:
        """Used and wasted, at the price of a metre, to a hundredth; None when it is not known."""
        per_m = self.per_m
        return None if per_m is None else hundredths((self.used_mm + self.waste_mm) / 1e3 * per_m)


@dataclass(frozen=True)
class KitCost:
    """What one kit costs, and how that is reckoned.

    Attributes:
        threads: One for every colour.
        extras: What else goes into a kit.
        currency: What prices are in; may be empty.
    """

    threads: tuple[ThreadCost, ...]
    extras: tuple[Extra, ...] = ()
    currency: str = ""

    @property
    def unknown(self) -> tuple[str, ...]:
        """The colours whose price is not known."""
        return tuple(one.colour for one in self.threads if one.price is None)

    @property
    def asked(self) -> bool:
        """Whether anything is known of costs: a price of thread, or what else goes in."""
        return bool(self.extras) or any(one.price is not None for one in self.threads)

    @property
    def cost(self) -> float | None:
        """What one kit costs; None when the price of a colour is not known."""
        costs = [one.cost for one in self.threads]
        if None in costs:
            return None
        total = sum(c for c in costs if c is not None)
        return hundredths(total + sum(hundredths(one.cost) for one in self.extras))


@dataclass(frozen=True)
class BatchCut:
    """One cut of a batch.

    Attributes:
        kit: Which kit it is for, from 1.
        band: Which band of the kit, from 1.
        label: The cut's own label in the band's cut list.
        length_mm: The cut.
    """

    kit: int
    band: int
    label: str
    length_mm: float


@dataclass(frozen=True)
class Taken:
    """One piece, as it is taken up and cut.

    Attributes:
        colour: The thread's name.
        place: Which of its colour's pieces it is, from 1; new skeins come after those on hand.
        new: Whether it is a skein that has to be bought.
        piece_mm: The piece before.
        cuts: In the order in which they are cut, the longest first.
        left_mm: What is left of it.
        waste: Whether that is too short for the shortest cut.
        kept: Whether it goes back into the box.
    """

    colour: str
    place: int
    new: bool
    piece_mm: float
    cuts: tuple[BatchCut, ...]
    left_mm: float
    waste: bool
    kept: bool

    @property
    def way(self) -> tuple[object, ...]:
        """What two pieces share that are cut alike."""
        return (self.colour, self.new, self.piece_mm, tuple(cut.length_mm for cut in self.cuts),
                tuple((cut.band, cut.label) for cut in self.cuts))  # fmt: skip


@dataclass(frozen=True)
class Batch:
    """A batch of kits.

    Attributes:
        kits: How many kits.
        bands: How many bands one kit has.
        pieces: The pieces that are cut into, in the order of the stash.
        bought: Colour to the new skeins that it takes.
        cost: What one kit costs.
        plan: The plan of all cuts; the label of a cut begins with the number of its band among all.
        show: "metric" or "imperial".
    """

    kits: int
    bands: int
    pieces: tuple[Taken, ...]
    bought: Mapping[str, int]
    cost: KitCost
    plan: CuttingPlan
    show: str = "metric"

    def alike(self) -> Iterator[list[Taken]]:
        """Yield the pieces that follow one another and are cut alike, together."""
        for _, group in groupby(self.pieces, key=lambda piece: piece.way):
            yield list(group)


def parted(label: str) -> tuple[int, str]:
    """Return the number of the band, and the cut's own label.

    Examples:
        >>> parted("12AB")
        (12, 'AB')
    """
    own = label.lstrip("0123456789")
    return int(label[: len(label) - len(own)]), own


def placed(plan: CuttingPlan, stash: Stash) -> list[tuple[PieceUse, int]]:
    """Return the pieces of a plan with their places, from 0, among their colour's in the stash.

    They come in the order of the stash: colour by colour, piece by piece.
    """
    taken: dict[str, set[int]] = {}
    out = []
    for piece in plan.pieces:
        mine = taken.setdefault(piece.thread, set())
        pieces = stash.thread(piece.thread).pieces_mm
        at = next(n for n, mm in enumerate(pieces) if mm == piece.piece_mm and n not in mine)
        mine.add(at)
        out.append((piece, at))
    order = {name: n for n, name in enumerate(stash.names)}
    return sorted(out, key=lambda pair: (order[pair[0].thread], pair[1]))


def batch(
    kit: Sequence[CutList],
    stash: Stash,
    kits: int,
    *,
    shopping: ShoppingList | None = None,
    extras: Sequence[Extra] = (),
    work: Work | None = None,
) -> Batch:
    """Return a number of kits as one batch.

    Args:
        kit: The cut list of every band of one kit.
        stash: The threads on hand; it names every colour, if only to say that there is none.
        kits: How many.
        shopping: What is bought before; nothing when None.
        extras: What else goes into a kit.
        work: What may be spent; see `motifsearch.thread.plan.plan_cuts`.

    Raises:
        InputError: None, or more than `MOST_KITS`.
        InfeasibleError: The threads are not enough for so many.
    """
    if not 1 <= kits <= MOST_KITS:
        raise InputError(f"expected 1 to {MOST_KITS} kits in one batch", kits, source="--number")
    bought = {one.colour: one.skeins for one in shopping.lines if one.skeins} if shopping else {}
    held = {t.name: len(t.pieces_mm) for t in stash.threads}
    full = replace(
        stash,
        threads=tuple(
            replace(t, pieces_mm=(*t.pieces_mm, *[_skein_mm(t.skein_m)] * bought.get(t.name, 0)))
            for t in stash.threads
        ),
    )
    # Of cuts that are alike the first go to the first kit.
    plan = plan_cuts(list(kit) * kits, full, work=work)
    if plan.missing:
        colour = plan.missing[0][0]
        raise InfeasibleError(
            f"no way was found to cut {kits} kits: {len(plan.missing)} cuts are missing, the first "
            f"of {colour}"
        )
    if len(kit) * kits == 1:  # the labels have no number yet
        plan = replace(plan, pieces=tuple(
            replace(p, cuts=tuple((f"1{label}", mm) for label, mm in p.cuts)) for p in plan.pieces
        ))  # fmt: skip
    pieces = tuple(
        Taken(
            piece.thread,
            at + 1,
            at >= held[piece.thread],
            piece.piece_mm,
            tuple(_cut(label, mm, len(kit)) for label, mm in piece.cuts),
            piece.left_mm,
            piece.left_mm < plan.shortest_mm,
            piece.left_mm >= max(plan.useful_mm, 1.0),
        )
        for piece, at in placed(plan, full)
    )
    return Batch(
        kits, len(kit), pieces, bought, kit_cost(kit, stash, plan, kits, extras), plan, stash.show
    )


def _skein_mm(skein_m: float | None) -> float:
    return 1000.0 * (skein_m or DEFAULT_SKEIN_M)


def _cut(label: str, mm: float, bands: int) -> BatchCut:
    number, own = parted(label)
    return BatchCut((number - 1) // bands + 1, (number - 1) % bands + 1, own, mm)


def kit_cost(
    kit: Sequence[CutList], stash: Stash, plan: CuttingPlan, kits: int, extras: Sequence[Extra] = ()
) -> KitCost:
    """Return what one kit of a batch costs.

    Args:
        kit: The cut list of every band of one kit.
        stash: The threads, with what a new skein holds and costs.
        plan: The plan of the whole batch.
        kits: How many kits it is for.
        extras: What else goes into a kit.
    """
    used: dict[str, float] = {}
    for one in kit:
        for cut in one.cuts:
            used[cut.colour] = used.get(cut.colour, 0.0) + cut.length_mm
    waste = dict.fromkeys(used, 0.0)
    for piece in plan.pieces:
        if piece.left_mm < plan.shortest_mm:
            waste[piece.thread] += piece.left_mm
    threads = []
    for name in used:
        thread = stash.thread(name)
        threads.append(
            ThreadCost(
                name,
                used[name],
                waste[name] / kits,
                thread.skein_m or DEFAULT_SKEIN_M,
                thread.skein_m is None,
                thread.price,
            )
        )
    return KitCost(tuple(threads), tuple(extras), stash.currency)


def extra_of(text: str) -> Extra:
    """Return what else goes into a kit: ``NAME=COST``, or the cost alone.

    Raises:
        InputError: It is neither.

    Examples:
        >>> extra_of("bag = 0.20"), extra_of("0.5")
        (Extra(name='bag', cost=0.2), Extra(name='other costs', cost=0.5))
    """
    name, _, cost = text.rpartition("=")
    try:
        value = float(cost)
    except ValueError:
        value = math.nan
    if not 0 <= value <= MOST_COST:
        raise InputError("expected NAME=COST, such as bag=0.20", text, source="--extra")
    return Extra(clean_text(name.strip(), LONGEST_NAME) or "other costs", value)


def hundredths(value: float) -> float:
    """Return an amount to a hundredth, halves up.

    Examples:
        >>> hundredths(0.125), hundredths(1.1), hundredths(2.0049)
        (0.13, 1.1, 2.0)
    """
    return math.floor(value * 100.0 + 0.5 + 1e-9) / 100.0
