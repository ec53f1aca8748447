"""Kits to be sold: the files of a batch, the same from the command and from Python."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from click.testing import CliRunner
from pypdf import PdfReader

import motifsearch as ms
from motifsearch.cli import main
from motifsearch.runs.example import demo_folder
from motifsearch.worksheet.cautions import CAUTIONS

CHEVRON = demo_folder() / "patterns" / "chevron.toml"
WAVES = demo_folder() / "patterns" / "waves.toml"
STASH = demo_folder() / "stash-workshop.toml"
HOSTILE = '=HYPERLINK("x")'


def rows_of(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


def raw(data: str | bytes) -> bytes:
    return data.encode() if isinstance(data, str) else data


def words_of(data: str | bytes) -> str:
    data = raw(data)
    return " ".join(" ".join(p.extract_text().split()) for p in PdfReader(io.BytesIO(data)).pages)


@pytest.fixture(scope="module")
def found():
    asked = ms.Asked(stash=STASH, length_mm=145.0)
    return ms.kits([CHEVRON, WAVES], asked=asked, number=12, extra=["bag=0.20"])


def test_the_cutting_list_has_every_cut_of_every_kit(found):
    rows = rows_of(found.files()["cutting-list.csv"])
    each = [len(band.cuts.cuts) for band in found.bands]
    assert len(rows) == 12 * sum(each)
    for kit in range(1, 13):
        for n, band in enumerate(found.bands, 1):
            mine = {r["label"]: (r["colour"], float(r["cut_mm"])) for r in rows
                    if (r["kit"], r["band"]) == (str(kit), str(n))}  # fmt: skip
            assert mine == {c.label: (c.colour, c.length_mm) for c in band.cuts.cuts}
    # No piece gives more than it has.
    for key in {(r["colour"], r["piece"], r["piece_mm"], r["left_mm"]) for r in rows}:
        cut = sum(float(r["cut_mm"]) for r in rows if (r["colour"], r["piece"]) == key[:2])
        assert cut + float(key[3]) == pytest.approx(float(key[2]), abs=0.01)


def test_the_packing_list_says_what_lies_in_a_bag(found):
    rows = rows_of(found.files()["packing-list.csv"])
    threads = [r for r in rows if r["what"] == "thread"]
    assert sum(int(r["number"]) for r in threads) == sum(len(b.cuts.cuts) for b in found.bands)
    metres = sum(int(r["for_all"]) * float(r["cut_mm"]) for r in threads) / 1000
    assert metres == pytest.approx(12 * sum(b.cuts.total_mm for b in found.bands) / 1000)
    assert [r["what"] for r in rows if r["what"] != "thread"] == [
        "worksheet", "worksheet", "cautions card", "label",
    ]  # fmt: skip
    words = words_of(found.files()["packing-list.pdf"])
    assert words.count("Before you begin") == 12
    assert all(f"Kit {n} of 12" in words for n in range(1, 13))
    assert words.count(CAUTIONS[-1]) == 12
    assert "Into each of 12 bags" in words


def test_the_cost_is_the_same_wherever_it_is_said(found):
    rows = rows_of(found.files()["cost.csv"])
    lines = [float(r["cost"]) for r in rows]
    assert lines[-1] == pytest.approx(sum(lines[:-1]), abs=1e-9)
    assert found.cost.cost == lines[-1]
    assert rows[-2]["what"] == "bag"
    shown = f"One kit costs {lines[-1]:.2f} EUR."
    assert shown in words_of(found.files()["packing-list.pdf"])
    # By hand from the cutting list: thread of one colour, with its share of the waste.
    cuts = rows_of(found.files()["cutting-list.csv"])
    mine = [r for r in cuts if r["colour"] == "cream"]
    waste = {r["piece"]: float(r["left_mm"]) for r in mine if r["left_is"] == "waste"}
    used = sum(float(r["cut_mm"]) for r in mine) + sum(waste.values())
    cream = next(r for r in rows if r["what"] == "cream")
    assert float(cream["cost"]) == pytest.approx(used / 12 / 8000 * 1.2, abs=0.005)


def test_files_are_written_whole_and_never_over_others(found, tmp_path):
    out = tmp_path / "batch"
    words = ["kits", str(CHEVRON), str(WAVES), "--stash", str(STASH), "--length", "145",
             "--number", "12", "--extra", "bag=0.20", "--out", str(out)]  # fmt: skip
    done = CliRunner().invoke(main, words)
    assert done.exit_code == 0, done.output
    assert f"One kit costs {found.cost.cost:.2f} EUR." in done.output
    files = found.files()
    assert {p.relative_to(out).as_posix() for p in out.rglob("*") if p.is_file()} == set(files)
    for name, data in files.items():
        assert (out / name).read_bytes() == raw(data), name
    again = CliRunner().invoke(main, words)
    assert again.exit_code == 2
    assert "exists already" in again.output
    (out / "mine.txt").write_text("hers", encoding="utf-8")
    over = CliRunner().invoke(main, [*words, "--overwrite"])
    assert over.exit_code == 0, over.output
    assert (out / "mine.txt").read_text("utf-8") == "hers"
    with pytest.raises(ms.InputError, match="exists already"):
        found.write(out)


def test_a_list_is_no_formula(tmp_path):
    text = STASH.read_text("utf-8").replace('"cream"', f"'{HOSTILE}'")
    text = text.replace('currency = "EUR"', 'currency = "@EUR"')
    (tmp_path / "stash.toml").write_text(text, encoding="utf-8")
    pattern = CHEVRON.read_text("utf-8").replace('"cream"', f"'{HOSTILE}'")
    pattern = pattern.replace("\ncream =", f"\n'{HOSTILE}' =")
    pattern = pattern.replace('title = "', 'title = "+')
    (tmp_path / "p.toml").write_text(pattern, encoding="utf-8")
    asked = ms.Asked(stash=tmp_path / "stash.toml")
    found = ms.kits([tmp_path / "p.toml"], asked=asked, number=1, extra=["-bag=1"])
    seen = 0
    for name, data in found.files().items():
        if name.endswith(".csv"):
            for row in csv.reader(io.StringIO(str(data))):
                assert not any(c[:1] in ("=", "+", "-", "@") for c in row), row
                seen += sum(c.startswith(("'=", "'+", "'-", "'@")) for c in row)
    assert seen > 4


def test_of_an_empty_box_there_is_no_batch(tmp_path):
    empty = "\n".join(
        "pieces_m = []" if line.startswith("pieces_m") else line
        for line in STASH.read_text("utf-8").splitlines()
    )
    path = tmp_path / "stash.toml"
    path.write_text(empty, encoding="utf-8")
    words = ["kits", str(CHEVRON), "--stash", str(path)]
    none = CliRunner().invoke(main, words)
    assert none.exit_code == 0
    assert "0 kits (no more is possible)" in none.output
    asked = CliRunner().invoke(main, [*words, "--out", str(tmp_path / "out")])
    assert asked.exit_code == 2
    assert "the stash yields no kit" in asked.output
    assert not (tmp_path / "out").exists()
    bought = ms.kits([CHEVRON], asked=ms.Asked(stash=path), number=3)
    assert all(piece.new for piece in bought.batch.pieces)
    assert "Buy first: " in words_of(bought.files()["cutting-list.pdf"])
    bad = CliRunner().invoke(main, [*words, "--extra", "bag"])
    assert bad.exit_code == 2
    assert "--extra" in bad.output


def test_a_plan_that_is_not_found_costs_no_answer(monkeypatch):
    """Where the work that is granted does not reach, what to buy is said all the same."""

    def out_of_work(*args, **more):
        raise ms.InfeasibleError("no way was found to cut 12 kits")

    monkeypatch.setattr("motifsearch.runs.kitting.batch", out_of_work)
    words = ["kits", str(CHEVRON), "--stash", str(STASH), "--number", "12"]
    done = CliRunner().invoke(main, words)
    assert done.exit_code == 0
    assert "for 12 kits: buy" in done.output
    assert "What one kit costs is not known: no way was found to cut 12 kits." in done.output


def test_letter_paper_and_inches(tmp_path):
    asked = ms.Asked(stash=STASH, show="imperial", paper="Letter")
    found = ms.kits([CHEVRON], asked=asked)
    files = found.files()
    for name in ("cutting-list.pdf", "packing-list.pdf", "worksheets/1-chevron.pdf"):
        page = PdfReader(io.BytesIO(raw(files[name]))).pages[0]
        assert (float(page.mediabox.width), float(page.mediabox.height)) == (612.0, 792.0)
    assert " in" in words_of(files["cutting-list.pdf"])
    assert Path("worksheets/1-chevron.pdf").as_posix() in files
