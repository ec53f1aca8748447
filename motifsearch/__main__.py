"""``python -m motifsearch``, and the command: Ctrl-C ends it quietly from the first import on."""

from __future__ import annotations

import sys


def run() -> None:
    """Run the command line."""
    try:
        from motifsearch.cli import main

        main(prog_name="motifsearch")
    except KeyboardInterrupt:
        sys.stderr.write("motifsearch: stopped.\n")
        sys.exit(130)


if __name__ == "__main__":
    run()
