"""The processes that print pages: begun first, since they take as long to get ready as reading."""

import os
import signal
import sys
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import ExitStack, contextmanager, suppress
from functools import cache
from multiprocessing import (
    active_children,
    forkserver,
    get_context,
    parent_process,
    resource_tracker,
)
from multiprocessing.process import BaseProcess
from threading import Thread
from typing import Any

from pipeline.errors import SquadsidesError

READY = "pipeline.report.ready"


def start_early() -> None:
    """Begin the process that workers are forked from, which imports what draws pages meanwhile."""
    _context()


@cache
def _context() -> Any:
    """How workers begin; never as forks of this process, whose frame library's threads would break.

    On macOS, whose own libraries do not survive a fork either, and where there is no place for the
    socket of the process to fork from, each worker imports for itself.
    """
    if sys.platform != "darwin":
        context = get_context("forkserver")
        context.set_forkserver_preload([READY])
        with suppress(OSError), _ctrl_c_held_back():
            forkserver.ensure_running()
            return context
    return get_context("spawn")


@contextmanager
def printers(workers: int, cluster: str | None = None) -> Iterator[Executor]:
    """Where pages are rendered: processes of this machine.

    With the address of a dask scheduler its workers render instead; they need this package and no
    file.
    """
    if cluster:
        with _cluster(cluster) as executor:
            yield executor
        return
    with ExitStack() as at_the_end:
        try:
            with _ctrl_c_held_back():
                pool = ProcessPoolExecutor(workers, _context(), initializer=_begin)
                at_the_end.enter_context(pool)
                for _ in range(workers):
                    pool.submit(int)  # a worker starts with the first job it is there for
            yield pool
        except BrokenProcessPool:
            raise SquadsidesError(
                "A process that prints pages was ended from outside, perhaps for want of memory. "
                "Close other programs and build again, or build with --workers 1. What was in the "
                "reports folder is as it was."
            ) from None
        except BaseException:  # nobody waits for pages of a build that has stopped
            for worker in active_children():
                worker.terminate()
            raise


@contextmanager
def _ctrl_c_held_back() -> Iterator[None]:
    """Ctrl-C does not come between here, and never to a process begun in here.

    It is for the build, which ends its workers; half begun, one would be missed. A process inherits
    from the thread that begins it what is held back; in this process another thread may still take
    the signal, so what it does is put off as well.
    """
    resource_tracker.ensure_running()  # beginning it would let Ctrl-C through again
    came: list[int] = []
    handler = signal.signal(signal.SIGINT, lambda number, _: came.append(number))
    mask = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, mask)
        signal.signal(signal.SIGINT, handler)
        if came:
            signal.raise_signal(signal.SIGINT)


def _begin() -> None:
    """Get a worker ready, and have it end with the build even where that is killed."""
    import pipeline.report.ready  # noqa: F401

    signal.signal(signal.SIGTERM, _leave)
    if (build := parent_process()) is not None:
        Thread(target=_follow, args=[build], daemon=True).start()


def _follow(build: BaseProcess) -> None:
    build.join()
    _leave()


def _leave(*_: object) -> None:
    os._exit(1)


@contextmanager
def _cluster(address: str) -> Iterator[Executor]:
    try:
        from distributed import Client
    except ImportError:
        raise SquadsidesError(
            "Rendering on a cluster needs an extra part: pip install '.[cluster]'"
        ) from None
    try:
        client = Client(address, timeout=4)
    except (OSError, ValueError) as broken:
        raise SquadsidesError(f"The cluster {address} cannot be reached: {broken}") from None
    with client:
        yield client.get_executor()
