"""How long the board page takes to answer a tap: 24 strands, 400 rows of noise, phone size.

Run: ``python tests/bench/bench_board.py`` (needs chromium and chromedriver).
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import numpy as np

TESTS = Path(__file__).parents[1]
sys.path.insert(0, str(TESTS))

from browser import Browser  # noqa: E402
from designs import INKS, bare  # noqa: E402

from motifsearch.page.board import board_html  # noqa: E402
from motifsearch.pattern.design import make_pattern  # noqa: E402
from motifsearch.thread.cutting import cut_list  # noqa: E402
from motifsearch.worksheet.content import make_worksheet  # noqa: E402

TAPS = """
const done = arguments[0], took = [];
(function tap() {
  const begun = performance.now();
  document.getElementById('on').click();
  document.body.offsetHeight;  // the layout is part of the answer
  took.push(performance.now() - begun);
  if (took.length < 300) { requestAnimationFrame(tap); return; }
  took.sort((a, b) => a - b);
  done([took[150], took[285], took[299]]);
})();
"""


def main() -> None:
    """Print the size of the page and the times of 300 taps."""
    rng = np.random.default_rng(3)
    grid = rng.integers(0, 4, (24, 12)).astype(np.uint8)
    noise = make_pattern("Noise", grid, rng.choice(list(INKS), 24).tolist(), INKS)
    one = bare(1, noise, {}, cut_list(noise, 400 * 1.26), None)
    html = board_html(make_worksheet(one, length_mm=400 * 1.26))
    with tempfile.TemporaryDirectory() as folder:
        page = Path(folder) / "board.html"
        page.write_text(html, encoding="utf-8")
        tab = Browser(Path(folder) / "profile")
        try:
            tab.size(390, 844, 2)
            tab.driver.set_script_timeout(120)
            tab.open(page.as_uri())
            half, most, worst = tab.driver.execute_async_script(TAPS)
        finally:
            tab.driver.quit()
    size = len(html.encode()) / 1000
    print(f"{size:.0f} kB; a tap: median {half:.1f}, 95 % {most:.1f}, worst {worst:.1f} ms")


if __name__ == "__main__":
    main()
