"""A name in a band from the page: the same bands as ``motifsearch letters`` and a brief give."""

from __future__ import annotations

import json
import shutil
import time
from dataclasses import replace

import numpy as np
import pytest
from workshop.shop import PATIENCE_S

from motifsearch.pattern.files import read_pattern
from motifsearch.pattern.walk import walk
from motifsearch.runs import asking, naming, wall
from motifsearch.runs.example import demo_folder
from motifsearch.runs.hanging import design_of
from motifsearch.runs.jobs import Job, mark
from motifsearch.runs.lettering import letters
from motifsearch.runs.live import Engines
from motifsearch.runs.settings import Asked
from motifsearch.runs.store import STATE
from motifsearch.runs.trying import look
from motifsearch.runs.workroom import open_workroom
from motifsearch.thread.stash import read_stash

VALUES = {**asking.NAMING, "strands": 12, "wrist_mm": 140.0, "text": "Jo", "gallery.size": 2}


@pytest.fixture
def room(tmp_path):
    shutil.copy(demo_folder() / "stash-workshop.toml", tmp_path / "stash.toml")
    return open_workroom(tmp_path)


def test_what_is_seen_while_typing_is_the_first_band_of_the_command(room):
    seen = naming.tried_text(room, VALUES)
    run = letters(
        "Jo", strands=12, asked=Asked(stash=read_stash(room.stash), length_mm=120.0), designs=1
    )
    assert design_of(seen["design"]).knots == run[0].pattern.knots
    assert design_of(seen["design"]).colour_order == run[0].pattern.colour_order
    assert (seen["text"], seen["lengthMm"], seen["times"]) == ("JO", 120.0, 1)
    assert seen["ink"] != seen["ground"]
    assert seen["short"] == []


def test_the_seen_band_shows_ink_where_letters_are(room):
    """Counted on the plain walk: ink is seen on the rows of the text, and on no others."""
    seen = naming.tried_text(room, {**VALUES, "ink": "plum", "ground": "cream"})
    pattern = design_of(seen["design"])
    ink = pattern.palette.index("plum")
    rows = [any(pattern.colour_index[k.tying] == ink for k in row)
            for row in walk(pattern, pattern.rows).rows]  # fmt: skip
    lettered = np.flatnonzero(rows)
    assert len(lettered) > 6
    long = (lettered[-1] - lettered[0] + 1) / seen["rows"] * seen["lengthMm"]
    assert long == pytest.approx(seen["textMm"], abs=2.0)


@pytest.mark.parametrize(
    ("changed", "said"),
    [({"text": "日本"}, "no letter is drawn for"),
     ({"text": "Maximiliane Augusta"}, "the nearest that works: a knotted length of"),
     ({"strands": 8}, "letters need 10 strands"),
     ({"ink": "sand", "ground": "sand"}, "two different threads"),
     ({"ink": "unobtanium"}, "expected a thread of the stash"),
     ({"wrist_mm": None}, "expected"),
     ({"text": "x" * 101}, "at most 100 letters")],
)  # fmt: skip
def test_what_cannot_be_written_is_said_with_its_reason(room, changed, said):
    found = naming.tried_text(room, {**VALUES, **changed})
    assert said in found["error"]["text"].lower()
    assert found["error"]["text"].endswith(".")


@pytest.mark.parametrize("text", ["", "   ", None])
def test_nothing_typed_is_no_mistake(room, text):
    assert naming.tried_text(room, {**VALUES, "text": text}) == {"empty": True}


def test_too_little_thread_is_said_before_it_is_begun(room):
    stash = room.stash.read_text()
    room.stash.write_text(stash.replace("pieces_m = [", "pieces_m = [0.4]  # ["))
    seen = naming.tried_text(room, VALUES)
    assert set(seen["short"]) == {seen["ink"], seen["ground"]}


def test_wishes_with_a_text_are_checked_like_the_rest(room):
    assert asking.check(room, VALUES)["reasons"] == []
    said = asking.check(room, {**VALUES, "text": "Maximiliane Augusta"})
    assert "too long" in said["reasons"][0]["text"]


def wait_for(search):
    until = time.monotonic() + PATIENCE_S
    while search.running:
        assert time.monotonic() < until
        time.sleep(0.05)
    assert search.state == "done", search.ended


@pytest.mark.slow
def test_the_run_is_that_of_the_brief_and_knows_how_it_is_read(room, tmp_path_factory):
    from click.testing import CliRunner

    from motifsearch.cli import main

    asking.write_values(room, "jo.toml", {**VALUES, "title": "Jo", "reads": "onlooker"}, "")
    engines = Engines()
    try:
        name = wall.start(room, engines, "jo.toml")
        search = engines.searches[room.path / name]
        assert wall.run_data(room, engines, name)["reads"] == "onlooker"
        wait_for(search)
    finally:
        engines.close()
    data = wall.run_data(room, Engines(), name)
    assert data["kind"] == "letters"
    scores = json.loads((room.path / name / "candidates/001/scores.json").read_text())
    assert data["rows"] == scores["rows_knotted"]
    out = tmp_path_factory.mktemp("other") / "run"
    done = CliRunner().invoke(
        main, ["search", str(room.path / "jo.toml"), "--out", str(out), "--quiet"]
    )
    assert done.exit_code == 0, done.output
    for one in ("brief.toml", "letters.json", "ranking.csv", "candidates/001/pattern.toml"):
        assert (room.path / name / one).read_bytes() == (out / one).read_bytes(), one
    shown = look(room, {"of": f"{name}/candidates/001"})
    assert shown["lying"]
    assert shown["text"] == "Jo"
    assert any("mirrored" in line for line in shown["notes"])
    assert read_pattern(room.path / name / "candidates/001/pattern.toml").rows > 44


@pytest.mark.slow
def test_what_was_broken_off_begins_again(room, tmp_path_factory):
    asking.write_values(room, "jo.toml", {**VALUES, "title": "Jo"}, "")
    job = Job(folder=str(room.path / "jo"), brief=str(room.path / "jo.toml"), kind="letters")
    mark(room.path / "jo", job)
    # What names a file elsewhere, or is no job, is left alone.
    other = tmp_path_factory.mktemp("other") / "x.toml"
    other.write_bytes((room.path / "jo.toml").read_bytes())
    mark(room.path / "far", replace(job, brief=str(other)))
    mark(room.path / "odd", job)
    (room.path / "odd" / STATE / "searching").write_text("a search is under way here")
    engines = Engines()
    try:
        assert wall.go_on_all(room, engines) == ["jo"]
        wait_for(engines.searches[room.path / "jo"])
    finally:
        engines.close()
    assert json.loads((room.path / "jo" / "letters.json").read_text())["text"] == "JO"
    assert wall.go_on_all(room, engines) == []
