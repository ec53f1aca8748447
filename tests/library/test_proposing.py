"""From kinds to designs: nothing promises less than it holds, nothing allowed is thrown away."""

from __future__ import annotations

import itertools
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from conftest import patterns
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from motifsearch.library import screen as screening
from motifsearch.library.alike import like_pattern, like_target, likeness, nearest
from motifsearch.library.building import kind_pattern, kinds_in, kinds_of
from motifsearch.library.colouring import EQUAL, Colourer
from motifsearch.library.proposing import propose
from motifsearch.library.screen import ROUNDING, Front, allowed, best, look, screen
from motifsearch.library.store import Size, opened
from motifsearch.search.archive import cell_of
from motifsearch.search.brief import brief_of
from motifsearch.search.genome import Genomes
from motifsearch.search.island import Judge, space_of
from motifsearch.search.variety import face_distance
from motifsearch.simulate.scores import score_batch
from motifsearch.simulate.thread_use import consumption
from motifsearch.target.motif import Target
from motifsearch.thread.stash import Stash, StashThread

INKS = {"sand": "#d8c49a", "teal": "#1f7a78", "brick": "#a5432d", "night": "#1d2a4d",
        "cream": "#f3e8d0"}  # fmt: skip


def box(pieces=None, thick=None) -> Stash:
    """Return a box of five colours."""
    lengths = pieces or {}
    widths = thick or {}
    return Stash(tuple(
        StashThread(name, ink, widths.get(name, 0.6), None, lengths.get(name, (8000.0,) * 4))
        for name, ink in INKS.items()
    ))  # fmt: skip


def asked(stash: Stash | None = None, **keys):
    keys = {key.replace("__", "."): value for key, value in keys.items()}
    brief = brief_of({
        "stash": "configs/stash-workshop.toml", "strands": 8, "length_mm": 150.0, **keys,
    })  # fmt: skip
    stash = stash or box()
    names = tuple(t.name for t in stash.threads)
    return replace(brief, stash=stash, colours=names)


def random_kinds(n: int, seed: int = 1, strands: int = 8, period: int = 4):
    """Return kinds of one size, some of few and some of many colours."""
    rng = np.random.default_rng(seed)
    knots = rng.choice(4, (period, strands // 2, n), p=[0.45, 0.4, 0.1, 0.05]).astype(np.uint8)
    half = rng.integers(0, 4, (strands // 2, n)).astype(np.uint8)
    colours = np.concatenate([half, half[::-1]])
    return max(kinds_in(knots, colours), key=len)


NINE = st.just(9)
BRIEFS: dict[str, dict[str, Any]] = {
    "plain": {},
    "limits": {
        "limits__lone_max": 0.2, "limits__flatness_min": 0.4, "limits__repeat_rows_max": 24,
        "limits__steps_max": 40, "limits__evenness_min": 0.6,
    },
    "knots": {"limits__knots": ["rr", "ll"], "limits__symmetric": True},
    "border": {"limits__border": True, "colours_max": 3},
    "contrast": {"limits__contrast_min": 25.0, "wishes__contrast": 5.0},
    "unfolded": {"folded": False, "colours_min": 3},
}  # fmt: skip


@pytest.fixture(scope="module")
def file(tmp_path_factory):
    path = tmp_path_factory.mktemp("library") / "a.sqlite"
    with opened(path, make=True) as library:
        for period in (2, 4, 6):
            library.add(k for seed in range(3)
                        for k in [random_kinds(300, 10 * period + seed, 8, period)])  # fmt: skip
    return path


@pytest.mark.parametrize("keys", BRIEFS.values(), ids=BRIEFS)
def test_a_kind_promises_at_least_what_any_colouring_of_it_holds(file, keys):
    brief = asked(**keys)
    judge = Judge(brief)
    rng = np.random.default_rng(1)
    with opened(file) as library:
        for size in library.sizes():
            front = look(library, size, brief)
            kinds = library.read(size.strands, size.period)
            promise = np.full(size.kinds, -1.0)
            promise[front.where] = front.promise
            cells = np.full(size.kinds, -1)
            cells[front.where] = front.cells
            # A random colouring of every kind, judged in full.
            names = np.argsort(rng.random((len(brief.palette), size.kinds)), 0).astype(np.uint8)
            colours = np.take_along_axis(names, kinds["colours"] % len(names), 0)
            plain = np.zeros(size.kinds, np.uint8)
            genomes = Genomes(plain, plain, kinds.knots(), colours)
            space = space_of(brief, size.period)
            judged, theirs = judge.judge_designs(genomes, genomes.knots, colours, space)
            good = (judged.violation == 0) & (kinds["classes"] <= len(names))
            if brief.limits.border:
                good &= kinds["border"] == 1
            # Whatever keeps all limits is still there, in its own cell, and promised enough.
            assert (promise[good] >= 0).all()
            slack = ROUNDING * brief.wishes["evenness"] / sum(brief.wishes.values()) * 2 + 1e-5
            assert (promise[good] >= judged.utility[good] - slack).all()
            assert (cells[good] == theirs[good]).all()


def test_limits_without_colours_are_those_of_the_search(file):
    brief = asked(**BRIEFS["limits"])
    judge = Judge(brief)
    with opened(file) as library:
        size = library.sizes()[1]
        kinds = library.read(size.strands, size.period)
    colours = np.ascontiguousarray(kinds["colours"]) % 5
    space = space_of(brief, size.period)
    scores = score_batch(kinds.knots(), colours, judge.setting)
    each = judge.limiter.each(scores, kinds.knots(), colours, space)
    mine = allowed(dict(kinds.columns), brief)
    for key in ("limits.lone_max", "limits.flatness_min", "limits.repeat_rows_max"):
        theirs = np.round(each[key.removeprefix("limits.")], 6) == 0
        fine = mine[key]
        some = scores.scored | (key == "limits.repeat_rows_max")  # the rest repeats too late
        assert (fine == theirs)[some].all(), key
        assert 0 < fine.sum() < len(fine), key  # the test says something
    assert cell_of(scores, colours, 5).shape == (len(kinds),)


def test_the_best_of_every_cell_go_on(monkeypatch):
    rng = np.random.default_rng(5)
    fronts = [
        Front(None, Size(8, 4, n), np.arange(n), (rng.integers(0, 900, n) / 1000).astype("<f4"),
              rng.integers(0, 60, n).astype(np.int32))
        for n in (3000, 500, 0, 2000)
    ]  # fmt: skip
    every = [
        (-float(f.promise[n]), k, n) for k, f in enumerate(fronts) for n in range(len(f.where))
    ]
    seen: dict[int, int] = {}
    want = []
    for _, k, n in sorted(every):
        cell = int(fronts[k].cells[n])
        seen[cell] = seen.get(cell, 0) + 1
        if seen[cell] <= 4:
            want.append((k, n))
    for front, most in itertools.product((1, 100, 20_000), (10_000, 50)):
        monkeypatch.setattr(screening, "FRONT", front)
        found = best(fronts, per_cell=4, most=most)
        assert sorted(want[:most]) == [(k, int(n)) for k, some in enumerate(found) for n in some]


@pytest.mark.parametrize(
    "pieces", [None, {"sand": (1500.0,), "teal": (), "brick": (900.0, 2600.0)}]
)
@pytest.mark.parametrize("keys", [BRIEFS["plain"], BRIEFS["contrast"]], ids=["plain", "contrast"])
def test_a_colouring_is_found_where_there_is_one_and_none_is_better(pieces, keys):
    brief = asked(box(pieces), **keys)
    judge = Judge(brief)
    kinds = random_kinds(60, 8)
    kinds = kinds.take(kinds["repeat_rows"] <= 12)  # what repeats later is not scored
    rows = judge.setting.model.rows_for(150.0, judge.setting.diameters_mm)
    loops, path = consumption(kinds.knots(), np.zeros((8, len(kinds)), np.uint8), rows,
                              judge.setting.model, judge.setting.diameters_mm)  # fmt: skip
    who, orders = Colourer(brief, judge).coloured(kinds, loops + path)
    space = space_of(brief, kinds.period)
    found = 0
    for n in range(len(kinds)):
        k = int(kinds["classes"][n])
        ways = np.array(list(itertools.permutations(range(5), k)), np.uint8)
        colours = ways[:, kinds["colours"][:, n]].T.copy()
        some = np.zeros(len(ways), np.uint8)
        knots = np.repeat(kinds.knots()[..., n : n + 1], len(ways), 2)
        judged, _ = judge.judge_designs(Genomes(some, some, knots, colours), knots, colours, space)
        # Limits that no colour can help are not the colouring's.
        scores = score_batch(knots, colours, judge.setting)
        each = judge.limiter.each(scores, knots, colours, space)
        good = (each.get("on_hand", 0) + each["contrast_min"] if "contrast_min" in each
                else each.get("on_hand", np.zeros(len(ways)))) == 0  # fmt: skip
        mine = [tuple(orders[:, m].tolist()) for m in np.flatnonzero(who == n)]
        assert bool(mine) == bool(good.any())
        if mine:
            found += 1
            worth = {tuple(colours[:, w].tolist()): judged.utility[w] for w in np.flatnonzero(good)}
            assert all(one in worth for one in mine)
            top = max(worth.values())
            assert max(worth[one] for one in mine) == pytest.approx(top, abs=1e-6)
            assert min(worth[one] for one in mine) >= top - EQUAL - 1e-6
    assert found > 5


def test_threads_of_several_thicknesses_are_judged_as_they_are(file):
    brief = asked(box(thick={"sand": 0.9, "teal": 0.45}), limits__evenness_min=0.5)
    with opened(file) as library:
        found = propose([library], brief)
    assert found.pool
    judge = Judge(brief)
    for choice in found.pool:
        judged, _ = judge.judge(choice.genome, choice.space)
        assert judged.violation[0] == 0


def test_the_pool_keeps_every_limit_and_the_archives_hold_it(file):
    brief = asked(**BRIEFS["limits"])
    with opened(file) as library:
        found = propose([library, library], brief)  # a kind of two libraries is there once
        once = propose([library], brief)
    assert [c.pattern for c in found.pool] == [c.pattern for c in once.pool]
    judge = Judge(brief)
    assert 0 < len(found.pool) <= found.kept <= found.coloured
    for choice in found.pool:
        judged, _ = judge.judge(choice.genome, choice.space)
        assert judged.violation[0] == 0
        assert round(float(judged.utility[0]), 9) == choice.utility
    for island in found.run.islands:
        if len(island.archive):
            judged, cells = judge.judge(island.archive.genomes, island.space)
            assert (judged.violation == 0).all()
            assert (cells == island.archive.cells).all()
            assert judged.utility == pytest.approx(island.archive.utility)
    assert any(len(island.archive) for island in found.run.islands)
    assert screen([], brief) == []


@given(patterns(NINE, 6, 3), patterns(NINE, 6, 3))
@settings(max_examples=40)
def test_likeness_is_one_less_the_distance_of_faces(one, other):
    a, b = kinds_of([one]), kinds_of([other])
    assume(a and b)
    looked = like_pattern(one, "one")
    assert likeness(a[0]["outline"].T, looked)[0] == 1.0 or not a[0]["outline"].any()
    # The window begins with a row of either parity: both ways of looking are the same distance.
    want = face_distance(kind_pattern(b[0], 0), one)
    assert likeness(b[0]["outline"].T, looked)[0] == pytest.approx(1 - want, abs=1e-9)


def test_what_is_like_comes_first(file):
    brief = asked()
    with opened(file) as library:
        size = library.sizes()[-1]
        kinds = library.read(size.strands, size.period)
        fine = (kinds["classes"] <= 4) & (kinds["classes"] > 1) & (kinds["odd"] == 0)
        k = int(np.flatnonzero(fine & (kinds["repeat_rows"] <= 48))[0])
        pattern = kind_pattern(kinds, k)
        found = nearest([library], brief, like_pattern(pattern, "it"))
        keys = {int(key): p for part in found
                for key, p in zip(part.kinds["key"], part.promise, strict=True)}  # fmt: skip
        assert keys[int(kinds["key"][k])] == max(keys.values()) == 1.0
        proposed = propose([library], brief, like_pattern(pattern, "it"))
    first = proposed.pool[0]
    assert first.worth == 1.0
    assert first.notes == ("Its lines are those of it to 100%.",)
    assert face_distance(first.pattern, pattern) == 0.0
    assert [c.standing for c in proposed.pool] == sorted(
        (c.standing for c in proposed.pool), reverse=True
    )


def test_a_painted_motif_is_looked_for_by_its_lines(file):
    with opened(file) as library:
        size = library.sizes()[-1]
        kinds = library.read(size.strands, size.period)
    pattern = kind_pattern(kinds, int(np.flatnonzero(kinds["repeat_rows"] == 12)[0]))
    from motifsearch.search.variety import repeat_face

    face = repeat_face(pattern)
    names = tuple(pattern.palette)
    cells = face.astype(np.int8)
    cells[1::2, -1] = -1
    target = Target("It", 8, names, tuple(pattern.colours[n] for n in names), cells)
    looked = like_target(target, "It")
    assert looked.strands == 8
    assert likeness(looked.lines[:1], like_pattern(pattern, "it"))[0] == 1.0
