"""Why no design keeps a brief, and the nearest brief that works.

Before a search `impossible` says what bounds show (`motifsearch.search.bounds`), within a fraction
of a second.  After a search that found nothing, `blame` looks for the smallest set of demands that
fail together (a deletion filter: J. W. Chinneck, Feasibility and Infeasibility in Optimization,
2008, ch. 6): a demand without which designs get through is in the set; one is left out when the
rest fail without it.  Each try is a short search of stated effort, so what it says is what was met,
not what was proven, unless every design of the brief was looked at.

For each demand of the set the nearest value is that of the best design that keeps all others.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from motifsearch.base.arrays import F64
from motifsearch.base.errors import InfeasibleError, NotFoundError
from motifsearch.base.units import SHORTEST_MM
from motifsearch.pattern.design import Pattern
from motifsearch.pattern.effort import effort
from motifsearch.search import bounds
from motifsearch.search.brief import Brief
from motifsearch.search.genome import Genomes, Space, develop, join, pattern_of, random_genomes
from motifsearch.search.island import Judge, new_island, run_epoch, space_of
from motifsearch.search.loop import Run, cuts_for, part_of
from motifsearch.search.reasons import Reason, changed, loosened, set_keys
from motifsearch.search.records import RECORDS
from motifsearch.search.resolved import threads_of
from motifsearch.simulate.scores import Scores, score_batch
from motifsearch.thread.plan import can_cut

GENERATIONS: Final = 14
POPULATION: Final = 200
#: Designs drawn at random for a quick look, on each of so many grid lengths.
DRAWN, LOOKED_AT = 500, 3
#: Designs whose cutting plan is asked for before a nearest brief is given up.
PLANNED: Final = 12
#: Designs whose steps are counted before a nearest brief is given up.
COUNTED: Final = 120


@dataclass(frozen=True)
class _Seen:
    """Designs of one space, with how far each demand is exceeded."""

    space: Space
    genomes: Genomes
    scores: Scores
    each: Mapping[str, F64]

    def keeping(self, without: Sequence[str]) -> np.ndarray[Any, Any]:
        """Return the designs that keep all demands but these."""
        total = np.zeros(len(self.genomes))
        for name, excess in self.each.items():
            if name not in without:
                total = total + excess
        return np.flatnonzero(np.round(total, 9) == 0)


def _see(judge: Judge, genomes: Genomes, space: Space) -> _Seen:
    grid, colours = develop(genomes, space)
    scores = score_batch(grid, colours, judge.setting)
    return _Seen(space, genomes, scores, judge.limiter.each(scores, grid, colours, space))


def _short_run(brief: Brief) -> list[_Seen]:
    """Return what a short search meets at its end: population and elites of every island."""
    judge = Judge(brief)
    seeds = np.random.SeedSequence(brief.search.seed).spawn(len(brief.search.periods))
    out = []
    for period, seed in zip(brief.search.periods, seeds, strict=True):
        island = run_epoch(judge, new_island(brief, period, seed), GENERATIONS, POPULATION)
        assert island.population is not None
        out.append(
            _see(judge, join([island.archive.genomes, island.population.genomes]), island.space)
        )
    return out


def _drawn(brief: Brief) -> list[_Seen]:
    """Return designs drawn at random, for a quick look."""
    judge = Judge(brief)
    out = []
    for period in brief.search.periods[:LOOKED_AT]:
        rng = np.random.Generator(np.random.PCG64(np.random.SeedSequence(brief.search.seed)))
        space = space_of(brief, period)
        out.append(_see(judge, random_genomes(space, DRAWN, rng), space))
    return out


def _patterns(brief: Brief, seen: _Seen, where: np.ndarray[Any, Any]) -> list[Pattern]:
    inks = [brief.stash.thread(name).colour for name in brief.palette]
    grid, colours = develop(seen.genomes.take(where), seen.space)
    return [
        pattern_of(grid[..., n], colours[:, n], "", brief.palette, inks) for n in range(len(where))
    ]


def works(brief: Brief, seen: Callable[[Brief], list[_Seen]] = _drawn) -> bool:
    """Return whether a design that keeps a brief is met: its limits, its steps, its cutting plan.

    Args:
        brief: The brief.
        seen: How designs are come by; drawn at random when left out.
    """
    most = brief.limits.steps_max
    for part in seen(brief):
        for pattern in _patterns(brief, part, part.keeping(())[: COUNTED if most else PLANNED]):
            if most and effort(pattern).steps > most:
                continue
            if not brief.limits.on_hand or can_cut(cuts_for(brief, pattern), brief.stash):
                return True
    return False


# --- Before a search -------------------------------------------------------------------------


def diagnose(brief: Brief) -> list[Reason]:
    """Return the reasons for which no design can keep a brief, as far as bounds show them.

    Args:
        brief: The brief.

    Returns:
        None where nothing is shown; a search may still find nothing.  Where several numbers of
        strands are asked for, each reason says of which it speaks, and which others go on.
    """
    if brief.widths:
        each = {s: diagnose(brief.of_width(s)) for s in brief.widths}
        others = tuple(s for s, reasons in each.items() if not reasons)
        if all(reasons == each[brief.strands] for reasons in each.values()):
            return each[brief.strands]  # no width has anything to do with it
        return [
            replace(reason, strands=s, others=others)
            for s, reasons in each.items()
            for reason in reasons
        ]
    return [_with_nearest(brief, reason) for reason in bounds.impossible(brief)]


def _with_nearest(brief: Brief, reason: Reason) -> Reason:
    """Return the reason with the first change of the brief that works."""
    tried = [reason.nearest] if reason.nearest else []
    if "limits.on_hand" in reason.keys:
        if brief.folded:
            tried.append({"folded": False})
        if "colours_max" in reason.keys:
            tried.append({"colours_max": min(len(brief.palette), brief.strands // 2)})
        shorter = _shorter(brief)
        tried += [shorter] if shorter else []
        tried.append({"limits.on_hand": False})
    for nearest in tried:
        other = changed(brief, nearest)
        if not bounds.impossible(other) and works(other):
            return replace(reason, nearest=nearest, verified=True)
    return reason


def _shorter(brief: Brief) -> dict[str, Any] | None:
    """Return the longest length, in whole 5 mm, that no bound forbids and a design is met for."""
    key = "length_mm" if brief.wrist_mm is None else "wrist_mm"
    offset = 0.0 if brief.wrist_mm is None else brief.fastening_mm - brief.ease_mm
    low, high = math.ceil((SHORTEST_MM + offset) / 5), math.floor((brief.length_mm + offset) / 5)
    if key == "wrist_mm":
        low = max(low, math.ceil(RECORDS["wrist_mm"].low / 5))

    def allowed(five: int) -> bool:
        return not bounds.impossible(changed(brief, {key: five * 5}))

    if low >= high or not allowed(low):
        return None
    reach = high
    while low < reach:
        middle = (low + reach + 1) // 2
        low, reach = (middle, reach) if allowed(middle) else (low, middle - 1)
    least = math.ceil((SHORTEST_MM + offset) / 5)
    for step in (0, 1, 2, 4, 8, 16):
        if low - step >= least and works(changed(brief, {key: (low - step) * 5})):
            return {key: (low - step) * 5}
    return None


# --- After a search that found nothing ---------------------------------------------------------


def blame(brief: Brief, run: Run | None = None) -> InfeasibleError:
    """Return the error that says why no design was found, to be raised.

    Args:
        brief: The brief.
        run: The search that found none; where it looked at every design, none exists.
    """
    if brief.widths:
        bad = [
            (s, blame(brief.of_width(s), None if run is None else part_of(run, s)))
            for s in brief.widths
        ]
        sure = all(type(one) is InfeasibleError for _, one in bad)
        text = " ".join(f"{s} strands: {one}" for s, one in bad)
        return InfeasibleError(text) if sure else NotFoundError(text)
    shown = diagnose(brief)
    if shown:
        return InfeasibleError(" ".join(reason.text() for reason in shown))
    whole = run is not None and all(island.whole for island in run.islands)
    reasons = [] if whole and not set_keys(brief) else conflict(brief)
    if not reasons and not whole:
        return NotFoundError(
            "no design that keeps all limits of the brief was found in the generations or the time "
            "that were given, but a further try found some: give more (--generations, --seconds)"
        )
    text = " ".join(reason.text() for reason in reasons)
    if whole and run is not None:
        seen = sum(island.number for island in run.islands)
        return InfeasibleError(
            f"no design keeps all limits of the brief: every one was looked at ({seen:,}). {text}"
        )
    done = 0 if run is None else run.generation
    return NotFoundError(
        f"no design was found that keeps all limits of the brief in {done} generations. {text} "
        f"(Tried: {GENERATIONS} generations of {POPULATION} on {len(brief.search.periods)} grid "
        "lengths for each change; that nothing exists is not proven.)"
    )


def conflict(brief: Brief) -> list[Reason]:
    """Return the demands that fail together, each with the nearest value that works.

    An empty list where designs were met that keep the whole brief.
    """
    seen = _short_run(brief)
    if works(brief, lambda _: seen):
        return []
    keys = set_keys(brief)
    alone = [key for key in keys if _through(brief, seen, key)]
    others = [key for key in keys if key not in alone]
    guilty = alone
    if not alone or works(loosened(brief, others), _short_run):
        guilty = list(keys)
        for key in others:
            rest = [k for k in keys if k not in guilty or k == key]
            if not works(loosened(brief, rest), _short_run):
                guilty.remove(key)
    reasons = []
    for key in guilty:
        near = _nearest(brief, seen, key)
        if near is not None:
            reasons.append((key, near))
    together = ", ".join(_said(brief, key) for key in guilty)
    if len(guilty) == 1:
        words = f"one demand is too much: {together}"
    else:
        words = f"these fail together, though no smaller number of them does: {together}"
    if not reasons:
        return [Reason(keys=tuple(guilty), words=words)]
    out = []
    for n, (key, (nearest, sure, best)) in enumerate(reasons):
        others = [k for k in guilty if k != key]
        text = words
        if best:
            text = f"{text} ({best})" if n == 0 else f"Or else: {best}"
        elif n:
            text = f"Or else: another value of {key}"
        out.append(
            Reason(keys=(key, *others), words=text, asked=_value(brief, key), nearest=nearest,
                   possible=next(iter(nearest.values())), verified=sure)
        )  # fmt: skip
    return out


def _value(brief: Brief, key: str) -> Any:
    return getattr(brief.limits if key.startswith("limits.") else brief, key.rpartition(".")[2])


def _said(brief: Brief, key: str) -> str:
    value = _value(brief, key)
    if key == "limits.on_hand":
        return "only the threads on hand (limits.on_hand)"
    if key == "folded":
        return "folded threads, an even number of strands of every colour (folded)"
    if isinstance(value, tuple):
        value = " ".join(map(str, value))
    return f"{key} = {str(value).lower() if isinstance(value, bool) else value}"


def _name(key: str) -> str:
    return key.rpartition(".")[2]


def _through(brief: Brief, seen: list[_Seen], key: str) -> bool:
    """Return whether designs get through when this demand alone is dropped."""
    if key in ("limits.border", "limits.knots", "folded"):
        return works(loosened(brief, [key]), _short_run)
    if key == "limits.on_hand":
        return any(len(part.keeping(("on_hand",))) for part in seen) or works(
            loosened(brief, [key]), _short_run
        )
    if any(len(part.keeping((_name(key),))) for part in seen):
        return works(loosened(brief, [key]), lambda _: seen) or works(
            loosened(brief, [key]), _short_run
        )
    return works(loosened(brief, [key]), _short_run)


#: Of a demand: its measure, and whether more is better.
MEASURES: Final[Mapping[str, tuple[Callable[[Scores], Any], bool, float]]] = {
    "limits.evenness_min": (lambda s: s.evenness, True, 0.01),
    "limits.contrast_min": (
        lambda s: np.where(np.isfinite(s.contrast), s.contrast, 0.0),
        True,
        1.0,
    ),
    "limits.flatness_min": (lambda s: s.flatness, True, 0.01),
    "limits.lone_max": (lambda s: s.lone, False, 0.01),
    "limits.repeat_rows_max": (lambda s: np.where(s.scored, s.repeat_rows, 10**6), False, 2.0),
    "limits.steps_max": (lambda s: np.ceil(s.steps), False, 1.0),
}
FIGURES: Final[Mapping[str, str]] = {
    "limits.evenness_min": "the most even design met has an evenness of {}",
    "limits.contrast_min": "the most that touching colours were met to differ by is {}",
    "limits.flatness_min": "the flattest design met has {}",
    "limits.lone_max": "the fewest lone knots met are a share of {}",
    "limits.repeat_rows_max": "the shortest repeat met has {} rows",
    "limits.steps_max": "the fewest steps met are {}",
}


def _nearest(brief: Brief, seen: list[_Seen], key: str) -> tuple[dict[str, Any], bool, str] | None:
    """Return the nearest value of a demand with which the brief works, and whether that was met."""
    if key not in MEASURES:
        return _switched(brief, key)
    free = loosened(brief, [key])
    looked = _short_run(free) + (seen if any(len(p.keeping((_name(key),))) for p in seen) else [])
    measure, more, step = MEASURES[key]
    best: list[float] = []
    for part in looked:
        good = part.keeping((_name(key),))
        if len(good):
            values = measure(part.scores)[good]
            best.append(float(values.max() if more else values.min()))
    if not best:
        return None
    value = max(best) if more else min(best)
    shown = FIGURES[key].format(_exact(value, _value(brief, key), step))
    for back in (0, 1, 2, 5, 10, 20):
        near = _rounded(value, step, more, back)
        other = changed(brief, {key: near})
        if works(other, lambda _, other=other: _judged_anew(other, looked)):  # type: ignore[misc]
            return {key: near}, True, shown
    return {key: _rounded(value, step, more, 1)}, False, shown


def _judged_anew(brief: Brief, looked: list[_Seen]) -> list[_Seen]:
    judge = Judge(brief)
    return [_see(judge, part.genomes, part.space) for part in looked]


def _rounded(value: float, step: float, more: bool, back: int) -> Any:
    """Return a value a little looser than the best, in whole steps.

    Examples:
        >>> _rounded(0.8734, 0.01, True, 0), _rounded(5.0, 1.0, False, 1)
        (0.87, 6)
    """
    n = math.floor(value / step + 1e-9) - back if more else math.ceil(value / step - 1e-9) + back
    near = max(0, n) * step
    return int(near) if step >= 1 else round(near, 6)


def _exact(value: float, asked: Any, step: float) -> str:
    """Return a figure with so many digits that it cannot be taken for the one that was asked.

    Examples:
        >>> _exact(0.99962, 1.0, 0.01), _exact(0.8734, 0.95, 0.01), _exact(7.0, 5, 1.0)
        ('0.9996', '0.87', '7')
    """
    digits = 0 if step >= 1 and value == int(value) else 1 if step >= 1 else 2
    while digits < 9 and f"{value:.{digits}f}" == f"{float(asked):.{digits}f}" and value != asked:
        digits += 1
    return f"{value:.{digits}f}"


def _switched(brief: Brief, key: str) -> tuple[dict[str, Any], bool, str] | None:
    """Return the nearest value of a demand that is a switch, a list or a number of colours."""
    if key == "limits.on_hand":
        tried: list[dict[str, Any] | None] = [_shorter_met(brief), {key: False}]
    elif key == "colours_min":
        tried = [{key: n} for n in range(brief.colours_min - 1, 0, -1)]
    elif key == "colours_max":
        most = min(len(brief.palette), threads_of(brief.strands, brief.folded))
        tried = [{key: n} for n in range(brief.colours_max + 1, most + 1)]
    elif key == "limits.knots":
        have = brief.limits.knots
        more = [n for n in ("rr", "ll", "rl", "lr") if n not in have]
        tried = [{key: tuple(sorted((*have, n)))} for n in more]
        tried.append({key: ("rr", "ll", "rl", "lr")})
    else:
        tried = [{key: False}]
    for nearest in tried:
        if nearest is not None and works(changed(brief, nearest), _short_run):
            return nearest, True, ""
    return None


def _shorter_met(brief: Brief) -> dict[str, Any] | None:
    """Return a shorter length for which a short search meets a design, by halving."""
    key = "length_mm" if brief.wrist_mm is None else "wrist_mm"
    offset = 0.0 if brief.wrist_mm is None else brief.fastening_mm - brief.ease_mm
    low = math.ceil(max(SHORTEST_MM + offset, RECORDS[key].low) / 5)
    high = math.floor((brief.length_mm + offset) / 5)
    best = None
    for _ in range(5):
        if low > high:
            break
        middle = (low + high) // 2
        if works(changed(brief, {key: middle * 5}), _short_run):
            best, low = middle * 5, middle + 1
        else:
            high = middle - 1
    return None if best is None else {key: best}
