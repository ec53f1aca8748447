"""Wishes and limits: how well a design meets what the brief asks.

For every wish there is a *measure* between 0 and 1, more being better, and the *degree* to which
the wish is met, which does not grow for ever:

============= =================================== =====================================
wish          measure                            degree
============= =================================== =====================================
movement      movement                           full at 0.5: a chevron has more
calm          1 - lone                           none at 0.8
coherence     coherence                          none at 0.35 (chance, three colours),
                                                 full at 0.7
balance       balance                            as it is
symmetry      the best of the four shares        1 where exact, else at most 0.8
evenness      evenness                           none at 0.5
contrast      smallest difference / 100          full at 30
flatness      flatness                           as it is
short_repeat  1 - repeat / (longest + 2)         full at 8 rows and fewer
easy          knots that carry a stretch on      none at 0.2, full at 5 of 6 knots
likeness      cells of the target that are right  as it is, squared
============= =================================== =====================================

Up to five measures, those of the wishes with the most weight, are the objectives that the search
keeps apart.  The weighted mean of the degrees ranks the gallery.  Limits are no wishes: a design
that breaks one has a *violation* above 0 and loses against every design that breaks none.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import numpy.typing as npt

from motifsearch.pattern.knots import knots_in_grid
from motifsearch.search.brief import Brief
from motifsearch.search.genome import Space, odd_colours
from motifsearch.simulate.scores import Scores

F64 = npt.NDArray[np.float64]
U8 = npt.NDArray[np.uint8]

MOST_OBJECTIVES = 5
#: Digits kept of what ranks, so that the last bit of a float decides nothing.
DIGITS = 9


def _ramp(x: F64, none: float, full: float) -> F64:
    return np.clip((x - none) / (full - none), 0.0, 1.0)


def best_symmetry(scores: Scores) -> F64:
    """Return the best of the symmetry shares, float64 ``[N]``."""
    best = np.zeros(len(scores.scored))
    for share in scores.symmetry.values():
        best = np.maximum(best, np.nan_to_num(share))
    return best


def measures(
    scores: Scores, space: Space, longest: int, likeness: F64 | None = None
) -> dict[str, F64]:
    """Return the measure of every wish, float64 ``[N]`` each, 0..1; 0 where not scored.

    Args:
        scores: The scores.
        space: S and P.
        longest: The longest repeat that is allowed, in rows.
        likeness: Likeness to the target, float64 ``[N]``; None without a target.
    """
    per_row = knots_in_grid(space.strands, 2) / 2
    contrast = np.where(np.isfinite(scores.contrast), scores.contrast, 0.0)
    out = {
        "movement": scores.movement,
        "calm": 1.0 - scores.lone,
        "coherence": scores.coherence,
        "balance": scores.balance,
        "symmetry": best_symmetry(scores),
        "evenness": scores.evenness,
        "contrast": np.clip(contrast / 100.0, 0.0, 1.0),
        "flatness": scores.flatness,
        "short_repeat": np.clip(1.0 - scores.repeat_rows / (longest + 2.0), 0.0, 1.0),
        "easy": 1.0 - scores.stretches_per_row / per_row,
        "likeness": np.zeros(len(scores.scored)) if likeness is None else likeness,
    }
    return {name: np.where(scores.scored, value, 0.0) for name, value in out.items()}


def degrees(raw: Mapping[str, F64], longest: int) -> dict[str, F64]:
    """Return how well every wish is met, float64 ``[N]`` each, 0..1.

    Args:
        raw: The measures.
        longest: The longest repeat that is allowed, in rows.
    """
    symmetry = raw["symmetry"]
    short = 1.0 - 8.0 / (max(longest, 9) + 2.0)
    return {
        "movement": _ramp(raw["movement"], 0.0, 0.5),
        "calm": _ramp(raw["calm"], 0.8, 1.0),
        "coherence": _ramp(raw["coherence"], 0.35, 0.7),
        "balance": raw["balance"],
        "symmetry": np.where(symmetry == 1.0, 1.0, 0.8 * _ramp(symmetry, 0.5, 1.0)),
        "evenness": _ramp(raw["evenness"], 0.5, 1.0),
        "contrast": _ramp(raw["contrast"], 0.0, 0.3),
        "flatness": raw["flatness"],
        "short_repeat": _ramp(raw["short_repeat"], 0.0, short),
        "easy": _ramp(raw["easy"], 0.2, 5.0 / 6.0),
        "likeness": raw["likeness"] ** 2,
    }


def objectives_of(weights: Mapping[str, float]) -> list[str]:
    """Return the wishes that are kept apart: at most five, those with the most weight.

    Examples:
        >>> objectives_of({"movement": 1, "calm": 0, "balance": 2})
        ['balance', 'movement']
    """
    wanted = [name for name in weights if weights[name] > 0]
    return sorted(wanted, key=lambda name: -weights[name])[:MOST_OBJECTIVES]


def utility(met: Mapping[str, F64], weights: Mapping[str, float]) -> F64:
    """Return the weighted mean of the wishes, float64 ``[N]``, rounded to `DIGITS`."""
    total = sum(weights.values())
    mean = sum(weights[name] * met[name] for name in weights if weights[name] > 0)
    return np.round(np.asarray(mean) / total, DIGITS)


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
        from motifsearch.thread.cutting import margin_quantile

        z = margin_quantile(brief.strands, brief.allowances.risk, brief.stash.model.scatter_freedom)
        self.margin = 1.0 + z * brief.stash.model.scatter
        self.ends_mm = brief.allowances.start_mm + brief.allowances.finish_mm

    def names(self) -> list[str]:
        """Return the limits of this brief that can be broken, by their keys."""
        limits, out = self.brief.limits, ["colours_min", "colours_max", "repeat_rows_max"]
        for key in ("evenness_min", "contrast_min", "flatness_min"):
            if getattr(limits, key) > 0:
                out.append(key)
        if limits.lone_max < 1:
            out.append("lone_max")
        if limits.symmetric:
            out.append("symmetric")
        if limits.on_hand:
            out.append("on_hand")
        if self.brief.folded:
            out.append("folded")
        return out

    def each(self, scores: Scores, colours: U8, space: Space) -> dict[str, F64]:
        """Return how far every limit is broken, float64 ``[N]`` each; 0 where it is kept."""
        limits = self.brief.limits
        used = np.array([(colours == c).any(0) for c in range(space.palette)]).sum(0)
        out = {
            "colours_min": np.maximum(0, self.brief.colours_min - used) / 4.0,
            "colours_max": np.maximum(0, used - self.brief.colours_max) / 4.0,
            "repeat_rows_max": np.where(
                scores.scored,
                np.maximum(0, scores.repeat_rows / limits.repeat_rows_max - 1.0),
                1.0,
            ),
            "evenness_min": np.maximum(0, limits.evenness_min - scores.evenness),
            "flatness_min": np.maximum(0, limits.flatness_min - scores.flatness),
            "lone_max": np.maximum(0, scores.lone - limits.lone_max),
        }
        if limits.contrast_min > 0:
            contrast = np.where(np.isfinite(scores.contrast), scores.contrast, 0.0)
            out["contrast_min"] = np.maximum(0, 1.0 - contrast / limits.contrast_min)
        if limits.symmetric:
            out["symmetric"] = 1.0 - best_symmetry(scores)
        if self.brief.folded:
            out["folded"] = (odd_colours(colours, space.palette) - space.strands % 2) / 8.0
        if limits.on_hand:
            out["on_hand"] = self.short_of_thread(scores.use_mm, colours)
        return out

    def short_of_thread(self, use_mm: F64, colours: U8) -> F64:
        """Return how much thread is lacking, as a share of what is needed, float64 ``[N]``.

        A bound that is fast and never refuses what an exact plan allows: a colour's cuts cannot
        be longer than all its pieces together, and its longest cut is no shorter than the mean.
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

    def violation(self, scores: Scores, colours: U8, space: Space) -> F64:
        """Return the sum of what is broken, float64 ``[N]``; 0 where every limit is kept."""
        each = self.each(scores, colours, space)
        parts = [value for name, value in each.items() if name != self.without]
        total: F64 = np.round(np.sum(parts, axis=0), DIGITS)
        return total
