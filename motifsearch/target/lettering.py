"""Where the letters stand: a text set along a band, as a wanted motif of two or three colours.

The band lies flat with its first row at the left, so that strand 1 is below.  Read *by the
wearer* the text begins at the first row; read *by the one who looks on*, from the opposite side, it
begins at the last: the same picture after half a turn.

The text stands in the middle of the rows, once, or as often as the band has room for it; then the
rows of one turn are shared out so that every word has the same ground on both sides.  The tallest
letters that leave a position of ground above and below come first; their narrow forms are taken
where the text is too long otherwise.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from motifsearch.base.arrays import I8
from motifsearch.base.errors import InfeasibleError, InputError
from motifsearch.pattern.knots import MAX_ROWS, slots_in_row
from motifsearch.target.glyphs import HEIGHTS, Cell, glyph, spelled

#: Colours of a motif of letters, in this order.
GROUND, INK, EDGE = 0, 1, 2
#: The fewest strands that letters are drawn for.
FEWEST: Final = min(HEIGHTS) + 3
#: Rows of ground between letters, at least, for a blank, before and after a text, between texts.
GAP, BLANK, ENDS, BETWEEN = 2, 6, 2, 10

Reads = Literal["wearer", "onlooker"]


@dataclass(frozen=True)
class Lettering:
    """A text as it stands on a band.

    Attributes:
        text: As it is set.
        strands: S.
        rows: P, one turn of the pattern; even.
        band: The rows that are knotted.
        height: Of the letters, in positions.
        narrow: Whether the narrow letters are used.
        start: The row in which the text begins, as it is read.
        width: Its rows.
        times: How often it stands on the band.
        foot: The position of the letters' feet.
        ink: Its cells (row, position), for a reader at the first row.
    """

    text: str
    strands: int
    rows: int
    band: int
    height: int
    narrow: bool
    start: int
    width: int
    times: int
    foot: int
    ink: frozenset[Cell]

    def cells(self, more: frozenset[Cell] = frozenset(), *, edge: bool = False,
              reads: Reads = "wearer") -> I8:  # fmt: skip
        """Return the motif, int8 ``[P, S // 2]``: `GROUND`, `INK`, `EDGE`; -1 where no knot is.

        Args:
            more: Further ink, (row, position), as the text stands.
            edge: Whether the outermost knots have a colour of their own.
            reads: For whom the text reads.
        """
        out: I8 = np.full((self.rows, self.strands // 2), -1, np.int8)
        last = self.strands - 2
        # Half a turn of the band; knots fall on knots when both sums have one parity.
        turned = self.band - 1 + (self.band - 1 - last) % 2
        for r in range(self.rows):
            for k in range(slots_in_row(self.strands, r)):
                i = r % 2 + 2 * k
                at = (r, i) if reads == "wearer" else ((turned - r) % self.rows, last - i)
                out[r, k] = INK if at in self.ink or at in more else GROUND
                if edge and i in (0, last):
                    out[r, k] = EDGE
        return out


def heights_for(strands: int) -> tuple[int, ...]:
    """Return the heights that leave a position of ground above and below, tallest first.

    Examples:
        >>> heights_for(16), heights_for(12)
        ((13, 11, 9, 7), (9, 7))
    """
    return tuple(h for h in sorted(HEIGHTS, reverse=True) if h + 3 <= strands)


def rows_of(text: str, height: int, narrow: bool = False) -> int:
    """Return the rows that a text takes, as `spelled`."""
    placed, x = _placed(text, height, narrow)
    return x if placed else 0


def set_text(
    text: str,
    strands: int,
    rows: int,
    *,
    height: int | None = None,
    repeated: bool = False,
) -> Lettering:
    """Set a text along a band.

    Args:
        text: What is written; small letters become capitals.
        strands: S.
        rows: The rows that are knotted.
        height: Of the letters; the tallest in which the text has room when None.
        repeated: As often as the band has room, instead of once.

    Raises:
        InputError: A character that is not drawn.
        InfeasibleError: Too few strands, too few rows, or more than a pattern can have; the message
            names the nearest that works.
    """
    fits = heights_for(strands)
    if not fits:
        raise InfeasibleError(
            f"letters need {FEWEST} strands at least, these are {strands}; "
            f"the nearest that works: {FEWEST} strands"
        )
    if height is None:
        return _tallest(text, strands, rows, repeated)
    if height not in fits:
        heights = ", ".join(map(str, fits))
        raise InputError(f"expected letters of a height that fits {strands} strands: {heights}",
                         height)  # fmt: skip
    written = spelled(text, height)
    narrow = rows_of(written, height) + 2 * ENDS > rows
    placed, width = _placed(written, height, narrow)
    if width + 2 * ENDS > rows:
        raise TooLongError(
            written, strands, rows, width + 2 * ENDS, _shorter(written, height, rows)
        )
    times = max(1, rows // (width + BETWEEN)) if repeated else 1
    turn = rows // times
    turn += turn % 2 if times == 1 else -(turn % 2)
    if turn > MAX_ROWS:
        raise InfeasibleError(
            f"a text once on {rows} rows is more than a pattern can hold ({MAX_ROWS} rows); "
            "let it come again (--repeated), or take a shorter band"
        )
    foot = (strands - 1 - height) // 2
    lead = (rows - times * turn) // 2 if times > 1 else 0
    start = lead + (min(turn, rows) - width) // 2
    start += (start + foot) % 2
    ink = frozenset(((start + x) % turn, foot + y) for x, y in placed)
    return Lettering(
        written, strands, turn, rows, height, narrow, start % turn, width, times, foot, ink
    )


def _tallest(text: str, strands: int, rows: int, repeated: bool) -> Lettering:
    """Return a text in the tallest letters in which it has room."""
    long: TooLongError | None = None
    for height in heights_for(strands):
        try:
            return set_text(text, strands, rows, height=height, repeated=repeated)
        except TooLongError as now:
            # Small letters are narrower: what they need is the nearest that works.
            long = now if long is None or now.needed < long.needed else long
        except InputError:
            if long is None:
                raise
            break
    assert long is not None
    raise long


class TooLongError(InfeasibleError):
    """A text that the band has no room for.

    Attributes:
        needed: The rows that it needs.
    """

    def __init__(self, text: str, strands: int, rows: int, needed: int, near: str) -> None:
        self.text, self.strands, self.rows, self.needed, self.near = (
            text, strands, rows, needed, near,
        )  # fmt: skip
        instead = f', or the text "{near}"' if near else ""
        super().__init__(
            f'"{text}" needs {needed} rows, the band has {rows}; '
            f"the nearest that works: a band of {needed} rows{instead}"
        )


def _shorter(text: str, height: int, rows: int) -> str:
    """Return the longest beginning of a text that fits, whole words where one does."""
    ends = [n for n in range(1, len(text)) if text[n - 1] != " "]
    fits = [n for n in ends if rows_of(text[:n], height, True) + 2 * ENDS <= rows]
    whole = [n for n in fits if text[n] == " "]
    return text[: (whole or fits or [0])[-1]].strip(" &+-")


def _placed(text: str, height: int, narrow: bool) -> tuple[list[Cell], int]:
    """Return the cells of a text that begins at row 0, and its rows."""
    out: list[Cell] = []
    x = end = 0
    for letter in text:
        if letter == " ":
            x += BLANK - GAP
            continue
        x += x % 2
        drawn = glyph(letter, height, narrow)
        out += [(x + a, y) for a, y in drawn.cells]
        end = x + drawn.width
        x = end + GAP
    return out, end


def all_settings(text: str, strands: int, rows: int, repeated: bool = False) -> Iterator[Lettering]:
    """Yield a text in every height in which it has room, tallest first.

    Raises:
        InputError: As `set_text`.
        InfeasibleError: As `set_text`, when it fits in no height.
    """
    first = set_text(text, strands, rows, repeated=repeated)
    yield first
    for height in heights_for(strands):
        if height < first.height:
            with suppress(InputError, InfeasibleError):
                yield set_text(text, strands, rows, height=height, repeated=repeated)
