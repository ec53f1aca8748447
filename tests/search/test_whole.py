"""Small spaces are seen whole: counts against OEIS and Burnside, and nothing better is left."""

from __future__ import annotations

import math

import numpy as np
import pytest
from enumeration import ample_brief, kinds_of_grid, truth, volume

import motifsearch as ms
from motifsearch.base.errors import InfeasibleError, NotFoundError
from motifsearch.pattern.canonical_form import canonical_key
from motifsearch.runs.searching import search
from motifsearch.runs.telling import search_text
from motifsearch.search.genome import Space, develop, pattern_of
from motifsearch.search.island import Judge, space_of
from motifsearch.search.loop import evolve, new_run
from motifsearch.search.outcome import finish
from motifsearch.search.whole import (
    AT_ONCE,
    FROM,
    colour_orders,
    designs,
    designs_in,
    every_design,
    least_of_orbits,
    partitions_of,
)


def brief_of(folder, strands, rows, **more):
    more = {"search__rest_after": 0, "search__population": 40, **more}
    return ample_brief(folder, strands, rows, **more)


# OEIS A008277 (Stirling numbers of the second kind) and A156289 (blocks of even size), row sums and
# rows copied.
@pytest.mark.parametrize(
    ("strands", "folded", "row"),
    [(4, False, (1, 7, 6, 1)), (6, False, (1, 31, 90, 65, 15, 1)), (4, True, (1, 3)),
     (6, True, (1, 15, 15)), (10, True, (1, 255, 2205, 3150, 945))],
)  # fmt: skip
def test_partitions_are_those_of_the_tables(strands, folded, row):
    assert tuple(partitions_of(strands, k, folded) for k in range(1, len(row) + 1)) == row


@pytest.mark.parametrize(("strands", "palette", "most", "folded"), [
    (4, 3, 3, True), (5, 3, 3, True), (6, 4, 2, True), (4, 3, 4, False),
])  # fmt: skip
def test_colour_orders_are_all_there_and_once(strands, palette, most, folded):
    space = Space(strands, 2, palette, 1, most, folded, False)
    orders = colour_orders(space)
    assert orders is not None
    number = sum(
        partitions_of(strands, k, folded) * math.perm(palette, k) for k in range(1, most + 1)
    )
    assert orders.shape == (strands, number)
    assert len(np.unique(orders, axis=1).T) == number


@pytest.mark.parametrize(("strands", "rows"), [(4, 2), (4, 4), (5, 4), (4, 6)])
def test_one_grid_of_every_orbit(strands, rows):
    """Against the enumeration of the tests, which is held to Burnside's lemma elsewhere."""
    assert len(least_of_orbits(strands, rows)) == len(kinds_of_grid(strands, rows)[0])


def test_every_design_has_a_number_of_its_own():
    space = Space(4, 2, 3, 1, 2, True, False)
    total = designs_in(space)
    grid, colours = develop(designs(space, 0, total), space)
    flat = np.concatenate([grid.reshape(-1, total), colours])
    assert len(np.unique(flat, axis=1).T) == total == 64 * colours.shape[1] // 64
    assert total == 4**3 * (3 + 3 * 6)


def test_the_whole_space_of_four_strands_has_its_true_front(tmp_path):
    """From every seed: all of the hypervolume of all 1,064 kinds, which is computed apart."""
    brief = brief_of(tmp_path, 4, 4)
    whole = truth(brief, 4)
    for seed in range(3):
        one = brief_of(tmp_path, 4, 4, search__seed=seed)
        run, why = evolve(one, new_run(one))
        assert why == "whole"
        space = space_of(one, 4)
        assert every_design(space)
        assert run.islands[0].number == whole.raw
        costs = []
        judge = Judge(one)
        for start in range(0, whole.raw, AT_ONCE):
            genomes = designs(space, start, min(start + AT_ONCE, whole.raw))
            judged, _ = judge.judge(genomes, space)
            costs.append(judged.costs[:, judged.violation == 0])
        assert volume(np.concatenate(costs, 1).T) == pytest.approx(whole.volume)
        best = float(run.islands[0].archive.utility.max())
        assert best >= whole.best - 1e-9


def test_of_a_larger_space_one_grid_of_every_kind_is_seen(tmp_path):
    brief = brief_of(tmp_path, 4, 6)
    space = space_of(brief, 6)
    assert not every_design(space)
    whole = truth(brief, 6)
    run, why = evolve(brief, new_run(brief))
    assert why == "whole"
    assert run.islands[0].archive.utility.max() >= whole.best - 0.01


def test_these_are_all(tmp_path):
    """Few designs keep the limits: every kind of them is counted, against a count of our own."""
    brief = brief_of(tmp_path, 4, 2, limits__knots=["rr"], limits__repeat_rows_max=8)
    run, why = evolve(brief, new_run(brief))
    assert why == "whole"
    outcome = finish(brief, run)
    space = space_of(brief, 2)
    judge = Judge(brief)
    genomes = designs(space, 0, designs_in(space))
    judged, _ = judge.judge(genomes, space)
    inks = [brief.stash.thread(n).colour for n in brief.palette]
    kinds = {
        canonical_key(
            pattern_of(genomes.knots[..., n], genomes.colours[:, n], "", brief.palette, inks)
        )
        for n in np.flatnonzero(judged.violation == 0)
    }
    assert outcome.whole is not None
    assert outcome.whole.kinds == len(kinds)
    assert outcome.whole.feasible == int((judged.violation == 0).sum())
    result = search(brief, out=tmp_path / "run")
    assert result.record.whole["kinds"] == len(kinds)
    assert f"These are all: {len(kinds)} designs" in search_text(result)
    assert ms.open_run(tmp_path / "run").record.whole["kinds"] == len(kinds)


def test_interrupted_while_it_counts_and_gone_on_with(tmp_path):
    """The same end, whether it was looked at in one go or in two, by one worker or two."""
    from motifsearch.search.checkpoint import load_checkpoint, save_checkpoint

    brief = brief_of(tmp_path, 4, 4)
    straight, _ = evolve(brief, new_run(brief))
    half, why = evolve(brief, new_run(brief), generations=FROM + 2)
    assert why == "generations"
    assert half.islands[0].counting
    save_checkpoint(half, tmp_path / "half.npz")
    gone_on, why = evolve(brief, load_checkpoint(tmp_path / "half.npz", brief))
    assert why == "whole"
    for a, b in zip(straight.islands, gone_on.islands, strict=True):
        assert np.array_equal(a.archive.utility, b.archive.utility)
        assert (a.number, a.feasible, a.scored) == (b.number, b.feasible, b.scored)


@pytest.mark.parametrize("keys", [
    {"strands": 4, "limits.border": True}, {"strands": 4, "colours_max": 1},
    {"strands": 6, "limits.repeat_rows_max": 2}, {"strands": 4, "limits.knots": ["rl"]},
])  # fmt: skip
def test_a_space_that_is_used_up_is_a_result(tmp_path, keys):
    brief_of(tmp_path, 4, 4)
    run = ms.search(None, overrides={
        "stash": str(tmp_path / "stash.toml"), "length_mm": 100, "search.generations": 40,
        "search.population": 60, "search.rest_after": 0, "search.periods": [2], "gallery.size": 3,
        **keys,
    })  # fmt: skip
    assert len(run) >= 1
    assert run.record.stopped_by in ("whole", "generations")


def test_no_design_at_all_is_shown_where_every_one_was_seen(tmp_path):
    brief = brief_of(tmp_path, 4, 2, limits__evenness_min=0.999, limits__knots=["rl"])
    with pytest.raises(InfeasibleError, match=r"every one was looked at \(\d+\)") as caught:
        search(brief)
    assert not isinstance(caught.value, NotFoundError)


@pytest.mark.slow
def test_a_search_goes_on_as_long_as_it_was_allowed(tmp_path):
    """No design is met early; the search does not give up after a few exchanges."""
    brief = brief_of(
        tmp_path, 6, 4, limits__evenness_min=0.9995, search__generations=35,
        search__exchange_every=5,
    )  # fmt: skip
    seen = []
    run, why = evolve(brief, new_run(brief), on_exchange=lambda r: seen.append(r.generation))
    assert not any(len(i.archive) for i in run.islands)
    assert (why, seen[-1]) == ("generations", 35)
    with pytest.raises(NotFoundError, match="in 35 generations"):
        search(brief)


def test_seventy_colours(tmp_path):
    """More colours than bits of a number: every design's own colours are looked at."""
    import colorsys

    from motifsearch.simulate.reference import reference_scores

    parts = []
    for n in range(70):
        rgb = colorsys.hsv_to_rgb(n / 70, 0.5 + 0.5 * (n % 2), 0.4 + 0.15 * (n % 4))
        colour = "#" + "".join(f"{round(255 * v):02x}" for v in rgb)
        parts.append(f'[[threads]]\nname = "c{n}"\ncolour = "{colour}"\ntex = 250\n'
                     "pieces_m = [8, 8]\n")  # fmt: skip
    (tmp_path / "stash.toml").write_text("\n".join(parts), encoding="utf-8")
    run = ms.search(None, overrides={
        "stash": str(tmp_path / "stash.toml"), "strands": 6, "length_mm": 100,
        "search.generations": 6, "search.population": 60, "search.periods": [4],
        "gallery.size": 4,
    })  # fmt: skip
    for one in run:
        plain = reference_scores(one.pattern, 100.0)
        assert one.scores.colour.contrast == pytest.approx(plain["contrast"])
        shares = [one.scores.colour.share[name] for name in one.pattern.palette]
        assert shares == pytest.approx(plain["shares"])
