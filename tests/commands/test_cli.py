"""The command from outside: what it writes, what it says, and how it ends.

Searches here are small: tens of designs, a few generations.
"""

from __future__ import annotations

import csv
import io
import json
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from motifsearch.cli import main
from motifsearch.pattern.canonical_form import canonical
from motifsearch.pattern.files import read_pattern

CONFIGS = Path(__file__).parents[2] / "configs"
PATTERNS = CONFIGS / "patterns"
CHEVRON = str(PATTERNS / "chevron.toml")
STASH = (CONFIGS / "stash-workshop.toml").read_text(encoding="utf-8")
BRIEF = """\
title = "A small search"
stash = "stash.toml"
strands = 8
wrist_mm = 150
colours_max = 3

[limits]
repeat_rows_max = 24

[search]
seed = 5
population = 40
generations = 10
periods = [4, 6]

[gallery]
size = 3
"""
FILES = ("pattern.toml", "scores.json", "cut.csv", "face.png", "worksheet.pdf", "board.html")


def run(*args: object, code: int = 0):
    """Run the command; a traceback is a failure whatever the exit code."""
    result = CliRunner().invoke(main, [str(a) for a in args])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    assert result.exit_code == code, result.output
    return result


def tree(folder: Path) -> dict[str, bytes]:
    """Return every file below a folder with its bytes."""
    return {
        p.relative_to(folder).as_posix(): p.read_bytes()
        for p in sorted(folder.rglob("*"))
        if p.is_file()
    }


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """A folder with a brief and its stash."""
    folder = tmp_path_factory.mktemp("cli")
    (folder / "stash.toml").write_text(STASH, encoding="utf-8")
    (folder / "brief.toml").write_text(BRIEF, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def found(place):
    """One finished run, in one process."""
    folder = place / "found"
    run("search", place / "brief.toml", "--out", folder, "--workers", 1)
    return folder


@pytest.fixture(scope="module")
def twenty(place):
    """The same run with twenty generations."""
    folder = place / "twenty"
    run("search", place / "brief.toml", "--generations", 20, "--out", folder, "--workers", 1)
    return folder


# --- what a search writes ------------------------------------------------------------------


def test_the_run_folder_is_whole(found):
    """The files of section 6 of the design, and nothing left over."""
    names = {"brief.toml", "stash.toml", "run.json", "ranking.csv", "gallery.html", "gallery.png"}
    assert {p.name for p in found.iterdir()} == {
        *names,
        "checkpoint.npz",
        "candidates",
        ".motifsearch",
    }
    folders = sorted((found / "candidates").iterdir())
    assert [p.name for p in folders] == ["001", "002", "003"]
    for folder in folders:
        assert {p.name for p in folder.iterdir()} == set(FILES)
        assert (folder / "face.png").read_bytes().startswith(b"\x89PNG\r\n")
        assert (folder / "worksheet.pdf").read_bytes().startswith(b"%PDF-")


def test_run_json_says_what_happened(found):
    info = json.loads((found / "run.json").read_text(encoding="utf-8"))
    assert info["version"]
    assert info["seed"] == 5
    assert info["generations"] == 10
    assert info["stopped_by"] == "generations"
    assert info["scored"] == sum(i["scored"] for i in info["islands"]) > 100
    assert [i["rows"] for i in info["islands"]] == [4, 6]
    assert [r["folder"] for r in info["ranking"]] == [f"candidates/00{n}" for n in (1, 2, 3)]


def test_the_ranking_is_ranked(found):
    rows = list(csv.DictReader(io.StringIO((found / "ranking.csv").read_text(encoding="utf-8"))))
    assert [r["rank"] for r in rows] == ["1", "2", "3"]
    worth = [float(r["wishes_met"]) for r in rows]
    assert worth == sorted(worth, reverse=True)
    for row in rows:
        scores = json.loads((found / row["folder"] / "scores.json").read_text())
        assert int(row["repeat_rows"]) == scores["repeat_rows"]
        assert row["frieze_group"] == scores["symmetry"]["frieze_group"]
        assert float(row["evenness"]) == pytest.approx(scores["thread"]["evenness"], abs=5e-5)


def test_scores_json_is_what_score_says(found):
    """The same numbers, whoever computes them."""
    for folder in sorted((found / "candidates").iterdir()):
        said = run(
            "score", folder / "pattern.toml", "--json", "--length", 150 + 10 - 30,
            "--stash", found / "stash.toml",
        ).output  # fmt: skip
        assert json.loads(said) == json.loads((folder / "scores.json").read_text())


def test_the_designs_keep_the_brief(found):
    """Folded threads, number of colours, longest repeat; and no design twice."""
    forms = set()
    for folder in (found / "candidates").iterdir():
        pattern = read_pattern(folder / "pattern.toml")
        forms.add(canonical(pattern))
        assert pattern.strands == 8
        assert 2 <= len(pattern.palette) <= 3
        assert all(pattern.colour_order.count(c) % 2 == 0 for c in pattern.palette)
        assert json.loads((folder / "scores.json").read_text())["repeat_rows"] <= 24
    assert len(forms) == 3


def test_every_cut_comes_from_a_piece_on_hand(found):
    """By hand from cut.csv: pieces exist, and no piece is cut to more than it holds."""
    stash = tomllib.loads((found / "stash.toml").read_text(encoding="utf-8"))
    pieces = {t["name"]: [round(p * 1000) for p in t["pieces_m"]] for t in stash["threads"]}
    for folder in (found / "candidates").iterdir():
        rows = list(csv.DictReader(io.StringIO((folder / "cut.csv").read_text())))
        assert sorted(int(n) for r in rows for n in r["notches"].split()) == list(range(1, 9))
        used: dict[tuple[str, int], float] = {}
        for row in rows:
            cut, piece = float(row["cut_mm"]), int(row["from_piece_mm"])
            parts = [row[k].split() for k in ("need_mm", "margin_mm", "allowance_mm")]
            assert cut >= sum(float(v) for part in parts for v in part) - 1
            assert 0 < float(row["fold_mm"]) < cut
            assert piece in pieces[row["colour"]]
            used[(row["colour"], piece)] = used.get((row["colour"], piece), 0) + cut
        for (colour, piece), total in used.items():
            assert total <= piece * pieces[colour].count(piece)


def test_the_brief_as_resolved_gives_the_run_again(found, place):
    """The folder holds all that is needed to repeat it, to the byte."""
    again = place / "again"
    run("search", found / "brief.toml", "--out", again, "--workers", 1)
    assert tree(again) == tree(found)


@pytest.mark.slow
def test_any_number_of_workers_writes_the_same_bytes(found, place):
    two = place / "two"
    run("search", place / "brief.toml", "--out", two, "--workers", 2)
    assert tree(two) == tree(found)


@pytest.mark.slow
def test_ten_and_ten_generations_are_twenty(found, twenty, tmp_path):
    parts = tmp_path / "parts"
    shutil.copytree(found, parts)
    run("search", "--resume", parts, "--generations", 20, "--workers", 1)
    assert tree(parts) == tree(twenty)


@pytest.mark.slow
def test_seven_and_thirteen_generations_are_twenty(place, twenty, tmp_path):
    """Stopped between two exchanges."""
    parts = tmp_path / "parts"
    run("search", place / "brief.toml", "--generations", 7, "--out", parts, "--workers", 1)
    run("search", "--resume", parts, "--generations", 20, "--workers", 1)
    assert tree(parts) == tree(twenty)


@pytest.mark.slow
def test_another_seed_is_another_run(found, place, tmp_path):
    run("search", place / "brief.toml", "--seed", 6, "--out", tmp_path / "x", "--workers", 1)
    other = json.loads((tmp_path / "x" / "run.json").read_text())["ranking"]
    mine = json.loads((found / "run.json").read_text())["ranking"]
    assert [r["canonical"] for r in other] != [r["canonical"] for r in mine]


def test_a_search_without_a_brief(place, tmp_path):
    result = run(
        "search", "--stash", place / "stash.toml", "--strands", 6, "--wrist-mm", 140,
        "--population", 20, "--generations", 2, "--size", 2, "--repeat-rows-max", 8,
        "--wish", "movement=3", "--colour", "sand", "--colour", "moss", "--out", tmp_path / "run",
        "--workers", 1,
    )  # fmt: skip
    assert f"Open {tmp_path / 'run' / 'gallery.html'} in a browser." in result.output
    brief = tomllib.loads((tmp_path / "run" / "brief.toml").read_text())
    assert brief["colours"] == ["sand", "moss"]
    assert brief["wishes"]["movement"] == 3.0
    assert len(list((tmp_path / "run" / "candidates").iterdir())) == 2


def test_a_run_without_a_name_goes_to_results(place, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    args = ("search", place / "brief.toml", "--generations", 2, "--population", 20, "--size", 1)
    run(*args, "--workers", 1)
    assert [p.name for p in (tmp_path / "results").iterdir()] == ["brief-seed5"]
    before = tree(tmp_path)
    result = run(*args, "--workers", 1, code=2)
    assert "results/brief-seed5: the run folder exists already" in result.stderr
    assert tree(tmp_path) == before


def test_a_finished_run_is_not_written_over(found, place):
    before = tree(found)
    result = run("search", place / "brief.toml", "--out", found, code=2)
    assert result.stderr == (
        f"motifsearch: {found}: the run folder exists already; choose another with --out, go on "
        "with --resume, or give --overwrite\n"
    )
    assert tree(found) == before


@pytest.mark.slow
def test_overwrite_gives_the_run_of_a_new_folder(found, place, tmp_path):
    folder = tmp_path / "old"
    shutil.copytree(found, folder)
    (folder / "candidates" / "003" / "worksheet.pdf").unlink()
    run("search", place / "brief.toml", "--out", folder, "--overwrite", "--workers", 1)
    assert tree(folder) == tree(found)


def test_the_gallery_can_be_built_again(found, tmp_path):
    folder = tmp_path / "run"
    shutil.copytree(found, folder)
    run("gallery", folder)
    old, new = tree(found), tree(folder)
    assert old.keys() == new.keys()
    for name in old:
        if name.endswith(("pattern.toml", "scores.json", "cut.csv", "face.png")):
            assert new[name] == old[name], name


def test_a_favourite_comes_first(found, tmp_path):
    out = tmp_path / "mine"
    run("gallery", found, "--favourite", "3", "--out", out)
    first = (out / "candidates" / "001" / "pattern.toml").read_bytes()
    assert first == (found / "candidates" / "003" / "pattern.toml").read_bytes()


def test_a_damaged_candidate_is_named(found, tmp_path):
    folder = tmp_path / "run"
    shutil.copytree(found, folder)
    (folder / "candidates" / "002" / "pattern.toml").write_text("rows = 3")
    result = run("gallery", folder, "--out", tmp_path / "new")
    assert "2 designs in" in result.output
    assert "skipped run/002" in result.output


# --- what it refuses -----------------------------------------------------------------------


def refused(*args: object, code: int = 2) -> str:
    """Run the command; return its one message."""
    result = run(*args, code=code)
    assert result.stdout == ""
    assert result.stderr.startswith("motifsearch: ")
    assert result.stderr.count("\n") == 1
    assert "Traceback" not in result.stderr
    return result.stderr.removeprefix("motifsearch: ").rstrip("\n")


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("strands = 8", "strnads = 8", "strnads: unknown key (did you mean 'strands'?)"),
        (
            "strands = 8", "strands = 30",
            "strands: expected a whole number from 4 to 24, found 30",
        ),
        (
            "wrist_mm = 150", "wrist_mm = 0",
            "wrist_mm: expected a number from 50 to 600, found 0",
        ),
        (
            "wrist_mm = 150", "length_mm = -1",
            "length_mm: expected a number from 35 to 2000, found -1",
        ),
        (
            "wrist_mm = 150", "length_mm = nan",
            "length_mm: expected a number from 35 to 2000, found nan",
        ),
        (
            "size = 3", "size = 0",
            "gallery.size: expected a whole number from 1 to 500, found 0",
        ),
        (
            "population = 40", "population = 3",
            "search.population: expected a whole number from 20 to 20000, found 3",
        ),
    ],
)  # fmt: skip
def test_a_brief_that_is_wrong(place, tmp_path, old, new, message):
    path = tmp_path / "brief.toml"
    (tmp_path / "stash.toml").write_text(STASH)
    path.write_text(BRIEF.replace(old, new))
    assert refused("search", path, "--out", tmp_path / "run") == f"{path}: {message}"
    assert not (tmp_path / "run").exists()


COLOUR = 'threads[1].colour: expected a colour such as "#c04020"'


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("#1c6b70", "teal", f"{COLOUR}, found 'teal'"),
        ("#1c6b70", "#1c6b7", f"{COLOUR}, found '#1c6b7'"),
        ("tex = 250", "tex = 0", "threads[1].tex: expected a number above 0 up to 100000, found 0"),
        ("tex = 250", "tx = 250", "threads[1].tx: unknown key (did you mean 'tex'?)"),
        (
            "[8, 8, 3.4, 1.9]", "[8, -3]",
            "threads[1].pieces_m[1]: expected a length in m from 0.001 to 2000, found -3",
        ),
        (
            "[8, 8, 3.4, 1.9]", "[8, nan]",
            "threads[1].pieces_m[1]: expected a length in m from 0.001 to 2000, found nan",
        ),
        (
            'name = "sand"', 'name = "deep teal"',
            "threads[2].name: expected a name unlike threads[1].name, found 'deep teal'",
        ),
    ],
)  # fmt: skip
def test_a_stash_that_is_wrong(tmp_path, old, new, message):
    path = tmp_path / "stash.toml"
    assert old in STASH
    path.write_text(STASH.replace(old, new, 1))
    (tmp_path / "brief.toml").write_text(BRIEF)
    said = refused("search", tmp_path / "brief.toml", "--out", tmp_path / "run")
    assert said == f"{path}: {message}"
    assert refused("score", CHEVRON, "--stash", path) == f"{path}: {message}"
    assert not (tmp_path / "run").exists()


def test_files_that_are_missing(tmp_path):
    none = tmp_path / "none.toml"
    assert refused("search", none) == f"{none}: expected a brief; no such file"
    assert refused("score", none) == f"{none}: expected a pattern file; no such file"
    assert refused("draw", none) == f"{none}: expected a pattern file; no such file"
    assert refused("worksheet", none) == f"{none}: expected a pattern file; no such file"
    said = f"{none}: expected a stash file; no such file"
    assert refused("score", CHEVRON, "--stash", none) == said
    assert "no such file" in refused("search", "--resume", none)
    assert "no such file" in refused("gallery", none)


def test_a_file_that_is_no_toml(tmp_path):
    path = tmp_path / "x.toml"
    path.write_text("strands = = 8\n")
    assert refused("search", path).startswith(f"{path}: expected a brief in TOML: ")


@pytest.mark.parametrize("length", ["0", "-5", "nan", "inf", "-inf", "1e9"])
def test_lengths_that_are_none(length, tmp_path):
    for args in (["score", CHEVRON], ["worksheet", CHEVRON], ["show", CHEVRON], ["cut", CHEVRON]):
        said = refused(*args, "--length", length)
        assert said.startswith("--length: expected a knotted length from 35 to 2000 mm")
    brief = ("search", "--stash", CONFIGS / "stash-workshop.toml", "--strands", "8")
    said = refused(*brief, "--length-mm", length, "--out", tmp_path / "run")
    assert "--length-mm: expected a number from 35 to 2000, found" in said
    assert not (tmp_path / "run").exists()


@pytest.mark.parametrize(
    ("args", "message"),
    [
        ([], "give a BRIEF, or --stash, --strands and --wrist-mm (or --length-mm)"),
        (["--strands", "eight"], "'eight' is not a valid integer"),
        (["--strnads", "8"], "No such option"),
        (["--workers", "0"], "0 is not in the range"),
    ],
)
def test_usage(args, message):
    result = run("search", *args, code=2)
    assert message in result.stderr
    assert result.stderr.startswith("Usage: ")


@pytest.mark.parametrize(
    "wish", ["movement=much", "movemint=1", "movement=-1", "movement=nan", "=", "=1"]
)
def test_wishes_that_are_none(place, tmp_path, wish):
    said = refused("search", place / "brief.toml", "--wish", wish, "--out", tmp_path / "run")
    assert "wish" in said
    assert not (tmp_path / "run").exists()


def small(tmp_path: Path, extra: str, stash: str = STASH) -> Path:
    (tmp_path / "stash.toml").write_text(stash)
    path = tmp_path / "brief.toml"
    head, _, tail = BRIEF.partition("[limits]\n")
    path.write_text(f"{head}[limits]\n{extra}{tail}".replace("[4, 6]", "[4]"))
    return path


def test_evenness_that_no_design_reaches(tmp_path):
    """Returning borders use more than the rest: with them no band is perfectly even."""
    path = small(tmp_path, "border = true\nevenness_min = 1.0\n")
    said = refused("search", path, "--out", tmp_path / "run", "--workers", 1)
    assert said.startswith("no design was found that keeps all limits of the brief")
    assert "limits.evenness_min = 1.0" in said
    assert not (tmp_path / "run").exists()


def test_too_few_threads(tmp_path):
    """The message says how much there is and about how much is needed."""
    stash = STASH.split("[[threads]]")[0] + "".join(
        f'[[threads]]\nname = "{n}"\ncolour = "#{k}0{k}0{k}0"\ntex = 250\npieces_m = [0.4]\n'
        for k, n in enumerate(("sand", "teal"), 3)
    )
    path = small(tmp_path, "", stash)
    said = refused("search", path, "--out", tmp_path / "run", "--workers", 1)
    assert "limits.on_hand" in said
    assert "too little: 0.8 m in all" in said
    assert not (tmp_path / "run").exists()


@pytest.mark.slow
def test_pieces_that_are_too_short(tmp_path):
    """Thread enough in all, and one long piece of each, but no plan: no half-written folder."""
    pieces = ", ".join(["2.6", *["0.2"] * 90])
    stash = "".join(
        f'[[threads]]\nname = "{n}"\ncolour = "#{k}0{k}0{k}0"\ntex = 250\npieces_m = [{pieces}]\n'
        for k, n in ((2, "sand"), (9, "teal"))
    )
    path = small(tmp_path, "", stash)
    said = refused("search", path, "--out", tmp_path / "run", "--workers", 1)
    assert "on_hand" in said
    assert not (tmp_path / "run").exists()


def test_more_colours_than_threads(tmp_path, place):
    said = refused("search", place / "brief.toml", "--colours-min", 5, "--out", tmp_path / "run")
    assert "--colours-min: expected at most" in said
    assert not (tmp_path / "run").exists()


def test_a_file_where_the_folder_should_be(place, tmp_path):
    path = tmp_path / "file"
    path.write_text("mine")
    for more in ([], ["--overwrite"]):
        said = refused(
            "search", place / "brief.toml", "--out", path, "--workers", 1, "--generations", 1, *more
        )
        assert said == f"{path}: expected a folder for the run; a file stands there"
    said = refused(
        "search", place / "brief.toml", "--out", path / "run", "--workers", 1, "--generations", 1,
        code=1,
    )  # fmt: skip
    assert said == f"{path / 'run'}: cannot make the run folder: Not a directory"
    assert path.read_text() == "mine"


def test_a_seed_design_of_another_width(place, tmp_path):
    said = refused(
        "search", place / "brief.toml", "--from", PATTERNS / "waves.toml", "--out", tmp_path / "run"
    )
    assert said.endswith("expected a design of 8 strands, found '9 strands'")


def test_resume_of_a_finished_run_or_of_none(found, place, tmp_path):
    before = tree(found)
    said = run("search", "--resume", found, code=2).stderr
    assert "10 generations" in said
    assert tree(found) == before
    assert (
        "cannot change search.seed" in run("search", "--resume", found, "--seed", 3, code=2).stderr
    )
    assert (
        "takes its brief" in run("search", place / "brief.toml", "--resume", found, code=2).stderr
    )
    said = refused("search", "--resume", tmp_path, "--generations", 20)
    assert said == f"{tmp_path / 'brief.toml'}: expected a brief; no such file"


def test_a_damaged_checkpoint(found, tmp_path):
    folder = tmp_path / "run"
    shutil.copytree(found, folder)
    raw = (folder / "checkpoint.npz").read_bytes()
    (folder / "checkpoint.npz").write_bytes(raw[: len(raw) // 2])
    said = refused("search", "--resume", folder, "--generations", 20)
    assert said.startswith(f"{folder / 'checkpoint.npz'}: expected a whole checkpoint: ")


# --- the small commands --------------------------------------------------------------------


def test_score_has_the_keys_of_the_design():
    """Section 4 and section 6 of the design, to the letter."""
    scores = json.loads(run("score", CHEVRON, "--json").output)
    assert list(scores) == [
        "strands", "rows", "rows_knotted", "repeat_rows", "knots_per_repeat", "symmetry", "colour",
        "motif", "thread", "flatness", "handling",
    ]  # fmt: skip
    assert list(scores["symmetry"]) == ["mirror", "glide", "flip", "half_turn", "frieze_group"]
    assert list(scores["colour"]) == ["share", "balance", "contrast"]
    assert list(scores["motif"]) == ["coherence", "movement", "lone"]
    assert list(scores["thread"]) == ["loop_mm", "path_mm", "use_mm", "evenness", "offcut"]
    assert scores["symmetry"]["mirror"] == 1.0
    assert scores["symmetry"]["frieze_group"] == "p11m"
    assert (scores["strands"], scores["rows"], scores["repeat_rows"]) == (8, 2, 8)
    assert scores["knots_per_repeat"] == 28
    assert list(scores["colour"]["share"]) == ["plum", "brick", "ochre", "cream"]
    thread = scores["thread"]
    assert thread["use_mm"] == pytest.approx(
        [a + b for a, b in zip(thread["loop_mm"], thread["path_mm"], strict=True)]
    )
    # 150 mm when no length is given.
    assert json.loads(run("score", CHEVRON, "--json", "--length", "150").output) == scores


def test_an_absent_symmetry_is_null():
    scores = json.loads(run("score", PATTERNS / "waves.toml", "--json").output)
    assert scores["symmetry"]["mirror"] is None
    assert scores["symmetry"]["glide"] == 1.0


def test_score_and_show_for_people():
    said = run("score", CHEVRON).output
    assert "p11m" in said
    assert "Chevron" in run("show", CHEVRON, "--rows", 6, "--plain").output


def test_draw_writes_what_its_ending_says(tmp_path):
    from PIL import Image

    png, svg = tmp_path / "x.png", tmp_path / "x.svg"
    assert run("draw", CHEVRON, "--out", png).output == f"{png}\n"
    assert run("draw", CHEVRON, "--out", svg).output == f"{svg}\n"
    with Image.open(png) as image:
        assert image.height > image.width > 50
    assert "<svg" in svg.read_text(encoding="utf-8")[:200]
    old = png.read_bytes()
    said = refused("draw", CHEVRON, "--out", png, "--back")
    assert said == f"{png}: the file exists already; give --overwrite"
    assert png.read_bytes() == old
    run("draw", CHEVRON, "--out", png, "--back", "--overwrite")
    assert png.read_bytes() != old
    assert refused("draw", CHEVRON, "--out", tmp_path / "x.gif").startswith("--out: expected")
    said = refused("draw", CHEVRON, "--out", tmp_path / "no" / "x.png", code=1)
    assert said.endswith("cannot write: No such file or directory")


def test_cut_lists_the_workshop_threads():
    said = run("cut", CHEVRON, "--length", 150, "--stash", CONFIGS / "stash-workshop.toml").output
    for name in ("plum", "brick", "ochre", "cream"):
        assert name in said
    table = run("cut", CHEVRON, "--length", 150, "--csv").output
    rows = list(csv.DictReader(io.StringIO(table)))
    assert {r["colour"] for r in rows} == {"plum", "brick", "ochre", "cream"}
    longer = list(csv.DictReader(io.StringIO(run("cut", CHEVRON, "--length", 200, "--csv").output)))
    for short, long in zip(rows, longer, strict=True):
        assert float(long["cut_mm"]) > float(short["cut_mm"])


def test_cut_says_when_there_is_too_little(tmp_path):
    path = tmp_path / "stash.toml"
    path.write_text(STASH.replace("[3.1, 2.45, 2.2]", "[0.3]"))
    result = run("cut", CHEVRON, "--stash", path, code=2)
    assert f"{path}: not enough thread" in result.stderr
    result = run("cut", PATTERNS / "waves.toml", "--stash", path, "--length", 150)
    assert result.stderr == ""


@pytest.mark.parametrize(
    "risk",
    [
        "0",
        "1",
        "-0.1",
        "nan",
    ],
)
def test_risks_that_are_none(risk):
    """A risk that is no number must not silently leave out the margin."""
    assert "--risk" in run("cut", CHEVRON, "--risk", risk, code=2).stderr


def test_no_time_is_not_blamed_on_the_limits(place, tmp_path):
    """Designs exist: that none was looked at must not be told as that none exists."""
    folder = tmp_path / "run"
    result = CliRunner().invoke(
        main,
        ["search", str(place / "brief.toml"), "--seconds", "1e-9", "--out", str(folder),
         "--workers", "1"],
    )  # fmt: skip
    assert "no design keeps all limits" not in result.stderr


# --- help ----------------------------------------------------------------------------------


def commands(group: click.Group, at: tuple[str, ...] = ()):
    for name, command in group.commands.items():
        yield (*at, name), command
        if isinstance(command, click.Group):
            yield from commands(command, (*at, name))


EVERY = list(commands(main))


@pytest.mark.parametrize(("path", "command"), EVERY, ids=[" ".join(p) for p, _ in EVERY])
def test_help_teaches(path, command):
    """Every command says what it does, and every option too."""
    said = run(*path, "--help").output
    assert said.startswith("Usage: ")
    assert command.help
    assert len(command.help) > 15
    for parameter in command.params:
        if isinstance(parameter, click.Option) and parameter.name not in ("first_notch", "strands"):
            assert parameter.help or parameter.show_default, parameter.opts
            assert parameter.opts[0] in said


def test_the_first_help_shows_where_to_start():
    said = run("--help").output
    assert "motifsearch example demo" in said
    assert "motifsearch search demo/only-my-threads.toml" in said
    for (name, *rest), _ in EVERY:
        assert rest or f"\n  {name}" in said
    assert run("-h").output == said


def test_version_names_what_it_computes_with():
    said = run("--version").output
    assert said.startswith("motifsearch ")
    assert "\n  numpy " in said


HEAVY = ("matplotlib", "scipy", "deap", "coloraide", "reportlab", "jinja2", "PIL", "moocore")


@pytest.mark.parametrize("args", [["--help"], ["search", "--help"], ["--version"]])
def test_help_loads_nothing_heavy(args):
    code = (
        "import sys\n"
        "from motifsearch.cli import main\n"
        f"main({args!r}, standalone_mode=False)\n"
        f"print([n for n in {HEAVY!r} if n in sys.modules])\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=120, check=True
    )
    assert done.stdout.splitlines()[-1] == "[]"


def test_help_does_not_load_numpy():
    code = (
        "import sys\n"
        "from motifsearch.cli import main\n"
        "main(['search', '--help'], standalone_mode=False)\n"
        "print('numpy' in sys.modules)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=120, check=True
    )
    assert done.stdout.splitlines()[-1] == "False"


def test_a_reader_that_goes_away(tmp_path):
    """``motifsearch show ... | head -1`` ends quietly."""
    line = f"{sys.executable} -m motifsearch show {CHEVRON} --rows 400 | head -n 1 >/dev/null"
    done = subprocess.run(
        ["bash", "-c", line], capture_output=True, text=True, timeout=120, check=False
    )
    assert done.stderr == ""


@pytest.mark.slow
def test_example_writes_a_demo_that_runs(tmp_path):
    folder = tmp_path / "demo"
    said = run("example", folder).output.split()
    assert said == [str(p) for p in sorted(folder.rglob("*")) if p.is_file()]
    briefs = [p for p in folder.glob("*.toml") if "strands" in tomllib.loads(p.read_text())]
    assert len(briefs) >= 3
    before = tree(folder)
    assert "exists already" in refused("example", folder)
    assert tree(folder) == before
    for brief in briefs:
        run(
            "search", brief, "--out", tmp_path / brief.stem, "--workers", 1, "--population", 30,
            "--generations", 1, "--size", 1, "--evenness-min", 0, "--contrast-min", 0,
        )  # fmt: skip
        assert (tmp_path / brief.stem / "gallery.html").is_file()
