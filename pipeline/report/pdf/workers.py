"""The processes that print pages: begun first, since they take as long to get ready as reading."""

import os
import pickle
import shutil
import signal
import sys
import tempfile
import time
import traceback
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from contextlib import contextmanager, suppress
from functools import cache
from multiprocessing import forkserver, get_context, parent_process, resource_tracker
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from multiprocessing.util import get_temp_dir
from pathlib import Path
from queue import SimpleQueue
from threading import Thread
from typing import Any

from pipeline.errors import ASKED, SquadsidesError

READY = "pipeline.report.pdf.preloaded"
GRACE = 1.0  # seconds in which a worker that is told to leave has to tidy up
LOST = (
    "A process that prints pages was ended from outside, perhaps for want of memory. Close other "
    "programs and build again, or build with --workers 1. What was in the reports folder is as it "
    "was."
)


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
        with suppress(OSError), _stops_held_back():
            forkserver.ensure_running()
            return context
    return get_context("spawn")


@contextmanager
def printers(workers: int, temporary: Path | None = None) -> Iterator[Executor]:
    """Where pages are rendered: processes of this machine, which keep in `temporary` what helps."""
    pool = _Pool(workers, temporary)
    is_over = False
    try:
        with _stops_held_back():
            pool.begin()
        yield pool
        is_over = True
    finally:  # nobody waits for pages of a build that has stopped
        with _stops_held_back():
            pool.end(at_once=not is_over)


@contextmanager
def _stops_held_back() -> Iterator[None]:
    """Ctrl-C does not come between here, and never to a process begun in here.

    Nor do the other signals that ask a build to stop.

    It is for the build, which ends its workers; half begun, one would be missed. A process inherits
    from the thread that begins it what is held back; in this process another thread may still take
    the signal, so what it does is put off as well.
    """
    resource_tracker.ensure_running()  # beginning it would let Ctrl-C through again
    came: list[int] = []
    handlers = {one: signal.signal(one, lambda number, _: came.append(number)) for one in ASKED}
    mask = signal.pthread_sigmask(signal.SIG_BLOCK, ASKED)
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, mask)
        for one, handler in handlers.items():
            signal.signal(one, handler)
        if came:
            signal.raise_signal(came[0])


def _begin(temporary: Path | None) -> None:
    """Get a worker ready, and have it end with the build even where that is killed."""
    import pipeline.report.pdf.preloaded  # noqa: F401
    from pipeline.report.pdf.render import start_drawing

    if temporary is not None:
        tempfile.tempdir = str(temporary)
    signal.signal(signal.SIGTERM, _leave)
    signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGTERM})
    if (build := parent_process()) is not None:
        Thread(target=_follow, args=[build], daemon=True).start()
    with suppress(SquadsidesError):  # what is missing the first page says
        start_drawing()


def _follow(build: BaseProcess) -> None:
    build.join()
    # The folder of the socket that workers are forked through, which a killed build leaves.
    shutil.rmtree(get_temp_dir(), ignore_errors=True)
    _leave()


def _leave(*_: object) -> None:
    os._exit(1)


class _Pool(ThreadPoolExecutor):
    """A process for each thread, at the other end of a pipe of its own.

    Workers share no queue and no lock, so one that is lost at any moment leaves nothing behind
    that somebody could wait for: its pipe ends, and with it the wait of the one thread that reads
    there.
    """

    def __init__(self, workers: int, temporary: Path | None) -> None:
        super().__init__(workers)
        self.workers, self.temporary = workers, temporary
        self.processes: list[BaseProcess] = []
        self.idle: SimpleQueue[Connection] = SimpleQueue()
        self.is_broken = False

    def begin(self) -> None:
        """Start the workers; they get ready by themselves."""
        context = _context()
        for _ in range(self.workers):
            ours, theirs = context.Pipe()
            self.idle.put(ours)
            process = context.Process(target=_work, args=[theirs, self.temporary], daemon=True)
            process.start()
            self.processes.append(process)
            theirs.close()  # the worker's is the only one left, so that the pipe ends with it

    def submit(self, work: Callable[..., Any], /, *given: Any, **named: Any) -> Future[Any]:
        """Have a worker do it; raises SquadsidesError once one is lost."""
        if self.is_broken:
            raise SquadsidesError(LOST)
        return super().submit(self._hand_over, work, given, named)

    def _hand_over(self, *job: Any) -> Any:
        packed = pickle.dumps(job)
        worker = self.idle.get()  # there are no more threads than workers
        try:
            worker.send_bytes(packed)
            answer = worker.recv_bytes()
        except (EOFError, OSError):
            self.is_broken = True
            raise SquadsidesError(LOST) from None
        finally:
            self.idle.put(worker)
        result, error = pickle.loads(answer)
        if error is not None:
            raise error
        return result

    def end(self, *, at_once: bool) -> None:
        """Have every worker leave, now or once all is printed; none is left afterwards."""
        self.shutdown(wait=not at_once, cancel_futures=at_once)
        if at_once:
            for process in self.processes:
                process.terminate()
        else:
            self._close()
        latest = time.monotonic() + GRACE
        for process in self.processes:
            process.join(max(0.0, latest - time.monotonic()))
            process.kill()
            process.join()
        self.shutdown()  # whoever read from a worker has read its end
        self._close()

    def _close(self) -> None:
        while not self.idle.empty():
            self.idle.get().close()


def _work(build: Connection, temporary: Path | None) -> None:
    """A worker gets ready, and does whatever comes until there is nobody to do it for."""
    _begin(temporary)
    with suppress(EOFError, OSError):
        while True:
            build.send_bytes(_answer(build.recv_bytes()))
    _leave()


def _answer(packed: bytes) -> bytes:
    """What a job gives and the error it ends with, one of them None; packed as the job came."""
    try:
        work, given, named = pickle.loads(packed)
        return pickle.dumps((work(*given, **named), None))
    except BaseException as error:
        where = traceback.format_exc()
        error.add_note(where)
        try:
            return pickle.dumps((None, error))
        except Exception:  # not every error survives the way
            return pickle.dumps((None, RuntimeError(where)))
