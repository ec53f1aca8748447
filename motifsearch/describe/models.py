"""Models of a face: how well it is explained by lines that run as a figure's lines run.

A *model* puts every cell on a line: two cells are on one line when they have the same *key*, such
as r - i for diagonals.  Each line takes the colour that most of its cells have; the cells that have
another are *errors*.  With N cells, L lines and M cells of the commonest colour, a model's

* *fit* = 1 - errors / (N - L): every line's first cell is explained by itself and counts nothing;
* *gain* = 1 - errors / (N - M): what the lines explain beyond one single colour.

Both are 1 for a figure that is drawn without a fault, for any colours, widths and phases; chance
gives neither.  Columns at the edges that keep one colour are a border and are left out.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

Cells = npt.NDArray[np.int16]
Keys = npt.NDArray[np.int64]

#: The least fit and gain of a face that is called by the name of the figure.
FIT: Final = 0.94
GAIN: Final = 0.7
#: Arrowheads need both their sides: dashes that lean by turns have but one of them at a time.
BOTH_SIDES: Final = 0.8
#: The least fit of lengthwise stripes: what moves a little along the band is something else.
STILL: Final = 0.96
#: The share of one colour from which a column counts as a border.
BORDER: Final = 0.97
#: The gain of bars that are drawn without a fault.
BARS: Final = 0.97
#: Fits that differ by less count as equal; then the simpler figure is named.
ALIKE: Final = 0.04
#: Columns that are left at least when a margin of ground is taken off.
CORE: Final = 5
#: Lines and cells that a model needs to say anything.
LEAST_CELLS: Final = 12


@dataclass(frozen=True)
class Model:
    """A model held against a face.

    Attributes:
        kind: diagonals, arrowheads, rows, lengthwise, zigzag, ripples or diamonds.
        way: +1 or -1 for figures with a direction, else 0.
        fit: 1 - errors / (N - L).
        gain: 1 - errors / (N - M).
    """

    kind: str
    way: int
    fit: float
    gain: float

    @property
    def holds(self) -> bool:
        """Whether the face is this figure."""
        least = STILL if self.kind == "lengthwise" else FIT
        gain = BOTH_SIDES if self.kind == "arrowheads" else GAIN
        return self.fit >= least and self.gain >= gain


def inner(cells: Cells, margin: bool = False) -> Cells:
    """Return the face without borders: outer columns of one colour, three columns left at least.

    Args:
        cells: int16 ``[R, C]``.
        margin: Take off columns of the ground's colour too; else they belong to the figure that
            stands on it.
    """
    ground = -1 if margin else int(np.bincount(cells[cells >= 0]).argmax())
    left, right = 0, cells.shape[1]
    while right - left > 3 and _one_colour(cells[:, left], ground):
        left += 1
    while right - left > 3 and _one_colour(cells[:, right - 1], ground):
        right -= 1
    if all(_one_colour(cells[:, i]) for i in range(left, right)):
        return cells  # lengthwise stripes have no border
    return cells[:, left:right]


def _one_colour(column: Cells, ground: int = -1) -> bool:
    """Return whether a column has one colour, and not that of the ground."""
    seen = column[column >= 0]
    if len(seen) == 0:
        return True
    counts = np.bincount(seen)
    return bool(counts.max() >= BORDER * len(seen)) and int(counts.argmax()) != ground


class Face:
    """The cells of a face as lists, ready for models.

    Args:
        cells: int16 ``[R, C]``, a whole repeat, R even; -1 where no knot stands.
    """

    def __init__(self, cells: Cells) -> None:
        self.rows, self.columns = cells.shape
        self.r, self.i = (a.astype(np.int64) for a in np.nonzero(cells >= 0))
        self.colour = cells[cells >= 0].astype(np.int64)
        self.colours = int(self.colour.max(initial=0)) + 1
        self.most = int(np.bincount(self.colour).max()) if len(self.colour) else 0

    def hold(self, kind: str, way: int, key: Keys) -> Model:
        """Return a model, given the key of every cell, int64 ``[N]``, at least 0."""
        n = len(self.colour)
        table = np.bincount(key * self.colours + self.colour)
        table = np.pad(table, (0, -len(table) % self.colours)).reshape(-1, self.colours)
        lines = int((table.sum(1) > 0).sum())
        errors = n - int(table.max(1).sum())
        if n == self.most:
            return Model(kind, way, 0.0, 0.0)
        gain = 1.0 - errors / (n - self.most)
        few = n < LEAST_CELLS or n <= lines
        return Model(kind, way, 0.0 if few else 1.0 - errors / (n - lines), gain)

    @property
    def fold(self) -> Keys:
        """Twice the distance of every cell from the middle, in columns."""
        folded: Keys = np.abs(2 * self.i - (self.columns - 1))
        return folded

    def rows_model(self) -> Model:
        """Return the model of bars across the band."""
        return self.hold("rows", 0, self.r)

    def lengthwise(self) -> Model:
        """Return the model of stripes along the band.

        A stripe may be as narrow as one column, so a column counts as one line however often it
        comes again.
        """
        found = self.hold("lengthwise", 0, self.i)
        n = len(self.colour)
        errors = (1.0 - found.gain) * (n - self.most)
        return Model("lengthwise", 0, 1.0 - errors / n if n > self.most else 0.0, found.gain)

    def diagonals(self) -> Model:
        """Return the better of the two models of diagonal stripes."""
        return _best(
            self.hold("diagonals", way, (self.r - way * self.i) % self.rows) for way in (1, -1)
        )

    def arrowheads(self) -> Model:
        """Return the better of the two models of arrowheads; +1 points to the end of the band."""
        return _best(
            self.hold("arrowheads", way, (2 * self.r + way * self.fold) % (2 * self.rows))
            for way in (1, -1)
        )

    def diamonds(self) -> Model:
        """Return the best model of rings around points of the middle line."""
        return self._rings(1)

    def half_diamonds(self) -> Model:
        """Return the best model of rings around points of both edges."""
        return self._rings(-1)

    def _rings(self, way: int) -> Model:
        def keys() -> Iterator[Keys]:
            for start in range(self.rows):
                t = (self.r - start) % self.rows
                yield 2 * np.minimum(t, self.rows - t) + way * self.fold + 2 * self.columns

        return _best(self.hold("diamonds", 0, key) for key in keys())

    def zigzag(self) -> Model:
        """Return the best model of lines that swing along the band, all alike."""
        least = max(4, 2 * (self.columns // 2) - 2)

        def keys() -> Iterator[Keys]:
            for period in range(least + least % 2, self.rows + 1, 2):
                if self.rows % period:
                    continue
                for start in range(period):
                    t = (self.r - start) % period
                    yield self.i - np.minimum(t, period - t) + self.rows

        return _best((self.hold("zigzag", 0, key) for key in keys()), "zigzag")

    def ripples(self) -> Model:
        """Return the best model of bars that run across in a zigzag, two turns at least."""

        def keys() -> Iterator[Keys]:
            for width in range(2, self.columns // 2):
                for start in range(2 * width):
                    t = (self.i + start) % (2 * width)
                    yield (self.r - np.minimum(t, 2 * width - t)) % self.rows

        return _best((self.hold("ripples", 0, key) for key in keys()), "ripples")


def lines_of(cells: Cells) -> Model | None:
    """Return the model that holds of a face: the simplest of those that fit about as well.

    Args:
        cells: int16 ``[R, C]``, a whole repeat.
    """
    few = -(-2 * LEAST_CELLS // max(int((cells >= 0).sum()), 1))
    cells = np.tile(cells, (few, 1))  # a short repeat comes again before it says anything
    whole, face = Face(cells), Face(inner(cells))
    bars, still = whole.rows_model(), whole.lengthwise()
    if bars.gain >= BARS:
        return bars  # also where every row is one colour, and no column changes
    if still.holds:
        return still
    found = [m for m in (bars, *_all(face)) if m.holds]
    core = inner(cells, margin=True)
    if not found and core.shape[1] >= CORE:
        found = [m for m in _all(Face(core)) if m.holds]
    best = max((m.fit for m in found), default=0.0)
    return next((m for m in found if m.fit >= best - ALIKE), None)


def _all(face: Face) -> Iterator[Model]:
    """Yield the models of a face, the simplest first."""
    yield face.diagonals()
    yield face.arrowheads()
    yield face.zigzag()
    yield face.diamonds()
    yield face.half_diamonds()
    yield face.ripples()


def _best(models: Iterator[Model], kind: str = "") -> Model:
    return max(models, key=lambda m: (m.fit, m.gain), default=Model(kind, 0, 0.0, 0.0))
