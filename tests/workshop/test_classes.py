"""A class from the page: its file is what ``motifsearch group`` reads, and so is its run."""

from __future__ import annotations

import json
import shutil
import time
import tomllib

import pytest
from click.testing import CliRunner
from starlette.testclient import TestClient
from workshop.shop import PATIENCE_S

from motifsearch.base.errors import InfeasibleError, InputError
from motifsearch.cli import main
from motifsearch.runs import changes, classes, making, people, wall
from motifsearch.runs.booking import bookings
from motifsearch.runs.box import add_skein, change_thread, remove_thread
from motifsearch.runs.example import demo_folder
from motifsearch.runs.live import Engines
from motifsearch.runs.one import cut
from motifsearch.runs.trying import look
from motifsearch.runs.workroom import open_workroom
from motifsearch.search.group import read_group
from motifsearch.thread.ledger import ChangedError
from motifsearch.thread.stash import read_stash
from motifsearch.workshop.app import application
from motifsearch.workshop.guard import Guard, new_secret


@pytest.fixture
def room(tmp_path):
    shutil.copy(demo_folder() / "stash-workshop.toml", tmp_path / "stash.toml")
    return open_workroom(tmp_path)


@pytest.fixture
def saturday(room):
    return people.new_group(room, "Saturday", "Mira\nJo\nAda L\r\n\n  Bo ")


def version(room, name):
    return people.group_data(room, name)["version"]


def test_a_list_of_names_becomes_a_group_file(room, saturday):
    assert saturday == "saturday.toml"
    wanted = read_group(room.path / saturday)
    assert [one.name for one in wanted.people] == ["Mira", "Jo", "Ada L", "Bo"]
    assert {one.wrist_mm for one in wanted.people} == {150.0}
    assert wanted.brief.stash.names == read_stash(room.stash).names
    # A group is no brief, and the other way round.
    assert room.groups() == (saturday,)
    assert room.briefs() == ()
    assert people.new_group(room, "Saturday", "Fen") == "saturday-2.toml"


def test_everything_that_a_person_can_ask_for(room, saturday):
    people.change_person(room, saturday, 1, {
        "wrist_mm": 165, "colours": ["plum"], "not_colours": ["sand", "moss"],
        "level": "first band", "text": "",
    }, version(room, saturday))  # fmt: skip
    jo = read_group(room.path / saturday).people[1]
    assert (jo.wrist_mm, jo.colours, jo.not_colours, jo.level, jo.text) == (
        165.0, ("plum",), ("sand", "moss"), "first band", "")  # fmt: skip
    # What is left empty is taken out of the file.
    people.change_person(room, saturday, 1, {"wrist_mm": None, "colours": []}, None)
    with (room.path / saturday).open("rb") as file:
        assert tomllib.load(file)["people"][1] == {
            "name": "Jo", "not_colours": ["sand", "moss"], "level": "first band"}  # fmt: skip
    people.drop_person(room, saturday, 0, None)
    people.add_people(room, saturday, "Fen", None)
    assert [p.name for p in read_group(room.path / saturday).people] == [
        "Jo", "Ada L", "Bo", "Fen"]  # fmt: skip
    # Each was one step, and is taken back as one.
    changes.step(room.path, True)
    changes.step(room.path, True)
    assert [p.name for p in read_group(room.path / saturday).people] == [
        "Mira", "Jo", "Ada L", "Bo"]  # fmt: skip


def test_a_file_that_was_written_by_hand_keeps_its_comments(room):
    text = (demo_folder() / "groups" / "class-of-twelve.toml").read_text(encoding="utf-8")
    path = room.path / "twelve.toml"
    path.write_text(text.replace("../stash-workshop.toml", "stash.toml"), encoding="utf-8")
    people.save_group(room, "twelve.toml", {"strands": 10, "limits.steps_max": 12}, None)
    people.change_person(room, "twelve.toml", 3, {"name": "Tamar"}, None)
    after = path.read_text(encoding="utf-8")
    assert after.startswith('# "Twelve children, twelve bands, one box."')
    wanted = read_group(path)
    assert (wanted.brief.strands, wanted.brief.limits.steps_max) == (10, 12)
    assert len(wanted.people) == 12
    assert wanted.people[3].name == "Tamar"
    assert wanted.people[3].colours == ("ink blue",)


def test_bands_for_nobody_get_names(room):
    (room.path / "five.toml").write_text(
        'stash = "stash.toml"\nstrands = 8\nwrist_mm = 150\nbands = 5\n', encoding="utf-8"
    )
    assert people.group_data(room, "five.toml")["bands"] == 5
    people.add_people(room, "five.toml", "Mira\nJo", None)
    assert [p.name for p in read_group(room.path / "five.toml").people] == ["Mira", "Jo"]


@pytest.mark.parametrize(
    ("what", "said"),
    [
        (lambda r, n: people.change_person(r, n, 0, {"name": "Jo"}, None), "every name once"),
        (lambda r, n: people.change_person(r, n, 9, {"name": "Jo"}, None), "a person of the class"),
        (lambda r, n: people.change_person(r, n, 0, {"colours": ["x"]}, None), "a colour of the"),
        (lambda r, n: people.change_person(r, n, 0, {"shoe": 39}, None), "unknown key"),
        (lambda r, n: people.change_person(r, n, 0, {"wrist_mm": "wide"}, None), "a number"),
        (lambda r, n: people.save_group(r, n, {"strands": 3}, None), "from 4 to 24"),
        (lambda r, n: people.save_group(r, n, {"stash": "/etc/passwd"}, None), "a key of the"),
        (lambda r, n: people.save_group(r, n, {"people": []}, None), "a key of the group"),
        (lambda r, n: people.add_people(r, n, " \n ", None), "at least one name"),
        (lambda r, n: people.add_people(r, n, "\n".join(map(str, range(501))), None), "at most"),
        (lambda r, n: people.add_people(r, "../x.toml", "Jo", None), "folder"),
        (lambda r, n: people.add_people(r, "stash.toml", "Jo", None), "a class of this folder"),
        (lambda r, n: people.new_group(r, "x", ""), "at least one name"),
    ],
)
def test_what_makes_no_group_is_refused_and_nothing_changes(room, saturday, what, said):
    before = (room.path / saturday).read_bytes()
    with pytest.raises(InputError, match=said):
        what(room, saturday)
    assert (room.path / saturday).read_bytes() == before
    assert room.groups() == (saturday,)


def test_names_in_one_line_or_one_on_each():
    assert people.names_in(" Mira, Jo;Bo ") == ["Mira", "Jo", "Bo"]
    assert people.names_in("Miller, Ada\nMiller, Bo") == ["Miller, Ada", "Miller, Bo"]
    assert people.names_in("") == []


def test_a_thread_that_is_gone_is_said_of_whom_it_troubles(room, saturday):
    people.change_person(room, saturday, 2, {"colours": ["plum"]}, None)
    remove_thread(room, "plum", None)
    said = people.group_data(room, saturday)["problem"]
    assert said.startswith("Ada L: ")
    assert "plum" in said
    assert people.check_group(room, saturday)["reasons"][0]["text"] == said
    people.change_person(room, saturday, 2, {"colours": []}, None)
    assert people.group_data(room, saturday)["problem"] == ""


def test_the_last_one_stays(room):
    name = people.new_group(room, "One", "Mira")
    with pytest.raises(InputError, match="needs somebody"):
        people.drop_person(room, name, 0, None)


def test_a_stale_list_is_refused(room, saturday):
    old = version(room, saturday)
    (room.path / saturday).write_text((room.path / saturday).read_text() + "# by hand\n")
    with pytest.raises(ChangedError):
        people.change_person(room, saturday, 0, {"name": "Mirabel"}, old)
    assert "Mirabel" not in (room.path / saturday).read_text()


def test_what_speaks_against_a_class_is_said_before_it_begins(room, saturday):
    assert people.check_group(room, saturday)["reasons"] == []
    people.change_person(room, saturday, 3, {"text": "Bo"}, None)
    reasons = people.check_group(room, saturday)["reasons"]
    assert [one["name"] for one in reasons] == ["Bo"]
    assert "10 strands" in reasons[0]["text"]
    with pytest.raises(InputError, match="Bo: Letters need 10 strands"):
        classes.start_group(room, Engines(), saturday)
    people.save_group(room, saturday, {"strands": 12}, None)
    assert people.check_group(room, saturday)["reasons"] == []
    people.change_person(room, saturday, 3, {"text": "Maximiliane Augusta"}, None)
    assert "too long" in people.check_group(room, saturday)["reasons"][0]["text"]
    people.change_person(room, saturday, 3, {"text": ""}, None)
    people.save_group(room, saturday, {"limits.contrast_min": 150}, None)
    assert people.check_group(room, saturday)["reasons"][0]["name"] == ""


def test_the_server_hands_it_on(room, saturday):
    secret = new_secret()
    guarded = Guard(application(room, Engines()), secret, ("127.0.0.1:8000",))
    at = "http://127.0.0.1:8000"
    with TestClient(guarded, base_url=at, headers={"origin": at}) as client:
        client.get(f"/?key={secret}")
        assert client.get("/get/state").json()["groups"] == [saturday]
        data = client.get("/get/class", params={"name": saturday}).json()
        ask = {"name": saturday, "at": 0, "values": {"level": "patience"},
               "version": data["version"]}  # fmt: skip
        assert client.post("/do/class/person", json=ask).status_code == 200
        assert client.post("/do/class/person", json=ask).status_code == 409
        for name in ("../x.toml", "stash.toml", "nothing.toml"):
            assert client.post("/do/class/join", json={"name": name, "names": "x"}
                               ).status_code == 422, name  # fmt: skip
        for name in ("../x", "demo", ""):
            assert client.get("/get/classed", params={"run": name}).status_code == 422, name
            assert client.post("/do/class/book", json={"run": name}).status_code == 422, name


@pytest.mark.slow
def test_from_the_list_to_one_booking_and_back(room, saturday, tmp_path_factory):
    people.change_person(room, saturday, 1, {"wrist_mm": 170, "not_colours": ["sand"]}, None)
    people.save_group(
        room, saturday, {"strands": 6, "search.generations": 6, "search.population": 60}, None
    )
    engines = Engines()
    try:
        name = classes.start_group(room, engines, saturday)
        search = engines.searches[room.path / name]
        assert wall.run_data(room, engines, name)["kind"] == "group"
        until = time.monotonic() + PATIENCE_S
        while search.running:
            assert time.monotonic() < until
            time.sleep(0.05)
        assert search.state == "done", search.ended
    finally:
        engines.close()
    # The same run as the command writes.
    out = tmp_path_factory.mktemp("other") / "run"
    done = CliRunner().invoke(main, ["group", str(room.path / saturday), "--out", str(out)])
    assert done.exit_code == 0, done.output
    for one in ("plan.json", "class.html", "cutting-list.csv", "brief.toml"):
        assert (room.path / name / one).read_bytes() == (out / one).read_bytes(), one
    data = classes.class_data(room, name)
    plan = json.loads((out / "plan.json").read_text())
    assert [b["name"] for b in data["bands"]] == [b["name"] for b in plan["bands"]]
    assert data["possible"] == len(data["bands"]) == 4
    assert sum(len(p["cuts"]) for p in data["pieces"]) == sum(len(b["cuts"]) for b in plan["bands"])
    assert data["file"] == saturday
    # A band of another length has the settings of its own, wherever the page shows it.
    jo = next(b for b in data["bands"] if b["name"] == "Jo")
    shown = look(room, {"of": f"{name}/{jo['folder']}"})
    own = cut(room.path / name / jo["folder"] / "pattern.toml")
    assert shown["lengthMm"] == own.settings.length_mm == 150.0
    assert shown["planned"]
    assert shown["wall"] == name
    # One booking, and one step back.
    before = {t.name: sorted(t.pieces_mm) for t in read_stash(room.stash).threads}
    assert data["fits"]
    assert data["booked"] is None
    with pytest.raises(ChangedError):
        classes.book_class(room, name, "0" * 16)
    number = classes.book_class(room, name, None)["number"]
    assert [b.bands for b in bookings(room.stash)] == [4]
    assert classes.class_data(room, name)["booked"] == number
    making.unbook(room, number)
    assert {t.name: sorted(t.pieces_mm) for t in read_stash(room.stash).threads} == before
    assert classes.class_data(room, name)["booked"] is None
    # A box that does not hold the pieces any more is not cut.
    piece = plan["bands"][0]["cuts"][0]
    change_thread(room, piece["colour"], {"pieces_m": [0.5]}, None)
    add_skein(room, "plum", None)
    assert not classes.class_data(room, name)["fits"]
    with pytest.raises(InfeasibleError):
        classes.book_class(room, name, None)


@pytest.mark.slow
def test_those_without_a_band_and_what_to_buy_for_them(room, saturday):
    for thread in read_stash(room.stash).threads:
        change_thread(room, thread.name, {"pieces_m": [8] if thread.name in ("sand", "plum")
                                          else []}, None)  # fmt: skip
    people.save_group(
        room, saturday, {"strands": 8, "search.generations": 4, "search.population": 60}, None
    )
    from motifsearch.runs.grouping import group

    run = group(room.path / saturday, out=room.path / "few")
    data = classes.class_data(room, "few")
    assert data["without"] == list(run.without)
    assert data["without"]
    assert run.shopping is not None
    assert [(b["colour"], b["skeins"]) for b in data["buy"]] == [
        (line.colour, line.skeins) for line in run.shopping.lines if line.skeins
    ]
