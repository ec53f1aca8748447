"""Write tests/golden.json: what every brief in configs/ finds in a short search, as hashes.

    python tests/golden.py

A hash is the SHA-256 of the integer arrays of the ranked designs: S, P, the knot codes row by row
and the colour indices, one design after the other.  No float goes into it.  Regenerate when the
search was changed on purpose, and say so in the commit.
"""

from __future__ import annotations

import hashlib
import json
import sys
import tempfile
from pathlib import Path

import numpy as np
from click.testing import CliRunner

from motifsearch.cli import main
from motifsearch.pattern.canonical_form import canonical
from motifsearch.pattern.design import Pattern
from motifsearch.pattern.files import read_pattern

HERE = Path(__file__).parent
CONFIGS = HERE.parent / "configs"
TABLE = HERE / "golden.json"
BRIEFS = sorted(p for p in CONFIGS.glob("*.toml") if not p.stem.startswith("stash"))
PATTERNS = sorted((CONFIGS / "patterns").glob("*.toml"))
#: The search is cut short, so that all briefs together take seconds.
SHORT = ("--population", "40", "--generations", "10", "--size", "3", "--workers", "1")


def arrays_hash(patterns: list[Pattern]) -> str:
    """Return the hash of the integer arrays of designs, in their order."""
    digest = hashlib.sha256()
    for pattern in patterns:
        palette = sorted(pattern.palette)
        colours = [palette.index(name) for name in pattern.colour_order]
        head = np.array([pattern.strands, pattern.rows], "<u2")
        for part in (head, pattern.grid, np.array(colours, np.uint8)):
            digest.update(np.ascontiguousarray(part).tobytes())
        digest.update("|".join(palette).encode())
    return digest.hexdigest()


def ranking_hash(brief: Path) -> str:
    """Return the hash of what a short search for a brief finds, in its order."""
    with tempfile.TemporaryDirectory() as place:
        run = Path(place) / "run"
        result = CliRunner().invoke(main, ["search", str(brief), "--out", str(run), *SHORT])
        if result.exit_code:
            raise RuntimeError(f"{brief.name}: {result.output}") from result.exception
        found = sorted((run / "candidates").iterdir())
        return arrays_hash([read_pattern(p / "pattern.toml") for p in found])


def form_hash(path: Path) -> str:
    """Return the hash of the canonical form of a pattern file."""
    return hashlib.sha256(repr(canonical(read_pattern(path))).encode()).hexdigest()


def table() -> dict[str, dict[str, str]]:
    """Return the whole table."""
    return {
        "briefs": {p.stem: ranking_hash(p) for p in BRIEFS},
        "patterns": {p.stem: form_hash(p) for p in PATTERNS},
    }


if __name__ == "__main__":
    TABLE.write_text(json.dumps(table(), indent=1) + "\n", encoding="utf-8")
    sys.stdout.write(f"{TABLE}\n")
