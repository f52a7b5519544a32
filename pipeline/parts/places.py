"""Where the parts of a build are worked out: by threads of this process, or on a cluster.

Either way `work` does it; what differs is who prints, and how what was made comes back.
"""

from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Any, NamedTuple, Protocol, Self

import polars as pl

from pipeline.last_build import LastBuild, Request, tools_digest
from pipeline.parts.cluster import Workers, cluster_printers
from pipeline.parts.work import Task, work
from pipeline.report.outputs.reports_folder import temporary_folder
from pipeline.report.outputs.write_pages import Pages, PdfNames, Press
from pipeline.report.pdf.workers import printers
from pipeline.unmade import Failure, Unmade
from pipeline.warehouse import Warehouse
from pipeline.warehouse.parts import ROWS, Extract, in_parts, row_counts, squads_of

AT_ONCE = 2  # parts worked out side by side; more of them would take more memory
SHARES = 4  # parts for each worker of a cluster, so that none is idle for long at the end
WAITING = 2  # parts each of them is given at a time
Tables = Mapping[str, pl.DataFrame]


class Progress(Protocol):
    """How a build tells what it is doing."""

    def step(self, text: str, total: int = 1) -> None:
        """A new step begins, of `total` parts."""

    def advance(self) -> None:
        """One part of the step is done."""

    def remark(self, text: str) -> None:
        """Something the person at the keyboard should know."""


@dataclass
class Printed:
    """What is known of the PDFs of a build once they are there."""

    digests: dict[str, str] = field(default_factory=dict)  # of all that each shows, by its name
    foreign: set[str] = field(default_factory=set)  # those with letters that our typefaces lack
    boxes: dict[str, str] = field(default_factory=dict)  # letters without a typeface, by PDF

    def add(self, digests: Mapping[str, str], foreign: set[str], boxes: Mapping[str, str]) -> None:
        """Those of one part more."""
        self.digests |= digests
        self.foreign |= foreign
        self.boxes |= boxes


class Here:
    """Threads of this process, and processes of this machine that print; without these no pages."""

    def __init__(self, printers: Executor | None, pages: Pages) -> None:
        self.printers, self.pages = printers, pages
        self.tools = tools_digest() if printers else ""
        self.threads = ThreadPoolExecutor(AT_ONCE)
        self.presses: list[Press] = []

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.threads.shutdown(cancel_futures=True)

    def worked(self, warehouse: Warehouse, task: Task, unmade: Unmade) -> Iterator[Tables]:
        """The tables of one part after the other, in the order of their squads."""

        def tables(squads: list[str]) -> Tables:
            press = self._press(task, unmade)
            return work(warehouse, squads, task, unmade, press)

        jobs = (self.threads.submit(tables, squads) for squads in in_parts(warehouse))
        for job in _few_at_a_time(jobs, AT_ONCE):
            yield job.result()

    def _press(self, task: Task, unmade: Unmade) -> Press | None:
        if self.printers is None:
            return None
        press = Press(
            self.printers, self.pages, task.settings.report.page_size, task.as_of, self.tools,
            unmade,
        )  # fmt: skip
        self.presses.append(press)
        return press

    def finished(self) -> Printed:
        """Wait until everything is printed."""
        printed = Printed()
        for press in self.presses:
            press.finish()
            printed.add(press.digests, press.foreign, press.boxes)
        return printed


class Away(NamedTuple):
    """What comes back of a part that a worker of a cluster did."""

    tables: Tables
    pdfs: dict[str, bytes]
    digests: dict[str, str]
    foreign: set[str]
    boxes: dict[str, str]
    failures: dict[str, dict[str, Failure]]


class OnCluster:
    """Proved workers of a cluster: each does whole parts and prints their pages itself."""

    def __init__(self, workers: Workers, pages: Pages, there: Mapping[str, str]) -> None:
        self.workers, self.pages, self.known = workers, pages, there
        self.printed = Printed()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        """Whoever opened the cluster closes it."""

    def worked(self, warehouse: Warehouse, task: Task, unmade: Unmade) -> Iterator[Tables]:
        """The tables of one part after the other; their pages are kept as they come."""
        self.pages.begin()
        count = len(self.workers.proved)
        jobs = (self._begun(warehouse, task, squads) for squads in self._parts(warehouse, count))
        for job in _few_at_a_time(jobs, WAITING * count):
            part: Away = job.result()
            for name, pdf in part.pdfs.items():
                self.pages.keep(name, pdf)
            self.printed.add(part.digests, part.foreign, part.boxes)
            for pdf_name, failures in part.failures.items():
                for what, failure in failures.items():
                    unmade.keep(pdf_name, what, failure)
            self.pages.done(len(part.digests.keys() | part.pdfs.keys()))
            yield part.tables

    def _parts(self, warehouse: Warehouse, workers: int) -> list[list[str]]:
        every = row_counts(warehouse).total()
        return in_parts(warehouse, min(ROWS, every // (SHARES * workers) + 1))

    def _begun(self, warehouse: Warehouse, task: Task, squads: list[str]) -> Future[Any]:
        extract = Extract(warehouse, squads)
        own = replace(task, names=_of(task.names, extract.fetch("stg_athletes")))
        names = {name for kind in own.names for name in kind.values()}
        there = {name: self.known[name] for name in names & self.known.keys()}
        return self.workers.submit(away, extract, squads, own, there)

    def finished(self) -> Printed:
        """All pages are there with their parts."""
        return self.printed


def away(extract: Extract, squads: Sequence[str], task: Task, there: Mapping[str, str]) -> Away:
    """A part of the squads to its pages, printed by the process that works it out.

    `there` holds the digests of PDFs that are in the reports folder already.
    """
    unmade = Unmade(task.names.athletes)
    pdfs: dict[str, bytes] = {}
    pages = Pages(pdfs.__setitem__, lambda name, digest: there.get(name) == digest)
    paper = task.settings.report.page_size
    press = Press(InPlace(), pages, paper, task.as_of, tools_digest(), unmade)
    tables = work(extract, squads, task, unmade, press)
    press.finish()
    return Away(tables, pdfs, press.digests, press.foreign, press.boxes, unmade.found)


class InPlace(Executor):
    """Does what it is given before it gives anything back."""

    def submit(self, work: Callable[..., Any], /, *given: Any, **named: Any) -> Future[Any]:
        """Do it now; what it raises stands in its answer."""
        job: Future[Any] = Future()
        try:
            job.set_result(work(*given, **named))
        except Exception as error:
            job.set_exception(error)
        return job


def _of(names: PdfNames, athletes: pl.DataFrame) -> PdfNames:
    """The names of the PDFs of these athletes and their squads."""
    people, squads = athletes["athlete_id"], squads_of(athletes)
    return PdfNames(
        {who: names.athletes[who] for who in people},
        *({squad: kind[squad] for squad in squads} for kind in names[1:]),
    )


def _few_at_a_time(jobs: Iterable[Future[Any]], most: int) -> Iterator[Future[Any]]:
    """Jobs in their order, begun while no more than so many wait to be taken."""
    begun: deque[Future[Any]] = deque()
    for job in jobs:
        begun.append(job)
        if len(begun) >= most:
            yield begun.popleft()
    yield from begun


def printing(
    new: Path, progress: Progress, workers: int | str, asked: Request
) -> AbstractContextManager[Executor | None]:
    """Who prints pages: nobody, the workers of a cluster, or processes of this machine."""
    if not asked.has_pdfs:
        return nullcontext()
    if isinstance(workers, str):
        return cluster_printers(workers, progress.remark)
    return printers(workers, temporary_folder(new))


def place(
    pool: Executor | None,
    new: Path,
    reports: Path,
    last: LastBuild | None,
    progress: Progress,
    page_count: int,
) -> Here | OnCluster:
    """Where the squads are worked out: here, or by the workers of a cluster."""

    def keep(name: str, pdf: bytes) -> None:
        (new / name).write_bytes(pdf)

    def is_there(name: str, shown: str) -> bool:
        return (
            last is not None and last.pages.get(name) == shown and last.is_untouched(reports, name)
        )

    def advance(count: int) -> None:
        for _ in range(count):
            progress.advance()

    begins = partial(progress.step, "Writing the reports", page_count)
    pages = Pages(keep, is_there, advance, begins)
    if not isinstance(pool, Workers):
        return Here(pool, pages)
    known = last.pages if last else {}
    return OnCluster(pool, pages, {name: key for name, key in known.items() if is_there(name, key)})
