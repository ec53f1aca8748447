"""The maker's own pace: from the board page's measurement to the time that a worksheet tells."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from motifsearch.pattern.knots import knots_in_grid
from motifsearch.runs.one import candidate
from motifsearch.runs.settings import Asked
from motifsearch.thread.calibration import read_calibration, write_calibration
from motifsearch.thread.fit import calibrate
from motifsearch.thread.measurement import read_measurement
from motifsearch.worksheet.content import make_worksheet

CONFIGS = Path(__file__).parents[2] / "configs"


def test_the_pace_goes_from_the_measurement_into_the_time_of_a_sheet(tmp_path):
    for name in ("swatch.toml", "measurement.toml"):
        shutil.copy(CONFIGS / "calibration" / name, tmp_path / name)
    form = tmp_path / "measurement.toml"
    form.write_text(form.read_text().replace("tex = 250", "tex = 250\nminutes_per_knot = 0.5"))
    measured = read_measurement(form)
    assert measured.minutes_per_knot == 0.5
    fitted = calibrate([form])
    write_calibration(fitted, tmp_path / "hand.toml")
    assert read_calibration(tmp_path / "hand.toml") == fitted
    stash = tmp_path / "stash.toml"
    shutil.copy(CONFIGS / "stash-workshop.toml", stash)
    stash.write_text('calibration = "hand.toml"\n' + stash.read_text())
    one, _ = candidate(CONFIGS / "patterns" / "diamond.toml", Asked(stash=stash))
    sheet = make_worksheet(one, length_mm=one.settings.length_mm)
    assert sheet.minutes == pytest.approx(0.5 * knots_in_grid(8, sheet.rows))
