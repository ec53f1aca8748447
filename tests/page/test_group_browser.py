"""The page of a group in a real browser: read on a phone, in the dark, ticked off; axe-core."""

from __future__ import annotations

import importlib
import importlib.util
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from browser import Browser

from motifsearch.page.group import group_html
from motifsearch.pattern.design import make_pattern
from motifsearch.runs.candidate import assemble
from motifsearch.runs.settings import Settings

pytestmark = pytest.mark.browser

INKS = {"sand": "#d8c39a", "deep teal": "#1c6b70", "brick": "#a5432d"}


@pytest.fixture(scope="module")
def tab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    browser = Browser(tmp_path_factory.mktemp("profile"))
    yield browser
    browser.driver.quit()


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    rng = np.random.default_rng(5)
    names = ["Mira", "Jo <i>", "مريم", "A name that is really rather long for a label"]
    bands = []
    for n, name in enumerate(names, 1):
        # The second is a text: rows that do not come again.
        rows = 60 if n == 2 else 4
        grid = rng.choice(4, (rows, 4)).astype(np.uint8)
        order = rng.choice(list(INKS), 8).tolist()
        pattern = make_pattern(f"{name}: a band of two colours", grid, order, INKS)
        bands.append((name, assemble(pattern, Settings(length_mm=80.0), rank=n)))
    pieces = [
        (cut.colour, INKS[cut.colour], 8000.0, 8000.0 - cut.length_mm,
         [(cut.length_mm, name, cut.label)])
        for name, one in bands
        for cut in one.cuts.cuts
    ]  # fmt: skip
    told = {"wanted": 5, "possible": 4, "bound": 4, "gap": 0.0}
    html = group_html(bands, pieces, title="Class & co", without=["Bo"], shopping=None, told=told,
                      show="metric", useful_mm=300.0)  # fmt: skip
    path = tmp_path_factory.mktemp("page") / "class.html"
    path.write_text(html, encoding="utf-8")
    return path


def test_everyone_is_there_and_every_cut_can_be_ticked(tab: Browser, page: Path) -> None:
    tab.driver.get(page.as_uri())
    names = tab.js("return [...document.querySelectorAll('main section:first-of-type h3')]"
                   ".map(e => e.textContent)")  # fmt: skip
    assert names[:2] == ["Mira", "Jo <i>"]
    assert tab.js("return [...document.images].every(i => i.naturalWidth > 20)")
    lying = tab.js("const i = document.querySelector('img.lying'); return i.width > i.height")
    assert lying
    boxes = tab.js("return document.querySelectorAll('input[type=checkbox]').length")
    assert boxes >= 4 * 3
    tab.js("document.querySelector('label').click()")
    assert tab.js("return document.querySelector('input').checked")
    assert not [e for e in tab.driver.get_log("browser") if e["level"] == "SEVERE"]


def test_nothing_is_wider_than_a_phone(tab: Browser, page: Path) -> None:
    tab.size(360, 740, 1)
    tab.driver.get(page.as_uri())
    assert tab.js("return document.documentElement.scrollWidth") <= 360
    tab.size(1280, 900, 1)


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_axe_finds_nothing(tab: Browser, page: Path, theme: str) -> None:
    spec = importlib.util.find_spec("axe_core_python")
    if spec is None or spec.origin is None:
        pytest.skip("axe-core-python is not installed")
    script = (Path(spec.origin).parent / "axe.min.js").read_text(encoding="utf-8")
    tab.driver.execute_cdp_cmd(
        "Emulation.setEmulatedMedia",
        {"features": [{"name": "prefers-color-scheme", "value": theme}]},
    )
    tab.driver.get(page.as_uri())
    tab.js(script)
    found = tab.driver.execute_async_script(
        "const done = arguments[0]; axe.run().then(r => done(r.violations.map(v => v.id + ': '"
        " + v.nodes.map(n => n.html).join(' '))))"
    )
    assert found == []
