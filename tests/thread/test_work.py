"""Budgets are counted work: no clock decides a plan, a pairing or a motif."""

from __future__ import annotations

import ast
import time
from pathlib import Path

import numpy as np
import pytest

import motifsearch
from motifsearch.base.work import Work
from motifsearch.pattern.design import make_pattern
from motifsearch.thread.cutting import Cut, CutList, cut_list
from motifsearch.thread.kits import kit_count, shopping_list
from motifsearch.thread.plan import can_cut, plan_cuts
from motifsearch.thread.stash import Stash, StashThread

PACKAGE = Path(motifsearch.__file__).parent
#: Rooms whose results must not hang on the speed of a machine.
ROOMS = ("base", "pattern", "thread", "simulate", "describe", "target", "search", "draw")
#: Where a clock may be read: the end of a search between two generations, and a booking's date.
ALLOWED = {"search/loop.py", "thread/ledger.py"}


def test_no_clock_is_read_where_results_are_made() -> None:
    readers = set()
    for room in ROOMS:
        for path in (PACKAGE / room).glob("*.py"):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                names = []
                if isinstance(node, ast.Import):
                    names = [alias.name for alias in node.names]
                elif isinstance(node, ast.ImportFrom):
                    names = [node.module or ""]
                elif isinstance(node, ast.Constant) and node.value == "time_limit":
                    names = ["time"]
                if {"time", "datetime", "timeit"} & set(names):
                    readers.add(path.relative_to(PACKAGE).as_posix())
    assert readers <= ALLOWED


def a_stash(rng: np.random.Generator, pieces: int) -> Stash:
    inks = {"a": "#112233", "b": "#eeeeee", "c": "#a5432d"}
    return Stash(
        tuple(
            StashThread(
                n, h, 0.6, None, tuple(float(v) * 10 for v in rng.integers(60, 800, pieces))
            )
            for n, h in inks.items()
        )
    )


@pytest.fixture
def lists() -> list[CutList]:
    rng = np.random.default_rng(3)
    inks = {"a": "#112233", "b": "#eeeeee", "c": "#a5432d"}
    order = "aaabbbbbccca"
    return [
        cut_list(make_pattern("", rng.integers(0, 4, (6, 6)).astype(np.uint8), order, inks), 140.0)
        for _ in range(6)
    ]


def test_a_clock_that_jumps_changes_no_plan(
    lists: list[CutList], monkeypatch: pytest.MonkeyPatch
) -> None:
    """What was hours on a busy machine gives the plan of a quick one."""
    stash = a_stash(np.random.default_rng(1), 14)
    work = Work(3e5)
    quiet = plan_cuts(lists, stash, work=work), can_cut(lists, stash), work.left
    now = [0.0]

    def jumps() -> float:
        now[0] += 3600.0
        return now[0]

    for name in ("monotonic", "perf_counter", "time", "process_time"):
        monkeypatch.setattr(time, name, jumps)
    work = Work(3e5)
    assert (plan_cuts(lists, stash, work=work), can_cut(lists, stash), work.left) == quiet


def test_an_order_too_large_for_a_plan_gets_bounds_that_are_true() -> None:
    """200 designs, 10,000 bands each: no plan is made, and what is said holds."""
    rng = np.random.default_rng(5)
    kit = [
        CutList(
            cuts=tuple(
                Cut("A", colour, (0, 1), (0.0, 0.0), (0.0, 0.0), (0.0, 0.0), float(mm), None)
                for colour, mm in zip("abc", rng.integers(80, 250, 3) * 10, strict=True)
            ),
            length_mm=150.0,
            rows=100,
        )
        for _ in range(200)
    ]
    stash = a_stash(rng, 30)
    bought = shopping_list(kit, stash, 10_000)
    for line in bought.lines:
        total = 10_000 * sum(
            c.length_mm for one in kit for c in one.cuts if c.colour == line.colour
        )
        held = stash.thread(line.colour).total_mm
        assert line.least * line.skein_m * 1000.0 >= total - held - line.skein_m * 1000.0
        assert line.skeins >= line.least > 0
        # One length from each skein: no skein is cut for more than it holds.
        assert line.skeins <= 10_000 * len(kit)
    count = kit_count(kit, stash)
    assert 0 <= count.kits <= count.bound
