"""The run folder: one owner, whole changes, and nothing of the maker's lost."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import motifsearch as ms
from motifsearch.base.errors import InputError
from motifsearch.runs.rebuilding import rebuild
from motifsearch.runs.searching import resume, search
from motifsearch.runs.store import STATE, owned

CONFIGS = Path(__file__).parents[2] / "configs"
SMALL = {
    "stash": str(CONFIGS / "stash-workshop.toml"), "strands": 6, "length_mm": 80,
    "search.generations": 6, "search.population": 40, "search.periods": [4, 6], "gallery.size": 3,
}  # fmt: skip


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("store") / "run"
    search(overrides=SMALL, out=folder)
    return folder


@pytest.fixture
def folder(made, tmp_path):
    copy = tmp_path / "run"
    shutil.copytree(made, copy)
    return copy


def files(folder: Path) -> dict[str, bytes]:
    return {
        p.relative_to(folder).as_posix(): p.read_bytes()
        for p in sorted(folder.rglob("*"))
        if p.is_file() and STATE not in p.parts
    }


def test_a_damaged_candidate_stays_in_its_place_and_is_named(folder):
    path = folder / "candidates" / "002" / "pattern.toml"
    hers = path.read_text(encoding="utf-8").replace("rows =", "rwos =")
    path.write_text(hers, encoding="utf-8")
    before = files(folder)
    run = rebuild([folder])
    assert any(line.startswith("002: ") and "rwos" in line for line in run.said)
    assert [one.rank for one in run] == [1, 3]
    assert path.read_text(encoding="utf-8") == hers
    after = files(folder)
    assert {n: d for n, d in after.items() if n.startswith("candidates/002/")} == {
        n: d for n, d in before.items() if n.startswith("candidates/002/")
    }


@pytest.mark.slow
def test_notes_of_hers_stay_with_their_design(folder):
    """Rebuilt, gone on with and written over: the note, the design and the number stay."""
    note = folder / "candidates" / "003" / "for my sister.txt"
    note.write_text("with a bell", encoding="utf-8")
    pattern = (folder / "candidates" / "003" / "pattern.toml").read_bytes()
    rebuild([folder])
    resume(folder, overrides={"search.generations": 12, "gallery.size": 4})
    search(overrides={**SMALL, "length_mm": 200}, out=folder, overwrite=True)
    assert note.read_text(encoding="utf-8") == "with a bell"
    assert (folder / "candidates" / "003" / "pattern.toml").read_bytes() == pattern
    kept = {one.rank: one for one in ms.open_run(folder)}
    assert kept[3].settings.length_mm == 80  # as its own run made it
    assert kept[1].settings.length_mm == 200
    assert "yours" in " ".join(kept[3].notes)


def test_what_was_changed_by_hand_is_kept(folder):
    cut = folder / "candidates" / "001" / "cut.csv"
    cut.write_text("as I cut it", encoding="utf-8")
    page = folder / "gallery.html"
    page.write_text("mine", encoding="utf-8")
    run = rebuild([folder])
    assert cut.read_text(encoding="utf-8") == "as I cut it"
    assert (folder / "gallery.edited.html").read_text(encoding="utf-8") == "mine"
    assert page.read_text(encoding="utf-8").startswith("<!DOCTYPE")
    assert any("gallery.edited.html" in line for line in run.said)


def test_a_colour_renamed_in_the_stash_costs_no_design(folder):
    stash = folder / "stash.toml"
    before = files(folder)
    text = stash.read_text(encoding="utf-8")
    first = ms.open_run(folder)[0].pattern.palette[0]
    stash.write_text(text.replace(f'"{first}"', '"another name"'), encoding="utf-8")
    brief = folder / "brief.toml"
    brief.write_text(
        brief.read_text(encoding="utf-8").replace(f'"{first}"', '"another name"'), encoding="utf-8"
    )
    with contextlib.suppress(InputError):  # where every design has that colour
        rebuild([folder])
    after = files(folder)
    patterns = [n for n in before if n.endswith("pattern.toml")]
    assert len(patterns) == 3
    assert all(after[n] == before[n] for n in patterns)


def test_a_second_owner_is_told_who_is_at_work(folder):
    with owned(folder, "a search"):
        who = rf"at work in this folder \(a search, process {os.getpid()}"
        with pytest.raises(InputError, match=who):
            rebuild([folder])
        before = files(folder)
    assert files(folder) == before
    rebuild([folder])  # and afterwards it is free


def test_an_owner_that_was_killed_blocks_nobody(folder):
    code = (
        "import os, sys; from pathlib import Path; from motifsearch.runs.store import owned\n"
        "with owned(Path(sys.argv[1]), 'a search') as place:\n"
        "    root = place.stage(); (root / 'half').write_text('x'); os.kill(os.getpid(), 9)\n"
    )
    subprocess.run([sys.executable, "-c", code, str(folder)], check=False, timeout=60)
    assert list((folder / STATE).glob("next-*"))
    before = files(folder)
    with owned(folder, "another"):
        assert not list((folder / STATE).glob("next-*"))
    assert files(folder) == before


@pytest.mark.parametrize("moment", range(14))
def test_a_change_that_was_broken_off_is_undone_or_finished(folder, moment):
    """Killed at the n-th rename of a search that writes over: old, or new, and nothing between."""
    old = files(folder)
    code = (
        "import os, sys\n"
        "from motifsearch.runs.searching import search\n"
        "real, left = os.replace, [int(sys.argv[2])]\n"
        "def replace(a, b):\n"
        "    if 'next-' in str(a) or 'commit' in str(b):\n"
        "        if left[0] == 0: os.kill(os.getpid(), 9)\n"
        "        left[0] -= 1\n"
        "    return real(a, b)\n"
        "os.replace = replace\n"
        f"search(overrides={ {**SMALL, 'length_mm': 200}!r}, out=sys.argv[1], overwrite=True)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(folder), str(moment)], check=False, timeout=120,
        capture_output=True,
    )  # fmt: skip
    assert done.returncode in (0, -9), done.stderr
    run = ms.open_run(folder)
    lengths = {one.settings.length_mm for one in run}
    assert lengths in ({80.0}, {200.0})
    brief = (folder / "brief.toml").read_text(encoding="utf-8")
    assert f"length_mm = {lengths.pop():.1f}" in brief
    if "80" in str({one.cuts.length_mm for one in run}):
        now = files(folder)
        assert all(now[name] == data for name, data in old.items())
    record = json.loads((folder / "run.json").read_text(encoding="utf-8"))
    assert [line["title"] for line in record["ranking"]] == [one.title for one in run]


def test_inputs_are_never_outputs(tmp_path):
    shutil.copy(CONFIGS / "stash-workshop.toml", tmp_path / "stash.toml")
    text = 'strands = 6\nlength_mm = 80\nstash = "stash.toml" # mine\n[search]\ngenerations = 3\n'
    (tmp_path / "brief.toml").write_text(text, encoding="utf-8")
    before = files(tmp_path)
    with pytest.raises(InputError, match="would be written over"):
        search(tmp_path / "brief.toml", out=tmp_path, overwrite=True)
    assert files(tmp_path) == before


def test_a_search_that_is_refused_leaves_a_finished_run_alone(folder):
    before = files(folder)
    from motifsearch.base.errors import MotifError

    poor = {**SMALL, "limits.contrast_min": 199, "search.generations": 40}
    with pytest.raises(MotifError):
        search(overrides=poor, out=folder, overwrite=True)
    assert files(folder) == before


def test_one_candidate_that_cannot_be_printed_costs_no_other(tmp_path, monkeypatch):
    from motifsearch.runs import gallery

    real = gallery._Drawn.sheet

    def sheet(drawn):
        if drawn.one.rank == 2:
            raise ValueError("no room")
        return real(drawn)

    monkeypatch.setattr(gallery._Drawn, "sheet", sheet)
    run = search(overrides=SMALL, out=tmp_path / "run")
    assert any("002/worksheet.pdf could not be made" in line for line in run.said)
    assert (tmp_path / "run" / "candidates" / "003" / "worksheet.pdf").is_file()
    assert (tmp_path / "run" / "gallery.html").is_file()


def test_what_she_saves_while_a_change_is_on_its_way_is_kept(folder, monkeypatch):
    """Edited between the commit and the renames, or before the next owner finishes them."""
    with owned(folder, "a test") as place:
        root = place.stage()
        (root / "ranking.csv").write_text("new\n")
        finish = place._finish

        def edited_meanwhile(log):
            (folder / "ranking.csv").write_text("hers\n")
            finish(log)

        monkeypatch.setattr(place, "_finish", edited_meanwhile)
        place.commit(root)
    assert (folder / "ranking.csv").read_text() == "new\n"
    assert (folder / "ranking.edited.csv").read_text() == "hers\n"
