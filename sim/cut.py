"""Cutting: a stage's moves over the board's surface.

The law: moves act in program order; tiles are independent, so they run on as many threads as there are
and the answer is the same bit for bit; a move is swept in one step, never stamped. What each move took
off adds up to what the map lost.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..parser.job import Cutter
from ..parser.motion import Motion
from .bands import usable_cores
from .kernels import sweep
from .paths import RapidPath
from .surface import Surface
from .sweeps import Look, Sweeps, sweeps_of

TILE = (128, 1024)  # rows, columns: what a core keeps close while every move passes over it
BATCHES = 16  # shares of the work for each thread, or more:
SHARE = 50_000  # no share is more work than this: so there is progress to tell, and Ctrl-C ends it soon

Floats = NDArray[np.float64]
Progress = Callable[[float], None]


class Looked(NamedTuple):
    """What a look met: depth (n,) below the highest cell (0: not more than 0.01), at (n, 2) where that is."""

    look: Look
    depth: Floats
    at: Floats


@dataclass(frozen=True)
class Cut:
    """What n moves did to the map. Millimetres, board frame; move 0 has the number `first_id` in the map.

    volume (n,): mm³ removed (over 0: it cut material) · area (n,): mm² of the cells it lowered · depth
    (n,): greatest height before less after · deepest_at (n, 2): where that is, NaN where nothing was cut ·
    touch (n,): how deep a rapid went below a cell that it, grown by half a cell's diagonal, passed over
    (0: not more than 0.01) · touch_at (n, 2) · before (ny, nx) float32: the map before, None where it was
    not asked for · lowest: the lowest height left on a cell that was lowered, None where none was · looked:
    for each look that was asked for, how deep it stood below the board (n,) and where (n, 2).
    """

    first_id: int
    volume: Floats
    area: Floats
    depth: Floats
    deepest_at: Floats
    touch: Floats
    touch_at: Floats
    before: NDArray[np.float32]
    lowest: float | None
    looked: tuple[Looked, ...] = ()

    @property
    def mean_depth(self) -> Floats:
        """(n,) volume over area, mm; 0 where nothing was cut."""
        return np.divide(self.volume, self.area, out=np.zeros_like(self.volume), where=self.area > 0)


def cut_stage(surface: Surface, motion: Motion, cutters: Sequence[Cutter | None], *, first_id: int = 0,
              tilt: tuple[float, float] = (0.0, 0.0), rapid: RapidPath | None = None,
              threads: int | None = None, progress: Progress | None = None, keep_before: bool = True,
              looks: Sequence[Look] = ()) -> Cut:
    """Let a stage's moves cut the surface, in place.

    `cutters` holds the cutter in the spindle at each move (None: the move is left out, as are moves whose
    place is not known); `tilt` the slopes dz/dx, dz/dy of the spindle's plane; `rapid` what the control does
    with rapids (straight, where left out); `progress` is told the part done. With `keep_before` false,
    `before` is the surface itself and means nothing.
    """
    sweeps = sweeps_of(motion, cutters, surface.cell, tilt, rapid, looks)
    threads = threads or usable_cores()
    with ThreadPoolExecutor(threads) as pool:
        before = _copied(surface.heights, pool, threads) if keep_before else surface.heights
        starts, pairs = _binned(surface, sweeps)
        found = _swept(surface, sweeps, starts, pairs, first_id, pool, threads, progress)
    return _cut(surface, sweeps, pairs, found, len(motion), first_id, before, looks)


def cut_again(surface: Surface, sweeps: Sweeps, first_id: int, threads: int | None = None) -> None:
    """Let sweeps cut the surface, in place, and measure nothing; see Replay."""
    if not len(sweeps.orders):
        return
    threads = threads or usable_cores()
    with ThreadPoolExecutor(threads) as pool:
        starts, pairs = _binned(surface, sweeps)
        _swept(surface, sweeps, starts, pairs, first_id, pool, threads, None)


def _copied(heights: NDArray[np.float32], pool: ThreadPoolExecutor, threads: int) -> NDArray[np.float32]:
    """A copy, its pages touched by all threads."""
    copy = np.empty_like(heights)
    shares = np.linspace(0, len(heights), threads * 4 + 1).astype(int)
    list(pool.map(lambda a, b: np.copyto(copy[a:b], heights[a:b]), shares[:-1], shares[1:]))
    return copy


def _binned(surface: Surface, sweeps: Sweeps) -> tuple[NDArray[np.int64], NDArray[np.int32]]:
    """Each tile's sweeps, in order: tile k has pairs[starts[k]:starts[k + 1]]."""
    ny, nx = surface.shape
    starts = np.zeros(-(-ny // TILE[0]) * -(-nx // TILE[1]) + 1, np.int64)
    grid = (surface.x0, surface.y0, surface.cell, ny, nx, *TILE)
    where = (sweeps.numbers, sweeps.orders, sweeps.rounds, *grid)
    total = sweep.bin_sweeps(*where, starts, np.empty(0, np.int32), False)
    starts = np.cumsum(starts)
    pairs = np.empty(total, np.int32)
    sweep.bin_sweeps(*where, starts[:-1].copy(), pairs, True)
    return starts, pairs


def _swept(surface: Surface, sweeps: Sweeps, starts: NDArray[np.int64], pairs: NDArray[np.int32],
           first_id: int, pool: ThreadPoolExecutor, threads: int, progress: Progress | None) -> Floats:
    """Every tile that something touches, in batches; what each pair took off, (pairs, FOUND_NUMBERS)."""
    found = np.zeros((len(pairs), sweep.FOUND_NUMBERS))
    found[:, sweep.LOWEST] = np.inf
    orders = sweeps.orders.copy()
    orders[:, sweep.MOVE] += first_id

    def swept(tiles: NDArray[np.int64]) -> None:
        sweep.sweep_tiles(tiles, starts, pairs, sweeps.numbers, orders, sweeps.rounds, sweeps.pieces,
                          surface.x0, surface.y0, surface.cell, surface.heights, surface.last, found,
                          np.empty(TILE, np.float32), np.empty((7, max(TILE))),
                          np.empty(max(TILE), np.float32))

    count = max(threads * BATCHES, len(pairs) // SHARE)
    jobs = [pool.submit(swept, tiles) for tiles in _shares(starts, count)]
    try:
        for done, job in enumerate(as_completed(jobs), 1):
            job.result()
            if progress:
                progress(done / len(jobs))
    except BaseException:
        for job in jobs:
            job.cancel()
        raise
    return found


def _shares(starts: NDArray[np.int64], count: int) -> list[NDArray[np.int64]]:
    """The tiles that something touches, in runs of about equal work: a pair is one, a tile eight."""
    busy = np.flatnonzero(np.diff(starts))
    work = np.cumsum(starts[busy + 1] - starts[busy] + 8)
    cuts = np.searchsorted(work, np.arange(1, count) * (work[-1] / count if len(work) else 0.0))
    return [run for run in np.split(busy, np.unique(cuts)) if len(run)]


def _cut(surface: Surface, sweeps: Sweeps, pairs: NDArray[np.int32], found: Floats, n: int, first_id: int,
         before: NDArray[np.float32], asked: Sequence[Look]) -> Cut:
    """Pairs to moves, always added in the same order: by tile, then by sweep."""
    orders = sweeps.orders[pairs]
    looks = orders[:, sweep.ACT] == sweep.LOOK
    cuts, moves = found[~looks], orders[~looks, sweep.MOVE]
    depth, deepest_at = _greatest(surface, cuts, moves, n)
    rapids = looks & (orders[:, sweep.ROUND] < sweeps.first_look)
    touch, touch_at = _greatest(surface, found[rapids], orders[rapids, sweep.MOVE], n)
    looked = tuple(Looked(look, *_greatest(surface, found[mine], orders[mine, sweep.MOVE], n))
                   for number, look in enumerate(asked)
                   for mine in [orders[:, sweep.ROUND] == sweeps.first_look + number])
    lowest = float(cuts[:, sweep.LOWEST].min(initial=np.inf))
    cell_area = surface.cell**2
    volume = np.bincount(moves, cuts[:, sweep.VOLUME], n).astype(np.float64) * cell_area
    area = np.bincount(moves, cuts[:, sweep.CELLS], n).astype(np.float64) * cell_area
    return Cut(first_id=first_id, volume=volume, area=area, depth=depth, deepest_at=deepest_at, touch=touch,
               touch_at=touch_at, before=before, lowest=lowest if np.isfinite(lowest) else None,
               looked=looked)


def _greatest(surface: Surface, found: Floats, moves: NDArray[np.int32], n: int) -> tuple[Floats, Floats]:
    """Each move's greatest depth (n,) and its place (n, 2): the first of equals in tile order."""
    depth, at = np.zeros(n), np.full((n, 2), np.nan)
    hit = np.flatnonzero(found[:, sweep.DEPTH] > 0)
    order = hit[np.lexsort((-hit, found[hit, sweep.DEPTH]))]  # the greatest, and of equals the first, last
    cells = found[order][:, [sweep.AT_I, sweep.AT_J]]
    depth[moves[order]] = found[order, sweep.DEPTH]
    at[moves[order]] = (surface.x0, surface.y0) + (cells + 0.5) * surface.cell
    return depth, at
