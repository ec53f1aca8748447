"""What a large library costs: run it, it is not collected.

::

    python tests/bench/bench_build.py make [SEEDS] [GENERATIONS]
    python tests/bench/bench_build.py hold [KINDS]

``make`` builds from two briefs of ``configs/`` and prints what a search brings, how much of it is
new as searches add up, and what a figure takes.  ``hold`` prints what a library of so many kinds
(see ``bench_library.py``) weighs a kind, and what one more addition, a merge and a screen take.
Times are processor time of one core.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from bench.bench_library import INKS, million

from motifsearch.library.building import with_figures
from motifsearch.library.columns import SCREEN, Kinds, layout
from motifsearch.library.screen import screen
from motifsearch.library.store import opened
from motifsearch.runs.building import searched
from motifsearch.search.brief import brief_of, read_brief

CONFIGS = Path(__file__).parents[2] / "configs"
BRIEFS = ("only-my-threads.toml", "equal-use.toml")
T = TypeVar("T")


def timed(work: Callable[[], T]) -> tuple[T, float]:
    """Return what work gives, and the processor time that it took, in seconds."""
    started = time.process_time()
    return work(), time.process_time() - started


def make(seeds: int, generations: int) -> None:
    """Print what searches bring, one after the other, and what figures take."""
    with tempfile.TemporaryDirectory() as name, opened(Path(name) / "a.sqlite", make=True) as own:
        for brief_name in BRIEFS:
            for seed in range(seeds):
                asked = {"search.seed": seed, "search.generations": generations}
                brief = read_brief(CONFIGS / brief_name, asked)
                found, took = timed(lambda brief=brief: searched(brief))  # type: ignore[misc]
                held = sum(map(len, found.kinds))
                new, added = timed(lambda found=found: own.add(found.kinds))  # type: ignore[misc]
                print(f"{brief_name}, seed {seed}: {took:.1f} s, {found.scored:,} scored, "
                      f"{held:,} kinds, {new:,} new ({new / took:.0f} a second), "
                      f"{held / found.scored:.2%} of what was scored; adding {added:.2f} s",
                      flush=True)  # fmt: skip
        size = max(own.sizes(), key=lambda s: s.kinds)
        some = own.some(size.strands, size.period, np.arange(min(size.kinds, 300)))
        _, took = timed(lambda: with_figures(some))
        print(f"figures: {1000 * took / len(some):.1f} ms a kind "
              f"({size.strands} strands, {size.period} rows)")  # fmt: skip


def hold(kinds: int) -> None:
    """Print what a library weighs, and what is done with it takes."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        stash = folder / "stash.toml"
        stash.write_text("\n".join(
            f'[[threads]]\nname = "c{n}"\ncolour = "{c}"\ntex = 250\npieces_m = [8, 8, 3.1, 2.2]\n'
            for n, c in enumerate(INKS[:8])
        ))  # fmt: skip
        brief = brief_of({"stash": str(stash), "strands": 8, "wrist_mm": 160.0})
        path, other = folder / "a.sqlite", folder / "b.sqlite"
        _, took = timed(lambda: million(kinds, path, brief))
        with opened(path, make=True) as own, opened(other, make=True) as more:
            n = len(own)
            print(f"{n:,} kinds, {path.stat().st_size / n:.0f} bytes a kind, made in {took:.1f} s")
            size = max(own.sizes(), key=lambda s: s.kinds)
            shapes = layout(size.strands, size.period)
            each = {k: d.itemsize * int(np.prod(s)) for k, (d, s) in shapes.items()}
            numbers = sum(v for k, v in each.items() if k in SCREEN)
            print(f"of {size.period} rows: {sum(each.values())} bytes, of them {numbers} the "
                  f"screen's, 8 the key, {each['outline']} the outline")  # fmt: skip
            part = own.some(size.strands, size.period, np.arange(1000))
            rng = np.random.Generator(np.random.PCG64(3))
            for share in (0.0, 1.0):
                fresh = part.take(np.arange(len(part)))
                if share:
                    keys = rng.integers(0, 2**63, 1000, np.uint64)
                    fresh = Kinds(size.strands, size.period, {**fresh.columns, "key": keys})
                new, took = timed(lambda fresh=fresh: own.add([fresh]))  # type: ignore[misc]
                print(f"adding 1,000 kinds of which {new:,} are new, to {size.kinds:,} of their "
                      f"size: {took:.2f} s")  # fmt: skip
            _, took = timed(lambda: more.add(
                own.read(s.strands, s.period) for s in own.sizes()
            ))  # fmt: skip
            print(f"merging all into an empty one: {took:.1f} s")
            _, took = timed(lambda: more.add(
                own.read(s.strands, s.period) for s in own.sizes()
            ))  # fmt: skip
            print(f"merging what is there already: {took:.1f} s")
            for _ in range(2):
                _, took = timed(lambda: screen([own], brief))
            print(f"a screen: {took:.2f} s")


def main() -> None:
    """Run what was asked for."""
    what = sys.argv[1] if len(sys.argv) > 1 else "make"
    more = [int(float(a)) for a in sys.argv[2:]]
    if what == "hold":
        hold(more[0] if more else 1_000_000)
    else:
        make(more[0] if more else 4, more[1] if len(more) > 1 else 100)


if __name__ == "__main__":
    main()
