"""How fast the workshop is while a search runs: first band, answers, and what looking costs.

Run it on a quiet machine: ``python tests/bench/bench_workshop.py``.  Figures are of one run;
nothing is asserted.

``bench_workshop.py day`` does in a row what a maker does in eight hours at the page (searches,
looks, painted cells, sheets, bookings and their undoing), and prints what memory the server and
its engine hold after each hour.

``bench_workshop.py scroll`` hangs 1,000 designs on a gallery's page, scrolls through it in
headless Chromium, and prints how long its frames take.
"""

from __future__ import annotations

import json
import shutil
import statistics
import sys
import tempfile
import time
from itertools import pairwise
from pathlib import Path
from typing import Any
from urllib.parse import quote

from motifsearch.runs import asking, trying, wall
from motifsearch.runs.example import demo_folder
from motifsearch.runs.hooks import SILENT, Hooks
from motifsearch.runs.jobs import Looking
from motifsearch.runs.live import Engines, Job
from motifsearch.runs.searching import search
from motifsearch.runs.workroom import open_workroom

SECONDS = 12.0


def answers(folder: Path) -> None:
    """Print when the first band hangs, and how long answers take while the search runs."""
    room = open_workroom(folder)
    engines = Engines()
    try:
        engines.warm()
        time.sleep(8)
        values = asking.starts()["browse-many"] | {"search.generations": 10_000}
        asking.write_values(room, "many.toml", values, "")
        started = time.perf_counter()
        run = wall.start(room, engines, "many.toml")
        one = engines.searches[room.path / run]
        while not any(one.wall):
            time.sleep(0.005)
        print(f"first band after {time.perf_counter() - started:.2f} s")
        shutil.copy(demo_folder() / "patterns" / "chevron.toml", folder / "chevron.toml")
        for name, ask in (
            ("state", lambda: wall.state_of(room, engines)),
            ("check of wishes", lambda: asking.check(room, values)),
            ("look at a band", lambda: trying.look(room, {"of": "chevron.toml"})),
        ):
            ask()
            took = []
            for _ in range(40):
                started = time.perf_counter()
                ask()
                took.append(1000 * (time.perf_counter() - started))
            took.sort()
            print(f"{name}: median {statistics.median(took):.0f} ms, 95 % within {took[37]:.0f} ms")
    finally:
        engines.close()


def looking(folder: Path) -> None:
    """Print the designs a second of a search that is looked at, and of one that is not."""
    import multiprocessing

    pipe, other = multiprocessing.Pipe()
    brief = demo_folder() / "browse-many.toml"
    more = {"search.seconds": SECONDS, "search.generations": 100_000, "search.rest_after": 0,
            "gallery.size": 24}  # fmt: skip
    rates: dict[str, list[float]] = {"looked at": [], "not looked at": []}
    for _ in range(3):
        for name in rates:
            look = Looking(other, Job(folder=str(folder), brief=str(brief)))
            hooks = Hooks(seen=look.seen) if name == "looked at" else SILENT
            run = search(brief, overrides=more, hooks=hooks)
            rates[name].append(run.searched / SECONDS)
            while pipe.poll():
                pipe.recv()
    for name, found in rates.items():
        print(f"{name}: {statistics.median(found):,.0f} designs a second")
    share = 1 - statistics.median(rates["looked at"]) / statistics.median(rates["not looked at"])
    print(f"looking costs {share:.1%} of the designs a second")


def held_mb(pid: int) -> tuple[float, float]:
    """Return the memory (MB) that a process holds, and that of all its children together."""
    own, children = 0.0, 0.0
    parents: dict[int, int] = {}
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                text = (entry / "stat").read_text()
            except OSError:
                continue
            parents[int(entry.name)] = int(text.rpartition(")")[2].split()[1])
    for one in parents:
        above, steps = one, 0
        while above not in (0, pid) and steps < 20:
            above, steps = parents.get(above, 0), steps + 1
        if above == pid:
            try:
                lines = (Path("/proc") / str(one) / "smaps_rollup").read_text().splitlines()
            except OSError:
                continue
            mb = sum(int(li.split()[1]) for li in lines if li.startswith("Pss:")) / 1024
            own, children = (own + mb, children) if one == pid else (own, children + mb)
    return own, children


def day(folder: Path, hours: int = 8) -> None:
    """Print the memory of a workshop over a long session."""
    from workshop.shop import Shop
    from workshop.test_hard_times import Page

    shutil.copytree(Path(__file__).parents[2] / "results" / "demo", folder / "demo")
    shop = Shop(folder)
    try:
        page = Page(shop)

        def post(name: str, body: object) -> Any:
            status, data, _ = page.ask("POST", f"/do/{name}", body)
            if status != 200:
                raise RuntimeError(f"{name}: {status} {data[:300]!r}")
            return json.loads(data)

        print(f"at the start: server {held_mb(shop.process.pid)[0]:.0f} MB")
        for hour in range(hours):
            values = asking.starts()["browse-many"] | {"search.seed": hour, "search.seconds": 20}
            post("wishes/save", {"name": f"hour{hour}.toml", "values": values, "version": ""})
            run = post("search/start", {"brief": f"hour{hour}.toml"})["run"]
            for n in range(60):
                of = f"demo/candidates/{n % 3 + 1:03d}"
                post("look", {"of": of, "mirror": n % 2 == 0, "length_mm": 140 + n})
                if n % 4 == 0:
                    cells = [[2 + n % 5, 1, "sand"]]
                    page.ask("POST", "/do/paint", {"ask": {"of": of}, "cells": cells})
                if n % 6 == 0:
                    asks = quote(json.dumps({"asks": [{"of": of}], "form": "pdf"}))
                    page.ask("GET", f"/get/sheet?q={asks}")
                page.ask("GET", "/get/state")
            number = post("book", {"ask": {"of": "demo/candidates/001"}, "bands": 1})["number"]
            post("unbook", {"number": number})
            while json.loads(page.ask("GET", f"/get/run?name={run}")[1]).get("state") not in (
                "done",
                "failed",
                None,
            ):
                time.sleep(0.5)
            own, engine = held_mb(shop.process.pid)
            print(f"after {hour + 1} h: server {own:.0f} MB, engine {engine:.0f} MB", flush=True)
    finally:
        shop.end()


def scroll(folder: Path, number: int = 1000) -> None:
    """Print the frames a second of a gallery's page with many designs while it is scrolled."""
    sys.path.insert(0, str(Path(__file__).parents[1]))
    from workshop.shop import Tab

    brief = demo_folder() / "browse-many.toml"
    run = folder / "many"
    more = {"gallery.size": number, "search.generations": 100}
    search(brief, overrides=more, out=run, workers=None)
    tab = Tab(folder / "profile")
    try:
        tab.driver.get((run / "gallery.html").as_uri())
        tab.driver.set_script_timeout(120)
        frames = tab.driver.execute_async_script(
            "const done = arguments[0], t = []; let y = 0;"
            "const high = document.documentElement.scrollHeight;"
            "function step(now) { t.push(now); y += 60; scrollTo(0, y);"
            " if (y < high && t.length < 900) requestAnimationFrame(step); else done(t); }"
            "requestAnimationFrame(step);"
        )
        took = sorted(b - a for a, b in pairwise(frames))
        print(
            f"{number} designs, {len(took)} frames: median {statistics.median(took):.1f} ms, "
            f"95 % within {took[int(0.95 * len(took))]:.1f} ms, "
            f"{1000 / statistics.mean(took):.0f} frames a second"
        )
    finally:
        tab.quit()


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        shutil.copy(demo_folder() / "stash-workshop.toml", place / "stash.toml")
        if sys.argv[1:] == ["day"]:
            day(place)
        elif sys.argv[1:] == ["scroll"]:
            scroll(place)
        else:
            answers(place)
            looking(place)
