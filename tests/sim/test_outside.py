"""Cuts outside face and holes, by hand-worked distances."""

from __future__ import annotations

import pytest
from proveout.parser.finding import Severity

FACE = "face = { x = [0, 100], y = [0, 100], z = -0.4 }"
HOLES = "holes = { at = [[50, 50]], diameter = 6.6, depth = 5 }\nfitted = []"
MILL = "T3 M6\nG43 H3\nG0 Z20\n"


def passed(x: float, z: float = -0.4) -> str:
    return f"G0 X-20 Y50\nG0 Z{z}\nG1 X{x} F2000\n"


@pytest.mark.parametrize(("x", "count"), [(101, 0), (103, 1)])
def test_a_pass_may_run_out_by_the_radius_and_a_millimetre(found, x, count):
    """Face to X100, cutter of 25: its rim may reach X113.5, so its axis X101; cells are 1 mm wide."""
    said = found("cut-outside", passed(x), stage=FACE)
    assert len(said) == count
    for each in said:
        assert (each.severity, each.line, each.about) == (Severity.CAUTION, 6, "facing cutter")
        assert each.value == pytest.approx(0.4)


@pytest.mark.parametrize(("z", "count"), [(-0.1, 0), (-0.11, 1)])
def test_a_scratch_is_no_cut(found, z, count):
    assert len(found("cut-outside", passed(200, z), stage=FACE)) == count


def test_each_cutter_is_told_with_its_own_run_out(judged):
    lines = passed(101) + "G0 Z20\n" + MILL + "S12500 M3\nG0 X111 Y80\nG0 Z2\nG1 Z-0.4 F300\nG1 Y90 F2000\n"
    said = [f for f in judged(lines, stage=FACE).findings if f.kind == "cut-outside"]
    assert [f.about for f in said] == ["mill 6"]
    assert said[0].numbers["area"] == pytest.approx(6 * 10 + 28, rel=0.2)


def test_holes_wanted_or_drilled_by_mistake_are_holes(found):
    drill = "T2 M6\nG43 H2\nG0 Z20\nS4000 M3\n"
    there = "G0 X50 Y50\nG0 Z2\nG1 Z-8 F600\nG0 Z20\n"
    other = "G0 X80 Y50\nG0 Z2\nG1 Z-8 F600\nG0 Z20\n"
    assert found("cut-outside", drill + there + other, stage=HOLES) == []


def test_a_drill_dragged_through_the_board(found):
    lines = "T2 M6\nG43 H2\nG0 Z20\nS4000 M3\nG0 X50 Y50\nG0 Z2\nG1 Z-8 F600\nG0 Z-1\nG1 X80 F600\n"
    assert [f.line for f in found("cut-outside", lines, stage=HOLES)] == [12]


def test_without_face_and_holes_nothing_is_outside(found):
    assert found("cut-outside", passed(150, -2)) == []


def test_what_an_earlier_stage_cut_is_not_this_ones(found):
    said = found("cut-outside", passed(150), then=FACE)
    assert said == []


PARTS = """
parts = [
  {{ name = "left", x = [0, 100], y = [0, 100] }},
  {{ name = "right", x = [{gap}, 200], y = [0, 100] }},
]
"""


@pytest.mark.parametrize(("x", "severities"), [(101, []), (130, [Severity.STOP])])
def test_another_part_than_the_faces_is_a_stop(found, x, severities):
    """The other part begins at X120; the rim of the cutter reaches X113.5 and X142.5."""
    said = found("cut-outside", passed(x), stage=FACE, board=PARTS.format(gap=120), outline="")
    assert [f.severity for f in said] == severities
