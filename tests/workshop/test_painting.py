"""Painting on the cloth: the answer shows what was painted, and is the nearest there is.

Held against the exact solver of `motifsearch.target` (whose results are held against brute force
in its own tests), and against the plain walk.
"""

from __future__ import annotations

import numpy as np
import pytest
from conftest import patterns
from hypothesis import given, settings
from hypothesis import strategies as st

from motifsearch.base.errors import InputError
from motifsearch.pattern.design import make_pattern
from motifsearch.pattern.walk import walk
from motifsearch.runs.painting import MOST_ROWS, face_rows, paint
from motifsearch.target.motif import Target
from motifsearch.target.solver import solve

INKS = {"sand": "#d8c49a", "teal": "#1f7a78", "brick": "#a5432d"}


def face_of(pattern, rows):
    return [[pattern.colour_order[k.tying] for k in row] for row in walk(pattern, rows).rows]


def chevron():
    rows = ["rr rr ll ll", "rr rr ll"]
    return make_pattern("chevron", rows, ["sand", "teal", "brick", "teal"] * 2, INKS)


@pytest.mark.slow
def test_one_cell_that_can_be_is_so():
    design = make_pattern("", ["rr rr", "rr"] * 2, ["sand", "sand", "teal", "teal"], INKS)
    rows = face_rows(design)
    old = face_of(design, rows)
    other = "teal" if old[0][0] == "sand" else "sand"
    made = paint(design, {(0, 0): other})
    assert made.near
    best = made.near[0]
    assert best.missed == ()
    assert face_of(best.pattern, rows)[0][0] == other


@settings(max_examples=15)
@given(patterns(max_rows=4, max_colours=3), st.data())
def test_what_is_said_of_an_answer_is_so(design, data):
    rows = face_rows(design)
    if rows > 24 or len(design.palette) < 2:
        return
    r = data.draw(st.integers(0, rows - 1))
    slots = len(face_of(design, rows)[r])
    if not slots:
        return
    k = data.draw(st.integers(0, slots - 1))
    name = data.draw(st.sampled_from(design.palette))
    made = paint(design, {(r, k): name}, folded=False, work=3e6)
    before = face_of(design, rows)
    for one in made.near:
        after = face_of(one.pattern, rows)
        assert (after[r][k] != name) == ((r, k) in one.missed)
        moved = sum(
            a != b
            for n, (x, y) in enumerate(zip(before, after, strict=True))
            for m, (a, b) in enumerate(zip(x, y, strict=True))
            if (n, m) != (r, k)
        )
        # Of a wrong cell the colour is one of two: it may be the wanted one by chance, never worse.
        assert moved <= one.moved
        # The colours come again after the same rows, so the answer is a round like the old one.
        assert face_of(one.pattern, 2 * rows)[rows:] == after


def test_never_better_than_the_exact_solver_and_mostly_as_good():
    design = chevron()
    rows = face_rows(design)
    before = face_of(design, rows)
    names = tuple(design.palette)
    rng = np.random.default_rng(5)
    equal = 0
    for _ in range(6):
        r = int(rng.integers(rows))
        k = int(rng.integers(len(before[r])))
        name = names[int(rng.integers(3))]
        if before[r][k] == name:
            equal += 1
            continue
        cells = np.full((rows, 4), -1, np.int8)
        for n, row in enumerate(before):
            cells[n, : len(row)] = [names.index(c) for c in row]
        cells[r, k] = names.index(name)
        target = Target("", 8, names, tuple(INKS[n] for n in names), cells)
        exact = solve(target, n_solutions=1, rng=np.random.default_rng(1))
        made = paint(design, {(r, k): name})
        assert made.near
        total = len(made.near[0].missed) + made.near[0].moved
        assert total >= exact.cost
        equal += total <= exact.cost + 1
    assert equal >= 4


def test_the_same_answer_every_time():
    cells = {(3, 1): "brick", (4, 2): "brick"}
    one, two = paint(chevron(), cells), paint(chevron(), cells)
    assert [n.pattern for n in one.near] == [n.pattern for n in two.near]


def test_a_thread_of_the_box_may_be_painted_with():
    made = paint(chevron(), {(2, 1): "plum"}, inks={"plum": "#6b3357"})
    assert any("plum" in one.pattern.palette and not one.missed for one in made.near)
    counts = {n: made.near[0].pattern.colour_order.count(n) for n in made.near[0].pattern.palette}
    assert all(count % 2 == 0 for count in counts.values())


def test_refused():
    with pytest.raises(InputError, match="painted cell"):
        paint(chevron(), {})
    with pytest.raises(InputError, match="knot of the band"):
        paint(chevron(), {(0, 9): "teal"})
    with pytest.raises(InputError, match="thread on hand"):
        paint(chevron(), {(0, 0): "gold"})
    long = make_pattern(
        "", ["rr rr rr", "rr rr rl"] * 17, "abcdefg"[:7], dict.fromkeys("abcdefg", "#112233")
    )
    assert face_rows(long) > MOST_ROWS
    with pytest.raises(InputError, match="come again"):
        paint(long, {(0, 0): "a"})
