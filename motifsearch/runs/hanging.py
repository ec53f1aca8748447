"""The wall: the bands that hang while a search runs, each in its place.

A *place* holds one band.  Of the designs found so far those hang that meet the wishes best and
differ (`motifsearch.search.variety.pick`); when better ones come, only the places change whose band
has fallen behind: a band that is kept (looked at, or picked) stays as it is, one whose *kind* (the
cell of the archive) is still among the best stays in its place and becomes the best of its kind.
So a wall gets better without jumping about.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, Final

import numpy as np

from motifsearch.base.text import clean_text
from motifsearch.describe import words
from motifsearch.describe.titles import give_titles
from motifsearch.pattern.canonical_form import canonical_key
from motifsearch.pattern.design import Pattern
from motifsearch.search.archive import CELLS
from motifsearch.search.brief import Brief
from motifsearch.search.genome import develop, pattern_of
from motifsearch.search.loop import Run
from motifsearch.search.outcome import best_elites
from motifsearch.search.taste_model import Posterior
from motifsearch.search.variety import face_distance, pick
from motifsearch.search.widths import Judges
from motifsearch.simulate.design_scores import DesignScores
from motifsearch.simulate.scores import score_batch, score_pattern

#: Designs that are looked at for one place.
POOL: Final = 4
#: So many times more where there is a taste: what she likes may meet the wishes less well.
MORE_FOR_TASTE: Final = 4
#: Rows of a band on the wall.
SHOWN_ROWS: Final = 40


@dataclass(frozen=True)
class Band:
    """A band on the wall.

    Attributes:
        pattern: The design.
        kind: The cell of the archive, counted on from width to width; -1 where none is known.
        worth: The weighted mean of the wishes.
        folder: Where it stands, such as ``candidates/003``; empty while a search runs.
    """

    pattern: Pattern
    kind: int = -1
    worth: float = 0.0
    folder: str = ""

    @property
    def key(self) -> str:
        """What tells it from others: the hash of knots and colours."""
        return key_of(self.pattern)


@lru_cache(maxsize=4096)
def _key(knots: tuple[tuple[int, ...], ...], order: tuple[str, ...]) -> str:
    colours = dict.fromkeys(order, "#000000")
    return f"{canonical_key(Pattern('', knots, order, colours))[:12]}{_names(order)}"


def _names(order: tuple[str, ...]) -> str:
    import hashlib

    return hashlib.sha256("|".join(order).encode()).hexdigest()[:6]


def key_of(pattern: Pattern) -> str:
    """Return what tells a design from others, the same wherever it is shown."""
    return _key(pattern.knots, pattern.colour_order)


def found(brief: Brief, state: Run, liked: Posterior | None = None) -> list[Band]:
    """Return the best designs of a search so far, one of every kind, best first.

    Args:
        brief: The brief.
        state: The search.
        liked: What is believed of a taste: it counts beside the wishes as it would in a search.
    """
    inks = [brief.stash.thread(name).colour for name in brief.palette]
    out = []
    judges = Judges(brief)
    wide = POOL * brief.gallery_size * (1 if liked is None else MORE_FOR_TASTE)
    for k, part in best_elites(state, wide):
        island = state.islands[k]
        grid, colours = develop(part.genomes, island.space)
        first = CELLS * brief.every_width.index(island.space.strands)
        kinds = dict(zip(island.archive.utility.tolist(), island.archive.cells.tolist(),
                         strict=True))  # fmt: skip
        worths = part.utility
        if liked is not None:
            judge = judges.of(island.space.strands)
            scores = score_batch(grid, colours, judge.setting)
            looks = judge.looks(scores, grid, colours, np.arange(len(worths)))
            wishes, taste = sum(brief.wishes.values()), brief.taste_weight
            worths = (wishes * worths + taste * liked.degree(looks)) / (wishes + taste)
        for n, utility in enumerate(part.utility.tolist()):
            pattern = pattern_of(grid[..., n], colours[:, n], "", brief.palette, inks)
            out.append(Band(pattern, kinds[utility] + first, round(float(worths[n]), 9)))
    out.sort(key=lambda b: (-b.worth, b.kind))
    return out[: POOL * brief.gallery_size]


def rehung(
    hung: Sequence[Band | None],
    pool: Sequence[Band],
    size: int,
    *,
    kept: Collection[str] = (),
    refused: Collection[str] = (),
) -> list[Band | None]:
    """Return the wall with what was found since.

    Args:
        hung: The wall as it is, by place.
        pool: The best designs now, best first.
        size: The number of places.
        kept: Keys of bands that stay as they are.
        refused: Keys of designs that do not hang.
    """
    wall: list[Band | None] = [*hung[:size], *[None] * (size - len(hung))]
    pool = [b for b in pool if b.key not in refused]
    good = {b.kind: b for b in pool[: 2 * size]}
    standing: list[int] = []
    for place, band in enumerate(wall):
        if band is None:
            continue
        if band.key in kept:
            standing.append(place)
        elif band.key in refused or band.kind not in good:
            wall[place] = None
        else:
            better = good[band.kind]
            wall[place] = better if better.worth > band.worth else band
            standing.append(place)
    free = [place for place, band in enumerate(wall) if band is None]
    if not free:
        return wall
    hanging = [b for p in standing if (b := wall[p]) is not None]
    taken = {b.key for b in hanging} | {f"kind {b.kind}" for b in hanging}
    rest = [b for b in pool if b.key not in taken and f"kind {b.kind}" not in taken]
    together = [*hanging, *rest]
    if not rest:
        return wall
    worth = np.array([b.worth for b in together])
    chosen, _ = pick([b.pattern for b in together], worth, size, first=len(hanging))
    fresh = [together[n] for n in chosen if n >= len(hanging)]
    for place, band in zip(free, fresh, strict=False):
        wall[place] = band
    return wall


def settled(hung: Sequence[Band | None], final: Sequence[Band]) -> list[Band | None]:
    """Return the wall of a finished search: every design near to where one like it hung.

    Args:
        hung: The wall as it was, by place.
        final: The designs of the gallery.
    """
    size = max(len(final), len(hung))
    wall: list[Band | None] = [None] * size
    rest = list(final)
    for place, band in enumerate(hung):
        same = next((f for f in rest if band is not None and f.key == band.key), None)
        if same is not None:
            wall[place] = same
            rest.remove(same)
    near = sorted(
        (face_distance(band.pattern, f.pattern), place, n)
        for place, band in enumerate(hung)
        if band is not None and wall[place] is None
        for n, f in enumerate(rest)
    )
    gone: set[int] = set()
    for _, place, n in near:
        if wall[place] is None and n not in gone:
            wall[place] = rest[n]
            gone.add(n)
    left = [f for n, f in enumerate(rest) if n not in gone]
    for place in range(size):
        if wall[place] is None and left:
            wall[place] = left.pop(0)
    while wall and wall[-1] is None:
        wall.pop()
    return wall


@lru_cache(maxsize=2048)
def _scores(
    knots: tuple[tuple[int, ...], ...],
    order: tuple[str, ...],
    inks: tuple[tuple[str, str], ...],
    length_mm: float,
) -> DesignScores:
    return score_pattern(Pattern("", knots, order, dict(inks)), length_mm)


@lru_cache(maxsize=2048)
def _said(
    knots: tuple[tuple[int, ...], ...],
    order: tuple[str, ...],
    inks: tuple[tuple[str, str], ...],
    title: str,
    length_mm: float,
) -> tuple[str, str]:
    """Return what a design is called, and what it looks like in words."""
    pattern = Pattern(title, knots, order, dict(inks))
    scores = _scores(knots, order, inks, length_mm)
    named = replace(pattern, title=title or give_titles([pattern], [scores])[0])
    return named.title, clean_text(words.alt_text(named, scores))


def wall_data(
    wall: Sequence[Band | None], length_mm: float, said: set[str] | None = None, more: int = 10**6
) -> list[dict[str, Any] | None]:
    """Return a wall as data: what a page draws and says of every band.

    Args:
        wall: The bands by place.
        length_mm: Their knotted length.
        said: Keys of bands that have a title already; those that get one now are added.
        more: At most so many bands get a title now (it takes longer than to find a band); the
            others are called by their colours until then.
    """
    known = set() if said is None else said
    out: list[dict[str, Any] | None] = []
    for band in wall:
        if band is None:
            out.append(None)
            continue
        pattern = band.pattern
        title = pattern.title or ", ".join(pattern.palette)
        alt = title
        if band.key in known or more > 0:
            more -= band.key not in known
            known.add(band.key)
            inks = tuple(pattern.colours.items())
            title, alt = _said(pattern.knots, pattern.colour_order, inks, pattern.title, length_mm)
        out.append(
            {
                **design_data(replace(pattern, title=title)),
                "key": band.key,
                "alt": alt,
                "worth": round(band.worth, 4),
                "folder": band.folder,
            }
        )
    return out


def design_data(pattern: Pattern) -> dict[str, Any]:
    """Return a design as data: knots as digits a row, and the colours of its strands.

    Examples:
        >>> from motifsearch.pattern.design import make_pattern
        >>> p = make_pattern("stripe", ["rr rl", "ll"], "abab", {"a": "#112233", "b": "#ffffff"})
        >>> design_data(p)["knots"], design_data(p)["order"], design_data(p)["names"]
        ('02 1', [0, 1, 0, 1], ['a', 'b'])
    """
    return {
        "title": clean_text(pattern.title),
        "knots": " ".join("".join(map(str, row)) for row in pattern.knots),
        "order": [int(k) for k in pattern.colour_index],
        "names": list(pattern.palette),
        "hexes": [pattern.colours[name] for name in pattern.palette],
        "rows": SHOWN_ROWS,
    }


def design_of(data: Mapping[str, Any]) -> Pattern:
    """Return the design of such data, checked as a pattern file is.

    Raises:
        InputError: It is no design; the message says what was expected.
    """
    from motifsearch.base.errors import InputError
    from motifsearch.base.tomlfile import Table
    from motifsearch.pattern.files import parse_pattern
    from motifsearch.pattern.knots import KNOTS

    try:
        names = [str(n) for n in data["names"]]
        hexes = [str(h) for h in data["hexes"]]
        rows = [" ".join(KNOTS[int(c)] for c in row) for row in str(data["knots"]).split(" ")]
        order = [names[k] for k in data["order"]]
        if len(rows) > 400 or len(order) > 100 or len(set(names)) != len(names):
            raise ValueError
        colours = dict(zip(names, hexes, strict=True))
    except (KeyError, ValueError, TypeError, IndexError):
        raise InputError("expected a design", source="the address") from None
    return parse_pattern(
        Table(
            {
                "format": "motifsearch-pattern-1",
                "title": str(data.get("title", ""))[:200],
                "rows": rows,
                "colour_order": order,
                "colours": colours,
            },
            "the address",
        )
    )
