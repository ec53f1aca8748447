"""The whole way in a real browser: from an empty folder to a sheet and a booked stash.

By mouse, by keyboard alone, at the width of a phone, with two windows, and with a server that is
killed.  Accessibility is judged by axe-core (WCAG 2.1).
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import quote

import pytest
from workshop.shop import ROOT, Shop, Tab

from motifsearch.runs.booking import bookings
from motifsearch.runs.box import add_thread
from motifsearch.runs.rebuilding import open_run
from motifsearch.runs.shelf import read_shelf
from motifsearch.runs.workroom import open_workroom
from motifsearch.thread.stash import read_stash

pytestmark = [pytest.mark.browser, pytest.mark.slow]

#: A search that is over soon.
SHORT = quote(json.dumps({"search.generations": 10, "gallery.size": 4, "search.population": 60}))
LONG = quote(json.dumps({"search.generations": 4000, "gallery.size": 4, "search.rest_after": 0,
                         "search.population": 40}))  # fmt: skip
VIEWS = ("/threads", "/wishes", "/wishes?start=equal-use", "/name",
         "/name?v=" + quote('{"text": "Mia & Jo"}'), "/class", "/bands", "/bands/demo",
         "/bands/demo?whole=1", "/band?of=demo%2Fcandidates%2F001",
         "/band?of=demo%2Fcandidates%2F001&mode=paint&paint=3.1.0",
         "/band?of=demo%2Fcandidates%2F001&mode=rows&rows=1%2C2", "/shelf",
         "/make?q=" + quote('[{"of":"demo/candidates/001"}]'))  # fmt: skip


@pytest.fixture
def folder(tmp_path) -> Path:
    made = tmp_path / "threads and bands"
    made.mkdir()
    return made


@pytest.fixture
def furnished(folder) -> Path:
    shutil.copy(ROOT / "configs" / "stash-workshop.toml", folder / "stash.toml")
    shutil.copytree(ROOT / "results" / "demo", folder / "demo")
    return folder


@pytest.fixture
def tab(tmp_path) -> Iterator[Tab]:
    made = Tab(tmp_path / "profile")
    yield made
    made.quit()


@pytest.fixture
def phone(tmp_path) -> Iterator[Tab]:
    made = Tab(tmp_path / "phone", 360, 740)
    yield made
    made.quit()


def test_the_whole_way_by_mouse(folder, tab):
    shop = Shop(folder)
    try:
        tab.open(shop.address)
        assert tab.js("return location.search") == ""
        # Threads: a box of examples, and one of her own.
        tab.click(".threads .quiet")
        tab.there("[data-thread='sand']")
        tab.click("#new-thread")
        name = tab.there("dialog input")
        name.send_keys("rose")
        tab.click("dialog button[type=submit]")
        tab.there("[data-thread='rose']")
        assert read_stash(folder / "stash.toml").thread("rose").pieces_mm == (8000.0,)
        # Wishes, and the first bands.
        tab.open(f"{shop.at}/wishes?start=only-my-threads&v={SHORT}")
        tab.wait("document.querySelector('.reasons').dataset.checked")
        tab.click("#start")
        tab.wait("document.querySelectorAll('.place .open').length >= 1")
        tab.wait("document.querySelector('.bands').dataset.state === 'done'")
        run = tab.js("return decodeURIComponent(location.pathname.split('/')[2])")
        assert len(open_run(folder / run)) == tab.js(
            "return document.querySelectorAll('.open').length"
        )
        # A wanted band hangs on the shelf; a look at it, other threads, mirrored, and steps back.
        tab.click(".place .marks .wanted")
        tab.wait("document.querySelector('.place.is-wanted')")
        assert len(read_shelf(open_workroom(folder)).bands) == 1
        tab.click(".place .open")
        tab.there("#mirror")
        before = tab.js("return location.href")
        tab.click("#mirror")
        tab.wait("location.search.includes('mirror=1')")
        tab.click("#undo")
        tab.wait("location.href === arguments[0]", before)
        tab.click("#redo")
        tab.wait("location.search.includes('mirror=1')")
        # Paint.
        tab.click("[data-mode=paint]")
        tab.click(".panel [data-ink]:nth-child(2)")
        cloth = tab.there("#cloth")
        from selenium.webdriver import ActionChains

        ActionChains(tab.driver).move_to_element_with_offset(cloth, 0, -60).click().perform()
        tab.wait("location.search.includes('paint=')")
        tab.wait("document.querySelector('.near').dataset.done")
        if tab.js("return document.querySelectorAll('[data-near]').length"):
            tab.click("[data-near='0']")
            tab.wait("location.search.includes('d=')")
        # Make it.
        tab.click("a.strong.button")
        link = tab.there("#worksheet").get_attribute("href")
        head = tab.driver.execute_async_script(
            "const done = arguments[1]; fetch(arguments[0]).then(r => r.arrayBuffer())"
            ".then(b => done(String.fromCharCode(...new Uint8Array(b).slice(0, 5))))", link
        )  # fmt: skip
        assert head == "%PDF-"
        tab.click("#book")
        tab.wait("/Booked/.test(document.getElementById('said').textContent)")
        tab.open(f"{shop.at}/threads")
        tab.there(".booked li")
        stash = open_workroom(folder).stash
        assert [b.undone for b in bookings(stash)] == [""]
        tab.click(".booked button")
        tab.there(".booked .undone")
        assert bookings(stash)[0].undone
        assert tab.errors() == []
    finally:
        assert shop.end() == 0


def test_the_whole_way_by_keyboard_alone(folder, tab):
    from selenium.webdriver.common.keys import Keys

    shop = Shop(folder)
    try:
        tab.open(shop.address)
        tab.enter("#new-thread")
        tab.wait("document.activeElement.closest('dialog')")
        tab.keys("sand")
        tab.enter("dialog button[type=submit]")
        tab.there("[data-thread='sand']")
        tab.wait("!document.querySelector('dialog')")
        assert tab.js("return document.activeElement.dataset.thread") == "sand"
        room = open_workroom(folder)
        for name, colour in (("teal", "#1c6b70"), ("brick", "#a5432d")):
            add_thread(room, {"name": name, "colour": colour, "thickness": 250, "unit": "tex",
                              "pieces_m": [8, 8]}, None)  # fmt: skip
        tab.open(f"{shop.at}/wishes?start=only-my-threads&v={SHORT}")
        tab.wait("!document.getElementById('start').disabled")
        tab.tab_to("#k-strands")
        tab.keys(Keys.ARROW_LEFT, Keys.ARROW_LEFT)
        tab.wait("location.search.includes('strands')")
        tab.wait("!document.getElementById('start').disabled")
        tab.enter("#start")
        tab.wait("document.querySelectorAll('.place .open').length >= 2")
        tab.wait("document.querySelector('.bands').dataset.state === 'done'")
        tab.tab_to(".place .open")
        tab.keys(Keys.ARROW_RIGHT)
        assert tab.js("return document.activeElement.closest('.place').dataset.place") == "1"
        tab.tab_to(".place .wanted")
        tab.keys(Keys.SPACE)
        tab.wait("document.activeElement.getAttribute('aria-pressed') === 'true'")
        tab.back()
        tab.keys(Keys.ENTER)
        tab.there("#mirror")
        tab.enter("[data-mode=paint]")
        tab.tab_to("#cloth")
        tab.keys(Keys.ARROW_DOWN, Keys.ARROW_RIGHT, "2", Keys.SPACE)
        tab.wait("location.search.includes('paint=1.1.1')")
        tab.wait("document.querySelector('.near').dataset.done")
        tab.enter("a.strong.button")
        tab.enter("#book")
        tab.wait("/Booked/.test(document.getElementById('said').textContent)")
        assert len(bookings(room.stash)) == 1
        assert tab.errors() == []
    finally:
        shop.end()


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_axe_finds_nothing_serious_on_any_view(furnished, tab, theme):
    shop = Shop(furnished)
    try:
        scheme = [{"name": "prefers-color-scheme", "value": theme},
                  {"name": "prefers-reduced-motion", "value": "reduce"}]  # fmt: skip
        tab.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": scheme})
        tab.open(shop.address)
        found = {}
        for view in VIEWS:
            tab.open(shop.at + view)
            if "paint=" in view:
                tab.wait("document.querySelector('.near').dataset.done")
            if "text" in view:
                tab.wait("document.querySelector('.seen canvas')")
            if tab.axe():
                found[view] = tab.axe()
        tab.open(f"{shop.at}/threads?thread=sand")
        tab.there("dialog")
        if tab.axe():
            found["dialog"] = tab.axe()
        assert found == {}
        assert tab.errors() == []
    finally:
        shop.end()


def test_wishes_have_steps_back_and_an_address(furnished, tab):
    shop = Shop(furnished)
    try:
        tab.open(shop.address)
        tab.open(f"{shop.at}/wishes?start=equal-use")
        tab.wait("!document.getElementById('start').disabled")
        tab.click(".asking .chips button:first-child")
        tab.wait("location.search.includes('colours')")
        address = tab.js("return location.href")
        tab.click("#undo")
        tab.wait("!location.search.includes('colours')")
        pressed = "document.querySelector('.asking .chips button').getAttribute('aria-pressed')"
        tab.wait(f"{pressed} === 'true'")
        tab.click("#redo")
        tab.wait("location.search.includes('colours')")
        tab.open(address)
        tab.wait(f"{pressed} === 'false'")
        # What is impossible is said at once, and one touch makes it possible.
        wish = quote(json.dumps({"limits.contrast_min": 150}))
        tab.open(f"{shop.at}/wishes?start=equal-use&v={wish}")
        tab.wait("document.querySelector('.reasons .warn')")
        assert tab.js("return document.getElementById('start').disabled")
        tab.click(".reasons button")
        tab.wait("!document.getElementById('start').disabled")
        # Several widths are one search; the way back is one width again.
        tab.open(f"{shop.at}/wishes?start=equal-use")
        tab.wait("!document.getElementById('start').disabled")
        tab.click("#widths-turn")
        tab.click("[data-width='14']")
        tab.wait("decodeURIComponent(location.search).includes('\"strands\":[8,10,14]')")
        tab.wait("!document.getElementById('start').disabled")
        tab.click("#widths-turn")
        tab.wait("document.getElementById('k-strands').value === '8'")
        tab.wait("!location.search.includes('strands')")
        assert tab.errors() == []
    finally:
        shop.end()


def test_nothing_is_wider_than_a_phone(furnished, phone):
    shop = Shop(furnished)
    try:
        phone.open(shop.address)
        for view in VIEWS:
            phone.open(shop.at + view)
            assert phone.js("return document.documentElement.scrollWidth") <= 360, view
            small = phone.js(
                "return [...document.querySelectorAll('button, select, .button')].filter(x => {"
                " const b = x.getBoundingClientRect(); return b.height && b.height < 39; })"
                ".map(x => x.outerHTML.slice(0, 120))"
            )
            assert small == [], view
        phone.open(f"{shop.at}/bands/demo")
        phone.click(".place .marks .wanted")
        phone.wait("document.querySelector('.place.is-wanted')")
        assert len(read_shelf(open_workroom(furnished)).bands) == 1
    finally:
        shop.end()


def test_two_windows_and_another_hand(furnished, tab):
    shop = Shop(furnished)
    try:
        tab.open(shop.address)
        tab.open(f"{shop.at}/threads?thread=sand")
        tab.there("dialog")
        first = tab.driver.current_window_handle
        tab.driver.switch_to.new_window("tab")
        tab.open(f"{shop.at}/threads?thread=moss")
        tab.click("dialog .quiet")  # moss is taken out here
        tab.wait("!document.querySelector('[data-thread=moss]')")
        stash = furnished / "stash.toml"
        stash.write_text(stash.read_text() + "# by hand\n")
        tab.driver.switch_to.window(first)
        tab.click("dialog button[type=submit]")
        name = tab.there("dialog input")
        name.send_keys("y")
        tab.click("dialog button[type=submit]")
        tab.wait("!document.querySelector('dialog .warn').hidden")
        names = read_stash(stash).names
        assert "sand" in names
        assert "sandy" not in names
        assert "moss" not in names
        assert stash.read_text().endswith("# by hand\n")
    finally:
        shop.end()


def test_a_killed_server_goes_on_from_the_checkpoint(furnished, tab):
    shop = Shop(furnished)
    tab.open(shop.address)
    tab.open(f"{shop.at}/wishes?start=browse-many&v={LONG}")
    tab.wait("!document.getElementById('start').disabled")
    tab.click("#start")
    tab.wait("/[0-9]/.test((document.getElementById('progress') || {}).textContent)")
    run = tab.js("return location.pathname.split('/')[2]")
    shop.kill()
    again = Shop(furnished)
    try:
        tab.open(again.address)
        tab.open(f"{again.at}/bands/{run}")
        tab.wait("document.querySelector('.bands').dataset.state === 'searching'")
        tab.wait("document.querySelectorAll('.place .open').length >= 1")
        # Closing the page does not end it; opening it again shows where it is.
        tab.driver.get("about:blank")
        tab.open(f"{again.at}/bands/{run}")
        assert tab.js("return document.querySelector('.bands').dataset.state") == "searching"
        tab.click("#stop")
        tab.wait("document.querySelector('.bands').dataset.state === 'done'")
        assert len(open_run(furnished / run)) >= 1
    finally:
        again.end()


def test_a_band_that_is_picked_stays_where_it_hangs(furnished, tab):
    shop = Shop(furnished)
    try:
        tab.open(shop.address)
        tab.open(f"{shop.at}/wishes?start=browse-many&v={LONG}")
        tab.wait("!document.getElementById('start').disabled")
        tab.click("#start")
        tab.wait("document.querySelectorAll('.place .open').length >= 3")
        keys = "[...document.querySelectorAll('.place')].map(x => x.dataset.key).join()"
        before = tab.js(f"return {keys}")
        tab.click(".place[data-place='2'] .wanted")
        tab.wait(
            "document.querySelector(\".place[data-place='2']\").classList.contains('is-wanted')"
        )
        key = tab.js("return document.querySelector(\".place[data-place='2']\").dataset.key")
        # The mark is answered by other bands in the other places.
        tab.wait(f"{keys} !== arguments[0]", before)
        assert (
            tab.js("return document.querySelector(\".place[data-place='2']\").dataset.key") == key
        )
        tab.click("#stop")
        tab.wait("document.querySelector('.bands').dataset.state === 'done'")
    finally:
        shop.end()
