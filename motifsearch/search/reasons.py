"""A reason: why a brief cannot be met, in figures and in words, and the nearest brief that can.

A reason names the keys to blame, what was asked, and the most that is possible; `nearest` holds
keys of the brief with other values, with which it works.  `shown` says that no design whatever
could keep the brief (a bound, a count, or every design looked at); without it, it is what a search
of a stated effort met.  `verified` says that a design which keeps the nearest brief was found,
limits and cutting plan and all.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

from motifsearch.search.brief import Brief
from motifsearch.search.records import RECORDS, option_of
from motifsearch.search.resolved import Limits, threads_of


@dataclass(frozen=True, kw_only=True)
class Reason:
    """Why a brief cannot be met.

    Attributes:
        keys: The keys to blame, such as ``limits.contrast_min``; the first is the plainest.
        words: What is wrong, in a sentence without a full stop.
        asked: What was asked of the first key, as a number or a text.
        possible: The most, or the least, that is possible; None where that is no figure.
        nearest: Keys of the brief, with values with which it works; empty where none is known.
        shown: Whether no design whatever keeps the brief.
        verified: Whether a design that keeps the nearest brief was found.
        strands: The number of strands that it speaks of, where several are asked for; else 0.
        others: The other numbers of strands of the brief against which nothing is known.
    """

    keys: tuple[str, ...]
    words: str
    asked: Any = None
    possible: Any = None
    nearest: Mapping[str, Any] = field(default_factory=dict)
    shown: bool = False
    verified: bool = False
    strands: int = 0
    others: tuple[int, ...] = ()

    @property
    def stops(self) -> bool:
        """Whether the whole brief cannot be met; else one number of strands is left out."""
        return not self.others

    @property
    def sentence(self) -> str:
        """What is wrong, with the number of strands that it speaks of; without a full stop."""
        head = f"{self.strands} strands: " if self.strands else ""
        return head + self.words[:1].upper() + self.words[1:]

    def text(self) -> str:
        """Return the reason, and what to change, in one or two sentences."""
        words = self.sentence
        if not self.nearest:
            return f"{words}."
        how = "This works" if self.verified else "Nearest"
        return f"{words}. {how}: {nearest_text(self.nearest)}."


def nearest_text(nearest: Mapping[str, Any]) -> str:
    """Return other values of keys as they are given in a brief, or by option.

    Examples:
        >>> nearest_text({"limits.contrast_min": 20, "folded": False})
        'limits.contrast_min = 20 (--contrast-min 20) and folded = false (--unfolded)'
    """
    return " and ".join(f"{key} = {_toml(value)} ({_option(key, value)})" for key, value in
                        nearest.items())  # fmt: skip


def _toml(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_toml(v) for v in value) + "]"
    return f"{value:g}" if isinstance(value, float) else str(value)


def _option(key: str, value: Any) -> str:
    known = RECORDS.get(key)
    if isinstance(value, bool) and known is not None and "/" in known.option:
        return known.option.split("/")[0 if value else 1]
    if isinstance(value, list | tuple):
        return " ".join(f"{option_of(key)} {v}" for v in value)
    return f"{option_of(key)} {_toml(value)}"


#: The keys of a brief whose values can be put into a resolved brief here.
TOP_FIELDS: Final = (
    "strands",
    "length_mm",
    "folded",
    "colours_min",
    "colours_max",
    "colours",
    "risk",
)


def changed(brief: Brief, nearest: Mapping[str, Any]) -> Brief:
    """Return the brief with other values.

    Args:
        brief: The brief.
        nearest: Keys of it; a changed length takes the place of the wrist.
    """
    limits: dict[str, Any] = {}
    top: dict[str, Any] = {}
    for key, value in nearest.items():
        if key.startswith("limits."):
            limits[key.removeprefix("limits.")] = value
        elif key == "wrist_mm":
            top["wrist_mm"] = value
            top["length_mm"] = value + brief.ease_mm - brief.fastening_mm
        else:
            top[key] = value
    if "length_mm" in nearest:
        top["wrist_mm"] = None
    return replace(brief, limits=replace(brief.limits, **limits), **top)


#: The value of a limit that no design breaks; None where there is none.
LOOSE: Final[Mapping[str, Any]] = {
    "limits.repeat_rows_max": 400,
    "limits.evenness_min": 0.0,
    "limits.contrast_min": 0.0,
    "limits.flatness_min": 0.0,
    "limits.lone_max": 1.0,
    "limits.steps_max": 0,
    "limits.knots": Limits().knots,
    "limits.symmetric": False,
    "limits.border": False,
    "limits.on_hand": False,
}


def set_keys(brief: Brief) -> list[str]:
    """Return the keys of a brief that could be loosened."""
    out = [
        key for key, loose in LOOSE.items()
        if getattr(brief.limits, key.removeprefix("limits.")) != loose
        and key != "limits.repeat_rows_max"
    ]  # fmt: skip
    if brief.limits.repeat_rows_max < 400:
        out.append("limits.repeat_rows_max")
    if brief.colours_min > 1:
        out.append("colours_min")
    threads = threads_of(brief.strands, brief.folded)
    if brief.colours_max < min(len(brief.palette), threads):
        out.append("colours_max")
    if brief.folded:
        out.append("folded")
    return out


def loosened(brief: Brief, keys: Sequence[str]) -> Brief:
    """Return the brief without these demands."""
    change: dict[str, Any] = {}
    for key in keys:
        if key in LOOSE:
            change[key] = LOOSE[key]
        elif key == "colours_min":
            change[key] = 1
        elif key == "colours_max":
            threads = threads_of(brief.strands, brief.folded)
            change[key] = min(len(brief.palette), threads)
        elif key == "folded":
            change[key] = False
    return changed(brief, change)
