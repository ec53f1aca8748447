"""Worksheets: their exact text, their steps tied again by a reader, their PDF read by pypdf.

Sources: `Reader` below ties a worksheet from its Markdown alone (it knows what the four knots are
and shares no code with the planner) and must make the face of `pattern.walk`; page sizes are
those of ISO 216 (A4, 210 mm x 297 mm) and of US Letter (8.5 in x 11 in); the cautions are the
project's own list, checked word by word.
"""

from __future__ import annotations

import io
import os
import re
from dataclasses import replace

import numpy as np
import pypdf
import pytest
from designs import bare
from hypothesis import given, settings
from hypothesis import strategies as st

from motifsearch.base.errors import InputError
from motifsearch.pattern.design import Pattern, make_pattern
from motifsearch.pattern.walk import face
from motifsearch.runs.candidate import Candidate
from motifsearch.thread.cutting import Cut, CutList, cut_list
from motifsearch.thread.plan import CuttingPlan, PieceUse
from motifsearch.thread.texts import cut_list_text
from motifsearch.worksheet.blocks import duration, length
from motifsearch.worksheet.content import make_worksheet
from motifsearch.worksheet.forms import to_markdown, to_pdf, to_text
from motifsearch.worksheet.pdf_type import BOX
from motifsearch.worksheet.sections import CARE
from motifsearch.worksheet.steps import mirror_image

INK = {"sand": "#d8c49a", "teal": "#1f7a78", "rust": "#b4532a", "night": "#20263a"}
CAUTIONS = ("under three", "sleep", "play equipment", "machinery", "tight", "Scissors", "needles")
DYE_AND_RULES = ("Dye may run", "product-safety rules")


def entry(pattern: Pattern, length_mm: float = 150.0, plan: CuttingPlan | None = None) -> Candidate:
    return bare(1, pattern, {}, cut_list(pattern, length_mm), plan)


def arrows() -> Pattern:
    order = ["night", "sand", "teal", "rust", "rust", "teal", "sand", "night"]
    return make_pattern("Arrows between two banks", ["rl rr ll lr", "rr rr ll"], order, INK)


def random_pattern(strands: int, rows: int, seed: int) -> Pattern:
    rng = np.random.default_rng(seed)
    grid = rng.choice(4, size=(rows, strands // 2), p=rng.dirichlet(np.ones(4))).astype(np.uint8)
    return make_pattern("Some band", grid, rng.choice(list(INK), size=strands).tolist(), INK)


class Reader:
    """Someone who ties what the sheet says: notches, words, nothing else."""

    def __init__(self, markdown: str) -> None:
        self.held: dict[int, str] = {}
        self.columns: dict[int, list[str]] = {}
        told: dict[int, tuple[str, bool]] = {}
        for notch, colour in re.findall(r"^- notch (\d+): thread \w+, (\w+)$", markdown, re.M):
            self.held[int(notch)] = colour
        sections = re.split(r"^## ", markdown, flags=re.M)[1:]
        for section in sections:
            steps = re.findall(r"^(?:\d+\. notch|Work steps?) \d.*\. Now: .*$", section, re.M)
            if not steps:
                continue
            head = section.splitlines()[0]
            times = int(m[1]) if (m := re.search(r"work it (\d+) times", head)) else 1
            starts = re.findall(r"^- Round \d+ starts with (.*)\.$", section, re.M)
            assert not starts or len(starts) == times
            for n in range(times):
                if starts:
                    assert self.strip() == starts[n]
                for line in steps:
                    if again := re.fullmatch(
                        r"Work steps? (.*) of the round once more\. Now: (.*)\.", line
                    ):
                        for number in self.numbers(again[1]):
                            self.tie(told[number][0], first=False, same_colours=told[number][1])
                        assert self.strip() == again[2]
                        continue
                    number = int(line.partition(".")[0])
                    if n == 0:
                        assert number not in told
                        told[number] = (line, not starts)
                    self.tie(line, first=n == 0, same_colours=not starts)

    @staticmethod
    def numbers(words: str) -> list[int]:
        out: list[int] = []
        for run in re.split(", | and ", words):
            low, _, high = run.partition(" to ")
            out += range(int(low), int(high or low) + 1)
        return out

    def tie(self, line: str, *, first: bool, same_colours: bool) -> None:
        m = re.fullmatch(
            r"\d+\. notch (\d+), (\w+)(?: in round 1)?: (.*); "
            r"it (?:now sits|stays|ends) in (\d+)(?: again)?\. Now: (.*)\.",
            line,
        )
        assert m, line
        notch = int(m[1])
        told = first or same_colours
        assert not told or self.held[notch] == m[2]
        for move in m[3].split(", then "):
            kind, _, over = move.partition(" over ")
            if each := re.fullmatch(r"each of (\d+) (?:down )?to (\d+)", over):
                low, high = int(each[1]), int(each[2])
                way = 1 if high > low else -1
                overs = list(range(low, high + way, way))
            else:
                overs = [int(v) for v in re.findall(r"\d+", over)]
            for other in overs:
                right = kind.startswith("forward")
                assert other == notch + (1 if right else -1), line
                self.columns.setdefault(min(notch, other), []).append(self.held[notch])
                if kind in ("forward", "backward"):
                    self.held[notch], self.held[other] = self.held[other], self.held[notch]
                    notch = other
        assert notch == int(m[4])
        assert not told or self.strip() == m[5]

    def strip(self) -> str:
        groups: list[list] = []
        for notch in sorted(self.held):
            if groups and groups[-1][2] == self.held[notch]:
                groups[-1][1] = notch
            else:
                groups.append([notch, notch, self.held[notch]])
        return ", ".join(f"{a} {c}" if a == b else f"{a}-{b} {c}" for a, b, c in groups)


def face_columns(pattern: Pattern, rows: int, first: int, mirrored: bool) -> dict[int, list[str]]:
    columns: dict[int, list[str]] = {}
    for r, row in enumerate(face(pattern, rows)):
        for k, colour in enumerate(row):
            gap = r % 2 + 2 * k
            seen = pattern.strands - 2 - gap if mirrored else gap
            columns.setdefault(first + seen, []).append(pattern.palette[colour])
    return columns


@settings(max_examples=40, deadline=None)
@given(
    st.builds(
        random_pattern,
        st.integers(4, 24),
        st.sampled_from([2, 4, 6, 12, 24]),
        st.integers(0, 2**32 - 1),
    ),
    st.sampled_from([20.0, 80.0, 150.0]),
    st.integers(1, 9),
    st.booleans(),
)
def test_a_reader_ties_the_face(pattern, length_mm, first, mirrored):
    ws = make_worksheet(
        entry(pattern, length_mm), length_mm=length_mm, first_notch=first, left_handed=mirrored
    )
    reader = Reader(to_markdown(ws))
    assert reader.columns == face_columns(pattern, ws.rows, first, mirrored)


def test_a_reader_ties_long_carries_and_moving_colours():
    stripe = make_pattern("", ["rr " * 8, "rr " * 7], list(INK) * 4, INK)
    ws = make_worksheet(entry(stripe), length_mm=150)
    assert "over each of 2 to 16" in to_markdown(ws)
    assert Reader(to_markdown(ws)).columns == face_columns(stripe, ws.rows, 1, False)
    drift = random_pattern(11, 4, 5)
    ws = make_worksheet(entry(drift, 300), length_mm=300)
    assert any(part.rounds for part in ws.parts)
    assert Reader(to_markdown(ws)).columns == face_columns(drift, ws.rows, 1, False)


SMALL = """\
Two lanes
=========
4 strands from 2 threads · 1.2 cm knotted, 9 rows · about 5 mm wide · about 5 min ·
first band: 2 kinds of knots, 2 steps in a round

The band
--------
A band in sand and teal. Stripes that run along the band.

Cut
---
  A, sand: cut 63 cm; for notch 3 and 4; fold 34 cm from the end for notch 3; knots 14 +
     10 cm; margin 1.3 + 0.9 cm; ends 18 + 18 cm.
  B, teal: cut 58 cm; for notch 5 and 6; fold in half; knots 10 + 9.5 cm; margin 0.9 +
     0.8 cm; ends 18 + 18 cm.
Cut is the whole thread: knots, margin and ends of its strands together, rounded up to a
whole centimetre. Knots is what each strand uses in the band, margin what is added
because no two hands pull alike, ends what is left over at the top and at the bottom for
loop, braid and knot.

Take care
---------
- Not for children under three: cords and small ends can be swallowed or get round the
  neck.
- Not to be worn for sleep, on play equipment, or near machinery: a cord can catch.
- Take it off if it is tight, or if the skin is sore. A finger should fit under it.
- Scissors and needles: children use them only with an adult beside them.
- Dye may run. Test a wet piece of every colour on white cloth before you knot, and
  before you wash.
- If you sell bands or give them to children, the product-safety rules of your country
  hold. This sheet does not replace them.

What you need
-------------
- a board with notches up to number 6, and a clip or pins to hold the knot
- scissors and a tape measure
- stranded cotton in the colours above, about 0.6 mm thick: the lengths are for that,
  and other thread needs its own

Set up
------
1. Fold every thread at its fold point, so that it gives two strands.
2. Lay the folds side by side. Tie one overhand knot with all of them; above it stays a
   loop of about 15 mm.
3. Fix the knot above the middle of the board with the clip or a pin, and lay the
   strands into notches 3 to 6, as shown.
  notch 3: thread A, sand
  notch 4: thread A, sand
  notch 5: thread B, teal
  notch 6: thread B, teal

The knots
---------
A knot is two half hitches of the strand in your hand around its neighbour, which is
held straight: over it, under it, up through the gap and pulled snug, then once more.
- forward: two half hitches to the right; the strand moves one notch to the right, and
  the neighbour takes its place.
- forward-backward: a half hitch to the right, then one back to the left; both strands
  keep their notches.

Order of work
-------------
The band has 9 rows. It looks the same again after 2 rows (3 mm); this length holds 4
full repeats and 1 row more.
Work the round (steps 1 to 2) 4 times, then the ending (step 1 once more, then step 3)
once. One round makes 2 rows.
Then stop: row 9 is complete and the lower edge straight; before that it may be slanted.
A step is one strand, carried on until it is laid down. The colours in the notches after
it show a slip at once.

Round: work it 4 times
----------------------
At the end of a round the colours stand as at its start.
     before: 3-4 sand, 5-6 teal
  1. notch 5, teal: forward over 6; it now sits in 6.
     now: 3-4 sand, 5-6 teal
  2. notch 3, sand: forward over 4, then forward-backward over 5; it now sits in 4.
     now: 3-4 sand, 5-6 teal

Ending
------
     before: 3-4 sand, 5-6 teal
     Work step 1 of the round once more.
     now: 3-4 sand, 5-6 teal
  3. notch 3, sand: forward over 4; it now sits in 4.
     now: 3-4 sand, 5-6 teal

Moving the band
---------------
After every 3 cm or so, when the knots come close to the notches, finish the step, open
the clip or take the pins out, slide the band up, and fix it again just above the last
knots. Strands that came out of their notches go back as the last row of colours shows.

When a strand gets short
------------------------
If a strand has less than about 8 cm left and rows are still to come, tie a new thread
of its colour to it with one overhand knot at the back, close to the last knot it made,
and go on with the new one from the same notch. Trim both ends to 10 mm when the band is
done. Note which strand it was and cut that thread longer the next time.

Finish
------
1. Take the strands out of the notches and sort them into three bundles.
2. Braid about 7 cm, pull snug, and tie one overhand knot with all strands.
3. Trim the ends about 10 mm below the knot. To wear it, pass the braid through the loop
   and tie it.
For both ends together 18 cm of every strand is allowed.
"""


def small() -> Candidate:
    lanes = make_pattern("Two lanes", ["rr rr", "rl"], ["sand", "sand", "teal", "teal"], INK)
    ends = (180.0, 180.0)
    cuts = (
        Cut("A", "sand", (0, 1), (140.0, 100.0), (13.0, 9.0), ends, 630.0, 340.0),
        Cut("B", "teal", (2, 3), (100.0, 95.0), (9.0, 8.0), ends, 580.0, 290.0),
    )
    return bare(1, lanes, {}, CutList(cuts, 9, 12.0), None)


def test_the_text_of_a_small_sheet_is_exact():
    assert to_text(make_worksheet(small(), length_mm=12, first_notch=3)) == SMALL


def test_the_ending_names_the_steps_of_the_round_that_come_once_more():
    ws = make_worksheet(entry(arrows()), length_mm=151)
    ending = ws.parts[-1]
    again = [step for step in ending.steps if step.again]
    of_round = {step.number: step for step in ws.parts[-2].steps}
    assert again
    for step in again:
        same = of_round[step.number]
        assert (step.notch, step.action, step.colour) == (same.notch, same.action, same.colour)
    text = to_text(ws)
    assert re.search(r"Work steps? [\d, toand]+ of the round once more\.", text)
    assert text.count(". notch") == sum(len(part.steps) for part in ws.parts) - len(again)


def test_width_and_wrist_are_told():
    ws = make_worksheet(entry(arrows()), length_mm=150, wrist_mm=165)
    # 8 strands at 2.1 x 0.6 mm are 10.1 mm; rows are whole, so not to the tenth
    assert ws.width_mm == pytest.approx(8 * 2.1 * 0.6, rel=0.01)
    assert "about 10 mm wide" in to_text(ws)
    assert "for a wrist of 16.5 cm" in " ".join(to_text(ws).split())
    assert (
        "wrist" not in to_text(make_worksheet(entry(arrows()), length_mm=150)).split("The band")[0]
    )
    with pytest.raises(InputError):
        make_worksheet(entry(arrows()), length_mm=150, wrist_mm=-1.0)


def test_shown_parts_add_up_to_the_shown_cut():
    cuts = cut_list(arrows(), 110.8)
    ws = make_worksheet(entry(arrows(), 110.8), length_mm=110.8, cuts=cuts)
    text = " ".join(to_text(ws).split())
    assert "11.1 cm knotted" in text
    for cut in cuts.cuts:
        line = re.search(rf"{cut.label}, \w+: cut (\d+) cm;.*?knots (.*?)\.(?= [A-Z])", text)
        assert line is not None
        parts = sum(float(v) for v in re.findall(r"[\d.]+", line[2]))
        assert parts - 0.3 <= int(line[1]) < parts + 1.3  # six shown values, each within 0.05


def pdf_text(data: bytes) -> str:
    pages = pypdf.PdfReader(io.BytesIO(data)).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


@pytest.mark.parametrize("teaching", [False, True])
def test_every_form_carries_the_cautions_and_the_lengths(teaching):
    ws = make_worksheet(entry(arrows()), length_mm=150, teaching=teaching)
    for text in (to_text(ws), to_markdown(ws), pdf_text(to_pdf(ws))):
        for word in CAUTIONS + DYE_AND_RULES:
            assert word in text
        for cut in ws.cuts.cuts:
            assert length(cut.length_mm, "metric", up=True) in text
        assert "notch 7, sand: backward over 6 and 5; it now sits in 5." in " ".join(text.split())


@pytest.mark.parametrize("folded", [True, False])
@pytest.mark.parametrize("strands", [8, 24])
def test_the_cautions_are_on_the_first_page(strands, folded):
    pattern = random_pattern(strands, 2, 2)
    cuts = cut_list(pattern, 60, folded=folded)
    ws = make_worksheet(entry(pattern, 60), length_mm=60, cuts=cuts)
    page = pypdf.PdfReader(io.BytesIO(to_pdf(ws))).pages[0]
    text = " ".join(page.extract_text().split())
    for word in CAUTIONS + DYE_AND_RULES:
        assert word in text


def test_a_sheet_of_a_common_design_has_three_pages():
    data = to_pdf(make_worksheet(entry(arrows(), 170), length_mm=170))
    assert len(pypdf.PdfReader(io.BytesIO(data)).pages) <= 3


def test_the_boxes_carry_letters_and_the_chart_numbers():
    ws = make_worksheet(entry(arrows()), length_mm=150)
    assert ws.letters == {"night": "n", "sand": "s", "teal": "t", "rust": "r"}
    words = pdf_text(to_pdf(ws))
    letters = "".join(ws.letters[name] for name in ws.parts[0].before)
    assert " ".join(letters) in words or letters in words.replace(" ", "")
    assert "n night" in words
    assert "small black triangle" in words
    assert f"Rows 1 to {ws.plan.cycle_rows}, as many as one round makes" in words
    numbers = words.rsplit("at the left the rows.", 1)[1].split()
    assert [str(n) for n in range(1, 9)] == numbers[:8]
    assert str(ws.plan.cycle_rows) in numbers


def test_cut_and_sheet_say_the_same_fold():
    ws = make_worksheet(entry(arrows()), length_mm=150)
    said = " ".join(to_text(ws).split())
    for cut, line in zip(ws.cuts.cuts, cut_list_text(ws.cuts).splitlines()[2:], strict=False):
        fold = re.search(rf"{cut.label}, \w+: cut .*?; fold ([^;]*);", said)
        assert fold is not None
        halves = line.rstrip().endswith("in half")
        assert (fold[1] == "in half") == halves
        if not halves:
            assert fold[1].split(" from ")[0] in line


@pytest.mark.parametrize("show", ["metric", "imperial"])
def test_cut_and_sheet_say_the_same_parts(show):
    ws = make_worksheet(entry(arrows()), length_mm=137, show=show)
    said = " ".join(to_text(ws).split())
    for cut, line in zip(ws.cuts.cuts, cut_list_text(ws.cuts, show).splitlines()[2:], strict=False):
        parts = re.search(
            rf"{cut.label}, \w+: cut .*?; knots (.*?); margin (.*?); ends (.*?)\.(?= |$)", said
        )
        assert parts is not None
        for part in parts.groups():
            assert f"  {part}  " in line


@pytest.mark.parametrize(("paper", "size"), [("A4", (210, 297)), ("Letter", (215.9, 279.4))])
def test_the_pdf_has_the_paper_and_the_same_bytes_twice(paper, size):
    ws = make_worksheet(entry(arrows()), length_mm=150)
    data = to_pdf(ws, paper)
    assert data == to_pdf(make_worksheet(entry(arrows()), length_mm=150), paper)
    for page in pypdf.PdfReader(io.BytesIO(data)).pages:
        box = page.mediabox
        assert (float(box.width) * 25.4 / 72, float(box.height) * 25.4 / 72) == pytest.approx(
            size, abs=0.1
        )


@pytest.mark.slow
def test_the_teaching_sheet_is_one_leaf_and_says_what_it_leaves_out():
    ws = make_worksheet(entry(arrows()), length_mm=150, teaching=True)
    whole = to_pdf(ws, "Letter")
    front, back = (page.extract_text() for page in pypdf.PdfReader(io.BytesIO(whole)).pages)
    places = [front.index(word) for word in ("1. Cut", "2. Set up", "3. Learn the knots", CARE)]
    assert places == sorted(places)
    assert "over, through, pull" in front
    assert "Thread chart" in back
    boxes = sum(not step.again for part in ws.parts for step in part.steps)
    assert boxes > 8
    assert back.count(BOX) == boxes  # one to tick for every step
    wide = make_worksheet(entry(random_pattern(14, 12, 1), 180), length_mm=180, teaching=True)
    data = to_pdf(wide)
    assert len(pypdf.PdfReader(io.BytesIO(data)).pages) == 2
    last = re.search(r"the full sheet goes on with step (\d+)", pdf_text(data))
    assert last is not None
    assert int(last[1]) > 1
    assert f"The full sheet goes on with step {last[1]}" not in to_text(wide)


def test_only_the_cloth_is_an_image():
    data = to_pdf(make_worksheet(entry(arrows()), length_mm=150))
    pages = pypdf.PdfReader(io.BytesIO(data)).pages
    assert [len(page.images) for page in pages] == [1] + [0] * (len(pages) - 1)


def test_a_left_handed_sheet_is_the_mirror_image():
    stripe = make_pattern("", ["rr rr rr", "rr rr rr"], [*INK, *list(INK)[:3]], INK)
    right = make_worksheet(entry(stripe), length_mm=150)
    left = make_worksheet(entry(stripe), length_mm=150, left_handed=True)
    assert left.start == right.start[::-1]
    pairs = zip(right.parts, left.parts, strict=True)
    steps = [(a, b) for one, two in pairs for a, b in zip(one.steps, two.steps, strict=True)]
    for a, b in steps:
        assert a.notch + b.notch == 8
        assert a.after == b.after[::-1]
        assert a.action.startswith("forward")
        assert b.action.startswith("backward")
    assert "left-handed" in to_text(left)


ODD_TEXTS = {
    "<script>alert('x')</script>": "#ff0000",
    "\u0632\u0631\u0642\u0627\u0621": "#0000ff",
    '\U0001f9f5 red & "blue" \u202e': "#00aa88",
    "n" * 500: "#ffffff",
    "a\nb|*_`\x07": "#000000",
}


@pytest.mark.parametrize("teaching", [False, True])
def test_odd_titles_and_names_are_shown_and_break_nothing(teaching):
    title = "<b>&amp; \u05e9\u05dc\u05d5\u05dd \U0001f9f6 \u202e" + "word " * 90
    names = list(ODD_TEXTS)
    pattern = make_pattern(title, ["rl rr ll lr rl", "rr rr ll rr"], names * 2, ODD_TEXTS)
    plan = CuttingPlan((PieceUse("<i>", 900.0, (("A", 800.0),), 100.0),), (("x", "B", 70.0),))
    ws = make_worksheet(
        replace(entry(pattern), plan=plan, notes=("</p>",)), length_mm=150, teaching=teaching
    )
    text, markdown, pdf = to_text(ws), to_markdown(ws), pdf_text(to_pdf(ws))
    for shown in (text, markdown, pdf):
        assert "\u202e" not in shown
        assert "alert('x')" in shown
    assert "<script>alert('x')" in text
    assert "<script>" not in markdown.replace("\\<", "")
    assert "n" * 500 in markdown
    assert "\u2068\u0632\u0631\u0642\u0627\u0621\u2069" in text  # isolated (UAX 9)
    assert "\u0621\u0627\u0642\u0631\u0632" in pdf or "\u0632\u0631\u0642\u0627\u0621" in pdf
    assert "\u25a1 red & " in pdf  # no such glyph: a box, not nothing


@pytest.mark.parametrize("strands", [8, 9])
def test_the_mirror_image_has_the_mirrored_face(strands):
    pattern = random_pattern(strands, 6, 4)
    odd = strands % 2
    mirrored = mirror_image(pattern)
    rows = face(pattern, 21)[odd:]
    expected = [[pattern.palette[c] for c in reversed(row)] for row in rows]
    found = [[mirrored.palette[c] for c in row] for row in face(mirrored, 21 - odd)]
    assert found == expected


def test_without_colours_left_to_tell_and_without_title():
    plain = make_pattern(" ", ["rr rr", "rr"], ["sand"] * 4, INK)
    ws = make_worksheet(entry(plain, 20), length_mm=20)
    assert to_text(ws).startswith("Knotted band\n============\n")
    assert len(to_pdf(ws)) > 1000


def test_another_length_is_said_to_be_worked_out_afresh():
    again = make_worksheet(entry(arrows(), 150), length_mm=180)
    assert again.rows > make_worksheet(entry(arrows(), 150), length_mm=150).rows
    assert "worked out afresh" in to_text(again)
    own = make_worksheet(entry(arrows(), 150), length_mm=180, cuts=cut_list(arrows(), 180))
    assert "worked out afresh" not in to_text(own)


def test_a_cutting_plan_is_told():
    plan = CuttingPlan(
        (PieceUse("sand", 8000.0, (("A", 630.0),), 7370.0),), (("teal", "B", 580.0),)
    )
    text = to_text(make_worksheet(replace(small(), plan=plan), length_mm=12))
    assert "sand, the piece of 800 cm: cut A (63 cm); 737 cm is left." in text
    assert "Missing: teal, 58 cm for B." in text


def test_single_threads_are_not_folded():
    cuts = cut_list(arrows(), 150, folded=False)
    text = to_text(make_worksheet(entry(arrows()), length_mm=150, cuts=cuts))
    assert "8 strands from 8 threads" in text
    assert "do not fold" in text
    assert "Fold every thread" not in text


def test_lengths_in_inches():
    text = " ".join(to_text(make_worksheet(small(), length_mm=12, show="imperial")).split())
    assert "cut 25 in" in text  # 630 mm are 24.8 in, and a cut is rounded up to a quarter inch
    assert "13 1/2 in from the end for notch 1" in text  # 340 mm are 13.39 in
    assert " cm" not in text


def test_times_are_told_to_five_minutes():
    assert [duration(m) for m in (0.5, 62, 58, 123)] == ["5 min", "1 h", "1 h", "2 h 5 min"]


@pytest.mark.parametrize(
    "wrong",
    [
        {"length_mm": 0.0},
        {"length_mm": float("nan")},
        {"length_mm": -5.0},
        {"length_mm": 1e9},
        {"first_notch": 0},
        {"first_notch": 100},
        {"show": "cubits"},
    ],
)
def test_what_cannot_be_used_is_refused(wrong):
    with pytest.raises(InputError):
        make_worksheet(small(), **{"length_mm": 12.0, **wrong})
    with pytest.raises(InputError):
        to_pdf(make_worksheet(small(), length_mm=12.0), "A3")


@pytest.mark.parametrize("epoch", ["1000000000", "0", "no number"])
def test_the_pdf_holds_no_time_whatever_the_environment_says(monkeypatch, epoch):
    sheet = make_worksheet(entry(arrows()), length_mm=150.0)
    monkeypatch.delenv("SOURCE_DATE_EPOCH", raising=False)
    plain = to_pdf(sheet)
    monkeypatch.setenv("SOURCE_DATE_EPOCH", epoch)
    assert to_pdf(sheet) == plain
    assert os.environ["SOURCE_DATE_EPOCH"] == epoch
