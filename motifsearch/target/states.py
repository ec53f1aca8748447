"""The states of a band as it is knotted, seen by colour only.

A knot joins two strands of colours a and b.  Either may tie, and they may cross or return, each
choice free of the other.  So

* the cell can show a wanted colour exactly when the *unordered* pair {a, b} holds it, and
* afterwards the two strands may stand in either order, whatever the cell shows.

Before row r the state is therefore one unordered pair of colours per knot of that row, and one
colour for every strand that waits at an edge.  Between rows r and r + 1 the colours stand in an
exact order, the *arrangement*; it belongs to one state before row r + 1 and is one of the orders
of the state before row r.  The two overlap like links of a chain, so each arrangement is one
edge between two states, and no two arrangements are the same edge.

`StateSpace.regroup` takes costs over all states before a row of one parity to those of the other
parity, each the least over the arrangements between: a min-plus product done knot by knot, with
two orders a knot instead of all 2^(S/2) orders of a row.
"""

from __future__ import annotations

from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt

from motifsearch.base.arrays import I8, I64, U8

T = TypeVar("T")

Costs = npt.NDArray[np.unsignedinteger[Any]]


class StateSpace:
    """All states of S strands in K colours, as flat arrays.

    Before an even row the axes are the pairs (0, 1), (2, 3), ... and, for S odd, the last strand;
    before an odd row the first strand, the pairs (1, 2), (3, 4), ... and, for S even, the last.
    A pair axis has K2 = K (K + 1) / 2 values, a single axis K.

    Args:
        strands: S.
        colours: K.
    """

    def __init__(self, strands: int, colours: int) -> None:
        self.strands = strands
        self.colours = colours
        self.low, self.high = np.triu_indices(colours)
        self.pair_id = np.zeros((colours, colours), np.intp)
        for q, (u, v) in enumerate(zip(self.low, self.high, strict=True)):
            self.pair_id[u, v] = self.pair_id[v, u] = q
        self.pairs = len(self.low)

    def slots(self, parity: int) -> int:
        """Return the knots of a row of this parity."""
        return (self.strands - parity) // 2

    def has_tail(self, parity: int) -> bool:
        """Return whether the last strand waits in a row of this parity."""
        return (self.strands - parity) % 2 == 1

    def spread(self, single: T, pair: T, parity: int) -> list[T]:
        """Return one thing per axis of the states before a row of this parity."""
        return [single] * parity + [pair] * self.slots(parity) + [single] * self.has_tail(parity)

    def shape(self, parity: int) -> tuple[int, ...]:
        """Return the axes of the states before a row of this parity."""
        return tuple(self.spread(self.colours, self.pairs, parity))

    def size(self, parity: int) -> int:
        """Return the number of states before a row of this parity."""
        return int(np.prod(self.shape(parity), dtype=object))

    def row_weight(self, wanted: I8, parity: int) -> Costs:
        """Return the wrong cells of one row in every state, uint8 ``[size]``.

        Args:
            wanted: int8 ``[S // 2]``, the colour wanted in every slot, -1 for any.
            parity: The row's parity.
        """
        weight = np.zeros(1, np.uint8)
        for n in self.weight_axes(wanted, parity):
            weight = (weight[:, None] + n[None, :]).ravel()
        return weight

    def weight_axes(self, wanted: I8, parity: int) -> list[U8]:
        """Return per axis 1 for the values that make the wanted cell wrong, else 0."""
        single = np.zeros(self.colours, np.uint8)
        axes = [single] * parity
        for k in range(self.slots(parity)):
            want = wanted[k]
            miss = (want >= 0) & (self.low != want) & (self.high != want)
            axes.append(np.broadcast_to(miss, self.pairs).astype(np.uint8))
        return axes + [single] * self.has_tail(parity)

    def regroup(self, costs: Costs, parity: int) -> Costs:
        """Return the least cost of every state of the other parity over the arrangements.

        Args:
            costs: ``[size(parity)]``.
            parity: The parity that `costs` stand for.
        """
        k, k2 = self.colours, self.pairs
        # take[0] and take[1] are the two orders of the new pair q = {u, v} with the new carry y:
        # carry u and old pair {v, y}, or carry v and old pair {u, y}.
        first = (self.low[:, None] * k2 + self.pair_id[self.high]).ravel()
        second = (self.high[:, None] * k2 + self.pair_id[self.low]).ravel()
        t: Costs
        if parity:
            left, pairs_left = 1, self.slots(parity)
            t = costs.reshape(1, -1)
        else:
            t = costs.reshape(k2, -1)[self.pair_id.ravel()].reshape(k, -1)
            left, pairs_left = k, self.slots(parity) - 1
        turned = 0
        for _ in range(pairs_left):
            right = t.size // (left * k * k2)
            if left > right and not turned:
                # Long runs at the right end keep numpy fast: put the finished axes last.
                turned = left
                t = np.ascontiguousarray(t.reshape(left, -1).T)
                left, right = 1, right * turned
            t = t.reshape(left, k * k2, right)
            t = np.minimum(t.take(first, axis=1), t.take(second, axis=1))
            left *= k2
        if self.has_tail(parity):
            t = t.reshape(left, k * k, -1)
            one, two = self.low * k + self.high, self.high * k + self.low
            t = np.minimum(t.take(one, axis=1), t.take(two, axis=1))
        if turned:
            t = np.ascontiguousarray(t.reshape(-1, turned).T)
        return t.ravel()

    def counts_key(self, parity: int) -> npt.NDArray[np.signedinteger[Any]]:
        """Return a number that tells how many strands each colour has, integer ``[size]``.

        The count of colour c is digit c in base S + 1.
        """
        small = (self.strands + 1) ** self.colours < 2**31
        unit = np.array([(self.strands + 1) ** c for c in range(self.colours)])
        unit = unit.astype(np.int32 if small else np.int64)
        both = unit[self.low] + unit[self.high]
        key = np.zeros(1, unit.dtype)
        for values in self.spread(unit, both, parity):
            key = (key[:, None] + values[None, :]).ravel()
        return key

    def flat(self, numbers: npt.NDArray[np.intp], parity: int) -> npt.NDArray[np.intp]:
        """Return the states that have these numbers: the same (`EvenStates` counts otherwise)."""
        return numbers

    def state_of(self, orders: U8, parity: int) -> npt.NDArray[np.intp]:
        """Return the state before a row of this parity of every arrangement.

        Args:
            orders: uint8 ``[n, S]``.
            parity: The row's parity.

        Returns:
            intp ``[n]``.
        """
        index = np.zeros(len(orders), np.intp)
        if parity:
            index += orders[:, 0]
        for k in range(self.slots(parity)):
            i = parity + 2 * k
            index = index * self.pairs + self.pair_id[orders[:, i], orders[:, i + 1]]
        if self.has_tail(parity):
            index = index * self.colours + orders[:, -1]
        return index

    def one_order(self, states: npt.NDArray[np.intp], parity: int) -> U8:
        """Return one arrangement of every state, the lower colour first, uint8 ``[n, S]``."""
        orders = np.zeros((len(states), self.strands), np.uint8)
        rest = states.copy()
        if self.has_tail(parity):
            rest, orders[:, -1] = np.divmod(rest, self.colours)
        for k in reversed(range(self.slots(parity))):
            i = parity + 2 * k
            rest, q = np.divmod(rest, self.pairs)
            orders[:, i], orders[:, i + 1] = self.low[q], self.high[q]
        if parity:
            orders[:, 0] = rest
        return orders

    def all_orders(
        self, states: npt.NDArray[np.intp], parity: int
    ) -> tuple[npt.NDArray[np.intp], U8]:
        """Return every arrangement of the states.

        Returns:
            The position in `states` that each arrangement belongs to, intp ``[m]``, and the
            arrangements, uint8 ``[m, S]``.
        """
        orders = self.one_order(states, parity)
        source = np.arange(len(states), dtype=np.intp)
        for k in range(self.slots(parity)):
            i = parity + 2 * k
            mixed = np.flatnonzero(orders[:, i] != orders[:, i + 1])
            swapped = orders[mixed]
            swapped[:, [i, i + 1]] = swapped[:, [i + 1, i]]
            orders = np.concatenate([orders, swapped])
            source = np.concatenate([source, source[mixed]])
        return source, orders

    def weights(self, states: npt.NDArray[np.intp], wanted: I8, parity: int) -> U8:
        """Return the wrong cells of one row in the given states, uint8 ``[n]``."""
        orders = self.one_order(states, parity).astype(np.int8)[:, parity:]
        knots = slice(0, 2 * self.slots(parity))
        left, right = orders[:, knots][:, ::2], orders[:, knots][:, 1::2]
        want = wanted[: self.slots(parity)]
        wrong = (want >= 0) & (want != left) & (want != right)
        return np.asarray(wrong.sum(axis=1), np.uint8)

    def classes(self, states: npt.NDArray[np.intp], parity: int) -> I64:
        """Return a number per state that tells its strands of every colour, int64 ``[n]``."""
        unit = np.array([(self.strands + 1) ** c for c in range(self.colours)], np.int64)
        return np.asarray(unit[self.one_order(states, parity)].sum(axis=1))
