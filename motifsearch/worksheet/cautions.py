"""What every worksheet says about safety, in every form of it.

Usual cautions for cords that are worn and for handwork with children; they replace no rule of
the place where something is sold or given away, and say so.
"""

from __future__ import annotations

from typing import Final

CAUTIONS: Final = (
    "Not for children under three: cords and small ends can be swallowed or get round the neck.",
    "Not to be worn for sleep, on play equipment, or near machinery: a cord can catch.",
    "Take it off if it is tight, or if the skin is sore. A finger should fit under it.",
    "Scissors and needles: children use them only with an adult beside them.",
    "Dye may run. Test a wet piece of every colour on white cloth before you knot, and before "
    "you wash.",
    "If you sell bands or give them to children, the product-safety rules of your country hold. "
    "This sheet does not replace them.",
)
