"""Charts of our own data: what they show, the same bytes each time, and scaling against SciPy."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image
from scipy.spatial.distance import pdist, squareform

from motifsearch.draw.charts import (
    likeness_map,
    progress_chart,
    scaled,
    trade_off_chart,
    undominated,
)

PROGRESS = [
    {
        "generation": 10 * n,
        "best": 0.5 + 0.04 * n,
        "cells": 100.0 * n,
        "hypervolume": 0.6 + 0.01 * n,
    }
    for n in range(1, 8)
]
INKS = [["#102030", "#f0e0c0"], ["#a04030", "#1f7a78", "#d8c49a"], ["#6b7a34"]]


@pytest.mark.parametrize("form", ["png", "svg"])
def test_the_same_data_give_the_same_bytes(form):
    for draw in (
        lambda: progress_chart(PROGRESS, form),
        lambda: trade_off_chart([0.1, 0.9, 0.5], [0.8, 0.2, 0.6], INKS, "a", "b", [1, 2, 3], form),
        lambda: likeness_map(squareform([0.1, 0.5, 0.7]), INKS, [1, 2, 3], form),
    ):
        data = draw()
        assert data == draw()
        if form == "svg":
            assert data.startswith(b"<?xml")
            assert b"dc:date" not in data
        else:
            with Image.open(io.BytesIO(data)) as read:
                assert read.size[0] > 500
                assert "Software" not in read.info


def test_every_thread_of_a_design_is_seen_in_its_mark():
    with Image.open(io.BytesIO(likeness_map(squareform([0.1, 0.5, 0.7]), INKS, [1, 2, 3]))) as read:
        seen = {tuple(c) for c in np.asarray(read.convert("RGB")).reshape(-1, 3).tolist()}
    for ink in {ink for own in INKS for ink in own}:
        assert tuple(int(ink[k : k + 2], 16) for k in (1, 3, 5)) in seen


def test_nothing_to_draw_is_drawn_as_nothing():
    assert progress_chart([]).startswith(b"\x89PNG")
    assert trade_off_chart([], [], [], "a", "b", []).startswith(b"\x89PNG")
    assert likeness_map(np.zeros((0, 0)), [], []).startswith(b"\x89PNG")
    assert likeness_map(np.zeros((1, 1)), INKS[:1], [1]).startswith(b"\x89PNG")
    with pytest.raises(ValueError, match="png or svg"):
        progress_chart([], "gif")


@pytest.mark.parametrize("n", [2, 3, 8, 30])
def test_scaling_gives_a_plane_its_distances_back(n):
    """Distances by SciPy (`scipy.spatial.distance.pdist`)."""
    points = np.random.default_rng(n).normal(size=(n, 2))
    distances = squareform(pdist(points))
    assert np.allclose(squareform(pdist(scaled(distances))), distances, atol=1e-6)


def test_the_undominated_are_those_of_the_definition():
    points = np.random.default_rng(1).integers(0, 5, (2, 40)).astype(float)
    found = undominated(points)
    for n in range(40):
        beaten = any(
            (points[:, m] >= points[:, n]).all() and (points[:, m] > points[:, n]).any()
            for m in range(40)
        )
        assert (n in found) != beaten
