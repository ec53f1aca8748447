"""The loop constants: the solver against published tight knots, the hitches against the table.

Published numbers: Hopf link 4 pi diameters, proven (Cantarella, Kusner, Sullivan, "On the minimum
ropelength of knots and links", Invent. Math. 150, 2002).  Trefoil 32.7436 and figure-eight 42.0887
radii: ropelength column of the knot tables in the package database_knotinfo.  Their determinants
(Hopf 2, trefoil 3, figure-eight 5) are in every knot table.
"""

import json
import math
import os
import pickle
import subprocess
import sys
from dataclasses import replace
from itertools import combinations, product

import numpy as np
import pytest

from motifsearch.thread import tight
from motifsearch.thread.tighten import Settings, tighten
from motifsearch.thread.tube import (
    Strand,
    Tangle,
    clearance,
    resample,
    segment_distance,
    thickness,
)

PUBLISHED = {"hopf link": 4 * math.pi, "trefoil": 16.3716, "figure-eight": 21.0444}
DETERMINANT = {"hopf link": 2, "trefoil": 3, "figure-eight": 5}


def determinant(curves):
    """Knot determinant of closed polygons by colouring: at each crossing 2 over = a + b."""
    turn, _ = np.linalg.qr(np.array([[0.3, 0.8, 0.1], [-0.5, 0.35, 0.7], [0.62, -0.2, 0.9]]))
    curves = [c @ turn for c in curves]
    segments = []
    for k, c in enumerate(curves):
        segments += [(k, i, c[i], c[(i + 1) % len(c)] - c[i]) for i in range(len(c))]
    start = np.array([s[2] for s in segments])
    edge = np.array([s[3] for s in segments])
    p, u = start[:, None, :], edge[:, None, :]
    q, v = start[None], edge[None]
    r = q - p
    det = u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0]
    with np.errstate(all="ignore"):
        s = (r[..., 0] * v[..., 1] - r[..., 1] * v[..., 0]) / det
        t = (r[..., 0] * u[..., 1] - r[..., 1] * u[..., 0]) / det
        height = (p + s[..., None] * u - q - t[..., None] * v)[..., 2]
    meets = (s > 0) & (s < 1) & (t > 0) & (t < 1) & (np.abs(height) > 1e-9)
    under = [(k, s[k, j], j) for k, j in zip(*np.nonzero(meets & (height < 0)), strict=True)]
    under.sort(key=lambda item: (item[0], item[1]))
    # arcs run from one under-crossing to the next along a component
    owner = np.array([seg[0] for seg in segments])
    arcs = {k: [n for n, item in enumerate(under) if owner[item[0]] == k] for k in set(owner)}
    assert all(arcs.values())

    def arc_at(segment, place):
        mine = arcs[owner[segment]]
        before = [n for n in mine if (under[n][0], under[n][1]) < (segment, place)]
        return before[-1] if before else mine[-1]

    matrix = np.zeros((len(under), len(under)))
    for n, (k, _, j) in enumerate(under):
        mine = arcs[owner[k]]
        matrix[n, arc_at(j, t[k, j])] += 2
        matrix[n, n] -= 1
        matrix[n, mine[mine.index(n) - 1]] -= 1
    return round(abs(np.linalg.det(matrix[1:, 1:])))


def closed(tangle):
    """Close a hitch far away: the rod behind; the tying strand in front, or once round the rod.

    (A cow hitch with its ends joined in front slips off, so it is joined round the rod.)
    """
    s = tangle.strands[0]
    a, b = (s.points[end] + 30 * u for end, u in zip((0, -1), s.pulls, strict=True))
    if a[1] * b[1] < 0:
        way = np.array([[60.0, b[1], b[2]], [60.0, a[1], a[2]]])
    else:
        way = np.array([[-35.0, 0, 25], [0, 60, 0], [60, 0, -25]])
    rod = np.array([[0.0, 0, -80], [0, 0, 80], [-70, 3, 80], [-70, 5, -80]])
    return [np.vstack([a, s.points, b, way]), rod]


def winding(tangle):
    """Turns of the tying strand around the rod, from one far end to the other."""
    s = tangle.strands[0]
    ends = [s.points[end] + 1e6 * u for end, u in zip((0, -1), s.pulls, strict=True)]
    x, y, _ = np.vstack([ends[0], s.points, ends[1]]).T
    step = np.angle(np.exp(1j * np.diff(np.arctan2(y, x))))
    return float(step.sum() / (2 * math.pi))


SOLVE = """
import pickle, sys
import numpy as np
from motifsearch.thread import tight
from motifsearch.thread.tighten import Settings
from motifsearch.thread.tube import Strand, Tangle
quick = Settings(rounds=80, overlap=2e-3, settled=1e-4)
found = {k: tight.pull(tight.known_start(k), [0.2], quick)[-1] for k in tight.KNOWN}
found |= {k: tight.pull(tight.hitch_start(k, 1.0), [0.25], quick)[-1] for k in tight.KINDS}
pulls = np.array([[0.0, 1, 0], [0, 1, 0]])  # half a turn around a rod, in and out along +y
start = np.array([[2.0, 4, 0.2], [2, 0, 0.1], [0, -2, 0], [-2, 0, -0.1], [-2, 4, -0.2]])
found["half turn"] = tight.pull(Tangle((Strand(start, 1.0, pulls),), 1.0), [0.2], quick)[-1]
with open(sys.argv[1], "wb") as file:
    pickle.dump(found, file)
"""


@pytest.fixture(scope="module")
def tied(tmp_path_factory):
    """Coarse tight shapes; in a process with one BLAS thread, for threads slow small calls down."""
    path = tmp_path_factory.mktemp("tight") / "tied.pickle"
    one = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1")
    subprocess.run([sys.executable, "-c", SOLVE, str(path)], check=True, env=os.environ | one)
    return pickle.loads(path.read_bytes())


@pytest.mark.parametrize("name", PUBLISHED)
def test_solver_reproduces_published_tight_knots(tied, name):
    tangle = tied[name]
    assert tangle.energy == pytest.approx(PUBLISHED[name], rel=0.005)
    # a true tube cannot be shorter than the ideal one, nor is ours much longer
    assert 0.998 < tangle.energy / thickness(tangle) / PUBLISHED[name] < 1.01


@pytest.mark.parametrize("name", PUBLISHED)
def test_knot_type_is_kept(tied, name):
    for tangle in (tight.known_start(name), tied[name]):
        assert determinant([s.points for s in tangle.strands]) == DETERMINANT[name]


@pytest.mark.parametrize(("kind", "turns"), [("crossing", 2.5), ("returning", 0.0)])
def test_hitches_keep_their_type(tied, kind, turns):
    start, end = tight.hitch_start(kind, 1.0), tied[kind]
    assert winding(start) == pytest.approx(turns, abs=1e-4)
    assert winding(end) == pytest.approx(turns, abs=1e-4)
    assert determinant(closed(end)) == determinant(closed(start))


def test_hitches_are_locked():
    # what each would be when it came undone: a plain coil of as many turns, nothing at all (closed
    # round the rod that is a Hopf link, of determinant 2)
    t = np.linspace(0, 4 * math.pi, 200)
    coil = np.stack([1.2 * np.cos(t), 1.2 * np.sin(t), 0.12 * t], axis=1)
    pulls = tight.hitch_start("crossing", 1.0).strands[0].pulls
    coil = np.vstack([coil[0] + 5 * pulls[0], coil, coil[-1] + 5 * pulls[1]])
    undone = Tangle((Strand(coil, 1.0, pulls),), 1.0)
    assert winding(undone) == pytest.approx(2.5, abs=1e-4)
    assert determinant(closed(undone)) != determinant(closed(tight.hitch_start("crossing", 1.0)))
    pulls = tight.hitch_start("returning", 1.0).strands[0].pulls
    bent = np.vstack([5 * pulls[0], [0, 0, 0], 5 * pulls[1]]) - [0, 2, 0]
    nothing = Tangle((Strand(bent, 1.0, pulls),), 1.0)
    assert determinant(closed(nothing)) == 2
    assert determinant(closed(tight.hitch_start("returning", 1.0))) != 2


@pytest.mark.parametrize("kind", tight.KINDS)
def test_hitches_reproduce_the_table(tied, kind):
    table = json.loads(tight.TABLE.read_text(encoding="utf-8"))
    (row,) = [e for e in table["hitches"] if e["kind"] == kind and e["d_core_over_d_tie"] == 1.0]
    assert tied[kind].energy == pytest.approx(row["extrapolated_d"], rel=0.01)
    assert thickness(tied[kind]) > 0.985


def test_table_converges_and_meets_its_promise():
    table = json.loads(tight.TABLE.read_text(encoding="utf-8"))
    assert {e["knot"] for e in table["known"]} == set(PUBLISHED)
    for e in table["known"]:
        assert e["extrapolated_d"] == pytest.approx(PUBLISHED[e["knot"]], rel=0.001)
        assert e["lengths_d"][-1] == pytest.approx(PUBLISHED[e["knot"]], rel=0.001)
    assert {(e["kind"], e["d_core_over_d_tie"]) for e in table["hitches"]} == set(
        product(tight.KINDS, tight.RATIOS)
    )
    for e in table["hitches"]:
        assert e["lengths_d"][-1] == pytest.approx(e["extrapolated_d"], rel=0.001)
        # two turns at the radius of contact are less than the loop (2 pi (d_tie + d_core)), and
        # two close-packed turns of 6.36 d with equal threads are near it
        assert e["extrapolated_d"] > 2 * math.pi * (1 + e["d_core_over_d_tie"])


@pytest.mark.parametrize("kind", tight.KINDS)
def test_constants_are_the_least_squares_fit(kind):
    table = json.loads(tight.TABLE.read_text(encoding="utf-8"))
    a, b = tight.loop_constants()[kind]
    rows = [e for e in table["hitches"] if e["kind"] == kind]
    left = [e["extrapolated_d"] - a * (1 + e["d_core_over_d_tie"]) - b for e in rows]
    # normal equations: the residuals are orthogonal to both columns (4 decimals are stored)
    assert sum(left) == pytest.approx(0.0, abs=2e-3)
    weighted = [x * e["d_core_over_d_tie"] for x, e in zip(left, rows, strict=True)]
    assert sum(weighted) == pytest.approx(0.0, abs=2e-3)
    assert max(map(abs, left)) == pytest.approx(table["fit"][kind]["residual_max_d"], abs=3e-4)
    assert 13.0 < 2 * a + b < 16.5


def test_constants_load_without_scipy():
    code = (
        "import sys; from motifsearch.thread.tight import loop_constants; loop_constants();"
        "sys.exit('scipy' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_thickness_of_regular_polygons():
    # MinRad of a regular polygon is the radius of its inscribed circle
    t = np.linspace(0, 2 * math.pi, 60, endpoint=False)
    ring = Strand(0.5 * np.stack([np.cos(t), np.sin(t), 0 * t], axis=1))
    assert thickness(Tangle((ring,))) == pytest.approx(math.cos(math.pi / 60), rel=1e-9)


def test_segment_distance_against_a_dense_sample():
    rng = np.random.default_rng(7)
    p, u, q, v = rng.normal(size=(4, 50, 3))
    w = np.linspace(0, 1, 201)
    one = p[:, None] + w[:, None] * u[:, None]
    two = q[:, None] + w[:, None] * v[:, None]
    dense = np.linalg.norm(one[:, :, None] - two[:, None], axis=-1).min(axis=(1, 2))
    found = segment_distance(p, u, q, v)
    assert (found <= dense + 1e-12).all()
    assert np.abs(found - dense).max() < 0.03
    assert float(segment_distance(p[0], u[0], p[0] + [0, 0, 0], u[0])) == pytest.approx(0.0)


def test_excess_of_a_bent_straight_way_is_zero():
    pulls = np.array([[0, -1, 1], [0, -1, -1]]) / math.sqrt(2)
    way = Strand(np.array([3 * pulls[0], [0, 0, 0], 5 * pulls[1]]), 1.0, pulls)
    assert way.excess == pytest.approx(0.0)
    for a, b in combinations((1.0, 2.0, 7.0), 2):
        longer = replace(way, points=np.array([a * pulls[0], [0, 0, 0], b * pulls[1]]))
        assert longer.excess == pytest.approx(0.0)


def test_half_a_turn_is_as_long_as_computed_by_hand(tied):
    # pi r with r = 1; the straight ends run r beside the axis and take no more than the path
    assert tied["half turn"].energy == pytest.approx(math.pi, rel=0.01)
    assert clearance(tied["half turn"]) > 0.98


@pytest.mark.parametrize("slack", [None, 2.0])
def test_gradient_of_the_energy(slack):
    from motifsearch.thread.tighten import _Contacts

    rng = np.random.default_rng(3)
    tangle = tight.hitch_start("returning", 0.75, slack=slack)
    tangle = replace(tangle, strands=tuple(resample(s, 0.4) for s in tangle.strands))
    x = np.vstack([s.points for s in tangle.strands]) * 0.8
    contacts = _Contacts(tangle)
    contacts.renew(x, 0.3)
    contacts.learn(x, 20.0)
    flat, step = x.ravel(), 1e-6 * rng.normal(size=x.size)
    anchor = x + 0.01
    _, slope = contacts.energy(flat, anchor, 20.0, 0.7)
    up, _ = contacts.energy(flat + step, anchor, 20.0, 0.7)
    down, _ = contacts.energy(flat - step, anchor, 20.0, 0.7)
    assert up - down == pytest.approx(2 * float(slope @ step), rel=1e-4)


def test_a_strand_does_not_pass_through_another():
    # linked rings, pulled with hardly any contact force and a huge reach, stay linked
    tangle = tight.known_start("hopf link")
    loose = replace(tangle, strands=tuple(resample(s, 0.6) for s in tangle.strands))
    after = tighten(loose, Settings(rounds=4, inner=25, reach=5.0, stiffness=1.0))
    assert after.energy < loose.energy - 1
    assert determinant([s.points for s in after.strands]) == 2


def test_command_writes_what_it_computes(tmp_path, monkeypatch):
    monkeypatch.setattr(tight, "compute", lambda spacings: {"spacings": list(spacings)})
    path = tmp_path / "table.json"
    tight.main(["--output", str(path), "--spacing", "0.3", "--spacing", "0.2"])
    assert json.loads(path.read_text(encoding="utf-8")) == {"spacings": [0.3, 0.2]}
