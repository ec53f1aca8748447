"""The workshop's library: what hangs first comes from it, and every search adds to it."""

from __future__ import annotations

import time

import pytest
from workshop.shop import PATIENCE_S

from motifsearch.library.store import opened
from motifsearch.pattern.canonical_form import canonical_key
from motifsearch.pattern.files import read_pattern
from motifsearch.runs import asking, wall
from motifsearch.runs.example import example
from motifsearch.runs.finding import find
from motifsearch.runs.live import Engines
from motifsearch.runs.remembering import BESIDE
from motifsearch.runs.workroom import open_workroom
from motifsearch.search.brief import read_brief


@pytest.mark.slow
def test_the_first_bands_are_of_the_library_and_what_is_found_is_kept(tmp_path):
    example(tmp_path / "demo")
    room = open_workroom(tmp_path / "demo")
    values = asking.starts()["only-my-threads"] | {
        "search.generations": 4, "search.population": 60, "gallery.size": 4, "strands": 8,
    }  # fmt: skip
    asking.write_values(room, "few.toml", values, "")
    engines = Engines()
    try:
        name = wall.start(room, engines, "few.toml")
        search = engines.searches[room.path / name]
        until = time.monotonic() + PATIENCE_S
        while search.running:
            assert time.monotonic() < until
            time.sleep(0.05)
        assert search.state == "done", search.ended
    finally:
        engines.close()
    with opened(room.path / BESIDE) as library:
        keys = {int(k) for s in library.sizes()
                for k in library.read(s.strands, s.period, ["key"])["key"]}  # fmt: skip
    shown = sorted((room.path / name / "candidates").glob("*/pattern.toml"))
    assert len(shown) == 4
    assert {int(canonical_key(read_pattern(p)), 16) for p in shown} <= keys
    assert any("library.sqlite" in line for line in search.ended["said"])
    # The run says of itself that it began with the library, so it can be repeated.
    assert read_brief(room.path / name / "brief.toml").search.warm


def _ended(search):
    until = time.monotonic() + PATIENCE_S
    while search.running:
        assert time.monotonic() < until
        time.sleep(0.05)
    return search


@pytest.mark.slow
def test_without_a_search_the_same_bands_hang_as_find_finds(tmp_path):
    example(tmp_path / "demo")
    room = open_workroom(tmp_path / "demo")
    values = asking.starts()["only-my-threads"] | {"gallery.size": 4, "strands": 8}
    asking.write_values(room, "few.toml", values, "")
    asking.write_values(room, "odd.toml", values | {"strands": 19}, "")
    engines = Engines()
    try:
        name = wall.start(room, engines, "few.toml", known=True)
        search = _ended(engines.searches[room.path / name])
        assert search.state == "done", search.ended
        assert search.curve == []  # nothing was searched
        # What the library has nothing for is said, and the wall can still be shown.
        other = wall.start(room, engines, "odd.toml", known=True)
        assert _ended(engines.searches[room.path / other]).state == "failed"
        shown = wall.run_data(room, engines, other)
        assert "no kinds of 19 strands" in shown["ended"]["text"]
        assert shown["brief"] == "odd.toml"
    finally:
        engines.close()
    run = find(room.path / "few.toml", out=tmp_path / "other")
    for one in run:
        for file in ("pattern.toml", "scores.json", "cut.csv"):
            own = room.path / name / one.folder / file
            assert own.read_bytes() == (tmp_path / "other" / one.folder / file).read_bytes()
    data = wall.run_data(room, Engines(), name)
    assert data["canGoOn"]
    assert sum(band is not None for band in data["wall"]) == len(run) == 4
