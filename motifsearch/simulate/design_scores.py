"""The scores of one design, typed; read as a mapping they are what ``score --json`` prints.

Units stand in the names; shares and scores are plain fractions, and an absent symmetry is None.
The definitions are those of the modules that compute them (see `motifsearch.simulate.scores`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields
from typing import Any


class Told(Mapping[str, Any]):
    """A frozen dataclass that can be read as a mapping of its fields too."""

    def __getitem__(self, key: str) -> Any:
        """Return a field by its name."""
        if key not in self._names():
            raise KeyError(key)
        return getattr(self, key)

    def __iter__(self) -> Iterator[str]:
        """Return the names of the fields."""
        return iter(self._names())

    def __len__(self) -> int:
        """Return the number of fields."""
        return len(self._names())

    def _names(self) -> list[str]:
        return [f.name for f in fields(self)]  # type: ignore[arg-type]

    def plain(self) -> dict[str, Any]:
        """Return dictionaries, lists, numbers and texts alone, as JSON holds them."""
        out: dict[str, Any] = {}
        for name, value in self.items():
            if isinstance(value, Told):
                out[name] = value.plain()
            elif isinstance(value, Mapping):
                out[name] = dict(value)
            else:
                out[name] = list(value) if isinstance(value, tuple) else value
        return out


@dataclass(frozen=True, kw_only=True)
class SymmetryScores(Told):
    """The best share of cells that agree, 0..1; None where a symmetry is absent."""

    mirror: float | None
    glide: float | None
    flip: float | None
    half_turn: float | None
    frieze_group: str


@dataclass(frozen=True, kw_only=True)
class ColourScores(Told):
    """Share of the face by colour name, balance 0..1, and the smallest CIEDE2000 that touches."""

    share: Mapping[str, float]
    balance: float
    contrast: float | None


@dataclass(frozen=True, kw_only=True)
class MotifScores(Told):
    """Shares of touching pairs of one colour, of cells that change, and of lone knots."""

    coherence: float
    movement: float
    lone: float


@dataclass(frozen=True, kw_only=True)
class ThreadScores(Told):
    """Thread per strand in mm, in the order of the strands at the start, and how even it is."""

    loop_mm: tuple[float, ...]
    path_mm: tuple[float, ...]
    use_mm: tuple[float, ...]
    evenness: float
    offcut: float


@dataclass(frozen=True, kw_only=True)
class HandlingScores(Told):
    """The work: passes and returning knots of a repeat, minutes of the band, and how easy it is."""

    passes_per_repeat: float
    hitches_per_pass: float
    returning_knots: float
    minutes: float
    kinds_of_knots: int
    steps_per_round: int
    level: str


@dataclass(frozen=True, kw_only=True)
class DesignScores(Told):
    """All scores of one design.

    Examples:
        >>> from motifsearch.pattern.design import make_pattern
        >>> from motifsearch.simulate.scores import score_pattern
        >>> ink = {"a": "#102030", "b": "#f0e0c0"}
        >>> s = score_pattern(make_pattern("", ["rr rr", "rr"], "aabb", ink))
        >>> s.symmetry.frieze_group, s["symmetry"]["frieze_group"], s.plain()["strands"]
        ('p2', 'p2', 4)
    """

    strands: int
    rows: int
    rows_knotted: int
    repeat_rows: int
    knots_per_repeat: int
    symmetry: SymmetryScores
    colour: ColourScores
    motif: MotifScores
    thread: ThreadScores
    flatness: float
    handling: HandlingScores
