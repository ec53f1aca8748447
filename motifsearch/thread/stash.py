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
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import tomli_w

from motifsearch.pattern.colour import is_hex
from motifsearch.pattern.design import Pattern
from motifsearch.pattern.errors import InputError, nearest
from motifsearch.pattern.tomlfile import REQUIRED, Table, read_toml, write_atomic
from motifsearch.thread.calibration import read_calibration
from motifsearch.thread.model import ThreadModel
from motifsearch.thread.yarn import diameter_mm

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
#: A piece longer than any cone of thread is a slip of the pen (metres for centimetres).
MAX_PIECE_M = 2000.0
MIN_PIECE_M = 0.001
MAX_PIECES = 10_000
MAX_DIAMETER_MM = 20.0
MAX_TEX = 100_000.0
MAX_NAME = 60


@dataclass(frozen=True)
class StashThread:
    """One kind of thread on hand.

    Attributes:
        name: The colour's name, as patterns call it.
        colour: ``#rrggbb``, lower case.
        diameter_mm: Measured, or computed from `tex`.
        tex: Linear density in g/km, when the stash gives it.
        pieces_mm: Lengths on hand, whole skeins and leftovers, as listed; may be empty.
        skein_m: Metres in a new skein, when the stash says so.
        price: Price of a new skein, when the stash says so.
    """

    name: str
    colour: str
    diameter_mm: float
    tex: float | None
    pieces_mm: tuple[float, ...]
    skein_m: float | None = None
    price: float | None = None

    @property
    def total_mm(self) -> float:
        """Millimetres on hand, all pieces together."""
        return float(sum(self.pieces_mm))

    def is_whole(self, piece_mm: float) -> bool:
        """Return whether a piece is a whole skein: `skein_m` is known and 99 % of it is there."""
        return self.skein_m is not None and piece_mm >= 990.0 * self.skein_m


@dataclass(frozen=True)
class Stash:
    """All threads on hand.

    Attributes:
        threads: In the order of the file; names differ.
        show: "metric" or "imperial": how lengths are shown.
        model: The maker's tension: calibrated, or the stated defaults.
        currency: What prices are in; may be empty.
        source: The file that it came from, for messages.
        calibration: The calibration file as the stash names it; empty when there is none.
    """

    threads: tuple[StashThread, ...]
    show: str = "metric"
    model: ThreadModel = field(default_factory=ThreadModel)
    currency: str = ""
    source: str = ""
    calibration: str = ""

    @property
    def names(self) -> tuple[str, ...]:
        """The names of the threads, in order."""
        return tuple(t.name for t in self.threads)

    def thread(self, name: str) -> StashThread:
        """Return the thread of this name.

        Raises:
            InputError: The stash has none; the message names the nearest.
        """
        for thread in self.threads:
            if thread.name == name:
                return thread
        hint = nearest(name, self.names) or f"; threads: {', '.join(map(repr, self.names))}"
        raise InputError(
            f"expected a thread on hand{hint}", name, source=self.source or "stash", key="threads"
        )


def strand_diameters_mm(pattern: Pattern, stash: Stash) -> npt.NDArray[np.float64]:
    """Return the thread diameter of every strand, float64 ``[S]``, in mm.

    Raises:
        InputError: A colour of the pattern is not on hand.
    """
    of = {name: stash.thread(name).diameter_mm for name in pattern.palette}
    return np.array([of[name] for name in pattern.colour_order])


def stash_bounds(stash: Stash) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Return what no plan can exceed: the total and the longest piece of every thread.

    Returns:
        total_mm: float64 ``[k]``, in the order of ``stash.threads``.
        longest_mm: float64 ``[k]``; 0 where nothing is on hand.
    """
    total = np.array([t.total_mm for t in stash.threads], np.float64)
    longest = np.array([max(t.pieces_mm, default=0.0) for t in stash.threads], np.float64)
    return total, longest


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
    model = ThreadModel()
    if calibration:
        model = read_calibration((folder or Path()) / calibration).model
    return Stash(
        threads,
        table.text("show", "metric", choices=SHOW),
        model,
        table.text("currency", ""),
        table.source,
        calibration,
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
    measured = table.number("diameter_mm", None, low=0.01, high=MAX_DIAMETER_MM)
    if tex is None and measured is None:
        raise table.error("tex", "missing; expected tex (g/km) or diameter_mm")
    diameter = diameter_mm(tex) if measured is None else measured
    if not 0.01 <= diameter <= MAX_DIAMETER_MM:
        raise table.error("tex", f"expected a thread of 0.01 to {MAX_DIAMETER_MM:g} mm", tex)
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
    return StashThread(
        name,
        colour.lower(),
        diameter,
        tex,
        lengths,
        table.number("skein_m", None, low=0.1, high=MAX_PIECE_M),
        table.number("price_per_skein", None, high=1e6),
    )


def to_mm(metres: float) -> float:
    """Return a length in mm, to a thousandth, so that 0.1 + 0.2 leaves no dust behind."""
    return round(metres * 1000.0, 3)


def _plain(value: float) -> int | float:
    """Return a whole number as an int: 8, not 8.0, stands in a file that people edit."""
    return int(value) if value == int(value) else value


def _metres(mm: float) -> int | float:
    return _plain(round(mm / 1000.0, 6))


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
        text += f"pieces_m = [{', '.join(str(_metres(p)) for p in thread.pieces_mm)}]\n"
        if thread.skein_m is not None:
            text += f"skein_m = {_plain(thread.skein_m)}\n"
        if thread.price is not None:
            text += f"price_per_skein = {_plain(thread.price)}\n"
        lines.append(f"\n[[threads]]\n{text}")
    return "".join(lines)


def write_stash(stash: Stash, path: str | Path, backup: bool = True) -> Path | None:
    """Write the stash file, whole or not at all.

    Args:
        stash: What to write.
        path: Where; a relative calibration path is rewritten when the folder is another one.
        backup: Keep the file that stood there as ``NAME.toml.bak``, or ``.bak2``, ``.bak3`` and
            so on: no earlier backup is overwritten.

    Returns:
        The backup, or None when there was nothing to keep.

    Raises:
        MotifError: A file cannot be written; what stood there is untouched.
    """
    path = Path(path)
    if stash.calibration and not Path(stash.calibration).is_absolute() and stash.source:
        old = Path(stash.source).parent / stash.calibration
        moved = Path(os.path.relpath(old, path.parent)).as_posix()
        if Path(stash.source).resolve().parent != path.resolve().parent:
            stash = replace(stash, calibration=moved)
    text = format_stash(stash)
    kept = None
    if backup and path.exists():
        kept = _free_name(path)
        write_atomic(kept, path.read_bytes())
    write_atomic(path, text)
    return kept


def _free_name(path: Path) -> Path:
    number = 1
    while True:
        name = path.with_name(f"{path.name}.bak{number if number > 1 else ''}")
        if not name.exists():
            return name
        number += 1


def with_pieces(thread: StashThread, pieces_mm: Iterable[float]) -> StashThread:
    """Return the thread with other pieces on hand, longest first."""
    return replace(thread, pieces_mm=tuple(sorted(pieces_mm, reverse=True)))


def only_threads(stash: Stash, names: Sequence[str]) -> Stash:
    """Return the stash with only the threads of these names, in the stash's order.

    Raises:
        InputError: One of them is not on hand.
    """
    for name in names:
        stash.thread(name)
    return replace(stash, threads=tuple(t for t in stash.threads if t.name in names))
