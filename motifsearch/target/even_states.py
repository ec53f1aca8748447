"""The states of folded threads only: every colour has an even number of strands.

About one in 2^(K-1) of the states of `motifsearch.target.states` has even counts.  Numbered
one after the other they need that much less room, and `regroup` becomes, knot by knot, two look-ups
of places that are worked out once.

The number of a state: cut its axes into a head and a tail.  A head leaves over some parity of every
colour, and just the tails of the same parity fit.  So the number is that of the first state with
the head, plus the place of the tail among the tails of its parity.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from motifsearch.base.arrays import I8
from motifsearch.target.states import Costs, StateSpace

Flat = npt.NDArray[np.int64]
Places = npt.NDArray[np.int32]


#: States worked on at once while places are looked up.
PART = 500_000


class _Numbering:
    """The states of even counts on some axes.

    Args:
        parities: Per axis the parity of the colours of each of its values, as bits.
    """

    def __init__(self, parities: list[npt.NDArray[np.int64]]) -> None:
        cut = len(parities) // 2
        self.head_axes, self.tail_axes = parities[:cut], parities[cut:]
        head, tail = _spread(self.head_axes), _spread(self.tail_axes)
        self.tails = len(tail)
        kinds = int(max(head.max(), tail.max())) + 1
        of_kind = np.bincount(tail, minlength=kinds)
        order = np.argsort(tail, kind="stable")
        first = np.cumsum(of_kind) - of_kind
        self.place = np.empty(len(tail), np.int32)
        self.place[order] = np.arange(len(tail)) - first[tail[order]]
        fits = of_kind[head]
        self.start = (np.cumsum(fits) - fits).astype(np.int64)
        self.size = int(fits.sum())
        self.head = np.repeat(np.arange(len(head), dtype=np.int32), fits)
        at = np.arange(self.size, dtype=np.int64)
        at += (first[head] - self.start)[self.head]
        self.tail = order.astype(np.int32)[at]

    def flat(self, part: slice) -> Flat:
        """Return the index on all axes of a part of the states, int64, rising."""
        return self.head[part].astype(np.int64) * self.tails + self.tail[part]

    def number(self, flat: Flat) -> Places:
        """Return the number of states given by their index on all axes."""
        head, tail = np.divmod(flat, self.tails)
        return (self.start[head] + self.place[tail]).astype(np.int32)


def _spread(parities: list[npt.NDArray[np.int64]]) -> npt.NDArray[np.int64]:
    out = np.zeros(1, np.int64)
    for values in parities:
        out = (out[:, None] ^ values[None, :]).ravel()
    return out


class EvenStates:
    """Costs over the states of even counts; the same methods as `StateSpace`.

    Args:
        space: All states.
        tick: Called with the work done; raises when the budget is used up.
    """

    def __init__(self, space: StateSpace, tick: Callable[[float], None]) -> None:
        self.space = space
        self.tick = tick
        self.strands, self.colours = space.strands, space.colours
        one = np.int64(1) << np.arange(space.colours, dtype=np.int64)
        self._single, self._pair = one, one[space.low] ^ one[space.high]
        self._own = [self._numbering(p) for p in (0, 1)]

    def _numbering(self, parity: int) -> _Numbering:
        return _Numbering(self.space.spread(self._single, self._pair, parity))

    def size(self, parity: int) -> int:
        """Return the number of states before a row of this parity."""
        return self._own[parity].size

    def flat(self, numbers: npt.NDArray[np.intp], parity: int) -> npt.NDArray[np.intp]:
        """Return the states of `StateSpace` that have these numbers."""
        own = self._own[parity]
        return own.head[numbers].astype(np.intp) * own.tails + own.tail[numbers]

    def row_weight(self, wanted: I8, parity: int) -> Costs:
        """Return the wrong cells of one row in every state, uint8 ``[size]``."""
        axes = self.space.weight_axes(wanted, parity)
        own = self._own[parity]
        cut = len(own.head_axes)
        return np.asarray(_sums(axes[:cut])[own.head] + _sums(axes[cut:])[own.tail])

    @cached_property
    def _steps(self) -> list[list[tuple[Places, Places | None]]]:
        """Per parity and knot, the two places that each entry takes the lesser of."""
        return [self._places(parity) for parity in (0, 1)]

    def _places(self, parity: int) -> list[tuple[Places, Places | None]]:
        space, k, k2 = self.space, self.colours, self.space.pairs
        low, high = space.low.astype(np.int64), space.high.astype(np.int64)
        single, pair = self._single, self._pair
        slots, tail = space.slots(parity), space.has_tail(parity)
        end = [single] * tail
        lead = [] if parity else [single]
        steps: list[tuple[Places, Places | None]] = []
        old = self._own[parity]
        if parity == 0:
            slots -= 1
            new = _Numbering([single, single, *[pair] * slots, *end])
            rest = k2**slots * k**tail

            def opened(flat: Flat) -> list[Flat]:
                front, right = np.divmod(flat, rest)
                return [space.pair_id[front // k, front % k] * rest + right]

            steps.append((self._look_up(old, new, opened)[0], None))
            old = new
        for done in range(1, slots + 1):
            new = _Numbering([*lead, *[pair] * done, single, *[pair] * (slots - done), *end])
            rest = k2 ** (slots - done) * k**tail

            def moved(flat: Flat, rest: int = rest) -> list[Flat]:
                front, right = np.divmod(flat, rest)
                front, y = np.divmod(front, k)
                left, q = np.divmod(front, k2)
                u, v = low[q], high[q]
                left *= k * k2
                one = (left + u * k2 + space.pair_id[v, y]) * rest + right
                return [one, (left + v * k2 + space.pair_id[u, y]) * rest + right]

            one, two = self._look_up(old, new, moved)
            steps.append((one, two))
            old = new
        if tail:
            new = _Numbering([*lead, *[pair] * (slots + 1)])

            def joined(flat: Flat) -> list[Flat]:
                left, q = np.divmod(flat, k2)
                u, v = low[q], high[q]
                return [left * (k * k) + u * k + v, left * (k * k) + v * k + u]

            one, two = self._look_up(old, new, joined)
            steps.append((one, two))
        return steps

    def _look_up(
        self, old: _Numbering, new: _Numbering, sources: Callable[[Flat], list[Flat]]
    ) -> list[Places]:
        """Return the old numbers of the sources of every new state, a part at a time."""
        parts = []
        for lo in range(0, new.size, PART):
            flat = new.flat(slice(lo, lo + PART))
            parts.append([old.number(source) for source in sources(flat)])
            self.tick(len(flat) * 30.0)
        return [np.concatenate(column) for column in zip(*parts, strict=True)]

    def regroup(self, costs: Costs, parity: int) -> Costs:
        """As `StateSpace.regroup`."""
        for one, two in self._steps[parity]:
            first = costs.take(one)
            costs = first if two is None else np.minimum(first, costs.take(two), out=first)
        return costs

    def counts_key(self, parity: int) -> npt.NDArray[np.int64]:
        """As `StateSpace.counts_key`."""
        unit = np.array([(self.strands + 1) ** c for c in range(self.colours)], np.int64)
        both = unit[self.space.low] + unit[self.space.high]
        axes = self.space.spread(unit, both, parity)
        own = self._own[parity]
        cut = len(own.head_axes)
        return np.asarray(_sums(axes[:cut])[own.head] + _sums(axes[cut:])[own.tail])


def _sums(axes: list[npt.NDArray[Any]]) -> npt.NDArray[Any]:
    out = axes[0]
    for values in axes[1:]:
        out = (out[:, None] + values[None, :]).ravel()
    return out
