"""Thread diameter from linear density: d = sqrt(4 Tt / (pi rho phi)).

A thread of linear density Tt (tex, grams per kilometre) is taken as a round cylinder of fibre of
density rho (g/cm3) that fills the share phi of its cross section.

Sources: rho = 1.52 g/cm3, cotton at 65 % relative humidity (Morton and Hearle, Physical
Properties of Textile Fibres, table 5.1).  phi = 1 / (1.1 rho), from the apparent specific volume
of 1.1 cm3/g that Peirce (J. Text. Inst. 28, 1937) gives for cotton yarn; with it the formula is
the handbook rule d[inch] = 1 / (28 sqrt(Ne)).  1 Ne (840 yards a pound) is 590.541 tex
(ASTM D2260).
"""

from __future__ import annotations

import math

#: g/cm3, cotton at 65 % relative humidity.
FIBRE_DENSITY = 1.52
#: Share of the cross section that is fibre: 0.598.
PACKING = 1.0 / (1.1 * FIBRE_DENSITY)
#: tex of cotton count 1 (ASTM D2260).
TEX_OF_NE_1 = 590.54125


def diameter_mm(tex: float, density: float = FIBRE_DENSITY, packing: float = PACKING) -> float:
    """Return the diameter of a thread in mm.

    Args:
        tex: Linear density in g/km.
        density: Fibre density rho in g/cm3.
        packing: Packing fraction phi, 0..1.

    Examples:
        >>> round(diameter_mm(250.0), 3)
        0.592
    """
    # 1 tex = 1e-6 g/mm and 1 g/cm3 = 1e-3 g/mm3.
    return math.sqrt(4e-3 * tex / (math.pi * density * packing))


def tex_from_diameter(
    diameter: float, density: float = FIBRE_DENSITY, packing: float = PACKING
) -> float:
    """Return the linear density in tex of a thread of this diameter in mm.

    Examples:
        >>> round(tex_from_diameter(diameter_mm(250.0)), 9)
        250.0
    """
    return math.pi * density * packing * diameter**2 / 4e-3


def tex_from_cotton_count(ne: float, plies: int = 1) -> float:
    """Return the linear density in tex of `plies` yarns of cotton count `ne` laid together.

    Examples:
        >>> round(tex_from_cotton_count(20.0), 3)
        29.527
    """
    return plies * TEX_OF_NE_1 / ne


def diameter_from_wraps(wraps: float, width_mm: float = 10.0) -> float:
    """Return the diameter in mm of a thread that lies side by side `wraps` times in `width_mm`.

    Examples:
        >>> diameter_from_wraps(16.0)
        0.625
    """
    return width_mm / wraps


def wraps_per_cm(diameter: float) -> float:
    """Return how many touching wraps of a thread of this diameter in mm cover 1 cm.

    Examples:
        >>> wraps_per_cm(0.625)
        16.0
    """
    return 10.0 / diameter
