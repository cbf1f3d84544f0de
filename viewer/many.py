"""A library's jobs spread over processes of this computer or over a cluster.

The law: files are opened here, a few jobs ahead of those that work; what travels is the job with its bytes. A
process that dies takes no other job with it: those it had are tried again, each by itself.
"""

from __future__ import annotations

import multiprocessing
from collections.abc import Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Executor, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from .asked import Asked
from .outcomes import UNUSED, Outcome, not_used, outcome_of

if TYPE_CHECKING:
    from ..parser.job import Job
    from ..sim.knobs import Knobs

AHEAD = 2  # jobs read and waiting for each worker: not a whole library in memory
DIED = ("the process that checked it was ended from outside, as it is where memory runs out; "
        "give board.cell a larger value")


@contextmanager
def hands(workers: int | None, cluster: str | None, threads: int | None) -> Iterator[tuple[Executor, int]]:
    """Something that runs functions elsewhere, and how many threads each of them may use."""
    if cluster is not None:
        from .cluster import on_cluster
        with on_cluster(cluster) as executor:
            yield executor, threads or 1
        return
    from ..sim.bands import usable_cores
    with processes(workers or 1) as executor:
        yield executor, threads or max(1, usable_cores() // (workers or 1))


@contextmanager
def processes(count: int) -> Iterator[Executor]:
    """Processes that start from nothing, so that they are the same on every system."""
    executor = ProcessPoolExecutor(count, mp_context=multiprocessing.get_context("spawn"))
    try:
        yield executor
    except BaseException:
        executor.shutdown(wait=False, cancel_futures=True)
        raise
    executor.shutdown()


def outcomes(executor: Executor, paths: Sequence[Path], asked: Asked, knobs: Knobs, threads: int
             ) -> Iterator[Outcome]:
    """The outcome of every job, as they come. Jobs are read only a few ahead of those that work."""
    ahead = AHEAD * getattr(executor, "_max_workers", 8)
    waiting: dict[Future[Outcome], Path] = {}
    left, alone = iter(paths), []
    for path in left:
        read = load_or_say(path, asked)
        if isinstance(read, Outcome):
            yield read
            continue
        try:
            waiting[executor.submit(outcome_of, str(path), read, knobs, threads)] = path
        except BrokenProcessPool:
            alone += [path, *left]
        while len(waiting) >= ahead:
            yield from arrived(waiting, alone)
    while waiting:
        yield from arrived(waiting, alone)
    for path in alone:
        yield by_itself(path, asked, knobs, threads)


def load_or_say(path: Path, asked: Asked) -> Job | Outcome:
    """The job, or the outcome that it cannot be read."""
    try:
        return asked.load(path)
    except Exception as failed:
        return not_used(str(path), failed)


def arrived(waiting: dict[Future[Outcome], Path], alone: list[Path]) -> Iterator[Outcome]:
    """The outcomes that are there; where a process died, its jobs are tried again each by itself."""
    done, _ = wait(waiting, return_when=FIRST_COMPLETED)
    for future in done:
        path = waiting.pop(future)
        failed = future.exception()
        if failed is None:
            yield future.result()
        elif isinstance(failed, BrokenProcessPool):
            alone.append(path)
        else:
            yield not_used(str(path), failed)


def by_itself(path: Path, asked: Asked, knobs: Knobs, threads: int) -> Outcome:
    """A job in a process of its own: if that dies, this job is the one to blame."""
    read = load_or_say(path, asked)
    if isinstance(read, Outcome):
        return read
    with processes(1) as executor:
        try:
            return executor.submit(outcome_of, str(path), read, knobs, threads).result()
        except BrokenProcessPool:
            return Outcome(str(path), UNUSED, said=DIED)
