"""An alphabet for the staggered cells of a band: capitals, digits, accents and a few signs.

A letter stands across the band, so that a word reads along it.  Its cell (x, y) lies x rows on and
y positions up from the letter's foot; like the knots of a band, cells exist where x + y is even.
A stem two rows wide is a wave as thick as a slanted line of single knots, so letters are drawn
with both, and corners are cut at the slant of the knots.

The drawings stand in ``alphabet/HEIGHT.txt``, one for every letter and height; they are ours, drawn
for this lattice.  An accent is set above the letter of a smaller height.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Final

from motifsearch.base.errors import InputError

Cell = tuple[int, int]

#: Heights that are drawn, in positions.
HEIGHTS: Final = (7, 9, 11, 13)
#: Positions that an accent takes, with the ground below it.
ACCENTED: Final = 4
#: What may be written for a sign.
SIGNS: Final = {"❤": "♥", "♡": "♥", "☆": "★", "*": "★", "–": "-", "—": "-", "’": "", "'": ""}
#: Where an accent has its cells: x from the middle of the letter, y from its own foot.
ACCENTS: Final[Mapping[str, tuple[Cell, ...]]] = MappingProxyType(
    {
        "\u0308": ((-2, 0), (2, 0)),
        "\u0301": ((-1, 0), (0, 1), (1, 2)),
        "\u0300": ((1, 0), (0, 1), (-1, 2)),
        "\u0302": ((-1, 0), (0, 1), (1, 0)),
        "\u0303": ((-2, 0), (-1, 1), (0, 0), (1, 1), (2, 0)),
        "\u030c": ((-1, 1), (0, 0), (1, 1)),
        "\u030a": ((-1, 1), (0, 0), (0, 2), (1, 1)),
    }
)
ACCENTED_LETTERS: Final = "ÄËÏÖÜÅÁÉÍÓÚÝĆŃŚŹÀÈÌÒÙÂÊÎÔÛÑÃÕČĚŘŠŽ"
#: Letters that keep their look when two columns are taken out of their middle, and from which
#: height on.
_NARROWED, NARROWED_FROM = "BCDEFGLPS", 9
_INK, _GROUND = "#", "."


@dataclass(frozen=True)
class Glyph:
    """One letter of one height.

    Attributes:
        name: The character.
        width: Its rows along the band.
        cells: The cells that are ink, (x, y), x from 0 to ``width - 1``; x + y is even.
    """

    name: str
    width: int
    cells: frozenset[Cell]


@cache
def glyphs(height: int) -> Mapping[str, Glyph]:
    """Return the drawn letters of a height, without accents.

    Raises:
        KeyError: Nothing is drawn at this height; a mistake in the program.

    Examples:
        >>> sorted(glyphs(9)["X"].cells)[:3], glyphs(9)["X"].width
        ([(0, 0), (0, 8), (1, 1)], 9)
    """
    if height not in HEIGHTS:
        raise KeyError(height)
    source = files("motifsearch.target") / "alphabet" / f"{height}.txt"
    out: dict[str, Glyph] = {}
    for part in source.read_text("utf-8").split("\n= ")[1:]:
        name, *lines = part.splitlines()
        cells = set()
        for n, line in enumerate(lines):
            y = height - 1 - n
            for x, mark in enumerate(line):
                if mark in (_INK, _GROUND) and (x + y) % 2:
                    raise AssertionError(f"{name}, height {height}: no cell at {x}, {y}")
                if mark == _INK:
                    cells.add((x, y))
        if len(lines) != height:
            raise AssertionError(f"{name}: {len(lines)} lines at height {height}")
        out[name] = Glyph(name, 1 + max(x for x, _ in cells), frozenset(cells))
    return MappingProxyType(out)


@cache
def glyph(name: str, height: int, narrow: bool = False) -> Glyph:
    """Return a letter, with its accent, or one that is as near as the height allows.

    Args:
        name: A character of `known`.
        height: Of the letters.
        narrow: Its narrow form, where it has one.

    Raises:
        KeyError: There is no such letter at this height.

    Examples:
        >>> glyph("C", 13).width, glyph("C", 13, narrow=True).width, glyph("Ö", 13).width
        (9, 7, 9)
    """
    plain, *marks = list(unicodedata.normalize("NFD", name))
    if not marks:
        drawn = glyphs(height)[plain]
        fits = narrow and plain in _NARROWED and height >= NARROWED_FROM
        return _narrower(drawn) if fits else drawn
    base = max(h for h in HEIGHTS if h + ACCENTED <= height)
    below = glyph(plain, base, narrow)
    accent = ACCENTS[marks[0]]
    foot, middle = base + 1, (below.width - 1) // 2
    middle += (foot + middle + sum(accent[0])) % 2
    cells = {(middle + x, foot + y) for x, y in accent}
    return Glyph(name, below.width, below.cells | cells)


def _narrower(drawn: Glyph) -> Glyph:
    """Return a letter with two columns taken out of its middle."""
    cut = drawn.width // 2 - 1
    kept = {(x, y) for x, y in drawn.cells if x < cut}
    kept |= {(x - 2, y) for x, y in drawn.cells if x >= cut + 2}
    return Glyph(drawn.name, drawn.width - 2, frozenset(kept))


def known(height: int) -> str:
    """Return every character that can be written at a height, in order."""
    plain = "".join(glyphs(height))
    return plain + ACCENTED_LETTERS if height - ACCENTED >= min(HEIGHTS) else plain


def spelled(text: str, height: int) -> str:
    """Return a text as it is set: capitals, single blanks, signs that are drawn.

    Args:
        text: What was asked for.
        height: Of the letters.

    Raises:
        InputError: No character, or one that is not drawn; the message names the nearest text.

    Examples:
        >>> spelled("  Mia  & jo ", 9)
        'MIA & JO'
    """
    written = unicodedata.normalize("NFC", text.replace("\ufe0f", ""))
    written = " ".join("".join(SIGNS.get(c, c) for c in written).upper().split())
    have = known(height)
    wrong = list(dict.fromkeys(c for c in written if c != " " and c not in have))
    if not wrong and written:
        return written
    if not written:
        raise InputError("expected a text with at least one letter", text)
    near = "".join(c if c in have else _plain(c, have) for c in written)
    near = " ".join(near.split())
    instead = f'; "{near}" can be written' if near else ""
    if set(wrong) <= set(ACCENTED_LETTERS):
        raise InputError(f"accents need 14 strands or more{instead}", text)
    raise InputError(
        f"no letter is drawn for {', '.join(wrong)}: there are A to Z, digits, & + - . ! ♥ ★ and "
        f"some accents{instead}",
        text,
    )


def _plain(character: str, have: str) -> str:
    """Return the letter without its accent, or nothing."""
    return "".join(c for c in unicodedata.normalize("NFKD", character) if c in have)
