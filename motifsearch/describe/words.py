"""A design in plain words: its symmetry, what it looks like, where it is strong and weak.

People who do not see the picture get the same facts from the text.  Everything is read off the
face (the tying strand's colour in every cell) and off the scores; nothing is guessed:

- figure: see `motifsearch.describe.figures`.
- symmetry: the seven frieze groups, with the International Tables symbol (International Tables
  for Crystallography, Volume E, Part 2), each said as what the eye can check.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from motifsearch.base.text import count, isolated, joined, percent
from motifsearch.describe.figures import figure_of

if TYPE_CHECKING:
    from motifsearch.pattern.design import Pattern
    from motifsearch.thread.plan import CuttingPlan

#: What is said of every figure; "first" and "last" are the two ways of those that have a direction.
SEEN: Final[Mapping[str, str]] = {
    "plain": "One colour throughout; the knots alone make the pattern.",
    "rows": "Bars that run straight across the band.",
    "lengthwise": "Stripes that run along the band.",
    "hearts": "Hearts, one after another.",
    "comb": "Teeth of colour at both edges, like a comb, beside a middle that stays as it is.",
    "ripples": "Bars across the band that run in a zigzag.",
    "diagonals first": "Diagonal stripes from the left edge towards the right.",
    "diagonals last": "Diagonal stripes from the right edge towards the left.",
    "arrowheads first": "Arrowheads that point to the end of the band.",
    "arrowheads last": "Arrowheads that point to the start of the band.",
    "zigzag": "A zigzag that swings from edge to edge.",
    "crosses": "Crosses, one after another.",
    "lattice": "Lines that cross like a woven lattice.",
    "diamonds": "Diamonds, one after another.",
    "waves": "Waves that swing from side to side along the band.",
    "spots": "Small spots of colour, scattered over the ground.",
    "steps": "Steps of colour, set off against each other like stairs.",
    "blocks": "Blocks of colour, one after another.",
    "patches": "Patches of colour that change along the band.",
}


@dataclass(frozen=True)
class Symmetry:
    """A frieze group: its International Tables symbol, a few words for a filter, a sentence."""

    symbol: str
    short: str
    sentence: str


FRIEZE: Final[Mapping[str, Symmetry]] = {
    s.symbol: s
    for s in (
        Symmetry("p1", "repeats only", "It repeats along the band and has no other symmetry."),
        Symmetry("p11m", "left mirrors right", "The left half is the mirror image of the right."),
        Symmetry(
            "p1m1",
            "the same from both ends",
            "Read from either end it is the same, left staying left.",
        ),
        Symmetry("p2", "the same upside down", "Turned upside down it is the same."),
        Symmetry(
            "p11g",
            "sides take turns",
            "The two sides take turns like footprints: each shows what the other showed half a "
            "repeat before.",
        ),
        Symmetry(
            "p2mg",
            "zigzag: sides take turns, the same from both ends",
            "Like a zigzag: the two sides take turns, and it is the same from both ends.",
        ),
        Symmetry(
            "p2mm",
            "mirrored both ways",
            "It is mirrored both ways: left to right, and from end to end.",
        ),
    )
}


def symmetry_words(symbol: str | None) -> Symmetry:
    """Return the words for a frieze group; an unknown symbol is shown as it stands.

    Examples:
        >>> symmetry_words("p11m").short
        'left mirrors right'
    """
    known = FRIEZE.get(symbol or "")
    return known or Symmetry(symbol or "", symbol or "not known", "Its symmetry is not known.")


def score(scores: Mapping[str, Any], *keys: str) -> float | None:
    """Return one number out of the nested scores, or None where there is none.

    Examples:
        >>> score({"colour": {"contrast": None}}, "colour", "contrast") is None
        True
    """
    value: Any = scores
    for key in keys:
        value = value.get(key) if isinstance(value, Mapping) else None
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        return None
    return float(value)


def colours_sentence(share: Mapping[str, float]) -> str:
    """Return how much of the face each colour has, the largest first.

    Examples:
        >>> colours_sentence({"sea": 0.25, "sand": 0.75}).replace("\u2068", "").replace(
        ...     "\u2069", "")
        '2 colours: sand 75%, sea 25%.'
    """
    order = sorted(share, key=lambda name: -share[name])
    parts = [f"{isolated(name)} {percent(share[name])}" for name in order]
    return f"{count(len(order), 'colour')}: {', '.join(parts)}."


def look(pattern: Pattern, scores: Mapping[str, Any]) -> str:
    """Return what the face looks like: its figures, how they move, its borders.

    Examples:
        >>> from motifsearch.pattern.design import make_pattern
        >>> ink = {"sea": "#1f7a78", "sand": "#d8c49a"}
        >>> diagonal = make_pattern("", ["rr rr", "rr"], ["sea", "sand"] * 2, ink)
        >>> look(diagonal, {})
        'Diagonal stripes from the left edge towards the right.'
    """
    seen = figure_of(pattern, score(scores, "repeat_rows"))
    way = "first" if seen.way > 0 else "last"
    sentence = SEEN.get(f"{seen.kind} {way}") or SEEN[seen.kind]
    names = pattern.palette
    left, right = (None if k is None else isolated(names[k]) for k in seen.edges)
    if seen.kind in ("plain", "lengthwise", "rows") or left is right is None:
        return sentence
    if left == right:
        return f"{sentence} Both edges stay {left}."
    if left and right:
        return f"{sentence} The left edge stays {left}, the right one {right}."
    return f"{sentence} The {'left' if left else 'right'} edge stays {left or right}."


def alt_text(pattern: Pattern, scores: Mapping[str, Any]) -> str:
    """Return a description for people who do not see the picture.

    Colours with their shares, figures and movement, borders, symmetry and repeat.
    """
    known = scores.get("colour", {}).get("share") or {}
    share = {name: float(known.get(name, 0.0)) for name in pattern.palette}
    head = f"Knotted band of {count(pattern.strands, 'strand')}"
    colours = colours_sentence(share)
    return f"{head}, {colours} {look_sentences(pattern, scores)}"


def look_sentences(pattern: Pattern, scores: Mapping[str, Any]) -> str:
    """Return the part of `alt_text` that recolouring does not change: figure, symmetry, repeat."""
    symbol = scores.get("symmetry", {}).get("frieze_group")
    parts = [look(pattern, scores), symmetry_words(symbol).sentence]
    repeat, rows = score(scores, "repeat_rows"), score(scores, "rows_knotted")
    if repeat and rows:
        times = rows / repeat
        parts.append(
            f"The repeat fits {times:.1f} times into this length."
            if times >= 1
            else "The repeat is longer than this band."
        )
    return " ".join(parts)


def strengths(
    pattern: Pattern, scores: Mapping[str, Any], plan: CuttingPlan | None
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return where the design is strong and where it is weak, as sentences.

    The limits are ours (no source); each sentence states the number it rests on, so that a maker
    can judge it.

    Returns:
        The strong points, then the weak ones.
    """
    strong: list[str] = []
    weak: list[str] = []

    def judge(value: float | None, good: float, bad: float, yes: str, no: str) -> None:
        if value is None:
            return
        if (value >= good) if good > bad else (value <= good):
            strong.append(yes)
        elif (value <= bad) if good > bad else (value >= bad):
            weak.append(no)

    s = scores
    evenness = score(s, "thread", "evenness")
    if evenness is not None:
        use = s.get("thread", {}).get("use_mm") or ()
        judge(evenness, 0.9, 0.7, *_evenness_words(evenness, use))
    contrast = score(s, "colour", "contrast")
    if contrast is not None:
        tail = f"smallest difference {contrast:.0f}, CIEDE2000"
        judge(
            contrast,
            25,
            12,
            f"All colours that touch are easy to tell apart ({tail}).",
            f"Two colours that touch look much alike ({tail}).",
        )
    flatness = score(s, "flatness")
    if flatness is not None:
        lean = percent(1 - flatness)
        judge(
            flatness,
            0.9,
            0.5,
            "Forward and backward knots balance, so the band should lie flat.",
            f"Its knots lean mostly one way (by {lean}); it may curl until it is pressed or worn.",
        )
    lone = score(s, "motif", "lone")
    if lone is not None:
        judge(
            lone,
            0.05,
            0.25,
            "The shapes are clean: almost no knot stands alone.",
            f"{percent(lone)} of the knots stand alone among other colours, which reads as noise.",
        )
    movement = score(s, "motif", "movement")
    if movement is not None:
        judge(
            movement,
            0.35,
            0.1,
            "There is always something new along the band.",
            "Little changes along the band; it is mostly lengthwise stripes.",
        )
    repeat, rows = score(s, "repeat_rows"), score(s, "rows_knotted")
    if repeat and rows:
        times = rows / repeat
        judge(
            times,
            3,
            1.5,
            f"The motif comes {times:.1f} times on this length.",
            f"The motif is long for this wrist: it comes only {times:.1f} times."
            if times >= 1
            else "The motif is longer than this band, so it is never seen whole.",
        )
    balance = score(s, "colour", "balance")
    if balance is not None and len(pattern.palette) > 1:
        judge(
            balance,
            0.95,
            0.6,
            "Every colour gets its share of the face.",
            "One colour covers most of the face; another hardly shows.",
        )
    hitches = score(s, "handling", "hitches_per_pass")
    if hitches is not None:
        judge(
            hitches,
            8,
            3,
            f"Calm to knot: about {hitches:.0f} hitches before the hand changes strand.",
            f"The hand changes strand often, after about {hitches:.1f} hitches.",
        )
    if plan is not None and not plan.feasible:
        lacking = joined(sorted({isolated(m[0]) for m in plan.missing}))
        weak.append(f"The threads on hand are not enough: {lacking} runs short.")
    return tuple(strong), tuple(weak)


def _evenness_words(evenness: float, use_mm: Sequence[float]) -> tuple[str, str]:
    good = f"The strands run out together: the least used takes {percent(evenness)} of the most."
    bad = f"The strands run out unevenly: the least used takes {percent(evenness)} of the most."
    if len(use_mm):
        most, least = int(np.argmax(use_mm)), int(np.argmin(use_mm))
        times = use_mm[most] / max(use_mm[least], 1e-9)
        bad = f"Strand {most + 1} takes {times:.1f} times as much thread as strand {least + 1}."
    return good, bad
