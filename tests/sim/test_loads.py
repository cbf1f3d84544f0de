"""Plunge feeds and power, against worked figures of the handbook formula P = k_c·Q/60 000."""

from __future__ import annotations

from dataclasses import replace

import pytest
from proveout.parser.finding import Severity
from proveout.parser.job import Cutter
from proveout.parser.reading import Unchecked
from proveout.sim.checks.loads import plunge_fast, power

MILL = Cutter(number=1, shape="flat", diameter=6.0, edges=2, name="mill", plunge=400)
FACING = Cutter(number=1, shape="facing", diameter=25.0, edges=2, name="facing cutter")


@pytest.mark.parametrize(("feed", "values"), [(400, []), (401, [401])])
def test_straight_down_into_material(program, feed, values):
    evidence = program.rapid(50, 50, 5).feed(50, 50, -2, feed).evidence(cutters=(MILL,))
    said = list(plunge_fast(evidence))
    assert [f.value for f in said] == values
    assert all((f.severity, f.limit, f.line) == (Severity.CAUTION, 400, 2) for f in said)


def test_straight_down_in_the_air_or_into_what_is_cut_does_not_count(program):
    program.rapid(50, 50, 20).feed(50, 50, 5, 3000)
    program.feed(50, 50, -2, 300).feed(50, 50, 0, 3000).feed(50, 50, -2, 3000)
    assert list(plunge_fast(program.evidence(cutters=(MILL,)))) == []


def test_on_a_ramp_it_is_no_plunge(program):
    program.rapid(50, 50, 0).feed(60, 50, -2, 3000)
    assert list(plunge_fast(program.evidence(cutters=(MILL,)))) == []


def test_a_plunge_that_is_not_given_is_unchecked(program):
    plain = replace(MILL, plunge=None)
    said = list(plunge_fast(program.rapid(50, 50, 5).feed(50, 50, -2, 900).evidence(cutters=(plain,))))
    assert said == [Unchecked("plunge feed of mill", "the cutter's plunge is not given")]


@pytest.mark.parametrize(("spindle", "count"), [(0.0751, 0), (0.0749, 1)])
def test_power_of_a_full_width_pass(program, spindle, count):
    """25 mm wide, 1 mm deep, 3000 mm/min, 60 N/mm² (MDF's upper end): 75 W (worked figure)."""
    evidence = program.rapid(-20, 50.5, -1).feed(220, 50.5, -1, 3000).evidence(
        cutters=(FACING,), spindle_power=spindle)
    said = list(power(evidence))
    assert len(said) == count
    for found in said:
        assert found.value == pytest.approx(0.075, rel=2e-3)
        assert found.numbers["feed"] == pytest.approx(3000 * spindle / 0.075, rel=2e-3)


def test_power_of_a_narrower_pass(program):
    """20 mm of 25 wide, 0.4 deep at 2000: 16 000 mm³/min; at 60 N/mm² 16 W (10.7 at 40, worked figure)."""
    program.rapid(-20, 25.5, -0.4).feed(220, 25.5, -0.4, 2000).rapid(220, 25.5, 5).rapid(-20, 45.5, 5)
    evidence = program.rapid(-20, 45.5, -0.4).feed(220, 45.5, -0.4, 2000).evidence(
        cutters=(FACING,), spindle_power=0.0001)
    (found,) = power(evidence)
    assert found.value == pytest.approx(0.016 * 25 / 20, rel=0.03)  # the first pass takes all its width
    assert found.count == 2


def test_power_straight_down(program):
    """A disc of 6 mm at 400 mm/min: 11 310 mm³/min, 11.3 W."""
    evidence = program.rapid(50, 50, 5).feed(50, 50, -10, 400).evidence(cutters=(MILL,), spindle_power=0.01)
    (found,) = power(evidence)
    assert found.value == pytest.approx(0.0113, rel=0.15)  # 32 cells of 1 mm stand for 28.3 mm²


def test_power_that_cannot_be_told_is_unchecked(program, new_program):
    pass_ = program.rapid(-20, 50.5, -1).feed(220, 50.5, -1, 3000)
    assert list(power(pass_.evidence())) == [Unchecked("spindle power", "machine.spindle_power is not given")]
    other = new_program().rapid(-20, 50.5, -1).feed(220, 50.5, -1, 3000)
    evidence = other.evidence(board={"material": "cheese"}, spindle_power=1.0)
    assert isinstance(next(iter(power(evidence))), Unchecked)
