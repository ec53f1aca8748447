"""The charts of a gallery, made from its candidates and its record."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from motifsearch.base.errors import InputError
from motifsearch.draw.charts import likeness_map, progress_chart, trade_off_chart
from motifsearch.runs.briefing import wish_label
from motifsearch.search.variety import face_distance

if TYPE_CHECKING:
    from motifsearch.page.gallery import Chart
    from motifsearch.runs.candidate import Candidate
    from motifsearch.runs.record import Record

#: The charts by name, and what each shows.
CHARTS: Final[Mapping[str, str]] = {
    "progress": "how the search went: best, kinds found and the room that is covered",
    "trade-off": "what two wishes cost each other, with the designs of the gallery",
    "map": "the gallery by likeness: designs that look alike lie close together",
}
#: Designs that are drawn on a map or a trade-off at most; more would hide one another.
MOST_MARKS: Final = 60


def wishes_apart(candidates: Sequence[Candidate]) -> tuple[str, str]:
    """Return the two wishes that cost each other most in a gallery, the pair of a trade-off.

    They are those with the most negative covariance of how well they are met; for a gallery that
    agrees in all, the first two by name.
    """
    names = sorted({name for one in candidates for name in one.wishes})
    if len(names) < 2:
        return "evenness", "movement"
    met = np.array([[one.wishes.get(name, 0.0) for one in candidates] for name in names])
    spread = np.zeros((len(names), len(names)))
    if len(candidates) > 1:
        spread = np.asarray(np.round(np.cov(met), 9), np.float64)
    pairs = [(spread[i, j], names[i], names[j]) for i in range(len(names)) for j in range(i)]
    _, one, other = min(pairs)
    return one, other


def graph(
    candidates: Sequence[Candidate],
    record: Record,
    name: str,
    form: str = "png",
    wishes: tuple[str, str] | None = None,
) -> bytes:
    """Return a chart of a gallery.

    Args:
        candidates: Its designs.
        record: What is known of its run.
        name: A key of `CHARTS`.
        form: "png" or "svg".
        wishes: The two wishes of a trade-off; those that cost each other most when None.

    Raises:
        InputError: The chart, or a wish, is none.
    """
    shown = candidates[:MOST_MARKS]
    inks = [[one.pattern.colours[n] for n in one.pattern.palette] for one in shown]
    numbers = [one.rank for one in shown]
    if name == "progress":
        return progress_chart(record.progress, form)
    if name == "trade-off":
        first, second = wishes or wishes_apart(shown)
        for wish in wishes or ():
            if not any(wish in one.wishes for one in shown):
                known = ", ".join(sorted({n for one in shown for n in one.wishes}))
                raise InputError(f"expected a wish of this run ({known})", wish, source="--wish")
        return trade_off_chart(
            [one.wishes.get(first, 0.0) for one in shown],
            [one.wishes.get(second, 0.0) for one in shown],
            inks, wish_label(first), wish_label(second), numbers, form,
        )  # fmt: skip
    if name == "map":
        designs = [one.pattern for one in shown]
        distances = np.zeros((len(designs), len(designs)))
        for i, a in enumerate(designs):
            for j in range(i):
                same = a.strands == designs[j].strands
                distances[i, j] = face_distance(a, designs[j]) if same else 1.0
        return likeness_map(distances + distances.T, inks, numbers, form)
    raise InputError(f"expected one of {', '.join(CHARTS)}", name, source="chart")


def charts_of(candidates: Sequence[Candidate], record: Record) -> list[Chart]:
    """Return the charts of a search's page; none for a gallery of few designs or of no search."""
    from motifsearch.page.gallery import Chart

    if record.kind != "search" or len(candidates) < 3 or not record.progress:
        return []
    first, second = wishes_apart(candidates[:MOST_MARKS])
    last = record.progress[-1]
    says = {
        "progress": f"After {last['generation']:.0f} generations the best design meets the wishes "
        f"to {last['best']:.0%}; {last['cells']:,.0f} kinds were found.",
        "trade-off": f"{wish_label(first).capitalize()} against {wish_label(second)}; every design "
        "is a strip of its threads with its number.",
        "map": "Designs that look alike lie close together.",
    }
    return [
        Chart(graph(candidates, record, name), text, f"Chart: {CHARTS[name]}. {text}")
        for name, text in says.items()
    ]
