"""``vary``: more like this one, with locks on what must stay.

A design of a run is varied under its run's brief: its threads, lengths, limits and wishes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from motifsearch.base.errors import InfeasibleError, InputError
from motifsearch.describe.titles import give_titles
from motifsearch.pattern.design import Pattern
from motifsearch.runs.candidate import Candidate, assemble
from motifsearch.runs.fitting import fitted
from motifsearch.runs.gallery import numbered, older_files, write_gallery
from motifsearch.runs.hooks import SILENT, Hooks
from motifsearch.runs.inputs import brief_files, read_files, target_picture
from motifsearch.runs.one import Design, Opened, opened
from motifsearch.runs.record import Record
from motifsearch.runs.result import Run
from motifsearch.runs.settings import Asked, Settings, default_length, settings_of
from motifsearch.runs.store import owned
from motifsearch.search.brief import Brief, brief_of
from motifsearch.search.nearby import variations, worth_of

#: Rows in which a design is varied, at least.
ROOM = 8
#: Repeats up to this many rows may always be tried.
MOST_ROWS = 48


def parse_rows(text: str, rows: int) -> list[int]:
    """Return the 0-based rows of a list such as ``1-4,9``.

    Raises:
        InputError: It is no such list, or names a row that the design does not have.

    Examples:
        >>> parse_rows("1-3,6", 6)
        [0, 1, 2, 5]
    """
    out: set[int] = set()
    for part in text.replace(" ", "").split(","):
        if not part:
            continue
        first, sign, last = part.partition("-")
        try:
            low, high = int(first), int(last) if sign else int(first)
        except ValueError:
            low = high = 0
        if not 1 <= low <= high <= rows:
            raise InputError(
                f"expected rows such as 1-4,9 from 1 to {rows}", part, source="--keep-rows"
            )
        out.update(range(low - 1, high))
    return sorted(out)


def vary(
    design: Design,
    *,
    asked: Asked | None = None,
    keep_rows: str | Sequence[int] = "",
    keep_border: bool = False,
    keep_colours: bool = False,
    keep_symmetry: bool = False,
    seed: int = 1,
    size: int = 12,
    out: str | Path | None = None,
    overwrite: bool = False,
    hooks: Hooks = SILENT,
) -> Run:
    """Return designs that are near to a given one, the given one first.

    Args:
        design: The design, its file, or a candidate.
        asked: What is to be other than in the design's own run; a design of no run needs a stash.
        keep_rows: Rows whose knots stay: a text such as ``1-4,9``, or numbers from 1.
        keep_border: The knots of the outermost strands stay.
        keep_colours: The colour order stays.
        keep_symmetry: Every exact symmetry of the face stays.
        seed: Of the random generator.
        size: How many variations.
        out: The run folder to write; None to write nothing.
        overwrite: Write into a folder that holds something already.
        hooks: A log.

    Raises:
        InputError: Something that was given cannot be used.
        InfeasibleError: No other design keeps all that is locked.
        MotifError: The folder cannot be written.
    """
    one = opened(design, asked)
    if one.settings.stash is None:
        raise InputError("a design that belongs to no run needs the threads on hand: give --stash",
                         source="--stash")  # fmt: skip
    brief, pattern, exchanged = _brief(one, keep_colours, seed, size)
    rows = (
        parse_rows(keep_rows, pattern.rows)
        if isinstance(keep_rows, str)
        else parse_rows(",".join(map(str, keep_rows)), pattern.rows)
    )

    # A short grid leaves no room for a change: its rows come again before they are varied.
    times = -(-ROOM // pattern.rows)
    wide = replace(pattern, knots=pattern.knots * times)
    brief = replace(brief, search=replace(brief.search, periods=(wide.rows,)))
    kept = [row + n * pattern.rows for n in range(times) for row in rows]

    def made() -> tuple[tuple[Candidate, ...], list[str]]:
        found = variations(
            wide,
            brief,
            rows=kept,
            border=keep_border or brief.limits.border,
            colours=keep_colours,
            symmetry=keep_symmetry,
        )
        if not found:
            raise InfeasibleError(
                "no other design keeps all that is locked; unlock something (--keep-...)"
            )
        said = [
            line for line in (*one.said, *default_length(one.settings, asked), exchanged) if line
        ]
        if len(found) < size:
            said.append(
                f"{len(found)} variations instead of {size}: no more were found that differ enough"
            )
        return _candidates(pattern, found, brief, one.settings), said

    record = Record(kind="vary", title=brief.title, seed=seed, paper=one.settings.paper)
    if out is None:
        candidates, said = made()
        return Run(
            candidates=candidates, record=record, brief=brief, said=tuple(said),
            inputs=brief_files(brief),
        )  # fmt: skip
    with owned(Path(out), "variations") as place:
        place.refuse_unless_empty(overwrite)
        place.refuse_inputs(read_files(brief, one.path))
        candidates, said = made()
        written = write_gallery(
            place,
            candidates,
            record,
            inputs=brief_files(brief),
            gone=older_files(place, candidates),
            tick=lambda done: hooks.log(f"writing candidate {done} of {len(candidates)} ..."),
        )
    return Run(
        candidates=candidates, record=record, brief=brief, folder=Path(out),
        said=(*said, *written.said),
    )  # fmt: skip


def _brief(one: Opened, keep_colours: bool, seed: int, size: int) -> tuple[Brief, Pattern, str]:
    """Return the brief of the variations, the design in its threads, and what was exchanged."""
    pattern, settings, path = one.pattern, one.settings, one.path
    stash = settings.stash
    assert stash is not None
    run = settings.brief
    if run is not None:
        base = run.of_width(pattern.strands)
        palette = tuple(n for n in stash.names if not base.colours or n in base.colours)
    else:
        base = brief_of(
            {"strands": pattern.strands, "length_mm": settings.length_mm, "stash": stash.source}
        )
        palette = stash.names
    if run is not None and set(pattern.palette) - set(palette):
        palette = stash.names
    pattern, exchanged = fitted(pattern, stash, palette)
    rows = pattern.rows
    name = pattern.title or (path.stem if path else "a design")
    brief = replace(
        base,
        title=f"Variations of {name}"[:200],
        length_mm=settings.length_mm,
        wrist_mm=settings.wrist_mm,
        stash=stash,
        colours=tuple(n for n in palette if n in stash.names) if run is not None else (),
        colours_min=1,
        colours_max=min(24, len(pattern.palette) + (0 if keep_colours else 1)),
        folded=settings.folded and _even(pattern),
        pairing=settings.pairing,
        cut_style=settings.style,
        allowances=settings.allowances,
        first_notch=settings.first_notch,
        limits=replace(
            base.limits, repeat_rows_max=max(base.limits.repeat_rows_max, MOST_ROWS, rows)
        ),
        search=replace(
            base.search, seed=seed, periods=(rows,) if rows <= MOST_ROWS else (MOST_ROWS,)
        ),
        gallery_size=size,
    )
    return brief, pattern, exchanged


def _even(pattern: Pattern) -> bool:
    odd = sum(pattern.colour_order.count(name) % 2 for name in pattern.palette)
    return odd <= pattern.strands % 2


def _candidates(
    pattern: Pattern, found: list[tuple[Pattern, float]], brief: Brief, settings: Settings
) -> tuple[Candidate, ...]:
    made_with = settings_of(brief, paper=settings.paper)
    designs = [pattern, *(made for made, _ in found)]
    worth = [worth_of(pattern, brief), *(value for _, value in found)]
    plain = [
        assemble(
            one,
            made_with,
            wishes_met=value,
            notes=("This is the design that was varied.",) if n == 0 else (),
            target_png=target_picture(one, brief),
        )
        for n, (one, value) in enumerate(zip(designs, worth, strict=True))
    ]
    given = give_titles(designs, [one.scores for one in plain])
    titles = [pattern.title, *given[1:]]
    return numbered(
        [
            replace(one, pattern=replace(one.pattern, title=title))
            for one, title in zip(plain, titles, strict=True)
        ]
    )
