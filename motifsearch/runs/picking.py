"""Picks of a run: ``pick`` writes what was shown and what was marked into ``RUN/picks.toml``.

A round is one gallery: marks on the gallery that stands in the folder go to its round, marks on the
next one begin a new round.  The last mark of a design is the one that holds; to mark it as it is
marked already changes nothing.  Form of the file: `motifsearch.search.picks`.

The file is written under the lock of the run folder (`motifsearch.runs.store`), whole or not at
all.  What a maker wrote into it (comments, marks, rounds of other runs) stays.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import tomli_w
import tomlkit

from motifsearch.base.errors import InputError
from motifsearch.base.tomlfile import read_text, write_atomic
from motifsearch.pattern.design import Pattern
from motifsearch.runs.fitting import fitted
from motifsearch.runs.hanging import key_of
from motifsearch.runs.inputs import PICKS
from motifsearch.runs.kept import number_of, standing
from motifsearch.runs.store import RunFolder, owned
from motifsearch.search.brief import Brief, with_taste
from motifsearch.search.picks import Card, Picks, Round, format_picks, read_picks, round_data
from motifsearch.search.taste import taste_of, wanted_of

NAME: Final = PICKS


@dataclass(frozen=True, kw_only=True)
class Picked:
    """What became of marks.

    Attributes:
        path: The file of picks.
        round: The round that the marks went to, counted from 1.
        wanted: The wanted designs of this round, in the order of the marks: number and title.
        not_for_me: Those that are not for her.
        shown: How many designs were shown.
    """

    path: Path
    round: int
    wanted: tuple[tuple[int, str], ...]
    not_for_me: tuple[tuple[int, str], ...]
    shown: int


def shown_in(folder: Path) -> tuple[Card, ...]:
    """Return the designs of the gallery that stands in a run folder.

    Raises:
        InputError: There is none.
    """
    found, _ = standing(folder)
    cards: dict[int, Card] = {}
    for n, one in enumerate(found, 1):
        number = number_of(one.name, n)
        cards.setdefault(number, Card(number=number, pattern=one.pattern, key=key_of(one.pattern)))
    return tuple(cards.values())


def pick(
    run: str | Path,
    wanted: Sequence[int] = (),
    not_for_me: Sequence[int] = (),
    unmarked: Sequence[int] = (),
) -> Picked:
    """Mark designs of the gallery in a run folder.

    Args:
        run: The run folder.
        wanted: Numbers of designs that are wanted.
        not_for_me: Numbers of designs that are not.
        unmarked: Numbers of designs whose mark is taken back.

    Raises:
        InputError: There is no such run or design, a design is marked both ways, or the picks that
            stand there cannot be read.
        MotifError: The folder cannot be written.
    """
    folder = Path(run)
    if not folder.is_dir():
        raise InputError("expected a run folder; no such file or folder", source=folder)
    both = [n for n in wanted if n in not_for_me]
    if both:
        raise InputError("expected a design to be wanted or not for me, not both", both[0])
    with owned(folder, "marking designs") as place:
        shown = shown_in(folder)
        known = {card.number for card in shown}
        for n in (*wanted, *not_for_me, *unmarked):
            if n not in known:
                raise InputError("expected the number of a design in this gallery", n, source=run)
        path = folder / NAME
        picks = read_picks(path) if path.exists() else Picks()
        here = bool(picks.rounds) and picks.rounds[-1].same_gallery(shown)
        before = picks.rounds[-1] if here else Round(shown=shown)
        after = before.marked(wanted, not_for_me, unmarked)
        if after != before or not (here or unmarked):
            _write(place, picks, after, here)
        number = len(picks.rounds) + (not here)
    titles = {card.number: card.pattern.title for card in shown}
    return Picked(
        path=path,
        round=number,
        wanted=tuple((n, titles[n]) for n in after.wanted),
        not_for_me=tuple((n, titles[n]) for n in after.not_for_me),
        shown=len(shown),
    )


def _write(place: RunFolder, picks: Picks, one: Round, here: bool) -> None:
    """Write a round: change the last one in its place, or add it behind what stands there."""
    path = place.path / NAME
    hers = place.is_hers(NAME)
    if not path.exists():
        text = format_picks(Picks(rounds=(one,)))
    elif here:
        document: Any = tomlkit.parse(read_text(path, "picks"))
        last = document["rounds"][len(picks.rounds) - 1]
        last["wanted"], last["not_for_me"] = list(one.wanted), list(one.not_for_me)
        text = tomlkit.dumps(document)
    else:
        more = tomli_w.dumps({"rounds": [round_data(one)]})
        if not picks.rounds:
            text = format_picks(replace(picks, rounds=(one,)))
        else:
            text = f"{read_text(path, 'picks').rstrip()}\n\n{more}"
    write_atomic(path, text)
    if not hers:
        place.note(NAME)


def picks_of(source: Picks | str | Path) -> Picks:
    """Return picks, from their file or from the run folder that they stand in.

    Raises:
        InputError: There are none, or they cannot be read.
    """
    if isinstance(source, Picks):
        return source
    path = Path(source)
    return read_picks(path / NAME if path.is_dir() else path)


def picks_in(folder: Path) -> Picks | None:
    """Return the picks of a run folder; None where there are none.

    Raises:
        InputError: They cannot be read.
    """
    path = folder / NAME
    return read_picks(path) if path.exists() else None


def tasted(brief: Brief, picks: Picks | None) -> Brief:
    """Return a brief with what picks have shown as one more wish.

    The wanted designs are brought to the threads of the brief, each colour to the nearest one.

    Args:
        brief: The brief.
        picks: The picks; None, or without marks, for the brief as it is.
    """
    if picks is None or not picks.marks:
        return brief
    wanted: list[Pattern] = []
    for pattern in wanted_of(picks):
        try:
            wanted.append(fitted(pattern, brief.stash, brief.palette)[0])
        except InputError:
            continue  # it has more colours than there are: it is learnt from, but not begun with
    return with_taste(brief, taste_of(picks, wanted))
