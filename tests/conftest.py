"""What several test modules share: random designs of every size."""

from __future__ import annotations

import numpy as np
from hypothesis import settings
from hypothesis import strategies as st

from motifsearch.pattern.design import Pattern, make_pattern
from motifsearch.pattern.knots import slots_in_row

settings.register_profile("repo", deadline=None, derandomize=True)
settings.load_profile("repo")

INKS = {
    "sand": "#d8c49a",
    "teal": "#1f7a78",
    "brick": "#a5432d",
    "night": "#1d2a4d",
    "moss": "#6b7a34",
}


@st.composite
def patterns(draw, strands=None, max_rows=12, max_colours=5) -> Pattern:
    """Draw a random design."""
    s = draw(st.integers(4, 24) if strands is None else strands)
    rows = 2 * draw(st.integers(1, max_rows // 2))
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    names = list(INKS)[: draw(st.integers(1, max_colours))]
    # Few kinds of knots make structured designs with short repeats; all four make noise.
    kinds = rng.permutation(4)[: draw(st.integers(1, 4))]
    grid = np.zeros((rows, s // 2), np.uint8)
    for r in range(rows):
        n = slots_in_row(s, r)
        grid[r, :n] = rng.choice(kinds, n)
    return make_pattern("drawn", grid, list(rng.choice(names, s)), INKS)
