"""Designs in plain words, checked on designs whose look is known by construction."""

from __future__ import annotations

from dataclasses import replace

import pytest
from designs import INKS, LENGTH_MM, arrowhead, diagonal, entry, lozenge, stash

from motifsearch.describe import figures, remarks, words
from motifsearch.pattern.design import Pattern, make_pattern
from motifsearch.runs.candidate import Candidate
from motifsearch.simulate.scores import score_pattern

FSI, PDI = "\u2068", "\u2069"


def bare(text: str) -> str:
    return text.replace(FSI, "").replace(PDI, "")


def look(pattern: Pattern) -> str:
    return bare(words.look(pattern, score_pattern(pattern, LENGTH_MM)))


def alt_text(shown: Candidate) -> str:
    return words.alt_text(shown.pattern, shown.scores)


def strengths(shown: Candidate) -> tuple[tuple[str, ...], tuple[str, ...]]:
    return remarks.strengths(shown.pattern, shown.scores, shown.plan)


# International Tables for Crystallography, Volume E, Part 2: which of half turn, transverse mirror,
# longitudinal mirror and glide without mirror each frieze group holds.
FRIEZE_CONTENT = {
    "p1": (0, 0, 0, 0),
    "p2": (1, 0, 0, 0),
    "p1m1": (0, 1, 0, 0),
    "p11m": (0, 0, 1, 0),
    "p11g": (0, 0, 0, 1),
    "p2mm": (1, 1, 1, 0),
    "p2mg": (1, 1, 0, 1),
}


@pytest.mark.parametrize(("symbol", "holds"), FRIEZE_CONTENT.items())
def test_words_say_what_the_frieze_group_holds(symbol: str, holds: tuple[int, ...]) -> None:
    turn, across, along, glide = holds
    said = words.symmetry_words(symbol)
    text = f"{said.short} {said.sentence}"
    assert ("take turns" in text) == bool(glide)
    assert ("left mirrors right" in text or "left to right" in text) == bool(along)
    assert ("from either end" in text or "both ends" in text or "end to end" in text) == bool(
        across
    )
    if turn and not across:
        assert "upside down" in text
    if not any(holds):
        assert "no other symmetry" in text


def test_seven_groups_with_words_of_their_own() -> None:
    assert set(words.FRIEZE) == set(FRIEZE_CONTENT)
    assert len({s.short for s in words.FRIEZE.values()}) == 7


def test_an_unknown_symbol_is_shown_and_not_an_error() -> None:
    assert words.symmetry_words("q9").short == "q9"
    assert words.symmetry_words(None).short == "not known"


def test_forward_knots_alone_are_diagonals() -> None:
    assert look(diagonal()) == "Diagonal stripes from the left edge towards the right."


def test_backward_knots_alone_are_the_other_diagonals() -> None:
    p = make_pattern("", ["ll ll ll", "ll ll"], diagonal().colour_order, INKS)
    assert look(p) == "Diagonal stripes from the right edge towards the left."


def test_halves_that_meet_are_arrowheads() -> None:
    assert look(arrowhead()) == "Arrowheads that point to the end of the band."
    rows = ["ll ll rr rr", "ll rr rr"]
    order = [*arrowhead().colour_order]
    up = make_pattern("", rows, order[4:] + order[:4], INKS)
    assert look(up) == "Arrowheads that point to the start of the band."


def test_arrowheads_that_turn_back_are_diamonds() -> None:
    assert look(lozenge()) == "Diamonds, one after another."


def test_returning_knots_alone_are_lengthwise_stripes() -> None:
    # Row 0 ties from the left and row 1 from the right: strands 1, 3 and 5 tie every knot.
    order = ["sand", "night", "teal", "night", "sand", "night"]
    p = make_pattern("", ["rl rl rl", "lr lr"], order, INKS)
    assert look(p) == "Stripes that run along the band."


def test_a_row_of_one_colour_is_a_bar() -> None:
    p = make_pattern("", ["rl rl", "rl"], ["sand", "teal", "sand", "teal"], INKS)
    assert look(p) == "Bars that run straight across the band."


def test_all_teeth_are_a_comb() -> None:
    # The outer three strands of each side turn around each other; the middle never changes.
    rows = ["rr rl ll rl ll", "ll rl rl rr"]
    order = ["sand", "brick", "sand", "night", "night", "night", "night", "sand", "brick", "sand"]
    p = make_pattern("", rows, order, INKS)
    assert look(p).startswith("Teeth of colour at both edges")


@pytest.mark.parametrize("kind", figures.FIGURES)
def test_every_figure_has_a_sentence(kind: str) -> None:
    assert kind in words.SEEN or {f"{kind} first", f"{kind} last"} <= set(words.SEEN)


def test_one_colour() -> None:
    p = make_pattern("", ["rr rr", "rr"], ["sand"] * 4, INKS)
    assert look(p) == "One colour throughout; the knots alone make the pattern."


def test_a_border_is_named() -> None:
    # The outer strands tie a returning knot around each neighbour and never leave.
    rows = ["rl rr lr", "rr rr"]
    p = make_pattern("", rows, ["night", "sand", "teal", "sand", "teal", "night"], INKS)
    assert "Both edges stay night." in look(p)


def test_alt_text_holds_colours_figure_symmetry_and_repeat() -> None:
    text = bare(alt_text(entry(arrowhead(), 1, None)))
    assert text == (
        "Knotted band of 8 strands, 4 colours: night 25%, sand 25%, brick 25%, cream 25%. "
        "Arrowheads that point to the end of the band. The left half is the mirror image of the "
        "right. The repeat fits 14.9 times into this length."
    )


def test_names_keep_their_own_direction() -> None:
    text = words.colours_sentence({"עברית": 0.5, "sand": 0.5})
    assert f"{FSI}עברית{PDI}" in text


def test_strengths_follow_the_numbers() -> None:
    even, uneven = entry(diagonal(), 1, None), entry(lozenge(), 2, None)
    strong, weak = strengths(even)
    assert any("run out together" in line and "99%" in line for line in strong)
    assert any("lean mostly one way (by 100%)" in line for line in weak)
    strong, weak = strengths(uneven)
    use = uneven.scores["thread"]["use_mm"]
    times = max(use) / min(use)
    assert any(f"{times:.1f} times as much thread" in line for line in weak)
    assert any("lie flat" in line for line in strong)


def test_missing_thread_is_a_weakness_by_name() -> None:
    on_hand = stash()
    short = replace(on_hand, threads=tuple(replace(t, pieces_mm=(300.0,)) for t in on_hand.threads))
    _, weak = strengths(entry(diagonal(), 1, short))
    assert any("not enough" in bare(line) and "plum" in line for line in weak)


def test_no_score_no_sentence() -> None:
    bald = replace(entry(diagonal(), 1, None), scores={})  # type: ignore[arg-type]
    assert strengths(bald) == ((), ())
    assert "symmetry is not known" in words.look_sentences(bald.pattern, bald.scores)


def test_score_takes_numbers_only() -> None:
    assert words.score({"a": {"b": True}}, "a", "b") is None
    assert words.score({"a": {"b": float("nan")}}, "a", "b") is None
    assert words.score({"a": 1}, "a", "b") is None
    assert words.score({"a": {"b": 2}}, "a", "b") == 2.0
