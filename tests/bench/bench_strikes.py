"""Strikes at size: a million moves against a thousand heads, and how time grows with both.

Run: python tests/bench/bench_strikes.py. The bound to hold: 1 million moves against 1000 heads in under 2 s.
What a person would use instead, general-purpose: shapely's STRtree over the same paths in plan, which
knows no heights.
"""

from __future__ import annotations

import platform
import sys
from time import perf_counter, process_time

import numpy as np
import shapely
from proveout.parser.job import Cutter
from proveout.parser.motion import ArcTable, Motion, Move, State
from proveout.sim.clearance import clearances
from proveout.sim.evidence import Phase
from proveout.sim.solids import HeadSolid, Solids

CUTTERS = {shape: Cutter(number=1, shape=shape, diameter=6.0) for shape in ("flat", "ball")}
SHEET = np.array([2440.0, 1220.0])


def motion_of(start: np.ndarray, end: np.ndarray) -> Motion:
    n = len(start)
    return Motion(line=np.arange(1, n + 1, dtype=np.int32), kind=np.full(n, Move.FEED, np.uint8),
                  start=start, end=end, feed=np.full(n, 2000.0), state=np.zeros(n, np.int32),
                  arc=np.full(n, -1, np.int32),
                  cycle=np.zeros(n, bool), states=(State(cutter=1),), arcs=ArcTable())


def carving(n: int) -> Motion:
    """A 3D surface carved in raster lines over a sheet, n moves that all climb or fall a little."""
    lines = max(1, int(np.sqrt(n / 4)))
    per = n // lines
    x = np.linspace(0, SHEET[0], per + 1)
    points = np.concatenate([np.column_stack((x[::1 if k % 2 == 0 else -1], np.full(per + 1, y)))
                             for k, y in enumerate(np.linspace(0, SHEET[1], lines))])
    z = -3 + 2 * np.sin(points[:, 0] / 37) * np.cos(points[:, 1] / 23)
    points = np.column_stack((points, z))
    return motion_of(points[:-1].copy(), points[1:].copy())


def scattered(n: int, rng: np.random.Generator) -> Motion:
    """Moves of 5 mm anywhere on the sheet, in no order."""
    start = np.column_stack((rng.random((n, 2)) * SHEET, rng.uniform(-3, 3, n)))
    return motion_of(start, start + rng.normal(0, 3, (n, 3)) * (1, 1, 0.1))


def heads(n: int, top: float) -> Solids:
    columns = int(np.ceil(np.sqrt(2 * n)))
    apart = SHEET[0] / columns, 2 * SHEET[1] / columns
    at = [(30 + k % columns * apart[0], 30 + k // columns * apart[1]) for k in range(n)]
    return Solids(tuple(HeadSolid(f"s {k}", "s", k, at[k], 7.0, top, top - 4.4) for k in range(n)))


def timed(motion: Motion, solids: Solids, cutter: Cutter) -> tuple[float, float, int]:
    """Wall and processor seconds, the median of 3 each, and how many moves come near a head."""
    cutters = np.full(len(motion), cutter, object)
    phases = (Phase(0, len(motion), solids),)
    times = []
    for _ in range(3):
        start = perf_counter(), process_time()
        found = clearances(motion, cutters, phases)
        times.append((perf_counter() - start[0], process_time() - start[1]))
    wall, spent = np.median(times, axis=0).tolist()
    return wall, spent, len(found.contacts)


def peer(motion: Motion, solids: Solids) -> float:
    """Distances in plan only, with a tree over the moves as lines."""
    start = perf_counter()
    tree = shapely.STRtree(shapely.linestrings(np.stack((motion.start[:, :2], motion.end[:, :2]), axis=1)))
    tree.query_nearest(shapely.points([h.at for h in solids.heads]))
    return perf_counter() - start


def main() -> None:
    rng = np.random.default_rng(1)
    machine = platform.processor() or platform.machine()
    print(f"{machine}, Python {sys.version.split()[0]}, one thread, median of 3\n")
    print("| moves | program | cutter | heads | their tops | s | processor s | contacts | peer in plan, s |")
    print("|---|---|---|---|---|---|---|---|---|")
    for n in (10_000, 100_000, 1_000_000):
        programs = {"carving": carving(n), "scattered": scattered(n, rng)}
        for count in (10, 100, 1000):
            for name, motion in programs.items():
                many = count == 1000
                rows = [(c, top) for c in CUTTERS for top in (-8.0, -5.5)] if many else [("flat", -8.0)]
                for cutter, top in rows:
                    solids = heads(count, top)
                    wall, spent, contacts = timed(motion, solids, CUTTERS[cutter])
                    print(f"| {len(motion)} | {name} | {cutter} | {count} | {top} | {wall:.3f} | {spent:.3f} "
                          f"| {contacts} | {peer(motion, solids):.3f} |", flush=True)


if __name__ == "__main__":
    main()
