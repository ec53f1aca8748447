"""Readers and writers under attack: edited runs, damaged records, terminals, spreadsheets."""

from __future__ import annotations

import csv
import io
import json
import os
import re
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

import motifsearch as ms
from motifsearch.base.errors import InfeasibleError, InputError, shortened
from motifsearch.base.text import for_terminal
from motifsearch.cli import main
from motifsearch.runs.home import UNFINISHED, Home
from motifsearch.runs.record import MOST_SAID, Record
from motifsearch.runs.searching import resume
from motifsearch.runs.store import LOST_CHANGE, LOST_LIST, owned
from motifsearch.runs.tables import cell, cut_csv
from motifsearch.search.anew import asked_of, changes, judged_anew
from motifsearch.search.checkpoint import load_checkpoint
from motifsearch.search.genome import design_hash, develop
from motifsearch.search.island import Judge
from motifsearch.search.loop import evolve
from motifsearch.simulate.scores import score_pattern
from motifsearch.thread.cutting import cut_list

CONFIGS = Path(__file__).parents[2] / "configs"
CHEVRON = CONFIGS / "patterns" / "chevron.toml"
PATIENCE_S = 120
SMALL = {
    "stash": str(CONFIGS / "stash-workshop.toml"), "strands": 6, "length_mm": 80,
    "colours": ["deep teal", "sand", "brick"], "colours_max": 3,
    "search.generations": 8, "search.population": 60, "search.periods": [4, 6],
    "search.exchange_every": 4, "gallery.size": 2,
}  # fmt: skip


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("readers") / "run"
    ms.search(None, overrides=SMALL, out=folder)
    return folder


@pytest.fixture
def folder(made, tmp_path):
    copy = tmp_path / "run"
    shutil.copytree(made, copy)
    return copy


def edit(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text, (old, text)
    path.write_text(text.replace(old, new), encoding="utf-8")


def thick(one, brief):
    return np.array([brief.stash.thread(n).diameter_mm for n in one.pattern.palette])


# --- a run whose brief or stash was edited -------------------------------------------------------


@pytest.mark.parametrize(("file", "old", "new", "said"), [
    ("brief.toml", "strands = 6", "strands = 8", "strands was 6 .* is 8 now"),
    ("brief.toml", "folded = true", "folded = false", "folded was true"),
    ("brief.toml", "colours_max = 3", "colours_max = 2", "colours_max was 3"),
    ("brief.toml", "border = false", "border = true", "limits.border was false"),
    ("brief.toml", "seed = 1", "seed = 2", "search.seed was 1"),
    ("brief.toml", "population = 60", "population = 70", "search.population was 60"),
    ("stash.toml", 'name = "sand"', 'name = "dune"', "expected a thread of the stash"),
])  # fmt: skip
def test_what_designs_are_made_of_cannot_change(folder, file, old, new, said):
    before = {p: p.read_bytes() for p in folder.rglob("*") if p.is_file() and "lock" not in p.name}
    edit(folder / file, old, new)
    with pytest.raises(InputError, match=said):
        resume(folder, overrides={"search.generations": 12})
    for path, data in before.items():
        if path.name != file:
            assert path.read_bytes() == data, path


@pytest.mark.parametrize(("file", "old", "new"), [
    ("brief.toml", "contrast_min = 0.0", "contrast_min = 38.0"),
    ("brief.toml", "evenness_min = 0.0", "evenness_min = 0.93"),
    ("brief.toml", "length_mm = 80", "length_mm = 140"),
    ("brief.toml", "repeat_rows_max = 48", "repeat_rows_max = 8"),
    ("stash.toml", '"#d8c39a"', '"#1d6c72"'),
    ("stash.toml", "tex = 250", "tex = 600"),
])  # fmt: skip
def test_what_stands_is_judged_anew(folder, file, old, new):
    """No design that is shown breaks a limit of the brief as it is, by scores computed apart."""
    edit(folder / file, old, new)
    out = resume(folder)
    assert any("changed since" in line for line in out.said)
    brief = ms.read_brief(folder / "brief.toml")
    for one in ms.open_run(folder):
        scores = score_pattern(one.pattern, brief.length_mm, brief.stash.model, thick(one, brief))
        assert scores.thread.evenness >= brief.limits.evenness_min
        assert scores.repeat_rows <= brief.limits.repeat_rows_max
        assert (scores.colour.contrast or 0) >= brief.limits.contrast_min
        assert one.cuts.length_mm == brief.length_mm
        assert one.plan is not None
        assert one.plan.feasible


@pytest.mark.slow
def test_when_none_stands_the_search_says_why_and_the_gallery_stays(folder):
    before = (folder / "ranking.csv").read_bytes()
    edit(folder / "brief.toml", "evenness_min = 0.0", "evenness_min = 1.0")
    with pytest.raises(InfeasibleError, match=r"limits\.evenness_min = 1\.0"):
        resume(folder)
    assert (folder / "ranking.csv").read_bytes() == before


def test_what_changes_nothing_is_gone_on_with_as_if_nothing_was(folder):
    edit(folder / "brief.toml", 'title = "Untitled"', 'title = "For Saturday"')
    out = resume(folder, overrides={"search.generations": 12})
    assert not any("changed since" in line for line in out.said)
    assert out.record.title == "For Saturday"


def judged(**other):
    return asked_of(ms.read_brief(other.pop("path"), other))["judged"]


@pytest.mark.parametrize(("file", "old", "new", "said"), [
    ("brief.toml", "contrast_min = 0.0", "contrast_min = 38.0",
     "limits.contrast_min was 0.0 and is 38.0"),
    ("brief.toml", "calm = 1.5", "calm = 3", "wishes.calm was 1.5 and is 3.0"),
    ("brief.toml", "length_mm = 80", "length_mm = 90", "length_mm was 80.0 and is 90.0"),
    ("brief.toml", "risk = 0.05", "risk = 0.01", "allowances.risk was 0.05 and is 0.01"),
    ("stash.toml", '"#d8c39a"', '"#1d6c72"', "colour of sand"),
    ("stash.toml", "tex = 250", "tex = 600",
     "thickness of deep teal; thickness of sand; thickness of brick"),
    ("stash.toml", "pieces_m = [", "pieces_m = [0.4, ",
     "pieces of deep teal; pieces of sand; pieces of brick"),
])  # fmt: skip
def test_what_was_changed_is_named(folder, file, old, new, said):
    """As the checkpoint keeps it: through JSON, where a tuple is a list."""
    then = json.loads(json.dumps(judged(path=folder / "brief.toml")))
    assert changes(then, judged(path=folder / "brief.toml")) == ()
    edit(folder / file, old, new)
    assert "; ".join(changes(then, judged(path=folder / "brief.toml"))) == said


@pytest.mark.parametrize("then", [None, 5, [], {}, {"threads": 3, "limits": [], "model": "x"}])
def test_what_was_asked_may_be_damaged(made, then):
    """It is then not known what was changed, and everything is judged anew."""
    now = judged(path=made / "brief.toml")
    assert then != now
    assert all(isinstance(line, str) for line in changes(then, now))


def stood(folder, **limits):
    brief = ms.read_brief(folder / "brief.toml")
    run = load_checkpoint(folder / "checkpoint.npz", brief)
    stricter = replace(brief, limits=replace(brief.limits, **limits))
    return (*judged_anew(run, stricter), stricter)


def test_judged_anew_no_design_stands_twice(folder):
    """Hashes of the designs of a space are told apart (test_search); a set has each once."""
    run, before, after, brief = stood(folder, evenness_min=0.9)
    assert 0 < after < before
    run, _ = evolve(brief, run, generations=16)
    for island in run.islands:
        keys = design_hash(*develop(island.population.genomes, island.space))
        assert len(set(keys.tolist())) == len(keys)
        again, _ = Judge(brief).judge(island.archive.genomes, island.space)
        assert (again.violation == 0).all()


@pytest.mark.slow
def test_where_none_stands_a_search_that_goes_on_finds_new_ones(tmp_path):
    out = tmp_path / "run"
    few = {**SMALL, "search.generations": 1, "search.population": 20, "search.exchange_every": 1,
           "search.periods": [8]}  # fmt: skip
    ms.search(None, overrides=few, out=out)
    edit(out / "brief.toml", "evenness_min = 0.0", "evenness_min = 0.97")
    _, _, after = stood(out, evenness_min=0.97)[:3]
    assert after == 0
    before = (out / "ranking.csv").read_bytes()
    with pytest.raises(InfeasibleError, match=r"evenness_min was 0\.0 and is 0\.97.* 0 keep"):
        resume(out)
    assert (out / "ranking.csv").read_bytes() == before
    found = resume(out, overrides={"search.generations": 60})
    assert all(one.scores["thread"]["evenness"] >= 0.97 for one in found)
    assert len(found) == 2


def test_a_search_that_went_on_to_nothing_leaves_what_it_went_on_from(folder):
    """The state of a search that writes over an older run, and was broken off."""
    apart = folder / UNFINISHED
    apart.mkdir()
    for name in ("brief.toml", "stash.toml", "checkpoint.npz"):
        shutil.copy(folder / name, apart / name)
    with owned(folder, "a test") as place:
        home = Home(place, fresh=False)
        assert home.apart
        home.discard()
    assert sorted(p.name for p in apart.iterdir()) == ["brief.toml", "checkpoint.npz", "stash.toml"]


# --- damaged records ------------------------------------------------------------------------------

DAMAGE = [
    "", "{", "[]", "null", '"text"', "{}", '{"seed": NaN, "scored": Infinity}',
    '{"ranking": {"a": 1}, "progress": [1, 2], "islands": "none"}',
    '{"ranking": [{"folder": 3, "title": ["x"]}, 5, null], "seed": -1}',
    '{"title": "\\ud800", "seed": 1e400, "generations": ' + "9" * 400 + "}",
    '{"ranking": [{"folder": "../../etc", "title": "x", "wishes": {"calm": NaN}}]}',
    "[" * 100_000, '{"whole": {"kinds": [1], "designs": {"a": 2}}, "paper": "Poster"}',
]  # fmt: skip


@pytest.mark.parametrize("text", DAMAGE, ids=range(len(DAMAGE)))
def test_a_damaged_record_is_read_as_far_as_it_goes(text):
    record, _ = Record.from_json(text)
    assert Record.from_json(record.to_json()) == (record, ())


@pytest.mark.parametrize("text", [DAMAGE[0], DAMAGE[7], DAMAGE[9], DAMAGE[11]], ids=range(4))
def test_a_damaged_record_costs_nothing(folder, text):
    (folder / "run.json").write_text(text, encoding="utf-8")
    done = CliRunner().invoke(main, ["gallery", str(folder)])
    assert done.exit_code in (0, 2), done.output
    assert done.exception is None or isinstance(done.exception, SystemExit)
    assert len(list((folder / "candidates").iterdir())) == 2


@pytest.mark.parametrize(("text", "said"), [
    ('{"seed": NaN}', "seed: expected a whole number from 0 to .*, found nan"),
    ('{"seed": 1e999}', "seed: expected a whole number .*, found inf"),
    ('{"seed": true}', "seed: expected a whole number .*, found True"),
    ('{"title": ["x"]}', "title: expected a text, found"),
    ('{"title": "\\ud800"}', "title: expected a text that can be written as UTF-8"),
    ('{"paper": "A5"}', "paper: expected one of A4, Letter"),
    ('{"islands": "none"}', "islands: expected a list, found 'none'"),
    ('{"progress": [{"generation": 1}]}', r"progress\[0\]\.best: missing; expected a number"),
    ('{"ranking": [{"title": "x"}]}', r"ranking\[0\]\.folder: missing; expected a text"),
    ('{"ranking": [{"folder": "a", "wishes": {"\\ud800": 0.5}}]}', "expected names of at most"),
    ('{"ranking": [{"folder": "a", "wishes": {"calm": 7}}]}', r"wishes\.calm: expected a number"),
    ('{"ranking": [{"folder": "a", "notes": [3]}]}', r"ranking\[0\]\.notes\[0\]: expected a text"),
    ('{"whole": {"designs": "x"}}', r"whole\.designs: expected a whole number"),
    ('{"variety": 3}', r"variety: expected a table"),
    ('{"seed": 1', "expected JSON"), ("[1]", r"expected an object of JSON, found \[1\]"),
    ('{"seed": ' + "9" * 5000 + "}", "expected JSON"),
])  # fmt: skip
def test_what_a_record_cannot_use_is_named(text, said):
    record, bad = Record.from_json(text)
    assert len(bad) == 1
    assert re.search(f"^run.json: .*{said}", str(bad[0])), str(bad[0])
    assert len(str(bad[0])) < 400
    str(bad[0]).encode()
    record.to_json().encode()
    assert Record.from_json(record.to_json()) == (record, ())


def test_of_much_damage_some_is_named_and_the_rest_counted():
    _, bad = Record.from_json(json.dumps({"runs": [1] * 100}))
    assert len(bad) == MOST_SAID + 1
    assert str(bad[-1]) == f"run.json: {100 - MOST_SAID} more values cannot be used"


def test_names_that_cannot_be_written_cost_no_gallery(folder):
    (folder / "run.json").write_text(
        '{"kind": "search", "islands": [{"\\ud800": 1}], "ranking": '
        '[{"folder": "candidates/001", "wishes": {"\\ud800": 0.5, "calm": 0.5}}]}',
        encoding="utf-8",
    )
    run = ms.open_run(folder)
    assert [dict(one.wishes) for one in run if one.folder.endswith("001")] == [{"calm": 0.5}]
    done = CliRunner().invoke(main, ["gallery", str(folder)])
    assert done.exit_code == 0, done.output
    assert "2 designs" in done.output
    assert "it is left out" in done.output


@pytest.mark.parametrize("name", ["a\\u0000b", "x" * 5000, "../..", ""])
def test_a_damaged_name_of_a_run_costs_its_own_design_only(folder, name):
    """No file of a system has a name with NUL, or of 5,000 bytes (POSIX: NAME_MAX is 255)."""
    (folder / "candidates" / "001" / "from.toml").write_text(f'run = "{name}"\n', "utf-8")
    run = ms.open_run(folder)
    assert [one.folder for one in run] == ["candidates/002"]
    assert "from.toml: run: expected a folder of this gallery" in run.said[0]
    with pytest.raises(InputError, match=r"from\.toml: run: expected a folder"):
        ms.score(folder / "candidates" / "001" / "pattern.toml")


@pytest.mark.parametrize("text", ["{", "[]", '{"a": 5}', '{"../x": "y"}'])
def test_a_damaged_list_of_what_was_written_is_said(folder, text):
    (folder / ".motifsearch" / "written.json").write_text(text, encoding="utf-8")
    with owned(folder, "a test") as place:
        assert place.said == (LOST_LIST,)
        assert place.touched("001")
        assert place.is_hers("gallery.html")


def test_a_damaged_commit_moves_nothing_and_is_said(folder):
    """A stage of ``..`` would be the run folder itself, and stages are cleared away."""
    before = sorted(p for p in folder.rglob("*") if p.is_file() and p.name != "lock")
    (folder / ".motifsearch" / "commit.json").write_text(
        '{"stage": "..", "files": [], "aside": {}, "remove": {}, "written": {}}',
        encoding="utf-8",
    )
    with owned(folder, "a test") as place:
        assert place.said == (LOST_CHANGE,)
    assert sorted(p for p in folder.rglob("*") if p.is_file() and p.name != "lock") == before


def test_designs_that_are_not_shown_are_counted(folder, monkeypatch):
    monkeypatch.setattr("motifsearch.runs.kept.MAX_CANDIDATES", 1)
    done = CliRunner().invoke(main, ["gallery", str(folder)])
    assert done.exit_code == 0
    assert "1 more candidates are not shown: 1 at most" in done.output
    assert "1 more candidates are not shown" in (folder / "gallery.html").read_text("utf-8")
    assert len(list((folder / "candidates").iterdir())) == 2


@pytest.mark.parametrize("name", ["written.json", "commit.json"])
@pytest.mark.parametrize("text", ["{", '{"stage": 5, "files": 3}'])
def test_damaged_state_of_the_folder_loses_no_file(folder, name, text):
    """Where it is not known what was written here, everything is the maker's."""
    kept = {p: p.read_bytes() for p in (folder / "candidates").rglob("*") if p.is_file()}
    (folder / ".motifsearch" / name).write_text(text, encoding="utf-8")
    done = CliRunner().invoke(main, ["gallery", str(folder)])
    assert done.exit_code == 0, done.output
    for path, data in kept.items():
        assert path.read_bytes() == data


@pytest.mark.parametrize("number", ["²", "١", "9" * 500])
def test_a_favourite_that_is_no_number(folder, number):
    done = CliRunner().invoke(main, ["gallery", str(folder), "--favourite", number])
    assert done.exit_code == 2
    assert "favourite" in done.output


# --- terminals
# --------------------------------------------------------------------------------------


def test_what_would_steer_a_terminal_is_spelt_out():
    """ECMA-48 control functions begin with C0 or C1 characters; none is left."""
    every = "".join(map(chr, [*range(32), *range(127, 160), 0x202E, 0x2067]))
    shown = for_terminal(f"sand {every} תכלת 糸 é 🧵")
    assert not [c for c in shown if (ord(c) < 32 or 127 <= ord(c) < 160) and c not in "\n\t"]
    assert "\u202e" not in shown
    assert "תכלת 糸 é 🧵" in shown
    assert "\\x1b" in shown


@pytest.mark.parametrize("args", [
    ("sea\x1b[31mrch",), ("score", "--nope\x1b[2J"), ("score", "x\x1b[31m.toml"),
    ("score", str(CHEVRON), "--length", "\x1b[1m"), ("gallery", "x", "--favourite", "\x9b1m"),
    ("example", "/dev/null/\x1b[1m"),
])  # fmt: skip
def test_escapes_of_a_command_line_do_not_reach_the_screen(args):
    done = CliRunner().invoke(main, list(args))
    assert done.exit_code in (1, 2)
    assert isinstance(done.exception, SystemExit)
    assert not [c for c in done.output if c in "\x1b\x9b"]


@pytest.mark.parametrize("where", ["target", "key", "stash"])
def test_escapes_in_files_do_not_reach_the_screen(tmp_path, where):
    bad = "\x1b]0;mine\x07\x9b31m"
    path = tmp_path / "file.toml"
    if where == "target":
        path = tmp_path / "motif.txt"
        path.write_text(f"strands: {bad}\n", encoding="utf-8")
        args = ["target", str(path)]
    elif where == "key":
        path.write_text('"\\u001b[31mx" = 1\nstrands = 8\n', encoding="utf-8")
        args = ["search", str(path)]
    else:
        path.write_text('[[threads]]\nname = "\\u001b[2J"\n', encoding="utf-8")
        args = ["stash", "show", str(path)]
    done = CliRunner().invoke(main, args)
    assert done.exit_code == 2
    assert "\x1b" not in done.output
    assert "\x9b" not in done.output


def test_a_key_of_megabytes_is_not_printed_whole(tmp_path):
    path = tmp_path / "brief.toml"
    path.write_text(f'"{"k" * 3_900_000}" = 1\n', encoding="utf-8")
    done = CliRunner().invoke(main, ["search", str(path)])
    assert done.exit_code == 2
    assert len(done.output) < 5000
    assert shortened("x" * 5000).endswith("(5000 characters)")


CYRILLIC = """\
[[threads]]
name = "тёмная бирюза"
colour = "#1c6b70"
tex = 250
pieces_m = [8, 8, 8]
"""
PLAIN = """\
format = "motifsearch-pattern-1"
title = "Полоса"
rows = ["rr rr rr", "ll ll"]
colour_order = ["тёмная бирюза", "тёмная бирюза", "тёмная бирюза", "тёмная бирюза",
                "тёмная бирюза", "тёмная бирюза"]
[colours]
"тёмная бирюза" = "#1c6b70"
"""


@pytest.fixture
def box(tmp_path):
    (tmp_path / "stash.toml").write_text(CYRILLIC, encoding="utf-8")
    (tmp_path / "band.toml").write_text(PLAIN, encoding="utf-8")
    return tmp_path


USE = ("stash", "use", "band.toml", "--stash", "stash.toml", "--length", "60")


def test_a_terminal_that_lacks_the_letters_gets_marks_and_the_booking_is_made(box):
    done = subprocess.run(
        [sys.executable, "-m", "motifsearch", *USE], cwd=box, capture_output=True, check=False,
        timeout=PATIENCE_S, env={**os.environ, "PYTHONIOENCODING": "latin-1"},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert b"Traceback" not in done.stderr
    assert b"booking 1" in done.stdout
    assert len(ms.bookings(box / "stash.toml")) == 1


@pytest.mark.skipif(sys.platform == "win32", reason="closing a stream in a shell")
@pytest.mark.parametrize("closed", [">&-", "2>&-", ">&- 2>&-", "| true"])
def test_with_its_streams_closed_the_booking_is_whole(box, closed):
    line = f'"{sys.executable}" -m motifsearch {" ".join(USE)} {closed}'
    done = subprocess.run(
        ["sh", "-c", line], cwd=box, capture_output=True, text=True, check=False, timeout=PATIENCE_S
    )
    assert "Traceback" not in done.stderr
    (one,) = ms.bookings(box / "stash.toml")
    assert one.number == 1
    left = sum(ms.read_stash(box / "stash.toml").threads[0].pieces_mm)
    cut = sum(p.piece_mm - p.left_mm for p in one.pieces)
    assert left + cut == pytest.approx(24_000)


@pytest.mark.skipif(sys.platform == "win32", reason="closing a stream in a shell")
@pytest.mark.parametrize("closed", [">&- 2>&-", "<&- >&- 2>&-"])
def test_with_its_streams_closed_a_search_goes_on(folder, closed):
    """With workers, which are processes of their own and take over what is open."""
    line = (f'"{sys.executable}" -m motifsearch search --resume "{folder}" --generations 12 '
            f"--workers 2 {closed}")  # fmt: skip
    done = subprocess.run(["sh", "-c", line], check=False, timeout=PATIENCE_S)
    assert done.returncode == 0
    assert ms.open_run(folder).record.generations == 12


# --- spreadsheets
# -------------------------------------------------------------------------------------


@pytest.mark.parametrize("text", ['=HYPERLINK("x")', "+1", "-1", "@SUM(A1)", "\t=1", "\uff1d1"])
def test_no_cell_is_a_formula(text):
    """The characters are those of OWASP's page on CSV injection."""
    assert cell(text)[0] == "'"
    pattern = ms.read_pattern(CHEVRON)
    names = dict.fromkeys(pattern.palette)
    first = next(iter(names))
    order = tuple(text if c == first else c for c in pattern.colour_order)
    inks = {text if n == first else n: ink for n, ink in pattern.colours.items()}
    odd = replace(pattern, colour_order=order, colours=inks)
    table = cut_csv(cut_list(odd, 100.0), None)
    for row in list(csv.reader(io.StringIO(table)))[1:]:
        assert not row[1].startswith(("=", "+", "-", "@", "\t", "\uff1d"))
    assert json.dumps(cell("sand")) == '"sand"'
