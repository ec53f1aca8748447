"""Errors, tables and files at their edges."""

from __future__ import annotations

import pytest

from motifsearch.base.errors import InfeasibleError, InputError, MotifError, shorten
from motifsearch.base.tomlfile import Table, write_atomic
from motifsearch.thread.stash import parse_stash


def table(**data):
    return Table(data, "file.toml")


def test_a_long_value_is_shown_at_80_characters():
    assert len(shorten("x" * 200)) == 80
    assert shorten("x" * 78) == repr("x" * 78)
    assert shorten("x" * 79).endswith("...")


def test_the_bounds_of_numbers_that_name_none():
    assert table(n=0).whole("n") == 0
    assert table(n=10**9).whole("n") == 10**9
    assert table(n=0).number("n") == 0.0
    assert table(n=1e9).number("n") == 1e9
    for n in (-1, 10**9 + 1):
        with pytest.raises(InputError, match="from 0 to"):
            table(n=n).whole("n")
        with pytest.raises(InputError, match="from 0 to"):
            table(n=n).number("n")


def test_a_number_above_its_bound_is_not_the_bound():
    assert table(n=0.5).number("n", low=0.25, above=True) == 0.5
    assert table(n=0.25).number("n", low=0.25) == 0.25
    with pytest.raises(InputError, match="a number above 0"):
        table(n=0.25).number("n", low=0.25, above=True)


def test_a_text_that_is_no_unicode_is_refused():
    with pytest.raises(InputError, match="UTF-8"):
        table(t="thread\udcff").text("t")


def test_a_list_of_tables_is_missed_unless_it_may_be():
    with pytest.raises(InputError, match="missing; expected tables"):
        parse_stash(table(show="metric"))
    with pytest.raises(InputError, match="missing"):
        table().tables("threads")
    assert list(table().tables("threads", required=False)) == []


def test_what_cannot_be_met_and_what_is_wrong_exit_alike():
    assert (InfeasibleError.exit_code, InputError.exit_code, MotifError.exit_code) == (2, 2, 1)


def test_written_files_can_be_read_by_all(tmp_path):
    write_atomic(tmp_path / "x.toml", "a = 1\n")
    assert (tmp_path / "x.toml").stat().st_mode & 0o777 == 0o644
