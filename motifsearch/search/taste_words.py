"""What a taste seems to be, in plain words, as far as the marks show it.

For every trait the wanted designs are held against those of their round that were left, and those
that are not for her likewise.  With x the trait, m and s its mean and standard deviation over what
was left of a round,

    t = (sum over wanted (x - m) / s  -  sum over not for me (x - m) / s) / sqrt(number of marks),

which is near a standard normal where marks have nothing to do with the trait.  A line is said from
|t| >= `SURE` on, the surest first, at most `LIKES` and `PASSES`; a trait that goes along with one
that was said already (correlation `ALONG` over what was shown) is left out, for it says the same.

Measured with invented tastes for three traits, three marks a round, a tenth of them wrong: of the
lines said after three rounds three in four are right; marks made at random bring about one line.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from motifsearch.base.arrays import F64, I64
from motifsearch.base.text import count
from motifsearch.search.picks import Picks
from motifsearch.search.taste import traits_of
from motifsearch.search.taste_traits import TRAITS

SURE: Final = 2.6
LIKES: Final = 4
PASSES: Final = 3
ALONG: Final = 0.6
#: Marks below which nothing is said.
FEWEST: Final = 3


@dataclass(frozen=True, kw_only=True)
class Line:
    """One thing that is said.

    Attributes:
        key: Of the trait.
        words: What is liked, or passed over.
        sure: How sure it is, |t|.
    """

    key: str
    words: str
    sure: float


@dataclass(frozen=True, kw_only=True)
class Said:
    """What a taste seems to be.

    Attributes:
        likes: What is liked, the surest first.
        passes: What is passed over.
        struck: Lines that were struck out, in words.
        marks: Marks that it was learnt from.
        rounds: Rounds with marks.
    """

    likes: tuple[Line, ...] = ()
    passes: tuple[Line, ...] = ()
    struck: tuple[str, ...] = ()
    marks: int = 0
    rounds: int = 0

    def sentences(self) -> list[str]:
        """Return it in sentences."""
        out = []
        if self.likes:
            out.append(f"You seem to like: {', '.join(one.words for one in self.likes)}.")
        if self.passes:
            out.append(f"You pass over: {', '.join(one.words for one in self.passes)}.")
        learnt = f"learnt from {count(self.marks, 'mark')} in {count(self.rounds, 'round')}"
        if not out:
            out.append(f"Nothing can be said yet of what you like ({learnt}).")
        else:
            out.append(f"({learnt[:1].upper()}{learnt[1:]}.)")
        if self.struck:
            out.append(f"Struck out, and not counted: {', '.join(self.struck)}.")
        return out

    def plain(self) -> dict[str, Any]:
        """Return it as it stands in ``run.json``."""
        return {
            "said": " ".join(self.sentences()), "marks": self.marks, "rounds": self.rounds,
        }  # fmt: skip


def evidence(traits: F64, groups: list[tuple[I64, I64, I64]]) -> F64:
    """Return t of the module's definition for every trait, float64 ``[d]``.

    Args:
        traits: Of all that was shown, float64 ``[d, n]``.
        groups: Per round the indices of the wanted, of those not for her, and of those left.
    """
    total = np.zeros(len(traits))
    marks = 0
    for wanted, refused, left in groups:
        # Where all is marked, the wanted are held against those that are not for her.
        rest = left if len(left) > 1 else np.concatenate([left, refused])
        if len(rest) < 2:
            continue
        mean = traits[:, rest].mean(1, keepdims=True)
        spread = np.maximum(traits[:, rest].std(1, ddof=1, keepdims=True), 0.25)
        total += ((traits[:, wanted] - mean) / spread).sum(1)
        total -= ((traits[:, refused] - mean) / spread).sum(1)
        marks += len(wanted) + len(refused)
    return np.asarray(total / np.sqrt(max(marks, 1)))


def said_of(picks: Picks) -> Said:
    """Return what can be said of a taste."""
    rounds = [r for r in picks.rounds if r.wanted or r.not_for_me]
    parts: list[F64] = []
    groups: list[tuple[I64, I64, I64]] = []
    n = 0
    for one in rounds:
        at = {card.number: n + k for k, card in enumerate(one.shown)}
        n += len(at)
        parts += [traits_of(card.pattern) for card in one.shown]
        left = [k for number, k in at.items() if number not in (*one.wanted, *one.not_for_me)]
        groups.append(
            (
                np.array([at[k] for k in one.wanted], np.int64),
                np.array([at[k] for k in one.not_for_me], np.int64),
                np.array(left, np.int64),
            )
        )
    struck = tuple(
        " or ".join(filter(None, (t.more, t.less))) for t in TRAITS if t.key in picks.struck
    )
    some = Said(struck=struck, marks=picks.marks, rounds=len(rounds))
    if picks.marks < FEWEST:
        return some
    traits = np.stack(parts, 1)
    t = np.round(evidence(traits, groups), 9)
    likes, passes = _lines(traits, t, picks.struck)
    return Said(
        likes=tuple(likes),
        passes=tuple(passes),
        struck=struck,
        marks=some.marks,
        rounds=some.rounds,
    )


def _lines(traits: F64, t: F64, struck: tuple[str, ...]) -> tuple[list[Line], list[Line]]:
    likes: list[Line] = []
    passes: list[Line] = []
    told: list[int] = []
    even = traits - traits.mean(1, keepdims=True)
    length = np.maximum(np.sqrt((even**2).sum(1)), 1e-9)
    for k in np.lexsort((np.arange(len(t)), -np.abs(t))):
        trait, sure = TRAITS[k], float(abs(t[k]))
        if sure < SURE:
            break
        if trait.key in struck:
            continue
        if any(abs(even[k] @ even[j]) > ALONG * length[k] * length[j] for j in told):
            continue
        liked = t[k] > 0 or bool(trait.less)
        words = trait.more if t[k] > 0 else trait.less or trait.more
        where, most = (likes, LIKES) if liked else (passes, PASSES)
        if len(where) < most:
            where.append(Line(key=trait.key, words=words, sure=sure))
            told.append(int(k))
    return likes, passes


def key_of_line(words: str) -> str | None:
    """Return the key of the trait that a line speaks of; None where there is none.

    Args:
        words: The line as it is said, its opposite, or the key itself.

    Examples:
        >>> key_of_line("Arrowheads"), key_of_line("few colours"), key_of_line("squares")
        ('point', 'colours', None)
    """
    asked = words.strip().lower()
    for trait in TRAITS:
        if asked in {trait.key, trait.more, trait.less} - {""}:
            return trait.key
    return None


def lines_known() -> Mapping[str, str]:
    """Return every line that can be struck out: key to words."""
    return {t.key: t.more for t in TRAITS}
