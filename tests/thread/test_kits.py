"""Kits: the largest number from the stash, and the least that must be bought."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from motifsearch.base.errors import InfeasibleError, InputError
from motifsearch.pattern.design import make_pattern
from motifsearch.thread.cutting import Cut, CutList, cut_list
from motifsearch.thread.kits import kit_count, shopping_list
from motifsearch.thread.plan import plan_cuts
from motifsearch.thread.stash import Stash, StashThread
from motifsearch.thread.texts import kits_text, shopping_text


def a_list(**colours: list[float]) -> CutList:
    named = [(c, v) for c, lengths in colours.items() for v in lengths]
    return CutList(
        tuple(
            Cut(chr(65 + n), c, (0,), (v,), (0.0,), (0.0,), v, None)
            for n, (c, v) in enumerate(named)
        ),
        10,
        15.0,
    )


def a_stash(price: float | None = 1.5, **colours: list[float]) -> Stash:
    return Stash(
        tuple(
            StashThread(name, "#112233", 0.6, None, tuple(pieces), 8.0, price)
            for name, pieces in colours.items()
        ),
        currency="EUR",
    )


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10**6), st.integers(1, 8), st.integers(1, 3))
def test_one_more_kit_has_no_plan(seed: int, n_pieces: int, n_cuts: int) -> None:
    """The number has a plan and the next has none: the plan and the count are two programs."""
    rng = np.random.default_rng(seed)
    stash = a_stash(a=[float(p) for p in rng.integers(5, 90, n_pieces) * 100])
    kit = a_list(a=[float(c) for c in rng.choice([700, 1100, 1900, 2600], n_cuts)])
    count = kit_count(kit, stash)
    assert count.proven
    if count.kits:
        assert plan_cuts([kit] * count.kits, stash).feasible
    more = plan_cuts([kit] * (count.kits + 1), stash)
    assert not more.feasible
    assert more.gaps[0] == 0.0


def test_the_scarcest_colour_limits() -> None:
    kit = a_list(a=[2000.0, 2000.0], b=[700.0])
    count = kit_count(kit, a_stash(a=[8000.0, 8000.0, 1900.0], b=[8000.0]))
    assert (count.kits, count.bound) == (4, 4)
    assert count.per_colour == {"a": 4, "b": 11}
    assert count.limiting == ("a",)
    assert kits_text(count).splitlines() == [
        "4 kits (no more is possible)",
        "colour  kits",
        "a          4  limits",
        "b         11",
    ]


def test_a_kit_may_hold_several_bands() -> None:
    one, two = a_list(a=[2000.0]), a_list(a=[3000.0], b=[1000.0])
    stash = a_stash(a=[8000.0] * 3, b=[1000.0] * 9)
    assert kit_count([one], stash).kits == 12
    assert kit_count([one, two], stash).kits == 4
    assert kit_count([one, one, two], stash).kits == 3


def test_a_colour_that_is_not_on_hand_is_named() -> None:
    with pytest.raises(InputError, match=r"expected a thread on hand .*'blue'.*, found 'bluu'"):
        kit_count(a_list(bluu=[1000.0]), a_stash(blue=[8000.0]))


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10**6), st.integers(0, 5), st.integers(1, 6))
def test_one_skein_less_is_too_few(seed: int, n_pieces: int, kits: int) -> None:
    rng = np.random.default_rng(seed)
    held = [float(p) for p in rng.integers(5, 79, n_pieces) * 100]
    kit = a_list(a=[float(c) for c in rng.choice([700, 1100, 1900, 2600], 3)])
    line = shopping_list(kit, a_stash(a=held), kits).lines[0]
    assert line.least == line.skeins
    assert line.cost == line.skeins * 1.5
    assert plan_cuts([kit] * kits, a_stash(a=held + [8000.0] * line.skeins)).feasible
    if line.skeins:
        less = plan_cuts([kit] * kits, a_stash(a=held + [8000.0] * (line.skeins - 1)))
        assert not less.feasible


def test_the_shopping_list_says_what_and_for_how_much() -> None:
    kit = a_list(a=[2000.0, 2000.0], b=[700.0], new=[900.0])
    stash = a_stash(a=[8000.0, 3000.0], b=[8000.0])
    found = shopping_list(kit, stash, 10)
    by = {line.colour: line for line in found.lines}
    # 20 cuts of 2 m: 4 from the skein, 1 from the piece, 15 from 4 new skeins.
    assert (by["a"].skeins, by["a"].cuts, by["a"].need_mm) == (4, 20, 40_000.0)
    assert (by["b"].skeins, by["b"].cost) == (0, 0.0)
    assert (by["new"].skeins, by["new"].assumed, by["new"].cost) == (2, True, None)
    assert found.cost is None
    text = shopping_text(found)
    assert text.splitlines()[0] == "for 10 kits: buy 6 skeins, cost not known"
    assert "a skein is taken as 8 m" in text
    fresh = shopping_list(a_list(a=[2000.0, 2000.0]), stash, 10, use_stash=False)
    assert (fresh.lines[0].skeins, fresh.cost) == (5, 7.5)
    assert shopping_text(fresh, "imperial").startswith("for 10 kits: buy 5 skeins, cost 7.50 EUR")


def test_a_cut_longer_than_a_skein_cannot_be_bought() -> None:
    with pytest.raises(InfeasibleError, match=r"a cut of 9 m fits no piece .* skein of 8 m"):
        shopping_list(a_list(a=[9000.0]), a_stash(a=[8000.0]), 1)
    assert shopping_list(a_list(a=[9000.0]), a_stash(a=[9500.0]), 1).lines[0].skeins == 0


def test_kits_of_a_real_pattern_agree_with_the_plan() -> None:
    inks = {"a": "#112233", "b": "#eeeeee"}
    kit = cut_list(make_pattern("", ["rl rr ll lr", "rr rl lr"], "aabbbbaa", inks), 150.0)
    stash = a_stash(a=[8000.0] * 5 + [2500.0] * 3, b=[8000.0] * 4)
    count = kit_count(kit, stash)
    assert count.proven
    assert plan_cuts([kit] * count.kits, stash).feasible
    assert not plan_cuts([kit] * (count.kits + 1), stash).feasible
    bought = shopping_list(kit, stash, count.kits)
    assert [line.skeins for line in bought.lines] == [0, 0]
    more = shopping_list(kit, stash, count.kits + 1)
    assert sum(line.skeins for line in more.lines) >= 1
