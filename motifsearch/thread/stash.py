"""The stash: the threads on hand, read from TOML and written back exactly.

::

    show = "metric"                  # or "imperial"; what is shown, never what is stored
    currency = "EUR"                 # optional
    calibration = "my-hand.toml"     # optional; a file of `motifsearch calibrate`

    [[threads]]
    name = "deep teal"
    colour = "#1f6f73"
    tex = 250                        # or diameter_mm = 0.6; a measured diameter wins over tex
    pieces_m = [8, 8, 1.35]          # whole skeins and leftover pieces alike
    skein_m = 8                      # optional: what a new skein holds
    price_per_skein = 1.2            # optional

Lengths are stored in metres in the file and in millimetres (to a thousandth) in memory.
"""

from __future__ import annotations

import os
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import tomli_w

from motifsearch.base.colour import is_hex
from motifsearch.base.errors import InputError
from motifsearch.base.tomlfile import REQUIRED, Table, read_text, read_toml, write_atomic
from motifsearch.base.units import IN_CM
from motifsearch.thread.calibration import read_calibration
from motifsearch.thread.model import ThreadModel
from motifsearch.thread.stash_edit import metres, with_pieces
from motifsearch.thread.threads import (
    Stash,
    StashThread,
    only_threads,
    stash_bounds,
    strand_diameters_mm,
)
from motifsearch.thread.yarn import diameter_mm

__all__ = [
    "Stash",
    "StashThread",
    "format_stash",
    "only_threads",
    "parse_stash",
    "read_stash",
    "stash_bounds",
    "stash_bytes",
    "strand_diameters_mm",
    "to_mm",
    "write_stash",
]

KEYS = ("threads", "show", "currency", "calibration")
THREAD_KEYS = (
    "name",
    "colour",
    "tex",
    "diameter_mm",
    "pieces_m",
    "skein_m",
    "price_per_skein",
)
SHOW = ("metric", "imperial")
#: No cone of thread is longer.
MAX_PIECE_M = 2000.0
#: A longer piece is asked back where nothing says that it came from a cone: lengths in
#: centimetres look like that (skeins of stranded cotton hold about 8 m; common practice).
LONG_PIECE_M = 100.0
MIN_PIECE_M = 0.001
MAX_PIECES = 10_000
#: Sewing thread has about 0.2 mm, rope for macrame up to a finger (common practice, no source).
MIN_DIAMETER_MM = 0.1
MAX_DIAMETER_MM = 20.0
MAX_TEX = 100_000.0
MAX_NAME = 60


def read_stash(path: str | Path) -> Stash:
    """Read a stash file, and the calibration file that it names.

    Raises:
        InputError: With file, key, what was expected and what stood there.
    """
    return parse_stash(read_toml(path, "a stash file"), Path(path).parent)


def parse_stash(table: Table, folder: Path | None = None) -> Stash:
    """Check a parsed stash file.

    Args:
        table: The file's top table.
        folder: Where a relative `calibration` is looked for; the current folder when left out.

    Raises:
        InputError: With file, key, what was expected and what stood there.
    """
    table.only(KEYS)
    threads = tuple(_thread(item) for item in table.tables("threads"))
    if not threads:
        raise table.error("threads", "expected at least one table [[threads]]")
    seen: dict[str, int] = {}
    for n, thread in enumerate(threads, 1):
        if thread.name in seen:
            raise table.error(
                f"threads[{n}].name", f"expected a name unlike threads[{seen[thread.name]}].name",
                thread.name,
            )  # fmt: skip
        seen[thread.name] = n
    calibration = table.text("calibration", "")
    model, pace = ThreadModel(), None
    if calibration:
        fitted = read_calibration((folder or Path()) / calibration)
        model, pace = fitted.model, fitted.minutes_per_knot
    return Stash(
        threads,
        table.text("show", "metric", choices=SHOW),
        model,
        table.text("currency", ""),
        table.source,
        calibration,
        pace,
    )


def _thread(table: Table) -> StashThread:
    table.only(THREAD_KEYS)
    name = table.text("name", REQUIRED)
    if not name.strip() or name != name.strip() or len(name) > MAX_NAME or not name.isprintable():
        raise table.error("name", f"expected a name of 1 to {MAX_NAME} characters", name)
    colour = table.text("colour", REQUIRED)
    if not is_hex(colour):
        raise table.error("colour", 'expected a colour such as "#c04020"', colour)
    tex = table.number("tex", None, high=MAX_TEX, above=True)
    measured = table.number("diameter_mm", None, low=MIN_DIAMETER_MM, high=MAX_DIAMETER_MM)
    if measured is not None:
        diameter = measured
    elif tex is not None:
        diameter = diameter_mm(tex)
    else:
        raise table.error("tex", "missing; expected tex (g/km) or diameter_mm")
    if not MIN_DIAMETER_MM <= diameter <= MAX_DIAMETER_MM:
        raise table.error(
            "tex",
            f"expected a thread of {MIN_DIAMETER_MM:g} to {MAX_DIAMETER_MM:g} mm; this tex makes "
            f"{diameter:.3g} mm",
            tex,
        )
    what = f"a list of lengths in m, each from {MIN_PIECE_M:g} to {MAX_PIECE_M:g}"
    pieces = table.items("pieces_m", REQUIRED, of=(int, float), what=what)
    if len(pieces) > MAX_PIECES:
        raise table.error("pieces_m", f"expected at most {MAX_PIECES} pieces", len(pieces))
    lengths = tuple(
        to_mm(
            table.check_number(
                f"pieces_m[{n}]", piece, f"a length in m from {MIN_PIECE_M:g} to {MAX_PIECE_M:g}",
                low=MIN_PIECE_M, high=MAX_PIECE_M, above=False,
            )
        )
        for n, piece in enumerate(pieces)
    )  # fmt: skip
    skein = table.number("skein_m", None, low=0.1, high=MAX_PIECE_M)
    for n, length in enumerate(lengths):
        if length > 1000.0 * max(LONG_PIECE_M, 1.1 * (skein or 0.0)):
            raise table.error(
                f"pieces_m[{n}]",
                f"expected lengths in m, of at most {LONG_PIECE_M:g} m a piece; {IN_CM} (for a "
                "cone give what a new one holds: skein_m)",
                pieces[n],
            )
    return StashThread(
        name,
        colour.lower(),
        diameter,
        tex,
        lengths,
        skein,
        table.number("price_per_skein", None, high=1e6),
    )


def to_mm(metres: float) -> float:
    """Return a length in mm, to a thousandth, so that 0.1 + 0.2 leaves no dust behind."""
    return round(metres * 1000.0, 3)


def _plain(value: float) -> int | float:
    """Return a whole number as an int: 8, not 8.0, stands in a file that people edit."""
    return int(value) if value == int(value) else value


def _pieces_text(thread: StashThread) -> str:
    return f"[{', '.join(str(metres(p)) for p in thread.pieces_mm)}]"


def format_stash(stash: Stash) -> str:
    """Return the text of the stash file; reading it gives the same stash.

    Examples:
        >>> teal = StashThread("teal", "#1f6f73", 0.6, None, (8000.0, 1350.0), 8.0)
        >>> print(format_stash(Stash((teal,))), end="")
        show = "metric"
        <BLANKLINE>
        [[threads]]
        name = "teal"
        colour = "#1f6f73"
        diameter_mm = 0.6
        pieces_m = [8, 1.35]
        skein_m = 8
    """
    top: dict[str, Any] = {"show": stash.show}
    if stash.currency:
        top["currency"] = stash.currency
    if stash.calibration:
        top["calibration"] = stash.calibration
    lines = [tomli_w.dumps(top)]
    for thread in stash.threads:
        data: dict[str, Any] = {"name": thread.name, "colour": thread.colour}
        if thread.tex is not None:
            data["tex"] = _plain(thread.tex)
        if thread.tex is None or diameter_mm(thread.tex) != thread.diameter_mm:
            data["diameter_mm"] = _plain(thread.diameter_mm)
        text = tomli_w.dumps(data)
        text += f"pieces_m = {_pieces_text(thread)}\n"
        if thread.skein_m is not None:
            text += f"skein_m = {_plain(thread.skein_m)}\n"
        if thread.price is not None:
            text += f"price_per_skein = {_plain(thread.price)}\n"
        lines.append(f"\n[[threads]]\n{text}")
    return "".join(lines)


def stash_bytes(before: bytes, stash: Stash) -> bytes:
    r"""Return the bytes of a stash file in which `stash` stands: comments stay.

    Where only pieces differ from what stood there, nothing else is touched
    (`motifsearch.thread.stash_edit`); where more does, the text of `format_stash` is returned.

    Args:
        before: The file as it stands.
        stash: What is to stand there; the pieces of a thread may come in another order.

    Examples:
        >>> sand = StashThread("sand", "#d8c39a", 0.6, None, (1350.0,))
        >>> old = b"[[threads]] # mine\nname = 'sand'\ncolour = '#d8c39a'\ndiameter_mm = 0.6\n"
        >>> new = stash_bytes(old + b"pieces_m = [8] # metres\n", Stash((sand,)))
        >>> print(new.decode(), end="")
        [[threads]] # mine
        name = 'sand'
        colour = '#d8c39a'
        diameter_mm = 0.6
        pieces_m = [1.35] # metres
    """
    wanted = _plainly(stash)

    def good(text: str) -> bool:
        try:
            data = Table(tomllib.loads(text), stash.source)
            named = data.data.pop("calibration", "") == stash.calibration
            return named and _plainly(parse_stash(data)) == wanted
        except (tomllib.TOMLDecodeError, InputError, RecursionError):
            return False

    try:
        changed = with_pieces(before, [t.pieces_mm for t in stash.threads], good)
    except UnicodeDecodeError:
        changed = None
    return format_stash(stash).encode() if changed is None else changed


def _plainly(stash: Stash) -> Stash:
    """Return the stash without what its file does not say; the pieces sorted."""
    threads = tuple(replace(t, pieces_mm=tuple(sorted(t.pieces_mm))) for t in stash.threads)
    return replace(
        stash,
        threads=threads,
        model=ThreadModel(),
        source="",
        calibration="",
        minutes_per_knot=None,
    )


def write_stash(stash: Stash, path: str | Path) -> None:
    """Write the stash file, whole or not at all.

    Where a stash file stands there that differs in nothing but the pieces, its comments stay.
    Whoever takes threads out of a box that others use too books them:
    `motifsearch.thread.ledger`.

    Args:
        stash: What to write.
        path: Where; a relative calibration path is rewritten when the folder is another one.

    Raises:
        InputError: What stands there is no text.
        MotifError: The file cannot be written; what stood there is untouched.
    """
    path = Path(path)
    if stash.calibration and not Path(stash.calibration).is_absolute() and stash.source:
        old = Path(stash.source).parent / stash.calibration
        moved = Path(os.path.relpath(old, path.parent)).as_posix()
        if Path(stash.source).resolve().parent != path.resolve().parent:
            stash = replace(stash, calibration=moved)
    if not path.exists():
        write_atomic(path, format_stash(stash))
        return
    read_text(path, "a stash file")  # refuses what is no text
    write_atomic(path, stash_bytes(path.read_bytes(), stash))
