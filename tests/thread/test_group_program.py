"""The best set of bands from one box, held against every set there is and against doing it by hand.

Nothing of ours decides what is right here: sets are listed one by one, and whether their cuts come
from the pieces is tried by putting every cut into every piece in turn.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from functools import cache
from itertools import product

import numpy as np
import pytest

from motifsearch.base.work import SECOND, Work
from motifsearch.thread.group import (
    GroupProblem,
    GroupSolution,
    Made,
    Offer,
    cut_colour,
    down_the_list,
    thriftily,
)
from motifsearch.thread.group_program import solve_alike, solve_group


@cache
def fits(pieces: tuple[int, ...], cuts: tuple[int, ...]) -> bool:
    """Whether all cuts come from the pieces: every cut is tried in every piece."""
    if not cuts:
        return True
    head, rest = cuts[0], cuts[1:]
    for n, piece in enumerate(pieces):
        if piece >= head and piece not in pieces[:n]:
            left = tuple(sorted((*pieces[:n], piece - head, *pieces[n + 1 :])))
            if fits(left, rest):
                return True
    return False


def possible(problem: GroupProblem, made: Sequence[Made]) -> bool:
    """Whether a set keeps every rule of its problem."""
    people = Counter(problem.offers[m.offer].person for m in made)
    designs = Counter(problem.offers[m.offer].design for m in made)
    faces = Counter((problem.offers[m.offer].design, m.row) for m in made)
    if any(n > problem.people[p] for p, n in people.items()):
        return False
    if any(n > problem.per_design for n in designs.values()):
        return False
    if any(n > problem.per_face for n in faces.values()):
        return False
    if problem.most_designs and len(designs) > problem.most_designs:
        return False
    if not all(np.isfinite(problem.offers[m.offer].worth[m.row]) for m in made):
        return False
    for colour, demand in problem.demand(made).items():
        pieces = tuple(sorted(cm for cm, n in problem.pieces[colour] for _ in range(n)))
        if not fits(pieces, tuple(sorted(demand.elements(), reverse=True))):
            return False
    return True


def best_by_force(problem: GroupProblem) -> tuple[int, float]:
    """The most bands, and with these the most worth, over every set."""
    choices = [
        [None, *(Made(k, r) for k, o in enumerate(problem.offers) if o.person == person
                 for r in range(len(o.worth)))]
        for person in problem.order
    ]  # fmt: skip
    best = (0, 0.0)
    for picked in product(*choices):
        made = [m for m in picked if m is not None]
        value = (len(made), problem.worth(made) if made else 0.0)
        if np.isfinite(value[1]) and value > best and possible(problem, made):
            best = value
    return best


def random_problem(rng: np.random.Generator, people: int, tight: bool) -> GroupProblem:
    """Two kinds of people, two designs of two classes, three colours of few pieces."""
    kinds = (people - people // 2, people // 2)
    colours = 3
    rows = np.array([(a, b) for a in range(colours) for b in range(colours) if a != b])
    offers = []
    for person in range(2):
        for design in range(2):
            worth = np.round(rng.random(len(rows)), 3)
            worth[rng.random(len(rows)) < 0.3] = -np.inf
            cuts = tuple(
                tuple(sorted(((int(cm), 1) for cm in set(rng.integers(8, 20, 2))), reverse=True))
                for _ in range(2)
            )
            offers.append(Offer(person, design, worth, cuts))
    most = 45 if tight else 90
    pieces = tuple(
        tuple(sorted(Counter(int(cm) for cm in rng.integers(15, most, 2)).items()))
        for _ in range(colours)
    )
    return GroupProblem(
        pieces, kinds, (rows, rows), tuple(offers), per_design=people, per_face=1,
        most_designs=int(rng.integers(0, 2)), order=tuple(n % 2 for n in range(people)),
    )  # fmt: skip


def check(problem: GroupProblem, found: GroupSolution) -> None:
    """A solution is what it says: its set is possible, and its pieces give exactly its cuts."""
    assert possible(problem, found.made)
    assert found.worth == pytest.approx(problem.worth(found.made))
    assert found.possible <= found.bound
    for colour, demand in problem.demand(found.made).items():
        cut: Counter[int] = Counter()
        used = Counter(piece for piece, _ in found.pieces[colour])
        assert used <= Counter(dict(problem.pieces[colour]))
        for piece, cuts in found.pieces[colour]:
            assert sum(cm * n for cm, n in cuts) <= piece
            cut.update(dict(cuts))
        assert cut == demand


@pytest.mark.parametrize("seed", range(40))
def test_small_boxes_are_solved_as_every_set_looked_at_says(seed: int) -> None:
    rng = np.random.default_rng(seed)
    problem = random_problem(rng, 3, tight=seed % 2 == 0)
    number, worth = best_by_force(problem)
    found = solve_group(problem, Work(5 * SECOND))
    check(problem, found)
    assert (found.possible, found.bound) == (number, number)
    assert found.worth == pytest.approx(worth)
    assert found.gap == 0


@pytest.mark.parametrize("seed", range(12))
def test_never_worse_than_going_down_the_list(seed: int) -> None:
    rng = np.random.default_rng(1000 + seed)
    problem = random_problem(rng, 8, tight=seed % 2 == 0)
    hand = down_the_list(problem)
    assert possible(problem, hand)
    found = solve_group(problem, Work(2 * SECOND))
    check(problem, found)
    assert (found.possible, found.worth) >= (len(hand), problem.worth(hand) - 1e-9)
    assert found.worth <= found.worth_bound + 1e-9


@pytest.mark.parametrize("seed", range(20))
def test_a_careful_hand_keeps_every_rule(seed: int) -> None:
    problem = random_problem(np.random.default_rng(300 + seed), 6, seed % 2 == 0)
    made = thriftily(problem)
    assert possible(problem, made)
    found = solve_group(problem, Work(SECOND))
    assert found.possible >= max(len(made), len(down_the_list(problem)))


def test_a_careful_hand_spares_what_is_scarce() -> None:
    """By hand: two people, a for either and b for the second alone.

    Down the list the first takes what is worth most, a, of which there is one, and the second goes
    without; who takes the least share of what is left takes b, and both have a band.
    """
    cuts = (((100, 1),),)
    problem = GroupProblem(
        pieces=(((100, 1),), ((100, 5),)),
        people=(1, 1),
        colourings=(np.array([[0], [1]]),),
        offers=(
            Offer(0, 0, np.array([0.9, 0.5]), cuts),
            Offer(1, 0, np.array([0.9, -np.inf]), cuts),
        ),
        per_design=2,
        per_face=2,
        order=(0, 1),
    )
    assert down_the_list(problem) == (Made(0, 0),)
    assert set(thriftily(problem)) == {Made(0, 1), Made(1, 0)}
    assert solve_group(problem).possible == 2


@pytest.mark.parametrize("seed", range(12))
def test_bands_that_look_the_same(seed: int) -> None:
    problem = random_problem(np.random.default_rng(2000 + seed), 4, tight=seed % 2 == 0)
    best = (0, 0.0)
    for design, rows in enumerate(problem.colourings):
        for row in range(len(rows)):
            choices = [
                [None, *(Made(k, row) for k, o in enumerate(problem.offers)
                         if o.person == person and o.design == design)]
                for person in problem.order
            ]  # fmt: skip
            for picked in product(*choices):
                made = [m for m in picked if m is not None]
                value = (len(made), problem.worth(made) if made else 0.0)
                alike = GroupProblem(
                    problem.pieces, problem.people, problem.colourings, problem.offers,
                    per_design=4, per_face=4, order=problem.order,
                )  # fmt: skip
                if np.isfinite(value[1]) and value > best and possible(alike, made):
                    best = value
    found = solve_alike(problem, Work(5 * SECOND))
    assert len({(problem.offers[m.offer].design, m.row) for m in found.made}) <= 1
    assert (found.possible, found.bound) == (best[0], best[0])
    assert found.worth == pytest.approx(best[1])


def test_a_worked_example_by_hand() -> None:
    # Two pieces of 10 cm; a band takes 6 and 4, or 5 and 5: two bands fit, three never do.
    rows = np.array([[0]])
    offers = (
        Offer(0, 0, np.array([1.0]), (((6, 1), (4, 1)),)),
        Offer(0, 1, np.array([2.0]), (((5, 2),),)),
    )
    problem = GroupProblem((((10, 2),),), (3,), (rows, rows), offers, per_design=3, per_face=3,
                           order=(0, 0, 0))  # fmt: skip
    found = solve_group(problem)
    assert (found.possible, found.bound, found.gap, found.worth) == (2, 2, 0.0, 4.0)
    assert found.made == (Made(1, 0), Made(1, 0))


def test_cuts_of_a_colour() -> None:
    assert cut_colour([(10, 1)], {6: 1, 5: 1}) is None
    assert cut_colour([(10, 1)], {}) == ()
    # Best-fit decreasing puts 6 and 3 into the piece of 10 and has no room for 5 and 4 and 2.
    pieces = cut_colour([(10, 2)], {6: 1, 5: 1, 4: 1, 3: 1, 2: 1}, Work(SECOND))
    assert pieces is not None
    assert sorted(sum(cm * n for cm, n in cuts) for _, cuts in pieces) == [10, 10]


def test_a_group_of_nobody_and_a_box_with_nothing() -> None:
    empty = GroupProblem((), (0,), (), (), order=())
    assert solve_group(empty).possible == 0
    rows = np.array([[0]])
    nothing = GroupProblem(((),), (1,), (rows,), (Offer(0, 0, np.array([1.0]), (((5, 1),),)),),
                           order=(0,))  # fmt: skip
    found = solve_group(nothing)
    assert (found.possible, found.bound) == (0, 0)
