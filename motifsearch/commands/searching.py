"""One search from the first generation to the gallery."""

from __future__ import annotations

import shutil
import time
from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import replace
from pathlib import Path

import click
import numpy as np

from motifsearch import __version__
from motifsearch.base.errors import InfeasibleError, InputError, MotifError
from motifsearch.base.tomlfile import write_atomic
from motifsearch.commands.rebuild import scores_for, target_picture, write_stash_copy
from motifsearch.commands.running import Interrupts, Progress, workers
from motifsearch.pattern.canonical_form import canonical_key
from motifsearch.pattern.design import Pattern
from motifsearch.pattern.files import read_pattern
from motifsearch.runs.candidate import Entry
from motifsearch.runs.folder import (
    Band,
    make_folder,
    read_run_info,
    sweep,
    write_gallery,
)
from motifsearch.search.brief import Brief, format_brief
from motifsearch.search.checkpoint import load_checkpoint, save_checkpoint
from motifsearch.search.diagnose import blame
from motifsearch.search.loop import Run, at_rest, evolve, new_run
from motifsearch.search.outcome import Outcome, finish
from motifsearch.target.likeness import matched
from motifsearch.target.solver import seed_patterns
from motifsearch.target.text import format_target

#: Exchanges without any design that keeps the limits, after which the limits are looked at.
PATIENCE = 2
#: Work granted for designs near a target before the search, the same on every machine.
TARGET_WORK = 1e9


class SearchCommand:
    """One search command.

    Args:
        brief: The resolved brief.
        folder: The run folder.
        resume: Go on from the folder's checkpoint.
        overwrite: Take over an existing folder.
        seeds: Pattern files to start from.
        workers: Processes, or None for as many as there are cores.
        paper: "A4" or "Letter".
        quiet: No progress display.
    """

    def __init__(
        self,
        brief: Brief,
        folder: Path,
        *,
        resume: bool,
        overwrite: bool,
        seeds: Sequence[Path],
        workers: int | None,
        paper: str,
        quiet: bool,
    ) -> None:
        self.brief = brief
        self.folder = folder
        self.resume = resume
        self.overwrite = overwrite
        self.seeds = seeds
        self.workers = workers
        self.paper = paper
        self.quiet = quiet
        self.ready = False

    def run(self) -> None:
        """Search, write the run folder, and say what was found.

        Raises:
            MotifError: Input, limits that no design keeps, or a folder that cannot be written.
        """
        brief = self.brief
        seeds = self._seed_patterns()
        rest_from = 0
        made = not self.folder.exists()
        if self.resume:
            sweep(self.folder)
            state = load_checkpoint(self.folder / "checkpoint.npz", brief)
            whole = read_run_info(self.folder).get("generations") == state.generation
            if whole and state.generation >= brief.search.generations:
                raise InputError(
                    f"the run has done its {state.generation} generations; "
                    "give more with --generations",
                    source=self.folder,
                )
            self.ready = True
            if whole and at_rest(state.progress, brief.search.rest_after):
                rest_from = state.generation
        else:
            if self.folder.exists() and not self.overwrite:
                make_folder(self.folder, False)  # refuse before the work, not after it
            state = new_run(brief, [*seeds, *self._target_patterns()])
        progress = Progress(brief, self.quiet, brief.search.generations)
        started = time.monotonic()
        before = state.scored
        with Interrupts() as caught, workers(self.workers, len(state.islands)) as pool:
            state, why = evolve(
                brief,
                state,
                executor=pool,
                rest_from=rest_from,
                stop=lambda: caught.said,
                on_exchange=lambda run: self._exchange(run, progress),
            )
            spent = time.monotonic() - started
            if not any(len(i.archive) for i in state.islands):
                progress.end()
                if caught.said:
                    raise MotifError("stopped before any design was found that keeps the limits")
                raise blame(brief)
            progress.say("polishing and choosing ...")
            outcome = finish(brief, state)
            if not outcome.found:
                progress.end()
                if made:
                    shutil.rmtree(self.folder, ignore_errors=True)
                raise self._none_can_be_cut(outcome)
            self._prepare()
            save_checkpoint(state, self.folder / "checkpoint.npz")
            self._write(outcome, state, why, progress, pool)
        progress.end()
        self._report(outcome, state, why, spent, state.scored - before)

    def _seed_patterns(self) -> list[Pattern]:
        patterns = [read_pattern(path) for path in self.seeds]
        for path, pattern in zip(self.seeds, patterns, strict=True):
            if pattern.strands != self.brief.strands:
                raise InputError(
                    f"expected a design of {self.brief.strands} strands",
                    f"{pattern.strands} strands",
                    source=path,
                )
        return patterns

    def _target_patterns(self) -> list[Pattern]:
        """Return designs near the brief's target, found with a fixed amount of work."""
        brief = self.brief
        if brief.target is None:
            return []
        rng = np.random.Generator(np.random.PCG64(np.random.SeedSequence(brief.search.seed)))
        own = dict(zip(brief.target.names, brief.target.colours, strict=True))
        used = matched(
            brief.target, brief.palette, [brief.stash.thread(n).colour for n in brief.palette]
        )
        names = dict(zip(brief.target.cells.ravel().tolist(), used.ravel().tolist(), strict=True))
        title = {n: brief.palette[names[k]] for k, n in enumerate(own) if k in names}
        found = seed_patterns(
            brief.target,
            12,
            rng=rng,
            folded=brief.folded and brief.strands % 2 == 0,
            max_seconds=1e9,
            max_work=TARGET_WORK,
        )
        return [
            replace(
                p,
                colour_order=tuple(title.get(c, c) for c in p.colour_order),
                colours={n: brief.stash.thread(n).colour for n in brief.palette},
            )
            for p in found
            if all(c in title for c in p.colour_order)
        ]

    def _prepare(self) -> None:
        """Make the run folder and write brief and stash, once."""
        if not self.ready:
            make_folder(self.folder, self.overwrite)
            write_stash_copy(self.folder, self.brief.stash)
            if self.brief.target is not None:
                write_atomic(self.folder / "target.txt", format_target(self.brief.target))
            self.ready = True
        write_atomic(self.folder / "brief.toml", format_brief(self.brief))

    def _exchange(self, run: Run, progress: Progress) -> None:
        progress.exchange(run)
        if any(len(i.archive) for i in run.islands):
            self._prepare()
            save_checkpoint(run, self.folder / "checkpoint.npz")
        elif len(run.progress) >= PATIENCE:
            progress.end()
            raise blame(self.brief)

    def _none_can_be_cut(self, outcome: Outcome) -> InfeasibleError:
        return InfeasibleError(
            f"{outcome.refused} designs were found, but no cutting plan for any of them exists "
            "with the pieces on hand (limits.on_hand); add threads, or give --any-amount"
        )

    def _write(
        self, outcome: Outcome, run: Run, why: str, progress: Progress, pool: Executor | None
    ) -> None:
        brief = self.brief
        entries = [
            Entry(
                rank=n,
                pattern=f.pattern,
                scores=scores_for(f.pattern, brief),
                cuts=f.cuts,
                plan=f.plan,
                construction=f.construction,
                wishes=f.degrees,
                folder=f"candidates/{n:03d}",
                target_png=target_picture(f.pattern, brief),
            )
            for n, f in enumerate(outcome.found, 1)
        ]
        info = {
            "version": __version__,
            "title": brief.title,
            "seed": brief.search.seed,
            "stopped_by": why,
            "generations": run.generation,
            "scored": run.scored,
            "not_scored_twice": sum(i.repeated for i in run.islands),
            "islands": [
                {"rows": i.space.period, "scored": i.scored, "kinds": len(i.archive)}
                for i in run.islands
            ],
            "variety": {
                "measure": "Jaccard distance of face outlines, best of all phases and turns",
                "smallest": outcome.nearest,
                "mean_to_nearest": outcome.mean_nearest,
            },
            "plan": {
                "refused_during_search": run.refused,
                "looked_at": outcome.pool,
                "refused_at_the_end": outcome.refused,
                "share_of_thread_counted_on": run.share,
            },
            "progress": run.progress,
            "ranking": [
                {
                    "folder": e.folder,
                    "title": e.pattern.title,
                    "canonical": canonical_key(e.pattern),
                    "wishes_met": f.utility,
                    "construction": e.construction,
                    "wishes": dict(e.wishes),
                }
                for e, f in zip(entries, outcome.found, strict=True)
            ],
        }
        write_gallery(
            self.folder,
            entries,
            [f.utility for f in outcome.found],
            Band(
                brief.title,
                brief.length_mm,
                brief.first_notch,
                brief.stash,
                self.paper,
                brief.wrist_mm,
            ),
            info,
            tick=lambda done: progress.say(f"writing candidate {done} of {len(entries)} ..."),
            executor=pool,
        )

    def _report(self, outcome: Outcome, run: Run, why: str, spent: float, scored: int) -> None:
        best = outcome.found[0]
        reasons = {
            "generations": "all generations are done",
            "seconds": "the time is over",
            "rest": "nothing got better any more",
            "interrupted": "it was interrupted",
            "terminated": "it was told to end",
        }
        click.echo(
            f"{len(outcome.found)} designs in {self.folder}: {reasons.get(why, why)} after "
            f"{run.generation} generations."
        )
        click.echo(
            f"Scored {scored:,} designs in {spent:.1f} s "
            f"({scored / max(spent, 1e-9):,.0f} a second)."
        )
        click.echo(f"Best: {best.pattern.title} (wishes met to {best.utility:.0%}).")
        click.echo(f"Open {self.folder / 'gallery.html'} in a browser.")
        if why in ("interrupted", "terminated", "seconds"):
            click.echo(f"To go on: motifsearch search --resume {self.folder}")
