"""How a band looks with a colour-vision deficiency, and which colours become one.

Machado, Oliveira and Fernandes, "A physiologically-based model for simulation of color vision
deficiency", IEEE Trans. Vis. Comput. Graph. 15(6), 2009, 1291-1298: the colour seen is M times
the colour in *linear* sRGB, with the published matrix M for full severity (dichromacy), cut to
0..1.  For tritan the authors call their model an approximation.

Two colours that touch become one when their CIEDE2000 difference as seen is below a threshold.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from typing import Final, Literal, overload

import numpy as np
import numpy.typing as npt

from motifsearch.base.arrays import F64
from motifsearch.base.colour import colour_difference, hex_to_rgb
from motifsearch.pattern.design import Pattern
from motifsearch.pattern.walk import colour_return, face

Kind = Literal["protan", "deutan", "tritan"]
Image = npt.NDArray[np.uint8]

KINDS: Final[tuple[Kind, ...]] = ("protan", "deutan", "tritan")

#: The kinds in plain words.
KIND_WORDS: Final[dict[Kind, str]] = {
    "protan": "red-blind",
    "deutan": "green-blind",
    "tritan": "blue-blind",
}

#: CIEDE2000 below which two threads next to each other are taken for one colour.  Just
#: noticeable is about 1 for large even patches side by side; knots are a millimetre or two wide
#: and shaded, so far more is needed.  From memory and by looking at previews, no source.
MERGE_BELOW: Final = 8.0

#: Machado et al. 2009, severity 1.0.
MATRICES: Final[dict[Kind, F64]] = {
    "protan": np.array(
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ]
    ),
    "deutan": np.array(
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ]
    ),
    "tritan": np.array(
        [
            [1.255528, -0.076749, -0.178779],
            [-0.078411, 0.930809, 0.147602],
            [0.004733, 0.691367, 0.303900],
        ]
    ),
}


@lru_cache(maxsize=1)
def _linear() -> F64:
    """Return linear sRGB of every byte, float64 ``[256]`` (IEC 61966-2-1)."""
    v = np.arange(256) / 255.0
    curve: F64 = np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)
    return curve


def _encode(linear: F64) -> Image:
    """Return bytes of linear sRGB, cut to 0..1 and rounded."""
    v = np.clip(linear, 0.0, 1.0)
    coded = np.where(v <= 0.0031308, 12.92 * v, 1.055 * v ** (1 / 2.4) - 0.055)
    out: Image = np.floor(coded * 255.0 + 0.5).astype(np.uint8)
    return out


@overload
def simulate(seen: str, kind: Kind) -> str: ...


@overload
def simulate(seen: Image, kind: Kind) -> Image: ...


def simulate(seen: str | Image, kind: Kind) -> str | Image:
    """Return a colour or an image as it is seen with a deficiency.

    Args:
        seen: ``#rrggbb``, or sRGB bytes uint8 ``[..., 3]``.
        kind: ``protan``, ``deutan`` or ``tritan``, at full severity.

    Returns:
        The same kind of thing: ``#rrggbb``, or uint8 of the same shape.

    Examples:
        >>> simulate("#808080", "deutan")
        '#808080'
        >>> simulate("#ff0000", "protan")
        '#6d5f00'
    """
    if isinstance(seen, str):
        rgb = simulate(np.array(hex_to_rgb(seen), np.uint8), kind)
        return "#" + "".join(f"{int(c):02x}" for c in rgb)
    return _encode(_linear()[seen] @ MATRICES[kind].T)


def touching_pairs(pattern: Pattern) -> list[tuple[str, str]]:
    """Return the pairs of colour names that touch anywhere on the face, in palette order.

    Cells touch at (r, i) and (r + 1, i +- 1).

    Examples:
        >>> from motifsearch.pattern.design import make_pattern
        >>> ink = {"a": "#204060", "b": "#e0d0a0"}
        >>> touching_pairs(make_pattern("", ["rr rr", "rr"], "aabb", ink))
        [('a', 'b')]
    """
    period = colour_return(pattern) * pattern.rows
    cells = face(pattern, period)
    found = set()
    for r in range(period):
        below = cells[(r + 1) % period]
        for k, colour in enumerate(cells[r]):
            # Row r has cells at i = r mod 2 + 2 k, so i +- 1 are slots k - 1 and k below an even
            # row, k and k + 1 below an odd one.
            for slot in (k - 1 + r % 2, k + r % 2):
                if 0 <= slot < len(below) and below[slot] != colour:
                    found.add((min(colour, below[slot]), max(colour, below[slot])))
    return [(pattern.palette[a], pattern.palette[b]) for a, b in sorted(found)]


def merging_pairs(
    pattern: Pattern,
    pairs_that_touch: Iterable[tuple[str, str]] | None,
    kind: Kind,
    threshold: float = MERGE_BELOW,
) -> list[tuple[str, str, float]]:
    """Return the pairs of touching colours that become one with a deficiency.

    A pair that cannot be told apart with full colour vision either is not reported: it is no
    matter of the deficiency, and the score ``contrast`` already shows it.

    Args:
        pattern: The design.
        pairs_that_touch: Pairs of colour names; `touching_pairs` of the pattern when None.
        kind: ``protan``, ``deutan`` or ``tritan``.
        threshold: CIEDE2000 below which two colours count as one.

    Returns:
        (name, name, CIEDE2000 difference as seen), the closest pair first.

    Examples:
        >>> from motifsearch.pattern.design import make_pattern
        >>> ink = {"red": "#a64b3c", "green": "#5c6b35"}
        >>> p = make_pattern("", ["rr rr", "rr"], ["red", "red", "green", "green"], ink)
        >>> [pair[:2] for pair in merging_pairs(p, None, "protan", 12.0)]
        [('red', 'green')]
    """
    pairs = touching_pairs(pattern) if pairs_that_touch is None else pairs_that_touch
    out = []
    for one, two in pairs:
        first, second = pattern.colours[one], pattern.colours[two]
        if colour_difference(first, second) < threshold:
            continue
        difference = colour_difference(simulate(first, kind), simulate(second, kind))
        if difference < threshold:
            out.append((one, two, difference))
    return sorted(out, key=lambda pair: pair[2])
