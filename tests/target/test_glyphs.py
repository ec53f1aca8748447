"""The alphabet: every drawing fits the lattice, and no two letters look alike."""

from __future__ import annotations

import itertools
import string

import pytest

from motifsearch.base.errors import InputError
from motifsearch.target.glyphs import HEIGHTS, glyph, glyphs, known, spelled

WANTED = string.ascii_uppercase + string.digits + "&+-.!♥★"


@pytest.mark.parametrize("height", HEIGHTS)
def test_every_letter_is_drawn_on_cells_of_the_lattice(height):
    assert set(WANTED) <= set(glyphs(height))
    for name in known(height):
        for narrow in (False, True):
            drawn = glyph(name, height, narrow)
            assert all((x + y) % 2 == 0 for x, y in drawn.cells), name
            assert all(0 <= x < drawn.width and 0 <= y < height for x, y in drawn.cells), name
            assert {x for x, _ in drawn.cells} >= {0, drawn.width - 1}, name


@pytest.mark.parametrize("height", HEIGHTS)
def test_capitals_and_digits_use_the_whole_height(height):
    for name in string.ascii_uppercase + string.digits:
        levels = {y for _, y in glyph(name, height).cells}
        assert levels == set(range(height)), name


@pytest.mark.parametrize("height", HEIGHTS)
@pytest.mark.parametrize("narrow", [False, True])
def test_no_two_letters_look_alike(height, narrow):
    for a, b in itertools.combinations(known(height), 2):
        first, second = glyph(a, height, narrow), glyph(b, height, narrow)
        # Wherever one is laid over the other, in steps that keep cells on cells.
        nearest = min(
            len(first.cells ^ {(x + dx, y + dy) for x, y in second.cells})
            for dx, dy in ((0, 0), (2, 0), (-2, 0), (1, 1), (-1, 1), (1, -1), (-1, -1))
        )
        assert nearest >= 2, (a, b)


@pytest.mark.parametrize("height", HEIGHTS)
def test_letters_hang_together(height):
    """The ink of a letter is one piece, cell touching cell at a side or a corner."""
    steps = [(a, b) for a in (-1, 1) for b in (-1, 1)] + [(2, 0), (-2, 0), (0, 2), (0, -2)]
    for name in string.ascii_uppercase + string.digits.replace("0", ""):
        cells = glyph(name, height).cells
        found, todo = set(), [min(cells)]
        while todo:
            x, y = todo.pop()
            if (x, y) not in found:
                found.add((x, y))
                todo += [(x + a, y + b) for a, b in steps if (x + a, y + b) in cells]
        assert found == cells, (name, sorted(cells - found))


def test_accents_stand_above_smaller_letters():
    for height in HEIGHTS[2:]:
        accented = known(height)[len(WANTED) :]
        assert len(accented) > 20
        for name in accented:
            levels = {y for _, y in glyph(name, height).cells}
            assert height - 3 <= max(levels) < height, (name, height)
            assert height - 4 not in levels, (name, height)


def test_text_becomes_what_is_drawn():
    assert spelled(" mia  &\tJo ", 13) == "MIA & JO"
    assert spelled("Straße", 13) == "STRASSE"
    assert spelled("O\u0308zil ❤️ *", 13) == "ÖZIL ♥ ★"


@pytest.mark.parametrize(("text", "near"), [("Łukasz Ж", "UKASZ"), ("Čaķ", "ČAK"), ("MI@", "MI")])
def test_what_is_not_drawn_is_named_with_the_nearest(text, near):
    with pytest.raises(InputError) as caught:
        spelled(text, 13)
    assert f'"{near}" can be written' in str(caught.value)


@pytest.mark.parametrize("text", ["", "   ", "漢字"])
def test_a_text_without_a_letter_is_refused(text):
    with pytest.raises(InputError):
        spelled(text, 13)
