"""What a brief can ask for, as the ways in need it: one list, from the records of the search.

Options, switches and sliders are made from these; nothing here needs NumPy.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from motifsearch.base.errors import InputError
from motifsearch.search.records import RECORDS, WISHES, Record, Wish, option_of, wish_label

#: Keys of a brief that have an option, in the order of a help text.
OPTIONS: Final[tuple[Record, ...]] = tuple(r for r in RECORDS.values() if r.option)
#: The wishes, by name, in plain words.
WISH_LABELS: Final[Mapping[str, str]] = {wish.name: wish.label for wish in WISHES}

__all__ = [
    "OPTIONS", "RECORDS", "WISHES", "WISH_LABELS", "Record", "Wish", "option_of", "overrides_of",
    "wish_label",
]  # fmt: skip


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
