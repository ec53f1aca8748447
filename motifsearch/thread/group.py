"""Several bands from one box: which design in which colours for whom, as a problem.

An *offer* is one design for one kind of person, in every colouring that may be chosen; every class
of equal strands of the design is cut from the thread of its colour.  A *set* gives at most one
offer in one colouring to every person, and all its cuts come from the pieces on hand.  Asked is, in
turn,

1. the largest number of bands,
2. among those the largest sum of their *worth*.

`motifsearch.thread.group_program.solve_group` finds it; `down_the_list` is what one would do by
hand, and where it starts from.  Nothing here knows of threads or people by name.  Lengths are whole
centimetres: what a maker reads off a tape (`motifsearch.thread.pairing.STEP_MM`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from motifsearch.base.work import SECOND, Work
from motifsearch.thread.stock import Kind, Problem, best_fit
from motifsearch.thread.stock_program import solve

IntArray = npt.NDArray[np.int64]
FloatArray = npt.NDArray[np.float64]
#: Lengths in cm, and how often each is cut, longest first.
Cuts = tuple[tuple[int, int], ...]
#: Work for a colour whose cuts best-fit decreasing does not place, and how often it is granted to
#: one person.
EXACT: Final = 0.05 * SECOND
EXACT_TRIES: Final = 20


@dataclass(frozen=True, eq=False)
class Offer:
    """One design for one kind of person.

    Attributes:
        person: Index of the kind of person.
        design: Index of the design.
        worth: float64 ``[n]``, of every colouring of the design; -inf where it may not be chosen.
        cuts: For every class of strands that share a colour, its cuts.
    """

    person: int
    design: int
    worth: FloatArray
    cuts: tuple[Cuts, ...]


@dataclass(frozen=True, eq=False)
class GroupProblem:
    """What may be made from what, and for whom.

    Attributes:
        pieces: For every colour, (length in cm, how many) of its pieces.
        people: How many there are of every kind of person.
        colourings: For every design, int64 ``[n, k]``: the colour of each of its k classes.
        offers: The offers.
        per_design: The most bands of one design.
        per_face: The most bands of one design in one colouring.
        most_designs: The most different designs; 0 for any number.
        order: Kinds of people in the order of the list, one entry a person.
    """

    pieces: tuple[tuple[tuple[int, int], ...], ...]
    people: tuple[int, ...]
    colourings: tuple[IntArray, ...]
    offers: tuple[Offer, ...]
    per_design: int = 1
    per_face: int = 1
    most_designs: int = 0
    order: tuple[int, ...] = ()

    @property
    def number(self) -> int:
        """How many bands are wanted."""
        return sum(self.people)

    def demand(self, made: Sequence[Made]) -> dict[int, Counter[int]]:
        """Return how often every length is cut, by colour."""
        found: dict[int, Counter[int]] = {}
        for one in made:
            offer = self.offers[one.offer]
            for colour, cuts in zip(
                self.colourings[offer.design][one.row], offer.cuts, strict=True
            ):
                for length, times in cuts:
                    found.setdefault(int(colour), Counter())[length] += times
        return found

    def worth(self, made: Sequence[Made]) -> float:
        """Return the sum of the worth of a set."""
        return float(sum(self.offers[one.offer].worth[one.row] for one in made))


@dataclass(frozen=True, order=True)
class Made:
    """One band of a set: an offer (its index) in one of its colourings (its index)."""

    offer: int
    row: int


#: A piece of a colour: its length in cm, and (length, how often) of what is cut from it.
Piece = tuple[int, Cuts]


@dataclass(frozen=True)
class GroupSolution:
    """The best set that was found, and how good any set can be.

    Attributes:
        made: The bands.
        pieces: By colour, the pieces that are cut into.
        worth: The sum of the worth of the bands.
        bound: No set has more bands.
        worth_bound: No set of as many bands has more worth; infinite where nothing is proven.
    """

    made: tuple[Made, ...]
    pieces: Mapping[int, tuple[Piece, ...]]
    worth: float
    bound: int
    worth_bound: float

    @property
    def possible(self) -> int:
        """The number of bands."""
        return len(self.made)

    @property
    def gap(self) -> float:
        """How far the set may be from the best, as a fraction: of the number, or else of the worth.

        0 when it is proven that no set has more bands, or as many and more worth.
        """
        if self.possible < self.bound:
            return 1.0 - self.possible / self.bound
        if self.worth_bound - self.worth <= 1e-6 * max(1.0, self.worth):
            return 0.0
        return 1.0 - self.worth / self.worth_bound


def cut_colour(
    pieces: Sequence[tuple[int, int]], demand: Mapping[int, int], work: Work | None = None
) -> tuple[Piece, ...] | None:
    """Return how all cuts of one colour come from its pieces; None where no way was found.

    Args:
        pieces: (length in cm, how many).
        demand: Length in cm to how often it is cut.
        work: What may be spent where best-fit decreasing fails; nothing when left out.

    Examples:
        >>> cut_colour([(800, 1), (400, 1)], {300: 3, 200: 1})
        ((400, ((300, 1),)), (800, ((300, 2), (200, 1))))
    """
    lengths = tuple(sorted((cm for cm, n in demand.items() if n), reverse=True))
    if not lengths:
        return ()
    total = sum(length * demand[length] for length in lengths)
    longest = max((length for length, _ in pieces), default=0)
    if total > sum(cm * n for cm, n in pieces) or lengths[0] > longest:
        return None
    problem = Problem(
        tuple(Kind(float(length), n) for length, n in pieces),
        tuple(map(float, lengths)),
        tuple(demand[length] for length in lengths),
    )
    filled, missing = best_fit(problem)
    if any(missing):
        if work is None:
            return None
        found = solve(problem, work, (0,))
        if any(found.missing):
            return None
        filled = list(found.filled)
    return tuple(
        sorted(
            (
                pieces[one.kind][0],
                tuple((length, n) for length, n in zip(lengths, one.cuts, strict=True) if n),
            )
            for one in filled
        )
    )


def cut_all(
    problem: GroupProblem, made: Sequence[Made], work: Work | None = None
) -> dict[int, tuple[Piece, ...]] | None:
    """Return how all cuts of a set come from the pieces; None where no way was found."""
    found: dict[int, tuple[Piece, ...]] = {}
    for colour, demand in sorted(problem.demand(made).items()):
        part = None if work is None else Work(work.left)
        one = cut_colour(problem.pieces[colour], demand, part)
        if one is None:
            return None
        found[colour] = one
    return found


class _Box:
    """The box as it gets emptier; cuts that were promised may still be cut otherwise."""

    def __init__(self, problem: GroupProblem) -> None:
        self.problem = problem
        self.left = np.array([sum(cm * n for cm, n in own) for own in problem.pieces], np.int64)
        self.longest = np.array([max((cm for cm, _ in own), default=0) for own in problem.pieces])
        self.demand: dict[int, Counter[int]] = {}

    def may(self, offer: Offer) -> tuple[npt.NDArray[np.bool_], FloatArray]:
        """Return which colourings are not plainly too much, and what each takes of what is left.

        Returns:
            bool ``[n]``, and float64 ``[n]``: for every colour the share of its thread that is
            left, added up.
        """
        colours = self.problem.colourings[offer.design]
        total = np.zeros((len(colours), len(self.left)), np.int64)
        rows = np.arange(len(colours))
        good = np.isfinite(offer.worth)
        for k, cuts in enumerate(offer.cuts):
            np.add.at(total, (rows, colours[:, k]), sum(cm * n for cm, n in cuts))
            good &= self.longest[colours[:, k]] >= max(cm for cm, _ in cuts)
        return good & (total <= self.left).all(1), (total / np.maximum(self.left, 1)).sum(1)

    def take(self, one: Made, exact: bool) -> bool:
        """Take a band's cuts if they can be had."""
        more = self.problem.demand([one])
        for colour, cuts in more.items():
            whole = self.demand.get(colour, Counter()) + cuts
            work = Work(EXACT) if exact else None
            if cut_colour(self.problem.pieces[colour], whole, work) is None:
                return False
        for colour, cuts in more.items():
            self.demand[colour] = self.demand.get(colour, Counter()) + cuts
            self.left[colour] -= sum(cm * n for cm, n in cuts.items())
        return True


def down_the_list(problem: GroupProblem) -> tuple[Made, ...]:
    """Return what is made by hand: to each in turn the best design that still fits."""
    return _in_turn(problem, problem.order, thrifty=False)


def thriftily(problem: GroupProblem) -> tuple[Made, ...]:
    """Return as many bands as a careful hand makes: the short ones first, of what there is most of.

    To each in turn, those with the shortest bands first, the band that takes the least share of
    what is left of its colours.
    """
    least = dict.fromkeys(range(len(problem.people)), 10**9)
    for offer in problem.offers:
        if np.isfinite(offer.worth).any():
            need = sum(cm * n for cuts in offer.cuts for cm, n in cuts)
            least[offer.person] = min(least[offer.person], need)
    order = sorted(problem.order, key=lambda person: (least[person], person))
    return _in_turn(problem, order, thrifty=True)


def _in_turn(problem: GroupProblem, order: Sequence[int], *, thrifty: bool) -> tuple[Made, ...]:
    box, made = _Box(problem), list[Made]()
    designs: Counter[int] = Counter()
    faces: Counter[tuple[int, int]] = Counter()
    for person in order:
        best: list[tuple[float, int, int]] = []
        for k, offer in enumerate(problem.offers):
            d = offer.design
            known = problem.most_designs and len(designs) >= problem.most_designs
            if (
                offer.person != person
                or designs[d] >= problem.per_design
                or (known and not designs[d])
            ):
                continue
            good, share = box.may(offer)
            rows = np.flatnonzero(good)
            rank = share if thrifty else -offer.worth
            best += [(round(float(rank[r]), 9), k, int(r)) for r in rows]
        best.sort()
        tries = EXACT_TRIES
        for _, k, row in best:
            d = problem.offers[k].design
            if faces[d, row] >= problem.per_face:
                continue
            one = Made(k, row)
            if not box.take(one, tries > 0):
                tries -= 1
                if tries < -200:
                    break
                continue
            made.append(one)
            designs[d] += 1
            faces[d, row] += 1
            break
    return tuple(made)


def only(problem: GroupProblem, offers: Sequence[int]) -> GroupProblem:
    """Return the problem with some of its offers, which keep their order."""
    return replace(problem, offers=tuple(problem.offers[k] for k in offers))
