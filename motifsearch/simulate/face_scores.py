"""The scores of faces, of designs of several batches together.

A face is scored over any whole number of its periods alike: its shares, its contrast and its motif
are fractions of cells, so T rows or a multiple of T give the same numbers to the last bit.  Designs
of unlike T are therefore scored in one group, over the longest T that all of theirs divide, where
the cells that this adds cost less than the operations it saves.  The symmetries of all groups are
counted by repeat.  How designs are grouped changes no score.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from motifsearch.base.arrays import F64, I64, U8
from motifsearch.pattern.knots import knots_in_grid
from motifsearch.simulate.colour import balance, colour_counts, contrast
from motifsearch.simulate.packed import MOST_ROWS, Packed, agreements, bits_of, packed_rows
from motifsearch.simulate.repeat import repeat_rows
from motifsearch.simulate.symmetry import KINDS, agreement, frieze_group
from motifsearch.simulate.texture import motif
from motifsearch.simulate.walk import faces

if TYPE_CHECKING:
    from motifsearch.simulate.scores import Setting

#: From larger palettes every design's own colours are looked at: a row is then one number still.
MOST_COLOURS: Final = 24
#: Rows of faces that are added at most to save the operations of one group: about as many as are
#: scored in the time of these (measured, S = 10).
WORTH_ROWS: Final = 5_000

Batch = tuple[U8, U8]


@dataclass
class FaceScores:
    """The scores of the faces of N designs; where a design is not scored they are 0, or nan.

    Attributes:
        repeat_rows: int64 ``[N]``.
        symmetry: Kind to float64 ``[N]``; nan where absent.
        frieze: int64 ``[N]``, index into `motifsearch.simulate.symmetry.GROUPS`.
        shares: float64 ``[k, N]``.
        balance, contrast, coherence, movement, lone: float64 ``[N]``.
    """

    repeat_rows: I64
    symmetry: dict[str, F64]
    frieze: I64
    shares: F64
    balance: F64
    contrast: F64
    coherence: F64
    movement: F64
    lone: F64

    @classmethod
    def empty(cls, k: int, n: int) -> FaceScores:
        """Return the scores of `n` designs, none of them scored yet, with `k` colours."""
        zeros = [np.zeros(n) for _ in range(5)]
        return cls(
            np.zeros(n, np.int64),
            {kind: np.full(n, np.nan) for kind in KINDS},
            np.zeros(n, np.int64),
            np.zeros((k, n)),
            *zeros,
        )


@dataclass(frozen=True)
class _Group:
    """Faces of one length: packed rows, which designs these are, and their repeats."""

    rows: Packed
    back: Packed
    face: U8 | None
    where: I64
    repeat: I64


def lengths(number: Mapping[int, int]) -> dict[int, int]:
    """Return over how many rows designs of every T are scored: a multiple of T.

    Args:
        number: How many designs there are of every T.

    Examples:
        >>> lengths({8: 100, 16: 50, 24: 10})
        {24: 24, 16: 16, 8: 24}
        >>> lengths({8: 100_000, 16: 50})
        {16: 16, 8: 8}
    """
    out: dict[int, int] = {}
    for total in sorted(number, reverse=True):
        longer = [t for t in set(out.values()) if t % total == 0]
        cheap = [t for t in longer if number[total] * (t - total) <= WORTH_ROWS]
        out[total] = max(cheap, default=total)
    return out


def score_faces(batches: Sequence[Batch], totals: Sequence[I64], setting: Setting) -> FaceScores:
    """Return the scores of the faces of all designs of some batches.

    Args:
        batches: Knots uint8 ``[P, S // 2, N]`` and colours uint8 ``[S, N]`` of each; they share S.
        totals: T of the designs of each, int64 ``[N]``; 0 where a design is not scored.
        setting: What the designs share.

    Returns:
        The scores of all, one batch behind the other.
    """
    first = np.cumsum([0, *(len(t) for t in totals)])
    out = FaceScores.empty(len(setting.differences), int(first[-1]))
    kinds, counts = np.unique(np.concatenate(totals), return_counts=True)
    over = lengths({int(t): int(n) for t, n in zip(kinds, counts, strict=True) if t})
    groups = []
    for length in sorted(set(over.values())):
        mine = [t for t, rows in over.items() if rows == length]
        parts = []
        for (knots, colours), total, start in zip(batches, totals, first[:-1], strict=True):
            some = np.flatnonzero(np.isin(total, mine))
            if len(some):
                parts.append((knots[:, :, some], colours[:, some], some + start))
        groups.append(_score(parts, length, setting, out))
    if setting.with_symmetry:
        strands = len(batches[0][1])
        _symmetries(groups, strands, _bits(setting, strands), out)
    return out


def _score(
    parts: list[tuple[U8, U8, I64]], length: int, setting: Setting, out: FaceScores
) -> _Group:
    """Fill in what needs no symmetry for designs that are scored over `length` rows."""
    differences = setting.differences
    colours = np.concatenate([c for _, c, _ in parts], axis=1)
    where = np.concatenate([w for _, _, w in parts])
    strands, names, order = len(colours), None, colours
    if len(differences) > MOST_COLOURS:
        order, names = own_colours(colours)
        differences = differences[names[:, None], names[None]]
    ends = np.cumsum([len(w) for _, _, w in parts])
    orders = np.split(order, ends[:-1], axis=1)
    drawn = [faces(k, o, length) for (k, _, _), o in zip(parts, orders, strict=True)]
    face = drawn[0] if len(drawn) == 1 else np.concatenate(drawn, axis=2)
    bits = _bits(setting, strands)
    rows = packed_rows(face, strands, bits)
    repeat = repeat_rows(rows[:, None])
    shares = colour_counts(face, len(differences), strands) / knots_in_grid(strands, length)
    if names is not None:
        mine, shares = shares, np.zeros((len(setting.differences), len(where)))
        np.add.at(shares, (names, np.arange(len(where))), mine)
    out.repeat_rows[where] = repeat
    out.shares[:, where] = shares
    out.balance[where] = balance(shares, colours, setting.targets)
    out.contrast[where] = contrast(face, strands, differences)
    out.coherence[where], out.movement[where], out.lone[where] = motif(face, strands)
    if not setting.with_symmetry:
        return _Group(rows, rows, None, where, repeat)
    back = packed_rows(face, strands, bits, mirrored=True)
    return _Group(rows, back, face if length > MOST_ROWS else None, where, repeat)


def _bits(setting: Setting, strands: int) -> int:
    """Return the bits of a cell, the same for all groups."""
    k = len(setting.differences)
    return bits_of(k if k <= MOST_COLOURS else strands)


def _symmetries(groups: list[_Group], strands: int, bits: int, out: FaceScores) -> None:
    """Fill in the symmetries of all groups, repeat by repeat."""
    if not groups:
        return
    repeats = np.unique(np.concatenate([g.repeat for g in groups]))
    for q in repeats:
        some = [(g, np.flatnonzero(g.repeat == q)) for g in groups]
        some = [(g, n) for g, n in some if len(n)]
        where = np.concatenate([g.where[n] for g, n in some])
        cells = knots_in_grid(strands, int(q))
        if q <= MOST_ROWS:
            rows = np.concatenate([g.rows[:q, n] for g, n in some], axis=1)
            back = np.concatenate([g.back[:q, n] for g, n in some], axis=1)
            agreeing: dict[str, Any] = agreements(rows, back, strands, bits)
        else:
            face = np.concatenate(
                [g.face[: int(q), :, n] for g, n in some if g.face is not None], 2
            )
            agreeing = {kind: agreement(face, kind, strands) for kind in KINDS}
        exact = {}
        for kind, agree in agreeing.items():
            if agree is None:
                exact[kind] = np.zeros(len(where), bool)
            else:
                exact[kind] = agree == cells
                out.symmetry[kind][where] = agree / cells
        out.frieze[where] = frieze_group(exact)


def own_colours(colours: U8) -> tuple[U8, I64]:
    """Return every design's colours numbered from 0, and which colours of the palette they are.

    Args:
        colours: uint8 ``[S, N]``, indices into a palette of any size.

    Returns:
        uint8 ``[S, N]``, and int64 ``[m, N]`` with m the most colours of a design; where one has
        fewer, its first stands for those that it lacks.

    Examples:
        >>> order, names = own_colours(np.array([[90], [7], [90], [41]], np.uint8))
        >>> order[:, 0].tolist(), names[:, 0].tolist()
        ([2, 0, 2, 1], [7, 41, 90])
    """
    sorted_ = np.sort(colours, 0)
    new = np.concatenate([np.zeros((1, colours.shape[1]), bool), sorted_[1:] != sorted_[:-1]])
    rank = np.cumsum(new, 0, dtype=np.uint8)
    across = np.broadcast_to(np.arange(colours.shape[1]), colours.shape)
    names = np.broadcast_to(sorted_[0].astype(np.int64), (int(rank.max(initial=0)) + 1,
                            colours.shape[1])).copy()  # fmt: skip
    names[rank, across] = sorted_
    order = (names[None] == colours[:, None]).argmax(1).astype(np.uint8)
    return order, names
