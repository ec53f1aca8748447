"""The ends of a band: the head knot with its loop above, the braid and its knot below.

Outside the fabric the strands run free, so they are laid one short piece at a time.  A strand is
a line of points (x, y) with a height z along it; its pieces are painted from the lowest to the
highest, each as a lit round of the strand's width.  The braid is the three-strand one: bundle k
follows x = A sin(t + 2 pi k / 3), z = sin(2 t + 4 pi k / 3), so that at every crossing the outer
bundle passes over the middle one.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from motifsearch.base.colour import rgb_array
from motifsearch.draw.stamps import Cloth, Floats, thread_base, tint
from motifsearch.pattern.design import Pattern

Points = npt.NDArray[np.float64]


@dataclass
class _Piece:
    """One short straight piece of a strand, in pixels."""

    z: float
    x0: float
    y0: float
    x1: float
    y1: float
    radius: float
    start: float
    strand: int


@dataclass
class _Layout:
    """The pieces gathered so far."""

    pieces: list[_Piece] = field(default_factory=list)

    def lay(self, line: Points, z: Points, radius: float, strand: int) -> None:
        """Add a strand along `line` (float64 ``[n, 2]``, pixels) at heights `z` (``[n]``)."""
        along = 0.0
        for n in range(len(line) - 1):
            (x0, y0), (x1, y1) = line[n], line[n + 1]
            high = float(z[n] + z[n + 1]) / 2
            piece = _Piece(high, float(x0), float(y0), float(x1), float(y1), radius, along, strand)
            self.pieces.append(piece)
            along += float(np.hypot(x1 - x0, y1 - y0))


def _paint(rgb: Floats, cover: Floats, pieces: list[_Piece], base: Floats, light_x: float) -> None:
    """Paint pieces in turn, each over what lies there.

    Windows of one size (float32 ``[n, side, side]``) say where each piece is; the pixels that it
    covers are lit at once, and only laying them down goes one by one.
    """
    tall, wide = cover.shape
    ends = np.array([(p.x0, p.y0, p.x1, p.y1) for p in pieces])
    radius = np.array([p.radius for p in pieces], np.float32)[:, None, None]
    start = np.array([p.start for p in pieces], np.float32)[:, None, None]
    way = ends[:, 2:] - ends[:, :2]
    length = np.maximum(np.hypot(way[:, 0], way[:, 1]), 1e-6)
    side = int(np.ceil(float(np.max(np.abs(way))) + 2 * float(radius.max()) + 4))
    corner = np.floor((ends[:, :2] + ends[:, 2:]) / 2 - side / 2).astype(int)
    from_start = (corner - ends[:, :2] + 0.5).astype(np.float32)
    steps = np.arange(side, dtype=np.float32)
    x = (from_start[:, 0, None] + steps)[:, None, :]
    y = (from_start[:, 1, None] + steps)[:, :, None]
    ux, uy = ((way / length[:, None]).astype(np.float32).T)[:, :, None, None]
    long = length.astype(np.float32)[:, None, None]
    along = x * ux + y * uy
    across = (y * ux - x * uy) / radius
    beyond = np.maximum(np.maximum(-along, along - long), 0.0)
    distance = np.sqrt(beyond**2 + (across * radius) ** 2)
    alpha = np.clip(radius - distance + 0.5, 0.0, 1.0)
    # Most of a window is empty: light only what is covered, pixel by pixel in one line.
    seen = alpha > 0
    of = np.nonzero(seen)[0]
    tilt = np.clip(across[seen], -1.0, 1.0)
    up = np.sqrt(1.0 - tilt * tilt)
    # The normal of a round thread: its side part points across the thread's way.
    side_light = (-uy * np.float32(0.40 * light_x) - ux * np.float32(0.55))[of, 0, 0]
    facing = np.clip(tilt * side_light + up * np.float32(0.735), 0.0, 1.0)
    thick = radius[of, 0, 0] * np.float32(0.62)
    phase = (along[seen] + start[of, 0, 0]) / thick + np.arcsin(tilt) * np.float32(0.55)
    ply = 1.0 - np.float32(0.09) * (1.0 - np.abs(np.sin(np.float32(np.pi) * phase)))
    light = (0.44 + 0.72 * facing) * (0.40 + 0.60 * up**0.7) * ply
    tone = base[np.array([p.strand for p in pieces])[of]]
    cube = facing * facing * facing
    shine = np.float32(0.08) * cube * cube * cube
    paint = np.zeros((*alpha.shape, 3), np.float32)
    paint[seen] = tint(tone, light.astype(np.float32), shine.astype(np.float32))
    for n in range(len(pieces)):
        left, top = corner[n]
        x0, y0 = max(0, left), max(0, top)
        x1, y1 = min(wide, left + side), min(tall, top + side)
        if x0 >= x1 or y0 >= y1:
            continue
        there = (n, slice(y0 - top, y1 - top), slice(x0 - left, x1 - left))
        a = alpha[there]
        old = cover[y0:y1, x0:x1] * (1.0 - a)
        new = old + a
        share = (a / np.maximum(new, np.float32(1e-6)))[..., None]
        cover[y0:y1, x0:x1] = new
        rgb[y0:y1, x0:x1] += (paint[there] - rgb[y0:y1, x0:x1]) * share


def _curve(points: list[tuple[float, float]], n: int) -> Points:
    """Return a smooth line (float64 ``[n, 2]``) from the first to the last of four points."""
    t = np.linspace(0.0, 1.0, n)[:, None]
    a, b, c, d = (np.array(p, np.float64) for p in points)
    line: Points = (1 - t) ** 3 * a + 3 * (1 - t) ** 2 * t * b + 3 * (1 - t) * t**2 * c + t**3 * d
    return line


def _fan(
    layout: _Layout,
    order: list[int],
    edge_y: float,
    knot_y: float,
    mid: float,
    pitch: float,
    half: float,
) -> None:
    """Lay the strands between the fabric's edge and a knot."""
    s = len(order)
    inner = pitch * float(np.sign(knot_y - edge_y))
    for n, strand in enumerate(order):
        x0 = (n + 1.5) * pitch
        x1 = mid + (n - (s - 1) / 2) / max(1, s - 1) * 2 * half
        gap = knot_y - edge_y
        line = _curve(
            [
                (x0, edge_y - inner),
                (x0, edge_y + 0.4 * gap),
                (x1, edge_y + 0.6 * gap),
                (x1, knot_y),
            ],
            14,
        )
        z = np.full(14, 0.1 + 0.02 * abs(n - (s - 1) / 2))
        layout.lay(line, z, 0.36 * pitch, strand)


def _knot(
    layout: _Layout, order: list[int], mid: float, y: float, pitch: float, size: float
) -> None:
    """Lay an overhand knot of all strands together: turns of the bundle, one above another."""
    s = len(order)
    turns = max(5, min(s, 9))
    for n in range(turns):
        strand = order[(n * 2 + n * 2 // s) % s]
        v = (n - (turns - 1) / 2) / turns * 2
        wide = size * pitch * float(np.sqrt(1.0 - (0.78 * v) ** 2))
        cy = y + v * size * 0.86 * pitch
        lean = 0.42 * size * pitch
        bow = 0.30 * size * pitch
        line = _curve(
            [
                (mid - wide, cy + lean * 0.5),
                (mid - wide * 0.4, cy + bow * 0.2),
                (mid + wide * 0.4, cy - bow * 0.9),
                (mid + wide, cy - lean * 0.9),
            ],
            12,
        )
        layout.lay(line, np.full(12, 3.0 + 0.01 * n), 0.40 * pitch * min(1.2, size / 1.5), strand)
    # The end that closes the knot runs across the turns.
    strand = order[s // 2]
    line = _curve(
        [
            (mid - size * 0.9 * pitch, y - size * 0.5 * pitch),
            (mid - size * pitch * 0.3, y),
            (mid + size * pitch * 0.3, y + size * 0.2 * pitch),
            (mid + size * 0.85 * pitch, y + size * 0.72 * pitch),
        ],
        12,
    )
    layout.lay(line, np.full(12, 4.0), 0.42 * pitch * min(1.2, size / 1.5), strand)


def _loop(
    layout: _Layout,
    order: list[int],
    mid: float,
    knot_y: float,
    top: float,
    pitch: float,
    unit: float,
) -> None:
    """Lay the loop that the folded threads leave above the head knot."""
    s = len(order)
    threads = max(2, (s + 1) // 2)
    t = np.linspace(0.0, np.pi * 2, 26)
    for n in range(threads):
        shrink = 1.0 - 0.44 * n / threads
        wide = 2.0 * unit * shrink
        middle = (knot_y + top) / 2
        tall = (knot_y - top) / 2
        swell = np.sin(t / 2) ** 1.2
        x = mid - wide * np.sin(t) * swell
        y = middle + tall * np.cos(t) + (1.0 - shrink) * tall * 0.75 * swell
        line = np.stack([x, y], axis=1)
        layout.lay(line, np.full(26, 1.0 - 0.1 * n), 0.30 * pitch, order[(2 * n) % s])


def _braid(
    layout: _Layout, order: list[int], mid: float, top: float, low: float, pitch: float, unit: float
) -> None:
    """Lay the three-strand braid of three bundles of neighbouring strands."""
    parts = np.array_split(np.array(order), 3)
    steps = 34
    t = np.linspace(0.0, 1.0, steps)
    turns = (low - top) / (3.6 * unit)
    swing = 0.82 * unit
    for k, part in enumerate(parts):
        phase = 2 * np.pi * (t * turns + k / 3)
        gather = np.clip(np.minimum(t, 1 - t) * 8, 0.25, 1.0)
        for m, strand in enumerate(part):
            offset = (m - (len(part) - 1) / 2) * 0.72 / len(part) * unit
            x = mid + swing * gather * np.sin(phase) + offset * gather
            z = 0.5 + 0.4 * np.sin(2 * phase) + 0.004 * m
            line = np.stack([x, top + t * (low - top)], axis=1)
            layout.lay(line, z, min(0.36 * pitch, 0.44 / len(part) ** 0.5 * unit), int(strand))


def _tassel(
    layout: _Layout, order: list[int], mid: float, top: float, low: float, pitch: float, unit: float
) -> None:
    """Lay the cut ends below the last knot."""
    s = len(order)
    for n, strand in enumerate(order):
        v = (n - (s - 1) / 2) / max(1, s - 1) * 2
        line = _curve(
            [
                (mid + v * 0.5 * unit, top),
                (mid + v * 0.9 * unit, top + 0.4 * (low - top)),
                (mid + v * 1.3 * unit, top + 0.7 * (low - top)),
                (mid + v * 1.7 * unit, low - abs(v) ** 2 * 0.5 * pitch),
            ],
            12,
        )
        layout.lay(line, np.full(12, 0.2 - 0.1 * abs(v)), 0.25 * pitch, strand)


#: Pixels that are put together at once.
AT_ONCE_PX = 1_000_000


def ends_px(strands: int, pitch: int) -> tuple[int, int]:
    """Return the pixels that `with_ends` adds above and below the cloth."""
    gap, size, unit = _measures(strands, pitch)
    knot = 1.6 * size * pitch
    head = round(pitch + 5.2 * unit + knot + gap)
    return head, round(gap + knot + 10.0 * unit + knot + 4.0 * unit + pitch)


def _measures(s: int, pitch: int) -> tuple[float, float, float]:
    """Return the way to the knot, the size of the knot, and the width of all strands as a rope."""
    # All strands together are a rope whose width goes with the root of their number.
    unit = pitch * min(max((s / 8) ** 0.5, 0.85), 1.8)
    return (1.6 + 0.28 * s) * pitch, 1.15 + 0.055 * s, unit


def with_ends(
    cloth: Cloth, pattern: Pattern, before: list[int], after: list[int], pitch: int, light_x: int
) -> Cloth:
    """Return the cloth with loop, head knot, braid, end knot and cut ends.

    Args:
        cloth: The fabric, ``[H, W]``.
        pattern: The design, for its colours.
        before: The strands at the top as seen from the left, by their position at the start.
        after: The strands at the bottom.
        pitch: Pixels from strand to strand.
        light_x: -1 when the light comes from the left, 1 from the right.
    """
    tall, wide = cloth.cover.shape
    s = pattern.strands
    gap, size, unit = _measures(s, pitch)
    loop, braid, tail = 5.2 * unit, 10.0 * unit, 4.0 * unit
    knot = 1.6 * size * pitch
    head, foot = ends_px(s, pitch)
    mid = wide / 2
    layout = _Layout()
    knot_y = pitch + loop + knot * 0.5
    _loop(layout, before, mid, knot_y, float(pitch), pitch, unit)
    _knot(layout, before, mid, knot_y, pitch, size)
    _fan(layout, before, float(head), knot_y, mid, pitch, 0.9 * unit)
    edge = head + tall
    braid_top = edge + gap
    _fan(layout, after, float(edge), braid_top, mid, pitch, 0.42 * unit)
    braid_low = braid_top + braid
    _braid(layout, after, mid, braid_top - 0.6 * pitch, braid_low, pitch, unit)
    _knot(layout, after, mid, braid_low + knot * 0.4, pitch, size * 0.9)
    _tassel(layout, after, mid, braid_low + knot * 0.4, braid_low + knot + tail, pitch, unit)
    rgb = np.zeros((head + tall + foot, wide, 3), np.float32)
    cover = np.zeros((head + tall + foot, wide), np.float32)
    base = thread_base(rgb_array([pattern.hex_of(k) for k in range(s)]))
    pieces = sorted(layout.pieces, key=lambda p: p.z)
    for n in range(0, len(pieces), 128):
        _paint(rgb, cover, pieces[n : n + 128], base, float(light_x))
    step = max(1, AT_ONCE_PX // wide)
    for first in range(0, tall, step):
        mine = slice(first, min(first + step, tall))
        band = slice(head + mine.start, head + mine.stop)
        over = cloth.cover[mine][..., None]
        under = cover[band][..., None]
        both = 1.0 - (1.0 - over) * (1.0 - under)
        mixed = cloth.rgb[mine] * over + rgb[band] * under * (1.0 - over)
        rgb[band] = mixed / np.maximum(both, 1e-6)
        cover[band] = both[..., 0]
    return Cloth(rgb, cover)
