"""How long the board page takes to answer a tap: 24 strands, 400 rows of noise, phone size.

Run: ``python tests/bench/bench_board.py`` (needs chromium and chromedriver).
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import numpy as np

TESTS = Path(__file__).parents[1]
sys.path[:0] = [str(TESTS), str(TESTS / "page")]

from browser import Browser  # noqa: E402
from designs import INKS  # noqa: E402
from test_board_browser import sheet  # noqa: E402

from motifsearch.page.board import board_html  # noqa: E402
from motifsearch.pattern.design import make_pattern  # noqa: E402

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
    html = board_html(sheet(noise, 400))
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
    print(
        f"{len(html.encode()) / 1000:.0f} kB; a tap: median {half:.1f} ms, 95 % {most:.1f} ms, worst {worst:.1f} ms"
    )


if __name__ == "__main__":
    main()
