"""Briefs that no design can keep, with reasons known by construction, and the nearest that works.

Each case is built so that its reason is known: a box that is too small by so much, two colours that
differ by so much, knots that all lean one way.  The nearest brief is not believed: a search of its
own has to find a design for it that keeps every limit and can be cut.
"""

from __future__ import annotations

import re
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from motifsearch.base.colour import difference_matrix
from motifsearch.base.errors import InfeasibleError, InputError, NotFoundError
from motifsearch.search.bounds import impossible, least_need
from motifsearch.search.brief import Brief, brief_of
from motifsearch.search.diagnose import blame, conflict, diagnose
from motifsearch.search.genome import develop, pattern_of, random_genomes
from motifsearch.search.island import Judge, space_of
from motifsearch.search.loop import cuts_for, evolve, new_run
from motifsearch.search.outcome import finish
from motifsearch.search.reasons import changed
from motifsearch.simulate.scores import score_batch
from motifsearch.thread.plan import can_cut

SAND, INK, TEAL, BRICK, CREAM = "#d8c39a", "#25345e", "#1c6b70", "#a5432d", "#dcc8a2"
Box = dict[str, tuple[str, Sequence[float]]]
FULL: Box = {"sand": (SAND, [8] * 6), "ink": (INK, [8] * 6), "brick": (BRICK, [8] * 6)}
#: Two sands that hardly differ, and an ink of which nothing is left.
PALE: Box = {"sand": (SAND, [8] * 6), "cream": (CREAM, [8] * 6), "ink": (INK, [])}


def box(pieces: Sequence[float], names: str = "sand ink brick") -> Box:
    inks = {"sand": SAND, "ink": INK, "brick": BRICK, "teal": TEAL}
    return {name: (inks[name], pieces) for name in names.split()}


@dataclass
class Case:
    """A brief that cannot be met: its box, its keys, who is to blame and in which words."""

    name: str
    stash: Box
    keys: dict[str, Any]
    blamed: set[str]
    words: str
    shown: bool = True
    nearest: str = ""
    more: dict[str, Any] = field(default_factory=dict)


CASES = [
    # Too little thread, in all: the sum of all pieces is below what any band takes.
    *[
        Case(f"too little for {s} strands", box([0.4, 0.3]), {"strands": s, "length_mm": 150},
             {"limits.on_hand"}, r"too little: 2\.1 m in all")
        for s in (6, 8, 10, 12)
    ],
    Case("too little, unfolded", box([0.5]), {"strands": 8, "length_mm": 150, "folded": False},
         {"limits.on_hand"}, r"too little: 1\.5 m in all", nearest="limits.on_hand"),
    Case("too little for the ends alone", box([2.0]),
         {"strands": 8, "length_mm": 60, "start_allowance_mm": 900, "finish_allowance_mm": 900},
         {"limits.on_hand"}, "too little", nearest="limits.on_hand"),
    Case("nothing on hand", box([]), {"strands": 8, "length_mm": 150}, {"limits.on_hand", "stash"},
         "nothing is on hand", nearest="limits.on_hand"),
    # Enough in all, but every piece is shorter than the mean thread.
    *[
        Case(f"pieces of {p} m for {length} mm", box([p] * 40), {"strands": 8, "length_mm": length},
             {"limits.on_hand", "folded"}, rf"too short: the longest is {p} m", nearest="folded")
        for p, length in ((1.1, 150), (1.4, 200), (1.9, 300))
    ],
    Case("many short ends for a wrist", box([1.2] * 60), {"strands": 8, "wrist_mm": 190},
         {"limits.on_hand"}, "too short", nearest="folded"),
    Case("short ends, unfolded", box([0.5] * 60), {"strands": 8, "length_mm": 200, "folded": False},
         {"limits.on_hand"}, "too short", nearest="length_mm"),
    Case("short ends for a wrist, unfolded", box([0.5] * 60),
         {"strands": 8, "wrist_mm": 220, "folded": False}, {"limits.on_hand"}, "too short",
         nearest="wrist_mm"),
    Case("a few pieces, each for one thread", box([1.7], "sand ink brick"),
         {"strands": 12, "length_mm": 100}, {"limits.on_hand"}, "too little|too short"),
    # One colour is empty, or too short for a thread.
    Case("three colours, one empty", {**FULL, "brick": (BRICK, [])},
         {"strands": 8, "length_mm": 150, "colours_min": 3}, {"colours_min", "stash"},
         "of brick there is no piece long enough", nearest="colours_min"),
    Case("three colours, one of scraps", {**FULL, "brick": (BRICK, [0.2] * 50)},
         {"strands": 8, "length_mm": 150, "colours_min": 3}, {"colours_min", "stash"},
         "of brick there is no piece long enough", nearest="colours_min"),
    Case("two colours, both others empty", {**FULL, "brick": (BRICK, []), "ink": (INK, [])},
         {"strands": 6, "length_mm": 120, "colours_min": 2}, {"colours_min", "stash"},
         "of ink, brick there is no piece", nearest="colours_min"),
    # One colour alone is not enough, all together are.
    Case("one colour of three skeins", box([2.4]),
         {"strands": 8, "length_mm": 110, "colours_max": 1, "colours_min": 1},
         {"colours_max", "limits.on_hand"}, "one colour is too little"),
    Case("two colours of four", box([3.0], "sand ink brick teal"),
         {"strands": 12, "length_mm": 100, "colours_max": 2}, {"colours_max", "limits.on_hand"},
         "2 colours are too little"),
    # No two colours differ so much: the largest CIEDE2000 of the box is below.
    *[
        Case(f"contrast of {c}", FULL, {"strands": s, "length_mm": 120, "limits.contrast_min": c},
             {"limits.contrast_min", "stash"}, f"no two colours differ by {c}",
             nearest="limits.contrast_min")
        for c, s in ((68, 5), (70, 6), (95, 8), (200, 12))
    ],
    Case("alike once the empty one is left out", PALE,
         {"strands": 8, "length_mm": 120, "limits.contrast_min": 20}, {"limits.contrast_min"},
         "the most different are sand and cream", nearest="limits.contrast_min"),
    Case("contrast of one colour", FULL,
         {"strands": 8, "length_mm": 120, "colours": ["sand"], "limits.contrast_min": 10},
         {"limits.contrast_min"}, "a band of one colour has no contrast",
         nearest="limits.contrast_min"),
    Case("contrast, one colour allowed", FULL,
         {"strands": 8, "length_mm": 120, "colours_max": 1, "limits.contrast_min": 10},
         {"limits.contrast_min", "colours_max"}, "the brief allows one",
         nearest="limits.contrast_min"),
    Case("contrast of two named colours", FULL,
         {"strands": 8, "length_mm": 120, "colours": ["ink", "brick"], "limits.contrast_min": 90},
         {"limits.contrast_min"}, "the most different are ink and brick",
         nearest="limits.contrast_min"),
    # All knots lean one way, or an odd number of them cannot cancel out.
    *[
        Case(f"only {k}, {s} strands", FULL,
             {"strands": s, "length_mm": 120, "limits.knots": [k], "limits.flatness_min": 0.2},
             {"limits.flatness_min", "limits.knots"}, f"with the knots {k} alone",
             nearest="limits.flatness_min")
        for k, s in (("rr", 6), ("ll", 8), ("rr", 11))
    ],
    Case("three knots that lean", FULL,
         {"strands": 4, "length_mm": 120, "limits.knots": ["rr", "ll"], "limits.flatness_min": 0.9,
          "search.periods": [2]},
         {"limits.flatness_min", "limits.knots"}, r"flatness is 0\.67 at most",
         nearest="limits.flatness_min"),
    # What only a search can say.
    Case("perfectly even", FULL, {"strands": 6, "length_mm": 120, "limits.evenness_min": 1.0,
         "search.periods": [4]}, {"limits.evenness_min"}, r"the most even .* 0\.9\d+", shown=False,
         nearest="limits.evenness_min"),
    Case("even with a border", FULL, {"strands": 6, "length_mm": 120, "limits.evenness_min": 0.95,
         "limits.border": True, "search.periods": [4]}, {"limits.evenness_min", "limits.border"},
         "fail together", shown=False),
    Case("even, tied from the left alone", FULL, {"strands": 6, "length_mm": 150,
         "limits.knots": ["rl"], "limits.evenness_min": 0.9, "search.periods": [4]},
         {"limits.evenness_min", "limits.knots"}, "fail together", shown=False),
    Case("even, tied from the right alone", FULL, {"strands": 8, "length_mm": 150,
         "limits.knots": ["lr"], "limits.evenness_min": 0.9, "search.periods": [2]},
         {"limits.evenness_min", "limits.knots"}, "fail together", shown=False),
    Case("two rows, all forward, two colours", FULL, {"strands": 4, "length_mm": 120,
         "limits.knots": ["rr"], "limits.repeat_rows_max": 2, "colours_min": 2,
         "search.periods": [2]},
         {"limits.repeat_rows_max", "limits.knots", "colours_min"}, "fail together", shown=False),
    # Two of three colours differ enough, and with forward knots alone every colour is seen.
    Case("three colours far apart", FULL, {"strands": 6, "length_mm": 120, "colours_min": 3,
         "limits.contrast_min": 50, "limits.knots": ["rr"], "search.periods": [2]},
         {"limits.contrast_min", "colours_min"}, "fail together", shown=False),
    Case("three other colours far apart", box([8] * 4, "sand ink teal"),
         {"strands": 8, "length_mm": 120, "colours_min": 3, "limits.contrast_min": 60,
          "limits.knots": ["ll"], "search.periods": [2]},
         {"limits.contrast_min", "colours_min"}, "fail together", shown=False),
    # Four threads that are nearly equal, and pieces that each hold one and a good part of another.
    Case("pieces that do not go up", box([2.5, 2.5, 0.65], "sand"),
         {"strands": 8, "length_mm": 100, "limits.evenness_min": 0.9, "search.periods": [4]},
         {"limits.on_hand"}, "only the threads on hand", shown=False),
    Case("a round of three steps with a border", FULL, {"strands": 8, "length_mm": 120,
         "limits.steps_max": 3, "limits.border": True, "search.periods": [4]},
         {"limits.steps_max", "limits.border"}, "fail together", shown=False),
    Case("short repeat, forward alone, four single colours", box([8] * 4, "sand ink brick teal"),
         {"strands": 4, "length_mm": 120, "folded": False, "colours_min": 4,
          "limits.knots": ["rr"], "limits.repeat_rows_max": 4, "search.periods": [2, 4]},
         {"limits.repeat_rows_max", "limits.knots", "colours_min"}, "fail together", shown=False),
]  # fmt: skip


def brief_for(case: Case, folder: Path) -> Brief:
    parts = []
    for name, (colour, pieces) in case.stash.items():
        parts.append(f'[[threads]]\nname = "{name}"\ncolour = "{colour}"\ndiameter_mm = 0.6\n'
                     f"skein_m = 8\npieces_m = {list(pieces)}\n")  # fmt: skip
    path = folder / "stash.toml"
    path.write_text("\n".join(parts), encoding="utf-8")
    return brief_of({"stash": str(path), "search.seed": 3, "search.periods": [4, 6], **case.keys})


def found_by_a_search(brief: Brief, generations: int = 30) -> bool:
    """A search of its own, as the maker would run it with the brief that was proposed."""
    from dataclasses import replace

    small = replace(brief.search, population=80, generations=generations, rest_after=0)
    brief = replace(brief, search=small, gallery_size=12)
    run, on_hand = new_run(brief), brief.limits.on_hand
    for so_far in sorted({min(n, generations) for n in (10, 30, 60, generations)}):
        # It goes on only as long as there is none.
        run, _ = evolve(replace(brief, search=replace(small, generations=so_far)), run)
        if any(len(island.archive) for island in run.islands):
            found = finish(brief, run).found
            if any(not on_hand or can_cut(f.cuts, brief.stash) for f in found):
                return True
    return False


@pytest.mark.slow
@pytest.mark.parametrize("case", [c for c in CASES if c.shown], ids=lambda c: c.name)
def test_what_bounds_show_is_said_before_the_search(case: Case, tmp_path: Path) -> None:
    brief = brief_for(case, tmp_path)
    reasons = diagnose(brief)
    assert reasons, "nothing was said"
    reason = reasons[0]
    assert reason.shown
    assert case.blamed <= set(reason.keys) | {k for r in reasons for k in r.keys}
    assert re.search(case.words, reason.words), reason.words
    assert reason.nearest, reason.words
    assert reason.verified
    if case.nearest:
        assert set(reason.nearest) == {case.nearest}
    assert found_by_a_search(changed(brief, reason.nearest)), reason.text()


@pytest.mark.slow
@pytest.mark.parametrize("case", [c for c in CASES if not c.shown], ids=lambda c: c.name)
def test_what_fails_together_is_named_by_the_smallest_set(case: Case, tmp_path: Path) -> None:
    brief = brief_for(case, tmp_path)
    assert not impossible(brief)
    reasons = conflict(brief)
    assert reasons
    assert case.blamed <= set(reasons[0].keys), reasons
    assert re.search(case.words, " ".join(r.words for r in reasons)), reasons
    near = [r for r in reasons if r.nearest]
    assert near, reasons
    if case.nearest:
        assert set(near[0].nearest) == {case.nearest}
    for reason in near[:2]:
        assert reason.verified, reason
        assert found_by_a_search(changed(brief, reason.nearest), 150), reason.text()


def test_there_are_forty_cases() -> None:
    assert len(CASES) >= 40
    assert len({case.name for case in CASES}) == len(CASES)


@pytest.mark.parametrize("strands", [4, 5, 8, 12])
@pytest.mark.parametrize("folded", [True, False])
def test_no_design_takes_less_than_the_bound(strands: int, folded: bool, tmp_path: Path) -> None:
    """The bound holds for every design, and some come near it: it is no mere wish."""
    case = Case("", FULL, {"strands": strands, "length_mm": 140, "folded": folded}, set(), "")
    brief = brief_for(case, tmp_path)
    need, judge = least_need(brief), Judge(brief)
    rng = np.random.default_rng(strands)
    inks = [brief.stash.thread(n).colour for n in brief.palette]
    totals = []
    for period in (2, 4, 6):
        space = space_of(brief, period)
        genomes = random_genomes(space, 400, rng)
        grid, colours = develop(genomes, space)
        use = score_batch(grid, colours, judge.setting).use_mm
        totals.append((use * judge.limiter.margin + judge.limiter.ends_mm).sum(0))
        for n in range(0, 400, 80):
            cuts = cuts_for(brief, pattern_of(grid[..., n], colours[:, n], "", brief.palette, inks))
            lengths = [cut.length_mm for cut in cuts.cuts]
            assert len(lengths) == need.threads
            assert sum(lengths) >= need.total_mm
            assert max(lengths) >= need.mean_mm
            assert min(lengths) >= need.least_mm
    least = np.concatenate(totals).min()
    assert need.total_mm <= least <= 1.02 * need.total_mm


def test_contrast_is_that_of_the_two_most_different_colours(tmp_path: Path) -> None:
    case = next(c for c in CASES if c.name == "contrast of 95")
    (reason,) = diagnose(brief_for(case, tmp_path))
    assert reason.possible == pytest.approx(difference_matrix([SAND, INK, BRICK]).max())
    assert reason.nearest["limits.contrast_min"] <= reason.possible


def test_a_figure_that_was_met_is_not_shown_as_the_one_that_was_asked(tmp_path: Path) -> None:
    case = next(c for c in CASES if c.name == "perfectly even")
    text = " ".join(r.text() for r in conflict(brief_for(case, tmp_path)))
    assert "has an evenness of 1.0" not in text
    assert "evenness of 0.9" in text


def test_nothing_found_is_not_nothing_there(tmp_path: Path) -> None:
    """Infeasible is said only where it is shown; else the error says that nothing was met."""
    case = next(c for c in CASES if c.name == "even with a border")
    error = blame(brief_for(case, tmp_path))
    assert isinstance(error, NotFoundError)
    assert "not proven" in str(error)
    shown = blame(brief_for(CASES[0], tmp_path))
    assert isinstance(shown, InfeasibleError)
    assert not isinstance(shown, NotFoundError)


def test_more_colours_than_threads_is_said_by_the_reader(tmp_path: Path) -> None:
    case = Case("", FULL, {"strands": 4, "length_mm": 120, "colours_min": 3}, set(), "")
    with pytest.raises(InputError, match=r"colours_min|--colours-min"):
        brief_for(case, tmp_path)


def test_the_diagnosis_reads_no_clock(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    brief = brief_for(CASES[0], tmp_path)
    quiet = diagnose(brief)
    monkeypatch.setattr(time, "monotonic", lambda: 1e9)
    assert diagnose(brief) == quiet


def test_every_way_in_says_the_same(tmp_path: Path) -> None:
    """Python, the command that only asks, and the search itself."""
    from click.testing import CliRunner

    import motifsearch as ms
    from motifsearch.cli import main

    case = next(c for c in CASES if c.name == "contrast of 95")
    brief = brief_for(case, tmp_path)
    (reason,) = ms.diagnose(brief)
    options = ["search", "--stash", str(tmp_path / "stash.toml"), "--strands", "8",
               "--length-mm", "120", "--contrast-min", "95"]  # fmt: skip
    asked = CliRunner().invoke(main, [*options, "--check"])
    assert asked.exit_code == 2
    assert asked.output == f"{reason.text()}\n"
    searched = CliRunner().invoke(main, [*options, "--out", str(tmp_path / "run")])
    assert searched.exit_code == 2
    assert searched.output == f"motifsearch: {reason.text()}\n"
    assert not (tmp_path / "run").exists()
    good = CliRunner().invoke(main, [*options[:-1], "20", "--check"])
    assert (good.exit_code, good.output) == (0, "Nothing is known to speak against this brief.\n")
