"""New pieces, or a thread more or less, in the text of a stash file; nothing else changes.

The file is the maker's: her comments, the order of keys and threads, line ends and a byte order
mark stay as they are.  The text is parsed and written by tomlkit, which keeps what it reads; the
lists ``pieces_m`` are touched item by item, so that a comment beside a piece stays beside it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from itertools import zip_longest
from typing import Any, Final

import tomlkit
from tomlkit.exceptions import TOMLKitError

from motifsearch.base.errors import InputError

_BOM: Final = b"\xef\xbb\xbf"


def metres(mm: float) -> int | float:
    """Return a length in metres as it stands in a file: 8, not 8.0."""
    value = round(mm / 1000.0, 6)
    return int(value) if value == int(value) else value


def with_pieces(
    raw: bytes, pieces_mm: Sequence[Sequence[float]], good: Callable[[str], bool]
) -> bytes | None:
    r"""Return the bytes of a stash file with other pieces.

    Args:
        raw: The file as it stands.
        pieces_mm: The pieces of every thread in mm, in the order of the file's threads.  What
            stays keeps its place; a new piece takes the place of one that is gone.
        good: Whether a text says what it should.

    Returns:
        The new bytes; None where the file is written in a way that cannot be edited.

    Examples:
        >>> old = b"[[threads]] # mine\r\nname = 'sand'\r\npieces_m = [8, 2] # metres\r\n"
        >>> with_pieces(old, [(1350.0, 2000.0)], lambda text: True).decode()
        "[[threads]] # mine\r\nname = 'sand'\r\npieces_m = [1.35, 2] # metres\r\n"
    """
    bom = _BOM if raw.startswith(_BOM) else b""
    text = raw[len(bom) :].decode()
    for edit in (_in_place, _anew):
        try:
            document = tomlkit.parse(text)
            threads: Any = document["threads"]
            for thread, wanted in zip(threads, pieces_mm, strict=True):
                edit(thread, wanted)
            changed = tomlkit.dumps(document)
        except (TOMLKitError, ValueError, KeyError, TypeError, IndexError, RecursionError):
            continue
        if "\r\n" in text and text.count("\r\n") == text.count("\n"):
            changed = changed.replace("\r\n", "\n").replace("\n", "\r\n")
        if good(changed):
            return bom + changed.encode()
    return None


def _in_place(thread: Any, wanted: Iterable[float]) -> None:
    """Change the items that differ; a comment beside an item stays where it is."""
    listed: Any = thread["pieces_m"]
    here = [round(float(item) * 1000.0, 3) for item in listed]
    stays = Counter(here) & Counter(wanted)
    new = Counter(wanted) - stays
    added = list(new.elements())
    gone = []
    for index, piece in enumerate(here):
        if stays[piece]:
            stays[piece] -= 1
        else:
            gone.append(index)
    last: list[int] = []
    for place, piece in zip_longest(gone, added[: len(gone)]):
        if piece is None:
            last.append(place)
        else:
            listed[place] = metres(piece)
    for place in reversed(last):
        del listed[place]
    for piece in added[len(gone) :]:
        listed.append(metres(piece))


def _anew(thread: Any, wanted: Iterable[float]) -> None:
    """Write the list anew: what stood inside its brackets goes, all else stays."""
    comment = thread["pieces_m"].trivia.comment
    before = thread["pieces_m"].trivia.comment_ws
    fresh = tomlkit.array()
    for piece in wanted:
        fresh.append(metres(piece))
    thread["pieces_m"] = fresh
    fresh.trivia.comment, fresh.trivia.comment_ws = comment, before


def with_thread(raw: bytes, name: str | None, keys: Mapping[str, Any]) -> bytes:
    r"""Return the bytes of a stash file with a thread changed, or with one more.

    Args:
        raw: The file as it stands; may be empty.
        name: The thread; None for a new one, which comes last.
        keys: What is to stand there; None takes a key away.

    Raises:
        InputError: There is no such thread, or the file is written in a way that cannot be edited.

    Examples:
        >>> old = b"# mine\n[[threads]]\nname = 'sand' # light\ntex = 250\npieces_m = [8]\n"
        >>> print(with_thread(old, "sand", {"tex": None, "diameter_mm": 0.6}).decode(), end="")
        # mine
        [[threads]]
        name = 'sand' # light
        pieces_m = [8]
        diameter_mm = 0.6
    """
    if name is None:
        fresh = {k: [_short(v) for v in value] if k == "pieces_m" else _short(value)
                 for k, value in keys.items() if value is not None}  # fmt: skip
        table = f"[[threads]]\n{tomlkit.dumps(fresh)}"
        head = raw.rstrip(b"\r\n \t")
        end = b"\r\n" if b"\r\n" in raw else b"\n"
        return (head + 2 * end if head else b"") + table.encode().replace(b"\n", end)

    def edit(document: Any) -> None:
        thread = next(t for t in document["threads"] if t["name"] == name)
        for key, value in keys.items():
            if value is None:
                thread.pop(key, None)
            elif key == "pieces_m" and key in thread:
                _in_place(thread, [round(float(v) * 1000.0, 3) for v in value])
            elif key not in thread or thread[key] != value:
                thread[key] = [_short(v) for v in value] if key == "pieces_m" else _short(value)

    return _edited(raw, name, edit)


def without_thread(raw: bytes, name: str) -> bytes:
    r"""Return the bytes of a stash file without a thread.

    Raises:
        InputError: As `with_thread`.
    """

    def edit(document: Any) -> None:
        at = next(n for n, t in enumerate(document["threads"]) if t["name"] == name)
        del document["threads"][at]

    return _edited(raw, name, edit)


def _short(value: Any) -> Any:
    return int(value) if isinstance(value, float) and value == int(value) else value


def _edited(raw: bytes, name: str | None, edit: Callable[[Any], None]) -> bytes:
    bom = _BOM if raw.startswith(_BOM) else b""
    try:
        text = raw[len(bom) :].decode()
        document = tomlkit.parse(text)
        edit(document)
        changed = tomlkit.dumps(document)
    except StopIteration:
        raise InputError("expected a thread of the stash", name, key="name") from None
    except (TOMLKitError, ValueError, KeyError, TypeError, IndexError, RecursionError) as bad:
        raise InputError(f"the stash file cannot be edited: {bad}") from None
    if "\r\n" in text and text.count("\r\n") == text.count("\n"):
        changed = changed.replace("\r\n", "\n").replace("\n", "\r\n")
    return bom + changed.encode()
