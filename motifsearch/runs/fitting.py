"""Fitting a design to the threads on hand: colours that are not there become the nearest that are.

Nearest by CIEDE2000 (CIE 142:2001); every thread stands for one colour, so that a design keeps as
many colours as it had.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from motifsearch.base.colour import colour_difference
from motifsearch.base.errors import InputError
from motifsearch.pattern.canonical_form import shortest_period
from motifsearch.pattern.design import Pattern
from motifsearch.search.brief import Brief
from motifsearch.thread.stash import Stash


def check_rows(pattern: Pattern, brief: Brief, source: str | Path | None = None) -> None:
    """Refuse a design to start from whose rows go into no grid that the brief tries.

    Args:
        pattern: The design.
        brief: The brief.
        source: The design's file, for the message.

    Raises:
        InputError: The rows after which its knots are as before divide no period of the brief.
    """
    rows = len(shortest_period(pattern.knots))
    if any(period % rows == 0 for period in brief.search.periods):
        return
    tried = ", ".join(map(str, sorted(brief.search.periods)))
    advice = f"give the brief search.periods = [{rows}]"
    if rows > brief.limits.repeat_rows_max:
        advice += f" and limits.repeat_rows_max = {rows}"
    raise InputError(
        f"expected a design to start from whose rows go into a grid that is tried, {tried} rows; "
        f"{advice}",
        f"{rows} rows",
        source=source,
    )


def fitted(pattern: Pattern, stash: Stash, palette: tuple[str, ...]) -> tuple[Pattern, str]:
    """Return a design in the colours of a stash, and what was exchanged.

    Args:
        pattern: The design.
        stash: The threads on hand.
        palette: The names of those that may be used.

    Returns:
        The design with the stash's own colours, and a line that says which were exchanged; empty
        where none was.

    Raises:
        InputError: It has more colours than may be used.
    """
    free = [name for name in palette if name not in pattern.palette]
    exchange: dict[str, str] = {}
    for name in pattern.palette:
        if name in palette:
            continue
        if not free:
            raise InputError(
                f"expected a design of at most {len(palette)} colours: no more are on hand",
                f"{len(pattern.palette)} colours",
                source=stash.source or "stash",
            )
        ink = pattern.colours[name]
        best = min(free, key=lambda n: colour_difference(ink, stash.thread(n).colour))
        free.remove(best)
        exchange[name] = best
    order = tuple(exchange.get(name, name) for name in pattern.colour_order)
    inks = {name: stash.thread(name).colour for name in dict.fromkeys(order)}
    said = ", ".join(f"{new} for {old}" for old, new in exchange.items())
    return replace(pattern, colour_order=order, colours=inks), said and f"not on hand: {said}"
