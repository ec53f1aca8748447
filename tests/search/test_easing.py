"""The simplest grid of a face: the face stays, the work gets less, the limits are kept."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from motifsearch.pattern.bandplan import plan_band
from motifsearch.pattern.passes import steady_passes
from motifsearch.pattern.walk import face, walk
from motifsearch.search.brief import brief_of
from motifsearch.search.easing import GIVE, ease
from motifsearch.search.genome import Genomes, develop, pattern_of, random_genomes
from motifsearch.search.island import Judge, space_of
from motifsearch.simulate.scores import score_batch

STASH = Path(__file__).parents[2] / "configs" / "stash-workshop.toml"
NAMES = [f"c{n}" for n in range(8)]


def brief(**keys):
    return brief_of(
        {"stash": str(STASH), "strands": 8, "length_mm": 150, "limits.on_hand": False, **keys}
    )


def shown(genome, space):
    grid, colours = develop(genome, space)
    return pattern_of(grid[..., 0], colours[:, 0], "", NAMES, ["#000000"] * 8)


def test_a_crooked_v_becomes_the_plain_one():
    """Two colours, all arrows: knots among one colour were tied this way and that."""
    b = brief()
    space = space_of(b, 8)
    plain = np.zeros((8, 4, 1), np.uint8)
    plain[:, 2:] = 1
    plain[1::2, 1:] = 1
    plain[1::2, 1] = 0
    colours = np.array([[0, 0, 1, 1, 1, 1, 0, 0]], np.uint8).T
    none = np.zeros(1, np.uint8)
    straight = Genomes(none, none.copy(), plain, colours)
    want = shown(straight, space)
    crooked = plain.copy()
    cells = face(want, 8)
    rng = np.random.default_rng(5)
    order = walk(want, 8).orders
    for r in range(8):
        for k in range(4 - r % 2):
            i = r % 2 + 2 * k
            one, other = (want.colour_order[order[r][x]] for x in (i, i + 1))
            if one == other:
                crooked[r, k] = rng.integers(0, 4)
    bent = Genomes(none.copy(), none.copy(), crooked, colours)
    before = shown(bent, space)
    if face(before, 8) != cells:
        pytest.fail("the crooked grid must show the same face")
    after = shown(ease(Judge(b), bent, space), space)
    assert face(after, 48) == face(before, 48)
    assert steady_passes(after) < steady_passes(before)


@pytest.mark.parametrize("seed", range(12))
def test_faces_stay_and_limits_are_kept(seed):
    b = brief(**{"limits.border": seed % 2 == 0})
    judge, space = Judge(b), space_of(b, (6, 8, 12)[seed % 3])
    genome = random_genomes(space, 1, np.random.default_rng(seed))
    before, easier = shown(genome, space), ease(judge, genome, space)
    after = shown(easier, space)
    assert [[before.palette[c] for c in row] for row in face(before, 96)] == [
        [after.palette[c] for c in row] for row in face(after, 96)
    ]
    scores = [score_batch(*develop(g, space), judge.setting) for g in (genome, easier)]
    assert scores[1].evenness[0] >= scores[0].evenness[0] - GIVE - 1e-12
    if easier is not genome:
        # What a maker does: passes of a long band per row; the round may only make up a little.
        per_row = [steady_passes(p) / p.rows for p in (before, after)]
        assert per_row[1] <= per_row[0]
        assert len(plan_band(after, 100).cycle) <= len(plan_band(before, 100).cycle)
