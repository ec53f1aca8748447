"""The loop constants of the thread model, computed from tight hitches.

**Definition.**  loop(kind) is the length of thread that a knot takes beyond the tying strand's
straight way through the node.  A *node* is the point where the centrelines of the two strands of a
knot would meet: a point on the axis of the core.  The *straight way through the node* is the bent
path from the far incoming end, in a straight line to the node, and in a straight line to the far
outgoing end; it is what the thread model counts as path, so path + loop is the whole strand.  With
u_in and u_out the unit vectors from the node towards the two ends, the node at the origin and the
tube's centreline from x_0 to x_1,

    loop = length(x_0 .. x_1) - u_in . x_0 - u_out . x_1,

the limit of far ends: beyond x_0 and x_1 the strand runs straight, and where it runs beside the
line from the node (by half of the two diameters, say) the difference vanishes with distance.

The ends of the tying strand leave as strands leave a node of the fabric whose row pitch equals its
strand pitch, at 45 degrees to the rows.  The core is a straight rod along z.

- crossing knot (`rr`, `ll`): a **clove hitch**.  The strand comes from above on one side and leaves
  below on the other, the core on the other diagonal: the ends point along -y and +y, at right
  angles to the core.  Both go under the slanting middle part.
- returning knot (`rl`, `lr`): a **cow hitch**.  The strand comes from above and leaves below on
  one side.  The core comes from above and leaves below on the other side, so when it is pulled
  straight it stands upright, along the rows' direction: the ends point along (0, -1, -1) and (0,
  -1, 1), each at 45 degrees to the core, and both go under the middle part.  (A core on one
  diagonal would be parallel to one of the ends; nothing would then balance that end's pull along
  the rod, and without friction the hitch would slide off.)

The minimum is found by `motifsearch.thread.tighten`; the same code first reproduces the known
tight Hopf link, trefoil and figure-eight knot.

**Assumed**: round, incompressible, perfectly flexible thread without friction, pulled as tight
as it goes; a taut core.  Real cotton flattens and shares its outer fibres (the effective diameter
falls) and friction keeps slack in (the loop grows): calibration fits both.  A **slack core**
is computed too, for equal threads.  When the core is as tight as the tying strand, it bends
around it: the loop falls from 15.8 to about 13.2 d (crossing) and from 15.0 to about 13.0 d
(returning), the core takes a bend of 1.1 to 1.5 d on top of its path, and the knot as a whole is
1.4 and 0.6 d shorter.  At four times the tension the loop is 14.9 d and the bend 0.1 d.

The angles matter little: the loop changes by 0.3 d for 10 degrees (`angles` in the table).  The
fit holds from d_core = d_tie / 2 to 2 d_tie, within 0.03 d.

Run ``python -m motifsearch.thread.tight`` to compute the table again (five to ten minutes; it
prints each line as it is found and writes the file).  The linear algebra is small: it is fastest
with the environment variable OMP_NUM_THREADS=1.
"""

from __future__ import annotations

import argparse
import json
import math
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from motifsearch.thread.tighten import Settings
    from motifsearch.thread.tube import Array, Tangle

TABLE = Path(__file__).with_name("tight_table.json")
KINDS = ("crossing", "returning")
RATIOS = (0.5, 0.75, 1.0, 1.5, 2.0)
SPACINGS = (0.2, 0.1, 0.07)

#: Length over diameter of known tight knots, and where the number stands.
KNOWN: dict[str, tuple[float, str]] = {
    "hopf link": (
        4 * math.pi,
        "two circles, proven: Cantarella, Kusner, Sullivan 2002",
    ),
    "trefoil": (32.7436 / 2, "3_1, ropelength column of the knot tables in database_knotinfo"),
    "figure-eight": (42.0887 / 2, "4_1, ropelength column of the knot tables in database_knotinfo"),
}


@cache
def loop_constants() -> dict[str, tuple[float, float]]:
    """Return (a, b) of loop = a (d_tie + d_core) + b d_tie, for "crossing" and "returning".

    Read from the table that ``python -m motifsearch.thread.tight`` wrote.

    Examples:
        >>> sorted(loop_constants())
        ['crossing', 'returning']
    """
    fit = json.loads(TABLE.read_text(encoding="utf-8"))["fit"]
    return {kind: (float(fit[kind]["a"]), float(fit[kind]["b"])) for kind in KINDS}


def known_start(knot: str) -> Tangle:
    """Return a loose shape of one of the `KNOWN` knots, tubes of diameter 1."""
    from motifsearch.thread.tube import Strand, Tangle

    t = np.linspace(0.0, 2 * math.pi, 400, endpoint=False)
    sin, cos = np.sin, np.cos
    if knot == "hopf link":  # neither round nor planar, so that there is something to find
        one = 1.6 * np.stack([cos(t), 1.2 * sin(t), 0.1 * sin(2 * t)], axis=1)
        two = 1.6 * np.stack([1 + 1.1 * cos(t), 0.1 * cos(3 * t), sin(t)], axis=1)
        return Tangle((Strand(one), Strand(two)))
    if knot == "trefoil":
        p = 0.9 * np.stack([sin(t) + 2 * sin(2 * t), cos(t) - 2 * cos(2 * t), -sin(3 * t)], axis=1)
    else:
        r = 1.3 * (2 + cos(2 * t))
        p = np.stack([r * cos(3 * t), r * sin(3 * t), 1.3 * sin(4 * t)], axis=1)
    return Tangle((Strand(p),))


def _rounded(corners: Array, step: float = 0.5) -> Array:
    """Return points about `step` apart along a chain of corners, the corners smoothed."""
    parts = [
        np.linspace(p, q, math.ceil(float(np.linalg.norm(q - p)) / step), endpoint=False)
        for p, q in pairwise(corners)
    ]
    points = np.vstack([*parts, corners[-1:]])
    for _ in range(3):
        points[1:-1] = (points[:-2] + 2 * points[1:-1] + points[2:]) / 4
    return points


def hitch_start(
    kind: str, ratio: float, angle: float | None = None, slack: float | None = None
) -> Tangle:
    """Return a loosely tied hitch, tying strand of diameter 1.

    Args:
        kind: "crossing" (clove hitch) or "returning" (cow hitch).
        ratio: d_core / d_tie.
        angle: Angle between the incoming end and the upper core, degrees; 90 (crossing) and
            45 (returning) when left out.
        slack: None for a straight rod; else tension of the core over that of the tying strand.
    """
    from motifsearch.thread.tube import Strand, Tangle

    crossing = kind == "crossing"
    turn = math.radians((90.0 if crossing else 45.0) if angle is None else angle)
    up, side = math.cos(turn), math.sin(turn)
    r = 1.3 * (1 + ratio) / 2  # centreline of the wraps
    over = r + 1.3  # of the part that rides over the two ends
    far, reach = r + 2.5, 2.0
    first = [  # the incoming half: end, under the middle part, round the back, outwards
        (r, -far - reach * side, -0.7 if crossing else -0.7 - reach * up),
        *((r, y, -0.7) for y in (-far, -r, 0.0)),
        (0.0, r, -1.0),
        (-r, 0.0, -1.5),
        (0.0, -r, -2.0),
        (over, -r, -2.0),
    ]
    half = np.array(first)
    mirror = np.array([1.0, -1.0, -1.0] if crossing else [1.0, 1.0, -1.0])
    middle = [(over, 0.0 if crossing else -r, 0.0)]
    pulls = np.array([[0.0, -side, up if crossing else -up]] * 2)
    pulls[1] *= [1.0, -1.0 if crossing else 1.0, -1.0]
    tie = Strand(_rounded(np.vstack([half, middle, half[::-1] * mirror])), 1.0, pulls)
    if slack is None:
        return Tangle((tie,), ratio)
    side_core = 0.0 if crossing else math.sqrt(0.5)
    up_core = math.sqrt(1 - side_core**2)
    tip = (0.0, 3 * side_core, 4.5 + 3 * up_core)
    line = np.array([(tip[0], tip[1], -tip[2]), (0, 0, -4.5), (0, 0, 4.5), tip])
    ends = np.array([[0.0, side_core, -up_core], [0.0, side_core, up_core]])
    return Tangle((tie, Strand(_rounded(line), ratio, ends, slack)))


def pull(
    tangle: Tangle, spacings: Sequence[float], settings: Settings | None = None
) -> list[Tangle]:
    """Tighten at each of the node spacings in turn, each from the shape before.

    Closed tangles are loose at first and shrink: they are tightened once with fewer nodes, so that
    the spacings are those of the tight shape.
    """
    from motifsearch.thread.tighten import tighten
    from motifsearch.thread.tube import resample

    if any(s.pulls is None for s in tangle.strands):
        loose = tuple(resample(s, 2 * spacings[0]) for s in tangle.strands)
        tangle = tighten(replace(tangle, strands=loose), settings)
    found: list[Tangle] = []
    for h in spacings:
        strands = tuple(resample(s, h * min(1.0, s.diameter)) for s in tangle.strands)
        tangle = tighten(replace(tangle, strands=strands), settings)
        found.append(tangle)
    return found


def _spacing(tangle: Tangle) -> float:
    return sum(s.length for s in tangle.strands) / sum(len(s.edges) for s in tangle.strands)


def extrapolate(tangles: Sequence[Tangle]) -> float:
    """Return the excess at spacing 0 from the two finest, the error being of order h^2."""
    coarse, fine = tangles[-2:]
    shrink = (_spacing(coarse) / _spacing(fine)) ** 2
    return fine.energy + (fine.energy - coarse.energy) / (shrink - 1)


def _entry(tangles: Sequence[Tangle], spacings: Sequence[float]) -> dict[str, Any]:
    from motifsearch.thread.tube import thickness

    return {
        "node_spacings_d": list(spacings),
        "lengths_d": [round(t.energy, 4) for t in tangles],
        "extrapolated_d": round(extrapolate(tangles), 4),
        "without_any_overlap_d": round(min(t.energy / thickness(t) for t in tangles), 4),
    }


def slack_core(kind: str, ratio: float, tension: float, spacing: float) -> dict[str, Any]:
    """Return loop (d_tie) and bend (d_core) where the core may bend, `tension` times as taut.

    The node is the middle of the core's centreline.  At equal tensions thread passes from the one
    strand to the other at little cost, so the sum is well determined and the two parts less so (by
    some 0.1 d between starts).
    """
    tangle = pull(hitch_start(kind, ratio, slack=tension), [2 * spacing, spacing])[-1]
    tie, core = tangle.strands
    node = core.points[np.argmin(np.abs(core.points[:, 2]))]
    loop, bend = (replace(s, points=s.points - node).excess for s in (tie, core))
    return {
        "kind": kind,
        "d_core_over_d_tie": ratio,
        "core_tension_over_tying_tension": tension,
        "loop_d": round(loop, 2),
        "bend_core_d": round(bend / ratio, 2),
        "loop_and_bend_d": round(loop + bend, 3),
    }


def compute(spacings: Sequence[float] = SPACINGS) -> dict[str, Any]:
    """Return the whole table, printing each result as it is found."""
    from motifsearch.thread.tighten import Settings

    fine = Settings(rounds=150, inner=200, overlap=1.5e-4)
    table: dict[str, Any] = {
        "command": "python -m motifsearch.thread.tight",
        "unit": "_d: diameters of the tying strand; bend_core_d: diameters of the core",
        "known": [],
        "hitches": [],
        "fit": {},
        "angles": [],
        "slack_core": [],
    }

    def add(part: str, entry: dict[str, Any]) -> None:
        table[part].append(entry)
        print(part, json.dumps(entry), flush=True)

    for knot, (length, source) in KNOWN.items():
        entry = _entry(pull(known_start(knot), spacings, fine), spacings)
        error = 100 * (entry["extrapolated_d"] / length - 1)
        add(
            "known",
            {"knot": knot, "published_d": round(length, 4), "source": source, **entry}
            | {"error_percent": round(error, 3)},
        )
    for kind in KINDS:
        for ratio in RATIOS:
            entry = _entry(pull(hitch_start(kind, ratio), spacings, fine), spacings)
            add("hitches", {"kind": kind, "d_core_over_d_tie": ratio, **entry})
        rows = [e for e in table["hitches"] if e["kind"] == kind]
        loops = np.array([e["extrapolated_d"] for e in rows])
        design = np.array([[1 + e["d_core_over_d_tie"], 1.0] for e in rows])
        (a, b), *_ = np.linalg.lstsq(design, loops, rcond=None)
        left = loops - design @ np.array([a, b])
        table["fit"][kind] = {
            "a": round(float(a), 4),
            "b": round(float(b), 4),
            "residual_rms_d": round(float(np.sqrt(np.mean(left**2))), 4),
            "residual_max_d": round(float(np.abs(left).max()), 4),
        }
        print("fit", kind, table["fit"][kind], flush=True)
    two = spacings[:2]
    for kind, angles in (("crossing", (75.0, 105.0)), ("returning", (35.0, 55.0))):
        for angle in angles:
            loop = extrapolate(pull(hitch_start(kind, 1.0, angle), two))
            add("angles", {"kind": kind, "angle_deg": angle, "extrapolated_d": round(loop, 3)})
    for kind, tension in (("crossing", 1.0), ("crossing", 4.0), ("returning", 1.0)):
        add("slack_core", slack_core(kind, 1.0, tension, two[-1]))
    return table


def main(arguments: Sequence[str] | None = None) -> None:
    """Compute the table and write it."""
    parser = argparse.ArgumentParser(description="Compute the loop constants of tight hitches.")
    parser.add_argument("--output", type=Path, default=TABLE, help="file to write")
    parser.add_argument("--spacing", type=float, action="append", help="node spacing; repeat it")
    given = parser.parse_args(arguments)
    table = compute(given.spacing or SPACINGS)
    given.output.write_text(json.dumps(table, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
