"""What a search learns from a few picks of invented makers; run it, it is not collected.

``bench_taste.py [MAKERS] [WRONG] [METHOD...] [PLOT.png]``: 24 bands are shown a round, a maker
(`taste_makers`) marks the three that are worth most to her, a share WRONG of the marks goes to a
band by chance, the search goes on (`GENERATIONS` on three islands), and the next 24 are shown.

* ``none``: the search goes on as if nobody had marked anything; new designs are shown.
* ``window``: the kinds that are nearest to those of the last picks are shown (after Sfikas, Liapis
  and Yannakakis, arXiv 2304.01642: a window of the archive that follows the picks), and parents are
  drawn there.
* ``taste``: as ``motifsearch search --resume`` does.
* ``fixed``: the taste chooses among the elites of the reference, and nothing is searched.
* ``told``: the hidden worth itself is the wish, for the same number of designs: what is possible.
* ``linear``, ``smooth``, ``outline``: the taste without that part of its kernel; ``best``: without
  asking and new kinds.

Printed are, per family, the mean percentile of what is shown after 0, 1, 2, 3 rounds, of the part
"best guess" after 3; the median over makers of the share of the reference that is better than the
best band shown by then; and the worth of the best guesses as a share of what ``told`` finds.
Designs are neither polished nor held against a cutting plan here.
"""

from __future__ import annotations

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")

import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from bench.taste_makers import FAMILIES, Maker, Reference, maker, reference

from motifsearch.pattern.design import Pattern
from motifsearch.runs.searching import join_wanted
from motifsearch.search import loop, taste_gallery
from motifsearch.search.anew import judged_anew
from motifsearch.search.archive import SHAPE, cell_of
from motifsearch.search.brief import Brief, read_brief, with_taste
from motifsearch.search.genome import develop, pattern_of
from motifsearch.search.island import Judge
from motifsearch.search.outcome import POOL_PER_PLACE, _rank, best_elites, choices
from motifsearch.search.picks import Card, Picks, Round
from motifsearch.search.taste import kind_of, taste_of
from motifsearch.search.taste_gallery import Share, beliefs, parts_of, places
from motifsearch.search.taste_model import KERNEL
from motifsearch.search.variety import pick
from motifsearch.simulate.scores import score_batch

CONFIGS = Path(__file__).parents[2] / "configs"
ROUNDS, SHOWN, WANTED, GENERATIONS = 3, 24, 3, 12
METHODS = ("none", "window", "taste", "told")
KERNELS = {
    "taste": KERNEL,
    "fixed": KERNEL,
    "best": KERNEL,
    "linear": replace(KERNEL, linear=0.0),
    "smooth": replace(KERNEL, smooth=0.0),
    "outline": replace(KERNEL, outline=0.0),
}


def asked(seed: int) -> Brief:
    keys = {"search.seed": seed, "search.generations": GENERATIONS, "search.population": 100,
            "search.periods": [8, 12, 16], "search.rest_after": 0, "gallery.size": SHOWN,
            "strands": 10, "limits.contrast_min": 5}  # fmt: skip
    return read_brief(CONFIGS / "browse-many.toml", keys)


@contextmanager
def told(brief: Brief, who: Maker) -> Iterator[Brief]:
    """The hidden worth as the wish that a taste is otherwise."""
    real = Judge.wishes
    unit = float(np.abs(who.all).max())

    def wishes(self: Judge, scores: Any, grid: Any, colours: Any, space: Any, good: Any = None):
        raw, met = real(self, scores, grid, colours, space, good)
        if "taste" in self.brief.wishes:
            raw["taste"] = np.zeros(len(scores.scored))
            some = np.flatnonzero(scores.scored)
            if len(some):
                part = scores.take(some)
                worth = who.worth(grid[:, :, some], colours[:, some], part)
                raw["taste"][some] = np.round(1 / (1 + np.exp(-2 * worth / unit)), 9)
            met["taste"] = raw["taste"]
        return raw, met

    Judge.wishes = wishes  # type: ignore[method-assign]
    try:
        yield replace(brief, wishes={**brief.wishes, "taste": brief.taste_weight})
    finally:
        Judge.wishes = real  # type: ignore[method-assign]


def pool_of(brief: Brief, run: loop.Run, most: int = POOL_PER_PLACE) -> list[Any]:
    judge = Judge(brief)
    pool = []
    for k, part in best_elites(run, most * SHOWN):
        pool += choices(judge, part.genomes, run.islands[k].space)
    return sorted(pool, key=_rank)


def gallery(brief: Brief, run: loop.Run, seen: set[Any]) -> tuple[list[Pattern], list[str]]:
    pool = pool_of(brief, run)
    utility = np.array([c.utility for c in pool])
    patterns = [c.pattern for c in pool]
    parts = ["best"] * SHOWN
    if brief.taste is not None:
        counts = places(brief.taste, patterns, utility, [c.believed for c in pool], SHOWN)
        parts = parts_of(SHOWN)
    elif "taste" in brief.wishes:
        counts = utility
    else:
        counts = utility - 10.0 * np.array([kind_of(p) in seen for p in patterns])
    chosen, _ = pick(patterns, counts, SHOWN)
    return [patterns[n] for n in chosen], parts


class Fixed:
    """The elites of a reference, from which a taste chooses."""

    def __init__(self, brief: Brief, ref: Reference) -> None:
        inks = [brief.stash.thread(name).colour for name in brief.palette]
        self.patterns, self.looks = [], []
        for knots, colours, scores in zip(ref.knots, ref.colours, ref.scores, strict=True):
            n = colours.shape[1]
            self.looks.append(ref.judge.looks(scores, knots, colours, np.arange(n)))
            self.patterns += [
                pattern_of(knots[..., k], colours[:, k], "", brief.palette, inks) for k in range(n)
            ]

    def gallery(self, brief: Brief) -> tuple[list[Pattern], list[str]]:
        assert brief.taste is not None
        degree = [brief.taste.posterior.degree(seen) for seen in self.looks]
        believed = [b for seen in self.looks for b in beliefs(brief.taste, seen)]
        counts = places(brief.taste, self.patterns, np.concatenate(degree), believed, SHOWN)
        # Who is too far down for any place need not be held against the others.
        some = np.unique(np.argsort(-counts, axis=1)[:, : 20 * SHOWN])
        patterns = [self.patterns[k] for k in some]
        chosen, _ = pick(patterns, counts[:, some], SHOWN)
        return [patterns[k] for k in chosen], parts_of(SHOWN)


def window(brief: Brief, run: loop.Run, wanted: Sequence[Pattern]) -> list[Pattern]:
    """The designs of the kinds nearest to those of the last picks."""
    judge = Judge(brief)
    inks = [brief.stash.thread(name).colour for name in brief.palette]
    palette = list(brief.palette)
    cells = []
    for p in wanted:
        order = np.array([[palette.index(c)] for c in p.colour_order], np.uint8)
        scores = score_batch(p.grid[:, :, None], order, judge.setting)
        cells.append(np.unravel_index(cell_of(scores, order, len(palette))[0], SHAPE))
    middle = np.mean(cells, 0)
    size = np.array(SHAPE, float)
    near: list[tuple[float, Pattern]] = []
    for island in run.islands:
        grid, colours = develop(island.archive.genomes, island.space)
        places_ = np.array(np.unravel_index(island.archive.cells, SHAPE)).T
        far = np.abs((places_ - middle) / size).sum(1)
        for n in np.argsort(far, kind="stable")[: 4 * SHOWN]:
            pattern = pattern_of(grid[..., n], colours[:, n], "", brief.palette, inks)
            near.append((float(far[n]), pattern))
    near.sort(key=lambda one: (one[0], one[1].knots))
    patterns = [p for _, p in near]
    chosen, _ = pick(patterns, -np.array([d for d, _ in near]), SHOWN, spread=0.05)
    return [patterns[n] for n in chosen]


def marks(worth: np.ndarray, wrong: float, rng: np.random.Generator) -> list[int]:
    best = [int(n) for n in np.argsort(-worth)[:WANTED]]
    out: list[int] = []
    for n in best:
        if rng.random() < wrong:
            n = int(rng.choice([k for k in range(len(worth)) if k not in best and k not in out]))
        out.append(n)
    return out


def trial(
    method: str,
    who: Maker,
    brief: Brief,
    run: loop.Run,
    wrong: float,
    seed: int,
    fixed: Fixed,
) -> tuple[list[float], float, float, float]:
    """Percentiles per round, of the best guesses, share better than the best, worth of the best."""
    rng = np.random.default_rng(seed)
    seen: set[Any] = set()
    picks = Picks()
    shown, parts = gallery(brief, run, seen)
    means: list[float] = []
    best = -np.inf
    for r in range(ROUNDS + 1):
        worth = who.of(shown)
        means.append(float(who.share_below(worth).mean()))
        best = max(best, float(worth.max()))
        if r == ROUNDS:
            break
        cards = tuple(Card(number=n, pattern=p) for n, p in enumerate(shown))
        wanted = marks(worth, wrong, rng)
        picks = replace(picks, rounds=(*picks.rounds, Round(shown=cards, wanted=tuple(wanted))))
        seen |= {kind_of(p) for p in shown}
        until = run.generation + GENERATIONS
        if method in KERNELS:
            liked = with_taste(brief, taste_of(picks, kernel=KERNELS[method]))
            if method == "fixed":
                shown, parts = fixed.gallery(liked)
                continue
            run, _, _ = judged_anew(run, liked)
            join_wanted(run, liked)
            run, _ = loop.evolve(liked, run, generations=until)
            shown, parts = gallery(liked, run, seen)
        elif method == "told":
            with told(brief, who) as asks:
                if r == 0:
                    run, _, _ = judged_anew(run, asks)
                run, _ = loop.evolve(asks, run, generations=until)
                shown, parts = gallery(asks, run, seen)
        else:
            run, _ = loop.evolve(brief, run, generations=until)
            if method == "window":
                shown = window(brief, run, [shown[n] for n in wanted])
            else:
                shown, parts = gallery(brief, run, seen)
    guesses = np.array([p == "best" for p in parts[: len(shown)]])
    top = np.sort(worth[guesses])[::-1][:WANTED]
    percentile = float(who.share_below(worth[guesses]).mean())
    return means, percentile, float(1 - who.share_below(np.array([best]))[0]), float(top.mean())


def plot(rounds: dict[tuple[str, str], np.ndarray], path: Path) -> None:
    """Draw the mean percentile of what is shown, round by round, a panel a family."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(9, 3.2), layout="constrained")
    for panel, kind in zip(figure.subplots(1, len(FAMILIES), sharey=True), FAMILIES, strict=True):
        for method in dict.fromkeys(m for k, m in rounds if k == kind):
            panel.plot(rounds[kind, method], marker="o", label=method)
        panel.set_title(f"maker ({kind})")
        panel.set_xlabel("rounds of marks")
        panel.set_xticks(range(ROUNDS + 1))
        panel.grid(alpha=0.3)
    figure.axes[0].set_ylabel("mean percentile of what is shown")
    figure.axes[0].legend()
    figure.savefig(path, dpi=110)


def main(
    makers: int = 6,
    wrong: float = 0.1,
    methods: Sequence[str] = METHODS,
    picture: Path | None = None,
) -> None:
    started = time.time()
    drawn: dict[tuple[str, str], np.ndarray] = {}
    brief = asked(3)
    run, _ = loop.evolve(brief, loop.new_run(brief))
    others = []
    for seed in (91, 92, 93):
        other = asked(seed)
        others.append(loop.evolve(other, loop.new_run(other), generations=3 * GENERATIONS)[0])
    ref = reference(brief, others[:2])
    fixed = Fixed(brief, ref)
    unseen = [c.pattern for c in pool_of(brief, others[2], 20)]
    size = sum(k.shape[2] for k in ref.knots)
    print(f"{makers} makers a family, {wrong:.0%} of marks wrong, reference of {size} elites, "
          f"{time.time() - started:.0f} s", flush=True)  # fmt: skip
    for kind in FAMILIES:
        people = [maker(kind, 1000 + n, ref, unseen) for n in range(makers)]
        told_worth = None
        for method in sorted(methods, key=lambda m: m != "told"):
            if method == "best":
                kept = taste_gallery.SHARES
                alone = Share(name="best", share=1.0, words="")
                taste_gallery.SHARES = (alone,)  # type: ignore[misc,assignment]
            found = [trial(method, w, brief, run, wrong, n, fixed) for n, w in enumerate(people)]
            if method == "best":
                taste_gallery.SHARES = kept  # type: ignore[misc]
            rounds = np.mean([f[0] for f in found], 0)
            drawn[kind, method] = rounds
            worth = np.array([f[3] for f in found])
            if method == "told":
                told_worth = worth
            of_told = "" if told_worth is None else f"{worth.mean() / told_worth.mean():5.0%}"
            print(
                f"({kind}) {method:8}", " ".join(f"{v:.3f}" for v in rounds),
                f" best guesses {np.mean([f[1] for f in found]):.3f}",
                f" better than the best {np.median([f[2] for f in found]):.2%}",
                f" of told {of_told}", f" {time.time() - started:.0f} s", flush=True,
            )  # fmt: skip

    if picture is not None:
        plot(drawn, picture)


if __name__ == "__main__":
    arguments = [a for a in sys.argv[1:] if not a.endswith(".png")]
    pictures = [Path(a) for a in sys.argv[1:] if a.endswith(".png")]
    main(
        int(arguments[0]) if arguments else 6,
        float(arguments[1]) if len(arguments) > 1 else 0.1,
        arguments[2:] or METHODS,
        pictures[0] if pictures else None,
    )
