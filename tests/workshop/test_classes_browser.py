"""A class in a real browser: names, what they like, shared out, booked, taken back."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from workshop.shop import ROOT, Shop, Tab

from motifsearch.runs import people
from motifsearch.runs.booking import bookings
from motifsearch.runs.workroom import open_workroom
from motifsearch.search.group import read_group
from motifsearch.thread.stash import read_stash

pytestmark = [pytest.mark.browser, pytest.mark.slow]


@pytest.fixture
def folder(tmp_path) -> Path:
    made = tmp_path / "class"
    made.mkdir()
    shutil.copy(ROOT / "configs" / "stash-workshop.toml", made / "stash.toml")
    return made


@pytest.fixture
def tab(tmp_path) -> Iterator[Tab]:
    made = Tab(tmp_path / "profile")
    yield made
    made.quit()


def test_a_class_from_its_names_to_one_booking(folder, tab):
    shop = Shop(folder)
    room = open_workroom(folder)
    closed = "!document.querySelector('dialog')"
    try:
        tab.open(shop.address)
        tab.open(f"{shop.at}/wishes")
        tab.click("a[href='/class']")
        tab.click("#next")
        tab.wait("/at least one name/.test(document.querySelector('.foot').textContent)")
        tab.there("#names").send_keys("Mira\nJo\nBo")
        assert tab.axe() == []
        tab.click("#next")
        tab.there("[data-person='Bo']")
        assert tab.js("return location.pathname") == "/class/class.toml"
        # One person, by keyboard alone.
        tab.enter("[data-person='Jo']")
        tab.wait("document.activeElement.closest('dialog')")
        tab.enter("#person-likes [data-ink='plum']")
        tab.enter("#person-not [data-ink='plum']")
        pressed = "document.querySelector('#person-likes [data-ink=plum]').ariaPressed"
        assert tab.js(f"return {pressed}") == "false"  # not both
        assert tab.axe() == []
        tab.enter("dialog button[type=submit]")
        tab.wait(closed)
        assert tab.js("return document.activeElement.dataset.person") == "Jo"
        assert read_group(folder / "class.toml").people[1].not_colours == ("plum",)
        # Another hand changes the list meanwhile: this window is told, and nothing is lost.
        tab.click("[data-person='Bo']")
        tab.there("dialog")
        people.save_group(room, "class.toml", {"strands": 6, "search.generations": 4,
                                               "search.population": 60}, None)  # fmt: skip
        tab.click("dialog button[type=submit]")
        tab.wait("/changed meanwhile/.test(document.querySelector('dialog').textContent)")
        tab.click("dialog .row .quiet:last-child")
        assert read_group(folder / "class.toml").brief.strands == 6
        tab.open(f"{shop.at}/class/class.toml")
        tab.wait("!document.getElementById('start').disabled")
        tab.click("#start")
        tab.there(".classed #progress")
        tab.wait("document.querySelector('.classed').dataset.state === 'done'")
        run = tab.js("return decodeURIComponent(location.pathname.split('/')[2])")
        plan = json.loads((folder / run / "plan.json").read_text())
        names = "[...document.querySelectorAll('.class-wall .place')].map(x => x.dataset.name)"
        assert tab.js(f"return {names}") == [b["name"] for b in plan["bands"]] == [
            "Mira", "Jo", "Bo"]  # fmt: skip
        assert "plum" not in {c["colour"] for c in plan["bands"][1]["cuts"]}
        cuts = tab.js("return document.querySelectorAll('.cutlist ul li').length")
        assert cuts == sum(len(b["cuts"]) for b in plan["bands"])
        assert tab.axe() == []
        link = tab.there("#worksheet").get_attribute("href")
        head = tab.driver.execute_async_script(
            "const done = arguments[1]; fetch(arguments[0]).then(r => r.arrayBuffer())"
            ".then(b => done(String.fromCharCode(...new Uint8Array(b).slice(0, 2))))", link
        )  # fmt: skip
        assert head == "PK"  # a ZIP of all worksheets
        before = sum(t.total_mm for t in read_stash(room.stash).threads)
        tab.click("#book")
        tab.there("#is-booked")
        assert [b.bands for b in bookings(room.stash)] == [3]
        tab.click("#unbook")
        tab.there("#book")
        assert sum(t.total_mm for t in read_stash(room.stash).threads) == pytest.approx(before)
        # The address is a place to come back to.
        tab.open(f"{shop.at}/bands/{run}")
        tab.wait("document.querySelectorAll('.class-wall a.open').length === 3")
        tab.click(".class-wall a.open")
        tab.there("#mirror")
        assert tab.errors() == []
    finally:
        assert shop.end() == 0
