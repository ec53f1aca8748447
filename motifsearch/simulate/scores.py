"""All scores of a batch, and the scores of one design as they are written to files.

The scorer is a pure function of arrays: no random numbers, no search objects.  Designs of one
batch share S and P; `motifsearch.simulate.face_scores` groups them by the period T of their faces,
and every score of a group is a handful of whole-array operations.
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
from motifsearch.simulate.design_scores import (
    ColourScores,
    DesignScores,
    HandlingScores,
    MotifScores,
    SymmetryScores,
    ThreadScores,
)
from motifsearch.simulate.face_scores import Batch, FaceScores, score_faces
from motifsearch.simulate.handling import (
    kinds_of_knots,
    lean,
    minutes,
    returning_share,
    round_rows,
    stretches,
)
from motifsearch.simulate.symmetry import GROUPS, KINDS
from motifsearch.simulate.thread_use import consumption, evenness
from motifsearch.simulate.walk import return_periods
from motifsearch.thread.model import DEFAULT_DIAMETER_MM, ThreadModel

DEFAULT_LENGTH_MM = 150.0


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
    return score_batches([(knots, colours)], setting)[0]


def score_batches(batches: Sequence[Batch], setting: Setting) -> list[Scores]:
    """Score the designs of several batches, such as those of several islands, together.

    Every design has the scores that `score_batch` gives it; together they take less time.

    Args:
        batches: Of each the knots, uint8 ``[P, S // 2, N]``, and the colours, uint8 ``[S, N]``;
            they share S, and each has a P of its own.
        setting: What the designs share.
    """
    periods = [_periods(knots, colours, setting) for knots, colours in batches]
    totals = [t * len(knots) for t, (knots, _) in zip(periods, batches, strict=True)]
    seen = score_faces(batches, totals, setting)
    out, first = [], 0
    for (knots, colours), total in zip(batches, totals, strict=True):
        mine = slice(first, first + len(total))
        first = mine.stop
        out.append(_scored(knots, colours, total, seen, mine, setting))
    return out


def _periods(knots: U8, colours: U8, setting: Setting) -> I64:
    """Return how many periods T takes, int64 ``[N]``; 0 where it is longer than is scored."""
    period = len(knots)
    periods = return_periods(knots, colours, max(1, setting.most_rows // period))
    periods[periods * period > setting.most_rows] = 0
    return periods


def _scored(
    knots: U8, colours: U8, total: I64, seen: FaceScores, mine: slice, setting: Setting
) -> Scores:
    """Return the scores of one batch, with those of its faces from `seen`."""
    strands, n = len(colours), len(total)
    loop, path = np.zeros((strands, n)), np.zeros((strands, n))
    rows = _rows_knotted(colours, setting)
    for number in np.unique(rows):
        some = np.flatnonzero(rows == number)
        loop[:, some], path[:, some] = consumption(
            knots[:, :, some], colours[:, some], int(number), setting.model, setting.diameters_mm
        )
    even, offcut = evenness(loop + path)
    faces = {f.name: getattr(seen, f.name)[..., mine] for f in fields(seen) if f.name != "symmetry"}
    return Scores(
        scored=total > 0,
        total_rows=total,
        symmetry={kind: share[mine] for kind, share in seen.symmetry.items()},
        **faces,
        rows_knotted=rows,
        loop_mm=loop,
        path_mm=path,
        evenness=even,
        offcut=offcut,
        flatness=lean(knots, strands),
        returning=returning_share(knots, strands),
        stretches_per_row=stretches(knots, strands) / len(knots),
        kinds=kinds_of_knots(knots, strands),
        round_rows=round_rows(knots, colours, total),
    )


def _rows_knotted(colours: U8, setting: Setting) -> I64:
    """Return the rows of every band at its real length, int64 ``[N]``."""
    n = colours.shape[1]
    if np.ptp(setting.diameters_mm) == 0:
        alike = setting.model.rows_for(setting.length_mm, setting.diameters_mm[:1])
        return np.full(n, alike, np.int64)
    pitch = setting.model.row_gauge * setting.diameters_mm[colours].mean(0)
    rows: I64 = np.maximum(1, np.floor(setting.length_mm / pitch + 0.5)).astype(np.int64)
    return rows


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
