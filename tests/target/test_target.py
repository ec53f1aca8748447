"""Targets: reading, writing, pictures, and how far a face is from one."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from motifsearch.base.colour import rgb_array
from motifsearch.base.errors import InputError
from motifsearch.draw.wanted import (
    blank_png,
    blank_template,
    compare,
    png_bytes,
    target_view,
)
from motifsearch.pattern.design import make_pattern
from motifsearch.pattern.knots import slots_in_row
from motifsearch.pattern.walk import face
from motifsearch.target.fidelity import wrong_cells
from motifsearch.target.motif import Target
from motifsearch.target.reading import read_target
from motifsearch.target.text import format_target, parse_target

TARGETS = sorted((Path(__file__).parents[2] / "configs" / "targets").glob("*.txt"))

GOOD = """\
# a comment
format = motifsearch-target-1
title = Arrow
strands = 8
o = sand #D8C49A
x = teal

rows:
o   x   x   o
  x   .   x
"""


def test_text_is_read():
    t = parse_target(GOOD, colours={"teal": "#1f7a78", "plum": "#5e2f57"})
    assert (t.title, t.strands, t.rows, t.wanted) == ("Arrow", 8, 2, 6)
    assert t.palette == {"sand": "#d8c49a", "teal": "#1f7a78"}
    assert t.cells.tolist() == [[0, 1, 1, 0], [1, -1, 1, -1]]
    assert t.cells.dtype == np.int8


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("o   x   x   o", "o   x   z   o", "line 9, column 9: expected one of o x ., found 'z'"),
        (
            "  x   .   x",
            "  x   .   x   x",
            "line 10, column 15: expected 3 cells, row 2 of 8 strands, found '4 cells'",
        ),
        ("strands = 8", "strands = 3", 'line 4, column 11: expected "strands = N"'),
        ("strands = 8", "strnads = 8", "line 4, column 1: expected a setting (did you mean"),
        ("x = teal", "x = tael", "line 6, column 5: expected a colour of the stash, or a name"),
        ("x = teal", "o = teal", "line 6, column 1: expected every letter once, found 'o'"),
        ("x = teal", ". = teal", "line 6, column 1: expected a letter other than"),
        ("x = teal", "x = sand #000000", "line 6, column 5: expected #d8c49a as before"),
        ("title = Arrow", "title", 'line 3, column 1: expected "name = value"'),
        ("rows:", "", 'line 9, column 1: expected "name = value" or "rows:"'),
        ("target-1", "target-9", 'line 2, column 10: expected "format = motifsearch-target-1"'),
        ("title = Arrow", "repeat = 3", "line 3, column 10: expected an even number of rows, 2"),
    ],
)
def test_errors_say_line_and_column(old, new, message):
    with pytest.raises(InputError) as caught:
        parse_target(GOOD.replace(old, new), "my.txt", {"teal": "#1f7a78"})
    assert str(caught.value).startswith("my.txt: ")
    assert message in str(caught.value)
    assert caught.value.exit_code == 2


@pytest.mark.parametrize("tail", ["", ".  .  .  .\n"])
def test_a_picture_without_a_painted_cell_is_refused(tail):
    head = GOOD[: GOOD.index("o   x")]
    with pytest.raises(InputError):
        parse_target(head + tail, colours={"teal": "#1f7a78"})


@settings(max_examples=200, deadline=None)
@given(st.text("motifsearch-target-1=\n rows:ox.#89abcdef", max_size=120), st.integers(0, 160))
def test_no_text_raises_anything_else(extra, at):
    text = GOOD[:at] + extra + GOOD[at:]
    try:
        target = parse_target(text, colours={"teal": "#1f7a78"})
    except InputError:
        return
    assert target.wanted > 0


def random_target(rng: np.random.Generator, strands: int, rows: int, colours: int) -> Target:
    cells = rng.integers(-1, colours, (rows, strands // 2)).astype(np.int8)
    for r in range(rows):
        cells[r, slots_in_row(strands, r) :] = -1
    cells[0, 0] = 0
    names = ("red", "green", "blue", "white")[:colours]
    hexes = ("#c02020", "#208040", "#2040a0", "#f8f8f8")[:colours]
    return Target("t", strands, names, hexes, cells)


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(4, 11), st.integers(1, 9), st.integers(1, 4))
def test_text_round_trip(seed, strands, rows, colours):
    t = random_target(np.random.default_rng(seed), strands, rows, colours)
    back = parse_target(format_target(t))
    assert (back.names, back.colours, back.strands) == (t.names, t.colours, t.strands)
    assert np.array_equal(back.cells, t.cells)


def test_periods_are_even():
    rng = np.random.default_rng(1)
    odd = random_target(rng, 7, 3, 2).evened()
    assert odd.rows == 6
    assert np.array_equal(odd.cells[:3], odd.cells[3:])
    even = random_target(rng, 8, 3, 2).evened()
    assert even.rows == 4
    assert (even.cells[3] == -1).all()
    painted = parse_target(GOOD.replace("title = Arrow", "repeat = 6"), colours={"teal": "#1f7a78"})
    assert painted.rows == 6
    assert painted.wanted == 6


def test_colours_that_no_cell_asks_for_are_dropped():
    t = Target("", 4, ("a", "b", "c"), ("#000000", "#111111", "#222222"), np.array([[2, -1]]))
    assert t.asked == ("c",)
    assert t.with_colours(t.asked).cells.tolist() == [[0, -1]]
    assert t.with_colours(("b", "c")).palette == {"b": "#111111", "c": "#222222"}


@pytest.mark.parametrize("path", TARGETS, ids=lambda p: p.stem)
def test_own_targets_survive_a_picture(path, tmp_path):
    """A face whose places are painted full is read back cell for cell; free cells are clear."""
    t = read_target(path)
    pitch = 10
    picture = np.zeros((t.rows * pitch, t.strands * pitch, 4), np.uint8)
    y, x = (np.mgrid[0 : picture.shape[0], 0 : picture.shape[1]] + 0.5) / pitch
    for r, row in enumerate(t.cells):
        for k in range(slots_in_row(t.strands, r)):
            here = abs(x - (r % 2 + 2 * k + 1)) + abs(y - (r + 0.5)) <= 1
            if row[k] >= 0:
                ink = rgb_array([t.colours[row[k]]])[0]
                picture[here] = (*ink, 255)
    file = tmp_path / "face.png"
    file.write_bytes(png_bytes(picture))
    back = read_target(file, strands=t.strands, rows=t.rows, colours=t.palette)
    assert np.array_equal(back.cells, t.cells)
    if t.rows % 2 == 0:
        assert read_target(file, strands=t.strands, colours=t.palette).rows == t.rows


@pytest.mark.parametrize("path", TARGETS[:6], ids=lambda p: p.stem)
def test_a_blank_painted_wrap_by_wrap_is_read_back(path, tmp_path):
    """As with the bucket of a drawing program: every wrap is filled up to its outline."""
    from PIL import ImageDraw

    t = read_target(path)
    pitch = 24
    picture = Image.fromarray(blank_png(t.strands, t.rows, pitch)).copy()
    for r, row in enumerate(t.cells):
        for k in range(slots_in_row(t.strands, r)):
            if row[k] < 0:
                continue
            ink = (*(int(v) for v in rgb_array([t.colours[row[k]]])[0]), 255)
            x, y = (r % 2 + 2 * k + 1) * pitch, (r + 0.5) * pitch
            lean = -1 if 2 * (r % 2 + 2 * k + 1) > t.strands else 1
            for side in (1, -1):
                at = (round(x + 0.19 * side * lean * pitch), round(y - 0.22 * side * pitch))
                if 0 <= at[0] < picture.width and 0 <= at[1] < picture.height:
                    ImageDraw.floodfill(picture, at, ink)
    file = tmp_path / "painted.png"
    picture.save(file)
    back = read_target(file, strands=t.strands, rows=t.rows, colours=t.palette)
    assert np.array_equal(back.cells, t.cells)


def test_there_are_enough_targets():
    assert len(TARGETS) >= 12


def test_blanks_are_blank(tmp_path):
    text = blank_template(9, 5)
    with pytest.raises(InputError, match="at least one painted cell"):
        parse_target(text)
    painted = text.replace(".   .", "b   .", 1).replace("Replace points", "Replace dots")
    assert parse_target(painted).cells[0].tolist() == [1, -1, -1, -1]
    picture = blank_png(9, 6)
    assert picture.shape == (6 * 24, 9 * 24, 4)
    file = tmp_path / "blank.png"
    file.write_bytes(png_bytes(picture))
    with pytest.raises(InputError, match="at least one painted cell"):
        read_target(file, strands=9, colours={"red": "#ff0000"})
    # Paint the middle of cell (1, 1), which stands at x = 4, y = 1.5.
    picture[24:48, 84:108] = (255, 0, 0, 255)
    file.write_bytes(png_bytes(picture))
    t = read_target(file, strands=9, colours={"red": "#ff0000"})
    assert np.argwhere(t.cells >= 0).tolist() == [[1, 1]]


def test_picture_colours_match_by_ciede2000(tmp_path):
    """Against scikit-image's CIEDE2000 (D65), an implementation that is not ours."""
    from skimage.color import deltaE_ciede2000, rgb2lab

    rng = np.random.default_rng(5)
    palette = {"a": "#b03a2e", "b": "#1f618d", "c": "#7d6608", "d": "#7b7d7d", "e": "#4a235a"}
    lab = rgb2lab(rgb_array(list(palette.values()))[:, None] / 255.0)[:, 0]
    seen = rng.integers(0, 32, (30, 3)) * 8 + 4  # steps that the reader does not round
    for n, rgb in enumerate(seen):
        file = tmp_path / f"{n}.png"
        Image.new("RGB", (40, 40), tuple(int(v) for v in rgb)).save(file)
        t = read_target(file, strands=4, rows=2, colours=palette)
        far = deltaE_ciede2000(rgb2lab(rgb[None, None] / 255.0)[0, 0][None], lab)
        assert set(t.cells[0].tolist()) == {int(far.argmin())}


def test_pictures_that_are_none(tmp_path):
    file = tmp_path / "x.png"
    file.write_bytes(b"\x89PNG\r\n\x1a\nnot a picture")
    with pytest.raises(InputError, match="cannot read the picture"):
        read_target(file, strands=8, colours={"a": "#000000"})
    with pytest.raises(InputError, match="number of strands"):
        read_target(file)
    Image.new("RGB", (10, 2000)).save(file)
    with pytest.raises(InputError, match="1 to 400 rows"):
        read_target(file, strands=8, colours={"a": "#000000"})
    with pytest.raises(InputError, match="colours to match"):
        read_target(file, strands=8)
    with pytest.raises(InputError, match="no such file"):
        read_target(tmp_path / "none.txt")


def plain_share(cells_of_face: list[list[int]], cells: np.ndarray) -> float:
    """The definition, cell by cell over the common period."""
    total, period = len(cells_of_face), len(cells)
    both = np.lcm(total, period)
    best = 1.0
    for shift in range(0, total, 2):
        wrong = right = 0
        for r in range(both):
            for k, shown in enumerate(cells_of_face[(r + shift) % total]):
                want = cells[r % period, k]
                if want >= 0:
                    wrong += int(shown != want)
                    right += int(shown == want)
        best = min(best, wrong / (wrong + right))
    return best


@settings(max_examples=25, deadline=None)
@given(
    st.integers(0, 2**32 - 1),
    st.integers(4, 7),
    st.sampled_from([2, 4, 6, 12]),
    st.sampled_from([2, 4, 8]),
)
def test_share_of_wrong_cells_is_the_definition(seed, strands, total, period):
    rng = np.random.default_rng(seed)
    target = random_target(rng, strands, period, 3)
    faces = rng.integers(0, 4, (total, strands // 2, 5)).astype(np.uint8)
    got = wrong_cells(faces, target.cells)
    for n in range(5):
        rows = [[int(v) for v in faces[r, : slots_in_row(strands, r), n]] for r in range(total)]
        assert got[n] == pytest.approx(plain_share(rows, target.cells))


def test_comparison_finds_the_shift():
    ink = {"a": "#000000", "b": "#ffffff"}
    p = make_pattern("", ["rr ll", "rl", "ll rr", "rr", "rl lr", "ll"], "abab", ink)
    shown = face(p, 24)
    cells = np.full((6, 2), -1, np.int8)
    for r in range(6):
        for k, c in enumerate(shown[r + 4]):
            cells[r, k] = "ab".index(p.palette[c])
    held = compare(p, cells, ["a", "b"])
    assert held.count == 0
    cells[0, 0] = 1 - cells[0, 0]
    assert compare(p, cells, ["a", "b"]).count <= 1
    picture = target_view(p, cells, ink, pitch=10)
    assert picture.shape == (8 * 10, (4 + 4 + 4) * 10, 3)
    assert Image.open(io.BytesIO(png_bytes(picture))).size == (120, 80)


def test_wrong_cells_are_marked():
    """The wanted colour is seen inside the wrong cell and in no right one."""
    ink = {"a": "#102030", "b": "#f0e0d0", "c": "#e01010"}
    p = make_pattern("", ["rl rl", "rl"], "abab", ink)
    cells = np.array([[2, 0], [1, -1]], np.int8)
    picture = target_view(p, cells, ink, pitch=20)
    right = picture[:, 7 * 20 :]
    red = (right == (0xE0, 0x10, 0x10)).all(axis=2)
    assert red.any()
    y, x = np.nonzero(red)
    # Cell (0, 0) stands at x = 1, y = 1/2; there is one pitch of paper above.
    assert abs(x.mean() + 140 - (140 + 20)) < 21
    assert abs(y.mean() - 30) < 3


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGB", "RGBA", "I;16"])
def test_a_picture_of_any_mode_is_what_a_person_sees(mode, tmp_path):
    """Half dark, half light: written by Pillow in every mode that a PNG can have."""
    strands, rows, pitch = 8, 8, 16
    field = np.zeros((rows * pitch, strands * pitch), np.uint8)
    field[:, field.shape[1] // 2 :] = 230
    if mode == "I;16":
        picture = Image.fromarray(field.astype(np.uint16) * 257)
    else:
        picture = Image.fromarray(field).convert(mode)
    file = tmp_path / "half.png"
    picture.save(file)
    ink = {"dark": "#101010", "light": "#e8e8e8"}
    cells = read_target(file, strands=strands, rows=rows, colours=ink).cells
    assert (cells[0::2, 0] == 0).all()
    assert (cells[0::2, 3] == 1).all()
