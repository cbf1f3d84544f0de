"""Boards that are not flat, from the job file to the findings: figures by hand calculation."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from proveout.parser.jobfile import read_job
from proveout.parser.mistakes import JobError
from proveout.parser.source import Source
from proveout.parser.survey import read_survey
from proveout.parser.units import Units
from proveout.sim.surface import Surface
from proveout.sim.verify import verify

JOB = """
[machine]
dialect = "standard"
{machine}
[board]
material = "MDF"
x = [0, 200]
y = [0, 100]
thickness = 18
{board}
[[cutters]]
number = 1
name = "facing cutter"
shape = "facing"
diameter = 25.0
edges = 2
deepest_pass = 1.0
{more}
[[stages]]
name = "face"
program = "face.nc"
zero = [0, 0, {zero}]
start = [0, 0, 30]
cutter = 1
{stage}
"""
HEAD, TAIL = "G21 G90 G17 G94 G54\nS12500 M3\nG0 Z20\n", "G0 Z20\nM5\nM30\n"
PASSES = "".join(f"G0 X-20 Y{y}\nG0 Z{{safe}}\nG1 Z-0.4 F2000\nG1 X220\nG0 Z20\n" for y in range(0, 101, 20))
FACE = "face = {{ z = {:g} }}"


@pytest.fixture
def check(tmp_path):
    """Verifies a job on a board of 200 x 100 x 18; `files` are written beside it."""
    def checked(board="", stage="", *, zero=0.0, safe=5, files=(), machine="", more="", lines=PASSES):
        for name, content in dict(files).items():
            (tmp_path / name).write_bytes(content if isinstance(content, bytes) else content.encode())
        (tmp_path / "face.nc").write_text(HEAD + lines.replace("{safe}", str(safe)) + TAIL)
        (tmp_path / "job.toml").write_text(JOB.format(board=board, stage=stage, zero=zero, machine=machine,
                                                      more=more))
        return verify(read_job(tmp_path / "job.toml"), threads=1)
    return checked


def kinds(result):
    return {f.kind: f for f in result.findings}


def why(result, what):
    return [each.why for each in result.unchecked if each.what == what]


SURVEY = 'survey = "tops.csv"\ncell = 1.0'
# a plane from -0.1 at the left to 0.3 at the right, but for the corner at the back on the right, at 0.9
TOPS = "x,y,z\n0,0,-0.1\n200,0,0.3\n200,100,0.9\n0,100,-0.1\n"


def test_the_high_corner_takes_the_depth_that_is_really_there(check):
    """Z-0.4 under a corner at 0.9 is 1.3 deep; by the written 0.4 it would be well within 1.0."""
    result = check(SURVEY, FACE.format(-0.4), files={"tops.csv": TOPS})
    deep = kinds(result)["deep-pass"]
    assert deep.value == pytest.approx(1.3, abs=0.02)
    assert deep.at[0] > 190
    assert deep.at[1] > 90
    assert "board.survey" not in {each.what for each in result.unchecked}
    assert "deep-pass" not in kinds(check("top = 0\ncell = 1.0", FACE.format(-0.4)))


def test_a_rapid_over_the_high_corner(check):
    """Z0.5 clears the board everywhere but at its high corner, where it goes 0.4 into it."""
    over = "G0 Z0.5\nG0 X-20 Y100\nG0 X220\n"
    found = kinds(check(SURVEY, files={"tops.csv": TOPS}, lines=over))["rapid-cut"]
    assert found.value == pytest.approx(0.4, abs=0.02)
    assert kinds(check("top = 0\ncell = 1.0", lines=over)).keys().isdisjoint({"rapid-cut"})


def test_low_places_are_named_with_the_depth_that_cleans_them(check):
    """Two hollows in a level board, at -0.9 and -0.7: faced at -0.4 they stay; -0.85 would clean both."""
    dips = "".join(f"{x} {y} {z}\n" for x in range(0, 201, 20) for y in range(0, 101, 20)
                   for z in [{(40, 40): -0.9, (160, 60): -0.7}.get((x, y), 0.0)])
    found = kinds(check(SURVEY, FACE.format(-0.4), files={"tops.csv": dips}))["low-spot"]
    assert found.count == 2
    assert found.value == pytest.approx(-0.9, abs=0.05)
    assert found.at[:2] == pytest.approx((40, 40), abs=1)
    assert found.numbers["clean"] == pytest.approx(-0.85, abs=0.05)
    assert "2 places, the lowest at X" in found.message()
    assert ", then X" in found.message()
    assert "Face 0.4" in found.advice()


def test_ground_that_was_not_measured_is_said(check):
    """Measured over the left half only."""
    half = "0;0;0\n100;0;0\n100;100;0,2\n0;100;0,2\n"
    result = check(SURVEY, files={"tops.csv": half})
    assert why(result, "board beyond the survey")[0].startswith("50% of the board")
    assert why(result, "bed.top")[0].startswith("not given: taken as Z -17.9")
    whole = check(SURVEY, files={"tops.csv": TOPS}, machine="[bed]\ntop = -18\n")
    assert why(whole, "board beyond the survey") == why(whole, "bed.top") == []


@pytest.mark.parametrize(("tops", "words"), [
    ("x,y,z\n0,0,0\n200,0,0\n", "3 different places; this one has 2"),
    ("0,0,0\n200,0,zero\n0,100,0\n", 'tops.csv: line 2, column 7: "zero" is no height or place'),
    ("0,0,0\n200,0\n0,100,0\n", "line 2 has 2 fields"),
    ("0,0,0\n200,0,nan\n0,100,0\n", 'line 2, column 7: "nan"'),
    ("x,y\n0,0\n", "line 1 names no column z"),
    ("0,0,0\n200,0,0\n0,100,0\n900,0,0\n", "X900 Y0 lies 700 mm from the board"),
    ("-40,0,0\n-20,0,0\n-30,100,0\n", "every measured place lies beside the board"),
    ("0,0,0\n200,0,0.1\n0,100,-21\n200,100,0\n", "Z-21 at X0 Y100 is no top of this board; a board of 18 mm"),
])
def test_a_survey_that_cannot_be_used_is_one_mistake_at_its_key(check, tops, words):
    with pytest.raises(JobError) as error:
        check(SURVEY, files={"tops.csv": tops})
    (mistake,) = error.value.mistakes
    assert mistake.key_path == "board.survey"
    assert words in str(mistake)


def test_columns_may_be_named_in_any_order_and_stand_in_inches():
    rows = [(0, 0, -0.1), (200, 0, 0.3), (200, 100, 0.9), (0, 100, -0.1)]
    text = "name,z,y,x\n" + "".join(f"p,{z / 25.4!r},{y / 25.4!r},{x / 25.4!r}\n" for x, y, z in rows)
    assert read_survey(Source("a", text.encode()), Units.INCH) == pytest.approx(np.array(rows), abs=1e-9)


def test_a_survey_an_old_thickness_and_the_bed_disagree(check):
    """The board's middle lies at Z 0.1 over a bed at -18.5: 18.6 thick, not 18."""
    result = check(SURVEY, files={"tops.csv": "0,0,0.1\n200,0,0.1\n0,100,0.1\n200,100,0.1\n"},
                   machine="[bed]\ntop = -18.5\n")
    found = kinds(result)["history-doubt"]
    assert (found.value, found.limit) == (18, pytest.approx(18.6))
    assert "history-doubt" not in kinds(check(SURVEY, files={"tops.csv": "0,0,0\n200,0,0\n0,100,0\n"},
                                              machine="[bed]\ntop = -18\n"))


SAVED = 'surface = "last.npz"'
SCREWS = """
[[fasteners]]
name = "screws"
head = { diameter = 10, height = 4 }
seat = -6
at = [[100, 50]]
recess = { diameter = 14, depth = 6 }
"""


def test_a_board_is_faced_again_from_where_it_was_left(check, tmp_path):
    """Faced at -0.4 and saved; again with Z0 on the new face: 0.4 more is taken, the head at -2 has 1.2 over
    it, with 1 to keep no facing is left; nothing lay too low, recess and all."""
    first = check("top = 0\ncell = 0.5", FACE.format(-0.4), more=SCREWS)
    assert first.budget.cover_over_heads == pytest.approx(1.6, abs=1e-6)
    assert first.budget.facings_left == 1
    first.surface.save(tmp_path / "last.npz")
    second = check(SAVED, FACE.format(-0.8), zero=-0.4, more=SCREWS)
    face = second.stages[0].face
    assert (face.highest, face.lowest) == pytest.approx((-0.8, -0.8), abs=1e-5)
    assert second.budget.depth == pytest.approx(0.4)
    assert second.budget.cover_over_heads == pytest.approx(1.2, abs=1e-5)
    assert second.budget.facings_left == 0
    assert second.surface.cell == 0.5
    assert second.stages[0].removed_volume == pytest.approx(0.4 * (20000 - np.pi * 49), rel=1e-3)
    assert {"low-spot", "over-depth", "missed-area"}.isdisjoint(kinds(second))
    assert second.surface.at(100, 50) == pytest.approx(-6)  # not carved a second time from the lower face
    assert second.job.board.top == pytest.approx(-0.4)


def test_holes_that_were_drilled_are_no_hollows_of_the_next_job(check, tmp_path):
    drill = 'T2 M6\nG43 H2\nS4000 M3\nG0 Z20\nG0 X50 Y50\nG0 Z2\nG1 Z-19 F600\nG0 Z20\n'
    more = '[[cutters]]\nnumber = 2\nshape = "drill"\ndiameter = 8\nedges = 2\n'
    holes = "holes = { at = [[50, 50]], diameter = 8, depth = 15 }"
    check("top = 0\ncell = 0.5", holes, more=more, lines=drill).surface.save(tmp_path / "last.npz")
    second = check(SAVED, FACE.format(-0.4))
    assert second.stages[0].face.area == pytest.approx(20000 - np.pi * 16, abs=1)
    assert "low-spot" not in kinds(second)


def test_wear_in_a_saved_surface_is_a_low_spot_with_its_depth(check, tmp_path):
    """A groove of 1 mm from the first job; the second faces 0.4: to clean up all takes 0.95."""
    groove = "G0 X-20 Y50\nG0 Z5\nG1 Z-1 F2000\nG1 X220\n"
    check("top = 0\ncell = 0.5", lines=groove).surface.save(tmp_path / "last.npz")
    found = kinds(check(SAVED, FACE.format(-0.4)))["low-spot"]
    assert found.value == pytest.approx(-1)
    assert found.numbers["clean"] == pytest.approx(-0.95)
    assert found.numbers["area"] == pytest.approx(200 * 25, rel=0.01)


def other_board(folder, **changes):
    size = {"x": 200.0, "y": 100.0, "cell": 0.5} | changes
    Surface.of_board(shapely.box(0, 0, size["x"], size["y"]), 0.0, size["cell"]).save(folder / "last.npz")
    return (folder / "last.npz").read_bytes()


@pytest.mark.parametrize(("changes", "board", "words"), [
    ({"x": 210.0}, SAVED, "it spans X0 to X210, Y0 to Y100; this job's board spans X0 to X200, Y0 to Y100"),
    ({}, SAVED + "\ncell = 0.25", "cells of 0.5 mm, and board.cell is 0.25 mm; give 0.5"),
    ({"x": 180.0}, SAVED, "of another board"),
])
def test_a_surface_of_another_board_is_one_mistake_at_its_key(check, tmp_path, changes, board, words):
    other_board(tmp_path, **changes)
    with pytest.raises(JobError) as error:
        check(board)
    (mistake,) = error.value.mistakes
    assert mistake.key_path == "board.surface"
    assert words in str(mistake)


def test_a_surface_of_another_outline_is_one_mistake_at_its_key(check, tmp_path):
    """Half of the board, cut off along its diagonal, within the same rectangle."""
    Surface.of_board(shapely.Polygon([(0, 0), (200, 0), (200, 100)]), 0.0, 0.5).save(tmp_path / "last.npz")
    with pytest.raises(JobError, match=r"50\.\d% of the board is not in this surface"):
        check(SAVED)


@pytest.mark.parametrize("spoil", [lambda data: data[:200], lambda data: b"not a surface",
                                   lambda data: data[:300] + b"\0" + data[301:]])
def test_a_spoilt_surface_is_one_mistake_at_its_key(check, tmp_path, spoil):
    with pytest.raises(JobError) as error:
        check(SAVED, files={"last.npz": spoil(other_board(tmp_path))})
    (mistake,) = error.value.mistakes
    assert mistake.key_path == "board.surface"
