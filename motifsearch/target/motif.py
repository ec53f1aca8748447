"""The wanted motif: a small picture of the face, cell by cell.

A target says for every cell (r, i) of one period which colour the tying strand should show, or
that any will do.  It is painted as text (`motifsearch.target.text`) or as a picture
(`motifsearch.target.image`).

The picture is one period.  A period has an even number of rows: an odd picture is laid twice when
the number of strands is odd (its rows then fit at either parity), else a free row follows it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from motifsearch.base.arrays import I8

#: More colours than folded threads of the widest band.
MAX_COLOURS = 12


@dataclass(frozen=True, eq=False)
class Target:
    """A wanted face.

    Attributes:
        title: Any text.
        strands: S.
        names: The colour names, K of them.
        colours: Their ``#rrggbb``.
        cells: int8 ``[rows, S // 2]``: an index into `names`, or -1 for any colour and for the
            slots that a row does not have.
    """

    title: str
    strands: int
    names: tuple[str, ...]
    colours: tuple[str, ...]
    cells: I8

    @property
    def rows(self) -> int:
        """The number of rows."""
        return len(self.cells)

    @property
    def wanted(self) -> int:
        """The number of cells that ask for a colour."""
        return int((self.cells >= 0).sum())

    @property
    def palette(self) -> dict[str, str]:
        """Colour name to ``#rrggbb``."""
        return dict(zip(self.names, self.colours, strict=True))

    def evened(self) -> Target:
        """Return the target with an even number of rows, as the module says.

        Examples:
            >>> t = Target("", 5, ("a",), ("#000000",), np.zeros((3, 2), np.int8))
            >>> t.evened().rows
            6
        """
        if self.rows % 2 == 0:
            return self
        more = self.cells if self.strands % 2 else np.full((1, self.strands // 2), -1, np.int8)
        return replace(self, cells=np.concatenate([self.cells, more]))

    def repeated(self, times: int) -> Target:
        """Return the target laid `times` times one after the other (of its even form)."""
        return replace(self, cells=np.tile(self.evened().cells, (times, 1)))

    @property
    def asked(self) -> tuple[str, ...]:
        """The names of the colours that cells ask for."""
        return tuple(self.names[c] for c in np.unique(self.cells[self.cells >= 0]))

    def with_colours(self, names: Sequence[str]) -> Target:
        """Return the target with these of its colours; all that cells ask for must be among them.

        Examples:
            >>> t = Target("", 4, ("a", "b"), ("#000000", "#ffffff"), np.array([[1, -1]], np.int8))
            >>> t.with_colours(["b"]).cells.tolist()
            [[0, -1]]
        """
        where = np.full(len(self.names) + 1, -1, np.int8)
        for n, name in enumerate(names):
            where[self.names.index(name)] = n
        colours = tuple(self.palette[name] for name in names)
        return replace(self, names=tuple(names), colours=colours, cells=where[self.cells])
