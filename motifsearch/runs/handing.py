"""What is handed out to a group: one cutting plan over all pieces, and its files.

``plan.json`` of the run folder::

    {"bands": [{"name": "Mira", "pattern": "candidates/001/pattern.toml", "length_mm": 125.0,
                "cuts": [{"label": "A", "colour": "teal", "strands": [1, 2], "length_mm": 1790.0,
                          "piece": 0, "piece_mm": 8000.0}]}],
     "without": [], "to_buy": [], "wanted": 1, "possible": 1, "bound": 1, "gap": 0.0,
     "pieces_left_mm": {"teal": [6210.0]}}

`strands` counts from 1 at the left; `piece` is the place, from 0, of the piece among the pieces of
its colour in the stash, and `pieces_left_mm` has one length for each of these, in that order.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

from motifsearch.base.errors import InputError
from motifsearch.base.tomlfile import read_text
from motifsearch.base.work import Work
from motifsearch.page.group import group_html
from motifsearch.runs.candidate import Candidate
from motifsearch.runs.record import json_text
from motifsearch.runs.store import CANDIDATES
from motifsearch.runs.tables import cell
from motifsearch.search.group import Person
from motifsearch.thread.batch import parted, placed
from motifsearch.thread.cutting import CutList
from motifsearch.thread.kits import ShoppingList
from motifsearch.thread.plan import CuttingPlan, PieceUse, as_plan, plan_cuts
from motifsearch.thread.stash import Stash

PLAN: Final = "plan.json"


@dataclass(frozen=True, kw_only=True)
class Band:
    """One band of a group.

    Attributes:
        name: Whose it is.
        person: What was asked for.
        candidate: The design with its cuts and its part of the plan.
    """

    name: str
    person: Person
    candidate: Candidate


def group_plan(cuts: Sequence[CutList], stash: Stash, work: Work) -> CuttingPlan | None:
    """Return the plan for all bands with the least waste; None where none was found."""
    plan = plan_cuts(list(cuts), stash, work=work)
    if not plan.feasible:
        return None
    if len(cuts) == 1:  # the labels have no number yet
        pieces = [
            replace(p, cuts=tuple((f"1{label}", mm) for label, mm in p.cuts)) for p in plan.pieces
        ]
        plan = replace(plan, pieces=tuple(pieces))
    return in_order(plan, stash)


def in_order(plan: CuttingPlan, stash: Stash) -> CuttingPlan:
    """Return a plan with its pieces in the order of the stash, the longest cuts first."""
    pieces = [
        replace(p, cuts=tuple(sorted(p.cuts, key=lambda cut: (-cut[1], parted(cut[0])))))
        for p, _ in placed(plan, stash)
    ]
    return replace(plan, pieces=tuple(pieces))


def band_plans(plan: CuttingPlan, bands: int) -> tuple[CuttingPlan, ...]:
    """Return each band's part of a plan; what is left of a piece is what all leave of it."""
    out = []
    for n in range(1, bands + 1):
        mine = []
        for piece in plan.pieces:
            cuts = tuple(
                (own, mm) for label, mm in piece.cuts for number, own in [parted(label)]
                if number == n
            )  # fmt: skip
            if cuts:
                mine.append(replace(piece, cuts=cuts))
        out.append(replace(plan, pieces=tuple(mine), waste_mm=0.0))
    return tuple(out)


def plan_json(
    bands: Sequence[Band],
    plan: CuttingPlan,
    stash: Stash,
    without: Sequence[str],
    told: Mapping[str, Any],
    shopping: ShoppingList | None = None,
) -> str:
    """Return the text of ``plan.json``."""
    where: dict[str, tuple[int, float]] = {}
    left = {name: list(stash.thread(name).pieces_mm) for name in stash.names}
    for piece, at in placed(plan, stash):
        left[piece.thread][at] = piece.left_mm
        for label, _ in piece.cuts:
            where[label] = (at, piece.piece_mm)
    listed = []
    for n, band in enumerate(bands, 1):
        one = band.candidate
        listed.append({
            "name": band.name,
            "pattern": f"{one.folder}/pattern.toml",
            "length_mm": one.cuts.length_mm,
            **({"text": band.person.text} if band.person.text else {}),
            "cuts": [
                {
                    "label": cut.label,
                    "colour": cut.colour,
                    "strands": [s + 1 for s in cut.strands],
                    "length_mm": cut.length_mm,
                    "piece": where[f"{n}{cut.label}"][0],
                    "piece_mm": where[f"{n}{cut.label}"][1],
                }
                for cut in one.cuts.cuts
            ],
        })  # fmt: skip
    buy = [
        {"colour": line.colour, "skeins": line.skeins, "skein_m": line.skein_m}
        for line in (shopping.lines if shopping else ())
    ]
    return json_text(
        {"bands": listed, "without": list(without), "to_buy": buy, **told,
         "shortest_mm": plan.shortest_mm,
         "useful_mm": plan.useful_mm, "waste_mm": plan.waste_mm, "pieces_left_mm": left}
    )  # fmt: skip


def cutting_csv(bands: Sequence[Band], plan: CuttingPlan, stash: Stash) -> str:
    """Return the cutting list in the order of the pieces as CSV; lengths in mm."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["colour", "piece", "piece_mm", "cut_mm", "for", "label", "left_mm"])
    for piece, at in placed(plan, stash):
        for label, mm in piece.cuts:
            number, own = parted(label)
            writer.writerow([
                cell(piece.thread), at + 1, f"{piece.piece_mm:g}", f"{mm:.0f}",
                cell(bands[number - 1].name), own, f"{piece.left_mm:g}",
            ])  # fmt: skip
    return out.getvalue()


def group_files(
    bands: Sequence[Band],
    plan: CuttingPlan,
    stash: Stash,
    without: Sequence[str],
    shopping: ShoppingList | None,
    told: Mapping[str, Any],
    title: str,
) -> dict[str, str | bytes]:
    """Return the files that are handed out: the page of the class and the cutting list."""
    pieces = [
        (piece.thread, stash.thread(piece.thread).colour, piece.piece_mm, piece.left_mm,
         [(mm, bands[parted(label)[0] - 1].name, parted(label)[1]) for label, mm in piece.cuts])
        for piece, _ in placed(plan, stash)
    ]  # fmt: skip
    page = group_html(
        [(band.name, band.candidate) for band in bands],
        pieces,
        title=title,
        without=without,
        shopping=shopping,
        told=told,
        show=stash.show,
        useful_mm=plan.useful_mm,
    )
    return {"class.html": page, "cutting-list.csv": cutting_csv(bands, plan, stash)}


def read_plan(folder: Path) -> tuple[CuttingPlan, tuple[tuple[str, float], ...]]:
    """Return the plan of a group's run folder, and name and length of every band.

    Raises:
        InputError: There is none, or it is damaged.
    """
    source = folder / PLAN
    try:
        data = json.loads(read_text(source, "the plan of a group"))
        left = {str(n): [float(mm) for mm in own] for n, own in data["pieces_left_mm"].items()}
        pieces: dict[tuple[str, int], PieceUse] = {}
        for number, band in enumerate(data["bands"], 1):
            for cut in band["cuts"]:
                key = (str(cut["colour"]), int(cut["piece"]))
                whole = float(cut["piece_mm"])
                before = pieces.get(key, PieceUse(key[0], whole, (), left[key[0]][key[1]]))
                more = (f"{number}{cut['label']}", float(cut["length_mm"]))
                pieces[key] = replace(before, cuts=(*before.cuts, more))
        named = tuple((str(b["name"]), float(b["length_mm"])) for b in data["bands"])
        useful = float(data["useful_mm"])
    except (ValueError, KeyError, TypeError, IndexError, AttributeError, RecursionError):
        raise InputError("expected the plan of a group", source=source) from None
    for piece in pieces.values():
        if abs(sum(mm for _, mm in piece.cuts) + piece.left_mm - piece.piece_mm) > 1.0:
            raise InputError(
                f"expected cuts and rest that make up the piece of {piece.thread}",
                piece.piece_mm,
                source=source,
            )
    order = {name: n for n, name in enumerate(left)}
    plan = as_plan([
        replace(p, cuts=tuple(sorted(p.cuts, key=lambda cut: (-cut[1], parted(cut[0])))))
        for _, p in sorted(pieces.items(), key=lambda pair: (order[pair[0][0]], pair[0][1]))
    ])  # fmt: skip
    return replace(plan, useful_mm=useful), named


def text_of(pattern: Path) -> str:
    """Return the text in letters of a group's band, by its pattern file; empty where it has none.

    Args:
        pattern: The file, or the folder that it stands in; it need be of no group.
    """
    place = pattern.resolve()
    place = place if place.is_dir() else place.parent
    source = place.parent.parent / PLAN
    if place.parent.name != CANDIDATES or not place.name.isdigit() or not source.is_file():
        return ""
    try:
        bands = json.loads(read_text(source, "the plan of a group"))["bands"]
        return str(bands[int(place.name) - 1].get("text", ""))
    except (InputError, ValueError, KeyError, TypeError, IndexError, AttributeError):
        return ""  # damaged: `motifsearch gallery` names it


def as_planned(pattern: Path, one: Candidate) -> Candidate:
    """Return a candidate with its part of its group's plan; as it is where it is of no group.

    Args:
        pattern: The file that it was read from.
        one: The candidate.
    """
    place = pattern.resolve().parent
    folder = place.parent.parent
    if place.parent.name != CANDIDATES or not (folder / PLAN).is_file():
        return one
    try:
        found = planned(folder, (replace(one, folder=f"{CANDIDATES}/{place.name}"),))[0]
    except InputError:  # damaged: `motifsearch gallery` names it
        return one
    return replace(one, plan=found.plan)


def planned(folder: Path, candidates: Sequence[Candidate]) -> tuple[Candidate, ...]:
    """Return the bands of a group's run folder with their parts of its plan.

    A band whose cuts are no longer those of the plan keeps the plan of its own.
    """
    plan, named = read_plan(folder)
    parts = band_plans(plan, len(named))
    out = []
    for one in candidates:
        number = Path(one.folder).name
        n = int(number) - 1 if number.isdigit() else -1
        mine = {label: mm for p in parts[n].pieces for label, mm in p.cuts} if (
            0 <= n < len(parts)
        ) else {}  # fmt: skip
        same = mine == {cut.label: cut.length_mm for cut in one.cuts.cuts}
        out.append(replace(one, plan=parts[n]) if same else one)
    return tuple(out)
