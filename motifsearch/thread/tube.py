"""Round tubes along polylines, and whether they overlap.

**Definition.**  A tube of diameter d around a curve does not overlap itself when (1) its radius of
curvature is nowhere below d/2 and (2) no two points further than half a turn, pi d / 2, apart
along it come closer than d; two tubes keep the mean of their diameters apart, and a tube keeps
half the sum from a straight rod.  The *ropelength* of a knot is the least length / d (Gonzalez and
Maddocks, Proc. Natl. Acad. Sci. 96, 1999, 4769-4773; Cantarella, Kusner and Sullivan, Invent.
Math. 150, 2002, 257-286).

For a polyline, (1) uses the radius min(l, l') / (2 tan(angle / 2)) at the corner of two edges of
lengths l and l' (Rawdon's polygonal thickness, cited from memory), and (2) the distance from edge
to edge.

All lengths are in one unit; here that is the diameter of the tying strand.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Index = npt.NDArray[np.int64]


@dataclass(frozen=True)
class Strand:
    """One tube and how its ends are held.

    Attributes:
        points: float64 ``[n, 3]``, vertices of the centreline; n edges when closed, else n - 1.
        diameter: Diameter of the tube.
        pulls: None for a closed strand; else float64 ``[2, 3]``, unit vectors along which the
            first and the last vertex are pulled.
        tension: The weight of this strand's length in the energy.
    """

    points: Array
    diameter: float = 1.0
    pulls: Array | None = None
    tension: float = 1.0

    @property
    def edges(self) -> Array:
        """Edge vectors, float64 ``[edges, 3]``."""
        ring = self.points if self.pulls is not None else np.vstack([self.points, self.points[:1]])
        return np.diff(ring, axis=0)

    @property
    def length(self) -> float:
        """Length of the polyline."""
        return float(np.linalg.norm(self.edges, axis=1).sum())

    @property
    def excess(self) -> float:
        """Length beyond the bent path far end - origin - far end (closed: the length).

        For an end at x that goes on along u to a far point R u, the rest of the strand is
        R - u.x long and the path is R long, as R grows: so u.x is what the path takes.
        """
        if self.pulls is None:
            return self.length
        return self.length - float((self.pulls * self.points[[0, -1]]).sum())


@dataclass(frozen=True)
class Tangle:
    """Strands, and perhaps a rigid straight rod along the z axis.

    Attributes:
        strands: The tubes.
        rod: Diameter of the rod, 0 for none.
    """

    strands: tuple[Strand, ...]
    rod: float = 0.0

    @property
    def energy(self) -> float:
        """Sum of tension times excess."""
        return sum(s.tension * s.excess for s in self.strands)

    def moved(self, x: Array) -> Tangle:
        """Return the tangle with the vertices `x`, float64 ``[all vertices, 3]``."""
        cuts = np.cumsum([len(s.points) for s in self.strands])[:-1]
        parts = np.split(x, cuts)
        strands = (replace(s, points=p) for s, p in zip(self.strands, parts, strict=True))
        return replace(self, strands=tuple(strands))


def resample(strand: Strand, spacing: float) -> Strand:
    """Return the strand with equal edges of about `spacing`, along a cubic spline through it."""
    from scipy.interpolate import CubicSpline

    closed = strand.pulls is None
    ring = np.vstack([strand.points, strand.points[:1]]) if closed else strand.points
    arc = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(ring, axis=0), axis=1))])
    count = max(8, round(float(arc[-1]) / spacing))
    spline = CubicSpline(arc, ring, bc_type="periodic" if closed else "natural")
    at = np.linspace(0.0, arc[-1], count + 1)
    return replace(strand, points=np.asarray(spline(at[:-1] if closed else at), np.float64))


def _point_to_segment(r: Array, e: Array) -> Array:
    """Distance from points to segments from 0 to e; `r` is the point less the start."""
    w = np.clip((r * e).sum(-1) / (e * e).sum(-1), 0.0, 1.0)
    return np.asarray(np.linalg.norm(r - w[..., None] * e, axis=-1))


def segment_distance(p: Array, u: Array, q: Array, v: Array) -> Array:
    """Return the distances between the segments from p to p + u and from q to q + v.

    The squared distance is a convex quadratic on the unit square of the two parameters: its
    least value is the inner critical point, or lies on one of the four sides.

    Args:
        p: float64 ``[..., 3]``, start points of the first segments.
        u: float64 ``[..., 3]``, their edge vectors.
        q: float64 ``[..., 3]``, start points of the second segments.
        v: float64 ``[..., 3]``, their edge vectors.

    Returns:
        float64 ``[...]``, the distances.

    Examples:
        >>> x, y, z = np.eye(3)
        >>> float(segment_distance(-x, 2 * x, z - y, 2 * y))
        1.0
        >>> float(segment_distance(0 * x, x, 3 * x, y))
        2.0
    """
    r = p - q
    sides = [
        _point_to_segment(r, v),
        _point_to_segment(r + u, v),
        _point_to_segment(-r, u),
        _point_to_segment(v - r, u),
    ]
    best = np.minimum.reduce(sides)
    uu, vv, uv = (u * u).sum(-1), (v * v).sum(-1), (u * v).sum(-1)
    ur, vr = (u * r).sum(-1), (v * r).sum(-1)
    det = uu * vv - uv * uv
    solid = det > 1e-12 * uu * vv
    det = np.where(solid, det, 1.0)
    s, t = (uv * vr - ur * vv) / det, (uu * vr - ur * uv) / det
    inner = np.linalg.norm(r + s[..., None] * u - t[..., None] * v, axis=-1)
    inside = solid & (s > 0) & (s < 1) & (t > 0) & (t < 1)
    return np.asarray(np.where(inside, np.minimum(inner, best), best))


def axis_distance(start: Array, edge: Array) -> tuple[Array, Array]:
    """Return how edges pass the z axis.

    Args:
        start: float64 ``[n, 3]``, start points.
        edge: float64 ``[n, 3]``, edge vectors.

    Returns:
        float64 ``[n, 2]``, the vectors (x, y) from the axis to the nearest point of each edge, and
        float64 ``[n]``, where that point lies on the edge (0 to 1).
    """
    a, e = start[:, :2], edge[:, :2]
    w = np.clip(-(a * e).sum(1) / np.maximum((e * e).sum(1), 1e-300), 0.0, 1.0)
    return a + w[:, None] * e, w


def distance_between(one: Strand, two: Strand) -> float:
    """Return the least distance of two strands, or of one from itself beyond half a turn."""
    e, f = one.edges, two.edges
    p, q = one.points[: len(e)], two.points[: len(f)]
    middle = np.linalg.norm((p + e / 2)[:, None] - (q + f / 2)[None], axis=-1)
    if one is two:
        n = len(e)
        apart = np.abs(np.arange(n)[:, None] - np.arange(n)[None, :])
        if one.pulls is None:
            apart = np.minimum(apart, n - apart)
        middle[apart <= math.pi / 2 * one.diameter / (one.length / n) + 1] = math.inf
    longest = max(float(np.linalg.norm(e, axis=1).max()), float(np.linalg.norm(f, axis=1).max()))
    i, j = np.nonzero(middle <= middle.min() + 2 * longest)  # the nearest pair is among these
    if not np.isfinite(middle[i, j]).any():
        return math.inf
    keep = np.isfinite(middle[i, j])
    i, j = i[keep], j[keep]
    return float(segment_distance(p[i], e[i], q[j], f[j]).min())


def clearance(tangle: Tangle) -> float:
    """Return the least distance of strands from one another, from themselves and from the axis."""
    found = []
    for k, s in enumerate(tangle.strands):
        found += [distance_between(s, other) for other in tangle.strands[: k + 1]]
        if tangle.rod:
            out, _ = axis_distance(s.points[: len(s.edges)], s.edges)
            found.append(float(np.linalg.norm(out, axis=1).min()))
    return min(found)


def thickness(tangle: Tangle) -> float:
    """Return by what factor the tubes (and the rod) could be scaled until they just touch.

    1 for tubes without overlap; length / thickness is the length of tubes that are true.
    """
    found = []
    for k, s in enumerate(tangle.strands):
        for other in tangle.strands[: k + 1]:
            found.append(2 * distance_between(s, other) / (s.diameter + other.diameter))
        if tangle.rod:
            out, _ = axis_distance(s.points[: len(s.edges)], s.edges)
            found.append(2 * float(np.linalg.norm(out, axis=1).min()) / (s.diameter + tangle.rod))
        e = s.edges
        a, b = (e, np.roll(e, -1, axis=0)) if s.pulls is None else (e[:-1], e[1:])
        la, lb = np.linalg.norm(a, axis=1), np.linalg.norm(b, axis=1)
        half_tan = np.linalg.norm(np.cross(a, b), axis=1) / (la * lb + (a * b).sum(1))
        radius = np.minimum(la, lb) / (2 * np.maximum(half_tan, 1e-12))
        found.append(2 * float(radius.min()) / s.diameter)
    return min(found)
