"""Kits: one band of every design in every bag; how many, what to buy, what to cut, what it costs.

The same answers for the command line, Python and every page; the workings of a batch are in
`motifsearch.thread.batch`, and what is written for it in `motifsearch.runs.batching`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, reduce
from pathlib import Path

from motifsearch.base.errors import InfeasibleError, InputError
from motifsearch.runs.candidate import Candidate, assemble, with_unknown
from motifsearch.runs.one import Design, opened
from motifsearch.runs.settings import Asked, default_length
from motifsearch.thread.batch import Batch, Extra, KitCost, batch, extra_of
from motifsearch.thread.kits import KitCount, ShoppingList, kit_count, shopping_list
from motifsearch.thread.stash import Stash


@dataclass(frozen=True, kw_only=True)
class Kits:
    """What a stash yields, or what to buy.

    Attributes:
        bands: The bands of one kit.
        count: How many kits the stash yields; None when a shopping list was asked for.
        shopping: What to buy for a number of kits; None when it was not asked for.
        said: Where the settings come from.
        stash: The threads on hand, with what is to be bought first of which nothing is there.
        extras: What else goes into a kit.
    """

    bands: tuple[Candidate, ...]
    count: KitCount | None
    shopping: ShoppingList | None
    said: tuple[str, ...] = ()
    stash: Stash = field(default_factory=lambda: Stash(()), repr=False)
    extras: tuple[Extra, ...] = ()

    @property
    def number(self) -> int:
        """How many kits there are: as many as were asked for, or as the stash yields."""
        if self.shopping is not None:
            return self.shopping.kits
        return 0 if self.count is None else self.count.kits

    @cached_property
    def batch(self) -> Batch:
        """All kits as one batch: which piece every cut comes from, and what a kit costs.

        Raises:
            InfeasibleError: The stash yields none.
            InputError: They are too many for one batch.
        """
        if not self.number:
            raise InfeasibleError(
                "the stash yields no kit; say how many you want (--number), and what to buy for "
                "them is said"
            )
        cuts = [band.cuts for band in self.bands]
        return batch(cuts, self.stash, self.number, shopping=self.shopping, extras=self.extras)

    @property
    def cost(self) -> KitCost:
        """What one kit costs, and how that is reckoned; as `batch`."""
        return self.batch.cost

    def files(self) -> dict[str, str | bytes]:
        """Return what is handed out for a batch: name to content (`motifsearch.runs.batching`)."""
        from motifsearch.runs.batching import batch_files

        return batch_files(self.bands, self.batch)

    def write(self, folder: str | Path, *, overwrite: bool = False) -> tuple[Path, ...]:
        """Write cutting list, packing list, cost and worksheets of the batch; return the files.

        Args:
            folder: Where; made when it is not there.
            overwrite: Write over files of the same names.

        Raises:
            InputError: A file exists and was not to be overwritten; or as `batch`.
            InfeasibleError: As `batch`.
            MotifError: A file cannot be written.
        """
        from motifsearch.runs.batching import write_files

        return write_files(Path(folder), self.files(), overwrite=overwrite)


def kits(
    designs: Sequence[Design],
    *,
    asked: Sequence[Asked] | Asked | None = None,
    number: int | None = None,
    extra: Sequence[Extra | str | float] = (),
) -> Kits:
    """Return how many kits the stash yields, or what to buy for a number of them.

    A kit is one band of every design.

    Args:
        designs: The designs.
        asked: What is to be other than in each design's own run: one for all, or one for each.
        number: The shopping list for so many kits; how many there can be when None.
        extra: What else goes into a kit and what it costs: such as ``"bag=0.20"``, or a number.

    Raises:
        InputError: No stash is known, or as `motifsearch.runs.one.candidate`.
        InfeasibleError: A cut is longer than a skein and than every piece on hand.
    """
    each = list(asked) if isinstance(asked, Sequence) else [asked or Asked()] * len(designs)
    if len(each) != len(designs):
        raise InputError(
            f"expected one length, or {len(designs)}: one per pattern",
            len(each),
            source="--length",
        )
    bands: list[Candidate] = []
    said: dict[str, None] = {}
    stash: Stash | None = None
    for design, want in zip(designs, each, strict=True):
        one = opened(design, want)
        said.update(dict.fromkeys((*one.said, *default_length(one.settings, want))))
        if one.settings.stash is None:
            raise InputError(
                "a design that belongs to no run needs the threads on hand: give --stash",
                source="--stash",
            )
        if stash is not None and stash.threads != one.settings.stash.threads:
            raise InputError(
                "the designs are of runs with different threads: give --stash", source="--stash"
            )
        stash = one.settings.stash
        # What is still to be bought is taken to be as thick as most thread.
        held = one.settings.stash
        known = with_unknown(held, one.pattern) if number is not None else held
        bands.append(assemble(one.pattern, replace(one.settings, stash=known)))
    if stash is None:
        raise InputError("expected at least one design", source="kits")
    cuts = [band.cuts for band in bands]
    count = kit_count(cuts, stash) if number is None else None
    if count is not None and any(_simply_by_choice(band) for band in bands):
        # Simple cutting must not cost a kit.
        exact = [
            assemble(b.pattern, replace(b.settings, style="exact")) if _simply_by_choice(b) else b
            for b in bands
        ]
        other = kit_count([band.cuts for band in exact], stash)
        if other.kits > count.kits:
            bands, count = exact, other
            said["cut each to its need: cut simply, there would be fewer kits"] = None
    return Kits(
        bands=tuple(bands),
        count=count,
        shopping=None if number is None else shopping_list(cuts, stash, number),
        said=tuple(said),
        stash=reduce(with_unknown, (band.pattern for band in bands), stash),
        extras=tuple(one if isinstance(one, Extra) else extra_of(str(one)) for one in extra),
    )


def _simply_by_choice(band: Candidate) -> bool:
    """Return whether a band is cut simply though that was not asked for."""
    return band.settings.style == "auto" and band.cuts.exact_mm is not None
