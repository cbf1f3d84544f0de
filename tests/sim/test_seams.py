"""Walls beside a face and steps between parts, at the last hundredth; lengths and heights by hand."""

from __future__ import annotations

import pytest
from proveout.parser.finding import Severity

HALVES = '''parts = [
  {{ name = "front", x = [0, 200], y = [0, {}] }},
  {{ name = "back", x = [0, 200], y = [{}, 100]{} }},
]'''


def parts(front: float = 50, back: float = 50, more: str = "") -> str:
    return HALVES.format(front, back, ", " + more if more else "")


def passes(*across: float, z: float = -0.4) -> str:
    return "".join(f"G0 X-20 Y{y}\nG0 Z3\nG1 Z{z} F500\nG1 X220 F2000\nG0 Z20\n" for y in across)


def face(top: float = 50, z: float = -0.4, more: str = "") -> str:
    return f"face = {{ x = [0, 200], y = [0, {top}], z = {z} }}\n{more}"


@pytest.mark.parametrize(("z", "count"), [(-0.1, 0), (-0.11, 1), (-0.4, 1)])
def test_half_a_board_faced_leaves_a_wall(found, z, count):
    """The cutter of 25 reaches 42.5 + 12.5 = 55: behind it the board stands 200 long at Z 0."""
    said = found("wall-left", passes(10, 30, 42.5, z=z), stage=face(z=z))
    assert len(said) == count
    for each in said:
        assert each.value == pytest.approx(-z)
        assert each.severity is Severity.CAUTION
        assert each.numbers["long"] == pytest.approx(200)
        assert each.numbers["down"] == pytest.approx(z)
        assert each.at[1] == pytest.approx(55.5)
        assert each.line == 17  # the last pass


def test_a_whole_board_faced_leaves_none(found):
    assert found("wall-left", passes(*range(0, 101, 20)), stage="face = { z = -0.4 }") == []


def test_what_lies_as_low_already_is_no_wall(found):
    """The back lies 0.4 lower: faced level with it, no wall and no step."""
    lower = parts(more="top = -0.4")
    assert found("wall-left", passes(10, 30, 37.5), stage=face(), outline=lower) == []
    assert found("part-step", passes(10, 30, 37.5), stage=face(), outline=lower) == []


@pytest.mark.parametrize(("gap", "count"), [(10, 1), (12.4, 1), (12.6, 0)])
def test_a_wall_across_a_seam_counts_as_far_as_the_cutter_reaches(found, gap, count):
    """The face ends with the front at 50, the cutter's radius is 12.5."""
    said = found("wall-left", passes(10, 30, 37.5), stage=face(), outline=parts(back=50 + gap), cell="0.1")
    assert [f.about for f in said] == ["back"] * count
    assert all("on the part back" in f.message() for f in said)
    assert found("part-step", passes(10, 30, 37.5), stage=face(), outline=parts(back=50 + gap)) == []


@pytest.mark.parametrize(("top", "count"), [(-0.1, 0), (-0.11, 1), (0.11, 1), (0.1, 0)])
def test_a_new_part_beside_an_old_one(found, top, count):
    said = found("part-step", "G0 Z25\n", outline=parts(more=f"top = {top}"))
    assert len(said) == count
    for each in said:
        high, low = ("front", "back") if top < 0 else ("back", "front")
        assert each.value == pytest.approx(abs(top))
        assert each.message().startswith(f"The part {high} stands")
        assert f"Face the part {high} down by 0.11 mm" in each.advice()
        assert each.about == "front and back"
        assert f"under the part {low}" in each.advice()


def test_facing_both_by_one_depth_leaves_both_level(found):
    """Back 0.3 lower, all faced to -0.4: level. Told after the face, not before it."""
    lines = passes(*range(0, 101, 20))
    for board, count in ((parts(more="top = -0.3"), 0), (parts(more="top = -0.6"), 1)):
        assert len(found("part-step", lines, stage="face = { z = -0.4 }", outline=board)) == count


def test_parts_far_apart_are_not_side_by_side(found):
    assert found("part-step", "G0 Z25\n", outline=parts(front=30, back=55.1, more="top = -1")) == []
    assert len(found("part-step", "G0 Z25\n", outline=parts(front=30, back=55, more="top = -1"))) == 1


def test_a_recess_is_no_part_of_a_parts_height(found):
    """Most of a slat of 20 is recess: its middle height is still the board's."""
    screw = ('[[fasteners]]\nname = "s"\nhead = { diameter = 14, height = 4 }\n'
             "recess = { diameter = 16, depth = 6 }\nat = [[10, 90]]\n")
    slat = parts(front=70, back=80).replace("x = [0, 200], y = [80", "x = [0, 20], y = [80")
    assert found("part-step", "G0 Z25\n", outline=slat, more=screw) == []
