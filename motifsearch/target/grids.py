"""From the colours' walk to knots, and a varied choice among equals.

A walk gives the arrangement of colours before every row.  At a knot of two colours a and b the
walk says whether they cross; the wanted colour says who ties.  A wrong cell shows the one of its
two colours that looks nearer to the wanted one (CIEDE2000).  What is left open (two strands of one
colour, a cell of any colour) is used for what a maker likes: strands that cross rather than return,
and as many forward as backward knots, so that the band lies flat.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from motifsearch.base.arrays import F64, I8, Bool
from motifsearch.base.colour import difference_matrix
from motifsearch.pattern.canonical_form import canonical_key
from motifsearch.pattern.design import Pattern, make_pattern
from motifsearch.pattern.knots import RETURNING, TIED_FROM_RIGHT, positions_in_row
from motifsearch.target.motif import Target

Walk = npt.NDArray[np.uint8]


def returning_knots(walk: Walk) -> int:
    """Return how many knots of a walk must return: two colours that keep their places.

    Args:
        walk: The colours before every row, uint8 ``[P, S]``; after the last row comes the first.
    """
    after = np.roll(walk, -1, axis=0)
    n = 0
    for parity in (0, 1):
        now, then = walk[parity::2], after[parity::2]
        left, right = now[:, parity:-1:2], now[:, parity + 1 :: 2]
        n += int(((left != right) & (then[:, parity:-1:2] == left)).sum())
    return n


def wrong_of(walk: Walk, cells: I8) -> Bool:
    """Return the cells that cannot show what is wanted, bool ``[P, S // 2]``."""
    wrong = np.zeros(cells.shape, np.bool_)
    for parity in (0, 1):
        now, want = walk[parity::2], cells[parity::2]
        left, right = now[:, parity:-1:2], now[:, parity + 1 :: 2]
        want = want[:, : left.shape[1]]
        wrong[parity::2, : left.shape[1]] = (want >= 0) & (want != left) & (want != right)
    return wrong


def knots_of(
    walk: Walk,
    cells: I8,
    apart: F64,
    rng: np.random.Generator,
) -> npt.NDArray[np.uint8]:
    """Return knots that walk so and show the target, uint8 ``[P, S // 2]``.

    Args:
        walk: The colours before every row, uint8 ``[P, S]``.
        cells: The target, int8 ``[P, S // 2]``.
        apart: How far the colours look apart, float64 ``[K, K]``.
        rng: Breaks ties between forward and backward.
    """
    rows, strands = walk.shape
    grid = np.zeros((rows, strands // 2), np.uint8)
    off = apart.copy()
    np.fill_diagonal(off, -1.0)  # the wanted colour itself, even if another looks the same
    lean = 0  # forward minus backward knots
    open_to_choice: list[tuple[int, int]] = []
    for r in range(rows):
        after = walk[(r + 1) % rows]
        for k, i in enumerate(positions_in_row(strands, r)):
            left, right = walk[r, i], walk[r, i + 1]
            want = cells[r, k]
            returns = left != right and after[i] == left
            code = RETURNING if returns else 0
            if want < 0 or off[want, left] == off[want, right]:
                open_to_choice.append((r, k))
            else:
                if off[want, right] < off[want, left]:
                    code |= TIED_FROM_RIGHT
                if not returns:
                    lean += -1 if code & TIED_FROM_RIGHT else 1
            grid[r, k] = code
    for n in rng.permutation(len(open_to_choice)):
        r, k = open_to_choice[n]
        backward = lean > 0 or (lean == 0 and bool(rng.integers(2)))
        grid[r, k] |= TIED_FROM_RIGHT if backward else 0
        if not grid[r, k] & RETURNING:
            lean += -1 if backward else 1
    return grid


def pattern_of(walk: Walk, target: Target, title: str, rng: np.random.Generator) -> Pattern:
    """Return the design of a walk."""
    order = [target.names[c] for c in walk[0]]
    colours = dict(zip(target.names, target.colours, strict=True))
    knots = knots_of(walk, target.cells, difference_matrix(target.colours), rng)
    return make_pattern(title, knots, order, colours)


def varied(walks: list[Walk], target: Target, n: int) -> list[Walk]:
    """Choose walks of few wrong cells that differ from one another.

    The first has the fewest wrong cells and, among those, the fewest returning knots.  Then, cost
    by cost, each next one is the walk whose colours differ most from all that are chosen.  Of
    designs that are the same on the wrist (`motifsearch.pattern.canonical_form`) one is kept.
    """
    scored = sorted(
        ((int(wrong_of(w, target.cells).sum()), returning_knots(w), w.tobytes(), w) for w in walks),
        key=lambda item: item[:3],
    )
    unique: dict[bytes, tuple[int, int, Walk]] = {}
    for cost, returning, raw, w in scored:
        unique.setdefault(raw, (cost, returning, w))
    rest = list(unique.values())
    chosen: list[Walk] = []
    seen: set[str] = set()
    while rest and len(chosen) < n:
        least = rest[0][0]
        level = [item for item in rest if item[0] == least]
        if chosen:
            near = [min(int((w != c).sum()) for c in chosen) for _, _, w in level]
            pick = max(range(len(level)), key=lambda j: (near[j] - level[j][1], -j))
        else:
            pick = 0
        walk = level[pick][2]
        rest = [item for item in rest if item[2] is not walk]
        key = canonical_key(pattern_of(walk, target, "", np.random.default_rng(0)))
        if key not in seen:
            seen.add(key)
            chosen.append(walk)
    return chosen
