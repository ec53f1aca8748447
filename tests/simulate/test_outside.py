"""The main job against what is not ours: published tables, worked examples, reference libraries.

The source stands beside every check.  The numbers are copied here, so that a fresh clone has them.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from conftest import INKS, patterns
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from motifsearch.base.colour import lab, lab_difference
from motifsearch.pattern.design import make_pattern
from motifsearch.pattern.knots import knots_in_grid, positions_in_row, slots_in_row
from motifsearch.pattern.walk import colour_return, face, sigma, walk
from motifsearch.simulate.scores import score_pattern
from motifsearch.simulate.symmetry import GROUPS, KINDS, agreement, frieze_group
from motifsearch.thread.model import ThreadModel, strand_use

# Landau's function g(0..24), the largest order of a permutation of n elements.
# Source: OEIS A000793.
LANDAU = (
    1, 1, 2, 3, 4, 6, 6, 12, 15, 20, 30, 30, 60, 60, 84, 105, 140, 210, 210, 420, 420, 420, 420,
    840, 840,
)  # fmt: skip

# The 34 test pairs of CIEDE2000: L1 a1 b1, L2 a2 b2, difference.
# Source: Sharma, Wu and Dalal, Color Research and Application 30(1), 2005, pp. 21-30, Table 1.
SHARMA = (
    (50.0, 2.6772, -79.7751, 50.0, 0.0, -82.7485, 2.0425),
    (50.0, 3.1571, -77.2803, 50.0, 0.0, -82.7485, 2.8615),
    (50.0, 2.8361, -74.02, 50.0, 0.0, -82.7485, 3.4412),
    (50.0, -1.3802, -84.2814, 50.0, 0.0, -82.7485, 1.0),
    (50.0, -1.1848, -84.8006, 50.0, 0.0, -82.7485, 1.0),
    (50.0, -0.9009, -85.5211, 50.0, 0.0, -82.7485, 1.0),
    (50.0, 0.0, 0.0, 50.0, -1.0, 2.0, 2.3669),
    (50.0, -1.0, 2.0, 50.0, 0.0, 0.0, 2.3669),
    (50.0, 2.49, -0.001, 50.0, -2.49, 0.0009, 7.1792),
    (50.0, 2.49, -0.001, 50.0, -2.49, 0.001, 7.1792),
    (50.0, 2.49, -0.001, 50.0, -2.49, 0.0011, 7.2195),
    (50.0, 2.49, -0.001, 50.0, -2.49, 0.0012, 7.2195),
    (50.0, -0.001, 2.49, 50.0, 0.0009, -2.49, 4.8045),
    (50.0, -0.001, 2.49, 50.0, 0.001, -2.49, 4.8045),
    (50.0, -0.001, 2.49, 50.0, 0.0011, -2.49, 4.7461),
    (50.0, 2.5, 0.0, 50.0, 0.0, -2.5, 4.3065),
    (50.0, 2.5, 0.0, 73.0, 25.0, -18.0, 27.1492),
    (50.0, 2.5, 0.0, 61.0, -5.0, 29.0, 22.8977),
    (50.0, 2.5, 0.0, 56.0, -27.0, -3.0, 31.903),
    (50.0, 2.5, 0.0, 58.0, 24.0, 15.0, 19.4535),
    (50.0, 2.5, 0.0, 50.0, 3.1736, 0.5854, 1.0),
    (50.0, 2.5, 0.0, 50.0, 3.2972, 0.0, 1.0),
    (50.0, 2.5, 0.0, 50.0, 1.8634, 0.5757, 1.0),
    (50.0, 2.5, 0.0, 50.0, 3.2592, 0.335, 1.0),
    (60.2574, -34.0099, 36.2677, 60.4626, -34.1751, 39.4387, 1.2644),
    (63.0109, -31.0961, -5.8663, 62.8187, -29.7946, -4.0864, 1.263),
    (61.2901, 3.7196, -5.3901, 61.4292, 2.248, -4.962, 1.8731),
    (35.0831, -44.1164, 3.7933, 35.0232, -40.0716, 1.5901, 1.8645),
    (22.7233, 20.0904, -46.694, 23.0331, 14.973, -42.5619, 2.0373),
    (36.4612, 47.858, 18.3852, 36.2715, 50.5065, 21.2231, 1.4146),
    (90.8027, -2.0831, 1.441, 91.1528, -1.6435, 0.0447, 1.4441),
    (90.9257, -0.5406, -0.9208, 88.6381, -0.8985, -0.7239, 1.5381),
    (6.7747, -0.2908, -2.4247, 5.8714, -0.0985, -2.2286, 0.6377),
    (2.0776, 0.0795, -1.135, 0.9033, -0.0636, -0.5514, 0.9082),
)

# sRGB to L*a*b*, D65, 2 degrees: L a b by scikit-image 0.26.0, then by colour-science 0.4.7.
LAB = {
    "#ff0000": (53.2406, 80.0923, 67.2028, 53.2329, 80.1112, 67.2237),
    "#00ff00": (87.7351, -86.183, 83.1797, 87.737, -86.1829, 83.1878),
    "#0000ff": (32.2957, 79.1856, -107.8573, 32.3026, 79.1981, -107.8504),
    "#ffffff": (100.0, -0.0025, 0.0047, 100.0, 0.0077, 0.0035),
    "#808080": (53.585, -0.0015, 0.0028, 53.585, 0.0046, 0.0021),
    "#ffff00": (97.1395, -21.5547, 94.4781, 97.1382, -21.5536, 94.4895),
    "#00ffff": (91.1133, -48.0906, -14.1263, 91.1165, -48.0776, -14.1243),
    "#ff00ff": (60.3235, 98.2331, -60.821, 60.3199, 98.2563, -60.8296),
}

# One picture per frieze group, strip direction from left to right, with the least period.
# Source: the letters usual for the groups of International Tables for Crystallography, volume E
# (LLLL, bpbp, VVVV, NNNN, pbqd, DDDD, HHHH), as pixels; the groups of these pixels were found
# alike by brute force and by spglib 2.8.0.
STRIPS = {
    "p1": ("1000", "1000", "1100"),
    "p11g": ("11000000", "10000000", "00000000", "00001000", "00001100"),
    "p1m1": ("11100000", "01000000", "01000000"),
    "p2": ("110000", "010000", "011000"),
    "p2mg": ("01001110", "11100100"),
    "p11m": ("1100", "1000", "1100"),
    "p2mm": ("10100", "11100", "10100"),
}


def plain(strands, knot="rr", order=None, rows=2):
    """Return a design of one kind of knot."""
    grid = [" ".join([knot] * slots_in_row(strands, r)) for r in range(rows)]
    return make_pattern("", grid, order or ["sand", "teal"] * strands, INKS)


# --- the permutation of one period ---------------------------------------------------------


@settings(max_examples=150)
@given(patterns())
def test_order_of_sigma_is_that_of_sympy_and_below_landau(pattern):
    """With a colour of its own on every strand, t is the order of sigma (sympy Permutation)."""
    from sympy.combinatorics import Permutation

    names = [f"c{n}" for n in range(pattern.strands)]
    single = make_pattern(
        "", pattern.grid, names, {n: f"#{k:02x}0000" for k, n in enumerate(names)}
    )
    order = Permutation(list(sigma(single))).order()
    assert colour_return(single) == order
    assert order <= LANDAU[pattern.strands]
    assert order % colour_return(pattern) == 0  # shared colours can only come back sooner


def test_landau_is_what_sympy_says():
    """Landau's function by its definition, the largest lcm of a partition (sympy), to n = 24."""
    from sympy.utilities.iterables import partitions

    for n, known in enumerate(LANDAU):
        assert max((math.lcm(*p) for p in partitions(n)), default=1) == known


@pytest.mark.parametrize("strands", [5, 7, 9, 12])
def test_a_design_can_reach_landau(strands):
    """Some sigma of a random design attains the ceiling, so the ceiling is not idle."""
    from sympy.combinatorics import Permutation

    rng = np.random.default_rng(strands)
    best = 0
    for _ in range(3000):
        grid = rng.integers(0, 4, (strands + strands % 2, strands // 2)).astype(np.uint8)
        p = make_pattern("", grid, ["sand"] * strands, INKS)
        best = max(best, Permutation(list(sigma(p))).order())
        if best == LANDAU[strands]:
            break
    assert best == LANDAU[strands]


# --- colour --------------------------------------------------------------------------------


@pytest.mark.parametrize("row", SHARMA)
def test_ciede2000_of_sharma_wu_dalal(row):
    first, second, known = row[:3], row[3:6], row[6]
    assert lab_difference(first, second) == pytest.approx(known, abs=1e-4)
    assert lab_difference(second, first) == pytest.approx(known, abs=1e-4)


@pytest.mark.parametrize("hexed", LAB)
def test_lab_of_two_reference_libraries(hexed):
    """The libraries themselves differ by up to 0.02; 0.05 covers both."""
    assert lab(hexed) == pytest.approx(LAB[hexed][:3], abs=0.05)
    assert lab(hexed) == pytest.approx(LAB[hexed][3:], abs=0.05)


@settings(max_examples=60)
@given(st.tuples(*[st.integers(0, 255)] * 3), st.tuples(*[st.integers(0, 255)] * 3))
def test_colours_against_scikit_image(one, other):
    """sRGB to L*a*b*, and CIEDE2000 on top, by scikit-image."""
    from skimage.color import deltaE_ciede2000, rgb2lab

    labs = [rgb2lab(np.array([[c]]) / 255.0)[0, 0] for c in (one, other)]
    ours = [lab("#{:02x}{:02x}{:02x}".format(*c)) for c in (one, other)]
    for mine, theirs in zip(ours, labs, strict=True):
        assert mine == pytest.approx(tuple(theirs), abs=0.05)
    assert lab_difference(*ours) == pytest.approx(float(deltaE_ciede2000(*ours)), abs=1e-4)


@given(patterns())
def test_balance_is_the_entropy_of_scipy(pattern):
    """Shannon entropy over ln k (scipy.stats.entropy), on the shares of a face counted anew."""
    from scipy.stats import entropy

    assume(colour_return(pattern) * pattern.rows <= 400)
    scores = score_pattern(pattern)
    cells = [c for row in face(pattern, scores["repeat_rows"]) for c in row]
    shares = np.bincount(cells, minlength=len(pattern.palette)) / len(cells)
    assert list(scores["colour"]["share"].values()) == pytest.approx(shares.tolist())
    k = len(pattern.palette)
    known = 1.0 if k == 1 else float(entropy(shares)) / math.log(k)
    assert scores["colour"]["balance"] == pytest.approx(known)


# --- frieze groups -------------------------------------------------------------------------


def laid(strip, strands, height):
    """Return a strip's face, uint8 ``[T, S // 2, 1]``, on staggered cells, strip running down.

    Every pixel becomes a block: `height` rows long, one column of blocks per row of the picture
    over the width of the band.  A cell takes the pixel in which its middle lies; cells in between
    two columns take the background.  Blocks are symmetric, so the face has the strip's symmetry.
    """
    across = len(strip)
    total = len(strip[0]) * height
    out = np.zeros((total, strands // 2, 1), np.uint8)
    for r in range(total):
        along = r // height
        for k, i in enumerate(positions_in_row(strands, r)):
            where = (i + 1) * across / strands  # 0..across from the left edge
            if r % height and abs(where - round(where)) > 1e-9:
                out[r, k, 0] = int(strip[int(where)][along])
    return out


def group_by_definition(cells, total, strands):
    """Return the group from sets of coloured cells, straight from the definitions."""
    last = strands - 2
    marked = {cell for cell, c in cells.items() if c}

    def is_kept(move):
        return {move(r, i) for r, i in marked} == marked and all(
            move(r, i) in cells for r, i in cells
        )

    mirror = is_kept(lambda r, i: (r, last - i))
    glide = total % 2 == 0 and is_kept(lambda r, i: ((r + total // 2) % total, last - i))
    flip = any(is_kept(lambda r, i, s=s: ((s - r) % total, i)) for s in range(total))
    turn = any(is_kept(lambda r, i, s=s: ((s - r) % total, last - i)) for s in range(total))
    if mirror:
        return "p2mm" if flip else "p11m"
    if flip:
        return "p2mg" if turn else "p1m1"
    if glide:
        return "p11g"
    return "p2" if turn else "p1"


def group_by_us(cells, strands):
    total = len(cells)
    whole = knots_in_grid(strands, total)
    exact = {}
    for kind in KINDS:
        agree = agreement(cells, kind, strands)
        exact[kind] = np.zeros(1, bool) if agree is None else agree == whole
    return GROUPS[int(frieze_group(exact)[0])]


@pytest.mark.parametrize("group", STRIPS)
@pytest.mark.parametrize(("strands", "height"), [(12, 4), (20, 8), (24, 4)])
def test_frieze_groups_of_the_letter_strips(group, strands, height):
    strip = STRIPS[group]
    cells = laid(strip, strands, height)
    assert cells.any()
    pairs = {
        (r, i): int(cells[r, k, 0])
        for r in range(len(cells))
        for k, i in enumerate(positions_in_row(strands, r))
    }
    assert group_by_definition(pairs, len(cells), strands) == group
    assert group_by_us(cells, strands) == group


@settings(max_examples=300)
@given(
    st.integers(4, 9), st.integers(1, 4), st.integers(0, 2**32 - 1),
    st.sampled_from(["none", "mirror", "glide", "flip", "half_turn"]),
)  # fmt: skip
def test_frieze_groups_of_random_faces(strands, half, seed, made):
    """Random faces of two colours, some made symmetric, against the brute force."""
    rng = np.random.default_rng(seed)
    total = 2 * half
    cells = {(r, i): 0 for r in range(total) for i in positions_in_row(strands, r)}
    last, shift = strands - 2, int(rng.integers(0, total))
    moves = {
        "none": lambda r, i: (r, i),
        "mirror": lambda r, i: (r, last - i),
        "glide": lambda r, i: ((r + half) % total, last - i),
        "flip": lambda r, i: ((shift - r) % total, i),
        "half_turn": lambda r, i: ((shift - r) % total, last - i),
    }
    move = moves[made]
    assume(all(move(*c) in cells for c in cells))
    for cell in cells:
        cells[cell] = int(rng.integers(0, 2))
    for cell in sorted(cells):
        cells[move(*cell)] = cells[cell]
    array = np.zeros((total, strands // 2, 1), np.uint8)
    for r in range(total):
        for k, i in enumerate(positions_in_row(strands, r)):
            array[r, k, 0] = cells[(r, i)]
    # A group is that of the least period.
    repeat = next(
        q
        for q in range(2, total + 1, 2)
        if total % q == 0 and all(cells[c] == cells[((c[0] + q) % total, c[1])] for c in cells)
    )
    least = {c: v for c, v in cells.items() if c[0] < repeat}
    assert group_by_us(array[:repeat], strands) == group_by_definition(least, repeat, strands)


# --- designs whose scores follow from arithmetic -------------------------------------------


@pytest.mark.parametrize("strands", range(4, 25))
def test_a_diagonal_stripe_is_one_cycle(strands):
    """All rr: two rows move every strand on by one place of a single cycle of S.

    Worked by hand: a strand travels right one place a row, waits at the edge, then is carried
    back to the left; sigma is one S-cycle (sympy), so with a colour each the colours stand as
    before after S periods of 2 rows.  Every strand goes through the same 2 S rows.
    """
    from sympy.combinatorics import Permutation

    names = [f"c{n}" for n in range(strands)]
    inks = {n: f"#{5 * k:02x}40{200 - 5 * k:02x}" for k, n in enumerate(names)}
    pattern = plain(strands, "rr", names)
    pattern = make_pattern("", pattern.grid, names, inks)
    cycles = [c for c in Permutation(list(sigma(pattern))).cyclic_form if len(c) > 1]
    assert [len(c) for c in cycles] == [strands]
    scores = score_pattern(pattern)
    assert scores["repeat_rows"] == 2 * strands
    assert scores["flatness"] == 0.0
    use = strand_use(pattern, 2 * strands, ThreadModel(), np.full(strands, 0.6))
    assert np.ptp(use.loop_mm) == pytest.approx(0.0, abs=1e-9)
    ties = [0] * strands
    for row in walk(pattern, 2 * strands).rows:
        for knot in row:
            ties[knot.tying] += 1
    assert set(ties) == {knots_in_grid(strands, 2 * strands) // strands}


@pytest.mark.parametrize("strands", [8, 10, 12, 24])
def test_equal_use_over_whole_cycles(strands):
    """Over many whole cycles of an all-rr band no strand uses more than another, but for the ends.

    The difference stays that of one start and one finish however long the band is.
    """
    pattern = plain(strands, "rr", ["teal"] * strands)
    d = np.full(strands, 0.6)
    few = strand_use(pattern, 2 * strands, ThreadModel(), d).use_mm
    many = strand_use(pattern, 20 * strands, ThreadModel(), d).use_mm
    assert np.ptp(many) == pytest.approx(np.ptp(few), abs=1e-6)
    assert many.min() / many.max() > 0.99


@pytest.mark.parametrize("strands", [8, 10, 14])
def test_a_chevron_keeps_its_returning_borders_outside(strands):
    """They stay outside and use the most thread (common practice, no source).

    By counting: a border ties a knot every other row and is never tied around; the others share
    what is left.  So its loops are the longest at every width; its way, straight down the edge,
    is shorter than theirs, and of wider bands the sum need not be the longest.
    """
    middle = strands // 2 - 1
    grid = []
    for r in range(2):
        row = []
        for i in positions_in_row(strands, r):
            if i in (0, strands - 2):
                row.append("rl" if i == 0 else "lr")
            else:
                row.append("rr" if i <= middle else "ll")
        grid.append(" ".join(row))
    half = ["night", *["sand", "teal", "brick", "moss"] * 2][: strands // 2]
    pattern = make_pattern("", grid, half + half[::-1], INKS)
    for order in walk(pattern, 60).orders:
        assert order[0] == 0
        assert order[-1] == strands - 1
    thread = score_pattern(pattern)["thread"]
    loops, use = thread["loop_mm"], thread["use_mm"]
    assert min(loops[0], loops[-1]) > max(loops[1:-1])
    if strands == 8:
        assert min(use[0], use[-1]) > max(use[1:-1])


@pytest.mark.parametrize("strands", [6, 8, 12])
def test_lengthwise_stripes_do_not_move(strands):
    """Returning knots alone keep every strand in its place: each column is one colour.

    By the definitions: movement 0, repeat of 2 rows; rows of even positions show the left
    strands only.
    """
    order = [list(INKS)[i % 3] for i in range(strands)]
    scores = score_pattern(plain(strands, "rl", order))
    assert scores["motif"]["movement"] == 0.0
    assert scores["repeat_rows"] == 2
    assert scores["flatness"] == 1.0


# --- join counts ---------------------------------------------------------------------------


@settings(max_examples=60)
@given(patterns(max_rows=8))
def test_coherence_is_the_join_count_of_a_graph(pattern):
    """Join counts (Cliff and Ord): joins of one colour over all joins, counted on a networkx graph.

    A multigraph, because over a repeat of two rows a pair of cells touches above and below.
    """
    import networkx as nx

    assume(colour_return(pattern) * pattern.rows <= 120)
    scores = score_pattern(pattern)
    total = scores["repeat_rows"]
    colour = {
        (r, i): c
        for r, row in enumerate(face(pattern, total))
        for i, c in zip(positions_in_row(pattern.strands, r), row, strict=True)
    }
    graph = nx.MultiGraph()
    graph.add_nodes_from(colour)
    for r, i in colour:
        for j in (i - 1, i + 1):
            if ((r + 1) % total, j) in colour:
                graph.add_edge((r, i), ((r + 1) % total, j))
    same = [colour[a] == colour[b] for a, b in graph.edges()]
    assert scores["motif"]["coherence"] == pytest.approx(sum(same) / len(same))
    alone = [all(colour[n] != c for n in graph.neighbors(cell)) for cell, c in colour.items()]
    assert scores["motif"]["lone"] == pytest.approx(sum(alone) / len(alone))


def test_join_counts_of_a_checkerboard():
    """Black and white joins BW / J = 1 on a checkerboard, by esda 2.9.0 (rook joins).

    On staggered cells the checkerboard is rows in turn of one colour: no join joins equals.
    """
    # Even rows show the left strand; odd rows the right one, which is of the same colour.
    pattern = make_pattern("", ["rl rl rl rl", "lr lr lr"], ["sand", "teal"] * 4, INKS)
    assert face(pattern, 2) == [[0, 0, 0, 0], [0, 0, 0]]
    checker = make_pattern("", ["rl rl rl rl", "rl rl rl"], ["sand", "teal"] * 4, INKS)
    assert face(checker, 2) == [[0, 0, 0, 0], [1, 1, 1]]
    assert score_pattern(checker)["motif"]["coherence"] == 0.0
    assert score_pattern(checker)["motif"]["lone"] == 1.0
    assert score_pattern(pattern)["motif"]["coherence"] == 1.0
