"""What once gave out: long thin bands, thin thread, endless keys, pipes, stopped galleries."""

from __future__ import annotations

import io
import json
import os
import resource
import subprocess
import sys
from pathlib import Path

import pytest
from pypdf import PdfReader

import motifsearch as ms
from motifsearch.base.errors import InputError
from motifsearch.base.tomlfile import MOST_PARTS, read_toml
from motifsearch.runs import ending, gallery, searching
from motifsearch.runs.hooks import Hooks

CONFIGS = Path(__file__).parents[2] / "configs"
CHEVRON = CONFIGS / "patterns" / "chevron.toml"
#: A process that has not ended by then is stuck.
PATIENCE_S = 240
GIGABYTE = 1 << 30


def thin_stash(folder: Path, **measure: float) -> Path:
    key, value = next(iter(measure.items()))
    parts = [
        f'[[threads]]\nname = "{name}"\ncolour = "{colour}"\n{key} = {value}\nskein_m = 100\n'
        f"pieces_m = {[100] * 40}\n"
        for name, colour in (("teal", "#1c6b70"), ("sand", "#d8c39a"))
    ]
    path = folder / "stash.toml"
    path.write_text("\n".join(parts), encoding="utf-8")
    return path


def wide(folder: Path) -> Path:
    path = folder / "wide.toml"
    rows = [" ".join(["rr"] * 12), " ".join(["rl"] * 11)]
    order = ["teal", "sand"] * 12
    path.write_text(
        f'format = "motifsearch-pattern-1"\ntitle = "Wide"\nrows = {json.dumps(rows)}\n'
        f'colour_order = {json.dumps(order)}\n[colours]\nteal = "#1c6b70"\nsand = "#d8c39a"\n',
        encoding="utf-8",
    )
    return path


def run(folder: Path, *args: object, **more) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "motifsearch", *map(str, args)],
        cwd=folder, capture_output=True, text=True, timeout=PATIENCE_S, check=False, **more,
    )  # fmt: skip


def peak_of_children() -> int:
    """The largest memory of any process that has ended so far, in bytes (Linux counts in kB)."""
    return resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss * 1024


@pytest.mark.slow
@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="ru_maxrss in kB")
def test_the_thinnest_thread_and_the_longest_widest_band_stay_under_a_gigabyte(tmp_path):
    stash, pattern = thin_stash(tmp_path, diameter_mm=0.1), wide(tmp_path)
    asked = ("--length", 2000, "--stash", stash)
    for command in (["score", pattern, "--json"], ["cut", pattern],
                    ["worksheet", pattern, "--out", "sheet.pdf"]):  # fmt: skip
        done = run(tmp_path, *command, *asked)
        assert done.returncode == 0, done.stderr
    assert peak_of_children() < GIGABYTE
    pages = PdfReader(tmp_path / "sheet.pdf").pages
    assert "Tick every 10 rounds:" in " ".join(page.extract_text() for page in pages)


@pytest.mark.parametrize(("key", "value"), [("diameter_mm", 0.01), ("tex", 0.01)])
def test_thread_that_is_too_thin_is_refused_before_anything_starts(tmp_path, key, value):
    with pytest.raises(InputError, match=r"0\.1 to 20"):
        ms.read_stash(thin_stash(tmp_path, **{key: value}))


def test_a_design_that_cannot_be_printed_costs_no_other(tmp_path, monkeypatch):
    made = gallery._Drawn.sheet
    monkeypatch.setattr(
        gallery._Drawn, "sheet", lambda drawn: made(drawn) if drawn.one.rank != 2 else 1 / 0
    )  # fmt: skip
    out = ms.search(None, overrides={
        "stash": str(CONFIGS / "stash-workshop.toml"), "strands": 6, "length_mm": 80,
        "search.generations": 6, "search.population": 40, "search.periods": [4],
        "gallery.size": 3,
    }, out=tmp_path / "run")  # fmt: skip
    assert any("candidates/002/worksheet.pdf could not be made" in line for line in out.said)
    sheets = sorted(p.parent.name for p in (tmp_path / "run").glob("candidates/*/worksheet.pdf"))
    assert sheets == ["001", "003"]
    assert (tmp_path / "run" / "candidates" / "002" / "face.png").is_file()
    assert "002/worksheet.pdf could not be made" in (tmp_path / "run" / "gallery.html").read_text()


@pytest.mark.parametrize("epoch", ["1", "1700000000"])
def test_no_time_is_in_a_sheet_whatever_the_surroundings_say(tmp_path, monkeypatch, epoch):
    """SOURCE_DATE_EPOCH is a convention of reproducible-builds.org that reportlab follows."""
    monkeypatch.delenv("SOURCE_DATE_EPOCH", raising=False)
    plain, _ = ms.worksheet(CHEVRON, form="pdf")
    monkeypatch.setenv("SOURCE_DATE_EPOCH", epoch)
    other, _ = ms.worksheet(CHEVRON, form="pdf")
    assert other == plain
    info = PdfReader(io.BytesIO(plain)).metadata
    assert info is not None
    assert str(info["/CreationDate"]).startswith("D:20000101000000")


def test_a_design_to_start_from_that_fits_no_grid_length_is_refused(tmp_path):
    keys = {"stash": str(CONFIGS / "stash-workshop.toml"), "strands": 8, "length_mm": 80,
            "search.generations": 2, "search.population": 20}  # fmt: skip
    odd = ms.read_pattern(CHEVRON)
    from dataclasses import replace

    ten = replace(odd, knots=(*odd.knots, *odd.knots, ((2, 2, 2, 2)), ((2, 2, 2)), *odd.knots * 3))
    assert ten.rows == 12
    with pytest.raises(InputError, match=r"periods = \[12\], found '12 rows'"):
        ms.search(None, overrides={**keys, "search.periods": [4, 10]}, seeds=[ten])
    # Written out twice it is still the grid of two rows.
    double = replace(odd, knots=odd.knots * 7)
    assert len(ms.search(None, overrides={**keys, "search.periods": [4]}, seeds=[double])) >= 1


def test_an_endless_key_is_refused_before_it_is_read(tmp_path):
    path = tmp_path / "brief.toml"
    path.write_text(".".join(["a"] * 50_000) + " = 1\n", encoding="utf-8")
    with pytest.raises(InputError, match=f"at most {MOST_PARTS} parts"):
        read_toml(path, "a brief")
    path.write_text("[" + ".".join(['"a b"'] * 500) + "]\nx = 1\n", encoding="utf-8")
    with pytest.raises(InputError, match="parts"):
        read_toml(path, "a brief")
    path.write_text('title = "1.2.3"\n[a.b.c]\nx = 1.5\n', encoding="utf-8")
    assert read_toml(path, "a brief").text("title") == "1.2.3"


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes with a name")
@pytest.mark.parametrize("args", [
    ("target", "pipe", "--strands", "8"), ("search", "pipe"), ("score", "pipe"),
    ("stash", "show", "pipe"), ("calibrate", "pipe"),
])  # fmt: skip
def test_a_pipe_is_refused_not_waited_for(tmp_path, args):
    os.mkfifo(tmp_path / "pipe")
    done = run(tmp_path, *args)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert "pipe: expected" in done.stderr


@pytest.mark.slow
def test_a_large_gallery_that_is_stopped_writes_its_best(tmp_path, monkeypatch):
    """Stopped, few designs are written and the brief keeps its number; going on writes them all."""
    assert ending.MOST_WHEN_STOPPED == 24
    monkeypatch.setattr(ending, "MOST_WHEN_STOPPED", 3)
    told: list[str] = []
    keys = {
        "stash": str(CONFIGS / "stash-workshop.toml"), "strands": 6, "length_mm": 80,
        "search.generations": 12, "search.population": 80, "search.periods": [4, 6, 8],
        "search.rest_after": 0, "gallery.size": 6, "search.exchange_every": 2,
    }  # fmt: skip
    count = iter(range(100))
    hooks = Hooks(
        progress=lambda now: told.append(str(now.generation)), log=lambda text: None,
        stop=lambda: "interrupted" if next(count) > 1 else "",
    )  # fmt: skip
    first = ms.search(None, overrides=keys, out=tmp_path / "run", hooks=hooks)
    assert first.record.stopped_by == "interrupted"
    assert len(first) == 3
    again = searching.resume(tmp_path / "run")
    assert len(again) == 6
    assert len(list((tmp_path / "run" / "candidates").iterdir())) == len(again)


def test_one_band_measured_twice_is_one_band(tmp_path):
    form = CONFIGS / "calibration"
    files = sorted(form.glob("*.toml"))
    from motifsearch.thread.fit import calibrate

    link = tmp_path / "configs"
    link.symlink_to(CONFIGS)
    with pytest.raises(InputError, match="every band once"):
        calibrate([files[0], link / "calibration" / files[0].name])
    with pytest.raises(InputError, match="every band once"):
        calibrate([files[0]] * 10)
