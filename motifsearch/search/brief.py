"""The brief: what is asked for, read from TOML and written back as resolved.

::

    title = "A band for Saturday"
    strands = 10
    wrist_mm = 165            # or length_mm = ...
    stash = "stash.toml"      # beside the brief
    colours_max = 3

    [limits]                  # hard: a design that breaks one is not shown
    evenness_min = 0.8

    [wishes]                  # weights: what the gallery is ranked by
    movement = 2

    [search]
    seed = 7
    generations = 200

    [gallery]
    size = 24

The knotted length is wrist + ease - the part left to the fastening.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields
from pathlib import Path
from typing import Any, Final

import tomli_w

from motifsearch.base.errors import InputError, nearest
from motifsearch.base.tomlfile import REQUIRED, Table, read_toml
from motifsearch.base.units import IN_CM, LONGEST_MM, SHORTEST_MM
from motifsearch.pattern.knots import MAX_STRANDS, MIN_STRANDS
from motifsearch.target.motif import Target
from motifsearch.target.reading import read_target
from motifsearch.thread.cutting import GOALS, Allowances
from motifsearch.thread.stash import Stash, read_stash

#: What a maker can wish for, and how much each counts when a brief says nothing.
WISHES: Final[Mapping[str, float]] = {
    "movement": 1.5,
    "calm": 1.5,
    "coherence": 1.0,
    "balance": 1.0,
    "symmetry": 1.5,
    "evenness": 1.0,
    "contrast": 0.5,
    "flatness": 0.5,
    "short_repeat": 0.5,
    "easy": 0.5,
    "likeness": 0.0,
}
#: Weight of likeness when a brief names a target and says nothing else.
TARGET_WEIGHT: Final = 20.0
#: Room for a braid and a knot at both ends, which lie around the wrist too (common practice).
DEFAULT_FASTENING_MM: Final = 30.0
DEFAULT_EASE_MM: Final = 10.0


@dataclass(frozen=True)
class Limits:
    """What no shown design may break.

    Attributes:
        repeat_rows_max: The longest repeat, in rows.
        evenness_min: The least evenness, 0..1.
        contrast_min: The least CIEDE2000 difference of two colours that touch.
        flatness_min: The least flatness, 0..1.
        lone_max: The largest share of lone knots, 0..1.
        symmetric: Whether the face must have a symmetry that is exact.
        border: Whether the two outermost strands tie every one of their knots forward-backward
            and so stay outside.
        on_hand: Whether the cuts must come from the pieces on hand.
    """

    repeat_rows_max: int = 48
    evenness_min: float = 0.0
    contrast_min: float = 0.0
    flatness_min: float = 0.0
    lone_max: float = 1.0
    symmetric: bool = False
    border: bool = False
    on_hand: bool = True


@dataclass(frozen=True)
class SearchSettings:
    """How the search is run.

    Attributes:
        seed: Of the one random generator.
        generations: At most this many.
        seconds: At most this long; None for no limit.
        population: Designs per island.
        periods: The grid lengths P that are tried, in rows; one island or more for each.
        exchange_every: Generations between exchanges (and checkpoints).
        rest_after: Stop when nothing has got better for this many exchanges; 0 for never.
    """

    seed: int = 1
    generations: int = 200
    seconds: float | None = None
    population: int = 400
    periods: tuple[int, ...] = ()
    exchange_every: int = 10
    rest_after: int = 8


@dataclass(frozen=True)
class Brief:
    """One brief, as resolved; every length in mm.

    Attributes:
        title: The title.
        strands: S.
        length_mm: The knotted length.
        wrist_mm: The wrist that it was computed from; None when the length was given.
        ease_mm: Added to the wrist.
        fastening_mm: Taken off for what is not knotted.
        folded: Whether threads are folded, so that every colour has an even number of strands.
        first_notch: The number of the notch of strand 1.
        stash: The threads on hand.
        stash_path: Where the stash was read.
        colours: The colours that may be used; all of the stash's when empty.
        colours_min: The fewest colours in a design.
        colours_max: The most colours in a design.
        pairing: What folding and pairing aim at: total, few_lengths or fit.
        target: The wanted motif, or None.
        allowances: Start and finish of every strand, and the risk.
        shares: Wanted colour shares by name; empty for even use.
        limits: Hard limits.
        wishes: Weights.
        search: Search settings.
        gallery_size: How many designs are shown.
    """

    title: str
    strands: int
    length_mm: float
    stash: Stash
    stash_path: str
    wrist_mm: float | None = None
    ease_mm: float = DEFAULT_EASE_MM
    fastening_mm: float = DEFAULT_FASTENING_MM
    folded: bool = True
    first_notch: int = 1
    colours: tuple[str, ...] = ()
    colours_min: int = 2
    colours_max: int = 4
    pairing: str = "total"
    target: Target | None = None
    allowances: Allowances = field(default_factory=Allowances)
    shares: Mapping[str, float] = field(default_factory=dict)
    limits: Limits = field(default_factory=Limits)
    wishes: Mapping[str, float] = field(default_factory=lambda: dict(WISHES))
    search: SearchSettings = field(default_factory=SearchSettings)
    gallery_size: int = 24

    @property
    def palette(self) -> tuple[str, ...]:
        """The colours that designs are made of, in the stash's order."""
        return tuple(n for n in self.stash.names if not self.colours or n in self.colours)


TOP_KEYS: Final = (
    "title", "strands", "length_mm", "wrist_mm", "ease_mm", "fastening_mm", "folded",
    "first_notch", "stash", "colours", "colours_min", "colours_max", "pairing", "target",
    "start_allowance_mm", "finish_allowance_mm", "risk", "shares", "limits", "wishes", "search",
    "gallery",
)  # fmt: skip


def read_brief(path: str | Path, overrides: Mapping[str, Any] | None = None) -> Brief:
    """Read a brief and the stash that it names (beside the brief, or anywhere by full path).

    Args:
        path: The brief.
        overrides: Keys such as ``strands`` or ``search.seed`` that replace those of the file.

    Raises:
        InputError: With file, key, what was expected and what stood there.
    """
    table = read_toml(path, "a brief")
    try:
        return parse_brief(table, Path(path).parent, overrides)
    except InputError as bad:
        raise _from_option(bad, overrides or {}) from None


def _from_option(bad: InputError, overrides: Mapping[str, Any]) -> InputError:
    """Return the error with the option as its source where a value came from one."""
    if bad.key is None or bad.key not in overrides:
        return bad
    table, _, last = bad.key.rpartition(".")
    option = "--wish" if table == "wishes" else "--" + last.replace("_", "-")
    key = bad.key if table == "wishes" else None
    return InputError(bad.expected, bad.found, source=option, key=key)


def brief_of(overrides: Mapping[str, Any]) -> Brief:
    """Return a brief made of options alone.

    Raises:
        InputError: As `read_brief`.
    """
    try:
        return parse_brief(Table({}, source="options"), Path(), overrides)
    except InputError as bad:
        raise _from_option(bad, overrides) from None


def parse_brief(table: Table, folder: Path, overrides: Mapping[str, Any] | None = None) -> Brief:
    """Check a parsed brief.

    Args:
        table: The top table.
        folder: Where a relative stash path of the file is looked for; an overriding one is
            looked for in the current folder.
        overrides: See `read_brief`.

    Raises:
        InputError: With file, key, what was expected and what stood there.
    """
    table.only(TOP_KEYS)
    for key, value in (overrides or {}).items():
        data = table.data
        *path, last = key.split(".")
        for part in path:
            inner = data.get(part, {})
            if not isinstance(inner, dict):
                raise table.error(part, f"expected a table [{part}]", inner)
            data[part] = dict(inner)
            data = data[part]
        data[last] = value
        if key == "length_mm":
            table.data.pop("wrist_mm", None)
        if key == "wrist_mm":
            table.data.pop("length_mm", None)
    strands = table.whole("strands", REQUIRED, low=MIN_STRANDS, high=MAX_STRANDS)
    stash_path = table.text("stash", REQUIRED)
    given = overrides is not None and "stash" in overrides
    where = Path(stash_path) if given else folder / stash_path
    stash = read_stash(where)
    limits = _limits(table.table("limits"))
    colours = tuple(table.items("colours", []))
    for n, name in enumerate(colours):
        if name not in stash.names:
            raise table.error(
                f"colours[{n}]", f"expected a thread of the stash{nearest(name, stash.names)}", name
            )
    for n, name in enumerate(colours):
        if name in colours[:n]:
            raise table.error(f"colours[{n}]", "expected every colour once", name)
    target = _target(table, folder, strands, stash)
    wrist, ease, fastening, length = _lengths(table)
    fewest, most = _colour_numbers(table, strands, len(colours or stash.names))
    return Brief(
        title=table.text("title", "Untitled"),
        strands=strands,
        length_mm=length,
        stash=stash,
        stash_path=str(where),
        wrist_mm=wrist,
        ease_mm=ease,
        fastening_mm=fastening,
        folded=table.flag("folded", True),
        first_notch=table.whole("first_notch", 1, low=1, high=99),
        colours=colours,
        colours_min=fewest,
        colours_max=most,
        pairing=table.text("pairing", "total", choices=GOALS),
        target=target,
        allowances=Allowances(
            table.number("start_allowance_mm", Allowances.start_mm, high=2000),
            table.number("finish_allowance_mm", Allowances.finish_mm, high=2000),
            table.number("risk", Allowances.risk, low=1e-6, high=0.5),
        ),
        shares=_shares(table.table("shares"), colours or stash.names),
        limits=limits,
        wishes=_wishes(table.table("wishes"), target),
        search=_search(table.table("search"), limits, target),
        gallery_size=_gallery(table.table("gallery")),
    )


def _target(table: Table, folder: Path, strands: int, stash: Stash) -> Target | None:
    """Return the target that the brief names, beside the brief or by full path."""
    name = table.text("target", "")
    if not name:
        return None
    target = read_target(
        folder / name, strands=strands, colours={t.name: t.colour for t in stash.threads}
    )
    if target.strands != strands:
        raise table.error(
            "target", f"expected a target of {strands} strands", f"{target.strands} strands"
        )
    return target.evened()


def _lengths(table: Table) -> tuple[float | None, float, float, float]:
    ease = table.number("ease_mm", DEFAULT_EASE_MM, high=500)
    fastening = table.number("fastening_mm", DEFAULT_FASTENING_MM, high=1000)
    if "length_mm" in table:
        if "wrist_mm" in table:
            raise table.error("length_mm", "expected either length_mm or wrist_mm, not both")
        length = table.number("length_mm", low=SHORTEST_MM, high=LONGEST_MM, small=IN_CM)
        return None, ease, fastening, length
    wrist = table.number("wrist_mm", REQUIRED, low=50, high=600, small=IN_CM)
    length = wrist + ease - fastening
    if length < SHORTEST_MM:
        raise table.error(
            "fastening_mm", f"expected less than wrist_mm + ease_mm - {SHORTEST_MM:g}", fastening
        )
    return wrist, ease, fastening, length


def _colour_numbers(table: Table, strands: int, on_hand: int) -> tuple[int, int]:
    threads = (strands + 1) // 2 if table.flag("folded", True) else strands
    can = min(on_hand, threads)
    most = table.whole("colours_max", min(4, can), low=1, high=24)
    fewest = table.whole("colours_min", min(2, most, can), low=1, high=24)
    if fewest > can:
        raise table.error(
            "colours_min",
            f"expected at most {can} ({on_hand} colours on hand, {threads} threads)",
            fewest,
        )
    if fewest > most:
        raise table.error("colours_min", f"expected at most colours_max = {most}", fewest)
    return fewest, min(most, can)


def _shares(table: Table, names: tuple[str, ...]) -> dict[str, float]:
    table.only(names)
    shares = {name: table.number(name, high=1e6) for name in table.data}
    total = sum(shares.values())
    if shares and total <= 0:
        raise table.error("", "expected at least one share above 0")
    return {name: share / total for name, share in shares.items()}


def _limits(table: Table) -> Limits:
    table.only([f.name for f in fields(Limits)])
    return Limits(
        table.whole("repeat_rows_max", Limits.repeat_rows_max, low=2, high=400),
        table.number("evenness_min", 0.0, high=1),
        table.number("contrast_min", 0.0, high=200),
        table.number("flatness_min", 0.0, high=1),
        table.number("lone_max", 1.0, high=1),
        table.flag("symmetric"),
        table.flag("border"),
        table.flag("on_hand", True),
    )


def _wishes(table: Table, target: Target | None) -> dict[str, float]:
    table.only(list(WISHES))
    normal = dict(WISHES) | {"likeness": TARGET_WEIGHT if target else 0.0}
    out = {name: table.number(name, weight, high=100) for name, weight in normal.items()}
    if target is None and out["likeness"] > 0:
        raise table.error("likeness", "expected a brief with a target", out["likeness"])
    if not any(out.values()):
        raise table.error(next(iter(table.data)), "expected at least one wish above 0", 0)
    return out


def _search(table: Table, limits: Limits, target: Target | None) -> SearchSettings:
    table.only([f.name for f in fields(SearchSettings)])
    periods = table.items(
        "periods", [], of=int, what="a list of even row numbers from 2 to repeat_rows_max",
        check=lambda p: p % 2 == 0 and 2 <= p <= limits.repeat_rows_max,
    )  # fmt: skip
    if not periods and target is not None:
        periods = [p for p in (target.rows, 2 * target.rows) if p <= limits.repeat_rows_max]
        if not periods:
            raise table.error(
                "periods", f"expected limits.repeat_rows_max of at least {target.rows}, the target"
            )
    if not periods:
        periods = [p for p in (4, 6, 8, 10, 12, 16, 20, 24) if p <= limits.repeat_rows_max] or [2]
    return SearchSettings(
        table.whole("seed", 1, high=2**32 - 1),
        table.whole("generations", SearchSettings.generations, low=1, high=10**7),
        table.number("seconds", None, high=10**6, above=True),
        table.whole("population", SearchSettings.population, low=20, high=20000),
        tuple(dict.fromkeys(periods)),
        table.whole("exchange_every", SearchSettings.exchange_every, low=1, high=1000),
        table.whole("rest_after", SearchSettings.rest_after, high=10**6),
    )


def _gallery(table: Table) -> int:
    table.only(["size"])
    return int(table.whole("size", 24, low=1, high=500))


def format_brief(
    brief: Brief, stash_name: str = "stash.toml", target_name: str = "target.txt"
) -> str:
    """Return the text of the brief as resolved, every key written out.

    Args:
        brief: The brief.
        stash_name: How the written brief names its stash.
        target_name: How it names its target, if there is one.
    """
    data: dict[str, Any] = {"title": brief.title, "strands": brief.strands}
    if brief.wrist_mm is None:
        data["length_mm"] = brief.length_mm
    else:
        data["wrist_mm"] = brief.wrist_mm
        data["ease_mm"] = brief.ease_mm
        data["fastening_mm"] = brief.fastening_mm
    data |= {
        "folded": brief.folded,
        "first_notch": brief.first_notch,
        "stash": stash_name,
        "colours": list(brief.palette),
        "colours_min": brief.colours_min,
        "colours_max": brief.colours_max,
        "pairing": brief.pairing,
        "start_allowance_mm": brief.allowances.start_mm,
        "finish_allowance_mm": brief.allowances.finish_mm,
        "risk": brief.allowances.risk,
    }
    search = {k: v for k, v in asdict(brief.search).items() if v is not None}
    search["periods"] = list(brief.search.periods)
    if brief.target is not None:
        data["target"] = target_name
    if brief.shares:
        data["shares"] = dict(brief.shares)
    data["limits"] = asdict(brief.limits)
    data["wishes"] = dict(brief.wishes)
    data["search"] = search
    data["gallery"] = {"size": brief.gallery_size}
    return tomli_w.dumps(data)


__all__ = [
    "WISHES",
    "Brief",
    "InputError",
    "Limits",
    "SearchSettings",
    "brief_of",
    "format_brief",
    "parse_brief",
    "read_brief",
]
