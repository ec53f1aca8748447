"""The errors that a user can cause, each with the exit code of the command.

A message says where (file and key), what was expected and what stood there.  Everything else
that is raised is a defect of ours.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from pathlib import Path
from typing import Final

#: Longer words are no slips of the hand, and comparing them takes long.
LONGEST_WORD: Final = 200
#: No system takes longer paths.
LONGEST_PATH: Final = 4096


class MotifError(Exception):
    """A failure that is reported in one message, without a traceback.

    Attributes:
        exit_code: What the command returns: 2 for usage and input, 1 for the rest.
    """

    exit_code = 1


class InputError(MotifError):
    """A file, a key or an option holds something that cannot be used.

    Args:
        expected: What should have stood there.
        found: What stood there, as it reads; left out when there is nothing to show.
        source: The file or the option that it came from.
        key: The key inside the file, such as ``threads[2].colour``.
    """

    exit_code = 2

    def __init__(
        self,
        expected: str,
        found: object = None,
        *,
        source: str | Path | None = None,
        key: str | None = None,
    ) -> None:
        self.expected = expected
        self.found = found
        self.source = None if source is None else str(source)
        self.key = key
        super().__init__(str(self))

    def __str__(self) -> str:
        """Return ``SOURCE: KEY: expected ..., found ...`` with what is known."""
        parts = shortened(self.source or "", LONGEST_PATH), shortened(self.key or "", 300)
        where = "".join(f"{part}: " for part in parts if part)
        tail = "" if self.found is None else f", found {shorten(self.found)}"
        return f"{where}{self.expected}{tail}"


class InfeasibleError(MotifError):
    """What is asked for cannot be met by any design; the message says which limit is to blame."""

    exit_code = 2


class NotFoundError(InfeasibleError):
    """Nothing was found that meets what is asked for; that nothing exists is not shown."""


def shorten(value: object, width: int = 80) -> str:
    """Return `value` as it would be written, cut to `width` characters.

    Examples:
        >>> shorten("x" * 100, 12)
        "'xxxxxxxx..."
    """
    try:
        text = repr(value)
    except ValueError:  # a whole number of more digits than Python writes out
        return "a number of thousands of digits"
    return text if len(text) <= width else text[: width - 3] + "..."


def shortened(text: str, most: int = 4000) -> str:
    """Return a message that a person can read: of a very long one the beginning and its length.

    Examples:
        >>> shortened("abcdefgh", 4), shortened("abc", 4)
        ('abcd... (8 characters)', 'abc')
    """
    return text if len(text) <= most else f"{text[:most]}... ({len(text)} characters)"


def nearest(word: str, known: Iterable[str]) -> str:
    """Return `` (did you mean 'x'?)`` for the known word closest to `word`, or nothing.

    Examples:
        >>> nearest("strnads", ["strands", "rows"])
        " (did you mean 'strands'?)"
        >>> nearest("zzz", ["strands"])
        ''
    """
    if len(word) > LONGEST_WORD:
        return ""
    close = difflib.get_close_matches(word, list(known), n=1, cutoff=0.6)
    return f" (did you mean {close[0]!r}?)" if close else ""
