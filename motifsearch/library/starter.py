"""The library that comes with the program: some thousand good, varied kinds, packed.

The file is a library (`motifsearch.library.store`) under gzip; it is unpacked into memory and
opened there, so nothing is written anywhere.  ``tests/bench/make_starter.py`` makes it by our own
search.
"""

from __future__ import annotations

import gzip
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from motifsearch.base.errors import MotifError
from motifsearch.library.store import Library

PACKED: Final = Path(__file__).with_name("starter.sqlite.gz")


@contextmanager
def starter() -> Iterator[Library]:
    """Open the library that comes with the program, for reading.

    Raises:
        MotifError: It is not there, or damaged: the program was not installed whole.
    """
    link = sqlite3.connect(":memory:", isolation_level=None)
    try:
        try:
            link.deserialize(gzip.decompress(PACKED.read_bytes()))
        except (OSError, EOFError, sqlite3.Error) as bad:
            raise MotifError(f"{PACKED}: the library of the program cannot be read: {bad}") from bad
        yield Library(PACKED, link)
    finally:
        link.close()
