"""Variety: how different two faces look, and a gallery that is good and varied.

The *outline* of a face is where touching cells differ in colour: one bit for the cell below to
the left and one for the cell below to the right.  It does not change when colours are renamed.
The distance of two faces is the Jaccard distance of their outlines over a window of rows, at the
best of all phases, as they are, mirrored, flipped and turned: 0 for faces that can be laid on one
another, 1 for faces without a common line.

The gallery is picked greedily (max-min, after Gonzalez, Theor. Comput. Sci. 38, 1985): first the
design that meets the wishes best, then always the one with the largest sum of its wishes and
`SPREAD` times its distance to the nearest design picked before, less `SAME_COLOURS` for every
design of the same colours and `SAME_NUMBER` for every design of as many colours picked before; one
closer than `NEAR` to any of them is never picked.

Of faces of different widths the wider one's *middle* is compared, as wide as the other.  One figure
in two widths is two bands, however alike: their distance d counts as NEAR + (1 - NEAR) d.  Where
there are several widths, `SAME_WIDTH` is taken off for every design of as many strands picked
before, and the last places are kept for widths of which none is picked yet: all are shown.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from motifsearch.base.arrays import F64, U8, Bool
from motifsearch.pattern.canonical_form import canonical_key
from motifsearch.pattern.design import Pattern
from motifsearch.pattern.knots import slots_in_row
from motifsearch.simulate.repeat import repeat_rows
from motifsearch.simulate.scores import pattern_arrays
from motifsearch.simulate.symmetry import mirrored_cells
from motifsearch.simulate.walk import faces, return_periods

WINDOW_ROWS: Final = 48
SPREAD: Final = 0.35
NEAR: Final = 0.25
SAME_COLOURS: Final = 0.03
SAME_NUMBER: Final = 0.008
SAME_WIDTH: Final = 0.008


def repeat_face(pattern: Pattern) -> U8:
    """Return one repeat of the face, uint8 ``[q, S // 2]``."""
    knots, colours = pattern_arrays([pattern])
    total = int(return_periods(knots, colours, 10**6)[0]) * pattern.rows
    face = faces(knots, colours, total)
    return face[: int(repeat_rows(face)[0]), :, 0]


def outline(face: U8, strands: int) -> Bool:
    """Return the outline of a strip, bool ``[rows - 1, S // 2, 2]``, for uint8 ``[rows, S // 2]``.

    A batch, uint8 ``[rows, S // 2, N]``, gives bool ``[rows - 1, S // 2, 2, N]``.  Element
    ``[r, k, 0]`` says whether the cell in slot k differs from the one below to the left.
    """
    rows = len(face)
    out = np.zeros((rows - 1, strands // 2, 2, *face.shape[2:]), bool)
    even, odd = slots_in_row(strands, 0), slots_in_row(strands, 1)
    # Slot k of an even row stands over slots k-1 and k, of an odd one over k and k+1.
    for first, left in ((0, -1), (1, 0)):
        here, below = face[first : rows - 1 : 2], face[first + 1 :: 2]
        mine, theirs = (even, odd) if first == 0 else (odd, even)
        for side in (0, 1):
            step = left + side
            low, high = max(0, -step), min(mine, theirs - step)
            out[first::2, low:high, side] = here[:, low:high] != below[:, low + step : high + step]
    return out


def variants(face: U8, strands: int, window: int = WINDOW_ROWS) -> U8:
    """Return the packed outlines of a face at every phase and under the four transforms.

    Args:
        face: One repeat, uint8 ``[q, S // 2]``.
        strands: S.
        window: Rows compared.

    Returns:
        uint8 ``[4 * q / 2, bytes]``; the first is the face as it is.
    """
    q, odd = len(face), strands % 2
    mirrored = mirrored_cells(face[:, :, None], strands)[:, :, 0]
    rows = np.arange(q + window + 1)
    strips = (
        face[rows % q],
        mirrored[(rows + odd) % q],
        face[-rows % q],
        mirrored[(odd - rows) % q],
    )
    packed = []
    for strip in strips:
        lines = outline(strip, strands)
        for s in range(0, q, 2):
            packed.append(np.packbits(lines[s : s + window].ravel()))
    return np.array(packed)


def distances(one: U8, others: Sequence[U8]) -> F64:
    """Return the distance of one packed outline to each of others with all their variants.

    Args:
        one: uint8 ``[bytes]``.
        others: Per face, uint8 ``[variants, bytes]``.
    """
    sizes = [len(o) for o in others]
    stack = np.concatenate(list(others))
    union = np.bitwise_count(stack | one).sum(1, dtype=np.int64)
    differ = np.bitwise_count(stack ^ one).sum(1, dtype=np.int64)
    share = differ / np.maximum(union, 1)
    starts = np.r_[0, np.cumsum(sizes)[:-1]]
    out: F64 = np.minimum.reduceat(share, starts)
    return out


def middle(face: U8, strands: int, narrow: int) -> U8:
    """Return the middle of a strip, uint8 ``[rows, narrow // 2]``.

    Where as many strands cannot be left out on both sides, one more is left out on the right.

    Args:
        face: One repeat, uint8 ``[rows, S // 2]``, of an even number of rows.
        strands: S.
        narrow: Strands of the middle, at most S.
    """
    left = (strands - narrow) // 2
    # A strip begins with the row that has a knot at its first position.
    rows = np.roll(face, -(left % 2), axis=0)
    out = np.zeros((len(face), narrow // 2), face.dtype)
    for first in (0, 1):
        slots = slots_in_row(narrow, first)
        start = (first + left - (first + left) % 2) // 2
        out[first::2, :slots] = rows[first::2, start : start + slots]
    return out


class Outlines:
    """The outlines of some faces, whole and of their middles.

    Args:
        patterns: The designs.
    """

    def __init__(self, patterns: Sequence[Pattern]) -> None:
        self.faces = [repeat_face(p) for p in patterns]
        self.widths = np.array([p.strands for p in patterns], np.int64)
        self._known: dict[tuple[int, int], U8] = {}

    def of(self, n: int, narrow: int) -> U8:
        """Return all variants of a face, or of its middle: see `variants`."""
        if (n, narrow) not in self._known:
            strands = int(self.widths[n])
            face = self.faces[n]
            part = face if narrow == strands else middle(face, strands, narrow)
            self._known[n, narrow] = variants(part, narrow)
        return self._known[n, narrow]

    def apart(self, n: int) -> F64:
        """Return the distance of one face to each of all, float64 ``[faces]``."""
        out = np.zeros(len(self.faces))
        own = int(self.widths[n])
        for width in np.unique(self.widths).tolist():
            narrow, some = min(own, width), np.flatnonzero(self.widths == width)
            far = distances(self.of(n, narrow)[0], [self.of(int(k), narrow) for k in some])
            out[some] = far if width == own else NEAR + (1.0 - NEAR) * far
        return out


def face_distance(a: Pattern, b: Pattern) -> float:
    """Return the distance of two faces, 0..1; at least `NEAR` where they are not equally wide.

    Examples:
        >>> from motifsearch.pattern.design import make_pattern
        >>> ink = {"a": "#000000", "b": "#ffffff"}
        >>> p = make_pattern("", ["rr rr", "rr"], "aabb", ink)
        >>> q = make_pattern("", ["ll ll", "ll"], "bbaa", ink)
        >>> face_distance(p, q)
        0.0
    """
    return float(Outlines([a, b]).apart(0)[1])


def nearest_distances(patterns: Sequence[Pattern]) -> F64:
    """Return for every face its distance to the nearest of the others, float64 ``[n]``; 1 alone."""
    lines = Outlines(patterns)
    out = np.ones(len(patterns))
    for n in range(len(patterns)):
        others = np.delete(lines.apart(n), n)
        if len(others):
            out[n] = others.min()
    return out


def pick(
    patterns: Sequence[Pattern],
    utility: F64,
    size: int,
    first: int = 0,
    near: float = NEAR,
    spread: float = SPREAD,
) -> tuple[list[int], list[float]]:
    """Pick a good and varied gallery.

    Args:
        patterns: Candidates.
        utility: How well each meets the wishes, float64 ``[n]``; or what counts for every place of
            the gallery in turn, float64 ``[places, n]``.
        size: How many to pick at most.
        first: How many from the front are taken in any case (favourites).
        near: Two designs closer than this are not both picked.
        spread: What distance counts beside the wishes.

    Returns:
        The indices picked, in order, and for each its distance to the nearest picked before.
    """
    if not patterns:
        return [], []
    rows = np.atleast_2d(utility)
    lines = Outlines(patterns)
    several = bool((lines.widths != lines.widths[0]).any())
    inks = [frozenset(p.palette) for p in patterns]
    like = np.zeros(len(patterns))
    nearest = np.ones(len(patterns))
    open_ = np.ones(len(patterns), bool)
    keys: set[str] = set()
    chosen: list[int] = []
    gaps: list[float] = []
    while len(chosen) < size and open_.any():
        if len(chosen) < first:
            best = len(chosen)
        else:
            row = rows[min(len(chosen), len(rows) - 1)]
            worth = np.round(row + spread * nearest - like, 9)
            worth[~open_] = -np.inf
            if several:
                unseen = ~np.isin(lines.widths, lines.widths[chosen])
                if size - len(chosen) <= len(np.unique(lines.widths[open_ & unseen])):
                    worth[~unseen] = -np.inf
            best = int(worth.argmax())
        open_[best] = False
        key = canonical_key(patterns[best])
        if key in keys:
            continue
        keys.add(key)
        chosen.append(best)
        gaps.append(float(nearest[best]))
        nearest = np.minimum(nearest, lines.apart(best))
        if several:
            like[lines.widths == lines.widths[best]] += SAME_WIDTH
        like += [
            SAME_COLOURS * (ink == inks[best]) + SAME_NUMBER * (len(ink) == len(inks[best]))
            for ink in inks
        ]
        open_ &= nearest >= near
    return chosen, gaps
