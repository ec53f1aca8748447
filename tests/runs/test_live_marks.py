"""A mark on a wall is answered at once: what hangs next is to the taste that the marks show."""

from __future__ import annotations

import multiprocessing
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from motifsearch.runs.hanging import Band
from motifsearch.runs.jobs import Job, Looking
from motifsearch.search.brief import read_brief
from motifsearch.search.loop import evolve, new_run

CONFIGS = Path(__file__).parents[2] / "configs"


@pytest.fixture(scope="module")
def searched() -> Any:
    keys = {
        "strands": 8, "search.generations": 12, "search.population": 120,
        "search.periods": [6, 8, 12], "search.rest_after": 0, "gallery.size": 12,
        "limits.contrast_min": 5, "colours_max": 3,
    }  # fmt: skip
    brief = read_brief(CONFIGS / "browse-many.toml", keys)
    return brief, evolve(brief, new_run(brief))[0]


def last_wall(pipe: Any) -> Any:
    found = None
    while pipe.poll():
        said = pipe.recv()
        if said["kind"] == "wall":
            found = said["wall"]
    return found


def share(bands: list[Band], colour: str) -> float:
    return float(np.mean([b.pattern.colour_order.count(colour) / 8 for b in bands]))


def test_marks_change_what_hangs_without_another_generation(searched: Any, tmp_path: Path) -> None:
    brief, state = searched
    here, there = multiprocessing.Pipe()
    looking = Looking(there, Job(folder=str(tmp_path), brief="wishes.toml"))
    for _ in range(3):
        looking.seen(brief, state)
    before = [b for b in looking.hung if b is not None]
    assert len(before) == 12
    assert last_wall(here) is not None
    # She wants the three that show most of one colour.
    colours = sorted({c for b in before for c in b.pattern.palette})
    colour = max(colours, key=lambda c: min(share([b], c) for b in best(before, c)))
    wanted = best(before, colour)
    here.send(("marks", [b.key for b in wanted], []))
    assert looking.stop() == ""
    wall = last_wall(here)
    assert wall is not None, "nothing came until the next exchange"
    after = [b for b in looking.hung if b is not None]
    for band in wanted:
        assert looking.hung.index(band) == before.index(band)
    others = [b for b in after if b not in wanted]
    left = [b for b in before if b not in wanted]
    assert share(others, colour) > share(left, colour) + 0.05
    # Without a new mark nothing moves.
    assert looking.stop() == ""
    assert last_wall(here) is None
    # What is not for her goes at once, and what is like it.
    refused = others[0]
    here.send(("marks", [b.key for b in wanted], [refused.key]))
    looking.stop()
    assert refused.key not in [b.key for b in looking.hung if b is not None]


def best(bands: list[Band], colour: str) -> list[Band]:
    return sorted(bands, key=lambda b: -share([b], colour))[:3]


def test_without_marks_the_wall_is_by_wishes_alone(searched: Any, tmp_path: Path) -> None:
    brief, state = searched
    _, there = multiprocessing.Pipe()
    looking = Looking(there, Job(folder=str(tmp_path), brief="wishes.toml"))
    looking.seen(brief, state)
    assert looking.liked(brief) is None
    worths = [b.worth for b in looking.hung if b is not None]
    assert max(worths) == max(float(i.archive.utility.max()) for i in state.islands)
