"""A worksheet: everything a maker needs on paper, as data, and as text, Markdown or PDF.

`make_worksheet` turns a design into set-up, cut list and steps for one length;
`motifsearch.worksheet.sections` lays these out as headed sections in words; the three forms show
the same sections, so that no form knows more than another.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from motifsearch.base.errors import InputError
from motifsearch.describe.shown import Shown
from motifsearch.pattern.bandplan import BandPlan, plan_band
from motifsearch.pattern.design import Pattern
from motifsearch.pattern.knots import RETURNING, knots_in_grid
from motifsearch.pattern.notches import Setting
from motifsearch.pattern.passes import Pass
from motifsearch.pattern.walk import repeat_rows
from motifsearch.thread.cutting import CutList, cut_list
from motifsearch.worksheet.steps import Again, Step, colour_letters, in_turns, play, short_names

SHOW = ("metric", "imperial")
MAX_FIRST_NOTCH = 99
MAX_LENGTH_MM = 5000.0
#: So many rounds are listed one by one; of more, those until the colours come again.
LISTED = 120


@dataclass(frozen=True)
class Part:
    """Steps that are worked one after the other, once or several times.

    Attributes:
        title: What the part is called.
        times: How often it is worked.
        steps: Its steps, with the colours of the first time.
        before: The colours in the notches before it, from the left.
        rounds: The colours before every time, where they move on from time to time; else empty.
            Of more than `LISTED` times those until the colours come again in the same turn.
    """

    title: str
    times: int
    steps: tuple[Step, ...]
    before: tuple[str, ...]
    rounds: tuple[tuple[str, ...], ...] = ()

    @property
    def comes_again(self) -> bool:
        """Whether `rounds` stand for more times than they are."""
        return 0 < len(self.rounds) < self.times

    @property
    def told(self) -> list[Step | Again]:
        """The steps as they are told: those of the round that come once more together."""
        return in_turns(self.steps)


@dataclass(frozen=True)
class Worksheet:
    """One sheet, for one length.

    Attributes:
        entry: The candidate.
        length_mm: The knotted length.
        rows: Rows knotted.
        repeat: The rows after which the face looks the same again.
        plan: The passes of the band.
        parts: The steps in words.
        cuts: What to cut.
        own_cuts: Whether `cuts` were made for this length (not worked out afresh from the
            stated defaults of the thread model).
        setting: Notches, and whether the sheet is mirrored.
        names: What every colour is called in the steps.
        letters: The small letter that stands for every colour in the boxes.
        minutes: Estimated time.
        width_mm: The width of the band: the strand pitch times the strands.
        wrist_mm: The wrist that it fits; None when that is not known.
        teaching: The one-page form.
        show: "metric" or "imperial".
    """

    entry: Shown
    length_mm: float
    rows: int
    repeat: int
    plan: BandPlan
    parts: tuple[Part, ...]
    cuts: CutList
    own_cuts: bool
    setting: Setting
    names: Mapping[str, str]
    letters: Mapping[str, str]
    minutes: float
    width_mm: float
    wrist_mm: float | None
    teaching: bool
    show: str

    @property
    def pattern(self) -> Pattern:
        """The design, not mirrored."""
        return self.entry.pattern

    @property
    def start(self) -> tuple[str, ...]:
        """The colours in the notches at the start, from the left."""
        return self.setting.seen(self.pattern.colour_order)

    @property
    def labels(self) -> tuple[str, ...]:
        """The label of the thread in every notch at the start, from the left."""
        label = {s: cut.label for cut in self.cuts.cuts for s in cut.strands}
        return self.setting.seen([label.get(s, "?") for s in range(self.pattern.strands)])


def make_worksheet(
    entry: Shown,
    *,
    length_mm: float,
    first_notch: int = 1,
    left_handed: bool = False,
    teaching: bool = False,
    show: str = "metric",
    cuts: CutList | None = None,
    wrist_mm: float | None = None,
) -> Worksheet:
    """Return the worksheet of a candidate.

    Args:
        entry: The candidate.
        length_mm: The knotted length.
        first_notch: The number of the leftmost notch that is used.
        left_handed: Mirror the whole band and every knot.
        teaching: The one-page form for a class.
        show: "metric" or "imperial".
        cuts: The cut list for this length; the entry's own where that has the same length, and
            otherwise a new one with the stated defaults, which the sheet then says.
        wrist_mm: The wrist that the length is made for, where it is known.

    Raises:
        InputError: A length, a notch, a wrist or a unit that cannot be used.
    """
    if not (math.isfinite(length_mm) and 0 < length_mm <= MAX_LENGTH_MM):
        raise InputError(f"expected a length above 0 and up to {MAX_LENGTH_MM:g} mm", length_mm)
    if wrist_mm is not None and not (math.isfinite(wrist_mm) and 0 < wrist_mm <= MAX_LENGTH_MM):
        raise InputError(f"expected a wrist above 0 and up to {MAX_LENGTH_MM:g} mm", wrist_mm)
    if isinstance(first_notch, bool) or not 1 <= first_notch <= MAX_FIRST_NOTCH:
        raise InputError(f"expected a first notch from 1 to {MAX_FIRST_NOTCH}", first_notch)
    if show not in SHOW:
        raise InputError(f"expected one of {', '.join(SHOW)}", show)
    pattern = entry.pattern
    same = abs(entry.cuts.length_mm - length_mm) < 0.5
    own = cuts is not None or same
    cuts = cuts or (entry.cuts if same else cut_list(pattern, length_mm, folded=entry.cuts.folded))
    plan = plan_band(pattern, cuts.rows)
    setting = Setting(pattern.strands, first_notch, left_handed)
    names = short_names(pattern.palette)
    letters = colour_letters(names.values())
    return Worksheet(
        entry,
        length_mm,
        cuts.rows,
        repeat_rows(pattern),
        plan,
        _parts(pattern, plan, setting),
        cuts,
        own,
        setting,
        names,
        {name: letters[short] for name, short in names.items()},
        _minutes(entry, plan),
        _width_mm(pattern.strands, cuts),
        wrist_mm,
        teaching,
        show,
    )


def _parts(pattern: Pattern, plan: BandPlan, setting: Setting) -> tuple[Part, ...]:
    order = list(pattern.colour_order)
    number = 1
    parts: list[Part] = []
    of_round = len(plan.opening) + 1
    again = [None if n is None else of_round + n for n in plan.again]
    for title, passes, times, earlier in (
        ("Opening", plan.opening, 1, []),
        ("Round", plan.cycle, plan.times, []),
        ("Ending" if plan.times else "The whole band", plan.ending, 1, again),
    ):
        if not passes:
            continue
        before = setting.seen(order)
        steps = play(passes, list(order), setting, number, earlier)
        if any(earlier) and plan.colours_return:
            # Where a step between was left out, the boxes of the round would mislead.
            seen = {step.number: step.after for step in parts[-1].steps}
            earlier = [
                step.number if step.after == seen.get(step.number) else None for step in steps
            ]
        starts = _starts(passes, order)
        steps = play(passes, order, setting, number, earlier)
        listed = times if times <= LISTED else min(times, len(starts))
        rounds = [setting.seen(starts[k % len(starts)]) for k in range(listed)]
        order = list(starts[times % len(starts)])
        moving = times > 1 and not plan.colours_return
        parts.append(Part(title, times, tuple(steps), before, tuple(rounds) if moving else ()))
        number += len(steps)
    return tuple(parts)


def _starts(passes: Sequence[Pass], order: Sequence[str]) -> list[list[str]]:
    """Return the colours at every position before round 1, 2, ... until they come again."""
    after = list(range(len(order)))
    for one in passes:
        for _, left, code in one.knots:
            if not code & RETURNING:
                after[left], after[left + 1] = after[left + 1], after[left]
    starts = [list(order)]
    while (now := [starts[-1][k] for k in after]) != starts[0]:
        starts.append(now)
    return starts


def _width_mm(strands: int, cuts: CutList) -> float:
    """Return the strand pitch times the strands.

    The length and its rows give the row pitch; the strand pitch is to it as the gauges of
    `ThreadModel` are, so that thick and thin threads are both told right.
    """
    from motifsearch.thread.model import ThreadModel

    model = ThreadModel()
    return strands * cuts.length_mm / cuts.rows * model.strand_gauge / model.row_gauge


def _minutes(entry: Shown, plan: BandPlan) -> float:
    from motifsearch.simulate.handling import minutes

    return minutes(knots_in_grid(entry.pattern.strands, plan.rows), plan.number)
