"""What each part of the search brings; run it, it is not collected.

``bench_ablation.py [SEEDS] [GENERATIONS] [NAME...]`` leaves out one part at a time:
every operator of `motifsearch.search.variation.MUTATIONS`, the exchange of bands between parents,
the elites as parents, the exchange between islands, constructions, and the polish.  Each variant
runs on the same seeds (8 strands, islands of 6 and 12 rows, and 9 strands with 8 rows) for the same
number of designs made; printed are the mean over the seeds of what the whole search has *more* than
the one without that part, with the standard error of that paired difference.  A part whose
differences are all within two standard errors of nothing brings nothing that this budget can show.
"""

from __future__ import annotations

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")

import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Any

import moocore
import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from enumeration import ample_brief

from motifsearch.search import island as islands
from motifsearch.search import loop
from motifsearch.search.brief import Brief
from motifsearch.search.construction import CONSTRUCTIONS
from motifsearch.search.genome import Space
from motifsearch.search.island import Judge, Judged
from motifsearch.search.polishing import polish
from motifsearch.search.variation import MUTATIONS

POPULATION = 200
POINTS = 250
MEASURES = ("best", "gallery", "cells", "quality", "volume")


@contextmanager
def replaced(owner: Any, name: str, value: Any) -> Iterator[None]:
    """Set an attribute for a while; it must exist."""
    old = getattr(owner, name)
    setattr(owner, name, value)
    try:
        yield
    finally:
        setattr(owner, name, old)


def from_population_alone(island: Any, n: int, rng: np.random.Generator) -> Any:
    """Parents by tournament from the population."""
    size = len(island.population.utility)
    return island.population.genomes.take(rng.integers(0, size, (2, n)).min(0))


def from_elites_alone(island: Any, n: int, rng: np.random.Generator) -> Any:
    """Parents from the archive, as long as it holds any."""
    elites = island.archive.genomes
    if not len(elites):
        return from_population_alone(island, n, rng)
    return elites.take(rng.integers(0, len(elites), n))


def variants() -> dict[str, Callable[[], Any]]:
    """Every variant: a name and what leaves that part out."""
    out: dict[str, Callable[[], Any]] = {}
    for name in MUTATIONS:
        without = partial(islands.mutate, without=frozenset({name}))  # type: ignore[attr-defined]
        out[name] = partial(replaced, islands, "mutate", without)
    out["exchange of bands"] = partial(
        replaced, islands, "exchange_bands", lambda one, other, space, rng: one
    )
    out["elites as parents"] = partial(replaced, islands, "parents", from_population_alone)
    out["population as parents"] = partial(replaced, islands, "parents", from_elites_alone)
    out["exchange of islands"] = partial(replaced, loop, "_exchange", lambda run: None)
    for c, name in enumerate(CONSTRUCTIONS[1:], 1):
        real = Space.constructions.fget  # type: ignore[attr-defined]

        def fewer(self: Space, c: int = c, real: Any = real) -> list[int]:
            return [k for k in real(self) if k != c]

        out[f"construction {name}"] = partial(replaced, Space, "constructions", property(fewer))
    out["all constructions"] = partial(replaced, Space, "constructions", property(lambda self: [0]))
    return out


def top(run: loop.Run, places: int = 24) -> list[tuple[Judged, Space]]:
    """The best elites over all islands, per island."""
    rows = sorted(
        ((-u, k, n) for k, i in enumerate(run.islands) for n, u in enumerate(i.archive.utility)),
    )[:places]
    out = []
    for k, island in enumerate(run.islands):
        some = np.array([n for _, owner, n in rows if owner == k], int)
        if len(some):
            genomes = island.archive.genomes.take(some)
            out.append((genomes, island.space))
    return out  # type: ignore[return-value]


def measured(brief: Brief, generations: int) -> np.ndarray:
    """Best utility, mean of the best 24, cells, sum of utilities over cells, hypervolume."""
    run, _ = loop.evolve(brief, loop.new_run(brief), generations=generations)
    best: dict[int, float] = {}
    for island in run.islands:
        for cell, utility in zip(island.archive.cells, island.archive.utility, strict=True):
            best[int(cell)] = max(best.get(int(cell), 0.0), float(utility))
    values = np.sort(np.array([*best.values(), 0.0]))[::-1]
    costs = np.concatenate(
        [i.population.costs[:, i.population.violation == 0] for i in run.islands], 1
    ).T
    front = moocore.filter_dominated(np.unique(costs, axis=0))
    front = front[np.argsort(front.sum(1), kind="stable")[:POINTS]]
    volume = float(moocore.hypervolume(front, ref=np.ones(front.shape[1])))
    return np.array([values[0], values[:24].mean(), len(best), values.sum(), volume])


def polished(brief: Brief, generations: int) -> np.ndarray:
    """The best and the mean of the best 24 with polish, less those of as many evaluations more.

    Returns:
        Best and mean of the gallery after polish, the same after more generations instead, and
        the evaluations that the polish took.
    """
    run, _ = loop.evolve(brief, loop.new_run(brief), generations=generations)
    judge, counted = Judge(brief), [0]
    whole = judge.judge

    def counting(genomes: Any, space: Space) -> Any:
        counted[0] += len(genomes)
        return whole(genomes, space)

    judge.judge = counting  # type: ignore[method-assign]
    utilities = []
    for genomes, space in top(run):
        start, _ = whole(genomes, space)  # type: ignore[arg-type]
        utilities.append(polish(judge, start, space).utility)
    after = np.sort(np.concatenate(utilities))[::-1]
    more = -(-counted[0] // (POPULATION * len(run.islands)))
    longer, _ = loop.evolve(brief, run, generations=generations + more)
    instead = np.sort(np.concatenate([i.archive.utility for i in longer.islands]))[::-1][:24]
    return np.array([after[0], after.mean(), instead[0], instead.mean(), counted[0]])


def briefs(folder: Path, seed: int) -> list[Brief]:
    """The tasks of one seed."""
    common = {
        "search__population": POPULATION,
        "search__seed": seed,
        "search__rest_after": 0,
    }
    (folder / "odd").mkdir(exist_ok=True)
    return [
        ample_brief(folder, 8, 12, **common, search__periods=[6, 12]),
        ample_brief(folder / "odd", 9, 8, **common),
    ]


def paired(name: str, differences: np.ndarray) -> None:
    """Print mean and standard error of paired differences ``[runs, measures]``."""
    mean = differences.mean(0)
    error = differences.std(0, ddof=1) / np.sqrt(len(differences))
    text = "".join(f" {m:+9.4f} ±{e:7.4f}" for m, e in zip(mean, error, strict=True))
    sure = [
        ("+" if m > 0 else "-") + what
        for what, m, e in zip(MEASURES, mean, error, strict=True)
        if abs(m) > 2 * e
    ]
    print(f"{name:24s}{text}   {' '.join(sure) or 'nothing shown'}", flush=True)


def main() -> None:
    """Print the table."""
    seeds = int(sys.argv[1]) if len(sys.argv) > 1 else 8
    generations = int(sys.argv[2]) if len(sys.argv) > 2 else 40
    chosen = sys.argv[3:]
    with tempfile.TemporaryDirectory() as folder:
        tasks = [b for seed in range(seeds) for b in briefs(Path(folder), seed)]
        whole = np.array([measured(b, generations) for b in tasks])
        print(f"{seeds} seeds, {generations} generations of {POPULATION}; the whole search has:")
        print(" " * 24 + "".join(f" {m:>9s} {'':8s}" for m in MEASURES))
        print(" " * 24 + "".join(f" {v:9.4f} {'':8s}" for v in whole.mean(0)))
        print("and more than without:")
        for name, leave_out in variants().items():
            if chosen and name not in chosen:
                continue
            with leave_out():
                less = np.array([measured(b, generations) for b in tasks])
            paired(name, whole - less)
        if not chosen or "polish" in chosen:
            got = np.array([polished(b, generations) for b in tasks])
            gain = got[:, :2] - got[:, 2:4]
            error = gain.std(0, ddof=1) / np.sqrt(len(gain))
            print(
                f"polish, against as many evaluations ({got[:, 4].mean():,.0f}) of search:"
                f" best {gain[:, 0].mean():+.4f} ±{error[0]:.4f},"
                f" mean of 24 {gain[:, 1].mean():+.4f} ±{error[1]:.4f}"
            )


if __name__ == "__main__":
    main()
