"""``find``: designs for a box of threads without a search, from the kinds that were ever found.

The same run comes out as from a search: ranked, varied, proven by exact plans, with a gallery where
there is a folder, and it can be gone on with.
"""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import Any

from motifsearch.base.errors import InfeasibleError, InputError, NotFoundError
from motifsearch.library.alike import Looked, like_pattern, like_target
from motifsearch.library.opening import Where, libraries
from motifsearch.library.proposing import Proposed, propose
from motifsearch.library.screen import kept_alone
from motifsearch.library.store import Library
from motifsearch.pattern.design import Pattern
from motifsearch.pattern.files import read_pattern
from motifsearch.runs.ending import FOUND, finished, reasons_by_width
from motifsearch.runs.home import Home
from motifsearch.runs.hooks import SILENT, Hooks
from motifsearch.runs.inputs import read_files
from motifsearch.runs.result import Run
from motifsearch.runs.searching import default_folder, resolve
from motifsearch.runs.store import owned
from motifsearch.runs.workers import Workers
from motifsearch.search.anew import asked_of
from motifsearch.search.brief import Brief
from motifsearch.search.diagnose import diagnose
from motifsearch.target.reading import read_target


def find(
    brief: Brief | str | Path | None = None,
    *,
    overrides: Mapping[str, Any] | None = None,
    library: Where = None,
    both: bool = False,
    like: Pattern | str | Path | None = None,
    out: str | Path | None = None,
    overwrite: bool = False,
    workers: Workers = 1,
    paper: str = "A4",
    hooks: Hooks = SILENT,
) -> Run:
    """Find designs for a brief among the kinds of a library; nothing is searched.

    Args:
        brief: The brief, or its file; None when the overrides say everything.
        overrides: Keys of the brief with other values.
        library: The library's file, or several; the one that comes with the program when None.
        both: Look in the one that comes with the program beside those named.
        like: A design, its file, a text or a picture: what is drawn most like it comes first,
            whatever the colours; strands may then be left out where it tells them.
        out: The run folder to write; None to write nothing.
        overwrite: Write into a folder that holds something already.
        workers: Processes that draw, or ``dask:tcp://HOST:PORT``; None for as many as there are
            cores.
        paper: Of the worksheets: A4 or Letter.
        hooks: A log.

    Raises:
        InputError: Something that was given cannot be used.
        InfeasibleError: No design can keep the limits, or no kind of the library does.
        MotifError: The folder cannot be written.
    """
    started = time.monotonic()
    resolved, path, looked = asked(brief, overrides, like)
    with ExitStack() as stack:
        own = stack.enter_context(libraries(library, both=both))
        home = None
        if out is not None:
            place = stack.enter_context(owned(Path(out), "designs from the library"))
            place.refuse_unless_empty(overwrite)
            read = [one.path for one in own]
            read += [Path(like)] if like is not None and not isinstance(like, Pattern) else []
            place.refuse_inputs(read_files(resolved, path, read))
            home = Home(place, fresh=True)
        found = proposed(own, resolved, looked)
        hooks.seen(resolved, found.run)
        hooks.log("choosing, and proving by cutting plans ...")
        each = found.each or {resolved.strands: found}
        said = tuple(
            f"Looked at {one.looked_at:,} kinds of {strands} strands: "
            f"{one.coloured:,} designs were judged, {one.kept:,} keep the limits."
            for strands, one in each.items()
            if one.pool
        )
        left = reasons_by_width(diagnose(resolved)) | {
            strands: _sentence(_nothing(resolved.of_width(strands), own, one))
            for strands, one in found.each.items()
            if not one.pool
        }
        return finished(
            resolved, found.run, home, pool=found.pool, alike=looked is not None, why=FOUND,
            started=started, scored=found.coloured, said=said, workers=workers, paper=paper,
            hooks=hooks, left_out=left,
        )  # fmt: skip


def asked(
    brief: Brief | str | Path | None,
    overrides: Mapping[str, Any] | None,
    like: Pattern | str | Path | None,
) -> tuple[Brief, Path | None, Looked | None]:
    """Return the brief, the file that it stands in, and what designs shall be like.

    Raises:
        InputError: Something that was given cannot be used.
    """
    overrides = dict(overrides or {})
    pattern = None
    if isinstance(like, Pattern):
        pattern = like
    elif like is not None and Path(like).suffix == ".toml":
        pattern = read_pattern(like)
    if pattern is not None and brief is None:
        overrides.setdefault("strands", pattern.strands)
    resolved, path = resolve(brief, overrides)
    if like is None:
        return resolved, path, None
    source = None if isinstance(like, Pattern) else Path(like)
    if pattern is not None:
        if pattern.strands not in resolved.every_width:
            raise InputError(
                f"expected a design of {resolved.strands_text} strands",
                f"{pattern.strands} strands",
                source=source,
            )
        resolved = resolved.of_width(pattern.strands)  # what is like it has its width
        return resolved, path, like_pattern(pattern, pattern.title or "the design")
    assert source is not None
    if resolved.widths:
        raise InputError(
            "expected one number of strands beside a picture", list(resolved.widths),
            source="--strands",
        )  # fmt: skip
    inks = {t.name: t.colour for t in resolved.stash.threads}
    target = read_target(source, strands=resolved.strands, colours=inks)
    return resolved, path, like_target(target, target.title or source.name)


def proposed(own: Sequence[Library], brief: Brief, looked: Looked | None = None) -> Proposed:
    """Return what libraries have for a brief.

    Raises:
        InfeasibleError: No design can keep the limits, or no kind of the libraries does.
    """
    reasons = diagnose(brief)
    if any(reason.stops for reason in reasons):
        raise InfeasibleError(" ".join(reason.text() for reason in reasons))
    found = propose(own, brief, looked)
    if not found.pool:
        each = found.each or {brief.strands: found}
        said = [_nothing(brief.of_width(s), own, one) for s, one in each.items()]
        said = [reason.text() for reason in reasons] + said
        raise NotFoundError(said[0] if len(said) == 1 else " ".join(map(_sentence, said)))
    found.run.asked = asked_of(brief)
    return found


def found_folder(path: Path | None, brief: Brief) -> Path:
    """Return ``results/NAME-found``, NAME from the brief's file or from its strands."""
    folder = default_folder(path, brief)
    return folder.with_name(folder.name.rpartition("-seed")[0] + "-found")


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:] + ("" if text.endswith(".") else ".")


def _nothing(brief: Brief, own: Sequence[Library], found: Proposed) -> str:
    if not found.looked_at:
        have = sorted({s.strands for library in own for s in library.sizes()})
        text = ", ".join(map(str, have)) or "none"
        return (
            f"the library has no kinds of {brief.strands} strands (it has: {text}); "
            "a search finds some"
        )
    if found.coloured:
        return (
            f"of {found.looked_at:,} kinds of {brief.strands} strands none keeps all limits with "
            "the threads on hand; a search may find some, or say which limit is to blame"
        )
    alone = kept_alone(own, brief)
    each = ", ".join(f"{label}: {kinds:,}" for label, kinds in alone.items() if label)
    return (
        f"of {found.looked_at:,} kinds of {brief.strands} strands none can be coloured so that it "
        f"keeps all limits (so many keep one alone: {each}); a search may find some, or say which "
        "limit is to blame"
    )
