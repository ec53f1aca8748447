"""Calibration: recovery from simulated bands, refusal of what cannot be told apart, the files."""

from __future__ import annotations

import math
import re
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from motifsearch.base.errors import InputError
from motifsearch.pattern.design import Pattern, make_pattern
from motifsearch.pattern.files import write_pattern
from motifsearch.thread.calibration import (
    calibration_text,
    format_calibration,
    read_calibration,
    write_calibration,
)
from motifsearch.thread.cutting import Allowances, cut_list, margin_quantile
from motifsearch.thread.fit import SWATCH, calibrate, fit
from motifsearch.thread.measurement import (
    Measurement,
    Observation,
    measurement_form,
    read_measurement,
)
from motifsearch.thread.model import ThreadModel, strand_use
from motifsearch.thread.stash import read_stash
from motifsearch.thread.yarn import diameter_mm

EXAMPLE = Path(__file__).parents[2] / "configs" / "calibration" / "measurement.toml"
INKS = {"a": "#112233", "b": "#eeeeee"}
#: A border that always returns, and strands that are tied around more or less often.
LANES = make_pattern("lanes", ["rl rr ll lr", "rr rl lr"], "aabbbbaa", INKS)
TRUTH = ThreadModel(row_gauge=1.9, strand_gauge=2.2, bend=0.8, loop_scale=0.85, scatter=0.03)


def band(
    rng: np.random.Generator | None,
    pattern: Pattern = LANES,
    truth: ThreadModel = TRUTH,
    rows: int = 160,
    pairs: bool = False,
) -> Measurement:
    """A band knotted by a hand whose tension is `truth`; without noise when there is no rng."""
    d = np.full(pattern.strands, 0.6)
    use = strand_use(pattern, rows, truth, d).use_mm
    if rng is not None:
        use = use * (1.0 + truth.scatter * rng.standard_normal(len(use)))
    strands = range(pattern.strands)
    groups = [(s, s + 1) for s in strands[::2]] if pairs else [(s,) for s in strands]
    return Measurement(
        pattern,
        rows,
        rows * truth.row_pitch_mm(d),
        pattern.strands * truth.strand_pitch_mm(d),
        d,
        tuple(Observation(g, float(sum(use[list(g)]))) for g in groups),
    )


@settings(max_examples=25, deadline=None)
@given(st.floats(0.5, 1.5), st.floats(0.0, 2.0), st.floats(1.5, 3.0), st.floats(1.5, 3.0))
def test_exact_measurements_give_the_constants_back(
    scale: float, bend: float, row: float, strand: float
) -> None:
    truth = replace(TRUTH, loop_scale=scale, bend=bend, row_gauge=row, strand_gauge=strand)
    found = fit([band(None, truth=truth)])
    assert found.loop_scale.value == pytest.approx(scale, rel=1e-6)
    assert found.bend.value == pytest.approx(bend, abs=1e-5)
    assert found.row_gauge.value == pytest.approx(row, rel=1e-9)
    assert found.strand_gauge.value == pytest.approx(strand, rel=1e-9)
    assert found.scatter.value < 1e-6


def test_noisy_measurements_give_the_constants_back_within_their_errors() -> None:
    """Over 100 pairs of simulated bands: no bias, and standard errors that mean what they say."""
    rng = np.random.default_rng(7)
    scales, bends, variances, z_scale, z_bend = [], [], [], [], []
    for _ in range(100):
        found = fit([band(rng, rows=240), band(rng, rows=180)])
        scales.append(found.loop_scale.value)
        variances.append(found.scatter.value**2)
        z_scale.append((found.loop_scale.value - TRUTH.loop_scale) / found.loop_scale.error)
        if found.bend.error:
            bends.append(found.bend.value)
            z_bend.append((found.bend.value - TRUTH.bend) / found.bend.error)
    assert np.mean(scales) == pytest.approx(TRUTH.loop_scale, rel=0.005)
    assert math.sqrt(np.mean(variances)) == pytest.approx(TRUTH.scatter, rel=0.05)
    assert 0.85 < np.std(z_scale) < 1.35  # Student's t with 14 degrees of freedom: 1.08
    assert len(bends) > 60
    assert np.mean(np.abs(z_bend) < 2.15) > 0.9  # 95 % of t with 14 degrees of freedom


def test_folded_threads_measured_as_a_whole_do_as_well() -> None:
    found = fit([band(None, pairs=True), band(None, rows=200, pairs=True)])
    assert found.observations == 8
    assert found.loop_scale.value == pytest.approx(TRUTH.loop_scale, rel=1e-6)
    assert found.bend.value == pytest.approx(TRUTH.bend, abs=1e-5)


def test_strands_that_tie_and_are_tied_alike_are_refused() -> None:
    alike = make_pattern("stripe", ["rr rr", "rr"], "aabb", INKS)
    with pytest.raises(InputError, match="tie and are tied alike") as caught:
        fit([band(None, alike)])
    assert all(text in str(caught.value) for text in SWATCH)
    kept = fit([band(None, alike, replace(TRUTH, bend=ThreadModel().bend))], keep_bend=True)
    assert kept.loop_scale.value == pytest.approx(TRUTH.loop_scale, rel=1e-6)
    assert kept.bend.value == ThreadModel().bend
    assert kept.bend.error == 0.0


def test_the_swatch_that_is_advised_can_be_fitted() -> None:
    swatch = make_pattern("swatch", SWATCH, "aabbaabb", INKS)
    found = fit([band(None, swatch)])
    assert found.bend.value == pytest.approx(TRUTH.bend, abs=1e-5)


def test_a_bend_below_zero_is_taken_as_none() -> None:
    found = fit([band(None, truth=replace(TRUTH, bend=-0.5))])
    assert found.bend.value == 0.0
    assert any("below 0" in note for note in found.notes)


def test_bands_cut_after_a_calibration_keep_the_stated_risk() -> None:
    """Fit one band of noise, cut the next by it: the whole chain stays below 5 %."""
    rng = np.random.default_rng(11)
    ran_out = 0
    bands = 300
    use = strand_use(LANES, 79, TRUTH, np.full(8, 0.6)).use_mm
    for _ in range(bands):
        model = fit([band(rng, rows=120)]).model
        need = strand_use(LANES, 79, model, np.full(8, 0.6)).use_mm
        z = margin_quantile(8, 0.05, model.scatter_freedom)
        actual = use * (1.0 + TRUTH.scatter * rng.standard_normal(8))
        ran_out += bool(np.any(actual > need * (1.0 + z * model.scatter)))
    assert 0.01 < ran_out / bands < 0.05 + 2 * math.sqrt(0.05 * 0.95 / bands)


def test_calibrated_margins_are_wider_for_few_strands() -> None:
    model = ThreadModel(scatter=0.03)
    few = replace(model, scatter_freedom=4.0)
    wide = cut_list(LANES, 150.0, model=few, allowances=Allowances())
    assert wide.total_mm > cut_list(LANES, 150.0, model=model).total_mm


MEASURED = """
format = "motifsearch-measurement-1"
pattern = "p.toml"
rows_knotted = 120
finished_length_mm = 150
width_mm = 10.5
diameter_mm = {{ a = 0.6, b = 0.5 }}
start_mm = 50
{cuts}
"""
CUTS = """
[[cuts]]
strands = [1, 2]
length_mm = 2000
left_mm = [200, 180]
fold_mm = 1010

[[cuts]]
strands = [8, 3]
length_mm = 1900
left_mm = [90, 110]
"""


def write(folder: Path, cuts: str = CUTS, **change: str) -> Path:
    write_pattern(LANES, folder / "p.toml")
    text = MEASURED.format(cuts=cuts)
    for old, new in change.values():  # type: ignore[str-unpack]
        text = text.replace(old, new)
    path = folder / "m.toml"
    path.write_text(text)
    return path


def test_a_measurement_file_is_read(tmp_path: Path) -> None:
    found = read_measurement(write(tmp_path))
    assert found.rows == 120
    assert found.width_mm == 10.5
    assert found.diameters_mm.tolist() == [0.6, 0.6, 0.5, 0.5, 0.5, 0.5, 0.6, 0.6]
    assert found.observations == (
        Observation((0,), 1010.0 - 50 - 200),
        Observation((1,), 990.0 - 50 - 180),
        Observation((7, 2), 1900.0 - 100 - 200),
    )


def test_lists_per_strand_are_read(tmp_path: Path) -> None:
    lists = "cut_mm = [1000, 1000, 1000, 1000, 1000, 1000, 1000, 1000]\n"
    lists += "left_mm = [100, 110, 120, 130, 140, 150, 160, 170]\n"
    found = read_measurement(write(tmp_path, lists))
    assert [o.used_mm for o in found.observations] == [950.0 - left for left in range(100, 180, 10)]


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ("rows_knotted = 120", "rows_knotted = 0", "rows_knotted"),
        ("rows_knotted = 120", "", "rows_knotted"),
        ("finished_length_mm = 150", "finished_length_mm = nan", "finished_length_mm"),
        ("strands = [1, 2]", "strands = [1, 9]", "cuts[1].strands[1]"),
        ("strands = [8, 3]", "strands = [2, 3]", "cuts[2].strands"),
        ("left_mm = [200, 180]", "left_mm = [200]", "cuts[1].left_mm"),
        ("left_mm = [90, 110]", "left_mm = [900, 950]", "cuts[2].left_mm"),
        ("left_mm = [90, 110]", "left_mm = [-1, 0]", "cuts[2].left_mm[0]"),
        ("fold_mm = 1010", "fold_mm = 2010", "cuts[1].fold_mm"),
        ("b = 0.5", "c = 0.5", "diameter_mm.c"),
        ("start_mm = 50", "start = 50", "start"),
        ("motifsearch-measurement-1", "motifsearch-measurement-9", "format"),
        ("start_mm = 50", "start_mm = 50\ntex = 250", "tex"),
        ("start_mm = 50", "start_mm = 50\ncut_mm = [1000]", "cuts"),
        ("strands = [8, 3]", "strands = [3]", "cuts[2].left_mm"),
    ],
)
def test_wrong_measurements_are_named(tmp_path: Path, old: str, new: str, key: str) -> None:
    path = write(tmp_path, change=(old, new))  # type: ignore[arg-type]
    with pytest.raises(InputError) as caught:
        read_measurement(path)
    assert caught.value.key == key
    assert caught.value.source == str(path)


def test_a_file_without_cuts_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"\[\[cuts\]\]"):
        read_measurement(write(tmp_path, "cuts = []"))
    lone = "[[cuts]]\nstrands = [1]\nlength_mm = 900\nleft_mm = [90]\nfold_mm = 450\n"
    with pytest.raises(InputError, match="no fold in a thread of one strand"):
        read_measurement(write(tmp_path, lone))


def test_one_linear_density_for_all_colours(tmp_path: Path) -> None:
    found = read_measurement(
        write(tmp_path, change=("diameter_mm = { a = 0.6, b = 0.5 }", "tex = 250"))  # type: ignore[arg-type]
    )
    assert found.diameters_mm.tolist() == [diameter_mm(250.0)] * 8


def test_lengths_that_cannot_be_right_are_refused() -> None:
    """Strands that used less than their straight way through the band."""
    good = band(None)
    short = tuple(Observation(o.strands, 0.2 * o.used_mm) for o in good.observations)
    with pytest.raises(InputError, match="some tension can explain"):
        fit([replace(good, observations=short)])


def test_leftovers_of_another_pattern_are_refused() -> None:
    swatch = make_pattern("swatch", SWATCH, "aabbaabb", INKS)
    with pytest.raises(InputError, match="is it the pattern that was knotted"):
        fit([replace(band(None, swatch), pattern=LANES)])


def test_the_example_gives_its_hand_back() -> None:
    """Its numbers were made with these constants, 3 % of scatter, and whole millimetres."""
    found = calibrate(EXAMPLE)
    for name, true in (("loop_scale", 0.93), ("bend", 0.3), ("scatter", 0.03)):
        estimate = getattr(found, name)
        assert abs(estimate.value - true) < 3.0 * estimate.error
    assert found.row_gauge.value == pytest.approx(2.02, abs=0.02)


def test_a_slip_of_the_pen_is_pointed_out() -> None:
    """One leftover that lacks a digit: the note names the strand, and few notes are false."""
    rng = np.random.default_rng(3)
    noted = false = 0
    for _ in range(60):
        good = band(rng, rows=120)
        false += any("check its numbers" in note for note in fit([good]).notes)
        seen = list(good.observations)
        seen[3] = Observation((3,), seen[3].used_mm + 279.0)
        notes = fit([replace(good, observations=tuple(seen))]).notes
        noted += any(note.startswith("strand 4 used more") for note in notes)
    assert noted >= 57
    assert false <= 4


def test_without_a_width_the_strands_are_as_loose_as_the_rows() -> None:
    found = fit([replace(band(None), width_mm=None)])
    plain = ThreadModel()
    ratio = found.strand_gauge.value / found.row_gauge.value
    assert ratio == pytest.approx(plain.strand_gauge / plain.row_gauge)


def test_the_form_is_refused_until_it_is_filled_in(tmp_path: Path) -> None:
    """A band cut by the form, knotted by another hand, gives that hand's constants back."""
    write_pattern(LANES, tmp_path / "lanes.toml")
    cuts = cut_list(LANES, 150.0)
    text = measurement_form("lanes.toml", cuts, Allowances())
    path = tmp_path / "form.toml"
    path.write_text(text)
    with pytest.raises(InputError, match="left_mm"):
        calibrate(path)
    d = np.full(8, 0.6)
    use = strand_use(LANES, cuts.rows, TRUTH, d).use_mm
    for cut in cuts.cuts:
        assert cut.fold_mm is not None
        fold = float(f"{cut.fold_mm:g}")  # folded where the form says, to six digits
        parts = (fold, cut.length_mm - fold)
        left = [p - 60.0 - float(use[s]) for p, s in zip(parts, cut.strands, strict=True)]
        assert min(left) > 0.0
        text = text.replace("left_mm = []", f"left_mm = {left}", 1)
    length = cuts.rows * TRUTH.row_pitch_mm(d)
    text = text.replace("finished_length_mm = 0", f"finished_length_mm = {length}")
    text = text.replace("# width_mm = 0", f"width_mm = {8 * TRUTH.strand_pitch_mm(d)}")
    path.write_text(text)
    found = calibrate(path)
    assert found.loop_scale.value == pytest.approx(TRUTH.loop_scale, rel=1e-6)
    assert found.bend.value == pytest.approx(TRUTH.bend, abs=1e-5)
    assert found.row_gauge.value == pytest.approx(TRUTH.row_gauge, rel=1e-9)


def test_two_cuts_are_too_few(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="at least 4 measured strands or threads, found 3"):
        calibrate(write(tmp_path))


def test_the_calibration_file_comes_back_and_serves_a_stash(tmp_path: Path) -> None:
    found = fit([band(np.random.default_rng(1))])
    write_calibration(found, tmp_path / "hand.toml")
    again = read_calibration(tmp_path / "hand.toml")
    assert again == found
    assert again.model == found.model
    assert format_calibration(again) == format_calibration(found)
    stash = tmp_path / "stash.toml"
    stash.write_text(
        'calibration = "hand.toml"\n[[threads]]\nname = "a"\ncolour = "#112233"\ntex = 250\n'
        "pieces_m = [8]\n"
    )
    assert read_stash(stash).model == found.model
    (tmp_path / "hand.toml").write_text(format_calibration(found).replace("bend =", "bent ="))
    with pytest.raises(InputError, match=r"hand\.toml: bent: unknown key"):
        read_stash(stash)


def test_the_text_names_every_constant() -> None:
    text = calibration_text(fit([band(np.random.default_rng(1))]))
    for word in ("row gauge", "strand gauge", "loop scale", "bend", "scatter", "+-"):
        assert word in text
    assert "6 degrees of freedom" in text


def test_the_form_has_the_thickness_that_the_cuts_were_reckoned_with() -> None:
    cuts = cut_list(LANES, 150.0)
    alike = measurement_form("p.toml", cuts, Allowances(), dict.fromkeys(LANES.palette, 0.45))
    assert "diameter_mm = 0.45 " in alike
    unlike = dict(zip(LANES.palette, (0.5, 1.25, 0.7, 0.9), strict=False))
    found = tomllib.loads(measurement_form("p.toml", cuts, Allowances(), unlike))
    assert found["diameter_mm"] == unlike


@pytest.mark.parametrize(("wrong", "cause"), [(0.5, "gauge"), (2.4, "gauge")])
def test_a_thickness_that_is_wrong_is_asked_back(wrong: float, cause: str) -> None:
    """Thread of half the stated thickness, or of more than twice: no hand pulls like that."""
    true = band(None)
    stated = replace(true, diameters_mm=true.diameters_mm / wrong)
    with pytest.raises(InputError, match=rf"hands can make.*{cause}.*thickness"):
        fit([stated])


def test_loops_of_twice_the_size_are_refused() -> None:
    with pytest.raises(InputError, match=r"loop scale comes out as 2\.00.*really that thick"):
        fit([band(None, truth=replace(TRUTH, loop_scale=2.0))])


def test_strands_that_happen_to_agree_do_not_talk_the_scatter_away() -> None:
    """Eight strands without any scatter leave half of the stated one; hundreds leave a third."""
    few = fit([band(None)])
    assert few.scatter.value == pytest.approx(0.0, abs=1e-9)
    stated = ThreadModel().scatter
    assert few.model.scatter > stated / 2
    many = replace(few, freedom=400, observations=402)
    assert 0.01 < many.model.scatter < few.model.scatter
    cuts = cut_list(LANES, 150.0, model=few.model)
    assert min(m / n for c in cuts.cuts for m, n in zip(c.margin_mm, c.need_mm, strict=True)) > 0.05


def test_one_band_is_not_counted_twice(tmp_path: Path) -> None:
    text = EXAMPLE.read_text(encoding="utf-8")
    swatch = EXAMPLE.with_name("swatch.toml").read_text(encoding="utf-8")
    (tmp_path / "swatch.toml").write_text(swatch, encoding="utf-8")
    for name in ("one.toml", "two.toml"):
        (tmp_path / name).write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=r"every band once.*one\.toml"):
        calibrate([tmp_path / "one.toml", tmp_path / "two.toml"])


def test_a_copy_under_another_title_is_the_same_band(tmp_path: Path) -> None:
    text = EXAMPLE.read_text(encoding="utf-8")
    swatch = EXAMPLE.with_name("swatch.toml").read_text(encoding="utf-8")
    for n in range(2):
        copy = re.sub(r"(?m)^title = .*$", f'title = "Copy {n}"', swatch)
        (tmp_path / f"swatch{n}.toml").write_text(copy, encoding="utf-8")
        told = text.replace("swatch.toml", f"swatch{n}.toml") + f"\n# copy {n}\n"
        (tmp_path / f"band{n}.toml").write_text(told, encoding="utf-8")
    with pytest.raises(InputError, match=r"every band once.*band0\.toml"):
        calibrate([tmp_path / "band0.toml", tmp_path / "band1.toml"])
    with pytest.raises(InputError, match="every band once"):
        calibrate([tmp_path / "band0.toml"] * 10)
