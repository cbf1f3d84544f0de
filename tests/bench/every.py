"""Every table of README.md, one bench after the other, each with how long it took.

    python tests/bench/every.py [NAME …]

On a quiet machine with two cores all of it takes about a quarter of an hour and 5 GB. NAME: cut, accuracy,
jobs, coverage, strikes, reading, lines, loops.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from time import perf_counter

BENCHES = {
    "cut": ("bench_cut.py", "--fine"),
    "accuracy": ("accuracy_cut.py",),
    "jobs": ("bench_jobs.py", "demo", "first", "sheet", "diagonal", "fine", "carving"),
    "coverage": ("bench_plan.py",),
    "strikes": ("bench_strikes.py",),
    "reading": ("bench_read.py",),
    "lines": ("bench_lines.py",),
    "loops": ("bench_loops.py",),
}


def main() -> None:
    for name in sys.argv[1:] or BENCHES:
        file, *more = BENCHES[name]
        print(f"\n=== {name}: {file} {' '.join(more)}", flush=True)
        began = perf_counter()
        subprocess.run([sys.executable, str(Path(__file__).with_name(file)), *more], check=False)
        print(f"=== {name}: {perf_counter() - began:.0f} s", flush=True)


if __name__ == "__main__":
    main()
