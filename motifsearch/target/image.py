"""A target from a picture: every cell takes the colour that most of its area is nearest to.

A picture of W x H pixels shows R rows of S strands.  Knot (r, i) lies at x = (i + 1) W / S,
y = (r + 1/2) H / R; its cell is the diamond |dx| S / W + |dy| R / H <= 1, and the diamonds fill the
plane.  When R is not given the rows are as high as the strands are wide, R = S H / W, made even.

Each part of a cell votes for the colour of the palette nearest to it by CIEDE2000; averaging first
would turn the edge between two colours into a third.  Transparent parts vote for "any colour".
"""

from __future__ import annotations

import io
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import numpy.typing as npt
from PIL import Image, UnidentifiedImageError

from motifsearch.base.arrays import I8, U8
from motifsearch.base.colour import colour_difference
from motifsearch.base.errors import InputError
from motifsearch.base.tomlfile import read_file
from motifsearch.pattern.knots import MAX_ROWS, MAX_STRANDS, MIN_STRANDS, slots_in_row
from motifsearch.target.motif import MAX_COLOURS, Target

#: Samples per strand pitch, each way.
FINE = 6
#: Larger pictures are refused before they are unpacked: four bytes a pixel, and what is made of
#: them, must leave room for everything else.
MAX_PIXELS = 60_000_000
MAX_PNG_BYTES = 250_000_000


def read_target_png(
    path: str | Path, *, strands: int, colours: Mapping[str, str], rows: int | None = None
) -> Target:
    """Read a picture as a target.

    Args:
        path: The PNG.
        strands: S.
        colours: The palette: colour name to ``#rrggbb``.
        rows: R; from the picture's shape when left out.

    Raises:
        InputError: No picture, too large, no palette, or a size that cannot be knotted.
    """
    path = Path(path)
    if not MIN_STRANDS <= strands <= MAX_STRANDS:
        expected = f"expected {MIN_STRANDS} to {MAX_STRANDS} strands"
        raise InputError(expected, strands, source=path)
    if not 1 <= len(colours) <= MAX_COLOURS:
        expected = f"expected 1 to {MAX_COLOURS} colours to match the picture to"
        raise InputError(expected, len(colours), source=path)
    try:
        data = io.BytesIO(read_file(path, "a picture", MAX_PNG_BYTES))
        with Image.open(data, formats=["PNG"]) as picture:
            width, height = picture.size
            if width * height > MAX_PIXELS:
                found = f"{width} x {height}"
                raise InputError(f"expected at most {MAX_PIXELS} pixels", found, source=path)
            if rows is None:
                rows = max(2, 2 * round(strands * height / width / 2))
            if not 1 <= rows <= MAX_ROWS:
                expected = f"expected a picture of 1 to {MAX_ROWS} rows at {strands} strands"
                raise InputError(expected, f"{rows} rows", source=path)
            size = (strands * FINE, rows * FINE)
            large = width >= size[0] and height >= size[1]
            filtering = Image.Resampling.BOX if large else Image.Resampling.NEAREST
            fine = np.asarray(as_seen(picture).resize(size, filtering))
    except (OSError, SyntaxError, ValueError, UnidentifiedImageError) as bad:
        raise InputError(f"cannot read the picture: {bad}", source=path) from None
    except Image.DecompressionBombError:
        raise InputError(f"expected at most {MAX_PIXELS} pixels", source=path) from None
    cells = cells_of(fine, strands, rows, list(colours.values()))
    if not (cells >= 0).any():
        raise InputError("expected at least one painted cell", source=path)
    return Target(path.stem, strands, tuple(colours), tuple(colours.values()), cells)


def as_seen(picture: Image.Image) -> Image.Image:
    """Return a picture of any mode and depth as a person sees it: 8 bits a channel, RGBA.

    Grey of 16 bits a sample (PNG, ISO/IEC 15948, colour type 0) comes from Pillow as numbers up to
    65,535, which its own conversion cuts off at 255 instead of scaling them.
    """
    if picture.mode.startswith("I"):
        grey = np.asarray(picture).astype(np.float64) / 257.0
        levels = np.clip(np.round(grey), 0, 255).astype(np.uint8)
        return Image.fromarray(levels).convert("RGBA")
    return picture.convert("RGBA")


def cells_of(fine: U8, strands: int, rows: int, colours: list[str]) -> I8:
    """Return the cells of a picture.

    Args:
        fine: RGBA, uint8 ``[rows * FINE, strands * FINE, 4]``.
        strands: S.
        rows: R.
        colours: ``#rrggbb`` of the palette.

    Returns:
        int8 ``[rows, S // 2]``.
    """
    votes = _nearest(fine, colours)
    y, x = np.mgrid[0 : rows * FINE, 0 : strands * FINE]
    x, y = (x + 0.5) / FINE, (y + 0.5) / FINE
    cells = np.full((rows, strands // 2), -1, np.int8)
    for r in range(rows):
        for k in range(slots_in_row(strands, r)):
            far = abs(x - (r % 2 + 2 * k + 1)) + abs(y - (r + 0.5))
            # The middle of a cell counts more than its seam with the next.
            weight = np.where(far < 1, 1.5 - far, 0.0)
            count = np.bincount(votes.ravel(), weight.ravel(), len(colours) + 1)
            best = int(count.argmax())
            cells[r, k] = best if best < len(colours) else -1
    return cells


def _nearest(fine: U8, colours: list[str]) -> npt.NDArray[np.intp]:
    """Return per sample the nearest colour, or K where it is transparent; ``[h, w]``."""
    # Steps of 8 are not seen at knot size, and keep the number of differences small.
    coarse = (fine[..., :3].astype(np.int64) // 8 * 8 + 4).clip(0, 255)
    code = (coarse[..., 0] << 16) | (coarse[..., 1] << 8) | coarse[..., 2]
    seen, where = np.unique(code.ravel(), return_inverse=True)
    near = [
        min(range(len(colours)), key=lambda c: (colour_difference(f"#{rgb:06x}", colours[c]), c))
        for rgb in seen.tolist()
    ]
    votes = np.array(near, np.intp)[where].reshape(code.shape)
    votes[fine[..., 3] < 128] = len(colours)
    return votes
