"""Cuts that go too deep, with numbers worked by hand; the exact borders of each finding."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from proveout.parser.finding import Severity
from proveout.parser.job import Cutter
from proveout.sim.checks.depth import CHECKS, descents
from proveout.sim.holes import find_holes
from proveout.sim.pairing import holes_meant

FACE = {"face": ({"z": -0.4},)}
ROWS = [0, 20, 40, 60, 80, 100]
FACING = Cutter(number=1, shape="facing", diameter=25.0, edges=2, name="facing cutter", deepest_pass=1.0)
MILL = Cutter(number=1, shape="flat", diameter=10.0, edges=2, name="mill", deepest_pass=1.0, flute_length=6.0)
DRILL = Cutter(number=1, shape="drill", diameter=9.0, edges=2, name="drill", flute_length=20.0)


def raster(program, heights):
    """A zigzag along X, begun beside the board, each pass at its height."""
    program.rapid(-20, 0, 5).feed(-20, 0, heights[0])
    for number, (y, z) in enumerate(zip(ROWS, heights, strict=True)):
        ends = (-20, 220) if number % 2 == 0 else (220, -20)
        program.feed(ends[0], y, z).feed(ends[1], y, z)
    return program.rapid(*program.at[:2], 10)


def said(evidence, *kinds):
    return [found for check in CHECKS for found in check(evidence)
            if not hasattr(found, "what") and (not kinds or found.kind in kinds)]


@pytest.mark.parametrize(("low", "stops"), [(-0.45, False), (-0.4502, True), (-0.35, False)])
def test_below_the_face_by_more_than_its_tolerance(new_program, low, stops):
    """Wanted -0.4, tolerance 0.05: -0.45 is the lowest."""
    program = raster(new_program(), [-0.4, -0.4, low, -0.4, -0.4, -0.4])
    evidence = program.evidence(cutters=(FACING,), stage=FACE)
    assert bool(said(evidence, "over-depth")) == stops


def test_what_is_said_of_a_pass_too_deep(program):
    evidence = raster(program, [-0.4, -0.4, -1.4, -0.4, -0.4, -0.4]).evidence(cutters=(FACING,), stage=FACE)
    found = said(evidence, "over-depth")
    assert {f.line for f in found} <= {7, 8, 9}  # the pass at 40 and the moves on to it and off it
    deep = next(f for f in found if f.line == 8)
    assert deep.severity is Severity.STOP
    assert (deep.value, deep.limit) == (pytest.approx(-1.4, abs=1e-6), pytest.approx(-0.45))
    assert deep.at[1] == pytest.approx(40, abs=13)
    assert "Raise the cut by 1 mm: program Z -0.4 mm instead of -1.4 mm" in deep.advice()


def test_wear_from_before_is_no_fault_of_the_program(program):
    evidence = raster(program, [-0.4] * 6).evidence(cutters=(FACING,), stage=FACE)
    evidence.surface.heights[40:60, 50:90] = -3.0
    evidence.surface.last[40:60, 50:90] = -1
    assert said(evidence, "over-depth") == []


def stray(program):
    """A facing, then a plunge of the cutter to -5 in its middle."""
    raster(program, [-0.4] * 6)
    return program.rapid(100, 50, 5).feed(100, 50, -5).rapid(100, 50, 5)


def test_a_stray_plunge_is_too_deep_but_no_hole(program):
    evidence = stray(program).evidence(cutters=(FACING,), stage=FACE)
    found = said(evidence, "over-depth")
    assert [(f.line, f.value) for f in found] == [(17, pytest.approx(-5.0))]


def test_recesses_and_holes_are_left_out(new_program):
    evidence = stray(new_program()).evidence(cutters=(FACING,), stage=FACE)
    around = shapely.Point(100, 50).buffer(12.51)
    assert said(replace(evidence, recesses=around), "over-depth") == []
    assert said(replace(evidence, drilled=around), "over-depth") == []
    holed = stray(new_program()).evidence(cutters=(FACING,), stage={**FACE, "holes": (
        {"at": ((100.1, 50),), "diameter": 25.0, "depth": 5.0},)})
    found = holes_meant(holed.stage, find_holes(holed.motion, holed.cutters, 0.0))
    assert said(replace(holed, found=found), "over-depth") == []


def pocket(program, z, x=100, y=50):
    return program.rapid(x - 20, y, 5).feed(x - 20, y, z).feed(x + 20, y, z).rapid(x + 20, y, 5)


@pytest.mark.parametrize(("z", "stops"), [(-13.0, False), (-13.001, True)])
def test_thinner_than_what_is_kept(new_program, z, stops):
    """18 thick, 5 to keep: -13 is the lowest."""
    board = {"thickness": 18.0, "keep": 5.0}
    found = said(pocket(new_program(), z).evidence(cutters=(MILL,), board=board), "over-depth")
    assert bool(found) == stops
    if stops:
        assert found[0].limit == -13
        assert "keeps 5 mm of the board" in found[0].message()


def test_keep_is_not_asked_of_wanted_holes_or_where_nothing_is_kept(new_program):
    def through(board, **stage):
        program = new_program().rapid(100, 50, 5).feed(100, 50, -20).rapid(100, 50, 5)
        return said(program.evidence(cutters=(DRILL,), board=board, stage=stage), "over-depth")

    kept = {"thickness": 18.0, "keep": 5.0}
    wanted = ({"at": ((100, 50.2),), "diameter": 9.0, "through": True},)
    assert through(kept, holes=wanted) == []
    assert through(kept) != []
    assert through({"thickness": 18.0}) == []
    assert through({"keep": 5.0}) == []  # how thick it is, nobody said


@pytest.mark.parametrize(("z", "severity"), [
    (-1.0, None), (-1.001, Severity.CAUTION), (-6.0, Severity.CAUTION), (-6.001, Severity.STOP)])
def test_deeper_than_a_pass_or_the_flutes(new_program, z, severity):
    found = said(pocket(new_program(), z).evidence(cutters=(MILL,)), "deep-pass")
    assert [f.severity for f in found] == ([] if severity is None else [severity])


def test_two_passes_are_each_judged_by_what_they_take(new_program):
    program = pocket(pocket(new_program(), -1.0), -2.0)
    assert said(program.evidence(cutters=(MILL,)), "deep-pass") == []


def test_the_advice_for_a_deep_pass(program):
    (found,) = said(pocket(program, -2.5).evidence(cutters=(MILL,)), "deep-pass")
    assert (found.value, found.limit, found.about) == (pytest.approx(2.5), 1.0, "mill")
    assert "3 passes of 0.833 mm" in found.advice()


@pytest.mark.parametrize(("z", "stops"), [(-19.9, False), (-20.5, True)])
def test_drills_against_their_flutes_only(new_program, z, stops):
    drill = replace(DRILL, deepest_pass=1.0)
    program = new_program().rapid(100.5, 50.5, 5).feed(100.5, 50.5, z).rapid(100.5, 50.5, 5)
    found = said(program.evidence(cutters=(drill,)), "deep-pass")
    assert [f.severity for f in found] == ([Severity.STOP] if stops else [])


def test_without_a_deepest_pass_it_is_unchecked(program):
    mill = replace(MILL, deepest_pass=None)
    evidence = pocket(program, -2.5).evidence(cutters=(mill,))
    unchecked = [each for check in CHECKS for each in check(evidence) if hasattr(each, "what")]
    assert [each.what for each in unchecked] == ["depth of a pass of mill"]


def ramp(program, angle, x=50.0, length=20.0):
    drop = length * np.tan(np.radians(angle))
    return program.rapid(x, 50, 5).feed(x, 50, 0).feed(x + length, 50, -drop).rapid(x + length, 50, 5)


@pytest.mark.parametrize(("angle", "stops"), [(2.99, False), (3.01, True), (45.0, True)])
def test_ramps_of_a_cutter_with_no_edge_in_its_middle(new_program, angle, stops):
    found = said(ramp(new_program(), angle).evidence(cutters=(FACING,)), "plunge-no-centre")
    assert bool(found) == stops
    if stops:
        assert (found[0].value, found[0].limit, found[0].line) == (pytest.approx(angle), 3.0, 3)


def test_the_advice_for_a_plunge(program):
    """0.4 down at 3 degrees takes 0.4/tan 3° = 7.632 mm; from 5 above it takes 103.04."""
    evidence = program.rapid(100, 50, 0).feed(100, 50, -0.4).feed(150, 50, -0.4).evidence(cutters=(FACING,))
    (found,) = said(evidence, "plunge-no-centre")
    assert found.value == 90
    assert found.at == (100, 50, -0.4)  # where the control shows it, not where the rim happens to cut deepest
    assert found.numbers["run"] == pytest.approx(7.632, abs=1e-3)
    assert "7.632 mm" in found.advice()


def test_plunges_in_air_do_not_count(new_program):
    beside = new_program().rapid(-20, 50, 5).feed(-20, 50, -2).feed(220, 50, -2)
    assert said(beside.evidence(cutters=(FACING,)), "plunge-no-centre") == []
    above = new_program().rapid(50, 50, 5).feed(50, 50, 0).feed(220, 50, 0)
    assert said(above.evidence(cutters=(FACING,)), "plunge-no-centre") == []


@pytest.mark.parametrize(("cutter", "stops"), [(MILL, False), (replace(MILL, centre_cutting=False), True),
                                               (replace(FACING, centre_cutting=True), False), (FACING, True)])
def test_which_cutters_cut_in_the_middle(new_program, cutter, stops):
    program = new_program().rapid(100, 50, 1).feed(100, 50, -0.5).feed(150, 50, -0.5)
    assert bool(said(program.evidence(cutters=(cutter,)), "plunge-no-centre")) == stops


def test_helices_and_arcs_on_edge(new_program):
    """A helix of radius 10 that drops 3 a turn: atan(3/(20 pi)) = 2.734°. Half a circle in XZ is upright."""
    program = new_program()
    program.rapid(110, 50, 0)
    program.arc(2, (110, 50, 0), (110, 50, -3), plane=17, centre=(100, 50), sweep=2 * np.pi, feed=500.0)
    program.arc(3, (110, 50, -3), (130, 50, -3), plane=18, centre=(-3, 120), sweep=np.pi, feed=500.0)
    program.arc(4, (130, 50, -3), (110, 50, -3), plane=18, centre=(-3, 120), sweep=np.pi, feed=500.0)
    angles = descents(program.evidence(cutters=(FACING,)))
    assert angles[1] == pytest.approx(np.degrees(np.arctan(3 / (20 * np.pi))), abs=1e-6)
    assert angles[2:] == pytest.approx([90, 90], abs=0.1)
