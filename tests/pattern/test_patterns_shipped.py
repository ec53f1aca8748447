"""The files under configs/patterns: traditional constructions that can be cut and knotted."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from motifsearch.base.colour import hex_to_rgb
from motifsearch.pattern.canonical_form import canonical
from motifsearch.pattern.files import format_pattern, read_pattern
from motifsearch.simulate.scores import score_pattern
from motifsearch.thread.cutting import cut_list
from motifsearch.thread.plan import plan_cuts
from motifsearch.thread.stash import read_stash, strand_diameters_mm

CONFIGS = Path(__file__).parents[2] / "configs"
FILES = sorted((CONFIGS / "patterns").glob("*.toml"))
WANTED = {"bordered-arrows", "chevron", "diagonal-stripe", "diamond", "waves", "zigzag"}


def test_all_constructions_are_there():
    assert {path.stem for path in FILES} >= WANTED


def test_no_two_are_one_design():
    forms = [canonical(read_pattern(path)) for path in FILES]
    assert len(set(forms)) == len(forms)


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_folded_threads_give_the_strands(path):
    """Every colour has an even number of strands; with odd S exactly one colour is odd."""
    pattern = read_pattern(path)
    odd = [c for c in pattern.palette if pattern.colour_order.count(c) % 2]
    assert len(odd) == pattern.strands % 2
    assert set(pattern.colours) == set(pattern.palette)


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_the_workshop_stash_is_enough(path):
    stash = read_stash(CONFIGS / "stash-workshop.toml")
    pattern = read_pattern(path)
    for name in pattern.palette:
        assert stash.thread(name).colour == pattern.colours[name]
    cuts = cut_list(
        pattern, 150.0, model=stash.model, diameters_mm=strand_diameters_mm(pattern, stash)
    )
    assert plan_cuts(cuts, stash).feasible


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_it_reads_as_a_motif(path):
    """Figures, not noise: few lone knots, a repeat that fits a wrist, much movement."""
    scores = score_pattern(read_pattern(path))
    assert scores["repeat_rows"] <= 32
    assert scores["motif"]["movement"] > 0.4
    assert scores["motif"]["lone"] < 0.3
    assert scores["colour"]["contrast"] > 10


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_the_drawing_shows_every_colour(path):
    """The mean hue of the drawn cloth has pixels near to every thread's colour."""
    from motifsearch.draw.cloth import render_band

    pattern = read_pattern(path)
    image = render_band(pattern, 32, cell_px=12, ends=False)[..., :3].reshape(-1, 3).astype(int)
    for name in pattern.palette:
        near = np.abs(image - hex_to_rgb(pattern.colours[name])).max(axis=1) < 40
        assert near.mean() > 0.01, name


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_the_file_is_as_we_would_write_it(path):
    """Apart from the comment that says what it is."""
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    assert lines[0].startswith("# ")
    assert "".join(lines[1:]) == format_pattern(read_pattern(path))


@pytest.mark.parametrize(
    ("stem", "group"),
    [
        ("diagonal-stripe", "p2"),
        ("chevron", "p11m"),
        ("bordered-arrows", "p11m"),
        ("diamond", "p11m"),
        ("waves", "p11g"),
    ],
)
def test_the_symmetry_that_the_name_promises(stem, group):
    scores = score_pattern(read_pattern(CONFIGS / "patterns" / f"{stem}.toml"))
    assert scores["symmetry"]["frieze_group"] == group


def test_arrow_rows_stand_between_borders_of_four_folded_threads():
    pattern = read_pattern(CONFIGS / "patterns" / "bordered-arrows.toml")
    assert pattern.strands == 8
    scores = score_pattern(pattern)
    use = scores["thread"]["use_mm"]
    assert min(use[0], use[7]) > max(use[1:7])  # common practice, no source
