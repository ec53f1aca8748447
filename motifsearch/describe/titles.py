"""Titles that say what is seen: figure colours, figure, ground; all different within a gallery.

The *ground* is the colour with the largest share of the face, the figure's colours are the others,
the largest first: "Brick arrowheads on cream", "Teal and sand zigzag on plum".  With four colours
or more the first of the figure's is named and the number of all is said.  Where no figure is there
to be named, colours and symmetry are said: "Brick and teal on cream, left mirrors right".

Designs with one title are a *clash*.  A clash is told apart by the first of these that differs
among its designs, what is still one by the next, and so on:

1. the way the figure points or runs, 2. the size of its patches, 3. an edge of one colour,
4. the plainest to tie, the evenest thread, 5. the length of the repeat, 6. how evenly the strands
are used, 7. the second colour of the figure, 8. more or less of the ground.

Sizes and lengths are compared within the clash: the smaller third, the larger third, and the rest
without a word.  Best and evenest are meant within what is
still one.  Designs that agree in all of these get the name of a tree.
"""

from __future__ import annotations

import itertools
import unicodedata
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np

from motifsearch.describe.figures import FIGURES, Figure, cells_of, figure_of, look_rows
from motifsearch.describe.patches import patches_of
from motifsearch.pattern.design import Pattern
from motifsearch.pattern.walk import repeat_rows

#: Characters of a title, and of a colour's and a wanted motif's name in it before it is cut.
MOST: Final = 70
MOST_NAME: Final = 24
MOST_WANTED: Final = 30

NUMBERS: Final = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
#: What is said of the way of a figure: towards the end, from the left; and the other one.
WAYS: Final = {
    "arrowheads": ("pointing down", "pointing up"),
    "diagonals": ("from the left", "from the right"),
}
#: What is said of a design without a figure, by its frieze group; nothing where it only repeats.
SYMMETRY: Final[Mapping[str, str]] = {
    "p11m": "left mirrors right",
    "p1m1": "the same from both ends",
    "p2": "the same upside down",
    "p11g": "sides take turns",
    "p2mg": "sides take turns",
    "p2mm": "mirrored both ways",
}
TREES: Final = (
    "willow", "maple", "birch", "rowan", "alder", "hazel", "linden", "cedar", "larch", "aspen",
    "elder", "olive", "laurel", "poplar", "juniper", "myrtle",
)  # fmt: skip


@dataclass
class _Draft:
    """A title on its way: the colours and the figure, what went before and what follows."""

    names: tuple[str, ...]
    figure: Figure
    wanted: str
    facts: dict[str, Any]
    size: str = ""
    tails: list[str] = field(default_factory=list)

    def text(self) -> str:
        """Return the longest form that fits: with fewer colours, and at last without any tail."""
        for more in range(len(self.tails), -1, -1):
            tail = "".join(f", {t}" for t in self.tails[len(self.tails) - more :])
            for head in self.heads():
                text = head + tail
                text = text[:1].upper() + text[1:]
                if len(text) <= MOST:
                    return text
        return _cut(text, MOST)

    def heads(self) -> Iterator[str]:
        """Yield the title without what follows, longest first."""
        ground, *others = self.names
        size = f"{self.size} " if self.size else ""
        if self.wanted:
            colours = f"{others[0]} on {ground}" if others else ground
            if len(others) == 2:
                yield f"{size}{self.wanted}, {others[0]} and {others[1]} on {ground}"
            yield f"{size}{self.wanted}, {colours}"
            yield f"{size}{self.wanted}"
            return
        noun = FIGURES[self.figure.kind]
        many = f" in {_number(len(self.names))} colours"
        if not others:
            yield f"{size}{noun} in {ground}"
        elif self.figure.kind == "patches":
            # No figure is there to be named: colours and symmetry say what is seen.
            how = f", {self.facts['symmetry']}" if self.facts["symmetry"] else ""
            size = f" in {self.size} patches" if self.size else ""
            if len(others) == 2:
                yield f"{others[0]} and {others[1]} on {ground}{size}{how}"
            yield f"{others[0]} on {ground}{many if len(others) > 1 else ''}{size}{how}"
            yield f"{others[0]} on {ground}{size}{how}"
            yield f"{others[0]} on {ground}{size}"
            return
        else:
            if len(others) == 2:
                yield f"{size}{others[0]} and {others[1]} {noun} on {ground}"
            yield f"{size}{others[0]} {noun} on {ground}{many if len(others) > 1 else ''}"
        yield f"{size}{noun} on {ground}"
        yield f"{size}{noun}{many if others else ''}"


def _number(count: int) -> str:
    return NUMBERS[count] if count < len(NUMBERS) else "many"


def _cut(text: str, most: int) -> str:
    """Return `text` with at most `most` characters, cut between words and never within a sign."""
    if len(text) <= most:
        return text
    end = most - 1
    space = text.rfind(" ", most // 3, end + 1)
    if space > 0:
        end = space
    else:
        while end > 1 and (unicodedata.combining(text[end]) or "\u200d" in text[end - 1 : end + 1]):
            end -= 1
    return text[:end].rstrip() + "…"


def spoken(name: str, most: int = MOST_NAME) -> str:
    """Return a name for a title: one line, no control signs, at most `most` characters.

    Examples:
        >>> spoken("deep teal"), spoken("the very deepest teal of all the sea")
        ('deep teal', 'the very deepest teal…')
    """
    bidi = "\u200e\u200f\u061c\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\ufeff"
    kept = "".join(
        " " if unicodedata.category(c) in ("Cc", "Cs", "Zl", "Zp", "Zs") else c
        for c in name
        if c not in bidi
    )
    return _cut(" ".join(kept.split()), most) or "unnamed"


def _value(scores: Mapping[str, Any], *keys: str) -> float | None:
    value: Any = scores
    for key in keys:
        value = value.get(key) if isinstance(value, Mapping) else None
    return float(value) if isinstance(value, int | float) and np.isfinite(value) else None


def _draft(pattern: Pattern, scores: Mapping[str, Any], wanted: str) -> _Draft:
    repeat = _value(scores, "repeat_rows") or repeat_rows(pattern)
    figure = figure_of(pattern, repeat)
    cells = cells_of(pattern, look_rows(repeat))
    seen = np.bincount(cells[cells >= 0], minlength=len(pattern.palette))
    share = dict(zip(pattern.palette, (seen / seen.sum()).tolist(), strict=True))
    known = scores.get("colour", {}).get("share", {})
    share.update({n: float(known[n]) for n in share if n in known})
    order = sorted((n for n in share if share[n] > 0), key=lambda n: (-share[n], n))
    left, right = (None if k is None else pattern.palette[k] for k in figure.edges)
    edge = f"with {spoken(left)} edges" if left is not None and left == right else ""
    symbol = (scores.get("symmetry") or {}).get("frieze_group") or ""
    facts = {
        "symmetry": SYMMETRY.get(symbol, ""),
        "way": WAYS[figure.kind][figure.way < 0] if figure.kind in WAYS and not wanted else "",
        "size": float((cells >= 0).sum() / len(patches_of(cells))),
        "edge": edge,
        "plain": _value(scores, "handling", "hitches_per_pass"),
        "even": _value(scores, "thread", "evenness"),
        "repeat": float(repeat),
        "second": f"with {spoken(order[2])}" if len(order) > 2 else "",
        "ground": share[order[0]],
    }
    return _Draft(tuple(spoken(n) for n in order), figure, wanted, facts)


def _thirds(group: Sequence[_Draft], key: str, low: str, high: str, apart: float) -> list[str]:
    """Return a word for the smaller third, the larger third and none for the rest.

    Nothing is said where the largest is less than `apart` times the smallest.
    """
    values = [d.facts[key] for d in group]
    known = sorted({round(v, 6) for v in values if v is not None})
    if len(known) < 2 or known[-1] < apart * known[0]:
        return [""] * len(group)
    third = max(len(known) // 3, 1)
    below, above = known[third - 1], known[-third]
    return [
        "" if v is None else low if round(v, 6) <= below else high if round(v, 6) >= above else ""
        for v in values
    ]


def _best(group: Sequence[_Draft], key: str, word: str) -> list[str]:
    """Return the word for the one design that has the largest value, and none for the others."""
    values = [-np.inf if d.facts[key] is None else round(d.facts[key], 6) for d in group]
    top = max(values)
    alone = np.isfinite(top) and values.count(top) == 1
    return [word if alone and v == top else "" for v in values]


def _said(group: Sequence[_Draft], key: str) -> list[str]:
    return [d.facts[key] for d in group]


def _ground(group: Sequence[_Draft]) -> list[str]:
    words = _thirds(group, "ground", "less", "more", 1.0)
    return [word and f"{word} {d.names[0]}" for d, word in zip(group, words, strict=True)]


_Step = Callable[[Sequence[_Draft]], list[str]]
#: What is tried on a clash, in this order.
STEPS: Final[tuple[tuple[str, _Step], ...]] = (
    ("way", lambda g: _said(g, "way")),
    ("size", lambda g: _thirds(g, "size", "small", "large", 1.15)),
    ("edge", lambda g: _said(g, "edge")),
    ("plain", lambda g: _best(g, "plain", "plainest to tie")),
    ("even", lambda g: _best(g, "even", "evenest thread")),
    ("repeat", lambda g: _thirds(g, "repeat", "short repeat", "long repeat", 1.0)),
    ("evenness", lambda g: _thirds(g, "even", "uneven thread", "even thread", 1.0)),
    ("second", lambda g: _said(g, "second")),
    ("ground", _ground),
)


def _tell_apart(group: list[_Draft], step: int) -> None:
    """Give the designs of a clash what differs, beginning with a step of `STEPS`."""
    if len(group) < 2 or step == len(STEPS):
        return
    kind, say = STEPS[step]
    words = say(group)
    if len(set(words)) > 1:
        for draft, word in zip(group, words, strict=True):
            if kind == "size":
                draft.size = word
            elif word:
                draft.tails.append(word)
    parts: dict[str, list[_Draft]] = defaultdict(list)
    for draft, word in zip(group, words, strict=True):
        parts[word].append(draft)
    for part in parts.values():
        _tell_apart(part, step + 1)


def give_titles(
    designs: Sequence[Pattern],
    scores: Sequence[Mapping[str, Any]],
    wanted: Sequence[str] | None = None,
) -> list[str]:
    """Return a title for every design of one gallery, all different (case does not count).

    Args:
        designs: The designs, length N.
        scores: Their scores, length N, as `motifsearch.simulate.scores.score_pattern` returns
            them; what is missing is not used.
        wanted: The name of the motif that a design was made after, length N; it then stands for
            the figure.  Empty where there is none.

    Returns:
        N titles of at most 70 characters.

    Raises:
        ValueError: If the lengths differ.

    Examples:
        >>> from motifsearch.pattern.design import make_pattern
        >>> ink = {"sand": "#d8c49a", "teal": "#1f7a78"}
        >>> one = make_pattern("", ["rr rr", "rr"], ["sand", "teal"] * 2, ink)
        >>> two = make_pattern("", ["ll ll", "ll"], ["sand", "teal"] * 2, ink)
        >>> give_titles([one, two], [{}, {}])[1]
        'Teal diagonal stripes on sand, from the right'
    """
    names = [""] * len(designs) if wanted is None else wanted
    drafts = [
        _draft(p, s, spoken(name, MOST_WANTED) if name.strip() else "")
        for p, s, name in zip(designs, scores, names, strict=True)
    ]
    clashes: dict[str, list[_Draft]] = defaultdict(list)
    for draft in drafts:
        clashes[draft.text().casefold()].append(draft)
    for group in clashes.values():
        _tell_apart(group, 0)
    taken: set[str] = set()
    out = []
    for draft in drafts:
        text = draft.text()
        trees = _trees()
        while text.casefold() in taken:
            tail = f", {next(trees)}"
            head = _cut(next(draft.heads()), MOST - len(tail))
            text = head[:1].upper() + head[1:] + tail
        taken.add(text.casefold())
        out.append(text)
    return out


def _trees() -> Iterator[str]:
    """Yield names of trees, then pairs of them, and so on."""
    for many in itertools.count(1):
        for trees in itertools.product(TREES, repeat=many):
            yield " ".join(trees)
