"""Where the time goes from a brief to its gallery, stage by stage.

``bench_brief.py [BRIEF...]`` (the three ways in of ``configs/`` when left out) searches each brief
in this one process, and prints the processor time of every stage and its share: search, finish
(polishing, choosing, easing, proving), draw and print (the files of the candidates), contact sheet,
charts, page.  Then the whole is run with as many processes as there are cores, for the time on the
clock.  To hold a commit against the one before, run it in both checkouts in turn, or time the
command itself in pairs: ``motifsearch search BRIEF --out FOLDER --overwrite``.
"""

from __future__ import annotations

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")

import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from motifsearch.page import gallery as page
from motifsearch.runs import ending, gallery, searching
from motifsearch.search import loop

CONFIGS = Path(__file__).parents[2] / "configs"
BRIEFS = ("only-my-threads", "equal-use", "browse-many")
STAGES: tuple[tuple[str, Any, str], ...] = (
    ("search", loop, "evolve"),
    ("finish", ending, "finish"),
    ("cut lists", ending, "assemble"),
    ("draw and print", gallery, "candidate_files"),
    ("contact sheet", gallery, "_contact_png"),
    ("charts", gallery, "charts_of"),
    ("page", page, "gallery_html"),
)


def timed(spent: dict[str, float], name: str, call: Callable[..., Any]) -> Callable[..., Any]:
    def inner(*args: Any, **more: Any) -> Any:
        started = time.process_time()
        try:
            return call(*args, **more)
        finally:
            spent[name] = spent.get(name, 0.0) + time.process_time() - started

    return inner


def stages(brief: Path) -> None:
    """Print the processor time of every stage, in one process."""
    spent: dict[str, float] = {}
    kept = [(room, what, getattr(room, what)) for _, room, what in STAGES]
    for name, room, what in STAGES:
        setattr(room, what, timed(spent, name, getattr(room, what)))
    try:
        with tempfile.TemporaryDirectory() as place:
            started = time.process_time()
            searching.search(brief, out=Path(place) / "run", workers=1)
            whole = time.process_time() - started
    finally:
        for room, what, call in kept:
            setattr(room, what, call)
    spent["the rest"] = whole - sum(spent.values())
    print(f"{brief.stem}: {whole:.1f} s of one processor")
    for name, seconds in spent.items():
        print(f"  {name:15} {seconds:6.2f} s {seconds / whole:6.1%}")


def clock(brief: Path) -> None:
    """Print the time on the clock with all cores."""
    with tempfile.TemporaryDirectory() as place:
        started = time.perf_counter()
        searching.search(brief, out=Path(place) / "run", workers=None)
        print(f"  on all cores: {time.perf_counter() - started:.1f} s on the clock", flush=True)


if __name__ == "__main__":
    for name in sys.argv[1:] or BRIEFS:
        path = Path(name) if name.endswith(".toml") else CONFIGS / f"{name}.toml"
        stages(path)
        clock(path)
