"""Workers: who does the tasks of a run, from the one text that says it everywhere.

::

    4                       processes of this machine
    dask:tcp://HOST:PORT    the workers of a Dask cluster (`motifsearch.runs.cluster`)

Left out, or None, it is as many processes as there are cores.  Whoever works, the result is the
same bytes: a task is a pure function of its arguments, and results are taken in the order of the
tasks.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import BrokenExecutor, Executor, Future
from contextlib import contextmanager, suppress
from itertools import islice
from typing import Any, Final, TypeAlias, TypeVar
from urllib.parse import urlsplit

from motifsearch.base.errors import InputError
from motifsearch.runs.cluster import Cluster, cluster
from motifsearch.runs.processes import processes

#: How many processes, the address of a cluster, workers that are there already, or None.
Workers: TypeAlias = int | str | Executor | None

DASK: Final = "dask:"
MOST: Final = 64
EXPECTED: Final = f"expected a number of processes from 1 to {MOST}, or dask:tcp://HOST:PORT"
#: Tasks that are given out ahead of the one that is waited for, at least.
AHEAD: Final = 16
#: Seconds between two looks at whether the work shall stop.
LOOK_S: Final = 0.2

T = TypeVar("T")
R = TypeVar("R")


class StoppedError(Exception):
    """The work was told to stop; what was yielded is done."""


def read_workers(text: str) -> int | str:
    """Return a number of processes, or ``dask:`` and the address of a scheduler.

    Args:
        text: As it is given after ``--workers``.

    Raises:
        InputError: It is neither.

    Examples:
        >>> read_workers("4"), read_workers("dask:tcp://10.0.0.5:8786")
        (4, 'dask:tcp://10.0.0.5:8786')
        >>> read_workers("dask:10.0.0.5")  # doctest: +ELLIPSIS
        Traceback (most recent call last):
        ...
        motifsearch.base.errors.InputError: --workers: expected ... found 'dask:10.0.0.5'
    """
    bad = InputError(EXPECTED, text, source="--workers")
    if text.startswith(DASK):
        with suppress(ValueError):
            parts = urlsplit(text.removeprefix(DASK))
            plain = not (parts.path or parts.query or parts.fragment or parts.username)
            if parts.scheme in ("tcp", "tls") and parts.hostname and parts.port and plain:
                return text
        raise bad
    try:
        number = int(text)
    except ValueError:
        raise bad from None
    if not 1 <= number <= MOST:
        raise InputError(f"{number} is not in the range 1 to {MOST}", source="--workers")
    return number


@contextmanager
def connected(workers: Workers) -> Iterator[int | Executor | None]:
    """Yield workers that several parts of one run share: a cluster is connected to once.

    Args:
        workers: Who works.

    Raises:
        InputError: A text says neither a number nor an address.
        MotifError: The cluster is not there, or is not to be trusted with the result.
    """
    asked = read_workers(workers) if isinstance(workers, str) else workers
    if isinstance(asked, str):
        with cluster(asked.removeprefix(DASK)) as found:
            yield found
    else:
        yield asked


@contextmanager
def working(workers: Workers, useful: int) -> Iterator[Executor | None]:
    """Yield an executor, or None for this process alone.

    Args:
        workers: Who works; an executor is yielded as it is, and left open.
        useful: More processes than this have nothing to do.

    Raises:
        InputError, MotifError: As `connected`.
    """
    with connected(workers) as found:
        if isinstance(found, Executor):
            yield found
        else:
            with processes(found, useful) as pool:
                yield pool


def said_by(workers: Workers) -> tuple[str, ...]:
    """Return what became of workers that gave no result, a line each."""
    return workers.said if isinstance(workers, Cluster) else ()


def in_turn(
    pool: Executor | None,
    task: Callable[[T], R],
    jobs: Iterable[T],
    stop: Callable[[], str] = lambda: "",
) -> Iterator[R]:
    """Yield what a task makes of every job, in the order of the jobs.

    What workers that died leave undone is done in this process.

    Args:
        pool: Workers; None for this process.
        task: A pure function of a module.
        jobs: Its arguments; some are given out at once, the others as results come in.
        stop: Asked again and again; a word ends the work.

    Raises:
        StoppedError: `stop` said so.  What was finished by then, in turn, was yielded.
    """
    if pool is None:
        return _one_by_one(task, jobs, stop)
    ahead = max(AHEAD, 2 * pool.threads if isinstance(pool, Cluster) else 0)
    waiting = iter(jobs)
    # Begun at once, so that whoever asks may do something else meanwhile.
    out = deque((job, _given(pool, task, job)) for job in islice(waiting, ahead))
    return _as_given(pool, task, waiting, stop, out, ahead)


def _one_by_one(task: Callable[[T], R], jobs: Iterable[T], stop: Callable[[], str]) -> Iterator[R]:
    for job in jobs:
        if stop():
            raise StoppedError
        yield task(job)


def _as_given(
    pool: Executor,
    task: Callable[[T], R],
    waiting: Iterator[T],
    stop: Callable[[], str],
    out: deque[tuple[T, Future[R]]],
    ahead: int,
) -> Iterator[R]:
    try:
        while out:
            job, future = out[0]
            while not future.done():
                if stop():
                    raise StoppedError
                with suppress(TimeoutError):
                    future.exception(timeout=LOOK_S)
            try:
                made = future.result()
            except BrokenExecutor:
                if stop():
                    raise StoppedError from None
                made = task(job)
            out.popleft()
            out.extend((job, _given(pool, task, job)) for job in islice(waiting, ahead - len(out)))
            yield made
    finally:
        for _, future in out:
            future.cancel()


def _given(pool: Executor, task: Callable[[T], R], job: T) -> Future[Any]:
    try:
        return pool.submit(task, job)
    except BrokenExecutor as bad:
        future: Future[R] = Future()
        future.set_exception(bad)
        return future
