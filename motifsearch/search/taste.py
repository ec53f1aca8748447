"""Taste: from picks to one more wish of a brief.

A pair is "this rather than that": within one round every wanted design beats every one that was
left or is not for her, and what was left beats what is not for her.  The model
(`motifsearch.search.taste_model`) learns from the pairs of all rounds; how well a design is to the
taste is one more wish, ``taste``, of the weight that `motifsearch.search.records.TASTE` states.
Facts stay facts: limits, thread and evenness are judged as before, and a design that breaks a limit
is not shown however well it is liked.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from motifsearch.base.arrays import F64
from motifsearch.pattern.canonical_form import canonical_key
from motifsearch.pattern.design import Pattern
from motifsearch.search.genome import Genomes, Space, genomes_of, join
from motifsearch.search.picks import MOST_ROUNDS, Picks
from motifsearch.search.taste_looks import U64, Looks, all_variants, looks_of
from motifsearch.search.taste_model import KERNEL, Kernel, Posterior, Shown, fit
from motifsearch.search.taste_traits import KEYS

#: A kind in its colours: the canonical form, and which colours it has.
Kind = tuple[str, frozenset[str]]


def kind_of(pattern: Pattern) -> Kind:
    """Return what tells a design from others, up to shifts, turns, and where its colours stand."""
    return canonical_key(pattern), frozenset(pattern.colours[c] for c in pattern.palette)


@dataclass(frozen=True)
class Taste:
    """What is believed of a person's taste, ready for a search.

    Attributes:
        picks: What it was learnt from.
        posterior: What is believed.
        wanted: The wanted designs, the latest first, in colours that the search may use.
        seen: Kinds that were shown and not wanted.
        refused: Kinds that are not for her.
    """

    picks: Picks
    posterior: Posterior
    wanted: tuple[Pattern, ...]
    seen: frozenset[Kind]
    refused: frozenset[Kind]

    @cached_property
    def digest(self) -> str:
        """What tells it from another."""
        return self.picks.digest

    def genomes(self, space: Space, palette: Sequence[str]) -> Genomes | None:
        """Return the wanted designs that fit a space as genomes; None where none does."""
        found = [genomes_of(p, space, palette) for p in self.wanted]
        fitting = [g for g in found if g is not None]
        return join(fitting) if fitting else None


@lru_cache(maxsize=4096)
def _look(
    knots: tuple[tuple[int, ...], ...], order: tuple[str, ...], inks: tuple[str, ...]
) -> tuple[Looks, U64]:
    pattern = Pattern("", knots, order, dict(zip(order, inks, strict=True)))
    return looks_of([pattern]), all_variants(pattern)


def traits_of(pattern: Pattern) -> F64:
    """Return the traits of one design, float64 ``[traits]``."""
    inks = tuple(pattern.hex_of(k) for k in range(pattern.strands))
    return np.asarray(_look(pattern.knots, pattern.colour_order, inks)[0].traits[:, 0])


def shown_of(picks: Picks) -> Shown | None:
    """Return what was shown and every pair of it; None where nothing was marked.

    A round without marks says nothing; of very many rounds the latest `MOST_ROUNDS` count.
    """
    traits: list[F64] = []
    anchors: list[U64] = []
    own: list[U64] = []
    widths: list[int] = []
    won: list[int] = []
    lost: list[int] = []
    for one in [r for r in picks.rounds if r.wanted or r.not_for_me][-MOST_ROUNDS:]:
        at = {}
        for card in one.shown:
            p = card.pattern
            at[card.number] = len(widths)
            inks = tuple(p.hex_of(k) for k in range(p.strands))
            look, anchor = _look(p.knots, p.colour_order, inks)
            traits.append(look.traits[:, 0])
            own.append(look.outlines[:, 0])
            anchors.append(anchor)
            widths.append(p.strands)
        left = [n for n in at if n not in one.wanted and n not in one.not_for_me]
        for better, worse in (
            (one.wanted, left), (one.wanted, one.not_for_me), (left, one.not_for_me),
        ):  # fmt: skip
            won += [at[a] for a in better for _ in worse]
            lost += [at[b] for _ in better for b in worse]
    if not won:
        return None
    return Shown(
        np.stack(traits, 1),
        tuple(anchors),
        np.array(widths, np.int64),
        tuple(own),
        np.array(won, np.int64),
        np.array(lost, np.int64),
        np.ones(len(won)),
    )


def taste_of(
    picks: Picks, wanted: Sequence[Pattern] | None = None, kernel: Kernel = KERNEL
) -> Taste | None:
    """Return the taste that picks show; None where nothing was marked.

    Args:
        picks: The picks.
        wanted: The wanted designs in colours that a search may use; as they are when None.
        kernel: The numbers of the model.
    """
    shown = shown_of(picks)
    if shown is None:
        return None
    posterior = fit(shown, [KEYS.index(key) for key in picks.struck], kernel)
    liked = wanted_of(picks) if wanted is None else wanted
    seen, refused, kinds = set(), set(), set()
    for one in picks.rounds:
        kinds |= {kind_of(one.pattern(n)) for n in one.wanted}
        refused |= {kind_of(one.pattern(n)) for n in one.not_for_me}
        seen |= {kind_of(card.pattern) for card in one.shown}
    return Taste(
        picks, posterior, tuple(liked), frozenset(seen - kinds), frozenset(refused - kinds)
    )


def wanted_of(picks: Picks) -> list[Pattern]:
    """Return the wanted designs, the latest first."""
    found = [one.pattern(n) for one in picks.rounds for n in one.wanted]
    return found[::-1]
