"""What a stage's figures say when later stages go on over the same board, and what is no hole."""

from __future__ import annotations

import pytest
from proveout.parser.jobfile import read_job
from proveout.sim.verify import verify

JOB = """
format = 1
[machine]
dialect = "standard"
[bed]
top = -18
[board]
material = "MDF"
x = [0, 120]
y = [0, 80]
thickness = 18
cell = 0.5
[[cutters]]
number = 1
name = "facing cutter"
shape = "facing"
diameter = 25
edges = 2
centre_cutting = true
[[cutters]]
number = 2
name = "drill"
shape = "drill"
diameter = 6
edges = 2
[[fasteners]]
name = "screws"
head = { diameter = 14, height = 4.4 }
seat = -9.0
at = [[60, 40]]
recess = { diameter = 17, depth = 9.0 }
"""
STAGE = """
[[stages]]
name = "{name}"
program = "{name}.nc"
start = [-30, 0, 30]
cutter = {cutter}
{more}
"""
BEGIN, END = "G21 G90 G17 G94 G54\nS12500 M3\nG0 Z20\n", "G0 Z20\nM5\nM30\n"
DRILLED = BEGIN + "G0 X20 Y20\nG0 Z2\nG1 Z-17 F300\n" + END


def passes(z=-0.4):
    lines = (f"G0 X-20 Y{y}\nG0 Z3\nG1 Z{z} F500\nG1 X140 F2000\nG0 Z20\n" for y in (0, 20, 40, 60, 80))
    return BEGIN + "".join(lines) + END


def run(folder, *stages):
    """Each stage: name, cutter, program, more of its table."""
    for name, _, program, _ in stages:
        (folder / f"{name}.nc").write_text(program)
    tables = [STAGE.format(name=name, cutter=cutter, more=more) for name, cutter, _, more in stages]
    (folder / "job.toml").write_text(JOB + "".join(tables))
    return verify(read_job(folder / "job.toml"))


FACING = ("face", 1, passes(), "face = { z = -0.4 }")


def test_the_figures_of_a_face_are_of_its_own_end(tmp_path):
    result = run(tmp_path, FACING, ("drill", 2, DRILLED, "fitted = []"))
    face = result.stages[0].face
    assert (face.lowest, face.highest, face.over_area) == (-0.4, -0.4, 0)
    assert result.budget.depth == pytest.approx(0.4)


def test_the_budget_knows_the_heads_of_every_stage(tmp_path):
    """The head's top lies at -4.6, 0.4 is faced: cover 4.2, 1 to keep: 8 facings."""
    result = run(tmp_path, FACING, ("drill", 2, DRILLED, "fitted = []"))
    assert (result.budget.facings_left, result.budget.limited_by) == (8, "screws 1")
    assert result.budget.cover_over_heads == pytest.approx(4.2)


def test_facing_in_circles_lowers_the_cover(tmp_path):
    """Full turns at the face's height are facing, not holes: 0.4 less cover."""
    turns = "".join(f"G0 X{60 + r} Y40\nG0 Z3\nG1 Z-0.4 F500\nG3 X{60 + r} Y40 I{-r} J0 F2000\nG0 Z20\n"
                    for r in (10, 30, 50, 70))
    result = run(tmp_path, ("face", 1, BEGIN + turns + END, "face = { z = -0.4 }"))
    assert result.budget.cover_over_heads == pytest.approx(4.2)


def test_a_plunge_in_a_facing_lowers_the_cover(tmp_path):
    plunge = passes().replace("M5", "G0 X60 Y40\nG1 Z-2 F300\nG0 Z20\nM5")
    result = run(tmp_path, ("face", 1, plunge, "face = { z = -0.4 }"))
    assert result.budget.cover_over_heads == pytest.approx(2.6)
