"""The files of a run that say what was asked for: brief, stash, calibration and wanted motif."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final

import tomlkit

from motifsearch.base.tomlfile import read_text
from motifsearch.pattern.design import Pattern
from motifsearch.search.brief import Brief, format_brief
from motifsearch.search.picks import format_picks
from motifsearch.target.likeness import matched
from motifsearch.target.text import format_target
from motifsearch.thread.stash import Stash, format_stash

#: Their names in a run folder.
PICKS: Final = "picks.toml"
INPUTS: Final = ("brief.toml", "stash.toml", "calibration.toml", "target.txt")


def stash_files(stash: Stash) -> dict[str, str]:
    """Return the stash of a run as files: the stash, and the calibration that it names beside it.

    Raises:
        InputError: The calibration file cannot be read any more.
    """
    files = {}
    if stash.calibration:
        source = Path(stash.source).parent / stash.calibration
        files["calibration.toml"] = read_text(source, "a calibration file")
        stash = replace(stash, calibration="calibration.toml")
    return {**files, "stash.toml": format_stash(stash)}


def brief_files(brief: Brief) -> dict[str, str | bytes]:
    """Return the files that a run folder repeats its brief from.

    Raises:
        InputError: The calibration file of the stash cannot be read any more.
    """
    files: dict[str, str | bytes] = {**stash_files(brief.stash)}
    if brief.target is not None:
        files["target.txt"] = format_target(brief.target)
    if brief.taste is not None:
        files[PICKS] = format_picks(brief.taste.picks)
    return {**files, "brief.toml": format_brief(brief)}


def read_files(brief: Brief, path: Path | None, seeds: Sequence[Path] = ()) -> list[Path]:
    """Return the files that a run was made from, which it must never write over."""
    found = [*seeds] if path is None else [path, *seeds]
    if brief.stash.source:
        stash = Path(brief.stash.source)
        found.append(stash)
        if brief.stash.calibration:
            found.append(stash.parent / brief.stash.calibration)
    return found


def changed_brief(text: str, overrides: dict[str, object]) -> str:
    r"""Return the text of a brief with some keys set; everything else stays as it is written.

    Args:
        text: The brief.
        overrides: Dotted keys and their values.

    Examples:
        >>> changed_brief("strands = 8 # of mine\n[search]\nseed = 1\n", {"search.seed": 7})
        'strands = 8 # of mine\n[search]\nseed = 7\n'
    """
    document = tomlkit.parse(text)
    for key, value in overrides.items():
        *path, last = key.split(".")
        table: tomlkit.container.Container | tomlkit.items.Item = document
        for part in path:
            if part not in table:  # type: ignore[operator]
                table[part] = tomlkit.table()  # type: ignore[index]
            table = table[part]  # type: ignore[index]
        table[last] = value  # type: ignore[index]
    return tomlkit.dumps(document)


def target_picture(pattern: Pattern, brief: Brief) -> bytes:
    """Return the PNG of the brief's wanted motif beside a design; empty without one."""
    if brief.target is None:
        return b""
    from motifsearch.draw.wanted import png_bytes, target_view

    inks = [brief.stash.thread(name).colour for name in brief.palette]
    cells = matched(brief.target, brief.palette, inks)
    return png_bytes(target_view(pattern, cells, dict(zip(brief.palette, inks, strict=True))))
