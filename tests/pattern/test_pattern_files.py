"""Pattern files: an exact round trip, and one clear message for everything that is wrong."""

from __future__ import annotations

import tomllib

import pytest
from conftest import patterns
from hypothesis import given
from hypothesis import strategies as st

from motifsearch.base.errors import InputError, MotifError
from motifsearch.base.tomlfile import Table
from motifsearch.pattern.design import make_pattern
from motifsearch.pattern.files import FORMAT, format_pattern, parse_pattern, read_pattern
from motifsearch.pattern.files import write_pattern as write

GOOD = """\
format = "motifsearch-pattern-1"
title = "Two lanes"
rows = ["rr rr", "rl"]
colour_order = ["sand", "sand", "teal", "teal"]

[colours]
sand = "#d8c49a"
teal = "#1F7A78"
"""


def parse(text: str):
    return parse_pattern(Table(tomllib.loads(text), source="x.toml"))


@given(patterns(), st.text(st.characters(exclude_categories=["Cs"]), max_size=200))
def test_round_trip_is_exact(pattern, title):
    named = make_pattern(title, pattern.grid, pattern.colour_order, pattern.colours)
    text = format_pattern(named)
    again = parse(text)
    assert again == named
    assert format_pattern(again) == text


@given(
    st.dictionaries(
        st.text(st.characters(exclude_categories=["Cs"]), max_size=20),
        st.integers(0, 0xFFFFFF).map(lambda n: f"#{n:06x}"),
        min_size=1,
        max_size=6,
    )
)
def test_any_colour_name_survives(colours):
    names = list(colours)
    order = [names[n % len(names)] for n in range(8)]
    pattern = make_pattern("", ["rr ll rl lr", "rr rr rr"], order, colours)
    assert parse(format_pattern(pattern)) == pattern


def test_a_file_keeps_the_definitions_of_the_design(tmp_path):
    """The keys of section 6, and no other."""
    write(parse(GOOD), tmp_path / "p.toml")
    data = tomllib.loads((tmp_path / "p.toml").read_text())
    assert list(data) == ["format", "title", "rows", "colour_order", "colours"]
    assert data["format"] == FORMAT == "motifsearch-pattern-1"
    assert data["rows"] == ["rr rr", "rl"]
    assert data["colours"]["teal"] == "#1f7a78"  # colours are kept in lower case
    assert read_pattern(tmp_path / "p.toml") == parse(GOOD)
    assert [p.name for p in tmp_path.iterdir()] == ["p.toml"]


@pytest.mark.parametrize("mark", ["", "\ufeff"])
@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_what_editors_leave_in_files(tmp_path, mark, ending):
    """A byte order mark and the line ends of other systems."""
    path = tmp_path / "p.toml"
    path.write_bytes((mark + GOOD.replace("\n", ending)).encode())
    assert read_pattern(path) == parse(GOOD)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (
            'format = "motifsearch-pattern-1"\n', "",
            'x.toml: format: missing; expected a text',
        ),
        (
            "pattern-1", "pattern-2",
            'x.toml: format: expected "motifsearch-pattern-1", found \'motifsearch-pattern-2\'',
        ),
        (
            "title =", "titel =",
            "x.toml: titel: unknown key (did you mean 'title'?)",
        ),
        (
            '"rl"]', '"rx"]',
            "x.toml: rows[1]: expected knots out of rr ll rl lr, found 'rx'",
        ),
        (
            '"rl"]', '"rl rl"]',
            "x.toml: rows[1]: expected 1 knots (4 strands, row 2), found 'rl rl'",
        ),
        (
            ', "rl"]', "]",
            "x.toml: rows: expected an even number of rows, 2 to 400, found '1 rows'",
        ),
        (
            'rows = ["rr rr", "rl"]', "rows = []",
            "x.toml: rows: expected an even number of rows, 2 to 400, found '0 rows'",
        ),
        (
            'rows = ["rr rr", "rl"]', "rows = 7",
            'x.toml: rows: expected a list of rows such as "rr ll rl", found 7',
        ),
        (
            'rows = ["rr rr", "rl"]', 'rows = ["rr rr", 3]',
            'x.toml: rows[1]: expected a list of rows such as "rr ll rl", found 3',
        ),
        (
            '"teal", "teal"]', '"teal", "teel"]',
            "x.toml: colour_order[3]: expected a name from [colours] (did you mean 'teal'?), "
            "found 'teel'",
        ),
        (
            '"sand", "sand", "teal", "teal"', '"sand", "sand", "teal"',
            "x.toml: colour_order: expected 4 to 24 strands, found 3",
        ),
        (
            "#d8c49a", "d8c49a",
            'x.toml: colours.sand: expected a colour such as "#c04020", found \'d8c49a\'',
        ),
        (
            '"#d8c49a"', "3",
            'x.toml: colours.sand: expected a colour such as "#c04020", found 3',
        ),
        (
            '"#d8c49a"', '"#d8c49a\\n"',
            'x.toml: colours.sand: expected a colour such as "#c04020", found \'#d8c49a\\n\'',
        ),
        (
            "title = \"Two lanes\"", "title = 7",
            "x.toml: title: expected a text, found 7",
        ),
    ],
)  # fmt: skip
def test_one_clear_message(old, new, message):
    """File, key, what was expected, what stood there."""
    assert old in GOOD
    with pytest.raises(InputError) as caught:
        parse(GOOD.replace(old, new))
    assert str(caught.value) == message
    assert caught.value.exit_code == 2


def test_25_strands_are_too_many():
    many = GOOD.replace('"sand", "sand"', ", ".join(['"sand"'] * 23))
    with pytest.raises(InputError, match="colour_order: expected 4 to 24 strands, found 25"):
        parse(many)


def test_402_rows_are_too_many():
    many = GOOD.replace('"rr rr", "rl"', ", ".join(['"rr rr", "rl"'] * 201))
    with pytest.raises(InputError, match="2 to 400, found '402 rows'"):
        parse(many)


@pytest.mark.parametrize(
    ("name", "content", "message"),
    [
        ("none.toml", None, "expected a pattern file; no such file"),
        ("dir", "DIR", "expected a pattern file; a folder"),
        ("bad.toml", b"a = [", "expected a pattern file in TOML: "),
        ("latin.toml", b'title = "caf\xe9"', "expected a pattern file in UTF-8: "),
        ("nul.toml", b"\x00", "expected a pattern file in TOML: "),
        ("deep.toml", b"a = " + b"[" * 5000, "expected a pattern file in TOML: "),
        ("large.toml", b"#" * 4_000_001, "expected a pattern file of at most 4000000 bytes"),
        ("a" * 300, None, "pattern file"),
        ("nul\x00.toml", None, "pattern file"),
    ],
)
def test_files_that_are_none(tmp_path, name, content, message):
    path = tmp_path / name
    if content == "DIR":
        path.mkdir()
    elif content is not None:
        path.write_bytes(content)
    with pytest.raises(InputError) as caught:
        read_pattern(path)
    assert message in str(caught.value)
    assert str(path) in str(caught.value)


def test_a_device_is_no_pattern():
    with pytest.raises(InputError):
        read_pattern("/dev/zero")


def test_writing_where_there_is_no_folder(tmp_path):
    with pytest.raises(MotifError, match="cannot write: No such file"):
        write(parse(GOOD), tmp_path / "no" / "p.toml")
    assert list(tmp_path.iterdir()) == []
