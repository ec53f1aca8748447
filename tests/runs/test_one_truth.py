"""One truth: a design of a run says the same at every door.

Over briefs with unusual settings the cut list of the gallery, of ``cut``, of the worksheet, of the
page and of ``stash use`` are one; what is asked for instead is said.
"""

from __future__ import annotations

import csv
import io
import json
import re
import shutil
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

import motifsearch as ms
from motifsearch.cli import main
from motifsearch.pattern.files import format_pattern
from motifsearch.runs.booking import use
from motifsearch.runs.settings import Asked
from motifsearch.search import nearby

CONFIGS = Path(__file__).parents[2] / "configs"
STASH = (CONFIGS / "stash-workshop.toml").read_text(encoding="utf-8")


def command(*args: object, code: int = 0):
    result = CliRunner().invoke(main, [str(a) for a in args])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    assert result.exit_code == code, result.output
    return result


def random_brief(seed: int) -> str:
    rng = np.random.default_rng(seed)
    length = int(rng.integers(60, 240))
    where = f"length_mm = {length}" if rng.random() < 0.5 else f"wrist_mm = {length + 20}"
    return f"""
strands = {int(rng.choice([4, 6, 8, 10]))}
{where}
stash = "stash.toml"
folded = {str(rng.random() < 0.6).lower()}
pairing = "{rng.choice(["total", "few_lengths", "fit"])}"
start_allowance_mm = {int(rng.integers(0, 200))}
finish_allowance_mm = {int(rng.integers(0, 300))}
risk = {rng.choice([0.001, 0.01, 0.05, 0.3])}
first_notch = {int(rng.integers(1, 12))}
[limits]
on_hand = false
[search]
seed = {seed}
generations = 6
population = 40
periods = [4, 6]
[gallery]
size = 2
"""


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    folder = tmp_path_factory.mktemp("truth")
    thick = STASH.replace("tex = 250", "diameter_mm = 0.75", 1)
    (folder / "stash.toml").write_text(thick, encoding="utf-8")
    return folder


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(1, 9))
def test_the_cut_lists_of_all_doors_are_one(place, seed, tmp_path):
    (place / "brief.toml").write_text(random_brief(seed), encoding="utf-8")
    run = tmp_path / "run"
    command("search", place / "brief.toml", "--out", run, "--workers", 1)
    page = (run / "gallery.html").read_text(encoding="utf-8")
    data = json.loads(
        re.search(r'<script type="application/json"[^>]*>(.*?)</script>', page, re.S)[1]
    )
    for n, own in enumerate(ms.open_run(run)):
        pattern = run / own.folder / "pattern.toml"
        written = (pattern.parent / "cut.csv").read_text(encoding="utf-8")
        cut = command("cut", pattern, "--csv", code=0 if own.plan.feasible else 2)
        assert cut.stdout == written
        lengths = [float(row["cut_mm"]) for row in csv.DictReader(io.StringIO(written))]
        assert lengths == [one.length_mm for one in own.cuts.cuts]
        shown = next(d for d in data["designs"] if d["folder"] == own.folder)
        assert [one["length"] for one in shown["cuts"]] == lengths
        assert shown["lengthMm"] == pytest.approx(own.cuts.length_mm)
        sheet = command("worksheet", pattern).stdout
        for one in own.cuts.cuts:
            assert re.search(rf"\b{one.length_mm / 10:g} cm", sheet), one
        scores = json.loads(command("score", pattern, "--json").stdout)
        assert scores == json.loads((pattern.parent / "scores.json").read_text(encoding="utf-8"))
        if own.plan.feasible:
            stash = tmp_path / f"stash-{n}.toml"
            shutil.copy(place / "stash.toml", stash)
            used = use(pattern, stash, dry_run=True)
            assert used.band.cuts == own.cuts
            assert used.plan == own.plan


def test_what_is_asked_for_instead_is_said(place, tmp_path):
    (place / "brief.toml").write_text(random_brief(3), encoding="utf-8")
    run = tmp_path / "run"
    command("search", place / "brief.toml", "--out", run, "--workers", 1)
    pattern = run / "candidates" / "001" / "pattern.toml"
    plain = command("cut", pattern, "--csv")
    assert f"settings of {run.resolve()}" in plain.stderr
    assert "asked for instead" not in plain.stderr
    other = command("cut", pattern, "--csv", "--length", 77, "--risk", 0.2)
    assert "asked for instead: length 77 mm, risk 0.2" in other.stderr
    assert other.stdout != plain.stdout


@pytest.mark.slow
def test_kits_show_and_vary_take_a_run_at_its_word(place, tmp_path):
    brief = random_brief(4).replace("strands = ", "title = 'x'\nstrands = ")
    (place / "brief.toml").write_text(brief, encoding="utf-8")
    run = tmp_path / "run"
    command("search", place / "brief.toml", "--out", run, "--workers", 1)
    own = ms.open_run(run)[0]
    pattern = run / own.folder / "pattern.toml"
    found = ms.kits([pattern])
    assert found.bands[0].cuts == own.cuts
    shown = command("show", run).stdout
    assert own.title in shown
    varied = ms.vary(pattern, size=2)
    assert varied[1].cuts.length_mm == own.cuts.length_mm
    assert varied[1].settings.allowances == own.settings.allowances


@pytest.mark.slow
def test_a_wanted_motif_keeps_its_settings_too(tmp_path):
    out = tmp_path / "t"
    command(
        "target", CONFIGS / "targets" / "hearts.txt", "--length", 110, "--designs", 2,
        "--risk", 0.01, "--start-allowance-mm", 100, "--out", out,
    )  # fmt: skip
    assert (out / "brief.toml").is_file()
    own = ms.open_run(out)[0]
    assert own.settings.length_mm == 110
    assert own.settings.allowances.start_mm == 100
    written = (out / own.folder / "cut.csv").read_text(encoding="utf-8")
    assert command("cut", out / own.folder / "pattern.toml", "--csv").stdout == written


@pytest.mark.slow
def test_a_gallery_of_several_runs_keeps_the_settings_of_each(place, tmp_path):
    for seed, length in ((5, 100), (6, 300)):
        text = re.sub(r"(length_mm|wrist_mm) = \d+", f"length_mm = {length}", random_brief(seed))
        (place / "brief.toml").write_text(text, encoding="utf-8")
        command("search", place / "brief.toml", "--out", tmp_path / f"r{seed}", "--workers", 1)
    both = tmp_path / "both"
    command("gallery", tmp_path / "r5", tmp_path / "r6", "--out", both)
    lengths = set()
    for one in ms.open_run(both):
        pattern = both / one.folder / "pattern.toml"
        same = [
            other
            for run in ("r5", "r6")
            for other in ms.open_run(tmp_path / run)
            if format_pattern(other.pattern) == pattern.read_text(encoding="utf-8")
        ]
        assert same
        assert one.cuts in [other.cuts for other in same]
        lengths.add(one.cuts.length_mm)
    assert lengths == {100, 300}


def test_vary_says_when_it_finds_fewer(tmp_path, monkeypatch):
    monkeypatch.setattr(nearby, "ROUNDS", 2)
    run = ms.vary(
        CONFIGS / "patterns" / "chevron.toml",
        asked=Asked(stash=CONFIGS / "stash-workshop.toml"),
        keep_symmetry=True, keep_colours=True, size=190,
    )  # fmt: skip
    assert len(run) < 190
    assert f"{len(run) - 1} variations instead of 190: no more were found that differ enough" in (
        run.said
    )


@pytest.mark.slow
def test_colours_that_are_not_on_hand_become_the_nearest(tmp_path):
    text = (CONFIGS / "patterns" / "chevron.toml").read_text(encoding="utf-8")
    other = text.replace("plum", "violet")
    (tmp_path / "p.toml").write_text(other, encoding="utf-8")
    stash = CONFIGS / "stash-workshop.toml"
    done = command(
        "vary", tmp_path / "p.toml", "--stash", stash, "--size", 2, "--out", tmp_path / "v"
    )
    assert "not on hand: plum for violet" in done.stderr
    brief = CONFIGS / "only-my-threads.toml"
    run = ms.search(
        brief, seeds=[tmp_path / "p.toml"], overrides={"strands": 8, "search.generations": 3}
    )
    assert any("not on hand" in line for line in run.said)


@pytest.mark.slow
def test_a_favourite_comes_first_and_keeps_its_number(place, tmp_path):
    (place / "brief.toml").write_text(random_brief(7), encoding="utf-8")
    run = tmp_path / "run"
    command("search", place / "brief.toml", "--out", run, "--workers", 1)
    before = {p.name: (p / "pattern.toml").read_bytes() for p in (run / "candidates").iterdir()}
    command("gallery", run, "--favourite", "2")
    after = {p.name: (p / "pattern.toml").read_bytes() for p in (run / "candidates").iterdir()}
    assert before == after
    assert ms.open_run(run)[0].rank == 2
