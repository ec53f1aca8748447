"""Picks: what was shown, what was wanted and what was not, round after round; and a person's taste.

::

    format = "motifsearch-picks-1"
    struck = ["point"]            # lines of the taste that do not count (its traits, by key)

    [[rounds]]
    wanted = [3, 7, 12]           # numbers of that gallery, in the order of the marks
    not_for_me = [5]

    [[rounds.shown]]              # every design that was shown, whole
    number = 1
    key = "1f6f73aa02bc-c04020"
    title = "Teal arrowheads on sand"
    rows = ["rr ll", "rl"]
    colour_order = ["sand", "teal", "teal", "sand"]
    colours = { sand = "#d8c49a", teal = "#1f7a78" }

The designs stand there whole, since a gallery that is renewed gives their numbers to others.  A
person's taste is a file of the same form, with the rounds of several runs, whatever their strands
and threads: a colour counts by its L*a*b*, not by its name.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import tomli_w

from motifsearch.base.errors import InputError
from motifsearch.base.tomlfile import REQUIRED, Table, read_toml
from motifsearch.pattern.design import Pattern
from motifsearch.pattern.files import FORMAT as PATTERN_FORMAT
from motifsearch.pattern.files import parse_pattern, pattern_data
from motifsearch.search.taste_traits import KEYS

FORMAT: Final = "motifsearch-picks-1"
#: Rounds that are learnt from, and designs of a round; of more the latest rounds count.
MOST_ROUNDS: Final = 40
MOST_SHOWN: Final = 500


@dataclass(frozen=True, kw_only=True)
class Card:
    """One design as it was shown.

    Attributes:
        number: Its number in that gallery.
        pattern: The design.
        key: What tells it from others, wherever it is shown; may be empty.
    """

    number: int
    pattern: Pattern
    key: str = ""


@dataclass(frozen=True, kw_only=True)
class Round:
    """One gallery and the marks on it.

    Attributes:
        shown: The designs.
        wanted: Numbers of those that are wanted, in the order of the marks.
        not_for_me: Numbers of those that are not.
    """

    shown: tuple[Card, ...]
    wanted: tuple[int, ...] = ()
    not_for_me: tuple[int, ...] = ()

    def pattern(self, number: int) -> Pattern:
        """Return the design of a number."""
        return next(card.pattern for card in self.shown if card.number == number)

    def same_gallery(self, shown: Sequence[Card]) -> bool:
        """Return whether these are the designs that were shown, under the same numbers."""
        return [_looks(c) for c in self.shown] == [_looks(c) for c in shown]

    def marked(
        self, wanted: Sequence[int], not_for_me: Sequence[int], unmarked: Sequence[int] = ()
    ) -> Round:
        """Return the round with more marks; the last mark of a design is the one that holds.

        What is marked as it was marked already keeps its place in the order.
        """
        gone = {*not_for_me, *unmarked}, {*wanted, *unmarked}
        kept = [n for n in self.wanted if n not in gone[0]]
        passed = [n for n in self.not_for_me if n not in gone[1]]
        return replace(
            self,
            wanted=tuple(dict.fromkeys([*kept, *wanted])),
            not_for_me=tuple(dict.fromkeys([*passed, *not_for_me])),
        )


def _looks(card: Card) -> tuple[Any, ...]:
    p = card.pattern
    return card.number, p.knots, p.colour_order, tuple(p.colours[c] for c in p.colour_order)


@dataclass(frozen=True, kw_only=True)
class Picks:
    """What is known of a person's taste.

    Attributes:
        rounds: The rounds, in order.
        struck: Keys of the traits that do not count.
        name: Whose taste it is; may be empty.
    """

    rounds: tuple[Round, ...] = ()
    struck: tuple[str, ...] = ()
    name: str = ""

    @property
    def marks(self) -> int:
        """How many designs are marked."""
        return sum(len(r.wanted) + len(r.not_for_me) for r in self.rounds)

    @property
    def digest(self) -> str:
        """What tells these picks from others: the hash of designs, marks and what is struck."""
        rounds = [[[_looks(card) for card in r.shown], r.wanted, r.not_for_me] for r in self.rounds]
        text = json.dumps([rounds, sorted(self.struck)])
        return hashlib.sha256(text.encode()).hexdigest()[:16]


def read_picks(path: str | Path) -> Picks:
    """Read picks, or a person's taste.

    Raises:
        InputError: With file, key, what was expected and what stood there.
    """
    return parse_picks(read_toml(path, "picks"))


def parse_picks(table: Table) -> Picks:
    """Check parsed picks.

    Raises:
        InputError: With key, what was expected and what stood there.
    """
    table.only(["format", "name", "struck", "rounds"])
    table.text("format", REQUIRED, choices=(FORMAT,))
    struck = table.items(
        "struck", [], what=f"a list of lines out of {', '.join(KEYS)}", check=lambda k: k in KEYS
    )
    rounds = tuple(_round(one) for one in table.tables("rounds", required=False))
    return Picks(
        rounds=rounds, struck=tuple(dict.fromkeys(struck)), name=table.text("name", "")[:200]
    )


def _round(table: Table) -> Round:
    table.only(["shown", "wanted", "not_for_me"])
    shown = tuple(_card(one) for one in table.tables("shown"))
    if len(shown) > MOST_SHOWN:
        raise table.error("shown", f"expected at most {MOST_SHOWN} designs", len(shown))
    numbers = [card.number for card in shown]
    if len(set(numbers)) < len(numbers):
        raise table.error("shown", "expected every number once", numbers)
    marks = {}
    for key in ("wanted", "not_for_me"):
        found = table.items(key, [], of=int, what="a list of numbers that were shown",
                            check=lambda n: n in numbers)  # fmt: skip
        marks[key] = tuple(dict.fromkeys(found))
    both = set(marks["wanted"]) & set(marks["not_for_me"])
    if both:
        raise table.error("not_for_me", "expected no design that is wanted", min(both))
    return Round(shown=shown, **marks)


def _card(table: Table) -> Card:
    table.only(["number", "key", "title", "rows", "colour_order", "colours"])
    data = {k: v for k, v in table.data.items() if k not in ("number", "key")}
    return Card(
        number=table.whole("number", REQUIRED, high=10**7),
        key=table.text("key", ""),
        pattern=parse_pattern(
            Table({**data, "format": PATTERN_FORMAT}, table.source, table.prefix)
        ),
    )


def round_data(one: Round) -> dict[str, Any]:
    """Return what the file holds of a round, as plain data in the file's order."""
    cards = []
    for card in one.shown:
        data = pattern_data(card.pattern)
        used = card.pattern.palette
        colours: Mapping[str, str] = {k: v for k, v in data["colours"].items() if k in used}
        cards.append({"number": card.number, "key": card.key, "title": data["title"],
                      "rows": data["rows"], "colour_order": data["colour_order"],
                      "colours": colours})  # fmt: skip
    return {"wanted": list(one.wanted), "not_for_me": list(one.not_for_me), "shown": cards}


def format_picks(picks: Picks) -> str:
    """Return the text of the file."""
    data: dict[str, Any] = {"format": FORMAT}
    if picks.name:
        data["name"] = picks.name
    if picks.struck:
        data["struck"] = list(picks.struck)
    data["rounds"] = [round_data(one) for one in picks.rounds]
    return tomli_w.dumps(data)


def together(picks: Sequence[Picks]) -> Picks:
    """Return the picks of several files as one, a round that stands in several once.

    The round that was marked last, the one of the last file, is the one that holds.
    """
    rounds: list[Round] = []
    for one in (r for p in picks for r in p.rounds):
        rounds = [r for r in rounds if not r.same_gallery(one.shown)]
        rounds.append(one)
    struck = dict.fromkeys(key for p in picks for key in p.struck)
    return Picks(
        rounds=tuple(rounds), struck=tuple(struck), name=next((p.name for p in picks if p.name), "")
    )


__all__ = ["Card", "InputError", "Picks", "Round", "format_picks", "parse_picks", "read_picks",
           "round_data", "together"]  # fmt: skip
