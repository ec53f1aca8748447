"""Patterns at their edges: the longest title, the widest band, the steps where a level ends."""

from __future__ import annotations

import numpy as np
import pytest

from motifsearch.base.errors import InputError
from motifsearch.pattern.design import make_pattern
from motifsearch.pattern.effort import LEVELS, effort
from motifsearch.pattern.files import MAX_TITLE, format_pattern, read_pattern
from motifsearch.pattern.knots import MAX_ROWS, MAX_STRANDS, MIN_STRANDS, slots_in_row

INK = {"a": "#102030", "b": "#f0e0c0"}


def plain(strands: int, rows: int = 2, title: str = ""):
    grid = [" ".join(["rr"] * slots_in_row(strands, r)) for r in range(rows)]
    return make_pattern(title, grid, "ab" * (strands // 2) + "a" * (strands % 2), INK)


@pytest.mark.parametrize(("length", "good"), [(500, True), (501, False)])
def test_the_longest_title(tmp_path, length, good):
    """500 characters, as README and messages say."""
    path = tmp_path / "p.toml"
    text = format_pattern(plain(6)).replace('title = ""', f'title = "{"x" * length}"')
    path.write_text(text, encoding="utf-8")
    assert MAX_TITLE == 500
    if good:
        assert len(read_pattern(path).title) == length
    else:
        with pytest.raises(InputError, match="title"):
            read_pattern(path)


@pytest.mark.parametrize(("strands", "good"), [(3, False), (4, True), (24, True), (25, False)])
def test_the_narrowest_and_the_widest_band(tmp_path, strands, good):
    assert (MIN_STRANDS, MAX_STRANDS) == (4, 24)
    rows = [" ".join(["rr"] * slots_in_row(strands, r)) for r in range(2)]
    order = ", ".join(f'"{"ab"[k % 2]}"' for k in range(strands))
    path = tmp_path / "p.toml"
    path.write_text(
        f'format = "motifsearch-pattern-1"\ntitle = ""\nrows = ["{rows[0]}", "{rows[1]}"]\n'
        f'colour_order = [{order}]\n[colours]\na = "#102030"\nb = "#f0e0c0"\n', encoding="utf-8",
    )  # fmt: skip
    if good:
        assert read_pattern(path).strands == strands
    else:
        with pytest.raises(InputError, match="4 to 24"):
            read_pattern(path)


@pytest.mark.parametrize(("extra", "good"), [(0, True), (2, False)])
def test_the_longest_grid(tmp_path, extra, good):
    path = tmp_path / "p.toml"
    path.write_text(format_pattern(plain(4, MAX_ROWS + extra)), encoding="utf-8")
    if good:
        assert read_pattern(path).rows == MAX_ROWS
    else:
        with pytest.raises(InputError, match="rows"):
            read_pattern(path)


def test_a_level_ends_where_its_steps_end():
    """12 and 30 steps with two and three kinds of knots, on designs that have just so many."""
    rng = np.random.default_rng(1)
    seen: dict[tuple[int, int], str] = {}
    for _ in range(3000):
        strands, rows = int(rng.integers(5, 15)), int(rng.choice([2, 4, 6]))
        codes = rng.choice(4, int(rng.integers(1, 4)), replace=False)
        grid = rng.choice(codes, (rows, strands // 2)).astype(np.uint8)
        order = "".join(rng.choice(list("ab"), strands))
        if len(set(order)) < 2:
            continue
        e = effort(make_pattern("", grid, order, INK))
        seen.setdefault((e.kinds, e.steps), e.level)
    edges = {12: 0, 13: 0, 30: 0}
    for (kinds, steps), level in seen.items():
        if steps in edges:
            edges[steps] += 1
        if kinds <= 2 and steps <= 12:
            assert level == "first band"
        elif kinds <= 3 and steps <= 30:
            assert level == "some practice"
        else:
            assert level == "patience"
    assert all(edges.values()), edges
    # What README and the worksheets call a level (common practice, no source).
    assert LEVELS["first band"] == (2, 12)
    assert LEVELS["some practice"] == (3, 30)
    assert list(LEVELS) == ["first band", "some practice", "patience"]
