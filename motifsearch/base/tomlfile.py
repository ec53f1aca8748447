"""Reading TOML that people edit: one place for every check at the boundary.

`Table` wraps a table of a file; its getters return a value of the right kind or raise
`InputError` with the file, the key, what was expected and what stood there.
"""

from __future__ import annotations

import math
import os
import re
import stat
import tempfile
import tomllib
from collections.abc import Callable, Collection, Iterator, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any, TypeVar, overload

from motifsearch.base.errors import InputError, nearest

#: No file of ours comes near; a larger one is a mistake (a picture, a disk image).
MAX_BYTES = 4_000_000


def read_text(path: str | Path, what: str) -> str:
    """Return the UTF-8 text of a file.

    Args:
        path: The file.
        what: What it should be, for the message, such as ``a pattern file``.

    Raises:
        InputError: The file is missing, is no file, is too large, or is no UTF-8 text.
    """
    try:
        text = read_file(path, what).decode("utf-8-sig")
    except UnicodeDecodeError as bad:
        raise InputError(f"expected {what} in UTF-8: {bad.reason}", source=Path(path)) from None
    return text.replace("\r\n", "\n").replace("\r", "\n")


def read_file(path: str | Path, what: str, most: int = MAX_BYTES) -> bytes:
    """Return the bytes of a file; what is no file is refused at once, never waited for.

    Args:
        path: The file.
        what: What it should be, for the message, such as ``a pattern file``.
        most: The most bytes that it may have.

    Raises:
        InputError: The file is missing, is no file (a folder, a pipe, a device), or is too large.
    """
    path = Path(path)
    try:
        # To open a pipe waits for its other end, unless it is told not to.
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | _BINARY)
        with os.fdopen(handle, "rb") as file:
            if not stat.S_ISREG(os.fstat(handle).st_mode):
                raise InputError(f"expected {what}; {_kind_of(path)}", source=path)
            data = file.read(most + 1)
    except (OSError, ValueError) as bad:
        with suppress(OSError, ValueError):  # a name that no system takes cannot be asked about
            if not path.exists() or path.is_dir():
                raise InputError(f"expected {what}; {_kind_of(path)}", source=path) from None
        reason = getattr(bad, "strerror", None) or str(bad)
        raise InputError(f"cannot read {what}: {reason}", source=str(path)) from None
    if len(data) > most:
        raise InputError(f"expected {what} of at most {most} bytes", source=path)
    return data


_BINARY = getattr(os, "O_BINARY", 0)


def _kind_of(path: Path) -> str:
    """Return what stands at a path where a file was expected."""
    if path.is_dir():
        return "a folder"
    return "this is a pipe or a device" if path.exists() else "no such file"


#: No file of ours has longer dotted keys, or lists and tables that stand deeper in one another.
MOST_PARTS = 16
MOST_DEPTH = 32
#: What counts in a TOML text: strings and comments are passed over whole (TOML 1.0.0).
_TOKEN = re.compile(
    r'"""(?:[^\\"]|\\.|"{1,2}(?!"))*(?:"{3,5}|\Z)'
    r"|'''(?:[^']|'{1,2}(?!'))*(?:'{3,5}|\Z)"
    r'|"(?:[^\\"\n]|\\.)*"?'
    r"|'[^'\n]*'?"
    r"|#[^\n]*"
    r"|[.\[\]{}=,\n]",
    re.DOTALL,
)


def check_form(text: str, what: str, source: str | Path) -> None:
    """Refuse a TOML text that the parser would take minutes for, before it is parsed.

    The time of `tomllib` grows with the square of the parts of a dotted key, and its stack with
    the depth of lists and tables; this looks through the text once.

    Args:
        text: The text.
        what: What it should be, for the message.
        source: The file.

    Raises:
        InputError: A key has more than `MOST_PARTS` parts, or something stands deeper than
            `MOST_DEPTH`.
    """
    parts = depth = 0
    for found in _TOKEN.finditer(text):
        mark = found.group()
        if mark == ".":
            parts += 1
            if parts >= MOST_PARTS:
                raise InputError(
                    f"expected {what} in TOML: keys of at most {MOST_PARTS} parts", source=source
                )
        elif mark in "[{":
            depth, parts = depth + 1, 0
            if depth > MOST_DEPTH:
                raise InputError(
                    f"expected {what} in TOML: at most {MOST_DEPTH} lists and tables "
                    "inside one another",
                    source=source,
                )
        elif mark in "]}":
            depth, parts = max(0, depth - 1), 0
        elif mark in "=,\n":
            parts = 0


def read_toml(path: str | Path, what: str) -> Table:
    """Return the top table of a TOML file.

    Raises:
        InputError: As `read_text`, and when the text is no TOML.
    """
    text = read_text(path, what)
    check_form(text, what, path)
    try:
        return Table(tomllib.loads(text), source=str(path))
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as bad:
        raise InputError(f"expected {what} in TOML: {bad}", source=path) from None


def write_atomic(path: Path, data: str | bytes) -> None:
    """Write a file so that it is there whole or not at all.

    The data goes to a new file in the same folder, is flushed to the disk, and takes the name
    of `path` in one step.  A symbolic link stays one: the file that it names is replaced.  A file
    that stood there hands its permissions on.

    Raises:
        MotifError: The folder is missing or read-only, or the disk is full.
    """
    from motifsearch.base.errors import MotifError

    raw = data.encode() if isinstance(data, str) else data
    handle = -1
    name = ""
    try:
        path = Path(os.path.realpath(path))
        mode = stat.S_IMODE(path.stat().st_mode) if path.is_file() else 0o644
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=".tmp-", suffix="~")
        with os.fdopen(handle, "wb") as out:
            out.write(raw)
            out.flush()
            os.fsync(out.fileno())
        os.chmod(name, mode)
        os.replace(name, path)
    except BaseException as bad:
        if name and os.path.exists(name):
            os.unlink(name)
        if isinstance(bad, OSError):
            raise MotifError(f"{path}: cannot write: {bad.strerror or bad}") from None
        raise


class _Required:
    """The default that means: there is none."""


REQUIRED = _Required()
#: What stands for a key that is absent.
D = TypeVar("D")


class Table:
    """One table of a file, with checked getters.

    Args:
        data: The parsed table.
        source: The file, for messages.
        prefix: The key of this table inside the file, for messages.
    """

    def __init__(self, data: Mapping[str, Any], source: str, prefix: str = "") -> None:
        self.data = dict(data)
        self.source = source
        self.prefix = prefix

    def __contains__(self, key: str) -> bool:
        """Return whether the table has `key`."""
        return key in self.data

    def key(self, key: str) -> str:
        """Return the full key, such as ``limits.evenness_min``."""
        return ".".join(part for part in (self.prefix, key) if part)

    def error(self, key: str, expected: str, found: object = None) -> InputError:
        """Return the error for `key`, to be raised."""
        return InputError(expected, found, source=self.source, key=self.key(key))

    def only(self, known: Collection[str]) -> None:
        """Check that no key stands here but the known ones.

        Raises:
            InputError: There is another one; the message names the nearest known key.
        """
        for key in self.data:
            if key not in known:
                hint = nearest(key, known) or f"; known keys: {', '.join(sorted(known))}"
                raise self.error(key, f"unknown key{hint}")

    def _get(self, key: str, expected: str, default: Any) -> Any:
        if key in self.data:
            return self.data[key]
        if default is REQUIRED:
            raise self.error(key, f"missing; expected {expected}")
        return default

    @overload
    def text(self, key: str, default: _Required, *, choices: Collection[str] = ()) -> str: ...

    @overload
    def text(self, key: str, default: D, *, choices: Collection[str] = ()) -> str | D: ...

    @overload
    def text(self, key: str, *, choices: Collection[str] = ()) -> str | None: ...

    def text(self, key: str, default: object = None, *, choices: Collection[str] = ()) -> object:
        """Return a text, one of `choices` if there are any."""
        expected = f"one of {', '.join(choices)}" if choices else "a text"
        value = self._get(key, expected, default)
        if key not in self.data:
            return value
        if not isinstance(value, str):
            raise self.error(key, f"expected {expected}", value)
        if not _can_be_written(value):
            raise self.error(key, "expected a text that can be written as UTF-8", value)
        if choices and value not in choices:
            raise self.error(key, f"expected {expected}{nearest(value, choices)}", value)
        return value

    def flag(self, key: str, default: bool = False) -> bool:
        """Return true or false."""
        value: bool = self._get(key, "true or false", default)
        if key in self.data and not isinstance(value, bool):
            raise self.error(key, "expected true or false", value)
        return value

    @overload
    def whole(self, key: str, default: _Required, *, low: int = 0, high: int = 10**9) -> int: ...

    @overload
    def whole(self, key: str, default: D, *, low: int = 0, high: int = 10**9) -> int | D: ...

    @overload
    def whole(self, key: str, *, low: int = 0, high: int = 10**9) -> int | None: ...

    def whole(self, key: str, default: object = None, *, low: int = 0, high: int = 10**9) -> object:
        """Return a whole number in ``low..high``."""
        expected = f"a whole number from {low} to {high}"
        value = self._get(key, expected, default)
        if key not in self.data:
            return value
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            raise self.error(key, f"expected {expected}", value)
        return value

    @overload
    def number(
        self,
        key: str,
        default: _Required,
        *,
        low: float = 0.0,
        high: float = 1e9,
        above: bool = False,
        small: str = "",
    ) -> float: ...

    @overload
    def number(
        self,
        key: str,
        default: D,
        *,
        low: float = 0.0,
        high: float = 1e9,
        above: bool = False,
        small: str = "",
    ) -> float | D: ...

    @overload
    def number(
        self,
        key: str,
        *,
        low: float = 0.0,
        high: float = 1e9,
        above: bool = False,
        small: str = "",
    ) -> float | None: ...

    def number(
        self,
        key: str,
        default: object = None,
        *,
        low: float = 0.0,
        high: float = 1e9,
        above: bool = False,
        small: str = "",
    ) -> object:
        """Return a number in ``low..high``; with `above`, `low` itself is refused.

        Args:
            key: The key.
            default: What stands for an absent key.
            low: The least.
            high: The most.
            above: Whether `low` itself is refused.
            small: What is asked where a number is above 0 and below `low`, such as "is this in
                cm?".

        Raises:
            InputError: It is no number, or stands outside the bounds.
        """
        expected = (
            f"a number {'above' if above else 'from'} {low:g} {'up ' if above else ''}to {high:g}"
        )
        value = self._get(key, expected, default)
        if key not in self.data:
            return value
        if small and isinstance(value, int | float) and 0 < value < low:
            expected = f"{expected}; {small}"
        return self.check_number(key, value, expected, low=low, high=high, above=above)

    def check_number(
        self, key: str, value: object, expected: str, *, low: float, high: float, above: bool
    ) -> float:
        """Return `value` as a float inside the bounds.

        Raises:
            InputError: It is no finite number or stands outside the bounds.
        """
        number = math.nan
        if isinstance(value, int | float) and not isinstance(value, bool):
            try:
                number = float(value)
            except OverflowError:
                number = math.inf
        good = math.isfinite(number) and (low < number if above else low <= number)
        if not good or number > high:
            raise self.error(key, f"expected {expected}", value)
        return number

    def items(
        self,
        key: str,
        default: Any = None,
        *,
        of: type | tuple[type, ...] = str,
        what: str = "a list of texts",
        check: Callable[[Any], bool] | None = None,
    ) -> Any:
        """Return a list whose every item is of a kind and passes `check`."""
        value = self._get(key, what, default)
        if key not in self.data:
            return value
        if not isinstance(value, list):
            raise self.error(key, f"expected {what}", value)
        for n, item in enumerate(value):
            wrong = not isinstance(item, of) or (isinstance(item, bool) and of is not bool)
            if wrong or (check is not None and not check(item)):
                raise self.error(f"{key}[{n}]", f"expected {what}", item)
        return list(value)

    def table(self, key: str, *, required: bool = False) -> Table:
        """Return a table inside this one; an absent one is empty unless required."""
        value = self._get(key, "a table", REQUIRED if required else {})
        if not isinstance(value, dict):
            raise self.error(key, f"expected a table [{self.key(key)}]", value)
        return Table(value, self.source, self.key(key))

    def tables(self, key: str, *, required: bool = True) -> Iterator[Table]:
        """Return the tables of a list such as ``[[threads]]``."""
        value = self._get(key, f"tables [[{self.key(key)}]]", REQUIRED if required else [])
        if not isinstance(value, list) or not all(isinstance(v, dict) for v in value):
            raise self.error(key, f"expected tables [[{self.key(key)}]]", value)
        return (Table(v, self.source, f"{self.key(key)}[{n + 1}]") for n, v in enumerate(value))


def _can_be_written(text: str) -> bool:
    """Return whether a text is Unicode; bytes of an option that are not UTF-8 are none."""
    try:
        text.encode()
    except UnicodeEncodeError:
        return False
    return True
