"""Touch-offs, missing and doubtful; what is doubtful is common practice, no published source."""

from __future__ import annotations

import pytest
from proveout.parser.finding import Severity
from proveout.parser.reading import Unchecked

TWO = "T2 M6\n{first}G0 Z20\nS4000 M3\nG0 X30 Y50\nG0 Z2\nG1 Z-5 F600\nG0 Z20\n"
CHANGE = TWO + "T3 M6\n{second}G0 Z20\nS12500 M3\nG0 X60 Y50\nG0 Z2\nG1 Z-1 F300\n"


@pytest.mark.parametrize(("second", "stage", "count"), [
    ("", "", 1), ("G43 H3\n", "", 0), ("G43 H0\n", "", 1), ("", "touch = [ { cutter = 3 } ]", 0),
    ("", "touch = [ { cutter = 2 } ]", 1)])
def test_the_second_cutter_needs_a_touch_off_or_an_offset(found, second, stage, count):
    said = found("touch-missing", CHANGE.format(first="", second=second), stage=stage)
    assert len(said) == count
    for each in said:
        assert (each.severity, each.about) == (Severity.CAUTION, "mill 6")
        assert f"G43 H3 before line {each.line}" in each.advice()
        assert "(cutter 3)" in each.advice()


def test_the_first_that_is_loaded_is_the_one_z_was_zeroed_with(found):
    assert found("touch-missing", TWO.format(first="")) == []


def test_one_that_cut_before_the_first_change_was_zeroed_with(found):
    (said,) = found("touch-missing", "G0 X-20 Y50\nG0 Z-0.4\nG1 X50 F2000\nG0 Z20\n" + TWO.format(first=""))
    assert said.about == "drill 6.6"


def test_a_new_zero_where_it_is_changed_by_hand_is_enough(found):
    lines = "G0 X-20 Y50\nG0 Z-0.4\nG1 X50 F2000\nG0 Z40\nM5\nM0\nS9000 M3\nG0 Z20\nG0 X90\nG1 Z-1 F300\n"
    by_hand = "changes = [ {{ at_stop = 1, cutter = 3{} }} ]"
    assert len(found("touch-missing", lines, stage=by_hand.format(""))) == 1
    assert found("touch-missing", lines, stage=by_hand.format(", zero = [0, 0, 0]")) == []
    assert found("touch-missing", lines, stage=by_hand.format(", touch = { cutter = 3 }")) == []


SCREWS = """
[[fasteners]]
name = "screws"
screw = "ISO 7380-1 M6"
seat = -6
recess = { diameter = 13, depth = 6 }
at = [[100, 50]]
"""


def touch(cutter: int, x: float, y: float, on: str = "board") -> str:
    return f'fitted = []\ntouch = [ {{ cutter = {cutter}, on = "{on}", at = [{x}, {y}] }} ]'


@pytest.mark.parametrize(("cutter", "x", "where"), [
    (2, 100, "in a hole"), (2, 50, None), (1, 100, None), (3, 100, "in a hole"),
    (1, -40, "beside the board")])
def test_where_z_is_touched(found, cutter, x, where):
    """A recess of 13 at X100: a drill and a mill of 6 go into it, a facing cutter of 25 does not."""
    said = found("touch-doubt", "G0 Z25\n", more=SCREWS, stage=touch(cutter, x, 50))
    assert [f.numbers["where"] for f in said] == ([] if where is None else [where])
    assert all((f.severity, f.line, f.limit) == (Severity.CAUTION, 0, 0) for f in said)


@pytest.mark.parametrize(("deep", "count"), [(0.1, 0), (0.11, 1)])
def test_a_groove_of_an_earlier_stage_is_a_low_place(found, deep, count):
    lines = f"G0 X-20 Y50\nG0 Z-{deep}\nG1 X220 F2000\n"
    said = found("touch-doubt", lines, then=touch(3, 60, 50))
    assert [f.numbers["where"] for f in said] == ["on a low place"] * count
    assert all(f.value == pytest.approx(-deep) for f in said)


def test_something_that_only_the_core_stands_on(found):
    """All about X100 Y50 but an island of 10 mm is cut 1 mm deep; the core is 14 wide."""
    core = '[[cutters]]\nnumber = 1\nname = "facing"\nshape = "facing"\ndiameter = 25\ncore = 14\nedges = 2\n'
    mill = '[[cutters]]\nnumber = 2\nshape = "flat"\ndiameter = 20\nedges = 2\n'
    lines = "T2 M6\nG43 H2\nG0 Z20\nS9000 M3\nG0 X115 Y50\nG0 Z-1\nG2 X115 Y50 I-15 J0 F2000\nG0 Z20\n"
    high = "\nzero = [0, 0, 40]"
    (said,) = found("touch-doubt", lines, cutters=core + mill, then=touch(1, 100, 50) + high)
    assert "under its core" in said.message()
    assert found("touch-doubt", lines, cutters=core + mill, then=touch(1, 40, 50) + high) == []


def test_the_bed_is_no_board_and_a_touch_without_a_place_is_unchecked(judged):
    result = judged("G0 Z25\n", more=SCREWS, stage=touch(2, 100, 50, on="bed"))
    assert "touch-doubt" not in {f.kind for f in result.findings}
    result = judged("G0 Z25\n", stage="touch = [ { cutter = 2 } ]")
    assert Unchecked("where Z is touched", "the touch of drill 6.6 has no place (at)") in result.unchecked
