"""Twenty seconds of chaos: see `tests/chaos.py`, which can go on for an hour."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(sys.platform == "win32", reason="signals and limits of POSIX"),
]


def test_twenty_seconds_of_chaos():
    seed = os.environ.get("CHAOS_SEED", "1")
    script = Path(__file__).parents[1] / "chaos.py"
    done = subprocess.run(
        [sys.executable, str(script), "--seconds", "20", "--seed", seed],
        capture_output=True, text=True, check=False, timeout=1800,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    assert "0 faults" in done.stdout
