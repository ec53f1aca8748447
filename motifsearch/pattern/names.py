"""The names of the four knots, and how wide bands are: plain data that needs no NumPy.

A knot is named by its two hitch letters; see `motifsearch.pattern.knots`.
"""

from __future__ import annotations

from typing import Final

KNOTS: Final = ("rr", "ll", "rl", "lr")
#: What people call the four knots, by code.
KNOT_WORDS: Final = ("forward", "backward", "forward-backward", "backward-forward")

MIN_STRANDS: Final = 4
MAX_STRANDS: Final = 24
