"""The canonical form: equal for designs that are the same on the wrist, and only for those.

The transforms are built here from the words of the files, apart from the tables of the program.
"""

from __future__ import annotations

import numpy as np
import pytest
from conftest import INKS, patterns
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from motifsearch.pattern.canonical_form import canonical, canonical_key, shortest_period
from motifsearch.pattern.design import Pattern, make_pattern
from motifsearch.pattern.walk import colour_return, face, repeat_rows, walk


def short(pattern: Pattern, most: int = 200) -> bool:
    return colour_return(pattern) * pattern.rows <= most


def turned(word: str, mirror: bool, upside_down: bool) -> str:
    """Return a knot's word after turning, from where its two strands come and go.

    A knot is (side from which the tying strand comes, side to which it goes): rr comes from the
    left and goes to the right.  A mirror swaps the sides.  Upside down, coming and going swap.
    """
    come = "L" if word[0] == "r" else "R"
    other = {"L": "R", "R": "L"}
    go = other[come] if word in ("rr", "ll") else come
    if mirror:
        come, go = other[come], other[go]
    if upside_down:
        come, go = go, come
    first = "r" if come == "L" else "l"
    second = first if come != go else ("l" if first == "r" else "r")
    return first + second


def transformed(pattern: Pattern, start: int, mirror: bool, upside_down: bool) -> Pattern:
    """Return the design read from row `start` of the endless strip, mirrored or upside down.

    Upside down the rows are read from `start` upwards; the strands are those below row `start`.
    Both turns may need another parity of `start`; see the callers.
    """
    total = colour_return(pattern) * pattern.rows
    texts = pattern.row_texts()
    orders = walk(pattern, start + total + 1).orders
    base = start + total if upside_down else start
    rows = []
    for step in range(pattern.rows):
        words = texts[(base - step if upside_down else base + step) % pattern.rows].split()
        words = [turned(w, mirror, upside_down) for w in words]
        rows.append(" ".join(reversed(words) if mirror else words))
    line = orders[base + 1] if upside_down else orders[base]
    colours = [pattern.colour_order[s] for s in line]
    return make_pattern("", rows, colours[::-1] if mirror else colours, pattern.colours)


def cells(pattern: Pattern, rows: int) -> list[list[str]]:
    return [[pattern.palette[c] for c in row] for row in face(pattern, rows)]


@given(patterns(max_rows=8), st.integers(0, 11), st.booleans(), st.booleans())
def test_the_transforms_of_this_file_carry_the_face_along(pattern, start, mirror, upside_down):
    """Else the tests below would say nothing."""
    assume(short(pattern))
    start = 2 * start + (pattern.strands % 2 if mirror else 0)
    other = transformed(pattern, start, mirror, upside_down)
    total = colour_return(pattern) * pattern.rows
    seen = cells(pattern, 2 * total)
    for step, row in enumerate(cells(other, total)):
        r = (start - step if upside_down else start + step) % total
        assert row == (seen[r][::-1] if mirror else seen[r])


@settings(max_examples=150)
@given(
    patterns(max_rows=8), st.integers(0, 11), st.booleans(), st.booleans(),
    st.permutations(list(INKS)),
)  # fmt: skip
def test_invariant(pattern, start, mirror, upside_down, names):
    """Shift, mirror, flip, half turn, and renaming, all at once."""
    assume(short(pattern))
    start = 2 * start + (pattern.strands % 2 if mirror else 0)
    other = transformed(pattern, start, mirror, upside_down)
    swap = dict(zip(INKS, names, strict=True))
    other = make_pattern(
        "another title", other.grid, [swap[c] for c in other.colour_order], other.colours
    )
    assert canonical(other) == canonical(pattern)
    assert canonical_key(other) == canonical_key(pattern)


@given(patterns(max_rows=8), st.integers(2, 4))
def test_invariant_when_the_grid_is_written_several_times(pattern, times):
    assume(short(pattern, 100))
    other = make_pattern("", np.tile(pattern.grid, (times, 1)), pattern.colour_order, INKS)
    assert canonical(other) == canonical(pattern)


def rebuilt(form: tuple) -> Pattern:
    rows, colours = form
    words = ("rr", "ll", "rl", "lr")
    names = list(INKS)
    return make_pattern(
        "", [" ".join(words[c] for c in row) for row in rows], [names[c] for c in colours], INKS
    )


@given(patterns(max_rows=8))
def test_idempotent(pattern):
    """The form is a design of its own, and its own form."""
    assume(short(pattern))
    form = canonical(pattern)
    assert canonical(rebuilt(form)) == form


@given(patterns(max_rows=8))
def test_the_form_has_the_design_s_face(pattern):
    """What the form stands for is the design: its repeat, up to shift, mirror and turns."""
    assume(short(pattern, 100))
    other = rebuilt(canonical(pattern))
    total = repeat_rows(pattern)
    assert repeat_rows(other) == total
    seen = face_forms(pattern, total)
    assert face_forms(other, total) == seen


def face_forms(pattern: Pattern, total: int) -> tuple:
    """Return the least of all views of the face, colours numbered as they appear."""
    rows = cells(pattern, total)
    odd = pattern.strands % 2
    forms = []
    for start in range(total):
        for mirror in (False, True):
            if start % 2 != (odd if mirror else 0):
                continue
            for step in (1, -1):
                view = [rows[(start + step * k) % total] for k in range(total)]
                seen: dict[str, int] = {}
                forms.append(
                    tuple(
                        tuple(seen.setdefault(c, len(seen)) for c in (row[::-1] if mirror else row))
                        for row in view
                    )
                )
    return min(forms)


@settings(max_examples=150)
@given(patterns(strands=None, max_rows=4, max_colours=2), st.data())
def test_different_faces_have_different_forms(pattern, data):
    """Change one knot: where the faces differ in every view, the forms do."""
    assume(short(pattern, 60))
    r = data.draw(st.integers(0, pattern.rows - 1))
    k = data.draw(st.integers(0, len(pattern.knots[r]) - 1))
    grid = pattern.grid.copy()
    grid[r, k] ^= data.draw(st.integers(1, 3))
    other = make_pattern("", grid, pattern.colour_order, INKS)
    assume(short(other, 60))
    one, two = repeat_rows(pattern), repeat_rows(other)
    if one != two or face_forms(pattern, one) != face_forms(other, two):
        assert canonical(pattern) != canonical(other)


def test_all_small_designs_are_told_apart():
    """Every design of 4 strands and 2 rows in up to 2 colours: the forms are exactly the orbits.

    The orbits are counted by brute force over the transforms of this file.
    """
    designs = [
        make_pattern(
            "", np.array([[a, b], [c, 0]], np.uint8),
            [("sand", "teal")[bits >> s & 1] for s in range(4)], INKS,
        )
        for a in range(4) for b in range(4) for c in range(4) for bits in range(16)
    ]  # fmt: skip

    def literal(p):
        seen: dict[str, int] = {}
        return p.knots, tuple(seen.setdefault(c, len(seen)) for c in p.colour_order)

    orbits = {}
    for p in designs:
        total = colour_return(p) * p.rows
        orbit = {
            literal(transformed(p, s, m, u))
            for s in range(0, total, 2) for m in (False, True) for u in (False, True)
        }  # fmt: skip
        orbits[literal(p)] = frozenset(orbit)
    assert len({canonical(p) for p in designs}) == len(set(orbits.values()))


@pytest.mark.parametrize(
    ("rows", "period"), [([(0, 1), (2,)] * 3, 2), ([(0, 1), (2,), (0, 1), (3,)], 4)]
)
def test_shortest_period(rows, period):
    assert len(shortest_period(tuple(rows))) == period
