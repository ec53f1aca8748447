"""Why no design keeps all limits: which one, relaxed alone, lets designs through.

For every limit of the brief a short search is run in which that limit is not judged.  The effort
is stated: `GENERATIONS` generations of `POPULATION` designs on every island.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Final

import numpy as np

from motifsearch.base.errors import InfeasibleError, MotifError
from motifsearch.search.brief import Brief
from motifsearch.search.genome import develop
from motifsearch.search.island import Judge, new_island, run_epoch
from motifsearch.simulate.scores import score_batch

GENERATIONS: Final = 12
POPULATION: Final = 150

WORDS: Final[Mapping[str, str]] = {
    "colours_min": "colours_min",
    "colours_max": "colours_max",
    "repeat_rows_max": "limits.repeat_rows_max",
    "evenness_min": "limits.evenness_min",
    "contrast_min": "limits.contrast_min",
    "flatness_min": "limits.flatness_min",
    "lone_max": "limits.lone_max",
    "symmetric": "limits.symmetric",
    "on_hand": "limits.on_hand (the threads on hand)",
    "folded": "folded (an even number of strands of every colour)",
}


def _short_run(brief: Brief, without: str) -> tuple[bool, float, float]:
    """Return whether designs got through, the best evenness and contrast among the nearest."""
    judge = Judge(brief, without)
    seeds = np.random.SeedSequence(brief.search.seed).spawn(len(brief.search.periods))
    through, evenness, contrast = False, 0.0, 0.0
    for period, seed in zip(brief.search.periods, seeds, strict=True):
        island = run_epoch(judge, new_island(brief, period, seed), GENERATIONS, POPULATION)
        assert island.population is not None
        best = island.population.violation == island.population.violation.min()
        through = through or bool((island.population.violation == 0).any())
        genomes = island.population.genomes.take(np.flatnonzero(best))
        scores = score_batch(*develop(genomes, island.space), judge.setting)
        evenness = max(evenness, float(scores.evenness.max()))
        touch = scores.contrast[np.isfinite(scores.contrast)]
        contrast = max(contrast, float(touch.max(initial=0.0)))
    return through, evenness, contrast


def blame(brief: Brief) -> MotifError:
    """Return the error that names the limits to blame, to be raised."""
    if _short_run(brief, "")[0]:
        return MotifError(
            "no design that keeps all limits of the brief was found in the generations or the time "
            "that were given, but a further try found some: give more (--generations, --seconds)"
        )
    guilty = []
    for name in Judge(brief).limiter.names():
        if _short_run(brief, name)[0]:
            guilty.append(name)
    _, evenness, _ = _short_run(brief, "")
    effort = f"{GENERATIONS} generations on {len(brief.search.periods)} islands for each limit"
    text = "no design was found that keeps all limits of the brief"
    if guilty:
        text += "; one of these, relaxed alone, lets designs through: "
        text += ", ".join(_said(brief, name, evenness) for name in guilty)
    else:
        text += "; no single limit is to blame: relax two or more"
        text += " (" + ", ".join(WORDS[n] for n in Judge(brief).limiter.names()) + ")"
    return InfeasibleError(f"{text} (tried: {effort})")


def _said(brief: Brief, name: str, evenness: float) -> str:
    value = getattr(brief.limits, name, None)
    if value is None:
        value = getattr(brief, name)
    if name == "on_hand":
        return f"{WORDS[name]}: {_lack(brief)}"
    text = f"{WORDS[name]} = {value!r}"
    if name == "evenness_min":
        text += f" (the most even design seen has {evenness:.2f})"
    return text


def _lack(brief: Brief) -> str:
    """Say how much thread there is and about how much any band of this size takes."""
    easy = replace(brief, limits=replace(brief.limits, on_hand=False, evenness_min=0.0))
    judge = Judge(easy)
    period = brief.search.periods[0]
    seed = np.random.SeedSequence(brief.search.seed)
    island = run_epoch(judge, new_island(easy, period, seed), 3, POPULATION)
    assert island.population is not None
    scores = score_batch(*develop(island.population.genomes, island.space), judge.setting)
    need = float(scores.use_mm.sum(0).min()) * judge.limiter.margin
    need += brief.strands * judge.limiter.ends_mm
    return (
        f"{judge.limiter.total_mm.sum() / 1000:.1f} m on hand in all,"
        f" a band takes about {need / 1000:.1f} m"
    )
