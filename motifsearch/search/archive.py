"""The archive: the best design of every kind (MAP-Elites; Mouret and Clune, arXiv:1504.04909).

The kinds are cells of a grid over what a maker tells designs apart by: frieze group (7),
movement (6), share of returning knots (4), number of colours (4), and repeat (5).  Every cell
keeps the feasible design that meets the wishes best; a new one must be better by more than the
rounding to take the cell.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from motifsearch.base.arrays import F64, I64, U8
from motifsearch.search.genome import Genomes, Space, join
from motifsearch.simulate.scores import Scores

SHAPE = (7, 6, 4, 4, 5)
CELLS = int(np.prod(SHAPE))


def cell_of(scores: Scores, colours: U8, palette: int) -> I64:
    """Return the cell of every design, int64 ``[N]``.

    Args:
        scores: The scores, with symmetry.
        colours: The colour order, uint8 ``[S, N]``.
        palette: Number of colours of the palette.
    """
    used = np.array([(colours == c).any(0) for c in range(palette)]).sum(0)
    parts = (
        scores.frieze,
        np.clip(scores.movement * 6, 0, 5).astype(np.int64),
        np.clip(scores.returning * 4, 0, 3).astype(np.int64),
        np.clip(used - 1, 0, 3),
        np.clip(np.log2(np.maximum(scores.repeat_rows, 2) / 3.0), 0, 4).astype(np.int64),
    )
    return np.ravel_multi_index(parts, SHAPE).astype(np.int64)


@dataclass
class Archive:
    """The elites of one island.

    Attributes:
        cells: int64 ``[n]``, ascending.
        utility: float64 ``[n]``.
        genomes: The n elites.
    """

    cells: I64
    utility: F64
    genomes: Genomes

    def __len__(self) -> int:
        """Return the number of filled cells."""
        return len(self.cells)

    def add(self, cells: I64, utility: F64, genomes: Genomes) -> int:
        """Let designs compete for their cells; return how many cells were filled or bettered."""
        all_cells = np.concatenate([self.cells, cells])
        all_utility = np.concatenate([self.utility, utility])
        newness = np.arange(len(all_cells))
        order = np.lexsort((newness, -all_utility, all_cells))
        first = np.r_[True, np.diff(all_cells[order]) != 0] if len(order) else np.zeros(0, bool)
        keep = order[first]
        changed = int((keep >= len(self.cells)).sum())
        if changed:
            self.genomes = join([self.genomes, genomes]).take(keep)
            self.cells, self.utility = all_cells[keep], all_utility[keep]
        return changed


def empty_archive(space: Space) -> Archive:
    """Return an archive without elites."""
    u8 = np.uint8
    genomes = Genomes(
        np.zeros(0, u8),
        np.zeros(0, u8),
        np.zeros((space.period, space.strands // 2, 0), u8),
        np.zeros((space.strands, 0), u8),
    )
    return Archive(np.zeros(0, np.int64), np.zeros(0), genomes)
