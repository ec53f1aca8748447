"""Pattern files: TOML in the format ``motifsearch-pattern-1``, read and written exactly.

::

    format = "motifsearch-pattern-1"
    title = "Two lanes"
    rows = ["rr rr", "rl"]
    colour_order = ["sand", "sand", "teal", "teal"]

    [colours]
    sand = "#d8c49a"
    teal = "#1f7a78"
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import tomli_w

from motifsearch.base.colour import is_hex
from motifsearch.base.errors import InputError, nearest
from motifsearch.base.tomlfile import REQUIRED, Table, read_toml, write_atomic
from motifsearch.pattern.design import Pattern, make_pattern
from motifsearch.pattern.knots import CODE, MAX_ROWS, MAX_STRANDS, MIN_STRANDS, slots_in_row

FORMAT = "motifsearch-pattern-1"
KEYS = ("format", "title", "rows", "colour_order", "colours")
MAX_TITLE = 500


def read_pattern(path: str | Path) -> Pattern:
    """Read a pattern file.

    Raises:
        InputError: The file is missing or holds anything but a whole pattern.
    """
    return parse_pattern(read_toml(path, "a pattern file"))


def parse_pattern(table: Table) -> Pattern:
    """Check a parsed file and return its pattern.

    Raises:
        InputError: With the key, what was expected and what stood there.
    """
    if "threads" in table:
        raise table.error("threads", "expected a pattern file; this looks like a stash")
    if "strands" in table:
        raise table.error("strands", "expected a pattern file; this looks like a brief")
    table.only(KEYS)
    found = table.text("format", REQUIRED)
    if found != FORMAT:
        raise table.error("format", f'expected "{FORMAT}"', found)
    title = table.text("title", "")
    if len(title) > MAX_TITLE:
        raise table.error("title", f"expected at most {MAX_TITLE} characters", title)
    order = table.items("colour_order", REQUIRED, what="a list of colour names")
    if not MIN_STRANDS <= len(order) <= MAX_STRANDS:
        raise table.error(
            "colour_order", f"expected {MIN_STRANDS} to {MAX_STRANDS} strands", len(order)
        )
    colours = _colours(table.table("colours", required=True))
    for n, name in enumerate(order):
        if name not in colours:
            hint = nearest(name, colours) or f"; colours: {', '.join(map(repr, colours))}"
            raise table.error(f"colour_order[{n}]", f"expected a name from [colours]{hint}", name)
    rows = table.items("rows", REQUIRED, what='a list of rows such as "rr ll rl"')
    _check_rows(table, rows, len(order))
    return make_pattern(title, rows, order, colours)


def _colours(table: Table) -> dict[str, str]:
    for name, value in table.data.items():
        if not is_hex(value):
            raise table.error(name, 'expected a colour such as "#c04020"', value)
    return {name: value.lower() for name, value in table.data.items()}


def _check_rows(table: Table, rows: list[str], strands: int) -> None:
    if not rows or len(rows) % 2 or len(rows) > MAX_ROWS:
        raise table.error(
            "rows", f"expected an even number of rows, 2 to {MAX_ROWS}", f"{len(rows)} rows"
        )
    for r, text in enumerate(rows):
        words = text.split()
        need = slots_in_row(strands, r)
        if len(words) != need:
            raise table.error(
                f"rows[{r}]", f"expected {need} knots ({strands} strands, row {r + 1})", text
            )
        for word in words:
            if word not in CODE:
                raise table.error(f"rows[{r}]", "expected knots out of rr ll rl lr", word)


def pattern_data(pattern: Pattern) -> dict[str, Any]:
    """Return what the file holds, as plain data in the file's order."""
    return {
        "format": FORMAT,
        "title": pattern.title,
        "rows": pattern.row_texts(),
        "colour_order": list(pattern.colour_order),
        "colours": dict(pattern.colours),
    }


def format_pattern(pattern: Pattern) -> str:
    r"""Return the text of the pattern file.

    Examples:
        >>> from motifsearch.pattern.design import make_pattern
        >>> p = make_pattern("x", ["rr rr", "rl"], "aabb", {"a": "#000000", "b": "#ffffff"})
        >>> format_pattern(p).splitlines()[0]
        'format = "motifsearch-pattern-1"'
    """
    return tomli_w.dumps(pattern_data(pattern))


def write_pattern(pattern: Pattern, path: str | Path) -> None:
    """Write the pattern file, whole or not at all.

    Raises:
        MotifError: The file cannot be written.
    """
    write_atomic(Path(path), format_pattern(pattern))


__all__ = [
    "FORMAT",
    "InputError",
    "format_pattern",
    "parse_pattern",
    "pattern_data",
    "read_pattern",
    "write_pattern",
]
