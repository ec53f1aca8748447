"""Shared work: one pure function of many arguments, done by workers or here.

Results come in the order of the arguments, so who did the work changes nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import BrokenExecutor, Executor
from typing import Any, TypeVar

R = TypeVar("R")


def shared(
    executor: Executor | None, work: Callable[..., R], tasks: Sequence[tuple[Any, ...]]
) -> list[R]:
    """Return ``work(*task)`` of every task, in their order.

    Args:
        executor: Workers; None to do all of it here.  Where one of them dies nothing is lost: all
            is done here.
        work: A pure function at the top of a module.
        tasks: Its arguments.

    Examples:
        >>> shared(None, pow, [(2, 3), (3, 2)])
        [8, 9]
    """
    if executor is not None and len(tasks) > 1:
        try:
            jobs = [executor.submit(work, *task) for task in tasks]
            return [job.result() for job in jobs]
        except BrokenExecutor:
            pass
    return [work(*task) for task in tasks]


def hands(executor: Executor | None, most: int) -> int:
    """Return into how many parts work is divided: the workers, where they say how many they are.

    Args:
        executor: The workers.
        most: Parts there are at most, and where the workers do not say.

    Examples:
        >>> hands(None, 8)
        1
    """
    if executor is None:
        return 1
    return max(1, min(int(getattr(executor, "_max_workers", most)), most))
