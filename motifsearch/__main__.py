"""``python -m motifsearch`` is the command."""

from motifsearch.cli import main

main(prog_name="motifsearch")
