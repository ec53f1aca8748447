"""Notches: the numbers on the holding board, and the mirror of a left-handed sheet.

Strand i (0-based) sits in notch `first_notch` + i; a mirrored band counts from the other side, and
every knot becomes its mirror image, while the notches keep the board's numbers.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from motifsearch.pattern.knots import MIRRORED


@dataclass(frozen=True)
class Setting:
    """How positions are shown: which notch is the first, and whether the band is mirrored."""

    strands: int
    first_notch: int = 1
    mirrored: bool = False

    def notch(self, position: int) -> int:
        """Return the number of the notch where the strand at `position` sits.

        Examples:
            >>> Setting(8, 3).notch(0), Setting(8, 3, mirrored=True).notch(0)
            (3, 10)
        """
        seen = self.strands - 1 - position if self.mirrored else position
        return self.first_notch + seen

    def code(self, code: int) -> int:
        """Return the knot as it is tied on this sheet."""
        return int(MIRRORED[code]) if self.mirrored else code

    def seen(self, order: Sequence[str]) -> tuple[str, ...]:
        """Return what stands at the positions as it is seen, from the left."""
        return tuple(reversed(order)) if self.mirrored else tuple(order)
