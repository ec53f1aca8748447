"""Interruptions and the progress line of a search in a terminal."""

from __future__ import annotations

import shutil
import signal
import sys
import threading
import time
from typing import Any, Final

import click

from motifsearch.runs.hooks import Hooks, Progress

#: What is said at the first Ctrl-C of a search.
STOPPING: Final = (
    "Stopping after the generations in hand; then the best designs are written, 24 at most, which "
    "takes some seconds. Once more breaks it off; what was found is kept, and --resume goes on "
    "from there."
)


class Interrupts:
    """Catches Ctrl-C and SIGTERM: the first asks the run to stop, the second breaks it off.

    Args:
        text: What is said at the first.
    """

    def __init__(self, text: str = STOPPING) -> None:
        self.text = text
        self.said = ""
        self.old: dict[int, Any] = {}

    def __enter__(self) -> Interrupts:
        """Install the handlers."""
        if threading.current_thread() is threading.main_thread():
            self.old = {s: signal.signal(s, self._caught) for s in (signal.SIGINT, signal.SIGTERM)}
        return self

    def __exit__(self, *_: object) -> None:
        """Put the old handlers back."""
        for number, handler in self.old.items():
            signal.signal(number, handler)

    def _caught(self, number: int, _: Any) -> None:
        if self.said:
            raise KeyboardInterrupt
        self.said = "interrupted" if number == signal.SIGINT else "terminated"
        click.echo(f"\n{self.text}", err=True)


class Display:
    """The progress display: one line that is written over; nothing when it is no terminal.

    Args:
        quiet: Show nothing.
        seconds: The most that the search takes, where there is such a limit.
    """

    def __init__(self, quiet: bool, seconds: float | None) -> None:
        self.shown = not quiet and sys.stderr.isatty()
        self.seconds = seconds
        self.started = time.monotonic()
        self.first: Progress | None = None
        self.better = (0.0, 0)

    def hooks(self, caught: Interrupts) -> Hooks:
        """Return the callbacks of a search that shows itself here."""
        return Hooks(progress=self.progress, stop=lambda: caught.said, log=self.say)

    def progress(self, now: Progress) -> None:
        """Show where the search stands."""
        self.first = self.first or now
        if now.best > self.better[0]:
            self.better = (now.best, now.generation)
        spent = time.monotonic() - self.started
        done = max(1, now.generation - self.first.generation)
        left = spent / done * (now.most - now.generation)
        if self.seconds is not None:
            left = min(left, self.seconds - spent)
        self.say(
            f"generation {now.generation}/{now.most}  wishes met {now.best:.0%}"
            f" (better at {self.better[1]})  kinds {now.kinds}"
            f"  scored {now.scored:,}  about {max(0.0, left):.0f} s left"
        )

    def say(self, text: str) -> None:
        """Show a line of what is being done now."""
        if self.shown:
            width = shutil.get_terminal_size().columns - 1
            click.echo("\r" + text[:width].ljust(width), err=True, nl=False)

    def end(self) -> None:
        """Leave the line."""
        if self.shown:
            click.echo("", err=True)
