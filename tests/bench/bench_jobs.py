"""Whole checks at size, as a person runs them: how long each part takes and how much memory it needs.

    python tests/bench/bench_jobs.py [sheet] [diagonal] [fine] [carving] [demo] [first]

sheet, fine: a board of 1220 x 2440 mm with 200 screws faced at 10 mm steps, cells of 0.25 and 0.1 mm ·
diagonal: the sheet with passes at 30 degrees to X, 0.25 mm cells ·
carving: 1 million half-millimetre moves of a ball over a relief · demo: the demo's corrected job, when
everything is compiled · first: compiling everything. All but fine where none is named.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
from pathlib import Path
from time import perf_counter

import numpy as np

MACHINE = """format = 1
units = "mm"
[machine]
dialect = "standard"
rapid = 5000
spindle_power = 2.2
[bed]
top = -18.0
"""
SHEET = """[board]
material = "MDF"
x = [0, 1220]
y = [0, 2440]
thickness = 18
cell = {cell}
[[cutters]]
number = 1
shape = "facing"
diameter = 25.4
core = 14
edges = 2
[[fasteners]]
name = "screws"
screw = "ISO 7380-1 M8"
seat = -9
recess = {{ diameter = 17, depth = 9 }}
grid = {{ start = [30, 30], count = [10, 20], pitch = [125, 125] }}
[[stages]]
name = "face"
program = "part.nc"
start = [0, 0, 30]
face = {{ z = -0.4 }}
"""
RELIEF = """[board]
material = "MDF"
x = [0, 300]
y = [0, 300]
thickness = 18
[[cutters]]
number = 1
shape = "ball"
diameter = 6
edges = 2
[[fasteners]]
name = "corner screws"
head = { diameter = 10, height = 3 }
seat = -12
recess = { diameter = 14, depth = 12 }
at = [[10, 10], [290, 10], [10, 290], [290, 290]]
[[stages]]
name = "relief"
program = "part.nc"
start = [0, 0, 30]
"""
# runs a check as the command does and says when each part of it began
TIMED = """
import resource, sys, time
from contextlib import contextmanager
from proveout.viewer import checking, cli
began, parts = time.perf_counter(), {}

@contextmanager
def watching(what):
    def tell(doing, part):
        parts.setdefault(doing.split(",")[0], time.perf_counter() - began)
    yield tell
    parts["report"] = time.perf_counter() - began

checking.bar = watching
sys.argv = ["proveout", "check", "job.toml", "--json", "out.json"]
try:
    cli.main()
finally:
    parts["end"] = time.perf_counter() - began
    names, times = list(parts), list(parts.values())
    used = resource.getrusage(resource.RUSAGE_SELF)
    for name, at, until in zip(names, times, times[1:]):
        print(f"    {name:28}{until - at:8.2f} s", file=sys.stderr)
    print(f"    in all {parts['end']:.2f} s, processor {used.ru_utime + used.ru_stime:.2f} s, "
          f"at most {used.ru_maxrss / 1e6:.2f} GB", file=sys.stderr)
"""


def program(points: np.ndarray, feed: int) -> str:
    """Feed moves through points (n, 3), with what a program needs about them."""
    lines = "\n".join(f"X{x:.3f} Y{y:.3f} Z{z:.4f}" for x, y, z in points.tolist())
    x, y, z = points[0].tolist()
    return (f"%\nG21 G90 G94 G17 G40 G49 G80 G54\nT1 M6\nS12500 M3\nG0 Z10.\nG0 X{x:.3f} Y{y:.3f}\n"
            f"G1 Z{z:.4f} F800\nF{feed}\n{lines}\nG0 Z10.\nM5\nM30\n%\n")


def passes() -> np.ndarray:
    rows = np.arange(0, 2450, 10.0)
    ends = np.where(np.arange(len(rows)) % 2 == 0, -20.0, 1240.0)
    points = np.column_stack([np.column_stack([ends, 1220 - ends]).ravel(), np.repeat(rows, 2)])
    return np.column_stack([points, np.full(len(points), -0.4)])


def slanting() -> np.ndarray:
    """The same passes, turned by 30 degrees and long enough to cover the sheet."""
    rows, (c, s) = np.arange(-640, 2200, 10.0), (np.cos(np.pi / 6), np.sin(np.pi / 6))
    ends = np.where(np.arange(len(rows)) % 2 == 0, -60.0, 2360.0)
    along, across = np.column_stack([ends, 2300 - ends]).ravel(), np.repeat(rows, 2)
    return np.column_stack([along * c - across * s, along * s + across * c, np.full(len(along), -0.4)])


def relief(n: int) -> np.ndarray:
    k = np.arange(n)
    row, column = k // 600, k % 600
    x, y = np.where(row % 2 == 0, column, 599 - column) * 0.5 + 0.25, row * 300 / (n // 600)
    return np.column_stack([x, y, -4 + 3.4 * np.sin(x / 31) * np.cos(y / 23)])


def check(job: str, points: np.ndarray, feed: int) -> None:
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "job.toml").write_text(MACHINE + job)
        (Path(folder) / "part.nc").write_text(program(points, feed))
        subprocess.run([sys.executable, "-c", TIMED], cwd=folder, stdout=subprocess.DEVNULL, check=False)


def demo() -> None:
    """The wall and processor time of the commands themselves, the least of five after a first one."""
    from proveout.viewer.demo.run import write_files
    with tempfile.TemporaryDirectory() as folder:
        write_files(Path(folder))
        for command in (["check", "job.toml"], ["read", "face.nc"], ["explain", "head-strike"], ["--help"]):
            times = [timed(command, Path(folder) / "corrected") for _ in range(6)]
            wall, processor = zip(*times, strict=True)
            print(f"    {' '.join(command)}: {min(wall[1:]):.2f} s, processor {min(processor[1:]):.2f} s")


def timed(command: list[str], folder: Path) -> tuple[float, float]:
    """Wall and processor seconds of one command."""
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), perf_counter()
    subprocess.run([sys.executable, "-m", "proveout.viewer", *command], cwd=folder,
                   stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=False)
    wall, after = perf_counter() - start, resource.getrusage(resource.RUSAGE_CHILDREN)
    return wall, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def first() -> None:
    """Compiling everything, with an empty cache: the children that a first run starts."""
    from proveout.viewer.first_run import compile_side_by_side
    with tempfile.TemporaryDirectory() as cache:
        os.environ["NUMBA_CACHE_DIR"] = cache
        before, start = resource.getrusage(resource.RUSAGE_CHILDREN), perf_counter()
        compile_side_by_side()
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        del os.environ["NUMBA_CACHE_DIR"]
    spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    print(f"    {perf_counter() - start:.1f} s, processor {spent:.1f} s (wanted: 15)")


def main() -> None:
    acts = {"demo": demo, "first": first, "carving": lambda: check(RELIEF, relief(1_000_200), 2400),
            "sheet": lambda: check(SHEET.format(cell=0.25), passes(), 4000),
            "diagonal": lambda: check(SHEET.format(cell=0.25), slanting(), 4000),
            "fine": lambda: check(SHEET.format(cell=0.1), passes(), 4000)}
    for name in sys.argv[1:] or [name for name in acts if name != "fine"]:
        print(f"{name}, load {os.getloadavg()[0]:.1f}", flush=True)
        acts[name]()


if __name__ == "__main__":
    main()
