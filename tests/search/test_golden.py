"""Golden runs: what the briefs in configs/ find is pinned by hashes of integer arrays.

``python tests/golden.py`` writes the table anew when the search was changed on purpose.
"""

from __future__ import annotations

import json

import pytest
from golden import BRIEFS, PATTERNS, TABLE, form_hash, ranking_hash

KNOWN = json.loads(TABLE.read_text(encoding="utf-8"))


def test_every_brief_and_pattern_has_an_entry():
    assert sorted(KNOWN["briefs"]) == [p.stem for p in BRIEFS]
    assert sorted(KNOWN["patterns"]) == [p.stem for p in PATTERNS]


@pytest.mark.slow
@pytest.mark.parametrize("path", BRIEFS, ids=lambda p: p.stem)
def test_the_ranking_is_as_it_was(path):
    assert ranking_hash(path) == KNOWN["briefs"].get(path.stem)


@pytest.mark.parametrize("path", PATTERNS, ids=lambda p: p.stem)
def test_the_canonical_form_is_as_it_was(path):
    assert form_hash(path) == KNOWN["patterns"].get(path.stem)
