"""Make the library that comes with the program: run it, it is not collected.

For every number of strands from 6 to 16 searches with limits and wishes of several kinds of makers
look for many kinds over ample thread.  Of what they met every such maker gets, in turn, the kinds
that promise her most and are drawn unlike all that are kept already, `KEPT` a width in all::

    python tests/bench/make_starter.py search OUT.sqlite [GENERATIONS] [WIDTHS] [KEPT] [MAKER]
    python tests/bench/make_starter.py pack PART.sqlite...
"""

from __future__ import annotations

import gzip
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

import numpy as np

from motifsearch.library.alike import Looked, likeness
from motifsearch.library.building import (
    kind_pattern,
    kinds_in,
    kinds_of,
    marked_eased,
    together,
    with_figures,
)
from motifsearch.library.columns import Kinds
from motifsearch.library.opening import libraries
from motifsearch.library.screen import screen
from motifsearch.library.starter import PACKED
from motifsearch.library.store import Library, opened
from motifsearch.search.brief import Brief, brief_of
from motifsearch.search.genome import Genomes, develop
from motifsearch.search.island import Judge, space_of
from motifsearch.search.loop import evolve, new_run
from motifsearch.search.outcome import choices, simplest
from motifsearch.search.variety import repeat_face, variants

WIDTHS: Final = tuple(range(6, 17))
KEPT: Final = 420
#: Kinds that are more alike than this are not both kept, but for the first of every maker.
ALIKE: Final = 0.85
FIRST: Final = 12
#: Kinds of every maker that are looked at.
RANKED: Final = 400
INKS: Final = {"sand": "#d8c39a", "teal": "#1c6b70", "brick": "#a5432d", "ink": "#25345e",
               "moss": "#6d8a3c", "plum": "#7a3b69"}  # fmt: skip
MAKERS: Final[tuple[dict[str, Any], ...]] = (
    {},
    {"limits.border": True},
    {"limits.knots": ["rr", "ll"]},
    {"colours_max": 2},
    {"colours_min": 3, "colours_max": 3, "wishes.calm": 3.0},
    {"colours_min": 4, "colours_max": 4},
    {"colours_min": 5, "colours_max": 6},
    {"limits.steps_max": 12, "wishes.easy": 2.0},
    {"limits.evenness_min": 0.85, "limits.flatness_min": 0.6, "wishes.evenness": 3.0},
    {"limits.symmetric": True, "wishes.coherence": 2.0},
    {"limits.repeat_rows_max": 12, "wishes.movement": 2.5},
)


def brief_for(folder: Path, strands: int, asked: dict[str, Any], generations: int) -> Brief | None:
    """Return a maker's brief over six colours of ample thread; None where no band is so wide."""
    colours = asked.get("colours_min", 2)
    if colours > strands // 2:
        return None
    path = folder / "stash.toml"
    path.write_text(
        "\n".join(
            f'[[threads]]\nname = "{n}"\ncolour = "{c}"\ntex = 250\npieces_m = {[90] * 6}\n'
            for n, c in INKS.items()
        ),
        encoding="utf-8",
    )
    most = min(asked.get("colours_max", 4), max(strands // 2, 1))
    return brief_of({
        "stash": str(path), "strands": strands, "length_mm": 150, "search.seed": strands,
        "search.generations": generations, "search.rest_after": 0, "search.population": 200,
        "limits.on_hand": False, "limits.lone_max": 0.25, "limits.repeat_rows_max": 48,
        **asked, "colours_max": most,
    })  # fmt: skip


def met(brief: Brief) -> list[Kinds]:
    """Return the kinds that a search for a brief holds at its end."""
    run, _ = evolve(brief, new_run(brief))
    batches = []
    for island in run.islands:
        if len(island.archive):
            batches += kinds_in(*develop(island.archive.genomes, island.space))
    return together(batches)


def chosen(every: Library, briefs: list[Brief], kept: int) -> Iterator[Kinds]:
    """Yield the kinds that are kept of one width, one by one."""
    pools = [pool for brief in briefs if (pool := _ranked(every, brief)[:RANKED])]
    alike = [np.zeros(len(pool)) for pool in pools]
    lines = [np.stack([kinds["outline"][:, n] for kinds, n in pool]) for pool in pools]
    at, taken, seen = [0] * len(pools), [0] * len(pools), set()
    number = 0
    while number < kept and any(a < len(pool) for a, pool in zip(at, pools, strict=True)):
        for m, pool in enumerate(pools):
            while at[m] < len(pool):
                kinds, n = pool[at[m]]
                far = alike[m][at[m]] <= ALIKE or taken[m] < FIRST
                at[m] += 1
                if far and int(kinds["key"][n]) not in seen:
                    break
            else:
                continue
            seen.add(int(kinds["key"][n]))
            taken[m] += 1
            number += 1
            pattern = kind_pattern(kinds, n)
            looked = Looked("", kinds.strands, variants(repeat_face(pattern), kinds.strands))
            for k, mine in enumerate(lines):
                np.maximum(alike[k], likeness(mine, looked), out=alike[k])
            yield kinds.take(np.array([n]))


def eased(best: list[Kinds], brief: Brief) -> list[Kinds]:
    """Return kinds with those grids of their faces that are least to work."""
    free = replace(brief, colours_min=1, colours_max=len(brief.palette))
    judge = Judge(free)
    out = []
    for kinds in best:
        space = space_of(free, kinds.period)
        plain = np.zeros(len(kinds), np.uint8)
        genomes = Genomes(plain, plain, kinds.knots(), np.ascontiguousarray(kinds["colours"]))
        out += [simplest(judge, choice).pattern for choice in choices(judge, genomes, space)]
    return marked_eased(kinds_of(out))


def _ranked(every: Library, brief: Brief) -> list[tuple[Kinds, int]]:
    """Return the kinds that promise most for a brief, best first."""
    found = screen([every], brief)
    ranked = [(-p, k, n) for k, part in enumerate(found) for n, p in enumerate(part.promise)]
    return [(found[k].kinds, n) for _, k, n in sorted(ranked)]


def searched(path: Path, generations: int, widths: tuple[int, ...], kept_each: int,
             makers: tuple[dict[str, Any], ...]) -> None:  # fmt: skip
    """Search every width for every maker, and keep the best and most varied in a library."""
    started = time.monotonic()
    with tempfile.TemporaryDirectory() as name, opened(path, make=True) as kept:
        folder = Path(name)
        for strands in widths:
            asked = [brief_for(folder, strands, maker, generations) for maker in makers]
            briefs = [brief for brief in asked if brief is not None]
            with opened(folder / f"{strands}.sqlite", make=True) as every:
                for brief in briefs:
                    every.add(met(brief))
                number = len(every)
                best = together(chosen(every, briefs, kept_each))
                kept.add(with_figures(kinds) for kinds in eased(best, briefs[0]))
            print(f"{strands}: {number:,} met, {len(kept):,} kept in all, "
                  f"{time.monotonic() - started:.0f} s", flush=True)  # fmt: skip


def pack(parts: list[str]) -> None:
    """Make the library of the program from libraries; the same ones give the same bytes."""
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "starter.sqlite"
        with libraries(parts) as own, opened(path, make=True) as kept:
            kept.add(together(one.read(s.strands, s.period) for one in own for s in one.sizes()))
            kept.link.execute("VACUUM")
            print({n: sum(s.kinds for s in kept.sizes() if s.strands == n) for n in WIDTHS})
        PACKED.write_bytes(gzip.compress(path.read_bytes(), 9, mtime=0))
        print(f"{PACKED.name}: {PACKED.stat().st_size:,} bytes")


def main() -> None:
    """Search, or pack."""
    if sys.argv[1] == "pack":
        pack(sys.argv[2:])
        return
    out, *more = sys.argv[2:]
    generations = int(more[0]) if more else 16
    widths = tuple(map(int, more[1].split(","))) if len(more) > 1 else WIDTHS
    makers = MAKERS[int(more[3]) :][:1] if len(more) > 3 else MAKERS
    searched(Path(out), generations, widths, int(more[2]) if len(more) > 2 else KEPT, makers)


if __name__ == "__main__":
    main()
