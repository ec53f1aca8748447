"""The stash file: read strictly, written back exactly, used without loss."""

from __future__ import annotations

import re
import stat
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tomli_w
from hypothesis import given, settings
from hypothesis import strategies as st

from motifsearch.base.errors import InfeasibleError, InputError, MotifError
from motifsearch.base.tomlfile import Table
from motifsearch.pattern.design import make_pattern
from motifsearch.thread.cutting import cut_list
from motifsearch.thread.plan import CuttingPlan, PieceUse, plan_cuts
from motifsearch.thread.stash import (
    Stash,
    StashThread,
    format_stash,
    only_threads,
    parse_stash,
    read_stash,
    stash_bounds,
    stash_bytes,
    strand_diameters_mm,
    to_mm,
    write_stash,
)
from motifsearch.thread.stash_edit import with_pieces
from motifsearch.thread.texts import stash_text
from motifsearch.thread.usage import use_stash
from motifsearch.thread.yarn import diameter_mm

WORKSHOP = Path(__file__).parents[2] / "configs" / "stash-workshop.toml"

GOOD = """
show = "imperial"
currency = "EUR"

[[threads]]
name = "teal"
colour = "#1C6B70"
tex = 250
pieces_m = [8, 1.35, 0.1]
skein_m = 8
price_per_skein = 1.2

[[threads]]
name = "sand"
colour = "#d8c39a"
diameter_mm = 0.5
pieces_m = []
"""


def test_a_stash_is_read(tmp_path: Path) -> None:
    path = tmp_path / "s.toml"
    path.write_text(GOOD)
    stash = read_stash(path)
    assert stash.names == ("teal", "sand")
    assert stash.show == "imperial"
    assert stash.currency == "EUR"
    assert stash.source == str(path)
    teal, sand = stash.threads
    assert teal == StashThread(
        "teal", "#1c6b70", diameter_mm(250.0), 250.0, (8000.0, 1350.0, 100.0), 8.0, 1.2
    )
    assert sand.diameter_mm == 0.5
    assert sand.pieces_mm == ()
    assert [teal.is_whole(p) for p in teal.pieces_mm] == [True, False, False]
    total, longest = stash_bounds(stash)
    assert total.tolist() == [9450.0, 0.0]
    assert longest.tolist() == [8000.0, 0.0]
    assert (total.dtype, longest.dtype) == (np.float64, np.float64)


@pytest.mark.parametrize(
    ("old", "new", "key", "says"),
    [
        ("pieces_m = []", "pieces_m = [-1]", "threads[2].pieces_m[0]", "found -1"),
        ("pieces_m = []", "pieces_m = [0]", "threads[2].pieces_m[0]", "found 0"),
        ("pieces_m = []", "pieces_m = [nan]", "threads[2].pieces_m[0]", "found nan"),
        ("pieces_m = []", "pieces_m = [inf]", "threads[2].pieces_m[0]", "found inf"),
        ("pieces_m = []", "pieces_m = [true]", "threads[2].pieces_m[0]", "found True"),
        ("pieces_m = []", "pieces_m = ['8']", "threads[2].pieces_m[0]", "found '8'"),
        ("pieces_m = []", "pieces_m = [8000]", "threads[2].pieces_m[0]", "0.001 to 2000"),
        ("pieces_m = []", "pieces_m = 8", "threads[2].pieces_m", "a list of lengths in m"),
        ("pieces_m = []", "", "threads[2].pieces_m", "missing"),
        ("pieces_m = []", "pieces_cm = []", "threads[2].pieces_cm", "did you mean 'pieces_m'"),
        ("diameter_mm = 0.5", "", "threads[2].tex", "missing; expected tex (g/km) or diameter_mm"),
        ("diameter_mm = 0.5", "diameter_mm = -0.5", "threads[2].diameter_mm", "found -0.5"),
        ("tex = 250", "tex = 0", "threads[1].tex", "found 0"),
        ("tex = 250", "tex = nan", "threads[1].tex", "found nan"),
        ("skein_m = 8", "skein_m = 0", "threads[1].skein_m", "found 0"),
        ("price_per_skein = 1.2", "price_per_skein = -1", "threads[1].price_per_skein", "-1"),
        ('"sand"', '"teal"', "threads[2].name", "unlike threads[1].name"),
        ('"sand"', '""', "threads[2].name", "1 to 60 characters"),
        ("#d8c39a", "#d8c39", "threads[2].colour", '"#c04020"'),
        ("#d8c39a", "sand", "threads[2].colour", "found 'sand'"),
        ('"imperial"', '"feet"', "show", "one of metric, imperial"),
        ("[[threads]]", "[[thread]]", "thread", "did you mean 'threads'"),
    ],
)
def test_what_cannot_be_used_is_named(
    tmp_path: Path, old: str, new: str, key: str, says: str
) -> None:
    path = tmp_path / "s.toml"
    path.write_text(GOOD.replace(old, new))
    with pytest.raises(InputError) as caught:
        read_stash(path)
    assert caught.value.source == str(path)
    assert caught.value.key == key
    assert says in str(caught.value)


def test_a_stash_without_threads_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "s.toml"
    path.write_text("threads = []\n")
    with pytest.raises(InputError, match="at least one table"):
        read_stash(path)


@st.composite
def stashes(draw: st.DrawFn) -> Stash:
    names = draw(
        st.lists(st.text("abcdefgh é\"'\\#=[]", min_size=1, max_size=8), min_size=1, unique=True)
    )
    names = [n for n in names if n == n.strip()] or ["a"]
    threads = []
    for name in names:
        tex = draw(st.none() | st.floats(10.0, 1000.0))
        measured = draw(st.floats(0.1, 5.0))
        metres = draw(st.lists(st.floats(0.001, 100.0), max_size=5))
        threads.append(
            StashThread(
                name,
                draw(st.sampled_from(["#000000", "#a5432d"])),
                diameter_mm(tex) if tex and draw(st.booleans()) else measured,
                tex,
                tuple(to_mm(m) for m in metres),
                draw(st.none() | st.floats(0.1, 100.0)),
                draw(st.none() | st.floats(0.0, 50.0)),
            )
        )
    show = draw(st.sampled_from(["metric", "imperial"]))
    return Stash(tuple(threads), show, currency=draw(st.sampled_from(["", "EUR"])), source="s")


@settings(max_examples=150, deadline=None)
@given(stashes())
def test_what_is_written_is_read_back(stash: Stash) -> None:
    text = format_stash(stash)
    again = parse_stash(Table(tomllib.loads(text), "s"))
    assert again == stash
    assert format_stash(again) == text


VALUES = st.recursive(
    st.none().map(lambda _: 0)
    | st.booleans()
    | st.integers(-(10**12), 10**12)
    | st.floats()
    | st.text(max_size=5)
    | st.sampled_from(["#123456", "metric", "sand"]),
    lambda inner: st.lists(inner, max_size=3),
    max_leaves=4,
)


@settings(max_examples=300, deadline=None)
@given(
    st.dictionaries(
        st.sampled_from(
            ["name", "colour", "tex", "diameter_mm", "pieces_m", "skein_m", "price_per_skein"]
        ),
        VALUES,
    )
)
def test_any_other_value_is_an_input_error(changes: dict[str, Any]) -> None:
    data = tomllib.loads(GOOD)
    data["threads"][0].update(changes)
    text = tomli_w.dumps(data)
    key = None
    try:
        stash = parse_stash(Table(tomllib.loads(text), "s"))
    except InputError as bad:
        key = str(bad.key)
    if key is not None:
        assert key.startswith("threads[")
    else:
        assert all(0.0 < p <= 2e6 for t in stash.threads for p in t.pieces_mm)
        assert all(0.0 < t.diameter_mm <= 20.0 for t in stash.threads)


def test_comments_stay_when_only_pieces_change(tmp_path: Path) -> None:
    path = tmp_path / "s.toml"
    text = WORKSHOP.read_text()
    path.write_text(text)
    stash = read_stash(path)
    teal = replace(stash.threads[0], pieces_mm=(8000.0, 412.5))
    changed = replace(stash, threads=(teal, *stash.threads[1:]))
    write_stash(changed, path)
    assert path.read_text() == text.replace("[8, 8, 3.4, 1.9]", "[8, 0.4125]", 1)
    assert read_stash(path) == changed
    # A change that the pieces do not tell needs a new text.
    write_stash(replace(changed, show="imperial"), path)
    assert "#" not in path.read_text().splitlines()[0]
    assert read_stash(path) == replace(changed, show="imperial")


MULTI = """# my box
[[threads]]  # the good one
pieces_m = [  # newest first ]
    8,        # from the fair [blue]
    8.0,      # a gift
    3.4, 1.9  # ends
]
colour = "#1c6b70"
name = "teal"
tex = 250
"""


@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize("bom", [b"", b"\xef\xbb\xbf"])
@pytest.mark.parametrize(
    ("pieces", "old", "new"),
    [
        ((8000.0, 3400.0, 1900.0), "    8.0,      # a gift\n", ""),
        ((8000.0, 4600.0, 3400.0, 1900.0), "8.0,      # a gift", "4.6,      # a gift"),
        ((8000.0, 8000.0, 3400.0, 250.5), "1.9  # ends", "0.2505  # ends"),
    ],
)
def test_line_ends_mark_and_comments_inside_the_list_stay(
    tmp_path: Path, end: str, bom: bytes, pieces: tuple[float, ...], old: str, new: str
) -> None:
    path = tmp_path / "s.toml"
    path.write_bytes(bom + MULTI.replace("\n", end).encode())
    stash = read_stash(path)
    write_stash(replace(stash, threads=(replace(stash.threads[0], pieces_mm=pieces),)), path)
    want = MULTI.replace(old, new).replace("\n", end).encode()
    if new or "gift" not in old:
        assert path.read_bytes() == bom + want
    else:  # the comment of the piece that is gone may go with it; all other lines stay
        kept = path.read_bytes().decode("utf-8-sig")
        assert all(line in kept for line in want.decode().split(end))
        assert kept.count("\n") == kept.count(end)
    assert sorted(read_stash(path).threads[0].pieces_mm) == sorted(pieces)


@settings(max_examples=150, deadline=None)
@given(
    st.lists(st.sampled_from([8000.0, 3400.0, 1900.0, 250.5, 1.0, 12345.678]), max_size=7),
    st.sampled_from([MULTI, MULTI.replace("3.4, 1.9  # ends", "3.4, 1.9,"), GOOD]),
)
def test_whatever_pieces_are_written_are_read_back(pieces: list[float], text: str) -> None:
    stash = parse_stash(Table(tomllib.loads(text), "s"))
    first = replace(stash.threads[0], pieces_mm=tuple(pieces))
    new = stash_bytes(text.encode(), replace(stash, threads=(first, *stash.threads[1:]))).decode()
    again = parse_stash(Table(tomllib.loads(new), "s"))
    assert sorted(again.threads[0].pieces_mm) == sorted(pieces)
    assert again.threads[1:] == stash.threads[1:]
    outside = [line for line in text.splitlines() if not re.match(r"\s*[\d\]]|pieces_m", line)]
    assert all(line in new for line in outside)  # every line that holds no piece stays


def test_a_link_stays_a_link_and_permissions_stay(tmp_path: Path) -> None:
    (tmp_path / "box").mkdir()
    real = tmp_path / "box" / "s.toml"
    real.write_text(GOOD)
    real.chmod(0o600)
    link = tmp_path / "s.toml"
    link.symlink_to(real)
    stash = read_stash(link)
    write_stash(replace(stash, show="metric"), link)
    assert link.is_symlink()
    assert read_stash(real).show == "metric"
    assert stat.S_IMODE(real.stat().st_mode) == 0o600


def test_a_file_that_is_no_text_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "s.toml"
    path.write_bytes(b"\xff\xfe")
    with pytest.raises(InputError, match="UTF-8"):
        write_stash(Stash((StashThread("a", "#000000", 0.6, None, ()),)), path)
    assert path.read_bytes() == b"\xff\xfe"


def test_a_stash_that_cannot_be_written_is_an_error(tmp_path: Path) -> None:
    stash = Stash((StashThread("a", "#000000", 0.6, None, ()),))
    with pytest.raises(MotifError, match="cannot write"):
        write_stash(stash, tmp_path / "none" / "s.toml")


def test_the_calibration_is_found_from_another_folder(tmp_path: Path) -> None:
    (tmp_path / "old").mkdir()
    (tmp_path / "new").mkdir()
    thread = StashThread("a", "#000000", 0.6, None, ())
    stash = Stash((thread,), source=str(tmp_path / "old" / "s.toml"), calibration="hand.toml")
    write_stash(stash, tmp_path / "new" / "s.toml")
    assert 'calibration = "../old/hand.toml"' in (tmp_path / "new" / "s.toml").read_text()


def test_the_workshop_stash_stands() -> None:
    stash = read_stash(WORKSHOP)
    assert 6 <= len(stash.threads) <= 8
    pieces = [(t, p) for t in stash.threads for p in t.pieces_mm]
    assert any(t.is_whole(p) for t, p in pieces)
    assert any(not t.is_whole(p) for t, p in pieces)
    text = stash_text(stash)
    assert all(name in text for name in stash.names)


def test_diameters_follow_the_colour_order() -> None:
    stash = parse_stash(Table(tomllib.loads(GOOD), "s"))
    inks = {"sand": "#d8c39a", "teal": "#1c6b70"}
    pattern = make_pattern("", ["rr rr", "rr"], ["sand", "teal", "teal", "sand"], inks)
    d = strand_diameters_mm(pattern, stash)
    assert d.tolist() == [0.5, diameter_mm(250.0), diameter_mm(250.0), 0.5]
    assert only_threads(stash, ["sand"]).names == ("sand",)
    strange = make_pattern("", ["rr rr", "rr"], ["snad"] * 4, {"snad": "#d8c39a"})
    with pytest.raises(InputError, match="did you mean 'sand'"):
        strand_diameters_mm(strange, stash)
    assert strand_diameters_mm(strange, stash, 0.7).tolist() == [0.7] * 4
    assert strand_diameters_mm(pattern, stash, 0.7).tolist() == d.tolist()


def test_cutting_takes_the_pieces_and_leaves_the_leftovers() -> None:
    stash = read_stash(WORKSHOP)
    inks = {t.name: t.colour for t in stash.threads}
    order = ["deep teal", "cream", "cream", "deep teal"]
    pattern = make_pattern("", ["rl lr", "rr"], order, inks)
    cuts = cut_list(pattern, 150.0, stash=stash)
    plan = plan_cuts(cuts, stash)
    after = use_stash(stash, plan)
    for before, now in zip(stash.threads, after.threads, strict=True):
        mine = [p for p in plan.pieces if p.thread == before.name]
        spent = sum(p.piece_mm - p.left_mm for p in mine)
        gone = sum(p.left_mm for p in mine if p.left_mm < plan.useful_mm)
        assert now.total_mm == pytest.approx(before.total_mm - spent - gone, abs=1e-6)
    used = sum(before.total_mm for before in stash.threads) - sum(
        now.total_mm for now in after.threads
    )
    gone = sum(p.left_mm for p in plan.pieces if p.left_mm < plan.useful_mm)
    assert used == pytest.approx(cuts.total_mm + gone)
    assert gone <= plan.waste_mm


def test_a_plan_of_another_stash_uses_nothing() -> None:
    stash = Stash((StashThread("a", "#000000", 0.6, None, (1000.0,)),))
    plan = CuttingPlan((PieceUse("a", 2000.0, (("A", 500.0),), 1500.0),))
    with pytest.raises(InputError, match="another stash"):
        use_stash(stash, plan)
    short = CuttingPlan((), (("a", "A", 1500.0),))
    with pytest.raises(InfeasibleError, match=r"no piece of a is left for cut A of 1\.5 m"):
        use_stash(stash, short)


@pytest.mark.parametrize("pieces", ["[800, 340]", "[8, 135]"])
def test_lengths_that_look_like_centimetres_are_asked_back(tmp_path: Path, pieces: str) -> None:
    path = tmp_path / "stash.toml"
    text = f'[[threads]]\nname = "a"\ncolour = "#102030"\ntex = 250\npieces_m = {pieces}\n'
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=r"pieces_m\[\d\].*is this in cm\?"):
        read_stash(path)
    path.write_text(f"{text}skein_m = 800\n", encoding="utf-8")  # a cone: it says so
    assert read_stash(path).threads[0].total_mm > 100_000


def test_lines_end_as_they_ended() -> None:
    """Pieces that no longer stand in the list they came from are written in the file's own way."""
    old = "[[threads]]\r\nname = 'sand'\r\npieces_m = [\r\n 1.5, # short\r\n 2,\r\n]\r\n"
    for text in (old, old.replace("\r\n", "\n")):
        new = with_pieces(text.encode(), [(900.0, 700.0, 8000.0)], lambda _: True)
        assert new is not None
        assert sorted(tomllib.loads(new.decode())["threads"][0]["pieces_m"]) == [0.7, 0.9, 8]
        assert new.count(b"\n") == (new.count(b"\r\n") if "\r\n" in text else new.count(b"\n"))
        assert (b"\r\n" in new) is ("\r\n" in text)
