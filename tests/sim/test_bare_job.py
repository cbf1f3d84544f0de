"""A program and a cutter with no job file: the board is what the program sweeps.

The law: where the board ends is then nobody's word, so nothing is said about what happens there.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from proveout.parser.jobfile import job_from_program
from proveout.sim.verify import verify

FACING = """G21 G90 G17 G94 G54
S12500 M3
G0 Z10
G0 X0 Y0
G1 Z-0.4 F500
G1 X200 F2000
Y20
X0
G0 Z10
M5
M30
"""


def checked(folder, program: str, cutter: str = "facing 25.4"):
    (folder / "face.nc").write_text(program)
    return verify(job_from_program(folder / "face.nc", cutter))


def test_a_plain_facing_is_cut_and_its_own_border_is_not_judged(tmp_path):
    """The swept rectangle of a 25.4 mm cutter along 200 x 20: 225.4 x 45.4, less the rounded corners
    4 (1 - π/4) r²."""
    result = checked(tmp_path, FACING)
    assert not [f for f in result.findings if f.severity.word == "stop"]
    assert "plunge-no-centre at the board's border" in {u.what for u in result.unchecked}
    corners = (4 - 3.141592653589793) * 12.7**2
    expected = (225.4 * 45.4 - corners) * 0.4
    assert result.stages[0].removed_volume == pytest.approx(expected, rel=2e-3)


def test_a_rapid_through_the_middle_is_found_all_the_same(tmp_path):
    """From the end of the pass a rapid goes across the board 0.4 below its top, where nothing was cut."""
    wide = FACING.replace("Y20\nX0\nG0 Z10", "G0 Z10\nG0 X0 Y100\nG1 Z-0.4 F500\nG1 X200 F2000\n"
                                             "G0 X100 Y50\nG0 Z10")
    assert "rapid-cut" in {f.kind for f in checked(tmp_path, wide).findings}


def test_a_value_that_only_the_machine_knows_is_used_where_a_person_says_it(tmp_path):
    """The depth is #500: with nothing said the cut has no place; said, it is that depth."""
    (tmp_path / "face.nc").write_text(FACING.replace("Z-0.4", "Z#500"))
    job = job_from_program(tmp_path / "face.nc", "facing 25.4")
    said = verify(replace(job, known={500: -0.7}))
    assert said.stages[0].lowest_cut == pytest.approx(-0.7, abs=1e-6)
    assert not [f for f in said.findings if f.kind == "unplaced"]
    assert [f for f in verify(job).findings if f.kind == "word-doubtful"]
