"""How fast the cut is, beside what memory allows and what a person would use instead.

    python tests/bench/bench_cut.py [--fine] [--slow] [--processor] [TABLE …]

`--fine` adds the full sheet at 0.1 mm (298 million cells, 2.4 GB); `--slow` gives peers 20 minutes each. The
limit is one thread that refills the same arrays, already touched, median of 5. TABLE: memory, kinds, rate,
peers, geometry, growth; all where none is named. `growth` writes growth.svg beside this file. `--processor`
counts processor time instead of wall time, of all threads together: what a busy machine can tell.
"""

from __future__ import annotations

import multiprocessing
import os
import sys
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from statistics import median

import manifold3d
import numpy as np
import shapely
from proveout.parser.job import Corner, Cutter
from proveout.parser.motion import Motion
from proveout.sim.cut import cut_stage
from proveout.sim.effort import contact_angles, entry_angles, powers, removal_rates, widths_engaged
from proveout.sim.surface import Surface
from scipy import ndimage

sys.path.insert(0, str(Path(__file__).parent))
from plot import draw

FACING = Cutter(number=1, shape="facing", diameter=25.4, core=14.0)
TALL = Cutter(number=1, shape="bull", diameter=25.4, corner=Corner(radius=3.0))
BALL = Cutter(number=1, shape="ball", diameter=6.0)


def motion(points: np.ndarray) -> Motion:
    """Feed moves through points (n, 3)."""
    n = len(points) - 1
    return Motion(np.arange(n, dtype=np.int32), np.ones(n, np.uint8), points[:-1].copy(), points[1:].copy(),
                  np.full(n, 1000.0), np.zeros(n, np.int32), np.full(n, -1, np.int32), np.zeros(n, bool))


def zigzag(width: float, height: float, step: float, z: float = -0.4) -> Motion:
    """Passes along X, joined at their ends, over a whole board."""
    rows = np.arange(0, height + step, step)
    ends = np.where(np.arange(len(rows)) % 2 == 0, -20.0, width + 20.0)
    points = np.column_stack([np.column_stack([ends, width - ends]).ravel(), np.repeat(rows, 2)])
    return motion(np.column_stack([points, np.full(len(points), z)]))


def slanting(width: float, height: float, step: float) -> Motion:
    """The same passes, turned by 30 degrees and long enough to cover the board."""
    far = width + height
    moves, (c, s) = zigzag(far, far, step), (np.cos(np.pi / 6), np.sin(np.pi / 6))
    for points in (moves.start, moves.end):
        x, y = points[:, 0] - far / 2, points[:, 1] - far / 2
        points[:, 0], points[:, 1] = x * c - y * s + width / 2, x * s + y * c + height / 2
    return moves


def relief(n: int, width: float) -> Motion:
    """n moves of half a millimetre over a wavy relief."""
    per, k = int(width / 0.5), np.arange(n + 1)
    row, column = k // per, k % per
    x, y = np.where(row % 2 == 0, column, per - 1 - column) * 0.5, row * 0.6
    return motion(np.column_stack([x, y, -2 + 1.2 * np.sin(x / 7) * np.cos(y / 9)]))


CLOCK = time.process_time if "--processor" in sys.argv else time.perf_counter


def seconds(act: Callable[[], object], before: Callable[[], object] = lambda: None, times: int = 5) -> float:
    """Median time of an act."""
    taken = []
    for _ in range(times):
        before()
        start = CLOCK()
        act()
        taken.append(CLOCK() - start)
    return median(taken)


class Sheet:
    """A board, its limit, and cutting it afresh."""

    def __init__(self, width: float, height: float, cell: float, top: np.ndarray | float = 0.0) -> None:
        self.surface = Surface.of_board(shapely.box(0, 0, width, height), 0.0, cell)
        self.top = top
        self.refill()
        self.limit = seconds(self._fill)

    def _fill(self) -> None:
        self.surface.heights.fill(-0.4)
        self.surface.last.fill(3)

    def refill(self) -> None:
        self.surface.heights[:] = self.top
        self.surface.last.fill(-1)

    def cut(self, moves: Motion, cutter: Cutter, *, times: int = 5, **more) -> float:
        cutters = [cutter] * len(moves)
        return seconds(lambda: cut_stage(self.surface, moves, cutters, **{"keep_before": False, **more}),
                       self.refill, times)


def row(name: str, *figures: str) -> None:
    print(f"{name:44}" + "".join(f"{figure:>15}" for figure in figures), flush=True)


def asked(surface: Surface, moves: Motion, cutters: list[Cutter]) -> None:
    """A cut with every figure of every move: width engaged, angles, rate and power as well."""
    cut = cut_stage(surface, moves, cutters, threads=2, keep_before=False)
    width = widths_engaged(cut, moves, cutters)
    contact_angles(width, np.full(len(moves), 25.4))
    entry_angles(cut, moves)
    powers(removal_rates(cut, moves.length() / moves.feed * 60), 60.0)


def against_memory(fine: bool) -> None:
    print("\nFull sheet 1220 x 2440 mm, 10 mm step, 25.4 mm facing cutter: over the limit (wanted: 2.5)")
    print("and with width engaged, angles, rate and power of every move, in times of that (wanted: 2)")
    row("cell", "limit ms", "1 thread", "2 threads", "with before", "every figure")
    for cell in (0.5, 0.25, 0.1)[:3 if fine else 2]:
        sheet, moves = Sheet(1220, 2440, cell), zigzag(1220, 2440, 10)
        one, two = sheet.cut(moves, FACING, threads=1), sheet.cut(moves, FACING, threads=2)
        kept = sheet.cut(moves, FACING, threads=2, keep_before=True)
        every = seconds(partial(asked, sheet.surface, moves, [FACING] * len(moves)), sheet.refill)
        row(f"{cell} mm, {sheet.surface.heights.size / 1e6:.0f} million", f"{sheet.limit * 1e3:.1f}",
            *(f"{t / sheet.limit:.2f}" for t in (one, two, kept)), f"{every / two:.2f}")


def against_each_other() -> None:
    print("\n600 x 400 mm face at 0.1 mm cells, 10 mm step: each kind of sweep (flat is 1)")
    row("kind", "ms", "of flat along X")
    flat = None
    rough = (np.random.default_rng(1).random((4000, 6000)) * 0.1).astype(np.float32)
    across = zigzag(400, 600, 10)
    turned = motion(np.column_stack([across.start[:, [1, 0]], across.start[:, 2]]))
    for name, cutter, tilt, top, moves in (
            ("flat along X", FACING, (0, 0), 0.0, zigzag(600, 400, 10)),
            ("flat along Y", FACING, (0, 0), 0.0, turned),
            ("flat, at 30 degrees", FACING, (0, 0), 0.0, slanting(600, 400, 10)),
            ("flat, uneven board", FACING, (0, 0), rough, zigzag(600, 400, 10)),
            ("bull", TALL, (0, 0), 0.0, zigzag(600, 400, 10)),
            ("bull along Y", TALL, (0, 0), 0.0, turned),
            ("tilted along X", FACING, (1e-3, 5e-4), 0.0, zigzag(600, 400, 10)),
            ("tilted along Y", FACING, (1e-3, 5e-4), 0.0, turned),
            ("tilted at 30 degrees", FACING, (1e-3, 5e-4), 0.0, slanting(600, 400, 10))):
        taken = Sheet(600, 400, 0.1, top).cut(moves, cutter, tilt=tilt)
        flat = flat or taken
        row(name, f"{taken * 1e3:.1f}", f"{taken / flat:.2f}")


def moves_a_second() -> None:
    print("\nHalf-millimetre moves, 0.1 mm cells, 6 mm cutters: moves a second (wanted: ball 60 000)")
    row("cutter", "1 thread", "2 threads")
    sheet, moves = Sheet(300, 300, 0.1), relief(40_000, 300)
    for cutter in (BALL, Cutter(number=1, shape="cone", diameter=6.0, angle=60.0),
                   Cutter(number=1, shape="bull", diameter=6.0, corner=Corner(radius=1.0))):
        taken = [sheet.cut(moves, cutter, times=3, threads=threads) for threads in (1, 2)]
        row(cutter.shape, *(f"{len(moves) / t:,.0f}" for t in taken))


def stamped(surface: Surface, moves: Motion, radius: float, error: float) -> None:
    """What NumPy does: a disc pressed into the map, so often along the path that its edge is right."""
    step, cell = np.sqrt(8 * radius * error), surface.cell
    reach = int(radius / cell) + 1
    ny, nx = surface.shape
    for start, end in zip(moves.start, moves.end, strict=True):
        count = max(1, int(np.ceil(np.hypot(*(end - start)[:2]) / step)))
        for x, y, z in start + (end - start) * np.linspace(0, 1, count + 1)[:, None]:
            i, j = int(x / cell), int(y / cell)
            i0, i1 = max(0, i - reach), min(nx, i + reach + 1)
            j0, j1 = max(0, j - reach), min(ny, j + reach + 1)
            if i0 < i1 and j0 < j1:
                run = surface.heights[j0:j1, i0:i1]
                dx, dy = surface.x[i0:i1] - x, surface.y[j0:j1] - y
                inside = dx[None, :] ** 2 + dy[:, None] ** 2 <= radius * radius
                run[inside] = np.minimum(run[inside], z)


def eroded(surface: Surface, moves: Motion, radius: float) -> None:
    """What an image library does: grey erosion of the tip's heights over the cells of the path."""
    cell = surface.cell
    reach = int(radius / cell)
    tip = np.full((surface.shape[0] + 2 * reach, surface.shape[1] + 2 * reach), 50.0, np.float32)
    for start, end in zip(moves.start, moves.end, strict=True):
        count = int(np.hypot(*(end - start)[:2]) / cell * 2) + 2
        at = start + (end - start) * np.linspace(0, 1, count)[:, None]
        i, j = (at[:, 0] / cell).astype(int) + reach, (at[:, 1] / cell).astype(int) + reach
        on = (i >= 0) & (i < tip.shape[1]) & (j >= 0) & (j < tip.shape[0])
        tip[j[on], i[on]] = np.minimum(tip[j[on], i[on]], at[on, 2])
    size = np.arange(-reach, reach + 1) * cell
    disc = np.hypot(*np.meshgrid(size, size)) <= radius
    out = ndimage.grey_erosion(tip, footprint=disc)[reach:-reach, reach:-reach]
    np.minimum(surface.heights, out, out=surface.heights)


def against_peers(slow: bool) -> None:
    print("\n600 x 400 mm face, 20 mm step, flat 25.4 mm, its edge right to 2e-3 mm: this and its peers")
    row("", "seconds", "ours is faster")
    cutter, moves = Cutter(number=1, shape="flat", diameter=25.4), zigzag(600, 400, 20)
    for cell in (0.5, 0.25)[:2 if slow else 1]:
        sheet = Sheet(600, 400, cell)
        ours = sheet.cut(moves, cutter)
        row(f"this project, {cell} mm cells", f"{ours:.4f}", "1")
        peers = ((f"stamping with NumPy, {cell} mm", partial(stamped, sheet.surface, moves, 12.7, 2e-3)),
                 (f"grey erosion, {cell} mm (edge a cell off)", partial(eroded, sheet.surface, moves, 12.7)))
        for name, act in peers:
            taken = seconds(act, sheet.refill, times=1)
            row(name, f"{taken:.3f}", f"{taken / ours:,.0f}")


def wavy(n: int, width: float) -> Motion:
    """n level moves of half a millimetre along lines that wave: no two that follow run the same way."""
    moves = relief(n, width)
    for points in (moves.start, moves.end):
        points[:, 1] += 0.2 * np.sin(points[:, 0] * 1.3)
        points[:, 2] = -1.0
    return moves


def united(moves: Motion, radius: float) -> float:
    """The area that the moves cover: each one's outline, all of them joined at once."""
    lines = shapely.linestrings(np.stack((moves.start[:, :2], moves.end[:, :2]), axis=1))
    return shapely.union_all(shapely.buffer(lines, radius, quad_segs=32)).area


def widened(moves: Motion, radius: float) -> float:
    """The same from the path as one line, a hundred moves at a time."""
    points = np.concatenate((moves.start[:, :2], moves.end[-1:, :2]))
    lines = [shapely.LineString(points[k:k + 101]) for k in range(0, len(moves), 100)]
    return shapely.union_all(shapely.buffer(lines, radius, quad_segs=32)).area


def carved(moves: Motion, radius: float) -> float:
    """What is left of a block: the hull of the cutter at both ends of each move, all taken off at once."""
    disc = manifold3d.Manifold.cylinder(30, radius, radius, 64)
    bodies = [manifold3d.Manifold.batch_hull([disc.translate(tuple(a)), disc.translate(tuple(b))])
              for a, b in zip(moves.start, moves.end, strict=True)]
    stock = manifold3d.Manifold.cube((300, 300, 10)).translate((0, 0, -10))
    return manifold3d.Manifold.batch_boolean([stock, *bodies], manifold3d.OpType.Subtract).volume()


def within(limit: float, act: Callable[[], object]) -> str:
    """Seconds of an act in a process of its own, or that it did not end in time."""
    def told(end) -> None:
        end.send(seconds(act, times=1))

    fork = multiprocessing.get_context("fork")
    here, there = fork.Pipe()
    child = fork.Process(target=told, args=(there,))
    child.start()
    ended = here.poll(limit)
    taken = f"{here.recv():.3f}" if ended else f"over {limit:.0f}"
    child.kill()
    child.join()
    return taken


def against_geometry(slow: bool) -> None:
    limit = 1200.0 if slow else 120.0
    print("\nShort level moves of a flat 6 mm cutter, no two in line, on 300 x 300 mm, seconds; what did not")
    print(f"end within {limit:.0f} s is stopped. A union knows no heights, a boolean no moves: neither tells")
    print("what each move took off, or which one cut a place last.")
    row("moves", "0.25 mm cells", "0.1 mm cells", "union", "path widened", "mesh booleans")
    cutter, ended = Cutter(number=1, shape="flat", diameter=6.0), True
    for n in (100, 1000, 10_000, 100_000):
        moves = wavy(n, 300)
        ours = [f"{Sheet(300, 300, cell).cut(moves, cutter, times=3):.4f}" for cell in (0.25, 0.1)]
        union, path = (within(limit, partial(act, moves, 3.0)) for act in (united, widened))
        mesh = within(limit, partial(carved, moves, 3.0)) if ended else "not run"
        ended = ended and not mesh.startswith("over")
        row(f"{n:,}", *ours, union, path, mesh)


def growth(fine: bool) -> None:
    """Time against cells, moves and threads, as a table and as a picture."""
    print("\nGrowth: ms against cells (facing 600 x 400), moves (ball relief), threads (facing, 0.1 mm)")
    cells, moves, threads = {}, {}, {}
    for cell in (4.0, 2.0, 1.0, 0.5, 0.25, 0.1, 0.05)[:7 if fine else 6]:
        sheet = Sheet(600, 400, cell)
        cells[sheet.surface.heights.size] = taken = sheet.cut(zigzag(600, 400, 10), FACING)
        size = sheet.surface.heights.size
        row(f"{size / 1e6:8.2f} million cells", f"{taken * 1e3:.2f}", f"{taken / size * 1e9:.2f} ns/cell")
    for n in (100, 1000, 10_000, 100_000, 1_000_000)[:5 if fine else 4]:
        sheet = Sheet(300, 1200 if n > 100_000 else 150, 0.1)
        moves[n] = taken = sheet.cut(relief(n, 300), BALL, times=1 if n > 100_000 else 3)
        row(f"{n:9,} moves", f"{taken * 1e3:.2f}", f"{taken / n * 1e6:.1f} µs/move")
    sheet = Sheet(600, 400, 0.1)
    for count in (1, 2, 4):
        threads[count] = sheet.cut(zigzag(600, 400, 10), FACING, threads=count)
        row(f"{count} threads", f"{threads[count] * 1e3:.2f}")
    draw(Path(__file__).with_name("growth.svg"), {"cells": cells, "moves": moves, "threads": threads})


def main() -> None:
    fine, slow = "--fine" in sys.argv, "--slow" in sys.argv
    tables = {"memory": partial(against_memory, fine), "kinds": against_each_other, "rate": moves_a_second,
              "peers": partial(against_peers, slow), "geometry": partial(against_geometry, slow),
              "growth": partial(growth, fine)}
    wanted = [name for name in sys.argv[1:] if not name.startswith("--")] or list(tables)
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else "")
    for name in wanted:
        tables[name]()


if __name__ == "__main__":
    main()
