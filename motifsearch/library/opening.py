"""Opening libraries for reading: those that are named, or the one that comes with the program."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path

from motifsearch.library.starter import starter
from motifsearch.library.store import Library, opened

Where = str | Path | Sequence[str | Path] | None


@contextmanager
def libraries(where: Where = None, *, both: bool = False) -> Iterator[list[Library]]:
    """Open libraries for reading.

    Args:
        where: A file, or several; the one that comes with the program when None or nothing.
        both: The one that comes with the program beside those named.

    Raises:
        InputError: One is not there, or is none.
        MotifError: One cannot be read.
    """
    with ExitStack() as stack:
        paths = [where] if isinstance(where, str | Path) else list(where or ())
        own = [stack.enter_context(opened(path)) for path in paths]
        if both or not own:
            own.insert(0, stack.enter_context(starter()))
        yield own
