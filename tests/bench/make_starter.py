"""Make the library that comes with the program: run it, it is not collected.

For every number of strands from 6 to 16 a search with wishes of its own looks for many kinds over
three colours of ample thread; of what it met the kinds that meet the default wishes best are kept,
at most `KEPT` a width, at most `PER_CELL` of one cell of the archive.
"""

from __future__ import annotations

import gzip
import sys
import tempfile
from dataclasses import replace
from pathlib import Path
from typing import Final

import numpy as np

from motifsearch.library.building import kinds_of
from motifsearch.library.screen import screen
from motifsearch.library.starter import PACKED
from motifsearch.library.store import opened
from motifsearch.search.brief import Brief, brief_of
from motifsearch.search.genome import develop, pattern_of
from motifsearch.search.loop import evolve, new_run

WIDTHS: Final = (6, 7, 8, 9, 10, 12, 14, 16)
KEPT: Final = 420
#: Of every island the best so many are looked at.
PER_ISLAND: Final = 75
INKS: Final = {"sand": "#d8c39a", "teal": "#1c6b70", "brick": "#a5432d", "ink": "#25345e"}


def brief_for(folder: Path, strands: int, seed: int, generations: int) -> Brief:
    """Return a brief over four colours of ample thread."""
    path = folder / "stash.toml"
    path.write_text(
        "\n".join(
            f'[[threads]]\nname = "{n}"\ncolour = "{c}"\ntex = 250\npieces_m = {[90] * 6}\n'
            for n, c in INKS.items()
        ),
        encoding="utf-8",
    )
    return brief_of({
        "stash": str(path), "strands": strands, "length_mm": 150, "search.seed": seed,
        "search.generations": generations, "search.rest_after": 0, "search.population": 300,
        "limits.evenness_min": 0.5, "limits.lone_max": 0.25, "limits.flatness_min": 0.3,
        "limits.repeat_rows_max": 40,
    })  # fmt: skip


def main() -> None:
    """Search every width, keep the best of every cell, and pack them."""
    generations = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        with opened(folder / "starter.sqlite", make=True) as kept:
            for strands in WIDTHS:
                brief = brief_for(folder, strands, strands, generations)
                run, _ = evolve(brief, new_run(brief))
                inks = [INKS[n] for n in brief.palette]
                patterns = []
                for island in run.islands:
                    best = np.argsort(-island.archive.utility, kind="stable")[:PER_ISLAND]
                    grid, colours = develop(island.archive.genomes.take(best), island.space)
                    patterns += [
                        pattern_of(grid[..., n], colours[:, n], "", brief.palette, inks)
                        for n in range(grid.shape[-1])
                    ]
                with opened(folder / f"{strands}.sqlite", make=True) as every:
                    every.add(kinds_of(patterns))
                    loose = replace(brief, limits=replace(brief.limits, on_hand=False))
                    found = screen(every, loose)
                    edge = np.sort(np.concatenate([p.promise for p in found]))[::-1][:KEPT][-1]
                    kept.add(p.kinds.take(p.promise >= edge) for p in found)
                print(strands, len(kept), flush=True)
            kept.link.execute("VACUUM")
        packed = gzip.compress((folder / "starter.sqlite").read_bytes(), 9, mtime=0)
        PACKED.write_bytes(packed)
        print(f"{PACKED.name}: {len(packed):,} bytes")


if __name__ == "__main__":
    main()
