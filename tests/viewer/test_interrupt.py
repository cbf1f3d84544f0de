"""Ctrl-C in a real process: one line, status 130, and no file that was not there before.

Threads: the same result file, byte for byte, on one core and on three.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

PROGRAM = ("%\nG21 G90 G17 G94\nG54\nG0 Z10\nM3 S12500\nG0 X-20 Y0\nG1 Z-0.4 F500\nG1 X120 F2000\nG1 Y20\n"
           "G1 X-20\nG2 X-20 Y60 I20 J20\nG3 X50 Y40 Z-1.5 I30 J0\nG0 Z10\nM5\nM30\n%\n")
JOB = """format = 1
board = { x = [0, 100], y = [0, 80], thickness = 18 }
cutters = [{ number = 1, shape = "bull", diameter = 25.4, corner = { radius = 2 } }]
stages = [{ name = "face", program = "face.nc" }]
"""
# presses Ctrl-C in its own process the moment that a given thing is told
PRESSED = """
import os, signal, sys
from contextlib import contextmanager
from proveout.viewer import checking, cli

@contextmanager
def pressing(what):
    def tell(doing, part):
        if {moment!r} in doing:
            os.kill(os.getpid(), signal.SIGINT)
    if {moment!r} in what:
        os.kill(os.getpid(), signal.SIGINT)
    yield tell

checking.bar, checking.prepare = pressing, lambda: None
sys.argv = ["proveout", "check", "job.toml", "--json", "out.json", "--save-surface", "out.npz",
            "--picture", "out.png"]
cli.main()
"""


@pytest.fixture
def folder(tmp_path) -> Path:
    (tmp_path / "job.toml").write_text(JOB)
    (tmp_path / "face.nc").write_text(PROGRAM)
    return tmp_path


@pytest.mark.parametrize("moment", ["reading", "cutting", "distances", "checking"])
def test_ctrl_c_leaves_nothing_behind_and_says_so_in_one_line(folder, moment):
    run = subprocess.run([sys.executable, "-c", PRESSED.format(moment=moment)], cwd=folder,
                         capture_output=True, text=True, timeout=120, check=False)
    assert run.returncode == 130
    assert run.stdout == ""
    assert run.stderr == ("proveout: stopped from the keyboard: no verdict, and no file was left half "
                          "written\n")
    assert sorted(path.name for path in folder.iterdir()) == ["face.nc", "job.toml"]


def test_the_result_does_not_depend_on_the_number_of_threads(folder):
    written = []
    for threads in ("1", "3"):
        subprocess.run([sys.executable, "-m", "proveout.viewer", "check", "job.toml", "--json", "out.json",
                        "--threads", threads], cwd=folder, capture_output=True, check=False)
        written.append((folder / "out.json").read_bytes())
    assert json.loads(written[0])["stages"][0]["removed_volume"] > 0
    assert written[0] == written[1]
