"""A group: what it writes is held against the stash file and the patterns, read by the tests alone.

A plan is right when every piece holds the cuts that are taken from it, and every band has the cuts
that ``motifsearch cut`` says for its pattern and its length; both are summed up here anew.
"""

from __future__ import annotations

import csv
import io
import json
import re
import shutil
import tomllib
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

import motifsearch as ms
from motifsearch.base.errors import InfeasibleError, InputError
from motifsearch.cli import main
from motifsearch.pattern.effort import effort
from motifsearch.pattern.files import read_pattern
from motifsearch.runs.grouping import GroupRun, group, group_text
from motifsearch.runs.handing import read_plan
from motifsearch.runs.one import cut
from motifsearch.runs.sheets import worksheet
from motifsearch.search.group import read_group
from motifsearch.thread.batch import parted

pytestmark = pytest.mark.slow

STASH = """
[[threads]]
name = "teal"
colour = "#1c6b70"
tex = 250
pieces_m = [8, 3.4, 1.9]
skein_m = 8

[[threads]]
name = "sand"
colour = "#d8c39a"
tex = 250
pieces_m = [8, 5.2]
skein_m = 8

[[threads]]
name = "brick"
colour = "#a5432d"
tex = 300
pieces_m = [8, 2.65]
skein_m = 8

[[threads]]
name = "plum"
colour = "#6b3357"
tex = 250
pieces_m = []
skein_m = 8
"""
HEAD = """
title = "Five at the table"
stash = "stash.toml"
strands = 6
colours_max = 3
{alike}
[limits]
contrast_min = 10
[search]
seed = 3
generations = 6
population = 60
periods = [4, 6]
"""
PEOPLE = """
[[people]]
name = "Mira"
wrist_mm = 140
colours = ["teal"]
[[people]]
name = "Jo"
wrist_mm = 150
not_colours = ["brick"]
[[people]]
name = "Ilvi"
length_mm = 100
level = "some practice"
[[people]]
name = "Tam <b>"
wrist_mm = 160
[[people]]
name = "=Bo"
wrist_mm = 140
colours = ["brick"]
not_colours = ["teal"]
"""


def written(folder: Path, text: str, stash: str = STASH) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "stash.toml").write_text(stash, encoding="utf-8")
    path = folder / "group.toml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def five(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, GroupRun]:
    place = tmp_path_factory.mktemp("five")
    path = written(place, HEAD.format(alike='alike = "none"') + PEOPLE)
    return place, group(path, out=place / "run")


def plan_of(folder: Path) -> dict[str, Any]:
    data: dict[str, Any] = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    return data


def check_plan(folder: Path, stash: str) -> None:
    """Every piece of the stash file gives its cuts, and what is left of it is what is said."""
    data = plan_of(folder)
    pieces = {
        t["name"]: [1000.0 * m for m in t["pieces_m"]] for t in tomllib.loads(stash)["threads"]
    }
    used: Counter[tuple[str, int]] = Counter()
    for band in data["bands"]:
        for one in band["cuts"]:
            assert one["piece_mm"] == pieces[one["colour"]][one["piece"]]
            used[one["colour"], one["piece"]] += one["length_mm"]
    for colour, own in pieces.items():
        left = [mm - used[colour, n] for n, mm in enumerate(own)]
        assert min(left, default=0.0) >= 0
        assert data["pieces_left_mm"][colour] == pytest.approx(left)


def test_the_plan_comes_from_the_pieces(five: tuple[Path, GroupRun]) -> None:
    place, run = five
    check_plan(place / "run", STASH)
    data = plan_of(place / "run")
    assert [b["name"] for b in data["bands"]] == [band.name for band in run.bands]
    assert data["possible"] == run.possible == len(data["bands"]) <= data["bound"] <= 5
    assert run.possible >= 4


def test_every_band_is_cut_for_its_own_length(five: tuple[Path, GroupRun]) -> None:
    place, _ = five
    people = {p.name: p for p in read_group(place / "group.toml").people}
    for band in plan_of(place / "run")["bands"]:
        path = place / "run" / band["pattern"]
        assert band["length_mm"] == people[band["name"]].length_mm
        own = cut(path)
        assert own.settings.length_mm == band["length_mm"]
        assert {c.label: c.length_mm for c in own.cuts.cuts} == {
            c["label"]: c["length_mm"] for c in band["cuts"]
        }
        # The strands that are folded together have one colour, and all strands have a thread.
        order = read_pattern(path).colour_order
        assert sorted(s for c in band["cuts"] for s in c["strands"]) == list(range(1, 7))
        assert all(order[s - 1] == c["colour"] for c in band["cuts"] for s in c["strands"])
        # The part of the plan that its worksheet shows is that of the whole group.
        assert own.plan is not None
        shown = {label: p.piece_mm for p in own.plan.pieces for label, _ in p.cuts}
        assert shown == {c["label"]: c["piece_mm"] for c in band["cuts"]}


def test_what_people_asked_for(five: tuple[Path, GroupRun]) -> None:
    _, run = five
    for band in run.bands:
        used = set(band.candidate.pattern.palette)
        assert not used & set(band.person.not_colours)
        if band.person.level:
            assert effort(band.candidate.pattern).level in ("first band", "some practice")
        assert band.candidate.title.startswith(f"{band.name}: ")
    mira = next(b for b in run.bands if b.name == "Mira")
    assert "teal" in mira.candidate.pattern.palette
    knots = [b.candidate.pattern.knots for b in run.bands]
    assert len(set(knots)) == len(knots)  # all different


def test_limits_hold_at_each_length(five: tuple[Path, GroupRun]) -> None:
    _, run = five
    for band in run.bands:
        contrast = band.candidate.scores.colour.contrast
        assert contrast is not None
        assert contrast >= 10


def test_the_files_that_are_handed_out(five: tuple[Path, GroupRun]) -> None:
    place, run = five
    page = (place / "run/class.html").read_text(encoding="utf-8")
    assert "Tam &lt;b&gt;" in page
    assert "Tam <b>" not in page
    assert "<script" not in page
    assert "style=" not in page
    rows = list(csv.DictReader(io.StringIO((place / "run/cutting-list.csv").read_text("utf-8"))))
    assert len(rows) == sum(len(b.candidate.cuts.cuts) for b in run.bands)
    # In the order of the stash, piece by piece; a name is no formula.
    order = [("teal", "sand", "brick").index(r["colour"]) * 100 + int(r["piece"]) for r in rows]
    assert order == sorted(order)
    assert {r["for"] for r in rows if "Bo" in r["for"]} <= {"'=Bo"}
    for row in rows:
        name = row["for"].removeprefix("'")
        band = next(b for b in run.bands if b.name == name)
        own = next(c for c in band.candidate.cuts.cuts if c.label == row["label"])
        assert own.length_mm == float(row["cut_mm"])
        assert f"{int(row['cut_mm']) / 10:g} cm" in page
    for one in run:
        assert (place / "run" / one.folder / "worksheet.pdf").stat().st_size > 1000
    assert "who makes which" in group_text(run)


def test_opened_and_built_again_it_is_the_same(five: tuple[Path, GroupRun], tmp_path: Path) -> None:
    place, run = five
    again = ms.open_run(place / "run")
    assert [one.plan for one in again] == [one.plan for one in run]
    shutil.copytree(place / "run", tmp_path / "run")
    before = {p: p.read_bytes() for p in sorted((tmp_path / "run").rglob("*.csv"))}
    result = CliRunner().invoke(main, ["gallery", str(tmp_path / "run")])
    assert result.exit_code == 0, result.output
    assert {p: p.read_bytes() for p in sorted((tmp_path / "run").rglob("*.csv"))} == before


def test_a_damaged_plan_is_named(five: tuple[Path, GroupRun], tmp_path: Path) -> None:
    place, run = five
    shutil.copytree(place / "run", tmp_path / "run")
    for text in (
        "{",
        "[]",
        '{"bands": 3}',
        (place / "run/plan.json").read_text().replace("8000", "9000"),
    ):
        (tmp_path / "run/plan.json").write_text(text, encoding="utf-8")
        opened = ms.open_run(tmp_path / "run")
        assert len(opened) == len(run)
        assert any("plan.json" in line for line in opened.said)
        with pytest.raises(InputError, match=r"plan\.json"):
            read_plan(tmp_path / "run")


def test_booked_in_one_step_and_taken_back(five: tuple[Path, GroupRun], tmp_path: Path) -> None:
    place, run = five
    stash = tmp_path / "stash.toml"
    stash.write_text(STASH, encoding="utf-8")
    done = CliRunner().invoke(main, ["stash", "use", str(place / "run"), "--stash", str(stash)])
    assert done.exit_code == 0, done.output
    left = {t["name"]: sorted(t["pieces_m"]) for t in tomllib.loads(stash.read_text())["threads"]}
    plan = plan_of(place / "run")
    for colour, own in plan["pieces_left_mm"].items():
        assert left[colour] == pytest.approx(
            sorted(mm / 1000 for mm in own if mm >= plan["useful_mm"])
        )
    [booking] = ms.bookings(stash)
    assert booking.bands == run.possible
    assert "Mira" in booking.title
    # The printed plan cannot be cut twice from the same pieces.
    again = CliRunner().invoke(main, ["stash", "use", str(place / "run"), "--stash", str(stash)])
    assert again.exit_code == 2
    assert "the box has changed" in again.output
    none = CliRunner().invoke(main, ["stash", "use", str(place), "--stash", str(stash)])
    assert none.exit_code == 2
    assert "or the run folder of a group" in none.output
    ms.undo(stash)
    assert ms.read_stash(stash).threads == ms.read_stash(place / "stash.toml").threads
    other = CliRunner().invoke(
        main, ["stash", "use", str(place / "run"), "--stash", str(stash), "--bands", "2"]
    )
    assert other.exit_code == 2
    assert "as it was planned" in other.output


def test_the_command_and_any_number_of_workers_write_the_same(
    five: tuple[Path, GroupRun], tmp_path: Path
) -> None:
    place, _ = five
    path = written(tmp_path, HEAD.format(alike='alike = "none"') + PEOPLE)
    result = CliRunner().invoke(
        main, ["group", str(path), "--out", str(tmp_path / "run"), "--workers", "2", "--quiet"]
    )
    assert result.exit_code == 0, result.output
    assert "Mira: " in result.output
    for one in sorted(
        p.relative_to(place / "run") for p in (place / "run").rglob("*") if p.is_file()
    ):
        if ".motifsearch" not in one.parts:
            assert (tmp_path / "run" / one).read_bytes() == (place / "run" / one).read_bytes(), one


@pytest.mark.parametrize("alike", ["all", "designs"])
def test_all_alike_and_few_designs(tmp_path: Path, alike: str) -> None:
    more = "\ndesigns = 1" if alike == "designs" else ""
    path = written(
        tmp_path, f'bands = 3\nwrist_mm = 140{HEAD.format(alike=f"""alike = "{alike}"{more}""")}'
    )
    run = group(path)
    assert run.possible == 3
    assert [band.name for band in run.bands] == ["Band 1", "Band 2", "Band 3"]
    assert len({one.pattern.knots for one in run}) == 1
    faces = {(one.pattern.knots, one.pattern.colour_order) for one in run}
    assert len(faces) == (1 if alike == "all" else 3)
    run.write(tmp_path / "out")
    check_plan(tmp_path / "out", STASH)


def test_a_box_that_is_too_small_says_who_gets_none_and_what_to_buy(tmp_path: Path) -> None:
    small = re.sub(r"pieces_m = \[8.*\]", "pieces_m = [5]", STASH)
    path = written(tmp_path, HEAD.format(alike='alike = "none"') + PEOPLE, small)
    run = group(path, out=tmp_path / "run")
    check_plan(tmp_path / "run", small)
    assert run.possible < 5
    assert len(run.without) == 5 - run.possible
    # 15 m at 3 pieces of 5 m; a band of 6 strands cuts 3 threads of more than 1.2 m each.
    assert run.bound <= 15 / (3 * 1.2)
    assert run.shopping is not None
    assert sum(line.skeins for line in run.shopping.lines) >= 1
    said = group_text(run)
    assert f"Without a band: {', '.join(run.without)}." in said
    assert "To buy" in said
    assert all(
        name
        in (tmp_path / "run/class.html")
        .read_text(encoding="utf-8")
        .replace("&lt;", "<")
        .replace("&gt;", ">")
        for name in run.without
    )


def test_nothing_can_be_made(tmp_path: Path) -> None:
    small = re.sub(r"pieces_m = \[8.*\]", "pieces_m = [0.5]", STASH)
    path = written(tmp_path, HEAD.format(alike='alike = "none"') + PEOPLE, small)
    with pytest.raises(InfeasibleError, match="not enough for any band"):
        group(path, out=tmp_path / "run")
    assert not (tmp_path / "run").exists()


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (PEOPLE + PEOPLE, r"people\[6\]\.name: expected every name once"),
        ("bands = 2\n" + PEOPLE, "either bands"),
        ("", "either bands"),
        ("bands = 0\nwrist_mm = 150", "bands: expected a whole number from 1 to 500"),
        ("bands = 2", "wrist_mm"),
        ('bands = 2\nwrist_mm = 150\nalike = "some"', "alike"),
        ("bands = 2\nwrist_mm = 150\ndesigns = 2", 'alike = "designs"'),
        ('[[people]]\nname = "A"\nwrist_mm = 150\ncolours = ["teel"]', "did you mean 'teal'"),
        ('[[people]]\nwrist_mm = 150\ncolours = ["teal"]\nnot_colours = ["teal"]', "refused"),
        ('[[people]]\nname = "A"\nwrist_mm = 150\nlength_mm = 90', "not both"),
        ('[[people]]\nname = "A"\nwrist_mm = 15', "wrist_mm"),
        ('[[people]]\nname = " "\nwrist_mm = 150', "expected a name"),
        ('[[people]]\nname = "A"\nwrist_mm = 150\nlevel = "hard"', "level"),
        ('[[people]]\nname = "A"\nwrist_mm = 150\nage = 9', "age"),
        ("people = 3", "people"),
    ],
)  # fmt: skip
def test_what_cannot_be_used_is_named(tmp_path: Path, text: str, says: str) -> None:
    head = 'strands = 6\nstash = "stash.toml"\n'
    path = written(tmp_path, head + text)
    with pytest.raises(InputError, match=says) as bad:
        read_group(path)
    assert "group.toml" in str(bad.value)


def test_labels_of_a_plan() -> None:
    assert parted("1A") == (1, "A")
    assert parted("20AB") == (20, "AB")


def test_names_in_the_bands_of_a_class(tmp_path: Path) -> None:
    people = """
[[people]]
name = "Mira"
wrist_mm = 140
text = "MI"
not_colours = ["teal"]
[[people]]
name = "Jo"
wrist_mm = 120
text = "JO"
"""
    head = 'title = "Names"\nstash = "stash.toml"\nstrands = 14\nalike = "none"\n'
    plenty = re.sub(r"pieces_m = \[8.*\]", "pieces_m = [8, 8, 8, 8]", STASH)
    run = group(written(tmp_path, head + people, plenty), out=tmp_path / "run")
    assert [band.name for band in run.bands] == ["Mira", "Jo"]
    check_plan(tmp_path / "run", plenty)
    for band in run.bands:
        assert band.person.text in band.candidate.title
        contrast = band.candidate.scores.colour.contrast
        assert contrast is not None
        assert contrast >= 30
    assert "teal" not in run[0].pattern.palette
    # A mirror would turn letters over, also where the run itself has no text.
    listed = json.loads((tmp_path / "run/plan.json").read_text(encoding="utf-8"))["bands"]
    assert [one["text"] for one in listed] == ["MI", "JO"]
    for one in (
        tmp_path / "run/candidates/001/pattern.toml",
        ms.open_run(tmp_path / "run").candidates[1],
    ):
        with pytest.raises(InputError, match="turn the letters over"):
            worksheet(one, form="txt", left_handed=True)
        assert worksheet(one, form="txt")[0]
    too_long = people.replace('"MI"', '"MIRA MIRA MIRA MIRA MIRA MIRA"')
    with pytest.raises(InfeasibleError, match="Mira: "):
        group(written(tmp_path / "b", head + too_long, plenty))
