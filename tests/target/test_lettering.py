"""Texts along a band: where they stand, and that every one is knotted without a wrong cell."""

from __future__ import annotations

import string

import numpy as np
import pytest

from motifsearch.base.errors import InfeasibleError, InputError
from motifsearch.pattern.knots import positions_in_row
from motifsearch.pattern.walk import colour_return, face
from motifsearch.simulate.reference import face_cells
from motifsearch.target.alternate import exact_walk, knotted, orders, quicker, wrong_knots
from motifsearch.target.beside import SIDES, side_cells
from motifsearch.target.glyphs import glyph
from motifsearch.target.grids import returning_knots, wrong_of
from motifsearch.target.lettering import INK, heights_for, set_text
from motifsearch.target.motif import Target
from motifsearch.target.solver import solve

NAMES, COLOURS = ("cream", "night blue", "coral"), ("#f3ead7", "#1d2b4f", "#d8644a")


def motif(words, beside="plain", *, edge=False, reads="wearer"):
    cells = words.cells(side_cells(words, beside), edge=edge, reads=reads)
    return Target(words.text, words.strands, NAMES[: 2 + edge], COLOURS[: 2 + edge], cells)


def band(text, strands, rows=119, *, folded=True, **more):
    target = motif(set_text(text, strands, rows), **more)
    walk = exact_walk(target.cells, strands, folded and strands % 2 == 0, more.get("edge", False))
    assert walk is not None
    return knotted(walk, target), target


def seen(pattern, rows, turned=False):
    """Return the ink as a reader sees it, (x, y): the first row at the left, strand 1 below.

    Turned: from the opposite side.
    """
    dark = pattern.palette.index("night blue")
    cells = {(r, i) for (r, i), c in face_cells(pattern, rows).items() if c == dark}
    return {(rows - 1 - r, pattern.strands - 2 - i) for r, i in cells} if turned else cells


def at_origin(cells):
    left, low = min(x for x, _ in cells), min(y for _, y in cells)
    return {(x - left, y - low) for x, y in cells}


@pytest.mark.parametrize("strands", [10, 12, 13, 14, 16, 17, 24])
def test_all_letters_and_digits_have_no_wrong_cell(strands):
    for letter in string.ascii_uppercase + string.digits + "&+-.!♥★":
        pattern, target = band(letter, strands, 40)
        assert wrong_knots(pattern, target) == 0, letter
        assert colour_return(pattern) == 1


def test_the_exact_solver_finds_the_same():
    """The proof by construction and the solver of wanted motifs agree: nothing is wrong."""
    rng = np.random.default_rng(3)
    for letter in "AGMQ8":
        target = motif(set_text(letter, 12, 18))
        reach = solve(target, rng=rng, n_solutions=1)
        assert (reach.cost, reach.exact) == (0, True), letter


def test_random_words_have_no_wrong_cell():
    rng = np.random.default_rng(15)
    letters = list(string.ascii_uppercase)
    for _ in range(60):
        word = "".join(rng.choice(letters, rng.integers(3, 9)))
        pattern, target = band(word, int(rng.integers(14, 25)))
        assert wrong_knots(pattern, target) == 0, word


def test_the_face_is_the_word_letter_by_letter():
    pattern, target = band("FROG", 16)
    ink = seen(pattern, target.rows)
    words = set_text("FROG", 16, 119)
    assert len(ink) == sum(len(glyph(c, words.height).cells) for c in "FROG")
    left = min(x for x, _ in ink)
    first = {(x, y) for x, y in ink if x < left + glyph("F", words.height).width}
    assert at_origin(first) == at_origin(glyph("F", words.height).cells)


def test_it_reads_from_the_other_side_when_asked():
    for strands in (14, 15, 16, 17):
        words = set_text("FROG", strands, 119)
        one = exact_walk(motif(words).cells, strands, strands % 2 == 0, False)
        target = motif(words, reads="onlooker")
        walk = exact_walk(target.cells, strands, strands % 2 == 0, False)
        assert one is not None
        assert walk is not None
        away = seen(knotted(walk, target), 120, turned=True)
        near = seen(knotted(one, motif(words)), 120)
        assert at_origin(away) == at_origin(near)
        assert at_origin(seen(knotted(walk, target), 120)) != at_origin(near)


@pytest.mark.parametrize("reads", ["wearer", "onlooker"])
@pytest.mark.parametrize("rows", [80, 119, 120, 143])
def test_a_text_stands_in_the_middle(rows, reads):
    for strands in (14, 15, 16):
        cells = set_text("ANNA", strands, rows).cells(reads=reads)
        used = np.flatnonzero((cells == INK).any(axis=1))
        assert abs((used[0] + used[-1]) / 2 - (rows - 1) / 2) <= 1.5


@pytest.mark.parametrize("reads", ["wearer", "onlooker"])
def test_a_repeated_text_shares_the_band_out(reads):
    words = set_text("JO", 14, 119, repeated=True)
    assert words.times == 3
    cells = words.cells(reads=reads)
    rows = np.flatnonzero((np.tile(cells, (4, 1))[:119] == INK).any(axis=1))
    runs = np.split(rows, np.flatnonzero(np.diff(rows) > 6) + 1)
    assert len(runs) == 3
    assert len({len(run) for run in runs}) == 1
    assert abs(rows[0] - (118 - rows[-1])) <= 3


@pytest.mark.parametrize("beside", SIDES)
@pytest.mark.parametrize("edge", [False, True])
def test_what_stands_beside_a_text_is_knotted_too(beside, edge):
    pattern, target = band("MIA", 14, beside=beside, edge=edge)
    assert wrong_knots(pattern, target) == 0
    counts = [pattern.colour_order.count(name) for name in pattern.palette]
    assert all(n % 2 == 0 for n in counts)
    assert len(counts) == 2 + edge
    if edge:
        played = face(pattern, target.rows)
        coral = pattern.palette.index("coral")
        assert all(played[r][0] == coral for r in range(0, target.rows, 2))
    plain = motif(set_text("MIA", 14, 119)).cells
    assert (beside == "plain") == (((target.cells == INK) == (plain == INK)).all())


@pytest.mark.parametrize("strands", range(4, 25))
@pytest.mark.parametrize("folded", [False, True])
def test_strands_stand_in_turn(strands, folded):
    """At every knot one strand of either colour, but beside an edge."""
    folded = folded and strands % 2 == 0
    for order in orders(strands, folded, False):
        alike = [i for i in range(strands - 1) if order[i] == order[i + 1]]
        assert len(alike) <= 1
        assert set(alike) <= {0, strands - 2}
        assert not folded or order.count(0) % 2 == order.count(1) % 2 == 0


def test_any_picture_at_all_is_knotted():
    rng = np.random.default_rng(8)
    for strands in (8, 12, 13, 16):
        cells = np.full((20, strands // 2), -1, np.int8)
        for r in range(20):
            for k, _ in enumerate(positions_in_row(strands, r)):
                cells[r, k] = rng.integers(2)
        walk = exact_walk(cells, strands, strands % 2 == 0, False)
        assert walk is not None
        target = Target("", strands, NAMES[:2], COLOURS[:2], cells)
        assert wrong_knots(knotted(walk, target), target) == 0


def test_fewer_knots_return_and_none_is_wrong():
    target = motif(set_text("MIA", 14, 60))
    walk = exact_walk(target.cells, 14, True, False)
    assert walk is not None
    fewer = quicker(walk, target.cells, True, np.random.default_rng(1))
    assert not wrong_of(fewer, target.cells).any()
    assert returning_knots(fewer) < returning_knots(walk) // 2
    again = quicker(walk, target.cells, True, np.random.default_rng(1))
    assert np.array_equal(fewer, again)


def test_heights_leave_ground_on_both_sides():
    for strands in range(10, 25):
        for height in heights_for(strands):
            words = set_text("H", strands, 60, height=height)
            levels = [i for _, i in words.ink]
            assert min(levels) >= 1
            assert max(levels) <= strands - 3


def test_a_long_text_takes_narrow_letters_and_then_gives_way():
    assert not set_text("CHARLOTT", 16, 119).narrow
    assert set_text("BEDDEDBELLES", 16, 119).narrow
    lower = set_text("BEDDEDBELLES", 16, 106)
    assert lower.height < 13
    with pytest.raises(InfeasibleError) as caught:
        set_text("MAXIMILIANE & CHARLOTTE", 16, 119)
    assert "the nearest that works: a band of" in str(caught.value)
    assert '"MAXIMILIANE"' in str(caught.value)


def test_too_few_strands_are_refused():
    with pytest.raises(InfeasibleError, match="the nearest that works: "):
        set_text("MIA", 6, 119)
    with pytest.raises(InputError, match="a height that fits"):
        set_text("MIA", 12, 119, height=13)
