"""``letters``: a name or words knotted along a band, without a wrong knot.

A run of letters is a gallery like any other.  The first design is the plainest: the tallest letters
that fit, the two colours that are easiest to tell apart, plain ground on both sides.  Others have a
pattern beside the text, an edge, the colours exchanged, or smaller letters; they are ranked by how
well they read, how evenly they use thread and how quick they are to knot.

Every design is played knot by knot against its letters before it is shown.  The folder's
``letters.json`` says what was found: ``text``, ``wrong_cells``, ``proven``, and how to hold the
band: turned a quarter, with its first row at the left, the text of ``reads = "wearer"`` is upright.
"""

from __future__ import annotations

from concurrent.futures import Executor
from dataclasses import replace
from itertools import islice
from pathlib import Path
from typing import Any, Final, cast

import numpy as np

from motifsearch.base.colour import colour_difference, lab
from motifsearch.base.errors import InfeasibleError, InputError
from motifsearch.pattern.knots import knots_in_grid
from motifsearch.runs.candidate import Candidate, assemble
from motifsearch.runs.gallery import numbered, older_files, write_gallery
from motifsearch.runs.hooks import SILENT, Hooks
from motifsearch.runs.inputs import brief_files, read_files
from motifsearch.runs.letter_ideas import Idea, ideas
from motifsearch.runs.record import Record, json_text
from motifsearch.runs.result import Run
from motifsearch.runs.settings import Asked, Settings, apply, default_length, settings_of
from motifsearch.runs.store import owned
from motifsearch.runs.workers import Workers, in_turn, said_by, working
from motifsearch.search.brief import LONGEST_TEXT, Brief, Limits, SearchSettings
from motifsearch.search.records import record
from motifsearch.target.alternate import exact_walk, knotted, quicker, wrong_knots
from motifsearch.target.beside import side_cells
from motifsearch.target.grids import returning_knots
from motifsearch.target.lettering import Reads
from motifsearch.target.motif import Target
from motifsearch.thread.model import DEFAULT_DIAMETER_MM
from motifsearch.thread.stash import Stash, StashThread

NAME: Final = "letters.json"
DESIGNS: Final = 4
STRANDS: Final = 16
#: Threads that are proposed where no stash is known.
PROPOSED: Final = (("cream", "#f3ead7"), ("night blue", "#1d2b4f"), ("coral", "#d8644a"))
#: Contrast (CIEDE2000) from which on more does not help.
FULL: Final = 60.0
#: How well a text reads with something beside it, with light letters, with an edge.
BESIDE, LIGHT, EDGED = 0.8, 0.95, 0.97
WEIGHTS: Final = {"reads_well": 6.0, "evenness": 2.5, "quick": 1.5}
#: Who reads, as it is told.
READERS: Final = {"wearer": "the wearer", "onlooker": "the one who looks on"}


def letters(
    text: str,
    *,
    strands: int = STRANDS,
    asked: Asked | None = None,
    reads: str = "wearer",
    repeated: bool = False,
    ink: str = "",
    ground: str = "",
    designs: int = DESIGNS,
    seed: int = 1,
    workers: Workers = 1,
    out: str | Path | None = None,
    overwrite: bool = False,
    hooks: Hooks = SILENT,
) -> Run:
    """Return bands with a text in letters along them; none has a wrong knot.

    Args:
        text: What is written: A to Z, digits, & + - . ! and some accents, hearts and stars.
        strands: S.
        asked: Threads, length, folding and the rest; the stated defaults for what is left out.
        reads: "wearer": the text begins at the first row; "onlooker": it begins at the last, for
            the one who looks from the opposite side.
        repeated: As often as the band has room, instead of once in its middle.
        ink: The thread of the letters; chosen when empty.
        ground: The thread behind the letters; chosen when empty.
        designs: At most so many.
        seed: Of the random generator.
        workers: Processes; None for as many as there are cores; or ``dask:tcp://HOST:PORT``.  The
            result is the same.
        out: The run folder to write; None to write nothing.
        overwrite: Write into a folder that holds something already.
        hooks: A log.

    Raises:
        InputError: Something that was given cannot be used.
        InfeasibleError: The text does not fit; the message names the nearest that does.
        MotifError: The folder cannot be written.
    """
    _check(text, strands, reads, designs)
    settings, said = apply(Settings(), asked or Asked())
    stash = settings.stash or _proposed(settings.show)
    brief = Brief(
        title=" ".join(text.split())[:200] or "Letters",
        strands=strands,
        length_mm=settings.length_mm,
        wrist_mm=settings.wrist_mm,
        stash=stash,
        stash_path=stash.source,
        folded=settings.folded,
        first_notch=settings.first_notch,
        colours_min=min(2, len(stash.names)),
        colours_max=min(3, len(stash.names)),
        pairing=settings.pairing,
        cut_style=settings.style,
        allowances=settings.allowances,
        limits=Limits(repeat_rows_max=400, on_hand=False),
        search=SearchSettings(seed=seed, periods=(2,)),
        gallery_size=designs,
        text=text,
        reads=reads,
        repeated=repeated,
        ink=ink,
        ground=ground,
    )
    said = (*said, *default_length(settings, asked))
    return lettered(
        brief, workers=workers, paper=settings.paper, out=out, overwrite=overwrite, hooks=hooks,
        said=said,
    )  # fmt: skip


def lettered(
    brief: Brief,
    *,
    workers: Workers = 1,
    paper: str = "A4",
    out: str | Path | None = None,
    overwrite: bool = False,
    hooks: Hooks = SILENT,
    said: tuple[str, ...] = (),
    origin: Path | None = None,
) -> Run:
    """Return the bands of a brief that has a text; see `letters`.

    Args:
        brief: The brief.
        workers: Processes, or ``dask:tcp://HOST:PORT``; None for as many as there are cores.
        paper: Of the worksheets.
        out: The run folder to write; None to write nothing.
        overwrite: Write into a folder that holds something already.
        hooks: A log.
        said: Lines that come first.
        origin: The file that the brief was read from.

    Raises:
        InputError: Something that was given cannot be used.
        InfeasibleError: The text does not fit, or the pieces on hand are not enough.
        MotifError: The folder cannot be written.
    """

    def made(
        pool: Executor | None,
    ) -> tuple[tuple[Candidate, ...], Record, dict[str, str | bytes], tuple[str, ...]]:
        candidates, facts = _designs(brief, paper, pool)
        written_down = Record(
            kind="letters", title=brief.title, seed=brief.search.seed, paper=paper,
            target={
                "wrong_cells": facts["wrong_cells"], "at_least": 0, "proven": facts["proven"],
                "wanted_cells": facts["designs"][0]["cells"],
            },
        )  # fmt: skip
        files = {**brief_files(brief), NAME: json_text(facts)}
        return candidates, written_down, files, (*said, *_told(facts))

    if out is None:
        with working(workers, brief.gallery_size) as pool:
            candidates, record, files, lines = made(pool)
        return Run(
            candidates=candidates, record=record, brief=brief, said=(*lines, *said_by(pool)),
            inputs=files,
        )  # fmt: skip
    with (
        owned(Path(out), "letters") as place,
        working(workers, brief.gallery_size) as pool,
    ):
        place.refuse_unless_empty(overwrite)
        place.refuse_inputs(read_files(brief, origin))
        candidates, record, files, lines = made(pool)
        hooks.chosen(brief, candidates)
        written = write_gallery(
            place,
            candidates,
            record,
            inputs=files,
            gone=older_files(place, candidates),
            tick=lambda done: hooks.log(f"writing candidate {done} of {len(candidates)} ..."),
            executor=pool,
        )
    return Run(
        candidates=candidates, record=record, brief=brief, folder=Path(out),
        said=(*lines, *written.said, *said_by(pool)),
    )  # fmt: skip


def _check(text: str, strands: int, reads: str, designs: int) -> None:
    """Refuse what a brief would refuse, by the same records."""
    if len(text) > LONGEST_TEXT:
        raise InputError(f"expected at most {LONGEST_TEXT} letters", text, source="TEXT")
    for key, value in (("strands", strands), ("gallery.size", designs)):
        r = record(key)
        if not r.low <= value <= r.high:
            source = "--designs" if key == "gallery.size" else r.option
            raise InputError(f"expected {r.low:g} to {r.high:g}", value, source=source)
    choices = record("reads").choices
    if reads not in choices:
        raise InputError(f"expected one of {', '.join(choices)}", reads, source="--reads")


def folder_of(text: str) -> Path:
    """Return the run folder of a text when none is given.

    Examples:
        >>> folder_of("MIA & JO").as_posix()
        'results/letters-mia-jo'
    """
    safe = "".join(c if c.isalnum() else " " for c in text.lower())
    return Path("results") / "-".join(["letters", *safe.split()])[:60]


def _proposed(show: str) -> Stash:
    threads = tuple(StashThread(n, c, DEFAULT_DIAMETER_MM, None, ()) for n, c in PROPOSED)
    return Stash(threads, show=show)


def _designs(
    brief: Brief, paper: str, pool: Executor | None
) -> tuple[tuple[Candidate, ...], dict[str, Any]]:
    """Return the ranked designs of a text, and what ``letters.json`` says of them."""
    made_with = settings_of(brief, paper=paper)
    folded = brief.folded and brief.strands % 2 == 0
    found: list[tuple[float, int, Candidate, dict[str, Any]]] = []
    short: list[str] = []
    tried = enumerate(ideas(brief))
    while len(found) < brief.gallery_size:
        # As many as are still wanted, whatever the number of workers: the same designs come out.
        some = list(islice(tried, brief.gallery_size - len(found)))
        if not some:
            break
        jobs = [(idea, n, brief, folded, made_with) for n, idea in some]
        made = list(in_turn(pool, _design, jobs))
        for (n, _), one in zip(some, made, strict=True):
            if one is None:
                continue
            candidate, facts = one
            plan = candidate.plan
            if brief.limits.on_hand and plan is not None and plan.missing:
                short += [c.colour for c in candidate.cuts.cuts if c.colour not in short]
                continue
            # The plainest stays first; the others follow by worth.
            found.append((-candidate.wishes_met if n else -1.0, n, candidate, facts))
    if not found:
        raise InfeasibleError(
            f"the pieces on hand are not enough for this text in any of {', '.join(short)}; "
            "the nearest that works: a shorter text or band, or any amount (--any-amount)"
        )
    found.sort(key=lambda item: item[:2])
    candidates = numbered([one for _, _, one, _ in found])
    designs = [{"folder": c.folder, **f} for c, (_, _, _, f) in zip(candidates, found, strict=True)]
    first = designs[0]
    facts = {
        "text": first["text"],
        "wrong_cells": first["wrong_cells"],
        "proven": all(d["wrong_cells"] == 0 for d in designs),
        "reads": brief.reads,
        "times": first["times"],
        "strands": brief.strands,
        "hold": "first row at the left, strand 1 below",
        "designs": designs,
    }
    return candidates, facts


def plainest(brief: Brief) -> tuple[Candidate, dict[str, Any]]:
    """Return the design of a text that comes first, and its facts as in ``letters.json``.

    Whether the pieces on hand are enough for it stands in its plan.

    Raises:
        InputError: A thread that is not on hand.
        InfeasibleError: The text does not fit; the message names the nearest that does.
    """
    folded = brief.folded and brief.strands % 2 == 0
    for n, idea in enumerate(ideas(brief)):
        found = _design((idea, n, brief, folded, settings_of(brief)))
        if found is not None:
            return found
    raise InfeasibleError("these letters cannot be knotted with these threads")


def _design(
    job: tuple[Idea, int, Brief, bool, Settings],
) -> tuple[Candidate, dict[str, Any]] | None:
    """Return the design of one idea and its facts; None where its edge cannot be knotted."""
    idea, n, brief, folded, made_with = job
    target = _target(idea, brief)
    walk = exact_walk(target.cells, brief.strands, folded, idea.edge is not None)
    if walk is None:
        return None
    rng = np.random.Generator(np.random.PCG64(np.random.SeedSequence((brief.search.seed, n))))
    walk = quicker(walk, target.cells, folded, rng)
    pattern = knotted(walk, target)
    one = assemble(pattern, made_with, notes=notes_of(brief))
    share = returning_knots(walk) / knots_in_grid(brief.strands, target.rows)
    degrees = {
        "reads_well": reads_well(idea, brief.strands),
        "evenness": one.scores.thread.evenness,
        "quick": 1.0 - share,
    }
    worth = sum(WEIGHTS[k] * v for k, v in degrees.items()) / sum(WEIGHTS.values())
    wishes = {k: round(v, 9) for k, v in degrees.items()}
    one = replace(one, wishes=wishes, wishes_met=round(worth, 9))
    return one, _facts(idea, wrong_knots(pattern, target), target)


def _target(idea: Idea, brief: Brief) -> Target:
    cells = idea.words.cells(
        side_cells(idea.words, idea.beside),
        edge=idea.edge is not None,
        reads=cast(Reads, brief.reads),
    )
    names = tuple(t.name for t in idea.threads)
    inks = tuple(t.colour for t in idea.threads)
    return Target(idea.title, brief.strands, names, inks, cells)


def reads_well(idea: Idea, strands: int) -> float:
    """Return how well a text reads, 0 to 1: contrast, height, and how little stands beside it."""
    ground, ink = idea.ground.colour, idea.ink.colour
    return (
        min(1.0, colour_difference(ground, ink) / FULL)
        * min(1.0, 0.3 + idea.words.height / (strands - 1))
        * (BESIDE if idea.beside != "plain" else 1.0)
        * (LIGHT if lab(ink)[0] > lab(ground)[0] else 1.0)
        * (EDGED if idea.edge is not None else 1.0)
    )


def notes_of(brief: Brief) -> tuple[str, ...]:
    """Return what has to be known of the bands of a brief with a text; nothing without one."""
    if not brief.text:
        return ()
    begins = "first" if brief.reads == "wearer" else "last"
    return (
        f"Every knot is as the letters need it. The text begins at the {begins} row and reads for "
        f"{READERS[brief.reads]} when the start of the band lies at the wearer's left.",
        "Do not knot it mirrored: the letters would stand reversed.",
    )


def _facts(idea: Idea, wrong: int, target: Target) -> dict[str, Any]:
    return {
        "text": idea.words.text,
        "wrong_cells": wrong,
        "cells": target.wanted,
        "height": idea.words.height,
        "narrow": idea.words.narrow,
        "rows": idea.words.rows,
        "text_rows": idea.words.width,
        "times": idea.words.times,
        "ground": idea.ground.name,
        "ink": idea.ink.name,
        "edge": idea.edge.name if idea.edge else None,
        "beside": idea.beside,
    }


def _told(facts: dict[str, Any]) -> tuple[str, ...]:
    first = facts["designs"][0]
    often = "once, in the middle" if facts["times"] == 1 else f"{facts['times']} times"
    narrow = ", in narrow letters" if first["narrow"] else ""
    other = "wearer" if facts["reads"] == "onlooker" else "onlooker"
    return (
        f"{facts['text']} can be knotted exactly ({first['cells']} knots, "
        f"{facts['wrong_cells']} wrong): {often}{narrow}.",
        f"It reads for {READERS[facts['reads']]} when the start of the band lies at the wearer's "
        f"left (--reads {other} for the other way).",
    )
