"""The book of what was cut: nothing lost by five at once, by a kill at any moment, or by hand."""

from __future__ import annotations

import json
import os
import random
import stat
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from motifsearch.base.errors import InfeasibleError, InputError, MotifError
from motifsearch.runs.booking import bookings, bookings_text, undo, use
from motifsearch.thread.bookings import Booking, standing, taken, without
from motifsearch.thread.ledger import owned, read_ledger
from motifsearch.thread.plan import CuttingPlan, PieceUse
from motifsearch.thread.stash import Stash, StashThread, read_stash
from motifsearch.thread.usage import use_stash

PATTERN = """format = "motifsearch-pattern-1"
title = "two lines"
rows = ["rr ll", "rr"]
colour_order = ["sand", "teal", "teal", "sand"]
[colours]
sand = "#d8c39a"
teal = "#1c6b70"
"""

BOX = """# my box
[[threads]]
name = "sand"
colour = "#d8c39a"
tex = 250
pieces_m = [8, 8, 3.4]  # a gift

[[threads]]
name = "teal"
colour = "#1c6b70"
tex = 250
pieces_m = [8, 8, 2.5, 0.3]
"""


@pytest.fixture
def box(tmp_path: Path) -> Path:
    (tmp_path / "band.toml").write_text(PATTERN)
    path = tmp_path / "box.toml"
    path.write_text(BOX)
    return path


def total(path: Path) -> float:
    return sum(t.total_mm for t in read_stash(path).threads)


def cut(booking: Booking) -> float:
    """All that a booking took out of the box: its cuts, and the ends too short to keep."""
    gone = 0.0
    for piece in booking.pieces:
        gone += sum(mm for _, mm in piece.cuts)
        gone += piece.left_mm if piece.left_mm < booking.useful_mm else 0.0
    return gone


def consistent(path: Path, start: float) -> None:
    """Every booking of the book is in the stash, and nothing else is."""
    standing_now = [b for b in bookings(path) if not b.undone]
    assert total(path) == pytest.approx(start - sum(map(cut, standing_now)), abs=0.01)


def test_a_booking_is_written_down_and_can_be_taken_back(box: Path) -> None:
    used = use(box.parent / "band.toml", box, bands=2)
    assert used.booking is not None
    (one,) = bookings(box)
    assert one == used.booking
    assert (one.number, one.title, one.bands, one.length_mm) == (1, "two lines", 2, 150.0)
    assert sum(len(p.cuts) for p in one.pieces) == 4  # two bands of two folded threads
    assert b"# a gift" in box.read_bytes()
    consistent(box, 38200.0)
    text = bookings_text(box)
    assert text.startswith("1. ")
    assert "2 bands of" in text
    assert "two lines" in text
    back = undo(box)
    assert back.undone
    assert [sorted(t.pieces_mm) for t in read_stash(box).threads] == [
        [3400.0, 8000.0, 8000.0],
        [300.0, 2500.0, 8000.0, 8000.0],
    ]
    assert "; undone" in bookings_text(box)
    with pytest.raises(InputError, match="expected a booking that stands"):
        undo(box)
    with pytest.raises(InputError, match="booking 1 was undone"):
        undo(box, 1)
    with pytest.raises(InputError, match=r"the number of a booking \(1 to 1\), found 7"):
        undo(box, 7)
    assert use(box.parent / "band.toml", box).booking is not None
    assert [b.number for b in bookings(box)] == [1, 2]
    assert sorted(p.name for p in box.parent.iterdir() if p.name[0] != ".") == [
        "band.toml",
        "box.bookings.jsonl",
        "box.toml",
    ]


def test_a_dry_run_and_a_band_that_cannot_be_cut_leave_nothing(box: Path) -> None:
    before = box.read_bytes()
    assert use(box.parent / "band.toml", box, dry_run=True).booking is None
    with pytest.raises(InfeasibleError, match="not enough thread"):
        use(box.parent / "band.toml", box, bands=400)
    assert box.read_bytes() == before
    assert not (box.parent / "box.bookings.jsonl").exists()
    assert bookings(box) == ()
    assert bookings_text(box) == "nothing was booked yet\n"


@pytest.mark.slow
def test_five_at_once_are_five_bookings(box: Path) -> None:
    command = [sys.executable, "-m", "motifsearch", "stash", "use", str(box.parent / "band.toml")]
    together = [
        subprocess.Popen([*command, "--stash", str(box)], stdout=subprocess.PIPE, text=True)
        for _ in range(5)
    ]
    said = [process.communicate()[0] for process in together]
    assert [process.returncode for process in together] == [0] * 5
    book = bookings(box)
    assert [b.number for b in book] == [1, 2, 3, 4, 5]
    assert sorted(f"booking {n} " in text for text in said for n in range(1, 6)).count(True) == 5
    consistent(box, 38200.0)


#: Dies by SIGKILL at the k-th call that touches the disk; says "through" when it was not reached.
DYING = """
import os, signal, sys
from motifsearch.runs import booking
k, what, box = int(sys.argv[1]), sys.argv[2], sys.argv[3]
calls = 0
def dying(real):
    def call(*args, **kwargs):
        global calls
        calls += 1
        if calls == 2 * k:
            os.kill(os.getpid(), signal.SIGKILL)
        done = real(*args, **kwargs)
        calls += 1
        if calls == 2 * k + 1:
            os.kill(os.getpid(), signal.SIGKILL)
        return done
    return call
for name in ("fsync", "replace", "unlink", "chmod"):
    setattr(os, name, dying(getattr(os, name)))
booking.use(sys.argv[4], box) if what == "use" else booking.undo(box)
print("through")
"""


@pytest.mark.slow
@pytest.mark.parametrize("what", ["use", "undo"])
def test_a_kill_at_any_moment_leaves_stash_and_book_agreeing(box: Path, what: str) -> None:
    band = box.parent / "band.toml"
    use(band, box)
    done = before = 1
    for k in range(1, 40):
        if what == "undo":
            while not any(not b.undone for b in bookings(box)):
                use(band, box)
        run = subprocess.run(
            [sys.executable, "-c", DYING, str(k), what, str(box), str(band)],
            capture_output=True,
            text=True,
            check=False,
        )
        assert run.returncode in (0, -9), run.stderr
        consistent(box, 38200.0)  # as a reader sees it, before anyone mends
        with owned(box) as book:  # as the next writer mends it
            assert book.open == ()
            assert not book.next.exists()
            done = len(book.bookings)
        consistent(box, 38200.0)
        if what == "use":
            assert done in (before, before + 1)
            before = done
            while len([b for b in bookings(box) if not b.undone]) > 1:
                undo(box)
        if "through" in run.stdout:
            assert k > 3
            break
    else:
        pytest.fail("it never came through")


def test_a_torn_last_line_hides_nothing(box: Path) -> None:
    band = box.parent / "band.toml"
    use(band, box)
    path = box.parent / "box.bookings.jsonl"
    with path.open("ab") as out:
        out.write(b'{"format": "motifsearch-bookings-1", "entry": 2, "ev')
    assert len(bookings(box)) == 1
    assert "left out: line 3" in bookings_text(box)
    use(band, box)
    assert [b.number for b in bookings(box)] == [1, 2]
    consistent(box, 38200.0)


@pytest.mark.parametrize(
    "line",
    [b"[]", b"null", b"\xff\xfe", b'{"event": "book"}', b'{"event": "undo", "entry": 1e999}',
     b'{"event": "book", "entry": 9, "number": 2, "at": 3}', b"[" * 5000,
     b'{"event": "undo", "entry": 5, "number": "x", "at": ""}',
     b'{"event": "book", "entry": 5, "number": 2, "at": "", "title": "", "pattern": "", "bands": 1,'
     b' "length_mm": 1, "useful_mm": 1, "pieces": [{"thread": "x"}]}'],
)  # fmt: skip
def test_a_damaged_line_is_named_and_left_out(box: Path, line: bytes) -> None:
    use(box.parent / "band.toml", box)
    path = box.parent / "box.bookings.jsonl"
    path.write_bytes(line + b"\n" + path.read_bytes())
    assert read_ledger(box).damaged == (1,)
    assert len(bookings(box)) == 1
    undo(box)
    consistent(box, 38200.0)


def test_a_link_and_permissions(box: Path) -> None:
    box.chmod(0o600)
    link = box.parent / "elsewhere" / "mine.toml"
    link.parent.mkdir()
    link.symlink_to(box)
    use(box.parent / "band.toml", link)
    assert link.is_symlink()
    assert stat.S_IMODE(box.stat().st_mode) == 0o600
    assert len(bookings(box)) == len(bookings(link)) == 1
    consistent(box, 38200.0)


def test_a_leftover_that_is_gone_is_named(box: Path) -> None:
    use(box.parent / "band.toml", box)
    stash = read_stash(box)
    kept = [p for t in stash.threads for p in t.pieces_mm if p in (8000.0, 300.0)]
    lines = BOX.replace("[8, 8, 3.4]", "[8]").replace("[8, 8, 2.5, 0.3]", "[8]")
    box.write_text(lines)
    assert kept
    with pytest.raises(InputError, match=r"cannot be undone: the leftover of .* no longer in"):
        undo(box)
    assert box.read_text() == lines
    assert not bookings(box)[0].undone


def test_a_folder_that_cannot_be_written_is_said(
    box: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = box.read_bytes()

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", full)
        with pytest.raises(MotifError, match="No space left"):
            use(box.parent / "band.toml", box)
    assert box.read_bytes() == before
    assert bookings(box) == ()
    use(box.parent / "band.toml", box)
    consistent(box, 38200.0)


def test_the_book_is_only_ever_appended(box: Path) -> None:
    path = box.parent / "box.bookings.jsonl"
    seen = b""
    for step in ("use", "use", "undo", "use", "undo", "undo"):
        if step == "use":
            use(box.parent / "band.toml", box)
        else:
            undo(box)
        now = path.read_bytes()
        assert now.startswith(seen)
        assert len(now) > len(seen)
        seen = now
    assert [json.loads(line)["event"] for line in seen.splitlines()[::2]] == [
        "book", "book", "undo", "book", "undo", "undo",
    ]  # fmt: skip


@settings(max_examples=200, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 12))
def test_bookings_can_be_undone_in_any_order(seed: int, steps: int) -> None:
    """The box as the bookings that stand leave it is the box where no other was ever made.

    Exact up to ends: an end of a piece that was too short to keep was thrown away.
    """
    choose = random.Random(seed)
    start = Stash((StashThread("a", "#000000", 0.6, None, (8000.0, 8000.0, 3000.0)),))
    stash, book = start, []
    for _ in range(steps):
        stand = [b for b in book if not b.undone]
        pieces = stash.threads[0].pieces_mm
        if pieces and (not stand or choose.random() < 0.6):
            piece = choose.choice(pieces)
            length = round(choose.uniform(1.0, piece), 3)
            use_of = PieceUse("a", piece, (("A", length),), round(piece - length, 3))
            plan = CuttingPlan((use_of,), useful_mm=200.0)
            stash = use_stash(stash, plan)
            made = taken(plan, book)
            book.append(Booking(number=len(book) + 1, at="t", useful_mm=200.0, pieces=made))
        elif stand:
            chosen = standing(book, choose.choice(stand).number, "s")
            stash = without(stash, book, chosen.number)
            book[chosen.number - 1] = replace(chosen, undone="t")
        spent = sum(p.piece_mm - p.left_mm for b in book if not b.undone for p in b.pieces)
        lost = start.threads[0].total_mm - spent - stash.threads[0].total_mm
        assert -0.01 <= lost <= 200.0 * 3  # at most one short end a piece
    for booking in book:
        if not booking.undone:
            stash = without(stash, book, booking.number)
            book[booking.number - 1] = replace(booking, undone="t")
    assert sorted(stash.threads[0].pieces_mm) == [3000.0, 8000.0, 8000.0]
