"""Colours: ``#rrggbb`` text to numbers, and how far apart two colours look.

The difference is CIEDE2000 (CIE 142-2001; Sharma, Wu and Dalal, Color Res. Appl. 30, 2005) on
L*a*b* under daylight D65, both computed by ColorAide.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from motifsearch.base.arrays import F64, U8

_HEX = re.compile(r"#[0-9a-fA-F]{6}\Z")


def is_hex(text: object) -> bool:
    """Return whether `text` is a colour such as ``#c04020``.

    Examples:
        >>> is_hex("#c04020"), is_hex("c04020"), is_hex("#c0402"), is_hex(7)
        (True, False, False, False)
    """
    return isinstance(text, str) and _HEX.match(text) is not None


def hex_to_rgb(text: str) -> tuple[int, int, int]:
    """Return the three bytes of ``#rrggbb``.

    Examples:
        >>> hex_to_rgb("#ff8000")
        (255, 128, 0)
    """
    return int(text[1:3], 16), int(text[3:5], 16), int(text[5:7], 16)


def rgb_array(colours: Sequence[str]) -> U8:
    """Return the colours as uint8 ``[k, 3]``."""
    return np.array([hex_to_rgb(c) for c in colours], np.uint8).reshape(-1, 3)


@lru_cache(maxsize=4096)
def lab(colour: str) -> tuple[float, float, float]:
    """Return L*, a*, b* of a ``#rrggbb`` under D65.

    Examples:
        >>> [round(v, 2) + 0.0 for v in lab("#ffffff")]
        [100.0, 0.0, 0.0]
    """
    from coloraide import Color  # late: the command's help must not wait for it

    lightness, a, b = Color(colour).convert("lab-d65").coords()
    return float(lightness), float(a), float(b)


def lab_difference(first: tuple[float, float, float], second: tuple[float, float, float]) -> float:
    """Return the CIEDE2000 difference of two L*a*b* (D65) triples."""
    from coloraide import Color

    one, two = Color("lab-d65", first), Color("lab-d65", second)
    return float(one.delta_e(two, method="2000"))


@lru_cache(maxsize=65536)
def colour_difference(first: str, second: str) -> float:
    """Return the CIEDE2000 difference of two ``#rrggbb``.

    Examples:
        >>> colour_difference("#000000", "#000000")
        0.0
        >>> round(colour_difference("#000000", "#ffffff"), 1)
        100.0
    """
    return lab_difference(lab(first), lab(second))


def difference_matrix(colours: Sequence[str]) -> F64:
    """Return the CIEDE2000 differences of all pairs, float64 ``[k, k]``, symmetric."""
    k = len(colours)
    out = np.zeros((k, k))
    for a in range(k):
        for b in range(a):
            out[a, b] = out[b, a] = colour_difference(colours[a], colours[b])
    return out
