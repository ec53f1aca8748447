"""Simple cutting: one length for all threads, where it costs little and the threads suffice."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from conftest import patterns
from hypothesis import given, settings
from hypothesis import strategies as st

import motifsearch as ms
from motifsearch.base.errors import InputError
from motifsearch.cli import main
from motifsearch.pattern.design import Pattern, make_pattern
from motifsearch.runs.booking import use
from motifsearch.runs.settings import Asked
from motifsearch.search.brief import brief_of, format_brief, read_brief
from motifsearch.thread.cutting import cut_list
from motifsearch.thread.stash import read_stash

CONFIGS = Path(__file__).parents[2] / "configs"
CHEVRON = CONFIGS / "patterns" / "chevron.toml"


@settings(max_examples=60, deadline=None)
@given(patterns(max_rows=6), st.floats(60, 300), st.booleans())
def test_one_length_the_least_of_whole_five_centimetres(
    pattern: Pattern, length_mm: float, folded: bool
) -> None:
    exact = cut_list(pattern, length_mm, folded=folded)
    simple = cut_list(pattern, length_mm, folded=folded, simple=True)
    assert simple.exact_mm == pytest.approx(exact.total_mm)
    assert exact.exact_mm is None
    assert [c.strands for c in simple.cuts] == [c.strands for c in exact.cuts]
    shares = [
        need + margin + ends
        for cut in simple.cuts
        for need, margin, ends in zip(cut.need_mm, cut.margin_mm, cut.allowance_mm, strict=True)
    ]
    most = max(shares)
    for cut in simple.cuts:
        assert cut.length_mm % 50 == 0
        if len(cut.strands) == 2:
            # Folded in half, no strand is short, and five centimetres less would be too little.
            assert cut.fold_mm == cut.length_mm / 2 >= most - 1e-6
            assert cut.length_mm == 50 * math.ceil(2 * most / 50 - 1e-9)
        else:
            assert cut.fold_mm is None
            assert cut.length_mm >= most - 1e-6
            assert cut.length_mm - most < (100 if folded else 50)
    assert len({c.length_mm for c in simple.cuts if len(c.strands) == 2}) <= 1


def stash_of(folder: Path, pieces: list[float], names: str = "plum brick ochre cream") -> Path:
    text = "\n".join(
        f'[[threads]]\nname = "{n}"\ncolour = "#a0{40 + 9 * k:x}50"\ntex = 250\n'
        f"pieces_m = {pieces}\n"
        for k, n in enumerate(names.split())
    )
    path = folder / "stash.toml"
    path.write_text(text, encoding="utf-8")
    return path


def lengths(asked: Asked) -> list[float]:
    return [cut.length_mm for cut in ms.cut(CHEVRON, asked).cuts.cuts]


def test_simple_where_it_costs_little_and_the_threads_suffice(tmp_path: Path) -> None:
    plenty = read_stash(stash_of(tmp_path, [8]))
    exact = lengths(Asked(stash=plenty, length_mm=150.0, style="exact"))
    alike = lengths(Asked(stash=plenty, length_mm=150.0, style="simple"))
    assert len(set(alike)) == 1
    assert sum(alike) < 1.05 * sum(exact)
    assert lengths(Asked(stash=plenty, length_mm=150.0)) == alike
    # A piece that is enough for the thread cut to its need, and not for the simple one.
    short = read_stash(stash_of(tmp_path, [max(exact) / 1000]))
    assert max(exact) < alike[0]
    found = ms.cut(CHEVRON, Asked(stash=short, length_mm=150.0))
    assert [c.length_mm for c in found.cuts.cuts] == exact
    assert found.plan is not None
    assert found.plan.feasible
    # Another aim of pairing is about lengths of its own.
    few = Asked(stash=plenty, length_mm=150.0, pairing="few_lengths")
    assert ms.cut(CHEVRON, few).cuts.exact_mm is None


def test_uneven_bands_are_cut_to_their_need() -> None:
    ink = {"a": "#102030", "b": "#f0e0c0"}
    # Strands that always return to the outside beside strands that hardly tie.
    band = make_pattern("", ["rl lr", "rr"], "abba", ink)
    found = ms.cut(band, Asked(length_mm=300.0))
    simple = cut_list(band, 300.0, simple=True)
    assert simple.exact_mm is not None
    assert (found.cuts.exact_mm is None) == (simple.total_mm >= 1.05 * simple.exact_mm)
    assert found.cuts.exact_mm is None


def test_what_simple_costs_is_said_at_every_door(tmp_path: Path) -> None:
    plenty = stash_of(tmp_path, [8])
    args = [str(CHEVRON), "--stash", str(plenty), "--length", "150"]
    cut = CliRunner().invoke(main, ["cut", *args])
    assert cut.exit_code == 0
    exact = CliRunner().invoke(main, ["cut", *args, "--cut", "exact"])
    assert "Cut simply" not in exact.output
    line = next(line for line in cut.output.splitlines() if line.startswith("Cut simply"))
    assert "folded in half" in line
    both = [ms.cut(CHEVRON, Asked(stash=read_stash(plenty), length_mm=150.0, style=style)).cuts
            for style in ("simple", "exact")]  # fmt: skip
    more = both[0].total_mm - both[1].total_mm
    assert f"{more / 10:.0f} cm more ({more / both[1].total_mm:.1%})" in line
    sheet, _ = ms.worksheet(CHEVRON, form="txt", asked=Asked(stash=plenty, length_mm=150.0))
    assert "Cut simply: one length for all" in " ".join(sheet.decode().split())


def test_the_brief_says_how(tmp_path: Path) -> None:
    stash_of(tmp_path, [8])
    text = 'strands = 8\nlength_mm = 120\nstash = "stash.toml"\n'
    path = tmp_path / "brief.toml"
    for style in ("auto", "simple", "exact"):
        path.write_text(f'{text}[cut]\nstyle = "{style}"\n', encoding="utf-8")
        brief = read_brief(path)
        assert brief.cut_style == style
        path.write_text(format_brief(brief), encoding="utf-8")
        assert read_brief(path).cut_style == style
    path.write_text(text, encoding="utf-8")
    assert read_brief(path).cut_style == "auto"
    path.write_text(f'{text}[cut]\nstyle = "quick"\n', encoding="utf-8")
    with pytest.raises(InputError, match=r"cut\.style"):
        read_brief(path)
    path.write_text(f"{text}[cut]\nlength = 3\n", encoding="utf-8")
    with pytest.raises(InputError, match=r"cut\.length|length"):
        read_brief(path)


def test_a_run_is_cut_as_its_brief_says(tmp_path: Path) -> None:
    stash = stash_of(tmp_path, [8, 8])
    for style in ("simple", "exact"):
        run = ms.search(brief_of({
            "stash": str(stash), "strands": 6, "length_mm": 120.0, "cut.style": style,
            "search.generations": 3, "search.population": 40, "search.periods": [4],
            "gallery.size": 3,
        }))  # fmt: skip
        assert all((one.cuts.exact_mm is not None) == (style == "simple") for one in run)


def test_simple_cutting_never_costs_a_kit_or_a_booking(tmp_path: Path) -> None:
    exact = max(lengths(Asked(length_mm=150.0, style="exact")))
    stash = stash_of(tmp_path, [3 * exact / 1000])
    asked = Asked(stash=read_stash(stash), length_mm=150.0)
    found = ms.kits([CHEVRON], asked=asked)
    assert found.count is not None
    assert found.count.kits == 3
    assert any("fewer kits" in line for line in found.said)
    assert use(CHEVRON, stash, bands=3, asked=Asked(length_mm=150.0), dry_run=True).plan.feasible
    assert np.isclose(sum(t.total_mm for t in read_stash(stash).threads), 4 * 3 * exact)
