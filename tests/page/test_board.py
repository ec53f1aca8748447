"""The board page as a file: its size, its bytes, its words."""

from __future__ import annotations

import re
from importlib import resources

import numpy as np
from designs import INKS, arrowhead, bare

from motifsearch.page.board import SCRIPTS, board_html, board_words
from motifsearch.pattern.design import make_pattern
from motifsearch.thread.cutting import cut_list
from motifsearch.worksheet.content import make_worksheet


def read(name):
    place = resources.files("motifsearch.page").joinpath("templates", *name.split("/"))
    return place.read_text(encoding="utf-8")


def page(pattern, rows):
    length = rows * 1.26
    one = bare(1, pattern, {}, cut_list(pattern, length), None)
    return board_html(make_worksheet(one, length_mm=length))


def test_a_band_of_24_strands_and_400_rows_stays_under_300_kb():
    rng = np.random.default_rng(2)
    noise = make_pattern(
        "Noise",
        rng.integers(0, 4, (400, 12)).astype(np.uint8),
        rng.choice(list(INKS), 24).tolist(),
        INKS,
    )
    html = page(noise, 400)
    assert '"rows":400' in html
    assert len(html.encode()) < 300_000


def test_the_same_sheet_gives_the_same_bytes_and_loads_nothing():
    html = page(arrowhead(), 40)
    assert html == page(arrowhead(), 40)
    assert re.findall(r'(?:src|href)="(?!#)[^"]*"', html) == []
    assert "default-src &#39;none&#39;" in html


def test_every_word_stands_in_the_one_file_and_is_used():
    scripts = {name: read(name) for name in SCRIPTS}
    script = "\n".join(scripts.values())
    template = read("board/board.html.j2")
    words = set(board_words())
    asked = {*re.findall(r'say\("(\w+)"', script), *re.findall(r"w\.(\w+)", template)}
    # Keys that are put together, or chosen between two.
    stems = set(re.findall(r'"(\w+_)"', script))
    known = {w for w in words if any(w.startswith(s) for s in stems)}
    known |= {f"{w}_{n}" for w in asked for n in ("one", "other")}
    literal = set(re.findall(r'"(\w+)"', script))
    assert asked <= words | {w.rsplit("_", 1)[0] for w in words} | stems
    unused = words - asked - known - literal - {"lang", "page"}
    assert unused == set()
    # No word of English stands between tags, nor is set as text by a script.
    bare_text = [
        t.strip() for t in re.findall(r">([^<>{}%]+)<", template) if re.search(r"[A-Za-z]{2}", t)
    ]
    assert bare_text == []
    assert re.findall(r'textContent = "[^"]+"', script) == []
