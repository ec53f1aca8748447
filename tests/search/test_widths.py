"""Several numbers of strands in one brief: one search, one gallery, each width its own brief."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

import motifsearch as ms
from motifsearch.base.errors import InfeasibleError, InputError, NotFoundError
from motifsearch.cli import main
from motifsearch.pattern.design import make_pattern
from motifsearch.pattern.knots import slots_in_row
from motifsearch.runs.briefing import diagnose, diagnosis_text
from motifsearch.search.brief import brief_of, format_brief, read_brief
from motifsearch.search.checkpoint import checkpoint_bytes, load_checkpoint
from motifsearch.search.diagnose import blame
from motifsearch.search.island import run_epoch
from motifsearch.search.loop import evolve, new_run
from motifsearch.search.outcome import best_elites, finish
from motifsearch.search.variety import (
    NEAR,
    face_distance,
    middle,
    nearest_distances,
    pick,
    repeat_face,
)
from motifsearch.search.widths import Judges, open_widths, rest_after, turn

INKS = {"sand": "#d8c49a", "teal": "#1f7a78", "brick": "#a2432f", "ink": "#1d2a44"}
ASKED = {
    "length_mm": 120,
    "search.periods": [4, 6],
    "search.population": 30,
    "search.exchange_every": 3,
    "search.generations": 18,
    "search.seed": 11,
    "search.rest_after": 0,
    "gallery.size": 9,
}


@pytest.fixture
def stash(tmp_path):
    path = tmp_path / "stash.toml"
    path.write_text(
        "".join(
            f'[[threads]]\nname = "{n}"\ncolour = "{h}"\ndiameter_mm = 0.6\npieces_m = [90.0]\n'
            for n, h in INKS.items()
        ),
        encoding="utf-8",
    )
    return str(path)


def asked(stash, strands, **more):
    return brief_of({"stash": stash, "strands": strands, **ASKED, **more})


def same_run(a, b):
    return checkpoint_bytes(a) == checkpoint_bytes(b)


# --- Reading.


def test_a_width_of_several_is_the_brief_that_asks_for_it_alone(stash):
    several = asked(stash, [8, 4, 7])
    assert several.widths == (4, 7, 8)
    assert several.strands == 4
    for strands in (4, 7, 8):
        alone = asked(stash, strands)
        assert several.of_width(strands) == replace(alone, stash=several.stash)
        assert alone.of_width(strands) is alone


def test_one_in_a_list_is_one(stash):
    assert asked(stash, [8]) == asked(stash, 8)


@pytest.mark.parametrize(
    ("strands", "said"),
    [([], "at least one number"), ([8, 3], "found 3"), ([8, True], "found True"),
     ("8", "found '8'"), ([8, 8], "every number of strands once"), ([8, 10.0], "found 10.0")],
)  # fmt: skip
def test_what_is_no_number_of_strands_is_refused(stash, strands, said):
    with pytest.raises(InputError, match="strands") as bad:
        asked(stash, strands)
    assert said in str(bad.value)


def test_a_text_or_a_motif_asks_for_one_number(stash):
    for key, value in (("text", "MIA"), ("target", "hearts.txt")):
        with pytest.raises(InputError, match="expected one number of strands beside") as bad:
            asked(stash, [14, 16], **{key: value})
        assert bad.value.key == "strands" or "--strands" in str(bad.value)


def test_a_brief_as_resolved_reads_back(stash, tmp_path):
    several = asked(stash, [6, 8])
    path = tmp_path / "again.toml"
    path.write_text(format_brief(several), encoding="utf-8")
    again = read_brief(path)
    assert again.widths == (6, 8)
    assert format_brief(again) == format_brief(several)


# --- Turns.


def test_turns_share_the_generations(stash):
    brief = asked(stash, [4, 6, 7])
    turns = []

    def note(run):
        turns.append(tuple(run.islands[k].generation for k in (0, 2, 4)))

    run, why = evolve(brief, new_run(brief), on_exchange=note)
    assert (why, run.generation) == ("generations", 18)
    assert turns == [(3, 0, 0), (3, 3, 0), (3, 3, 3), (6, 3, 3), (6, 6, 3), (6, 6, 6)]
    assert [i.space.strands for i in run.islands] == [4, 4, 6, 6, 7, 7]
    assert rest_after(replace(brief, search=replace(brief.search, rest_after=8))) == 24


def test_a_width_that_was_seen_whole_gives_its_turns_away(stash):
    brief = asked(stash, [4, 6])
    small, large = new_run(brief).islands[0], new_run(brief).islands[2]
    whole = replace(small, number=10**12)
    assert whole.whole
    assert not large.whole
    assert turn([whole, replace(large, generation=30)], 30, 3) == 6
    # What is under way is finished first, so that an exchange comes where it is due.
    assert turn([replace(whole, generation=1), replace(large, generation=30)], 31, 3) == 4


def test_an_island_of_several_evolves_as_it_would_alone(stash):
    """With the judge of its own width: nothing of the other widths comes in."""
    brief = asked(stash, [6, 8])
    run = new_run(brief)
    mine = run_epoch(Judges(brief).of(8), run.islands[2], 3, 30)
    alone = run_epoch(Judges(asked(stash, 8)).of(8), run.islands[2], 3, 30)
    assert np.array_equal(mine.archive.utility, alone.archive.utility)
    assert np.array_equal(mine.archive.genomes.knots, alone.archive.genomes.knots)


@pytest.mark.parametrize("stop", [4, 6, 7, 11])
def test_interrupted_anywhere_it_goes_on_as_if_it_had_not_been(stash, tmp_path, stop):
    brief = asked(stash, [4, 6, 7])
    straight, _ = evolve(brief, new_run(brief))
    half, _ = evolve(brief, new_run(brief), generations=stop)
    path = tmp_path / "half.npz"
    path.write_bytes(checkpoint_bytes(half))
    gone_on, _ = evolve(brief, load_checkpoint(path, brief))
    assert same_run(straight, gone_on)
    with pytest.raises(InputError, match="another brief"):
        load_checkpoint(path, asked(stash, [4, 6]))


# --- Choosing.


def test_every_width_has_its_part_of_what_is_chosen_from(stash):
    brief = asked(stash, [6, 8, 10])
    run, _ = evolve(brief, new_run(brief))
    picked = {}
    for k, part in best_elites(run, 30):
        strands = run.islands[k].space.strands
        picked[strands] = picked.get(strands, 0) + len(part.utility)
    assert picked == {6: 10, 8: 10, 10: 10}
    outcome = finish(brief, run)
    widths = [f.pattern.strands for f in outcome.found]
    assert set(widths) == {6, 8, 10}
    assert len(widths) == 9
    assert all(a.utility >= b.utility for a, b in pairwise(outcome.found))


def random_pattern(strands, rows, seed):
    rng = np.random.default_rng(seed)
    knots = rng.integers(0, 4, (rows, strands // 2)).astype(np.uint8)
    names = [list(INKS)[c] for c in rng.integers(0, 3, strands)]
    return make_pattern("", knots, names, {n: INKS[n] for n in names})


@pytest.mark.parametrize(("strands", "narrow"), [(8, 6), (12, 8), (9, 6), (7, 5), (10, 7), (8, 8)])
def test_the_middle_of_a_face_cell_by_cell(strands, narrow):
    """By the definition of rows and positions: row r ties i = r mod 2, r mod 2 + 2, and so on."""
    face = repeat_face(random_pattern(strands, 4, strands * narrow))
    found = middle(face, strands, narrow)
    left = (strands - narrow) // 2
    rows = len(face)
    cells = {(r, r % 2 + 2 * k): int(face[r, k])
             for r in range(rows) for k in range(slots_in_row(strands, r))}  # fmt: skip
    for r in range(rows):
        for k in range(slots_in_row(narrow, r)):
            # One row on where an odd number of positions is left out.
            there = (r + left % 2) % rows
            assert found[r, k] == cells[there, r % 2 + 2 * k + left]


def test_one_figure_in_two_widths_is_two_bands_that_are_near():
    """Lengthwise stripes: the middle of the wider band is the narrower one."""

    def stripes(colours):
        half = len(colours) // 2
        return make_pattern("", [" ".join(["rl"] * half), " ".join(["rl"] * (half - 1))],
                            colours, {n: INKS[n] for n in colours})  # fmt: skip

    six = stripes(["sand", "sand", "teal", "teal", "sand", "sand"])
    ten = stripes(["sand"] * 4 + ["teal"] * 2 + ["sand"] * 4)
    assert face_distance(six, ten) == pytest.approx(NEAR)
    assert face_distance(ten, six) == pytest.approx(NEAR)
    assert face_distance(six, six) == 0.0
    other = random_pattern(10, 4, 3)
    assert face_distance(six, other) > 0.6
    assert nearest_distances([six, ten]).tolist() == pytest.approx([NEAR, NEAR])
    assert nearest_distances([six, ten, ten]).tolist() == pytest.approx([NEAR, 0.0, 0.0])
    # The other figure comes before the same in another width, which is picked in the end.
    chosen, gaps = pick([six, ten, other, ten], np.array([0.9, 0.8, 0.75, 0.8]), 4)
    assert chosen == [0, 2, 1]
    assert gaps == pytest.approx([1.0, face_distance(six, other), NEAR])


def test_no_width_is_forgotten():
    """However much better another one is: the last places are kept for those not seen yet."""
    good = [random_pattern(10, 4, seed) for seed in range(6)]
    poor = [random_pattern(6, 4, 7), random_pattern(8, 4, 8)]
    worth = np.array([0.9, 0.9, 0.9, 0.9, 0.9, 0.9, 0.1, 0.2])
    for size in (3, 5):
        chosen, _ = pick([*good, *poor], worth, size)
        assert len(chosen) == size
        assert {6, 7} <= set(chosen)
        assert chosen[-1] in (6, 7)
    # Fewer places than widths: the best.
    assert pick([*good, *poor], worth, 1)[0] == [0]


# --- What cannot be.


def test_one_width_may_be_impossible_and_the_others_go_on(stash):
    """Four colours in folded threads: four strands are two threads."""
    brief = asked(stash, [4, 8], colours_min=3)
    (reason,) = diagnose(brief)
    assert (reason.strands, reason.others, reason.stops) == (4, (8,), False)
    assert reason.text().startswith("4 strands: 4 strands are 2 folded threads")
    assert "Nothing is known to speak against 8 strands." in diagnosis_text([reason])
    assert open_widths(brief) == (8,)
    run = ms.search(brief)
    assert {one.pattern.strands for one in run} == {8}
    (line,) = [line for line in run.said if line.startswith("No band of 4 strands")]
    assert "2 folded threads" in line
    assert [(w["strands"], w["why"] != "") for w in run.record.widths] == [(4, True), (8, False)]


def test_where_every_width_is_impossible_each_says_why(stash):
    short = Path(stash).with_name("short.toml")
    short.write_text(Path(stash).read_text("utf-8").replace("90.0", "0.4"), encoding="utf-8")
    brief = asked(str(short), [4, 5])
    reasons = diagnose(brief)
    assert [r.strands for r in reasons] == [4, 5]
    assert all(r.stops for r in reasons)
    with pytest.raises(InfeasibleError, match=r"4 strands: The threads .*5 strands: The threads "):
        ms.search(brief)
    # Where the number of strands has nothing to do with it, it is said once.
    (once,) = diagnose(asked(stash, [4, 5], **{"limits.contrast_min": 150}))
    assert once.strands == 0
    assert once.stops
    # What no width can be is refused where it is read, as ever.
    with pytest.raises(InputError, match="colours-min: expected at most 3"):
        asked(stash, [4, 5], colours_min=4, colours_max=4)
    with pytest.raises(InputError, match="colours-min: expected at most 2"):
        asked(stash, 4, colours_min=4, colours_max=4)


@pytest.mark.slow
def test_a_width_in_which_nothing_was_found_is_named_with_the_limit(stash):
    """An odd number of strands has no face that is the same mirrored; evenness 1 is too much."""
    brief = asked(stash, [6, 8], **{"limits.evenness_min": 1.0, "limits.on_hand": False})
    error = blame(brief)
    assert isinstance(error, NotFoundError)
    assert "6 strands: " in str(error)
    assert "8 strands: " in str(error)
    assert str(error).count("evenness") >= 2


# --- Whole runs.


@pytest.mark.slow
def test_the_command_from_brief_to_gallery_and_on(stash, tmp_path):
    tail = ["--length-mm", "120", "--population", "30", "--size", "4", "--stash", stash]
    head = ["search", "--strands", "6,8,10", "--generations", "20", *tail]
    runs = []
    for name, workers in (("one", "1"), ("two", "2")):
        out = tmp_path / name
        done = CliRunner().invoke(main, [*head, "--out", str(out), "--workers", workers])
        assert done.exit_code == 0, done.output
        assert "The gallery has" in done.output
        runs.append(out)
    files = [p.relative_to(runs[0]) for p in sorted(runs[0].rglob("*")) if p.is_file()]
    assert len(files) > 20
    for name in files:
        if ".motifsearch" not in name.parts and name.name != "owner.lock":
            assert (runs[0] / name).read_bytes() == (runs[1] / name).read_bytes(), name
    brief = read_brief(runs[0] / "brief.toml")
    assert brief.widths == (6, 8, 10)
    record = json.loads((runs[0] / "run.json").read_text("utf-8"))
    assert [w["strands"] for w in record["widths"]] == [6, 8, 10]
    assert sum(w["shown"] for w in record["widths"]) == len(record["ranking"]) == 4
    assert {i["strands"] for i in record["islands"]} == {6, 8, 10}
    assert ms.open_run(runs[0]).record.widths[0]["strands"] == 6

    ms.pick(runs[0], [1], not_for_me=[2])
    more = CliRunner().invoke(main, ["search", "--resume", str(runs[0]), "--generations", "40"])
    assert more.exit_code == 0, more.output
    again = ms.search(asked(stash, [6, 8], **{"search.warm": True}), picks=runs[0])
    assert again.record.taste
    assert {one.pattern.strands for one in again} == {6, 8}
    other = ["search", "--resume", str(runs[0]), "--strands", "6,8"]
    refused = CliRunner().invoke(main, other)
    assert refused.exit_code == 2
    assert "cannot change strands" in refused.output


@pytest.mark.slow
def test_find_takes_several_and_names_what_the_library_lacks(stash, tmp_path):
    out = tmp_path / "found"
    words = ["find", "--stash", stash, "--strands", "8,10,23", "--length-mm", "120"]
    done = CliRunner().invoke(main, [*words, "--size", "4", "--out", str(out)])
    assert done.exit_code == 0, done.output
    assert "kinds of 8 strands" in done.output
    assert "kinds of 10 strands" in done.output
    assert "No band of 23 strands is shown. The library has no kinds of 23 strands" in done.output
    run = ms.open_run(out)
    assert {one.pattern.strands for one in run} == {8, 10}
    resumed = load_checkpoint(out / "checkpoint.npz", read_brief(out / "brief.toml"))
    assert all(any(len(resumed.islands[k].archive) for k in resumed.of_width(s)) for s in (8, 10))
    none = CliRunner().invoke(main, [*words[:3], "--strands", "21,23", *words[5:]])
    assert none.exit_code == 2
    assert "21 strands" in none.output
    assert "23 strands" in none.output


def test_the_check_says_which_cannot_be(stash):
    words = ["search", "--check", "--stash", stash, "--length-mm", "120", "--colours-min", "3"]
    some = CliRunner().invoke(main, [*words, "--strands", "4,8"])
    assert some.exit_code == 0
    assert some.output.startswith("4 strands: ")
    none = CliRunner().invoke(main, [*words, "--strands", "4"])
    assert none.exit_code == 2
    bad = CliRunner().invoke(main, [*words, "--strands", "4,x"])
    assert bad.exit_code == 2
    assert "a list of them such as 10,12,14" in bad.output


@pytest.mark.slow
def test_a_group_may_have_bands_of_several_widths(stash, tmp_path):
    path = tmp_path / "class.toml"
    text = (
        'strands = [6, 8]\nlength_mm = 120\nstash = "stash.toml"\nbands = 4\n'
        "[search]\ngenerations = 20\npopulation = 30\nperiods = [4, 6]\n"
    )
    path.write_text(text, encoding="utf-8")
    run = ms.group(path)
    assert run.possible == 4
    assert {one.pattern.strands for one in run} <= {6, 8}
    named = text.replace("bands = 4\n", "") + '[[people]]\nname = "Mira"\ntext = "MI"\n'
    path.write_text(named, encoding="utf-8")
    with pytest.raises(InputError, match="one number of strands where a band has a text"):
        ms.group(path)
