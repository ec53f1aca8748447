"""The order of work, against networkx's topological sorts and a second interpreter.

Sources: the partial order as covering relations in networkx; brute force over
`networkx.all_topological_sorts`; the interpreter below shares no code with the planner.
"""

from __future__ import annotations

import itertools

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from motifsearch.pattern.bandplan import plan_band
from motifsearch.pattern.design import Pattern, make_pattern
from motifsearch.pattern.passes import (
    find_passes,
    is_own_mirror,
    jumps,
    minimum_passes,
    needs,
    pass_lower_bound,
    plan_passes,
    steady_passes,
)
from motifsearch.pattern.walk import face, walk

INK = {"a": "#102030", "b": "#f0e0d0", "c": "#808000"}


def random_pattern(strands: int, rows: int, seed: int) -> Pattern:
    rng = np.random.default_rng(seed)
    mix = rng.dirichlet(np.full(4, 0.7))
    grid = rng.choice(4, size=(rows, strands // 2), p=mix).astype(np.uint8)
    return make_pattern("", grid, rng.choice(list(INK), size=strands).tolist(), INK)


def knot_order(pattern: Pattern, rows: int) -> tuple[nx.DiGraph, dict[tuple[int, int], int]]:
    """Return the covering relations, a knot after the last one that touches its positions."""
    graph: nx.DiGraph = nx.DiGraph()
    tying = {}
    last: dict[int, tuple[int, int]] = {}
    for row in walk(pattern, rows).rows:
        for knot in row:
            here = (knot.row, knot.position)
            graph.add_node(here)
            tying[here] = knot.tying
            for place in (knot.position, knot.position + 1):
                if place in last:
                    graph.add_edge(last[place], here)
                last[place] = here
    return graph, tying


def runs(order, tying) -> int:
    return 1 + sum(tying[a] != tying[b] for a, b in itertools.pairwise(order))


designs = st.builds(
    random_pattern,
    st.integers(4, 24),
    st.sampled_from([2, 4, 8, 12, 24]),
    st.integers(0, 2**32 - 1),
)


@settings(max_examples=60, deadline=None)
@given(designs, st.integers(1, 50))
def test_every_plan_is_a_linear_extension_with_as_many_runs_as_passes(pattern, rows):
    graph, tying = knot_order(pattern, rows)
    plan = plan_passes(pattern, rows)
    order = [(r, i) for one in plan.passes for r, i, _ in one.knots]
    when = {knot: n for n, knot in enumerate(order)}
    assert sorted(order) == sorted(graph)
    assert all(when[a] < when[b] for a, b in graph.edges)
    assert runs(order, tying) == len(plan.passes) == plan.lower_bound
    assert pass_lower_bound(pattern, rows) <= len(plan.passes)


@pytest.mark.parametrize(
    ("strands", "rows", "count"), [(4, 4, 40), (5, 4, 30), (6, 4, 6), (4, 6, 20), (7, 2, 8)]
)
def test_the_count_is_the_least_over_all_topological_sorts(strands, rows, count):
    for seed in range(count):
        pattern = random_pattern(strands, rows, seed)
        graph, tying = knot_order(pattern, rows)
        least = min(runs(order, tying) for order in nx.all_topological_sorts(graph))
        assert len(plan_passes(pattern).passes) == minimum_passes(pattern) == least


def play(passes, pattern: Pattern) -> tuple[dict[tuple[int, int], str], list[str]]:
    """Tie passes by their notches alone, as a maker does; return the face and the last colours."""
    held = list(pattern.colour_order)
    cells = {}
    for one in passes:
        place = one.start
        for row, left, code in one.knots:
            assert place in (left, left + 1)
            assert (code & 1 == 1) == (place == left + 1)
            cells[row, left] = held[place]
            if code < 2:
                other = left + 1 if place == left else left
                held[place], held[other] = held[other], held[place]
                place = other
        assert place == one.end
    return cells, held


def face_of(pattern: Pattern, rows: int) -> dict[tuple[int, int], str]:
    cells = face(pattern, rows)
    return {
        (r, r % 2 + 2 * k): pattern.palette[colour]
        for r, row in enumerate(cells)
        for k, colour in enumerate(row)
    }


@settings(max_examples=60, deadline=None)
@given(designs, st.integers(1, 120))
def test_the_passes_of_a_band_make_its_face(pattern, rows):
    cells, held = play(plan_passes(pattern, rows).passes, pattern)
    assert cells == face_of(pattern, rows)
    plan = plan_band(pattern, rows)
    again, held_again = play(plan.passes(), pattern)
    assert again == cells
    assert held_again == held
    assert len(list(plan.passes())) == minimum_passes(pattern, rows)


@settings(max_examples=40, deadline=None)
@given(designs)
def test_the_cycle_brings_the_colours_back_when_it_says_so(pattern):
    plan = plan_band(pattern, 120)
    if plan.times < 2:
        assert not plan.cycle
        return
    _, before = play(plan.opening, pattern)
    _, after = play([*plan.opening, *plan.cycle], pattern)
    assert not plan.colours_return or before == after
    assert plan.colours_return or plan.cycle_rows < 48 or pattern.rows >= 48


def test_a_diagonal_stripe_is_one_long_pass_again_and_again():
    pattern = make_pattern("", ["rr rr rr rr", "rr rr rr"], "aaaaaaaa", INK)
    plan = plan_band(pattern, 60)
    assert [len(one.knots) for one in plan.cycle] == [7]
    assert plan.cycle_rows == 2
    assert plan.times * 7 + sum(len(p.knots) for p in (*plan.opening, *plan.ending)) == 30 * 7


@settings(max_examples=60, deadline=None)
@given(designs, st.integers(20, 120))
def test_what_is_worked_again_moves_as_the_pass_of_the_round_does(pattern, rows):
    plan = plan_band(pattern, rows)
    assert len(plan.again) == (len(plan.ending) if plan.times else 0)
    for one, n in zip(plan.ending, plan.again, strict=bool(plan.times)):
        moves = [[(i, code) for _, i, code in other.knots] for other in (one, *plan.cycle)]
        if n is not None:
            assert moves[0] == moves[1 + n]
            assert (one.knots[0][0] - plan.cycle[n].knots[0][0]) % plan.cycle_rows == 0


ARROWS = make_pattern(
    "",
    ["ll ll rr rr rr", "ll ll rr rr", "ll ll lr rr rr", "ll ll rr rr", "rl ll rl rr lr",
     "ll ll rr rr", "ll ll ll rr rr", "ll ll rr rr", "lr ll rl rr rl", "ll ll rr rr"],
    "abaccccaba",
    INK,
)  # fmt: skip


@pytest.mark.parametrize("rows", [90, 95, 97, 100])
def test_most_of_the_ending_is_the_round_once_more(rows):
    plan = plan_band(ARROWS, rows)
    whole = [n is not None for n in plan.again]
    assert plan.times > 1
    assert whole.count(False) <= ARROWS.strands // 2  # only what the last row cut short is new
    assert [key for key, _ in itertools.groupby(whole)] in ([True], [False], [True, False])


def test_an_own_mirror_is_worked_left_then_right_then_across_the_middle():
    pattern = make_pattern("", ["rl rr ll lr", "rr rr ll"], "abccccba", INK)
    assert is_own_mirror(pattern)
    plan = plan_band(pattern, 60)
    sides = []
    for one in plan.cycle:
        places = [i for _, i, _ in one.knots]
        sides.append("l" if max(places) <= 2 else "r" if min(places) >= 4 else "m")
    turns = "".join(sides)
    assert set(turns) == {"l", "r", "m"}
    assert "lm" not in turns + turns[0]  # the left is never joined before the right is worked
    opening = plan_band(ARROWS, 60).opening
    starts = [one.start for one in opening if max(i for _, i, _ in one.knots) < 4]
    others = [one.start for one in opening if min(i for _, i, _ in one.knots) > 4]
    assert [one.start for one in opening[:4]] == [
        place for pair in zip(starts, others, strict=True) for place in pair
    ]
    assert not is_own_mirror(make_pattern("", ["rr rr", "rr"], "aaaa", INK))


def test_the_hands_move_less_than_from_the_top_down():
    planned = top_down = 0
    for seed in range(30):
        pattern = random_pattern(10, 24, seed)
        passes = find_passes(pattern, 24)
        graph = nx.DiGraph((m, n) for n, others in enumerate(needs(passes)) for m in others)
        graph.add_nodes_from(range(len(passes)))
        order = nx.lexicographical_topological_sort(graph, key=lambda n: passes[n].knots[0])
        top_down += jumps([passes[n] for n in order])
        planned += jumps(plan_passes(pattern).passes)
    assert planned < 0.9 * top_down


@settings(max_examples=60, deadline=None)
@given(st.integers(4, 12), st.sampled_from([2, 4, 6, 8]), st.integers(0, 2**32 - 1))
def test_a_long_band_takes_the_steady_passes_in_every_period(strands, rows, seed):
    pattern = random_pattern(strands, rows, seed)
    starts = [one.knots[0][0] // rows for one in find_passes(pattern, 40 * rows)]
    assert {starts.count(k) for k in range(20, 40)} == {steady_passes(pattern)}
