"""What a search was asked, kept with its state; and judging anew what it found.

A run that goes on may find brief and stash edited.  What its designs are made of cannot change
under them (`FIXED`): strands, folding, the colours by name and number, border, knots, seed,
population, grid lengths.  Everything else that designs are judged by may: then every design that
stands is judged anew, those that break the limits of now leave the archive, and what was counted
starts again.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, replace
from typing import Any, Final

import numpy as np

from motifsearch.search.archive import empty_archive
from motifsearch.search.brief import Brief
from motifsearch.search.genome import Genomes, design_hash, develop, join
from motifsearch.search.island import SEEN_SLOTS, Island, Judge
from motifsearch.search.loop import Run
from motifsearch.search.records import TASTE
from motifsearch.search.widths import Judges

#: Keys that designs are made of, and what each is called in a message.
FIXED: Final[Mapping[str, str]] = {
    "strands": "strands",
    "folded": "folded",
    "colours": "the colours that may be used (colours, or the names and order of the stash)",
    "colours_min": "colours_min",
    "colours_max": "colours_max",
    "border": "limits.border",
    "knots": "limits.knots",
    "seed": "search.seed",
    "population": "search.population",
    "periods": "search.periods",
    "target": "target",
}


def asked_of(brief: Brief) -> dict[str, Any]:
    """Return what a search is asked, as plain data: ``fixed`` and ``judged``."""
    target = None
    if brief.target is not None:
        target = [list(map(int, row)) for row in np.atleast_2d(brief.target.cells)]
    limits = {
        k: v for k, v in asdict(brief.limits).items() if k not in ("border", "knots")
    }  # fmt: skip
    threads = [
        [name, brief.stash.thread(name).colour, brief.stash.thread(name).diameter_mm,
         list(brief.stash.thread(name).pieces_mm)]
        for name in brief.palette
    ]  # fmt: skip
    taste = {} if brief.taste is None else {"taste": brief.taste.digest}
    return {
        "fixed": {
            "strands": list(brief.widths) if brief.widths else brief.strands,
            "folded": brief.folded,
            "colours": list(brief.palette),
            "colours_min": brief.colours_min,
            "colours_max": brief.colours_max,
            "border": brief.limits.border,
            "knots": list(brief.limits.knots),
            "seed": brief.search.seed,
            "population": brief.search.population,
            "periods": list(brief.search.periods),
            "target": target,
        },
        "judged": {
            "length_mm": brief.length_mm,
            "limits": limits,
            "wishes": dict(brief.wishes),
            "shares": dict(brief.shares),
            "pairing": brief.pairing,
            "allowances": asdict(brief.allowances),
            "threads": threads,
            "model": {k: repr(v) for k, v in sorted(asdict(brief.stash.model).items())},
            **taste,
        },
    }


def refused(then: Mapping[str, Any], now: Mapping[str, Any]) -> str:
    """Return what was changed though designs are made of it, in words; empty where nothing was.

    Args:
        then: ``fixed`` of the search as it began.
        now: ``fixed`` of the brief as it is.
    """
    parts = [
        f"{words} was {_shown(then[key])} when the search began and is {_shown(now[key])} now"
        for key, words in FIXED.items()
        if key in then and then[key] != now[key]
    ]
    return "; ".join(parts)


def changes(then: object, now: Mapping[str, Any]) -> tuple[str, ...]:
    """Return what designs are judged by and was changed, in words; empty where nothing was known.

    Args:
        then: ``judged`` of the search as it began.
        now: ``judged`` of the brief as it is.

    Examples:
        >>> changes({"limits": {"lone_max": 1.0}}, {"limits": {"lone_max": 0.2}})
        ('limits.lone_max was 1.0 and is 0.2',)
        >>> one = ["sand", "#ffffff", 0.6, [8000.0]]
        >>> changes({"threads": [one]}, {"threads": [[*one[:3], [500.0]]]})
        ('pieces of sand',)
    """
    if not isinstance(then, Mapping):
        return ()
    out: list[str] = []
    for key, value in now.items():
        old = then.get(key)
        if key == "wishes":  # the taste comes with the picks
            old, value = ({k: v for k, v in dict(d or {}).items() if k != TASTE.name}
                          for d in (old, value))  # fmt: skip
        if old == value:
            continue
        if key == "threads":
            out += _threads(old, value)
        elif isinstance(value, Mapping) and isinstance(old, Mapping) and key != "model":
            out += [
                f"{key}.{name} was {_shown(old.get(name))} and is {_shown(value.get(name))}"
                for name in sorted({*map(str, old), *value})
                if old.get(name) != value.get(name)
            ]
        elif key == "taste":
            out.append("your picks")
        elif key == "model":
            out.append("the calibration")
        else:
            out.append(f"{key} was {_shown(old)} and is {_shown(value)}")
    return tuple(out)


def _threads(then: object, now: list[list[Any]]) -> list[str]:
    """Return which threads are other than they were, and in what."""
    words = ("name", "colour", "thickness", "pieces")
    if not isinstance(then, list) or len(then) != len(now):
        return ["the threads"]
    out = []
    for old, new in zip(then, now, strict=True):
        if not isinstance(old, list) or len(old) != len(new):
            return ["the threads"]
        parts = [w for w, a, b in zip(words, old, new, strict=True) if a != b]
        if parts:
            out.append(f"{' and '.join(parts)} of {new[0]}")
    return out


def _shown(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    text = ", ".join(map(str, value)) if isinstance(value, list) else str(value)
    return text if len(text) <= 200 else f"{text[:200]}..."


def judged_anew(run: Run, brief: Brief) -> tuple[Run, int, int]:
    """Return the run with every design judged by a brief; how many stood, and how many stand.

    Args:
        run: The run; it is not changed.
        brief: The brief as it is now.
    """
    judges = Judges(brief)
    before = sum(len(island.archive) for island in run.islands)
    islands = [_island(island, judges.of(island.space.strands)) for island in run.islands]
    after = sum(len(island.archive) for island in islands)
    anew = replace(run, islands=islands, progress=[], share=1.0, refused=0, asked=asked_of(brief))
    return anew, before, after


def _island(island: Island, judge: Judge) -> Island:
    parts = [island.archive.genomes]
    if island.population is not None:
        parts.append(island.population.genomes)
    genomes: Genomes = join(parts)
    archive, population = empty_archive(island.space), island.population
    if len(genomes):
        judged, cells = judge.judge(genomes, island.space)
        good = np.flatnonzero(judged.violation == 0)
        archive.add(cells[good], judged.utility[good], judged.genomes.take(good))
        if population is not None:
            own = judged.take(np.arange(len(island.archive), len(genomes)))
            order = np.lexsort((-own.utility, own.violation))
            population = own.take(order)
    # What was put aside as seen may be good by the brief of now; what stands is not scored twice.
    seen = np.zeros(SEEN_SLOTS, np.uint64)
    if len(genomes):
        keys = design_hash(*develop(genomes, island.space))
        seen[(keys & np.uint64(SEEN_SLOTS - 1)).astype(np.intp)] = keys
    return replace(
        island, archive=archive, population=population, seen=seen, number=0, feasible=0, kept=None
    )
