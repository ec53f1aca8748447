"""The fewest wrong cells: against brute force, a shortest-path library and an integer program."""

from __future__ import annotations

import itertools
import json
from functools import cache
from pathlib import Path

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from motifsearch.base.errors import InfeasibleError, InputError
from motifsearch.draw.wanted import compare
from motifsearch.pattern.files import format_pattern
from motifsearch.pattern.knots import slots_in_row
from motifsearch.pattern.walk import face, sigma
from motifsearch.target.blocks import LocalSearch
from motifsearch.target.even_states import EvenStates
from motifsearch.target.exact import ExactSearch
from motifsearch.target.grids import wrong_of
from motifsearch.target.motif import Target
from motifsearch.target.reading import read_target
from motifsearch.target.solver import Reach, seed_patterns, solve
from motifsearch.target.states import StateSpace
from motifsearch.target.windows import window_bound

TESTS = Path(__file__).parents[1]
COSTS = json.loads((TESTS / "data" / "target_costs.json").read_text())
NAMES = ("red", "green", "blue", "white")
HEXES = ("#c02020", "#208040", "#2040a0", "#f8f8f8")


def free(work: float) -> None:
    """Count nothing."""


def exact_cost(cells: np.ndarray, strands: int, colours: int, even: bool) -> int:
    most = np.full(colours, strands)
    search = ExactSearch(StateSpace(strands, colours), cells, even, most, free)
    assert search.prove(10_000)
    return search.lower_bound


def random_cells(rng: np.random.Generator, strands: int, rows: int, colours: int) -> np.ndarray:
    cells = rng.integers(-1 if rng.random() < 0.3 else 0, colours, (rows, strands // 2))
    for r in range(rows):
        cells[r, slots_in_row(strands, r) :] = -1
    return cells.astype(np.int8)


def make_target(cells: np.ndarray, strands: int, colours: int) -> Target:
    return Target("t", strands, NAMES[:colours], HEXES[:colours], cells)


@cache
def all_faces(strands: int, rows: int, colours: int, even: bool) -> np.ndarray:
    """Every face of every design whose colours stand as at the start after `rows` rows.

    All 4^knots grids are played from all colour orders, straight from the definition of the
    knots; uint8 [faces, cells].
    """
    knots = sum(slots_in_row(strands, r) for r in range(rows))
    grids = np.arange(4**knots)
    codes = [(grids >> (2 * n)) & 3 for n in range(knots)]
    weight = colours ** np.arange(knots)
    seen: set[int] = set()
    for order in itertools.product(range(colours), repeat=strands):
        if even and any(order.count(c) % 2 for c in range(colours)):
            continue
        at = [np.full(len(grids), c, np.int8) for c in order]
        shown = np.zeros(len(grids), np.int64)
        n = 0
        for r in range(rows):
            for i in range(r % 2, strands - 1, 2):
                from_right, returns = codes[n] & 1, codes[n] & 2
                left, right = at[i], at[i + 1]
                shown += weight[n] * np.where(from_right, right, left)
                at[i] = np.where(returns, left, right)
                at[i + 1] = np.where(returns, right, left)
                n += 1
        closed = np.all([a == c for a, c in zip(at, order, strict=True)], axis=0)
        seen.update(np.unique(shown[closed]).tolist())
    faces = np.array(sorted(seen))
    return ((faces[:, None] // weight) % colours).astype(np.uint8)


SPACES = [(4, 4, 3, True), (4, 2, 3, False), (5, 4, 2, False), (6, 2, 3, True)]


@pytest.mark.parametrize(("strands", "rows", "colours", "even"), SPACES)
def test_every_target_of_a_small_space(strands, rows, colours, even):
    """The optimum equals brute force on all targets; on a sample, with free cells too."""
    faces = all_faces(strands, rows, colours, even)
    knots = faces.shape[1]
    where = [(r, k) for r in range(rows) for k in range(slots_in_row(strands, r))]
    rng = np.random.default_rng(strands * 100 + rows)
    full = list(itertools.product(range(colours), repeat=knots))
    holes = rng.integers(-1, colours, (60, knots)).tolist()
    worst = 0
    for wanted in [*full, *holes]:
        want = np.array(wanted)
        cells = np.full((rows, strands // 2), -1, np.int8)
        for (r, k), c in zip(where, wanted, strict=True):
            cells[r, k] = c
        fewest = int(((want >= 0) & (faces != want)).sum(axis=1).min())
        assert exact_cost(cells, strands, colours, even) == fewest
        worst = max(worst, fewest)
    # Two colours of any number of strands can show everything; three cannot.
    assert worst == {(4, 4, 3, True): 2, (4, 2, 3, False): 0, (5, 4, 2, False): 0}.get(
        (strands, rows, colours, even), 1
    )


def check(reach: Reach, target: Target, even: bool) -> None:
    """Each pattern shows what is said of it, by the plain walk."""
    assert reach.open_bound <= reach.lower_bound <= reach.cost
    assert reach.exact == (reach.lower_bound == reach.cost)
    assert int(reach.wrong[0].sum()) == reach.cost
    for pattern, wrong in zip(reach.patterns, reach.wrong, strict=True):
        assert pattern.rows == target.rows
        assert reach.cost <= int(wrong.sum()) <= reach.cost + 2
        assert [pattern.colour_order[s] for s in sigma(pattern)] == list(pattern.colour_order)
        for r, row in enumerate(face(pattern, target.rows)):
            for k, colour in enumerate(row):
                want = target.cells[r, k]
                bad = want >= 0 and pattern.palette[colour] != target.names[want]
                assert bad == wrong[r, k]
        if even:
            assert all(pattern.colour_order.count(c) % 2 == 0 for c in pattern.palette)
        assert compare(pattern, target.cells, target.names).count <= int(wrong.sum())


@pytest.mark.parametrize(("strands", "rows", "colours", "even"), SPACES)
def test_solve_finds_the_optimum_of_small_spaces(strands, rows, colours, even):
    faces = all_faces(strands, rows, colours, even)
    where = [(r, k) for r in range(rows) for k in range(slots_in_row(strands, r))]
    rng = np.random.default_rng(3)
    for _ in range(4):
        target = make_target(random_cells(rng, strands, rows, colours), strands, colours)
        want = np.array([target.cells[r, k] for r, k in where])
        fewest = int(((want >= 0) & (faces != want)).sum(axis=1).min())
        reach = solve(target, folded=even, rng=rng, n_solutions=3)
        assert (reach.cost, reach.exact) == (fewest, True)
        check(reach, target, even)


@pytest.mark.parametrize("seed", range(3))
def test_against_networkx(seed):
    """The same optimum as Dijkstra's algorithm on the explicit graph of arrangements."""
    strands, rows, colours = 6, 6, 3
    rng = np.random.default_rng(seed)
    cells = random_cells(rng, strands, rows, colours)
    orders = [
        o
        for o in itertools.product(range(colours), repeat=strands)
        if all(o.count(c) % 2 == 0 for c in range(colours))
    ]
    graph = nx.DiGraph()
    for r in range(rows):
        places = range(r % 2, strands - 1, 2)
        for o in orders:
            wrong = sum(
                cells[r, k] >= 0 and cells[r, k] not in (o[i], o[i + 1])
                for k, i in enumerate(places)
            )
            for crossings in itertools.product((False, True), repeat=len(places)):
                after = list(o)
                for i, cross in zip(places, crossings, strict=True):
                    if cross:
                        after[i], after[i + 1] = after[i + 1], after[i]
                graph.add_edge((r, o), (r + 1, tuple(after)), weight=wrong)
    costs = []
    for o in orders:
        far = nx.single_source_dijkstra_path_length(graph, (0, o))
        costs.append(far[rows, o])
    assert exact_cost(cells, strands, colours, True) == min(costs)


@pytest.mark.parametrize(("strands", "rows", "even"), [(6, 4, True), (7, 4, False), (8, 4, True)])
def test_against_an_integer_program(strands, rows, even):
    """The same optimum as a mixed-integer program of the band, solved by SciPy (HiGHS)."""
    colours = 3
    cells = random_cells(np.random.default_rng(strands), strands, rows, colours)
    assert exact_cost(cells, strands, colours, even) == integer_program(cells, strands, even)


def integer_program(cells: np.ndarray, strands: int, even: bool) -> int:
    """Fewest wrong cells; x[r, p, c] colours, y[r, i] crossings, w[r, i] wrong, n[c] threads."""
    from scipy.optimize import Bounds, LinearConstraint, milp

    rows, colours = len(cells), 3
    index: dict[tuple[object, ...], int] = {}

    def var(*key: object) -> int:
        return index.setdefault(key, len(index))

    lines: list[tuple[dict[int, float], float, float]] = []
    for r in range(rows):
        for p in range(strands):
            lines.append(({var("x", r, p, c): 1.0 for c in range(colours)}, 1, 1))
    for c in range(colours):
        line = {var("x", 0, p, c): 1.0 for p in range(strands)}
        if even:
            lines.append((line | {var("n", c): -2.0}, 0, 0))
    for r in range(rows):
        then = (r + 1) % rows
        resting = set(range(strands))
        for k, i in enumerate(range(r % 2, strands - 1, 2)):
            resting -= {i, i + 1}
            y = var("y", r, i)
            want = int(cells[r, k])
            if want >= 0:
                row = {var("w", r, i): 1.0, var("x", r, i, want): 1, var("x", r, i + 1, want): 1}
                lines.append((row, 1, np.inf))
            for c in range(colours):
                for p, q in ((i, i + 1), (i + 1, i)):
                    stay, cross = {var("x", then, p, c): 1.0}, {var("x", then, p, c): 1.0}
                    stay[var("x", r, p, c)] = -1
                    cross[var("x", r, q, c)] = -1
                    lines.append((stay | {y: -1}, -np.inf, 0))
                    lines.append((stay | {y: 1}, 0, np.inf))
                    lines.append((cross | {y: 1}, -np.inf, 1))
                    lines.append((cross | {y: -1}, -1, np.inf))
        for p in resting:
            for c in range(colours):
                same = {var("x", then, p, c): 1.0, var("x", r, p, c): -1.0}
                lines.append((same, 0, 0))
    matrix = np.zeros((len(lines), len(index)))
    for n, (line, _, _) in enumerate(lines):
        for column, value in line.items():
            matrix[n, column] = value
    objective = np.array([float(key[0] == "w") for key in index])
    upper = np.array([float(strands if key[0] == "n" else 1) for key in index])
    limits = LinearConstraint(matrix, [low for _, low, _ in lines], [high for *_, high in lines])
    result = milp(
        objective,
        constraints=limits,
        bounds=Bounds(0, upper),
        integrality=np.ones(len(index)),  # type: ignore[arg-type]
    )
    assert result.success
    return round(result.fun)


@pytest.mark.parametrize("colours", [1, 2, 3, 4])
@pytest.mark.parametrize("strands", [4, 6, 8])
def test_even_states_are_the_even_ones(strands, colours):
    space = StateSpace(strands, colours)
    even = EvenStates(space, free)
    rng = np.random.default_rng(0)

    def of_even_counts(parity: int) -> np.ndarray:
        orders = space.one_order(np.arange(space.size(parity)), parity)
        counts = np.stack([(orders == c).sum(axis=1) for c in range(colours)])
        return np.flatnonzero((counts % 2 == 0).all(axis=0))

    for parity in (0, 1):
        own, other = of_even_counts(parity), of_even_counts(1 - parity)
        assert np.array_equal(even.flat(np.arange(even.size(parity)), parity), own)
        costs = rng.integers(0, 200, space.size(parity)).astype(np.uint8)
        assert np.array_equal(space.regroup(costs, parity)[other], even.regroup(costs[own], parity))
        wanted = rng.integers(-1, colours, strands // 2).astype(np.int8)
        weight = space.row_weight(wanted, parity)
        assert np.array_equal(weight[own], even.row_weight(wanted, parity))
        assert np.array_equal(weight, space.weights(np.arange(space.size(parity)), wanted, parity))


@settings(max_examples=15, deadline=None)
@given(
    st.integers(0, 2**32 - 1), st.integers(4, 8), st.sampled_from([2, 4, 6, 10]), st.integers(1, 4)
)
def test_bounds_and_block_search_enclose_the_optimum(seed, strands, rows, colours):
    rng = np.random.default_rng(seed)
    cells = random_cells(rng, strands, rows, colours)
    even = strands % 2 == 0
    best = exact_cost(cells, strands, colours, even)
    assert all(bound <= best for bound in window_bound(cells, strands, colours, free))
    local = LocalSearch(cells, strands, colours, even, np.full(colours, strands), rng, free)
    cost = local.cost
    for n in range(30):
        local.tidy = n > 15
        now = local.step()
        assert best <= now <= cost
        assert now == wrong_of(local.walk, cells).sum()
        cost = now
        check_closed(local.walk)


def check_closed(walk: np.ndarray) -> None:
    """Every row of a walk follows from the one before, and the first from the last."""
    rows, strands = walk.shape
    for r in range(rows):
        now, then = walk[r], walk[(r + 1) % rows]
        at = r % 2
        assert at == 0 or now[0] == then[0]
        assert (strands - at) % 2 == 0 or now[-1] == then[-1]
        for i in range(at, strands - 1, 2):
            assert sorted(now[i : i + 2]) == sorted(then[i : i + 2])


def test_windows_bound_something():
    """Crosswise bands of four colours: three windows of a wide band, none of them free."""
    cells = np.repeat(np.arange(4, dtype=np.int8), 4)[:, None] * np.ones((1, 10), np.int8)
    cells[1::2, -1] = -1
    bounds = list(window_bound(cells, 20, 4, free))
    assert bounds == sorted(bounds)
    assert bounds[-1] > 10


@pytest.mark.parametrize("name", [n for n, known in COSTS.items() if known["quick"]])
def test_own_targets_reach_the_best_known_cost(name):
    target = read_target(TESTS.parent / "configs" / "targets" / f"{name}.txt")
    folded = target.strands % 2 == 0
    reach = solve(target, folded=folded, rng=np.random.default_rng(1), n_solutions=1)
    assert reach.exact
    assert reach.cost == COSTS[name]["cost"]
    check(reach, reach.target, folded)


def test_every_own_target_has_a_cost():
    files = {p.stem for p in (TESTS.parent / "configs" / "targets").glob("*.txt")}
    assert files == set(COSTS)
    assert all(0 <= k["lower_bound"] <= k["cost"] for k in COSTS.values())


def test_two_colours_can_show_everything():
    """A strand of either colour at every knot is enough; proven by alternating the colours."""
    rng = np.random.default_rng(2)
    for strands in (8, 12):
        target = make_target(rng.integers(0, 2, (10, strands // 2)).astype(np.int8), strands, 2)
        target.cells[1::2, -1] = -1
        assert solve(target, rng=rng, n_solutions=1).cost == 0


def test_same_seed_same_designs():
    target = read_target(TESTS.parent / "configs" / "targets" / "chevron.txt")
    texts = [
        [format_pattern(p) for p in solve(target, rng=np.random.default_rng(7)).patterns]
        for _ in range(2)
    ]
    assert texts[0] == texts[1]
    assert len(set(texts[0])) == len(texts[0]) > 1


def test_little_work_gives_an_honest_bound():
    target = read_target(TESTS.parent / "configs" / "targets" / "tulip.txt")
    reach = solve(target, rng=np.random.default_rng(1), max_work=3e7)
    check(reach, target, True)
    assert reach.lower_bound <= COSTS["tulip"]["cost"] <= reach.cost
    assert not reach.exact


def test_limits_are_kept():
    target = make_target(np.array([[0, 0, 1], [0, 1, -1]], np.int8), 6, 3)
    few = solve(target, max_strands={"red": 2}, rng=np.random.default_rng(0))
    assert all(p.colour_order.count("red") <= 2 for p in few.patterns)
    assert few.exact
    none = solve(target, max_strands={"red": 0, "green": 0}, rng=np.random.default_rng(0))
    assert none.cost == 5
    assert set(none.patterns[0].colour_order) == {"blue"}
    mixed = solve(target, max_strands={"red": 2, "green": 2}, rng=np.random.default_rng(0))
    assert [mixed.patterns[0].colour_order.count(c) for c in NAMES[:3]] == [2, 2, 2]
    limits = {"red": 3, "green": 2, "blue": 1}
    with pytest.raises(InfeasibleError, match="folded threads for 4 strands"):
        solve(target, max_strands=limits, rng=np.random.default_rng(0))
    with pytest.raises(InputError, match="did you mean 'red'"):
        solve(target, max_strands={"rde": 2}, rng=np.random.default_rng(0))
    odd = make_target(np.zeros((2, 2), np.int8), 5, 1)
    with pytest.raises(InfeasibleError, match="take an even number"):
        solve(odd, rng=np.random.default_rng(0))


def test_on_better_tells_ever_better_results():
    target = read_target(TESTS.parent / "configs" / "targets" / "diamond.txt")
    told: list[int] = []
    solve(
        target,
        rng=np.random.default_rng(0),
        n_solutions=1,
        on_better=lambda reach: told.append(reach.cost),
    )
    assert told == sorted(set(told), reverse=True)
    assert told[-1] == COSTS["diamond"]["cost"]


def test_seeds_are_whole_grids():
    target = read_target(TESTS.parent / "configs" / "targets" / "chevron.txt")
    seeds = seed_patterns(target, 4, rng=np.random.default_rng(0), rows=16)
    assert 1 <= len(seeds) <= 4
    for p in seeds:
        assert p.rows == 16
        assert compare(p, target.cells, target.names).count <= COSTS["chevron"]["cost"] + 2
    with pytest.raises(InputError, match="a multiple of the target's 8 rows"):
        seed_patterns(target, 4, rng=np.random.default_rng(0), rows=12)
