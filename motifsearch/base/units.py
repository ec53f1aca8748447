"""How lengths are shown: metric or imperial.  Nothing is stored in these; memory holds mm.

What is to be cut is rounded up to what a tape shows, what is on hand or left is rounded down, so
that no text promises thread that is not there.  1 inch is 25.4 mm and 1 yard 914.4 mm exactly
(international yard and pound agreement, 1959).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

INCH_MM: Final = 25.4
YARD_MM: Final = 914.4
DUST: Final = 1e-6
#: Knotted lengths of the trade, from a key fob to a belt (common practice, no source).  No shorter
#: band is knotted, and what people give in centimetres for a wrist or an ankle is a smaller number.
SHORTEST_MM: Final = 35.0
LONGEST_MM: Final = 2000.0
IN_CM: Final = "is this in cm?"


def length_expected(mm: float) -> str:
    """Return what a knotted length should be, and ask back where it looks like another unit.

    Examples:
        >>> length_expected(13.0)
        'expected a knotted length from 35 to 2000 mm; is this in cm?'
    """
    asked = f"; {IN_CM}" if 0 < mm < SHORTEST_MM else ""
    return f"expected a knotted length from {SHORTEST_MM:g} to {LONGEST_MM:g} mm{asked}"


def cut_text(mm: float, show: str = "metric") -> str:
    """Return a length to be cut or folded at: cm, or inches to the next quarter.

    Examples:
        >>> cut_text(2050.0), cut_text(1025.0), cut_text(2050.0, "imperial")
        ('205 cm', '102.5 cm', '80 3/4 in')
    """
    if show == "imperial":
        quarters = math.ceil(mm / INCH_MM * 4.0 - DUST)
        whole, part = divmod(quarters, 4)
        fraction = ("", "1/4", "1/2", "3/4")[part]
        return " ".join(t for t in (str(whole) if whole or not part else "", fraction) if t) + " in"
    return f"{math.ceil(mm - DUST) / 10.0:g} cm"


def fold_text(mm: float, show: str = "metric") -> str:
    """Return where to fold: cm to a half, or inches to the nearest quarter.

    Examples:
        >>> fold_text(1023.4), fold_text(1023.4, "imperial")
        ('102.5 cm', '40 1/4 in')
    """
    if show == "imperial":
        return cut_text(round(mm / INCH_MM * 4.0) * INCH_MM / 4.0, show)
    return f"{round(mm / 5.0) * 0.5:g} cm"


def fold_words(fold_mm: float | None, length_mm: float, end: str, show: str = "metric") -> str:
    """Return where a thread of `length_mm` is folded, in words; as shown, not as computed.

    Args:
        fold_mm: From the end that becomes the first strand; None for a thread not folded.
        length_mm: The whole thread.
        end: What that end is called.
        show: "metric" or "imperial".

    Examples:
        >>> fold_words(740.4, 1480.0, "the end of strand 1")
        'in half'
        >>> fold_words(760.0, 1480.0, "the end of strand 1")
        '76 cm from the end of strand 1'
        >>> fold_words(None, 1480.0, "the end of strand 1")
        'do not fold'
    """
    if fold_mm is None:
        return "do not fold"
    shown = fold_text(fold_mm, show)
    if shown == fold_text(length_mm / 2.0, show):
        return "in half"
    return f"{shown} from {end}"


def fine_text(mm: float, show: str = "metric") -> str:
    """Return what a strand uses, or a knotted length: cm to the millimetre, or quarter inches.

    Examples:
        >>> fine_text(520.04), fine_text(110.8), fine_text(110.8, "imperial")
        ('52 cm', '11.1 cm', '4 1/4 in')
    """
    if show == "imperial":
        return fold_text(mm, show)
    return f"{math.floor(mm + 0.5) / 10.0:g} cm"


def fine_texts(values: Sequence[float], show: str = "metric") -> str:
    """Return the lengths of the strands of one thread, with one unit.

    Examples:
        >>> fine_texts([615.0, 588.0]), fine_texts([615.0])
        ('61.5 + 58.8 cm', '61.5 cm')
    """
    words = [fine_text(mm, show) for mm in values]
    unit = words[-1].rpartition(" ")[2]
    return " + ".join(word.removesuffix(f" {unit}") for word in words) + f" {unit}"


def piece_text(mm: float, show: str = "metric") -> str:
    """Return a piece on hand or left over: metres to the cm, or yards to a hundredth, down.

    Examples:
        >>> piece_text(8000.0), piece_text(3459.9), piece_text(8000.0, "imperial")
        ('8 m', '3.45 m', '8.74 yd')
    """
    if show == "imperial":
        return f"{math.floor(mm / YARD_MM * 100.0 + DUST) / 100.0:g} yd"
    return f"{math.floor(mm / 10.0 + DUST) / 100.0:g} m"


def total_text(mm: float, show: str = "metric") -> str:
    """Return a sum of lengths: metres or yards to a tenth, up.

    Examples:
        >>> total_text(12_345.0), total_text(12_345.0, "imperial")
        ('12.4 m', '13.6 yd')
    """
    unit, name = (YARD_MM, "yd") if show == "imperial" else (1000.0, "m")
    return f"{math.ceil(mm / unit * 10.0 - DUST) / 10.0:.1f} {name}"


def width_text(mm: float, show: str = "metric") -> str:
    """Return a knotted length or width: mm, or inches to a hundredth.

    Examples:
        >>> width_text(152.4), width_text(152.4, "imperial")
        ('152 mm', '6.00 in')
    """
    return f"{mm / INCH_MM:.2f} in" if show == "imperial" else f"{mm:.0f} mm"
