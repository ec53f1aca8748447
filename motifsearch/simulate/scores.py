"""All scores of a batch, and the scores of one design as they are written to files.

The scorer is a pure function of arrays: no random numbers, no search objects.  Designs of one
batch share S and P; they are grouped by the period T of their faces, and every score of a group
is a handful of whole-array operations.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, fields

import numpy as np

from motifsearch.base.arrays import F64, I64, U8, Bool
from motifsearch.base.colour import difference_matrix
from motifsearch.pattern.design import Pattern
from motifsearch.pattern.knots import knots_in_grid
from motifsearch.simulate.colour import balance, colour_counts, contrast
from motifsearch.simulate.design_scores import (
    ColourScores,
    DesignScores,
    HandlingScores,
    MotifScores,
    SymmetryScores,
    ThreadScores,
)
from motifsearch.simulate.handling import (
    kinds_of_knots,
    lean,
    minutes,
    returning_share,
    round_rows,
    stretches,
)
from motifsearch.simulate.packed import MOST_ROWS, agreements, bits_of, packed_rows
from motifsearch.simulate.repeat import repeat_rows
from motifsearch.simulate.symmetry import GROUPS, KINDS, agreement, frieze_group
from motifsearch.simulate.texture import motif
from motifsearch.simulate.thread_use import consumption, evenness
from motifsearch.simulate.walk import faces, return_periods
from motifsearch.thread.model import DEFAULT_DIAMETER_MM, ThreadModel

DEFAULT_LENGTH_MM = 150.0
#: From larger palettes every design's own colours are looked at: a row is then one number still.
MOST_COLOURS = 24


@dataclass(frozen=True)
class Setting:
    """What all designs of a batch share.

    Attributes:
        differences: CIEDE2000 of every two colours of the palette, float64 ``[k, k]``.
        diameters_mm: Thread diameter of every colour of the palette, float64 ``[k]``.
        length_mm: The knotted length.
        model: The thread model.
        targets: Wanted colour shares, float64 ``[k]``, or None.
        most_rows: Designs whose T is longer are not scored further.
        with_symmetry: Whether symmetry is scored (it takes a good part of the time).
    """

    differences: F64
    diameters_mm: F64
    length_mm: float = DEFAULT_LENGTH_MM
    model: ThreadModel = field(default_factory=ThreadModel)
    targets: F64 | None = None
    most_rows: int = 400_000
    with_symmetry: bool = True


@dataclass
class Scores:
    """The scores of N designs; every array ends with the design's index.

    Attributes:
        scored: bool ``[N]``; False where T is longer than the setting's `most_rows`: there only
            the scores that need no face are meant.
        total_rows: int64 ``[N]``, T; 0 where not scored.
        repeat_rows: int64 ``[N]``; 0 where not scored.
        symmetry: Kind to float64 ``[N]``; nan where absent.
        frieze: int64 ``[N]``, index into `motifsearch.simulate.symmetry.GROUPS`.
        shares: float64 ``[k, N]``.
        balance, contrast, coherence, movement, lone: float64 ``[N]``.
        rows_knotted: int64 ``[N]``.
        loop_mm, path_mm: float64 ``[S, N]``, in the order of the strands at the start.
        evenness, offcut, flatness, returning, stretches_per_row: float64 ``[N]``.
        kinds: int64 ``[N]``, kinds of knots in the grid.
        round_rows: int64 ``[N]``, rows of a round; 0 where not scored.
    """

    scored: Bool
    total_rows: I64
    repeat_rows: I64
    symmetry: dict[str, F64]
    frieze: I64
    shares: F64
    balance: F64
    contrast: F64
    coherence: F64
    movement: F64
    lone: F64
    rows_knotted: I64
    loop_mm: F64
    path_mm: F64
    evenness: F64
    offcut: F64
    flatness: F64
    returning: F64
    stretches_per_row: F64
    kinds: I64
    round_rows: I64

    def take(self, where: I64) -> Scores:
        """Return the scores of some of the designs, copied."""
        parts = {
            f.name: getattr(self, f.name)[..., where] for f in fields(self) if f.name != "symmetry"
        }
        symmetry = {kind: share[where] for kind, share in self.symmetry.items()}
        return Scores(symmetry=symmetry, **parts)

    @property
    def steps(self) -> F64:
        """A lower bound of the steps of a round, float64 ``[N]``: its tying stretches."""
        return self.stretches_per_row * self.round_rows

    @property
    def use_mm(self) -> F64:
        """Thread used by every strand, float64 ``[S, N]``."""
        return self.loop_mm + self.path_mm


def score_batch(knots: U8, colours: U8, setting: Setting) -> Scores:
    """Score N designs.

    Args:
        knots: uint8 ``[P, S // 2, N]``, codes of `motifsearch.pattern.knots`.
        colours: uint8 ``[S, N]``, indices into the palette of `setting`.
        setting: What the designs share.
    """
    period, _, n = knots.shape
    strands, k = len(colours), len(setting.differences)
    periods = return_periods(knots, colours, max(1, setting.most_rows // period))
    periods[periods * period > setting.most_rows] = 0
    out = Scores(
        scored=periods > 0,
        total_rows=periods * period,
        repeat_rows=np.zeros(n, np.int64),
        symmetry={kind: np.full(n, np.nan) for kind in KINDS},
        frieze=np.zeros(n, np.int64),
        shares=np.zeros((k, n)),
        **{
            name: np.zeros(n)
            for name in (
                "balance",
                "contrast",
                "coherence",
                "movement",
                "lone",
                "evenness",
                "offcut",
                "flatness",
                "returning",
                "stretches_per_row",
            )
        },
        rows_knotted=np.zeros(n, np.int64),
        loop_mm=np.zeros((strands, n)),
        path_mm=np.zeros((strands, n)),
        kinds=kinds_of_knots(knots, strands),
        round_rows=round_rows(knots, colours, periods * period),
    )
    for t in np.unique(periods[periods > 0]):
        members = np.flatnonzero(periods == t)
        _score_faces(
            knots[:, :, members], colours[:, members], int(t) * period, members, setting, out
        )
    _score_thread(knots, colours, setting, out)
    out.flatness = lean(knots, strands)
    out.returning = returning_share(knots, strands)
    out.stretches_per_row = stretches(knots, strands) / period
    return out


def _score_faces(
    knots: U8, colours: U8, total: int, members: I64, setting: Setting, out: Scores
) -> None:
    """Fill in the scores of the face for designs that share T = `total`."""
    strands, differences = len(colours), setting.differences
    names = None
    order = colours
    if len(differences) > MOST_COLOURS:
        order, names = own_colours(colours)
        differences = differences[names[:, None], names[None]]
    face = faces(knots, order, total)
    bits = bits_of(len(differences))
    rows = packed_rows(face, strands, bits)
    repeat = repeat_rows(rows[:, None])
    out.repeat_rows[members] = repeat
    shares = colour_counts(face, len(differences), strands) / knots_in_grid(strands, total)
    if names is not None:
        mine, shares = shares, np.zeros((len(setting.differences), len(members)))
        np.add.at(shares, (names, np.arange(len(members))), mine)
    out.shares[:, members] = shares
    out.balance[members] = balance(shares, colours, setting.targets)
    out.contrast[members] = contrast(face, strands, differences)
    out.coherence[members], out.movement[members], out.lone[members] = motif(face, strands)
    if not setting.with_symmetry:
        return
    back = packed_rows(face, strands, bits, mirrored=True)
    for q in np.unique(repeat):
        some = np.flatnonzero(repeat == q)
        cells = knots_in_grid(strands, int(q))
        if q <= MOST_ROWS:
            agreeing = agreements(rows[:q, some], back[:q, some], strands, bits)
        else:
            part = face[: int(q), :, some]
            agreeing = {kind: agreement(part, kind, strands) for kind in KINDS}
        exact = {}
        for kind, agree in agreeing.items():
            if agree is None:
                exact[kind] = np.zeros(len(some), bool)
            else:
                exact[kind] = agree == cells
                out.symmetry[kind][members[some]] = agree / cells
        out.frieze[members[some]] = frieze_group(exact)


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


def _score_thread(knots: U8, colours: U8, setting: Setting, out: Scores) -> None:
    """Fill in the thread use at the real number of rows."""
    thick = setting.diameters_mm[colours]
    if np.ptp(setting.diameters_mm) == 0:
        out.rows_knotted[:] = setting.model.rows_for(setting.length_mm, setting.diameters_mm[:1])
    else:
        pitch = setting.model.row_gauge * thick.mean(0)
        out.rows_knotted[:] = np.maximum(1, np.floor(setting.length_mm / pitch + 0.5))
    for rows in np.unique(out.rows_knotted):
        some = np.flatnonzero(out.rows_knotted == rows)
        part, order = knots[:, :, some], colours[:, some]
        loop, path = consumption(part, order, int(rows), setting.model, setting.diameters_mm)
        out.loop_mm[:, some], out.path_mm[:, some] = loop, path
    out.evenness, out.offcut = evenness(out.use_mm)


def pattern_arrays(patterns: Sequence[Pattern]) -> tuple[U8, U8]:
    """Return the arrays of designs that share S and P: uint8 ``[P, S//2, N]`` and ``[S, N]``.

    Colours are indices into each pattern's own `Pattern.palette`.
    """
    knots = np.stack([p.grid for p in patterns], axis=-1)
    return knots, np.stack([p.colour_index for p in patterns], axis=-1)


def pattern_setting(
    pattern: Pattern,
    length_mm: float = DEFAULT_LENGTH_MM,
    model: ThreadModel | None = None,
    diameters_mm: F64 | None = None,
) -> Setting:
    """Return the setting for one design with its own palette.

    Args:
        pattern: The design.
        length_mm: Knotted length.
        model: The thread model; the defaults when left out.
        diameters_mm: Diameter per palette colour, float64 ``[k]``; the default when left out.
    """
    palette = [pattern.colours[name] for name in pattern.palette]
    if diameters_mm is None:
        diameters_mm = np.full(len(palette), DEFAULT_DIAMETER_MM)
    return Setting(difference_matrix(palette), diameters_mm, length_mm, model or ThreadModel())


def score_pattern(
    pattern: Pattern,
    length_mm: float = DEFAULT_LENGTH_MM,
    model: ThreadModel | None = None,
    diameters_mm: F64 | None = None,
) -> DesignScores:
    """Return all scores of one design (units in the names).

    Args:
        pattern: The design.
        length_mm: Knotted length.
        model: The thread model; the defaults when left out.
        diameters_mm: Diameter per palette colour, float64 ``[k]``.

    Examples:
        >>> from motifsearch.pattern.design import make_pattern
        >>> ink = {"a": "#102030", "b": "#f0e0c0"}
        >>> s = score_pattern(make_pattern("", ["rr rr", "rr"], "aabb", ink))
        >>> s["repeat_rows"], s["flatness"], s["symmetry"]["frieze_group"]
        (8, 0.0, 'p2')
    """
    from motifsearch.pattern.effort import effort
    from motifsearch.pattern.passes import steady_passes

    setting = pattern_setting(pattern, length_mm, model, diameters_mm)
    knots, colours = pattern_arrays([pattern])
    s = score_batch(knots, colours, setting)
    strands, repeat, rows = pattern.strands, int(s.repeat_rows[0]), int(s.rows_knotted[0])
    per_repeat = knots_in_grid(strands, repeat)
    # The grid may be longer or shorter than the repeat of its face; passes are a long band's.
    passes = max(1, steady_passes(pattern)) * repeat / pattern.rows
    returning = float(s.returning[0]) * per_repeat
    work = minutes(knots_in_grid(strands, rows), passes / repeat * rows)
    known = effort(pattern)
    touch = float(s.contrast[0])
    return DesignScores(
        strands=strands,
        rows=pattern.rows,
        rows_knotted=rows,
        repeat_rows=repeat,
        knots_per_repeat=per_repeat,
        symmetry=SymmetryScores(
            **{kind: _or_none(float(s.symmetry[kind][0])) for kind in KINDS},
            frieze_group=GROUPS[int(s.frieze[0])],
        ),
        colour=ColourScores(
            share={name: float(s.shares[c, 0]) for c, name in enumerate(pattern.palette)},
            balance=float(s.balance[0]),
            contrast=touch if math.isfinite(touch) else None,
        ),
        motif=MotifScores(
            coherence=float(s.coherence[0]),
            movement=float(s.movement[0]),
            lone=float(s.lone[0]),
        ),
        thread=ThreadScores(
            loop_mm=tuple(float(v) for v in s.loop_mm[:, 0]),
            path_mm=tuple(float(v) for v in s.path_mm[:, 0]),
            use_mm=tuple(float(v) for v in s.use_mm[:, 0]),
            evenness=float(s.evenness[0]),
            offcut=float(s.offcut[0]),
        ),
        flatness=float(s.flatness[0]),
        handling=HandlingScores(
            passes_per_repeat=passes,
            hitches_per_pass=2 * per_repeat / passes,
            returning_knots=returning,
            minutes=work,
            kinds_of_knots=known.kinds,
            steps_per_round=known.steps,
            level=known.level,
        ),
    )


def _or_none(value: float) -> float | None:
    return None if math.isnan(value) else value
