"""The scores of one design once more, slowly and plainly, straight from their definitions.

Nothing here is fast or shared with the batch scorer (but the walk of one design and the thread
model's plain count); a property test holds the two equal on random designs of every size.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import Any

from motifsearch.base.colour import colour_difference
from motifsearch.pattern.design import Pattern
from motifsearch.pattern.knots import positions_in_row
from motifsearch.pattern.walk import colour_return, face, repeat_rows
from motifsearch.thread.model import ThreadModel, strand_use

Cell = tuple[int, int]


def face_cells(pattern: Pattern, rows: int) -> dict[Cell, int]:
    """Return (r, i) -> colour index for the first `rows` rows."""
    return {
        (r, i): colour
        for r, row in enumerate(face(pattern, rows))
        for i, colour in zip(positions_in_row(pattern.strands, r), row, strict=True)
    }


def best_share(
    cells: dict[Cell, int], rows: int, maps: Iterator[Callable[[int, int], Cell]]
) -> float | None:
    """Return the best share of cells that agree with their image, or None without any map."""
    shares = [
        sum(cells[moved(r, i)] == c for (r, i), c in cells.items()) / len(cells) for moved in maps
    ]
    return max(shares) if shares else None


def symmetries(cells: dict[Cell, int], rows: int, strands: int) -> dict[str, float | None]:
    """Return the four symmetry shares over a repeat of `rows` rows."""
    last = strands - 2
    half = rows // 2
    even, same = range(0, rows, 2), range(strands % 2, rows, 2)
    mirror = [lambda r, i: (r, last - i)] if strands % 2 == 0 else []
    glide = [lambda r, i: ((r + half) % rows, last - i)] if half % 2 == strands % 2 else []
    flip = [lambda r, i, s=s: ((s - r) % rows, i) for s in even]
    turn = [lambda r, i, s=s: ((s - r) % rows, last - i) for s in same]
    return {
        "mirror": best_share(cells, rows, iter(mirror)),
        "glide": best_share(cells, rows, iter(glide)),
        "flip": best_share(cells, rows, iter(flip)),
        "half_turn": best_share(cells, rows, iter(turn)),
    }


def group_of(shares: dict[str, float | None]) -> str:
    """Return the frieze group from the symmetries that are exact."""
    mirror, glide, flip, turn = (shares[k] == 1 for k in ("mirror", "glide", "flip", "half_turn"))
    if mirror:
        return "p2mm" if flip else "p11m"
    if flip:
        return "p2mg" if glide or turn else "p1m1"
    if glide:
        return "p11g"
    return "p2" if turn else "p1"


def touching(rows: int, cells: dict[Cell, int]) -> Iterator[tuple[Cell, Cell]]:
    """Yield every touching pair once, rows modulo `rows`."""
    for r, i in cells:
        for j in (i - 1, i + 1):
            below = ((r + 1) % rows, j)
            if below in cells:
                yield (r, i), below


def reference_scores(
    pattern: Pattern, length_mm: float, diameters_mm: Any = None, model: ThreadModel | None = None
) -> dict[str, Any]:
    """Return the scores of one design in a flat dictionary.

    Args:
        pattern: The design.
        length_mm: Knotted length.
        diameters_mm: Per strand, float64 ``[S]``, or None for the default.
        model: The thread model.
    """
    import numpy as np

    model = model or ThreadModel()
    strands = pattern.strands
    total = colour_return(pattern) * pattern.rows
    repeat = repeat_rows(pattern)
    cells = face_cells(pattern, repeat)
    pairs = list(touching(repeat, cells))
    # Over two rows a pair of cells may touch twice, once above and once below: both count.
    neighbours: dict[Cell, list[int]] = {cell: [] for cell in cells}
    for one, other in pairs:
        neighbours[one].append(cells[other])
        neighbours[other].append(cells[one])
    k = len(pattern.palette)
    shares = [sum(c == n for c in cells.values()) / len(cells) for n in range(k)]
    entropy = -sum(f * math.log(f) for f in shares if f > 0)
    palette = [pattern.colours[name] for name in pattern.palette]
    differences = [
        colour_difference(palette[cells[a]], palette[cells[b]])
        for a, b in pairs
        if cells[a] != cells[b]
    ]
    d = diameters_mm if diameters_mm is not None else np.full(strands, 0.6)
    rows = model.rows_for(length_mm, d)
    use = strand_use(pattern, rows, model, d)
    codes = [code for row in pattern.knots for code in row]
    shares_of_symmetry = symmetries(cells, repeat, strands)
    return {
        "total_rows": total,
        "repeat_rows": repeat,
        **shares_of_symmetry,
        "frieze": group_of(shares_of_symmetry),
        "shares": shares,
        "balance": entropy / math.log(k) if k > 1 else 1.0,
        "contrast": min(differences, default=math.inf),
        "coherence": sum(cells[a] == cells[b] for a, b in pairs) / len(pairs),
        "movement": sum(c != cells[((r + 2) % repeat, i)] for (r, i), c in cells.items())
        / len(cells),
        "lone": sum(c not in neighbours[cell] for cell, c in cells.items()) / len(cells),
        "rows_knotted": rows,
        "loop_mm": use.loop_mm,
        "path_mm": use.path_mm,
        "evenness": use.use_mm.min() / use.use_mm.max(),
        "offcut": 1 - use.use_mm.mean() / use.use_mm.max(),
        "flatness": 1 - abs(codes.count(0) - codes.count(1)) / len(codes),
        "returning": sum(code >= 2 for code in codes) / len(codes),
    }
