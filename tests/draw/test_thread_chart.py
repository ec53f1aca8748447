"""The thread chart.

Checked from outside: well-formed XML by the standard library's parser, the strands' ways against
sympy's permutations (a braid's strands end where the product of its transpositions sends them),
and that no text of a pattern file can become mark-up.
"""

from __future__ import annotations

import re
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sympy.combinatorics import Permutation

from motifsearch.base.text import clean_text
from motifsearch.draw.thread_chart import thread_chart_svg
from motifsearch.pattern.design import Pattern, make_pattern

SVG = "{http://www.w3.org/2000/svg}"
INK = {"teal": "#1f7a78", "sand": "#e2cfa0", "rust": "#b5482a", "navy": "#1d2433"}
HOSTILE = [
    "<script>alert(1)</script>",
    "\"'><svg onload=x>&amp;]]>",
    "שלום \u202eevil",
    "🌊🧶",
    "x" * 500,
    "\x00\x1b[31m\ufffe\ud800red",
]


def random_pattern(strands: int, seed: int, rows: int = 4) -> Pattern:
    rng = np.random.default_rng(seed)
    grid = rng.integers(0, 4, (rows, strands // 2), np.uint8)
    return make_pattern("t", grid, [list(INK)[k] for k in rng.integers(0, 4, strands)], INK)


def texts(root: ElementTree.Element) -> list[str]:
    return [t.text or "" for t in root.iter(f"{SVG}text")]


def strand_lines(root: ElementTree.Element) -> list[ElementTree.Element]:
    """Return the coloured whole-length path of every strand, in the order of the strands."""
    group = next(iter(root.iter(f"{SVG}g")))
    return [p for p in group.findall(f"{SVG}path") if p.get("stroke-width") == "8"]


def numbers(path: str) -> list[tuple[str, list[float]]]:
    return [
        (c, [float(v) for v in re.findall(r"-?\d+\.?\d*", rest)])
        for c, rest in re.findall(r"([MVHLCS])([^MVHLCS]*)", path)
    ]


def end_x(path: str) -> float:
    """Return the x at which a path ends."""
    x = 0.0
    for command, values in numbers(path):
        if command not in "V":
            x = values[0] if command == "H" else values[-2]
    return x


@settings(max_examples=40, deadline=None)
@given(strands=st.integers(4, 24), seed=st.integers(0, 999), rows=st.integers(1, 12))
def test_strands_end_where_the_braid_sends_them(strands: int, seed: int, rows: int) -> None:
    pattern = random_pattern(strands, seed)
    root = ElementTree.fromstring(thread_chart_svg(pattern, rows))
    lines = strand_lines(root)
    assert [p.get("stroke") for p in lines] == [pattern.hex_of(s) for s in range(strands)]
    braid = Permutation(strands - 1)
    for r in range(rows):
        words = pattern.row_texts()[r % pattern.rows].split()
        for i, word in zip(range(r % 2, strands - 1, 2), words, strict=True):
            if word in ("rr", "ll"):
                braid = braid * Permutation(i, i + 1, size=strands)
    start = [numbers(p.get("d", ""))[0][1][0] for p in lines]
    step = start[1] - start[0]
    ends = [round((end_x(p.get("d", "")) - start[0]) / step) for p in lines]
    assert ends == [braid(s) for s in range(strands)]


def test_strands_never_run_upwards() -> None:
    root = ElementTree.fromstring(thread_chart_svg(random_pattern(9, 4), 10))
    for line in strand_lines(root):
        y = [v[-1] for c, v in numbers(line.get("d", "")) if c != "H"]
        assert y == sorted(y)
        assert len(y) > 5


def test_every_knot_has_its_two_wraps_in_the_tying_colour() -> None:
    # Worked by hand: row 1 ties teal over sand and rust over navy; teal and rust move right.
    # Row 2 joins strands 2 and 3: the right one (navy) ties and returns over teal.
    pattern = make_pattern("", ["rr rr", "lr"], ["teal", "sand", "rust", "navy"], INK)
    root = ElementTree.fromstring(thread_chart_svg(pattern, 2))
    wraps = [p for p in root.iter(f"{SVG}path") if p.get("stroke-width") == "7"]
    assert [p.get("stroke") for p in wraps] == [INK["teal"], INK["rust"], INK["navy"]]
    slants = []
    for wrap in wraps:
        points = [v for _, v in numbers(wrap.get("d", ""))]
        assert len(points) == 4  # two strokes
        (ax, ay), (bx, by), (cx, cy), (dx, dy) = points
        slants.append(((bx - ax) * (by - ay) > 0, (dx - cx) * (dy - cy) > 0))
    # Down to the right twice for rr; for lr first down to the left, then down to the right.
    assert slants == [(True, True), (True, True), (False, True)]


def test_the_tying_strand_is_drawn_over_the_core() -> None:
    pattern = make_pattern("", ["ll rr", "rr"], ["teal", "sand", "rust", "navy"], INK)
    svg = thread_chart_svg(pattern, 1)
    overlays = re.findall(r'<g stroke-linecap="butt">(.*?)</g>', svg)
    assert len(overlays) == 2
    # ll: the right strand (sand) passes over, with paper on both sides of it to part the two.
    assert INK["sand"] in overlays[0]
    assert INK["teal"] not in overlays[0]
    assert overlays[0].index("#f7f3ea") < overlays[0].index(INK["sand"])
    last_base = max(m.start() for m in re.finditer(r'stroke-width="8"/>\n', svg))
    assert svg.index(overlays[0]) > last_base


def test_numbers_words_and_names() -> None:
    pattern = make_pattern("Two lanes", ["rr ll", "rl"], ["teal", "sand", "sand", "navy"], INK)
    root = ElementTree.fromstring(thread_chart_svg(pattern, 3, first_notch=7))
    shown = texts(root)
    for word in ("1", "2", "3", "7", "8", "9", "10", "rows 1–2,", "then again", "teal", "navy"):
        assert word in shown
    assert "rust" not in shown  # no strand has it
    title, about = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert title is not None
    assert about is not None
    assert title.text == "Two lanes"
    assert root.get("role") == "img"
    assert root.get("aria-labelledby") == f"{title.get('id')} {about.get('id')}"
    words = about.text or ""
    assert "4 strands and 3 rows" in words
    assert "notch 7 teal, notch 8 sand, notch 9 sand, notch 10 navy" in words
    assert "Row 1: forward, backward. Row 2: forward-backward. Row 3: forward, backward." in words


@pytest.mark.parametrize("text", HOSTILE)
def test_text_stays_text(text: str) -> None:
    pattern = make_pattern(
        text, ["rr rr", "rr"], [text, text, "b", "b"], {text: INK["teal"], "b": INK["sand"]}
    )
    svg = thread_chart_svg(pattern, 2)
    svg.encode("utf-8")
    root = ElementTree.fromstring(svg)
    kinds = {e.tag.removeprefix(SVG) for e in root.iter()}
    assert kinds == {"svg", "title", "desc", "rect", "path", "text", "g"}
    assert not any(a.lower().startswith("on") for e in root.iter() for a in e.attrib)
    assert not re.search(r"[\u202a-\u202e\u2066-\u2069\x00-\x08]", svg)
    title = root.find(f"{SVG}title")
    assert title is not None
    assert title.text == clean_text(text)
    assert max(len(t) for t in texts(root)) <= 14


def test_same_pattern_same_bytes_and_nothing_outside_itself() -> None:
    pattern = random_pattern(8, 1)
    svg = thread_chart_svg(pattern, 8)
    assert svg == thread_chart_svg(pattern, 8)
    assert svg != thread_chart_svg(pattern, 8, first_notch=2)
    links = re.findall(r"(?:https?:|href|url\()[^\s\"]*", svg)
    assert links == ["http://www.w3.org/2000/svg"]


def test_two_charts_in_one_page_have_their_own_ids() -> None:
    ids = [
        re.findall(r'id="([^"]+)"', thread_chart_svg(random_pattern(6, seed), 4)) for seed in (1, 2)
    ]
    assert len({*ids[0], *ids[1]}) == 4


def test_all_is_inside_the_picture() -> None:
    root = ElementTree.fromstring(thread_chart_svg(random_pattern(24, 3), 5))
    wide, tall = (float(v) for v in (root.get("viewBox") or "").split()[2:])
    for path in root.iter(f"{SVG}path"):
        for command, values in numbers(path.get("d", "")):
            if command not in "HV":
                assert all(0 < x < wide for x in values[::2])
                assert all(0 < y < tall for y in values[1::2])
    for text in root.iter(f"{SVG}text"):
        assert 0 < float(text.get("x", "-1")) < wide
        assert 0 < float(text.get("y", "-1")) < tall


def test_no_row_is_no_chart() -> None:
    with pytest.raises(ValueError, match="at least one row"):
        thread_chart_svg(random_pattern(4, 1), 0)
