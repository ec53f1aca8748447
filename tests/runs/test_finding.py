"""``find``: a run as from a search, without one; and the library that runs leave behind."""

from __future__ import annotations

import gzip
import inspect
import json
from pathlib import Path

import numpy as np
import pytest
from commands.test_cli import FILES, run, tree

import motifsearch as ms
from motifsearch.base.errors import InfeasibleError, InputError, NotFoundError
from motifsearch.library.building import kind_pattern
from motifsearch.library.opening import libraries
from motifsearch.library.starter import PACKED, starter
from motifsearch.library.store import opened
from motifsearch.pattern.canonical_form import canonical_key
from motifsearch.pattern.files import format_pattern
from motifsearch.runs.keeping import library_add, library_damage, library_merge, library_text
from motifsearch.runs.remembering import BESIDE
from motifsearch.search.variety import face_distance
from motifsearch.thread.cutting import cut_list
from motifsearch.thread.plan import plan_cuts

CONFIGS = Path(__file__).parents[2] / "configs"
STASH = CONFIGS / "stash-workshop.toml"
ASK = {"stash": str(STASH), "strands": 8, "wrist_mm": 155.0, "gallery.size": 6}
TINY = {**ASK, "search.generations": 6, "search.population": 60, "search.periods": [4, 6],
        "gallery.size": 3}  # fmt: skip


@pytest.fixture(scope="module")
def searched(tmp_path_factory):
    """Return a run folder of a small search."""
    folder = tmp_path_factory.mktemp("runs") / "one"
    ms.search(None, overrides=TINY, out=folder)
    return folder


@pytest.fixture(scope="module")
def library(tmp_path_factory, searched):
    """Return a library of what that search found."""
    path = tmp_path_factory.mktemp("library") / "mine.sqlite"
    added = library_add(path, [searched])
    assert added.kinds == added.met > 20
    return path


def test_every_design_keeps_the_limits_and_can_be_cut():
    limits = {
        "limits.lone_max": 0.1, "limits.flatness_min": 0.5, "limits.contrast_min": 20.0,
        "limits.evenness_min": 0.6, "limits.repeat_rows_max": 24, "colours_max": 3,
    }  # fmt: skip
    found = ms.find(None, overrides={**ASK, **limits})
    assert len(found) == 6
    stash = ms.read_stash(STASH)
    for one in found:
        score = one.scores
        assert score.motif.lone <= 0.1
        assert score.flatness >= 0.5
        assert score.thread.evenness >= 0.6
        assert score.colour.contrast >= 20.0
        assert score.repeat_rows <= 24
        assert len(one.pattern.palette) <= 3
        assert all(one.pattern.colour_order.count(n) % 2 == 0 for n in one.pattern.palette)
        # 155 + 10 - 30 mm; folded at measured points, or with few lengths where that costs little.
        ways = [cut_list(one.pattern, 135.0, stash=stash, simple=way) for way in (False, True)]
        assert one.cuts in ways
        plan = plan_cuts(one.cuts, stash)
        assert plan.feasible
        assert one.plan == plan
    keys = [canonical_key(one.pattern) for one in found]
    assert len(set(keys)) == 6
    assert [one.wishes_met for one in found] == sorted((o.wishes_met for o in found), reverse=True)


def test_threads_that_are_scarce_are_not_asked_for(tmp_path):
    (tmp_path / "stash.toml").write_text(
        "".join(
            f'[[threads]]\nname = "{n}"\ncolour = "{c}"\ntex = 250\npieces_m = {p}\n'
            for n, c, p in (("little", "#d8c39a", [1.9]), ("much", "#1c6b70", [8, 8]),
                            ("more", "#a5432d", [8, 8]))
        )
    )  # fmt: skip
    ask = {"stash": str(tmp_path / "stash.toml"), "strands": 8, "wrist_mm": 150.0}
    found = ms.find(None, overrides=ask)
    assert len(found) > 5
    for one in found:
        assert one.plan.feasible
        little = [c for c in one.cuts.cuts if c.colour == "little"]
        assert sum(c.length_mm for c in little) <= 1900


@pytest.mark.slow
def test_the_folder_is_that_of_a_search(tmp_path, searched):
    out = tmp_path / "found"
    ask = ["--stash", STASH, "--strands", 8, "--wrist-mm", 155, "--size", 3, "--workers", 1]
    result = run("find", *ask, "--out", out)
    assert "3 designs in" in result.output
    mine = {name: data for name, data in tree(out).items() if not name.startswith(".")}
    assert set(mine) == {n for n in tree(searched) if not n.startswith(".")}
    assert all((out / "candidates/001" / name).is_file() for name in FILES)
    record = json.loads((out / "run.json").read_text())
    assert record["kind"] == "search"
    assert record["stopped_by"] == "found"
    assert record["generations"] == 0
    # The same call again, from Python, and with two workers: the same bytes.
    ms.find(None, overrides={**ASK, "gallery.size": 3}, out=tmp_path / "again", workers=2)
    again = {name: data for name, data in tree(tmp_path / "again").items() if name[0] != "."}
    assert again == mine
    with pytest.raises(InputError, match="exists already"):
        ms.find(None, overrides=ASK, out=out)
    # What was found is a run like any other: read, cut, gone on with.
    read = ms.open_run(out)
    assert len(read) == 3
    more = ["--generations", 2, "--quiet", "--workers", 1]
    run("search", "--resume", out, *more)
    later = ms.open_run(out)
    assert later[0].wishes_met >= read[0].wishes_met - 1e-9


def test_a_brief_is_taken_as_by_a_search(tmp_path):
    found = ms.find(CONFIGS / "only-my-threads.toml", overrides={"gallery.size": 4})
    assert len(found) == 4
    assert all(one.pattern.strands == 10 and one.plan.feasible for one in found)
    assert all(one.scores.repeat_rows <= 36 for one in found)


@pytest.mark.slow
def test_what_is_like_a_design_comes_first(tmp_path, library):
    with opened(library) as own:
        size = max(own.sizes(), key=lambda s: s.kinds)
        kinds = own.read(size.strands, size.period)
    good = (kinds["classes"] > 1) & (kinds["classes"] <= 4) & (kinds["odd"] == 0)
    pattern = kind_pattern(kinds, int(np.flatnonzero(good & (kinds["repeat_rows"] <= 48))[0]))
    file = tmp_path / "it.toml"
    file.write_text(format_pattern(pattern))
    ask = {"stash": str(STASH), "wrist_mm": 155.0, "gallery.size": 4}
    found = ms.find(None, overrides=ask, library=library, like=file)
    assert found[0].pattern.strands == 8
    assert face_distance(found[0].pattern, pattern) == 0.0
    assert found[0].notes[0].endswith("to 100%.")
    near = [1 - face_distance(one.pattern, pattern) for one in found]
    assert near == sorted(near, reverse=True)
    assert all(name in ms.read_stash(STASH).names for one in found for name in one.pattern.palette)
    from_memory = ms.find(None, overrides=ask, library=library, like=pattern)
    assert [one.pattern for one in from_memory] == [one.pattern for one in found]
    with pytest.raises(InputError, match="10 strands"):
        ms.find(None, overrides={**ask, "strands": 10}, library=library, like=file)
    out = tmp_path / "out"
    run("find", "--stash", STASH, "--wrist-mm", 155, "--like", file, "--library", library, "--size",
        2, "--out", out, "--workers", 1)  # fmt: skip
    assert "to 100%" in (out / "run.json").read_text()


def test_what_is_like_a_picture_comes_first(tmp_path):
    text = CONFIGS / "targets"
    pictures = sorted(text.glob("*.txt"))
    assert pictures
    from motifsearch.target.reading import read_target

    target = read_target(pictures[0])
    ask = {**ASK, "strands": target.strands, "limits.on_hand": False}
    found = ms.find(None, overrides=ask, like=pictures[0])
    shares = [int(one.notes[0].rpartition(" ")[2].removesuffix("%.")) for one in found]
    assert shares == sorted(shares, reverse=True)


def test_nothing_is_said_why(tmp_path, library):
    with pytest.raises(NotFoundError, match="no kinds of 23 strands"):
        ms.find(None, overrides={**ASK, "strands": 23, "limits.on_hand": False})
    with pytest.raises(NotFoundError, match=r"none can be coloured.*longest repeat, in rows: 0"):
        ms.find(None, overrides={**ASK, "limits.repeat_rows_max": 2, "limits.lone_max": 0.0,
                                 "colours_min": 4})  # fmt: skip
    with pytest.raises(InputError, match="no such"):
        ms.find(None, overrides={**ASK, "colours": ["no such"]})
    with pytest.raises(InfeasibleError, match="too little"):
        ms.find(None, overrides={"stash": str(STASH), "strands": 8, "length_mm": 2000.0})
    with pytest.raises(InputError, match="no such file"):
        ms.find(None, overrides=ASK, library=tmp_path / "none.sqlite")
    out = tmp_path / "out"
    result = run("find", "--stash", STASH, "--strands", 23, "--wrist-mm", 150, "--any-amount",
                 "--out", out, code=2)  # fmt: skip
    assert "no kinds of 23 strands" in result.output
    assert not out.exists()


def test_every_way_in_takes_the_same():
    parameters = inspect.signature(ms.find).parameters
    options = {o.name for c in [__import__("motifsearch.cli", fromlist=["main"]).main]
               for o in c.commands["find"].params}  # fmt: skip
    for name in ("brief", "like", "out", "overwrite", "workers", "paper"):
        assert name in parameters
        assert name in options
    assert "find" in ms.__all__


@pytest.mark.slow
def test_a_run_leaves_what_it_found_and_is_the_same(tmp_path, searched):
    library = tmp_path / "mine.sqlite"
    ran = ms.search(None, overrides=TINY, out=tmp_path / "a", library=library)
    assert "kinds are new in" in ran.said[-1]
    assert tree(tmp_path / "a") == tree(searched)
    with opened(library) as own:
        keys = {int(k) for s in own.sizes() for k in own.read(s.strands, s.period, ["key"])["key"]}
    assert {int(canonical_key(one.pattern), 16) for one in ran} <= keys
    assert len(keys) > 20
    # Beside the run folder, without being asked.
    (tmp_path / "results").mkdir()
    with opened(tmp_path / BESIDE, make=True):
        pass
    ran = ms.search(None, overrides=TINY, out=tmp_path / "results" / "b")
    assert str(tmp_path / BESIDE) in ran.said[-1]
    assert tree(tmp_path / "results" / "b") == tree(searched)
    with opened(tmp_path / BESIDE) as own:
        assert len(own) == len(keys)


@pytest.mark.slow
def test_a_search_can_start_from_the_library(tmp_path):
    ask = {**TINY, "search.generations": 1, "limits.on_hand": False}
    found = ms.find(None, overrides={**ask, "gallery.size": 24})
    best = max(one.wishes_met for one in found if one.pattern.rows in (2, 4, 6))
    warm = ms.search(None, overrides={**ask, "search.warm": True})
    cold = ms.search(None, overrides=ask)
    assert warm[0].wishes_met >= best - 1e-9
    assert warm[0].wishes_met > cold[0].wishes_met
    # The same bytes on any number of workers, and the brief says how it began.
    for workers in (1, 2):
        ms.search(None, overrides={**ask, "search.warm": True}, workers=workers,
                  out=tmp_path / str(workers))  # fmt: skip
    assert tree(tmp_path / "1") == tree(tmp_path / "2")
    assert "warm = true" in (tmp_path / "1" / "brief.toml").read_text()


def test_a_library_that_is_broken_costs_no_run(tmp_path):
    (tmp_path / BESIDE).write_bytes(b"no library" * 100)
    ran = ms.search(None, overrides=TINY, out=tmp_path / "a")
    assert len(ran) == 3
    assert "took nothing in" in ran.said[-1]
    assert (tmp_path / "a" / "gallery.html").is_file()
    # One that is asked for by name is looked at before the search.
    with pytest.raises(InputError, match="expected a library"):
        ms.search(None, overrides=TINY, out=tmp_path / "b", library=tmp_path / BESIDE)
    assert not (tmp_path / "b").exists()


@pytest.mark.slow
def test_adding_merging_and_counting(tmp_path, library, searched):
    other = tmp_path / "other.sqlite"
    more = {**TINY, "search.seed": 9, "strands": 9}
    ms.search(None, overrides=more, out=tmp_path / "two")
    result = run("library", "add", other, tmp_path / "two", searched, "--workers", 1)
    assert "kinds are new in" in result.output
    assert "0 of" in run("library", "add", other, searched, "--workers", 1).output
    merged = tmp_path / "merged.sqlite"
    assert library_merge(merged, [library]).kinds == library_merge(merged, [other]).met - int(
        library_text(other).split("9 strands: ")[1].split()[0].replace(",", "")
    )
    text = run("library", "stats", merged).output
    assert text.splitlines()[0].startswith("8 strands: ")
    assert text.splitlines()[1].startswith("9 strands: ")
    assert "not looked at" not in text
    assert run("library", "check", merged).output == "nothing is wrong\n"
    with opened(merged) as one, opened(other) as two:
        assert len(one) == len(two)


def test_a_check_finds_scores_that_do_not_follow(tmp_path, library):
    path = tmp_path / "wrong.sqlite"
    with opened(library) as own, opened(path, make=True) as wrong:
        size = own.sizes()[0]
        kinds = own.read(size.strands, size.period)
        columns = {**kinds.columns, "movement": kinds["movement"] * np.float32(0.5)}
        wrong.add([type(kinds)(kinds.strands, kinds.period, columns)])
    assert any("movement" in line for line in library_damage(path))
    assert "movement" in run("library", "check", path, code=1).output


def test_the_library_of_the_program():
    """Some thousand kinds for 6 to 16 strands, under a megabyte, all sound."""
    assert PACKED.stat().st_size < 1_000_000
    assert gzip.decompress(PACKED.read_bytes())[:15] == b"SQLite format 3"
    with starter() as own:
        widths = {s.strands for s in own.sizes()}
        assert widths == set(range(6, 17))
        assert len(own) >= 3000
        for strands in widths:
            assert sum(s.kinds for s in own.sizes() if s.strands == strands) >= 150
            figures = [own.read(s.strands, s.period, ["figure"])["figure"]
                       for s in own.sizes() if s.strands == strands]  # fmt: skip
            assert len(set(np.concatenate(figures).tolist())) >= 5
    assert library_damage() == ()


def test_the_library_of_the_program_is_only_read(tmp_path):
    before = PACKED.read_bytes()
    with libraries() as (own,):
        assert len(own) > 0
    ms.find(None, overrides=ASK)
    assert PACKED.read_bytes() == before


@pytest.mark.slow
@pytest.mark.parametrize("strands", range(6, 17))
def test_a_new_user_gets_a_gallery_at_once(strands):
    """The demo's box, any width, nothing else said."""
    found = ms.find(None, overrides={"stash": str(STASH), "strands": strands, "wrist_mm": 150.0})
    assert len(found) >= 20
    assert all(one.plan.feasible for one in found)
    assert found[0].wishes_met > 0.85
