"""Ridges as a layer: where they lie, how high, between which two lines.

Heights are held against textbook geometry and against the simulation's own highest ridge.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from proveout.parser.jobfile import read_job
from proveout.sim.result import Result
from proveout.sim.verify import verify
from proveout.viewer.scene import scene_of

JOB = """[board]
material = "MDF"
x = [0, 60]
y = [0, 40]
thickness = 18
cell = 0.2
{machine}
[[cutters]]
number = 1
edges = 2
{cutter}
[[stages]]
name = "face"
program = "face.nc"
start = [0, 0, 20]
face = {{ z = -0.5, tolerance = 0.1, ridge = 0.2 }}
"""
BALL = 'shape = "ball"\ndiameter = 12'
FLAT = 'shape = "flat"\ndiameter = 25'


def checked(folder: Path, moves: list[str], cutter: str, machine: str = "") -> Result:
    program = ["G21 G90 G17 G94", "T1 M6", "M3 S10000", "G0 Z5", *moves, "G0 Z20", "M5", "M30"]
    (folder / "job.toml").write_text(JOB.format(cutter=cutter, machine=machine))
    (folder / "face.nc").write_text("\n".join(program) + "\n")
    return verify(read_job(folder / "job.toml"))


def rows(step: float, to: float = 40.0) -> list[str]:
    """Passes along X, one way and the other, over cells' middles; pass k is line 7 + 2k."""
    said = ["G0 X-20 Y0.1", "G1 Z-0.5 F800"]
    for k, y in enumerate(np.arange(0.1, to + 1e-9, step)):
        said += [f"G1 X{80 if k % 2 == 0 else -20} F2000", f"Y{y + step:.4f}"]
    return said


def test_a_ball_leaves_a_crest_between_two_passes(tmp_path):
    """R - sqrt(R² - (s/2)²), textbook geometry: R 6, s 2."""
    result = checked(tmp_path, rows(2.0), BALL)
    ridges = scene_of(result).ridges
    assert len(ridges.height) == 19
    assert ridges.height == pytest.approx(6 - np.sqrt(36 - 1), abs=1e-5)
    assert ridges.spacing == pytest.approx(2.0)
    assert sorted(ridges.ends[:, 0, 1]) == pytest.approx(np.arange(1.1, 39, 2), abs=1e-6)
    assert np.ptp(ridges.ends[:, :, 0], axis=1) == pytest.approx(60, abs=1)  # from edge to edge
    assert {tuple(pair) for pair in ridges.lines.tolist()} == {(7 + 2 * k, 9 + 2 * k) for k in range(19)}
    assert ridges.highest == pytest.approx(result.stages[0].face.ridge_height, abs=1e-5)


def test_a_spindle_out_of_tram_leaves_steps(tmp_path):
    """0.5 mm in 1000 across the passes, R 12.5, s 20: 0.01, textbook geometry; a flat one leaves none."""
    leaning = '[machine]\ntram = { swing = 200, y = 0.1 }'
    ridges = scene_of(checked(tmp_path, rows(20.0, 60.0), FLAT, leaning)).ridges
    assert ridges.height == pytest.approx(0.01, abs=1e-4)
    assert ridges.ends[:, 0, 1] == pytest.approx([12.6, 32.6], abs=0.2)  # R from the lower pass's middle
    assert not len(scene_of(checked(tmp_path, rows(20.0), FLAT)).ridges.height)


def test_passes_along_y_and_on_the_slant(tmp_path):
    """The same ball, its passes turned: by a quarter, and by 30 degrees."""
    for degrees in (90, 30):
        turn = np.radians(degrees)
        said = ["G0 X-60 Y-60", "G1 Z-0.5 F800"]
        for k, s in enumerate(np.arange(-60, 80, 2.0)):
            ends = [(u * np.cos(turn) - s * np.sin(turn), u * np.sin(turn) + s * np.cos(turn))
                    for u in (-90, 110)]
            said += [f"G1 X{x:.4f} Y{y:.4f} F2000" for x, y in ends[::1 if k % 2 == 0 else -1]]
        ridges = scene_of(checked(tmp_path, said, BALL)).ridges
        height = 6 - np.sqrt(36 - 1)
        assert np.median(ridges.height) == pytest.approx(height, abs=0.017)  # half a cell's slope
        assert ridges.spacing == pytest.approx(2.0, abs=1e-3)
        way = ridges.ends[:, 1] - ridges.ends[:, 0]
        long = np.hypot(*way[:, :2].T) > 10
        heading = np.degrees(np.arctan2(way[long, 1], way[long, 0])) % 180
        assert heading == pytest.approx(degrees, abs=2)


def test_rings_about_a_centre(tmp_path):
    """Full circles 2 mm apart: every piece lies half-way between two of them."""
    said = ["G0 X32 Y20", "G1 Z-0.5 F800"]
    for radius in range(2, 16, 2):
        said += [f"G1 X{30 + radius} F2000", f"G3 X{30 + radius} I-{radius} J0"]
    ridges = scene_of(checked(tmp_path, said, BALL)).ridges
    assert len(ridges.height) > 50
    apart = np.hypot(ridges.ends[..., 0] - 30, ridges.ends[..., 1] - 20)
    assert np.abs(apart % 2 - 1).max() < 0.3
    assert ridges.height.max() == pytest.approx(6 - np.sqrt(36 - 1), abs=6e-3)


def test_no_wanted_face_has_no_ridges(result):
    """The fixture's stage kept no cut: nothing is known of its passes."""
    assert not len(scene_of(result).ridges.height)
