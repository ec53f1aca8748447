"""Variations of a design with locks, and designs for a painted motif, from the command."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from motifsearch.base.errors import InputError
from motifsearch.cli import main
from motifsearch.pattern.canonical_form import canonical_key
from motifsearch.pattern.files import read_pattern
from motifsearch.runs.kept import standing
from motifsearch.runs.varying import parse_rows
from motifsearch.simulate.scores import score_pattern

CONFIGS = Path(__file__).parents[2] / "configs"
STASH = CONFIGS / "stash-workshop.toml"


def run(*args):
    return CliRunner().invoke(main, [str(a) for a in args])


@pytest.mark.slow
def test_variations_keep_what_is_locked(tmp_path):
    path = CONFIGS / "patterns" / "diamond.toml"
    done = run(
        "vary", path, "--stash", STASH, "--keep-symmetry", "--keep-colours", "--keep-rows", "1-2",
        "--size", 5, "--out", tmp_path / "v",
    )  # fmt: skip
    assert done.exit_code == 0, done.output
    found, skipped = standing(tmp_path / "v")
    assert not skipped
    own = read_pattern(path)
    assert len(found) >= 3
    assert canonical_key(found[0].pattern) == canonical_key(own)
    assert len({canonical_key(one.pattern) for one in found}) == len(found)
    exact = {
        kind
        for kind, share in score_pattern(own)["symmetry"].items()
        if kind != "frieze_group" and share == 1.0
    }
    assert exact
    for pattern in (one.pattern for one in found[1:]):
        symmetry = score_pattern(pattern)["symmetry"]
        assert all(symmetry[kind] == 1.0 for kind in exact)
        assert pattern.colour_order == found[0].pattern.colour_order
        assert own.knots[0] in pattern.knots
        assert own.knots[1] in pattern.knots


def test_nothing_is_left_to_vary(tmp_path):
    path = CONFIGS / "patterns" / "diamond.toml"
    rows = read_pattern(path).rows
    done = run(
        "vary", path, "--stash", STASH, "--keep-colours", "--keep-rows", f"1-{rows}",
        "--out", tmp_path / "v",
    )  # fmt: skip
    assert done.exit_code == 2
    assert "no other design keeps all that is locked" in done.stderr
    assert not (tmp_path / "v").exists()


@pytest.mark.parametrize("text", ["0", "7", "2-1", "a", "1-99", "1--2"])
def test_rows_that_are_none(text):
    with pytest.raises(InputError, match="expected rows such as"):
        parse_rows(text, 6)


def test_hearts_are_knotted_exactly(tmp_path):
    target = CONFIGS / "targets" / "hearts.txt"
    done = run("target", target, "--designs", 2, "--out", tmp_path / "t")
    assert done.exit_code == 0, done.output
    assert "can be knotted exactly" in done.output
    info = json.loads((tmp_path / "t" / "run.json").read_text())
    assert info["target"]["wrong_cells"] == 0
    # The face of the first design, read without our solver: the heart's cells are brick.
    pattern = standing(tmp_path / "t")[0][0].pattern
    from motifsearch.pattern.walk import face

    names = np.array(pattern.palette)
    rows = [list(names[row]) for row in face(pattern, 14)]
    wanted = [line.split() for line in target.read_text().split("rows:\n")[1].splitlines()]
    letters = {"o": "cream", "h": "brick"}
    assert rows == [[letters[c] for c in line] for line in wanted]
    assert (tmp_path / "t" / "candidates" / "001" / "target.png").stat().st_size > 500


def test_a_blank_template_is_painted_and_solved(tmp_path):
    done = run("draw", "--blank", "--strands", 7, "--rows", 4)
    assert done.exit_code == 0
    path = tmp_path / "blank.txt"
    path.write_text(done.output)
    bare = run("target", path, "--out", tmp_path / "t")
    assert bare.exit_code == 2
    assert "expected at least one painted cell" in bare.stderr
    head, rows = done.output.split("rows:\n")
    letter = next(line[0] for line in head.splitlines() if line[1:4] == " = ")
    path.write_text(f"{head}rows:\n{rows.replace('.', letter, 1)}")
    solved = run("target", path, "--designs", 1, "--out", tmp_path / "t")
    assert solved.exit_code == 0, solved.output
    assert "can be knotted exactly (painted cells: 1)" in solved.output


@pytest.mark.slow
def test_a_brief_with_a_target_finds_it(tmp_path):
    brief = tmp_path / "b.toml"
    brief.write_text(
        f'strands = 12\nlength_mm = 120\nstash = "{STASH.as_posix()}"\n'
        f'target = "{(CONFIGS / "targets" / "hearts.txt").as_posix()}"\n'
        'colours = ["cream", "brick"]\n[search]\npopulation = 40\ngenerations = 10\n'
        "[gallery]\nsize = 2\n"
    )
    done = run("search", brief, "--out", tmp_path / "r", "--workers", 1)
    assert done.exit_code == 0, done.output
    info = json.loads((tmp_path / "r" / "run.json").read_text())
    assert info["ranking"][0]["wishes"]["likeness"] == 1.0
    assert (tmp_path / "r" / "candidates" / "001" / "target.png").is_file()
    assert (tmp_path / "r" / "target.txt").is_file()


def test_a_target_of_another_width_is_refused(tmp_path):
    target = (CONFIGS / "targets" / "hearts.txt").as_posix()
    brief = tmp_path / "b.toml"
    brief.write_text(
        f'strands = 10\nlength_mm = 120\nstash = "{STASH.as_posix()}"\ntarget = "{target}"\n'
    )
    done = run("search", brief, "--out", tmp_path / "r")
    assert done.exit_code == 2
    assert "12" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_clock_that_jumps_changes_nothing(tmp_path, monkeypatch):
    """Files hold no time of day, and limits run on the monotonic clock."""
    import itertools
    import time

    jumps = itertools.cycle([0.0, 4e9, -5.0, 1e6])
    brief = tmp_path / "b.toml"
    brief.write_text(
        f'strands = 6\nlength_mm = 60\nstash = "{STASH.as_posix()}"\n'
        "[search]\npopulation = 20\ngenerations = 10\nperiods = [4]\n[gallery]\nsize = 2\n"
    )
    args = ("search", brief, "--workers", 1, "--seconds", 500)
    assert run(*args, "--out", tmp_path / "plain").exit_code == 0
    monkeypatch.setattr(time, "time", lambda: next(jumps))
    assert run(*args, "--out", tmp_path / "jumped").exit_code == 0
    monkeypatch.undo()
    names = [p.relative_to(tmp_path / "plain") for p in (tmp_path / "plain").rglob("*")]
    files = [n for n in names if (tmp_path / "plain" / n).is_file()]
    assert len(files) > 10
    for name in files:
        assert (tmp_path / "plain" / name).read_bytes() == (tmp_path / "jumped" / name).read_bytes()
