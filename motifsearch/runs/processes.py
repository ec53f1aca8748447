"""Processes of this machine: as many as asked for, deaf to Ctrl-C, never outliving their run."""

from __future__ import annotations

import multiprocessing
import multiprocessing.connection
import os
import signal
import threading
from collections.abc import Iterator
from concurrent.futures import Executor
from contextlib import contextmanager


def ready_worker() -> None:
    """Leave Ctrl-C to the main process, and end with it however it ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        multiprocessing.connection.wait([parent.sentinel])
        os._exit(1)


def cores() -> int:
    """Return the number of processor cores that this process may use."""
    here = os.sched_getaffinity(0) if hasattr(os, "sched_getaffinity") else None
    return len(here) if here else os.cpu_count() or 1


@contextmanager
def processes(number: int | None, useful: int) -> Iterator[Executor | None]:
    """Yield an executor with so many processes, or None for this process alone.

    Args:
        number: How many; as many as there are cores when None.
        useful: More than this many have nothing to do.
    """
    wanted = min(number or cores(), useful)
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
    before = set(multiprocessing.active_children())
    try:
        for _ in range(wanted):
            pool.submit(os.getpid)
    finally:
        if block:
            signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGINT})
    mine = set(multiprocessing.active_children()) - before
    try:
        yield pool
    except BaseException:
        # Broken off: nobody waits for what the workers are at.
        for process in mine:
            process.terminate()
        pool.shutdown(wait=True, cancel_futures=True)
        raise
    # To wait closes the pipes in order; a pool left to itself may close them under its own thread.
    pool.shutdown(wait=True, cancel_futures=True)
