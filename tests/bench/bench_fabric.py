"""How long 100 previews take on one core: ``bench_fabric.py``."""

from __future__ import annotations

import time

import numpy as np

from motifsearch.draw.cloth import render_band
from motifsearch.draw.png import png_bytes
from motifsearch.pattern.design import make_pattern


def main() -> None:
    ink = {"teal": "#1f7a78", "sand": "#e2cfa0", "rust": "#b5482a", "navy": "#1d2433"}
    rng = np.random.default_rng(1)
    patterns = [
        make_pattern("", rng.integers(0, 4, (8, 4), np.uint8), list(ink) * 2, ink)
        for _ in range(100)
    ]
    begin = time.perf_counter()
    render_band(patterns[0], 24)
    first = time.perf_counter() - begin
    begin = time.perf_counter()
    images = [render_band(p, 24) for p in patterns]
    drawn = time.perf_counter() - begin
    begin = time.perf_counter()
    size = sum(len(png_bytes(image)) for image in images)
    packed = time.perf_counter() - begin
    begin = time.perf_counter()
    for p in patterns[:10]:
        render_band(p, 24, ends=True)
    ends = time.perf_counter() - begin
    print(f"first preview (makes the stamps)  {first:8.3f} s")
    print(f"100 previews, 8 strands, 24 rows  {drawn:8.3f} s   {100 / drawn:6.0f} a second")
    print(f"100 PNG files, {size / 1e6:5.2f} MB in all   {packed:8.3f} s")
    print(f"one with ends / one without       {ends * 10 / drawn:8.1f} times as long")


if __name__ == "__main__":
    main()
