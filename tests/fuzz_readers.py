"""Coverage-guided fuzzing of the readers with atheris; run by hand, no test.

    pip install atheris
    python tests/fuzz_readers.py pattern -max_total_time=60 CORPUS_FOLDER

Readers: pattern, stash, brief, target, checkpoint.  Anything but our own error family is a crash.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

CONFIGS = Path(__file__).parent.parent / "configs"


def main() -> None:
    """Fuzz the reader named by the first argument; the rest goes to libFuzzer."""
    import atheris  # no dependency of ours: only here

    with atheris.instrument_imports(include=["motifsearch"]):
        from motifsearch.base.errors import MotifError
        from motifsearch.pattern.files import read_pattern
        from motifsearch.search.brief import read_brief
        from motifsearch.search.checkpoint import load_checkpoint
        from motifsearch.target.reading import read_target
        from motifsearch.thread.stash import read_stash

    folder = Path(tempfile.mkdtemp())
    (folder / "stash.toml").write_bytes((CONFIGS / "stash-workshop.toml").read_bytes())
    (folder / "brief.toml").write_text('strands = 6\nlength_mm = 60\nstash = "stash.toml"\n')
    brief = read_brief(folder / "brief.toml")
    readers = {
        "pattern": read_pattern,
        "stash": read_stash,
        "brief": read_brief,
        "target": read_target,
        "checkpoint": lambda path: load_checkpoint(path, brief),  # type: ignore[arg-type]
    }
    name = sys.argv.pop(1)
    reader, path = readers[name], folder / f"fuzzed-{name}"

    def one(data: bytes) -> None:
        path.write_bytes(data)
        try:
            reader(path)  # type: ignore[no-untyped-call]
        except MotifError:
            return

    atheris.Setup(sys.argv, one)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
