"""Write tests/thread_golden.json: what the tight-knot computation, the fit and the cutting do.

    python tests/thread_golden.py

The constants that steer them (where a shape begins, how far a step may go, what work is counted)
change no truth that another test could ask for, and yet every result of theirs: they are held here.
Regenerate when one was changed on purpose, and say so in the commit.  Numbers are compared to a
millionth, or, where thousands of steps of SciPy's minimiser lie behind them, to a thousandth.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from motifsearch.base.work import Work
from motifsearch.thread import tight
from motifsearch.thread.fit import calibrate
from motifsearch.thread.stock import Problem, best_fit, group_kinds
from motifsearch.thread.stock_columns import Columns
from motifsearch.thread.stock_program import fewest_new, fill_without_waste, most_sets, solve
from motifsearch.thread.tighten import Settings, tighten
from motifsearch.thread.tube import Tangle, clearance, resample, thickness

HERE = Path(__file__).parent
TABLE = HERE / "thread_golden.json"
EXAMPLE = HERE.parent / "configs" / "calibration" / "measurement.toml"
BOXES = 24


def problem(seed: int) -> Problem:
    """Return a box of pieces, and what is wanted from it."""
    rng = np.random.default_rng(seed)
    pieces = [float(p) for p in rng.integers(8, 90, int(rng.integers(1, 7))) * 100]
    whole = [bool(w) for w in rng.integers(0, 2, len(pieces))]
    lengths = sorted({float(c) for c in rng.integers(5, 30, int(rng.integers(1, 5))) * 50})
    demand = tuple(int(n) for n in rng.integers(1, 9, len(lengths)))
    return Problem(group_kinds(pieces, whole), tuple(lengths), demand, float(rng.choice([0, 300])))


def cutting(seed: int) -> dict[str, Any]:
    """Return what is found for one box: by the heuristics all, by the program its values."""
    wanted = problem(seed)
    fitted, missing = best_fit(wanted)
    spent = Work(1e6)
    columns = Columns(wanted, Work())
    filled = fill_without_waste(columns, spent)
    ample, short = Work(3e6), Work(2e3)
    best, hurried = solve(wanted, ample), solve(wanted, short)
    aims, plain = [wanted.aims(s.filled, s.missing) for s in (best, hurried)]
    new = fewest_new(wanted, 8000.0, Work(3e6))
    return {
        "best_fit": [[f.kind, *f.cuts] for f in fitted],
        "missing": missing,
        "without_waste": filled and [[f.kind, *f.cuts] for f in filled],
        "work": round(1e6 - spent.left, 3),
        "size": int(columns.size),
        "aims": [round(v, 6) for v in aims],
        "gaps": [round(v, 6) for v in best.gaps],
        "hurried": [round(v, 6) for v in (*plain, *hurried.gaps)],
        "most_sets": list(most_sets(wanted, Work(3e6))),
        "most_sets_hurried": list(most_sets(wanted, Work(0.0))),
        "fewest_new": [new[1], new[2]],
        "fewest_new_hurried": list(fewest_new(wanted, 8000.0, Work(5.0))[1:]),
    }


def numbers(tangle: Tangle) -> list[float]:
    """Return a few numbers that hang on every point of a tangle."""
    points = np.vstack([s.points for s in tangle.strands])
    weights = np.cos(np.arange(points.size)).reshape(points.shape)
    return [float(len(points)), float((points * weights).sum()), float(np.abs(points).sum())]


def shapes() -> dict[str, list[float]]:
    """Return the loose shapes that every computation begins with."""
    found = {knot: numbers(tight.known_start(knot)) for knot in tight.KNOWN}
    for kind in tight.KINDS:
        for ratio, angle, slack in ((0.7, None, None), (1.3, 70.0, None), (1.0, None, 2.0)):
            one = tight.hitch_start(kind, ratio, angle, slack)
            found[f"{kind} {ratio} {angle} {slack}"] = numbers(one)
    return found


def tightened() -> dict[str, list[float]]:
    """Return how far shapes are pulled in a few rounds: energy, clearance, thickness."""
    starts = {
        "trefoil": tight.known_start("trefoil"),
        "crossing": tight.hitch_start("crossing", 1.0),
        "returning": tight.hitch_start("returning", 0.8, slack=1.5),
    }
    found = {}
    for name, start in starts.items():
        loose = Tangle(tuple(resample(s, 0.4) for s in start.strands), start.rod)
        for rounds in (2, 12):
            end = tighten(loose, Settings(rounds=rounds, inner=12))
            found[f"{name} {rounds}"] = [end.energy, clearance(end), thickness(end)]
    return found


def fitted() -> dict[str, float]:
    """Return the calibration of the example measurement."""
    model = calibrate(EXAMPLE).model
    names = ("row_gauge", "strand_gauge", "bend", "loop_scale", "scatter")
    return {name: float(getattr(model, name)) for name in names}


def golden() -> dict[str, Any]:
    """Return all of it, as it stands in the file."""
    return {
        "shapes": shapes(),
        "tightened": tightened(),
        "fitted": fitted(),
        "cutting": [cutting(seed) for seed in range(BOXES)],
    }


def main(out: Path = TABLE) -> None:
    """Write the file."""
    found: Mapping[str, Any] = golden()
    out.write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")
    sys.stdout.write(f"{out}\n")


if __name__ == "__main__":
    main()
