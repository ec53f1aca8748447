"""Cut lengths: what every strand needs, which strands share a thread, and where it is folded.

A strand needs what the thread model says it uses over the band's rows (*need*), a *margin*
against tension that varies, and the *allowances* at its two ends.  Two strands of one colour are
the two halves of one folded thread: its cut length is the sum of theirs, rounded up to a whole
centimetre, and the fold lies where the first strand's share ends.

**Simple cutting.** One length for all threads, the least whole multiple of 5 cm that no strand is
short of, folded in half; a thread that stays single is half of it, rounded up to 5 cm.

**Margin.** A strand's use is taken as normal with mean u and standard deviation s u, s being the
model's scatter; strands vary independently.  For the chance that any of S strands runs out to
stay below `risk`, every strand gets z s u with z the quantile of (1 - risk)^(1/S) (Sidak 1967).
A tension that all strands share makes it safer still: for positively correlated normals the
joint probability is no smaller than the product (Slepian 1962).  Where the scatter was fitted
from few strands, Student's t with its degrees of freedom takes the place of the normal.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from motifsearch.base.arrays import F64
from motifsearch.base.errors import InputError
from motifsearch.pattern.design import Pattern
from motifsearch.thread.model import DEFAULT_DIAMETER_MM, ThreadModel, strand_use
from motifsearch.thread.pairing import STEP_MM, classes_of, pair_few, pair_total, spread, whole_cm
from motifsearch.thread.stash import Stash, strand_diameters_mm

GOALS = ("total", "few_lengths", "fit")
STYLES = ("auto", "simple", "exact")
#: Simple cutting goes by so much.
SIMPLE_STEP_MM = 50.0
#: Where nothing is asked for, threads are cut simply if it takes less than this times the thread.
SIMPLE_MOST = 1.05


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
        exact_mm: Where all are cut simply, to one length: what cutting each to its need would take
            in all; None where each is cut to its need.
    """

    cuts: tuple[Cut, ...]
    rows: int
    length_mm: float
    folded: bool = True
    exact_mm: float | None = None

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
    diameters_mm: F64 | None = None,
    allowances: Allowances | None = None,
    folded: bool = True,
    goal: str = "total",
    spare: float = 0.10,
    stash: Stash | None = None,
    simple: bool = False,
) -> CutList:
    """Return what to cut for one band.

    Args:
        pattern: The design.
        length_mm: The knotted length.
        model: The maker's tension; the stash's, or the stated defaults, when left out.
        diameters_mm: Thread diameter of every strand, float64 ``[S]``; the stash's, or
            `DEFAULT_DIAMETER_MM`, when left out.
        allowances: Ends and risk; the stated defaults when left out.
        folded: Fold threads in two; an odd number of strands of a colour leaves one unfolded.
        goal: How strands are paired. "total": the least thread, then the most even folds.
            "few_lengths": the fewest different lengths, then the least thread. "fit": the best
            cutting plan from the pieces of `stash`.
        spare: For "few_lengths", how much more than the least may be cut, as a fraction.
        stash: The threads on hand; needed for "fit".
        simple: One length for all, a whole multiple of 5 cm, folded in half.

    Raises:
        InputError: The goal is unknown or lacks its stash; a colour is not on hand.

    Examples:
        >>> from motifsearch.pattern.design import make_pattern
        >>> p = make_pattern("", ["rr rr", "rr"], "aabb", {"a": "#000000", "b": "#ffffff"})
        >>> hand = ThreadModel(crossing=(6.0, 3.0), returning=(6.0, 3.0))  # a loop of 15 d
        >>> [(c.label, c.strands, c.length_mm) for c in cut_list(p, 100.0, model=hand).cuts]
        [('A', (0, 1), 1220.0), ('B', (2, 3), 1210.0)]
        >>> [(c.label, c.length_mm) for c in cut_list(p, 100.0, model=hand, simple=True).cuts]
        [('A', 1250.0), ('B', 1250.0)]
    """
    if goal not in GOALS:
        raise InputError(f"expected one of {', '.join(GOALS)}", goal, key="goal")
    if stash is not None:
        model = model or stash.model
        diameters_mm = strand_diameters_mm(pattern, stash) if diameters_mm is None else diameters_mm
    model = model or ThreadModel()
    allowances = allowances or Allowances()
    d = np.full(pattern.strands, DEFAULT_DIAMETER_MM) if diameters_mm is None else diameters_mm
    rows = model.rows_for(length_mm, d)
    need = strand_use(pattern, rows, model, d).use_mm
    z = margin_quantile(pattern.strands, allowances.risk, model.scatter_freedom)
    margin = need * model.scatter * z
    allowance = allowances.start_mm + allowances.finish_mm
    share = need + margin + allowance
    groups = _groups(pattern, share, folded, goal, spare, stash)
    exact_mm = sum(length for _, length in groups) if simple else None
    if simple:
        groups = _alike(groups, float(share.max()), folded)
    cuts = tuple(
        Cut(
            cut_label(n),
            pattern.colour_order[strands[0]],
            strands,
            tuple(float(need[s]) for s in strands),
            tuple(float(margin[s]) for s in strands),
            (allowance,) * len(strands),
            length,
            fold_point(float(share[strands[0]]), float(share[strands[1]]), length)
            if len(strands) == 2
            else None,
        )
        for n, (strands, length) in enumerate(sorted(groups))
    )
    return CutList(cuts, rows, length_mm, folded, exact_mm)


def _alike(
    groups: list[tuple[tuple[int, ...], float]], most_mm: float, folded: bool
) -> list[tuple[tuple[int, ...], float]]:
    """Return the threads cut simply.

    Args:
        groups: (strands, length) of every thread.
        most_mm: What the strand needs that needs most.
        folded: Whether threads are folded.
    """

    def up(length_mm: float) -> float:
        return SIMPLE_STEP_MM * math.ceil(length_mm / SIMPLE_STEP_MM - 1e-9)

    whole = up(2.0 * most_mm if folded else most_mm)
    single = up(whole / 2.0) if folded else whole
    return [(strands, whole if len(strands) == 2 else single) for strands, _ in groups]


def fold_point(first_mm: float, second_mm: float, length_mm: float) -> float:
    """Return where to fold, from the end that becomes the first strand.

    Both strands get their share, and what rounding up has left over decides where exactly: at
    the middle of the thread if it can be there, else at a whole half centimetre if one lies
    between, else in the middle of what is possible.

    Examples:
        >>> fold_point(1002.0, 999.0, 2010.0)
        1005.0
        >>> fold_point(1203.0, 801.0, 2010.0)
        1205.0
        >>> fold_point(1203.0, 806.0, 2010.0)
        1203.5
    """
    low, high = first_mm, length_mm - second_mm
    middle = length_mm / 2.0
    if low <= middle <= high:
        return middle
    half_cm = STEP_MM / 2.0 * math.ceil(low / (STEP_MM / 2.0))
    return half_cm if half_cm <= high else (low + high) / 2.0


def _groups(
    pattern: Pattern,
    share: F64,
    folded: bool,
    goal: str,
    spare: float,
    stash: Stash | None,
) -> list[tuple[tuple[int, ...], float]]:
    """Return (strands, length to cut) of every thread."""
    shares = share.tolist()
    strands = {
        name: [s for s in range(pattern.strands) if pattern.colour_order[s] == name]
        for name in pattern.palette
    }

    def cut(group: tuple[int, ...]) -> tuple[tuple[int, ...], float]:
        return group, whole_cm(sum(shares[s] for s in group))

    if not folded:
        return [cut((s,)) for s in range(pattern.strands)]
    colours = {name: classes_of(mine, shares) for name, mine in strands.items()}
    if goal == "few_lengths":
        chosen, lengths = pair_few(list(colours.values()), spare)
        groups = [
            g for c, own in zip(colours.values(), chosen, strict=True) for g in spread(c, own)
        ]
        return [(g, next(v for v in lengths if v >= cut(g)[1])) for g in groups]
    if goal == "fit":
        if stash is None:
            raise InputError("the goal fit needs a stash", key="goal")
        from motifsearch.thread.fitting import pair_fit

        return [
            cut(g)
            for name, c in colours.items()
            for g in spread(c, pair_fit(c, stash.thread(name)))
        ]
    return [cut(g) for c in colours.values() for g in spread(c, pair_total(c))]
