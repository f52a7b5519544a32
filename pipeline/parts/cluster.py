"""The workers of a dask cluster print pages: proved first, then watched."""

import asyncio
import logging
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import CancelledError, Executor, Future
from contextlib import contextmanager, suppress
from threading import Event, Lock, Thread
from typing import Any

from pipeline.errors import SquadsidesError
from pipeline.last_build import tools_digest

ANSWERS = 4.0  # seconds in which an address has to answer
BEGUN = 10.0  # seconds in which the first worker has to be there
BETWEEN = 0.5  # seconds from one look at the workers to the next


@contextmanager
def cluster_printers(address: str, tell: Callable[[str], None]) -> Iterator["Workers"]:
    """The workers of the scheduler at `address` that run this very program.

    A worker of another version, or with other packages, would print other pages, and the next
    build would take them for its own: it gets no work, and `tell` is told. Raises SquadsidesError
    in plain words where nobody answers, nobody works or nobody is left.
    """
    try:
        from distributed import Client
    except ImportError:
        raise SquadsidesError(
            "Rendering on a cluster needs an extra part: pip install '.[cluster]'"
        ) from None
    # What the library logs of a lost connection are tracebacks; what it means is said here.
    for name in ("tornado", "asyncio", *logging.root.manager.loggerDict):
        if name.partition(".")[0] in ("distributed", "tornado", "asyncio"):
            logging.getLogger(name).setLevel(logging.CRITICAL + 1)
    try:
        asyncio.run(asyncio.wait_for(_is_scheduler(address), ANSWERS))
        client = Client(address, timeout=ANSWERS, set_as_default=False)
    except Exception as broken:  # of any kind, as an address may be anything
        raise SquadsidesError(
            f"The cluster {address} cannot be reached ({_first_line(broken)}). Is its scheduler "
            "running, and is the address the one it prints when it begins?"
        ) from None
    try:
        proved = _proved(client, address, tell)
        with Workers(client, proved) as workers:
            yield workers
    finally:
        with suppress(Exception):  # a scheduler that is gone cannot be taken leave of
            client.close(timeout=2)


async def _is_scheduler(address: str) -> None:
    """Ask who is there; the library's client waits without end for somebody of another trade."""
    from distributed.core import rpc
    from distributed.security import Security

    options = Security().get_connection_args("client")
    async with rpc(address, timeout=ANSWERS, connection_args=options) as somebody:
        if (await somebody.identity())["type"] != "Scheduler":
            raise SquadsidesError("no scheduler is there")


def _first_line(broken: Exception) -> str:
    return (str(broken).splitlines() or [""])[0] or type(broken).__name__


def _proved(client: Any, address: str, tell: Callable[[str], None]) -> list[str]:
    """The addresses of the workers that run what this process runs, asked for its digest."""
    try:
        client.wait_for_workers(1, timeout=BEGUN)
    except TimeoutError:
        raise SquadsidesError(
            f"The cluster {address} has no workers. Start some (DEVELOPERS.md says how), or "
            "build without --cluster."
        ) from None
    try:
        client.run_on_scheduler(tools_digest)
    except Exception as broken:
        raise SquadsidesError(
            f"The scheduler of the cluster {address} cannot load this program "
            f"({_first_line(broken)}). Set the program up there as on this machine."
        ) from None
    answers: Mapping[str, object] = client.run(tools_digest, on_error="return")
    ours = tools_digest()
    proved = sorted(worker for worker, answer in answers.items() if answer == ours)
    others = sorted(set(answers) - set(proved))
    reasons = [f"{worker} {_lacking(answers[worker])}" for worker in others[:3]]
    told = ", ".join(reasons) + (f" and {len(others) - 3} more" if len(others) > 3 else "")
    if not proved:
        raise SquadsidesError(
            f"No worker of the cluster {address} may print these pages: {told}. Set the same "
            "version of the program, of Python and of its packages up on each of them, or build "
            "without --cluster."
        )
    if others:
        tell(f"Workers of the cluster that get no work, as their pages might differ: {told}.")
    return proved


def _lacking(answer: object) -> str:
    if "ModuleNotFoundError" in repr(answer):  # as it is, or within the library's own
        return "has not got the program"
    if isinstance(answer, Exception):
        return f"does not answer as this program does ({_first_line(answer)})"
    return "has another version of the program, of Python or of a package"


class Workers(Executor):
    """Work for proved workers alone; whoever waits for an answer learns it once none is left.

    The cluster gives what a lost worker had to another one. What it would wait for without end,
    the last worker or the scheduler itself, is looked after here.
    """

    def __init__(self, client: Any, proved: list[str]) -> None:
        self.client, self.proved = client, proved
        self.asked: dict[Future[Any], Any] = {}
        self.lock = Lock()
        self.is_lost = False
        self.is_over = Event()
        self.watch = Thread(target=self._watch, daemon=True)
        self.watch.start()

    def submit(self, work: Callable[..., Any], /, *given: Any, **named: Any) -> Future[Any]:
        """Have a proved worker do it; raises SquadsidesError once there is none."""
        answer: Future[Any] = Future()
        with self.lock:
            if self.is_lost:
                raise SquadsidesError(LOST)
            try:
                remote = self.client.submit(
                    work, *given, **named,
                    workers=self.proved, allow_other_workers=False, pure=False,
                )  # fmt: skip
            except Exception:
                raise SquadsidesError(LOST) from None
            self.asked[answer] = remote
        remote.add_done_callback(lambda done: self._hand_back(answer, done))
        return answer

    def _hand_back(self, answer: Future[Any], done: Any) -> None:
        """Give on what came; until it is here somebody waits, should its worker be lost now."""
        result, error = None, None
        try:
            result = done.result()
        except Exception as raised:
            error = SquadsidesError(LOST) if _is_of_cluster(raised) else raised
        with self.lock:
            if self.asked.pop(answer, None) is None or not answer.set_running_or_notify_cancel():
                return
        if error is None:
            answer.set_result(result)
        else:
            answer.set_exception(error)

    def _watch(self) -> None:
        while not self.is_over.wait(BETWEEN):
            try:
                there = self.client.nthreads() if self.client.status == "running" else None
            except Exception:  # of whatever kind: nobody answers any more
                there = None
            if not there or not set(there) & set(self.proved):
                self._give_up()
                return

    def _give_up(self) -> None:
        with self.lock:
            self.is_lost = True
            waiting = [*self.asked]
            self.asked.clear()
        for answer in waiting:
            if answer.set_running_or_notify_cancel():
                answer.set_exception(SquadsidesError(LOST))

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """Look after nobody any longer; what nobody waits for the cluster forgets."""
        self.is_over.set()
        self.watch.join()
        with self.lock:
            self.asked.clear()


def _is_of_cluster(error: Exception) -> bool:
    """Whether the library says so of itself, where a page's own error is the page's."""
    return isinstance(error, CancelledError) or type(error).__module__.startswith("distributed")


LOST = (
    "The cluster's workers or its scheduler were lost while pages were printed. Look after it and "
    "build again, or build without --cluster. What was in the reports folder is as it was."
)
