"""The wanted motif: a small picture of the face, cell by cell.

A target says for every cell (r, i) of one period which colour the tying strand should show, or
that any will do.  As text it is painted with letters on the staggered cells::

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

The picture is one period.  A period has an even number of rows: an odd picture is laid twice when
the number of strands is odd (its rows then fit at either parity), else a free row follows it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import numpy.typing as npt

from motifsearch.pattern.colour import is_hex
from motifsearch.pattern.errors import InputError, nearest
from motifsearch.pattern.knots import MAX_ROWS, MAX_STRANDS, MIN_STRANDS, slots_in_row
from motifsearch.pattern.tomlfile import read_text

FORMAT = "motifsearch-target-1"
SETTINGS = ("format", "title", "strands", "repeat")
ANY = "."
#: More colours than folded threads of the widest band.
MAX_COLOURS = 12
MAX_TITLE = 500


@dataclass(frozen=True, eq=False)
class Target:
    """A wanted face.

    Attributes:
        title: Any text.
        strands: S.
        names: The colour names, K of them.
        colours: Their ``#rrggbb``.
        cells: int8 ``[rows, S // 2]``: an index into `names`, or -1 for any colour and for the
            slots that a row does not have.
    """

    title: str
    strands: int
    names: tuple[str, ...]
    colours: tuple[str, ...]
    cells: npt.NDArray[np.int8]

    @property
    def rows(self) -> int:
        """The number of rows."""
        return len(self.cells)

    @property
    def wanted(self) -> int:
        """The number of cells that ask for a colour."""
        return int((self.cells >= 0).sum())

    @property
    def palette(self) -> dict[str, str]:
        """Colour name to ``#rrggbb``."""
        return dict(zip(self.names, self.colours, strict=True))

    def evened(self) -> Target:
        """Return the target with an even number of rows, as the module says.

        Examples:
            >>> t = Target("", 5, ("a",), ("#000000",), np.zeros((3, 2), np.int8))
            >>> t.evened().rows
            6
        """
        if self.rows % 2 == 0:
            return self
        more = self.cells if self.strands % 2 else np.full((1, self.strands // 2), -1, np.int8)
        return replace(self, cells=np.concatenate([self.cells, more]))

    def repeated(self, times: int) -> Target:
        """Return the target laid `times` times one after the other (of its even form)."""
        return replace(self, cells=np.tile(self.evened().cells, (times, 1)))

    def used_only(self) -> Target:
        """Return the target without the colours that no cell asks for (one at least is kept)."""
        used = np.unique(self.cells[self.cells >= 0])
        if not len(used):
            used = np.zeros(1, np.int8)
        where = np.full(len(self.names) + 1, -1, np.int8)
        where[used] = np.arange(len(used))
        return replace(
            self,
            names=tuple(self.names[c] for c in used),
            colours=tuple(self.colours[c] for c in used),
            cells=where[self.cells],
        )


def read_target(
    path: str | Path,
    *,
    strands: int | None = None,
    rows: int | None = None,
    colours: Mapping[str, str] | None = None,
) -> Target:
    """Read a target, text or PNG (told apart by the content).

    Args:
        path: The file.
        strands: Must agree with a text; a PNG needs it.
        rows: For a PNG, the rows of the picture; from its height when left out.
        colours: The stash: colour name to ``#rrggbb``.

    Raises:
        InputError: With the file, the line and the column.
    """
    path = Path(path)
    try:
        with path.open("rb") as file:
            is_png = file.read(8) == b"\x89PNG\r\n\x1a\n"
    except OSError:
        is_png = False  # read_text says what is wrong
    if is_png:
        from motifsearch.search.target_image import read_target_png

        if strands is None:
            raise InputError("expected the number of strands: a picture does not tell", source=path)
        return read_target_png(path, strands=strands, rows=rows, colours=colours or {})
    target = parse_target(read_text(path, "a target (text or PNG)"), path, colours)
    if strands is not None and strands != target.strands:
        expected = f"expected a target for {strands} strands"
        raise InputError(expected, target.strands, source=path, key="strands")
    return target


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

    def picture(self, lines: list[str], first: int, strands: int) -> npt.NDArray[np.int8]:
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
    lines = [f"format = {FORMAT}", f"title = {target.title}", f"strands = {target.strands}"]
    for letter, name, colour in zip(letters, target.names, target.colours, strict=True):
        lines.append(f"{letter} = {name} {colour}")
    lines += ["", "rows:"]
    for r, row in enumerate(target.cells):
        cells = [letters[c] if c >= 0 else ANY for c in row[: slots_in_row(target.strands, r)]]
        lines.append("  " * (r % 2) + "   ".join(cells))
    return "\n".join(lines) + "\n"
