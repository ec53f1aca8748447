"""Designs whose look is known by construction, and gallery entries of them; for several tests."""

from __future__ import annotations

import re
from collections.abc import Mapping
from importlib import resources
from typing import Any

import numpy as np

from motifsearch.pattern.design import Pattern, make_pattern
from motifsearch.pattern.knots import MIRRORED, slots_in_row
from motifsearch.runs.candidate import Candidate, assemble, with_unknown
from motifsearch.runs.settings import Settings
from motifsearch.thread.cutting import CutList
from motifsearch.thread.plan import CuttingPlan
from motifsearch.thread.stash import Stash, StashThread

LENGTH_MM = 150.0
INKS = {
    "night": "#22304f",
    "sand": "#dcc79c",
    "brick": "#a8472f",
    "sage": "#7f9a78",
    "cream": "#f3e8d0",
    "teal": "#1f7a78",
    "plum": "#6d3557",
}
HOSTILE = [
    '</script><script>window.broken = 1</script><img src=x onerror="window.broken=1">',
    "\"quotes\" & 'more' <b>bold</b> <!-- {{ 7 * 7 }} {% raw %}",
    "\u202eעברית right to left \u202b عربي",
    "🧶🪡 yarn 👩🏽‍🎨 \u2028\u2029 \x00 \ud800",
    "w" * 500,
]


def stash(**more: object) -> Stash:
    pieces = {
        "night": (8000.0, 8000.0),
        "sand": (8000.0, 900.0),
        "brick": (2400.0,),
        "sage": (900.0,),
    }
    return Stash(
        threads=tuple(
            StashThread(name, ink, 0.6, None, pieces.get(name, (8000.0, 3000.0)))
            for name, ink in INKS.items()
        ),
        **more,  # type: ignore[arg-type]
    )


def arrowhead(title: str = "Arrowheads") -> Pattern:
    """Left half forward, right half backward; the middle closes with a backward knot."""
    order = ["night", "sand", "brick", "cream", "cream", "brick", "sand", "night"]
    return make_pattern(title, ["rr rr ll ll", "rr ll ll"], order, INKS)


def diagonal(title: str = "Diagonal") -> Pattern:
    order = ["teal", "teal", "cream", "cream", "plum", "plum"]
    return make_pattern(title, ["rr rr rr", "rr rr"], order, INKS)


def lozenge(title: str = "Lozenges") -> Pattern:
    """Arrowheads down, then up: diamonds."""
    rows = ["rr rr ll ll", "rr lr ll", "rr rr ll ll", "rr rl ll", "ll ll rr rr", "ll rl rr"]
    rows += ["ll ll rr rr", "ll lr rr"]
    order = ["sand", "night", "teal", "teal", "teal", "teal", "night", "sand"]
    return make_pattern(title, rows, order, INKS)


def mirrored(rng: np.random.Generator, title: str) -> Pattern:
    """A random grid that is its own mirror image, with a mirrored colour order."""
    strands = int(rng.choice([6, 8, 10, 12]))
    rows = int(rng.choice([4, 6, 8, 12]))
    grid = np.zeros((rows, strands // 2), np.uint8)
    for r in range(rows):
        slots = slots_in_row(strands, r)
        half = rng.choice(4, (slots + 1) // 2, p=[0.42, 0.42, 0.08, 0.08]).astype(np.uint8)
        grid[r, : len(half)] = half
        grid[r, slots - slots // 2 : slots] = MIRRORED[half[: slots // 2]][::-1]
    names = rng.choice(list(INKS), int(rng.integers(2, 5)), replace=False)
    half_order = [str(n) for n in names[rng.integers(0, len(names), strands // 2)]]
    return make_pattern(title, grid, half_order + half_order[::-1], INKS)


def entry(pattern: Pattern, rank: int, on_hand: Stash | None, **more: object) -> Candidate:
    values = {"wishes": {"many colours": 0.75}, "folder": f"candidates/{rank:03d}", **more}
    known = None if on_hand is None else with_unknown(on_hand, pattern)
    settings = Settings(stash=known, length_mm=LENGTH_MM)
    return assemble(pattern, settings, rank=rank, **values)  # type: ignore[arg-type]


def entries(number: int, on_hand: Stash | None = None, seed: int = 7) -> list[Candidate]:
    rng = np.random.default_rng(seed)
    patterns = [arrowhead(), lozenge(), diagonal()]
    patterns += [mirrored(rng, f"Mirror {n}") for n in range(4, number + 1)]
    return [entry(p, n, on_hand) for n, p in enumerate(patterns[:number], start=1)]


def bare(
    rank: int,
    pattern: Pattern,
    scores: Mapping[str, Any],
    cuts: CutList,
    plan: CuttingPlan | None,
    **more: object,
) -> Candidate:
    """A candidate put together by hand, as no run would: for pages and sheets of odd values."""
    settings = Settings(length_mm=cuts.length_mm)
    return Candidate(
        rank=rank, pattern=pattern, settings=settings, scores=scores,  # type: ignore[arg-type]
        cuts=cuts, plan=plan,
        **more,  # type: ignore[arg-type]
    )  # fmt: skip


def palette_of_names(dark: bool) -> dict[str, str]:
    style = resources.files("motifsearch.page").joinpath("templates", "page.css").read_text()
    blocks = re.findall(r":root \{(.*?)\}", style, re.S)
    return dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6})", blocks[1 if dark else 0]))
