"""A step of the window on a full sheet: processor time of going there and of drawing it, in software.

    python tests/bench/window_steps.py [CELL]

1220 x 2440 mm, 200 screws, 489 passes of which every tenth lies higher (5393 moves), cells of 0.25 mm
unless said otherwise. Off-screen rendering in memory where there is no screen: run it under xvfb-run to see a
real window's. Wanted: under 0.5 s a step.
"""

from __future__ import annotations

import os
import resource
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from time import perf_counter, process_time

import numpy as np
from bench_jobs import MACHINE, SHEET, program

if not os.environ.get("DISPLAY"):
    os.environ.setdefault("VTK_DEFAULT_OPENGL_WINDOW", "vtkOSOpenGLRenderWindow")


def passes() -> np.ndarray:
    """(n, 3) a zigzag of 5 mm, each pass in ten pieces; every tenth pass lies 0.05 mm high."""
    rows = np.arange(0, 2450, 5.0)
    xs = np.linspace(-20, 1240, 11)
    points = [(x, y, -0.4 + 0.05 * (k % 10 == 9)) for k, y in enumerate(rows)
              for x in (xs if k % 2 == 0 else xs[::-1])]
    return np.array(points)


def measured(what: str, act: Callable[[], None], times: int = 3) -> None:
    for n in range(times):
        wall, cpu = perf_counter(), process_time()
        act()
        print(f"    {what if n == 0 else '':34}{process_time() - cpu:7.2f} s of processor, "
              f"{perf_counter() - wall:6.2f} s by the clock", flush=True)


def main() -> None:
    import pyvista as pv
    from proveout.parser.jobfile import read_job
    from proveout.sim.verify import verify
    from proveout.viewer.window import SIZE, Window

    cell = float(sys.argv[1]) if len(sys.argv) > 1 else 0.25
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "job.toml").write_text(MACHINE + SHEET.format(cell=cell))
        (Path(folder) / "part.nc").write_text(program(passes(), 4000))
        result = verify(read_job(Path(folder) / "job.toml"))
    plotter = pv.Plotter(off_screen=not os.environ.get("DISPLAY"), window_size=list(SIZE))
    wall, cpu = perf_counter(), process_time()
    window = Window(result, plotter)
    plotter.show(auto_close=False, interactive=False, interactive_update=True)
    player = window.player
    moves = len(player.timeline)
    print(f"cells of {cell} mm, {result.surface.heights.size / 1e6:.0f} million; {moves} moves; "
          f"load {os.getloadavg()[0]:.1f}\n    opening it {process_time() - cpu:.1f} s of processor, "
          f"{perf_counter() - wall:.1f} s by the clock")

    def scrub(part: float) -> None:
        window._slid(player.timeline.seconds * part)

    measured("only drawn again", plotter.render)
    scrub(0.5)
    measured("a move on", lambda: window.key("Right"))
    measured("a move back", lambda: window.key("Left"))
    measured("a line on", lambda: window.key("Down"))
    for n, part in enumerate((0.1, 0.9, 0.3, 0.6, 0.2)):
        measured(f"scrub {n + 1}, to {part:.0%}", lambda part=part: scrub(part), 1)
    at = [0.2]

    def on() -> None:
        at[0] += 0.002
        scrub(at[0])

    def back() -> None:
        at[0] -= 0.002
        scrub(at[0])

    measured("scrubbed on a little", on)
    measured("scrubbed back a little", back)
    measured("another colouring", lambda: window.key("c"), 4)
    measured("heights stretched", lambda: window.key("plus"))
    print(f"    at most {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6:.2f} GB")


if __name__ == "__main__":
    main()
