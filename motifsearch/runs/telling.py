"""What is said of a run when it has ended, in lines for a person."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Final

from motifsearch.base.text import clean_text, count
from motifsearch.runs.result import Run

if TYPE_CHECKING:
    from motifsearch.runs.picking import Picked

#: Why a search stopped, in words.
REASONS: Final[Mapping[str, str]] = {
    "generations": "all generations are done",
    "seconds": "the time is over",
    "rest": "nothing got better any more",
    "found": "they come from a library",
    "whole": "every design of this brief was seen",
    "interrupted": "it was interrupted",
    "terminated": "it was told to end",
}


def search_text(run: Run) -> str:
    """Return what a search found, why it stopped, and how to go on."""
    why, best = run.record.stopped_by, run[0]
    lines = [
        f"{len(run)} designs in {run.folder}: {REASONS.get(why, why)} after "
        f"{run.record.generations} generations.",
        f"Scored {run.searched:,} designs in {run.seconds:.1f} s "
        f"({run.searched / max(run.seconds, 1e-9):,.0f} a second).",
        f"Best: {clean_text(best.title)} (wishes met to {best.wishes_met:.0%}).",
    ]
    lines += width_lines(run)
    if run.record.taste:
        lines.append(clean_text(str(run.record.taste.get("said", ""))))
    lines += whole_lines(run)
    if run.folder is not None:
        lines.append(f"Open {run.folder / 'gallery.html'} in a browser.")
        most = 0 if run.brief is None else run.brief.gallery_size
        if why in ("interrupted", "terminated") and len(run) < most:
            lines.append(f"Written are the best {len(run)}; going on writes up to {most}.")
        if why in ("interrupted", "terminated", "seconds"):
            lines.append(f"To go on: motifsearch search --resume {run.folder}")
    return "\n".join(lines) + "\n"


def found_text(run: Run) -> str:
    """Return what was found in a library, and how to go on."""
    best = run[0]
    lines = [
        f"{len(run)} designs{'' if run.folder is None else f' in {run.folder}'}, from the library.",
        f"Best: {clean_text(best.title)} (wishes met to {best.wishes_met:.0%}).",
        *width_lines(run),
    ]
    if run.folder is not None:
        lines.append(f"Open {run.folder / 'gallery.html'} in a browser.")
        lines.append(f"To search on from these: motifsearch search --resume {run.folder}")
    return "\n".join(lines) + "\n"


def width_lines(run: Run) -> list[str]:
    """Return how many designs there are of every number of strands, where several are asked for."""
    each = [f"{w['shown']} of {w['strands']} strands" for w in run.record.widths if w["shown"]]
    return [f"The gallery has {', '.join(each)}."] if each else []


def whole_lines(run: Run) -> list[str]:
    """Return what is known when every design of the brief was looked at, in words."""
    whole = run.record.whole
    if not whole:
        return []
    seen = "Every design" if whole.get("every") else "A design of every kind"
    lines = [f"{seen} with these strands, colours and grid lengths was looked at "
             f"({whole['designs']:,}): nothing better exists."]  # fmt: skip
    kinds = whole.get("kinds")
    if isinstance(kinds, int):
        shown = len(run)
        more = f"; the gallery shows {shown} that differ" if shown < kinds else ""
        lines.append(f"These are all: {count(kinds, 'design')}{more}.")
    else:
        lines.append(f"{whole['feasible']:,} of them keep the limits; the best are shown.")
    return lines


def pick_text(folder: Path, picked: Picked) -> str:
    """Return what is marked now, and how to go on."""
    lines = [f"Round {picked.round}, {count(picked.shown, 'design')} shown."]
    for words, marked in (("Wanted", picked.wanted), ("Not for me", picked.not_for_me)):
        if marked:
            titles = ", ".join(f"{n} ({clean_text(title)})" for n, title in marked)
            lines.append(f"{words}: {titles}.")
    if not (picked.wanted or picked.not_for_me):
        lines.append("Nothing is marked.")
    lines.append(f"To go on: motifsearch search --resume {folder}")
    return "\n".join(lines) + "\n"


def rebuild_text(run: Run) -> str:
    """Return what stands in a gallery that was made again."""
    page = "" if run.folder is None else f" in {run.folder / 'gallery.html'}"
    return (
        "\n".join([f"{len(run)} designs{page}", *(f"skipped {line}" for line in run.said)]) + "\n"
    )
