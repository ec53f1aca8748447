"""A Dask cluster as workers: tasks go to its scheduler, and what it does not return is done here.

A task is a pure function of its arguments, so whoever does it, and however often, the result is the
same bytes.  Tasks go through the `concurrent.futures` executor of ``distributed``, which gives a
task of a killed worker to another one.  What is added here: versions are compared before anything
is sent; a task that comes back without a result is done on this machine; and where the scheduler
goes away, or no worker is left for `PATIENCE` looks, all that is still to be done is done here,
and it is said (`Cluster.said`).

Arguments and results travel pickled, by way of the scheduler; no file is read or written there, so
no common folder is needed.
"""

from __future__ import annotations

import hashlib
import pickle
import queue
import threading
import warnings
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from contextlib import ExitStack, contextmanager, suppress
from functools import cache, partial
from pathlib import Path
from typing import Any, Final

from motifsearch.base.errors import MotifError
from motifsearch.runs.processes import cores, processes

#: Seconds until a scheduler has answered and a worker is there.
CONNECT_S: Final = 10.0
#: Seconds between two looks at a cluster of which nothing is heard.
LOOK_S: Final = 1.0
#: Seconds that a scheduler has for an answer.
ANSWER_S: Final = 10.0
#: Looks in a row that find no worker, after which none is waited for; a look that is not answered
#: counts as `UNANSWERED`.
PATIENCE: Final = 30
UNANSWERED: Final = 10
#: Tasks that a cluster may fail at, before it is asked no more.
FAILURES: Final = 3
#: What results are made with: all have to be the same everywhere.
MADE_WITH: Final = (
    "motifsearch", "numpy", "scipy", "deap", "moocore", "coloraide", "pillow", "matplotlib",
    "reportlab", "jinja2", "segno", "dask", "distributed",
)  # fmt: skip
EXTRA: Final = "pip install 'motifsearch[dask]'"
#: Mismatches that are listed at most.
LISTED: Final = 6

#: One task at a time in a process: threads of one worker would share what is drawn with.
_ALONE = threading.Lock()


@cache
def code_here() -> str:
    """Return the SHA-256 of this program's own files: two builds of one version may differ."""
    root = Path(__file__).parents[1]
    digest = hashlib.sha256()
    for path in sorted(root.rglob("*")):
        name = path.relative_to(root).as_posix()
        # The demo files stand in an installed package only.
        if path.suffix in (".py", ".json", ".txt", ".gz") and not name.startswith("demo/"):
            digest.update(f"{name}\0".encode() + path.read_bytes() + b"\0")
    return digest.hexdigest()


def done_there(code: str, call: bytes) -> bytes:
    """Do a task on a worker.

    Args:
        code: The `code_here` of whoever asks.
        call: The pickled function and its arguments.

    Returns:
        Pickled: what became of it ("made", "error" or "other code"), and the result or our error.
    """
    if code != code_here():
        return pickle.dumps(("other code", None))
    task, args = pickle.loads(call)
    try:
        with _ALONE:
            return pickle.dumps(("made", task(*args)))
    except MotifError as bad:
        return pickle.dumps(("error", bad))


class Cluster(Executor):
    """An executor whose tasks are done by a Dask cluster, or else here.  Made by `cluster`.

    Attributes:
        address: Of the scheduler.
        threads: How many tasks it can work at when it is connected.
        said: What went wrong and did no harm, a line each.
    """

    def __init__(self, address: str, client: Any, stack: ExitStack) -> None:
        self.address = address
        self.threads = max(1, sum(client.nthreads().values()))
        self.said: tuple[str, ...] = ()
        self.lost = False
        self._client = client
        self._stack = stack
        self._there: Executor = client.get_executor(pure=False)
        self._here: Executor | None = None
        self._out: dict[Future[Any], tuple[Callable[..., Any], tuple[Any, ...]]] = {}
        self._news: queue.SimpleQueue[Any] = queue.SimpleQueue()
        self._empty = self._failures = 0
        self._keeper = threading.Thread(target=self._keep, name="cluster", daemon=True)
        self._keeper.start()

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        """Give a task to the cluster; it is a function of a module, and its arguments pickle."""
        job: Future[Any] = Future()
        call = partial(fn, **kwargs) if kwargs else fn
        self._out[job] = call, args
        sent: Future[Any] | None = None
        if not self.lost:
            # A connection that has just gone: what it does not take is done here.
            with suppress(Exception):
                sent = self._there.submit(done_there, code_here(), pickle.dumps((call, args)))
        if sent is None:
            self._news.put((job, None))
        else:
            own = sent
            job.add_done_callback(lambda one: _called_off(one, own))
            sent.add_done_callback(lambda one: self._news.put((job, one)))
        return job

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """Stop listening; what is still out is called off."""
        for job in list(self._out):
            job.cancel()
        self._news.put(None)
        if wait:
            # It may be asking a scheduler that does not answer; nothing is lost without it.
            self._keeper.join(timeout=5)

    def _keep(self) -> None:
        """Take in what comes back, and look after the cluster while nothing does."""
        while True:
            try:
                news = self._news.get(timeout=LOOK_S)
            except queue.Empty:
                if self._out and not self.lost:
                    self._look()
                continue
            if news is None:
                return
            self._settle(*news)

    def _settle(self, job: Future[Any], sent: Future[Any] | None) -> None:
        """Hand on what came back of a task, or do it here."""
        if job not in self._out:
            return
        if job.cancelled():
            del self._out[job]
            return
        if sent is None or sent.cancelled():
            # Nobody calls off what is sent but who loses the scheduler.
            self._lose("went away")
            self._do_here(job)
            return
        bad = sent.exception()
        kind, value = ("failed", None) if bad else pickle.loads(sent.result())
        if kind in ("made", "error"):
            self._empty = 0
            del self._out[job]
            if job.set_running_or_notify_cancel():
                job.set_result(value) if kind == "made" else job.set_exception(value)
            return
        why = f"{type(bad).__name__}: {bad}".splitlines()[0] if bad else "its program is another"
        self._say(f"A worker of the cluster at {self.address} gave no result ({why}); what it was "
                  "given was done on this machine.")  # fmt: skip
        self._failures += 1
        if self._failures >= FAILURES:
            self._lose("failed again and again")
        self._do_here(job)

    def _look(self) -> None:
        """Look whether scheduler and workers are still there."""
        why = "has no workers any more"
        with suppress(Exception):
            if self._client.status == "running":
                try:
                    ask = self._client.scheduler.ncores
                    there = self._client.sync(ask, callback_timeout=ANSWER_S)
                    self._empty = 0 if there else self._empty + 1
                except TimeoutError:
                    self._empty += UNANSWERED
                    why = "does not answer any more"
        if self._client.status != "running":
            self._lose("went away")
        elif self._empty >= PATIENCE:
            self._lose(why)

    def _lose(self, why: str) -> None:
        """Ask the cluster no more, and do here what it has in hand."""
        if self.lost:
            return
        self.lost = True
        self._say(f"The cluster at {self.address} {why}; the rest was done by processes of this "
                  "machine. The result is the same.")  # fmt: skip
        for job in list(self._out):
            self._do_here(job)

    def _say(self, line: str) -> None:
        self.said = tuple(dict.fromkeys((*self.said, line)))

    def _do_here(self, job: Future[Any]) -> None:
        task = self._out.pop(job, None)
        if task is None or not job.set_running_or_notify_cancel():
            return
        if self._here is None:
            self._here = self._stack.enter_context(processes(None, cores()))
            self._here = self._here or self._stack.enter_context(ThreadPoolExecutor(1))
        try:
            own = self._here.submit(task[0], *task[1])
        except Exception as bad:  # a process of this machine died too
            job.set_exception(bad)
            return
        own.add_done_callback(lambda one: _handed_on(one, job))


def _called_off(job: Future[Any], sent: Future[Any]) -> None:
    """Take a task back from the cluster where nobody wants it any more."""
    if job.cancelled() and not sent.done():
        with suppress(Exception):
            sent.cancel()


def _handed_on(own: Future[Any], job: Future[Any]) -> None:
    bad = own.exception()
    if bad is None:
        job.set_result(own.result())
    else:
        job.set_exception(bad)


@contextmanager
def cluster(address: str) -> Iterator[Cluster]:
    """Yield the workers of the cluster whose scheduler listens at an address.

    Args:
        address: ``tcp://HOST:PORT``, or ``tls://HOST:PORT`` with the certificates that the
            configuration of Dask names.

    Raises:
        MotifError: `distributed` is not installed, nobody answers within `CONNECT_S` seconds,
            there is no worker, or versions differ.
    """
    try:
        import dask
        import distributed
    except ImportError as bad:
        raise MotifError(
            f"--workers dask:{address} needs distributed, which is not installed ({bad.name}): "
            f"{EXTRA}"
        ) from None
    quiet = {"distributed.admin.large-graph-warning-threshold": "1 GB"}
    with dask.config.set(quiet), _silent():
        client = _connected(distributed.Client, address)
        try:
            _check_workers(client, address)
            with ExitStack() as here:
                found = Cluster(address, client, here)
                try:
                    yield found
                finally:
                    found.shutdown()
        finally:
            with suppress(Exception):
                client.close(timeout=2)


def _connected(client: Any, address: str) -> Any:
    if address.startswith("tls:"):
        import distributed

        security: Any = distributed.Security
        if security().get_connection_args("client")["ssl_context"] is None:
            raise MotifError(
                f"{address} needs certificates: name them in Dask's configuration "
                "(distributed.comm.tls.ca-file, and client.cert and client.key below it)"
            )
    made = client.__new__(client)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of versions; they are looked at below
            made.__init__(address, timeout=CONNECT_S, set_as_default=False, name="motifsearch")
        return made
    except Exception as bad:  # what it raises differs with what is wrong
        # It would wait for a scheduler once more when it is thrown away, and print a traceback.
        made.status = "closed"
        timed_out = isinstance(bad, TimeoutError) or "Timed out" in str(bad)
        why = "" if timed_out else " (" + f"{type(bad).__name__}: {bad}".splitlines()[0] + ")"
        raise MotifError(
            f"no Dask scheduler answers at {address} within {CONNECT_S:.0f} seconds{why}; "
            "start one with: dask scheduler"
        ) from None


def _check_workers(client: Any, address: str) -> None:
    """Refuse a cluster without workers, or one that could come to another result.

    Raises:
        MotifError: Which of its machines have what, and what stands here.
    """
    try:
        client.wait_for_workers(1, timeout=CONNECT_S)
    except Exception:  # of several kinds, by what is wrong
        raise MotifError(
            f"the Dask scheduler at {address} has no workers; start some with: "
            f"dask worker {address} --nworkers=-1 --nthreads 1"
        ) from None
    try:
        wrong = mismatches(client.get_versions(packages=list(MADE_WITH)))
        if not wrong:
            here = code_here()
            wrong = [
                f"the worker {name} has other files of motifsearch than this machine"
                for name, code in sorted(client.run(code_here).items())
                if code != here
            ]
    except Exception as bad:  # whatever a strange version answers
        why = f"{type(bad).__name__}: {bad}".splitlines()[0]
        wrong = [f"its workers cannot be asked for their versions ({why})"]
    if wrong:
        more = f"; and {len(wrong) - LISTED} more" if len(wrong) > LISTED else ""
        raise MotifError(
            f"the cluster at {address} could come to another result than this machine: "
            f"{'; '.join(wrong[:LISTED])}{more}. Install the same versions on all machines "
            f"(on each: {EXTRA})"
        )


def mismatches(versions: Mapping[str, Any]) -> list[str]:
    """Return where a cluster has other versions than this machine, a phrase each.

    Args:
        versions: As `distributed.Client.get_versions` says them: ``client``, ``scheduler`` and
            ``workers`` by address, each with its ``packages``.

    Examples:
        >>> here = {"packages": {"python": "3.12.1.final.0", "numpy": "2.1"}}
        >>> near = {"packages": {"python": "3.12.4.final.0", "numpy": "2.1"}}
        >>> far = {"packages": {"python": "3.12.1.final.0", "numpy": "2.0"}}
        >>> mismatches({"client": here, "scheduler": near, "workers": {"tcp://a:1": far}})
        ['the worker tcp://a:1 has numpy 2.0, here is 2.1']
    """
    here = versions["client"]["packages"]
    others = {"the scheduler": versions["scheduler"]}
    others |= {f"the worker {name}": found for name, found in sorted(versions["workers"].items())}
    out = []
    for who, found in others.items():
        there = (found or {}).get("packages") or {}
        for name in ("python", *MADE_WITH):
            mine, theirs = _shown(name, here.get(name)), _shown(name, there.get(name))
            if mine != theirs:
                has = f"{name} {theirs}" if theirs else f"no {name}"
                out.append(f"{who} has {has}, here is {mine or 'none'}")
    return out


def _shown(name: str, version: object) -> str:
    if version is None:
        return ""
    # Of Python, releases of one series come to the same.
    return ".".join(str(version).split(".")[:2]) if name == "python" else str(version)


@contextmanager
def _silent() -> Iterator[None]:
    """Keep what `distributed` logs off the terminal: what matters of it is said by us."""
    from distributed.utils import silence_logging_cmgr

    with silence_logging_cmgr("CRITICAL"), silence_logging_cmgr("CRITICAL", root="tornado"):
        yield
