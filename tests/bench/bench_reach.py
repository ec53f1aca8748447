"""How long targets take, and how near the block search comes to the proven optimum.

Not collected by pytest; run ``bench_reach.py [NAME ...]``.  Prints, per target, the
fewest wrong cells, the bound, seconds to the first design, to the best one, and to the end; then
the same for colours strewn by chance, and what the block search alone finds.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np

from motifsearch.target.blocks import LocalSearch
from motifsearch.target.motif import Target
from motifsearch.target.reading import read_target
from motifsearch.target.solver import Reach, solve

TARGETS = Path(__file__).parents[2] / "configs" / "targets"
#: Strands, rows, colours of the strewn targets; the first is the size that must take 60 s at most.
STREWN = ((12, 24, 3), (12, 24, 4), (12, 24, 5), (16, 24, 3), (24, 24, 2), (24, 24, 4))
HEAD = "target            S   P  K  cells  cost  bound  proven  first s  best s  all s"


def strewn(strands: int, rows: int, colours: int, seed: int) -> Target:
    """Return a target of equally likely colours."""
    cells = np.random.default_rng(seed).integers(0, colours, (rows, strands // 2)).astype(np.int8)
    if strands % 2 == 0:
        cells[1::2, -1] = -1
    names = tuple(f"c{n}" for n in range(colours))
    hexes = tuple(f"#{n * 40:02x}8080" for n in range(colours))
    return Target(f"strewn {strands} {rows} {colours}", strands, names, hexes, cells)


def run(target: Target, name: str) -> Reach:
    """Solve one target and print its line."""
    start = time.perf_counter()
    told: list[float] = []
    reach = solve(
        target,
        folded=target.strands % 2 == 0,
        rng=np.random.default_rng(1),
        on_better=lambda _: told.append(time.perf_counter() - start),
    )
    took = time.perf_counter() - start
    print(
        f"{name:16}{target.strands:3}{reach.target.rows:4}{len(target.names):3}{target.wanted:7}"
        f"{reach.cost:6}{reach.lower_bound:7}{'yes' if reach.exact else 'no':>8}"
        f"{told[0]:9.2f}{told[-1]:8.2f}{took:7.2f}",
        flush=True,
    )
    return reach


def block_search(target: Target, cost: int) -> None:
    """Print what the block search alone finds in two seconds, over the best known cost."""
    strands, colours = target.strands, len(target.names)
    ends = []
    for seed in range(5):
        rng = np.random.default_rng(seed)
        most = np.full(colours, strands)
        local = LocalSearch(target.cells, strands, colours, True, most, rng, lambda _: None)
        start = time.perf_counter()
        while time.perf_counter() < start + 2 and local.cost > cost:
            local.step()
        ends.append(local.cost - cost)
    print(f"    block search, 2 s, five seeds: above the best known by {ends}", flush=True)


def main(names: list[str]) -> None:
    """Run the named targets, or all and the strewn ones."""
    print(HEAD)
    for path in sorted(TARGETS.glob("*.txt")):
        if not names or path.stem in names:
            run(read_target(path), path.stem)
    if names:
        return
    for strands, rows, colours in STREWN:
        target = strewn(strands, rows, colours, 0)
        reach = run(target, target.title)
        block_search(target, reach.cost)


if __name__ == "__main__":
    main(sys.argv[1:])
