"""``use``: cut for a band, and keep the book of what is left."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from motifsearch.base.errors import InfeasibleError
from motifsearch.base.units import total_text
from motifsearch.runs.candidate import Candidate
from motifsearch.runs.one import Design, candidate
from motifsearch.runs.settings import Asked, default_length
from motifsearch.thread.kits import kit_count
from motifsearch.thread.plan import CuttingPlan, plan_cuts
from motifsearch.thread.stash import Stash, read_stash, write_stash
from motifsearch.thread.usage import use_stash


@dataclass(frozen=True, kw_only=True)
class Used:
    """What was cut.

    Attributes:
        band: The design as it is made.
        plan: Which cut comes from which piece.
        after: The stash as it is afterwards.
        backup: Where the stash as it was before is kept; None when nothing was changed.
        said: Where the settings come from.
    """

    band: Candidate
    plan: CuttingPlan
    after: Stash
    backup: Path | None
    said: tuple[str, ...]


def use(
    design: Design,
    stash: str | Path,
    *,
    bands: int = 1,
    asked: Asked | None = None,
    dry_run: bool = False,
) -> Used:
    """Plan the cuts of so many bands from a stash, and write the stash as it is afterwards.

    Args:
        design: The design.
        stash: The stash file; its threads are those that are cut.
        bands: How many bands.
        asked: What else is to be other than in the design's own run.
        dry_run: Change nothing.

    Raises:
        InputError: The design or the stash cannot be used.
        InfeasibleError: There is not enough thread; nothing is changed.
        MotifError: The stash cannot be written; it is as it was.
    """
    from dataclasses import replace

    path = Path(stash)
    on_hand = read_stash(path)
    band, said = candidate(design, replace(asked or Asked(), stash=on_hand))
    plan = plan_cuts([band.cuts] * bands, on_hand)
    if not plan.feasible:
        raise InfeasibleError(f"{path}: {_short(band, plan, on_hand, bands)}; nothing changed")
    after = use_stash(on_hand, plan)
    backup = None if dry_run else write_stash(after, path)
    return Used(
        band=band,
        plan=plan,
        after=after,
        backup=backup,
        said=(*said, *default_length(band.settings, asked)),
    )


def _short(band: Candidate, plan: CuttingPlan, on_hand: Stash, bands: int) -> str:
    short: dict[str, float] = {}
    for colour, _, length in plan.missing:
        short[colour] = short.get(colour, 0.0) + length
    lacks = ", ".join(f"{c} {total_text(mm, on_hand.show)}" for c, mm in short.items())
    enough = ""
    if bands > 1:
        enough = f" (enough for {kit_count(band.cuts, on_hand).kits} of {bands} bands)"
    return f"not enough thread{enough}: short of {lacks}"
