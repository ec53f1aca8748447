"""The shortest tubes of a given knot type: pulling a tangle tight.

**Problem.**  Minimise the sum of tension times length of some tubes that must not overlap (see
`motifsearch.thread.tube`), by moving them without passing one through another.  An end that is
pulled along the unit vector u carries the energy - tension u.x: the limit of an end far away, so
there is no error of the order 1 / distance.

**Discretisation.**  A strand is a polyline with n edges of length l.  Vertices that are m edges
apart, m up to a half turn, keep the chord of the tightest circle, ``|x[i+m] - x[i]| >= d sin(m
arcsin(l / d))``: this bounds the curvature (m = 2), the rest follows by Schur's comparison theorem
and is held too because it is better conditioned.  Every vertex keeps the required distance from
every edge further away and of other strands, and every edge from the rod.  Errors are of
order l^2.  Length is taken as ``sqrt(n sum l_i^2) >= sum l_i`` (Cauchy-Schwarz), equal when the
edges are, so the spacing evens itself out.

**Method.**  Augmented Lagrangian with a multiplier per contact (Nocedal and Wright, Numerical
Optimization, 2nd ed., section 17.3) with a proximal term once the strands touch, minimised by
L-BFGS-B in a box around the last shape.  A step is accepted only if every vertex moved less than
half of the least clearance.  Along the straight motion between the two shapes distances then stay
positive, so no strand passed through another, nor through the axis of the rod: the knot type is
kept.  (Edges less than half a turn apart along one strand are not in the clearance; they
are kept apart by the curvature bound.)
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from motifsearch.thread.tube import Array, Index, Strand, Tangle, axis_distance, clearance


@dataclass(frozen=True)
class Settings:
    """How hard to pull.

    Attributes:
        rounds: Most updates of the multipliers.
        inner: Most L-BFGS-B iterations in a round.
        stiffness: Penalty on overlap, in tension per diameter.
        reach: Largest move of a coordinate in a round, in diameters; a third once in contact.
        damping: Weight of the proximal term once the strands are in contact.
        overlap: Stop when the deepest overlap (diameters) is below this, and
        settled: when the energy changes by less than this fraction in a round.
    """

    rounds: int = 100
    inner: int = 80
    stiffness: float = 20.0
    reach: float = 0.2
    damping: float = 1.0
    overlap: float = 3e-4
    settled: float = 2e-5


@dataclass(frozen=True)
class _Active:
    """The contacts that can matter in a round, as flat arrays."""

    vertex: Index
    edge: Index
    need: Array
    low: Index
    high: Index
    chord: Array


class _Contacts:
    """The constraints of a tangle and their multipliers; overlaps are negative gaps."""

    def __init__(self, tangle: Tangle) -> None:
        self.tangle = tangle
        counts = [len(s.points) for s in tangle.strands]
        self.first = np.concatenate([[0], np.cumsum(counts)]).astype(np.int64)
        self.size = int(self.first[-1])
        heads, tails, widths = [], [], []
        for f, s in zip(self.first[:-1], tangle.strands, strict=True):
            k = np.arange(len(s.edges))
            heads.append(f + k)
            tails.append(f + (k + 1) % len(s.points))
            widths.append(np.full(len(k), (s.diameter + tangle.rod) / 2))
        self.head: Index = np.concatenate(heads)
        self.tail: Index = np.concatenate(tails)
        self.rod_need: Array = np.concatenate(widths)
        self.pair_force = np.zeros((self.size, len(self.head)))
        self.chord_force = np.zeros((self.size, self.size))
        self.rod_force = np.zeros(len(self.head))
        self.held = [
            float(s.points[end] @ u)
            for s in tangle.strands
            if s.pulls is not None
            for end, u in zip((0, -1), s.pulls, strict=True)
        ]

    def _own(self, s: Strand, base: int) -> tuple[Array, list[tuple[Index, Index, Array]]]:
        """Return a strand's vertex-to-edge needs against itself, and its chords."""
        n, edges = len(s.points), len(s.edges)
        phi = math.asin(min(0.9, s.length / edges / s.diameter))
        window = math.ceil(math.pi / 2 / phi) + 1
        i = np.arange(n)
        apart = np.abs(i[:, None] - np.arange(edges)[None, :])
        later = np.abs(i[:, None] - np.arange(edges)[None, :] - 1)
        if s.pulls is None:
            apart, later = np.minimum(apart, n - apart), np.minimum(later, n - later)
        need = np.where(np.minimum(apart, later) > window, s.diameter, 0.0)
        chords = []
        for m in sorted({2, 3, 4, 6, window // 2, window - 2, window - 1, window}):
            if not 2 <= m <= n // 2:
                continue
            low = base + (i if s.pulls is None else i[:-m])
            high = base + (i + m) % n if s.pulls is None else low + m
            chords.append((low, high, np.full(len(low), s.diameter * math.sin(m * phi))))
        return need, chords

    def renew(self, x: Array, reach: float) -> None:
        """Collect the contacts that can matter while no vertex moves more than `reach`."""
        strands = self.tangle.moved(x).strands
        at = np.concatenate([[0], np.cumsum([len(s.edges) for s in strands])])
        need = np.zeros_like(self.pair_force)
        chords: list[tuple[Index, Index, Array]] = []
        for k, s in enumerate(strands):
            mine, edges = slice(self.first[k], self.first[k + 1]), slice(at[k], at[k + 1])
            need[mine, edges], own = self._own(s, int(self.first[k]))
            chords += own
            for j, other in enumerate(strands):
                if j != k:
                    need[mine, at[j] : at[j + 1]] = (s.diameter + other.diameter) / 2
        e = x[self.tail] - x[self.head]
        r = x[:, None, :] - x[self.head][None]
        w = np.clip((r * e).sum(-1) / (e * e).sum(-1), 0.0, 1.0)
        dist = np.linalg.norm(r - w[..., None] * e, axis=-1)
        vertex, edge = np.nonzero((need > 0) & (dist < need + 2 * reach))
        low, high, chord = (np.concatenate([c[i] for c in chords]) for i in range(3))
        self.on = _Active(vertex, edge, need[vertex, edge], low, high, chord)

    def _gaps(self, x: Array) -> tuple[Array, Array, Array, tuple[Array, ...]]:
        """Return the gaps of pairs, chords and rod, and the geometry behind them."""
        on = self.on
        e = x[self.tail] - x[self.head]
        ee = e[on.edge]
        r = x[on.vertex] - x[self.head[on.edge]]
        w = np.clip((r * ee).sum(1) / (ee * ee).sum(1), 0.0, 1.0)
        gap = r - w[:, None] * ee
        dist = np.sqrt((gap * gap).sum(1))
        span = x[on.high] - x[on.low]
        wide = np.sqrt((span * span).sum(1))
        out, v = axis_distance(x[self.head], e)
        away = np.sqrt((out * out).sum(1))
        rod = away - self.rod_need if self.tangle.rod else np.full(len(e), math.inf)
        return dist - on.need, wide - on.chord, rod, (gap, dist, w, span, wide, out, away, v)

    def _loads(self, gaps: tuple[Array, Array, Array], stiffness: float) -> tuple[Array, ...]:
        """Return the contact forces of pairs, chords and rod: multiplier plus penalty."""
        on = self.on
        known = (self.pair_force[on.vertex, on.edge], self.chord_force[on.low, on.high])
        forces = (*known, self.rod_force)
        return tuple(np.maximum(0.0, f - stiffness * g) for f, g in zip(forces, gaps, strict=True))

    def _pull(self, x: Array, slope: Array) -> float:
        """Return tension times length and the work of the ends; add the gradient to `slope`."""
        total, hold = 0.0, iter(self.held)
        for k, s in enumerate(self.tangle.strands):
            own = slice(self.first[k], self.first[k + 1])
            e = replace(s, points=x[own]).edges
            size = math.sqrt(len(e) * float((e * e).sum()))
            total += s.tension * size
            pull = s.tension * len(e) / size * e
            grad = slope[own]
            if s.pulls is None:
                grad += np.roll(pull, 1, axis=0) - pull
                continue
            grad[:-1] -= pull
            grad[1:] += pull
            for end, u in zip((0, -1), s.pulls, strict=True):
                far = float(x[own][end] @ u)
                off = far - next(hold)  # sliding along u costs nothing: hold the end where it was
                total += s.tension * (off * off / 2 - far)
                grad[end] += s.tension * (off - 1.0) * u
        return total

    def energy(self, flat: Array, anchor: Array, stiff: float, damp: float) -> tuple[float, Array]:
        """Return the augmented Lagrangian and its gradient at the flattened vertices."""
        x = flat.reshape(-1, 3)
        slope = damp * (x - anchor)
        total = float((slope * (x - anchor)).sum()) / 2 + self._pull(x, slope)
        pair, chord, rod, (gap, dist, w, span, wide, out, away, v) = self._gaps(x)
        loads = self._loads((pair, chord, rod), stiff)
        total += sum(float(load @ load) for load in loads) / (2 * stiff)
        hit = np.nonzero(loads[0])[0]
        f = (loads[0][hit] / dist[hit])[:, None] * gap[hit]
        edge, ww = self.on.edge[hit], w[hit][:, None]
        _add(slope, self.on.vertex[hit], -f)
        _add(slope, self.head[edge], (1 - ww) * f)
        _add(slope, self.tail[edge], ww * f)
        hit = np.nonzero(loads[1])[0]
        f = (loads[1][hit] / wide[hit])[:, None] * span[hit]
        _add(slope, self.on.high[hit], -f)
        _add(slope, self.on.low[hit], f)
        if self.tangle.rod:
            f = np.zeros((len(v), 3))
            f[:, :2] = (loads[2] / away)[:, None] * out
            _add(slope, self.head, -(1 - v[:, None]) * f)
            _add(slope, self.tail, -v[:, None] * f)
        return total, slope.ravel()

    def learn(self, x: Array, stiffness: float) -> float:
        """Update the multipliers at `x`; return the deepest overlap."""
        *gaps, _ = self._gaps(x)
        pair, chord, rod = self._loads((gaps[0], gaps[1], gaps[2]), stiffness)
        self.pair_force[:] = 0.0
        self.pair_force[self.on.vertex, self.on.edge] = pair
        self.chord_force[:] = 0.0
        self.chord_force[self.on.low, self.on.high] = chord
        self.rod_force = rod
        return max(0.0, -min(float(g.min()) for g in gaps if len(g)))


def _add(target: Array, index: Index, values: Array) -> None:
    """Add rows `values` to the rows `index` of `target`, repeated rows too."""
    for axis in range(3):
        target[:, axis] += np.bincount(index, values[:, axis], len(target))


def tighten(tangle: Tangle, settings: Settings | None = None) -> Tangle:
    """Return the tangle pulled tight, with its knot type kept (see the module).

    Args:
        tangle: A loose shape; it may overlap a little, but no strand may touch a centreline.
        settings: Effort and tolerances.

    Returns:
        The same strands, with as many vertices, in a local minimum.

    Raises:
        ArithmeticError: A step could have passed one strand through another.
    """
    from scipy.optimize import Bounds, minimize

    opts = settings or Settings()
    contacts = _Contacts(tangle)
    x = np.vstack([s.points for s in tangle.strands])
    before, now = math.inf, tangle.energy
    for _ in range(opts.rounds):
        clear = clearance(tangle.moved(x))
        settling = abs(before - now) < 0.002 * now
        damping = opts.damping if settling else 0.0
        reach = min(opts.reach / 3 if settling else opts.reach, 0.95 * clear / 2 / math.sqrt(3))
        contacts.renew(x, math.sqrt(3) * reach)
        flat = x.ravel()
        result = minimize(
            contacts.energy,
            flat,
            args=(x, opts.stiffness, damping),
            jac=True,
            method="L-BFGS-B",
            bounds=Bounds(flat - reach, flat + reach),
            options={"maxiter": opts.inner, "maxcor": 20, "ftol": 1e-10, "gtol": 1e-6},
        )
        moved = np.asarray(result.x, np.float64).reshape(-1, 3)
        if float(np.linalg.norm(moved - x, axis=1).max()) >= clear / 2:
            raise ArithmeticError("a step could have passed one strand through another")
        x = moved
        overlap = contacts.learn(x, opts.stiffness)
        before, now = now, tangle.moved(x).energy
        if overlap < opts.overlap and abs(now - before) < opts.settled * abs(now):
            break
    return tangle.moved(x)
