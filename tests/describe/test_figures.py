"""Figures are named only where they are: a confusion table over faces drawn from geometry."""

from __future__ import annotations

from collections import Counter, defaultdict

import numpy as np
import pytest
from figure_faces import (
    FIGURE_FACES,
    LEAST_COLUMNS,
    OF_NOTHING,
    Cells,
    bordered,
    disturbed,
    knots,
)

from motifsearch.describe.figures import figure_of_cells

#: A spot of four knots is a small diamond as well.
ALSO = {"spots": {"diamonds"}}
EACH = 60


def faces(name: str, seed: int) -> list[tuple[Cells, bool]]:
    """Faces of a figure, some with borders, some disturbed; and whether they are."""
    rng = np.random.default_rng(seed)
    draw = {**FIGURE_FACES, **OF_NOTHING}[name]
    out = []
    while len(out) < EACH:
        columns = int(rng.integers(LEAST_COLUMNS.get(name, 4), 24))
        cells = draw(rng, columns)
        if not cells.size:
            continue
        if rng.random() < 0.3 and columns < 20 and name not in ("plain", "lengthwise", "rows"):
            cells = bordered(rng, cells)
        spoilt = rng.random() < 0.3 and name != "plain"
        if spoilt:
            cells = disturbed(rng, np.tile(cells, (max(1, -(-24 // len(cells))), 1)))
        out.append((cells, spoilt))
    return out


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 2])
def test_the_confusion_table(seed: int) -> None:
    """98 % are named right; a face with faults may also be left without a name."""
    table: dict[str, Counter[str]] = defaultdict(Counter)
    right = total = 0
    for name in FIGURE_FACES:
        for cells, spoilt in faces(name, seed):
            kind = figure_of_cells(cells).kind
            table[name][kind] += 1
            total += 1
            right += kind == name or kind in ALSO.get(name, ()) or (spoilt and kind == "patches")
    lines = "\n".join(f"{name:11}{dict(row)}" for name, row in table.items())
    assert right >= 0.98 * total, lines


@pytest.mark.slow
def test_what_is_no_figure_gets_no_name() -> None:
    """Noise, dashes, torn stripes and scraps; on bands of few strands chance makes some."""
    named = total = 0
    for name in OF_NOTHING:
        for cells, _ in faces(name, 3):
            total += 1
            named += figure_of_cells(cells).kind != "patches"
    assert named <= 0.06 * total
    wide = [
        figure_of_cells(cells).kind != "patches"
        for name in OF_NOTHING
        for cells, _ in faces(name, 4)
        if cells.shape[1] >= 8
    ]
    assert sum(wide) <= 0.04 * len(wide)


def test_dashes_that_lean_by_turns_are_no_arrowheads() -> None:
    for cells, _ in faces("dashes", 5):
        assert figure_of_cells(cells).kind != "arrowheads"


def test_lengthwise_zigzags_are_no_diamonds() -> None:
    """Two lines side by side that swing the same way."""
    r, i = np.indices((12, 13))
    z = np.minimum(r % 12, 12 - r % 12) // 2
    cells = knots(np.where(np.isin((i - z) % 7, (0, 1)), 1, 0))
    assert figure_of_cells(cells).kind != "diamonds"


def test_diamonds_are_no_bars() -> None:
    """Flat diamonds across a wide band, which rows of one colour nearly explain."""
    r, i = np.indices((10, 19))
    cells = knots(np.where(np.abs(r - 4) * 2 + np.abs(i - 9) <= 8, 1, 0))
    assert figure_of_cells(cells).kind not in ("rows", "lengthwise")


@pytest.mark.parametrize("name", ["diagonals", "arrowheads", "zigzag", "diamonds", "ripples"])
def test_a_phase_changes_nothing(name: str) -> None:
    for cells, spoilt in faces(name, 6)[:15]:
        if not spoilt:
            kinds = {figure_of_cells(np.roll(cells, k, axis=0)).kind for k in range(0, 8, 2)}
            assert len(kinds) == 1
