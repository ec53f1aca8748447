"""The board page in a real browser: whole bands worked by what the page says, and nothing else.

`board_driver.js` reads the step from the page, presses keys and keeps its own account of notches;
here the knots it was told are tied again by the definition of the four knots (design, section 3),
written without the planner, and compared with the face of the plain walk.
"""

from __future__ import annotations

import importlib
import importlib.util
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from browser import Browser
from designs import HOSTILE, INKS, arrowhead, bare, lozenge

from motifsearch.page.board import board_html
from motifsearch.pattern.bandplan import plan_band
from motifsearch.pattern.design import Pattern, make_pattern
from motifsearch.pattern.files import format_pattern
from motifsearch.pattern.untying import over, untie
from motifsearch.pattern.walk import face
from motifsearch.thread.cutting import cut_list
from motifsearch.thread.measurement import read_measurement
from motifsearch.worksheet.content import Worksheet, make_worksheet

pytestmark = pytest.mark.browser

DRIVER = Path(__file__).with_name("board_driver.js")
MARK = "@@data@@"
DATA = re.compile(r'(<script type="application/json" id="data">)(.*?)(</script>)', re.S)
NAMES = list(INKS)


@pytest.fixture(scope="module")
def tab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    browser = Browser(tmp_path_factory.mktemp("profile"))
    browser.size(390, 844, 2)
    browser.driver.set_script_timeout(120)
    yield browser
    browser.driver.quit()


def sheet(
    pattern: Pattern,
    rows: int = 24,
    *,
    first: int = 1,
    left_handed: bool = False,
    show: str = "metric",
) -> Worksheet:
    length = rows * 1.26
    one = bare(1, pattern, {}, cut_list(pattern, length), None)
    ws = make_worksheet(
        one, length_mm=length, first_notch=first, left_handed=left_handed, show=show
    )
    assert ws.rows == rows
    return ws


def random_design(rng: np.random.Generator, strands: int | None = None) -> Pattern:
    strands = int(rng.integers(4, 25)) if strands is None else strands
    rows = 2 * int(rng.integers(1, 7))
    grid = rng.choice(4, (rows, strands // 2), p=rng.dirichlet(np.ones(4))).astype(np.uint8)
    names = NAMES[: int(rng.integers(1, 6))]
    return make_pattern("Some band", grid, rng.choice(names, strands).tolist(), INKS)


@cache
def worksheets() -> list[Worksheet]:
    rng = np.random.default_rng(20)
    out = []
    for _ in range(200):
        design = random_design(rng)
        rows = int(rng.integers(4, 8 if design.strands > 12 else 14))
        out.append(
            sheet(design, rows, first=int(rng.integers(1, 9)), left_handed=bool(rng.integers(2)))
        )
    return out


def data_of(html: str) -> str:
    found = DATA.search(html)
    assert found
    return found[2]


def work(tab: Browser, sheets: list[Worksheet], lost: list[int]) -> list[dict[str, Any]]:
    pages = [board_html(ws) for ws in sheets]
    blank = DATA.sub(lambda m: m[1] + MARK + m[3], pages[0])
    # The pages differ in their data and their titles only.
    title = "<h1><bdi>"
    assert len({DATA.sub("", p).partition(title)[0] for p in pages}) == 1
    tab.driver.get("about:blank")
    tab.size(390, 844, 1)
    out: list[dict[str, Any]] = []
    for k in range(0, len(pages), 20):  # no call of the driver takes long
        part = [data_of(p) for p in pages[k : k + 20]]
        out += tab.driver.execute_async_script(
            DRIVER.read_text(), blank, MARK, part, lost[k : k + 20]
        )
    tab.size(390, 844, 2)
    assert len(out) == len(sheets)
    return out


def tied_face(ws: Worksheet, told: dict[str, Any]) -> list[list[str]]:
    """Tie what was read; return the letters of the face, row by row as the design has it."""
    first, strands = told["first"], ws.pattern.strands
    lying = list(told["start"])
    rows: list[dict[int, str]] = [{} for _ in range(ws.rows)]
    heights = [0] * (strands - 1)
    for step in told["steps"]:
        at = int(step["notch"]) - first
        for notch, knot in zip(step["over"].split(), step["knots"].split(), strict=True):
            other = int(notch) - first
            assert other - at == (1 if knot[0] == "r" else -1)
            gap = min(at, other)
            i = strands - 2 - gap if ws.setting.mirrored else gap
            row = i % 2 + 2 * heights[gap]
            heights[gap] += 1
            rows[row][i] = lying[at]
            if knot[0] == knot[1]:
                lying[at], lying[other] = lying[other], lying[at]
                at = other
        assert at + first == int(step["end"])
    return [[row[i] for i in sorted(row)] for row in rows]


@pytest.mark.slow
def test_two_hundred_designs_worked_by_what_the_page_says(tab):
    sheets = worksheets()
    for ws, told in zip(sheets, work(tab, sheets, [0] * len(sheets)), strict=True):
        letters = [ws.letters[name] for name in ws.pattern.palette]
        assert tied_face(ws, told) == [
            [letters[c] for c in row] for row in face(ws.pattern, ws.rows)
        ]
        assert told["ended"]
        assert told["agreed"]  # the letters in the notches, before every step
        n = len(list(ws.plan.passes()))
        assert [int(step["step"]) for step in told["steps"]] == list(range(1, n + 1))
        assert {step["steps"] for step in told["steps"]} == {str(n)}
        for step in told["steps"]:
            check_words(step)


SAID = {"rr": "forward", "ll": "backward", "rl": "forward-backward", "lr": "backward-forward"}


def check_words(step: dict[str, str]) -> None:
    """What is spoken, and what stands on the page, says notch, knots in turn, notches and end."""
    over = step["over"].split()
    for text in (step["spoken"], step["text"]):
        numbers = re.findall(r"\d+", text)
        assert numbers[0] == step["notch"]
        assert numbers[-1] == step["end"] or step["end"] in text.rpartition("ests in")[2]
        told = re.findall(r"(?:forward|backward)(?:-(?:forward|backward))?", text.lower())
        runs = [
            k
            for n, k in enumerate(step["knots"].split())
            if n == 0 or k != step["knots"].split()[n - 1]
        ]
        assert told == [SAID[k] for k in runs]
    if len(over) < 6:
        assert all(notch in re.findall(r"\d+", step["spoken"]) for notch in over)


@pytest.mark.slow
def test_the_place_is_found_again_in_two_looks_at_most(tab):
    rng = np.random.default_rng(5)
    designs = [random_design(rng, int(rng.integers(4, 13))) for _ in range(12)]
    one_colour = make_pattern("Some band", ["rr rr rr", "rl lr"], ["sand"] * 6, INKS)
    sheets = [
        sheet(d, 16, left_handed=n % 2 == 1)
        for n, d in enumerate([*designs, arrowhead("Some band"), lozenge("Some band"), one_colour])
    ]
    lost = [3] * len(designs) + [1, 2, 3]
    kinds = set()
    for told in work(tab, sheets, lost):
        assert told["found"]
        for one in told["found"]:
            assert one["looks"] <= 2
            assert one.get("told") == one["step"], one
            assert one["now"]["step"] == str(one["step"])
            kinds.add(one["looks"])
    assert kinds == {1, 2}


def open_sheet(tab: Browser, tmp_path: Path, ws: Worksheet, name: str = "board.html") -> Path:
    page = tmp_path / name
    page.write_text(board_html(ws), encoding="utf-8")
    tab.open(page.as_uri())
    return page


def on(tab: Browser, steps: int) -> None:
    tab.js("for (let k = 0; k < arguments[0]; k++) document.getElementById('on').click()", steps)


def data(tab: Browser) -> dict[str, str]:
    return dict(tab.js("return {...document.getElementById('step').dataset}"))


def test_a_whole_band_by_the_keyboard_and_nothing_is_asked_of_the_net(tab, tmp_path):
    ws = sheet(arrowhead(), 12, first=3)
    tab.requests()
    open_sheet(tab, tmp_path, ws)
    n = int(data(tab)["steps"])
    right, left = "\ue014", "\ue012"
    tab.keys(right, right, left)
    assert data(tab)["step"] == "2"
    keys = [" ", "\ue00f", right, "\ue015"]  # space, page down, right, down
    tab.keys(*(keys[k % 4] for k in range(n - 2)))
    assert data(tab)["step"] == str(n)
    assert data(tab)["finished"] == ""
    tab.keys(right)
    assert data(tab)["finished"] == "1"
    assert data(tab)["step"] == str(n)
    tab.keys(left)
    assert data(tab)["finished"] == ""
    assert tab.complaints() == []
    assert [a for a in tab.requests() if a.startswith(("http", "ws"))] == []


def test_the_place_is_kept_for_every_design_and_band(tab, tmp_path):
    ws, other = sheet(lozenge(), 20), sheet(arrowhead(), 20)
    page = open_sheet(tab, tmp_path, ws)
    on(tab, 7)
    open_sheet(tab, tmp_path, other, "other.html")
    assert data(tab)["step"] == "1"
    tab.open(page.as_uri())
    assert data(tab)["step"] == "8"
    tab.click("#more")
    tab.click("#more-new")
    assert data(tab)["step"] == "1"
    tab.open(page.as_uri())
    assert data(tab)["step"] == "1"
    tab.click("#more")
    tab.choose("more-band", "0")
    assert data(tab)["step"] == "8"
    tab.js(
        "for (const k of Object.keys(localStorage))"
        " if (k.startsWith('motifsearch-board/')) localStorage.setItem(k, '{\"bands\":[7]}')"
    )
    tab.open(page.as_uri())
    assert data(tab)["step"] == "1"
    tab.js("localStorage.clear()")


def tied_after(ws: Worksheet, steps: int) -> list[tuple[int, int]]:
    passes = list(plan_band(ws.pattern, ws.rows).passes())[:steps]
    return [(r, i) for one in passes for r, i, _ in one.knots]


def told_untying(tab: Browser, ws: Worksheet) -> list[tuple[int, int]]:
    text = str(tab.js("return document.getElementById('wrong-out').dataset.untie"))
    out = []
    for one in text.split():
        row, notch = (int(v) for v in one.split(":"))
        gap = notch - ws.setting.first_notch
        out.append((row - 1, ws.pattern.strands - 2 - gap if ws.setting.mirrored else gap))
    return out


@pytest.mark.slow
def test_the_page_unties_what_the_planner_says_and_goes_on(tab, tmp_path):
    rng = np.random.default_rng(8)
    for n in range(6):
        ws = sheet(random_design(rng, 5 + n), 20, first=4, left_handed=n % 2 == 1)
        open_sheet(tab, tmp_path, ws, f"wrong{n}.html")
        total = int(data(tab)["steps"])
        steps = total * 2 // 3
        on(tab, steps)
        tied = tied_after(ws, steps)
        wrong = tied[len(tied) // 2]
        tab.click("#wrong")
        gap = ws.pattern.strands - 2 - wrong[1] if ws.setting.mirrored else wrong[1]
        tab.js("document.getElementById('wrong-gap').value = arguments[0]", str(gap))
        tab.choose("wrong-row", str(wrong[0] + 1))
        want = untie(tied, wrong)
        assert told_untying(tab, ws) == want
        tab.click("#wrong-kind-swap")
        tab.js("document.getElementById('swap-since').value = arguments[0]", str(steps // 2))
        tab.choose("swap-b", "2")
        tab.choose("swap-a", "1")
        seen = (1, 2)
        held = [ws.pattern.strands - 1 - s if ws.setting.mirrored else s for s in seen]
        since = tied[len(tied_after(ws, steps // 2)) :]
        assert told_untying(tab, ws) == over(since, held)
        tab.click("#wrong-kind-knot")
        tab.click("#untie-done")
        # What was untied is tied again, and only that, before the work goes on.
        again: list[tuple[int, int]] = []
        passes = list(plan_band(ws.pattern, ws.rows).passes())
        while data(tab)["step"] != str(steps + 1):
            now = data(tab)
            knots = passes[int(now["step"]) - 1].knots
            again += [(r, i) for r, i, _ in knots[len(knots) - len(now["over"].split()) :]]
            on(tab, 1)
        assert sorted(again) == sorted(want)
        on(tab, total - steps)
        assert data(tab)["finished"] == "1"
    tab.js("localStorage.clear()")


def test_a_slip_can_be_left_and_the_colours_follow(tab, tmp_path):
    ws = sheet(arrowhead(), 20)
    open_sheet(tab, tmp_path, ws)
    on(tab, 8)
    before = tab.js(
        "return [...document.querySelectorAll('#view .letter')].map(e => e.textContent)"
    )
    tab.click("#wrong")
    tab.click("#wrong-kind-swap")
    tab.choose("swap-a", "0")
    tab.choose("swap-b", "4")
    assert int(tab.js("return document.getElementById('leave-preview').dataset.off")) > 0
    tab.click("#leave")
    after = tab.js("return [...document.querySelectorAll('#view .letter')].map(e => e.textContent)")
    before[0], before[4] = before[4], before[0]
    assert after == before
    assert "1 slip left" in tab.js("return document.getElementById('facts').textContent")
    tab.js("localStorage.clear()")


def test_what_is_left_becomes_a_measurement_that_calibrate_reads(tab, tmp_path):
    ws = sheet(lozenge(), 60)
    open_sheet(tab, tmp_path, ws)
    tab.click("#more")
    tab.click("#measure")
    # Half the threads used a tenth more than reckoned.
    left = {}
    for cut in ws.cuts.cuts:
        for k, s in enumerate(cut.strands):
            part = (
                cut.length_mm
                if cut.fold_mm is None
                else (cut.fold_mm, cut.length_mm - cut.fold_mm)[k]
            )
            left[s + 1] = part - 60 - cut.need_mm[k] * (1.0 + 0.1 * (s % 2))
    tab.js("document.getElementById('measure-rows').value = 60")
    tab.js("document.getElementById('measure-length').value = '7.56'")
    for s, mm in left.items():
        tab.js(
            "document.getElementById('left-' + arguments[0]).value = arguments[1]",
            s,
            round(mm / 10, 2),
        )
    tab.click("#measure-make")
    text = str(tab.js("return document.getElementById('measurement').textContent"))
    (tmp_path / "pattern.toml").write_text(format_pattern(ws.pattern), encoding="utf-8")
    (tmp_path / "measurement.toml").write_text(text, encoding="utf-8")
    measured = read_measurement(tmp_path / "measurement.toml")
    assert measured.rows == 60
    assert measured.length_mm == pytest.approx(75.6)
    for got in measured.observations:
        (s,) = got.strands
        need = next(c.need_mm[c.strands.index(s)] for c in ws.cuts.cuts if s in c.strands)
        assert got.used_mm == pytest.approx(need * (1.0 + 0.1 * ((s) % 2)), abs=0.2)
    assert measured.minutes_per_knot is None  # nothing was timed
    tab.js("document.getElementById('left-1').value = 9999")
    tab.click("#measure-make")
    assert "more was never there" in tab.js(
        "return document.getElementById('measure-out').textContent"
    )


def test_speech_is_off_until_asked_and_then_says_the_step(tab, tmp_path):
    open_sheet(tab, tmp_path, sheet(arrowhead(), 12))
    tab.js(
        "window.said = []; speechSynthesis.cancel = () => 0;"
        "speechSynthesis.speak = one => window.said.push(one.text);"
    )
    on(tab, 2)
    assert tab.js("return window.said") == []
    tab.click("#read")
    on(tab, 1)
    assert tab.js("return window.said.length") == 2
    assert tab.js("return window.said[1]") == data(tab)["spoken"]
    tab.js("localStorage.clear()")


def test_hostile_names_break_nothing(tab, tmp_path):
    names = [h[:60] for h in HOSTILE[:4]]
    inks = dict(zip(names, INKS.values(), strict=False))
    design = make_pattern(HOSTILE[0], ["rr rl", "ll"], names, inks)
    open_sheet(tab, tmp_path, sheet(design, 12))
    on(tab, 5)
    assert tab.js("return window.broken === undefined")
    assert tab.complaints() == []
    tab.js("localStorage.clear()")


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_axe_finds_nothing(tab, tmp_path, theme):
    if importlib.util.find_spec("axe_core_python") is None:
        pytest.skip("axe-core-python is not installed")
    axe_core_python = importlib.import_module("axe_core_python")

    axe = (Path(str(axe_core_python.__path__[0])) / "axe.min.js").read_text(encoding="utf-8")
    tab.media(prefers_color_scheme=theme)
    open_sheet(tab, tmp_path, sheet(lozenge(), 40))
    on(tab, 9)
    tab.js(axe)
    for panel in (None, "find", "wrong", "more"):
        if panel:
            tab.click(f"#{panel}")
        found = tab.driver.execute_async_script(
            "const done = arguments[0]; axe.run().then(r => done(r.violations.map(v => v.id + ': '"
            " + v.nodes.map(n => n.target + ' ' + n.failureSummary).join(' | '))))"
        )
        assert found == [], panel
        if panel:
            tab.click(f"#panel-{panel} .close")
    tab.media()
    tab.js("localStorage.clear()")


def test_nothing_is_wider_than_a_phone(tab, tmp_path):
    rng = np.random.default_rng(1)
    open_sheet(tab, tmp_path, sheet(random_design(rng, 24), 20, first=70))
    for width in (320, 390, 820):
        tab.size(width, 844, 1)
        assert tab.js("return document.documentElement.scrollWidth") <= width
    tab.size(390, 844, 2)
    tab.js("localStorage.clear()")
