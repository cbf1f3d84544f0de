"""A large map is gone through in bands of rows: what looking at it takes is small, and every core helps.

The law: a band's answer depends on the band alone, and answers come in the order of the bands, so that the
number of threads changes nothing.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

CELLS = 2_000_000  # that are looked at together: little enough to stay close to the processor

Answer = TypeVar("Answer")


def usable_cores() -> int:
    """How many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def bands_of(shape: tuple[int, int]) -> list[slice]:
    """Runs of rows, together the whole map."""
    ny, nx = shape
    rows = max(1, CELLS // nx)
    return [slice(j, min(ny, j + rows)) for j in range(0, ny, rows)]


def over(bands: Sequence[slice], work: Callable[[slice], Answer], threads: int | None = None
         ) -> Iterator[Answer]:
    """What `work` says of each band, in order, on so many threads (all cores, where it is left out)."""
    threads = min(len(bands), threads or usable_cores())
    if threads <= 1:
        yield from map(work, bands)
        return
    with ThreadPoolExecutor(threads) as pool:
        yield from pool.map(work, bands)
