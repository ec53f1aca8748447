"""Colour-vision deficiency views.

Checked from outside: worked colours of the model of Machado, Oliveira and Fernandes (IEEE TVCG
15(6), 2009) computed with the authors' severity-1 matrices in linear sRGB, clipped (agreed by
colorspacious 1.1.2 for red and deutan); ColorAide's own filter of the same model; and its
CIEDE2000.
"""

from __future__ import annotations

import numpy as np
import pytest
from coloraide import Color
from hypothesis import given, settings
from hypothesis import strategies as st

from motifsearch.base.colour import colour_difference, hex_to_rgb
from motifsearch.draw.cloth import render_band
from motifsearch.draw.vision import (
    KINDS,
    MATRICES,
    Kind,
    merging_pairs,
    simulate,
    touching_pairs,
)
from motifsearch.pattern.design import make_pattern

#: R, G, B, kind, and R, G, B as seen (0..255).
WORKED: list[tuple[tuple[int, int, int], Kind, tuple[float, float, float]]] = [
    ((255, 0, 0), "protan", (108.79, 95.03, 0)),
    ((255, 0, 0), "deutan", (163.22, 144.28, 0)),
    ((255, 0, 0), "tritan", (255, 0, 14.89)),
    ((0, 255, 0), "protan", (255, 229.35, 0)),
    ((0, 255, 0), "deutan", (238.69, 214.01, 58.44)),
    ((0, 255, 0), "tritan", (0, 247.08, 216.65)),
    ((0, 0, 255), "protan", (0, 88.71, 255)),
    ((0, 0, 255), "deutan", (0, 61.5, 251.48)),
    ((0, 0, 255), "tritan", (0, 107.2, 149.76)),
    ((128, 128, 128), "protan", (128, 128, 128)),
    ((128, 128, 128), "deutan", (128, 128, 128)),
    ((128, 128, 128), "tritan", (128, 128, 128)),
]


@pytest.mark.parametrize(("rgb", "kind", "seen"), WORKED)
def test_worked_colours(
    rgb: tuple[int, int, int], kind: Kind, seen: tuple[float, float, float]
) -> None:
    as_image = simulate(np.array([[rgb]], np.uint8), kind)
    assert as_image.shape == (1, 1, 3)
    assert np.abs(as_image[0, 0].astype(float) - seen).max() <= 0.51
    as_text = simulate("#{:02x}{:02x}{:02x}".format(*rgb), kind)
    assert hex_to_rgb(as_text) == tuple(as_image[0, 0].tolist())


@settings(max_examples=80, deadline=None)
@given(rgb=st.tuples(*[st.integers(0, 255)] * 3), kind=st.sampled_from(KINDS))
def test_against_coloraide(rgb: tuple[int, int, int], kind: Kind) -> None:
    text = "#{:02x}{:02x}{:02x}".format(*rgb)
    theirs = Color(text).filter(kind, method="machado").convert("srgb").coords()
    want = np.clip(np.array(theirs) * 255, 0, 255)
    assert np.abs(np.array(hex_to_rgb(simulate(text, kind))) - want).max() <= 0.51


@pytest.mark.parametrize("kind", KINDS)
def test_white_stays_white(kind: Kind) -> None:
    # Every row of the published matrices sums to 1, so greys are seen as they are.
    np.testing.assert_allclose(MATRICES[kind].sum(axis=1), 1.0, atol=2e-6)
    greys = np.repeat(np.arange(256, dtype=np.uint8)[:, None], 3, axis=1)
    assert np.array_equal(simulate(greys, kind), greys)


def test_pictures_keep_their_shape() -> None:
    ink = {"a": "#c03020", "b": "#2f7d3a"}
    image = render_band(make_pattern("", ["rr rr", "rr"], "aabb", ink), 6)
    seen = simulate(image, "deutan")
    assert seen.shape == image.shape
    assert seen.dtype == np.uint8
    assert not np.array_equal(seen, image)


INK = {"red": "#b5482a", "moss": "#6f6a2c", "navy": "#1d2433", "sand": "#e2cfa0", "grey": "#80807f"}


def test_red_and_green_become_one_for_the_red_and_the_green_blind() -> None:
    pattern = make_pattern("", ["rr rr", "rr"], ["red", "red", "moss", "moss"], INK)
    assert touching_pairs(pattern) == [("red", "moss")]
    full = colour_difference(INK["red"], INK["moss"])
    assert full > 20
    for kind in KINDS:
        one, two = (
            Color(INK[name]).filter(kind, method="machado").clip() for name in ("red", "moss")
        )
        want = float(one.delta_e(two, method="2000"))
        found = merging_pairs(pattern, None, kind, threshold=15.0)
        if want < 15.0:
            assert [(a, b) for a, b, _ in found] == [("red", "moss")]
            assert found[0][2] == pytest.approx(want, abs=0.6)  # bytes against exact numbers
        else:
            assert found == []
    assert merging_pairs(pattern, None, "protan", 15.0) or merging_pairs(
        pattern, None, "deutan", 15.0
    )
    assert merging_pairs(pattern, None, "tritan", 15.0) == []


def test_only_touching_pairs_count_and_the_closest_comes_first() -> None:
    order = ["red", "red", "sand", "sand", "moss", "moss"]
    stay = make_pattern("", ["rl rl rl", "rl rl"], order, INK)
    assert touching_pairs(stay) == [("red", "sand"), ("sand", "moss")]
    assert merging_pairs(stay, None, "protan", 15.0) == []
    forced = merging_pairs(stay, [("red", "sand"), ("red", "moss")], "deutan", 100.0)
    assert forced == []  # no pair is told apart by more than 100 to begin with
    pairs = [("red", "moss"), ("navy", "sand"), ("red", "navy")]
    ranked = [pair[2] for pair in merging_pairs(stay, pairs, "deutan", 20.0)]
    assert ranked == sorted(ranked)
    assert ranked


def test_a_pair_that_nobody_can_tell_apart_is_not_reported() -> None:
    ink = {"a": "#808080", "b": "#828282"}
    pattern = make_pattern("", ["rr rr", "rr"], "aabb", ink)
    assert colour_difference(ink["a"], ink["b"]) < 8
    assert merging_pairs(pattern, None, "protan", 8.0) == []


@settings(max_examples=60, deadline=None)
@given(strands=st.integers(4, 9), rows=st.sampled_from([2, 4]), seed=st.integers(0, 999))
def test_touching_pairs_by_brute_force(strands: int, rows: int, seed: int) -> None:
    rng = np.random.default_rng(seed)
    names = [list(INK)[k] for k in rng.integers(0, 5, strands)]
    pattern = make_pattern("", rng.integers(0, 4, (rows, strands // 2), np.uint8), names, INK)
    # Many more rows than any repeat of so few strands and colours needs: 2 * 20 * 4.
    order, cells = list(names), {}
    for r in range(161):
        words = pattern.row_texts()[r % rows].split()
        for i, word in zip(range(r % 2, strands - 1, 2), words, strict=True):
            cells[r, i] = order[i] if word[0] == "r" else order[i + 1]
            if word[0] == word[1]:
                order[i], order[i + 1] = order[i + 1], order[i]
    want = {
        frozenset((colour, cells[r + 1, i + d]))
        for (r, i), colour in cells.items()
        for d in (-1, 1)
        if (r + 1, i + d) in cells and cells[r + 1, i + d] != colour
    }
    assert {frozenset(pair) for pair in touching_pairs(pattern)} == want
