"""Plain text: what may stand in a line of ours, and how numbers and lists are said."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Iterable
from typing import Final


def clean_text(text: str, width: int = 500) -> str:
    r"""Return `text` in one line, without characters that break a file or turn what follows.

    Control characters (also those that XML forbids), lone surrogates and direction overrides go;
    letters of any script and emoji stay; more than `width` characters are cut with an ellipsis.

    Examples:
        >>> clean_text("a\x00b\u202ec  d")
        'abc d'
        >>> clean_text("abcdef", 4)
        'abc…'
    """
    spaced = "".join(" " if c.isspace() else c for c in text)
    kept = "".join(
        c
        for c in spaced
        if unicodedata.category(c) not in ("Cc", "Cs", "Cn", "Co")
        and not "\u202a" <= c <= "\u202e"
        and not "\u2066" <= c <= "\u2069"
    )
    line = " ".join(kept.split())
    return line if len(line) <= width else line[: width - 1] + "…"


def for_terminal(text: str) -> str:
    r"""Return text as a terminal may show it: what would steer the terminal is spelt out.

    Line ends and tabs stay; other control characters (C0, C1 and escape sequences), lone surrogates
    and direction overrides are written as escapes.

    Examples:
        >>> for_terminal("red\x1b[31m\n"), for_terminal("a\u202eb")
        ('red\\x1b[31m\n', 'a\\u202eb')
    """
    return "".join(
        c if c in "\n\t" or c.isprintable() or (unicodedata.category(c) in _HARMLESS
        and not "\u202a" <= c <= "\u202e" and not "\u2066" <= c <= "\u2067")
        else c.encode("unicode_escape").decode()
        for c in text
    )  # fmt: skip


#: Not printable, and yet nothing that steers: spaces of all kinds, format marks of scripts.
_HARMLESS: Final = ("Zs", "Cf", "Zl", "Zp", "Cn", "Co")


def percent(fraction: float) -> str:
    """Return a share as whole per cent, halves up.

    Examples:
        >>> percent(0.125), percent(0.004)
        ('13%', '0%')
    """
    return f"{math.floor(fraction * 100 + 0.5)}%"


def file_stem(text: str) -> str:
    """Return a short name for a file, of small Latin letters, digits and hyphens.

    Examples:
        >>> file_stem("Deep teal, sand & brick: waves"), file_stem("\u2665")
        ('deep-teal-sand-brick-waves', 'band')
    """
    plain = "".join(c if c.isalnum() and c.isascii() else "-" for c in text.lower())
    return "-".join(part for part in plain.split("-") if part)[:40] or "band"


def count(number: int, one: str, many: str | None = None) -> str:
    """Return a number with its noun.

    Examples:
        >>> count(1, "colour"), count(3, "colour")
        ('1 colour', '3 colours')
    """
    return f"{number} {one if number == 1 else many or one + 's'}"


def joined(parts: Iterable[str]) -> str:
    """Return a list as it is said.

    Examples:
        >>> joined(["a", "b", "c"])
        'a, b and c'
    """
    words = list(parts)
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def isolated(text: str) -> str:
    """Return `text` between the marks FSI and PDI, so that its direction stays its own.

    Unicode Standard Annex 9: a right-to-left name does not reorder the sentence around it.
    """
    return f"\u2068{text}\u2069"
