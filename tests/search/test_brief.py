"""Briefs: what they resolve to, what they refuse, and the round trip of the resolved file."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from motifsearch.base.errors import InputError
from motifsearch.search.brief import WISHES, brief_of, format_brief, read_brief
from motifsearch.target.text import format_target
from motifsearch.thread.stash import format_stash, read_stash

CONFIGS = Path(__file__).parents[2] / "configs"
BRIEFS = sorted(p for p in CONFIGS.glob("*.toml") if not p.stem.startswith("stash"))
STASH = """\
[[threads]]
name = "sand"
colour = "#d8c49a"
tex = 250
pieces_m = [8, 8]

[[threads]]
name = "teal"
colour = "#1f7a78"
tex = 250
pieces_m = [8, 3.5]

[[threads]]
name = "brick"
colour = "#a5432d"
diameter_mm = 0.7
pieces_m = [8]
"""
BASE = 'strands = 8\nlength_mm = 150\nstash = "stash.toml"\n'


@pytest.fixture
def place(tmp_path):
    (tmp_path / "stash.toml").write_text(STASH)
    return tmp_path


def brief(place: Path, text: str, **overrides):
    path = place / "brief.toml"
    path.write_text(text)
    return read_brief(path, {k.replace("__", "."): v for k, v in overrides.items()})


def refusal(place: Path, text: str, **overrides) -> str:
    with pytest.raises(InputError) as caught:
        brief(place, text, **overrides)
    assert caught.value.exit_code == 2
    message = str(caught.value)
    return message.removeprefix(f"{place / 'brief.toml'}: ")


@pytest.mark.parametrize("path", BRIEFS, ids=lambda p: p.stem)
def test_the_shipped_briefs_are_whole(path):
    """One for each way in, with a stash beside it; and they come back from their own text."""
    found = read_brief(path)
    assert found.limits.repeat_rows_max >= max(found.search.periods)
    assert found.colours_min <= found.colours_max <= len(found.palette)


def test_there_is_a_brief_for_each_way_in():
    ways = {p.stem: read_brief(p) for p in BRIEFS}
    assert ways["only-my-threads"].limits.on_hand
    assert ways["equal-use"].limits.evenness_min > 0
    assert ways["browse-many"].gallery_size >= 40


def test_the_knotted_length_follows_from_the_wrist(place):
    """Knotted length = wrist + ease - the part left to the fastening."""
    found = brief(place, 'strands = 8\nwrist_mm = 165\nstash = "stash.toml"\n')
    assert found.length_mm == 165 + 10 - 30
    text = 'strands = 8\nwrist_mm = 150\nease_mm = 5\nfastening_mm = 40\nstash = "stash.toml"\n'
    assert brief(place, text).length_mm == 115
    assert brief(place, BASE).length_mm == 150
    assert brief(place, text, length_mm=90).length_mm == 90  # an option replaces the wrist
    assert brief(place, BASE, wrist_mm=165).length_mm == 145


def test_what_is_left_out(place):
    found = brief(place, BASE)
    assert found.folded
    assert found.limits.on_hand
    assert found.limits.repeat_rows_max == 48
    assert found.search.seed == 1
    assert dict(found.wishes) == dict(WISHES)
    assert (found.colours_min, found.colours_max) == (2, 3)
    assert found.palette == ("sand", "teal", "brick")


def test_options_replace_keys(place):
    found = brief(
        place, BASE + "[search]\nseed = 5\n", search__seed=9, limits__border=True, strands=10,
        wishes__movement=7.0,
    )  # fmt: skip
    assert found.search.seed == 9
    assert found.limits.border
    assert found.strands == 10
    assert found.wishes["movement"] == 7.0


def test_a_brief_of_options_alone(place):
    found = brief_of({"stash": str(place / "stash.toml"), "strands": 10, "wrist_mm": 165.0})
    assert found.length_mm == 145


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            BASE.replace("strands", "strnads"),
            "strnads: unknown key (did you mean 'strands'?)",
        ),
        (
            BASE.replace("= 8", "= 3"),
            "strands: expected a whole number from 4 to 24, found 3",
        ),
        (
            BASE.replace("= 8", "= 25"),
            "strands: expected a whole number from 4 to 24, found 25",
        ),
        (
            BASE.replace("= 8", "= 8.5"),
            "strands: expected a whole number from 4 to 24, found 8.5",
        ),
        (
            BASE.replace("= 8", "= true"),
            "strands: expected a whole number from 4 to 24, found True",
        ),
        (
            BASE.replace("= 8", '= "8"'),
            "strands: expected a whole number from 4 to 24, found '8'",
        ),
        (
            BASE.replace("strands = 8\n", ""),
            "strands: missing; expected a whole number from 4 to 24",
        ),
        (
            BASE.replace("150", "0"),
            "length_mm: expected a number from 35 to 2000, found 0",
        ),
        (
            BASE.replace("150", "-150"),
            "length_mm: expected a number from 35 to 2000, found -150",
        ),
        (
            BASE.replace("150", "nan"),
            "length_mm: expected a number from 35 to 2000, found nan",
        ),
        (
            BASE.replace("150", "inf"),
            "length_mm: expected a number from 35 to 2000, found inf",
        ),
        (
            BASE + "wrist_mm = 165\n",
            "length_mm: expected either length_mm or wrist_mm, not both",
        ),
        (
            BASE.replace("length_mm = 150\n", ""),
            "wrist_mm: missing; expected a number from 50 to 600",
        ),
        (
            BASE.replace("length_mm = 150", "wrist_mm = 60\nfastening_mm = 65"),
            "fastening_mm: expected less than wrist_mm + ease_mm - 35, found 65.0",
        ),
        (
            BASE + 'colours = ["sand", "taal"]\n',
            "colours[1]: expected a thread of the stash (did you mean 'teal'?), found 'taal'",
        ),
        (
            BASE + "colours_min = 4\n",
            "colours_min: expected at most 3 (3 colours on hand, 4 threads), found 4",
        ),
        (
            BASE + "colours_min = 3\ncolours_max = 2\n",
            "colours_min: expected at most colours_max = 2, found 3",
        ),
        (
            BASE + "[limits]\nevenness_min = 1.5\n",
            "limits.evenness_min: expected a number from 0 to 1, found 1.5",
        ),
        (
            BASE + "[limits]\neveness_min = 0.5\n",
            "limits.eveness_min: unknown key (did you mean 'evenness_min'?)",
        ),
        (
            BASE + "limits = 3\n",
            "limits: expected a table [limits], found 3",
        ),
        (
            BASE + "[wishes]\nmovemint = 1\n",
            "wishes.movemint: unknown key (did you mean 'movement'?)",
        ),
        (
            BASE + "[wishes]\nmovement = -1\n",
            "wishes.movement: expected a number from 0 to 100, found -1",
        ),
        (
            BASE + "[search]\nperiods = [4, 5]\n",
            "search.periods[1]: expected a list of even row numbers from 2 to repeat_rows_max, "
            "found 5",
        ),
        (
            BASE + "[search]\nseconds = 0\n",
            "search.seconds: expected a number above 0 up to 1e+06, found 0",
        ),
        (
            BASE + "[gallery]\nsize = 0\n",
            "gallery.size: expected a whole number from 1 to 500, found 0",
        ),
        (
            BASE + "[shares]\nsend = 1\n",
            "shares.send: unknown key (did you mean 'sand'?)",
        ),
        (BASE + "[shares]\nsand = 0\n", "shares: expected at least one share above 0"),
        (
            BASE + 'pairing = "totl"\n',
            "pairing: expected one of total, few_lengths, fit (did you mean 'total'?), found "
            "'totl'",
        ),
        (
            "[wishes]\n" + "".join(f"{name} = 0\n" for name in WISHES),
            "strands: missing; expected a whole number from 4 to 24",
        ),
    ],
)  # fmt: skip
def test_one_clear_message(place, text, message):
    """File, key, what was expected, what stood there."""
    assert refusal(place, text) == message


def test_no_wish_at_all(place):
    text = BASE + "[wishes]\n" + "".join(f"{name} = 0\n" for name in WISHES)
    assert "expected at least one wish above 0" in refusal(place, text)


def test_the_stash_is_missing(place):
    with pytest.raises(InputError, match="expected a stash file; no such file") as caught:
        brief(place, BASE.replace("stash.toml", "none.toml"))
    assert str(caught.value).startswith(str(place / "none.toml"))


def test_a_colour_named_twice_is_one_colour(place):
    """Else a search over one colour is asked for designs of two."""
    text = BASE + 'colours = ["sand", "sand"]\n'
    try:
        found = brief(place, text)
    except InputError:
        return
    assert found.palette == ("sand",)
    assert found.colours_max == 1


@pytest.mark.parametrize("path", BRIEFS, ids=lambda p: p.stem)
def test_the_resolved_text_is_the_same_brief(path, tmp_path):
    first = read_brief(path)
    (tmp_path / "stash.toml").write_text(format_stash(first.stash))
    if first.target is not None:
        (tmp_path / "target.txt").write_text(format_target(first.target))
    (tmp_path / "brief.toml").write_text(format_brief(first))
    again = read_brief(tmp_path / "brief.toml")
    assert format_brief(again) == format_brief(first)
    for name in (
        "title", "strands", "length_mm", "wrist_mm", "folded", "palette", "colours_min",
        "colours_max", "limits", "search", "gallery_size", "pairing", "allowances",
    ):  # fmt: skip
        assert getattr(again, name) == getattr(first, name), name
    assert dict(again.wishes) == dict(first.wishes)
    assert dict(again.shares) == dict(first.shares)


@given(
    st.fixed_dictionaries(
        {},
        optional={
            "title": st.text(st.characters(exclude_categories=["Cs"]), max_size=30),
            "folded": st.booleans(),
            "first_notch": st.integers(1, 99),
            "limits.evenness_min": st.floats(0, 1),
            "limits.repeat_rows_max": st.integers(2, 400),
            "limits.lone_max": st.floats(0, 1),
            "limits.symmetric": st.booleans(),
            "search.seed": st.integers(0, 2**32 - 1),
            "search.seconds": st.floats(1e-6, 1e6),
            "wishes.easy": st.floats(0, 100),
            "shares.teal": st.floats(0.1, 10),
            "ease_mm": st.floats(0, 500),
            "risk": st.floats(1e-6, 0.5),
        },
    ),
)
def test_any_brief_comes_back_from_its_text(tmp_path_factory, overrides):
    folder = tmp_path_factory.mktemp("brief")
    (folder / "stash.toml").write_text(STASH)
    (folder / "brief.toml").write_text('strands = 9\nwrist_mm = 160\nstash = "stash.toml"\n')
    first = read_brief(folder / "brief.toml", overrides)
    text = format_brief(first)
    tomllib.loads(text)
    (folder / "brief.toml").write_text(text, encoding="utf-8", newline="")
    again = read_brief(folder / "brief.toml")
    assert format_brief(again) == text
    assert again.length_mm == first.length_mm
    assert again.limits == first.limits
    assert again.search == first.search


TARGET = """\
format = motifsearch-target-1
strands = 8
o = sand
x = teal

rows:
o   x   x   o
  x   .   x
"""


def test_a_target_survives_the_resolved_text(place):
    """A run that is gone on with must aim at what it aimed at."""
    (place / "wanted.txt").write_text(TARGET)
    first = brief(place, BASE + 'target = "wanted.txt"\n')
    assert first.target is not None
    other = place / "run"
    other.mkdir()
    (other / "stash.toml").write_text(STASH)
    (other / "target.txt").write_text(format_target(first.target))
    (other / "brief.toml").write_text(format_brief(first))
    again = read_brief(other / "brief.toml")
    assert again.target is not None
    assert (again.target.cells == first.target.cells).all()
    assert again.target.palette == first.target.palette


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (None, "expected a target (text or PNG); no such file"),
        (TARGET.replace("= 8", "= 10"), "expected"),
        (TARGET.replace("sand", "snad"), "did you mean 'sand'?"),
        ("\x00", "wanted.txt"),
    ],
)
def test_a_target_that_is_none(place, text, message):
    if text is not None:
        (place / "wanted.txt").write_text(text)
    with pytest.raises(InputError) as caught:
        brief(place, BASE + 'target = "wanted.txt"\n')
    assert message in str(caught.value)


def test_the_stash_is_read_beside_the_brief(place, monkeypatch, tmp_path_factory):
    monkeypatch.chdir(tmp_path_factory.mktemp("elsewhere"))
    assert brief(place, BASE).stash == read_stash(place / "stash.toml")


@pytest.mark.parametrize(("key", "value"), [("length_mm", 13), ("wrist_mm", 16.5)])
def test_a_length_that_looks_like_centimetres_is_asked_back(place, key, value):
    text = f'strands = 8\n{key} = {value}\nstash = "stash.toml"\n'
    (place / "short.toml").write_text(text)
    with pytest.raises(InputError, match=rf"{key}: expected .*is this in cm\?, found {value}"):
        read_brief(place / "short.toml")
