"""What a group may choose from: designs, people and colourings as one problem.

An offer (`motifsearch.thread.group`) is one design for one kind of person, in every colouring from
the box.  The *worth* of a band is how well it meets the wishes; half of it, where a person likes
some colours, is the share of the face in these.  A band with a text is one of its letterings
(`motifsearch.runs.lettering`), in colours that are easy to tell apart.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from motifsearch.base.arrays import F64
from motifsearch.base.errors import InfeasibleError, InputError
from motifsearch.pattern.design import Pattern
from motifsearch.pattern.effort import effort
from motifsearch.runs.candidate import Candidate, assemble
from motifsearch.runs.handing import in_order
from motifsearch.runs.hooks import Hooks
from motifsearch.runs.lettering import lettered
from motifsearch.runs.settings import Settings, settings_of
from motifsearch.runs.workers import Workers
from motifsearch.search.colourings import Colourings, colourings
from motifsearch.search.group import Group, Person, too_hard
from motifsearch.search.island import Judge
from motifsearch.search.resolved import WISHES, Brief, Limits
from motifsearch.search.widths import Judges
from motifsearch.simulate.scores import score_pattern
from motifsearch.thread.cutting import CutList, cut_list
from motifsearch.thread.group import Cuts, GroupProblem, GroupSolution, Made, Offer
from motifsearch.thread.kits import ShoppingList, shopping_list
from motifsearch.thread.plan import CuttingPlan, PieceUse, as_plan, wanted_cuts
from motifsearch.thread.stash import Stash

#: How much of a band's worth is the share of liked colours, where some are liked.
LIKED: Final = 0.5
#: Colourings of all designs together that are looked at.
MOST_COLOURINGS: Final = 130_000
#: Letterings of a text, and how well their colours must be told apart (CIEDE2000).
LETTERINGS: Final = 2
LETTER_CONTRAST: Final = 30.0
#: A text with what it is made for, to its letterings.
Texts = Mapping[tuple[object, ...], Sequence[Pattern]]


def for_letters(brief: Brief) -> Brief:
    """Return the brief that letterings are judged by: they must be easy to read, and nothing else.

    The order of their knots is given by their letters, so limits of grids say nothing of them.
    """
    return replace(
        brief,
        colours_min=1,
        limits=Limits(
            repeat_rows_max=400,
            contrast_min=max(LETTER_CONTRAST, brief.limits.contrast_min),
            on_hand=False,
        ),
        wishes={name: float(name == "contrast") for name in WISHES},
        shares={},
    )


def lettered_for(wanted: Group, brief: Brief, workers: Workers, hooks: Hooks) -> Texts:
    """Return the letterings of every text at every length that it is wanted for."""
    out: dict[tuple[object, ...], Sequence[Pattern]] = {}
    for person in wanted.people:
        key = (person.text, person.length_mm)
        if not person.text or key in out:
            continue
        hooks.log(f"letters for {person.name} ...")
        own = replace(
            for_letters(brief),
            text=person.text,
            length_mm=person.length_mm,
            wrist_mm=person.wrist_mm,
            gallery_size=LETTERINGS,
        )
        try:
            out[key] = [one.pattern for one in lettered(own, workers=workers)]
        except (InputError, InfeasibleError) as bad:
            raise InfeasibleError(f"{person.name}: {bad}") from None
    return out


class Offers:
    """Designs, people and colourings as a problem of `motifsearch.thread.group`.

    Attributes:
        problem: The problem.
        kinds: The people of every kind, in the order of the list.
        looks: Every design in its colourings.
        who: From a band of the solution to its person; filled when it is solved.
        said: What should be said of it.
    """

    def __init__(
        self, wanted: Group, brief: Brief, designs: Sequence[Pattern], texts: Texts | None = None
    ) -> None:
        self.wanted, self.brief = wanted, brief
        self.said: tuple[str, ...] = ()
        self.kinds: list[list[Person]] = []
        at: dict[tuple[object, ...], int] = {}
        for one in wanted.people:
            n = at.setdefault(one.kind, len(self.kinds))
            if n == len(self.kinds):
                self.kinds.append([])
            self.kinds[n].append(one)
        self.order = tuple(at[one.kind] for one in wanted.people)
        judges = Judges(brief)
        most = max(200, MOST_COLOURINGS // max(1, len(designs)))
        self.looks = [
            colourings(p, judges.of(p.strands), most=most, seed=brief.search.seed + n)
            for n, p in enumerate(designs)
        ]
        #: By design: the text and the length that it is for; empty for designs of the search.
        self.text_of: list[tuple[object, ...]] = [()] * len(self.looks)
        for key, patterns in (texts or {}).items():
            judge = Judge(for_letters(brief))
            for p in patterns:
                self.looks.append(colourings(p, judge, most=most, seed=brief.search.seed))
                self.text_of.append(key)
        if not all(look.every for look in self.looks):
            self.said += (
                f"more colourings than can be looked at: {most:,} of a design were drawn; the "
                "bound holds for these",
            )
        self.cuts: dict[tuple[int, float, tuple[float, ...]], CutList] = {}
        self.who: dict[int, Person] = {}
        self.refused: set[tuple[int, int, int]] = set()
        self.offers: list[Offer] = []
        for k, (people, d) in (
            (k, (people, d)) for k, people in enumerate(self.kinds) for d in range(len(self.looks))
        ):
            self.offers += self._offers(k, people[0], d)
        self.problem = self._problem()

    def _problem(self) -> GroupProblem:
        number = len(self.wanted.people)
        stash = self.brief.stash
        pieces = tuple(
            tuple(sorted(Counter(int(mm // 10) for mm in stash.thread(n).pieces_mm).items()))
            for n in self.brief.palette
        )
        few = self.wanted.alike == "designs" and not all(self.text_of)
        each = number if few else max(1, -(-number // max(1, len(self.looks))))
        return GroupProblem(
            pieces=pieces,
            people=tuple(len(people) for people in self.kinds),
            colourings=tuple(look.colours for look in self.looks),
            offers=tuple(self.offers),
            per_design=each,
            per_face=1,
            most_designs=self.wanted.designs if few else 0,
            order=self.order,
        )

    def _offers(self, kind: int, person: Person, d: int) -> list[Offer]:
        """Return the offers of one design to one kind of person: one for each set of diameters."""
        look = self.looks[d]
        if self.text_of[d] != ((person.text, person.length_mm) if person.text else ()):
            return []
        if too_hard(effort(look.pattern).level, person.level) or not len(look.worth):
            return []
        worth = self.worth(person, look)
        palette = self.brief.palette
        thick = np.array([self.brief.stash.thread(n).diameter_mm for n in palette])[look.colours]
        found = []
        for row in np.unique(thick, axis=0):
            mine = (thick == row).all(1)
            own = np.where(mine, worth, -np.inf)
            if not np.isfinite(own).any():
                continue
            cuts = self.cut_list(d, person.length_mm, tuple(row.tolist()))
            found.append(Offer(kind, d, own, tuple(
                _whole(cuts, name) for name in look.classes
            )))  # fmt: skip
        return found

    def worth(self, person: Person, look: Colourings) -> F64:
        """Return what a design in every colouring is worth to a person, float64 ``[n]``."""
        worth = look.worth.copy()
        palette = self.brief.palette
        if person.colours:
            judge_share = _shares(look.pattern)
            liked = np.array([name in person.colours for name in palette])[look.colours]
            worth = (1.0 - LIKED) * worth + LIKED * (liked * judge_share).sum(1)
        refused = np.array([name in person.not_colours for name in palette])
        worth[refused[look.colours].any(1)] = -np.inf
        return np.round(worth, 9)

    def cut_list(self, d: int, length_mm: float, diameters: tuple[float, ...]) -> CutList:
        """Return what to cut for a design at a length, in its own colours, so thick by class."""
        key = (d, length_mm, diameters)
        if key not in self.cuts:
            look = self.looks[d]
            each = dict(zip(look.classes, diameters, strict=True))
            self.cuts[key] = cut_list(
                look.pattern,
                length_mm,
                model=self.brief.stash.model,
                diameters_mm=np.array([each[name] for name in look.pattern.colour_order]),
                allowances=self.brief.allowances,
                folded=self.brief.folded,
                goal=self.brief.pairing,
                simple=self.brief.cut_style == "simple",
            )
        return self.cuts[key]

    def forbid(self, made: Made) -> None:
        """Take a band out of what is offered: it breaks a limit at its own length."""
        offer = self.offers[made.offer]
        worth = offer.worth.copy()
        worth[made.row] = -np.inf
        self.offers[made.offer] = replace(offer, worth=worth)
        self.problem = replace(self.problem, offers=tuple(self.offers))

    def pattern(self, made: Made) -> Pattern:
        """Return a band's design in its colours."""
        look = self.looks[self.offers[made.offer].design]
        names = [self.brief.palette[c] for c in look.colours[made.row]]
        new = dict(zip(look.classes, names, strict=True))
        return replace(
            look.pattern,
            colour_order=tuple(new[name] for name in look.pattern.colour_order),
            colours={name: self.brief.stash.thread(name).colour for name in names},
        )

    def plan(
        self, solution: GroupSolution, candidates: Sequence[Candidate], made: Sequence[Made]
    ) -> CuttingPlan:
        """Return the plan that the program itself made, where no other is found."""
        waiting = wanted_cuts([one.cuts for one in candidates])
        used = []
        for colour, pieces in solution.pieces.items():
            name = self.brief.palette[colour]
            exact = sorted(self.brief.stash.thread(name).pieces_mm)
            for piece, cuts in pieces:
                whole = next(mm for mm in exact if int(mm // 10) == piece)
                exact.remove(whole)
                mine = tuple(
                    (waiting[name][10.0 * length].pop(0), 10.0 * length)
                    for length, times in cuts
                    for _ in range(times)
                )
                left = round(whole - sum(mm for _, mm in mine), 3)
                used.append(PieceUse(name, whole, mine, left))
        return in_order(replace(as_plan(used), gap=1.0), self.brief.stash)

    def to_buy(
        self, names: Sequence[str], after: Stash
    ) -> tuple[ShoppingList | None, tuple[str, ...]]:
        """Return what to buy for those without a band: for each the design worth most to them."""
        if not names:
            return None, ()
        lists, none = [], []
        for person in self.wanted.people:
            if person.name not in names:
                continue
            kind = next(k for k, people in enumerate(self.kinds) if person in people)
            mine = [n for n, offer in enumerate(self.offers) if offer.person == kind]
            best = max(mine, key=lambda n: float(self.offers[n].worth.max()), default=None)
            if best is None or not np.isfinite(self.offers[best].worth.max()):
                none.append(person.name)
                continue
            band = Made(best, int(self.offers[best].worth.argmax()))
            lists.append(assemble(self.pattern(band), self.settings(person, "A4")).cuts)
        said = tuple(f"{name}: no design keeps all that is asked for" for name in none)
        return (shopping_list(lists, after, 1) if lists else None), said

    def settings(self, person: Person, paper: str) -> Settings:
        """Return what a person's band is made with."""
        own = replace(self.brief, length_mm=person.length_mm, wrist_mm=person.wrist_mm)
        return settings_of(own, paper=paper)


def _shares(pattern: Pattern) -> F64:
    """Return the share of the face of every colour class, float64 ``[k]``."""
    share = score_pattern(pattern).colour.share
    return np.array([share[name] for name in pattern.palette])


def _whole(cuts: CutList, colour: str) -> Cuts:
    """Return the cuts of a colour as (cm, how often), longest first."""
    lengths = Counter(round(cut.length_mm / 10.0) for cut in cuts.cuts if cut.colour == colour)
    return tuple(sorted(lengths.items(), reverse=True))
