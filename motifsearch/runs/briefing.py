"""What a brief can ask for, as the ways in need it: one list, from the records of the search.

Options, switches and sliders are made from these; nothing here needs NumPy.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from motifsearch.base.errors import InputError
from motifsearch.search.records import RECORDS, TASTE, WISHES, Record, Wish, option_of, wish_label

if TYPE_CHECKING:
    from motifsearch.search.brief import Brief
    from motifsearch.search.reasons import Reason

#: Keys of a brief that have an option, in the order of a help text.
OPTIONS: Final[tuple[Record, ...]] = tuple(r for r in RECORDS.values() if r.option)
#: The wishes, by name, in plain words.
WISH_LABELS: Final[Mapping[str, str]] = {wish.name: wish.label for wish in (*WISHES, TASTE)}

__all__ = [
    "OPTIONS",
    "RECORDS",
    "WISHES",
    "WISH_LABELS",
    "Record",
    "Wish",
    "diagnose",
    "diagnosis_text",
    "option_of",
    "overrides_of",
    "wish_label",
]  # fmt: skip


def diagnose(
    brief: Brief | str | Path | None, overrides: Mapping[str, Any] | None = None
) -> tuple[Reason, ...]:
    """Return why no design can keep a brief, as far as that is known without a search.

    Args:
        brief: The brief, its file, or None when the overrides say everything.
        overrides: Keys of the brief with other values.

    Returns:
        Each reason with the nearest brief that works; none where nothing speaks against it, though
        a search may still find nothing.  Where several numbers of strands are asked for, a reason
        speaks of one, and `Reason.stops` says whether the others go on without it.

    Raises:
        InputError: With file, key, what was expected and what stood there.
        InfeasibleError: A text in letters that does not fit; the message names the nearest.
    """
    from motifsearch.search.brief import Brief, brief_of, read_brief
    from motifsearch.search.diagnose import diagnose as reasons

    if brief is None:
        brief = brief_of(overrides or {})
    elif not isinstance(brief, Brief):
        brief = read_brief(brief, overrides)
    if brief.text:
        # Letters keep other rules than a search does: they need room, and two threads.
        from motifsearch.runs.letter_ideas import ideas

        next(ideas(brief))
        return ()
    return tuple(reasons(brief))


def diagnosis_text(reasons: Sequence[Reason]) -> str:
    """Return reasons in sentences."""
    if not reasons:
        return "Nothing is known to speak against this brief."
    text = " ".join(reason.text() for reason in reasons)
    others = reasons[0].others
    if others:
        text += f" Nothing is known to speak against {' or '.join(map(str, others))} strands."
    return text


def overrides_of(
    values: Mapping[str, Any], wishes: tuple[str, ...] = (), colours: tuple[str, ...] = ()
) -> dict[str, Any]:
    """Return the keys of a brief that were given.

    Args:
        values: Key to value; None, or nothing in a list, where it was not given.
        wishes: Weights such as ``movement=2``.
        colours: The only threads of the stash to be used.

    Raises:
        InputError: A weight that is no number.

    Examples:
        >>> overrides_of({"strands": 8, "title": None}, ("calm",), ("sand",))
        {'strands': 8, 'colours': ['sand'], 'wishes.calm': 1.0}
    """
    out = {key: value for key, value in values.items() if value is not None and value != ()}
    if colours:
        out["colours"] = list(colours)
    for wish in wishes:
        name, sign, weight = wish.partition("=")
        try:
            out[f"wishes.{name.strip()}"] = float(weight) if sign else 1.0
        except ValueError:
            raise InputError("expected NAME=WEIGHT", wish, source="--wish") from None
    return {key: list(v) if isinstance(v, tuple) else v for key, v in out.items()}
