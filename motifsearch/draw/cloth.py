"""The preview: the cloth itself, knot by knot, from above.

The nodes of the fabric stand on a brick lattice: row r, position i at x = (i + 1) q and
y = (r + 1) p, with q the strand pitch and p the row pitch (equal at the default gauge, see
`motifsearch.thread.model`).  A cell is 2 q wide and 2 p high, so the cells of the even rows tile
the plane and so do those of the odd rows: two layers, each built in one numpy indexing from the
stamps of `motifsearch.draw.stamps`, and joined where one stands higher than the other.
Colours and kinds come from the plain walk of `motifsearch.pattern.walk`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from motifsearch.base.colour import rgb_array
from motifsearch.draw.ends import with_ends
from motifsearch.draw.stamps import (
    BACK,
    EMPTY,
    THROUGH,
    WAIT_LEFT,
    WAIT_RIGHT,
    Cloth,
    Floats,
    stamps,
    thread_base,
    tint,
)
from motifsearch.pattern.design import Pattern
from motifsearch.pattern.knots import MIRRORED
from motifsearch.pattern.walk import walk

Image = npt.NDArray[np.uint8]

#: The paper under the band; thread colours from black to white stand out from it.
PAPER: Final = (240, 235, 225)
#: Pixels that are drawn at once: a picture of any size is made in pieces, as everything that is
#: known of a pixel while it is drawn takes some hundred bytes.
PIECE_PX: Final = 400_000
#: How fast one knot gives way to its neighbour where they meet, per pitch of height.
_EDGE: Final = np.float32(22.0)


@dataclass(frozen=True)
class _Row:
    """The cells of one row of the lattice, from the left; node column of the first one."""

    first: int
    kind: list[int]
    tying: list[int]
    core: list[int]


def _lattice(
    pattern: Pattern, rows: int, back: bool, bare: bool
) -> tuple[list[_Row], list[int], list[int]]:
    """Return the lattice rows -1 .. rows, and the strands before and after, as they are seen."""
    played = walk(pattern, rows)
    strands = pattern.strands
    out = []
    for r in range(-1, rows + 1):
        cells: dict[int, tuple[int, int, int]] = {}
        order = played.orders[min(max(r, 0), rows)]
        if 0 <= r < rows:
            for knot in played.rows[r]:
                code = int(MIRRORED[knot.code]) + BACK if back else knot.code
                cells[knot.position + 1] = (code, knot.tying, knot.core)
        else:
            for node in range((r + 1) % 2, strands + 1, 2):
                if 0 < node < strands:
                    pair = (
                        (order[node], order[node - 1]) if back else (order[node - 1], order[node])
                    )
                    cells[node] = (THROUGH, *pair)
        if (r + 1) % 2 == 0:
            cells[0] = (WAIT_RIGHT if back else WAIT_LEFT, order[0], order[0])
        if (r + 1) % 2 == strands % 2:
            cells[strands] = (WAIT_LEFT if back else WAIT_RIGHT, order[-1], order[-1])
        if bare and not 0 <= r < rows:
            cells = dict.fromkeys(cells, (EMPTY, 0, 0))
        nodes = sorted(cells)
        if back:
            cells = {strands - node: cells[node] for node in nodes}
            nodes = sorted(cells)
        kind, tying, core = (list(v) for v in zip(*(cells[n] for n in nodes), strict=True))
        out.append(_Row(nodes[0], kind, tying, core))
    before, after = list(played.orders[0]), list(played.orders[-1])
    return out, before[::-1] if back else before, after[::-1] if back else after


def _layer(
    lattice: list[_Row],
    low: int,
    parity: int,
    pitch: int,
    strands: int,
    light_x: int,
    base: Floats,
) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Return base colour, cover, height, light and sheen of the lattice rows of one parity.

    `lattice` are the rows from number `low` on, of all that there are.
    """
    start = (parity - low) % 2
    rows = lattice[start::2]
    first = rows[0].first
    columns = len(rows[0].kind)
    kind = np.array([row.kind for row in rows], np.intp)
    tying = base[np.array([row.tying for row in rows], np.intp)]
    core = base[np.array([row.core for row in rows], np.intp)]
    maps = stamps(pitch, light_x)
    size = 2 * pitch
    shape = ((len(lattice) + 1) * pitch, (strands + 2) * pitch)
    top, left = start * pitch, first * pitch
    tall, wide = len(rows) * size, columns * size

    # No two knots of a hand are quite alike: a little lighter or darker, by a fixed rule.
    r, c = np.ogrid[: len(rows), :columns]
    r = r + (low + start) // 2
    uneven = ((r * 7919 + c * 104729 + parity * 31) * 2654435761 >> 8) % 256 / 255.0
    hand = (0.96 + 0.08 * uneven).astype(np.float32)[:, :, None, None]

    def placed(stack: Floats, factor: Floats | float = 1.0) -> Floats:
        full = np.zeros(shape, np.float32)
        block = (stack[kind] * factor).transpose(0, 2, 1, 3).reshape(tall, wide)
        full[top : top + tall, left : left + wide] = block
        return full

    cover, height = placed(maps.cover), placed(maps.height)
    light, sheen = placed(maps.light, hand), placed(maps.sheen)
    second = maps.second[kind].transpose(0, 2, 1, 3)[..., None]
    colour = np.zeros((*shape, 3), np.float32)
    mixed = tying[:, None, :, None, :] * (1 - second) + core[:, None, :, None, :] * second
    colour[top : top + tall, left : left + wide] = mixed.reshape(tall, wide, 3)
    return colour, cover, height, light, sheen


def weave(
    pattern: Pattern,
    rows: int,
    pitch: int,
    *,
    back: bool = False,
    bare: bool = False,
    light_x: int = -1,
) -> tuple[Cloth, list[int], list[int]]:
    """Draw `rows` rows of cloth, with the strands that come in and go out.

    Args:
        pattern: The design.
        rows: Rows, at least 1.
        pitch: Pixels from strand to strand and from row to row.
        back: Draw the back, as it lies after turning the band over sideways.
        bare: Leave out the strands above the first row and below the last one.
        light_x: -1 when the light comes from the left, 1 from the right.

    Returns:
        The cloth, ``[(rows + 1) pitch, (S + 2) pitch]`` with one pitch free at either side, and
        the strands (by their position at the start) as seen from the left at the top and at the
        bottom.
    """
    lattice, before, after = _lattice(pattern, rows, back, bare)
    base = thread_base(rgb_array([pattern.hex_of(s) for s in range(pattern.strands)]))
    wide = (pattern.strands + 2) * pitch
    rgb = np.empty(((rows + 1) * pitch, wide, 3), np.float32)
    cover = np.empty(rgb.shape[:2], np.float32)
    step = max(2, PIECE_PX // (pitch * wide))
    for first in range(0, rows + 1, step):
        last = min(first + step, rows + 1)
        part = slice(first * pitch, last * pitch)
        # What is seen from lattice row n to the next comes from these two rows alone.
        drawn = _piece(lattice[first : last + 1], first, pitch, pattern.strands, light_x, base)
        rgb[part], cover[part] = drawn
    return Cloth(rgb, cover), before, after


def _piece(
    lattice: list[_Row], low: int, pitch: int, strands: int, light_x: int, base: Floats
) -> tuple[Floats, Floats]:
    """Return colours and cover from the second to the last of some lattice rows."""
    one = _layer(lattice, low, 0, pitch, strands, light_x, base)
    two = _layer(lattice, low, 1, pitch, strands, light_x, base)
    over = 1.0 / (1.0 + np.exp(-_EDGE * (one[2] - two[2])))
    first = one[1] * np.where(two[1] > 0, over + (1 - over) * (1 - two[1]), 1.0)
    cover = 1.0 - (1.0 - one[1]) * (1.0 - two[1])
    share = (first / np.maximum(cover, 1e-6)).clip(0.0, 1.0)
    rest = 1.0 - share
    lit = one[3] * share + two[3] * rest
    # Where two knots meet at one height there is a groove between them.
    meet = 4.0 * over * (1.0 - over) * one[1] * two[1]
    lit *= 1.0 - np.float32(0.22) * meet
    sheen = one[4] * share + two[4] * rest
    colour = one[0] * share[..., None] + two[0] * rest[..., None]
    rgb = tint(colour.astype(np.float32), lit.astype(np.float32), sheen.astype(np.float32))
    # The corners of the border's cells are no thread: they end at its outer wraps and loops.
    tall = np.clip(np.maximum(one[2] * one[1], two[2] * two[1]) * 6.0 - 0.6, 0.0, 1.0)
    rim = pitch + max(1, pitch // 2)
    cover[:, :rim] *= tall[:, :rim]
    cover[:, -rim:] *= tall[:, -rim:]
    inside = slice(pitch, len(lattice) * pitch)
    return rgb[inside], cover[inside].astype(np.float32)


def _soft(cover: Floats, reach: int) -> Floats:
    """Return `cover` blurred by two running means of 2 reach + 1 pixels a side."""
    out = cover
    width = 2 * reach + 1
    for _ in range(2):
        for axis in (0, 1):
            pad = [(0, 0), (0, 0)]
            pad[axis] = (reach + 1, reach)
            total = np.cumsum(np.pad(out, pad, mode="edge"), axis=axis, dtype=np.float32)
            high = np.take(total, np.arange(width, total.shape[axis]), axis=axis)
            low = np.take(total, np.arange(0, total.shape[axis] - width), axis=axis)
            out = (high - low) / np.float32(width)
    return out


def lay_on_paper(
    cloth: Cloth, pitch: int, light_x: int = -1, *, ground: Image | None = None
) -> Image:
    """Return the cloth on paper with its slight shadow, uint8 ``[H, W, 3]``.

    Args:
        cloth: The drawn band, ``[H, W]``.
        pitch: Pixels from strand to strand, for the width of the shadow.
        light_x: -1 when the light comes from the left, 1 from the right.
        ground: What lies below, uint8 ``[H, W, 3]``; bare paper when left out.
    """
    tall, wide = cloth.cover.shape
    image = np.empty((tall, wide, 3), np.uint8)
    # The shadow of a pixel comes from no further away than this.
    around = 2 * max(1, pitch // 3) + max(1, round(pitch * 0.28)) + 1
    step = max(around, 4 * PIECE_PX // max(wide, 1))
    for first in range(0, tall, step):
        last = min(first + step, tall)
        low, high = max(0, first - around), min(tall, last + around)
        part = Cloth(cloth.rgb[low:high], cloth.cover[low:high])
        laid = _laid(part, pitch, light_x, None if ground is None else ground[low:high])
        image[first:last] = laid[first - low : last - low]
    return image


def _laid(cloth: Cloth, pitch: int, light_x: int, ground: Image | None) -> Image:
    reach = max(1, pitch // 3)
    shift = max(1, round(pitch * 0.28))
    shadow = np.roll(_soft(cloth.cover, reach), -light_x * shift, axis=1)
    dark = np.empty_like(shadow)
    dark[shift:] = shadow[:-shift]
    dark[:shift] = shadow[:1]
    below = np.array(PAPER, np.uint8) if ground is None else ground
    shaded = below.astype(np.float32) / np.float32(255.0)
    shaded = shaded * (1.0 - np.float32(0.34) * dark[..., None])
    cover = cloth.cover[..., None]
    rgb = cloth.rgb * cover + shaded * (1.0 - cover)
    image: Image = (rgb * np.float32(255.0) + np.float32(0.5)).astype(np.uint8)
    return image


def render_band(
    pattern: Pattern,
    rows: int,
    *,
    cell_px: int = 14,
    back: bool = False,
    ends: bool = False,
    horizontal: bool = False,
) -> Image:
    """Draw a band as cloth.

    Args:
        pattern: The design.
        rows: Rows knotted, at least 1.
        cell_px: Pixels across one knot (two strand pitches), at least 4; an odd number is
            rounded down to the even one.
        back: The back of the band, turned over sideways (left and right change places).
        ends: Add the head knot with its loop above, and the braid with its knot below.
        horizontal: Lay the band on its side: row 1 at the left, strand 1 at the bottom.

    Returns:
        uint8 ``[H, W, 3]``, sRGB: without ends ``(rows + 1) pitch`` by ``(S + 2) pitch``, pitch
        being ``cell_px // 2``; the two change places when horizontal.

    Raises:
        ValueError: `rows` or `cell_px` is too small.

    Examples:
        >>> from motifsearch.pattern.design import make_pattern
        >>> p = make_pattern("", ["rr rr", "rr"], "aabb", {"a": "#204060", "b": "#e0d0a0"})
        >>> render_band(p, 6).shape
        (49, 42, 3)
        >>> render_band(p, 6, horizontal=True).shape
        (42, 49, 3)
    """
    pitch = pitch_of(rows, cell_px)
    light_x = 1 if horizontal else -1
    cloth = draw_cloth(pattern, rows, pitch, back=back, ends=ends, light_x=light_x)
    image = lay_on_paper(cloth, pitch, light_x)
    return np.ascontiguousarray(np.rot90(image)) if horizontal else image


def pitch_of(rows: int, cell_px: int) -> int:
    """Return the pixels from strand to strand.

    Raises:
        ValueError: `rows` or `cell_px` is too small.
    """
    if rows < 1 or cell_px < 4:
        raise ValueError(f"expected rows >= 1 and cell_px >= 4, got {rows} and {cell_px}")
    return cell_px // 2


def draw_cloth(
    pattern: Pattern, rows: int, pitch: int, *, back: bool, ends: bool, light_x: int
) -> Cloth:
    """Return the band of `render_band` before it is laid on paper."""
    cloth, before, after = weave(pattern, rows, pitch, back=back, bare=ends, light_x=light_x)
    if not ends:
        return cloth
    return with_ends(cloth, pattern, before, after, pitch, light_x)
