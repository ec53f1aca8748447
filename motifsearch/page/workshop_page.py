"""The files of the workshop's page: markup, style, modules, words, and the shared cloth drawing.

The page is plain HTML and standard modules; nothing is built.  What draws cloth and thread charts
is the gallery's own (`motifsearch.page.gallery`), joined into one module that exports it.  All
words of the page stand in ``words.LANGUAGE.json``; another language is one more file.
"""

from __future__ import annotations

import json
from functools import cache
from importlib import resources
from typing import Final

from motifsearch.draw import vision
from motifsearch.page.gallery import json_in_html, sights

#: Parts of the gallery's script that the workshop draws with.
SHARED: Final = ("walk.js", "colour.js", "cloth.js", "chart.js")
EXPORTS: Final = (
    *("walk", "knotRows", "drawBand", "threadChart", "rowWords"),
    *("rgbOf", "hexOf", "seenAs", "labOf", "ciede2000", "edgeOf", "SIGHTS"),
)
TYPES: Final = {
    "js": "text/javascript; charset=utf-8",
    "css": "text/css; charset=utf-8",
    "json": "application/json",
    "svg": "image/svg+xml",
}


def _read(folder: str, name: str) -> str | None:
    place = resources.files("motifsearch.page").joinpath(folder, name)
    return place.read_text(encoding="utf-8") if place.is_file() else None


def languages() -> tuple[str, ...]:
    """Return the languages that the page speaks, by their two letters.

    Examples:
        >>> "en" in languages()
        True
    """
    place = resources.files("motifsearch.page").joinpath("workshop")
    names = (p.name for p in place.iterdir())
    return tuple(sorted(n[6:-5] for n in names if n.startswith("words.") and n.endswith(".json")))


def index() -> str:
    """Return the page; the same for every address, as its script reads the address."""
    text = _read("workshop", "index.html") or ""
    data = {"sights": sights(), "mergeBelow": vision.MERGE_BELOW, "languages": languages()}
    return text.replace("{{data}}", json_in_html(data))


@cache
def _cloth() -> str:
    parts = "\n".join(_read("templates", name) or "" for name in SHARED)
    return f"{parts}\nexport {{ {', '.join(EXPORTS)} }};\n"


def file(name: str) -> tuple[bytes, str] | None:
    """Return a file of the page and its type; None where there is no such file.

    Args:
        name: Without any folder.
    """
    stem, _, end = name.rpartition(".")
    if not stem or end not in TYPES or "/" in name or "\\" in name or name.startswith("."):
        return None
    text = _cloth() if name == "cloth.js" else _read("workshop", name)
    return None if text is None else (text.encode(), TYPES[end])


def words(language: str = "en") -> dict[str, str]:
    """Return the words of the page in a language.

    Raises:
        KeyError: The page does not speak it.
    """
    text = _read("workshop", f"words.{language}.json")
    if text is None:
        raise KeyError(language)
    found: dict[str, str] = json.loads(text)
    return found
