"""A whole band with its ends, drawn once: standing for the gallery, lying for the worksheet.

A standing band is lit from the right, so that it is lit from above when it is laid on its side by a
quarter turn against the clock: row 1 at the left, strand 1 at the bottom.  A lying one is the same
picture, made smaller, and never drawn again.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from motifsearch.draw.cloth import Image, draw_cloth, lay_on_paper
from motifsearch.pattern.design import Pattern

#: The size of a knot, and the height and the rows of the standing picture at most.
KNOT_PX: Final = 30
LEAST_PX: Final = 6
MOST_PX: Final = 6000
MOST_ROWS: Final = 2000
#: The size of a knot, and the length and the rows of the lying one at most: a JPEG has at most
#: 65,535 pixels a side, and a long band is drawn small on paper anyway.
LYING_KNOT_PX: Final = 20
LYING_LEAST_PX: Final = 4
LYING_PX: Final = 16_000
LYING_ROWS: Final = LYING_PX // 2
LIGHT_X: Final = 1


def standing_px(rows: int) -> int:
    """Return the pixels across a knot of the standing picture, an even number."""
    shown = min(rows, MOST_ROWS)
    return max(LEAST_PX, min(KNOT_PX, 2 * (MOST_PX // shown)))


def lying_px(rows: int) -> int:
    """Return the pixels across a knot of the lying picture, an even number."""
    shown = min(rows, LYING_ROWS)
    return max(LYING_LEAST_PX, min(LYING_KNOT_PX, 2 * (LYING_PX // shown)))


def standing_band(pattern: Pattern, rows: int) -> Image:
    """Return a band as the gallery shows it, however long it is.

    A long one is drawn smaller, and a very long one is cut off and bare of its ends, which says
    that it goes on.

    Args:
        pattern: The design.
        rows: Rows knotted, at least 1.

    Returns:
        uint8 ``[H, W, 3]``, sRGB.

    Examples:
        >>> from motifsearch.pattern.design import make_pattern
        >>> p = make_pattern("", ["rr rr", "rr"], "aabb", {"a": "#204060", "b": "#e0d0a0"})
        >>> standing_band(p, 6).shape[1], lying_band(p, 6).shape[0]
        (90, 60)
    """
    return _drawn(pattern, min(rows, MOST_ROWS), standing_px(rows), rows <= MOST_ROWS)


def lying_band(pattern: Pattern, rows: int, standing: Image | None = None) -> Image:
    """Return a band as it lies on a worksheet.

    Args:
        pattern: The design.
        rows: Rows knotted, at least 1.
        standing: What `standing_band` gives for these, where it is known already.

    Returns:
        uint8 ``[H, W, 3]``, sRGB: row 1 at the left, strand 1 at the bottom.
    """
    from PIL import Image as Pillow

    large, small = standing_px(rows), lying_px(rows)
    if rows > MOST_ROWS or large < small:
        return _laid(_drawn(pattern, min(rows, LYING_ROWS), small, rows <= LYING_ROWS))
    full = standing_band(pattern, rows) if standing is None else standing
    if large == small:
        return _laid(full)
    tall, wide = full.shape[:2]
    size = (round(wide * small / large), round(tall * small / large))
    picture = Pillow.fromarray(full).resize(size, Pillow.Resampling.LANCZOS)
    return _laid(np.asarray(picture))


def _drawn(pattern: Pattern, rows: int, cell_px: int, ends: bool) -> Image:
    pitch = cell_px // 2
    cloth = draw_cloth(pattern, rows, pitch, back=False, ends=ends, light_x=LIGHT_X)
    return lay_on_paper(cloth, pitch, LIGHT_X)


def _laid(standing: Image) -> Image:
    return np.ascontiguousarray(np.rot90(standing))
