"""Work that is granted, and counted alike on every machine.

A search that must end somewhere ends after so much *work*, never after so much time: what it
finds is then the same on a busy machine, on a fast one and on a slow one.  One unit is about a
microsecond of an ordinary core; it is counted (columns, nodes, states), never measured.
"""

from __future__ import annotations

import math
from typing import Final

#: Units of about a second.
SECOND: Final = 1e6


class OutOfWorkError(Exception):
    """The work that was granted is used up; whoever granted it catches this."""


class Work:
    """Work that is granted.

    Args:
        granted: Units; without end when left out.

    Examples:
        >>> work = Work(10.0)
        >>> work.spend(4.0)
        >>> work.left, work.part(0.5).left
        (6.0, 3.0)
    """

    def __init__(self, granted: float = math.inf) -> None:
        self.left = granted

    def spend(self, units: float) -> None:
        """Count work that was done."""
        self.left -= units

    def tick(self, units: float) -> None:
        """Count work, and end when nothing is left.

        Raises:
            OutOfWorkError: Nothing is left.
        """
        self.left -= units
        if self.left < 0:
            raise OutOfWorkError

    def part(self, share: float) -> Work:
        """Return a part of what is left, to be spent apart."""
        return Work(max(0.0, self.left) * share)
