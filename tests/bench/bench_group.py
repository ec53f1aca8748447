"""Bands from random boxes: the group's program against going down the list, and what is proven.

Run: ``python tests/bench/bench_group.py [BOXES]``.  The designs are those of one short search;
every box is random, half of them so tight that nearly all of it must be used.
``python tests/bench/bench_group.py bands [N]`` makes one group of N people (60), search and all.
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

from motifsearch.base.work import SECOND, Work
from motifsearch.runs.group_offers import Offers
from motifsearch.runs.grouping import group
from motifsearch.runs.searching import search
from motifsearch.search.brief import brief_of
from motifsearch.search.group import Group, Person
from motifsearch.thread.group import down_the_list
from motifsearch.thread.group_program import solve_group

CONFIGS = Path(__file__).parents[2] / "configs"


ASKED = {
    "stash": str(CONFIGS / "stash-workshop.toml"), "strands": 8, "length_mm": 130.0,
    "search.generations": 25, "gallery.size": 24, "colours_max": 3,
    "limits.on_hand": False, "limits.contrast_min": 10.0,
}  # fmt: skip


def main() -> None:
    """Print bands and worth of the program over those of the list, and the boxes proven."""
    if sys.argv[1:2] == ["bands"]:
        many(int(sys.argv[2]) if len(sys.argv) > 2 else 60)
        return
    boxes = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    brief = brief_of(ASKED)
    designs = [one.pattern for one in search(brief)]
    bands, worth, proven, worse, seconds = [], [], 0, 0, []
    for seed in range(boxes):
        problem = _random(brief, designs, np.random.default_rng(seed), tight=seed % 2 == 0)
        hand = down_the_list(problem)
        begun = time.perf_counter()
        found = solve_group(problem, Work(40 * SECOND))
        seconds.append(time.perf_counter() - begun)
        by_hand = (len(hand), problem.worth(hand))
        worse += (found.possible, found.worth + 1e-9) < by_hand
        bands.append((found.possible, by_hand[0]))
        worth.append((found.worth, by_hand[1]))
        proven += found.gap == 0
        print(f"box {seed}: {found.possible} of {found.bound} bands, by hand {by_hand[0]}; worth "
              f"{found.worth:.3f} of {found.worth_bound:.3f}, by hand {by_hand[1]:.3f}; "
              f"{seconds[-1]:.1f} s", flush=True)  # fmt: skip
    ours, theirs = (sum(n) for n in zip(*bands, strict=True))
    more, less = (sum(n) for n in zip(*worth, strict=True))
    print(f"{boxes} boxes: bands {ours / theirs:.3f} times, worth {more / less:.3f} times those of "
          f"the list; worse {worse}; proven {proven}; "
          f"median {np.median(seconds):.1f} s")  # fmt: skip


def many(number: int) -> None:
    """Print how many bands a large group gets, how far from the best, and how long it takes."""
    brief = brief_of({**ASKED, "length_mm": 140.0, "search.generations": 60})
    for tight in (True, False):
        rng = np.random.default_rng(number)
        people = _people(rng, brief.palette, number)
        boxed = _boxed(brief, rng, number, tight=tight)
        begun, worked = time.perf_counter(), time.process_time()
        run = group(Group(brief=boxed, people=people, alike="none"))
        print(f"{number} people, {'a tight box' if tight else 'enough'}: {run.possible} bands of "
              f"{run.bound}, gap {run.gap:.2%}, {time.perf_counter() - begun:.0f} s "
              f"({time.process_time() - worked:.0f} s of a processor)", flush=True)  # fmt: skip


def _random(brief, designs, rng, *, tight):
    number = int(rng.integers(6, 13))
    people = _people(rng, brief.palette, number)
    boxed = _boxed(brief, rng, number, tight=tight)
    return Offers(Group(brief=boxed, people=people), boxed, designs).problem


def _people(rng, palette, number):
    people = []
    names = list(palette)
    for n in range(number):
        liked = tuple(rng.choice(names, int(rng.integers(0, 3)), replace=False).tolist())
        refused = tuple(
            c for c in rng.choice(names, int(rng.integers(0, 3)), replace=False).tolist()
            if c not in liked
        )  # fmt: skip
        length = float(rng.choice([110, 120, 130, 140]))
        level = str(rng.choice(["", "", "some practice"]))
        people.append(Person(name=f"P{n}", length_mm=length, colours=liked, not_colours=refused,
                             level=level))  # fmt: skip
    return tuple(people)


def _boxed(brief, rng, number, *, tight):
    """About 6.6 m a band of 8 strands; a tight box holds less than is needed for all."""
    total, names = 6.6 * number * (0.8 if tight else 1.5), brief.palette
    share = rng.dirichlet(np.ones(len(names)))
    threads = []
    for name, part in zip(names, share, strict=True):
        left, pieces = total * float(part), []
        while left > 1.5:
            piece = min(left, float(rng.choice([8.0, 8.0, 5.2, 3.4, 2.1])))
            pieces.append(1000.0 * round(piece, 2))
            left -= piece
        threads.append(replace(brief.stash.thread(name), pieces_mm=tuple(pieces)))
    assert any(t.pieces_mm for t in threads)
    return replace(brief, stash=replace(brief.stash, threads=tuple(threads)), colours=brief.palette)


if __name__ == "__main__":
    main()
