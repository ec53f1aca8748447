"""A group: what several people are to knot from one box, read from TOML.

The keys of a brief (`motifsearch.search.brief`), and::

    bands = 12                # or a list of people, one table each:

    [[people]]
    name = "Mira"
    wrist_mm = 150            # or length_mm; the brief's when left out
    colours = ["teal"]        # liked: what has more of them comes first
    not_colours = ["brick"]   # refused: never in this band
    level = "first band"      # at most: first band, some practice, patience
    text = "MIRA"             # a name or words in letters along the band

    alike = "none"            # all different; "all": all the same; "designs": a few designs, each
    designs = 3               # in as many colours as it takes (for alike = "designs")

"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

from motifsearch.base.errors import InputError, nearest
from motifsearch.base.text import clean_text
from motifsearch.base.tomlfile import REQUIRED, Table, read_toml
from motifsearch.base.units import IN_CM, LONGEST_MM, SHORTEST_MM
from motifsearch.pattern.effort import LEVELS
from motifsearch.search.brief import parse_brief
from motifsearch.search.resolved import Brief

ALIKE: Final = ("all", "none", "designs")
#: Bands of one group at most.
MOST_BANDS: Final = 500
#: Different designs where a few are asked for and their number is not said.
DESIGNS: Final = 3
#: Keys of a group beside those of a brief, and those of a person.
KEYS: Final = ("bands", "people", "alike", "designs")
PERSON_KEYS: Final = ("name", "wrist_mm", "length_mm", "colours", "not_colours", "level", "text")
NAME_LENGTH: Final = 60


@dataclass(frozen=True, kw_only=True)
class Person:
    """One person of a group, and what the band is to be.

    Attributes:
        name: As it stands on the worksheet.
        length_mm: The knotted length.
        wrist_mm: The wrist; None where the length was given.
        colours: Liked.
        not_colours: Refused.
        level: The hardest that is wanted; empty for any.
        text: What is to be read on the band; empty for nothing.
    """

    name: str
    length_mm: float
    wrist_mm: float | None = None
    colours: tuple[str, ...] = ()
    not_colours: tuple[str, ...] = ()
    level: str = ""
    text: str = ""

    @property
    def kind(self) -> tuple[object, ...]:
        """What two people share who may have each other's band."""
        return (self.length_mm, self.wrist_mm, frozenset(self.colours),
                frozenset(self.not_colours), self.level, self.text)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Group:
    """What a group is to knot.

    Attributes:
        brief: What all bands have in common; its length is the longest.
        people: In the order of the list.
        alike: all, none or designs.
        designs: The most different designs, for ``alike = "designs"``.
    """

    brief: Brief
    people: tuple[Person, ...]
    alike: str = "none"
    designs: int = DESIGNS


def read_group(path: str | Path, overrides: Mapping[str, Any] | None = None) -> Group:
    """Read a group and the stash that it names.

    Args:
        path: The file.
        overrides: Keys of its brief that replace those of the file.

    Raises:
        InputError: With file, key, what was expected and what stood there.
    """
    table = read_toml(path, "a group")
    return parse_group(table, Path(path).parent, overrides)


def parse_group(table: Table, folder: Path, overrides: Mapping[str, Any] | None = None) -> Group:
    """Check a parsed group.

    Args:
        table: The top table.
        folder: Where a relative path of the file is looked for.
        overrides: See `read_group`.

    Raises:
        InputError: With file, key, what was expected and what stood there.
    """
    alike = table.text("alike", "none", choices=ALIKE)
    designs = table.whole("designs", DESIGNS, low=1, high=MOST_BANDS)
    if "designs" in table and alike != "designs":
        raise table.error("designs", 'expected alike = "designs" beside it', alike)
    if ("bands" in table) == ("people" in table):
        raise table.error("bands", "expected either bands = ... or a list [[people]]")
    listed = list(table.tables("people")) if "people" in table else []
    if len(listed) > MOST_BANDS:
        raise table.error("people", f"expected at most {MOST_BANDS}", len(listed))
    data = {key: value for key, value in table.data.items() if key not in KEYS}
    given = {**data, **(overrides or {})}
    own = [one for one in listed if "wrist_mm" in one or "length_mm" in one]
    if "wrist_mm" not in given and "length_mm" not in given and listed and len(own) == len(listed):
        # Everyone has a length; the group's own is only where the search begins.
        data["length_mm"] = LONGEST_MM / 2
    brief = parse_brief(Table(data, table.source), folder, overrides)
    if not listed:
        number = table.whole("bands", REQUIRED, low=1, high=MOST_BANDS)
        people = tuple(
            Person(name=f"Band {n}", length_mm=brief.length_mm, wrist_mm=brief.wrist_mm)
            for n in range(1, number + 1)
        )
    else:
        people = _people(listed, brief)
    if brief.text:  # for everyone who has no text of their own
        people = tuple(replace(one, text=one.text or brief.text) for one in people)
        brief = replace(brief, text="")
    if brief.widths and any(one.text for one in people):
        raise table.error(
            "strands", "expected one number of strands where a band has a text", list(brief.widths)
        )
    longest = max(people, key=lambda one: one.length_mm)
    brief = replace(brief, length_mm=longest.length_mm, wrist_mm=longest.wrist_mm)
    return Group(brief=brief, people=people, alike=alike, designs=designs)


def _people(tables: list[Table], brief: Brief) -> tuple[Person, ...]:
    found: list[Person] = []
    for n, table in enumerate(tables, 1):
        table.only(PERSON_KEYS)
        name = clean_text(table.text("name", f"Band {n}"), NAME_LENGTH).strip()
        if not name:
            raise table.error("name", "expected a name", table.text("name", ""))
        if any(one.name == name for one in found):
            raise table.error("name", "expected every name once; add a letter", name)
        liked, refused = _colours(table, "colours", brief), _colours(table, "not_colours", brief)
        for colour in liked:
            if colour in refused:
                raise table.error("colours", "expected no colour that is refused too", colour)
        length, wrist = _length(table, brief)
        found.append(
            Person(
                name=name,
                length_mm=length,
                wrist_mm=wrist,
                colours=liked,
                not_colours=refused,
                level=table.text("level", "", choices=("", *LEVELS)),
                text=table.text("text", ""),
            )
        )
    return tuple(found)


def _colours(table: Table, key: str, brief: Brief) -> tuple[str, ...]:
    names = tuple(table.items(key, []))
    for n, name in enumerate(names):
        if name not in brief.palette:
            raise table.error(
                f"{key}[{n}]",
                f"expected a colour of the group{nearest(name, brief.palette)}",
                name,
            )
    return names


def _length(table: Table, brief: Brief) -> tuple[float, float | None]:
    if "length_mm" in table:
        if "wrist_mm" in table:
            raise table.error("length_mm", "expected either length_mm or wrist_mm, not both")
        length = table.number("length_mm", REQUIRED, low=SHORTEST_MM, high=LONGEST_MM, small=IN_CM)
        return length, None
    if "wrist_mm" not in table:
        return brief.length_mm, brief.wrist_mm
    wrist = table.number("wrist_mm", REQUIRED, low=50, high=600, small=IN_CM)
    length = wrist + brief.ease_mm - brief.fastening_mm
    if length < SHORTEST_MM:
        raise table.error(
            "wrist_mm", f"expected a wrist that leaves {SHORTEST_MM:g} mm to knot", wrist
        )
    return length, wrist


def too_hard(level: str, most: str) -> bool:
    """Return whether a level is above the hardest that is wanted; nothing is where any will do.

    Examples:
        >>> too_hard("patience", "some practice"), too_hard("first band", ""), too_hard("x", "")
        (True, False, False)
    """
    order = list(LEVELS)
    return bool(most) and order.index(level) > order.index(most)


__all__ = ["ALIKE", "Group", "InputError", "Person", "parse_group", "read_group", "too_hard"]
