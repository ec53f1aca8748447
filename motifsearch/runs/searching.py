"""``search``: from a brief to a ranked gallery, in memory or in a run folder.

The same call serves the command line, Python and the workshop.  Without a folder nothing is
written.  With one, brief, stash and checkpoint stand there from the first exchange that found a
design, and the gallery follows as one change; a search that writes over an older run keeps its own
state apart until then, so that the older run stays whole.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

import numpy as np

from motifsearch.base.errors import InfeasibleError, InputError
from motifsearch.pattern.canonical_form import shortest_period
from motifsearch.pattern.design import Pattern
from motifsearch.pattern.files import read_pattern
from motifsearch.runs.ending import evolved, written_run
from motifsearch.runs.fitting import check_rows, fitted
from motifsearch.runs.home import Home
from motifsearch.runs.hooks import SILENT, Hooks
from motifsearch.runs.inputs import read_files
from motifsearch.runs.lettering import lettered
from motifsearch.runs.picking import picks_in, picks_of, tasted
from motifsearch.runs.record import read_record
from motifsearch.runs.remembering import library_of, remember
from motifsearch.runs.result import Run
from motifsearch.runs.store import CHECKPOINT, owned
from motifsearch.runs.workers import Workers, connected, said_by, working
from motifsearch.search import loop
from motifsearch.search.anew import asked_of, changes, judged_anew
from motifsearch.search.brief import Brief, brief_of, read_brief
from motifsearch.search.checkpoint import load_checkpoint
from motifsearch.search.genome import join
from motifsearch.search.picks import Picks
from motifsearch.search.widths import rest_after
from motifsearch.target.likeness import matched
from motifsearch.target.solver import seed_patterns

#: Work granted for designs near a target before the search, the same on every machine.
TARGET_WORK: Final = 1e9
#: Keys of a brief that may change when a run goes on.
MAY_CHANGE: Final = ("search.generations", "search.seconds", "gallery.size", "title")


def resolve(
    brief: Brief | str | Path | None, overrides: Mapping[str, Any] | None = None
) -> tuple[Brief, Path | None]:
    """Return a brief, and the file that it stands in.

    Args:
        brief: The brief, its file, or None when the overrides say everything.
        overrides: Keys such as ``strands`` or ``search.seed`` that replace those of the file.

    Raises:
        InputError: With file, key, what was expected and what stood there.
    """
    if isinstance(brief, Brief):
        return brief, None
    if brief is None:
        return brief_of(overrides or {}), None
    return read_brief(brief, overrides), Path(brief)


def default_folder(path: Path | None, brief: Brief) -> Path:
    """Return ``results/NAME-seedN``, NAME from the brief's file or from its strands."""
    widths = "-".join(map(str, brief.every_width))
    name = path.stem if path is not None else f"{widths}-strands"
    safe = "".join(c if c.isalnum() or c in "-_" else "-" for c in name).strip("-")[:60] or "run"
    return Path("results") / f"{safe}-seed{brief.search.seed}"


def search(
    brief: Brief | str | Path | None = None,
    *,
    overrides: Mapping[str, Any] | None = None,
    out: str | Path | None = None,
    overwrite: bool = False,
    seeds: Sequence[Pattern | str | Path] = (),
    workers: Workers = 1,
    paper: str = "A4",
    hooks: Hooks = SILENT,
    origin: Path | None = None,
    picks: Picks | str | Path | None = None,
    library: str | Path | None = None,
) -> Run:
    """Search designs for a brief; the best, varied and proven, come back ranked.

    A brief with a text gives the bands of `motifsearch.runs.lettering` instead.

    Args:
        brief: The brief, or its file; None when the overrides say everything.
        overrides: Keys of the brief, such as ``search.seed``, with other values.
        out: The run folder to write; None to write nothing.
        overwrite: Write into a folder that holds something already.
        seeds: Designs, or their files, to start from.
        workers: Processes; None for as many as there are cores; or ``dask:tcp://HOST:PORT``.  The
            result is the same.
        paper: Of the worksheets: A4 or Letter.
        hooks: Progress, stop and log.
        origin: The file that a brief was read from, when not given by its file.
        picks: What was wanted before (`motifsearch.search.picks`): their file, or the run folder
            that they stand in.
        library: The library that takes in what is found; made when it is not there.  When None,
            the one beside the run folder (`motifsearch.runs.remembering`), if there is one.

    Raises:
        InputError: Something that was given cannot be used.
        InfeasibleError: No design keeps the limits; the message says which are to blame.
        MotifError: The folder cannot be written.
    """
    resolved, path = resolve(brief, overrides)
    if resolved.text:
        return lettered(
            resolved, workers=workers, paper=paper, out=out, overwrite=overwrite, hooks=hooks,
            origin=path or origin,
        )  # fmt: skip
    if picks is not None:
        resolved = tasted(resolved, picks_of(picks))
    files = [Path(s) for s in seeds if not isinstance(s, Pattern)]
    patterns = [s if isinstance(s, Pattern) else read_pattern(s) for s in seeds]
    for pattern, source in zip(patterns, seeds, strict=True):
        if pattern.strands not in resolved.every_width:
            raise InputError(
                f"expected a design of {resolved.strands_text} strands",
                f"{pattern.strands} strands",
                source=None if isinstance(source, Pattern) else source,
            )
        check_rows(pattern, resolved, None if isinstance(source, Pattern) else source)
    patterns = [replace(p, knots=shortest_period(p.knots)) for p in patterns]
    fits = [fitted(p, resolved.stash, resolved.palette) for p in patterns]
    patterns, exchanged = [p for p, _ in fits], tuple(said for _, said in fits if said)
    with ExitStack() as stack:
        home = None
        keeps = library_of(out, library)
        if out is not None:
            place = stack.enter_context(owned(Path(out), "a search"))
            place.refuse_unless_empty(overwrite)
            taste = [] if picks is None or isinstance(picks, Picks) else [Path(picks)]
            kept = [] if keeps is None else [keeps]
            place.refuse_inputs([*read_files(resolved, path or origin, [*files, *taste]), *kept])
            home = Home(place, fresh=True)
        hands = stack.enter_context(connected(workers))
        wanted = () if resolved.taste is None else resolved.taste.wanted
        wanted = tuple(p for p in wanted if p.strands in resolved.every_width)
        state = loop.new_run(resolved, [*patterns, *target_patterns(resolved), *wanted])
        if resolved.search.warm:
            state = warmed(resolved, state)
        state.asked = asked_of(resolved)
        run = _go(
            resolved, state, home, workers=hands, paper=paper, hooks=hooks,
            most=resolved.search.generations, library=keeps,
        )  # fmt: skip
        return replace(run, said=(*exchanged, *run.said))


def resume(
    folder: str | Path,
    *,
    overrides: Mapping[str, Any] | None = None,
    workers: Workers = 1,
    paper: str | None = None,
    hooks: Hooks = SILENT,
    library: str | Path | None = None,
) -> Run:
    """Go on with the search in a run folder, and write its next gallery there.

    Picks that stand in the folder are learnt from.  Where they are other than they were, every
    design that stands is judged by them, the wanted ones join, and the search has as many
    generations again as the brief says.

    Args:
        folder: The run folder.
        overrides: Keys among `MAY_CHANGE`, with other values.
        workers: Processes, or ``dask:tcp://HOST:PORT``; None for as many as there are cores.
        paper: Of the worksheets; the run's own when None.
        hooks: Progress, stop and log.
        library: As in `search`.

    Raises:
        InputError: There is nothing to go on with, or something else cannot be changed.
        MotifError: The folder cannot be written.
    """
    folder = Path(folder)
    for key in overrides or {}:
        if key not in MAY_CHANGE:
            raise InputError(f"a run that goes on cannot change {key}", source="--resume")
    if not folder.is_dir():
        raise InputError("expected a run folder; no such file or folder", source=folder)
    with owned(folder, "a search") as place, connected(workers) as hands:
        home = Home(place, fresh=False)
        brief = read_brief(home.path / "brief.toml", overrides)
        brief = tasted(brief, picks_in(home.path))
        state = load_checkpoint(home.path / CHECKPOINT, brief)
        record, _ = read_record(folder)
        then, now = state.asked, asked_of(brief)
        judged = then.get("judged") or {}
        said: tuple[str, ...] = ()
        anew = judged != now["judged"]
        stand = 1
        if anew:
            parts = changes(judged, now["judged"])
            what = f" ({'; '.join(parts)})" if parts else ""
            why = f"brief or stash changed since{what}"
            if parts == ("your picks",):
                why = "learnt from your picks"
            state, before, stand = judged_anew(state, brief)
            said = (f"{why}: of {before} designs that stood, {stand} keep the limits as they are "
                    "now",)  # fmt: skip
        most = brief.search.generations
        if brief.taste is not None:
            until = then.get("until")
            if judged.get("taste") != brief.taste.digest:
                # New picks: as many generations again, from where the run stands.
                until = state.generation + most
                join_wanted(state, brief)
            if isinstance(until, int) and "search.generations" not in (overrides or {}):
                most = until
            now["until"] = most
        state.asked = now
        whole = not home.apart and record.generations == state.generation
        if whole and not anew and state.generation >= most:
            raise InputError(
                f"the run has done its {state.generation} generations; "
                "give more with --generations",
                source=folder,
            )
        rest_from = 0
        if anew:
            rest_from = state.generation
        if whole and loop.at_rest(state.progress, rest_after(brief)):
            rest_from = state.generation
        home.change(dict(overrides or {}))
        if anew and stand:
            # What stands is known: whoever looks on need not wait for the next exchange.
            hooks.seen(brief, state)
        try:
            run = _go(
                brief, state, home, workers=hands, paper=paper or record.paper, hooks=hooks,
                rest_from=rest_from, most=most, library=library_of(folder, library),
            )  # fmt: skip
        except InfeasibleError as bad:
            if stand:
                raise
            raise InfeasibleError(f"{said[0]}; the gallery stays as it was. {bad}") from None
        return replace(run, said=(*said, *run.said))


def join_wanted(state: loop.Run, brief: Brief) -> None:
    """Let the wanted designs join every island that they fit, at its next generation."""
    assert brief.taste is not None
    pending = list(state.pending)
    for k, island in enumerate(state.islands):
        wanted, there = brief.taste.genomes(island.space, brief.palette), pending[k]
        if wanted is not None:
            pending[k] = wanted if there is None else join([there, wanted])
    state.pending = pending


def warmed(brief: Brief, state: loop.Run) -> loop.Run:
    """Return a run before its first generation with what the program's library has for its brief.

    Args:
        brief: The brief.
        state: The run.

    Raises:
        MotifError: The library cannot be read.
    """
    from motifsearch.library.opening import libraries
    from motifsearch.library.proposing import propose

    with libraries() as own:
        return replace(state, islands=propose(own, brief).run.islands)


def target_patterns(brief: Brief) -> list[Pattern]:
    """Return designs near the brief's wanted motif, found with a fixed amount of work."""
    if brief.target is None:
        return []
    rng = np.random.Generator(np.random.PCG64(np.random.SeedSequence(brief.search.seed)))
    own = dict(zip(brief.target.names, brief.target.colours, strict=True))
    inks = {n: brief.stash.thread(n).colour for n in brief.palette}
    used = matched(brief.target, brief.palette, list(inks.values()))
    names = dict(zip(brief.target.cells.ravel().tolist(), used.ravel().tolist(), strict=True))
    title = {n: brief.palette[names[k]] for k, n in enumerate(own) if k in names}
    found = seed_patterns(
        brief.target,
        12,
        rng=rng,
        folded=brief.folded and brief.strands % 2 == 0,
        max_work=TARGET_WORK,
    )
    return [
        replace(p, colour_order=tuple(title.get(c, c) for c in p.colour_order), colours=inks)
        for p in found
        if all(c in title for c in p.colour_order)
    ]


def _go(
    brief: Brief,
    state: loop.Run,
    home: Home | None,
    *,
    workers: Workers,
    paper: str,
    hooks: Hooks,
    most: int,
    rest_from: int = 0,
    library: Path | None = None,
) -> Run:
    """Evolve, choose, write the gallery where there is a folder, and keep what was found."""
    with working(workers, max(len(state.islands), 1)) as pool:
        ended = evolved(brief, state, home, pool, hooks, rest_from, most)
        run = written_run(brief, ended, home, pool, paper=paper, hooks=hooks)
    run = replace(run, said=(*run.said, *said_by(pool)))
    if library is None:
        return run
    hooks.log("adding to the library ...")
    said = remember(library, ended.state, [one.pattern for one in run.candidates])
    return replace(run, said=(*run.said, *said))
