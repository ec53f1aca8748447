"""A design in plain words: its symmetry, what it looks like, where it is strong and weak.

People who do not see the picture get the same facts from the text.  Everything is read off the
face (the tying strand's colour in every cell) and off the scores; nothing is guessed:

- *lean*: among touching cells, the share that keep their colour one row down to the right, less
  the share that keep it down to the left; diagonals from the left edge lean by +1.  Left and right
  half are looked at apart and row by row, which tells diagonals from arrowheads, diamonds and
  zigzags.
- symmetry: the seven frieze groups, with the International Tables symbol (International Tables
  for Crystallography, Volume E, Part 2), each said as what the eye can check.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import numpy.typing as npt

from motifsearch.pattern.knots import positions_in_row
from motifsearch.pattern.walk import face

if TYPE_CHECKING:
    from motifsearch.gallery.entry import Entry
    from motifsearch.pattern.design import Pattern

#: Rows that are looked at for the description; longer repeats are judged by their beginning.
MAX_LOOK_ROWS: Final = 240
#: From here a lean is called a diagonal (chance alone stays well below).
LEAN: Final = 0.2


@dataclass(frozen=True)
class Symmetry:
    """A frieze group in words.

    Attributes:
        symbol: The International Tables symbol, strip direction first.
        short: A few words, for a filter or a table.
        sentence: A whole sentence that can be checked by eye.
    """

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


def percent(fraction: float) -> str:
    """Return a share as whole per cent, halves up.

    Examples:
        >>> percent(0.125), percent(0.004)
        ('13%', '0%')
    """
    return f"{math.floor(fraction * 100 + 0.5)}%"


def count(number: int, one: str, many: str | None = None) -> str:
    """Return a number with its noun.

    Examples:
        >>> count(1, "colour"), count(3, "colour")
        ('1 colour', '3 colours')
    """
    return f"{number} {one if number == 1 else many or one + 's'}"


def joined(parts: Iterable[str]) -> str:
    """Return a list as it is said.

    Examples:
        >>> joined(["a", "b", "c"])
        'a, b and c'
    """
    words = list(parts)
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def isolated(text: str) -> str:
    """Return `text` between the marks FSI and PDI, so that its direction stays its own.

    Unicode Standard Annex 9: a right-to-left name does not reorder the sentence around it.
    """
    return f"\u2068{text}\u2069"


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


def _cells(pattern: Pattern, rows: int) -> npt.NDArray[np.int16]:
    """Return the face as int16 ``[rows, S - 1]``, -1 where no knot stands."""
    cells = np.full((rows, pattern.strands - 1), -1, np.int16)
    for r, row in enumerate(face(pattern, rows)):
        cells[r, list(positions_in_row(pattern.strands, r))] = row
    return cells


def _leans(cells: npt.NDArray[np.int16]) -> npt.NDArray[np.float64]:
    """Return the lean of every row, taken over four rows, float64 ``[rows - 4]``.

    The lean is the share that keeps its colour down-right less the share that keeps it down-left.
    """
    here, below = cells[:-1], cells[1:]
    right = (here[:, :-1] >= 0) & (here[:, :-1] == below[:, 1:])
    left = (here[:, 1:] >= 0) & (here[:, 1:] == below[:, :-1])
    pairs = ((here[:, :-1] >= 0).sum(axis=1) + (here[:, 1:] >= 0).sum(axis=1)) / 2
    each = (right.sum(axis=1) - left.sum(axis=1)) / np.maximum(pairs, 1)
    return np.convolve(each, np.full(4, 0.25), mode="valid")


def _slant(leans: npt.NDArray[np.float64]) -> int:
    """Return 1 or -1 where nearly all rows lean one way, right or left, and 0 elsewhere."""
    for way in (1, -1):
        if np.mean(leans * way > LEAN) >= 0.75:
            return way
    return 0


def _alternates(leans: npt.NDArray[np.float64]) -> bool:
    """Return whether the rows lean one way and then the other, by turns."""
    return bool(min(np.mean(leans > LEAN), np.mean(leans < -LEAN)) >= 0.2)


def _edges(pattern: Pattern, cells: npt.NDArray[np.int16]) -> list[int | None]:
    """Return the colour that each edge keeps from end to end, left then right, or None."""
    kept: list[int | None] = []
    for column in (cells[:, 0], cells[:, -1]):
        seen = set(column[column >= 0].tolist())
        kept.append(seen.pop() if len(seen) == 1 else None)
    return kept


def look(pattern: Pattern, scores: Mapping[str, Any]) -> str:
    """Return what the face looks like: its figures, how they move, its borders.

    Args:
        pattern: The design.
        scores: Its scores; the symmetry and the motif scores are used where they are known.

    Examples:
        >>> from motifsearch.pattern.design import make_pattern
        >>> ink = {"sea": "#1f7a78", "sand": "#d8c49a"}
        >>> diagonal = make_pattern("", ["rr rr", "rr"], ["sea", "sand"] * 2, ink)
        >>> look(diagonal, {})
        'Diagonal stripes from the left edge towards the right.'
    """
    if len(pattern.palette) == 1:
        return "One colour throughout; the knots alone make the pattern."
    repeat = score(scores, "repeat_rows")
    rows = min(max(int(repeat), 8) if repeat else MAX_LOOK_ROWS, MAX_LOOK_ROWS) + 4
    cells = _cells(pattern, rows)
    knot = cells[:-2] >= 0
    movement = float((cells[:-2] != cells[2:])[knot].mean())
    sentences = [_figure(pattern, cells, movement, scores)]
    left, right = _edges(pattern, cells)
    if movement > 0.02 and (left is not None or right is not None):
        names = pattern.palette
        if left is not None and right is not None:
            same = left == right
            what = (
                f"Both edges stay {isolated(names[left])}."
                if same
                else f"The left edge stays {isolated(names[left])}, the right one "
                f"{isolated(names[right])}."
            )
        else:
            side, k = ("left", left) if left is not None else ("right", right)
            assert k is not None
            what = f"The {side} edge stays {isolated(names[k])}."
        sentences.append(what)
    return " ".join(sentences)


def _figure(
    pattern: Pattern, cells: npt.NDArray[np.int16], movement: float, scores: Mapping[str, Any]
) -> str:
    across = [len(set(row[row >= 0].tolist())) == 1 for row in cells]
    if all(across):
        return "Bars that run straight across the band."
    if movement <= 0.02:
        return "Stripes that run along the band."
    halves = max(pattern.strands // 2, 2)
    left, right = _leans(cells[:, :halves]), _leans(cells[:, -halves:])
    one, two = _slant(left), _slant(right)
    if one > 0 and two > 0:
        return "Diagonal stripes from the left edge towards the right."
    if one < 0 and two < 0:
        return "Diagonal stripes from the right edge towards the left."
    if one > 0 and two < 0:
        return "Arrowheads that point to the end of the band."
    if one < 0 and two > 0:
        return "Arrowheads that point to the start of the band."
    if _alternates(left) and _alternates(right):
        together = float(np.mean(np.sign(left) * np.sign(right)))
        if together < -LEAN:
            return "Diamonds or crosses, one after another."
        if together > LEAN:
            return "A zigzag that swings from edge to edge."
    lone, coherence = score(scores, "motif", "lone"), score(scores, "motif", "coherence")
    if lone is not None and lone >= 0.3:
        return "A fine speckle: many knots stand alone among other colours."
    symbol = scores.get("symmetry", {}).get("frieze_group")
    size = "Broad" if coherence is not None and coherence >= 0.6 else "Small"
    if symbol == "p2mm":
        return f"{size} closed figures such as diamonds or crosses, one after another."
    if symbol == "p2mg":
        return f"A {size.lower()} wave from edge to edge."
    return f"{size} patches of colour that change along the band."


def alt_text(entry: Entry) -> str:
    """Return a description for people who do not see the picture.

    Colours with their shares, figures and movement, borders, symmetry and repeat.
    """
    known = entry.scores.get("colour", {}).get("share") or {}
    share = {name: float(known.get(name, 0.0)) for name in entry.pattern.palette}
    head = f"Knotted band of {count(entry.pattern.strands, 'strand')}"
    colours = colours_sentence(share)
    return f"{head}, {colours} {look_sentences(entry)}"


def look_sentences(entry: Entry) -> str:
    """Return the part of `alt_text` that recolouring does not change: figure, symmetry, repeat."""
    symbol = entry.scores.get("symmetry", {}).get("frieze_group")
    parts = [look(entry.pattern, entry.scores), symmetry_words(symbol).sentence]
    repeat, rows = score(entry.scores, "repeat_rows"), score(entry.scores, "rows_knotted")
    if repeat and rows:
        times = rows / repeat
        parts.append(
            f"The repeat fits {times:.1f} times into this length."
            if times >= 1
            else "The repeat is longer than this band."
        )
    return " ".join(parts)


def strengths(entry: Entry) -> tuple[tuple[str, ...], tuple[str, ...]]:
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

    s = entry.scores
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
            "The motif changes lively along the band.",
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
    if balance is not None and len(entry.pattern.palette) > 1:
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
    if entry.plan is not None and not entry.plan.feasible:
        lacking = joined(sorted({isolated(m[0]) for m in entry.plan.missing}))
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
