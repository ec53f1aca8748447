"""Where a design is strong and where it is weak, each remark with what it rests on.

A *judgement* is a record: the score that it looks at, from where on it is good and from where on
bad, and the sentences for both.  The limits are ours (no source); each sentence states the number
that it rests on, so that a maker can judge it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from motifsearch.base.text import isolated, joined, percent
from motifsearch.describe.words import score
from motifsearch.pattern.design import Pattern
from motifsearch.thread.plan import CuttingPlan


@dataclass(frozen=True)
class Remark:
    """One sentence about a design.

    Attributes:
        strong: Whether it is a strong point; else a weak one.
        text: The sentence.
        rests_on: The score that it rests on, such as ``colour.contrast``, or ``plan``.
    """

    strong: bool
    text: str
    rests_on: str


@dataclass(frozen=True)
class Judgement:
    """What makes a remark of a score.

    Attributes:
        key: The score, such as ``colour.contrast``.
        good: From here on it is a strong point; below `bad` where less is better.
        bad: From here on it is a weak point.
        yes: The sentence of a strong point; ``{n}`` is the number as it is told.
        no: The sentence of a weak point.
        told: How the number is told.
    """

    key: str
    good: float
    bad: float
    yes: str
    no: str
    told: Callable[[float], str] = percent

    def kind(self, value: float) -> str:
        """Return "strong", "weak" or nothing.

        Examples:
            >>> CONTRAST.kind(30.0), CONTRAST.kind(5.0), CONTRAST.kind(20.0)
            ('strong', 'weak', '')
        """
        more = self.good > self.bad
        if (value >= self.good) if more else (value <= self.good):
            return "strong"
        return "weak" if (value <= self.bad if more else value >= self.bad) else ""

    def sentence(self, kind: str) -> str:
        """Return the sentence of a kind, with ``{n}`` for the number; empty for none."""
        return {"strong": self.yes, "weak": self.no}.get(kind, "")


CONTRAST: Final = Judgement(
    "colour.contrast", 25, 12,
    "All colours that touch are easy to tell apart (smallest difference {n}, CIEDE2000).",
    "Two colours that touch look much alike (smallest difference {n}, CIEDE2000).",
    lambda value: f"{value:.0f}",
)  # fmt: skip
JUDGEMENTS: Final = (
    Judgement(
        "thread.evenness", 0.9, 0.7,
        "The strands run out together: the least used takes {n} of the most.",
        "The strands run out unevenly: the least used takes {n} of the most.",
    ),
    CONTRAST,
    Judgement(
        "flatness", 0.9, 0.5,
        "Forward and backward knots balance, so the band should lie flat.",
        "Its knots lean mostly one way (by {n}); it may curl until it is pressed or worn.",
        lambda value: percent(1 - value),
    ),
    Judgement(
        "motif.lone", 0.05, 0.25,
        "The shapes are clean: almost no knot stands alone.",
        "{n} of the knots stand alone among other colours, which reads as noise.",
    ),
    Judgement(
        "motif.movement", 0.35, 0.1,
        "There is always something new along the band.",
        "Little changes along the band; it is mostly lengthwise stripes.",
    ),
    Judgement(
        "repeats", 3, 1.5,
        "The motif comes {n} times on this length.",
        "The motif is long for this wrist: it comes only {n} times.",
        lambda value: f"{value:.1f}",
    ),
    Judgement(
        "colour.balance", 0.95, 0.6,
        "Every colour gets its share of the face.",
        "One colour covers most of the face; another hardly shows.",
    ),
    Judgement(
        "handling.hitches_per_pass", 8, 3,
        "Calm to knot: about {n} hitches before the hand changes strand.",
        "The hand changes strand often, after about {n} hitches.",
        lambda value: f"{value:.0f}" if value >= 8 else f"{value:.1f}",
    ),
)  # fmt: skip


def remarks(
    pattern: Pattern, scores: Mapping[str, Any], plan: CuttingPlan | None
) -> tuple[Remark, ...]:
    """Return what is strong and what is weak of a design, in the order of `JUDGEMENTS`.

    Args:
        pattern: The design.
        scores: Its scores; what is missing is not judged.
        plan: Its cutting plan, where the threads on hand are known.
    """
    out = []
    for judgement in JUDGEMENTS:
        value = _value(judgement.key, pattern, scores)
        if value is None:
            continue
        kind = judgement.kind(value)
        text = _instead(judgement, kind, value, scores) or judgement.sentence(kind)
        if text:
            out.append(
                Remark(kind == "strong", text.format(n=judgement.told(value)), judgement.key)
            )
    if plan is not None and not plan.feasible:
        lacking = joined(sorted({isolated(m[0]) for m in plan.missing}))
        out.append(
            Remark(False, f"The threads on hand are not enough: {lacking} runs short.", "plan")
        )
    return tuple(out)


def _value(key: str, pattern: Pattern, scores: Mapping[str, Any]) -> float | None:
    if key == "repeats":
        repeat, rows = score(scores, "repeat_rows"), score(scores, "rows_knotted")
        return rows / repeat if repeat and rows else None
    if key == "colour.balance" and len(pattern.palette) < 2:
        return None
    return score(scores, *key.split("."))


def _instead(judgement: Judgement, kind: str, value: float, scores: Mapping[str, Any]) -> str:
    """Return a sentence that says more than the usual one, where there is one."""
    if judgement.key == "repeats" and kind == "weak" and value < 1:
        return "The motif is longer than this band, so it is never seen whole."
    use = (scores.get("thread") or {}).get("use_mm") or ()
    if judgement.key == "thread.evenness" and kind == "weak" and len(use):
        most, least = int(np.argmax(use)), int(np.argmin(use))
        times = use[most] / max(use[least], 1e-9)
        return f"Strand {most + 1} takes {times:.1f} times as much thread as strand {least + 1}."
    return ""


def strengths(
    pattern: Pattern, scores: Mapping[str, Any], plan: CuttingPlan | None
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the strong points of a design and the weak ones, as sentences.

    Args:
        pattern: The design.
        scores: Its scores.
        plan: Its cutting plan, where the threads on hand are known.
    """
    said = remarks(pattern, scores, plan)
    strong = tuple(remark.text for remark in said if remark.strong)
    return strong, tuple(remark.text for remark in said if not remark.strong)
