"""From designs to kinds: the canonical form, and every column of `motifsearch.library.columns`.

What is stored is computed by the batch scorer from the canonical design, never taken over from
whoever found it, so a kind says the same wherever it came from.  The figure takes ten times as long
as all the rest: it may be left for later (`with_figures`).
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from motifsearch.base.arrays import I64, U8
from motifsearch.describe.figures import FIGURES, figure_of
from motifsearch.library.columns import (
    MOST_CLASSES,
    MOST_ROWS,
    UNSEEN,
    Kinds,
    bit,
    classes_kept,
    cycles,
    is_border,
    join,
    layout,
    packed,
    use_mm,
)
from motifsearch.library.naming import bare, forms, keys, shortest
from motifsearch.pattern.design import Pattern
from motifsearch.search.genome import pattern_of
from motifsearch.search.variety import WINDOW_ROWS, outline
from motifsearch.search.wishes import best_symmetry
from motifsearch.simulate.scores import Setting, pattern_arrays, score_batch
from motifsearch.simulate.thread_use import counts, evenness
from motifsearch.simulate.walk import faces, rows_split, sigma
from motifsearch.thread.model import DEFAULT_DIAMETER_MM, ThreadModel

#: Inks that kinds are looked at in: which ones is of no consequence to what is kept.
INKS: Final = tuple(
    f"#{17 * c:02x}{255 - 17 * c:02x}{(c * 71) % 256:02x}" for c in range(MOST_CLASSES + 1)
)
NAMES: Final = tuple("abcdefghijklmnop"[:MOST_CLASSES])
#: Designs that are worked on at once.
AT_ONCE: Final = 4096


def kinds_of(patterns: Iterable[Pattern]) -> list[Kinds]:
    """Return the kinds of designs, each once, by size; those with too many classes are left out.

    Args:
        patterns: Designs of any size.
    """
    by_size: dict[tuple[int, int], list[Pattern]] = {}
    for pattern in patterns:
        by_size.setdefault((pattern.strands, pattern.rows), []).append(pattern)
    return together(k for some in by_size.values() for k in kinds_in(*pattern_arrays(some)))


def kinds_in(knots: U8, colours: U8) -> list[Kinds]:
    """Return the kinds of a batch of designs, each once, by size.

    Args:
        knots: uint8 ``[P, S // 2, N]``.
        colours: uint8 ``[S, N]``, numbers of any palette.
    """
    strands = len(colours)
    ordered = np.sort(colours, 0)
    few = (ordered[1:] != ordered[:-1]).sum(0) < classes_kept(strands)
    knots, colours = bare(knots[..., few], strands), colours[:, few]
    rows = shortest(knots)
    out = []
    for q in np.unique(rows):
        where = np.flatnonzero(rows == q)
        for start in range(0, len(where), AT_ONCE):
            some = where[start : start + AT_ONCE]
            _, grid, classes = forms(knots[:q][..., some], colours[:, some], MOST_ROWS)
            if classes.shape[1]:
                out.append(described(keys(grid, classes), grid, classes))
    return together(out)


def together(batches: Iterable[Kinds]) -> list[Kinds]:
    """Return batches of kinds as one a size, every kind once, in the order of their keys."""
    by_size: dict[tuple[int, int], list[Kinds]] = {}
    for batch in batches:
        if len(batch):
            by_size.setdefault((batch.strands, batch.period), []).append(batch)
    out = []
    for _, parts in sorted(by_size.items()):
        every = join(parts)
        # Of two of the same key the one of which more is known.
        order = np.lexsort((every["eased"] == 0, every["key"]))
        new = np.r_[True, np.diff(every["key"][order]) != 0]
        out.append(every.take(order[new]))
    return out


def described(key: npt.NDArray[np.uint64], knots: U8, colours: U8) -> Kinds:
    """Return kinds with all their columns but the figure; too late repeats are left out.

    Args:
        key: uint64 ``[N]``.
        knots: Canonical grids, uint8 ``[P, S // 2, N]``.
        colours: Colour classes numbered by first appearance, uint8 ``[S, N]``.
    """
    period, _, n = knots.shape
    strands = len(colours)
    most = classes_kept(strands)
    setting = Setting(
        differences=np.ones((most, most)) - np.eye(most), diameters_mm=np.full(most, 0.6),
        most_rows=MOST_ROWS,
    )  # fmt: skip
    scores = score_batch(knots, colours, setting)
    cycle = cycles(sigma(knots, strands).astype(np.int64))
    crossing, returning, waits = _rounds(knots, strands, cycle)
    touching, lines = _looks(knots, colours, scores.total_rows, scores.repeat_rows)
    found: dict[str, npt.NDArray[Any]] = {
        "key": key,
        "knots": packed(knots),
        "colours": colours,
        "classes": colours.max(0, initial=0) + 1,
        "odd": sum((colours == c).sum(0) % 2 for c in range(most)),
        "repeat_rows": scores.repeat_rows,
        "frieze": scores.frieze,
        "figure": np.full(n, UNSEEN),
        "eased": np.zeros(n),
        "symmetry": best_symmetry(scores),
        "movement": scores.movement,
        "coherence": scores.coherence,
        "lone": scores.lone,
        "flatness": scores.flatness,
        "balance": scores.balance,
        "stretches": scores.stretches_per_row,
        "returns": scores.returning,
        "kinds": scores.kinds,
        "used": np.bitwise_or.reduce(_bits(knots, strands), (0, 1)),
        "border": is_border(knots, strands),
        "round_rows": np.minimum(scores.round_rows, 65535),
        "shares": scores.shares,
        "touching": touching,
        "cycle": cycle,
        "crossing": crossing,
        "returning": returning,
        "waits": waits,
        "outline": lines,
    }
    use = use_mm(Kinds(strands, period, found), period, ThreadModel(), DEFAULT_DIAMETER_MM)
    found["even"] = evenness(use)[0]
    columns = {
        name: np.ascontiguousarray(found[name].astype(kind)).reshape(*shape, n)
        for name, (kind, shape) in layout(strands, period).items()
    }
    kept = scores.scored & (scores.repeat_rows <= MOST_ROWS)
    return Kinds(strands, period, columns).take(np.flatnonzero(kept))


def marked_eased(batches: Iterable[Kinds]) -> list[Kinds]:
    """Return kinds that are known to be the least to work of their faces."""
    return [
        Kinds(k.strands, k.period, {**k.columns, "eased": np.ones(len(k), np.uint8)})
        for k in batches
    ]


def with_figures(kinds: Kinds) -> Kinds:
    """Return kinds with the figure of each that was not looked at yet."""
    names = list(FIGURES)
    figure = kinds["figure"].copy()
    for n in np.flatnonzero(figure == UNSEEN):
        figure[n] = names.index(figure_of(kind_pattern(kinds, int(n))).kind)
    return Kinds(kinds.strands, kinds.period, {**kinds.columns, "figure": figure})


def kind_pattern(kinds: Kinds, n: int) -> Pattern:
    """Return one kind as a design, its classes named a, b, c ..."""
    one = kinds.take(np.array([n]))
    return pattern_of(one.knots()[..., 0], one["colours"][:, 0], "", NAMES, INKS)


def _bits(knots: U8, strands: int) -> U8:
    """Return the bit of every knot's code; 0 where a row has no knot."""
    bits = np.left_shift(np.uint8(1), knots, dtype=np.uint8)
    if strands % 2 == 0:
        bits[1::2, -1] = 0
    return bits


def _rounds(knots: U8, strands: int, cycle: I64) -> tuple[I64, I64, I64]:
    """Return crossing and returning knots tied and rows waited in every strand's own round."""
    period = len(knots)
    out = tuple(np.zeros(cycle.shape, np.int64) for _ in range(3))
    for length in np.unique(cycle):
        rows = int(length) * period
        mine = cycle == length
        some = np.flatnonzero(mine.any(0))
        crossing, returning, cores, _ = counts(knots[..., some], strands, rows)
        waits = rows - crossing - returning - cores
        for total, value in zip(out, (crossing, returning, waits), strict=True):
            total[:, some] = np.where(mine[:, some], value, total[:, some])
    return out[0], out[1], out[2]


def _looks(knots: U8, colours: U8, total: I64, repeat: I64) -> tuple[npt.NDArray[np.uint64], U8]:
    """Return which classes touch, uint64 ``[N]``, and the packed outline, uint8 ``[bytes, N]``."""
    strands, n = colours.shape
    touching = np.zeros(n, np.uint64)
    lines = np.zeros(((WINDOW_ROWS * (strands // 2) * 2 + 7) // 8, n), np.uint8)
    for t in np.unique(total[total > 0]):
        some = np.flatnonzero(total == t)
        face = faces(knots[..., some], colours[:, some], int(t))
        touching[some] = _pairs(face, strands)
        rows = np.arange(WINDOW_ROWS + 1)[:, None] % repeat[some]
        strip = np.take_along_axis(face, rows[:, None], 0)
        drawn = outline(strip, strands)
        lines[:, some] = np.packbits(drawn.reshape(-1, len(some)), axis=0)
    return touching, lines


def _pairs(face: U8, strands: int) -> npt.NDArray[np.uint64]:
    """Return the bits of the classes that touch, uint64 ``[N]``, for ``[T, S // 2, N]``."""
    even, odd = rows_split(face, strands)
    n_even, n_odd = even.shape[1], odd.shape[1]
    out = np.zeros(face.shape[2], np.uint64)
    table = np.zeros((MOST_CLASSES, MOST_CLASSES), np.uint64)
    for c in range(MOST_CLASSES):
        for d in range(c):
            table[c, d] = table[d, c] = np.uint64(1) << np.uint64(bit(c, d))
    # A row touches the one after it and the one before it.
    for other in (odd, np.roll(odd, 1, axis=0)):
        for mine, theirs in ((even[:, :n_odd], other), (even[:, 1:], other[:, : n_even - 1])):
            out |= np.bitwise_or.reduce(table[mine, theirs], (0, 1))
    return out
