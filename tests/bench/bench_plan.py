"""Time of the exact cutting plan for 1, 20 and 200 bands; run it, it is not collected.

``bench_plan.py`` prints, per number of bands and stash, the seconds of first-fit
alone and of the exact plan, their ratio, what is missing, the waste of both, and the gap.
"""

from __future__ import annotations

import time

import numpy as np

from motifsearch.pattern.design import Pattern, make_pattern
from motifsearch.thread.cutting import CutList, cut_list
from motifsearch.thread.plan import can_cut, colour_problem, plan_cuts, wanted_cuts
from motifsearch.thread.stash import Stash, StashThread, stash_bounds
from motifsearch.thread.stock import best_fit

INKS = {"teal": "#1c6b70", "sand": "#d8c39a", "brick": "#a5432d", "ink": "#25345e"}


def a_pattern(rng: np.random.Generator, strands: int = 12, rows: int = 8) -> Pattern:
    """A random grid; every colour has three strands, so one thread of each stays unfolded."""
    grid = rng.integers(0, 4, (rows, strands // 2)).astype(np.uint8)
    return make_pattern("bench", grid, [c for c in INKS for _ in range(strands // 4)], INKS)


def a_stash(rng: np.random.Generator, lists: list[CutList], slack: float, cone: bool) -> Stash:
    """Skeins and leftovers that hold `slack` times what the bands need."""
    threads = []
    for name, hexa in INKS.items():
        need = slack * sum(cut.length_mm for one in lists for cut in one.cuts if cut.colour == name)
        pieces: list[float] = []
        while sum(pieces) < need:
            roll = rng.random()
            if cone and roll < 0.1:
                pieces.append(100_000.0)
            elif roll < 0.6:
                pieces.append(8000.0)
            else:
                pieces.append(float(rng.integers(60, 700)) * 10.0)
        threads.append(StashThread(name, hexa, 0.6, None, tuple(pieces), 8.0))
    return Stash(tuple(threads))


def fit_alone(lists: list[CutList], stash: Stash) -> tuple[float, float]:
    """Missing and waste in mm of best-fit decreasing."""
    missing = waste = 0.0
    wanted = wanted_cuts(lists)
    shortest = min(mm for lengths in wanted.values() for mm in lengths)
    for colour, lengths in wanted.items():
        problem = colour_problem(lengths, stash.thread(colour), shortest)
        aims = problem.aims(*best_fit(problem))
        missing, waste = missing + aims[0], waste + aims[1]
    return missing, waste


HEAD = "bands patterns slack cones pieces  fit s  plan s ratio  missing m   waste m  gap begun gap"


def main() -> None:
    """Print the tables."""
    rng = np.random.default_rng(0)
    warm = [cut_list(a_pattern(rng), 150.0)]
    plan_cuts(warm, a_stash(rng, warm, 1.5, False))
    print("what fit alone and plan leave missing and waste")
    print(HEAD)
    cases = ((1, 2.0, False), (1, 1.05, False), (4, 1.1, False), (4, 1.1, True))
    for bands in (1, 20, 200):
        for kinds, slack, cone in cases:
            rng = np.random.default_rng(bands * 10 + kinds)
            few = [cut_list(a_pattern(rng), 150.0) for _ in range(min(kinds, bands))]
            lists = [few[n % len(few)] for n in range(bands)]
            stash = a_stash(rng, lists, slack, cone)
            start = time.perf_counter()
            missing, waste = fit_alone(lists, stash)
            first = time.perf_counter() - start
            start = time.perf_counter()
            plan = plan_cuts(lists, stash)
            exact = time.perf_counter() - start
            short = sum(length for _, _, length in plan.missing)
            pieces = sum(len(t.pieces_mm) for t in stash.threads)
            print(
                f"{bands:5d} {kinds:8d} {slack:5.2f} {'yes' if cone else 'no':>5} {pieces:6d} "
                f"{first:6.4f} {exact:7.3f} {exact / first:5.0f} {missing / 1e3:5.1f} "
                f"{short / 1e3:4.1f} {waste / 1e3:5.2f} {plan.waste_mm / 1e3:4.2f} "
                f"{plan.gap:4.2f} {plan.gaps[2]:9.4f}"
            )
    refused()


def refused(designs: int = 2000) -> None:
    """Print how many designs the fast bound admits and the exact plan refuses."""
    rng = np.random.default_rng(1)
    admitted = wrong = open_ = 0
    start = time.perf_counter()
    for _ in range(designs):
        cuts = cut_list(a_pattern(rng, rows=4), float(rng.integers(120, 180)))
        pieces = [float(p) for p in rng.choice([8000.0, 4000.0, 3000.0, 2200.0, 1500.0, 900.0], 2)]
        stash = Stash(
            tuple(StashThread(n, h, 0.6, None, tuple(pieces), 8.0) for n, h in INKS.items())
        )
        total, longest = stash_bounds(stash)
        need = [cuts.by_colour()[n] for n in stash.names]
        fits = all(
            sum(c.length_mm for c in own) <= total[k]
            and max(c.length_mm for c in own) <= longest[k]
            for k, own in enumerate(need)
        )
        verdict = can_cut(cuts, stash)
        admitted += fits
        wrong += fits and verdict is False
        open_ += verdict is None
    print(
        f"fast bound: {admitted} of {designs} designs admitted, {wrong} of these refused by the "
        f"exact plan ({wrong / max(1, admitted):.1%}), {open_} undecided; "
        f"{(time.perf_counter() - start) / designs * 1e3:.2f} ms a design with its cut list"
    )


if __name__ == "__main__":
    main()
