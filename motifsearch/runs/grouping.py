"""``group``: bands for several people from one box, with one cutting plan over all pieces.

A search finds designs; each is judged in every colouring from the box
(`motifsearch.search.colourings`); which design in which colours is whose band, and which piece
every cut comes from, is one integer program (`motifsearch.thread.group_program`).  The *worth* of a
band is how well it meets the wishes; half of it, where a person likes some colours, is the share of
the face in these.  Every band keeps all limits at its own length; what a person refused is not in
it.  A band with a text is one of its letterings (`motifsearch.runs.lettering`), in colours that are
easy to tell apart.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Final

import numpy as np

from motifsearch.base.errors import InfeasibleError, InputError
from motifsearch.base.text import count
from motifsearch.base.work import SECOND, Work
from motifsearch.describe.titles import give_titles
from motifsearch.runs.candidate import Candidate, assemble
from motifsearch.runs.gallery import numbered, older_files, write_gallery
from motifsearch.runs.group_offers import Offers, for_letters, lettered_for
from motifsearch.runs.handing import Band, band_plans, group_files, group_plan, plan_json
from motifsearch.runs.hooks import SILENT, Hooks
from motifsearch.runs.inputs import brief_files, read_files
from motifsearch.runs.record import Record
from motifsearch.runs.result import Run
from motifsearch.runs.searching import search
from motifsearch.runs.store import owned
from motifsearch.runs.workers import Workers, connected, said_by
from motifsearch.search.colourings import colourings
from motifsearch.search.group import Group, read_group
from motifsearch.search.resolved import Brief
from motifsearch.search.widths import Judges
from motifsearch.thread.group import GroupSolution, Made
from motifsearch.thread.group_program import solve_alike, solve_group
from motifsearch.thread.kits import ShoppingList
from motifsearch.thread.plan import CuttingPlan
from motifsearch.thread.stash import Stash
from motifsearch.thread.usage import use_stash

#: Designs that are looked at: so many for a band, and at least and at most so many.
PER_BAND, LEAST_DESIGNS, MOST_DESIGNS = 1.5, 24, 96
#: Work for the program and for the plan.
GRANTED: Final = 40.0 * SECOND
PLAN_WORK: Final = 10.0 * SECOND
#: Bands that break a limit at their own length are left out and the program is solved again.
ROUNDS: Final = 6
#: The pairing of a group: "fit" asks for a stash of each band's own, which there is not.
_PAIRING: Final = {"fit": "total"}


@dataclass(frozen=True, kw_only=True)
class GroupRun(Run):
    """A run whose candidates are the bands of a group.

    Attributes:
        bands: Whose band each candidate is.
        without: The names of those for whom there is no band.
        possible: How many bands there are.
        bound: No set of bands from this box, of the designs that were found, has more.
        gap: How far the set may be from the best, as a fraction; 0 when it is proven.
        plan: One cutting plan for all bands; the label of a cut begins with the band's number.
        after: The stash as it is when all is cut.
        shopping: What to buy for those without; None when there is nothing to buy.
    """

    bands: tuple[Band, ...] = ()
    without: tuple[str, ...] = ()
    possible: int = 0
    bound: int = 0
    gap: float = 0.0
    plan: CuttingPlan = field(default_factory=lambda: CuttingPlan(()))
    after: Stash = field(default_factory=lambda: Stash(()))
    shopping: ShoppingList | None = None


def group(
    file: Group | str | Path,
    *,
    overrides: Mapping[str, Any] | None = None,
    out: str | Path | None = None,
    overwrite: bool = False,
    workers: Workers = 1,
    paper: str = "A4",
    hooks: Hooks = SILENT,
) -> GroupRun:
    """Return the most bands that a box gives to a group, and of these the best.

    Args:
        file: The group, or its file.
        overrides: Keys of its brief, such as ``search.seed``, with other values.
        out: The run folder to write; None to write nothing.
        overwrite: Write into a folder that holds something already.
        workers: Processes; None for as many as there are cores; or ``dask:tcp://HOST:PORT``.  The
            result is the same.
        paper: Of the worksheets: A4 or Letter.
        hooks: Progress, stop and log.

    Raises:
        InputError: Something that was given cannot be used.
        InfeasibleError: No design keeps the limits, or the box gives no band at all.
        MotifError: The folder cannot be written.
    """
    wanted = file if isinstance(file, Group) else read_group(file, overrides)
    path = None if isinstance(file, Group) else Path(file)
    if out is None:
        with connected(workers) as hands:
            run = _made(wanted, hands, paper, hooks)
        return replace(run, said=(*run.said, *said_by(hands)))
    with owned(Path(out), "a group") as place:
        place.refuse_unless_empty(overwrite)
        place.refuse_inputs(read_files(wanted.brief, path))
        with connected(workers) as hands:
            run = _made(wanted, hands, paper, hooks)
        hooks.chosen(wanted.brief, run.candidates)
        written = write_gallery(
            place,
            run.candidates,
            run.record,
            inputs=run.inputs,
            gone=older_files(place, run.candidates),
            skipped=run.said,
            tick=lambda done: hooks.log(f"writing band {done} of {len(run)} ..."),
        )
    said = (*run.said, *written.said, *said_by(hands))
    return replace(run, folder=Path(out), said=said)


def _made(wanted: Group, workers: Workers, paper: str, hooks: Hooks) -> GroupRun:
    brief = _searched(wanted)
    texts = lettered_for(wanted, brief, workers, hooks)
    found = (
        Run(candidates=(), record=Record(seed=brief.search.seed, paper=paper))
        if all(one.text for one in wanted.people)
        else search(brief, workers=workers, paper=paper, hooks=hooks)
    )
    hooks.log("choosing bands and colours ...")
    offered = Offers(wanted, brief, [one.pattern for one in found], texts)
    solution, made = _solved(offered)
    if not made:
        raise InfeasibleError("the threads on hand are not enough for any band of this group")
    candidates = _candidates(offered, made, found, paper)
    plan = group_plan([one.cuts for one in candidates], brief.stash, Work(PLAN_WORK))
    plan = plan or offered.plan(solution, candidates, made)
    bands = tuple(
        Band(name=offered.who[n].name, person=offered.who[n], candidate=one)
        for n, one in enumerate(candidates)
    )
    parts = band_plans(plan, len(candidates))
    candidates = tuple(replace(one, plan=part) for one, part in zip(candidates, parts, strict=True))
    bands = tuple(replace(band, candidate=one) for band, one in zip(bands, candidates, strict=True))
    after = use_stash(brief.stash, plan)
    names = {band.name for band in bands}
    without = tuple(one.name for one in wanted.people if one.name not in names)
    shopping, said = offered.to_buy(without, after)
    told: dict[str, Any] = {
        "wanted": len(wanted.people),
        "possible": len(bands),
        "bound": min(solution.bound, len(wanted.people)),
        "gap": round(solution.gap, 6),
    }
    record = replace(found.record, kind="group", title=brief.title, group=told)
    run = GroupRun(
        candidates=candidates,
        record=record,
        brief=brief,
        said=(*offered.said, *said),
        seconds=found.seconds,
        searched=found.searched,
        bands=bands,
        without=without,
        possible=told["possible"],
        bound=told["bound"],
        gap=told["gap"],
        plan=plan,
        after=after,
        shopping=shopping,
    )
    files: dict[str, str | bytes] = {
        **brief_files(brief),
        **_lengths(wanted, brief, bands),
        **group_files(bands, plan, brief.stash, without, shopping, told, brief.title),
        "plan.json": plan_json(bands, plan, brief.stash, without, told, shopping),
    }
    return replace(run, inputs=files)


def _searched(wanted: Group) -> Brief:
    """Return the brief of the search: threads that are there, and enough designs."""
    brief = wanted.brief
    there = tuple(n for n in brief.palette if brief.stash.thread(n).pieces_mm)
    if not there:
        raise InputError("expected threads with pieces on hand", source=brief.stash.source or None)
    size = round(PER_BAND * len(wanted.people))
    return replace(
        brief,
        colours=there,
        colours_max=min(brief.colours_max, len(there)),
        colours_min=min(brief.colours_min, len(there)),
        pairing=_PAIRING.get(brief.pairing, brief.pairing),
        # The program plans with lengths that it knows beforehand.
        cut_style="simple" if brief.cut_style == "simple" else "exact",
        # Whether a band can be cut is for the program to say, which sees the whole box.
        limits=replace(brief.limits, on_hand=False),
        gallery_size=min(MOST_DESIGNS, max(LEAST_DESIGNS, size, brief.gallery_size)),
    )


def _solved(offered: Offers) -> tuple[GroupSolution, list[Made]]:
    """Return the best set, every band of which keeps the limits at its own length."""
    judges: dict[tuple[float, bool], Judges] = {}
    for _ in range(ROUNDS):
        solve = solve_alike if offered.wanted.alike == "all" else solve_group
        found = solve(offered.problem, Work(GRANTED))
        made = _given(offered, found.made)
        bad = []
        for n, one in enumerate(made):
            person = offered.who[n]
            key = (person.length_mm, bool(person.text))
            brief = replace(offered.brief, length_mm=person.length_mm)
            brief = for_letters(brief) if person.text else brief
            judge = judges.setdefault(key, Judges(brief))
            pattern = offered.pattern(one)
            if not np.isfinite(colourings(pattern, judge.of(pattern.strands), most=1).worth[0]):
                bad.append(one)
        if not bad:
            return found, made
        for one in bad:
            offered.forbid(one)
    raise InfeasibleError(
        "the limits are broken at the length of too many people; give the group fewer limits"
    )


def _given(offered: Offers, made: Sequence[Made]) -> list[Made]:
    """Return the bands in the order of the list, and note whose each is."""
    waiting = [list(people) for people in offered.kinds]
    rows = [
        (offered.wanted.people.index(person), one)
        for one in made
        for person in [waiting[offered.offers[one.offer].person].pop(0)]
    ]
    rows.sort(key=lambda row: row[0])
    offered.who = {n: offered.wanted.people[row[0]] for n, row in enumerate(rows)}
    return [one for _, one in rows]


def _candidates(
    offered: Offers, made: Sequence[Made], found: Run, paper: str
) -> tuple[Candidate, ...]:
    """Return the bands as candidates, in the order of the list, with the names in their titles."""
    plain = []
    for n, one in enumerate(made):
        offer = offered.offers[one.offer]
        plain.append(
            assemble(
                offered.pattern(one),
                offered.settings(offered.who[n], paper),
                construction=(
                    found[offer.design].construction if offer.design < len(found) else "none"
                ),
                wishes_met=float(offered.looks[offer.design].worth[one.row]),
            )
        )
    given = give_titles(
        [one.pattern for one in plain],
        [one.scores for one in plain],
        [offered.who[n].text for n in range(len(plain))],
    )
    titled = [
        replace(one, pattern=replace(one.pattern, title=f"{offered.who[n].name}: {title}"))
        for n, (one, title) in enumerate(zip(plain, given, strict=True))
    ]
    return numbered(titled)


def _lengths(wanted: Group, brief: Brief, bands: Sequence[Band]) -> dict[str, str | bytes]:
    """Return the settings of bands that are not as long as the group's own, as files."""
    files: dict[str, str | bytes] = {}
    kept: dict[tuple[float, float | None], str] = {}
    for band in bands:
        length = (band.person.length_mm, band.person.wrist_mm)
        if length == (brief.length_mm, brief.wrist_mm):
            continue
        if length not in kept:
            kept[length] = f"runs/length-{len(kept) + 1}"
            own = replace(brief, length_mm=length[0], wrist_mm=length[1])
            files.update({f"{kept[length]}/{n}": data for n, data in brief_files(own).items()})
        files[f"{band.candidate.folder}/from.toml"] = f'run = "{kept[length]}"\n'
    return files


def group_text(run: GroupRun) -> str:
    """Return what a group gets, in lines for a person."""
    wanted = run.record.group["wanted"]
    proven = "more cannot be made from this box" if run.possible >= run.bound else (
        f"at most {run.bound} are possible"
    )  # fmt: skip
    full = run.possible == wanted
    lines = [f"{count(run.possible, 'band')} of {wanted}{'' if full else f'; {proven}'}."]
    if run.possible >= run.bound:
        lines.append(
            "No choice of these designs and colours is better." if run.gap == 0
            else f"The choice of designs and colours is within {run.gap:.1%} of the best."
        )  # fmt: skip
    lines += [f"  {band.candidate.title}" for band in run.bands]
    if run.without:
        lines.append(f"Without a band: {', '.join(run.without)}.")
    if run.shopping is not None:
        from motifsearch.thread.texts import shopping_text

        lines.append(f"To buy for them:\n{shopping_text(run.shopping, run.after.show).rstrip()}")
    if run.folder is not None:
        lines.append(f"Open {run.folder / 'class.html'} in a browser: who makes which, and the "
                     "cutting list.")  # fmt: skip
        lines.append(f"To book all of it: motifsearch stash use {run.folder} --stash STASH")
    return "\n".join(lines) + "\n"
