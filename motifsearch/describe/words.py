"""A design in plain words: its symmetry, what it looks like, where it is strong and weak.

People who do not see the picture get the same facts from the text.  Everything is read off the
face (the tying strand's colour in every cell) and off the scores; nothing is guessed:

- figure: see `motifsearch.describe.figures`.
- symmetry: the seven frieze groups, with the International Tables symbol (International Tables
  for Crystallography, Volume E, Part 2), each said as what the eye can check.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from motifsearch.base.text import count, isolated, percent
from motifsearch.describe.figures import figure_of

if TYPE_CHECKING:
    from motifsearch.pattern.design import Pattern

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
