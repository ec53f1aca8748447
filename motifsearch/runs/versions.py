"""Files with versions: read, compared, written whole, one writer at a time.

The version of a file is the first 16 hex digits of the SHA-256 (FIPS 180-4) of its bytes; of a file
that is not there, the empty text.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from filelock import FileLock, Timeout

from motifsearch.base.errors import InputError, MotifError
from motifsearch.base.tomlfile import write_atomic
from motifsearch.thread.ledger import owned as book_owned

#: The version of a file that is not there.
NONE: Final = ""
#: How long a change waits for another one to end, in seconds.
PATIENCE_S: Final = 20.0
#: Files of a workroom are small; a larger one is none of ours.
MOST_BYTES: Final = 2_000_000


def version_of(data: bytes | None) -> str:
    """Return the version of a file's bytes; empty for a file that is not there.

    Examples:
        >>> version_of(b"abc"), version_of(None)
        ('ba7816bf8f01cfea', '')
    """
    return NONE if data is None else hashlib.sha256(data).hexdigest()[:16]


def read_bytes(path: Path) -> bytes | None:
    """Return a file's bytes; None where there is no such file.

    Raises:
        InputError: It cannot be read, or is too large.
    """
    try:
        if path.stat().st_size > MOST_BYTES:
            raise InputError(f"expected a file of at most {MOST_BYTES} bytes", source=path)
        return path.read_bytes()
    except FileNotFoundError:
        return None
    except OSError as bad:
        raise InputError(f"cannot be read: {bad.strerror}", source=path) from None


def put(path: Path, data: bytes | None) -> None:
    """Write a file whole, or take it away."""
    if data is None:
        path.unlink(missing_ok=True)
    else:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_atomic(path, data)


@contextmanager
def locked(path: Path) -> Iterator[None]:
    """Hold a file: the only writer until the block ends.  A stash is held by its book's lock.

    Raises:
        MotifError: Another process holds it for too long, or the folder cannot be written to.
    """
    real = Path(os.path.realpath(path))
    if real.exists() and real.name.startswith("stash"):
        with book_owned(real):
            yield
        return
    lock = FileLock(real.with_name(f".{real.name}.lock"))
    try:
        real.parent.mkdir(parents=True, exist_ok=True)
        lock.acquire(timeout=PATIENCE_S)
    except Timeout:
        raise MotifError(f"{path}: is being written by another program; try again") from None
    except OSError as bad:
        raise MotifError(f"{path.parent}: cannot write: {bad.strerror or bad}") from None
    try:
        yield
    finally:
        lock.release()
