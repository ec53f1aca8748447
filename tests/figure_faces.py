"""Faces with a known figure, drawn from the geometry of each figure and from nothing of ours.

A face is int16 ``[rows, columns]``, one whole repeat: palette indices where row + column is even,
-1 elsewhere, as knots stand on a band.  Every figure is drawn from its definition in the plane: a
stripe is a set of lines of slope one, an arrowhead such a line folded at the middle, a zigzag one
that is folded along the band, a diamond a ball of the taxicab norm, and so on.  Widths, phases,
borders, band widths and colours are drawn by chance; disturbed faces have a few knots of another
colour.  Faces *of nothing* are those that a hasty eye might take for a figure.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
import numpy.typing as npt

Cells = npt.NDArray[np.int16]
Rng = np.random.Generator


def lattice(rows: int, columns: int) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """Row and column of every place."""
    r, i = np.indices((rows, columns))
    return r, i


def knots(field: npt.NDArray[np.int64]) -> Cells:
    """Keep the places where knots stand."""
    r, i = np.indices(field.shape)
    return np.where((r + i) % 2 == 0, field, -1).astype(np.int16)


def bands(rng: Rng, length: int, least: int = 2) -> npt.NDArray[np.int64]:
    """Colours of a line of `length` steps, cut into bands of at least `least` steps, cyclic."""
    colours = int(rng.integers(2, 5))
    cuts = [0]
    while length - cuts[-1] >= 2 * least and (len(cuts) < 2 or rng.random() < 0.75):
        cuts.append(
            cuts[-1]
            + int(rng.integers(least, max(least + 1, min(7, length - cuts[-1] - least + 1))))
        )
    if len(cuts) == 1:
        cuts.append(length // 2)
    out = np.zeros(length, np.int64)
    last = -1
    for n, start in enumerate(cuts):
        choices = [c for c in range(colours) if c != last]
        colour = int(rng.choice(choices))
        if n == len(cuts) - 1 and colour == out[0] and len(choices) > 1:
            colour = next(c for c in choices if c != out[0])
        out[start:] = colour
        last = colour
    return out


def _even(n: int) -> int:
    return n + n % 2


def plain(rng: Rng, c: int) -> Cells:
    return knots(np.full((2, c), int(rng.integers(0, 4))))


def lengthwise(rng: Rng, c: int) -> Cells:
    line = bands(rng, c, 1)
    return knots(np.tile(line, (2, 1)))


def rows_(rng: Rng, c: int) -> Cells:
    n = _even(int(rng.integers(4, 17)))
    line = bands(rng, n)
    return knots(np.tile(line[:, None], (1, c)))


def diagonals(rng: Rng, c: int) -> Cells:
    n = _even(int(rng.integers(6, 21)))
    r, i = lattice(n, c)
    line = bands(rng, n // 2, 1)
    way = rng.choice([1, -1])
    return knots(line[((r - way * i + int(rng.integers(0, n))) // 2) % (n // 2)])


def arrowheads(rng: Rng, c: int) -> Cells:
    n = _even(int(rng.integers(6, 21)))
    r, i = lattice(n, c)
    fold = np.abs(2 * i - (c - 1)) // 2
    line = bands(rng, n // 2, 1)
    way = rng.choice([1, -1])
    return knots(line[((r + way * fold + int(rng.integers(0, n))) // 2) % (n // 2)])


def zigzag(rng: Rng, c: int) -> Cells:
    """A line, two to four wide, that swings over the band and turns along it, all seen."""
    wide = int(rng.integers(2, 4))
    swing = int(rng.integers(c // 2, c - wide + 1))
    n = 2 * swing
    r, i = lattice(n, c)
    t = (r + int(rng.integers(0, n))) % n
    at = i - np.minimum(t, n - t) - (c - wide - swing) // 2
    ground, ink, other = rng.choice(4, 3, replace=False)
    field = np.where((at >= 0) & (at < wide), ink, ground)
    if rng.random() < 0.4:  # a second line beside it
        field = np.where((at >= -2) & (at < 0), other, field)
    return knots(field)


def ripples(rng: Rng, c: int) -> Cells:
    """Bars across the band that run in a zigzag: at least two turns on the way."""
    w = int(rng.integers(3, max(4, c // 3 + 1)))
    n = _even(int(rng.integers(6, 17)))
    r, i = lattice(n, c)
    t = (i + int(rng.integers(0, 2 * w))) % (2 * w)
    z = np.minimum(t, 2 * w - t)
    line = bands(rng, n // 2, 1)
    return knots(line[((r - z + int(rng.integers(0, n))) // 2) % (n // 2)])


def diamonds(rng: Rng, c: int) -> Cells:
    """Balls of the taxicab norm around the middle line, one after another."""
    half = int(rng.integers(max(2, c // 2), c + 1))
    n = 2 * half
    r, i = lattice(n, c)
    t = (r + 2 * int(rng.integers(0, half))) % n
    d = np.abs(t - half) + np.abs(2 * i - (c - 1)) // 2
    ring = int(rng.integers(1, 3))
    if rng.random() < 0.5:  # rings
        line = bands(rng, n + c, ring + 1)
        return knots(line[d])
    ground, ink = rng.choice(4, 2, replace=False)
    return knots(np.where(d <= max(2, half - 2), ink, ground))


STAMPS: Mapping[str, tuple[str, ...]] = {
    "hearts": (". # . . # .", " # # . # #", ". # # # # .", " # # # # #", ". # # # # .",
               " . # # # .", ". . # # . .", " . . # . ."),
    "crosses": ("# . . #", " # . #", ". # # .", " . # .", ". # # .", " # . #", "# . . #"),
    "spots": (". # .", " # #", ". # ."),
}  # fmt: skip


def stamped(name: str) -> Callable[[Rng, int], Cells]:
    def draw(rng: Rng, c: int) -> Cells:
        stamp = STAMPS[name]
        points = [(r, i) for r, line in enumerate(stamp) for i, s in enumerate(line) if s == "#"]
        wide = max(i for _, i in points) + 1
        gap = int(rng.integers(2, 5))
        n = _even(len(stamp) + gap)
        if c < wide + 2:
            return np.zeros((0, 0), np.int16)  # what touches both edges is cut, not whole
        ground, ink = rng.choice(4, 2, replace=False)
        field = np.full((n, c), ground)
        left = (c - wide) // 2
        up = left % 2 if (points[0][0] + points[0][1]) % 2 == 0 else 1 - left % 2
        for r, i in points:
            field[(r + up) % n, left + i] = ink
        shift = 2 * int(rng.integers(0, n // 2))
        return np.roll(knots(field), shift, axis=0)

    return draw


# --- of nothing ---------------------------------------------------------------------------------


def noise(rng: Rng, c: int) -> Cells:
    n = _even(int(rng.integers(6, 17)))
    return knots(rng.integers(0, int(rng.integers(2, 5)), (n, c)))


def dashes(rng: Rng, c: int) -> Cells:
    """Short slanted dashes that lean by turns, left and right of the middle."""
    n = 8
    r, i = lattice(n, c)
    left = i < c // 2
    on = np.where(left, (r - i) % 8 < 2, (r + i + 4) % 8 < 2) & np.where(left, r < 4, r >= 4)
    return knots(np.where(on, 1, 0))


def torn(rng: Rng, c: int) -> Cells:
    """Diagonals whose bands are cut and set off by chance in every column group."""
    n = _even(int(rng.integers(8, 17)))
    r, i = lattice(n, c)
    group = i // 2
    off = rng.integers(0, n, c)[group]
    way = rng.choice([1, -1], c)[group]
    line = bands(rng, n, 1)
    return knots(line[(r - way * i + off) % n])


def scraps(rng: Rng, c: int) -> Cells:
    """Rows of colour that break off at chance places: neither bars nor stripes."""
    n = _even(int(rng.integers(8, 17)))
    field = np.zeros((n, c), np.int64)
    for row in range(0, n, 2):
        cut = int(rng.integers(1, c))
        field[row : row + 2, :cut] = rng.integers(0, 3)
        field[row : row + 2, cut:] = rng.integers(0, 3)
    return knots(field)


FIGURE_FACES: Mapping[str, Callable[[Rng, int], Cells]] = {
    "plain": plain,
    "lengthwise": lengthwise,
    "rows": rows_,
    "diagonals": diagonals,
    "arrowheads": arrowheads,
    "zigzag": zigzag,
    "ripples": ripples,
    "diamonds": diamonds,
    "hearts": stamped("hearts"),
    "crosses": stamped("crosses"),
    "spots": stamped("spots"),
}
OF_NOTHING: Mapping[str, Callable[[Rng, int], Cells]] = {
    "noise": noise, "dashes": dashes, "torn": torn, "scraps": scraps,
}  # fmt: skip
LEAST_COLUMNS: Mapping[str, int] = {
    "zigzag": 6, "ripples": 10, "diamonds": 6, "arrowheads": 5, "dashes": 9,
}  # fmt: skip


def bordered(rng: Rng, cells: Cells) -> Cells:
    """Put one or two columns of a colour of their own on either side."""
    wide = int(rng.integers(1, 3))
    colour = 4
    rows = len(cells)
    edge = np.full((rows, wide), colour)
    field = np.concatenate([edge, np.where(cells < 0, 0, cells), edge], axis=1)
    if wide % 2:
        field = np.roll(field, 1, axis=0)  # knots stand on the other rows now
    return knots(field)


def disturbed(rng: Rng, cells: Cells, share: float = 0.025) -> Cells:
    """Give a few knots another colour."""
    out = cells.copy()
    where = np.argwhere(cells >= 0)
    number = int(share * len(where))
    for r, i in rng.permutation(where)[:number]:
        out[r, i] = (out[r, i] + int(rng.integers(1, 4))) % 4
    return out
