"""Cut lengths: enough thread at the stated risk, and the best pairs of strands."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm, t

from motifsearch.base.errors import InputError
from motifsearch.base.units import fold_words
from motifsearch.pattern.design import Pattern, make_pattern
from motifsearch.pattern.knots import slots_in_row
from motifsearch.thread.cutting import (
    GOALS,
    Allowances,
    CutList,
    cut_label,
    cut_list,
    fold_point,
    margin_quantile,
)
from motifsearch.thread.model import ThreadModel, strand_use
from motifsearch.thread.pairing import (
    classes_of,
    match_within,
    pair_few,
    pair_total,
    spread,
    whole_cm,
)
from motifsearch.thread.plan import plan_cuts
from motifsearch.thread.stash import Stash, StashThread
from motifsearch.thread.texts import cut_list_text

INKS = {"a": "#112233", "b": "#eeeeee", "c": "#a5432d"}
LANES = make_pattern("lanes", ["rl rr ll lr", "rr rl lr"], "aabbccaa", INKS)


def random_pattern(rng: np.random.Generator, strands: int, rows: int = 6) -> Pattern:
    grid = rng.integers(0, 4, (rows, strands // 2)).astype(np.uint8)
    for r in range(rows):
        grid[r, slots_in_row(strands, r) :] = 0
    return make_pattern("", grid, rng.choice(list("abc"), strands).tolist(), INKS)


# -- the margin ---------------------------------------------------------------------------------


@pytest.mark.parametrize("strands", [1, 8, 24])
@pytest.mark.parametrize("risk", [0.001, 0.05, 0.3])
def test_the_quantile_is_that_of_sidak(strands: int, risk: float) -> None:
    """Against scipy's distributions: S independent strands together stay at the risk."""
    z = margin_quantile(strands, risk)
    assert norm.cdf(z) ** strands == pytest.approx(1.0 - risk, abs=1e-9)
    few = margin_quantile(strands, risk, 6.0)
    assert t.cdf(few, 6) ** strands == pytest.approx(1.0 - risk, abs=1e-9)
    assert few > z


def run_out_rate(cuts: CutList, sd: float, shared: float, seed: int, bands: int = 20_000) -> float:
    """The share of simulated bands in which a strand needs more than its cut gives it.

    Per band one factor that all strands share and one for every strand, so that a strand's
    standard deviation is `sd`; `shared` is the part of the variance that is common.  What the
    fold gives each strand is what it has, the allowances are not touched.
    """
    rng = np.random.default_rng(seed)
    has, need = [], []
    for cut in cuts.cuts:
        parts = [cut.length_mm]
        if cut.fold_mm is not None:
            parts = [cut.fold_mm, cut.length_mm - cut.fold_mm]
        has += [p - a for p, a in zip(parts, cut.allowance_mm, strict=True)]
        need += cut.need_mm
    common = rng.standard_normal((bands, 1)) * math.sqrt(shared)
    own = rng.standard_normal((bands, len(need))) * math.sqrt(1.0 - shared)
    use = np.array(need) * (1.0 + sd * (common + own))
    return float(np.mean((use > np.array(has)).any(axis=1)))


@pytest.mark.parametrize("risk", [0.01, 0.05, 0.2])
@pytest.mark.parametrize("strands", [4, 8, 14])
def test_no_strand_runs_out_more_often_than_stated(risk: float, strands: int) -> None:
    rng = np.random.default_rng(strands)
    cuts = cut_list(random_pattern(rng, strands), 150.0, allowances=Allowances(risk=risk))
    rate = run_out_rate(cuts, ThreadModel().scatter, 0.0, seed=1)
    noise = 3.0 * math.sqrt(risk / 20_000)
    assert rate <= risk + noise
    assert rate >= 0.5 * risk - noise  # not absurdly safe: only the whole centimetres are lost
    assert run_out_rate(cuts, ThreadModel().scatter, 0.6, seed=2) <= rate + noise


def test_need_margin_and_allowance_stand_apart() -> None:
    allowances = Allowances(start_mm=50.0, finish_mm=90.0)
    cuts = cut_list(LANES, 150.0, allowances=allowances)
    use = strand_use(LANES, cuts.rows).use_mm
    z = margin_quantile(8, 0.05)
    assert cuts.rows == ThreadModel().rows_for(150.0, np.full(8, 0.6))
    for cut in cuts.cuts:
        for n, s in enumerate(cut.strands):
            assert cut.need_mm[n] == pytest.approx(use[s])
            assert cut.margin_mm[n] == pytest.approx(z * 0.04 * use[s])
            assert cut.allowance_mm[n] == 140.0
        whole = sum(cut.need_mm) + sum(cut.margin_mm) + sum(cut.allowance_mm)
        assert cut.length_mm == whole_cm(whole)
        assert cut.length_mm % 10.0 == 0.0
        assert 0.0 <= cut.length_mm - whole < 10.0


# -- folding ------------------------------------------------------------------------------------


@pytest.mark.parametrize("goal", ["total", "few_lengths"])
@settings(max_examples=40, deadline=None)
@given(st.integers(4, 13), st.integers(0, 10**6), st.booleans())
def test_every_strand_has_its_share(goal: str, strands: int, seed: int, folded: bool) -> None:
    pattern = random_pattern(np.random.default_rng(seed), strands)
    cuts = cut_list(pattern, 120.0, goal=goal, folded=folded)
    assert sorted(s for cut in cuts.cuts for s in cut.strands) == list(range(strands))
    assert [cut.label for cut in cuts.cuts] == [cut_label(n) for n in range(len(cuts.cuts))]
    odd = 0
    for cut in cuts.cuts:
        assert {pattern.colour_order[s] for s in cut.strands} == {cut.colour}
        share = [
            n + m + a for n, m, a in zip(cut.need_mm, cut.margin_mm, cut.allowance_mm, strict=True)
        ]
        odd += len(cut.strands) == 1
        if len(cut.strands) == 1:
            assert cut.fold_mm is None
            assert cut.length_mm >= share[0] - 1e-4
        else:
            assert cut.fold_mm is not None
            assert cut.fold_mm >= share[0] - 1e-4
            assert cut.length_mm - cut.fold_mm >= share[1] - 1e-4
    counts = [pattern.colour_order.count(name) for name in pattern.palette]
    assert odd == (sum(n % 2 for n in counts) if folded else strands)


def test_the_fold_is_where_a_maker_finds_it() -> None:
    assert fold_point(999.0, 1000.0, 2000.0) == 1000.0  # in half
    assert fold_point(1101.0, 893.0, 2000.0) == 1105.0  # a half centimetre
    assert fold_point(1101.0, 897.0, 2000.0) == 1102.0  # between the two


# -- pairing ------------------------------------------------------------------------------------


def total(c: object, chosen: list[tuple[int, int]]) -> float:
    return sum(c.length(i, j) for i, j in chosen)  # type: ignore[attr-defined]


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 14), st.integers(1, 14), st.integers(0, 10**6))
def test_the_least_total_is_a_matching_of_least_weight(n: int, kinds: int, seed: int) -> None:
    """Against networkx's blossom algorithm (Edmonds 1965, Galil 1986)."""
    rng = np.random.default_rng(seed)
    share = rng.uniform(500.0, 1500.0, kinds)[rng.integers(0, kinds, n)].tolist()
    classes = classes_of(range(n), share)
    chosen = pair_total(classes)
    padded = share + [0.0] * (n % 2)
    graph = nx.Graph()
    for a, b in combinations(range(len(padded)), 2):
        uneven = abs(padded[a] - padded[b]) if max(a, b) < n else 0.0
        weight = round(whole_cm(padded[a] + padded[b])) * 10**6 + round(uneven * 10)
        graph.add_edge(a, b, weight=weight)
    best = sum(graph[a][b]["weight"] for a, b in nx.min_weight_matching(graph))
    assert total(classes, chosen) == best // 10**6
    uneven = sum(classes.unevenness(i, j) for i, j in chosen)
    assert uneven * 10 == pytest.approx(best % 10**6, abs=n)
    groups = spread(classes, chosen)
    assert sorted(s for g in groups for s in g) == list(range(n))


def test_the_integer_program_agrees_with_the_states(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(3)
    for n in (5, 8, 11):
        classes = classes_of(range(n), rng.uniform(500.0, 1500.0, n).tolist())
        by_states = pair_total(classes)
        with monkeypatch.context() as patch:
            patch.setattr("motifsearch.thread.pairing.MAX_STATES", 0)
            by_program = pair_total(classes)
        assert total(classes, by_program) == total(classes, by_states)
        uneven = [sum(classes.unevenness(*p) for p in own) for own in (by_states, by_program)]
        assert uneven[0] == pytest.approx(uneven[1], abs=1e-3)


@settings(max_examples=60, deadline=None)
@given(st.integers(2, 9), st.integers(0, 10**6), st.floats(1000.0, 3000.0))
def test_the_greedy_matching_within_a_limit_is_a_largest(n: int, seed: int, limit: float) -> None:
    share = np.random.default_rng(seed).uniform(500.0, 1500.0, n).tolist()
    classes = classes_of(range(n), share)
    chosen = match_within(classes, limit)
    padded = share + [0.0] * (n % 2)
    graph = nx.Graph()
    graph.add_edges_from(
        (a, b)
        for a, b in combinations(range(len(padded)), 2)
        if whole_cm(padded[a] + padded[b]) <= limit
    )
    most = len(nx.max_weight_matching(graph, maxcardinality=True))
    assert sum(classes.length(i, j) <= limit for i, j in chosen) == most
    assert len(chosen) == len(padded) // 2


def all_matchings(items: list[int]) -> list[list[tuple[int, int]]]:
    if not items:
        return [[]]
    first, rest = items[0], items[1:]
    return [
        [(first, other), *more]
        for k, other in enumerate(rest)
        for more in all_matchings(rest[:k] + rest[k + 1 :])
    ]


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.integers(2, 6), min_size=1, max_size=2),
    st.integers(0, 10**6),
    st.sampled_from([0.0, 0.02, 0.05, 0.1, 0.3]),
)
def test_few_lengths_are_the_fewest(sizes: list[int], seed: int, spare: float) -> None:
    """Against every matching and every choice of lengths."""
    rng = np.random.default_rng(seed)
    shares = [rng.choice([600.0, 700.0, 950.0, 1003.0, 1400.0], n) for n in sizes]
    colours = [classes_of(range(len(s)), s.tolist()) for s in shares]
    sums: set[tuple[float, ...]] = {()}
    for share in shares:
        padded = share.tolist() + [0.0] * (len(share) % 2)
        own = {
            tuple(whole_cm(padded[a] + padded[b]) for a, b in m)
            for m in all_matchings(list(range(len(padded))))
        }
        sums = {tuple(sorted(x + y)) for x in sums for y in own}
    room = min(sum(s) for s in sums) * (1.0 + spare) + 1e-6
    best: tuple[int, float] = (99, 0.0)
    for flat in sums:
        for k in range(1, len(set(flat)) + 1):
            for lengths in combinations(sorted(set(flat)), k):
                if lengths[-1] >= max(flat):
                    cost = sum(next(v for v in lengths if v >= x) for x in flat)
                    if cost <= room:
                        best = min(best, (k, cost))
    chosen, lengths = pair_few(colours, spare)  # type: ignore[assignment]
    flat = tuple(c.length(i, j) for c, own in zip(colours, chosen, strict=True) for i, j in own)
    cost = sum(next(v for v in lengths if v >= x) for x in flat)
    assert (len(lengths), cost) == best


# -- goals --------------------------------------------------------------------------------------


def test_few_lengths_stay_within_what_may_be_spared() -> None:
    rng = np.random.default_rng(0)
    for _ in range(10):
        pattern = random_pattern(rng, 10)
        plain = cut_list(pattern, 150.0)
        few = cut_list(pattern, 150.0, goal="few_lengths")
        assert few.total_mm <= 1.1 * plain.total_mm + 1e-6
        assert len({c.length_mm for c in few.cuts}) <= len({c.length_mm for c in plain.cuts})


def test_the_best_fit_uses_pieces_that_other_pairs_cannot() -> None:
    """Two pieces that only an uneven pairing fits: long with long, short with short."""
    plain = cut_list(LANES, 150.0)
    use = strand_use(LANES, plain.rows).use_mm
    z = 1.0 + 0.04 * margin_quantile(8, 0.05)
    share = np.sort(use[[0, 1, 6, 7]]) * z + 180.0
    pieces = (whole_cm(share[0] + share[1]), whole_cm(share[2] + share[3]))
    threads = [StashThread("a", INKS["a"], 0.6, None, pieces)]
    threads += [StashThread(n, INKS[n], 0.6, None, (8000.0,)) for n in "bc"]
    stash = Stash(tuple(threads))
    evenly = cut_list(LANES, 150.0, goal="few_lengths", spare=10.0)
    assert not plan_cuts(evenly, stash).feasible
    fit = cut_list(LANES, 150.0, goal="fit", stash=stash)
    plan = plan_cuts(fit, stash)
    assert plan.feasible
    assert [p.left_mm for p in plan.pieces if p.thread == "a"] == [0.0, 0.0]


def test_the_best_fit_still_pairs_what_is_missing() -> None:
    threads = [StashThread(n, INKS[n], 0.6, None, (500.0,)) for n in "abc"]
    fit = cut_list(LANES, 150.0, goal="fit", stash=Stash(tuple(threads)))
    assert sorted(s for cut in fit.cuts for s in cut.strands) == list(range(8))


def test_a_goal_that_cannot_be_followed_is_named() -> None:
    with pytest.raises(InputError, match="one of total, few_lengths, fit"):
        cut_list(LANES, 150.0, goal="least")
    with pytest.raises(InputError, match="needs a stash"):
        cut_list(LANES, 150.0, goal=GOALS[2])


def test_a_stash_gives_its_tension_and_its_thickness() -> None:
    threads = tuple(StashThread(n, INKS[n], 0.8, None, (8000.0,)) for n in "abc")
    thick = cut_list(LANES, 150.0, stash=Stash(threads))
    assert thick.rows < cut_list(LANES, 150.0).rows
    tight = Stash(threads, model=replace(ThreadModel(), loop_scale=0.8))
    assert cut_list(LANES, 150.0, stash=tight).total_mm < thick.total_mm


def test_the_text_says_what_to_cut_and_where_to_fold() -> None:
    cuts = cut_list(LANES, 150.0)
    lines = cut_list_text(cuts).splitlines()
    assert lines[0] == f"{cuts.rows} rows, 150 mm knotted"
    assert " ".join(lines[1].split()) == "cut colour strands need margin ends length fold"
    assert len(lines) == len(cuts.cuts) + 3
    assert lines[-1].startswith("in all ")
    for cut, line in zip(cuts.cuts, lines[2:], strict=False):
        assert f"{cut.length_mm / 10:g} cm" in line
        assert "in half" in line or "from the end of strand" in line


@pytest.mark.parametrize(
    ("fold", "show", "words"),
    [
        (740.0, "metric", "in half"),
        (741.9, "metric", "in half"),  # 74.2 cm is shown as 74 cm, and so is the middle
        (745.0, "metric", "74.5 cm from the end of strand 1"),
        (745.0, "imperial", "in half"),  # 29.33 in; the middle 29.13: the same quarter
        (750.0, "imperial", "29 1/2 in from the end of strand 1"),  # 29.53 in
        (None, "metric", "do not fold"),
    ],
)
def test_a_fold_is_told_as_it_is_shown(fold: float | None, show: str, words: str) -> None:
    assert fold_words(fold, 1480.0, "the end of strand 1", show) == words
