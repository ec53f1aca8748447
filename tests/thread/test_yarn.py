"""Thread diameters against handbook tables, and lengths as they are shown."""

from __future__ import annotations

import pytest

from motifsearch.base.units import cut_text, fold_text, piece_text, total_text, width_text
from motifsearch.thread.yarn import (
    FIBRE_DENSITY,
    PACKING,
    diameter_from_wraps,
    diameter_mm,
    tex_from_cotton_count,
    tex_from_diameter,
    wraps_per_cm,
)

#: Cotton count, tex (ASTM D2260: 590.541 / Ne), diameter in mm by Peirce's 1 / (28 sqrt Ne) inch,
#: and by his specific volume of 1.1 cm3/g (J. Text. Inst. 28, 1937).
HANDBOOK = [
    (1, 590.54125, 0.90714, 0.90944),
    (4, 147.63531, 0.45357, 0.45472),
    (8, 73.81766, 0.32072, 0.32154),
    (10, 59.05412, 0.28686, 0.28759),
    (12.5, 47.2433, 0.25658, 0.25723),
    (16, 36.90883, 0.22679, 0.22736),
    (20, 29.52706, 0.20284, 0.20336),
    (30, 19.68471, 0.16562, 0.16604),
    (40, 14.76353, 0.14343, 0.1438),
    (60, 9.84235, 0.11711, 0.11741),
    (100, 5.90541, 0.09071, 0.09094),
]

#: Cotton count and touching threads per inch: J. T. Taylor, Cotton Weaving and Designing,
#: 6th ed., table of diameters of yarns.
TOUCHING = [(15, 106.5), (26, 140.5), (32, 156), (60, 213), (78, 243), (200, 390)]


@pytest.mark.parametrize(("ne", "tex", "by_rule", "by_volume"), HANDBOOK)
def test_diameters_of_the_handbooks(
    ne: float, tex: float, by_rule: float, by_volume: float
) -> None:
    assert tex_from_cotton_count(ne) == pytest.approx(tex, rel=1e-6)
    assert diameter_mm(tex) == pytest.approx(by_volume, abs=6e-6)
    assert diameter_mm(tex) == pytest.approx(by_rule, rel=0.003)
    assert tex_from_diameter(diameter_mm(tex)) == pytest.approx(tex, rel=1e-12)


@pytest.mark.parametrize(("ne", "per_inch"), TOUCHING)
def test_touching_threads_per_inch(ne: float, per_inch: float) -> None:
    """An older table, of looser reckoning: within 3 %."""
    assert wraps_per_cm(diameter_mm(tex_from_cotton_count(ne))) == pytest.approx(
        per_inch / 2.54, rel=0.03
    )


def test_the_packing_fraction_is_peirce_over_morton_and_hearle() -> None:
    assert pytest.approx(0.598, abs=5e-4) == PACKING
    assert pytest.approx(1.1) == 1.0 / (PACKING * FIBRE_DENSITY)


def test_four_times_the_density_is_twice_the_diameter() -> None:
    assert diameter_mm(400.0) == pytest.approx(2.0 * diameter_mm(100.0))
    assert diameter_from_wraps(wraps_per_cm(0.6)) == pytest.approx(0.6)


def test_what_is_cut_is_rounded_up_and_what_is_left_down() -> None:
    assert cut_text(2001.0) == "200.1 cm"
    assert cut_text(25.4 * 10 + 0.1, "imperial") == "10 1/4 in"
    assert cut_text(25.4 * 10, "imperial") == "10 in"
    assert cut_text(3.0, "imperial") == "1/4 in"
    assert cut_text(0.0, "imperial") == "0 in"
    assert piece_text(1999.9) == "1.99 m"
    assert piece_text(914.4 * 2 - 0.1, "imperial") == "1.99 yd"
    assert total_text(1000.1) == "1.1 m"
    assert fold_text(1001.0) == "100 cm"
    assert width_text(25.4, "imperial") == "1.00 in"
