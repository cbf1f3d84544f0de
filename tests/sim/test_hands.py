"""Stops at which hands are near: spindle, distance and height, by hand-worked distances.

100 mm is common practice, no published source.
"""

from __future__ import annotations

import pytest
from proveout.parser.finding import Severity
from proveout.parser.reading import Unchecked

CLAMPS = """
[[clamps]]
name = "left"
x = [-40, 10]
y = [40, 60]
above = 22
[[fasteners]]
name = "screws"
screw = "ISO 7380-1 M6"
seat = -8
recess = { diameter = 13, depth = 8 }
at = [[180, 50]]
"""
STOP, CAUTION = Severity.STOP, Severity.CAUTION
REMOVE = 'changes = [{ at_stop = 1, remove = ["left"] }]'


@pytest.fixture
def stopped(found):
    """stop-hands at one stop: what is said before it, and where the cutter (25 mm wide) stands."""
    def of(before: str, *, x: float = 150, z: float = 60, changes: str = REMOVE, **job: str):
        lines = f"G0 Z60\nG0 X{x} Y50\nG0 Z{z}\n{before}M0\n"
        return found("stop-hands", lines, more=CLAMPS, stage=changes, **job)
    return of


@pytest.mark.parametrize(("before", "count"), [("M5\n", 0), ("", 1), ("M5\nM3\n", 1)])
def test_the_spindle_is_off_or_not(stopped, before, count):
    said = stopped(before)
    assert [f.severity for f in said] == [STOP] * count
    for each in said:
        assert each.line == 7 + before.count("\n")
        assert "The spindle turns while left is taken off" in each.message()
        assert f"M5 and a dwell (G4) before line {each.line}" in each.advice()


@pytest.mark.parametrize(("x", "z", "distance"), [
    (122.5, 22, None), (122.4, 22, 99.9), (60, 122, None), (0, 121.9, 99.9), (70, 102, 93.04)])
def test_how_near_the_cutter_stands(stopped, x, z, distance):
    """The clamp ends at X10 and Z22, the cutter's rim is 12.5 from its axis: hypot(47.5, 80) is 93.04."""
    said = stopped("M5\n", x=x, z=z)
    assert [f.severity for f in said] == ([] if distance is None else [CAUTION])
    assert all(f.value == pytest.approx(distance, abs=0.01) and f.about == "left" for f in said)


@pytest.mark.parametrize(("z", "count"), [(22, 0), (21.9, 1)])
def test_the_tip_below_the_clamps_top(stopped, z, count):
    said = stopped("M5\n", z=z)
    assert len(said) == count
    assert all("lower than its top" in f.message() for f in said)


def test_the_nose_is_wider_than_the_cutter(stopped):
    """30 over the tip, 90 wide: 150 - 45 - 10 is 95 aside at Z22, and out of reach 31.3 higher."""
    cutters = """
[[cutters]]
number = 1
shape = "facing"
diameter = 25
stickout = 0.5
edges = 2
"""
    nose = "nose = [ { diameter = 90, length = 60 } ]"
    (said,) = stopped("M5\n", z=22, machine=nose, cutters=cutters)
    assert said.value == pytest.approx(95, abs=0.01)
    assert stopped("M5\n", z=22, cutters=cutters) == []


@pytest.mark.parametrize("change", ['remove = ["left"]', 'unfit = ["screws"]', "cutter = 2"])
def test_whatever_is_moved(stopped, change):
    said = stopped("", x=80, z=130, changes=f"changes = [{{ at_stop = 1, {change} }}]")
    assert [f.severity for f in said] == [STOP]


def test_a_new_zero_moves_nothing(stopped):
    assert stopped("", changes="changes = [{ at_stop = 1, zero = [0, 0, 0] }]") == []


def test_a_clamp_that_is_put_on(stopped):
    changes = "clamps = []\nchanges = [{ at_stop = 1, add = [\"left\"] }]"
    (said,) = stopped("M5\n", x=60, z=30, changes=changes)
    assert "while it is put on" in said.message()


def test_by_hand_the_spindle_is_unchecked(judged):
    stage, machine = REMOVE + "\nrpm = 12500", 'spindle_by = "hand"'
    result = judged("G0 Z60\nM0\n", more=CLAMPS, stage=stage, machine=machine)
    assert Unchecked("spindle off at stops", "it is switched by hand") in result.unchecked


def test_a_place_that_is_not_known_is_unchecked(judged):
    result = judged("M5\nM0\n", more=CLAMPS, stage=REMOVE, start="")
    assert any(u.what == "cutter and hands at stops" for u in result.unchecked)
