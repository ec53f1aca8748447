"""Letters as an outsider reads them: tesseract (Debian: tesseract-ocr), where it is installed."""

from __future__ import annotations

import shutil
import subprocess

import pytest
from PIL import Image, ImageDraw

from motifsearch.pattern.knots import positions_in_row
from motifsearch.pattern.walk import face
from motifsearch.target.alternate import exact_walk, knotted
from motifsearch.target.lettering import set_text
from motifsearch.target.motif import Target

PX = 8


@pytest.mark.skipif(shutil.which("tesseract") is None, reason="tesseract is not installed")
@pytest.mark.parametrize("text", ["BRACELET", "FRIENDS", "WINTER"])
def test_a_word_is_read_from_the_finished_face(text, tmp_path):
    words = set_text(text, 16, 119)
    target = Target(text, 16, ("ground", "ink"), ("#ffffff", "#000000"), words.cells())
    walk = exact_walk(target.cells, 16, True, False)
    assert walk is not None
    pattern = knotted(walk, target)
    ink = pattern.palette.index("ink")
    # The first row at the left, strand 1 below; a knot is a diamond.
    image = Image.new("L", ((target.rows + 2) * PX, 20 * PX), 255)
    draw = ImageDraw.Draw(image)
    for r, row in enumerate(face(pattern, target.rows)):
        for i, colour in zip(positions_in_row(16, r), row, strict=True):
            x, y = (r + 1) * PX, (17 - i) * PX
            if colour == ink:
                draw.polygon([(x - PX, y), (x, y - PX), (x + PX, y), (x, y + PX)], fill=0)
    image.save(tmp_path / "face.png", dpi=(150, 150))
    read = subprocess.run(
        ["tesseract", str(tmp_path / "face.png"), "stdout", "--psm", "7"],
        capture_output=True, text=True, check=True,
    ).stdout  # fmt: skip
    assert "".join(read.split()).upper() == text
