"""How fast the workshop is while a search runs: first band, answers, and what looking costs.

Run it on a quiet machine: ``python tests/bench/bench_workshop.py``.  Figures are of one run;
nothing is asserted.
"""

from __future__ import annotations

import shutil
import statistics
import tempfile
import time
from pathlib import Path

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


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        shutil.copy(demo_folder() / "stash-workshop.toml", place / "stash.toml")
        answers(place)
        looking(place)
