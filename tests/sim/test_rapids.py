"""Rapids into material: what touches, and what has been swept already."""

from __future__ import annotations

from math import cos, pi, sin

import pytest
import shapely
from proveout.parser.job import Cutter
from proveout.parser.motion import MotionBuilder, Move, State
from proveout.sim.checks.rapids import rapid_cut
from proveout.sim.cut import cut_stage
from proveout.sim.paths import RapidPath
from proveout.sim.surface import Surface

FLAT = Cutter(number=1, shape="flat", diameter=10, edges=2, name="flat 10")
DRILL = Cutter(number=2, shape="drill", diameter=8, edges=2, name="drill 8")


def judge(program, cutters=(FLAT, DRILL)):
    return list(rapid_cut(program.evidence(cutters=cutters)))


def test_a_rapid_through_the_board(program):
    """2 mm deep: it would have to go 2 mm higher, at Z 0."""
    program.rapid(-20, 50, 10).rapid(-20, 50, -2).rapid(100, 50, -2)
    [found] = judge(program)
    assert (found.line, found.about) == (3, "flat 10")
    assert found.value == pytest.approx(2.0)
    assert "Z 0 mm" in found.advice()


@pytest.mark.parametrize("z", [0.0, 0.5, -0.01])
def test_at_the_surface_nothing_is_touched(program, z):
    assert judge(program.rapid(-20, 50, z).rapid(100, 50, z)) == []


def test_a_peck_returns_into_its_own_hole(program):
    """Down to -5, out, a rapid back to -4.9, on to -9: free. Another drill in that hole is not."""
    program.set(cutter=2).rapid(50, 50, 2).feed(50, 50, -5).rapid(50, 50, 2).rapid(50, 50, -4.9)
    program.feed(50, 50, -9).rapid(50, 50, 2)
    assert judge(program) == []
    [found] = judge(program.set(cutter=1).rapid(50, 50, -4))
    assert (found.line, found.about) == (7, "flat 10")


def test_a_return_deeper_than_the_hole_is_found(program):
    program.set(cutter=2).rapid(50, 50, 2).feed(50, 50, -5).rapid(50, 50, 2).rapid(50, 50, -5.5)
    [found] = judge(program)
    assert found.line == 4


def test_a_rapid_within_its_own_pocket_is_free(program):
    """A pass along X 20 to 100 at -3, then a rapid back through the slot; a rapid across its wall is not."""
    program.rapid(20, 50, 2).feed(20, 50, -3).feed(100, 50, -3).rapid(30, 50, -3)
    assert judge(program) == []
    [found] = judge(program.rapid(30, 52, -3))
    assert found.line == 5


def test_straight_up_never_touches(program):
    assert judge(program.rapid(-20, 50, 2).feed(-20, 50, -3).feed(50, 50, -3).rapid(50, 50, 10)) == []


def test_arcs_sweep_too(program):
    """A half turn of radius 20 about (60, 50) at -3; a rapid back along the chord of a small part of it."""
    program.rapid(80, 50, 2).feed(80, 50, -3)
    program.arc(3, (80, 50, -3), (40, 50, -3), plane=17, centre=(60, 50), sweep=pi, feed=900)
    program.at, program.line = (40, 50, -3), 3
    assert judge(program.rapid(60 + 20 * cos(pi - 0.02), 50 + 20 * sin(0.02), -3)) == []
    [found] = judge(program.rapid(60, 50, -3))
    assert found.line == 5


def test_a_rapid_that_may_go_axis_by_axis_is_looked_at_both_ways():
    """From (0, 0, 20) to (100, 40, -1) beside a board over X 20 to 60, Y 30 to 50 with its top at Z 0: the
    straight way reaches Y 28 only at X 70 and misses it; axis by axis (equal speeds) Z is down at -1 after
    21 mm of way, at (21, 21), and goes on through the board at (30, 30). Worked by hand."""
    board = shapely.box(20, 30, 60, 50)
    mill = Cutter(number=1, shape="flat", diameter=4.0)
    builder = MotionBuilder()
    builder.state(State(cutter=1))
    builder.move(Move.RAPID, 1, (0.0, 0.0, 20.0), (100.0, 40.0, -1.0))
    motion = builder.motion()

    def touched(path: str) -> float:
        surface = Surface.of_board(board, 0.0, 0.25)
        return float(cut_stage(surface, motion, [mill], rapid=RapidPath(path)).touch[0])

    assert touched("linear") == 0.0
    assert touched("per_axis") == pytest.approx(1.0, abs=1e-6)
    assert touched("unknown") == pytest.approx(1.0, abs=1e-6)
