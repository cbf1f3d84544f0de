"""Mirroring, scaling, rotation and polar coordinates: the same as the program written out by hand.

Common practice, no published source; the oracle is complex arithmetic on the written points.
"""

from __future__ import annotations

from cmath import exp
from math import radians

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from proveout.parser.warp import Warp

HEAD = "G21 G17 G90 G94 G54\nF100\n"
FIGURE = ("G0 Z5\nG0 X10 Y0\nG1 Z-1\nG1 X20 Y5\nG2 X30 Y5 I5 J0\nG3 X30 Y25 R10\n"
          "G91 G1 X-5 Y2\nG90 G1 X10 Y0\nG0 Z5")


def planes(ran):
    return ran.motion.end[:, 0] + 1j * ran.motion.end[:, 1]


def arcs(ran):
    return ran.motion.arcs.centre[:, 0] + 1j * ran.motion.arcs.centre[:, 1], ran.motion.arcs.sweep


@pytest.fixture(scope="module")
def figure(run):
    return run(HEAD + FIGURE, "union")


@pytest.mark.parametrize(("pivot", "angle"), [(0, 30), (0, -120), (12 + 7j, 90), (-3 - 4j, 211.5)])
def test_rotation(run, figure, pivot, angle):
    ran = run(f"{HEAD}G68 X{pivot.real if pivot else 0} Y{complex(pivot).imag} R{angle}\n{FIGURE}", "union")
    turn = exp(1j * radians(angle))
    assert planes(ran)[1:] == pytest.approx(pivot + (planes(figure)[1:] - pivot) * turn)
    assert arcs(ran)[0] == pytest.approx(pivot + (arcs(figure)[0] - pivot) * turn)
    assert arcs(ran)[1] == pytest.approx(arcs(figure)[1])
    assert ran.motion.end[:, 2].tolist() == figure.motion.end[:, 2].tolist()


def test_mirror(run, figure):
    ran = run(f"{HEAD}G51.1 X4\n{FIGURE}", "union")
    assert planes(ran)[1:] == pytest.approx(8 - planes(figure)[1:].conj())
    assert arcs(ran)[0] == pytest.approx(8 - arcs(figure)[0].conj())
    assert arcs(ran)[1] == pytest.approx(-arcs(figure)[1])


def test_scaling(run, figure):
    ran = run(f"{HEAD}G51 X2 Y1 Z0 P3\n{FIGURE}", "union")
    assert planes(ran)[1:] == pytest.approx(2 + 1j + 3 * (planes(figure)[1:] - 2 - 1j))
    assert ran.motion.end[:, 2] == pytest.approx(3 * figure.motion.end[:, 2])
    assert ran.motion.length()[ran.motion.arc >= 0] == pytest.approx(
        3 * figure.motion.length()[figure.motion.arc >= 0])


def test_scaling_that_makes_an_oval_of_an_arc_is_refused(run):
    ran = run(f"{HEAD}G51 X0 Y0 I2 J1 K1\nG1 X5\nG2 X9 I2", "union")
    assert ran.motion.end[0, 0] == 10
    assert ran.stops == ["arc-mismatch"]


def test_each_ends_with_its_code(run):
    text = "G68 X0 Y0 R90\nG0 X5\nG69\nG51.1 X0\nG0 X5 Y0\nG50.1\nG51 X0 Y0 Z0 P2\nG0 X5\nG50\nG0 X5"
    assert run(HEAD + text, "union").motion.end[:, :2] == pytest.approx(
        np.array([[0, 5], [-5, 0], [10, 0], [5, 0]]), abs=1e-9)


def test_cycles_drill_where_the_rotation_says(run):
    ran = run(f"{HEAD}G98 G0 Z5\nG68 X0 Y0 R90\nG81 X10 Y0 Z-3 R1\nX20", "union")
    fed = ran.motion.end[ran.motion.is_feed]
    assert fed == pytest.approx(np.array([[0, 10, -3], [0, 20, -3]]), abs=1e-9)


def test_the_axis_words_belong_to_the_transformation(run):
    ran = run("G0 X1\nG68 X5 Y5 R30\nG51.1 X3", "union")
    assert len(ran.motion) == 1


def test_polar_points(run):
    ran = run("G0 X10 Y0\nG16\nG0 X10 Y30\nY90\nX20\nG15\nG0 X1 Y1", "union")
    turned = [10 * exp(1j * radians(30)), 10j, 20j, 1 + 1j]
    assert planes(ran)[1:] == pytest.approx(np.array(turned), abs=1e-9)


def test_a_probe_ends_where_only_the_machine_knows(run):
    """NIST IR 6556, 3.5.9."""
    ran = run("G0 Z5\nG38.2 Z-5 F50\nG0 Z5\nG0 X[#5063]\nG0 X1 Y1", "standard")
    assert ran.stops == []
    assert [f.line for f in ran.found("unplaced")] == [2]
    assert ran.motion.placed.tolist() == [True, False, False, False, False]
    assert ran.reading.position == (1, 1, 5)


factor = st.floats(0.1, 10).flatmap(lambda f: st.sampled_from([f, -f]))
place = st.floats(-100, 100)


@given(st.tuples(factor, factor, factor), st.tuples(place, place, place), st.floats(-10, 10),
       st.lists(st.tuples(st.integers(0, 2), place), max_size=2, unique_by=lambda m: m[0]),
       st.tuples(place, place, place), st.sampled_from([(0, 1), (2, 0), (1, 2)]))
def test_forward_and_back(factors, centre, angle, mirrors, point, axes):
    warp = Warp(tuple(mirrors), factors, centre, angle, (centre[0], centre[1]), axes)
    assert warp.back(warp.forward(point)) == pytest.approx(point, abs=1e-6)


# --- a work system that is turned about its origin (common practice, no published source) ---

TURNED = "G21 G17 G90 G94 G54\nG0 Z5\nG10 L2 P1 X5 Y2 Z0 R30\n"
PLACED = {"machine_origin": (0.0, 0.0, 0.0), "offsets": {1: (0.0, 0.0, 0.0), 2: (0.0, 0.0, 0.0)}}


def turned(x, y, origin=(5.0, 2.0), angle=30.0):
    point = complex(*origin) + complex(x, y) * np.exp(1j * np.radians(angle))
    return point.real, point.imag


@pytest.mark.parametrize(("lines", "at"), [
    ("G0 X10 Y0", turned(10, 0)), ("G0 X10 Y4", turned(10, 4)), ("G0 X1 Y1\nG91 X9 Y3", turned(10, 4)),
    ("G0 X1 Y1\nG2 X3 Y1 I1 F100", turned(3, 1)), ("G10 L2 P1 R0\nG0 X10 Y4", (15, 6)),
    ("G10 L2 P1 X0\nG0 X10 Y4", turned(10, 4, (0, 2))), ("G55 G0 X10 Y4", (10, 4)),
    ("G0 X10 Y4\nG92 X0 Y0\nG0 X1 Y2", turned(11, 6)), ("G52 X3\nG0 X10 Y4", turned(13, 4)),
    ("G0 X10 Y4\nG10 L20 P1 X0 Y0\nG0 X10 Y4", turned(10, 4, turned(10, 4))),
    ("G0 X10 Y4\nG10 L20 P1 X0\nG0 X10 Y4", turned(20, 4)),
    ("G68 X0 Y0 R60\nG0 X10 Y0\nG69", (5, 12)), ("G68 X0 Y0 R60\nG69\nG0 X10 Y4", turned(10, 4))])
def test_a_turned_work_system(run, lines, at):
    """Against complex numbers: the origin, and the program's point turned about it."""
    ran = run(TURNED + lines, "union", **PLACED)
    assert ran.stops == []
    assert ran.reading.position[:2] == pytest.approx(at)
    assert ran.reading.position[2] == 5.0


def test_a_turned_system_is_refused_where_r_is_no_turn(run):
    for dialect in ("standard", "usermacro"):
        assert run(TURNED + "G0 X10 Y4", dialect, **PLACED).found("code-unsupported")
