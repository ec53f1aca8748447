"""Designs to start from: each is taken up by the search, or refused with the reason."""

from __future__ import annotations

from pathlib import Path

import pytest

import motifsearch as ms
from motifsearch.base.errors import InputError
from motifsearch.pattern.design import make_pattern
from motifsearch.search.loop import new_run

CONFIGS = Path(__file__).parents[2] / "configs"
FEW = {"search.generations": 2, "gallery.size": 4, "strands": 8, "limits.on_hand": False}


def of_rows(rows: int):
    """Return a design whose knots come again after no fewer rows."""
    grid = ["rr rr rr rr", "rr rr rr"] * (rows // 2)
    grid[0] = "ll rr rr rr"
    return make_pattern(
        "", grid, ["teal"] * 4 + ["sand"] * 4, {"teal": "#1f6f73", "sand": "#d8c39a"}
    )


@pytest.mark.parametrize(
    ("rows", "advice"),
    [(14, "search.periods = [14]$"), (50, "limits.repeat_rows_max = 50$")],
    ids=["between", "too long"],
)
def test_rows_that_go_into_no_grid_are_refused(tmp_path, rows, advice):
    with pytest.raises(InputError, match="rows go into a grid that is tried") as bad:
        ms.search(CONFIGS / "only-my-threads.toml", overrides=FEW, seeds=[of_rows(rows)])
    text = str(bad.value).removesuffix(f", found '{rows} rows'")
    assert text.rstrip(")").endswith(advice.rstrip("$"))


def test_a_design_written_out_several_times_is_the_short_one():
    brief = ms.read_brief(CONFIGS / "only-my-threads.toml", FEW)
    short = of_rows(4)
    grid = short.row_texts() * 7  # 28 rows: more than any grid that is tried
    ink = dict(short.colours)
    long = make_pattern("", grid, list(short.colour_order), ink)
    taken = [p is not None for p in new_run(brief, [long]).pending]
    assert taken == [period % 4 == 0 for period in brief.search.periods]
    assert any(taken)
