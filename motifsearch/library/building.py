"""From designs to kinds: the canonical form, and every column of `motifsearch.library.columns`.

What is stored is computed by the batch scorer from the canonical design, never taken over from
whoever found it, so a kind says the same wherever it came from.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
import numpy.typing as npt

from motifsearch.base.arrays import I64, U8
from motifsearch.describe.figures import FIGURES, figure_of
from motifsearch.library.columns import (
    MOST_CLASSES,
    MOST_ROWS,
    Kinds,
    bit,
    classes_kept,
    cycles,
    is_border,
    join,
    layout,
    packed,
)
from motifsearch.pattern.canonical_form import canonical, canonical_key
from motifsearch.pattern.design import Pattern
from motifsearch.search.genome import pattern_of
from motifsearch.search.variety import WINDOW_ROWS, outline
from motifsearch.search.wishes import best_symmetry
from motifsearch.simulate.scores import Setting, score_batch
from motifsearch.simulate.thread_use import counts
from motifsearch.simulate.walk import faces, rows_split, sigma

#: Inks that kinds are looked at in: which ones is of no consequence to what is kept.
INKS = tuple(
    f"#{17 * c:02x}{255 - 17 * c:02x}{(c * 71) % 256:02x}" for c in range(MOST_CLASSES + 1)
)
NAMES = tuple("abcdefghijklmnop"[:MOST_CLASSES])


def kind_of(pattern: Pattern) -> tuple[Pattern, int]:
    """Return the canonical design of a kind, its classes named a, b, c ..., and its key."""
    rows, classes = canonical(pattern)
    strands = len(classes)
    knots = np.zeros((len(rows), strands // 2), np.uint8)
    for r, row in enumerate(rows):
        knots[r, : len(row)] = row
    plain = pattern_of(knots, np.array(classes, np.uint8), "", NAMES, INKS)
    return plain, int(canonical_key(pattern), 16)


def kinds_of(patterns: Iterable[Pattern]) -> list[Kinds]:
    """Return the kinds of designs, each once, by size; those with too many classes are left out.

    Args:
        patterns: Designs of any size.
    """
    by_size: dict[tuple[int, int], dict[int, Pattern]] = {}
    for pattern in patterns:
        if len(pattern.palette) <= classes_kept(pattern.strands):
            kind, key = kind_of(pattern)
            by_size.setdefault((kind.strands, kind.rows), {})[key] = kind
    out = []
    for (strands, _), found in sorted(by_size.items()):
        keys = np.array(sorted(found), np.uint64)
        some = [found[int(k)] for k in keys]
        knots = np.stack([p.grid for p in some], -1)
        order = [sorted(NAMES).index(c) for p in some for c in p.colour_order]
        colours = np.array(order, np.uint8).reshape(len(some), strands).T.copy()
        kinds = described(keys, knots, colours)
        if len(kinds):
            out.append(kinds)
    return out


def described(keys: npt.NDArray[np.uint64], knots: U8, colours: U8) -> Kinds:
    """Return kinds with all their columns; those whose face repeats too late are left out.

    Args:
        keys: uint64 ``[N]``.
        knots: Canonical grids, uint8 ``[P, S // 2, N]``.
        colours: Colour classes numbered by first appearance, uint8 ``[S, N]``.
    """
    period, _, _ = knots.shape
    strands = len(colours)
    most = classes_kept(strands)
    setting = Setting(
        differences=np.ones((most, most)) - np.eye(most), diameters_mm=np.full(most, 0.6),
        most_rows=MOST_ROWS,
    )  # fmt: skip
    scores = score_batch(knots, colours, setting)
    good = np.flatnonzero(scores.scored & (scores.repeat_rows <= MOST_ROWS))
    keys, knots, colours = keys[good], knots[..., good], colours[:, good]
    if len(good) < len(scores.scored):
        scores = score_batch(knots, colours, setting)
    n = len(good)
    cycle = cycles(sigma(knots, strands).astype(np.int64))
    crossing, returning, waits = _rounds(knots, strands, cycle)
    touching, lines, figure = _looks(knots, colours, scores.total_rows, scores.repeat_rows)
    found: dict[str, npt.NDArray[Any]] = {
        "key": keys,
        "knots": packed(knots),
        "colours": colours,
        "classes": colours.max(0, initial=0) + 1,
        "repeat_rows": scores.repeat_rows,
        "frieze": scores.frieze,
        "symmetry": best_symmetry(scores),
        "movement": scores.movement,
        "coherence": scores.coherence,
        "lone": scores.lone,
        "flatness": scores.flatness,
        "stretches": scores.stretches_per_row,
        "returns": scores.returning,
        "kinds": scores.kinds,
        "used": np.bitwise_or.reduce(_bits(knots, strands), (0, 1)),
        "border": is_border(knots, strands),
        "round_rows": np.minimum(scores.round_rows, 65535),
        "figure": figure,
        "shares": scores.shares,
        "strands_of": np.array([(colours == c).sum(0) for c in range(most)]),
        "touching": touching,
        "cycle": cycle,
        "crossing": crossing,
        "returning": returning,
        "waits": waits,
        "outline": lines,
    }
    columns = {
        name: np.ascontiguousarray(found[name].astype(kind)).reshape(*shape, n)
        for name, (kind, shape) in layout(strands, period).items()
    }
    return Kinds(strands, period, columns)


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
        crossing, returning, cores, _ = counts(knots, strands, rows)
        mine = cycle == length
        for total, value in zip(out, (crossing, returning, rows - crossing - returning - cores),
                                strict=True):  # fmt: skip
            total[mine] = value[mine]
    return out[0], out[1], out[2]


def _looks(knots: U8, colours: U8, total: I64, repeat: I64) -> tuple[I64, U8, U8]:
    """Return which classes touch, the outline over a window, and the figure of every kind."""
    strands, n = len(colours), colours.shape[1]
    touching = np.zeros(n, np.uint64)
    lines = np.zeros(((WINDOW_ROWS * (strands // 2) * 2 + 7) // 8, n), np.uint8)
    figure = np.zeros(n, np.uint8)
    names = list(FIGURES)
    for t in np.unique(total):
        some = np.flatnonzero(total == t)
        face = faces(knots[..., some], colours[:, some], int(t))
        touching[some] = _pairs(face, strands)
        for k, where in enumerate(some):
            q = int(repeat[where])
            strip = face[np.arange(WINDOW_ROWS + 1) % q, :, k]
            lines[:, where] = np.packbits(outline(strip, strands).ravel())
            kind = pattern_of(knots[..., where], colours[:, where], "", NAMES, INKS)
            figure[where] = names.index(figure_of(kind).kind)
    return touching.astype(np.int64), lines, figure


def _pairs(face: U8, strands: int) -> npt.NDArray[np.uint64]:
    """Return the bits of the classes that touch, uint64 ``[N]``, for ``[T, S // 2, N]``."""
    even, odd = rows_split(face, strands)
    n_even, n_odd = even.shape[1], odd.shape[1]
    below, above = odd, np.roll(odd, 1, axis=0)
    out = np.zeros(face.shape[2], np.uint64)
    table = np.zeros((MOST_CLASSES, MOST_CLASSES), np.uint64)
    for c in range(MOST_CLASSES):
        for d in range(c):
            table[c, d] = table[d, c] = np.uint64(1) << np.uint64(bit(c, d))
    for other in (below, above):
        for mine, theirs in ((even[:, :n_odd], other), (even[:, 1:], other[:, : n_even - 1])):
            out |= np.bitwise_or.reduce(table[mine, theirs], (0, 1))
    return out


__all__ = ["described", "join", "kind_of", "kinds_of"]
