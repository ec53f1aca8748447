"""Cut lengths: what every strand needs, which strands share a thread, and where it is folded.

A strand needs what the thread model says it uses over the band's rows (*need*), a *margin*
against tension that varies, and the *allowances* at its two ends.  Two strands of one colour are
the two halves of one folded thread: its cut length is the sum of theirs, rounded up to a whole
centimetre, and the fold lies where the first strand's share ends.

**Margin.** A strand's use is taken as normal with mean u and standard deviation s u, s being the
model's scatter; strands vary independently.  For the chance that any of S strands runs out to
stay below `risk`, every strand gets z s u with z the quantile of (1 - risk)^(1/S) (Sidak 1967).
A tension that all strands share makes it safer still: for positively correlated normals the
joint probability is no smaller than the product (Slepian 1962).  Where the scatter was fitted
from few strands, Student's t with its degrees of freedom takes the place of the normal.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from motifsearch.pattern.design import Pattern
from motifsearch.thread.model import DEFAULT_DIAMETER_MM, ThreadModel, strand_use

GOALS = ("total", "few_lengths", "fit")
#: Cut lengths are whole centimetres: what a maker reads off a tape.
STEP_MM = 10.0


@dataclass(frozen=True)
class Allowances:
    """What every strand gets beside what it uses.

    The defaults are common practice, no source: a hand's breadth for the loop and the braid at
    the start, twice that for braid, knot and a grip at the end.

    Attributes:
        start_mm: Per strand, above the first row.
        finish_mm: Per strand, below the last row.
        risk: The chance that any strand of the band runs out, 0..1.
    """

    start_mm: float = 60.0
    finish_mm: float = 120.0
    risk: float = 0.05


@dataclass(frozen=True)
class Cut:
    """One thread to cut.

    Attributes:
        label: "A", "B", ..., "Z", "AA", ...
        colour: The colour's name.
        strands: 0-based positions at the start; two when folded, one when not.
        need_mm: Per strand, the model's mean use.
        margin_mm: Per strand, against varying tension.
        allowance_mm: Per strand, start and finish together.
        length_mm: To cut: whole centimetres, never less than the sum of the above.
        fold_mm: From the end that becomes ``strands[0]`` to the fold; None when unfolded.
    """

    label: str
    colour: str
    strands: tuple[int, ...]
    need_mm: tuple[float, ...]
    margin_mm: tuple[float, ...]
    allowance_mm: tuple[float, ...]
    length_mm: float
    fold_mm: float | None


@dataclass(frozen=True)
class CutList:
    """Every thread to cut for one band.

    Attributes:
        cuts: From the thread of the leftmost strand on.
        rows: Rows knotted.
        length_mm: The knotted length asked for.
        folded: Whether threads are folded.
    """

    cuts: tuple[Cut, ...]
    rows: int
    length_mm: float
    folded: bool = True

    @property
    def total_mm(self) -> float:
        """All cut lengths together."""
        return float(sum(cut.length_mm for cut in self.cuts))

    def by_colour(self) -> dict[str, list[Cut]]:
        """Return the cuts of every colour, in the order of their first cut."""
        out: dict[str, list[Cut]] = {}
        for cut in self.cuts:
            out.setdefault(cut.colour, []).append(cut)
        return out


def cut_label(number: int) -> str:
    """Return the label of cut `number`, from 0: A..Z, AA, AB, ...

    Examples:
        >>> cut_label(0), cut_label(25), cut_label(26)
        ('A', 'Z', 'AA')
    """
    text = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        text = chr(65 + rest) + text
    return text


def margin_quantile(strands: int, risk: float, freedom: float = math.inf) -> float:
    """Return z: the margin in standard deviations, so that P(any strand runs out) <= risk.

    Args:
        strands: S, the number of strands.
        risk: The bound, above 0 and below 1.
        freedom: Degrees of freedom of a fitted scatter; infinite when it is known.

    Examples:
        >>> round(margin_quantile(1, 0.05), 4)  # the normal table: 1.6449
        1.6449
        >>> round(margin_quantile(8, 0.05), 4)
        2.4898
    """
    from scipy.special import ndtri, stdtrit

    share = (1.0 - risk) ** (1.0 / strands)
    z = ndtri(share) if math.isinf(freedom) else stdtrit(freedom, share)
    return max(0.0, float(z))


def cut_list(
    pattern: Pattern,
    length_mm: float,
    *,
    model: ThreadModel | None = None,
    diameters_mm: npt.NDArray[np.float64] | None = None,
    allowances: Allowances | None = None,
    folded: bool = True,
    goal: str = "total",
) -> CutList:
    """Return what to cut for one band.

    Args:
        pattern: The design.
        length_mm: The knotted length.
        model: The maker's tension; the stated defaults when left out.
        diameters_mm: Thread diameter of every strand, float64 ``[S]``.
        allowances: Ends and risk; the stated defaults when left out.
        folded: Fold threads in two; an odd number of strands of a colour leaves one unfolded.
        goal: "total", "few_lengths" or "fit".
    """
    model = model or ThreadModel()
    allowances = allowances or Allowances()
    d = np.full(pattern.strands, DEFAULT_DIAMETER_MM) if diameters_mm is None else diameters_mm
    rows = model.rows_for(length_mm, d)
    need = strand_use(pattern, rows, model, d).use_mm
    margin = need * model.scatter * margin_quantile(pattern.strands, allowances.risk)
    allowance = allowances.start_mm + allowances.finish_mm
    share = need + margin + allowance
    groups: list[tuple[int, ...]] = []
    for name in pattern.palette:
        mine = [s for s in range(pattern.strands) if pattern.colour_order[s] == name]
        groups += _pairs(mine, share) if folded else [(s,) for s in mine]
    cuts = []
    for n, strands in enumerate(sorted(groups)):
        whole = sum(float(share[s]) for s in strands)
        length = STEP_MM * math.ceil(whole / STEP_MM - 1e-9)
        spare = (length - whole) / len(strands)
        cuts.append(
            Cut(
                cut_label(n),
                pattern.colour_order[strands[0]],
                strands,
                tuple(float(need[s]) for s in strands),
                tuple(float(margin[s]) for s in strands),
                (allowance,) * len(strands),
                length,
                float(share[strands[0]]) + spare if len(strands) == 2 else None,
            )
        )
    return CutList(tuple(cuts), rows, length_mm, folded)


def _pairs(strands: Sequence[int], share: npt.NDArray[np.float64]) -> list[tuple[int, ...]]:
    order = sorted(strands, key=lambda s: (share[s], s))
    groups = [tuple(sorted(order[k : k + 2])) for k in range(0, len(order), 2)]
    return list(groups)
