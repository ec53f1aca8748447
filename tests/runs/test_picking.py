"""Marks on a gallery, and what the next one makes of them, from the command and from Python."""

from __future__ import annotations

import shutil
import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner

import motifsearch as ms
from motifsearch.cli import main
from motifsearch.runs.hooks import Hooks
from motifsearch.runs.kept import standing
from motifsearch.runs.marking import picked, shelved
from motifsearch.runs.record import read_record
from motifsearch.runs.shelf import mark
from motifsearch.runs.store import owned
from motifsearch.runs.workroom import open_workroom
from motifsearch.search.picks import read_picks
from motifsearch.search.taste_gallery import SHARES

STASH = "".join(
    f'[[threads]]\nname = "{name}"\ncolour = "{ink}"\ndiameter_mm = 0.6\npieces_m = [90.0]\n'
    for name, ink in (("sand", "#d8c49a"), ("teal", "#1f7a78"), ("night", "#1d2a4d"))
)
BRIEF = """\
stash = "stash.toml"
strands = 6
length_mm = 80

[limits]
repeat_rows_max = 12

[search]
population = 30
generations = 8
exchange_every = 4
rest_after = 0
periods = [4, 6]

[gallery]
size = 4
"""


def tree(folder: Path) -> dict[str, bytes]:
    return {
        p.relative_to(folder).as_posix(): p.read_bytes()
        for p in sorted(folder.rglob("*"))
        if p.is_file() and p.name != "lock"
    }


@pytest.fixture(scope="module")
def room(tmp_path_factory):
    place = tmp_path_factory.mktemp("room")
    (place / "stash.toml").write_text(STASH, encoding="utf-8")
    (place / "brief.toml").write_text(BRIEF, encoding="utf-8")
    ms.search(place / "brief.toml", out=place / "first")
    return place


@pytest.fixture
def run(room, tmp_path):
    return Path(shutil.copytree(room / "first", tmp_path / "run"))


def command(*args: object):
    done = CliRunner().invoke(main, [str(a) for a in args])
    assert "Traceback" not in done.output, done.output
    return done


def test_marks_are_written_with_all_that_was_shown(run):
    done = command("pick", run, 3, 1, "--not", 2)
    assert done.exit_code == 0, done.output
    assert "Round 1, 4 designs shown." in done.output
    picks = read_picks(run / "picks.toml")
    assert len(picks.rounds) == 1
    assert (picks.rounds[0].wanted, picks.rounds[0].not_for_me) == ((3, 1), (2,))
    found, _ = standing(run)
    shown = picks.rounds[0].shown
    assert [c.number for c in shown] == [int(f.name) for f in found]
    assert [(c.pattern.knots, c.pattern.colour_order) for c in shown] == [
        (f.pattern.knots, f.pattern.colour_order) for f in found
    ]


def test_a_mark_counts_once_and_can_be_taken_back(run):
    ms.pick(run, [3, 1], [2])
    before = tree(run)
    ms.pick(run, [3])
    ms.pick(run, [1], [2])
    assert tree(run) == before
    assert read_picks(run / "picks.toml").rounds[0].wanted == (3, 1)
    ms.pick(run, [], [3], [1])
    only = read_picks(run / "picks.toml").rounds
    assert [(r.wanted, r.not_for_me) for r in only] == [((), (2, 3))]
    assert "Nothing is marked." in command("pick", run, "--unmark", 2, "--unmark", 3).output


def test_nothing_of_hers_is_lost(run):
    ms.pick(run, [3])
    path = run / "picks.toml"
    path.write_text("# for Ada\n" + path.read_text(encoding="utf-8"), encoding="utf-8")
    ms.pick(run, [], [2])
    assert path.read_text(encoding="utf-8").startswith("# for Ada\n")
    resumed = ms.resume(run)
    assert path.read_text(encoding="utf-8").startswith("# for Ada\n")
    assert not any("picks" in line and "kept as" in line for line in resumed.said)
    ms.pick(run, [1])
    text = path.read_text(encoding="utf-8")
    assert text.startswith("# for Ada\n")
    assert [r.wanted for r in read_picks(path).rounds] == [(3,), (1,)]


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (("99",), "expected the number of a design in this gallery, found 99"),
        (("1", "--not", "1"), "wanted or not for me, not both"),
    ],
)
def test_wrong_marks_are_refused(run, args, said):
    before = tree(run)
    done = command("pick", run, *args)
    assert done.exit_code == 2
    assert said in done.output
    assert tree(run) == before


def test_a_folder_that_is_no_run_or_is_at_work_is_refused(run, tmp_path):
    assert command("pick", tmp_path / "none", 1).exit_code == 2
    assert command("pick", run).exit_code == 2
    (run / "picks.toml").write_text('format = "other"\n', encoding="utf-8")
    done = command("pick", run, 1)
    assert "format: expected one of motifsearch-picks-1" in done.output
    (run / "picks.toml").unlink()
    with owned(run, "a search"):
        assert "at work in this folder" in command("pick", run, 1).output
        assert not picked(open_workroom(run.parent), "run/candidates/001", "wanted")


def test_the_workshop_marks_the_same(run):
    room = open_workroom(run.parent)
    assert picked(room, "run/candidates/001", "wanted")
    assert picked(room, "run/candidates/002", "passed")
    assert picked(room, "run/candidates/001", "wanted")
    one = read_picks(run / "picks.toml").rounds
    assert [(r.wanted, r.not_for_me) for r in one] == [((1,), (2,))]
    assert picked(room, "run/candidates/001", "")
    assert read_picks(run / "picks.toml").rounds[0].wanted == ()
    assert not picked(room, "shelf/one.toml", "wanted")


def test_marks_made_while_a_search_was_at_work_reach_the_picks(run):
    """They stand on the shelf; when the run goes on, its gallery is marked by them."""
    room = open_workroom(run.parent)
    with owned(run, "a search"):
        for number, as_ in ((3, "wanted"), (2, "passed")):
            ask = {"of": f"run/candidates/{number:03d}"}
            mark(room, ask, as_)
            assert not picked(room, ask["of"], as_)
    shelved(room, "run")
    rounds = read_picks(run / "picks.toml").rounds
    assert [(r.wanted, r.not_for_me) for r in rounds] == [((3,), (2,))]
    before = tree(run)
    shelved(room, "run")
    assert tree(run) == before


@pytest.mark.slow
def test_a_finished_run_goes_on_with_new_picks(run):
    before, _ = read_record(run)
    ms.pick(run, [1, 2], [4])
    resumed = ms.resume(run)
    assert any(line.startswith("learnt from your picks") for line in resumed.said)
    after, _ = read_record(run)
    assert (before.generations, after.generations) == (8, 16)
    assert all("taste" in c.wishes for c in resumed)
    words = {s.words for s in SHARES if s.words}
    assert {note for c in resumed for note in c.notes} <= words
    refused = read_picks(run / "picks.toml").rounds[0].pattern(4)
    assert all((c.pattern.knots, c.pattern.colour_order)
               != (refused.knots, refused.colour_order) for c in resumed)  # fmt: skip
    with pytest.raises(ms.InputError, match="has done its 16 generations"):
        ms.resume(run)
    ms.pick(run, [1])
    assert len(read_picks(run / "picks.toml").rounds) == 2
    ms.resume(run)
    assert read_record(run)[0].generations == 24


def test_the_generations_can_be_said(run):
    ms.pick(run, [1])
    ms.resume(run, overrides={"search.generations": 12})
    assert read_record(run)[0].generations == 12


@pytest.mark.slow
def test_workers_and_interruptions_change_no_byte(run, tmp_path):
    ms.pick(run, [1, 3], [2])
    other = Path(shutil.copytree(run, tmp_path / "other"))
    ms.resume(run)
    stops = iter(["", "interrupted"])
    ms.resume(other, hooks=Hooks(stop=lambda: next(stops)), workers=2)
    assert read_record(other)[0].generations < 16
    ms.resume(other)
    one, two = tree(run), tree(other)
    assert one.keys() == two.keys()
    assert [name for name in one if one[name] != two[name]] == []


@pytest.mark.slow
def test_picks_are_taken_to_another_run(room, run, tmp_path):
    ms.pick(run, [1, 3], [2])
    brief = room / "brief.toml"
    done = command("search", brief, "--picks", run / "picks.toml", "--out", tmp_path / "c",
                   "--quiet", "--workers", 1)  # fmt: skip
    assert done.exit_code == 0, done.output
    ms.search(brief, picks=run, out=tmp_path / "p")
    assert tree(tmp_path / "c") == tree(tmp_path / "p")
    assert read_picks(tmp_path / "c/picks.toml").digest == read_picks(run / "picks.toml").digest
    plain = ms.search(brief)
    liked = ms.search(brief, picks=read_picks(run / "picks.toml"))
    assert [c.pattern for c in liked] != [c.pattern for c in plain]
    assert [c.pattern for c in liked] == [c.pattern for c in ms.open_run(tmp_path / "p")]
    with pytest.raises(ms.InputError, match="would be written over"):
        ms.search(brief, picks=run / "picks.toml", out=run, overwrite=True)


@pytest.mark.slow
def test_without_picks_nothing_is_otherwise(room, run):
    ms.pick(run, [1])
    ms.pick(run, unmarked=[1])
    ms.resume(run, overrides={"search.generations": 12})
    other = run.parent / "plain"
    shutil.copytree(room / "first", other)
    ms.resume(other, overrides={"search.generations": 12})
    one, two = tree(run), tree(other)
    assert {k for k in one if one.get(k) != two.get(k)} == {
        "picks.toml", ".motifsearch/written.json",
    }  # fmt: skip


def test_a_new_run_does_not_keep_the_picks_of_the_old_one(room, run):
    ms.pick(run, [1])
    ms.search(room / "brief.toml", out=run, overwrite=True)
    assert not (run / "picks.toml").exists()
    assert tomllib.loads((run / "brief.toml").read_text(encoding="utf-8"))["strands"] == 6


# --- A person's taste.


def test_a_taste_is_a_file_of_its_own(run, tmp_path):
    ms.pick(run, [1, 3], [2])
    ada = tmp_path / "ada.toml"
    done = command("taste", ada, "--from", run, "--name", "Ada")
    assert done.exit_code == 0, done.output
    assert "earnt from 3 marks in 1 round" in done.output
    ms.pick(run, [4])
    ms.taste(ada, runs=[run])
    known = read_picks(ada)
    assert (known.name, [r.wanted for r in known.rounds]) == ("Ada", [(1, 3, 4)])
    ms.taste(ada, strike=["Few colours", "a border"])
    assert read_picks(ada).struck == ("colours", "border")
    assert (
        "Struck out, and not counted: many colours or few colours" in command("taste", ada).output
    )
    ms.taste(ada, unstrike=["many colours"])
    assert read_picks(ada).struck == ("border",)
    before = ada.read_bytes()
    done = command("taste", ada, "--strike", "squares")
    assert done.exit_code == 2
    assert "found 'squares'" in done.output
    assert ada.read_bytes() == before
    assert command("taste", tmp_path / "none.toml").exit_code == 2


def test_what_stands_in_a_taste_stays(run, tmp_path):
    ms.pick(run, [1])
    ada = tmp_path / "ada.toml"
    ms.taste(ada, runs=[run])
    ada.write_text("# hers\n" + ada.read_text(encoding="utf-8"), encoding="utf-8")
    ms.taste(ada, strike=["diamonds"])
    ms.resume(run)
    ms.pick(run, [2])
    ms.taste(ada, runs=[run])
    assert ada.read_text(encoding="utf-8").startswith("# hers\n")
    assert [r.wanted for r in read_picks(ada).rounds] == [(1,), (2,)]
    assert read_picks(ada).struck == ("open",)


@pytest.mark.slow
def test_a_line_of_a_run_is_struck_out(run):
    """In the run's own picks: they stay the tool's own file, and the search is another one."""
    ms.pick(run, [1, 3], [2])
    ms.taste(run, strike=["light colours"])
    resumed = ms.resume(run)
    assert not any("kept as" in line for line in resumed.said)
    assert "light colours or dark colours" in resumed.record.taste["said"]
    page = (run / "gallery.html").read_text(encoding="utf-8")
    assert resumed.record.taste["said"] in page
    assert ms.open_run(run).record.taste == resumed.record.taste
    assert "earnt from 3 marks" in command("search", "--resume", run, "--generations", "20",
                                           "--quiet").output  # fmt: skip


def test_a_taste_goes_to_other_strands_and_threads(room, run, tmp_path):
    ms.pick(run, [1, 3], [2])
    ms.taste(tmp_path / "ada.toml", runs=[run])
    stash = STASH.replace("sand", "straw").replace("#d8c49a", "#e0cf9f").replace("teal", "sea")
    (tmp_path / "stash.toml").write_text(stash, encoding="utf-8")
    brief = BRIEF.replace("strands = 6", "strands = 8")
    (tmp_path / "brief.toml").write_text(brief, encoding="utf-8")
    found = ms.search(tmp_path / "brief.toml", picks=tmp_path / "ada.toml")
    assert found.record.taste["marks"] == 3
    assert all(c.pattern.strands == 8 and c.wishes["taste"] > 0 for c in found)


def test_wanted_designs_outlast_their_gallery(run, tmp_path):
    ms.pick(run, [3, 1])
    wanted = [ms.open_run(run)[n - 1].pattern for n in (3, 1)]
    ms.resume(run)
    out = tmp_path / "wanted"
    assert command("taste", run, "--designs", out).exit_code == 0
    files = sorted(out.iterdir())
    again = [ms.read_pattern(p) for p in files]
    assert [(p.title, p.knots, p.colour_order) for p in again] == [
        (p.title, p.knots, p.colour_order) for p in wanted
    ]
    ms.taste(run, designs=out)
    files[0].write_text("hers", encoding="utf-8")
    assert command("taste", run, "--designs", out).exit_code == 2
    assert files[0].read_text(encoding="utf-8") == "hers"
