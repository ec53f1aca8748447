"""Traits: what one sees in a face, as numbers, each with the words that a maker would use.

A *trait* is a number between designs: how many colours, how light, how slanting the lines.  Each
is centred and scaled by what is usual among the designs that searches find (`centre`, `spread`:
mean and standard deviation over elites of three briefs of 8, 10 and 12 strands), so that all count
alike before anything is learnt, whatever the brief, and a taste that was learnt on one box of
threads means the same on another.  Colours count in CIE L*a*b* (D65) only.

*Tints* are twelve families of colours that people name (Berlin and Kay, Basic Color Terms, 1969,
with teal; the centres in L*a*b* are ours).  A thread belongs to each by exp(-d^2 / 2 w^2), d its
distance, the sum over all tints being 1.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, kw_only=True)
class Trait:
    """One trait.

    Attributes:
        key: Its name in files.
        more: What is liked by whom it draws, in words; empty where it is not said.
        less: What is liked by whom its opposite draws; where it is empty, `more` is passed over.
        centre: What is usual.
        spread: How much designs differ in it.
    """

    key: str
    more: str = ""
    less: str = ""
    centre: float = 0.0
    spread: float = 1.0


#: Tint to its centre in L*a*b*.
TINTS: Final[Mapping[str, tuple[float, float, float]]] = {
    "black": (12.0, 0.0, 0.0),
    "grey": (55.0, 0.0, 0.0),
    "white": (95.0, 0.0, 3.0),
    "red": (42.0, 58.0, 36.0),
    "orange": (65.0, 38.0, 62.0),
    "yellow": (85.0, 2.0, 70.0),
    "green": (50.0, -38.0, 30.0),
    "teal": (48.0, -28.0, -8.0),
    "blue": (38.0, 6.0, -45.0),
    "purple": (35.0, 38.0, -32.0),
    "pink": (72.0, 34.0, 2.0),
    "brown": (38.0, 18.0, 26.0),
}
#: How far a tint reaches, in L*a*b*.
REACH: Final = 15.0

COLOUR: Final = (
    Trait(key="colours", more="many colours", less="few colours", centre=1.43, spread=0.4),
    Trait(key="lightness", more="light colours", less="dark colours", centre=0.53, spread=0.13),
    Trait(
        key="depth",
        more="light beside dark",
        less="colours of one lightness",
        centre=0.17,
        spread=0.08,
    ),
    Trait(key="warmth", more="warm colours", less="cool colours", centre=0.15, spread=0.15),
    Trait(key="chroma", more="strong colours", less="muted colours", centre=0.34, spread=0.1),
    Trait(key="contrast", more="strong contrast", less="soft contrast", centre=0.43, spread=0.11),
    Trait(
        key="least_contrast",
        more="colours that are easy to tell apart",
        less="colours close to each other",
        centre=0.35,
        spread=0.14,
    ),
    Trait(
        key="ground",
        more="a plain ground",
        less="colours in equal shares",
        centre=0.55,
        spread=0.15,
    ),
    Trait(key="edge", more="light edges", less="dark edges", centre=0, spread=0.08),
    *(Trait(key=f"tint_{name}", more=name, centre=0.08, spread=0.09) for name in TINTS),
)
FIGURE: Final = (
    Trait(key="density", more="fine figures", less="large figures", centre=0.4, spread=0.14),
    Trait(
        key="lone",
        more="single knots of a colour",
        centre=0.06,
        spread=0.1,
    ),
    Trait(
        key="lengthwise",
        more="lengthwise stripes",
        centre=0.54,
        spread=0.23,
    ),
    Trait(key="crosswise", more="crosswise bars", centre=-0.15, spread=0.22),
    Trait(key="lean", more="diagonal stripes", centre=0.12, spread=0.23),
    Trait(key="point", more="arrowheads", centre=0.16, spread=0.25),
    Trait(key="swing", more="zigzags and waves", centre=0.05, spread=0.11),
    Trait(key="open", more="diamonds", centre=0.13, spread=0.15),
    Trait(
        key="steady",
        more="lines that go on and on",
        less="lines that turn",
        centre=0.29,
        spread=0.29,
    ),
    Trait(
        key="mirror",
        more="sides that mirror each other",
        less="unequal sides",
        centre=0.73,
        spread=0.28,
    ),
    Trait(key="glide", more="sides that take turns", centre=0.54, spread=0.24),
    Trait(key="flip", more="the same from both ends", centre=0.78, spread=0.2),
    Trait(key="half_turn", more="the same upside down", centre=0.78, spread=0.24),
    Trait(key="repeat", more="long repeats", less="short repeats", centre=3.88, spread=1.1),
    Trait(key="rhythm_4", more="the same again after 4 rows", centre=0.6, spread=0.25),
    Trait(key="rhythm_8", more="the same again after 8 rows", centre=0.63, spread=0.27),
    Trait(key="rhythm_12", more="the same again after 12 rows", centre=0.67, spread=0.28),
    Trait(key="border", more="a border", less="no border", centre=0, spread=0.15),
)
TRAITS: Final = (*COLOUR, *FIGURE)
KEYS: Final = tuple(t.key for t in TRAITS)


def trait(key: str) -> Trait:
    """Return the trait of a key.

    Raises:
        KeyError: There is none; a mistake in the program.
    """
    return TRAITS[KEYS.index(key)]
