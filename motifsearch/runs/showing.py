"""``show``: designs in the terminal, with their scores and the order of work."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Final

from motifsearch.base.text import clean_text
from motifsearch.draw.terminal import score_table, show_face
from motifsearch.pattern.notches import Setting
from motifsearch.pattern.passes import plan_passes
from motifsearch.runs.candidate import Candidate
from motifsearch.runs.one import candidate
from motifsearch.runs.rebuilding import open_run
from motifsearch.runs.settings import Asked
from motifsearch.worksheet.steps import describe

#: Rows shown when nothing is said: two repeats, at most these.
SHOWN_ROWS: Final = 40


def show(
    what: str | Path,
    *,
    rows: int | None = None,
    passes: bool = False,
    colour: bool = False,
    asked: Asked | None = None,
) -> tuple[Iterator[str], tuple[str, ...]]:
    """Return a design, or all designs of a run, as texts for a terminal, and lines about them.

    Args:
        what: A pattern file or a run folder.
        rows: Rows shown; two repeats when None.
        passes: The order of work too.
        colour: In the colours of the threads.
        asked: What is to be other than in the design's own run.

    Raises:
        InputError: It cannot be used.
    """
    if Path(what).is_dir():
        run = open_run(what)
        said = run.said
        shown = [candidate(one, asked)[0] for one in run]
        names = [f"{Path(one.folder).name}  " for one in shown]
    else:
        one, said = candidate(what, asked)
        shown, names = [one], [""]
    alone = not Path(what).is_dir()

    def texts() -> Iterator[str]:
        for one, name in zip(shown, names, strict=True):
            height = rows or min(2 * one.scores["repeat_rows"], SHOWN_ROWS)
            parts = [
                f"{name}{clean_text(one.title)}",
                show_face(one.pattern, height, colour=colour),
            ]
            if alone:
                parts.append(score_table(one.scores))
            if passes:
                parts.append(pass_lines(one))
            yield "\n".join(parts) + "\n"

    return texts(), said


def pass_lines(one: Candidate) -> str:
    """Return the order of work of one period of the grid, a line each pass."""
    setting = Setting(one.pattern.strands, one.settings.first_notch, False)
    plan = plan_passes(one.pattern)
    lines = [f"Order of work for one period: {len(plan.passes)} passes"]
    for n, step in enumerate(plan.passes, 1):
        action, outcome, _ = describe(step, setting)
        lines.append(f"{n:3d}. notch {setting.notch(step.start)}: {action}; {outcome}")
    return "\n".join(lines)
