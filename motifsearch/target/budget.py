"""What a search for a target may use: strands of every colour, and work."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np

from motifsearch.base.arrays import I64
from motifsearch.base.errors import InfeasibleError, InputError, nearest
from motifsearch.target.motif import Target

#: Work of the search for a target that an ordinary core does in about a second.
A_SECOND: Final = 3e8


def choose_colours(
    target: Target, folded: bool, max_strands: Mapping[str, int]
) -> tuple[Target, I64]:
    """Return the target in the colours that strands may have, and how many of each.

    These are the colours that cells ask for; where they are too few, the others follow, those
    with the most strands first.

    Args:
        target: The target.
        folded: Whether every colour must have an even number of strands.
        max_strands: Colour name to the largest number of strands; others are free.

    Returns:
        The target and the largest number of strands of each of its colours, int64 ``[K]``.

    Raises:
        InputError: `max_strands` names a colour that the target does not have, or a number
            below 0.
        InfeasibleError: No numbers of strands fit; the message says why.
    """
    strands = target.strands
    for name, most in max_strands.items():
        if name not in target.names:
            hint = nearest(name, target.names) or f": {', '.join(target.names)}"
            raise InputError(f"expected a colour of the target{hint}", name, key="max_strands")
        if most < 0:
            raise InputError("expected 0 strands or more", most, key=f"max_strands.{name}")
    if folded and strands % 2:
        raise InfeasibleError(
            f"{strands} strands cannot all be halves of folded threads; "
            "take an even number or allow unfolded threads"
        )
    step = 2 if folded else 1
    room = {
        name: min(max_strands.get(name, strands), strands) // step * step for name in target.names
    }
    names = list(target.asked)
    rest = sorted((n for n in target.names if n not in names), key=lambda n: -room[n])
    while rest and (not names or sum(room[n] for n in names) < strands):
        names.append(rest.pop(0))
    fits = sum(room[n] for n in names)
    if fits < strands:
        kind = "folded threads" if folded else "threads"
        raise InfeasibleError(f"{kind} for {fits} strands are allowed, {strands} are needed")
    return target.with_colours(names), np.array([room[n] for n in names], np.int64)
