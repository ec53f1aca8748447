"""Titles of a gallery, and the figures they name, on faces that are known by construction."""

from __future__ import annotations

import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from motifsearch.base.tomlfile import Table
from motifsearch.describe import titles
from motifsearch.describe.figures import FIGURES, figure_of, figure_of_cells
from motifsearch.describe.patches import is_cross, is_diamond, is_heart, patches_of
from motifsearch.describe.slopes import measures
from motifsearch.describe.titles import MOST, give_titles
from motifsearch.pattern.design import Pattern, make_pattern
from motifsearch.pattern.files import format_pattern, parse_pattern, read_pattern
from motifsearch.pattern.knots import slots_in_row
from motifsearch.simulate.scores import score_pattern

CONFIGS = Path(__file__).parents[2] / "configs"
INKS = {"brick": "#a8432f", "cream": "#f1e8d2", "moss": "#6b7a3a", "teal": "#1f7a78"}
KNOTS = ("rr", "ll", "rl", "lr")


def drawn(text: str) -> np.ndarray:
    """Return a face that is drawn row by row, every second character of a row a knot."""
    rows = [line for line in text.splitlines() if line.strip()]
    cells = np.full((len(rows), max(map(len, rows))), -1, np.int16)
    for r, line in enumerate(rows):
        for i, sign in enumerate(line):
            if sign != " ":
                cells[r, i] = ".#o".index(sign)
    assert not (cells >= 0)[(np.indices(cells.shape).sum(axis=0) % 2) == 1].any()
    return cells


HEART = """
. . . . . .
 . . . . .
. # . . # .
 # # . # #
. # # # # .
 # # # # #
. # # # # .
 . # # # .
. . # # . .
 . . # . .
. . . . . .
 . . . . .
"""
CROSS = """
. . . . .
 . . . .
. # . # .
 . # # .
. . # . .
 . # # .
. # . # .
 . . . .
"""
DIAMOND = """
. . . . .
 . . . .
. . # . .
 . # # .
. # # # .
 . # # .
. . # . .
 . . . .
"""
COMB = """
# . . . #
 # . . #
. . . . .
 . . . .
"""


@pytest.mark.parametrize(
    ("face", "kind"),
    [(HEART, "hearts"), (CROSS, "crosses"), (DIAMOND, "diamonds"), (COMB, "comb")],
)
def test_a_drawn_figure_is_named(face: str, kind: str) -> None:
    assert figure_of_cells(drawn(face)).kind == kind


def test_a_figure_is_the_same_wherever_the_round_begins() -> None:
    for face in (HEART, CROSS, DIAMOND, COMB):
        cells = drawn(face)
        kinds = {figure_of_cells(np.roll(cells, k, axis=0)).kind for k in range(0, len(cells), 2)}
        assert len(kinds) == 1


def test_an_outline_is_one_figure_only() -> None:
    tests = (
        (HEART, (True, False, False)),
        (CROSS, (False, True, False)),
        (DIAMOND, (False, False, True)),
    )
    for face, expected in tests:
        cells = drawn(face)
        shape = next(p for p in patches_of(cells) if p.colour == 1)
        width = cells.shape[1]
        found = (is_heart(shape, width), is_cross(shape), is_diamond(shape, width))
        assert found == expected
    upside_down = next(p for p in patches_of(drawn(HEART)[::-1][1:-1]) if p.colour == 1)
    assert not is_heart(upside_down, 11)


def test_patches_share_out_all_knots() -> None:
    cells = drawn(HEART)
    found = [(r % len(cells), i) for p in patches_of(cells) for r, i in p.cells]
    assert len(found) == len(set(found)) == int((cells >= 0).sum())


# The files' own titles say what they show; they were drawn by hand.
@pytest.mark.parametrize(
    ("file", "kind", "way"),
    [
        ("chevron", "arrowheads", 1),
        ("bordered-arrows", "arrowheads", 1),
        ("diagonal-stripe", "diagonals", 1),
        ("diamond", "diamonds", 0),
        ("waves", "waves", 0),
        ("zigzag", "zigzag", 0),
    ],
)
def test_shipped_patterns_are_what_they_are_called(file: str, kind: str, way: int) -> None:
    seen = figure_of(read_pattern(CONFIGS / "patterns" / f"{file}.toml"))
    assert (seen.kind, seen.way) == (kind, way)


@st.composite
def designs(draw: st.DrawFn, names: tuple[str, ...] = tuple(INKS)) -> Pattern:
    strands = draw(st.integers(4, 13))
    rows = [
        " ".join(draw(st.lists(st.sampled_from(KNOTS), min_size=n, max_size=n)))
        for n in (slots_in_row(strands, r) for r in range(draw(st.integers(1, 4)) * 2))
    ]
    order = draw(st.lists(st.sampled_from(names), min_size=strands, max_size=strands))
    return make_pattern("", rows, order, dict.fromkeys(names, "#808080"))


def mirrored(pattern: Pattern) -> Pattern:
    """The left half of every row becomes the right half (an even number of strands)."""
    swap = str.maketrans("lr", "rl")
    rows = [" ".join(reversed(row.split())).translate(swap) for row in pattern.row_texts()]
    return make_pattern("", rows, reversed(pattern.colour_order), pattern.colours)


@settings(max_examples=60, deadline=None)
@given(designs())
def test_the_mirror_image_has_the_same_figure(pattern: Pattern) -> None:
    if pattern.strands % 2:
        return  # the rows of an odd band change places in a mirror
    one, other = figure_of(pattern), figure_of(mirrored(pattern))
    assert one.kind == other.kind
    assert one.edges[0] is None or other.edges[1] is not None
    assert one.way == (-other.way if one.kind == "diagonals" else other.way)
    for name in ("point", "steady", "swing", "open"):
        assert one.slopes[name] == pytest.approx(other.slopes[name])
    assert one.slopes["lean"] == pytest.approx(-other.slopes["lean"])


@settings(max_examples=60, deadline=None)
@given(designs())
def test_measures_stay_within_their_bounds(pattern: Pattern) -> None:
    seen = figure_of(pattern)
    assert seen.kind in FIGURES
    for name in ("steady", "swing", "open"):
        assert 0 <= seen.slopes[name] <= 1 + 1e-9
    assert abs(seen.slopes["lean"]) <= seen.slopes["steady"] + 1e-9
    assert abs(seen.slopes["point"]) <= seen.slopes["steady"] + 1e-9


def test_no_boundary_no_measure() -> None:
    assert set(measures(np.zeros((2, 1), np.int16)).values()) == {0.0}


def arrows(*order: str) -> Pattern:
    return make_pattern("", ["rr rr ll ll", "rr ll ll"], order, INKS)


TWO = ("cream", "cream", "cream", "brick", "brick", "cream", "cream", "cream")


def test_two_colours() -> None:
    p = arrows(*TWO)
    assert give_titles([p], [score_pattern(p)]) == ["Brick arrowheads on cream"]


def test_three_and_four_colours() -> None:
    three = arrows("cream", "cream", "teal", "brick", "brick", "teal", "cream", "cream")
    four = arrows("cream", "moss", "teal", "brick", "brick", "teal", "moss", "cream")
    assert give_titles([three, four], [{}, {}]) == [
        "Brick and teal arrowheads on cream",
        "Cream arrowheads on brick in four colours",
    ]


def test_one_colour() -> None:
    assert give_titles([arrows(*["teal"] * 8)], [{}]) == ["Plain band in teal"]


def test_the_ground_has_the_largest_share_by_the_scores() -> None:
    p = arrows(*TWO)
    scores = {"colour": {"share": {"cream": 0.2, "brick": 0.8}}}
    assert give_titles([p], [scores]) == ["Cream arrowheads on brick"]


def test_a_clash_is_told_by_the_way_first() -> None:
    down = arrows(*TWO)
    up = make_pattern("", ["ll ll rr rr", "ll rr rr"], [*TWO[4:], *TWO[:4]], INKS)
    assert give_titles([down, up], [{}, {}]) == [
        "Brick arrowheads on cream, pointing down",
        "Brick arrowheads on cream, pointing up",
    ]


def test_a_clash_of_one_face_is_told_by_the_handling() -> None:
    p = arrows(*TWO)
    easy = {"handling": {"hitches_per_pass": 9.0}, "thread": {"evenness": 0.5}}
    hard = {"handling": {"hitches_per_pass": 2.0}, "thread": {"evenness": 0.5}}
    even = {"handling": {"hitches_per_pass": 3.0}, "thread": {"evenness": 0.9}}
    assert give_titles([p, p, p], [hard, easy, even]) == [
        "Brick arrowheads on cream",
        "Brick arrowheads on cream, plainest to tie",
        "Brick arrowheads on cream, evenest thread",
    ]


def test_what_is_the_same_in_all_still_gets_titles_of_its_own() -> None:
    p = arrows(*TWO)
    made = give_titles([p] * 300, [{}] * 300)
    assert len({t.casefold() for t in made}) == 300
    assert made[:2] == ["Brick arrowheads on cream", "Brick arrowheads on cream, willow"]
    assert not any(c.isdigit() for t in made for c in t)


def test_a_wanted_motif_keeps_its_name() -> None:
    p = arrows(*TWO)
    assert give_titles([p, p], [{}, {}], ["Hearts", ""]) == [
        "Hearts, brick on cream",
        "Brick arrowheads on cream",
    ]


def test_lengths_must_agree() -> None:
    with pytest.raises(ValueError, match="argument"):
        give_titles([arrows(*TWO)], [])


def test_a_gallery_of_nothing() -> None:
    assert give_titles([], []) == []


NAMES = st.text(min_size=1, max_size=60)


@pytest.mark.slow
@settings(max_examples=15, deadline=None)
@given(st.data(), st.lists(NAMES, min_size=4, max_size=4, unique=True), st.text(max_size=80))
def test_any_names_make_titles_that_differ(
    data: st.DataObject, names: list[str], wanted: str
) -> None:
    made = [data.draw(designs(tuple(names))) for _ in range(4)]
    made += made[:2]
    found = give_titles(made, [{}] * len(made), [wanted] * len(made))
    assert len({t.casefold() for t in found}) == len(found)
    for text in found:
        assert 0 < len(text) <= MOST
        assert text == text.strip()
        assert "\n" not in text
        assert not any("\u202a" <= c <= "\u202e" or "\u2066" <= c <= "\u2069" for c in text)
        text.encode()
    assert give_titles(made, [{}] * len(made), [wanted] * len(made)) == found


def test_a_sign_of_several_parts_is_not_cut() -> None:
    family = "\U0001f469\u200d\U0001f3a8"
    for head in range(10, 30):
        name = titles.spoken("x" * head + family * 4)
        assert not name.removesuffix("…").endswith("\u200d")
        assert len(name) <= titles.MOST_NAME


def test_titles_go_into_pattern_files_and_come_back() -> None:
    p = make_pattern(
        "", ["rr rr", "rr"], ["עברית", "sand"] * 2, {"עברית": "#102030", "sand": "#d8c49a"}
    )
    title = give_titles([p], [{}])[0]
    named = make_pattern(title, p.grid, p.colour_order, p.colours)
    assert (
        parse_pattern(Table(tomllib.loads(format_pattern(named)), source="x.toml")).title == title
    )
