"""Limits: what no shown design may break, judged for whole batches.

A design that breaks a limit has a *violation* above 0 and loses against every design that breaks
none.  The limits are those of `motifsearch.search.records`, under the same names; each has one
function here that says how far it is exceeded.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from motifsearch.base.arrays import F64, I64, U8
from motifsearch.pattern.knots import knots_in_grid
from motifsearch.search.genome import Space, odd_colours
from motifsearch.search.resolved import Brief
from motifsearch.search.wishes import DIGITS, best_symmetry
from motifsearch.simulate.scores import Scores
from motifsearch.thread.cutting import margin_quantile


@dataclass(frozen=True)
class Batch:
    """Designs that are judged, and what their limits need.

    Attributes:
        scores: Of N designs.
        knots: uint8 ``[P, S // 2, N]``.
        colours: uint8 ``[S, N]``.
        space: What they share.
        brief: The brief.
        lacking: float64 ``[N]``, the share of thread that is short, by the fast bound.
    """

    scores: Scores
    knots: U8
    colours: U8
    space: Space
    brief: Brief
    lacking: Callable[[], F64]

    @property
    def used(self) -> I64:
        """The number of colours of each design, int64 ``[N]``."""
        there = [(self.colours == c).any(0) for c in range(self.space.palette)]
        number: I64 = np.sum(there, axis=0, dtype=np.int64)
        return number


def _repeat(b: Batch) -> F64:
    over = b.scores.repeat_rows / b.brief.limits.repeat_rows_max - 1.0
    return np.where(b.scores.scored, np.maximum(0, over), 1.0)


def _contrast(b: Batch) -> F64:
    least = b.brief.limits.contrast_min
    touch = np.where(np.isfinite(b.scores.contrast), b.scores.contrast, 0.0)
    return np.maximum(0, 1.0 - touch / least) if least > 0 else np.zeros(len(touch))


def _steps(b: Batch) -> F64:
    most = b.brief.limits.steps_max
    over = np.maximum(0, b.scores.steps / most - 1.0) if most else np.zeros(len(b.scores.steps))
    return np.minimum(over, 1.0)


def _other_knots(b: Batch) -> F64:
    allowed = np.isin(b.knots, np.array(b.brief.limits.codes, np.uint8))
    if b.space.strands % 2 == 0:
        allowed[1::2, -1] = True  # a short row has no knot in its last slot
    other = (~allowed).sum((0, 1))
    return np.asarray(other / knots_in_grid(b.space.strands, len(b.knots)), np.float64)


#: How far every limit is exceeded, float64 ``[N]``; 0 where it is kept.
EXCESS: Final[Mapping[str, Callable[[Batch], F64]]] = {
    "colours_min": lambda b: np.maximum(0, b.brief.colours_min - b.used) / 4.0,
    "colours_max": lambda b: np.maximum(0, b.used - b.brief.colours_max) / 4.0,
    "repeat_rows_max": _repeat,
    "evenness_min": lambda b: np.maximum(0, b.brief.limits.evenness_min - b.scores.evenness),
    "contrast_min": _contrast,
    "flatness_min": lambda b: np.maximum(0, b.brief.limits.flatness_min - b.scores.flatness),
    "lone_max": lambda b: np.maximum(0, b.scores.lone - b.brief.limits.lone_max),
    "steps_max": _steps,
    "knots": _other_knots,
    "symmetric": lambda b: 1.0 - best_symmetry(b.scores),
    "folded": lambda b: (odd_colours(b.colours, b.space.palette) - b.space.strands % 2) / 8.0,
    "on_hand": lambda b: b.lacking(),
}
#: Limits that no grid of the search breaks: its construction holds them.
BUILT_IN: Final = ("border",)


def set_limits(brief: Brief) -> list[str]:
    """Return the limits of a brief that can be broken, by their names."""
    limits = brief.limits
    out = ["colours_min", "colours_max", "repeat_rows_max"]
    out += [k for k in ("evenness_min", "contrast_min", "flatness_min") if getattr(limits, k) > 0]
    out += ["lone_max"] if limits.lone_max < 1 else []
    out += ["steps_max"] if limits.steps_max else []
    out += ["knots"] if len(limits.codes) < 4 else []
    out += ["symmetric"] if limits.symmetric else []
    out += ["on_hand"] if limits.on_hand else []
    out += ["folded"] if brief.folded else []
    return out


class Limiter:
    """The hard limits of one brief, ready for batches.

    Args:
        brief: The brief.
        without: A limit that is not judged (to find out which one is to blame).
        share: The share of the thread on hand that the fast bound counts on, 0..1; the search
            lowers it when exact plans refuse what the bound let through.
    """

    def __init__(self, brief: Brief, without: str = "", share: float = 1.0) -> None:
        self.brief = brief
        self.without = without
        threads = [brief.stash.thread(name) for name in brief.palette]
        self.total_mm = share * np.array([t.total_mm for t in threads])
        self.longest_mm = np.array([max(t.pieces_mm, default=0.0) for t in threads])
        z = margin_quantile(brief.strands, brief.allowances.risk, brief.stash.model.scatter_freedom)
        self.margin = 1.0 + z * brief.stash.model.scatter
        self.ends_mm = brief.allowances.start_mm + brief.allowances.finish_mm

    def names(self) -> list[str]:
        """Return the limits of this brief that can be broken, by their names."""
        return set_limits(self.brief)

    def each(self, scores: Scores, knots: U8, colours: U8, space: Space) -> dict[str, F64]:
        """Return how far every limit is broken, float64 ``[N]`` each; 0 where it is kept."""
        batch = Batch(
            scores, knots, colours, space, self.brief,
            lambda: self.short_of_thread(scores.use_mm, colours),
        )  # fmt: skip
        return {name: EXCESS[name](batch) for name in set_limits(self.brief)}

    def short_of_thread(self, use_mm: F64, colours: U8) -> F64:
        """Return how much thread is lacking, as a share of what is needed, float64 ``[N]``.

        A bound that is fast and never refuses what an exact plan allows: a colour's cuts cannot
        be longer than all its pieces together, and its longest cut is no shorter than the mean.

        Args:
            use_mm: float64 ``[S, N]``.
            colours: uint8 ``[S, N]``.
        """
        need = use_mm * self.margin + self.ends_mm
        lacking = np.zeros(use_mm.shape[1])
        for c, (total, longest) in enumerate(zip(self.total_mm, self.longest_mm, strict=True)):
            mine = colours == c
            strands = mine.sum(0)
            wanted = np.where(mine, need, 0.0).sum(0)
            threads = np.maximum(1, (strands + 1) // 2 if self.brief.folded else strands)
            lacking += np.maximum(0.0, wanted - total) / np.maximum(wanted, 1.0)
            lacking += np.maximum(0.0, wanted / threads - longest) / np.maximum(wanted, 1.0)
        return lacking

    def violation(self, scores: Scores, knots: U8, colours: U8, space: Space) -> F64:
        """Return the sum of what is broken, float64 ``[N]``; 0 where every limit is kept."""
        each = self.each(scores, knots, colours, space)
        parts = [value for name, value in each.items() if name != self.without]
        total: F64 = np.round(np.sum(parts, axis=0), DIGITS)
        return total
