"""The rules that name a figure, in the order in which they are tried, with their limits.

Each rule looks at a face and returns the figure with its way, or nothing.  Figures whose lines run
by a rule are held against it (`motifsearch.describe.models`); hearts, crosses, spots, blocks and
small diamonds are told by the outlines of patches (`motifsearch.describe.patches`); what swings or
opens a little unevenly, by its slopes (`motifsearch.describe.slopes`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from motifsearch.base.arrays import Bool
from motifsearch.describe.models import Model, inner, lines_of
from motifsearch.describe.patches import (
    Cells,
    Patch,
    is_block,
    is_cross,
    is_diamond,
    is_heart,
    outline,
    patches_of,
)
from motifsearch.describe.slopes import measures

#: Limits of the rules (ours, no source), set with faces that are drawn from each figure's geometry:
#: the share of all cells that hearts, and diamonds told by their outline, have at least (fewer
#: where the face is mirrored both ways, as a chain of diamonds is);
HEARTS: Final = 0.12
DIAMONDS: Final = 0.25
DIAMONDS_MIRRORED: Final = 0.12
DIAMOND_CELLS: Final = 4
#: the share of the cells off the ground that crosses, spots and blocks have at least;
CROSSES: Final = 0.8
SPOTS: Final = 0.85
BLOCKS: Final = 0.75
#: the cells of a spot at most, and the share of spots of one outline at least;
SPOT_CELLS: Final = 5
SPOTS_ALIKE: Final = 0.75
#: the share of columns that stay in a comb, the faults of one that stays, the change at its edges;
COMB_STILL: Final = 0.3
STILL_ERRORS: Final = 0.03
COMB_TEETH: Final = 0.2
#: the share of a lattice's lines that may end, and of its gaps;
LATTICE_LOOSE: Final = 0.2
LATTICE_GAPS: Final = 0.12
#: how much a zigzag and a wave swing, how much more than they open, and the most that they lean.
ZIGZAG: Final = 0.6
WAVES: Final = 0.45
SWAY: Final = 0.3
LEAN: Final = 0.35
#: how far diamonds and arrowheads that are drawn unevenly open and point, and the cells in scraps
#: that slopes allow.
OPEN: Final = 0.55
POINT: Final = 0.55
LONE: Final = 0.1


def _comb(face: Cells, still: float, edge: float) -> bool:
    """Return whether both edges change all along while the columns around the middle stay."""
    change = []
    for column in face.T:
        seen = column[column >= 0]
        change.append(1.0 - np.bincount(seen).max() / len(seen) if len(seen) else 0.0)
    calm = [share <= STILL_ERRORS for share in change]
    middle = len(calm) // 2
    if not calm[middle]:
        return False
    left = right = middle
    while left > 0 and calm[left - 1]:
        left -= 1
    while right < len(calm) - 1 and calm[right + 1]:
        right += 1
    teeth = min(max(change[:left], default=0.0), max(change[right + 1 :], default=0.0))
    return (right - left + 1) / len(calm) >= still and teeth >= edge


#: A figure and its way.
Found = tuple[str, int]


@dataclass(frozen=True)
class _Seen:
    """A face with what the rules ask of it; each is found when it is first asked for."""

    cells: Cells

    @cached_property
    def knots(self) -> Bool:
        return self.cells >= 0

    @cached_property
    def inner(self) -> Cells:
        return inner(self.cells)

    @cached_property
    def lines(self) -> Model | None:
        return lines_of(self.cells)

    @cached_property
    def slopes(self) -> dict[str, float]:
        return measures(self.cells)

    @cached_property
    def patches(self) -> list[Patch]:
        return patches_of(self.inner)

    @cached_property
    def mirrored(self) -> bool:
        """Whether the left half is the mirror image of the right."""
        return bool(np.array_equal(self.cells, self.cells[:, ::-1]))

    @cached_property
    def turned(self) -> bool:
        """Whether the face is the same from both ends, at some even shift."""
        back = self.cells[::-1]
        shifts = range(len(back) % 2 + 1, len(back) + 1, 2)
        return any(np.array_equal(np.roll(back, k, axis=0), self.cells) for k in shifts)

    @cached_property
    def ground(self) -> int:
        return int(np.argmax(np.bincount(self.inner[self.inner >= 0])))

    @cached_property
    def figure(self) -> list[Patch]:
        return [p for p in self.patches if p.colour != self.ground]

    def part(self, chosen: Sequence[Patch]) -> float:
        """Return the share of the cells off the ground that lie in these patches."""
        shown = sum(len(p.cells) for p in self.figure)
        return sum(len(p.cells) for p in chosen) / max(shown, 1)

    def of_all(self, chosen: Sequence[Patch]) -> float:
        """Return the share of all cells that lie in these patches."""
        return sum(len(p.cells) for p in chosen) / max(int(self.knots.sum()), 1)


def _lines(seen: _Seen) -> Found | None:
    """Return the figure whose lines the face follows (`motifsearch.describe.models`)."""
    return None if seen.lines is None else (seen.lines.kind, seen.lines.way)


def _plain(seen: _Seen) -> Found | None:
    return ("plain", 0) if len(set(seen.cells[seen.knots].tolist())) == 1 else None


def _hearts(seen: _Seen) -> Found | None:
    hearts = [p for p in seen.patches if is_heart(p, seen.inner.shape[1])]
    return ("hearts", 0) if hearts and seen.of_all(hearts) >= HEARTS else None


def _comb_edges(seen: _Seen) -> Found | None:
    return ("comb", 0) if _comb(seen.cells, COMB_STILL, COMB_TEETH) else None


def _crosses(seen: _Seen) -> Found | None:
    crosses = [p for p in seen.figure if is_cross(p)]
    if seen.part(crosses) < CROSSES:
        return None
    # What lies between diamonds that fill the band touches both its edges as a cross may.
    last = seen.inner.shape[1] - 1
    across = all({0, last} <= {i for _, i in p.cells} for p in crosses)
    rings = seen.lines is not None and seen.lines.kind == "diamonds"
    return None if across and rings else ("crosses", 0)


def _spots(seen: _Seen) -> Found | None:
    """Small figures of one outline, scattered over one ground."""
    small = [p for p in seen.figure if p.closed and len(p.cells) <= SPOT_CELLS]
    if not small or seen.part(small) < SPOTS:
        return None
    outlines: Counter[object] = Counter()
    for p in small:
        outlines[outline(p)] += len(p.cells)
    alike = outlines.most_common(1)[0][1] / outlines.total()
    return ("spots", 0) if alike >= SPOTS_ALIKE else None


def _small_diamonds(seen: _Seen) -> Found | None:
    found = seen.of_all([p for p in seen.patches if _is_one(p, seen)])
    least = DIAMONDS_MIRRORED if seen.mirrored and seen.turned else DIAMONDS
    return ("diamonds", 0) if found >= least else None


def _is_one(patch: Patch, seen: _Seen) -> bool:
    return len(patch.cells) >= DIAMOND_CELLS and is_diamond(patch, seen.inner.shape[1])


def _lattice(seen: _Seen) -> Found | None:
    """Lines that never end along the band, with closed gaps of ground between them."""
    if seen.part([p for p in seen.figure if p.closed]) > LATTICE_LOOSE:
        return None
    gaps = [p for p in seen.patches if p.colour == seen.ground and _is_one(p, seen)]
    return ("lattice", 0) if seen.of_all(gaps) >= LATTICE_GAPS else None


def _swings(seen: _Seen) -> Found | None:
    return ("zigzag", 0) if seen.slopes["swing"] >= ZIGZAG and _sways(seen) else None


def _waves(seen: _Seen) -> Found | None:
    return ("waves", 0) if seen.slopes["swing"] >= WAVES and _sways(seen) else None


def _sways(seen: _Seen) -> bool:
    """Return whether slopes turn along the band, and not only open and close."""
    m = seen.slopes
    return m["swing"] >= m["open"] + SWAY and abs(m["lean"]) <= LEAN and _calm(seen)


def _points(seen: _Seen) -> Found | None:
    """Arrowheads whose sides are uneven: what mirrors itself, and points one way all along."""
    point = seen.slopes["point"]
    return ("arrowheads", int(np.sign(point))) if seen.mirrored and abs(point) >= POINT else None


def _opens(seen: _Seen) -> Found | None:
    """Diamonds whose sides are uneven: what mirrors itself, opens and closes along the band."""
    m = seen.slopes
    turning = abs(m["point"]) <= LEAN
    return ("diamonds", 0) if seen.mirrored and m["open"] >= OPEN and turning else None


def _calm(seen: _Seen) -> bool:
    """Return whether few cells stand alone: slopes of scattered cells come out by chance."""
    lone = sum(len(p.cells) for p in seen.patches if len(p.cells) <= 2)
    return bool(lone <= LONE * seen.knots.sum())


def _blocks(seen: _Seen) -> Found | None:
    chosen = [p for p in seen.figure if is_block(p)]
    return ("blocks", 0) if chosen and seen.part(chosen) >= BLOCKS else None


#: The rules, in the order in which they are tried; each returns the figure and its way, or None.
RULES: Final[tuple[Callable[[_Seen], Found | None], ...]] = (
    _plain, _hearts, _crosses, _lines, _spots, _comb_edges, _lattice, _swings, _points, _opens,
    _small_diamonds, _waves, _blocks,
)  # fmt: skip


def look_at(cells: Cells) -> tuple[Found, dict[str, float]]:
    """Return the figure of a face with its way, and its slopes.

    Args:
        cells: int16 ``[R, C]``, a whole repeat.
    """
    seen = _Seen(cells)
    found = (rule(seen) for rule in RULES)
    return next((f for f in found if f is not None), ("patches", 0)), seen.slopes
