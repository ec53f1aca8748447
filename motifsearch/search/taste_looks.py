"""Looks: the traits and the outline of every design of a batch, as arrays.

All are taken of the face: shares, symmetry, repeat, movement and lone knots over one repeat, from
the scores; the rest over `WINDOW_ROWS` rows.  With g the slope of a boundary between two colours
(+1 down to the right, -1 down to the left, 0 for none; `motifsearch.describe.slopes`), side = +1
left of the middle and -1 right of it, and |g| summed over all boundaries as the unit:

=============== =============================================================================
colours         log2 of the number of colours
lightness       mean L* / 100
depth           standard deviation of L* over the cells / 100
warmth          mean of C* cos(h - 50 degrees) / 100: towards orange, or towards blue
chroma          mean C* / 100
contrast        mean CIEDE2000 difference over boundaries / 100
least_contrast  smallest of these / 100, as scored
ground          largest share of a colour
edge            mean L* of the outer columns less that of all others / 100
tint_X          share of the tint X
density         share of touching pairs of two colours
lone            share of lone knots
lengthwise      1 - movement
crosswise       share of neighbours in a row of one colour, less lengthwise
lean            |sum of g|
point           |sum of g side|
swing           mean over rows of |sum of g near the row|, less lean
open            mean over rows of |sum of g side near the row|, less point
steady          sum over columns of |sum over rows of g|
mirror ...      as scored
repeat          log2 of the repeat in rows
rhythm_L        share of cells that are the same L rows on (autocorrelation)
border          how still the outer columns are, less lengthwise
=============== =============================================================================

The *outline* is that of `motifsearch.search.variety`, packed into 64-bit words.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from motifsearch.base.arrays import F64, U8, Bool
from motifsearch.base.colour import lab
from motifsearch.pattern.design import Pattern
from motifsearch.pattern.knots import slots_in_row
from motifsearch.search.taste_traits import KEYS, REACH, TINTS, TRAITS
from motifsearch.search.variety import WINDOW_ROWS, outline, repeat_face, variants
from motifsearch.simulate.scores import Scores, pattern_arrays, pattern_setting, score_batch
from motifsearch.simulate.walk import faces

U64 = npt.NDArray[np.uint64]
LAGS = (4, 8, 12)
WARMEST = np.deg2rad(50.0)
_CENTRE = np.array([t.centre for t in TRAITS])[:, None]
_SPREAD = np.array([t.spread for t in TRAITS])[:, None]


@dataclass(frozen=True)
class Looks:
    """What one sees of N designs of one width.

    Attributes:
        traits: Centred and scaled, float64 ``[traits, N]``, in the order of `TRAITS`.
        outlines: uint64 ``[words, N]``, as they are.
        strands: S.
    """

    traits: F64
    outlines: U64
    strands: int

    def __len__(self) -> int:
        """Return N."""
        return int(self.traits.shape[1])


def words_of(packed: U8) -> U64:
    """Return packed bits as 64-bit words, uint64 ``[words, N]``, for uint8 ``[N, bytes]``."""
    spare = -packed.shape[1] % 8
    padded = np.pad(packed, ((0, 0), (0, spare)))
    return np.ascontiguousarray(np.ascontiguousarray(padded).view(np.uint64).T)


def tints_of(labs: F64) -> F64:
    """Return how much of every tint a colour has, float64 ``[tints, k]``; columns sum to 1.

    Args:
        labs: L*a*b* of the colours, float64 ``[k, 3]``.
    """
    apart = ((np.array(list(TINTS.values()))[:, None] - labs[None]) ** 2).sum(2)
    near = np.exp(-(apart - apart.min(0)) / (2 * REACH**2))
    share: F64 = near / near.sum(0)
    return share


def looks(knots: U8, colours: U8, scores: Scores, labs: F64, differences: F64) -> Looks:
    """Return what one sees of a batch.

    Args:
        knots: uint8 ``[P, S // 2, N]``.
        colours: uint8 ``[S, N]``, indices into the palette.
        scores: Of these designs, with symmetry, all of them scored.
        labs: L*a*b* of the palette, float64 ``[k, 3]``.
        differences: CIEDE2000 of every two colours of the palette, float64 ``[k, k]``.
    """
    strands, n = colours.shape
    face = faces(knots, colours, WINDOW_ROWS + max(LAGS))
    lines = outline(face[: WINDOW_ROWS + 1], strands)
    raw = np.zeros((len(TRAITS), n))
    values = {
        **_colour(face[:WINDOW_ROWS], colours, scores, labs, differences),
        **_figure(face, scores, lines, strands),
    }
    for row, key in enumerate(KEYS):
        raw[row] = values[key]
    packed = np.packbits(lines.reshape(-1, n), axis=0).T
    return Looks((raw - _CENTRE) / _SPREAD, words_of(packed), strands)


def _colour(face: U8, colours: U8, scores: Scores, labs: F64, differences: F64) -> dict[str, F64]:
    strands, n = colours.shape
    share = scores.shares
    light = labs[:, 0] / 100.0
    chroma = np.hypot(labs[:, 1], labs[:, 2]) / 100.0
    warm = chroma * np.cos(np.arctan2(labs[:, 2], labs[:, 1]) - WARMEST)
    mean = light @ share
    used = np.array([(colours == c).any(0) for c in range(len(labs))]).sum(0)
    own = np.zeros(n)
    pairs = np.zeros(n)
    for first in (0, 1):
        here, below = face[first:-1:2], face[first + 1 :: 2]
        here = here[: len(below)]
        mine, theirs = slots_in_row(strands, first), slots_in_row(strands, first + 1)
        for step in (first - 1, first):
            low, high = max(0, -step), min(mine, theirs - step)
            a, b = here[:, low:high], below[:, low + step : high + step]
            own += differences[a, b].sum((0, 1))
            pairs += (a != b).sum((0, 1))
    outer = np.zeros(n)
    last = [slots_in_row(strands, p) - 1 for p in (0, 1)]
    for parity in (0, 1):
        outer += light[face[parity::2, 0]].sum(0) + light[face[parity::2, last[parity]]].sum(0)
    outer /= 2 * len(face)
    least = np.where(np.isfinite(scores.contrast), scores.contrast, 0.0)
    tints = tints_of(labs) @ share
    return {
        "colours": np.log2(np.maximum(used, 1)),
        "lightness": mean,
        "depth": np.sqrt(np.maximum((light**2) @ share - mean**2, 0.0)),
        "warmth": warm @ share,
        "chroma": chroma @ share,
        "contrast": own / np.maximum(pairs, 1) / 100.0,
        "least_contrast": least / 100.0,
        "ground": share.max(0),
        "edge": outer - mean,
        **{f"tint_{name}": tints[k] for k, name in enumerate(TINTS)},
    }


def _figure(face: U8, scores: Scores, lines: Bool, strands: int) -> dict[str, F64]:
    even, odd = slots_in_row(strands, 0), slots_in_row(strands, 1)
    window = face[:WINDOW_ROWS]
    n = face.shape[2]
    cells = WINDOW_ROWS // 2 * (even + odd)
    spare = WINDOW_ROWS // 2 * (strands // 2 - odd)

    def same(lag: int) -> F64:
        agree = (window == face[lag : lag + WINDOW_ROWS]).sum((0, 1)) - spare
        return np.asarray(agree / cells)

    beside = (window[0::2, : even - 1] == window[0::2, 1:even]).sum((0, 1))
    beside = beside + (window[1::2, : odd - 1] == window[1::2, 1:odd]).sum((0, 1))
    neighbours = max(1, WINDOW_ROWS // 2 * (even + odd - 2))
    still = np.zeros(n)
    for parity in (0, 1):
        last = (even, odd)[parity] - 1
        now, then = window[parity::2], face[2 + parity : WINDOW_ROWS + 2 : 2]
        still += (now[:, 0] == then[:, 0]).sum(0) + (now[:, last] == then[:, last]).sum(0)
    still /= 2 * WINDOW_ROWS
    stays = 1.0 - scores.movement
    symmetry = {kind: np.nan_to_num(share, nan=0.5) for kind, share in scores.symmetry.items()}
    touching = WINDOW_ROWS // 2 * 2 * (odd + even - 1)
    return {
        "density": lines.sum((0, 1, 2)) / touching,
        "lone": scores.lone,
        "lengthwise": stays,
        "crosswise": beside / neighbours - stays,
        **_slopes(lines, strands),
        **symmetry,
        "repeat": np.log2(np.maximum(scores.repeat_rows, 2)),
        **{f"rhythm_{lag}": same(lag) for lag in LAGS},
        "border": still - stays,
    }


def _slopes(lines: Bool, strands: int) -> dict[str, F64]:
    """Return lean, point, swing, open and steady (see the module), float64 ``[N]`` each.

    Args:
        lines: The outline, bool ``[rows, S // 2, 2, N]``: to the left below, to the right below.
        strands: S.
    """
    rows, _, _, n = lines.shape
    columns = strands - 2
    g = np.zeros((rows, columns, n), np.int8)
    for parity in (0, 1):
        slots = slots_in_row(strands, parity)
        at = parity + 2 * np.arange(slots)
        falls, rises = at > 0, at < columns
        g[parity::2, at[falls] - 1] += lines[parity::2, :slots, 0][:, falls]
        g[parity::2, at[rises]] -= lines[parity::2, :slots, 1][:, rises].astype(np.int8)
    side = np.sign((columns - 1) / 2 - np.arange(columns)).astype(np.int8)[None, :, None]
    total = np.maximum(np.abs(g).sum((0, 1), dtype=np.int64), 1)
    flat, turned = g.sum(1, dtype=np.int64), (g * side).sum(1, dtype=np.int64)
    half = min(max(columns // 4, 1), 4)
    lean, point = np.abs(flat.sum(0)) / total, np.abs(turned.sum(0)) / total
    each = _near(np.abs(g).sum(1, dtype=np.int64), half).sum(0)
    swing = np.abs(_near(flat, half)).sum(0) / np.maximum(each, 1)
    open_ = np.abs(_near(turned, half)).sum(0) / np.maximum(each, 1)
    return {
        "lean": lean,
        "point": point,
        "swing": swing - lean,
        "open": open_ - point,
        "steady": np.abs(g.sum(0, dtype=np.int64)).sum(0) / total,
    }


def _near(values: npt.NDArray[np.int64], half: int) -> npt.NDArray[np.int64]:
    """Return the sums of 2 half + 1 rows that follow each other, int64 ``[rows - 2 half, N]``."""
    width = 2 * half + 1
    total = np.cumsum(np.concatenate([np.zeros((1, values.shape[1]), np.int64), values]), 0)
    out: npt.NDArray[np.int64] = total[width:] - total[:-width]
    return out


def looks_of(patterns: Sequence[Pattern]) -> Looks:
    """Return what one sees of designs of one width; each counts with its own colours.

    Args:
        patterns: At least one, all with equally many strands.
    """
    parts = []
    for p in patterns:
        knots, colours = pattern_arrays([p])
        setting = pattern_setting(p)
        labs = np.array([lab(p.colours[name]) for name in p.palette])
        scores = score_batch(knots, colours, setting)
        parts.append(looks(knots, colours, scores, labs, setting.differences))
    return Looks(
        np.concatenate([p.traits for p in parts], 1),
        np.concatenate([p.outlines for p in parts], 1),
        parts[0].strands,
    )


def all_variants(pattern: Pattern) -> U64:
    """Return the outlines of a design at every phase and under the four transforms, each once.

    Returns:
        uint64 ``[words, variants]``.
    """
    packed = variants(repeat_face(pattern), pattern.strands)
    return words_of(np.unique(packed, axis=0))


def outline_distances(anchors: Sequence[U64], outlines: U64) -> F64:
    """Return the distance of every outline to every anchor, float64 ``[anchors, N]``.

    As `motifsearch.search.variety.distances`: the Jaccard distance at the best variant.

    Args:
        anchors: Per anchor its variants, uint64 ``[words, variants]``.
        outlines: uint64 ``[words, N]``.
    """
    out = np.ones((len(anchors), outlines.shape[1]))
    size = np.bitwise_count(outlines).sum(0, dtype=np.int64)
    for k, anchor in enumerate(anchors):
        own = np.bitwise_count(anchor).sum(0, dtype=np.int64)
        differ = np.zeros((anchor.shape[1], outlines.shape[1]), np.uint16)
        for here, there in zip(anchor, outlines, strict=True):
            differ += np.bitwise_count(here[:, None] ^ there[None])
        # |A or B| = (|A| + |B| + |A xor B|) / 2
        union = (own[:, None] + size[None] + differ) // 2
        out[k] = (differ / np.maximum(union, 1)).min(0)
    return out
