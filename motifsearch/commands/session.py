"""One search from the first generation to the gallery, with its progress and its interruptions."""

from __future__ import annotations

import multiprocessing
import multiprocessing.connection
import os
import shutil
import signal
import sys
import threading
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import Executor
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import click
import numpy as np

from motifsearch import __version__
from motifsearch.gallery.entry import Entry
from motifsearch.gallery.runfolder import (
    Band,
    make_folder,
    read_candidates,
    read_run_info,
    sweep,
    write_gallery,
)
from motifsearch.pattern.canonical import canonical_key
from motifsearch.pattern.design import Pattern
from motifsearch.pattern.errors import InfeasibleError, InputError, MotifError
from motifsearch.pattern.files import read_pattern
from motifsearch.pattern.tomlfile import read_text, write_atomic
from motifsearch.search.brief import Brief, format_brief, read_brief
from motifsearch.search.checkpoint import load_checkpoint, save_checkpoint
from motifsearch.search.diagnose import blame
from motifsearch.search.likeness import matched
from motifsearch.search.loop import Run, at_rest, cuts_for, evolve, new_run
from motifsearch.search.outcome import Outcome, finish
from motifsearch.search.reach import seed_patterns
from motifsearch.search.target_text import format_target
from motifsearch.simulate.scores import score_pattern
from motifsearch.thread.plan import plan_cuts
from motifsearch.thread.stash import Stash, format_stash

#: Exchanges without any design that keeps the limits, after which the limits are looked at.
PATIENCE = 2
#: Work granted for designs near a target before the search, the same on every machine.
TARGET_WORK = 1e9


def ready_worker() -> None:
    """Leave Ctrl-C to the main process, and end with it however it ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        multiprocessing.connection.wait([parent.sentinel])
        os._exit(1)


@contextmanager
def workers(number: int | None, islands: int) -> Iterator[Executor | None]:
    """Yield an executor with so many processes, or None for this process alone."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    wanted = min(number or cores or 1, islands)
    if wanted <= 1:
        yield None
        return
    from concurrent.futures import ProcessPoolExecutor

    pool = ProcessPoolExecutor(
        wanted, mp_context=multiprocessing.get_context("spawn"), initializer=ready_worker
    )
    # A Ctrl-C while workers start is kept for this process: they are born with it blocked.
    block = hasattr(signal, "pthread_sigmask")
    if block:
        signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        for _ in range(wanted):
            pool.submit(os.getpid)
    finally:
        if block:
            signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGINT})
    try:
        yield pool
    finally:
        pool.shutdown(wait=False, cancel_futures=True)


class Interrupts:
    """Catches Ctrl-C and SIGTERM: the first asks the run to stop, the second breaks it off."""

    def __init__(self) -> None:
        self.said = ""

    def __enter__(self) -> Interrupts:
        """Install the handlers."""
        self.old = {s: signal.signal(s, self._caught) for s in (signal.SIGINT, signal.SIGTERM)}
        return self

    def __exit__(self, *_: object) -> None:
        """Put the old handlers back."""
        for number, handler in self.old.items():
            signal.signal(number, handler)

    def _caught(self, number: int, _: Any) -> None:
        if self.said:
            raise KeyboardInterrupt
        self.said = "interrupted" if number == signal.SIGINT else "terminated"
        click.echo(
            "\nStopping after the generations in hand; then the gallery is written, which takes "
            "some seconds. Once more breaks it off.",
            err=True,
        )


class Progress:
    """The progress display: one line that is written over; nothing when it is no terminal."""

    def __init__(self, brief: Brief, quiet: bool, most: int) -> None:
        self.brief = brief
        self.most = most
        self.shown = not quiet and sys.stderr.isatty()
        self.started = time.monotonic()
        self.begun_at: int | None = None
        self.last_better = (0.0, 0)

    def exchange(self, run: Run) -> None:
        """Show where the run is."""
        now = run.progress[-1]
        if self.begun_at is None:
            self.begun_at = run.generation - self.brief.search.exchange_every
        if now["best"] > self.last_better[0]:
            self.last_better = (now["best"], run.generation)
        if not self.shown:
            return
        spent = time.monotonic() - self.started
        done = max(1, run.generation - self.begun_at)
        left = spent / done * (self.most - run.generation)
        if self.brief.search.seconds is not None:
            left = min(left, self.brief.search.seconds - spent)
        text = (
            f"generation {run.generation}/{self.most}  wishes met {now['best']:.0%}"
            f" (better at {self.last_better[1]})  kinds {now['cells']:.0f}"
            f"  scored {run.scored:,}  about {max(0.0, left):.0f} s left"
        )
        width = shutil.get_terminal_size().columns - 1
        click.echo("\r" + text[:width].ljust(width), err=True, nl=False)

    def say(self, text: str) -> None:
        """Show a line of what is being done now."""
        if self.shown:
            width = shutil.get_terminal_size().columns - 1
            click.echo("\r" + text[:width].ljust(width), err=True, nl=False)

    def end(self) -> None:
        """Leave the line."""
        if self.shown:
            click.echo("", err=True)


class Session:
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
            Band(brief.title, brief.length_mm, brief.first_notch, brief.stash, self.paper),
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


def write_stash_copy(folder: Path, stash: Stash) -> None:
    """Write the stash into a run folder, and the calibration that it names beside it."""
    if stash.calibration:
        source = Path(stash.source).parent / stash.calibration
        write_atomic(folder / "calibration.toml", read_text(source, "a calibration file"))
        stash = replace(stash, calibration="calibration.toml")
    write_atomic(folder / "stash.toml", format_stash(stash))


def scores_for(pattern: Pattern, brief: Brief) -> dict[str, Any]:
    """Return the scores of a design as knotted from the brief's stash."""
    diameters = np.array([brief.stash.thread(name).diameter_mm for name in pattern.palette])
    return score_pattern(pattern, brief.length_mm, brief.stash.model, diameters)


def target_picture(pattern: Pattern, brief: Brief) -> bytes:
    """Return the PNG of the brief's target beside a design; empty without a target."""
    if brief.target is None:
        return b""
    from motifsearch.gallery.targetview import png_bytes, target_view

    inks = [brief.stash.thread(name).colour for name in brief.palette]
    cells = matched(brief.target, brief.palette, inks)
    return png_bytes(target_view(pattern, cells, dict(zip(brief.palette, inks, strict=True))))


def rebuild(
    runs: Sequence[Path], out: Path | None, favourites: Sequence[str], overwrite: bool, paper: str
) -> Iterator[str]:
    """Build the gallery of one or several runs again; yield lines to be printed."""
    if len(runs) > 1 and out is None:
        raise InputError("several runs need --out", source="gallery")
    marked = {_favourite(f, runs) for f in favourites}
    rows: list[tuple[bool, float, str, Pattern, Brief, dict[str, Any]]] = []
    skipped: list[str] = []
    briefs = [read_brief(run / "brief.toml") for run in runs]
    for run, brief in zip(runs, briefs, strict=True):
        found, bad = read_candidates(run)
        skipped += [f"{run.name}/{line}" for line in bad]
        ranking = read_run_info(run).get("ranking")
        known = {
            str(r.get("folder", "")).rpartition("/")[2]: r
            for r in (ranking if isinstance(ranking, list) else [])
            if isinstance(r, dict)
        }
        for name, pattern in found:
            info = known.get(name, {})
            worth = info.get("wishes_met")
            worth = float(worth) if isinstance(worth, int | float) else 0.0
            try:
                for colour in pattern.palette:
                    brief.stash.thread(colour)
            except InputError as error:
                skipped.append(f"{run.name}/{name}: {error}")
                continue
            rows.append(((run, name) in marked, worth, name, pattern, brief, info))
    if not rows:
        raise InputError("no candidate is whole", source=", ".join(map(str, runs)))
    rows.sort(key=lambda r: (not r[0], -r[1], r[2]))
    entries = []
    for n, (_, _, _, pattern, brief, info) in enumerate(rows, 1):
        cuts = cuts_for(brief, pattern)
        wishes = info.get("wishes")
        entries.append(
            Entry(
                rank=n,
                pattern=pattern,
                scores=scores_for(pattern, brief),
                cuts=cuts,
                plan=plan_cuts(cuts, brief.stash),
                target_png=target_picture(pattern, brief),
                construction=str(info.get("construction", "none")),
                wishes=wishes if isinstance(wishes, dict) else {},
                folder=f"candidates/{n:03d}",
            )
        )
    folder = out or runs[0]
    if out is not None:
        make_folder(folder, overwrite)
        write_stash_copy(folder, briefs[0].stash)
        write_atomic(folder / "brief.toml", format_brief(briefs[0]))
    info = dict(read_run_info(runs[0])) if len(runs) == 1 else {"runs": [r.name for r in runs]}
    info["ranking"] = [
        {
            "folder": e.folder,
            "title": e.pattern.title,
            "canonical": canonical_key(e.pattern),
            "wishes_met": row[1],
            "construction": e.construction,
            "wishes": dict(e.wishes),
        }
        for e, row in zip(entries, rows, strict=True)
    ]
    brief = briefs[0]
    write_gallery(
        folder,
        entries,
        [r[1] for r in rows],
        Band(brief.title, brief.length_mm, brief.first_notch, brief.stash, paper),
        info,
        skipped,
    )
    yield f"{len(entries)} designs in {folder / 'gallery.html'}"
    for line in skipped:
        yield f"skipped {line}"


def _favourite(text: str, runs: Sequence[Path]) -> tuple[Path, str]:
    name, sign, number = text.rpartition(":")
    for run in runs:
        meant = (not sign and len(runs) == 1) or name in (str(run), run.name)
        if meant and number.isdigit() and len(number) < 6:
            folder = f"{int(number):03d}"
            if (run / "candidates" / folder).is_dir():
                return run, folder
    raise InputError(
        "expected the number of a candidate (with several runs: RUN:NUMBER)",
        text,
        source="--favourite",
    )


def write_example(folder: Path) -> list[Path]:
    """Write the packaged demo files; none that exists is written over.

    Raises:
        InputError: One of the files exists already.
        MotifError: The folder cannot be written.
    """
    from importlib.resources import as_file, files

    if folder.exists() and not folder.is_dir():
        raise InputError("expected a folder", source=folder)
    with as_file(files("motifsearch") / "demo") as source:
        names = sorted(
            p.relative_to(source) for p in source.rglob("*") if p.suffix in (".toml", ".txt")
        )
        for name in names:
            if (folder / name).exists():
                raise InputError("the file exists already", source=folder / name)
        for name in names:
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            write_atomic(folder / name, (source / name).read_bytes())
    return [folder / name for name in names]
