"""A name in a band, the whole way in a real browser: typed, refused, mended, chosen, printed."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import quote

import pytest
from workshop.shop import ROOT, Shop, Tab

from motifsearch.runs.shelf import read_shelf
from motifsearch.runs.workroom import open_workroom

#: Two bands of twelve strands are soon drawn.
FEW = quote(json.dumps({"gallery.size": 2, "strands": 12}))

pytestmark = [pytest.mark.browser, pytest.mark.slow]


@pytest.fixture
def folder(tmp_path) -> Path:
    made = tmp_path / "names"
    made.mkdir()
    shutil.copy(ROOT / "configs" / "stash-workshop.toml", made / "stash.toml")
    return made


@pytest.fixture
def tab(tmp_path) -> Iterator[Tab]:
    made = Tab(tmp_path / "profile")
    yield made
    made.quit()


def test_a_name_from_the_box_to_the_sheet(folder, tab):
    shop = Shop(folder)
    ready = "!document.getElementById('start').disabled"
    try:
        tab.open(shop.address)
        tab.open(f"{shop.at}/wishes")
        tab.click("a[href='/name']")
        tab.there("#text")
        tab.open(f"{shop.at}/name?v={FEW}")
        assert tab.there("#start").get_attribute("disabled")
        tab.there("#text").send_keys("Maximiliane Augusta")
        tab.wait("/too long/.test(document.querySelector('.reasons').textContent)")
        assert tab.js("return document.getElementById('start').disabled")
        tab.js("document.getElementById('text').select()")
        tab.there("#text").send_keys("Jo")
        tab.wait(ready)
        tab.wait("document.querySelector('.seen canvas').getAttribute('aria-label')"
                 ".startsWith('JO in')")  # fmt: skip
        # By keyboard: other ink; what is seen says so.
        tab.enter("#one-ink [data-to='plum']")
        tab.wait("/plum/.test(document.querySelector('.seen').textContent)")
        tab.wait(ready)
        # The address holds it all, and a step back is a step back.
        address = tab.js("return location.href")
        tab.click("#undo")
        tab.wait("location.href !== arguments[0]", address)
        tab.open(address)
        tab.wait("/plum/.test(document.querySelector('.seen').textContent)")
        assert tab.there("#text").get_attribute("value") == "Jo"
        tab.click("#start")
        tab.wait("document.querySelectorAll('.wall.flat .lying').length >= 2")
        tab.wait("document.querySelector('.bands').dataset.state === 'done'")
        run = tab.js("return decodeURIComponent(location.pathname.split('/')[2])")
        facts = json.loads((folder / run / "letters.json").read_text())
        assert facts["text"] == "JO"
        assert facts["wrong_cells"] == 0
        assert facts["designs"][0]["ink"] == "plum"
        assert tab.axe() == []
        tab.click(".place .marks .wanted")
        tab.wait("document.querySelector('.place.is-wanted')")
        assert len(read_shelf(open_workroom(folder)).bands) == 1
        tab.click(".place a.open")
        tab.there(".on-the-table .lying")
        assert not tab.js("return document.querySelector('#mirror')")
        assert tab.axe() == []
        tab.click("a.strong.button")
        # A mirrored sheet would turn the letters over: it is not offered.
        tab.there("#sheet-hand")
        hands = "[...document.querySelectorAll('#sheet-hand option')].map(o => o.value)"
        assert tab.js(f"return {hands}") == ["right"]
        assert tab.errors() == []
    finally:
        assert shop.end() == 0
