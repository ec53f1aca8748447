"""A search that has ended: evolved, its designs chosen, its gallery written."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any, Final

from motifsearch.base.errors import InfeasibleError, MotifError, NotFoundError
from motifsearch.runs.candidate import Candidate, assemble
from motifsearch.runs.gallery import numbered, older_files, write_gallery
from motifsearch.runs.home import Home
from motifsearch.runs.hooks import Hooks, Progress
from motifsearch.runs.inputs import PICKS, brief_files, target_picture
from motifsearch.runs.kept import earlier_run, kept_candidates
from motifsearch.runs.record import Record
from motifsearch.runs.result import Run
from motifsearch.runs.settings import settings_of
from motifsearch.runs.store import CHECKPOINT
from motifsearch.runs.workers import Workers, said_by, working
from motifsearch.search import loop
from motifsearch.search.brief import Brief
from motifsearch.search.checkpoint import save_checkpoint
from motifsearch.search.diagnose import blame, diagnose
from motifsearch.search.outcome import Choice, Outcome, Whole, finish
from motifsearch.search.reasons import Reason
from motifsearch.search.taste_gallery import words_of_part
from motifsearch.search.taste_words import said_of

#: What a run is said to have ended with that came from a library.
FOUND: Final = "found"
#: Designs that are written when a search was told to stop.
MOST_WHEN_STOPPED: Final = 24


@dataclass(frozen=True)
class Ended:
    """A search that has ended.

    Attributes:
        state: Its state.
        why: What ended it.
        outcome: Its designs.
        seconds: How long it took.
        scored: Designs scored.
        left_out: Where several numbers of strands are asked for, those of which nothing is shown,
            and why.
    """

    state: loop.Run
    why: str
    outcome: Outcome
    seconds: float
    scored: int
    left_out: Mapping[int, str] = field(default_factory=dict)


def finished(
    brief: Brief,
    state: loop.Run,
    home: Home | None,
    *,
    pool: list[Choice],
    alike: bool,
    why: str,
    started: float,
    scored: int,
    said: tuple[str, ...],
    workers: Workers,
    paper: str,
    hooks: Hooks,
    left_out: Mapping[int, str] | None = None,
) -> Run:
    """Choose among designs that were not evolved here, and write their gallery.

    Args:
        brief: The brief.
        state: The run that a search can go on from.
        home: Where it is written; None to write nothing.
        pool: Designs that keep the limits, best first.
        alike: Whether designs near to one another are wanted.
        why: What the run is said to have ended with.
        started: When it began, by the monotonic clock.
        scored: Designs that were judged.
        said: What is said of it first.
        workers: Who draws.
        paper: Of the worksheets.
        hooks: A log.
        left_out: The numbers of strands of which there is nothing to choose from, and why.

    Raises:
        NotFoundError: Exact plans refuse all of them.
    """
    outcome = finish(brief, state, pool=pool, alike=alike)
    if not outcome.found:
        raise NotFoundError(
            f"of {len(pool)} designs that are most promising none can be cut from the pieces on "
            "hand, or in so few steps; a search may find some"
        )
    left = _left_out(brief, state, outcome, why, left_out or {})
    ended = Ended(state, why, outcome, time.monotonic() - started, scored, left)
    useful = 1 if home is None else len(outcome.found)
    with working(workers, useful) as executor:
        run = written_run(brief, ended, home, executor, paper=paper, hooks=hooks)
    return replace(run, said=(*said, *run.said, *said_by(executor)))


def written_run(
    brief: Brief,
    ended: Ended,
    home: Home | None,
    pool: Executor | None,
    *,
    paper: str,
    hooks: Hooks,
) -> Run:
    """Return the run with its candidates, written where there is a folder."""
    settings = settings_of(brief, paper=paper, source=None if home is None else home.place.path)
    taken = () if home is None else tuple(
        name for name in home.place.candidates() if home.place.touched(name)
    )  # fmt: skip
    fresh = numbered(
        [
            assemble(
                f.pattern,
                settings,
                construction=f.construction,
                wishes=f.degrees,
                wishes_met=f.utility,
                notes=tuple(filter(None, [*f.notes, words_of_part(f.part)])),
                known=(f.cuts, f.plan),
                target_png=target_picture(f.pattern, brief),
            )
            for f in ended.outcome.found
        ],
        taken,
    )
    record = record_of(brief, ended, paper)
    run = Run(
        candidates=fresh,
        record=record,
        brief=brief,
        inputs=brief_files(brief),
        seconds=ended.seconds,
        searched=ended.scored,
        said=record.left_out,
    )
    if home is None:
        hooks.chosen(brief, fresh)
        return run
    kept, said = kept_candidates(home.place, taken, None if home.apart else brief)
    mine = [Path(one.folder).name for one in kept]
    earlier = earlier_run(home.place, mine) if home.apart else {}
    home.prepare(brief)
    save_checkpoint(ended.state, home.path / CHECKPOINT)
    hooks.chosen(brief, fresh)
    shown: tuple[Candidate, ...] = (*fresh, *kept)
    # Picks of a run that is written over are not those of the new one.
    stale = (PICKS,) if home.fresh and brief.taste is None else ()
    written = write_gallery(
        home.place,
        shown,
        record,
        inputs={**home.files(), **earlier},
        leave={one.folder: home.place.leave(one.folder) for one in kept},
        gone=(*older_files(home.place, fresh), *stale),
        skipped=(*record.left_out, *said),
        tick=lambda done: hooks.log(f"writing candidate {done} of {len(shown)} ..."),
        executor=pool,
    )
    home.done()
    return replace(
        run, candidates=shown, folder=home.place.path, said=(*run.said, *said, *written.said)
    )


def evolved(
    brief: Brief,
    state: loop.Run,
    home: Home | None,
    pool: Executor | None,
    hooks: Hooks,
    rest_from: int,
    most: int,
) -> Ended:
    """Evolve until something says stop, and choose the designs of the gallery."""

    def exchanged(run: loop.Run) -> None:
        now = run.progress[-1]
        hooks.progress(
            Progress(
                generation=run.generation,
                most=most,
                best=now["best"],
                kinds=int(now["cells"]),
                scored=run.scored,
            )
        )
        if home is not None and any(len(i.archive) for i in run.islands):
            home.prepare(brief)
            save_checkpoint(run, home.path / CHECKPOINT)
        hooks.seen(brief, run)

    reasons = diagnose(brief)
    if any(reason.stops for reason in reasons):
        raise InfeasibleError(" ".join(reason.text() for reason in reasons))
    for reason in reasons:
        hooks.log(reason.text())
    started = time.monotonic()
    before = state.scored
    state, why = loop.evolve(
        brief, state, executor=pool, generations=most, rest_from=rest_from, stop=hooks.stop,
        on_exchange=exchanged,
    )  # fmt: skip
    seconds = time.monotonic() - started
    if not any(len(i.archive) for i in state.islands):
        if why not in ("generations", "rest", "whole", "seconds"):
            raise MotifError("stopped before any design was found that keeps the limits")
        raise blame(brief, state)
    hooks.log("polishing and choosing ...")
    shown = brief
    if why in ("interrupted", "terminated") and brief.gallery_size > MOST_WHEN_STOPPED:
        # Who stops a search does not wait for minutes of drawing; going on writes them all.
        shown = replace(brief, gallery_size=MOST_WHEN_STOPPED)
    outcome = finish(shown, state, executor=pool)
    if not outcome.found:
        if home is not None:
            home.discard()
        raise blame(brief, state)
    left = _left_out(brief, state, outcome, why, reasons_by_width(reasons))
    return Ended(state, why, outcome, seconds, state.scored - before, left)


def reasons_by_width(reasons: Sequence[Reason]) -> dict[int, str]:
    """Return what is said of every number of strands that some reasons speak of."""
    out: dict[int, str] = {}
    for reason in reasons:
        text = replace(reason, strands=0).text()
        out[reason.strands] = f"{out[reason.strands]} {text}" if reason.strands in out else text
    return out


def _left_out(
    brief: Brief, state: loop.Run, outcome: Outcome, why: str, known: Mapping[int, str]
) -> dict[int, str]:
    """Return the numbers of strands that were asked for and of which nothing is shown, and why.

    Args:
        brief: The brief.
        state: The run.
        outcome: Its designs.
        why: What ended it.
        known: What is known already of some.
    """
    shown = {found.pattern.strands for found in outcome.found}
    out = {}
    for strands in brief.widths:
        if strands in shown:
            continue
        if strands in known:
            out[strands] = known[strands]
        elif any(len(state.islands[k].archive) for k in state.of_width(strands)):
            out[strands] = (
                "Designs were found, but the pieces on hand are not enough for them, or bands of "
                "other widths meet the wishes better."
            )
        elif why in ("interrupted", "terminated", FOUND):
            out[strands] = "None was found so far that keeps the limits."
        else:
            out[strands] = str(blame(brief.of_width(strands), loop.part_of(state, strands)))
    return out


def record_of(brief: Brief, ended: Ended, paper: str) -> Record:
    """Return what ``run.json`` says of a search that has ended."""
    state, outcome = ended.state, ended.outcome
    return Record(
        kind="search",
        title=brief.title,
        seed=brief.search.seed,
        paper=paper,
        stopped_by=ended.why,
        generations=state.generation,
        scored=state.scored,
        not_scored_twice=sum(i.repeated for i in state.islands),
        islands=tuple(
            {
                **({"strands": i.space.strands} if brief.widths else {}),
                "rows": i.space.period,
                "scored": i.scored,
                "kinds": len(i.archive),
            }
            for i in state.islands
        ),
        widths=tuple(
            {
                "strands": s,
                "shown": sum(f.pattern.strands == s for f in outcome.found),
                "why": ended.left_out.get(s, ""),
            }
            for s in brief.widths
        ),
        variety={
            "measure": "Jaccard distance of face outlines, best of all phases and turns",
            "smallest": outcome.nearest,
            "mean_to_nearest": outcome.mean_nearest,
        },
        plan={
            "refused_during_search": state.refused,
            "looked_at": outcome.pool,
            "refused_at_the_end": outcome.refused,
            "share_of_thread_counted_on": state.share,
        },
        progress=tuple(state.progress),
        taste={} if brief.taste is None else said_of(brief.taste.picks).plain(),
        whole={} if outcome.whole is None else _plain(outcome.whole),
    )


def _plain(whole: Whole) -> dict[str, Any]:
    """Return what is known of a whole space, as it stands in ``run.json``."""
    return {k: v for k, v in asdict(whole).items() if v is not None}
