"""The face and the scores in a terminal.

Checked from outside: the sequences follow ISO/IEC 8613-6 (direct colour, ``38;2;r;g;b`` and
``48;2;r;g;b``) and ECMA-48 (``0`` resets); the colours are read back from them and compared with
the face worked out here once more.
"""

from __future__ import annotations

import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from motifsearch.base.colour import hex_to_rgb
from motifsearch.draw.terminal import score_table, show_face
from motifsearch.pattern.design import Pattern, make_pattern

INK = {"teal": "#1f7a78", "sand": "#e2cfa0", "rust": "#b5482a", "tan": "#a08050"}


def random_pattern(strands: int, seed: int) -> Pattern:
    rng = np.random.default_rng(seed)
    grid = rng.integers(0, 4, (4, strands // 2), np.uint8)
    return make_pattern("", grid, [list(INK)[k] for k in rng.integers(0, 4, strands)], INK)


def seen_by_hand(pattern: Pattern, rows: int) -> list[list[str]]:
    """Return the colour name at every position of every row."""
    order, out = list(pattern.colour_order), []
    for r in range(rows):
        line = list(order)
        words = pattern.row_texts()[r % pattern.rows].split()
        for i, word in zip(range(r % 2, pattern.strands - 1, 2), words, strict=True):
            line[i] = line[i + 1] = order[i] if word[0] == "r" else order[i + 1]
            if word[0] == word[1]:
                order[i], order[i + 1] = order[i + 1], order[i]
        out.append(line)
    return out


def test_letters() -> None:
    pattern = make_pattern("", ["rr ll", "rl"], ["teal", "sand", "tan", "teal"], INK)
    assert show_face(pattern, 3, colour=False).splitlines() == [
        "  1  T T",
        "  2   T",
        "  3  S A",
        "",
        "T teal   S sand   A tan",
    ]


@settings(max_examples=40, deadline=None)
@given(strands=st.integers(4, 24), seed=st.integers(0, 999), rows=st.integers(1, 9))
def test_colours_read_back_are_the_face(strands: int, seed: int, rows: int) -> None:
    pattern = random_pattern(strands, seed)
    body, legend = show_face(pattern, rows, colour=True).split("\n\n")
    want = [[hex_to_rgb(INK[name]) for name in line] for line in seen_by_hand(pattern, rows)]
    lines = body.split("\n")
    assert len(lines) == (rows + 1) // 2
    for k, line in enumerate(lines):
        assert line.endswith("\x1b[0m")
        front: tuple[int, ...] | None = None
        ground: tuple[int, ...] | None = None
        upper, lower = [], []
        for codes, char in re.findall(r"\x1b\[([\d;]+)m|(▀)", line):
            if char:
                upper.append(front)
                lower.append(ground)
            elif codes != "0":
                what, how, *rgb = (int(v) for v in codes.split(";"))
                assert how == 2
                front, ground = (tuple(rgb), ground) if what == 38 else (front, tuple(rgb))
        assert upper == want[2 * k]
        assert lower == (want[2 * k + 1] if 2 * k + 1 < rows else [None] * strands)
    assert all(name in legend for name in pattern.palette)


@pytest.mark.parametrize("colour", [False, True])
def test_names_cannot_steer_the_terminal(colour: bool) -> None:
    bad = "\x1b]0;owned\x07\x9b31m\u202ered\r\n" + "x" * 500
    pattern = make_pattern(
        "", ["rr rr", "rr"], [bad, bad, "b", "b"], {bad: "#102030", "b": "#fff0e0"}
    )
    text = show_face(pattern, 2, colour=colour)
    rest = re.sub(r"\x1b\[[\d;]+m", "", text)
    assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e]", rest)
    assert max(len(line) for line in rest.split("\n")) < 80
    assert ("\x1b" in text) == colour


def test_every_colour_has_its_own_letter() -> None:
    names = [f"t{n}" for n in range(24)]
    ink = {name: f"#0000{n:02x}" for n, name in enumerate(names)}
    pattern = make_pattern("", ["rl " * 12, "rl " * 11], names, ink)
    legend = show_face(pattern, 2, colour=False).split("\n")[-1].split("   ")
    letters = [entry.split()[0] for entry in legend]
    assert len(set(letters)) == 24
    assert [entry.split()[1] for entry in legend] == names


def test_no_row() -> None:
    with pytest.raises(ValueError, match="at least one row"):
        show_face(random_pattern(4, 1), 0, colour=False)


def test_score_table() -> None:
    scores = {
        "strands": 8,
        "rows_knotted": 119,
        "symmetry": {"mirror": 1.0, "glide": None, "frieze_group": "p11m"},
        "colour": {
            "share": {"sand": 0.25, "deep sea": 0.75},
            "balance": 0.8112781,
            "contrast": 41.26,
        },
        "thread": {"loop_mm": [1071.0, 530.5], "evenness": 0.61},
        "handling": {"passes": 12, "minutes": 93.25},
    }
    assert score_table(scores).split("\n") == [
        "strands                     8",
        "rows knotted                119",
        "symmetry",
        "  mirror                    1.000",
        "  glide                     none",
        "  frieze group              p11m",
        "colour",
        "  share",
        "    sand                    0.250",
        "    deep sea                0.750",
        "  balance                   0.811",
        "  contrast                  41.3",
        "thread",
        "  loop of each strand, mm   1071  530",
        "  evenness                  0.610",
        "handling",
        "  passes                    12",
        "  minutes                   93.2 min",
    ]


def test_score_table_columns_stand_in_line_for_wide_letters() -> None:
    lines = score_table({"share": {"海": 0.5, "sea": 0.5}}).split("\n")[1:]
    wide, narrow = (line.index("0.500") for line in lines)
    assert wide + 1 == narrow  # the one letter takes two columns


def test_score_table_of_nothing() -> None:
    assert score_table({}) == ""
