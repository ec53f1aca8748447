"""Stamps: one knot of cloth, computed once per kind and size and then only copied.

A knot stands in the middle of a cell two strand pitches wide and two row pitches high; cells of
neighbouring rows overlap by half, as bricks do.  The two strands of a knot come from the two
upper corners of the brick lattice and leave to the two lower ones, so the cell that is really
the knot's own is the diamond |x| + |y| <= 1 (in pitches), and diamonds fill the plane.

In that diamond lie the two wraps of the tying strand, seen as two short round bars: both slanted
the way that the tying strand goes for a crossing knot, one each way for a returning one.  Under
them the core strand runs from corner to corner and shows where it enters and leaves.

Every stamp is a set of maps: ``cover`` (share of the pixel inside), ``height`` (for deciding which
of two overlapping knots lies on top), ``light`` (a factor on the thread's colour), ``sheen`` (light
added to it) and ``second`` (share of the cover that shows the second colour, the core strand's).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt

from motifsearch.base.arrays import U8

Floats = npt.NDArray[np.float32]

#: Stamp numbers: a knot's own code on the face, BACK + code on the back, then the helpers.
BACK: Final = 4
THROUGH: Final = 8
WAIT_LEFT: Final = 9
WAIT_RIGHT: Final = 10
EMPTY: Final = 11
N_STAMPS: Final = 12

#: Degrees from the horizontal of the wraps of crossing and returning knots on the face.
CROSSING_SLANT: Final = 40.0
RETURNING_SLANT: Final = 27.0


@dataclass(frozen=True)
class Stamps:
    """All stamps of one size, float32 ``[N_STAMPS, 2 pitch, 2 pitch]`` each.

    Attributes:
        cover: Share of the pixel inside the thread, 0..1.
        height: Height over the ground, in pitches.
        light: Factor on the colour.
        sheen: Light added to the colour, 0..1.
        second: Share of the cover that shows the second colour.
    """

    cover: Floats
    height: Floats
    light: Floats
    sheen: Floats
    second: Floats


@dataclass(frozen=True)
class _Bar:
    """A piece of thread: centre, half length, half width (pitches), slant (degrees), height."""

    x: float
    y: float
    along: float
    across: float
    slant: float
    top: float
    second: bool = False
    bow: float = 0.0
    dive: float = 1.0
    twist: float = 1.0


def _ground(code: int) -> list[_Bar]:
    """Return the ways of both strands through the node, under the wraps, as `rr` or `rl`."""
    reach, width, top = 0.62, 0.36, 0.34
    if code == 0:
        return [
            _Bar(0.0, 0.0, 1.15, width, 45.0, top, dive=0.0),
            _Bar(0.0, 0.0, 1.15, width, -45.0, top + 0.01, second=True, dive=0.0),
        ]
    return [
        _Bar(-0.40, -0.40, reach, width, 45.0, top, dive=0.0),
        _Bar(-0.40, 0.40, reach, width, -45.0, top, dive=0.0),
        _Bar(-0.30, 0.0, 0.50, 0.34, 90.0, top, dive=1.0),
        _Bar(0.40, -0.40, reach, width, -45.0, top + 0.01, second=True, dive=0.0),
        _Bar(0.40, 0.40, reach, width, 45.0, top + 0.01, second=True, dive=0.0),
    ]


def _wraps(code: int) -> list[_Bar]:
    """Return the bars of a knot on the face, as `rr` or `rl`; the others are their mirrors."""
    if code == 0:
        slant = CROSSING_SLANT
        px, py = np.sin(np.radians(slant)) * 0.35, np.cos(np.radians(slant)) * 0.35
        return [
            *_ground(code),
            _Bar(px, -py, 0.82, 0.42, slant, 0.62, bow=0.05),
            _Bar(-px, py, 0.82, 0.42, slant, 0.61, bow=-0.05),
        ]
    slant = RETURNING_SLANT
    return [
        *_ground(code),
        _Bar(0.0, -0.34, 0.86, 0.42, slant, 0.62, bow=0.05),
        _Bar(0.0, 0.34, 0.86, 0.42, -slant, 0.61, bow=-0.05),
    ]


def _back(code: int) -> list[_Bar]:
    """Return the bars of a knot as the back shows it, for `rr` or `rl` seen from behind."""
    if code == 0:
        slant = CROSSING_SLANT
        px, py = np.sin(np.radians(slant)) * 0.47, np.cos(np.radians(slant)) * 0.47
        return [
            *_ground(code),
            _Bar(px, -py, 0.70, 0.30, slant, 0.50),
            _Bar(-px, py, 0.70, 0.30, slant, 0.50),
            _Bar(0.0, 0.0, 0.66, 0.36, slant - 82.0, 0.60, second=True),
        ]
    return [
        *_ground(code),
        _Bar(0.0, -0.46, 0.78, 0.30, RETURNING_SLANT, 0.50),
        _Bar(0.0, 0.46, 0.78, 0.30, -RETURNING_SLANT, 0.50),
        _Bar(0.10, 0.0, 0.62, 0.36, 88.0, 0.60, second=True),
    ]


def _bars(stamp: int) -> tuple[list[_Bar], bool]:
    """Return the bars of a stamp and whether they are to be mirrored left to right."""
    if stamp < BACK:
        return _wraps(stamp & 2), bool(stamp & 1)
    if stamp < THROUGH:
        return _back(stamp & 2), bool(stamp & 1)
    if stamp == THROUGH:
        left = _Bar(-0.5, 0.0, 1.02, 0.36, 90.0, 0.34)
        return [left, _Bar(0.5, 0.0, 1.02, 0.36, 90.0, 0.34, second=True)], False
    if stamp in (WAIT_LEFT, WAIT_RIGHT):
        return [_Bar(0.66, 0.0, 1.08, 0.34, 90.0, 0.44, bow=-0.30)], stamp == WAIT_RIGHT
    return [], False


def _raise(stamp: int, n: int) -> tuple[Floats, Floats, Floats]:
    """Return height, twist (-1..1) and second-colour mask of a stamp on an n x n grid."""
    axis = (np.arange(n, dtype=np.float32) + 0.5) * (2.0 / n) - 1.0
    bars, mirror = _bars(stamp)
    x, y = np.meshgrid(-axis if mirror else axis, axis)
    height = np.zeros((n, n), np.float32)
    twist = np.zeros((n, n), np.float32)
    second = np.zeros((n, n), np.float32)
    if stamp < THROUGH:
        # The bottom of the grooves, so that cloth has no holes.
        under = np.abs(x) + np.abs(y) <= 1.12
        height[under] = 0.06
        second[under] = 1.0
    elif stamp in (WAIT_LEFT, WAIT_RIGHT):
        height[(np.abs(x) + np.abs(y) <= 1.12) & (x > 0.45)] = 0.06
    for bar in bars:
        angle = np.radians(bar.slant)
        dx, dy = x - bar.x, y - bar.y
        u = (dx * np.cos(angle) + dy * np.sin(angle)) / bar.along
        w = -dx * np.sin(angle) + dy * np.cos(angle)
        v = (w + bar.bow * (1.0 - u * u)) / bar.across
        round_across = np.sqrt(np.clip(1.0 - v * v, 0.0, None))
        round_along = np.clip(1.0 - np.abs(u) ** 3.0, 0.0, None) ** 0.5
        if bar.dive == 0.0:
            round_along = (np.abs(u) <= 1.0).astype(np.float32)
        z = bar.top * round_across**0.7 * round_along
        on_top = z > height
        # Plies of the cotton: helices on the round of the thread, seen from above.
        phase = u * bar.along / 0.23 + np.arcsin(np.clip(v, -1.0, 1.0)) * 0.55
        ply = np.abs(np.sin(np.pi * phase)) * bar.twist
        height = np.where(on_top, z, height)
        twist = np.where(on_top, ply, twist)
        second = np.where(on_top, np.float32(bar.second), second)
    return height.astype(np.float32), twist.astype(np.float32), second


def _shade(height: Floats, twist: Floats, n: int, light_x: float) -> tuple[Floats, Floats]:
    """Return light and sheen of a height map lit from above, the side `light_x` and the front."""
    step = 2.0 / n
    relief = height + np.float32(0.014) * twist * (height > 0)
    gy, gx = np.gradient(relief.astype(np.float64), step)
    limit = 3.0
    gx, gy = np.clip(gx, -limit, limit), np.clip(gy, -limit, limit)
    norm = np.sqrt(gx * gx + gy * gy + 1.0)
    lx, ly, lz = 0.40 * light_x, -0.55, 0.735
    facing = (-gx * lx - gy * ly + lz) / norm
    half = np.array([lx, ly, lz + 1.0])
    half = half / np.linalg.norm(half)
    mirror = np.clip((-gx * half[0] - gy * half[1] + half[2]) / norm, 0.0, 1.0)
    deep = np.clip(height / 0.60, 0.0, 1.0)
    hollow = 0.24 + 0.76 * deep**0.6  # light that finds its way into the grooves
    light = (0.44 + 0.72 * np.clip(facing, 0.0, 1.0)) * hollow
    light = light * (1.0 - 0.09 * (1.0 - twist) * (height > 0))
    sheen = 0.10 * mirror**9 * deep
    return light.astype(np.float32), sheen.astype(np.float32)


def _shrink(full: Floats, k: int) -> Floats:
    """Return the means of k x k blocks, float32 ``[n / k, n / k]``."""
    n = full.shape[0] // k
    small: Floats = full.reshape(n, k, n, k).mean(axis=(1, 3), dtype=np.float64).astype(np.float32)
    return small


@lru_cache(maxsize=32)
def stamps(pitch: int, light_x: int = -1) -> Stamps:
    """Return the stamps whose strand and row pitch are `pitch` pixels.

    Args:
        pitch: Pixels, at least 2.
        light_x: -1 when the light comes from the left, 1 from the right.

    Examples:
        >>> stamps(7).cover.shape
        (12, 14, 14)
    """
    k = max(2, 96 // (2 * pitch))
    n = 2 * pitch * k
    maps: list[list[Floats]] = [[], [], [], [], []]
    for stamp in range(N_STAMPS):
        height, twist, second = _raise(stamp, n)
        light, sheen = _shade(height, twist, n, float(light_x))
        inside = (height > 0.02).astype(np.float32)
        cover = _shrink(inside, k)
        safe = np.maximum(cover, np.float32(1e-6))
        maps[0].append(cover)
        for slot, full in enumerate((height, light, sheen, second), start=1):
            maps[slot].append((_shrink(full * inside, k) / safe).astype(np.float32))
    return Stamps(*(np.stack(m) for m in maps))


@dataclass(frozen=True)
class Cloth:
    """A drawn piece before it is laid on paper.

    Attributes:
        rgb: float32 ``[H, W, 3]``, 0..1.
        cover: float32 ``[H, W]``, 0..1.
    """

    rgb: Floats
    cover: Floats


#: The light in which a wrap shows its thread's own colour: all that lies between, on its crown.
FLAT: Final = (0.89, 1.03)
#: Sheen below this is part of the thread's own look; what is above it is stretched.
DULL: Final = 0.06
SHINE: Final = 2.5


def thread_base(colours: U8) -> Floats:
    """Return thread colours (uint8 ``[k, 3]``) as float32 0..1."""
    return colours.astype(np.float32) / np.float32(255.0)


def tint(base: Floats, light: Floats, sheen: Floats) -> Floats:
    """Return base ``[..., 3]`` under light and sheen ``[...]``, 0..1.

    On the crown of a wrap, where the light is in `FLAT`, the colour is the thread's own to the
    last bit, so that colours can be chosen by the picture.  Shadows on thread keep the thread's
    hue: a channel that the thread gives back well loses less, as light goes from wrap to wrap.
    """
    low, high = (np.float32(v) for v in FLAT)
    dark = np.minimum(light / low, 1.0)[..., None]
    bright = np.maximum(light - high, 0.0)[..., None]
    shine = (np.maximum(sheen - np.float32(DULL), 0.0) * np.float32(SHINE))[..., None]
    rgb = base * (dark + np.float32(0.22) * base * dark * (1.0 - dark) + bright)
    # Even black cotton gives back some light, without which its wraps could not be told apart.
    black = 1.0 - base
    for _ in range(3):  # to the eighth
        black = black * black
    black *= np.float32(0.8)
    rgb += shine * (np.float32(0.35) + np.float32(0.65) * base + black)
    rgb += bright * black
    lit: Floats = np.clip(rgb, 0.0, 1.0).astype(np.float32)
    return lit
