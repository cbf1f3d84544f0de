"""Walls about drilled holes, by hand-worked distances; 8 mm is common practice, no published source."""

from __future__ import annotations

import pytest
from proveout.parser.finding import Severity

RECESS = """
[[fasteners]]
name = "screws"
screw = "ISO 7380-1 M6"
seat = -6
at = [[100, 50]]
recess = { diameter = 13, depth = 6 }
"""


def drilled(*places: tuple[float, float], z: float = -8, tool: int = 2) -> str:
    return f"T{tool} M6\nG43 H{tool}\nG0 Z20\n" + "".join(
        f"G0 X{x} Y{y}\nG0 Z2\nG1 Z{z} F600\nG0 Z20\n" for x, y in places)


def wanted(*places: tuple[float, float], diameter: float = 6.6) -> str:
    return f"holes = {{ at = {[list(p) for p in places]}, diameter = {diameter}, depth = 5 }}\nfitted = []"


@pytest.mark.parametrize(("x", "walls"), [(11.29, [7.99]), (11.3, [])])
def test_the_wall_to_the_boards_edge(found, x, walls):
    """11.29 less the radius of 3.3 is 7.99."""
    said = found("hole-at-edge", drilled((x, 50)), stage=wanted((x, 50)))
    assert [f.value for f in said] == pytest.approx(walls)
    assert all((f.severity, f.limit, f.about, f.line) == (Severity.CAUTION, 8, "1", 9) for f in said)


@pytest.mark.parametrize(("apart", "about"), [(14.5, ["2"]), (14.6, [])])
def test_the_wall_between_two_holes_is_told_at_the_later_one(found, apart, about):
    """14.6 less two radii of 3.3 is 8."""
    two = (50, 50), (50 + apart, 50)
    said = found("hole-at-edge", drilled(*two), stage=wanted(*two))
    assert [f.about for f in said] == about
    assert all("7.9 mm to hole 1" in f.message() and "0.1 mm farther" in f.advice() for f in said)


def test_a_counterbore_and_its_hole_are_one(found):
    lines = drilled((50, 50)) + drilled((50, 50), z=-3, tool=3).replace("G0 X50", "G0 X50.0")
    assert found("hole-at-edge", lines, stage=wanted((50, 50))) == []


@pytest.mark.parametrize(("x", "count"), [(117.7, 1), (117.9, 0), (100, 0)])
def test_the_wall_to_a_recess(found, x, count):
    """6.5 of the recess and 3.3 of the hole leave 7.9 and 8.1; the hole in its middle is the recess' own."""
    said = found("hole-at-edge", drilled((x, 50)), stage=wanted((x, 50)), more=RECESS)
    assert len(said) == count
    assert all("a recess" in f.message() for f in said)


def test_a_hole_of_an_earlier_stage_counts(found):
    stage = wanted((50, 50))
    assert found("hole-at-edge", drilled((50, 50)), stage=stage, then=stage) == []
    near = found("hole-at-edge", drilled((50, 50)), stage=stage, then=stage + "\nzero = [10, 0, 0]")
    assert [(f.stage, round(f.value, 3)) for f in near] == [("then", 3.4)]


def test_a_hole_through_the_edge_has_no_wall(found):
    said = found("hole-at-edge", drilled((1, 50)), stage=wanted((1, 50)))
    assert said[0].value == pytest.approx(1 - 3.3)


def test_a_stage_that_wants_no_holes_has_none(found):
    assert found("hole-at-edge", drilled((5, 50))) == []
