"""Variations: designs near to a given one, with locks on what must stay.

Every start is the design itself.  Each variation walks a few random steps away from it with the
search's own operators, has the locked parts put back, and counts when it keeps the limits and
the locks and differs in face.  The gallery is picked from all by wishes and distance.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from motifsearch.base.arrays import F64
from motifsearch.pattern.canonical_form import canonical_key
from motifsearch.pattern.design import Pattern
from motifsearch.pattern.walk import walk
from motifsearch.search.brief import Brief
from motifsearch.search.genome import Genomes, Space, develop, genomes_of, pattern_of
from motifsearch.search.island import Judge, space_of
from motifsearch.search.variation import mutate
from motifsearch.search.variety import face_distance, pick
from motifsearch.search.wishes import utility
from motifsearch.simulate.scores import score_batch
from motifsearch.simulate.symmetry import KINDS
from motifsearch.simulate.walk import faces

ROUNDS = 40
BATCH = 600
POOL = 600
#: Grids of a face that are held against the others.
LOOK = 4
#: Variations may lie nearer to one another than designs of a gallery.
NEAR_VARIATION = 0.06


def variations(
    pattern: Pattern,
    brief: Brief,
    *,
    rows: list[int],
    border: bool,
    colours: bool,
    symmetry: bool,
) -> list[tuple[Pattern, float]]:
    """Return varied designs near to a pattern, with how well each meets the wishes.

    Args:
        pattern: The design.
        brief: Stash, length, seed and gallery size.
        rows: Rows whose knots stay (0-based).
        border: Whether the knots of the outermost strands' places stay.
        colours: Whether the colour order stays.
        symmetry: Whether every exact symmetry of the face stays.
    """
    judge = Judge(brief)
    space = replace(space_of(brief, pattern.rows), border=False)
    start, shift = _in_construction(pattern, space, brief.palette)
    rng = np.random.Generator(np.random.PCG64(np.random.SeedSequence(brief.search.seed)))
    keep = np.zeros(start.knots.shape[:2], bool)
    keep[[(r - shift) % pattern.rows for r in rows]] = True
    if border:
        keep[0::2, 0] = True
        keep[pattern.strands % 2 :: 2, -1] = True
    exact = _exact(judge, start, space)
    without = frozenset({"reconstruct", "shift_phase"} | ({"recolour"} if colours else set()))
    pool: list[tuple[Pattern, float]] = []
    seen = {canonical_key(pattern)}
    own_grid, own_order = develop(start, space)
    looks = {faces(own_grid, own_order, LOOK * pattern.rows)[..., 0].tobytes()}
    inks = [brief.stash.thread(name).colour for name in brief.palette]
    base = np.zeros(BATCH, np.int64)
    for turn in range(ROUNDS):
        child = start.take(base)
        for _ in range(1 + turn % 4):
            child = mutate(child, space, rng, without)
        # Half of them may leave the design's own construction, unless its symmetry is to stay.
        free = np.zeros(BATCH, bool) if symmetry else np.arange(BATCH) % 2 == 0
        child.construction = np.where(free, 0, start.construction).astype(np.uint8)
        child.settled[:] = 0
        child.knots = np.where(keep[:, :, None], start.knots, child.knots)
        if colours:
            child.colours = np.broadcast_to(start.colours, child.colours.shape).copy()
        grid, order = develop(child, space)
        scores = score_batch(grid, order, judge.setting)
        worth = utility(judge.wishes(scores, grid, order, space)[1], brief.wishes)
        good = judge.limiter.violation(scores, grid, order, space) == 0
        good &= (grid[keep] == start.knots[keep]).all(0)
        if colours:
            good &= (order == start.colours).all(0)
        if symmetry:
            for kind in exact:
                good &= scores.symmetry[kind] == 1.0
        best = np.flatnonzero(good)
        best = best[np.lexsort((best, -worth[best]))]
        # Most knots of a batch change nothing that is seen: a face counts once.
        shown = faces(grid[..., best], order[:, best], LOOK * pattern.rows)
        fresh: list[int] = []
        for k, n in enumerate(best):
            face = shown[..., k].tobytes()
            if face not in looks and len(fresh) < 6 * brief.gallery_size:
                looks.add(face)
                fresh.append(int(n))
        for place in fresh:
            made = pattern_of(grid[..., place], order[:, place], "", brief.palette, inks)
            key = canonical_key(made)
            if key not in seen:
                seen.add(key)
                pool.append((made, float(worth[place])))
    # Near to the design counts as much as the wishes: this is "more like this".
    near = [worth - 0.5 * face_distance(pattern, made) for made, worth in pool]
    order_ = sorted(range(len(pool)), key=lambda n: (-round(near[n], 9), pool[n][0].knots))
    pool = [pool[n] for n in order_[:POOL]]
    chosen, _ = pick(
        [pattern, *(p for p, _ in pool)],
        np.array([1.0] + [near[n] for n in order_[:POOL]]),
        brief.gallery_size + 1,
        first=1,
        near=NEAR_VARIATION,
    )
    return [pool[n - 1] for n in chosen if n > 0]


def _in_construction(pattern: Pattern, space: Space, palette: Sequence[str]) -> tuple[Genomes, int]:
    """Return the design as a genome of the richest construction that makes it, and at what phase.

    The axes of a construction stand at fixed rows, so the design is tried at every phase.
    """
    for construction in reversed(space.constructions):
        for shift in range(0, pattern.rows, 2):
            order = walk(pattern, shift).orders[-1]
            turned = Pattern(
                pattern.title,
                pattern.knots[shift:] + pattern.knots[:shift],
                tuple(pattern.colour_order[s] for s in order),
                pattern.colours,
            )
            genome = genomes_of(turned, space, palette)
            assert genome is not None  # the caller has checked colours and width
            genome.construction[:] = construction
            grid, colours = develop(genome, space)
            if (grid == genome.knots).all() and (colours == genome.colours).all():
                return genome, shift
    raise AssertionError("without a construction every design makes itself")


def _exact(judge: Judge, start: Genomes, space: Space) -> list[str]:
    scores, _, _ = judge.scores(start, space)
    shares: dict[str, F64] = scores.symmetry
    return [kind for kind in KINDS if shares[kind][0] == 1.0]


def worth_of(pattern: Pattern, brief: Brief) -> float:
    """Return how well a design meets the wishes of a brief, 0..1."""
    judge, space = Judge(brief), replace(space_of(brief, pattern.rows), border=False)
    start = genomes_of(pattern, space, brief.palette)
    assert start is not None  # the caller has checked colours and width
    return float(judge.judge(start, space)[0].utility[0])
