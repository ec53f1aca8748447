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
from dataclasses import asdict, fields, replace
from pathlib import Path
from typing import Any, Final

import tomli_w

from motifsearch.base.errors import InputError, nearest
from motifsearch.base.tomlfile import REQUIRED, Table, read_toml
from motifsearch.base.units import SHORTEST_MM
from motifsearch.pattern.knots import KNOTS
from motifsearch.search import records
from motifsearch.search.resolved import WISHES, Brief, Limits, SearchSettings, threads_of
from motifsearch.search.taste import Taste
from motifsearch.target.glyphs import spelled
from motifsearch.target.lettering import heights_for
from motifsearch.target.motif import Target
from motifsearch.target.reading import read_target
from motifsearch.thread.cutting import Allowances
from motifsearch.thread.stash import Stash, read_stash

#: Colours that a search chooses from: a gene is a byte.
MOST_COLOURS: Final = 255
#: Letters of a text, at most.
LONGEST_TEXT: Final = 100
TOP_KEYS: Final = (
    *(r.name for r in records.TOP if r.name == r.key),
    *("cut", "colours", "target", "shares", "limits", "wishes", "search", "gallery"),
)


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
    key = bad.key if bad.key.startswith("wishes.") else None
    return InputError(bad.expected, bad.found, source=records.option_of(bad.key), key=key)


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
    widths = _strands(table)
    strands = widths[0]
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
    if len(colours or stash.names) > MOST_COLOURS:
        raise table.error(
            "colours",
            f"expected at most {MOST_COLOURS} colours to choose from; name those to be used",
            f"{len(colours or stash.names)} colours",
        )
    _only_one(table, widths)
    target = _target(table, folder, strands, stash)
    wrist, ease, fastening, length = _lengths(table)
    words = _words(table, strands, colours or stash.names)
    if words["text"] and target is not None:
        raise table.error("text", "expected either a text or a target, not both")
    fewest, most = _colour_numbers(table, widths[-1], len(colours or stash.names))
    return Brief(
        title=_value(table, "title"),
        strands=strands,
        length_mm=length,
        stash=stash,
        stash_path=str(where),
        wrist_mm=wrist,
        ease_mm=ease,
        fastening_mm=fastening,
        folded=_value(table, "folded"),
        first_notch=_value(table, "first_notch"),
        colours=colours,
        colours_min=fewest,
        colours_max=most,
        pairing=_value(table, "pairing"),
        cut_style=_cut_style(table.table("cut")),
        target=target,
        **words,
        allowances=Allowances(
            _value(table, "start_allowance_mm"),
            _value(table, "finish_allowance_mm"),
            _value(table, "risk"),
        ),
        shares=_shares(table.table("shares"), colours or stash.names),
        limits=limits,
        wishes=_wishes(table.table("wishes"), target),
        search=_search(table.table("search"), limits, target),
        gallery_size=_gallery(table.table("gallery")),
        taste_weight=table.table("wishes").number(
            "taste", records.TASTE.weight, high=records.MAX_WEIGHT
        ),
        widths=widths if len(widths) > 1 else (),
    )


def with_taste(brief: Brief, taste: Taste | None) -> Brief:
    """Return the brief with a taste as one more wish; as it is without one."""
    if taste is None:
        return brief
    wishes = {**brief.wishes, records.TASTE.name: brief.taste_weight}
    return replace(brief, taste=taste, wishes=wishes)


def _value(table: Table, key: str, default: Any = None) -> Any:
    """Return what stands under a key, checked by its record.

    Args:
        table: The table that holds it.
        key: The full key.
        default: `REQUIRED`, where it must stand there; the record's default when left out.
    """
    r = records.record(key)
    default = r.default if default is None else default
    if r.kind == "flag":
        return table.flag(r.name, default)
    if r.kind == "whole":
        return table.whole(r.name, default, low=int(r.low), high=int(r.high))
    if r.kind == "number":
        return table.number(r.name, default, low=r.low, high=r.high, above=r.above, small=r.small)
    if r.kind == "knots":
        found = table.items(
            r.name, list(default), what=f"a list of knots out of {', '.join(KNOTS)}",
            check=lambda name: name in KNOTS,
        )  # fmt: skip
        if not found:
            raise table.error(r.name, f"expected at least one of {', '.join(KNOTS)}", found)
        return tuple(name for name in KNOTS if name in found)
    return table.text(r.name, default, choices=r.choices)


def _strands(table: Table) -> tuple[int, ...]:
    """Return the numbers of strands that are asked for, ascending, each once."""
    r = records.record("strands")
    low, high = int(r.low), int(r.high)
    asked = table.data.get("strands")
    if not isinstance(asked, list):
        return (table.whole("strands", REQUIRED, low=low, high=high),)
    each = table.items("strands", of=int, what=f"whole numbers from {low} to {high}",
                       check=lambda n: low <= n <= high)  # fmt: skip
    if not each:
        raise table.error("strands", "expected at least one number of strands", each)
    if len(set(each)) < len(each):
        raise table.error("strands", "expected every number of strands once", asked)
    return tuple(sorted(each))


def _only_one(table: Table, widths: tuple[int, ...]) -> None:
    """Refuse several numbers of strands where a motif or a text asks for one."""
    for key, what in (("target", "a wanted motif"), ("text", "a text")):
        if len(widths) > 1 and table.data.get(key):
            raise table.error(
                "strands", f"expected one number of strands beside {what} ({key})", list(widths)
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


def _words(table: Table, strands: int, names: tuple[str, ...]) -> dict[str, Any]:
    """Return the keys of a text in letters; they say nothing where there is no text."""
    keys = ("text", "reads", "repeated", "ink", "ground")
    found = {key: _value(table, key, "" if records.record(key).default is None else None)
             for key in keys}  # fmt: skip
    text = found["text"]
    if len(text) > LONGEST_TEXT:
        raise table.error("text", f"expected at most {LONGEST_TEXT} letters", text)
    fits = heights_for(strands)
    if "text" in table and fits:
        try:
            spelled(text, fits[0])
        except InputError as bad:
            raise table.error("text", bad.expected, text) from None
    for key in ("ink", "ground"):
        if found[key] and found[key] not in names:
            raise table.error(
                key, f"expected a thread of the stash{nearest(found[key], names)}", found[key]
            )
    return found


def _lengths(table: Table) -> tuple[float | None, float, float, float]:
    ease, fastening = _value(table, "ease_mm"), _value(table, "fastening_mm")
    if "length_mm" in table:
        if "wrist_mm" in table:
            raise table.error("length_mm", "expected either length_mm or wrist_mm, not both")
        return None, ease, fastening, _value(table, "length_mm")
    wrist = _value(table, "wrist_mm", REQUIRED)
    length = wrist + ease - fastening
    if length < SHORTEST_MM:
        raise table.error(
            "fastening_mm", f"expected less than wrist_mm + ease_mm - {SHORTEST_MM:g}", fastening
        )
    return wrist, ease, fastening, length


def _colour_numbers(table: Table, strands: int, on_hand: int) -> tuple[int, int]:
    threads = threads_of(strands, _value(table, "folded"))
    can = min(on_hand, threads)
    most = _value(table, "colours_max", min(4, can))
    fewest = _value(table, "colours_min", min(2, most, can))
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
    shares = {name: table.number(name, REQUIRED, high=1e6) for name in table.data}
    total = sum(shares.values())
    if shares and total <= 0:
        raise table.error("", "expected at least one share above 0")
    return {name: share / total for name, share in shares.items()}


def _limits(table: Table) -> Limits:
    table.only([r.name for r in records.LIMITS])
    limits = Limits(**{r.name: _value(table, r.key) for r in records.LIMITS})
    if limits.border and not {"rl", "lr"} <= set(limits.knots):
        raise table.error(
            "knots", "expected rl and lr among them: a border is tied with these", limits.knots
        )
    return limits


def _wishes(table: Table, target: Target | None) -> dict[str, float]:
    table.only([*WISHES, records.TASTE.name])
    normal = dict(WISHES) | {"likeness": records.TARGET_WEIGHT if target else 0.0}
    out = {
        name: table.number(name, weight, high=records.MAX_WEIGHT) for name, weight in normal.items()
    }
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
        periods=tuple(dict.fromkeys(periods)),
        **{r.name: _value(table, r.key) for r in records.SEARCH},
    )


def _cut_style(table: Table) -> str:
    table.only(["style"])
    return str(_value(table, "cut.style"))


def _gallery(table: Table) -> int:
    table.only(["size"])
    return int(_value(table, "gallery.size"))


def format_brief(
    brief: Brief, stash_name: str = "stash.toml", target_name: str = "target.txt"
) -> str:
    """Return the text of the brief as resolved, every key written out.

    Args:
        brief: The brief.
        stash_name: How the written brief names its stash.
        target_name: How it names its target, if there is one.
    """
    strands = list(brief.widths) if brief.widths else brief.strands
    data: dict[str, Any] = {"title": brief.title, "strands": strands}
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
    if brief.text:
        data |= {"text": brief.text, "reads": brief.reads, "repeated": brief.repeated}
        data |= {key: name for key in ("ink", "ground") if (name := getattr(brief, key))}
    if brief.shares:
        data["shares"] = dict(brief.shares)
    data["cut"] = {"style": brief.cut_style}
    data["limits"] = {**asdict(brief.limits), "knots": list(brief.limits.knots)}
    data["wishes"] = dict(brief.wishes)
    if brief.taste_weight != records.TASTE.weight:
        data["wishes"]["taste"] = brief.taste_weight
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
    "with_taste",
]
