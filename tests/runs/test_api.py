"""The public names, and the README's example as it stands there."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

import motifsearch as ms

ROOT = Path(__file__).parents[2]


def test_the_names_are_there_and_are_loaded_late():
    named = ["read_stash", "read_brief", "read_pattern", "search", "vary", "target", "score", "cut",
             "kits", "draw", "worksheet", "open_run"]  # fmt: skip
    assert set(named) <= set(ms.__all__)
    assert all(callable(getattr(ms, name)) for name in ms.__all__)
    code = "import sys, motifsearch; print('numpy' in sys.modules, 'click' in sys.modules)"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    assert done.stdout.split() == ["False", "False"]


def test_a_function_stays_a_function_when_its_room_is_imported():

    assert all(callable(f) for f in (ms.search, ms.target, ms.draw, ms.worksheet))
    from motifsearch.search.brief import Brief

    assert Brief.__module__.startswith("motifsearch.search")


@pytest.mark.slow
def test_the_readme_example_runs(tmp_path):
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    example = re.search(r"```python\n(.*?)```", text, re.S)[1]
    assert 8 <= len(example.strip().splitlines()) <= 13
    code = example.replace(
        "configs/only-my-threads.toml", str(ROOT / "configs/only-my-threads.toml")
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, cwd=tmp_path, timeout=300,
        check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "sheet.pdf").read_bytes().startswith(b"%PDF")
    assert (tmp_path / "results" / "from-python" / "gallery.html").is_file()


@pytest.mark.slow
def test_a_run_shows_itself(tmp_path):
    run = ms.search(
        ROOT / "configs" / "only-my-threads.toml",
        overrides={"search.generations": 4, "gallery.size": 3, "search.population": 60},
    )
    assert run._repr_png_().startswith(b"\x89PNG")
    assert run[0]._repr_png_().startswith(b"\x89PNG")
    assert run._repr_html_().count("<figure>") == len(run)
    assert len(list(run)) == len(run) == 3
    page = run.write(tmp_path / "r")
    again = ms.open_run(page.parent)
    assert [c.title for c in again] == [c.title for c in run]
    assert [c.scores for c in again] == [c.scores for c in run]
    assert [c.cuts for c in again] == [c.cuts for c in run]
    assert [c.plan for c in again] == [c.plan for c in run]


@pytest.mark.slow
def test_python_and_the_command_find_the_same(tmp_path):
    """Seeding with a painted motif is not the command's alone."""
    from click.testing import CliRunner

    from motifsearch.cli import main

    brief = ROOT / "configs" / "wanted-hearts.toml"
    args = ["search", str(brief), "--generations", "10", "--size", "3", "--workers", "1"]
    done = CliRunner().invoke(main, [*args, "--out", str(tmp_path / "c")])
    assert done.exit_code == 0, done.output
    run = ms.search(brief, overrides={"search.generations": 10, "gallery.size": 3})
    other = ms.open_run(tmp_path / "c")
    assert [c.pattern for c in run] == [c.pattern for c in other]
    assert max(c.wishes["likeness"] for c in run) == 1.0
