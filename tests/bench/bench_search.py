"""How fast and how sure the search is; run it, it is not collected.

``bench_search.py speed [SECONDS]`` (8 strands, 12 rows, five objectives, population
1000, one core) prints candidates per second of the search, of pymoo's NSGA-II on the same batch
scorer and of the plain DEAP loop, their ratios, the share of time outside the scorer, and the time
to the hypervolume that pymoo reaches in SECONDS.  Needs ``pip install motifsearch[bench]``.

``bench_search.py truth [SEEDS]`` enumerates four small spaces and prints after how
many evaluations the search holds 99.9 % of the true hypervolume.

Times are those of the processor (`time.process_time`), so that other work on the machine counts
little; the ratios are what is meant.
"""

from __future__ import annotations

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

import moocore
import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from enumeration import ample_brief, truth

from motifsearch.search import island as islands
from motifsearch.search.brief import Brief
from motifsearch.search.genome import Genomes, develop
from motifsearch.search.island import Judge, new_island, run_epoch, space_of

STRANDS, ROWS, POPULATION = 8, 12, 1000
#: Points of a front whose hypervolume is compared (the best sums of costs); in five dimensions
#: more take minutes.  The same for all three.
POINTS = 300


def dominated(costs: np.ndarray) -> float:
    """Hypervolume of a population's costs ``[N, objectives]``, at most `POINTS` of its front."""
    front = moocore.filter_dominated(np.unique(np.round(costs, 9), axis=0))
    front = front[np.argsort(front.sum(1), kind="stable")[:POINTS]]
    return float(moocore.hypervolume(front, ref=np.ones(front.shape[1])))


@dataclass
class Rate:
    """What one engine did: candidates made, designs scored, seconds, final hypervolume."""

    name: str
    made: int
    scored: int
    seconds: float
    volume: float

    def show(self, base: Rate | None = None) -> None:
        """Print one line, with the ratio of `base`'s rate to this one's."""
        rate = self.made / self.seconds
        ratio = "" if base is None else f"  1/{base.made / base.seconds / rate:.1f} of the search"
        print(
            f"{self.name:34s} {rate:9,.0f} candidates/s {self.scored / self.seconds:9,.0f} scored/s"
            f"   {self.seconds:6.1f} s  hypervolume {self.volume:.4f}{ratio}",
            flush=True,
        )


def ours(brief: Brief, seconds: float, stop_at: float = 2.0) -> tuple[Rate, float, float]:
    """Run the search; also return the scorer's share of the time, and the time to `stop_at`."""
    judge, inside = Judge(brief), [0.0]
    score = islands.score_batches  # type: ignore[attr-defined]

    def timed(*args):
        start = time.process_time()
        try:
            return score(*args)
        finally:
            inside[0] += time.process_time() - start

    islands.score_batches = timed  # type: ignore[attr-defined]
    try:
        island = new_island(brief, ROWS, np.random.SeedSequence(1))
        spent, reached, made = 0.0, float("nan"), 0
        while spent < seconds:
            start = time.process_time()
            island = run_epoch(judge, island, 5, POPULATION)
            spent += time.process_time() - start
            made += 5 * POPULATION
            if stop_at <= 1:
                kept = island.population.violation == 0
                if dominated(island.population.costs[:, kept].T) >= stop_at:
                    reached = spent
                    break
    finally:
        islands.score_batches = score  # type: ignore[attr-defined]
    kept = island.population.violation == 0
    volume = dominated(island.population.costs[:, kept].T)
    return Rate("this search", made, island.scored, spent, volume), inside[0] / spent, reached


def decoded(brief: Brief, table: np.ndarray) -> tuple[Genomes, np.ndarray, np.ndarray]:
    """Rows of whole numbers (knots, then colours) as designs with even colours."""
    space, n = space_of(brief, ROWS), len(table)
    cut = ROWS * (STRANDS // 2)
    none = np.zeros(n, np.uint8)
    knots = table[:, :cut].T.reshape(ROWS, STRANDS // 2, n).astype(np.uint8)
    genomes = Genomes(none, none, knots, np.ascontiguousarray(table[:, cut:].T).astype(np.uint8))
    return genomes, *develop(genomes, space)


def of_pymoo(brief: Brief, seconds: float) -> Rate:
    """NSGA-II of pymoo with our batch scorer as its problem, operators for whole numbers."""
    from pymoo.algorithms.moo.nsga2 import NSGA2
    from pymoo.core.problem import Problem
    from pymoo.functions import is_compiled
    from pymoo.operators.crossover.sbx import SBX
    from pymoo.operators.mutation.pm import PM
    from pymoo.operators.repair.rounding import RoundingRepair
    from pymoo.operators.sampling.rnd import IntegerRandomSampling

    judge, space = Judge(brief), space_of(brief, ROWS)
    high = [3] * (ROWS * (STRANDS // 2)) + [space.palette - 1] * STRANDS

    class Bracelets(Problem):
        def __init__(self) -> None:
            super().__init__(
                n_var=len(high),
                n_obj=len(judge.objectives),
                n_ieq_constr=1,
                xl=np.zeros(len(high)),
                xu=np.array(high),
                vtype=int,
            )

        def _evaluate(self, x, out, *args, **kwargs) -> None:
            judged, _ = judge.judge_designs(*decoded(brief, x), space)
            out["F"], out["G"] = judged.costs.T, judged.violation[:, None]

    print(f"pymoo's compiled modules in use: {is_compiled()}")
    algorithm = NSGA2(
        pop_size=POPULATION,
        sampling=IntegerRandomSampling(),
        crossover=SBX(prob=0.9, eta=15, vtype=float, repair=RoundingRepair()),
        mutation=PM(eta=20, vtype=float, repair=RoundingRepair()),
        eliminate_duplicates=True,
    )
    algorithm.setup(Bracelets(), termination=("n_gen", 10**9), seed=1, verbose=False)
    start = time.process_time()
    while time.process_time() - start < seconds:
        algorithm.next()
    spent = time.process_time() - start
    found = algorithm.pop.get("F")[algorithm.pop.get("CV")[:, 0] <= 0]
    made = algorithm.evaluator.n_eval
    return Rate("pymoo NSGA-II, our batch scorer", made, made, spent, dominated(found))


def of_deap(brief: Brief, generations: int) -> Rate:
    """DEAP's eaMuPlusLambda with selNSGA2: one list and one call of the scorer per individual."""
    import random

    from deap import algorithms, base, tools

    judge, space = Judge(brief), space_of(brief, ROWS)
    cut, size = ROWS * (STRANDS // 2), ROWS * (STRANDS // 2) + STRANDS
    random.seed(1)

    class Costs(base.Fitness):
        weights = (-1.0,) * len(judge.objectives)

    class Individual(list):
        def __init__(self, genes) -> None:
            super().__init__(genes)
            self.fitness = Costs()

    counted = [0]

    def evaluate(one: Individual) -> tuple[float, ...]:
        counted[0] += 1
        judged, _ = judge.judge_designs(*decoded(brief, np.array([one])), space)
        if judged.violation[0] > 0:
            return (1.0,) * len(judge.objectives)
        return tuple(judged.costs[:, 0])

    def drawn() -> Individual:
        return Individual(
            [random.randrange(4) for _ in range(cut)]
            + [random.randrange(space.palette) for _ in range(STRANDS)]
        )

    toolbox = base.Toolbox()
    toolbox.register("evaluate", evaluate)
    toolbox.register("mate", tools.cxTwoPoint)
    toolbox.register(
        "mutate",
        tools.mutUniformInt,
        low=0,
        up=[3] * cut + [space.palette - 1] * STRANDS,
        indpb=2 / size,
    )
    toolbox.register("select", tools.selNSGA2)
    start = time.process_time()
    people, _ = algorithms.eaMuPlusLambda(
        [drawn() for _ in range(POPULATION)],
        toolbox,
        POPULATION,
        POPULATION,
        0.4,
        0.6,
        generations,
        verbose=False,
    )
    spent = time.process_time() - start
    found = np.array([one.fitness.values for one in people])
    return Rate("plain DEAP loop, one at a time", counted[0], counted[0], spent, dominated(found))


def speed(seconds: float) -> None:
    """Print the three side by side."""
    with tempfile.TemporaryDirectory() as folder:
        brief = ample_brief(Path(folder), STRANDS, ROWS, search__population=POPULATION)
        print(f"{STRANDS} strands, {ROWS} rows, objectives: {', '.join(Judge(brief).objectives)}")
        ours(brief, 1.0)  # warm
        base, inside, _ = ours(brief, max(10.0, seconds / 6))
        base.show()
        print(f"{'':34s} {1 - inside:.0%} of the time outside the scorer")
        peer = of_pymoo(brief, seconds)
        peer.show(base)
        of_deap(brief, 3).show(base)
        _, _, reached = ours(brief, 4 * seconds, peer.volume)
        print(
            f"hypervolume {peer.volume:.4f}, which pymoo reaches in {peer.seconds:.0f} s:"
            f" {reached:.2f} s, 1/{peer.seconds / reached:.0f}"
        )


def truth_table(seeds: int) -> None:
    """Print, per space, what there is and how soon the search has it."""
    print("strands rows  kinds of grid  of design      counted raw  front  true hypervolume")
    # A population larger than the front, and small where the whole space is small.
    for strands, rows, population in ((4, 4, 40), (4, 6, 60), (5, 4, 100), (6, 4, 100)):
        with tempfile.TemporaryDirectory() as folder:
            brief = ample_brief(Path(folder), strands, rows)
            start = time.process_time()
            whole = truth(brief, rows)
            print(
                f"{strands:7d} {rows:4d} {whole.grids:14,d} {whole.designs:10,d} {whole.raw:16,d}"
                f" {len(whole.front):6d}  {whole.volume:.9f}  ({time.process_time() - start:.1f} s)"
            )
            needed, held, best = [], [], []
            one_percent, most = whole.designs // 100, min(whole.raw // 100, 60_000)
            for seed in range(seeds):
                judge = Judge(brief)
                island = new_island(brief, rows, np.random.SeedSequence(seed))
                share = at_one_percent = 0.0
                while share < 0.999 and island.scored + population <= most:
                    island = run_epoch(judge, island, 1, population)
                    kept = island.population.violation == 0
                    points = np.unique(island.population.costs[:, kept].T, axis=0)
                    share = moocore.hypervolume(points, ref=np.ones(points.shape[1])) / whole.volume
                    if island.scored <= one_percent:
                        at_one_percent = share
                    if island.generation > 3000:
                        break
                needed.append(island.scored if share >= 0.999 else np.inf)
                held.append(at_one_percent)
                best.append(float(island.archive.utility.max()) / whole.best)
            middle, worst = np.median(needed), np.max(needed)
            print(
                f"    99.9 % after {middle:,.0f} evaluations (median of {seeds} seeds,"
                f" most {worst:,.0f}): {middle / whole.designs:.2%} of the kinds,"
                f" {middle / whole.raw:.4%} of all counted raw"
            )
            print(
                f"    at 1 % of the kinds ({one_percent:,d}): {np.median(held):.2%} of the"
                f" hypervolume; best utility {np.median(best):.2%} of the best there is",
                flush=True,
            )


def main() -> None:
    """Run what the command line names."""
    what = sys.argv[1] if len(sys.argv) > 1 else "speed"
    if what == "truth":
        truth_table(int(sys.argv[2]) if len(sys.argv) > 2 else 20)
    else:
        speed(float(sys.argv[2]) if len(sys.argv) > 2 else 60.0)


if __name__ == "__main__":
    main()
