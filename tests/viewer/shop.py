"""A small job, as it stands in a shop's folder: right as it is, and ways to make it wrong."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

PROGRAM = """%
G21 G90 G17 G94 G54
S12500 M3
G0 Z20
G0 X-20 Y10
G0 Z3
G1 Z-0.4 F500
G1 X120 F2000
G0 Z20
M5
M30
%
"""
JOB = """
[machine]
dialect = "standard"
[bed]
top = -18
[board]
material = "MDF"
x = [0, 100]
y = [0, 20]
thickness = 18
cell = 1.0
[[cutters]]
number = 1
shape = "facing"
diameter = 25.4
edges = 2
max_rpm = 18000
[[stages]]
name = "face"
program = "face.nc"
start = [0, 0, 30]
"""
DEEP = PROGRAM.replace("Z-0.4", "Z-18.5")  # into the bed
BROKEN = JOB.replace("diameter = 25.4", "diameter = -25.4")


def job_in(folder: Path, job: str = JOB, program: str = PROGRAM) -> Path:
    """A job file and its program in a folder of their own."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "face.nc").write_text(program, encoding="utf-8")
    (folder / "job.toml").write_text(job, encoding="utf-8")
    return folder / "job.toml"


def proveout(*arguments: object, cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, "-m", "proveout.viewer", *map(str, arguments)],
                          capture_output=True, text=True, cwd=cwd, timeout=240)
