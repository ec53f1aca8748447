"""Reading a wanted motif: a text or a picture, told apart by the content."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from motifsearch.base.errors import InputError
from motifsearch.base.tomlfile import read_file, read_text
from motifsearch.target.image import MAX_PNG_BYTES, read_target_png
from motifsearch.target.motif import Target
from motifsearch.target.text import parse_target


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
    data = read_file(path, "a target (text or PNG)", MAX_PNG_BYTES)
    if data.startswith(b"\x89PNG\r\n\x1a\n"):
        if strands is None:
            raise InputError("expected the number of strands: a picture does not tell", source=path)
        return read_target_png(path, strands=strands, rows=rows, colours=colours or {})
    target = parse_target(read_text(path, "a target (text or PNG)"), path, colours)
    if strands is not None and strands != target.strands:
        expected = f"expected a target for {strands} strands"
        raise InputError(expected, target.strands, source=path, key="strands")
    return target
