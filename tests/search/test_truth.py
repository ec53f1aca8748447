"""Small spaces, whole: what there is, counted twice, and whether the search finds the best of it.

Counts are checked against Burnside's lemma, computed here from fixed points with code that shares
nothing with the enumeration, against SymPy's own necklaces and bracelets, and against OEIS (values
copied; the sequence is named beside each).  `tests/bench/bench_search.py truth` does all spaces.
"""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from enumeration import (
    SAME,
    all_kinds,
    ample_brief,
    as_grid,
    cells,
    colour_orders,
    digits,
    kinds_of_design,
    kinds_of_grid,
    motions,
    moved,
    named_orders,
    number,
    truth,
    volume,
)
from sympy.utilities.iterables import bracelets, necklaces

from motifsearch.pattern.canonical_form import canonical
from motifsearch.pattern.design import make_pattern
from motifsearch.pattern.knots import slots_in_row
from motifsearch.search.genome import Genomes
from motifsearch.search.island import Judge, new_island, run_epoch
from motifsearch.simulate.walk import sigma

INK = {"a": "#d8c49a", "b": "#1f7a78", "c": "#a5432d"}
# A000031, A000029, A000013 (offset 0): binary necklaces, bracelets, necklaces up to exchange.
A000031 = (1, 2, 3, 4, 6, 8, 14, 20, 36)
A000029 = (1, 2, 3, 4, 6, 8, 13, 18, 30)
A000013 = (1, 1, 2, 2, 4, 4, 8, 10, 20)
# A056326 (offset 1): reversible structures of exactly two colours.
A056326 = (0, 1, 2, 5, 9, 19, 35, 71)


def pattern_from(grid: np.ndarray, order: np.ndarray):
    return make_pattern("", grid, ["abc"[c] for c in order], INK)


# --- Burnside: the number of orbits is the mean number of fixed points over the group.


def fixed_grids(strands: int, rows: int, s: int, upward: bool, reverse: bool) -> int:
    """How many grids a motion leaves as they are: the product over its cycles of knots."""
    # What one application does to a code, as an exponent of two exchanges: who ties, by side.
    # A mirror exchanges left and right for both kinds; a flip only for crossing knots, since a
    # returning strand stays on its side; a half turn only for returning ones.
    codes = ["rr", "ll", "rl", "lr"]
    swapped = {"rr": "ll", "ll": "rr", "rl": "lr", "lr": "rl"}

    def becomes(code: str) -> str:
        crossing = code[0] == code[1]
        turns_over = (crossing and upward != reverse) or (not crossing and reverse)
        return swapped[code] if turns_over else code

    todo = {(r, i) for r in range(rows) for i in range(strands - 1) if (r + i) % 2 == 0}
    total = 1
    while todo:
        start = here = min(todo)
        left = {code: code for code in codes}
        while here in todo:
            todo.remove(here)
            r, i = here
            here = ((s - r if upward else s + r) % rows, strands - 2 - i if reverse else i)
            left = {code: becomes(now) for code, now in left.items()}
        assert here == start
        total *= sum(code == now for code, now in left.items())
    return total


def group(strands: int, rows: int) -> list[tuple[int, bool, bool]]:
    return [
        (s, upward, reverse)
        for upward in (False, True)
        for reverse in (False, True)
        for s in range(rows)
        if s % 2 == (strands % 2 if reverse else 0)
    ]


def burnside_grids(strands: int, rows: int) -> int:
    motions = group(strands, rows)
    total = sum(fixed_grids(strands, rows, *m) for m in motions)
    assert total % len(motions) == 0
    return total // len(motions)


def partitions_fixed(strands: int, orders: list[tuple[int, ...]]) -> dict[tuple[int, ...], int]:
    """For every permutation of the strands, how many colour orders it leaves as they are."""

    def named(line):
        seen: dict[int, int] = {}
        return tuple(seen.setdefault(c, len(seen)) for c in line)

    return {
        perm: sum(named(line[x] for x in perm) == line for line in orders)
        for perm in itertools.permutations(range(strands))
    }


def burnside_designs(strands: int, rows: int, orders: list[tuple[int, ...]]) -> int:
    """Orbits of (grid, colour order): the group is every motion after any number of periods.

    After L periods, L a common multiple of the orders of all permutations of S, every strip is
    back, so the mean is taken over L times the motions of one period.
    """
    fixed = partitions_fixed(strands, orders)
    periods = math.lcm(*range(1, strands + 1))
    places = [(r, i) for r in range(rows) for i in range(r % 2, strands - 1, 2)]
    motions = group(strands, rows)
    swap = {0: 1, 1: 0, 2: 3, 3: 2}
    total = 0
    for grid in itertools.product(range(4), repeat=len(places)):
        knot = dict(zip(places, grid, strict=True))
        line = list(range(strands))
        lines = [tuple(line)]
        for r in range(rows):
            for i in range(r % 2, strands - 1, 2):
                if knot[r, i] < 2:
                    line[i], line[i + 1] = line[i + 1], line[i]
            lines.append(tuple(line))
        for s, upward, reverse in motions:
            for (r, i), code in knot.items():
                from_cell = (
                    (s - r if upward else s + r) % rows,
                    strands - 2 - i if reverse else i,
                )
                there = knot[from_cell]
                over = (there < 2 and upward != reverse) or (there >= 2 and reverse)
                if code != (swap[there] if over else there):
                    break
            else:
                start = lines[s + 1] if upward else lines[s]
                begin = start[::-1] if reverse else start
                for _ in range(periods):
                    total += fixed[begin]
                    begin = tuple(lines[rows][x] for x in begin)
    assert total % (periods * len(motions)) == 0
    return total // (periods * len(motions))


@pytest.mark.parametrize(("strands", "rows"), [(4, 2), (4, 4), (5, 2), (5, 4), (6, 2), (7, 2)])
def test_kinds_of_grid_are_as_many_as_burnside_says(strands, rows):
    least, sizes = kinds_of_grid(strands, rows)
    assert len(least) == burnside_grids(strands, rows)
    assert sizes.sum() == 4 ** len(cells(strands, rows))


@pytest.mark.parametrize(("strands", "rows"), [(4, 2), (4, 4), (5, 2), (6, 2)])
def test_kinds_of_design_are_as_many_as_burnside_says(strands, rows):
    most = 2 if strands == 4 else 3
    orders = colour_orders(strands, 2, most)
    found = sum(c.shape[1] for _, c in all_kinds(strands, rows, 2, most))
    assert found == burnside_designs(strands, rows, [tuple(o) for o in orders.tolist()])


@pytest.mark.parametrize(("strands", "rows"), [(4, 2), (5, 2)])
def test_kinds_are_the_canonical_forms(strands, rows):
    """Every design's canonical form is met, and no kind has two."""
    orders = colour_orders(strands, 2, 3)
    codes = digits(np.arange(4 ** len(cells(strands, rows))), len(cells(strands, rows)))
    grid = as_grid(codes, strands, rows)
    every = {
        canonical(pattern_from(grid[..., n], order))
        for n in range(grid.shape[2])
        for order in orders
    }
    kinds = [
        canonical(pattern_from(g[..., n], c[:, n]))
        for g, c in all_kinds(strands, rows, 2, 3)
        for n in range(c.shape[1])
    ]
    assert len(kinds) == len(set(kinds))
    assert set(kinds) == every


@pytest.mark.parametrize("strands", [4, 5, 6, 7, 8])
def test_colour_orders_up_to_renaming_and_mirror(strands):
    orders = {tuple(o) for o in colour_orders(strands, 2, 2, folded=False).tolist()}

    def backwards(line):
        return tuple(c ^ line[-1] for c in line[::-1])

    assert len(orders) == 2 ** (strands - 1) - 1
    assert len({min(line, backwards(line)) for line in orders}) == A056326[strands - 1]


def test_folded_colour_orders():
    """With even colours: multinomial coefficients, by hand."""
    assert len(colour_orders(4, 2, 2)) == math.comb(4, 2) // 2
    assert len(colour_orders(6, 2, 3)) == math.comb(6, 2) + math.comb(6, 2) * math.comb(4, 2) // 6
    assert len(colour_orders(5, 2, 2)) == math.comb(5, 1) + math.comb(5, 2)
    assert named_orders(4, 2, 2, 3) == 18
    assert named_orders(6, 2, 3, 3) == 15 * 6 + 15 * 6


@pytest.mark.parametrize("strands", [4, 5, 6, 7, 8])
def test_the_plain_braid_turns_colour_orders_into_necklaces(strands):
    """Forward knots alone make sigma one cycle: colour orders that it joins are a necklace."""
    grid = np.zeros((2, strands // 2, 1), np.uint8)
    perm = sigma(grid, strands)[:, 0]
    lines = set(itertools.product((0, 1), repeat=strands))

    def orbits(*moves):
        todo, count = set(lines), 0
        while todo:
            count += 1
            reached = [todo.pop()]
            while reached:
                line = reached.pop()
                for move in moves:
                    image = move(line)
                    if image in todo:
                        todo.remove(image)
                        reached.append(image)
        return count

    def onward(line):
        return tuple(line[x] for x in perm)

    def exchanged(line):
        return tuple(1 - c for c in line)

    assert orbits(onward) == A000031[strands] == len(list(necklaces(strands, 2)))
    assert orbits(onward, exchanged) == A000013[strands]


@pytest.mark.parametrize("strands", [4, 5, 6, 7, 8])
def test_canonical_forms_of_the_plain_braid_are_bracelets(strands):
    """A half turn takes it to itself and the ring of strands to its other side."""
    rows = ["rr " * slots_in_row(strands, r) for r in (0, 1)]
    found = {
        canonical(make_pattern("", rows, ["ab"[c] for c in line], INK))
        for line in itertools.product((0, 1), repeat=strands)
    }
    rings = set(bracelets(strands, 2))
    assert len(rings) == A000029[strands]
    # Renaming joins a ring with the one of exchanged colours.
    every = {
        frozenset(min(turns(line)) for line in (ring, tuple(1 - c for c in ring))) for ring in rings
    }
    assert len(found) == len(every)


def turns(ring):
    n = len(ring)
    for line in (ring, ring[::-1]):
        for k in range(n):
            yield line[k:] + line[:k]


def test_grids_up_to_shifts_alone_are_necklaces_of_row_pairs():
    """P rows are a ring of n = P/2 beads of k = 4^(S-1) sorts.

    Moreau's formula (Comptes rendus 1872; A075195): 1/n * sum over d | n of phi(d) k^(n/d).
    """
    codes = digits(np.arange(4**9), 9)
    images = np.array([number(moved(codes, m)) for m in motions(4, 6) if m.recode == SAME])
    assert len(images) == 3
    assert (images.min(0) == np.arange(4**9)).sum() == (64**3 + 2 * 64) // 3


# --- The best there is.


@pytest.fixture(scope="module")
def small(tmp_path_factory):
    brief = ample_brief(tmp_path_factory.mktemp("small"), 4, 4)
    return brief, truth(brief, 4)


@pytest.fixture(scope="module")
def five(tmp_path_factory):
    brief = ample_brief(tmp_path_factory.mktemp("five"), 5, 4)
    return brief, truth(brief, 4)


def test_the_whole_of_four_strands(small):
    _, whole = small
    assert whole.grids == burnside_grids(4, 4)
    assert whole.designs == 1064
    assert whole.raw == 4**6 * 18
    # Lengthwise stripes and the braid in two halves: every front has both ends.
    assert whole.front[:, 0].min() == 0.0
    assert whole.front[:, 3].min() == 0.0


def test_one_of_every_kind_is_enough(small, tmp_path):
    """All 4^6 grids with all named colour orders have the same front."""
    brief, whole = small
    judge, island = Judge(brief), new_island(brief, 4, np.random.SeedSequence(0))
    lines = np.array(
        [
            [names[c] for c in order]
            for order in colour_orders(4, 2, 2)
            for names in itertools.permutations(range(3), 2)
        ],
        np.uint8,
    )
    codes = digits(np.arange(4**6), 6)
    costs = []
    for line in lines:
        grid, colours = as_grid(codes, 4, 4), np.repeat(line[:, None], 4**6, 1)
        none = np.zeros(4**6, np.uint8)
        judged, _ = judge.judge_designs(
            Genomes(none, none, grid, colours), grid, colours, island.space
        )
        assert (judged.violation == 0).all()
        costs.append(np.unique(judged.costs.T, axis=0))
    assert volume(np.concatenate(costs)) == pytest.approx(whole.volume, abs=1e-12)


def reached(brief, rows: int, seed: int, population: int, most: int) -> tuple[float, float, int]:
    """Search with at most `most` evaluations: hypervolume, best utility, evaluations."""
    judge = Judge(brief)
    island = new_island(brief, rows, np.random.SeedSequence(seed))
    found = (0.0, 0.0, 0)
    while True:
        island = run_epoch(judge, island, 1, population)
        if island.scored > most:
            return found
        kept = island.population.violation == 0
        found = (
            volume(np.unique(island.population.costs[:, kept].T, axis=0)),
            float(island.archive.utility.max()),
            island.scored,
        )


def test_the_search_finds_the_front_of_four_strands(small):
    """With at most 1 % of the evaluations of all grids and named colour orders (737 of 73,728)."""
    brief, whole = small
    got = [reached(brief, 4, seed, 50, whole.raw // 100) for seed in range(5)]
    assert all(spent <= whole.raw // 100 for *_, spent in got)
    assert max(v for v, *_ in got) <= whole.volume + 1e-12
    assert np.median([v for v, *_ in got]) >= 0.98 * whole.volume
    assert np.median([u for _, u, _ in got]) >= 0.97 * whole.best


def test_the_search_finds_the_front_of_five_strands(five):
    """With at most 1 % of one evaluation per kind (1,110 of 111,086)."""
    brief, whole = five
    assert whole.grids == burnside_grids(5, 4)
    assert whole.designs == 111086
    got = [reached(brief, 4, seed, 50, whole.designs // 100) for seed in range(3)]
    assert all(0 < spent <= whole.designs // 100 for *_, spent in got)
    assert max(v for v, *_ in got) <= whole.volume + 1e-12
    assert np.median([v for v, *_ in got]) >= 0.97 * whole.volume
    assert np.median([u for _, u, _ in got]) >= 0.95 * whole.best


def test_chance_alone_would_not_do(five):
    """The bound above can fail: as many designs drawn by chance stay below it."""
    brief, whole = five
    judge = Judge(brief)
    island = new_island(brief, 4, np.random.SeedSequence(0))
    rng = np.random.default_rng(0)
    n = whole.designs // 100
    codes = rng.integers(0, 4, (8, n)).astype(np.uint8)
    orders = colour_orders(5, 2, 3)
    colours = orders[rng.integers(0, len(orders), n)].T.copy()
    grid, none = as_grid(codes, 5, 4), np.zeros(n, np.uint8)
    judged, _ = judge.judge_designs(Genomes(none, none, grid, colours), grid, colours, island.space)
    assert volume(judged.costs.T) < 0.97 * whole.volume


def test_kinds_on_one_grid_by_hand():
    """Two crossing-only rows of four strands: a braid, whose three colour orders are two kinds."""
    orders = colour_orders(4, 2, 2)
    assert orders.tolist() == [[0, 0, 1, 1], [0, 1, 0, 1], [0, 1, 1, 0]]
    first = kinds_of_design(np.zeros((3, 1), np.uint8), orders, 4, 2)
    # sigma takes the strands round the ring 1-2-4-3: neighbours of one colour, or opposite ones.
    assert first.sum() == 2
