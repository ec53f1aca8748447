"""The wanted motif beside what a design shows, and a blank to paint on.

The band is drawn S units wide and R rows high, and every knot as it lies in the cloth: two slanted
wraps around x = i + 1, y = r + 1/2.  Knot (r, i) is nearest to the points with |dx| + |dy| <= 1,
and these places fill the plane, so a picture painted on the blank is read back cell for cell
(`motifsearch.target.image` uses the same geometry).  A pin with a head of the wanted colour stands
on every knot that shows another.
"""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from motifsearch.base.arrays import F64, Bool
from motifsearch.base.colour import rgb_array
from motifsearch.draw.stamps import CROSSING_SLANT
from motifsearch.pattern.design import Pattern
from motifsearch.pattern.knots import slots_in_row
from motifsearch.pattern.walk import face, repeat_rows

Cells = npt.NDArray[np.int8]
Image = npt.NDArray[np.uint8]

PAPER = (250, 248, 244)
UNDYED = (238, 233, 224)
SEAM = (70, 64, 60)
#: Each pixel is the mean of 3 x 3 samples.
SAMPLES = 3
#: Wraps on the blank are drawn smaller, so that every outline lies within its own place.
BLANK_SIZE, BLANK_WIDE = 0.80, 0.33
#: The head of a pin, the light around it and its rim, in pitches from the middle of the knot.
HEAD, HALO, RIM = 0.34, 0.46, 0.54


@dataclass(frozen=True)
class Comparison:
    """A design held against a target.

    Attributes:
        shift: The design's row that stands at row 0 of the target; even.
        shown: int8 ``[P, S // 2]``, the design's colour (into ``pattern.palette``) in every cell,
            -1 in slots that a row does not have.
        wrong: bool ``[P, S // 2]``, the cells that show another colour than is wanted.
    """

    shift: int
    shown: Cells
    wrong: Bool

    @property
    def count(self) -> int:
        """The number of wrong cells."""
        return int(self.wrong.sum())


def compare(pattern: Pattern, cells: Cells, names: Sequence[str]) -> Comparison:
    """Hold a design against a target at the even shift with the fewest wrong cells.

    Args:
        pattern: The design; colours are matched by name.
        cells: The target, int8 ``[P, S // 2]``, P even: an index into `names`, -1 for any colour.
        names: The target's colour names.

    Examples:
        >>> from motifsearch.pattern.design import make_pattern
        >>> p = make_pattern("", ["rl rl", "rl"], "aabb", {"a": "#000000", "b": "#ffffff"})
        >>> compare(p, np.array([[0, 1], [1, -1]], np.int8), "ab").wrong.tolist()
        [[False, False], [True, False]]
    """
    rows, slots = cells.shape
    repeat = repeat_rows(pattern)
    known = {name: n for n, name in enumerate(names)}
    # A colour that the target does not know matches no cell.
    code = np.array([known.get(name, len(known)) for name in pattern.palette] + [-1], np.int8)
    strip = np.full((repeat, slots), -1, np.int8)
    for r, row in enumerate(face(pattern, repeat)):
        strip[r, : len(row)] = row
    best: Comparison | None = None
    for shift in range(0, repeat, 2):
        shown = strip[(shift + np.arange(rows)) % repeat]
        wrong = (cells >= 0) & (code[shown] != cells)
        if best is None or wrong.sum() < best.count:
            best = Comparison(shift, shown, wrong)
    assert best is not None
    return best


def target_view(
    pattern: Pattern,
    cells: Cells,
    palette: Mapping[str, str],
    *,
    pitch: int = 18,
    comparison: Comparison | None = None,
) -> Image:
    """Draw the target on the left and the design's face on the right.

    Args:
        pattern: The design.
        cells: The target, int8 ``[P, S // 2]``, P even.
        palette: The target's colours: name to ``#rrggbb``.
        pitch: Pixels per strand and per row.
        comparison: As `compare` gives it; made when left out.

    Returns:
        RGB, uint8 ``[height, width, 3]``.
    """
    held = comparison or compare(pattern, cells, list(palette))
    strands = pattern.strands
    wanted = rgb_array(list(palette.values()))
    left = draw_cells(cells, wanted, strands, pitch)
    pins = np.where(held.wrong, cells, np.int8(-1))
    own = rgb_array([pattern.colours[name] for name in pattern.palette])
    right = draw_cells(held.shown, own, strands, pitch, pins=pins, pin_colours=wanted)
    gap = np.full((len(left), 2 * pitch, 3), PAPER, np.uint8)
    body = np.concatenate([gap[:, :pitch], left, gap, right, gap[:, :pitch]], axis=1)
    edge = np.full((pitch, body.shape[1], 3), PAPER, np.uint8)
    return np.concatenate([edge, body, edge])


def draw_cells(
    cells: Cells,
    colours: Image,
    strands: int,
    pitch: int,
    *,
    pins: Cells | None = None,
    pin_colours: Image | None = None,
) -> Image:
    """Draw cells as knots lie in the cloth: two slanted wraps each.

    Args:
        cells: int8 ``[R, S // 2]``, an index into `colours`; -1 is drawn as undyed thread.
        colours: RGB, uint8 ``[K, 3]``.
        strands: S.
        pitch: Pixels per strand and per row.
        pins: int8 ``[R, S // 2]``: where not -1, a pin with a head of that colour stands.
        pin_colours: RGB of the heads, uint8 ``[K, 3]``.

    Returns:
        RGB, uint8 ``[R * pitch, S * pitch, 3]``.
    """
    rows = len(cells)
    place = _locate(strands, rows, pitch * SAMPLES)
    table = np.concatenate([colours, [UNDYED]]).astype(np.float64)
    value = cells[place.row, place.slot]
    # Light on the round of a wrap, and the groove between two.
    light = np.where(place.round > 0, 0.82 + 0.18 * np.sqrt(np.maximum(place.round, 0)), 0.72)
    picture = table[value] * light[..., None]
    line = (place.round > 0) & (place.round < 3.0 / pitch) & (value < 0)
    picture[line] = SEAM
    if pins is not None and pin_colours is not None:
        mark = pins[place.row, place.slot]
        stuck = (mark >= 0) & place.beside_not
        picture[stuck & (place.far < RIM)] = SEAM
        picture[stuck & (place.far < HALO)] = PAPER
        head = stuck & (place.far < HEAD)
        picture[head] = pin_colours[mark[head]]
    picture[~place.beside_not] = PAPER
    blocks = picture.reshape(rows * pitch, SAMPLES, strands * pitch, SAMPLES, 3)
    return np.asarray(blocks.mean(axis=(1, 3)).round().astype(np.uint8))


@dataclass(frozen=True)
class _Place:
    """Where the samples of a picture lie, ``[height, width]`` each.

    Attributes:
        row: The row of the cell.
        slot: The slot of the cell.
        far: Distance from the cell's middle, in pitches.
        round: How high the wraps stand over the sample: 1 on a crown, 0 at their edge, below 0 in
            the groove.
        beside_not: Whether the sample lies on the band.
    """

    row: npt.NDArray[np.intp]
    slot: npt.NDArray[np.intp]
    far: F64
    round: F64
    beside_not: Bool


def _locate(strands: int, rows: int, pitch: int, size: float = 0.94, wide: float = 0.40) -> _Place:
    """Return per sample its cell and its place there; `size` and `wide` scale the wraps."""
    y, x = (np.mgrid[0 : rows * pitch, 0 : strands * pitch] + 0.5) / pitch
    falling, rising = x - 1 + (y - 0.5), x - 1 - (y - 0.5)
    a, b = np.rint(falling / 2).astype(np.intp), np.rint(rising / 2).astype(np.intp)
    position, row = a + b, a - b
    beside = (row < 0) | (row >= rows) | (position < 0) | (position > strands - 2)
    dx, dy = x - (position + 1), y - (row + 0.5)
    # On the right half the wraps lean the other way, as the two halves of a chevron do.
    lean = np.where(2 * (position + 1) > strands, -1.0, 1.0)
    height = np.full(x.shape, -1.0)
    slant = np.radians(CROSSING_SLANT)
    for side in (1, -1):
        px, py = np.sin(slant) * 0.36 * size * side, -np.cos(slant) * 0.36 * size * side
        ox, oy = dx * lean - px, dy - py
        u = (ox * np.cos(slant) + oy * np.sin(slant)) / (0.86 * size)
        v = (-ox * np.sin(slant) + oy * np.cos(slant)) / (wide * size)
        height = np.maximum(height, 1.0 - v * v - np.abs(u) ** 3)
    row = row.clip(0, rows - 1)
    slot = ((position - row % 2) // 2).clip(0, strands // 2 - 1)
    return _Place(row, slot, np.hypot(dx, dy), height, ~beside)


def blank_template(strands: int, rows: int, palette: Mapping[str, str] | None = None) -> str:
    """Return a text target to paint on: every cell is ``.``, any colour.

    Args:
        strands: S.
        rows: R.
        palette: Colour name to ``#rrggbb`` for the legend; two colours when left out.

    Examples:
        >>> print(blank_template(4, 2))
        # Replace points by letters of the legend; a point that stays is a cell of any colour.
        format = motifsearch-target-1
        title = My motif
        strands = 4
        a = sand #d8c49a
        b = teal #1f7a78
        <BLANKLINE>
        rows:
        .   .
          .
        <BLANKLINE>
    """
    palette = palette or {"sand": "#d8c49a", "teal": "#1f7a78"}
    lines = [
        "# Replace points by letters of the legend; a point that stays is a cell of any colour.",
        "format = motifsearch-target-1",
        "title = My motif",
        f"strands = {strands}",
    ]
    letters = zip("abcdefghijkl", palette.items(), strict=False)
    lines += [f"{letter} = {name} {colour}" for letter, (name, colour) in letters]
    lines += ["", "rows:"]
    for r in range(rows):
        lines.append("  " * (r % 2) + "   ".join("." * slots_in_row(strands, r)))
    return "\n".join(lines) + "\n"


def blank_png(strands: int, rows: int, pitch: int = 24) -> Image:
    """Return a picture to paint on: the outlines of every knot's two wraps on a clear ground.

    What stays clear is read as "any colour".

    Returns:
        RGBA, uint8 ``[R * pitch, S * pitch, 4]``.
    """
    place = _locate(strands, rows, pitch * SAMPLES, BLANK_SIZE, BLANK_WIDE)
    edge = (place.round > 0) & (place.round < 4.5 / pitch) & place.beside_not
    line = edge.astype(np.float64)
    share = line.reshape(rows * pitch, SAMPLES, strands * pitch, SAMPLES).mean(axis=(1, 3))
    picture = np.zeros((rows * pitch, strands * pitch, 4), np.uint8)
    picture[..., :3] = SEAM
    # Never more than half opaque: an outline alone paints nothing.
    picture[..., 3] = (share * 120).round().astype(np.uint8)
    return picture


def png_bytes(image: Image) -> bytes:
    """Return an RGB or RGBA picture as a PNG file."""
    from PIL import Image as Pillow

    out = io.BytesIO()
    Pillow.fromarray(image).save(out, format="PNG", optimize=True)
    return out.getvalue()


__all__ = [
    "Comparison",
    "blank_png",
    "blank_template",
    "compare",
    "draw_cells",
    "png_bytes",
    "target_view",
]
