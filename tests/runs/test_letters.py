"""Names and words: the command, Python and a brief give the same bands, files and messages."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner

import motifsearch as ms
from motifsearch.base.errors import InfeasibleError, InputError
from motifsearch.cli import main
from motifsearch.runs.letter_ideas import pairs_of
from motifsearch.runs.lettering import folder_of
from motifsearch.search.brief import brief_of, format_brief, read_brief

STASH = Path(__file__).parents[2] / "configs" / "stash-workshop.toml"


def run(*args, code=0):
    done = CliRunner().invoke(main, [str(a) for a in args])
    if done.exception is not None and not isinstance(done.exception, SystemExit):
        raise done.exception
    assert done.exit_code == code, done.output
    return done


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    out = tmp_path_factory.mktemp("letters") / "run"
    done = run("letters", "Mia & Jo", "--strands", 14, "--length", 110, "--designs", 2,
               "--workers", 1, "--out", out)  # fmt: skip
    return out, done.output


def test_the_run_folder_says_what_was_found(folder):
    out, said = folder
    facts = json.loads((out / "letters.json").read_text("utf-8"))
    assert (facts["text"], facts["wrong_cells"], facts["proven"]) == ("MIA & JO", 0, True)
    assert [d["folder"] for d in facts["designs"]] == ["candidates/001", "candidates/002"]
    assert facts["designs"][0]["beside"] == "plain"
    assert all(d["wrong_cells"] == 0 for d in facts["designs"])
    for name in ("gallery.html", "gallery.png", "ranking.csv", "run.json", "brief.toml"):
        assert (out / name).is_file()
    assert "can be knotted exactly" in said
    assert "--reads onlooker for the other way" in said
    brief = tomllib.loads((out / "brief.toml").read_text("utf-8"))
    assert (brief["text"], brief["reads"], brief["repeated"]) == ("Mia & Jo", "wearer", False)


def test_the_run_can_be_opened_and_made_again(folder, tmp_path):
    out, _ = folder
    opened = ms.open_run(out)
    assert opened[0].title.startswith("MIA & JO (")
    assert any("mirrored" in note for note in opened[0].notes)
    again = ms.search(out / "brief.toml", out=tmp_path / "again")
    assert [one.pattern for one in again] == [one.pattern for one in opened]
    assert (tmp_path / "again" / "letters.json").read_bytes() == (out / "letters.json").read_bytes()


def test_python_and_command_give_the_same(folder):
    out, _ = folder
    run_ = ms.letters("Mia & Jo", strands=14, asked=ms.Asked(length_mm=110.0), designs=2)
    assert [one.pattern for one in run_] == [one.pattern for one in ms.open_run(out)]
    assert run_.record.kind == "letters"


def test_a_brief_asks_for_a_text(tmp_path):
    (tmp_path / "stash.toml").write_bytes(STASH.read_bytes())
    (tmp_path / "brief.toml").write_text(
        'strands = 12\nlength_mm = 60\nstash = "stash.toml"\ntext = "jo"\nreads = "onlooker"\n'
        'ink = "deep teal"\n\n[limits]\non_hand = false\n\n[gallery]\nsize = 1\n',
        "utf-8",
    )
    brief = read_brief(tmp_path / "brief.toml")
    assert (brief.text, brief.reads, brief.ink) == ("jo", "onlooker", "deep teal")
    again = tmp_path / "again.toml"
    again.write_text(format_brief(brief), "utf-8")
    assert read_brief(again).text == "jo"
    made = ms.search(brief)
    assert len(made) == 1
    assert "deep teal on" in made[0].title
    facts = json.loads(made.inputs["letters.json"])
    assert facts["reads"] == "onlooker"


@pytest.mark.parametrize(
    ("more", "key"),
    [
        ({"text": "Ж"}, "--text"),
        ({"text": "x" * 200}, "--text"),
        ({"text": "MIA", "ink": "no such thread"}, "--ink"),
        ({"text": "MIA", "reads": "nobody"}, "--reads"),
    ],
)
def test_a_brief_names_the_key_that_cannot_be_used(more, key):
    with pytest.raises(InputError) as caught:
        brief_of({"strands": 14, "length_mm": 120, "stash": str(STASH), **more})
    assert str(caught.value).startswith(key)


def test_a_text_that_is_too_long_says_what_works():
    with pytest.raises(InfeasibleError) as caught:
        ms.letters("Maximiliane & Charlotte", strands=16, asked=ms.Asked(length_mm=150))
    said = str(caught.value)
    assert "is too long: it needs" in said
    assert "the nearest that works: a knotted length of" in said
    assert 'or the text "MAXIMILIANE"' in said
    length = float(said.split("a knotted length of ")[1].split(" mm")[0])
    found = ms.letters(
        "Maximiliane & Charlotte", strands=16, asked=ms.Asked(length_mm=length), designs=1
    )
    assert len(found) == 1


def test_threads_are_chosen_by_how_far_they_look_apart():
    brief = brief_of({"strands": 14, "length_mm": 120, "stash": str(STASH), "text": "MIA"})
    pairs = pairs_of(brief)
    assert all(ground.name != ink.name for ground, ink in pairs)
    asked = brief_of(
        {"strands": 14, "length_mm": 120, "stash": str(STASH), "text": "MIA",
         "ink": pairs[0][0].name}
    )  # fmt: skip
    assert {ink.name for _, ink in pairs_of(asked)} == {pairs[0][0].name}
    both = brief_of({"strands": 14, "length_mm": 120, "stash": str(STASH), "text": "MIA",
                     "ink": pairs[0][0].name, "ground": pairs[0][0].name})  # fmt: skip
    with pytest.raises(InputError, match="two different threads"):
        pairs_of(both)


def test_the_command_refuses_in_plain_words():
    assert "no letter is drawn for Ж" in run("letters", "Ж", code=2).output
    assert "letters need" in run("letters", "MIA", "--strands", 8, code=2).output


def test_a_folder_is_named_after_the_text():
    assert folder_of("Mia & Jo!").as_posix() == "results/letters-mia-jo"
    assert folder_of("♥").as_posix() == "results/letters"


def test_a_brief_is_checked_for_room(tmp_path):
    brief = {"strands": 14, "length_mm": 60, "stash": str(STASH)}
    assert ms.diagnose(None, {**brief, "text": "JO"}) == ()
    with pytest.raises(InfeasibleError, match="is too long"):
        ms.diagnose(None, {**brief, "text": "Maximiliane"})


def test_letters_are_not_printed_mirrored(folder):
    out, _ = folder
    pattern = out / "candidates" / "001" / "pattern.toml"
    with pytest.raises(InputError, match="would turn the letters over"):
        ms.worksheet(pattern, left_handed=True)
    data, _ = ms.worksheet(pattern, form="txt")
    assert "MIA & JO" in data.decode()


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"text": "A" * 101}, "TEXT: expected at most 100 letters"),
        ({"strands": 25}, "--strands: expected 4 to 24"),
        ({"designs": 0}, "--designs: expected 1 to 500"),
        ({"reads": "me"}, "--reads: expected one of wearer, onlooker"),
        ({"ink": "gold"}, "ink: expected a thread of the stash"),
    ],
)
def test_python_refuses_what_a_brief_refuses(more, said):
    asked = {"text": "MIA", "strands": 14, **more}
    with pytest.raises(InputError) as caught:
        ms.letters(asked.pop("text"), **asked)
    assert str(caught.value).startswith(said)


@pytest.mark.parametrize("text", ["\x00", "\n\t", "\u202eMIA", "A\u0301\u0301", "ß" * 60, "\ud800"])
def test_strange_texts_end_in_plain_words(text):
    with pytest.raises((InputError, InfeasibleError)) as caught:
        ms.letters(text, strands=14, designs=1)
    assert len(str(caught.value)) < 2000
