"""The parts of the search: constructions, genomes, variation, selection, archive, variety, polish,
the loop and its checkpoint.

Faces are checked on the plain walk of `motifsearch.pattern`, sorting against DEAP, hypervolume
against worked sets and its definition, distances against SciPy, orbits against networkx.
"""

from __future__ import annotations

import copy
import io
import itertools
import math
import zipfile
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import asdict, fields, replace

import moocore
import networkx as nx
import numpy as np
import pytest
from conftest import INKS, patterns
from enumeration import as_grid, cells, colour_orders, digits
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.distance import jaccard

from motifsearch.base.errors import InputError
from motifsearch.pattern.canonical_form import canonical, canonical_key
from motifsearch.pattern.design import Pattern, make_pattern
from motifsearch.pattern.knots import CODE, slots_in_row
from motifsearch.pattern.walk import colour_return, face
from motifsearch.search.archive import CELLS, SHAPE, cell_of, empty_archive
from motifsearch.search.brief import brief_of
from motifsearch.search.checkpoint import checkpoint_bytes, load_checkpoint, save_checkpoint
from motifsearch.search.construction import CONSTRUCTIONS, available, colour_classes, plan
from motifsearch.search.genome import (
    Genomes,
    Space,
    design_hash,
    develop,
    genomes_of,
    join,
    odd_colours,
    pattern_of,
    random_genomes,
)
from motifsearch.search.island import Judge, new_island, run_epoch, space_of
from motifsearch.search.loop import at_rest, evolve, hypervolume, new_run
from motifsearch.search.outcome import finish
from motifsearch.search.polishing import neighbours, polish
from motifsearch.search.selection import directions, ranking
from motifsearch.search.variation import MUTATIONS, at_period, exchange_bands, mutate
from motifsearch.search.variety import NEAR, distances, face_distance, pick, repeat_face, variants

NAMES, HEXES = tuple(INKS), tuple(INKS.values())


def space(strands=8, period=8, palette=3, folded=True, border=False) -> Space:
    return Space(strands, period, palette, min(2, palette), palette, folded, border)


def drawn(sp: Space, n: int, seed: int = 0, **given_) -> Genomes:
    g = random_genomes(sp, n, np.random.default_rng(seed))
    for key, value in given_.items():
        setattr(g, key, np.full(n, value, np.uint8))
    return g


def shown(grid, colours, n) -> Pattern:
    return pattern_of(grid[..., n], colours[:, n], "", NAMES, HEXES)


def same(a: Genomes, b: Genomes) -> bool:
    return all(np.array_equal(getattr(a, f.name), getattr(b, f.name)) for f in fields(Genomes))


@pytest.fixture
def brief(tmp_path):
    path = tmp_path / "stash.toml"
    path.write_text(
        "".join(
            f'[[threads]]\nname = "{n}"\ncolour = "{h}"\ndiameter_mm = 0.6\npieces_m = [90.0]\n'
            for n, h in list(INKS.items())[:3]
        ),
        encoding="utf-8",
    )
    return brief_of(
        {
            "stash": str(path),
            "strands": 6,
            "length_mm": 120,
            "search.periods": [4, 6],
            "search.population": 30,
            "search.exchange_every": 3,
            "search.generations": 9,
            "search.seed": 11,
            "search.rest_after": 0,
        }
    )


# --- Constructions.


def that_exist(sizes):
    """Return (S, P, construction) for every construction that exists at these sizes."""
    return [(s, p, CONSTRUCTIONS[c]) for s, p in sizes for c in available(s, p)]


@pytest.mark.parametrize(
    ("strands", "period", "name"), that_exist([(6, 4), (8, 6), (7, 6), (9, 8), (4, 12)])
)
def test_a_construction_shows_on_the_face(strands, period, name):
    """Straight from the definitions of design.md, on the strip that the plain walk knots."""
    c = CONSTRUCTIONS.index(name)
    sp = space(strands, period, folded=False)
    grid, colours = develop(drawn(sp, 12, c, construction=c), sp)
    odd, tried = strands % 2, 0
    for n in range(12):
        p = shown(grid, colours, n)
        total = colour_return(p) * period
        if total > 120:
            continue
        tried += 1
        rows = face(p, total)
        cell = {(r, r % 2 + 2 * k): v for r, row in enumerate(rows) for k, v in enumerate(row)}
        images = {
            "none": [],
            "mirror": [lambda r, i: (r, strands - 2 - i)],
            "glide": [lambda r, i: (r + period // 2, strands - 2 - i)],
            "half_turn": [lambda r, i: (-odd - r, strands - 2 - i)],
            "flip": [lambda r, i: (-r, i)],
            "mirror_flip": [lambda r, i: (r, strands - 2 - i), lambda r, i: (-r, i)],
        }[name]
        for image in images:
            for (r, i), colour in cell.items():
                row, position = image(r, i)
                assert cell[row % total, position] == colour
    assert tried >= 6


def test_constructions_that_exist():
    """Glide needs P/2 and S of one parity, a mirror an even S (design.md, section 4)."""
    for strands in range(4, 13):
        for period in (2, 4, 6, 8, 10):
            found = {CONSTRUCTIONS[c] for c in available(strands, period)}
            assert ("mirror" in found) == ("mirror_flip" in found) == (strands % 2 == 0)
            assert ("glide" in found) == (period // 2 % 2 == strands % 2)
            assert {"none", "flip", "half_turn"} <= found


@pytest.mark.parametrize(("strands", "period", "name"), that_exist([(6, 4), (7, 6), (10, 8)]))
def test_free_knots_are_one_per_orbit(strands, period, name):
    c = CONSTRUCTIONS.index(name)
    odd, graph = strands % 2, nx.Graph()
    graph.add_nodes_from(cells(strands, period))
    for r, i in cells(strands, period):
        last = strands - 2 - i
        if name in ("mirror", "mirror_flip"):
            graph.add_edge((r, i), (r, last))
        if name in ("flip", "mirror_flip"):
            graph.add_edge((r, i), (-r % period, i))
        if name == "glide":
            graph.add_edge((r, i), ((r + period // 2) % period, last))
        if name == "half_turn":
            graph.add_edge((r, i), ((-odd - r) % period, last))
    free = plan(c, strands, period, False).free
    assert free.sum() == nx.number_connected_components(graph)


@pytest.mark.parametrize("strands", [6, 7])
def test_settled_designs_stand_as_at_the_start_after_one_period(strands):
    sp = space(strands, 6, folded=False)
    grid, colours = develop(drawn(sp, 60, 1, settled=1), sp)
    assert all(colour_return(shown(grid, colours, n)) == 1 for n in range(60))
    loose = develop(drawn(sp, 60, 1, settled=0), sp)
    assert any(colour_return(shown(*loose, n)) > 1 for n in range(60))


@pytest.mark.parametrize("strands", [6, 7, 12])
def test_a_border_ties_every_one_of_its_knots(strands):
    sp = space(strands, 8, border=True)
    grid, _ = develop(drawn(sp, 50, 2), sp)
    for r, i in cells(strands, 8):
        if i == 0:
            assert (grid[r, 0] == CODE["rl"]).all()
        elif i == strands - 2:
            assert (grid[r, i // 2] == CODE["lr"]).all()


# --- Genomes.


@pytest.mark.parametrize(("strands", "period"), [(4, 4), (7, 6), (8, 12), (12, 8)])
@pytest.mark.parametrize("border", [False, True])
def test_developing_a_developed_design_changes_nothing(strands, period, border):
    """The population holds developed designs, so that their knots are genes again."""
    sp = space(strands, period, border=border)
    g = drawn(sp, 300, 3)
    grid, colours = develop(g, sp)
    again, once_more = develop(Genomes(g.construction, g.settled, grid, colours), sp)
    assert np.array_equal(again, grid)
    assert np.array_equal(once_more, colours)


def test_folded_threads_leave_even_numbers():
    for strands in (6, 7):
        sp = space(strands, 6, palette=5)
        g = drawn(sp, 400, 4)
        grid, colours = develop(g, sp)
        odd = odd_colours(colours, 5)
        free = (g.construction == 0) & (g.settled == 0)
        assert (odd[free] <= strands % 2).all()
        # Where the classes of strands are larger it is made even as far as they allow: a class
        # of odd size cannot be split, so no more colours stay odd than there are such classes.
        classes = colour_classes(g.construction, g.settled, grid, strands)
        sizes = np.array([(classes == x).sum(0) % 2 for x in range(strands)]).sum(0)
        assert (odd <= sizes).all()
        assert (odd[sizes <= 1] <= strands % 2).all()
        assert (odd <= 1).mean() > 0.9


def test_strands_of_one_class_have_one_colour():
    sp = space(8, 8, palette=4)
    g = drawn(sp, 300, 5)
    grid, colours = develop(g, sp)
    classes = colour_classes(g.construction, g.settled, grid, 8)
    assert np.array_equal(np.take_along_axis(colours, classes.astype(np.intp), 0), colours)


def test_random_genomes_are_within_the_space():
    sp = Space(9, 6, 5, 2, 3, True, False)
    g = random_genomes(sp, 500, np.random.default_rng(0))
    assert g.knots.shape == (6, 4, 500)
    assert g.colours.shape == (9, 500)
    assert g.knots.max() == 3
    assert set(np.unique(g.construction)) == set(available(9, 6))
    used = [len(set(g.colours[:, n].tolist())) for n in range(500)]
    assert max(used) == 3
    assert set(np.unique(g.colours)) == set(range(5))
    assert same(g, random_genomes(sp, 500, np.random.default_rng(0)))


def test_the_hash_tells_all_designs_of_a_small_space_apart():
    codes = digits(np.arange(4**6), 6)
    grid = as_grid(codes, 4, 4)
    keys = [
        design_hash(grid, np.repeat(line[:, None], 4**6, 1))
        for line in colour_orders(4, 1, 4, folded=False)
    ]
    assert len(np.unique(np.concatenate(keys))) == 4**6 * 15  # Bell number of 4
    assert np.array_equal(design_hash(grid[..., :7], np.zeros((4, 7), np.uint8)), keys[0][:7])


@settings(max_examples=50)
@given(patterns(max_rows=6, max_colours=4))
def test_a_pattern_survives_being_a_genome(pattern):
    if colour_return(pattern) * pattern.rows > 120:
        return
    sp = space(pattern.strands, pattern.rows * 2, palette=5, folded=False)
    g = genomes_of(pattern, sp, NAMES)
    assert g is not None
    grid, colours = develop(g, sp)
    assert canonical(shown(grid, colours, 0)) == canonical(pattern)
    assert shown(grid, colours, 0).colour_order == pattern.colour_order


def test_patterns_that_do_not_fit_make_no_genome():
    p = make_pattern("", ["rr rr", "rr"] * 2, "abab", {"a": "#111111", "b": "#eeeeee"})
    assert genomes_of(p, space(6, 4), NAMES) is None
    four = make_pattern(
        "", ["rr rr", "rr", "ll ll", "rr"], "abab", {"a": "#111111", "b": "#eeeeee"}
    )
    assert genomes_of(four, space(4, 6), NAMES) is None
    assert genomes_of(p, space(4, 4, palette=1), NAMES[:1]) is None
    other = genomes_of(p, space(4, 4), NAMES[:3])
    assert other is not None
    assert other.colours[:, 0].tolist() == [0, 1, 0, 1]


# --- Variation.


@pytest.mark.parametrize("name", MUTATIONS)
@pytest.mark.parametrize(("strands", "period"), [(4, 2), (7, 6), (10, 12)])
def test_operators_return_changed_copies_within_the_space(name, strands, period):
    sp, n = space(strands, period), 200
    g = drawn(sp, n, 6)
    before = copy.deepcopy(g)
    child = MUTATIONS[name][0](g, sp, np.random.default_rng(7))
    assert same(g, before)
    if period > 2 or name not in ("repeat_band", "shift_phase"):  # two rows have one phase
        assert not same(child, g)
    for f in fields(Genomes):
        value = getattr(child, f.name)
        assert value.dtype == np.uint8
        assert value.shape == getattr(g, f.name).shape
    assert child.knots.max() <= 3
    assert child.colours.max() < sp.palette
    assert set(np.unique(child.construction)) <= set(sp.constructions)
    assert child.settled.max() <= 1
    child.knots[:] = 9  # what is returned shares no memory with what was given
    child.colours[:] = 9
    assert same(g, before)
    assert len(MUTATIONS[name][0](g.take(np.zeros(0, int)), sp, np.random.default_rng(7))) == 0


def test_each_operator_touches_its_own_genes():
    sp = space(8, 8)
    g = drawn(sp, 300, 8)
    touched = {"recolour": {"colours", "settled"}, "reconstruct": {"construction"}}
    for name, (operator, _) in MUTATIONS.items():
        child = operator(g, sp, np.random.default_rng(9))
        changed = {
            f.name
            for f in fields(Genomes)
            if not np.array_equal(getattr(child, f.name), getattr(g, f.name))
        }
        assert changed == touched.get(name, {"knots"}), name


def test_a_shifted_phase_is_the_same_design():
    """Without construction and with one colour nothing but the phase is left."""
    sp = space(6, 8, palette=1)
    g = drawn(sp, 40, 10, construction=0, settled=0)
    child = MUTATIONS["shift_phase"][0](g, sp, np.random.default_rng(1))
    before, after = develop(g, sp), develop(child, sp)
    for n in range(40):
        assert canonical_key(shown(*before, n)) == canonical_key(shown(*after, n))


def test_a_repeated_band_holds_rows_of_the_design():
    sp = space(6, 10)
    g = drawn(sp, 60, 11)
    child = MUTATIONS["repeat_band"][0](g, sp, np.random.default_rng(2))
    for n in range(60):
        for r in range(10):
            same_parity = g.knots[r % 2 :: 2, :, n].tolist()
            assert child.knots[r, :, n].tolist() in same_parity


def test_exchanged_bands_come_from_the_parents():
    sp, n = space(8, 8), 200
    a, b = drawn(sp, n, 12), drawn(sp, n, 13)
    child = exchange_bands(a, b, sp, np.random.default_rng(3))
    from_b = np.zeros(n, bool)
    for k in range(n):
        mine, theirs = a.knots[..., k], b.knots[..., k]
        options = [mine, *(np.roll(theirs, -s, axis=0) for s in range(0, 8, 2))]
        assert (np.stack(options) == child.knots[..., k]).any(0).all()
        from_b[k] = not np.array_equal(child.knots[..., k], mine)
        assert child.colours[:, k].tolist() in (a.colours[:, k].tolist(), b.colours[:, k].tolist())
    assert from_b.mean() > 0.8
    assert np.array_equal(child.construction, a.construction)


def test_operators_are_drawn_by_their_weights():
    """With every other one left out, only `reconstruct` acts; otherwise the shares are those."""
    sp, n = space(8, 8), 4000
    g = drawn(sp, n, 14, construction=0)
    only = frozenset(MUTATIONS) - {"reconstruct"}
    child = mutate(g, sp, np.random.default_rng(4), only)
    assert np.array_equal(child.knots, g.knots)
    assert np.array_equal(child.colours, g.colours)
    moved = (child.construction != 0).mean()
    assert moved > 0.75
    share = MUTATIONS["reconstruct"][1] / sum(w for _, w in MUTATIONS.values())
    child = mutate(g, sp, np.random.default_rng(4))
    assert (child.construction != 0).mean() == pytest.approx(moved * share, abs=0.02)


@pytest.mark.parametrize("strands", [6, 7])
def test_a_longer_period_repeats_the_design(strands):
    sp, longer = space(strands, 4), space(strands, 12)
    g = drawn(sp, 60, 15)
    grid, colours = develop(g, sp)
    again = develop(at_period(g, grid, colours, 12), longer)
    for n in range(60):
        assert canonical_key(shown(grid, colours, n)) == canonical_key(shown(*again, n))
    shorter = at_period(g, grid, colours, 2)
    assert np.array_equal(shorter.knots, grid[:2])


# --- Selection.

# Six points (minimised) and their fronts, by hand.
SORTED = (
    [[1, 5], [2, 3], [4, 1], [5, 5], [2, 4], [6, 6]],
    [[0, 1, 2], [4], [3], [5]],
)


def test_ranks_by_hand():
    points, fronts = SORTED
    costs = np.array(points, float).T / 10
    order = ranking(costs, np.zeros(6), np.zeros(6)).tolist()
    assert set(order[:3]) == set(fronts[0])
    assert order[3:] == [4, 3, 5]


@pytest.mark.parametrize("objectives", [1, 2, 3, 5])
def test_ranks_equal_those_of_deap(objectives):
    """Nondominated sorting of DEAP 1.4 (Deb et al. 2002), an implementation that is not ours."""
    from deap import base
    from deap.tools import sortNondominated

    class Fitness(base.Fitness):
        weights = (-1.0,) * objectives

    class Individual:
        def __init__(self, number, values):
            self.number, self.fitness = number, Fitness(values)

    rng = np.random.default_rng(objectives)
    costs = np.round(rng.random((objectives, 120)), 1)
    people = [Individual(n, tuple(costs[:, n])) for n in range(120)]
    fronts = sortNondominated(people, 120)
    order = ranking(costs, np.zeros(120), rng.random(120)).tolist()
    start = 0
    # Designs with the costs of one before them may be sent to the back; the others keep ranks.
    first = {tuple(costs[:, n]): n for n in reversed(order)}
    kept = [n for n in order if first[tuple(costs[:, n])] == n]
    for front in fronts:
        want = {tuple(costs[:, p.number]) for p in front}
        got = [tuple(costs[:, n]) for n in kept[start : start + len(want)]]
        assert set(got) == want
        start += len(want)


def test_limits_come_before_ranks():
    costs = np.array([[0.0, 0.9, 0.5, 0.1], [0.0, 0.9, 0.5, 0.1]])
    order = ranking(costs, np.array([0.2, 0.0, 0.0, 0.1]), np.zeros(4)).tolist()
    assert order == [2, 1, 3, 0]
    none = ranking(costs, np.array([0.4, 0.3, 0.2, 0.1]), np.zeros(4)).tolist()
    assert none == [3, 2, 1, 0]


@pytest.mark.parametrize(("objectives", "divisions"), [(2, 60), (3, 10), (4, 6), (5, 5)])
def test_directions_are_as_many_as_das_and_dennis_say(objectives, divisions):
    """C(divisions + objectives - 1, divisions) points on the simplex (SIAM J. Optim. 8, 1998)."""
    ways = directions(objectives)
    assert len(ways) == math.comb(divisions + objectives - 1, divisions)
    assert np.linalg.norm(ways, axis=1) == pytest.approx(1.0)
    assert len(np.unique(np.round(ways, 12), axis=0)) == len(ways)


def test_a_rank_is_spread_over_the_directions():
    """A crowd in one corner does not push out the few elsewhere."""
    angle = np.r_[np.linspace(0.01, 0.02, 60), np.linspace(0.3, 1.5, 6)]
    costs = 1.0 - 0.5 * np.array([np.cos(angle), np.sin(angle)])  # one front
    head = ranking(costs, np.zeros(66), np.zeros(66))[:20]
    assert set(range(60, 66)) <= set(head.tolist())


# Worked sets with their hypervolumes, by hand: unions of rectangles and boxes.
@pytest.mark.parametrize(
    ("points", "ref", "want"),
    [
        ([[0, 1], [0.5, 0.5], [1, 0]], [2, 2], 3.25),
        ([[1, 5], [2, 3], [4, 1]], [6, 6], 17.0),
        ([[1, 5], [2, 3], [4, 1], [5, 5]], [6, 6], 17.0),
        ([[0, 2], [2, 0]], [3, 3], 5.0),
        ([[1, 2, 3], [2, 3, 1], [3, 1, 2]], [4, 4, 4], 13.0),
    ],
)
def test_hypervolume_of_worked_sets(points, ref, want):
    assert moocore.hypervolume(np.array(points, float), ref=ref) == pytest.approx(want)


def test_hypervolume_of_a_known_curve():
    """ZDT1 (Zitzler, Deb, Thiele 2000): 1.1^2 - 1/3 is the limit; 10,001 points come close."""
    x = np.linspace(0, 1, 10001)
    got = moocore.hypervolume(np.stack([x, 1 - np.sqrt(x)], 1), ref=[1.1, 1.1])
    assert got == pytest.approx(1.1**2 - 1 / 3, abs=1e-4)
    assert got < 1.1**2 - 1 / 3


@pytest.mark.parametrize("objectives", [1, 2, 3, 5])
def test_hypervolume_by_inclusion_and_exclusion(objectives):
    """From the definition: the measure of a union of boxes, summed over all sets of boxes."""
    points = np.random.default_rng(objectives).random((9, objectives))
    want = 0.0
    for size in range(1, 10):
        for some in itertools.combinations(points, size):
            want -= (-1) ** size * float(np.prod(1.0 - np.max(some, axis=0)))
    assert moocore.hypervolume(points, ref=np.ones(objectives)) == pytest.approx(want)


def test_the_run_reports_the_volume_of_its_feasible_designs(brief):
    run, _ = evolve(brief, new_run(brief), generations=3)
    kept = np.concatenate(
        [i.population.costs[:, i.population.violation == 0] for i in run.islands], 1
    ).T
    whole = moocore.hypervolume(np.unique(kept, axis=0), ref=np.ones(kept.shape[1]))
    assert 0 < run.progress[-1]["hypervolume"] <= whole + 1e-9
    assert hypervolume(run.islands) == pytest.approx(whole, rel=0.02)
    assert hypervolume([replace(i, population=None) for i in run.islands]) == 0.0


# --- The archive.


def test_every_cell_keeps_its_best():
    """Against a plain dictionary, over many batches."""
    sp = space(6, 4)
    archive, best = empty_archive(sp), {}
    rng = np.random.default_rng(0)
    for step in range(12):
        n = int(rng.integers(0, 40))
        g = random_genomes(sp, n, rng)
        held = rng.integers(0, 30, n)
        utility = np.round(rng.random(n), 1)
        changed = archive.add(held, utility, g)
        news = set()
        for k in range(n):
            c = int(held[k])
            if c not in best or utility[k] > best[c][0]:
                best[c] = (utility[k], g.knots[..., k].tobytes())
                news.add(c)
        assert changed == len(news)
        assert archive.cells.tolist() == sorted(best), step
        for c, u, k in zip(archive.cells, archive.utility, range(len(archive)), strict=True):
            assert best[int(c)] == (u, archive.genomes.knots[..., k].tobytes())


def test_an_equal_design_does_not_take_the_cell():
    sp = space(6, 4)
    archive = empty_archive(sp)
    one, two = drawn(sp, 1, 1), drawn(sp, 1, 2)
    assert archive.add(np.array([5]), np.array([0.5]), one) == 1
    assert archive.add(np.array([5]), np.array([0.5]), two) == 0
    assert same(archive.genomes, one)


def test_cells_tell_kinds_apart(brief):
    judge, sp = Judge(brief), space_of(brief, 6)
    g = drawn(sp, 400, 3)
    scores, _, colours = judge.scores(g, sp)
    found = cell_of(scores, colours, sp.palette)
    assert found.min() >= 0
    assert found.max() < CELLS == math.prod(SHAPE)
    parts = np.unravel_index(found, SHAPE)
    assert np.array_equal(parts[0], scores.frieze)
    used = np.array([len(set(colours[:, n].tolist())) for n in range(400)])
    assert np.array_equal(parts[3], used - 1)
    assert (np.diff(parts[4][np.argsort(scores.repeat_rows)]) >= 0).all()


# --- Variety.


@settings(max_examples=40)
@given(patterns(max_rows=6, max_colours=3), st.integers(0, 3))
def test_the_same_band_is_at_no_distance(pattern, turn):
    """Shifted by two rows, mirrored, or with other colours: the outline is the same."""
    if colour_return(pattern) * pattern.rows > 60:
        return
    from motifsearch.pattern.walk import walk

    names = dict(zip(pattern.palette, ("x", "y", "z"), strict=False))
    ink = {new: INKS[old] for old, new in names.items()}
    order = [names[c] for c in pattern.colour_order]
    rows = pattern.row_texts()
    if turn % 2:
        start = walk(pattern, 2).orders[-1]
        rows, order = rows[2:] + rows[:2], [order[x] for x in start]
    if turn >= 2 and pattern.strands % 2 == 0:
        other = {"rr": "ll", "ll": "rr", "rl": "lr", "lr": "rl"}
        rows = [" ".join(other[w] for w in row.split()[::-1]) for row in rows]
        order = order[::-1]
    assert face_distance(pattern, make_pattern("", rows, order, ink)) == 0.0


def test_distances_are_jaccard():
    """SciPy's, over the bits of every variant; the least counts."""
    some = [random_pattern(n) for n in range(5)]
    packed = [variants(repeat_face(p), 6) for p in some]
    got = distances(packed[0][0], packed)
    one = np.unpackbits(packed[0][0]).astype(bool)
    want = [min(jaccard(one, np.unpackbits(v).astype(bool)) for v in group) for group in packed]
    assert got == pytest.approx(want)
    assert got[0] == 0.0
    assert (got[1:] > 0).all()


def random_pattern(seed: int, rows: int = 4) -> Pattern:
    rng = np.random.default_rng(seed)
    words = ["rr", "ll", "rl", "lr"]
    texts = [" ".join(rng.choice(words, slots_in_row(6, r))) for r in range(rows)]
    return make_pattern("", texts, list(rng.permutation(list("aabbcc"))), dict(zip("abc", HEXES)))  # noqa: B905


def test_a_gallery_is_good_and_varied():
    some = [random_pattern(n) for n in range(30)]
    utility = np.linspace(0.9, 0.3, 30)
    some.insert(1, some[0])
    utility = np.insert(utility, 1, 0.9)
    chosen, gaps = pick(some, utility, 8)
    assert chosen[0] == 0
    assert len(chosen) == len(gaps) == 8
    assert 1 not in chosen
    assert gaps[0] == 1.0
    for k, n in enumerate(chosen[1:], 1):
        nearest = min(face_distance(some[m], some[n]) for m in chosen[:k])
        assert nearest >= NEAR
        assert gaps[k] == pytest.approx(nearest)
    held, _ = pick(some, utility, 3, first=0)
    assert held == chosen[:3]
    assert pick(some[5:], utility[5:], 4, first=2)[0][:2] == [0, 1]
    assert pick([], np.zeros(0), 4) == ([], [])


# --- Polish.


def test_polish_climbs_to_where_no_neighbour_is_better(brief):
    judge, sp = Judge(brief), space_of(brief, 4)
    g = drawn(sp, 40, 17)
    start, _ = judge.judge(g, sp)
    good = start.take(np.flatnonzero(start.violation == 0)[:6])
    top = polish(judge, good, sp, rounds=60)
    assert (top.utility >= good.utility).all()
    assert (top.utility > good.utility).any()
    assert (top.violation == 0).all()
    for n in range(6):
        around, _ = judge.judge(neighbours(top.genomes.take(np.array([n])), sp), sp)
        assert around.utility[around.violation == 0].max(initial=0) <= top.utility[n]
    grid, colours = develop(top.genomes, sp)
    again, _ = judge.judge(top.genomes, sp)
    assert np.array_equal(again.utility, top.utility)
    assert grid.shape[2] == colours.shape[1] == 6
    still = polish(judge, good, sp, rounds=0)
    assert np.array_equal(still.utility, good.utility)


def test_neighbours_are_all_single_changes():
    sp = space(6, 4)
    g = drawn(sp, 1, 18, construction=0, settled=0)
    around = neighbours(g, sp)
    knots = 4 // 2 * (3 + 2)
    order = g.colours[:, 0]
    pairs = sum(order[x] != order[y] for x in range(6) for y in range(x))
    assert len(around) == 3 * knots + pairs
    seen = {
        (around.knots[..., n].tobytes(), around.colours[:, n].tobytes()) for n in range(len(around))
    }
    assert len(seen) == len(around)
    for n in range(len(around)):
        changed = (around.knots[..., n] != g.knots[..., 0]).sum()
        swapped = (around.colours[:, n] != order).sum()
        assert (changed, swapped) in ((1, 0), (0, 2))


# --- Islands and the loop.


def test_an_epoch_leaves_what_it_was_given(brief):
    judge = Judge(brief)
    island = run_epoch(judge, new_island(brief, 6, np.random.SeedSequence(1)), 3, 30)
    before = copy.deepcopy(island)
    one, two = run_epoch(judge, island, 2, 30), run_epoch(judge, island, 2, 30)
    for mine, old in ((island, before), (one, two)):
        assert mine.rng_state == old.rng_state
        assert mine.log == old.log
        assert np.array_equal(mine.seen, old.seen)
        assert np.array_equal(mine.population.costs, old.population.costs)
        assert np.array_equal(mine.archive.utility, old.archive.utility)
        assert same(mine.archive.genomes, old.archive.genomes)
    assert one.generation == 5


def test_the_population_is_developed_and_scored_right(brief):
    judge = Judge(brief)
    island = run_epoch(judge, new_island(brief, 6, np.random.SeedSequence(2)), 6, 40)
    for genomes, utility in (
        (island.population.genomes, island.population.utility),
        (island.archive.genomes, island.archive.utility),
    ):
        grid, colours = develop(genomes, island.space)
        assert np.array_equal(grid, genomes.knots)
        assert np.array_equal(colours, genomes.colours)
        again, cells_ = judge.judge(genomes, island.space)
        assert np.array_equal(again.utility, utility)
    assert np.array_equal(cells_, island.archive.cells)
    assert len(island.population.utility) <= 40


def test_no_design_is_scored_twice(brief, monkeypatch):
    judge = Judge(brief)
    seen, original = [], judge.judge_batches

    def noting(batches):
        for _, grid, colours, _ in batches:
            seen.extend(
                (grid[..., n].tobytes(), colours[:, n].tobytes()) for n in range(colours.shape[1])
            )
        return original(batches)

    monkeypatch.setattr(judge, "judge_batches", noting)
    island = run_epoch(judge, new_island(brief, 4, np.random.SeedSequence(3)), 12, 40)
    assert len(seen) == island.scored == len(set(seen))
    assert island.repeated > 0
    assert island.scored + island.repeated == 12 * 40


def test_seeds_join_the_first_generation(brief):
    judge, sp = Judge(brief), space_of(brief, 6)
    seeds = drawn(sp, 5, 4)
    with_seeds = run_epoch(judge, new_island(brief, 6, np.random.SeedSequence(4)), 1, 200, seeds)
    without = run_epoch(judge, new_island(brief, 6, np.random.SeedSequence(4)), 1, 200)
    count = with_seeds.scored + with_seeds.repeated
    assert count == without.scored + without.repeated + 5


def test_better_with_time(brief):
    """Best, cells and quality never fall; and as many draws by chance fill the archive less."""
    run, _ = evolve(brief, new_run(brief), generations=30)
    for key in ("best", "cells", "quality"):
        values = [step[key] for step in run.progress]
        assert values == sorted(values)
    judge = Judge(brief)
    for island in run.islands:
        g = random_genomes(island.space, island.scored, np.random.default_rng(5))
        judged, held = judge.judge(g, island.space)
        good = np.flatnonzero(judged.violation == 0)
        by_chance = empty_archive(island.space)
        by_chance.add(held[good], judged.utility[good], judged.genomes.take(good))
        assert island.archive.utility.sum() > 1.1 * by_chance.utility.sum()


class Broken(Executor):
    """Workers that die at once."""

    def submit(self, fn, /, *args, **kwargs):
        future: Future = Future()
        future.set_exception(BrokenProcessPool("gone"))
        return future


def test_workers_change_nothing(brief):
    """The same bytes for none, threads, two processes, and for workers that die."""
    alone = checkpoint_bytes(evolve(brief, new_run(brief))[0])
    for pool in (ThreadPoolExecutor(2), ProcessPoolExecutor(2), Broken()):
        with pool:
            run, why = evolve(brief, new_run(brief), executor=pool)
        assert checkpoint_bytes(run) == alone
        assert why == "generations"


def test_the_outcome_is_the_same_whoever_works(brief):
    run, _ = evolve(brief, new_run(brief))
    alone = finish(brief, run)
    assert len(alone.found) > 1
    for pool in (ThreadPoolExecutor(3), Broken()):
        with pool:
            assert finish(brief, run, executor=pool) == alone


@pytest.mark.parametrize("first", [1, 3, 4, 8])
def test_a_run_in_two_parts_is_the_run(brief, tmp_path, first):
    whole, _ = evolve(brief, new_run(brief))
    part, _ = evolve(brief, new_run(brief), generations=first)
    save_checkpoint(part, tmp_path / "run.ckpt")
    rest, _ = evolve(brief, load_checkpoint(tmp_path / "run.ckpt", brief))
    assert checkpoint_bytes(rest) == checkpoint_bytes(whole)


def test_what_exchange_hands_out_can_be_resumed(brief, tmp_path):
    """Killed after any exchange: the last checkpoint leads to the same end."""
    kept = []
    whole, _ = evolve(brief, new_run(brief), on_exchange=lambda r: kept.append(checkpoint_bytes(r)))
    assert len(kept) == 3
    for n, data in enumerate(kept):
        path = tmp_path / f"{n}.ckpt"
        path.write_bytes(data)
        again, _ = evolve(brief, load_checkpoint(path, brief))
        assert checkpoint_bytes(again) == checkpoint_bytes(whole)


def test_another_seed_is_another_run(brief):
    other = replace(brief, search=replace(brief.search, seed=12))
    assert checkpoint_bytes(evolve(brief, new_run(brief), generations=2)[0]) != checkpoint_bytes(
        evolve(other, new_run(other), generations=2)[0]
    )


@pytest.mark.slow
def test_why_it_stops(brief):
    assert evolve(brief, new_run(brief), generations=2)[1] == "generations"
    run, why = evolve(brief, new_run(brief), seconds=0.0)
    assert (run.generation, why) == (0, "seconds")
    asked = iter(["", "interrupted"])
    run, why = evolve(brief, new_run(brief), stop=lambda: next(asked))
    assert (run.generation, why) == (3, "interrupted")
    lazy = replace(brief, search=replace(brief.search, rest_after=1, generations=3000))
    run, why = evolve(lazy, new_run(lazy))
    assert why == "rest"
    assert at_rest(run.progress, 1)
    assert run.generation < 3000


def test_at_rest_looks_at_all_three():
    still = {"hypervolume": 0.5, "quality": 10.0, "best": 0.8}
    assert at_rest([still] * 4, 3)
    assert not at_rest([still] * 3, 3)
    assert not at_rest([still] * 4, 0)
    for key in still:
        assert not at_rest([still] * 3 + [{**still, key: still[key] * 1.01}], 3)
        assert at_rest([still] * 3 + [{**still, key: still[key] * 1.0005}], 3)


def test_designs_to_start_from(brief):
    fits = random_pattern(1)
    too_wide = make_pattern("", ["rr " * 4, "rr " * 3], "aabbaabb", {"a": HEXES[0], "b": HEXES[1]})
    run = new_run(brief, [fits, too_wide])
    assert [None if p is None else len(p) for p in run.pending] == [1, None]
    assert new_run(brief, [too_wide]).pending == [None, None]


# --- Checkpoints.


def test_a_checkpoint_holds_the_whole_state(brief, tmp_path):
    run, _ = evolve(brief, new_run(brief), generations=3)
    path = tmp_path / "run.ckpt"
    save_checkpoint(run, path)
    again = load_checkpoint(path, brief)
    assert checkpoint_bytes(again) == path.read_bytes() == checkpoint_bytes(run)
    assert again.generation == 3
    assert again.progress == run.progress
    assert again.scored == run.scored
    assert [asdict(i.space) for i in again.islands] == [asdict(i.space) for i in run.islands]
    assert again.pending[1] is not None
    assert same(again.pending[1], run.pending[1])
    # An ordinary archive that any NumPy reads, without pickles.
    with np.load(path, allow_pickle=False) as files:
        assert "state" in files


def rebuilt(data: bytes, change) -> bytes:
    with np.load(io.BytesIO(data)) as files:
        arrays = {name: files[name] for name in files.files}
    change(arrays)
    out = io.BytesIO()
    np.savez(out, **arrays)
    return out.getvalue()


def without(name):
    return lambda arrays: arrays.pop(name)


def another(name, value):
    return lambda arrays: arrays.__setitem__(name, value(arrays[name]))


@pytest.mark.parametrize(
    "change",
    [
        without("state"),
        without("0.seen"),
        without("1.population.knots"),
        another("0.seen", lambda a: a[:-1]),
        another("0.archive.cells", lambda a: a + CELLS),
        another("0.archive.utility", lambda a: a[:-1]),
        another("0.population.knots", lambda a: a + 4),
        another("0.population.colours", lambda a: a + 7),
        another("0.population.costs", lambda a: a.astype(np.float32)),
        another("0.population.construction", lambda a: a.astype(object)),
        another("state", lambda a: a[: len(a) // 2]),
        another("state", lambda a: np.frombuffer(b"[]", np.uint8)),
        another("state", lambda a: np.frombuffer(b"\xff\xfe", np.uint8)),
    ],
)
def test_damaged_checkpoints_are_refused(brief, tmp_path, change):
    run, _ = evolve(brief, new_run(brief), generations=2)
    path = tmp_path / "run.ckpt"
    path.write_bytes(rebuilt(checkpoint_bytes(run), change))
    with pytest.raises(InputError):
        load_checkpoint(path, brief)


def test_broken_files_are_refused(brief, tmp_path):
    run, _ = evolve(brief, new_run(brief), generations=1)
    data, path = checkpoint_bytes(run), tmp_path / "run.ckpt"
    with pytest.raises(InputError, match="no such file"):
        load_checkpoint(path, brief)
    for broken in (b"", b"PK", data[: len(data) // 2], data[:-30], b"x" * 100):
        path.write_bytes(broken)
        with pytest.raises(InputError):
            load_checkpoint(path, brief)
    assert zipfile.is_zipfile(io.BytesIO(data))


def test_a_checkpoint_of_another_brief_is_refused(brief, tmp_path):
    run, _ = evolve(brief, new_run(brief), generations=1)
    path = tmp_path / "run.ckpt"
    save_checkpoint(run, path)
    for other in (
        replace(brief, strands=8),
        replace(brief, colours_max=2),
        replace(brief, search=replace(brief.search, periods=(4, 8))),
        replace(brief, search=replace(brief.search, periods=(4,))),
    ):
        with pytest.raises(InputError, match="another brief"):
            load_checkpoint(path, other)


def test_join_of_parts_is_the_whole():
    sp = space(6, 4)
    g = drawn(sp, 20, 1)
    assert same(join([g.take(np.arange(7)), g.take(np.arange(7, 20))]), g)
    assert len(g.take(np.zeros(20, bool))) == 0
