"""A batch of kits: every bag gets its cuts, every piece is cut once, the cost adds up by hand."""

from __future__ import annotations

from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from motifsearch.base.errors import InfeasibleError, InputError
from motifsearch.thread.batch import (
    MOST_KITS,
    Batch,
    Extra,
    batch,
    extra_of,
    kit_cost,
)
from motifsearch.thread.batch_texts import (
    amount,
    bags_text,
    bought_text,
    cost_text,
    cuts_text,
    packed,
    rest_text,
    take_text,
)
from motifsearch.thread.cutting import Cut, CutList
from motifsearch.thread.kits import shopping_list
from motifsearch.thread.plan import plan_cuts
from motifsearch.thread.stash import Stash, StashThread


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


def a_stash(price: float | None = 1.6, **colours: list[float]) -> Stash:
    return Stash(
        tuple(
            StashThread(name, "#112233", 0.6, None, tuple(pieces), 8.0, price)
            for name, pieces in colours.items()
        ),
        currency="EUR",
    )


def check(made: Batch, kit: list[CutList], stash: Stash) -> None:
    """Hold a batch against what was asked: every bag whole, no piece used twice or too far."""
    wanted = Counter(
        (k, b, cut.colour, cut.label, cut.length_mm)
        for k in range(1, made.kits + 1)
        for b, one in enumerate(kit, 1)
        for cut in one.cuts
    )
    got = Counter(
        (cut.kit, cut.band, piece.colour, cut.label, cut.length_mm)
        for piece in made.pieces
        for cut in piece.cuts
    )
    assert got == wanted
    seen = set()
    for piece in made.pieces:
        held = stash.thread(piece.colour).pieces_mm
        assert (piece.colour, piece.place) not in seen
        seen.add((piece.colour, piece.place))
        assert piece.new == (piece.place > len(held))
        assert piece.piece_mm == (8000.0 if piece.new else held[piece.place - 1])
        cut = sum(one.length_mm for one in piece.cuts)
        assert piece.left_mm == pytest.approx(piece.piece_mm - cut, abs=1e-3)
    new = Counter(piece.colour for piece in made.pieces if piece.new)
    assert all(n <= made.bought.get(colour, 0) for colour, n in new.items())
    assert sum(len(group) for group in made.alike()) == len(made.pieces)


def test_pieces_come_in_the_order_of_the_box() -> None:
    kit = [a_list(teal=[1800.0, 1800.0, 1750.0], sand=[900.0])]
    stash = a_stash(sand=[8000.0], teal=[2000.0, 8000.0, 8000.0])
    made = batch(kit, stash, 2)
    check(made, kit, stash)
    order = [(p.colour, p.place) for p in made.pieces]
    assert order == sorted(order, key=lambda pair: (stash.names.index(pair[0]), pair[1]))
    assert made.pieces[0].colour == "sand"
    assert cuts_text(made.pieces[0], "metric") == "90, 90 cm"
    assert bags_text([made.pieces[0]], 1) == "D of kits 1-2"
    assert take_text(made.pieces[0], "metric") == "sand, 8 m"
    assert rest_text(made.pieces[0], "metric") == "6.2 m left, back into the box"


def test_what_is_bought_is_cut_into_last_and_said() -> None:
    kit = [a_list(a=[2000.0]), a_list(a=[2000.0])]
    stash = a_stash(a=[4500.0])
    shopping = shopping_list(kit, stash, 3)
    made = batch(kit, stash, 3, shopping=shopping)
    check(made, kit, stash)
    assert made.bought == {"a": 1}
    assert bought_text(made.bought) == "Buy first: 1 skein of a."
    assert [p.new for p in made.pieces] == [False, True]
    assert take_text(made.pieces[1], "metric") == "a, 8 m, a new skein"
    # The first cuts go to the first kits: 1A and 2A of kit 1, and so on.
    assert [(c.kit, c.band) for c in made.pieces[0].cuts] == [(1, 1), (1, 2)]
    assert bags_text(made.pieces[1:], 2) == "1A 2A of kits 2-3"
    with pytest.raises(InfeasibleError, match="4 cuts are missing, the first of a"):
        batch(kit, stash, 3)


@settings(max_examples=20, deadline=None)
@given(
    st.lists(st.sampled_from([700.0, 1100.0, 1900.0, 2600.0]), min_size=1, max_size=4),
    st.lists(st.integers(4, 80), min_size=0, max_size=5),
    st.integers(1, 6),
    st.integers(1, 2),
)
def test_every_bag_is_whole(lengths: list[float], pieces: list[int], kits: int, bands: int) -> None:
    kit = [a_list(a=lengths, b=lengths[:1])] * bands
    stash = a_stash(a=[100.0 * p for p in pieces], b=[])
    made = batch(kit, stash, kits, shopping=shopping_list(kit, stash, kits))
    check(made, kit, stash)


def test_the_cost_of_a_kit_by_hand() -> None:
    """Two kits of 2 x 1.8 m from one skein of 8 m leave 0.8 m: waste, under 1.8 m.

    One kit: 3.6 m and 0.4 m of waste, 4 m at 1.60 for 8 m: 0.80.  With a bag of 0.20: 1.00.
    """
    kit = [a_list(a=[1800.0, 1800.0])]
    made = batch(kit, a_stash(a=[8000.0]), 2, extras=[Extra("bag", 0.2)])
    (line,) = made.cost.threads
    assert (line.used_mm, line.waste_mm, line.per_m, line.cost) == (3600.0, 400.0, 0.2, 0.8)
    assert made.cost.cost == 1.0
    # One kit alone leaves 4.4 m, which is not charged: 3.6 m are 0.72.
    alone = batch(kit, a_stash(a=[8000.0]), 1)
    assert alone.cost.cost == 0.72
    assert cost_text(made.cost, 2).splitlines()[:5] == [
        "One kit costs 1.00 EUR.",
        "of one kit  thread   waste         price  cost",
        "a           3.60 m  0.40 m  1.60 for 8 m  0.80",
        "bag                                       0.20",
        "together                                  1.00 EUR",
    ]


def test_the_lines_add_up_as_they_are_shown() -> None:
    """Three lines of 0.335 are shown as 0.34 and make 1.02, not 1.01."""
    kit = [a_list(a=[1675.0], b=[1675.0], c=[1675.0])]
    stash = a_stash(a=[8000.0], b=[8000.0], c=[8000.0])
    cost = kit_cost(kit, stash, plan_cuts(kit, stash), 1)
    assert [one.cost for one in cost.threads] == [0.34, 0.34, 0.34]
    assert cost.cost == 1.02


def test_a_price_that_is_not_known_is_said() -> None:
    kit = [a_list(a=[1000.0], b=[1000.0])]
    mixed = Stash(
        (
            StashThread("a", "#112233", 0.6, None, (8000.0,), 8.0, 1.6),
            StashThread("b", "#445566", 0.6, None, (8000.0,)),
        )
    )
    cost = batch(kit, mixed, 1).cost
    assert (cost.cost, cost.unknown, cost.asked) == (None, ("b",), True)
    text = cost_text(cost, 1)
    assert text.startswith("What one kit costs is not known: the stash has no price_per_skein of b")
    assert "?" in text
    assert not batch(kit, a_stash(None, a=[8000.0], b=[8000.0]), 1).cost.asked
    free = batch(kit, a_stash(0.0, a=[8000.0], b=[8000.0]), 1).cost
    assert free.cost == 0.0


@pytest.mark.parametrize("text", ["bag", "bag=", "bag=-1", "bag=nan", "=x", "", "bag=1e99"])
def test_an_extra_that_is_no_cost_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="expected NAME=COST"):
        extra_of(text)


def test_a_batch_has_its_bounds() -> None:
    kit, stash = [a_list(a=[1000.0])], a_stash(a=[8000.0])
    for kits in (0, MOST_KITS + 1):
        with pytest.raises(InputError, match="expected 1 to 1000 kits"):
            batch(kit, stash, kits)
    one = batch(kit, stash, 1)
    assert one.pieces[0].cuts[0].label == "A"
    assert cuts_text(batch(kit, stash, 7).pieces[0], "metric") == "7 x 100 cm"
    assert rest_text(batch(kit, a_stash(a=[1500.0]), 1).pieces[0], "metric") == (
        "0.5 m left, too short for one more, back into the box"
    )
    assert rest_text(batch(kit, a_stash(a=[1200.0]), 1).pieces[0], "metric") == "0.2 m left, waste"
    assert rest_text(batch(kit, a_stash(a=[1000.0]), 1).pieces[0], "metric") == "nothing is left"


def test_threads_that_are_alike_lie_together() -> None:
    assert packed(a_list(a=[900.0, 800.0, 900.0], b=[900.0])) == [
        ("a", 900.0, "A C"), ("a", 800.0, "B"), ("b", 900.0, "D"),
    ]  # fmt: skip
    assert amount(None) == "?"
