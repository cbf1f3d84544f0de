"""First ways and low rapids: each with a case that just has it not, heights worked by hand."""

from __future__ import annotations

import pytest
from proveout.parser.finding import Severity

SETUP = "G21 G90 G17 G94 G54\nS12500 M3\n"
CLAMP = """
[[clamps]]
name = "left"
x = [-40, 25]
y = [40, 60]
above = 22
"""
HEAD = """
[[fasteners]]
name = "screws"
head = { diameter = 14, height = 4.4 }
seat = 0
at = [[100, 50]]
"""


@pytest.fixture
def begun(found):
    """start-low of a program that starts from a place (or an unknown one)."""
    def of(lines: str, start: str | None = None, more: str = ""):
        place = "" if start is None else f"start = {start}"
        job = {"more": more, "start": place}
        return found("start-low", lines, begin=SETUP, **job)
    return of


def test_sideways_before_z_was_ever_commanded(begun):
    (said,) = begun("G0 X-20 Y50\nG0 Z5\n")
    assert (said.severity, said.line, said.value, said.limit) == (Severity.STOP, 3, None, 0)
    assert "before Z was ever commanded: the board stands in its way" in said.message()
    assert "Z 5 mm or higher" in said.advice()
    assert begun("G0 Z5\nG0 X-20 Y50\n") == []


def test_all_axes_in_one_first_move_from_nowhere(begun):
    assert len(begun("G0 X-20 Y50 Z5\n")) == 1


@pytest.mark.parametrize(("z", "count"), [(22, 0), (21.9, 1)])
def test_above_every_clamp_where_x_and_y_are_not_known(begun, z, count):
    said = begun(f"G0 Z{z}\nG0 X150 Y50\n", more=CLAMP)
    assert [f.about for f in said] == ["the clamp left"] * count
    assert all(f.limit == 22 and f.value == z for f in said)


@pytest.mark.parametrize(("y", "z", "count"), [(50, 10, 1), (90, 10, 0), (50, 22.5, 0)])
def test_above_what_is_in_the_way_where_the_start_is_known(begun, y, z, count):
    """From the left of the clamp to its right: past it at Y90, over it at Z22.5."""
    said = begun(f"G0 X150 Y{y}\n", start=f"[-60, {y}, {z}]", more=CLAMP)
    assert len(said) == count


@pytest.mark.parametrize(("z", "count"), [(4.39, 1), (4.41, 0)])
def test_above_a_head_that_stands_proud(begun, z, count):
    assert len(begun("G0 X150 Y50\n", start=f"[10, 50, {z}]", more=HEAD)) == count


def test_below_the_boards_top_beside_it(begun):
    assert begun("G0 X-50 Y90\n", start="[-50, 0, -5]") == []
    assert len(begun("G0 X50 Y50\n", start="[-50, 0, -5]")) == 1


def test_a_cut_that_starts_where_the_cutter_is_known_to_be(begun):
    assert begun("G1 X220 Y50 F2000\n", start="[-20, 50, -0.4]") == []


def test_a_lift_to_a_place_that_the_machine_knows_is_unchecked(judged):
    result = judged("G53 G0 Z0\nG0 X-20 Y50\n", begin=SETUP, start="")
    assert "start-low" not in {f.kind for f in result.findings}
    assert "height of the first way sideways" in {u.what for u in result.unchecked}


@pytest.mark.parametrize(("z", "gaps"), [(0.99, [0.99]), (1.0, []), (0.0, [0.0])])
def test_a_rapid_low_over_the_board(found, z, gaps):
    said = found("rapid-near", f"G0 X-20 Y50\nG0 Z{z}\nG0 X220\n")
    assert [f.value for f in said] == pytest.approx(gaps, abs=1e-6)
    assert all((f.severity, f.line, f.about) == (Severity.NOTE, 6, "the board") for f in said)
    assert all(f.advice() == "Raise it to Z 1 mm (as the control shows it)." for f in said)


def test_a_rapid_low_beside_the_board(found):
    assert found("rapid-near", "G0 X-20 Y50\nG0 Z0.5\nG0 Y90\n") == []


def test_over_what_was_cut_already_the_gap_is_to_the_floor(found):
    """A pass to Z-2, then back over it at Z-0.5: 1.5 over the floor, but only 0.5 under its sides."""
    cut = "G0 X-20 Y50\nG0 Z-2\nG1 X220 F2000\n"
    assert found("rapid-near", cut + "G0 Z-0.9\nG0 X-20\n") == []
    (said,) = found("rapid-near", cut + "G0 Z-1.1\nG0 X-20\n")
    assert said.value == pytest.approx(0.9, abs=1e-6)


def test_a_rapid_that_touches_is_no_near_one(judged):
    kinds = {f.kind for f in judged("G0 X-20 Y50\nG0 Z-0.5\nG0 X220\n").findings}
    assert "rapid-cut" in kinds
    assert "rapid-near" not in kinds


@pytest.mark.parametrize(("z", "gaps"), [(26.9, [4.9]), (27, [])])
def test_a_rapid_low_over_a_clamp(found, z, gaps):
    said = found("rapid-near", f"G0 Z40\nG0 X-60 Y50\nG0 Z{z}\nG0 X220\n", more=CLAMP)
    assert [f.value for f in said] == pytest.approx(gaps)
    assert all(f.about == "the clamp left" for f in said)
