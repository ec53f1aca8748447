"""The steps of a worksheet: what the hands do, one pass a step, in notches and words.

A step says which notch the strand is picked up from, over which notches it is knotted and how,
and where it is laid down.  The notches are those of the strands as they sit at that moment, so a
step can be followed without the picture, and tells again after every pass how the colours now
stand.  A left-handed sheet shows the whole band in a mirror: positions are counted from the other
side and every knot becomes its mirror image, while the notches keep the board's numbers.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from motifsearch.base.text import clean_text, joined
from motifsearch.pattern.design import Pattern
from motifsearch.pattern.knots import KNOT_WORDS, MIRRORED, RETURNING, TIED_FROM_RIGHT
from motifsearch.pattern.notches import Setting
from motifsearch.pattern.passes import Pass
from motifsearch.pattern.walk import walk

#: How each knot is tied, in the words of the sheet.
KNOT_HELP = (
    "forward: two half hitches to the right; the strand moves one notch to the right, and the "
    "neighbour takes its place.",
    "backward: two half hitches to the left; the strand moves one notch to the left, and the "
    "neighbour takes its place.",
    "forward-backward: a half hitch to the right, then one back to the left; both strands keep "
    "their notches.",
    "backward-forward: a half hitch to the left, then one back to the right; both strands keep "
    "their notches.",
)

MAX_NAME = 24


@dataclass(frozen=True)
class Step:
    """One pass.

    Attributes:
        number: Counted through the whole sheet, from 1; that of the round for a step of it that
            is worked once more.
        notch: Where the strand is picked up.
        colour: Its colour's name (the first time round).
        action: What is done, such as ``forward over 5, 6 and 7``.
        outcome: Where it is laid down, such as ``it now sits in 7``.
        end_notch: The notch where it is laid down.
        after: The colours in the notches after it, from the left.
        knots: How many knots it ties.
        again: Whether it is a step of the round that is worked once more.
    """

    number: int
    notch: int
    colour: str
    action: str
    outcome: str
    end_notch: int
    after: tuple[str, ...]
    knots: int
    again: bool = False


@dataclass(frozen=True)
class Again:
    """Steps of the round that are worked once more, one after the other.

    Attributes:
        steps: In the order of work.
    """

    steps: tuple[Step, ...]

    @property
    def after(self) -> tuple[str, ...]:
        """The colours in the notches after them, from the left."""
        return self.steps[-1].after

    @property
    def end_notch(self) -> int:
        """The notch where the last strand is laid down."""
        return self.steps[-1].end_notch

    @property
    def words(self) -> str:
        """What is said of them, such as ``steps 6 to 9 and 11``."""
        runs: list[list[int]] = []
        for step in self.steps:
            if runs and step.number == runs[-1][1] + 1:
                runs[-1][1] = step.number
            else:
                runs.append([step.number, step.number])
        said = [f"{a}" if a == b else f"{a} to {b}" for a, b in runs]
        return f"step{'s' * (len(self.steps) > 1)} {joined(said)}"


def in_turns(steps: Iterable[Step]) -> list[Step | Again]:
    """Return steps as they are told: those that are worked once more together."""
    out: list[Step | Again] = []
    for again, group in groupby(steps, key=lambda step: step.again):
        own = tuple(group)
        out += [Again(own)] if again else list(own)
    return out


def colour_letters(names: Iterable[str]) -> dict[str, str]:
    """Return a small letter for every name: its first that is free, or any that is free.

    Examples:
        >>> colour_letters(["sand", "slate", "moss", "s"])
        {'sand': 's', 'slate': 'l', 'moss': 'm', 's': 'a'}
    """
    out: dict[str, str] = {}
    alphabet = "abcdefghijklmnopqrstuvwxyz"
    for name in names:
        own = [ch for ch in name.lower() if ch in alphabet]
        free = [ch for ch in [*own, *alphabet] if ch not in out.values()]
        out[name] = free[0] if free else "?"
    return out


def short_names(names: Iterable[str]) -> dict[str, str]:
    """Return a name to be used in steps for every colour: cut short where long, never twice.

    Examples:
        >>> short_names(["sand", "a very long name for a colour", "a very long name for a cloud"])
        {'sand': 'sand', 'a very long name for a colour': 'a very long name for a … (2)', \
'a very long name for a cloud': 'a very long name for a … (3)'}
    """
    names = list(names)
    cut = [_cut(clean_text(name)) or "(no name)" for name in names]
    return {
        name: f"{one} ({n + 1})" if cut.count(one) > 1 else one
        for n, (name, one) in enumerate(zip(names, cut, strict=True))
    }


def _cut(text: str) -> str:
    return text if len(text) <= MAX_NAME else text[: MAX_NAME - 1] + "…"


def mirror_image(pattern: Pattern) -> Pattern:
    """Return the design mirrored left to right.

    With an odd number of strands row 0 of a mirrored grid would stand where row 1 must, so the
    mirrored band begins one row later.

    Examples:
        >>> from motifsearch.pattern.design import make_pattern
        >>> p = make_pattern("", ["rr rl", "ll"], "abcc", dict.fromkeys("abc", "#000000"))
        >>> mirror_image(p).row_texts(), mirror_image(p).colour_order
        (['lr ll', 'rr'], ('c', 'c', 'b', 'a'))
    """
    odd = pattern.strands % 2
    rows = [tuple(int(MIRRORED[code]) for code in reversed(row)) for row in pattern.knots]
    order = walk(pattern, 1).orders[odd]
    colours = tuple(pattern.colour_order[strand] for strand in reversed(order))
    return replace(pattern, knots=tuple(rows[odd:] + rows[:odd]), colour_order=colours)


def describe(one: Pass, setting: Setting) -> tuple[str, str, int]:
    """Return (action, outcome, end notch) of a pass.

    Examples:
        >>> describe(Pass(0, 3, ((3, 3, 0), (4, 4, 0), (5, 5, 2)), 5), Setting(8))
        ('forward over 5 and 6, then forward-backward over 7', 'it now sits in 6', 6)
        >>> describe(Pass(0, 0, ((0, 0, 2),), 0), Setting(4, mirrored=True))
        ('backward-forward over 3', 'it stays in 4', 4)
    """
    moves = []
    for _, left, code in one.knots:
        core = left if code & TIED_FROM_RIGHT else left + 1
        moves.append((setting.code(code), setting.notch(core)))
    parts = []
    for code, run in groupby(moves, key=lambda move: move[0]):
        over = [notch for _, notch in run]
        if len(over) > 5:
            way = "to" if over[-1] > over[0] else "down to"
            parts.append(f"{KNOT_WORDS[code]} over each of {over[0]} {way} {over[-1]}")
        else:
            parts.append(f"{KNOT_WORDS[code]} over {joined(map(str, over))}")
    end = setting.notch(one.end)
    if one.end != one.start:
        outcome = f"it now sits in {end}"
    elif len(one.knots) == 1:
        outcome = f"it stays in {end}"
    else:
        outcome = f"it ends in {end} again"
    return ", then ".join(parts), outcome, end


def play(
    passes: Sequence[Pass],
    order: list[str],
    setting: Setting,
    first_number: int,
    again: Sequence[int | None] = (),
) -> list[Step]:
    """Return the steps of some passes; `order` (colour at every position) moves on with them.

    `again` holds, per pass, the number of the step that it is once more, None for none.
    """
    steps = []
    fresh = first_number
    for one, earlier in zip(passes, again or [None] * len(passes), strict=True):
        number = fresh if earlier is None else earlier
        fresh += earlier is None
        colour = order[one.start]
        for _, left, code in one.knots:
            if not code & RETURNING:
                order[left], order[left + 1] = order[left + 1], order[left]
        action, outcome, end = describe(one, setting)
        steps.append(
            Step(
                number,
                setting.notch(one.start),
                colour,
                action,
                outcome,
                end,
                setting.seen(order),
                len(one.knots),
                earlier is not None,
            )
        )
    return steps
