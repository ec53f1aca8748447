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
easy          kinds of knots (half), steps of a   as it is
              round, knots tied in one go
likeness      cells of the target that are right  as it is, squared
============= =================================== =====================================

Up to five measures, those of the wishes with the most weight, are the objectives that the search
keeps apart.  The weighted mean of the degrees ranks the gallery.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from motifsearch.base.arrays import F64
from motifsearch.pattern.knots import knots_in_grid
from motifsearch.search.genome import Space
from motifsearch.simulate.scores import Scores

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


#: How easy a number of kinds of knots is: one and two are learnt at once, three need practice.
KINDS_EASY = np.array([0.0, 1.0, 0.9, 0.3, 0.0])
#: Steps of a round that are known by heart at once, and those that never are.
STEPS_EASY = (4.0, 20.0)
#: The share of knots that carry a stretch on: none at all, and as many as a long pass has.
CARRY_EASY = (0.2, 5.0 / 6.0)


def easy(scores: Scores, per_row: float) -> F64:
    """Return how easy designs are to knot, float64 ``[N]``, 0..1.

    Half of it is the kinds of knots, a quarter the steps of a round, and a quarter how many knots
    are tied before the hand picks up another strand; the same three as
    `motifsearch.pattern.effort` tells a maker.

    Args:
        scores: The scores.
        per_row: Knots in a row, on the mean.
    """
    few = KINDS_EASY[np.clip(scores.kinds, 0, 4)]
    short = 1.0 - _ramp(scores.steps, *STEPS_EASY)
    long = _ramp(1.0 - scores.stretches_per_row / per_row, *CARRY_EASY)
    return 0.5 * few + 0.25 * short + 0.25 * long


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
        "easy": easy(scores, per_row),
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
        "easy": raw["easy"],
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
