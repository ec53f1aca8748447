"""Every reader against anything: only our own errors come out, soon, and nothing else happens.

Three kinds of input: bytes at random; well-formed TOML with the right keys and wrong values; and
valid files with a wound.  A guard stops a reader that does not end (it is no measure of speed).
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import random
import signal
import warnings
import zipfile
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest
import tomli_w
from click.testing import CliRunner
from conftest import INKS
from designs import bare
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from motifsearch.base.errors import MotifError
from motifsearch.cli import main
from motifsearch.pattern.design import make_pattern
from motifsearch.pattern.files import format_pattern, read_pattern
from motifsearch.runs.kept import standing
from motifsearch.runs.record import read_record
from motifsearch.search.brief import TOP_KEYS, WISHES, read_brief
from motifsearch.search.checkpoint import checkpoint_bytes, load_checkpoint
from motifsearch.search.loop import evolve, new_run
from motifsearch.target.reading import read_target
from motifsearch.thread.calibration import read_calibration
from motifsearch.thread.measurement import read_measurement
from motifsearch.thread.stash import read_stash

CONFIGS = Path(__file__).parents[2] / "configs"
STASH = (CONFIGS / "stash-workshop.toml").read_text(encoding="utf-8")
PATTERN = (CONFIGS / "patterns" / "bordered-arrows.toml").read_text(encoding="utf-8")
BRIEF = """\
title = "x"
strands = 6
length_mm = 60
stash = "stash.toml"
colours = ["sand", "moss", "brick"]
colours_max = 3
target = ""
start_allowance_mm = 50
risk = 0.05
pairing = "total"

[shares]
sand = 1
moss = 2

[limits]
evenness_min = 0.1
on_hand = true
repeat_rows_max = 24

[wishes]
movement = 2

[search]
population = 20
generations = 2
exchange_every = 2
periods = [2]

[gallery]
size = 2
"""
CALIBRATION = """\
format = "motifsearch-calibration-1"
row_gauge = 2.1
row_gauge_error = 0.05
strand_gauge = 2.0
loop_scale = 0.95
bend = 0.1
scatter = 0.03
observations = 8
freedom = 5
crossing_loop = [6.0, 3.0]
returning_loop = [6.5, 2.0]
notes = ["x"]
"""
MEASUREMENT = """\
format = "motifsearch-measurement-1"
pattern = "pattern.toml"
rows_knotted = 120
finished_length_mm = 152
width_mm = 10
diameter_mm = 0.6
start_mm = 60

[[cuts]]
strands = [1, 8]
length_mm = 2100
left_mm = [310, 255]
fold_mm = 1050
"""
TARGET = """\
format = motifsearch-target-1
title = Arrow
strands = 8
repeat = 12
o = sand #d8c49a
x = teal #1f7a78

rows:
o   x   x   o
  x   .   x
x   o   o   x
  o   o   o
"""
READERS = {
    "pattern": (read_pattern, PATTERN),
    "stash": (read_stash, STASH),
    "brief": (read_brief, BRIEF),
    "calibration": (read_calibration, CALIBRATION),
    "measurement": (read_measurement, MEASUREMENT),
    "target": (read_target, TARGET),
}
SETTINGS = settings(
    max_examples=int(os.environ.get("MOTIF_FUZZ", "50")),
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
)


class StillRunning(BaseException):
    """The guard: no reader may swallow it."""


@contextlib.contextmanager
def guarded(seconds: int = 30) -> Iterator[None]:
    """Allow our own errors; stop what does not end."""

    def stop(number, frame):
        raise StillRunning(f"not done after {seconds} s")

    old = signal.signal(signal.SIGALRM, stop)
    signal.alarm(seconds)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            yield
    except MotifError as bad:
        assert str(bad)  # noqa: PT017
        assert bad.exit_code in (1, 2)  # noqa: PT017
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, old)


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """A folder with the files that others name."""
    folder = tmp_path_factory.mktemp("fuzz")
    (folder / "stash.toml").write_text(STASH, encoding="utf-8")
    (folder / "pattern.toml").write_text(PATTERN, encoding="utf-8")
    return folder


def check(place: Path, kind: str, data: bytes) -> None:
    reader, _ = READERS[kind]
    path = place / "under-test.toml"
    path.write_bytes(data)
    before = sorted(place.rglob("*"))
    with guarded():
        reader(path)
    assert sorted(place.rglob("*")) == before


kinds = pytest.mark.parametrize("kind", READERS)


@kinds
def test_the_valid_files_are_valid(place, kind):
    """Else their wounds would prove nothing."""
    reader, text = READERS[kind]
    path = place / "valid.toml"
    path.write_text(text, encoding="utf-8")
    assert reader(path)
    path.unlink()


@kinds
@SETTINGS
@given(st.binary(max_size=400))
def test_bytes(place, kind, data):
    check(place, kind, data)


NUMBERS = st.one_of(
    st.integers(-(2**70), 2**70),
    st.sampled_from([0, -1, 1, 10**9, 10**400, 2**63, -(10**400)]),
    st.floats(),
    st.sampled_from([0.0, -0.0, 1e-300, 1e308, float("inf"), float("nan")]),
)
SCALARS = st.one_of(
    NUMBERS,
    st.booleans(),
    st.text(st.characters(exclude_categories=["Cs"]), max_size=12),
    st.sampled_from(
        ["", ".", "..", "../../etc/passwd", "/dev/zero", "/dev/null", "\x00", "CON", "sand",
         "rr rr", "#000000", "#GGGGGG", "#12345６", "stash.toml",
         "pattern.toml", "٣", "\u202e", "a" * 300]
    ),
    st.dates(), st.datetimes(), st.times(),
)  # fmt: skip
VALUES = st.recursive(
    SCALARS,
    lambda inner: st.one_of(
        st.lists(inner, max_size=4),
        st.dictionaries(st.text("abcsan", max_size=4), inner, max_size=3),
    ),
    max_leaves=8,
)  # fmt: skip


def keys_of(table: dict, at: tuple = ()) -> Iterator[tuple]:
    for key, value in table.items():
        yield (*at, key)
        if isinstance(value, dict):
            yield from keys_of(value, (*at, key))
        elif isinstance(value, list):
            for n, item in enumerate(value):
                yield (*at, key, n)
                if isinstance(item, dict):
                    yield from keys_of(item, (*at, key, n))


@pytest.mark.parametrize("kind", [k for k in READERS if k != "target"])
@SETTINGS
@given(data=st.data())
def test_wrong_values_under_right_keys(place, kind, data):
    import tomllib

    table = tomllib.loads(READERS[kind][1])
    for _ in range(data.draw(st.integers(1, 3))):
        where = list(keys_of(table))
        if not where:
            break
        *path, last = data.draw(st.sampled_from(where))
        spot = table
        for part in path:
            spot = spot[part]
        how = data.draw(st.sampled_from(["set", "set", "set", "remove", "rename"]))
        if how == "set" or isinstance(last, int):
            spot[last] = data.draw(VALUES)
        elif how == "remove":
            del spot[last]
        else:
            spot[data.draw(st.text("abces_", max_size=9))] = spot.pop(last)
    if kind == "brief" and data.draw(st.booleans()):
        key = data.draw(st.sampled_from([*TOP_KEYS, *WISHES]))
        table[key] = data.draw(VALUES)
    check(place, kind, tomli_w.dumps(table).encode())


@kinds
@SETTINGS
@given(data=st.data())
def test_wounded_files(place, kind, data):
    """Cut, doubled, swapped and overwritten stretches of a valid file."""
    raw = bytearray(READERS[kind][1].encode())
    for _ in range(data.draw(st.integers(1, 4))):
        if not raw:
            break
        a = data.draw(st.integers(0, len(raw) - 1))
        b = min(len(raw), a + data.draw(st.integers(0, 30)))
        how = data.draw(st.sampled_from(["cut", "double", "noise", "digit", "end"]))
        if how == "cut":
            del raw[a:b]
        elif how == "double":
            raw[a:a] = raw[a:b] * data.draw(st.integers(1, 40))
        elif how == "noise":
            raw[a:b] = data.draw(st.binary(max_size=12))
        elif how == "digit":
            raw[a:a] = data.draw(st.sampled_from([b"9" * 400, b"-", b"e9", b"0x" + b"f" * 5000]))
        else:
            del raw[a:]
    check(place, kind, bytes(raw))


@pytest.mark.parametrize(
    ("kind", "old", "new"),
    [
        ("brief", "length_mm = 60", "length_mm = 1" + "0" * 400),
        ("brief", "strands = 6", "strands = 0x" + "f" * 5000),
        ("brief", "strands = 6", "strands = " + "9" * 5000),
        ("stash", "tex = 250", "tex = 1" + "0" * 400),
        ("stash", "[8, 5.2]", "[8, 1" + "0" * 400 + "]"),
        ("stash", "[8, 5.2]", "[8, 0x" + "f" * 5000 + "]"),
        ("calibration", "bend = 0.1", "bend = 1" + "0" * 400),
        ("calibration", "[6.0, 3.0]", "[6.0, 1" + "0" * 400 + "]"),
        ("measurement", "length_mm = 2100", "length_mm = 1" + "0" * 400),
        ("pattern", 'title = "', 'title = 0x' + "f" * 5000 + ' # "'),
    ],
)  # fmt: skip
def test_numbers_that_no_float_holds(place, kind, old, new):
    """TOML's whole numbers have no bound; each of these is one clear error."""
    reader, text = READERS[kind]
    assert old in text
    path = place / "numbers.toml"
    path.write_text(text.replace(old, new), encoding="utf-8")
    try:
        with pytest.raises(MotifError) as caught:
            reader(path)
        assert len(str(caught.value)) < 1000
        assert caught.value.exit_code == 2
    finally:
        path.unlink()


# --- checkpoints: data, never a pickle -----------------------------------------------------


@pytest.fixture(scope="module")
def checkpoint(place):
    """A small checkpoint, its brief, and its bytes."""
    (place / "brief.toml").write_text(BRIEF, encoding="utf-8")
    brief = read_brief(place / "brief.toml")
    run, _ = evolve(brief, new_run(brief))
    return brief, checkpoint_bytes(run)


def load(place: Path, brief, data: bytes, go_on: bool = False) -> None:
    path = place / "wounded.npz"
    path.write_bytes(data)
    with guarded():
        run = load_checkpoint(path, brief)
        if go_on:  # what is accepted can be gone on with
            evolve(brief, run, generations=min(run.generation + 1, 10**6))


def test_a_checkpoint_is_read_back(place, checkpoint):
    brief, data = checkpoint
    path = place / "whole.npz"
    path.write_bytes(data)
    assert checkpoint_bytes(load_checkpoint(path, brief)) == data


@SETTINGS
@given(st.binary(max_size=300))
def test_checkpoint_bytes(place, checkpoint, data):
    load(place, checkpoint[0], data)
    load(place, checkpoint[0], b"PK\x03\x04" + data)
    load(place, checkpoint[0], b"\x93NUMPY" + data)


@pytest.mark.slow
@settings(SETTINGS, phases=[Phase.explicit, Phase.generate])
@given(st.integers(0, 2**32 - 1))
def test_wounded_checkpoints(place, checkpoint, seed):
    """Most wounds go where the structure is: the heads of members and the directory."""
    brief, whole = checkpoint
    rng = random.Random(seed)
    heads = [n for n in range(len(whole) - 4) if whole.startswith(b"PK", n)]
    for _ in range(10):
        raw = bytearray(whole)
        for _ in range(rng.randint(1, 3)):
            at = rng.choice(heads) + rng.randint(0, 200)
            if rng.random() < 0.2:
                at = rng.getrandbits(30)
            raw[at % len(raw)] = rng.randrange(256)
        if rng.random() < 0.1:
            del raw[rng.randrange(len(raw)) :]
        load(place, brief, bytes(raw))


@pytest.mark.parametrize(
    ("method", "flags"),
    [(8, 0), (12, 0), (99, 0), (14, 0), (8, 1), (99, 1)],
)
def test_members_that_claim_another_compression(place, checkpoint, method, flags):
    """zlib, bz2 and lzma have errors of their own; so has an encrypted member."""
    brief, whole = checkpoint
    raw = bytearray(whole)
    start = 0
    while (at := raw.find(b"PK\x03\x04", start)) >= 0:
        raw[at + 6], raw[at + 8] = flags, method
        start = at + 4
    start = 0
    while (at := raw.find(b"PK\x01\x02", start)) >= 0:
        raw[at + 8], raw[at + 10] = flags, method
        start = at + 4
    path = place / "compressed.npz"
    path.write_bytes(raw)
    with pytest.raises(MotifError):
        load_checkpoint(path, brief)


def with_state(whole: bytes, change) -> bytes:
    """Return the checkpoint with its JSON changed."""
    with np.load(io.BytesIO(whole), allow_pickle=False) as files:
        arrays = {name: files[name] for name in files.files}
    state = json.loads(bytes(arrays["state"]))
    change(state)
    arrays["state"] = np.frombuffer(json.dumps(state).encode(), np.uint8)
    out = io.BytesIO()
    np.savez(out, allow_pickle=False, **arrays)
    return out.getvalue()


JSON = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**140), 2**140) | st.floats() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=5), inner),
    max_leaves=6,
)


@pytest.mark.slow
@SETTINGS
@given(data=st.data())
def test_checkpoints_with_another_state(place, checkpoint, data):
    """Well-formed files in which any value of the JSON is another."""
    brief, whole = checkpoint

    def change(state):
        *path, last = data.draw(st.sampled_from(list(keys_of(state))))
        spot = state
        for part in path:
            spot = spot[part]
        spot[last] = data.draw(JSON)

    load(place, brief, with_state(whole, change), go_on=True)


@pytest.mark.parametrize(
    ("at", "value"),
    [
        ("generation", float("inf")),
        ("generation", -5),
        ("progress", [1, 2, 3] * 10),
        ("progress", [{}] * 30),
        ("rng_state", {}),
    ],
)
def test_states_that_are_refused(place, checkpoint, at, value):
    brief, whole = checkpoint
    path = place / "state.npz"
    path.write_bytes(with_state(whole, lambda state: state.update({at: value})))
    with pytest.raises(MotifError):
        load_checkpoint(path, brief)


def test_a_negative_number_in_the_generator_s_state(place, checkpoint):
    def change(state):
        state["rng_state"]["state"]["state"] = -1

    brief, whole = checkpoint
    path = place / "rng.npz"
    path.write_bytes(with_state(whole, change))
    with pytest.raises(MotifError):
        load_checkpoint(path, brief)


def test_a_pickle_is_refused(place, checkpoint):
    """An object array would run code of the file's author."""

    class Trap:
        def __reduce__(self):
            return (Path.touch, (place / "sprung",))

    brief, whole = checkpoint
    with np.load(io.BytesIO(whole), allow_pickle=False) as files:
        arrays = {name: files[name] for name in files.files}
    arrays["0.seen"] = np.array([Trap()], object)
    path = place / "pickle.npz"
    np.savez(path, allow_pickle=True, **arrays)
    with pytest.raises(MotifError):
        load_checkpoint(path, brief)
    assert not (place / "sprung").exists()


def test_a_member_that_claims_to_be_huge(place, checkpoint):
    """A head that promises a terabyte must not be believed."""
    brief, whole = checkpoint
    path = place / "huge.npz"
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(whole)) as old, zipfile.ZipFile(out, "w") as new:
        for name in old.namelist():
            body = old.read(name)
            if name == "0.seen.npy":
                head = b"{'descr': '<u8', 'fortran_order': False, 'shape': (137438953472,), }"
                head = head.ljust(117) + b"\n"
                body = b"\x93NUMPY\x01\x00" + len(head).to_bytes(2, "little") + head
            new.writestr(name, body)
    path.write_bytes(out.getvalue())
    with pytest.raises(MotifError):
        load_checkpoint(path, brief)


# --- run folders ---------------------------------------------------------------------------


@SETTINGS
@given(st.binary(max_size=200) | JSON.map(lambda v: json.dumps(v).encode()))
def test_run_json(place, data):
    (place / "run.json").write_bytes(data)
    with guarded():
        assert read_record(place)[0].version
    (place / "run.json").unlink()


def test_damaged_candidates_are_named_and_skipped(tmp_path):
    for n, text in enumerate([PATTERN, "rows = [", ""], 1):
        folder = tmp_path / "candidates" / f"{n:03d}"
        folder.mkdir(parents=True)
        (folder / "pattern.toml").write_text(text)
    (tmp_path / "candidates" / "004").mkdir()
    (tmp_path / "candidates" / "stray").write_text("x")
    found, skipped = standing(tmp_path)
    assert [one.name for one in found] == ["001"]
    assert [line[:3] for line in skipped] == ["002", "003", "004"]


# --- titles and names never become paths, nor markup ---------------------------------------

NASTY = [
    "../../escaped",
    "/tmp/escaped",
    "a\x00b",
    "CON",
    "C:\\escaped",
    "x" * 400,
    "</script><script>alert(1)</script>",
    "<img src=x onerror=alert(1)>",
    "\x1b[2J\x07",
    "{{ 7 * 7 }} {% raw %} & <b> &amp;",
    "=1+1",
    "שלום \u202eabc",
]


@pytest.mark.parametrize("title", NASTY)
def test_titles_stay_titles(tmp_path, title):
    """Drawing and printing a design writes the named file and nothing else."""
    inside = tmp_path / "a" / "b" / "desk"
    inside.mkdir(parents=True)
    colours = {title[:60]: "#1c6b70", "sand": "#d8c39a"}
    order = [title[:60], title[:60], "sand", "sand"]
    path = inside / "p.toml"
    path.write_text(format_pattern(make_pattern(title, ["rr ll", "rl"], order, colours)))
    for args in (
        ["draw", str(path), "--out", str(inside / "x.png")],
        ["draw", str(path), "--out", str(inside / "x.svg")],
        ["worksheet", str(path), "--out", str(inside / "x.pdf")],
        ["worksheet", str(path), "--out", str(inside / "x.md")],
        ["show", str(path)],
        ["score", str(path)],
    ):
        result = CliRunner().invoke(main, args)
        assert result.exit_code == 0, (args, result.output, result.exception)
    files = [p.relative_to(tmp_path).as_posix() for p in tmp_path.rglob("*") if p.is_file()]
    assert sorted(files) == [f"a/b/desk/{n}" for n in ("p.toml", "x.md", "x.pdf", "x.png", "x.svg")]
    svg = (inside / "x.svg").read_text(encoding="utf-8")
    assert "<script" not in svg
    assert "<img" not in svg


@pytest.mark.parametrize("title", ["../../escaped", "/tmp/escaped", "a\x00b", "CON", "x" * 3000])
def test_a_run_stays_in_its_folder(tmp_path, title):
    """Whatever the title of the brief, everything is under the run folder."""
    inside = tmp_path / "a" / "b"
    inside.mkdir(parents=True)
    (inside / "stash.toml").write_text(STASH, encoding="utf-8")
    text = BRIEF.replace('title = "x"\n', "")
    (inside / "brief.toml").write_text(f"title = {json.dumps(title)}\n{text}", encoding="utf-8")
    result = CliRunner().invoke(
        main, ["search", str(inside / "brief.toml"), "--out", str(inside / "run"), "--workers", "1"]
    )
    assert result.exit_code in (0, 2), result.exception
    assert result.exception is None or isinstance(result.exception, SystemExit)
    strays = [p for p in tmp_path.rglob("*") if p.is_file() and inside / "run" not in p.parents]
    assert sorted(p.name for p in strays) == ["brief.toml", "stash.toml"]


class Scripts(HTMLParser):
    """Counts what would run."""

    def __init__(self) -> None:
        super().__init__()
        self.found = 0

    def handle_starttag(self, tag, attrs):
        self.found += tag == "script" or any(name.startswith("on") for name, _ in attrs)


def test_the_page_holds_no_script_of_a_title():
    """Titles and colour names are text on the page, whatever they hold."""
    from motifsearch.page.gallery import gallery_html
    from motifsearch.simulate.scores import score_pattern
    from motifsearch.thread.cutting import cut_list
    from motifsearch.thread.stash import Stash, StashThread

    def page(title: str, name: str) -> str:
        threads = (
            StashThread(name, "#1c6b70", 0.6, None, (8000.0,)),
            StashThread("sand", INKS["sand"], 0.6, None, (8000.0,)),
        )
        colours = {t.name: t.colour for t in threads}
        pattern = make_pattern(title, ["rr ll", "rl"], [name, name, "sand", "sand"], colours)
        entry = bare(
            1, pattern, score_pattern(pattern), cut_list(pattern, 100.0), None,
            folder="candidates/001",
        )  # fmt: skip
        return gallery_html([entry], title=title, stash=Stash(threads))

    def scripts(text: str) -> int:
        parser = Scripts()
        parser.feed(text)
        return parser.found

    known = scripts(page("plain", "teal"))
    for nasty in NASTY:
        assert scripts(page(nasty, nasty[:60])) == known, nasty
