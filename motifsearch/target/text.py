"""A target as text, painted with letters on the staggered cells.

::

    format = motifsearch-target-1
    title = Arrow
    strands = 8
    o = sand #d8c49a
    x = teal #1f7a78

    rows:
    o   x   x   o
      x   .   x
    x   o   o   x
      o   o   o

Above ``rows:`` stand settings and the legend: a letter, the name of a colour, and its ``#rrggbb``
(left out for a colour of the stash).  Below, every line is a row with one letter per knot; blanks
only make the stagger visible; ``.`` is a cell of any colour.  ``repeat = 24`` asks for a period of
24 rows, of which those that are not painted are free.  A line that begins with ``#`` is a comment.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import numpy as np

from motifsearch.base.arrays import I8
from motifsearch.base.colour import is_hex
from motifsearch.base.errors import InputError, nearest
from motifsearch.pattern.knots import MAX_ROWS, MAX_STRANDS, MIN_STRANDS, slots_in_row
from motifsearch.target.motif import MAX_COLOURS, Target

FORMAT = "motifsearch-target-1"
SETTINGS = ("format", "title", "strands", "repeat")
ANY = "."
MAX_TITLE = 500


def parse_target(
    text: str, source: str | Path = "target", colours: Mapping[str, str] | None = None
) -> Target:
    """Return the target that a text paints.

    Args:
        text: The text, see the module.
        source: The file, for messages.
        colours: The stash: colour name to ``#rrggbb``.

    Raises:
        InputError: With the file, the line and the column.

    Examples:
        >>> t = parse_target('''format = motifsearch-target-1
        ... strands = 4
        ... o = sand #d8c49a
        ... x = teal #1f7a78
        ... rows:
        ... o x
        ...  .
        ... ''')
        >>> t.names, t.cells.tolist()
        (('sand', 'teal'), [[0, 1], [-1, -1]])
    """
    return _Reader(source, colours or {}).read(text)


class _Reader:
    """Reads one text; keeps what was said so far."""

    def __init__(self, source: str | Path, stash: Mapping[str, str]) -> None:
        self.source = source
        self.stash = stash
        self.settings: dict[str, tuple[str, int, int]] = {}
        self.letters: dict[str, int] = {}
        self.palette: dict[str, str] = {}

    def error(self, line: int, column: int, expected: str, found: object = None) -> InputError:
        where = f"line {line}, column {column}"
        return InputError(expected, found, source=self.source, key=where)

    def read(self, text: str) -> Target:
        lines = text.splitlines()
        at = 0
        for at, line in enumerate(lines, 1):
            words = line.strip()
            if words.replace(" ", "") == "rows:":
                break
            if words and not words.startswith("#"):
                self.setting(line, at)
        else:
            last = len(lines) + 1
            raise self.error(last, 1, 'expected a line "rows:" and the picture below it')
        title = self.settings.get("title", ("", 0, 0))[0]
        self.format()
        strands = self.whole("strands", MIN_STRANDS, MAX_STRANDS)
        cells = self.picture(lines[at:], at + 1, strands)
        if not self.palette:
            raise self.error(at, 1, 'expected a legend such as "x = teal #1f7a78" above the rows')
        return Target(title, strands, tuple(self.palette), tuple(self.palette.values()), cells)

    def setting(self, line: str, at: int) -> None:
        key, equals, value = line.partition("=")
        column = len(line) - len(line.lstrip()) + 1
        if not equals:
            raise self.error(at, column, 'expected "name = value" or "rows:"', line.strip())
        key = key.strip()
        after = line.index("=") + 1
        after += len(value) - len(value.lstrip()) + 1
        value = value.strip()
        if len(key) == 1:
            self.letter(key, value, at, column, after)
            return
        if key not in SETTINGS:
            hint = nearest(key, SETTINGS) or f": {', '.join(SETTINGS)} or a letter"
            raise self.error(at, column, f"expected a setting{hint}", key)
        if key in self.settings:
            raise self.error(at, column, "expected every setting once", key)
        if len(value) > MAX_TITLE:
            raise self.error(at, after, f"expected at most {MAX_TITLE} characters", value)
        self.settings[key] = (value, at, after)

    def letter(self, letter: str, value: str, at: int, column: int, after: int) -> None:
        if letter in (ANY, "#"):
            raise self.error(at, column, 'expected a letter other than "." and "#"', letter)
        if letter in self.letters:
            raise self.error(at, column, "expected every letter once", letter)
        name, _, colour = value.rpartition(" ")
        name = name.strip()
        if not is_hex(colour):
            name, colour = value, self.stash.get(value, "")
        if not name:
            raise self.error(at, after, 'expected a colour such as "teal #1f7a78"', value)
        if not colour:
            hint = nearest(name, self.stash)
            known = "; ".join(self.stash) if self.stash and not hint else ""
            expected = "expected a colour of the stash, or a name and #rrggbb"
            raise self.error(at, after, expected + hint + (f" ({known})" if known else ""), name)
        colour = colour.lower()
        if self.palette.setdefault(name, colour) != colour:
            raise self.error(at, after, f"expected {self.palette[name]} as before", value)
        if len(self.palette) > MAX_COLOURS:
            raise self.error(at, after, f"expected at most {MAX_COLOURS} colours")
        self.letters[letter] = list(self.palette).index(name)

    def format(self) -> None:
        value, at, after = self.settings.get("format", ("", 1, 1))
        if value != FORMAT:
            raise self.error(at, after, f'expected "format = {FORMAT}"', value or None)

    def whole(self, key: str, low: int, high: int) -> int:
        value, at, after = self.settings.get(key, ("", 1, 1))
        expected = f'expected "{key} = N", N a whole number from {low} to {high}'
        if not (value.isascii() and value.isdigit() and low <= int(value[:9]) <= high):
            raise self.error(at, after, expected, value or None)
        return int(value)

    def picture(self, lines: list[str], first: int, strands: int) -> I8:
        rows: list[list[int]] = []
        painted = False
        for at, line in enumerate(lines, first):
            if not line.strip() or line.lstrip().startswith("#"):
                continue
            row = []
            for column, letter in enumerate(line, 1):
                if letter.isspace():
                    continue
                if letter != ANY and letter not in self.letters:
                    known = " ".join([*self.letters, ANY])
                    raise self.error(at, column, f"expected one of {known}", letter)
                row.append(self.letters.get(letter, -1))
            need = slots_in_row(strands, len(rows))
            if len(row) != need:
                place = f"row {len(rows) + 1} of {strands} strands"
                found = f"{len(row)} cells"
                raise self.error(at, len(line.rstrip()), f"expected {need} cells, {place}", found)
            painted = painted or max(row) >= 0
            rows.append(row + [-1] * (strands // 2 - need))
        if not 1 <= len(rows) <= MAX_ROWS:
            raise self.error(first, 1, f"expected 1 to {MAX_ROWS} rows", f"{len(rows)} rows")
        if not painted:
            raise self.error(first, 1, "expected at least one painted cell")
        cells = np.array(rows, np.int8)
        if "repeat" in self.settings:
            repeat = self.whole("repeat", 2, MAX_ROWS)
            _, at, after = self.settings["repeat"]
            if repeat % 2 or repeat < len(rows):
                expected = f"expected an even number of rows, {len(rows)} or more"
                raise self.error(at, after, expected, repeat)
            free = np.full((repeat - len(rows), strands // 2), -1, np.int8)
            cells = np.concatenate([cells, free])
        return cells


def format_target(target: Target) -> str:
    """Return the text of a target; `parse_target` reads it back.

    The letters are the first free ones of the alphabet.
    """
    letters = "abcdefghijkl"[: len(target.names)]
    title = " ".join(target.title.split())
    lines = [f"format = {FORMAT}", f"title = {title}", f"strands = {target.strands}"]
    for letter, name, colour in zip(letters, target.names, target.colours, strict=True):
        lines.append(f"{letter} = {name} {colour}")
    lines += ["", "rows:"]
    for r, row in enumerate(target.cells):
        cells = [letters[c] if c >= 0 else ANY for c in row[: slots_in_row(target.strands, r)]]
        lines.append("  " * (r % 2) + "   ".join(cells))
    return "\n".join(lines) + "\n"
