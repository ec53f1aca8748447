"""After knotting: what the stash holds once a plan has been cut."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from motifsearch.base.errors import InfeasibleError, InputError
from motifsearch.base.units import piece_text
from motifsearch.thread.plan import CuttingPlan
from motifsearch.thread.stash import Stash


def use_stash(stash: Stash, plan: CuttingPlan) -> Stash:
    """Return the stash after cutting: pieces begun are gone, useful leftovers are there.

    The untouched pieces of a thread keep their order; the leftovers follow.  What is shorter
    than the plan's `useful_mm` is not kept.

    Raises:
        InfeasibleError: The plan lacks thread for a cut.
        InputError: A piece of the plan is not in the stash; the plan was made from another one.
    """
    if plan.missing:
        colour, label, length = plan.missing[0]
        raise InfeasibleError(
            f"no piece of {colour} is left for cut {label} of {piece_text(length, stash.show)}: "
            f"{len(plan.missing)} cuts are missing, nothing is used"
        )
    threads = []
    begun = {piece.thread for piece in plan.pieces}
    for name in begun:
        stash.thread(name)
    for thread in stash.threads:
        mine = [piece for piece in plan.pieces if piece.thread == thread.name]
        gone = Counter(piece.piece_mm for piece in mine)
        kept = []
        for piece in thread.pieces_mm:
            if gone[piece]:
                gone[piece] -= 1
            else:
                kept.append(piece)
        lost = +gone
        if lost:
            raise InputError(
                f"expected a piece of {piece_text(next(iter(lost)), stash.show)} of "
                f"{thread.name!r}: the plan was made from another stash",
                source=stash.source or None,
            )
        left = [piece.left_mm for piece in mine if piece.left_mm >= max(plan.useful_mm, 1.0)]
        threads.append(replace(thread, pieces_mm=(*kept, *sorted(left, reverse=True))))
    return replace(stash, threads=tuple(threads))
