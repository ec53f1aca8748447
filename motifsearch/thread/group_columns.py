"""Column generation for a group: the linear program, and what would better it.

The program has a column for every band that may be made (an offer in one colouring) and for every
cutting pattern of a piece (Gilmore and Gomory, Operations Research 9, 1961, and 11, 1963).  There
are too many of both to list, so they are generated: with the prices (dual values) of a linear
program over a few of them, the most profitable colouring of every offer is looked up, and the most
valuable pattern of every piece is a knapsack problem, solved by dynamic programming over
centimetres.  When none would pay, the linear program over *all* columns is solved, and its value is
an upper bound.  Where it is broken off, what the best columns still promise is added, which makes
it a bound again (the Lagrangian bound; Vanderbeck and Wolsey, Operations Research Letters 19,
1996).

A longer cut may serve for a shorter one, so prices do not fall with length; a length that no column
asks for yet gets the highest price at which no pattern would pay.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import reduce
from itertools import pairwise
from math import gcd
from typing import Any, Final

import numpy as np

from motifsearch.base.work import OutOfWorkError
from motifsearch.thread.group import Cuts, FloatArray, GroupProblem, Made

#: What a band counts beside its worth, so that the number of bands comes first.
BAND: Final = 1000.0


@dataclass(frozen=True)
class Pattern:
    """What is cut from one piece of a kind."""

    colour: int
    kind: int
    cuts: Cuts


@dataclass
class Prices:
    """What the linear program says everything is worth.

    Attributes:
        cut: float64 ``[colours, lengths]``.
        piece: By colour, float64 ``[kinds]``.
        person: float64 ``[people]``.
        design: float64 ``[designs]``.
        link: By (kind of person, design).
        face: By (design, row).
        number: Of one more band, where their number is held.
    """

    cut: FloatArray
    piece: list[FloatArray]
    person: FloatArray
    design: FloatArray
    link: dict[tuple[int, int], float]
    face: dict[tuple[int, int], float]
    number: float = 0.0


class Master:
    """The linear program over the columns that were generated so far.

    Attributes:
        lengths: All cut lengths in cm, ascending.
        options: The bands that may be made.
        patterns: The cutting patterns.
        most: The largest number of bands, or None.
        value: Of the last linear program.
    """

    def __init__(self, problem: GroupProblem) -> None:
        self.problem = problem
        lengths = {cm for offer in problem.offers for cuts in offer.cuts for cm, _ in cuts}
        self.lengths = np.array(sorted(lengths), np.int64)
        self.at = {int(length): n for n, length in enumerate(self.lengths)}
        self.unit = reduce(gcd, [int(v) for v in self.lengths], 0) or 1
        self.options: dict[Made, None] = {}
        self.patterns: dict[Pattern, None] = {}
        self.faces: set[tuple[int, int]] = set()
        self.most: int | None = None
        self.value = 0.0
        for c, own in enumerate(problem.pieces):
            for k, (room, _) in enumerate(own):
                for length in self.lengths:
                    if length <= room:
                        cuts = ((int(length), int(room // length)),)
                        self.patterns[Pattern(c, k, cuts)] = None
        self.longest = np.array([max((cm for cm, _ in own), default=0) for own in problem.pieces])
        self.allowed = [self._allowed(k) for k in range(len(problem.offers))]

    def _allowed(self, k: int) -> FloatArray:
        """Return the worth of an offer's colourings, -inf where a cut fits no piece."""
        offer = self.problem.offers[k]
        colours = self.problem.colourings[offer.design]
        worth = offer.worth.copy()
        for j, cuts in enumerate(offer.cuts):
            worth[self.longest[colours[:, j]] < cuts[0][0]] = -np.inf
        return worth

    def add_made(self, made: tuple[Made, ...], pieces: Any) -> None:
        """Add the columns of a set that is known to be possible."""
        self.options.update(dict.fromkeys(made))
        for colour, own in pieces.items():
            kinds = [length for length, _ in self.problem.pieces[colour]]
            for length, cuts in own:
                self.patterns[Pattern(colour, kinds.index(length), cuts)] = None

    def rows(self, options: list[Made], patterns: list[Pattern]) -> Rows:
        """Return the rows of a program over these columns."""
        return Rows(self, options, patterns)

    def solve(self) -> Prices:
        """Solve the linear program over what was generated; return the prices."""
        from scipy.optimize import linprog

        options, patterns = list(self.options), self._useful()
        rows = self.rows(options, patterns)
        if not rows.size:
            self.value, self.entries = 0.0, 0
            return rows.prices(np.zeros(0))
        gain = np.concatenate([
            [BAND + self.allowed[o.offer][o.row] for o in options], np.zeros(rows.rest)
        ])  # fmt: skip
        matrix = rows.matrix()
        found = linprog(-gain, A_ub=matrix, b_ub=rows.right, bounds=(0, None), method="highs-ds")
        if found.status != 0:
            raise OutOfWorkError
        self.value = -float(found.fun or 0.0)
        self.entries = matrix.nnz
        used = np.asarray(found.x)[: len(options)]
        self.more_faces(options, used)
        return rows.prices(np.maximum(0.0, -np.asarray(found.ineqlin.marginals)))

    def more_faces(self, options: list[Made], used: FloatArray) -> bool:
        """Hold every design in one colouring to its number, where the program exceeded it."""
        if self.problem.per_design <= self.problem.per_face:
            return False
        total: dict[tuple[int, int], float] = {}
        for one, much in zip(options, used, strict=True):
            face = (self.problem.offers[one.offer].design, one.row)
            total[face] = total.get(face, 0.0) + float(much)
        new = {f for f, much in total.items() if much > self.problem.per_face + 1e-6} - self.faces
        self.faces |= new
        return bool(new)

    def _useful(self) -> list[Pattern]:
        """Return the patterns of colours that some option uses."""
        asked = set()
        for one in self.options:
            colours = self.problem.colourings[self.problem.offers[one.offer].design][one.row]
            asked |= {int(c) for c in colours}
        return [p for p in self.patterns if p.colour in asked]


class Rows:
    """The rows of a program over some options and patterns, its columns in that order.

    After these come columns that use a longer cut for the next shorter one, and, where the number
    of designs is limited, one for every design.
    """

    def __init__(self, master: Master, options: list[Made], patterns: list[Pattern]) -> None:
        problem = master.problem
        self.master, self.problem = master, problem
        self.index: dict[tuple[Any, ...], int] = {}
        self.right: list[float] = []
        self._r: list[int] = []
        self._c: list[int] = []
        self._v: list[float] = []
        for n, one in enumerate(options):
            offer = problem.offers[one.offer]
            self._put(("person", offer.person), problem.people[offer.person], n)
            if problem.per_design < problem.number:
                self._put(("design", offer.design), problem.per_design, n)
            if problem.most_designs:
                self._put(("link", offer.person, offer.design), 0.0, n)
            if master.most is not None:
                self._put(("number",), master.most, n)
            face = (offer.design, one.row)
            if face in master.faces:
                self._put(("face", *face), problem.per_face, n)
            for colour, cuts in zip(problem.colourings[offer.design][one.row], offer.cuts,
                                    strict=True):  # fmt: skip
                for length, times in cuts:
                    self._put(("cut", int(colour), length), 0.0, n, times)
        self.pattern_at = n = len(options)
        for n, p in enumerate(patterns, len(options)):
            self._put(("piece", p.colour, p.kind), problem.pieces[p.colour][p.kind][1], n)
            for length, times in p.cuts:
                self._put(("cut", p.colour, length), 0.0, n, -times)
        n = len(options) + len(patterns)
        cut = sorted(key[1:] for key in self.index if key[0] == "cut")
        for (c, short), (d, long) in pairwise(cut):
            if c == d:
                self._put(("cut", c, short), 0.0, n, -1.0)
                self._put(("cut", c, long), 0.0, n, 1.0)
                n += 1
        self.design_at = n
        self.designs: list[int] = []
        if problem.most_designs:
            links = sorted(key[1:] for key in self.index if key[0] == "link")
            self.designs = sorted({d for _, d in links})
            for person, d in links:
                at = n + self.designs.index(d)
                self._put(("link", person, d), 0.0, at, -problem.people[person])
            for k in range(len(self.designs)):
                self._put(("designs",), problem.most_designs, n + k)
                self._put(("one", k), 1.0, n + k)
        self.size = n + len(self.designs)
        self.rest = self.size - len(options)

    def _put(self, key: tuple[Any, ...], right: float, column: int, value: float = 1.0) -> None:
        row = self.index.setdefault(key, len(self.index))
        if row == len(self.right):
            self.right.append(float(right))
        self._r.append(row)
        self._c.append(column)
        self._v.append(float(value))

    def matrix(self) -> Any:
        """Return the matrix, ``[rows, columns]``."""
        from scipy.sparse import coo_array

        shape = (len(self.right), self.size)
        return coo_array((self._v, (self._r, self._c)), shape=shape).tocsr()

    def prices(self, dual: FloatArray) -> Prices:
        """Return the prices that dual values ``[rows]`` mean."""
        problem, lengths = self.problem, self.master.lengths
        cut = np.full((len(problem.pieces), len(lengths)), np.nan)
        prices = Prices(
            cut, [np.zeros(len(own)) for own in problem.pieces], np.zeros(len(problem.people)),
            np.zeros(len(problem.colourings)), {}, {},
        )  # fmt: skip
        asked = {r for r, v in zip(self._r, self._v, strict=True) if v > 0}
        for key, row in self.index.items():
            value = float(dual[row])
            if key[0] == "cut" and row in asked:
                cut[key[1], self.master.at[key[2]]] = value
            elif key[0] == "piece":
                prices.piece[key[1]][key[2]] = value
            elif key[0] == "person":
                prices.person[key[1]] = value
            elif key[0] == "design":
                prices.design[key[1]] = value
            elif key[0] == "link":
                prices.link[key[1], key[2]] = value
            elif key[0] == "face":
                prices.face[key[1], key[2]] = value
            elif key[0] == "number":
                prices.number = value
        return prices
