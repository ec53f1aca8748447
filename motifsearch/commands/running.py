"""Workers, interruptions and the progress line of a search."""

from __future__ import annotations

import multiprocessing
import multiprocessing.connection
import os
import shutil
import signal
import sys
import threading
import time
from collections.abc import Iterator
from concurrent.futures import Executor
from contextlib import contextmanager
from typing import Any

import click

from motifsearch.search.brief import Brief
from motifsearch.search.loop import Run


def ready_worker() -> None:
    """Leave Ctrl-C to the main process, and end with it however it ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        multiprocessing.connection.wait([parent.sentinel])
        os._exit(1)


@contextmanager
def workers(number: int | None, islands: int) -> Iterator[Executor | None]:
    """Yield an executor with so many processes, or None for this process alone."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    wanted = min(number or cores or 1, islands)
    if wanted <= 1:
        yield None
        return
    from concurrent.futures import ProcessPoolExecutor

    pool = ProcessPoolExecutor(
        wanted, mp_context=multiprocessing.get_context("spawn"), initializer=ready_worker
    )
    # A Ctrl-C while workers start is kept for this process: they are born with it blocked.
    block = hasattr(signal, "pthread_sigmask")
    if block:
        signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        for _ in range(wanted):
            pool.submit(os.getpid)
    finally:
        if block:
            signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGINT})
    try:
        yield pool
    finally:
        pool.shutdown(wait=False, cancel_futures=True)


class Interrupts:
    """Catches Ctrl-C and SIGTERM: the first asks the run to stop, the second breaks it off."""

    def __init__(self) -> None:
        self.said = ""

    def __enter__(self) -> Interrupts:
        """Install the handlers."""
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
        click.echo(
            "\nStopping after the generations in hand; then the gallery is written, which takes "
            "some seconds. Once more breaks it off.",
            err=True,
        )


class Progress:
    """The progress display: one line that is written over; nothing when it is no terminal."""

    def __init__(self, brief: Brief, quiet: bool, most: int) -> None:
        self.brief = brief
        self.most = most
        self.shown = not quiet and sys.stderr.isatty()
        self.started = time.monotonic()
        self.begun_at: int | None = None
        self.last_better = (0.0, 0)

    def exchange(self, run: Run) -> None:
        """Show where the run is."""
        now = run.progress[-1]
        if self.begun_at is None:
            self.begun_at = run.generation - self.brief.search.exchange_every
        if now["best"] > self.last_better[0]:
            self.last_better = (now["best"], run.generation)
        if not self.shown:
            return
        spent = time.monotonic() - self.started
        done = max(1, run.generation - self.begun_at)
        left = spent / done * (self.most - run.generation)
        if self.brief.search.seconds is not None:
            left = min(left, self.brief.search.seconds - spent)
        text = (
            f"generation {run.generation}/{self.most}  wishes met {now['best']:.0%}"
            f" (better at {self.last_better[1]})  kinds {now['cells']:.0f}"
            f"  scored {run.scored:,}  about {max(0.0, left):.0f} s left"
        )
        width = shutil.get_terminal_size().columns - 1
        click.echo("\r" + text[:width].ljust(width), err=True, nl=False)

    def say(self, text: str) -> None:
        """Show a line of what is being done now."""
        if self.shown:
            width = shutil.get_terminal_size().columns - 1
            click.echo("\r" + text[:width].ljust(width), err=True, nl=False)

    def end(self) -> None:
        """Leave the line."""
        if self.shown:
            click.echo("", err=True)
