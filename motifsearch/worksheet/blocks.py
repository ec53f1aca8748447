"""What the sections of a worksheet are made of, and how lengths and times are told on it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from motifsearch.worksheet.content import Part

INCH_MM: Final = 25.4
#: Makes text that people wrote themselves harmless in one form of the sheet.
Say = Callable[[str], str]


@dataclass(frozen=True)
class Para:
    """A paragraph."""

    text: str


@dataclass(frozen=True)
class Bullets:
    """A list; numbered when the order matters."""

    items: tuple[str, ...]
    ordered: bool = False


@dataclass(frozen=True)
class CutTable:
    """What to cut: per row (label, colour name as a key, cells)."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, str, tuple[str, ...]], ...]


@dataclass(frozen=True)
class Picture:
    """The band as cloth, with what it shows in words."""

    words: str


@dataclass(frozen=True)
class BoardBlock:
    """The board seen from above, with the same in words, one line a notch or group."""

    lines: tuple[str, ...]


@dataclass(frozen=True)
class ChartBlock:
    """The thread chart of the first rows (drawn only; the steps say the same)."""

    rows: int
    words: str


@dataclass(frozen=True)
class KnotsBlock:
    """The two pictures of every knot (drawn only; the words beside them say the same).

    Attributes:
        codes: The knots as they are tied on this sheet.
        names: What each is called.
    """

    codes: tuple[int, ...]
    names: tuple[str, ...]


@dataclass(frozen=True)
class StepsBlock:
    """The steps of a part."""

    part: Part


Block = Para | Bullets | CutTable | Picture | BoardBlock | ChartBlock | KnotsBlock | StepsBlock


@dataclass(frozen=True)
class Section:
    """A heading with its blocks."""

    title: str
    blocks: tuple[Block, ...]


def length(mm: float, show: str, *, up: bool = False) -> str:
    """Return a length as a maker reads it off a tape: half centimetres or quarter inches.

    Args:
        mm: The length.
        show: "metric" or "imperial".
        up: Round up, for what is cut.

    Examples:
        >>> length(615.2, "metric"), length(1420, "imperial", up=True), length(3, "imperial")
        ('61.5 cm', '56 in', '1/4 in')
    """
    if show == "metric" and mm < 20 and not up:
        return f"{math.floor(mm + 0.5)} mm"
    step = 5.0 if show == "metric" else INCH_MM / 4
    n = math.ceil(mm / step - 1e-9) if up else math.floor(mm / step + 0.5)
    if show == "metric":
        return f"{n / 2:g} cm"
    whole, quarter = divmod(max(n, 1), 4)
    fraction = ("", "1/4", "1/2", "3/4")[quarter]
    return f"{' '.join(str(part) for part in (whole or '', fraction) if part)} in"


def duration(minutes: float) -> str:
    """Return a time estimate to five minutes.

    Examples:
        >>> duration(96), duration(20), duration(60), duration(1)
        ('1 h 35 min', '20 min', '1 h', '5 min')
    """
    n = max(5, 5 * math.floor(minutes / 5 + 0.5))
    hours, rest = divmod(n, 60)
    return " ".join(
        part for part in (f"{hours} h" * bool(hours), f"{rest} min" * bool(rest)) if part
    )
