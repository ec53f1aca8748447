"""The cloth preview and the contact sheet.

Checked from outside: edge directions by scikit-image's structure tensor, PNG chunks against the
PNG specification (W3C, Third Edition, 2025: sections 5.2 and 5.3), pictures read back by Pillow,
colour differences by ColorAide's CIEDE2000.  Which colour a knot must show is worked out here
once more, strand by strand, without the walk that the drawing uses.
"""

from __future__ import annotations

import io
import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from motifsearch.base.colour import colour_difference
from motifsearch.base.errors import MotifError
from motifsearch.draw.cloth import PAPER, render_band, weave
from motifsearch.draw.contact import contact_sheet, drawable_text
from motifsearch.draw.png import png_bytes, save_png
from motifsearch.draw.stamps import BACK, stamps
from motifsearch.pattern.design import Pattern, make_pattern

INK = {"teal": "#1f7a78", "sand": "#e2cfa0", "rust": "#b5482a", "navy": "#1d2433"}
RNG_CASES = [(s, seed) for s in (4, 5, 8, 11, 24) for seed in (1, 2)]


def random_pattern(strands: int, seed: int, rows: int = 6) -> Pattern:
    rng = np.random.default_rng(seed)
    grid = rng.integers(0, 4, (rows, strands // 2), np.uint8)
    names = list(INK)
    return make_pattern("", grid, [names[k] for k in rng.integers(0, 4, strands)], INK)


def faces_by_hand(pattern: Pattern, rows: int) -> list[tuple[int, int, str]]:
    """Return (row, left position, colour of the tying strand), by the words of the definition."""
    order = list(pattern.colour_order)
    out = []
    for r in range(rows):
        words = pattern.row_texts()[r % pattern.rows].split()
        for i, word in zip(range(r % 2, pattern.strands - 1, 2), words, strict=True):
            out.append((r, i, order[i] if word[0] == "r" else order[i + 1]))
            if word[0] == word[1]:
                order[i], order[i + 1] = order[i + 1], order[i]
    return out


def nearest_name(rgb: np.ndarray) -> str:
    """Return the ink whose direction in RGB is nearest, after undoing the shading."""
    as_hex = "#" + "".join(f"{round(float(c)):02x}" for c in rgb)
    return min(INK, key=lambda name: colour_difference(as_hex, INK[name]))


def bright_part(box: np.ndarray) -> np.ndarray:
    """Return the mean of the brightest third of a box of pixels: the lit sides of the wraps."""
    flat = box.reshape(-1, 3).astype(float)
    return flat[flat.sum(1) >= np.quantile(flat.sum(1), 0.67)].mean(0)


@pytest.mark.parametrize(("strands", "seed"), RNG_CASES)
def test_every_knot_shows_its_tying_strand(strands: int, seed: int) -> None:
    pattern, rows, pitch = random_pattern(strands, seed), 7, 14
    image = render_band(pattern, rows, cell_px=2 * pitch)
    for r, i, name in faces_by_hand(pattern, rows):
        x, y = (i + 2) * pitch, (r + 1) * pitch  # one pitch of paper at the left
        reach = pitch // 4
        box = image[y - reach : y + reach, x - reach : x + reach]
        # One knot may peep through another's wraps at most by its core strand; the wraps win.
        assert nearest_name(bright_part(box)) == name, (r, i)


@pytest.mark.parametrize("back", [False, True])
@pytest.mark.parametrize(("strands", "seed"), RNG_CASES)
def test_cloth_has_no_holes(strands: int, seed: int, back: bool) -> None:
    cloth, _, _ = weave(random_pattern(strands, seed), 8, 7, back=back)
    assert cloth.cover.shape == (9 * 7, (strands + 2) * 7)
    assert cloth.cover[7:-7, 14:-14].min() > 0.99
    assert cloth.cover[:, :4].max() == 0.0  # and paper stays paper


def test_wraps_slant_the_way_the_tying_strand_goes() -> None:
    from skimage.feature import structure_tensor

    slant = []
    for code in range(4):
        across = structure_tensor(stamps(28).height[code], sigma=2.0, order="rc")[1]
        upper, lower = across[10:28], across[28:-10]
        slant.append((float(upper.mean()), float(lower.mean())))
    # A line from top left to bottom right has gradients of unlike sign down and across: negative.
    (rr, ll, rl, lr) = slant
    assert rr[0] < 0 > rr[1]
    assert ll[0] > 0 < ll[1]
    assert rl[0] < 0 < rl[1]
    assert lr[0] > 0 > lr[1]


def test_mirrored_knots_are_mirror_images() -> None:
    one = stamps(9)
    for a, b in ((0, 1), (2, 3), (BACK, BACK + 1), (BACK + 2, BACK + 3)):
        for stack in (one.cover, one.height, one.second):
            np.testing.assert_allclose(stack[a], stack[b][:, ::-1], atol=1e-6)
    # Under light from the other side the shading is mirrored too.
    np.testing.assert_allclose(one.light[0], stamps(9, 1).light[1][:, ::-1], atol=1e-5)


def test_back_is_turned_over_sideways_and_shows_core_strands() -> None:
    order = ["rust", "rust", "sand", "sand", "navy", "navy"]
    stay = make_pattern("", ["rl rl rl", "rl rl"], order, INK)
    pitch, rows = 14, 8
    face, back = (
        render_band(stay, rows, cell_px=2 * pitch, back=b).astype(float) for b in (False, True)
    )
    body = slice(2 * pitch, -2 * pitch)
    left = slice(pitch, 3 * pitch)
    right = slice(-3 * pitch, -pitch)
    assert nearest_name(bright_part(face[body, left])) == "rust"
    assert nearest_name(bright_part(back[body, right])) == "rust"
    assert nearest_name(bright_part(face[body, right])) != "rust"
    # All forward knots, one core colour crossing under another: the back shows more of it.
    lead = make_pattern("", ["rr rl rl", "rl rl"], ["sand", "navy", *["sand"] * 4], INK)
    seen = [
        render_band(lead, 1, cell_px=2 * pitch, back=b)[pitch // 2 : -pitch // 2].sum(2)
        for b in (False, True)
    ]
    knot = (slice(None), slice(pitch, 3 * pitch)), (slice(None), slice(-3 * pitch, -pitch))
    dark = [int((image[box] < 200).sum()) for image, box in zip(seen, knot, strict=True)]
    assert dark[1] > dark[0]


@pytest.mark.parametrize("name", list(INK))
def test_colour_of_the_cloth_is_the_colour_of_the_thread(name: str) -> None:
    plain = make_pattern("", ["rr rr rr", "rr rr"], [name] * 6, INK)
    image = render_band(plain, 12)[14:-14, 14:-14]
    lit = "#" + "".join(f"{round(float(c)):02x}" for c in bright_part(image))
    assert colour_difference(lit, INK[name]) < 6.0


@pytest.mark.parametrize("ink", ["#000000", "#ffffff"])
def test_wraps_can_be_told_apart_in_black_and_white(ink: str) -> None:
    plain = make_pattern("", ["rr rr rr", "rr rr"], ["x"] * 6, {"x": ink})
    image = render_band(plain, 12)[14:-14, 14:-14].astype(int)
    assert int(image.max()) - int(image.min()) >= 14
    assert len(np.unique(image.reshape(-1, 3), axis=0)) > 12


@settings(max_examples=40, deadline=None)
@given(
    strands=st.integers(4, 24),
    seed=st.integers(0, 99),
    rows=st.integers(1, 9),
    cell=st.integers(4, 22),
    back=st.booleans(),
    horizontal=st.booleans(),
)
def test_shape_and_repeatability(
    strands: int, seed: int, rows: int, cell: int, back: bool, horizontal: bool
) -> None:
    pattern, pitch = random_pattern(strands, seed), cell // 2
    options = {"cell_px": cell, "back": back, "horizontal": horizontal}
    image = render_band(pattern, rows, **options)  # type: ignore[arg-type]
    shape = ((rows + 1) * pitch, (strands + 2) * pitch)
    assert image.dtype == np.uint8
    assert image.shape == (*(shape[::-1] if horizontal else shape), 3)
    assert np.array_equal(image, render_band(pattern, rows, **options))  # type: ignore[arg-type]


@pytest.mark.parametrize("strands", [4, 7, 24])
def test_ends_are_added_around_the_same_cloth(strands: int) -> None:
    pattern, pitch, rows = random_pattern(strands, 3), 7, 6
    plain = render_band(pattern, rows)
    whole = render_band(pattern, rows, ends=True)
    assert whole.shape[1] == plain.shape[1]
    assert whole.shape[0] > plain.shape[0] + 20 * pitch
    middle = plain[2 * pitch : -2 * pitch, 2 * pitch : -2 * pitch]
    tall = middle.shape[0]
    at = [
        k
        for k in range(whole.shape[0] - tall)
        if np.array_equal(whole[k : k + tall, 2 * pitch : -2 * pitch], middle)
    ]
    assert len(at) == 1
    paper = np.array(PAPER)
    assert np.array_equal(whole[0, 0], paper)
    # The loop is open: paper, or its shadow, shows inside it.
    mid = whole.shape[1] // 2
    inside = whole[pitch * 2 : pitch * 5, mid].astype(int)
    assert (np.ptp(inside, axis=1) < 25).any()
    assert np.abs(inside - paper).sum(1).min() < 150
    side = render_band(pattern, rows, ends=True, horizontal=True)
    assert side.shape == (whole.shape[1], whole.shape[0], 3)


def test_lying_band_reads_from_the_left() -> None:
    first = make_pattern("", ["rl rl", "rl"] * 5, ["rust", "rust", "navy", "navy"], INK)
    image = render_band(first, 10, cell_px=20, horizontal=True)
    # Strand 1 lies at the bottom.
    assert nearest_name(bright_part(image[-25:-15, 40:-40])) == "rust"
    assert nearest_name(bright_part(image[11:17, 40:-40])) == "navy"


@pytest.mark.parametrize(("rows", "cell"), [(0, 14), (-3, 14), (4, 3)])
def test_sizes_that_cannot_be_drawn(rows: int, cell: int) -> None:
    with pytest.raises(ValueError, match="expected rows >= 1 and cell_px >= 4"):
        render_band(random_pattern(4, 1), rows, cell_px=cell)


def chunks(data: bytes) -> list[tuple[bytes, bytes]]:
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    out, at = [], 8
    while at < len(data):
        (length,) = struct.unpack(">I", data[at : at + 4])
        kind, body = data[at + 4 : at + 8], data[at + 8 : at + 8 + length]
        (crc,) = struct.unpack(">I", data[at + 8 + length : at + 12 + length])
        assert crc == zlib.crc32(kind + body)
        out.append((kind, body))
        at += 12 + length
    return out


def test_png_holds_the_picture_and_nothing_else(tmp_path: Path) -> None:
    from PIL import Image

    image = render_band(random_pattern(8, 5), 10)
    path = tmp_path / "face.png"
    save_png(image, path)
    kinds = [kind for kind, _ in chunks(path.read_bytes())]
    assert set(kinds) == {b"IHDR", b"IDAT", b"IEND"}
    with Image.open(path) as read:
        assert np.array_equal(np.asarray(read), image)
    assert png_bytes(image) == path.read_bytes()
    assert [p.name for p in tmp_path.iterdir()] == ["face.png"]


def test_a_small_png_is_close() -> None:
    from PIL import Image

    pattern = random_pattern(8, 5)
    image = render_band(pattern, 40)
    data = png_bytes(image, keep=pattern.colours.values())
    assert {kind for kind, _ in chunks(data)} == {b"IHDR", b"PLTE", b"IDAT", b"IEND"}
    assert len(data) * 3 < len(png_bytes(image))
    assert data == png_bytes(image, keep=pattern.colours.values())
    with Image.open(io.BytesIO(data)) as read:
        off = np.abs(np.asarray(read.convert("RGB")).astype(int) - image)
    assert off.mean() < 5.0


@pytest.mark.slow
@pytest.mark.parametrize("threads", [3, 12, 30, 60])
def test_every_thread_keeps_its_colour_in_a_sheet_of_many(threads: int) -> None:
    """The crown of a wrap has the thread's own colour, by ColorAide's CIEDE2000 within 1.

    Colours of every hue, from pale to nearly black, on one contact sheet as in ``gallery.png``.
    """
    from coloraide import Color
    from PIL import Image

    inks = {
        f"t{n}": Color("oklch", [0.25 + 0.7 * (n % 7) / 7, 0.02 + 0.1 * (n % 3), n * 47 % 360])
        .convert("srgb").fit().to_string(hex=True)
        for n in range(threads)
    }  # fmt: skip
    bands = []
    names = list(inks)
    for n in range(0, threads, 3):
        own = [names[(n + k) % threads] for k in range(3)]
        order = [own[k % 3] for k in (0, 0, 1, 1, 2, 2, 0, 0)]
        bands.append(make_pattern(f"{n}", ["rr rr ll ll", "rr rl ll"], order, inks))
    sheet = contact_sheet([(p.title, p) for p in bands], columns=8)
    keep = [p.colours[name] for p in bands for name in p.palette]
    with Image.open(io.BytesIO(png_bytes(sheet, keep=keep))) as read:
        shown = np.asarray(read.convert("RGB"))
    packed = shown.astype(np.uint32) @ np.array([65536, 256, 1], np.uint32)
    values, counts = np.unique(packed, return_counts=True)
    flat = {f"#{value:06x}" for value in values[counts >= 100]}
    for ink in inks.values():
        nearest = min(Color(ink).delta_e(Color(other), method="2000") for other in flat)
        assert nearest <= 1.0, ink


def test_png_that_cannot_be_written(tmp_path: Path) -> None:
    with pytest.raises(MotifError, match="cannot write"):
        save_png(np.zeros((2, 2, 3), np.uint8), tmp_path / "no" / "face.png")


def test_contact_sheet_places_all_bands_and_captions() -> None:
    patterns = [random_pattern(s, s) for s in (4, 8, 12, 6, 9)]
    entries = [(f"band {n}", p) for n, p in enumerate(patterns)]
    sheet = contact_sheet(entries, columns=3, length_rows=10, ends=False)
    assert sheet.dtype == np.uint8
    alone = contact_sheet(entries[:1], columns=3, length_rows=10, ends=False)
    assert alone.shape[1] < sheet.shape[1]
    assert alone.shape[0] < sheet.shape[0]
    assert np.array_equal(sheet, contact_sheet(entries, columns=3, length_rows=10, ends=False))
    unnamed = contact_sheet([("", p) for p in patterns], columns=3, length_rows=10, ends=False)
    assert unnamed.shape == sheet.shape
    changed = np.argwhere((sheet != unnamed).any(2))
    # Captions differ in both lines of the sheet and in all columns, and nothing else does.
    third = sheet.shape[1] / 3
    assert {int(x // third) for _, x in changed} == {0, 1, 2}
    assert len(changed) < 0.02 * sheet.shape[0] * sheet.shape[1]


@pytest.mark.parametrize(
    "caption",
    [
        "🌊🧶 waves",
        "שלום עולם",
        "مرحبا",
        "<script>alert('x')</script>",
        "w" * 500,
        "many words " * 45,
        "\x00\x07\u202e\ud800 odd",
        "名前",
        "",
    ],
)
def test_any_caption_can_be_drawn(caption: str) -> None:
    entry = random_pattern(4, 1)
    sheet = contact_sheet([(caption, entry)], length_rows=4, ends=False)
    plain = contact_sheet([("", entry)], length_rows=4, ends=False)
    assert sheet.shape == plain.shape
    changed = np.argwhere((sheet != plain).any(2))
    assert (len(changed) > 0) == bool(caption)
    if caption:  # inside the sheet's margins
        assert changed[:, 1].min() > 4
        assert changed[:, 1].max() < sheet.shape[1] - 5


def test_right_to_left_runs_are_turned_round() -> None:
    assert drawable_text("a שלום b") == "a םולש b"
    assert drawable_text("שלום עולם") == "םלוע םולש"


def test_empty_sheet_and_bad_sizes() -> None:
    assert (contact_sheet([]) == np.array(PAPER)).all()
    with pytest.raises(ValueError, match="columns=0"):
        contact_sheet([("", random_pattern(4, 1))], columns=0)
