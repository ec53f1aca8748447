"""How fast a library answers, and how good its answers are: run it, it is not collected.

::

    python tests/bench/bench_library.py speed [KINDS] [FOLDER]
    python tests/bench/bench_library.py recall [BOXES] [GENERATIONS]

``speed`` looks into a million kinds of 8 strands: those that a search meets, again and again with
other keys and scores a little off, which says nothing about designs, but costs what a million does.
``recall`` holds the gallery of ``find`` against that of a search of so many generations, on random
boxes of threads.
"""

from __future__ import annotations

import os
import resource
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import numpy as np

from motifsearch.library.building import kinds_in, together
from motifsearch.library.columns import Kinds
from motifsearch.library.opening import libraries
from motifsearch.library.proposing import propose
from motifsearch.library.screen import screen
from motifsearch.library.store import opened
from motifsearch.runs.finding import find
from motifsearch.runs.result import Run
from motifsearch.runs.searching import search
from motifsearch.search.brief import Brief, brief_of
from motifsearch.search.genome import develop
from motifsearch.search.loop import evolve, new_run
from motifsearch.search.variety import nearest_distances

INKS: Final = ("#d8c39a", "#1c6b70", "#a5432d", "#25345e", "#6d8a3c", "#7a3b69", "#e9e4d8",
               "#3b3b3b", "#c98a2b", "#8fb7c9")  # fmt: skip
#: Whether all are taken to be the least to work, as those of the program's library are.
EASED: Final = int(os.environ.get("EASED", "1"))
SCORES: Final = ("movement", "coherence", "lone", "balance", "even", "stretches")


def box(folder: Path, rng: np.random.Generator, name: str) -> Path:
    """Write a random box: 3 to 8 colours, skeins and leftovers."""
    lines = []
    for n, ink in enumerate(rng.permutation(INKS)[: rng.integers(3, 9)]):
        skeins = [8.0] * int(rng.integers(0, 3))
        rest = [round(float(v), 1) for v in rng.uniform(1.0, 4.0, int(rng.integers(2, 7)))]
        lines.append(
            f'[[threads]]\nname = "c{n}"\ncolour = "{ink}"\ntex = 250\npieces_m = {skeins + rest}\n'
        )
    path = folder / name
    path.write_text("\n".join(lines), encoding="utf-8")
    return path


def asked(stash: Path, rng: np.random.Generator, number: int) -> dict[str, Any]:
    """Return a random brief over a box, as wide as one that the program's library has."""
    with libraries() as (own,):
        widths = sorted({size.strands for size in own.sizes()})
    ask: dict[str, Any] = {
        "stash": str(stash), "strands": int(rng.choice(widths)), "search.seed": number,
        "wrist_mm": float(rng.integers(140, 185)),
    }  # fmt: skip
    some: tuple[dict[str, Any], ...] = (
        {}, {}, {"limits.evenness_min": 0.6}, {"limits.contrast_min": 15.0},
        {"limits.border": True}, {"limits.symmetric": True}, {"limits.steps_max": 14},
        {"limits.knots": ["rr", "ll"]}, {"wishes.calm": 3.0}, {"wishes.easy": 3.0},
        {"limits.repeat_rows_max": 20}, {"limits.flatness_min": 0.7}, {"colours_max": 2},
    )  # fmt: skip
    return {**ask, **some[int(rng.integers(len(some)))]}


def recall(boxes: int, generations: int) -> None:
    """Print for every random box how well find and a search meet the wishes, and how varied."""
    rng = np.random.Generator(np.random.PCG64(17))
    worse: list[tuple[float, float, float]] = []
    with tempfile.TemporaryDirectory() as name:
        for number in range(boxes):
            ask = asked(box(Path(name), rng, f"box{number}.toml"), rng, number)
            more = {k: v for k, v in ask.items() if k not in ("stash", "search.seed")}
            took, theirs, how = time.monotonic(), None, ""
            try:
                long = {**ask, "search.generations": generations}
                theirs = told(search(None, overrides=long))
            except Exception as bad:
                how = type(bad).__name__
            middle = time.monotonic()
            mine = None
            try:
                mine = told(find(None, overrides=ask))
            except Exception as bad:
                how += f" find: {type(bad).__name__}"
            end = time.monotonic()
            print(f"{more} {how}\n   search {text(theirs)} {middle - took:.1f} s\n"
                  f"   find   {text(mine)} {end - middle:.1f} s", flush=True)  # fmt: skip
            if mine and theirs:
                a, b, c, _ = (m - t for m, t in zip(mine, theirs, strict=True))
                worse.append((a, b, c))
    for k, what in enumerate(("best", "mean of the gallery", "mean distance to the nearest")):
        values = [w[k] for w in worse]
        print(f"find less search, {what}: median {np.median(values):+.3f}, "
              f"worst {min(values):+.3f}, best {max(values):+.3f}")  # fmt: skip


def told(run: Run) -> tuple[float, float, float, int]:
    """Return best and mean degree of the wishes, variety, and the number of designs."""
    met = [one.wishes_met for one in run]
    near = nearest_distances([one.pattern for one in run])
    return max(met), float(np.mean(met)), float(near.mean()), len(run)


def text(one: tuple[float, float, float, int] | None) -> str:
    """Return that in words."""
    if one is None:
        return "nothing"
    return f"best {one[0]:.3f} mean {one[1]:.3f} apart {one[2]:.2f} of {one[3]}"


def million(kinds: int, path: Path, brief: Brief) -> None:
    """Write a library of so many kinds: real ones again and again, with other keys."""
    run, _ = evolve(brief, new_run(brief), generations=30)
    batches = [k for i in run.islands for k in kinds_in(*develop(i.archive.genomes, i.space))]
    real = together(batches)
    rng = np.random.Generator(np.random.PCG64(1))
    each = sum(len(k) for k in real)

    def copies() -> Iterator[Kinds]:
        for part in real:
            number = round(kinds * len(part) / each)
            some = part.take(rng.integers(0, len(part), number))
            columns = dict(some.columns)
            columns["eased"] = np.full(number, EASED, np.uint8)
            columns["key"] = rng.integers(0, 2**63, number, np.uint64)
            for name in SCORES:
                off = rng.normal(0, 0.02, number).astype(np.float32)
                columns[name] = np.maximum(columns[name] + off, 0)
            yield Kinds(part.strands, part.period, columns)

    with opened(path, make=True) as library:
        library.add(copies())


def speed(kinds: int, folder: Path) -> None:
    """Print how long the screen, and a gallery of 24, take in a library of so many kinds."""
    stash = folder / "stash.toml"
    stash.write_text(
        "\n".join(
            f'[[threads]]\nname = "c{n}"\ncolour = "{c}"\ntex = 250\npieces_m = [8, 8, 3.1, 2.2]\n'
            for n, c in enumerate(INKS[:8])
        ),
        encoding="utf-8",
    )
    brief = brief_of({"stash": str(stash), "strands": 8, "wrist_mm": 160.0})
    path = folder / f"library-{kinds}.sqlite"
    if not path.exists():
        million(kinds, path, brief)
    with libraries(path) as own:
        print(f"{sum(map(len, own)):,} kinds, {path.stat().st_size / 1e6:.0f} MB")
    for turn in range(4):
        with libraries(path) as own:
            started = time.monotonic(), time.process_time()
            found = screen(own, brief)
            wall, cpu = time.monotonic() - started[0], time.process_time() - started[1]
            middle = time.monotonic(), time.process_time()
            propose(own, brief)
            wall2, cpu2 = time.monotonic() - middle[0], time.process_time() - middle[1]
        started = time.monotonic(), time.process_time()
        run = find(brief, library=path)
        wall3, cpu3 = time.monotonic() - started[0], time.process_time() - started[1]
        print(f"turn {turn}: screen {1000 * wall:.0f} ms (processor {1000 * cpu:.0f}), "
              f"{sum(len(p.kinds) for p in found)} kinds go on; screened, coloured and judged "
              f"{wall2:.2f} s ({cpu2:.2f}); gallery of {len(run)} proven {wall3:.2f} s "
              f"({cpu3:.2f})")  # fmt: skip
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"most memory: {peak:.0f} MB")


def main() -> None:
    """Run what was asked for."""
    what = sys.argv[1] if len(sys.argv) > 1 else "speed"
    first = float(sys.argv[2]) if len(sys.argv) > 2 else 0
    if what == "recall":
        recall(int(first) or 20, int(sys.argv[3]) if len(sys.argv) > 3 else 200)
    elif len(sys.argv) > 3:
        speed(int(first), Path(sys.argv[3]))
    else:
        with tempfile.TemporaryDirectory() as name:
            speed(int(first) or 1_000_000, Path(name))


if __name__ == "__main__":
    main()
