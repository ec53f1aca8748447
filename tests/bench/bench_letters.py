"""Can an outsider read the letters?  tesseract on the flat face, and a thousand words made exact.

Not collected by pytest; run ``bench_letters.py [read] [exact] [sheet FILE]``.

`read`: 300 common words and first names as they are knotted: the face of the finished design, its
two colours as black diamonds on white, turned so that the first row is at the left, on a margin
of white.  tesseract reads each as one line (``--psm 7``), without a list of letters; letters count
by edit distance, case apart.  The words are not those that the drawings were chosen on.  `exact`:
1,000 random words of 3 to 8 letters on 14 to 24 strands, played knot by knot.  `sheet`: all glyphs.

tesseract is the program of the Debian package ``tesseract-ocr`` (5.3.0 when this was written).
"""

from __future__ import annotations

import os
import string
import subprocess
import sys
import tempfile
import time
from collections import Counter
from difflib import SequenceMatcher
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw

from motifsearch.pattern.design import Pattern
from motifsearch.pattern.knots import positions_in_row
from motifsearch.pattern.walk import face
from motifsearch.target.alternate import exact_walk, knotted, wrong_knots
from motifsearch.target.glyphs import HEIGHTS, glyph, known
from motifsearch.target.lettering import set_text
from motifsearch.target.motif import Target

#: Common first names, and common English words; from memory.
NAMES = """
Ada Adam Adele Agnes Alan Albert Alex Alma Amelia Amy Andrew Angela Anton Ariel Arthur Astrid
Audrey Barbara Basil Beatrice Bernard Betty Bianca Brian Bridget Camilla Carla Caroline Cecilia
Charles Christa Claire Colin Conrad Dagmar Daisy Darius Deborah Dennis Diana Dominik Doris Dylan
Edgar Edith Edward Eleanor Eliza Ella Elsa Emil Emily Eric Esther Ethan Eugene Fabian Fatima
Fiona Florian Frances Frank Gabriel Gemma Gerda Gilbert Gloria Grace Gregor Gustav Hanna Harald
Harry Hazel Helen Henry Hilda Holger Howard Imogen Ingrid Irene Isaac Isabel Jacob James Jasmin
Jason Jeremy Jessica Joan Joel John Joseph Joyce Juan Julian June Katrin Kelly Kenneth Kim Kurt
Larissa Laura Lawrence Leah Leila Lena Leonard Lewis Lilian Lisa Lorenz Louis Louise Luca Lydia
Magda Malik Marcel Margaret Maria Marion Mark Martha Martin Mary Matthew Melissa Michael Miriam
Molly Monica Moritz Nadia Naomi Natalie Nathan Neil Nicole Norman Olaf Oliver Owen Pamela
Patrick Peggy Peter Philip Phoebe Quincy Rachel Ralph Raymond Rebecca Regina Richard Robert
Roland Roxana Ruby Rudolf Sabine Sally Sandra Sara Selma Silas Silvia Stefan Stella Sylvia
Tamara Thea Thomas Tobias Tristan Uta Valerie Vanessa Vivian Walda Wilma Winfried Xavier Yasmin
Yvonne Zelda Zita
"""
WORDS = """
about above actor after again air alarm album alone amber among angel answer april arrow artist
autumn baby bag ball band basket bath beauty bed bell berry bicycle bird boat body book bottle
box boy branch brave brother bubble bucket build cabin cable cactus cake camp canal card carpet
cat chain chair chalk circle city class clay clean clock coast coffee coin cold color comet
copper coral corner cousin cow crown cup curtain daisy day deep desk door double duck dust early
east egg eight elbow empty engine every eye fabric face fair family farm fast feather field film
finger fish flag flame floor fly folk fresh fruit full game gate giant girl glass globe glove
gold good grass gray great group habit hair half hammer hand harbor harp hat heart heavy hello
hill holiday horse hotel house hour iron ivory jacket jade jewel join joke judge jump keep key
kind king kitchen kite knee lake lamp large laser leaf leather left letter light lily line lion
list local long loop loud lunch mail map marble market maze meadow meal metal milk mirror month
morning mother mountain mouse music nail name near needle nest never night north nose number oak
oil olive open outer oven owl page paint palm park party path pattern pearl people photo pilot
pine place plain plant plate play pocket poem point pool prince quartz queen quick quiet quilt
radio rail rain reef rhythm ribbon rice ring road rocket roof room rope rose round sail sand
school sea season second seed shade shell ship shirt shoe shop silk silver sing sister size skin
sky sleep small snow sock soft song south space spark spoon spring square stage steel step still
storm street string strong table tale tea ten tent thing third thumb ticket time toast today
tone tool town toy train travel tree true tulip twin under unit until uncle vase velvet very
violet visit vivid walk wall warm watch wave wax week west wheel white wide wild wing wish wood
wool word world yard year yes young zero zigzag zone
"""
CELL = 8


def design(text: str, strands: int, rows: int = 119) -> tuple[Pattern, Target]:
    """Return a text as it is knotted, in the tallest letters that fit."""
    words = set_text(text, strands, rows)
    target = Target(text, strands, ("ground", "ink"), ("#ffffff", "#000000"), words.cells())
    walk = exact_walk(target.cells, strands, strands % 2 == 0, False)
    assert walk is not None
    return knotted(walk, target), target


def flat(pattern: Pattern, rows: int) -> Image.Image:
    """Return the face in two tones, the first row at the left and strand 1 below."""
    ink = pattern.palette.index("ink")
    cells = [
        (r, i)
        for r, row in enumerate(face(pattern, rows))
        for i, colour in zip(positions_in_row(pattern.strands, r), row, strict=True)
        if colour == ink
    ]
    left, right = min(r for r, _ in cells) - 4, max(r for r, _ in cells) + 4
    return diamonds([(r - left, i) for r, i in cells], right - left, pattern.strands)


def diamonds(cells: list[tuple[int, int]], width: int, strands: int) -> Image.Image:
    """Return cells as black diamonds on white, with a margin of two positions."""
    tall = strands + 4
    image = Image.new("L", ((width + 1) * CELL, tall * CELL), 255)
    draw = ImageDraw.Draw(image)
    for x, y in cells:
        cx, cy = (x + 1) * CELL, (tall - 3 - y) * CELL
        draw.polygon([(cx - CELL, cy), (cx, cy - CELL), (cx + CELL, cy), (cx, cy + CELL)], fill=0)
    return image


def read(images: list[Image.Image]) -> list[str]:
    """Return what tesseract reads in every picture."""
    with tempfile.TemporaryDirectory() as folder:
        names = []
        for n, image in enumerate(images):
            names.append(f"{folder}/{n}.png")
            image.save(names[-1], dpi=(150, 150))
        listed = Path(folder) / "list.txt"
        listed.write_text("\n".join(names), "utf-8")
        done = subprocess.run(
            ["tesseract", str(listed), "stdout", "--psm", "7"],
            capture_output=True, text=True, check=True,
            env={**os.environ, "OMP_THREAD_LIMIT": "1"},
        )  # fmt: skip
    return [part.strip() for part in done.stdout.split("\f")][: len(images)]


def distance(a: str, b: str) -> int:
    """Return the edit distance (V. Levenshtein, 1966)."""
    row = list(range(len(b) + 1))
    for i, x in enumerate(a, 1):
        last = row
        row = [i]
        for j, y in enumerate(b, 1):
            row.append(min(last[j] + 1, row[-1] + 1, last[j - 1] + (x != y)))
    return row[-1]


def words_of(n: int = 300) -> list[str]:
    """Return half names and half words, drawn by chance with a fixed seed."""
    rng = np.random.default_rng(300)
    names, words = NAMES.upper().split(), WORDS.upper().split()
    return [
        *rng.choice(names, n // 2, replace=False), *rng.choice(words, n - n // 2, replace=False)
    ]  # fmt: skip


def bench_read(strands: int) -> None:
    """Print the share of letters that are read, and what is taken for what."""
    words = words_of()
    images = []
    for word in words:
        pattern, target = design(word, strands)
        images.append(flat(pattern, target.rows))
    wrong = total = 0
    taken: Counter[str] = Counter()
    missed = []
    for word, text in zip(words, read(images), strict=True):
        got = "".join(text.upper().split())
        off = min(distance(word, got), len(word))
        wrong, total = wrong + off, total + len(word)
        if off:
            missed.append(f"{word}:{text}")
        for tag, a, b, c, d in SequenceMatcher(None, word, got, autojunk=False).get_opcodes():
            if tag != "equal":
                taken[f"{word[a:b] or '-'} as {got[c:d] or '-'}"] += 1
    print(f"{strands} strands: {1 - wrong / total:.2%} of {total} letters in {len(words)} words")
    print("  taken:", ", ".join(f"{what} {n}" for what, n in taken.most_common(40)))
    print("  words:", " ".join(missed))


def bench_exact(n: int = 1000) -> None:
    """Print the wrong cells of random words."""
    rng = np.random.default_rng(8)
    letters = list(string.ascii_uppercase)
    start, wrong = time.perf_counter(), 0
    for _ in range(n):
        word = "".join(rng.choice(letters, rng.integers(3, 9)))
        pattern, target = design(word, int(rng.integers(14, 25)))
        wrong += wrong_knots(pattern, target)
    print(f"{n} words: {wrong} wrong cells, {time.perf_counter() - start:.0f} s")


def sheet(path: str) -> None:
    """Write a picture of all glyphs, in every height, wide and narrow."""
    lines = []
    for height in HEIGHTS:
        for narrow in (False, True):
            names = known(height) if not narrow else "BCDEFGLPS"
            for at in range(0, len(names), 22):
                x, cells = 0, []
                for name in names[at : at + 22]:
                    drawn = glyph(name, height, narrow)
                    cells += [(x + a, y + 1) for a, y in drawn.cells]
                    x += drawn.width + 2 + drawn.width % 2
                lines.append(diamonds(cells, x + 2, height + 2))
    page = Image.new("L", (max(i.width for i in lines), sum(i.height for i in lines)), 255)
    y = 0
    for line in lines:
        page.paste(line, (0, y))
        y += line.height
    page.resize((page.width * 3 // 4, page.height * 3 // 4)).save(path)
    print(path)


def main() -> None:
    """Run what the command line names, or all but the sheet."""
    asked = sys.argv[1:] or ["read", "exact"]
    if "read" in asked:
        for strands in (16, 14, 12, 20):
            bench_read(strands)
    if "exact" in asked:
        bench_exact()
    if "sheet" in asked:
        sheet(asked[asked.index("sheet") + 1])


if __name__ == "__main__":
    main()
