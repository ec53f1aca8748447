"""Taste: what one sees as numbers, the model of preferences, and the search with it.

The model is checked against a published fit (baseball, Agresti), and against the same model in the
space of its weights, fitted by SciPy; outlines against the distances of `variety`.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import choix
import numpy as np
import pytest
from conftest import INKS, patterns
from designs import arrowhead, diagonal, lozenge, mirrored
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize
from sklearn.linear_model import LogisticRegression

from motifsearch.base.errors import InputError
from motifsearch.base.tomlfile import Table
from motifsearch.pattern.design import Pattern, make_pattern
from motifsearch.pattern.walk import walk
from motifsearch.search.brief import brief_of, format_brief, with_taste
from motifsearch.search.checkpoint import checkpoint_bytes
from motifsearch.search.island import Judge
from motifsearch.search.loop import evolve, new_run
from motifsearch.search.outcome import finish
from motifsearch.search.picks import (
    MOST_ROUNDS,
    Card,
    Picks,
    Round,
    format_picks,
    parse_picks,
    read_picks,
    together,
)
from motifsearch.search.records import TASTE
from motifsearch.search.taste import Taste, kind_of, shown_of, taste_of
from motifsearch.search.taste_gallery import SHARES, parts_of
from motifsearch.search.taste_looks import (
    all_variants,
    looks_of,
    outline_distances,
    tints_of,
)
from motifsearch.search.taste_model import Kernel, laplace, nearest_kernel
from motifsearch.search.taste_traits import KEYS, TINTS, TRAITS
from motifsearch.search.taste_words import key_of_line, said_of
from motifsearch.search.variety import NEAR, distances, nearest_distances, repeat_face, variants

#: 1987 season, American League East: wins of the row over the column, 13 games a pair (Agresti,
#: Categorical Data Analysis, 2nd ed. 2002, table 10.10), and the fitted Bradley-Terry worths
#: relative to Baltimore that are published with it, to two digits (from memory).
WINS = np.array(
    [
        [0, 7, 9, 7, 7, 9, 11],
        [6, 0, 7, 5, 11, 9, 9],
        [4, 6, 0, 7, 7, 8, 12],
        [6, 8, 6, 0, 6, 7, 10],
        [6, 2, 6, 7, 0, 7, 12],
        [4, 4, 5, 6, 6, 0, 6],
        [2, 4, 1, 3, 1, 7, 0],
    ]
)
WORTHS = [1.58, 1.44, 1.29, 1.25, 1.11, 0.68, 0.0]


def seen(pattern: Pattern, key: str) -> float:
    """A trait in its own units."""
    k = KEYS.index(key)
    return float(looks_of([pattern]).traits[k, 0] * TRAITS[k].spread + TRAITS[k].centre)


def shifted(p: Pattern, rows: int) -> Pattern:
    order = walk(p, rows).orders[-1]
    return replace(p, knots=p.knots[rows:] + p.knots[:rows],
                   colour_order=tuple(p.colour_order[s] for s in order))  # fmt: skip


# --- Looks.


def test_traits_say_what_is_seen():
    stripes = make_pattern("", ["rl rl rl", "rl rl"], ["sand", "sand", "teal", "teal", "night",
                           "night"], INKS)  # fmt: skip
    assert seen(arrowhead(), "point") == pytest.approx(1, abs=0.05)
    assert seen(arrowhead(), "lean") < 0.05
    assert seen(arrowhead(), "mirror") == 1
    assert seen(diagonal(), "lean") == pytest.approx(1, abs=0.05)
    assert seen(lozenge(), "open") > 0.5
    assert seen(lozenge(), "point") < 0.1
    assert seen(stripes, "lengthwise") == 1
    assert seen(stripes, "border") == pytest.approx(0, abs=1e-9)
    assert seen(stripes, "colours") == pytest.approx(np.log2(3))
    assert seen(stripes, "repeat") == 1


def test_colours_count_by_what_they_look_like():
    p = arrowhead()
    light = replace(p, colours=dict.fromkeys(p.colours, "#f5f5f5"))
    dark = replace(p, colours=dict.fromkeys(p.colours, "#101010"))
    assert seen(light, "lightness") > 0.9 > 0.1 > seen(dark, "lightness")
    assert seen(light, "contrast") == seen(dark, "contrast") == 0
    assert seen(light, "tint_white") > 0.9 < seen(dark, "tint_black")
    renamed = {c: c[::-1] for c in p.colours}
    other = replace(p, colour_order=tuple(renamed[c] for c in p.colour_order),
                    colours={renamed[c]: h for c, h in p.colours.items()})  # fmt: skip
    assert np.array_equal(looks_of([p]).traits, looks_of([other]).traits)


@given(patterns(max_rows=8))
@settings(max_examples=40)
def test_a_design_looks_the_same_wherever_it_begins(p):
    """The parts that are taken over a repeat are; those of a window are nearly."""
    one, other = looks_of([p]), looks_of([shifted(p, 2)])
    whole = [KEYS.index(k) for k in ("colours", "lightness", "lone", "mirror", "flip", "repeat")]
    assert np.allclose(one.traits[whole], other.traits[whole], atol=1e-9)
    assert outline_distances([all_variants(p)], other.outlines)[0, 0] == 0
    assert np.isfinite(one.traits).all()


@given(st.integers(0, 2**31))
@settings(max_examples=15)
def test_distances_are_those_of_variety(seed):
    rng = np.random.default_rng(seed)
    some = [p for p in (mirrored(rng, str(n)) for n in range(12)) if p.strands == 8]
    if len(some) < 2:
        return
    found = outline_distances([all_variants(p) for p in some], looks_of(some).outlines)
    packed = [variants(repeat_face(p), 8) for p in some]
    wanted = np.array([distances(one[0], packed) for one in packed])
    assert np.allclose(found, wanted.T)


def test_tints_share_out_a_colour():
    labs = np.array([*TINTS.values(), (50.0, 10.0, -20.0)])
    share = tints_of(labs)
    assert np.allclose(share.sum(0), 1)
    assert (share[:, : len(TINTS)].argmax(0) == np.arange(len(TINTS))).all()


# --- The model.


def test_the_model_finds_published_worths():
    """With a prior that says next to nothing, the mode is the fit of Bradley and Terry."""
    won, lost = np.nonzero(WINS)
    found = laplace(1e6 * np.eye(7), won, lost, WINS[won, lost].astype(float))
    assert np.allclose(found.mode - found.mode[-1], WORTHS, atol=0.006)


def in_weights(x, won, lost, weight, a):
    """The same model as a logistic regression on differences, by SciPy, and its covariance."""
    d = x[:, won] - x[:, lost]
    unit = len(x) / a**2

    def loss(w):
        return (weight * np.logaddexp(0, -(w @ d))).sum() + 0.5 * unit * w @ w

    w = minimize(loss, np.zeros(len(x)), method="BFGS", options={"gtol": 1e-9}).x
    p = 1 / (1 + np.exp(-(w @ d)))
    return w, np.linalg.inv(unit * np.eye(len(x)) + (d * weight * p * (1 - p)) @ d.T)


def test_the_linear_part_is_a_logistic_regression():
    rng = np.random.default_rng(3)
    x, a = rng.normal(size=(4, 15)), 1.5
    won, lost = rng.integers(0, 15, 40), rng.integers(0, 15, 40)
    weight = rng.uniform(0.5, 2, 40)
    w, cov = in_weights(x, won, lost, weight, a)
    found = laplace(a**2 * x.T @ x / 4, won, lost, weight)
    there = rng.normal(size=(4, 9))
    k = a**2 * x.T @ there / 4
    assert np.allclose(found.gradient @ k, w @ there, atol=1e-5)
    own = a**2 * (there**2).sum(0) / 4
    assert np.allclose(own - (k * (found.inner @ k)).sum(0), (there * (cov @ there)).sum(0),
                       atol=1e-5)  # fmt: skip


@pytest.mark.parametrize("alpha", [0.1, 0.7, 3.0])
def test_independent_worths_are_those_of_choix(alpha):
    """Held against choix: Bradley and Terry's likelihood with alpha |f|^2 taken off it."""
    rng = np.random.default_rng(7)
    drawn = [rng.choice(9, 2, replace=False) for _ in range(40)]
    pairs = [(int(a), int(b)) for a, b in drawn]
    won, lost = np.array(pairs).T
    found = laplace(np.eye(9) / (2 * alpha), won, lost, np.ones(40))
    assert found.mode == pytest.approx(choix.opt_pairwise(9, pairs, alpha=alpha), abs=1e-5)


@pytest.mark.parametrize("spread", [0.3, 0.8, 5.0])
def test_worths_in_traits_are_those_of_scikit_learn(spread):
    """Held against scikit-learn's logistic regression on differences, each told both ways round.

    Told twice every pair counts double, so that its C is half the variance of the prior.
    """
    rng = np.random.default_rng(8)
    x = rng.normal(size=(5, 12))
    won, lost = rng.integers(0, 12, 50), rng.integers(0, 12, 50)
    apart = (x[:, won] - x[:, lost]).T
    told = LogisticRegression(C=spread / 2, fit_intercept=False, tol=1e-12, max_iter=10_000)
    told.fit(np.vstack([apart, -apart]), np.repeat([1, 0], 50))
    found = laplace(spread * x.T @ x, won, lost, np.ones(50))
    assert found.mode == pytest.approx(told.coef_[0] @ x, abs=1e-5)


def test_a_kernel_is_made_positive():
    rng = np.random.default_rng(1)
    some = rng.normal(size=(8, 8))
    near = nearest_kernel(some + some.T)
    assert np.linalg.eigvalsh(near).min() > -1e-9
    good = some @ some.T
    assert np.allclose(nearest_kernel(good), good)


# --- Picks.


def gallery(n: int = 12, seed: int = 1) -> tuple[Card, ...]:
    rng = np.random.default_rng(seed)
    some = [arrowhead(), lozenge()]
    while len(some) < n:
        p = mirrored(rng, f"no. {len(some) + 1}")
        if p.strands == 8:
            some.append(p)
    return tuple(Card(number=k + 1, pattern=p, key=f"k{k}") for k, p in enumerate(some))


def picked(wanted=(1, 3), not_for_me=(2,), seed=1, **more) -> Picks:
    one = Round(shown=gallery(seed=seed), wanted=tuple(wanted), not_for_me=tuple(not_for_me))
    return Picks(rounds=(one,), **more)


def test_picks_are_read_as_they_were_written(tmp_path):
    picks = picked(struck=("point",), name="Ada")
    path = tmp_path / "picks.toml"
    path.write_text(format_picks(picks), encoding="utf-8")
    again = read_picks(path)
    assert again.digest == picks.digest
    assert again.rounds[0].wanted == (1, 3)
    assert again.struck == ("point",)
    assert again.name == "Ada"
    for one, other in zip(again.rounds[0].shown, picks.rounds[0].shown, strict=True):
        assert one.pattern.knots == other.pattern.knots
        assert one.key == other.key
    assert format_picks(again) == format_picks(picks)


@pytest.mark.parametrize(
    ("change", "key"),
    [
        (lambda d: d["rounds"][0].update(wanted=[99]), "rounds[1].wanted[0]"),
        (lambda d: d["rounds"][0].update(wanted=[2]), "rounds[1].not_for_me"),
        (lambda d: d["rounds"][0]["shown"][1].update(number=1), "rounds[1].shown"),
        (lambda d: d["rounds"][0]["shown"][0].update(rows=["rr"]), "rounds[1].shown[1].rows"),
        (lambda d: d.update(struck=["arrows"]), "struck[0]"),
        (lambda d: d.update(format="another"), "format"),
        (lambda d: d.update(more=1), "more"),
    ],
)
def test_wrong_picks_are_named(change, key):
    import tomllib

    data = tomllib.loads(format_picks(picked()))
    change(data)
    with pytest.raises(InputError) as bad:
        parse_picks(Table(data, "picks.toml"))
    assert bad.value.key == key


def test_marks_hold_as_they_were_made_last():
    one = Round(shown=gallery()).marked([3, 1], [2])
    assert one.marked([3], []) == one
    assert one.marked([], [3]) == replace(one, wanted=(1,), not_for_me=(2, 3))
    assert one.marked([], [], [1, 2]) == replace(one, wanted=(3,), not_for_me=())


def test_the_same_round_of_two_files_counts_once():
    early, late = picked(wanted=(1,)), picked(wanted=(1, 3))
    both = together([early, picked(seed=2), late])
    assert [r.wanted for r in both.rounds] == [(1, 3), (1, 3)]
    assert both.rounds[-1].shown == late.rounds[0].shown


# --- Taste.


def degrees(taste: Taste, cards) -> np.ndarray:
    return taste.posterior.degree(looks_of([c.pattern for c in cards]))


def test_what_is_wanted_is_to_the_taste():
    picks = picked()
    met = degrees(taste_of(picks), picks.rounds[0].shown)
    assert met[[0, 2]].min() > met[3:].max() > met[1]
    assert ((met > 0) & (met < 1)).all()
    assert taste_of(Picks()) is None
    assert taste_of(picked(wanted=(), not_for_me=())) is None
    lone = taste_of(picked(wanted=(), not_for_me=(4,)))
    assert degrees(lone, picks.rounds[0].shown).argmin() == 3


def test_contradictions_are_borne():
    yes, no = picked(wanted=(1,), not_for_me=(2,)), picked(wanted=(2,), not_for_me=(1,))
    both = Picks(rounds=(*yes.rounds, *no.rounds))
    met = degrees(taste_of(both), yes.rounds[0].shown)
    assert met[0] == pytest.approx(met[1], abs=0.02)
    mean, unsure = taste_of(both).posterior.mean_and_deviation(
        looks_of([c.pattern for c in gallery(seed=5)])
    )
    assert np.isfinite(mean).all()
    assert (unsure > 0).all()


def test_what_was_shown_is_less_unsure():
    picks = picked()
    taste = taste_of(picks)
    _, near = taste.posterior.mean_and_deviation(looks_of([c.pattern for c in gallery()]))
    _, far = taste.posterior.mean_and_deviation(looks_of([c.pattern for c in gallery(seed=9)][3:]))
    assert near.mean() < far.mean()
    assert taste.posterior.far(looks_of([arrowhead()]))[0] == 0


def test_designs_of_another_width_are_learnt_from_too():
    """Their outlines have nothing in common; what one sees has."""
    taste = taste_of(picked(wanted=(1,), not_for_me=()))
    like = make_pattern("", ["rr rr ll", "rr ll"], ["night", "sand", "brick", "brick", "sand",
                        "night"], arrowhead().colours)  # fmt: skip
    unlike = make_pattern("", ["rl rl rl", "rl rl"], ["teal"] * 3 + ["plum"] * 3,
                          arrowhead().colours)  # fmt: skip
    met = taste.posterior.degree(looks_of([like, unlike]))
    assert met[0] > met[1]
    assert taste.posterior.far(looks_of([like])).tolist() == [1.0]


def test_a_line_that_is_struck_out_counts_no_more():
    picks = picked()
    none = taste_of(replace(picks, struck=KEYS), kernel=Kernel(outline=0.0))
    assert np.ptp(degrees(none, gallery(seed=5))) < 1e-9
    some = taste_of(replace(picks, struck=("lightness",)))
    p = arrowhead()
    k = KEYS.index("lightness")
    look = looks_of([p, p])
    look.traits[k, 1] += 3.0
    assert (
        np.ptp(some.posterior.degree(look)) < 1e-12 < np.ptp(taste_of(picks).posterior.degree(look))
    )


def test_only_the_latest_rounds_count():
    rounds = tuple(picked(seed=s).rounds[0] for s in (1, 2)) * MOST_ROUNDS
    assert len(shown_of(Picks(rounds=rounds)).widths) == 12 * MOST_ROUNDS


# --- In words.


def marked_by(prefer, rounds=4, **more) -> Picks:
    """Marks of somebody who wants the three that score highest and passes over the lowest."""
    out = []
    for seed in range(rounds):
        cards = gallery(16, seed=seed)
        order = sorted(cards, key=lambda c: -prefer(c.pattern))
        out.append(Round(shown=cards, wanted=tuple(c.number for c in order[:3]),
                         not_for_me=(order[-1].number,)))  # fmt: skip
    return Picks(rounds=tuple(out), **more)


def test_what_is_liked_is_said():
    light = said_of(marked_by(lambda p: seen(p, "lightness")))
    assert light.likes[0].words == "light colours"
    assert "You seem to like: light colours" in light.sentences()[0]
    assert light.sentences()[-1] == "(Learnt from 16 marks in 4 rounds.)"
    dark = said_of(marked_by(lambda p: -seen(p, "lightness")))
    assert dark.likes[0].words == "dark colours"
    turned = [
        Round(shown=r.shown, not_for_me=r.wanted)
        for r in marked_by(lambda p: seen(p, "tint_red")).rounds
    ]
    assert said_of(Picks(rounds=tuple(turned))).passes[0].words == "red"


def test_a_struck_line_is_not_said_again():
    picks = marked_by(lambda p: seen(p, "lightness"), struck=("lightness",))
    said = said_of(picks)
    assert "lightness" not in [one.key for one in (*said.likes, *said.passes)]
    assert said.sentences()[-1] == "Struck out, and not counted: light colours or dark colours."


def test_too_few_marks_say_nothing():
    few = said_of(picked(wanted=(1,), not_for_me=(2,)))
    assert few.sentences() == [
        "Nothing can be said yet of what you like (learnt from 2 marks in 1 round)."
    ]


def test_every_line_can_be_told_by_its_words():
    words = [w for t in TRAITS for w in (t.more, t.less) if w]
    assert len(set(words)) == len(words)
    assert all(key_of_line(w.upper()) is not None for w in words)
    assert [key_of_line(k) for k in KEYS] == list(KEYS)
    assert key_of_line("") is None


# --- The search with it.


@pytest.fixture
def brief(tmp_path):
    path = tmp_path / "stash.toml"
    path.write_text(
        "".join(
            f'[[threads]]\nname = "{n}"\ncolour = "{h}"\ndiameter_mm = 0.6\npieces_m = [90.0]\n'
            for n, h in list(INKS.items())[:4]
        ),
        encoding="utf-8",
    )
    return brief_of(
        {
            "stash": str(path),
            "strands": 8,
            "length_mm": 120,
            "limits.lone_max": 0.2,
            "search.periods": [4, 8],
            "search.population": 40,
            "search.exchange_every": 3,
            "search.generations": 9,
            "search.rest_after": 0,
            "gallery.size": 8,
        }
    )


def round_of(brief, run, prefer) -> Picks:
    """A round as a person would mark it who likes what scores high."""
    found = [f.pattern for f in finish(brief, run).found]
    cards = tuple(Card(number=n, pattern=p) for n, p in enumerate(found, 1))
    order = sorted(cards, key=lambda c: -prefer(c.pattern))
    return Picks(rounds=(Round(shown=cards, wanted=(order[0].number, order[1].number),
                               not_for_me=(order[-1].number,)),))  # fmt: skip


def test_taste_is_one_more_wish(brief):
    run, _ = evolve(brief, new_run(brief))
    picks = round_of(brief, run, lambda p: seen(p, "lightness"))
    liked = with_taste(brief, taste_of(picks))
    assert liked.wishes == {**brief.wishes, "taste": TASTE.weight}
    assert "taste" not in format_brief(brief)
    island = run.islands[0]
    plain, _ = Judge(brief).judge(island.population.genomes, island.space)
    judged, _ = Judge(liked).judge(island.population.genomes, island.space)
    assert np.array_equal(plain.violation, judged.violation)
    assert not np.array_equal(plain.utility, judged.utility)
    bad = judged.violation > 0
    total = sum(brief.wishes.values())
    scaled = plain.utility[bad] * total / (total + TASTE.weight)
    assert np.allclose(judged.utility[bad], scaled, atol=1e-8)
    off = with_taste(replace(brief, taste_weight=0.0), taste_of(picks))
    judged, _ = Judge(off).judge(island.population.genomes, island.space)
    assert np.allclose(plain.utility, judged.utility)


def test_the_search_goes_where_she_likes(brief):
    run, _ = evolve(brief, new_run(brief))
    first = round_of(brief, run, lambda p: seen(p, "lightness"))
    taste = taste_of(first)
    liked = with_taste(brief, taste)
    run, _ = evolve(liked, new_run(liked))
    found = finish(liked, run).found
    light = np.mean([seen(f.pattern, "lightness") for f in found if f.part == "best"])
    before = np.mean([seen(c.pattern, "lightness") for c in first.rounds[0].shown])
    assert light > before
    assert {f.part for f in found} == {s.name for s in SHARES}
    assert not {kind_of(f.pattern) for f in found} & taste.refused
    assert nearest_distances([f.pattern for f in found]).min() >= NEAR
    judge = Judge(liked)
    for f in found:
        assert f.degrees["taste"] <= 1
        assert f.plan.feasible
    assert judge.brief.taste is taste


@pytest.mark.slow
def test_bytes_do_not_depend_on_who_works(brief):
    run, _ = evolve(brief, new_run(brief))
    liked = with_taste(brief, taste_of(round_of(brief, run, lambda p: seen(p, "point"))))
    alone, _ = evolve(liked, new_run(liked))
    with ThreadPoolExecutor(2) as pool:
        other, _ = evolve(liked, new_run(liked), executor=pool)
    half, _ = evolve(liked, new_run(liked), generations=6)
    half, _ = evolve(liked, half)
    assert checkpoint_bytes(alone) == checkpoint_bytes(other) == checkpoint_bytes(half)
    one, again = finish(liked, alone), finish(liked, half)
    assert [(f.pattern, f.part) for f in one.found] == [(f.pattern, f.part) for f in again.found]


@given(st.integers(1, 200))
def test_every_place_belongs_to_a_part(size):
    parts = parts_of(size)
    assert len(parts) == size
    for share in SHARES[1:]:
        assert parts.count(share.name) == int(share.share * size)
