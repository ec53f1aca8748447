"""A design as it is now: other colours, another wrist, mirrored; all of it reckoned anew.

Nothing here is marked stale: scores, cuts, plan, time and worksheet follow from the design and its
settings (`motifsearch.runs.candidate`).  A design of a run is made with the run's settings, and its
threads are those of the workroom's box as it stands; a colour that is not in it is to be bought.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

from motifsearch.base.errors import InputError
from motifsearch.base.units import cut_text
from motifsearch.page.group import ROWS as HANGING_ROWS
from motifsearch.pattern.design import Pattern
from motifsearch.pattern.files import format_pattern, read_pattern
from motifsearch.runs.box import read_box
from motifsearch.runs.candidate import Candidate, assemble, ways_to_cut, with_unknown
from motifsearch.runs.handing import as_planned
from motifsearch.runs.hanging import design_data, design_of, key_of
from motifsearch.runs.lettering import notes_of
from motifsearch.runs.settings import Asked, Settings, apply, run_of, settings_of
from motifsearch.runs.workroom import Workroom
from motifsearch.search.brief import read_brief
from motifsearch.search.records import DEFAULT_EASE_MM, DEFAULT_FASTENING_MM
from motifsearch.worksheet.steps import mirror_image

#: What may be asked of a design in a look, beside the design itself.
ASKED: Final = ("length_mm", "folded", "pairing", "style", "first_notch", "show", "paper")


def recoloured(pattern: Pattern, exchange: Mapping[str, str], inks: Mapping[str, str]) -> Pattern:
    """Return a design with other threads for some of its colours.

    Args:
        pattern: The design.
        exchange: Colour name to the name that takes its place; two may become one, or change
            places.
        inks: ``#rrggbb`` of every new name.

    Raises:
        InputError: A name that the design, or the inks, do not have.

    Examples:
        >>> from motifsearch.pattern.design import make_pattern
        >>> p = make_pattern("", ["rr rl", "ll"], "abab", {"a": "#112233", "b": "#ffffff"})
        >>> recoloured(p, {"a": "c"}, {"c": "#aa0000"}).colour_order
        ('c', 'b', 'c', 'b')
    """
    for old, new in exchange.items():
        if old not in pattern.palette:
            raise InputError("expected a colour of the design", old, source="--recolour")
        if new not in inks and new not in pattern.palette:
            raise InputError("expected a thread on hand", new, source="--recolour")
    order = tuple(exchange.get(name, name) for name in pattern.colour_order)
    colours = {n: inks.get(n) or pattern.colours[n] for n in dict.fromkeys(order)}
    return replace(pattern, colour_order=order, colours=colours)


def length_of(wrist_mm: float, settings: Settings) -> float:
    """Return the knotted length for a wrist, with the ease and fastening of a design's brief."""
    brief = settings.brief
    ease = DEFAULT_EASE_MM if brief is None else brief.ease_mm
    fastening = DEFAULT_FASTENING_MM if brief is None else brief.fastening_mm
    return wrist_mm + ease - fastening


@dataclass(frozen=True)
class Tried:
    """A design as it is tried out.

    Attributes:
        candidate: With all that follows from it.
        run: The run that its settings come from, relative to the workroom; empty for none.
        said: Where its settings come from.
        to_buy: Its colours that are not in the box.
        wall: The run that it hangs in, relative to the workroom; empty for none.
        planned: Whether its plan is its part of that of a group.
    """

    candidate: Candidate
    run: str
    said: tuple[str, ...]
    to_buy: tuple[str, ...]
    wall: str = ""
    planned: bool = False


def opened_design(room: Workroom, ask: Mapping[str, Any]) -> tuple[Pattern, str]:
    """Return the design that is asked for, and the run that its settings come from.

    Args:
        room: The workroom.
        ask: ``of``, a pattern's folder or file in the workroom, or ``design`` (see
            `motifsearch.runs.hanging.design_data`); ``run``, where it is not plain from ``of``.

    Raises:
        InputError: It is no design, or stands outside of the folder.
    """
    run = str(ask.get("run") or "")
    if ask.get("design") is not None:
        if not isinstance(ask["design"], Mapping):
            raise InputError("expected a design", source="design")
        return design_of(ask["design"]), run
    of = str(ask.get("of") or "")
    path = room.inside(of)
    if path.is_dir():
        path = path / "pattern.toml"
    if not run and "/candidates/" in of:
        # A band of a group may have the settings of its own length.
        own = run_of(path)
        run = of.partition("/candidates/")[0] if own is None else room.named(own)
    return read_pattern(path), run


def settings_in(room: Workroom, run: str, ask: Mapping[str, Any]) -> tuple[Settings, Asked]:
    """Return the settings of a design of a run, and what is asked for instead."""
    own = Settings()
    if run:
        folder = room.run(run)
        if (folder / "brief.toml").is_file():
            own = settings_of(read_brief(folder / "brief.toml"), source=folder)
    given = {key: ask[key] for key in ASKED if ask.get(key) is not None}
    for key in ("length_mm", "wrist_mm"):
        value = ask.get(key)
        if value is not None and (isinstance(value, bool) or not isinstance(value, int | float)):
            raise InputError("expected a number", value, key=key)
    if ask.get("wrist_mm") is not None:
        given["length_mm"] = length_of(float(ask["wrist_mm"]), own)
    box = read_box(room).stash
    stash = box if box is not None else own.stash
    return own, Asked(**{**given, "stash": stash})


def tried(room: Workroom, ask: Mapping[str, Any]) -> Tried:
    """Return a design as it is now, with everything reckoned anew.

    Args:
        room: The workroom.
        ask: See `opened_design`; further ``recolour`` (old name to new), ``mirror``, ``wrist_mm``
            and the names of `ASKED`.

    Raises:
        InputError: Something of it cannot be used.
    """
    pattern, run = opened_design(room, ask)
    own, asked = settings_in(room, run, ask)
    stash = asked.stash
    assert not isinstance(stash, Path | str)
    exchange = ask.get("recolour") or {}
    if not isinstance(exchange, Mapping):
        raise InputError("expected old names and new ones", source="recolour")
    inks = {t.name: t.colour for t in stash.threads} if stash is not None else {}
    if exchange:
        pattern = recoloured(pattern, {str(k): str(v) for k, v in exchange.items()}, inks)
    if ask.get("mirror"):
        pattern = mirror_image(pattern)
    if ask.get("title"):
        pattern = replace(pattern, title=str(ask["title"])[:200])
    # A thread of the box has the colour that it has there.
    pattern = replace(pattern, colours={n: inks.get(n, c) for n, c in pattern.colours.items()})
    lacking = () if stash is None else tuple(n for n in pattern.palette if n not in stash.names)
    if stash is not None:
        asked = replace(asked, stash=with_unknown(stash, pattern))
    settings, said = apply(own, asked)
    if ask.get("wrist_mm") is not None:
        settings = replace(settings, wrist_mm=float(ask["wrist_mm"]))
    odd = sum(pattern.colour_order.count(n) % 2 for n in pattern.palette)
    if odd > pattern.strands % 2:
        settings = replace(settings, folded=False)
    made = assemble(
        pattern, settings, notes=() if settings.brief is None else notes_of(settings.brief)
    )
    of = str(ask.get("of") or "") if ask.get("design") is None else ""
    wall = of.partition("/candidates/")[0] if "/candidates/" in of else run.partition("/runs/")[0]
    planned = made
    if of and not exchange and not ask.get("mirror"):
        path = room.inside(of)
        planned = as_planned(path / "pattern.toml" if path.is_dir() else path, made)
    return Tried(planned, run, said, lacking, wall, planned is not made)


def look(room: Workroom, ask: Mapping[str, Any]) -> dict[str, Any]:
    """Return all that a page shows of a design as it is now.

    Raises:
        InputError: As `tried`.
    """
    from motifsearch.page.gallery import design_data as page_data
    from motifsearch.pattern.walk import repeat_rows
    from motifsearch.runs.briefing import WISH_LABELS
    from motifsearch.thread.texts import cut_list_text, plan_text

    one = tried(room, ask)
    made = one.candidate
    pattern, settings = made.pattern, made.settings
    shown = page_data(made, key_of(pattern), WISH_LABELS)
    text = "" if settings.brief is None else settings.brief.text
    return {
        **shown,
        "key": key_of(pattern),
        "design": design_data(pattern),
        "lying": pattern.rows > HANGING_ROWS or bool(text),
        "text": text,
        "reads": "wearer" if settings.brief is None else settings.brief.reads,
        "alt": made.words,
        "run": one.run,
        "wall": one.wall,
        "planned": one.planned,
        "cutting": _cutting(made),
        "notes": list(made.notes),
        "said": list(one.said),
        "toBuy": list(one.to_buy),
        "wristMm": settings.wrist_mm,
        "ease": length_of(0.0, settings),
        "show": settings.show,
        "rowsOfRepeat": repeat_rows(pattern),
        "period": pattern.rows,
        "cutText": cut_list_text(made.cuts, settings.show),
        "planText": "" if made.plan is None else plan_text(made.plan, settings.show),
        "totalMm": made.cuts.total_mm,
        "minutes": made.scores["handling"]["minutes"],
    }


def _cutting(made: Candidate) -> dict[str, Any]:
    """Return how a band is cut, and what the simple way costs."""
    ways = ways_to_cut(made)
    return {
        "style": made.settings.style,
        "simple": made.cuts.exact_mm is not None,
        "length": cut_text(max(cut.length_mm for cut in ways.simple.cuts), made.settings.show),
        "more": cut_text(max(0.0, ways.more_mm), made.settings.show),
        "share": round(max(0.0, ways.more_mm) / ways.exact.total_mm, 4),
        "simpleFits": ways.simple_fits,
    }


def change(
    design: Pattern | Candidate | str | Path,
    *,
    recolour: Mapping[str, str] | None = None,
    mirror: bool = False,
    asked: Asked | None = None,
    out: str | Path | None = None,
    overwrite: bool = False,
) -> Candidate:
    """Return a design with other threads, or seen in a mirror, with everything reckoned anew.

    Args:
        design: The design, its file, or a candidate.
        recolour: Colour name to the name of the thread that takes its place.
        mirror: Whether left and right change places.
        asked: What is to be other than in the design's own run; its stash brings the new threads.
        out: The pattern file to write; None to write nothing.
        overwrite: Write over an existing file.

    Raises:
        InputError: A thread that is not on hand, or as `motifsearch.runs.one.candidate`.
        MotifError: The file cannot be written.
    """
    from motifsearch.runs.one import opened, write_new

    one = opened(design, asked)
    stash = one.settings.stash
    inks = {t.name: t.colour for t in stash.threads} if stash is not None else {}
    pattern = recoloured(one.pattern, recolour or {}, inks)
    if mirror:
        pattern = mirror_image(pattern)
    settings = one.settings
    if stash is not None:
        settings = replace(settings, stash=with_unknown(stash, pattern))
    made = assemble(pattern, settings)
    if out is not None:
        write_new(Path(out), format_pattern(pattern), overwrite)
    return made
