"""How long exact coverage takes: the passes, what they leave, its pieces; the same by buffers and unions.

Run: .venv/bin/python tests/bench/bench_plan.py
"""

from __future__ import annotations

from time import perf_counter

import numpy as np
import shapely
from proveout.parser.job import Cutter
from proveout.parser.motion import MotionBuilder, Move
from proveout.sim.chains import passes_below
from proveout.sim.coverage import uncovered
from proveout.sim.leftovers import leftovers

BOARD = shapely.box(0, 0, 600, 400)


def motion_of(points):
    builder = MotionBuilder()
    for line, (start, end) in enumerate(zip(points[:-1].tolist(), points[1:].tolist(), strict=True), 1):
        builder.move(Move.FEED, line, start, end, feed=2000)
    return builder.motion()


def spiral(step, count):
    turn = np.sqrt(np.linspace(0, 1, count + 1)) * 365 / step * 2 * np.pi
    radius = step * turn / (2 * np.pi)
    x, y = 300 + radius * np.cos(turn), 200 + radius * np.sin(turn)
    return np.column_stack((x, y, np.full(count + 1, -0.4)))


def raster(step, count, wave=0.0):
    rows = np.arange(0, 400 + step, step)
    x = np.linspace(-20, 620, max(2, count // len(rows)))
    ends = [x if number % 2 == 0 else x[::-1] for number in range(len(rows))]
    points = np.concatenate([np.column_stack((e, np.full(len(x), y), np.full(len(x), -0.4)))
                             for e, y in zip(ends, rows, strict=True)])
    points[:, 1] += wave * np.sin(points[:, 0] / 15)
    return points


def by_shapely(points, radius):
    """The same with one buffer for each move, as exact as ours (2500 chords a turn), and their union."""
    pairs = np.stack((points[:-1, :2], points[1:, :2]), axis=1)
    swept = shapely.buffer(shapely.linestrings(pairs), radius, quad_segs=625)
    return BOARD.difference(shapely.union_all(swept))


def timed(work):
    began = perf_counter()
    result = work()
    return perf_counter() - began, result


def main():
    heads = ("moves", "passes s", "left s", "pieces s", "left mm²", "shapely s")
    print(f"{'path':32}" + "".join(f"{head:>11}" for head in heads))
    cutter = Cutter(number=1, shape="flat", diameter=25.4)
    paths = (("raster", raster(20, 100)), ("raster of whole passes", raster(20, 40)),
             ("raster, strips of 0.05", raster(25.45, 40)), ("spiral, step 20", spiral(20, 1000)),
             ("raster in short moves", raster(20, 100_000)), ("wavy raster", raster(20, 100_000, 3)),
             ("spiral, step 20", spiral(20, 100_000)),
             ("spiral, strip of 0.05 all along", spiral(25.45, 100_000)))
    for name, points in paths:
        motion = motion_of(points)
        every = np.empty(len(motion), object)
        every[:] = cutter
        first, passes = timed(lambda m=motion, e=every: passes_below(m, e, -0.35))
        second, left = timed(lambda p=passes: uncovered(BOARD, p))
        third, pieces = timed(lambda region=left, p=passes: leftovers(region, BOARD.boundary, p))
        peer = timed(lambda p=points: by_shapely(p, 12.7))[0] if len(motion) <= 1000 else float("nan")
        area = sum(piece.area for piece in pieces)
        figures = "".join(f"{figure:11.2f}" for figure in (first, second, third, area, peer))
        print(f"{name:32}{len(motion):11}{figures}", flush=True)


if __name__ == "__main__":
    main()
