"""A name in a band, tried while it is typed: how it will stand, or why it cannot.

What is shown is the first band that ``motifsearch letters`` and a brief with the same text give:
the same knots in the same colours (`motifsearch.runs.lettering.plainest`).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from motifsearch.base.errors import InfeasibleError, InputError
from motifsearch.runs.asking import brief_of, plain, sentence
from motifsearch.runs.hanging import design_data
from motifsearch.runs.lettering import plainest
from motifsearch.runs.workroom import Workroom


def tried_text(room: Workroom, values: Mapping[str, Any]) -> dict[str, Any]:
    """Return how a text stands in a band.

    Args:
        room: The workroom.
        values: Keys of a brief with dots; its ``text`` is what is tried.

    Returns:
        ``error`` (text, key) where a value cannot be used, or the text does not fit; ``empty``
        where there is none; else what is shown: ``design``, ``text`` as it is set, ``rows`` that
        are knotted, ``height`` in positions, ``times``, ``textMm``, ``lengthMm``, ``ink`` and
        ``ground``, ``reads``, ``notes``, ``minutes``, and ``short``: threads that the box has not
        enough of.
    """
    if not str(values.get("text") or "").strip():
        return {"empty": True}
    try:
        brief = brief_of(room, values)
        one, facts = plainest(brief)
    except InputError as bad:
        return {"error": {"text": plain(bad), "key": bad.key or ""}}
    except InfeasibleError as bad:
        return {"error": {"text": sentence(str(bad)), "key": "text"}}
    missing = () if one.plan is None else one.plan.missing
    short = dict.fromkeys(colour for colour, _, _ in missing)
    if one.plan is None:  # the box knows its colours, but nothing is in it
        short = dict.fromkeys(one.pattern.palette)
    return {
        "design": design_data(one.pattern),
        "text": facts["text"],
        "rows": one.cuts.rows,
        "height": facts["height"],
        "times": facts["times"],
        "textMm": brief.length_mm * facts["text_rows"] / one.cuts.rows,
        "lengthMm": brief.length_mm,
        "ink": facts["ink"],
        "ground": facts["ground"],
        "reads": brief.reads,
        "notes": list(one.notes),
        "alt": one.words,
        "minutes": float(one.scores["handling"]["minutes"]),
        "short": list(short),
        "onHand": brief.limits.on_hand,
    }
