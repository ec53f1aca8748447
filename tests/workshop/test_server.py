"""The server of the workshop: what it refuses, and that its answers are the engine's.

What is refused follows RFC 9110 (Host), RFC 6454 (Origin), RFC 6265bis (cookies) and the advice
on DNS rebinding of the Fetch and CSP standards; each check speaks to the server as an attacker's
page would.
"""

from __future__ import annotations

import io
import json
import shutil
import socket
import threading
import zipfile
from pathlib import Path

import pytest
import segno
from starlette.testclient import TestClient

from motifsearch.base.errors import MotifError
from motifsearch.page import workshop_page
from motifsearch.runs import asking
from motifsearch.runs.booking import bookings
from motifsearch.runs.example import demo_folder
from motifsearch.runs.kitting import kits
from motifsearch.runs.live import Engines
from motifsearch.runs.one import cut
from motifsearch.runs.settings import Asked
from motifsearch.runs.shelf import read_shelf
from motifsearch.runs.workroom import open_workroom
from motifsearch.search.records import LIMITS, WISHES
from motifsearch.thread.stash import read_stash
from motifsearch.workshop.app import application
from motifsearch.workshop.guard import MOST_BYTES, Guard, new_secret
from motifsearch.workshop.serve import for_a_phone, home_address

AT = "127.0.0.1:8000"
SECRET = new_secret()
PAGE = Path(workshop_page.__file__).with_name("workshop")
MODULES = sorted(path.name for path in PAGE.glob("*.js"))
DEMO = Path(__file__).parents[2] / "results" / "demo"


@pytest.fixture
def room(tmp_path):
    shutil.copy(demo_folder() / "stash-workshop.toml", tmp_path / "stash.toml")
    shutil.copytree(DEMO, tmp_path / "demo")
    return open_workroom(tmp_path)


def client_of(room, secret: str = SECRET) -> TestClient:
    guarded = Guard(application(room, Engines()), secret, (AT, "localhost:8000"))
    return TestClient(guarded, base_url=f"http://{AT}", headers={"origin": f"http://{AT}"})


@pytest.fixture
def shop(room):
    with client_of(room) as client:
        answer = client.get(f"/?key={SECRET}")
        assert answer.status_code == 200
        yield client


def state(shop):
    return shop.get("/get/state").json()


def test_nothing_is_answered_without_the_secret(room):
    with client_of(room) as client:
        for path in ("/", "/get/state", "/files/app.js", "/live?name=demo", "/get/sheet?q={}"):
            assert client.get(path).status_code == 403, path
        assert client.post("/do/undo", json={}).status_code == 403
        assert client.get("/?key=" + "x" * 43).status_code == 403
        assert "workshop-8000" not in client.cookies


def test_the_cookie_cannot_be_read_or_sent_by_other_pages(room):
    with client_of(room) as client:
        answer = client.get(f"/band?of=demo%2Fcandidates%2F001&key={SECRET}")
        said = answer.headers["set-cookie"]
        assert "HttpOnly" in said
        assert "SameSite=Strict" in said
        assert "Domain" not in said
        # Where it goes on to, the secret stands no more.
        assert SECRET not in answer.text
        assert "/band?of=demo%2Fcandidates%2F001" in answer.text
        assert client.get("/get/state").status_code == 200


def test_the_way_on_stays_in_the_workshop(room):
    with client_of(room) as client:
        answer = client.get(f"/%2Fevil.example/%22%3E%3Cscript%3E?key={SECRET}")
        assert "url=/evil.example" in answer.text
        assert "<script>" not in answer.text


@pytest.mark.parametrize(
    "host",
    ["evil.example", "evil.example:8000", "127.0.0.1", "127.0.0.1:8001",
     "127.0.0.1.evil.example:8000", ""],
)  # fmt: skip
def test_a_rebound_host_is_refused(shop, host):
    assert shop.get("/get/state", headers={"host": host}).status_code == 421
    assert shop.post("/do/undo", json={}, headers={"host": host}).status_code == 421


@pytest.mark.parametrize(
    "origin", ["http://evil.example", "null", f"https://{AT}", "http://127.0.0.1:8001", ""]
)
def test_a_change_asked_by_another_page_is_refused(shop, room, origin):
    before = room.stash.read_bytes()
    ask = {"name": "sand", "version": None}
    answer = shop.post("/do/thread/skein", json=ask, headers={"origin": origin})
    assert answer.status_code == 403
    assert room.stash.read_bytes() == before
    # The same with the right Origin changes it: the refusal was for the Origin alone.
    assert shop.post("/do/thread/skein", json=ask).status_code == 200
    assert room.stash.read_bytes() != before


def test_a_change_without_origin_or_from_another_site_is_refused(room):
    guarded = Guard(application(room, Engines()), SECRET, (AT,))
    with TestClient(guarded, base_url=f"http://{AT}") as plain:
        plain.get(f"/?key={SECRET}")
        assert plain.post("/do/undo", json={}).status_code == 403
    with client_of(room) as client:
        client.get(f"/?key={SECRET}")
        across = {"sec-fetch-site": "cross-site"}
        assert client.post("/do/undo", json={}, headers=across).status_code == 403


def test_a_huge_body_is_refused_before_it_is_read(shop):
    assert shop.post("/do/look", content=b"x" * (MOST_BYTES + 1)).status_code == 413

    def endless():
        for _ in range(40):
            yield b" " * 65_536

    assert shop.post("/do/look", content=endless()).status_code == 413


@pytest.mark.parametrize("body", [b"", b"[]", b"nonsense", b"\xff", b"[" * 100_000, b'{"of": 7}'])
def test_bodies_that_say_nothing_are_told_so(shop, body):
    for name in (
        "look",
        "mark",
        "paint",
        "thread/add",
        "wishes/check",
        "book",
        "together",
        "name/try",
        "class/new",
        "class/person",
        "class/join",
        "class/save",
        "class/start",
        "class/book",
    ):
        answer = shop.post(f"/do/{name}", content=body)
        assert answer.status_code == 422, name
        assert answer.json()["error"]


@pytest.mark.parametrize(
    "name",
    ["../secret", "/etc/passwd", "demo/../../secret", "..\\secret", ".motifsearch/changes.json",
     "demo/%2e%2e/x", "link/pattern.toml", "\x00", ""],
)  # fmt: skip
def test_no_path_leads_out_of_the_folder(shop, room, name, tmp_path_factory):
    outside = tmp_path_factory.mktemp("outside")
    shutil.copy(DEMO / "candidates" / "001" / "pattern.toml", outside / "pattern.toml")
    (room.path / "link").symlink_to(outside)
    asks = [("look", {"of": name}), ("look", {"of": "demo/candidates/001", "run": name or "x"}),
            ("search/start", {"brief": name}), ("search/stop", {"run": name}),
            ("search/go", {"run": name}), ("mark", {"ask": {"of": name}, "as": "wanted"}),
            ("wishes/save", {"name": name, "values": {}, "version": ""}),
            ("class/join", {"name": name, "names": "Mira"}), ("class/check", {"name": name}),
            ("class/save", {"name": name, "values": {}}), ("class/start", {"name": name}),
            ("class/leave", {"name": name, "at": 0}), ("class/book", {"run": name}),
            ("class/person", {"name": name, "at": 0, "values": {}})]  # fmt: skip
    for ask, body in asks:
        answer = shop.post(f"/do/{ask}", json=body)
        assert answer.status_code == 422, (ask, answer.text)
    for ask in ("run", "brief"):
        assert shop.get(f"/get/{ask}", params={"name": name}).status_code == 422
    assert shop.get("/get/class", params={"name": name}).status_code == 422
    assert shop.get("/get/classed", params={"run": name}).status_code == 422
    for path in ("/files/../app.py", "/files/%2e%2e/app.py", "/files/..%2fgallery.py", "/files/x"):
        assert shop.get(path).status_code in (200, 404)
        assert "motifsearch" not in shop.get(path).text.replace("motifsearch workshop", "")


def test_every_answer_has_its_policy_and_nothing_leaves_the_machine(shop):
    for path in ("/", "/get/state", "/files/app.js", "/files/workshop.css"):
        answer = shop.get(path)
        policy = answer.headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "'unsafe" not in policy
        assert "http" not in policy
        assert answer.headers["cache-control"] == "no-store"
        assert answer.headers["x-content-type-options"] == "nosniff"
    page = workshop_page.index()
    for name in (*MODULES, "workshop.css", "cloth.js"):
        found = workshop_page.file(name)
        assert found is not None
        page += found[0].decode().replace("http://www.w3.org/2000/svg", "")
    assert "http://" not in page
    assert "https://" not in page
    assert "innerHTML" not in page


def test_every_word_of_the_page_stands_in_the_file_of_words():
    import re

    known = set(workshop_page.words("en"))
    stems = {key.rpartition(".")[0] for key in known if key.endswith((".one", ".other"))}
    for name in MODULES:
        found = workshop_page.file(name)
        assert found is not None
        for key in re.findall(r'\bt\("([\w. ]+)"', found[0].decode()):
            assert key in known or key in stems, (name, key)
    assert {key.rpartition(".")[0] for key in known if key.endswith(".one")} == stems


def test_the_form_is_the_records_of_the_engine(shop):
    form = shop.get("/get/form").json()
    assert form["limits"] == [r.key for r in LIMITS]
    assert [w["name"] for w in form["wishes"]] == [w.name for w in WISHES if w.name != "likeness"]
    assert form["keys"]["strands"]["low"] == 4
    for values in form["starts"].values():
        said = shop.post("/do/wishes/check", json={"values": values}).json()
        assert said["reasons"] == []


def test_what_is_impossible_is_said_with_the_nearest_that_works(shop):
    values = asking.starts()["only-my-threads"] | {"limits.contrast_min": 150}
    said = shop.post("/do/wishes/check", json={"values": values}).json()
    assert "limits.contrast_min" in said["reasons"][0]["keys"]
    near = values | said["reasons"][0]["nearest"]
    assert shop.post("/do/wishes/check", json={"values": near}).json()["reasons"] == []
    several = values | {"strands": [8, 10, 24], "limits.contrast_min": 5}
    assert shop.post("/do/wishes/check", json={"values": several}).status_code == 200
    wrong = shop.post("/do/wishes/check", json={"values": values | {"strands": 3}}).json()
    assert wrong["error"]["key"] == "strands"


def test_a_design_looks_as_the_command_line_says(shop, room):
    shown = shop.post("/do/look", json={"of": "demo/candidates/001"}).json()
    made = cut(room.path / "demo/candidates/001/pattern.toml")
    assert [c["length"] for c in shown["cuts"]] == [c.length_mm for c in made.cuts.cuts]
    assert shown["scores"]["thread.evenness"] == pytest.approx(
        made.scores["thread"]["evenness"], abs=1e-4
    )
    assert shown["lengthMm"] == made.settings.length_mm
    longer = shop.post("/do/look", json={"of": "demo/candidates/001", "wrist_mm": 200}).json()
    assert longer["lengthMm"] == shown["lengthMm"] + 45
    assert longer["totalMm"] > shown["totalMm"]


def test_other_threads_and_the_mirror_are_reckoned_anew(shop):
    shown = shop.post("/do/look", json={"of": "demo/candidates/002"}).json()
    old = shown["names"][0]
    ask = {"of": "demo/candidates/002", "recolour": {old: "plum"}, "mirror": True}
    other = shop.post("/do/look", json=ask).json()
    assert "plum" in other["names"]
    assert old not in other["names"]
    assert {c["colour"] for c in other["cuts"]} == set(other["names"])
    again = shop.post("/do/look", json={"design": other["design"], "run": "demo", "mirror": True,
                                        "recolour": {"plum": old}}).json()  # fmt: skip
    assert again["design"]["order"] == shown["design"]["order"]
    assert again["knots"] == shown["knots"]
    assert shop.post("/do/look", json={**ask, "recolour": {old: "unobtanium"}}).status_code == 422


def test_a_stale_change_is_refused_and_nothing_is_lost(shop, room):
    version = state(shop)["box"]["version"]
    # The command line, or an editor, meanwhile:
    text = room.stash.read_text() + "\n# a line of mine\n"
    room.stash.write_text(text)
    ask = {"name": "sand", "values": {"pieces_m": [1.0]}, "version": version}
    answer = shop.post("/do/thread/change", json=ask)
    assert answer.status_code == 409
    assert answer.json()["changed"] is True
    assert room.stash.read_text() == text
    book = {"ask": {"of": "demo/candidates/001"}, "bands": 1, "version": version}
    assert shop.post("/do/book", json=book).status_code == 409
    assert bookings(room.stash) == ()
    ask["version"] = state(shop)["box"]["version"]
    assert shop.post("/do/thread/change", json=ask).status_code == 200
    assert "# a line of mine" in room.stash.read_text()
    assert read_stash(room.stash).thread("sand").pieces_mm == (1000.0,)


def test_two_windows_at_once_one_change_wins_and_the_other_is_told(shop, room):
    version = state(shop)["box"]["version"]
    codes = []

    def change(n):
        ask = {"name": "sand", "values": {"pieces_m": [float(n)]}, "version": version}
        codes.append(shop.post("/do/thread/change", json=ask).status_code)

    threads = [threading.Thread(target=change, args=(n,)) for n in range(1, 7)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert sorted(codes) == [200, 409, 409, 409, 409, 409]


def test_steps_back_and_forth(shop, room):
    before = room.stash.read_bytes()
    version = state(shop)["box"]["version"]
    shop.post("/do/thread/remove", json={"name": "moss", "version": version})
    shop.post("/do/mark", json={"ask": {"of": "demo/candidates/001"}, "as": "wanted"})
    assert (room.path / "shelf.toml").exists()
    assert shop.post("/do/undo", json={}).status_code == 200
    assert not (room.path / "shelf.toml").exists()
    shop.post("/do/undo", json={})
    assert room.stash.read_bytes() == before
    shop.post("/do/redo", json={})
    assert "moss" not in read_stash(room.stash).names
    # Another hand changed the file since: it is left alone.
    room.stash.write_bytes(room.stash.read_bytes() + b"# mine\n")
    assert shop.post("/do/undo", json={}).status_code == 422
    assert room.stash.read_bytes().endswith(b"# mine\n")


def test_wanted_bands_hang_on_the_shelf_and_outlast_their_run(shop, room):
    shop.post("/do/mark", json={"ask": {"of": "demo/candidates/001"}, "as": "wanted"})
    shop.post("/do/mark", json={"ask": {"of": "demo/candidates/002"}, "as": "passed"})
    kept = shop.get("/get/shelf").json()
    note = {"key": kept["bands"][0]["key"], "values": {"note": "for the fair", "state": "made"}}
    assert shop.post("/do/shelf/note", json={**note, "version": kept["version"]}).status_code == 200
    assert shop.post("/do/shelf/note", json={**note, "version": kept["version"]}).status_code == 409
    shutil.rmtree(room.path / "demo" / "candidates")
    after = shop.get("/get/shelf").json()
    assert [b["note"] for b in after["bands"]] == ["for the fair"]
    assert after["bands"][0]["design"]["knots"]
    assert len(after["passed"]) == 1


def test_cutting_books_and_a_booking_is_taken_back(shop, room):
    before = sum(t.total_mm for t in read_stash(room.stash).threads)
    done = shop.post("/do/book", json={"ask": {"of": "demo/candidates/001"}, "bands": 1}).json()
    assert done["number"] == 1
    assert sum(t.total_mm for t in read_stash(room.stash).threads) < before
    assert shop.get("/get/booked").json()[0]["undone"] == ""
    # What the page booked, the command line's book says too.
    assert [b.number for b in bookings(room.stash)] == [1]
    assert shop.post("/do/unbook", json={"number": 1}).status_code == 200
    after = sum(t.total_mm for t in read_stash(room.stash).threads)
    assert after == pytest.approx(before)


def test_the_way_of_cutting_is_chosen_with_its_cost(shop, room):
    ask = {"of": "demo/candidates/002"}
    exact = shop.post("/do/look", json={**ask, "style": "exact"}).json()
    simple = shop.post("/do/look", json={**ask, "style": "simple"}).json()
    assert len({c["length"] for c in simple["cuts"]}) == 1
    assert all(c["length"] % 50 == 0 for c in simple["cuts"])
    # The cost, summed up here from the two lists.
    more = sum(c["length"] for c in simple["cuts"]) - sum(c["length"] for c in exact["cuts"])
    for shown in (exact, simple):
        assert shown["cutting"]["more"] == f"{more / 10:g} cm"
        assert shown["cutting"]["share"] == pytest.approx(more / exact["totalMm"], abs=1e-4)
        assert shown["cutting"]["simpleFits"] is True
    assert (exact["cutting"]["simple"], simple["cutting"]["simple"]) == (False, True)
    for style, said in (("exact", exact), ("simple", simple)):
        made = cut(room.path / "demo/candidates/002/pattern.toml",
                   Asked(style=style, stash=room.stash))  # fmt: skip
        assert [c.length_mm for c in made.cuts.cuts] == [c["length"] for c in said["cuts"]]
    assert shop.post("/do/look", json={**ask, "style": "by eye"}).status_code == 422
    # What was chosen goes with the band to the shelf.
    shop.post("/do/mark", json={"ask": {**ask, "style": "simple"}, "as": "wanted"})
    assert shop.get("/get/shelf").json()["bands"][0]["cut"] == "simple"
    assert read_shelf(room).bands[0].ask["style"] == "simple"


def test_sheets_kits_and_shopping(shop, room):
    one = {"of": "demo/candidates/001"}
    q = json.dumps({"asks": [one], "form": "pdf", "teaching": True})
    pdf = shop.get("/get/sheet", params={"q": q})
    assert pdf.content.startswith(b"%PDF-")
    both = json.dumps({"asks": [one, {"of": "demo/candidates/002"}], "form": "txt"})
    pack = shop.get("/get/sheet", params={"q": both})
    with zipfile.ZipFile(io.BytesIO(pack.content)) as found:
        assert len(found.namelist()) == 2
        assert b"children" in found.read(found.namelist()[0])
    assert pack.content == shop.get("/get/sheet", params={"q": both}).content
    all_ = shop.post("/do/together", json={"asks": [one], "number": 30}).json()
    made = all_["buy"]
    assert all_["cost"] == pytest.approx(sum(line["cost"] for line in made))
    assert all(line["skeins"] > 0 for line in made)
    assert all_["cautions"]
    assert len(all_["pack"][0]["threads"]) == 5
    papers = shop.get("/get/papers", params={"q": json.dumps({"asks": [one], "number": 3})})
    with zipfile.ZipFile(io.BytesIO(papers.content)) as found:
        made = {name: found.read(name) for name in found.namelist()}
    theirs = kits([room.path / "demo" / "candidates" / "001" / "pattern.toml"],
                  asked=Asked(stash=read_stash(room.stash)), number=3).files()  # fmt: skip
    assert made.keys() == theirs.keys()
    for name, data in theirs.items():
        if name.endswith(".csv"):
            assert made[name].decode() == data, name


def test_the_code_for_a_phone_is_read_as_the_address():
    text = for_a_phone("http://192.168.1.7:8080/?key=abc")
    assert text.startswith("On a phone in the same network: http://192.168.1.7:8080/?key=abc\n")
    assert "not in a cafe" in text
    code = segno.make("http://192.168.1.7:8080/?key=abc", error="m", micro=False)
    # ISO/IEC 18004: the finder patterns stand in three corners, 7 modules wide.
    rows = [bytes(row) for row in code.matrix]
    for corner in (rows[0][:7], rows[0][-7:], rows[-1][:7]):
        assert corner == bytes([1] * 7)
    assert rows[-1][-7:] != bytes([1] * 7)


@pytest.mark.parametrize(
    ("own", "served"),
    [
        ("192.168.1.7", True),
        ("10.4.0.2", True),
        ("172.16.0.9", True),
        ("203.0.113.5", False),
        ("8.8.4.4", False),
        ("127.0.0.1", False),
        ("169.254.3.3", False),
    ],
)
def test_only_a_private_network_is_served(own, served, monkeypatch):
    """RFC 1918 names the private networks; loopback and link-local are none of them."""

    class Probe:
        def connect(self, _to):
            pass

        def getsockname(self):
            return own, 1

        def close(self):
            pass

    monkeypatch.setattr(socket, "socket", lambda *_: Probe())
    if served:
        assert home_address() == own
    else:
        with pytest.raises(MotifError, match="no home network"):
            home_address()


def test_without_lan_no_other_address_is_answered(room):
    guarded = TestClient(
        Guard(lambda *_: None, "s", ("127.0.0.1:1", "localhost:1")),
        base_url="http://192.168.1.7:1",
    )
    assert guarded.get("/").status_code == 421
