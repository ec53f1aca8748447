"""What steers the thread room, held to what `thread_golden.py` wrote."""

from __future__ import annotations

import json
from typing import Any

import pytest
from thread_golden import BOXES, TABLE, cutting, fitted, shapes, tightened


@pytest.fixture(scope="module")
def table() -> Any:
    return json.loads(TABLE.read_text(encoding="utf-8"))


@pytest.mark.parametrize("seed", range(BOXES))
def test_cutting_is_what_it_was(table: Any, seed: int) -> None:
    assert json.loads(json.dumps(cutting(seed))) == table["cutting"][seed]


def test_computations_begin_with_the_same_shapes(table: Any) -> None:
    found = shapes()
    assert found.keys() == table["shapes"].keys()
    for name, numbers in found.items():
        assert numbers == pytest.approx(table["shapes"][name], rel=1e-6, abs=1e-6), name


def test_knots_are_pulled_tight_in_the_same_steps(table: Any) -> None:
    found = tightened()
    assert found.keys() == table["tightened"].keys()
    for name, numbers in found.items():
        assert numbers == pytest.approx(table["tightened"][name], rel=1e-3), name


def test_the_example_is_fitted_as_it_was(table: Any) -> None:
    assert fitted() == pytest.approx(table["fitted"], rel=1e-6)
