"""The gallery page as text: what it holds, what it escapes, what its policy allows."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from html.parser import HTMLParser
from typing import Any

import pytest
from coloraide import Color
from designs import (
    HOSTILE,
    INKS,
    arrowhead,
    bare,
    entries,
    entry,
    palette_of_names,
    stash,
)

from motifsearch.page.gallery import SORTS, clean, gallery_html, json_in_html
from motifsearch.pattern.design import make_pattern
from motifsearch.runs.candidate import Candidate
from motifsearch.thread.stash import Stash, StashThread


class Seen(HTMLParser):
    """What a browser would make of the file: tags, attributes, texts of scripts and styles."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.inside: dict[str, list[str]] = {"script": [], "style": [], "title": []}
        self._open: str | None = None
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag in self.inside:
            self.inside[tag].append("")
            self._open = tag

    def handle_endtag(self, tag: str) -> None:
        if tag == self._open:
            self._open = None

    def handle_data(self, data: str) -> None:
        if self._open:
            self.inside[self._open][-1] += data

    def count(self, name: str) -> int:
        return sum(tag == name for tag, _ in self.tags)


def page_data(html: str) -> dict[str, Any]:
    data: dict[str, Any] = json.loads(Seen(html).inside["script"][0])
    return data


@pytest.fixture(scope="module")
def page() -> str:
    on_hand = stash()
    return gallery_html(entries(6, on_hand), title="Evening bands", stash=on_hand)


def test_the_same_call_gives_the_same_text(page: str) -> None:
    on_hand = stash()
    again = gallery_html(entries(6, on_hand), title="Evening bands", stash=on_hand)
    assert again == page


def test_nothing_points_outside(page: str) -> None:
    for tag, attributes in Seen(page).tags:
        for name, value in attributes.items():
            assert not name.startswith("on"), (tag, name)
            if name in ("src", "href", "action", "srcset", "data"):
                assert value == "data:," or not re.match(r"\s*([a-z]+:|//)", value or "", re.I)
    assert "url(" not in Seen(page).inside["style"][0]
    assert "@import" not in Seen(page).inside["style"][0]


def test_the_policy_allows_this_style_and_script_alone(page: str) -> None:
    seen = Seen(page)
    policy = next(
        a["content"] or ""
        for tag, a in seen.tags
        if tag == "meta" and a.get("http-equiv") == "Content-Security-Policy"
    )
    rules = dict(rule.strip().split(" ", 1) for rule in policy.split(";"))
    assert rules["default-src"] == "'none'"
    assert "unsafe" not in policy
    for kind, text in (
        ("script-src", seen.inside["script"][1]),
        ("style-src", seen.inside["style"][0]),
    ):
        digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
        assert rules[kind] == f"'sha256-{digest}'"


def test_data_holds_the_design_as_it_is(page: str) -> None:
    first, made = page_data(page)["designs"][0], entries(1, stash())[0]
    assert first["knots"].split(" ") == ["".join(map(str, row)) for row in made.pattern.knots]
    assert [first["names"][k] for k in first["order"]] == list(made.pattern.colour_order)
    assert first["hexes"] == [INKS[name] for name in first["names"]]
    assert first["scores"]["thread.evenness"] == round(made.scores["thread"]["evenness"], 4)
    assert [c["length"] for c in first["cuts"]] == [c.length_mm for c in made.cuts.cuts]
    assert [c["strands"] for c in first["cuts"]] == [list(c.strands) for c in made.cuts.cuts]
    for shown, cut in zip(first["cuts"], made.cuts.cuts, strict=True):
        assert shown["fold"] == pytest.approx(cut.fold_mm, abs=0.5)
    # Knot pitch 2.1 d at d = 0.6 mm (design, section 5): the repeat of 8 rows is 10.08 mm long.
    assert first["scores"]["repeat_mm"] == pytest.approx(8 * 2.1 * 0.6, abs=0.06)
    assert first["folder"] == "candidates/001"


def test_every_score_of_the_definition_can_be_sorted_by(page: str) -> None:
    keys = {key for key, *_ in SORTS}
    flat = set()
    for name, value in entries(1)[0].scores.plain().items():
        flat |= {f"{name}.{k}" for k in value} if isinstance(value, dict) else {name}
    untold = {"rows", "rows_knotted", "repeat_rows", "knots_per_repeat"}
    untold |= {f"thread.{k}_mm" for k in ("loop", "path", "use")}
    untold |= {"symmetry.frieze_group", "colour.share", "handling.level"}
    assert flat - untold - keys == set()
    assert page_data(page)["designs"][0]["scores"].keys() == keys


def test_designs_keep_their_name_when_ranked_anew() -> None:
    made = entries(4)
    names = {d["title"]: d["id"] for d in page_data(_plain(made))["designs"]}
    turned = {d["title"]: d["id"] for d in page_data(_plain(made[::-1]))["designs"]}
    assert names == turned
    assert len(set(names.values())) == 4


def test_equal_designs_get_different_names() -> None:
    made = [entry(arrowhead(), 1, None), entry(arrowhead(), 2, None)]
    assert len({d["id"] for d in page_data(_plain(made))["designs"]}) == 2


def _plain(made: list[Candidate]) -> str:
    return gallery_html(made, title="x")


def test_no_design_and_no_stash() -> None:
    data = page_data(_plain([]))
    assert data["designs"] == []
    assert data["stash"] is None


def test_what_was_skipped_is_named() -> None:
    html = gallery_html([], title="x", skipped=["candidates/004: <b>damaged</b>"])
    assert "1 not shown" in html
    assert "candidates/004: &lt;b&gt;damaged&lt;/b&gt;" in html


def test_a_missing_score_is_shown_as_none() -> None:
    made = entries(1)[0]
    bald = bare(1, made.pattern, {}, made.cuts, None)
    shown = page_data(_plain([bald]))["designs"][0]
    assert shown["scores"]["thread.evenness"] is None
    assert shown["repeatRows"] is None


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_is_data(text: str) -> None:
    inks = {text: "#112233", text[::-1] + "2": "#ffffff"}
    pattern = make_pattern(text, ["rr rr", "rr"], list(inks) * 2, inks)
    thread = StashThread(text, "#112233", 0.6, None, (9000.0,))
    on_hand = Stash(threads=(thread,))
    made = entry(pattern, 1, None, notes=(text,), wishes={text: 0.5})
    html = gallery_html([made], title=text, stash=on_hand, skipped=[text, "x"])
    html.encode("utf-8")
    seen, calm = Seen(html), Seen(_plain([entry(arrowhead(), 1, None)]))
    assert seen.count("script") == calm.count("script") == 2
    assert seen.count("img") == seen.count("b") == seen.count("iframe") == 0
    assert not any(name.startswith("on") for _, a in seen.tags for name in a)
    assert "window.broken" not in seen.inside["script"][1]
    data = page_data(html)
    want = clean(text)
    assert data["title"] == data["designs"][0]["title"] == want
    assert data["designs"][0]["names"][0] == data["stash"][0]["name"] == want
    assert data["designs"][0]["notes"] == [want]
    raw = html.split('id="data">')[1].split("</script>")[0]
    assert "<" not in raw
    assert "\u2028" not in raw


@pytest.mark.parametrize(
    ("folder", "address"),
    [
        ("candidates/001", "candidates/001"),
        ("javascript:alert(1)", "javascript%3Aalert%281%29"),
        ("//example.org/x", "example.org/x"),
        ("a b\\c?d#e", "a%20b/c%3Fd%23e"),
        ("./x", "x"),
    ],
)
def test_links_stay_beside_the_page(folder: str, address: str) -> None:
    html = _plain([entry(arrowhead(), 1, None, folder=folder)])
    assert page_data(html)["designs"][0]["folder"] == address
    assert f'href="{address}/pattern.toml"' in html


def test_without_script_the_designs_are_there_in_words(page: str) -> None:
    plain = page.split("<noscript>")[1].split("</noscript>")[0]
    assert plain.count("<li>") == 6
    assert "Arrowheads that point to the end of the band." in plain
    assert 'href="candidates/003/worksheet.pdf"' in plain


def test_json_is_whole_again_when_read() -> None:
    value = {"a": ["</script>", "\u2028", "<!--", "&amp;"], "b": None}
    assert json.loads(json_in_html(value)) == value


@pytest.mark.parametrize("dark", [False, True])
def test_contrast_is_enough_to_read(dark: bool) -> None:
    """WCAG 2.2, 1.4.3 (text, 4.5:1) and 1.4.11 (controls and focus, 3:1), ratios by ColorAide."""
    inks = palette_of_names(dark)

    def ratio(one: str, two: str) -> float:
        return float(Color(inks[one]).contrast(Color(inks[two]), method="wcag21"))

    for ground in ("paper", "sheet", "sunk"):
        for text in ("ink", "soft", "indigo"):
            assert ratio(text, ground) >= 4.5, (text, ground)
        assert ratio("edge", ground) >= 3.0, ground
    for ground in ("indigo", "madder"):
        assert ratio("on-strong", ground) >= 4.5, ground
    assert ratio("warn", "warn-sheet") >= 4.5


def test_contrast_check_knows_black_on_white() -> None:
    """WCAG 2.2 states 21:1 as the highest ratio."""
    assert Color("#000000").contrast(Color("#ffffff"), method="wcag21") == pytest.approx(21.0)
