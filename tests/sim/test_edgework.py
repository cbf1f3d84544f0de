"""Heat, speeds, power and the operator's knobs, against worked figures of the handbook formulas and closed
forms of the trapezoid; limits of the trade are marked as such."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from proveout.parser.finding import Severity
from proveout.parser.job import Cutter
from proveout.sim.checks.chips import slow_corners, thin_by_width
from proveout.sim.checks.spindle import over_speed
from proveout.sim.clock import pace, seconds_below
from proveout.sim.edgework import feed_figures
from proveout.sim.knobs import Knobs
from proveout.sim.knobs import settings as knob_settings

FACING = Cutter(number=1, shape="facing", diameter=25.0, edges=2, name="facing cutter")
DEPTH = -0.4


def across(program, feed: float = 2000.0, y: float = 50.5):
    return program.rapid(-20, y, DEPTH).feed(220, y, DEPTH, feed)


def one(found):
    (only,) = found
    return only


@pytest.mark.parametrize(("diameter", "speed", "metres"), [
    (25, 12500, 16.36), (50, 12500, 32.7), (50, 22918, 60)])
def test_speed_of_the_rim(program, diameter, speed, metres):
    """pi·D·n (machining handbook standard formula): worked cases."""
    wide = replace(FACING, diameter=float(diameter))
    figures = one(feed_figures(across(program.set(speed=float(speed))).evidence(cutters=(wide,))))
    assert figures.surface_speed == pytest.approx(metres, rel=1e-3)


def test_removal_rate_and_power(program):
    """25 x 1 mm at 3000 mm/min: 75 000 mm³/min; at 60 N/mm² (MDF's upper end) 75 W (worked case)."""
    evidence = program.rapid(-20, 50.5, -1).feed(220, 50.5, -1, 3000).evidence()
    figures = one(feed_figures(evidence))
    assert figures.removal == pytest.approx(75000, rel=2e-3)
    assert figures.power == pytest.approx(0.075, rel=2e-3)


@pytest.mark.parametrize(("apart", "step"), [(20.0, 20.0), (30.0, 30.0), (60.0, None)])
def test_sides_of_a_shape_are_no_steps(program, apart, step):
    """Passes of a 25 mm cutter 30 mm apart leave a strip, and that is told; 60 mm apart they are no
    neighbours (common practice, no published source)."""
    for row in range(3):
        program.rapid(-20, 10 + row * apart, 5).feed(-20, 10 + row * apart, DEPTH)
        program.feed(220, 10 + row * apart, DEPTH).rapid(220, 10 + row * apart, 5)
    assert one(feed_figures(program.evidence(cutters=(FACING,)))).step == step


@pytest.mark.parametrize(("strip", "chip"), [(2.5, 0.048), (5.0, 0.064)])
def test_thinner_chips_on_a_strip(program, strip, chip):
    """D 25, f_z 0.08: 0.048 over 2.5 mm, 0.064 over 5 mm (machining handbook standard formula, worked)."""
    across(program, y=50).rapid(220, 50, 5).rapid(-20, 50 + strip, 5).rapid(-20, 50 + strip, DEPTH)
    figures = one(feed_figures(program.feed(220, 50 + strip, DEPTH).evidence(size=(200.0, 100.0))))
    assert figures.sliver == pytest.approx(strip, abs=0.5)  # cells of 1 mm
    share = figures.sliver / 25
    assert figures.thinned == pytest.approx(2 * 0.08 * (share * (1 - share)) ** 0.5)
    assert figures.thinned == pytest.approx(chip, rel=0.12)


@pytest.mark.parametrize(("feed", "count"), [(800, 1), (2000, 0)])
def test_a_strip_that_rubs_is_noted(program, feed, count):
    """A strip of 4 mm thins to 0.733: 0.032 becomes 0.023, under 0.03 (MDF: common practice, no published
    source); 0.08 becomes 0.059 and is right."""
    across(program, y=50).rapid(220, 50, 5).rapid(-20, 54, 5).rapid(-20, 54, DEPTH)
    said = list(thin_by_width(program.feed(220, 54, DEPTH, feed).evidence()))
    assert [f.severity for f in said] == [Severity.NOTE] * count
    assert all("strip is 4 mm wide" in f.message() and f.value < 0.03 for f in said)


def corner(program, feed=2000.0):
    program.rapid(10, 10, 5).rapid(10, 10, DEPTH)
    return program.feed(190, 10, DEPTH, feed).feed(190, 90, DEPTH, feed)


@pytest.mark.parametrize(("push", "stay", "count"), [(200, 0.056, 0), (20, 0.632, 1)])
def test_time_under_the_floor_at_a_corner(program, push, stay, count):
    """Floor 800 mm/min is 13.33 mm/s; a square corner is passed at 2.20 mm/s with 200 mm/s² and 0.01 mm
    (formulas: motion time [H]): (13.33 - 2.20)/200 = 0.056 s a side, harmless; ten times as slow it is seen
    (common practice, no published source)."""
    held = replace(FACING, chip_load=(0.032, 0.3))
    evidence = corner(program).evidence(cutters=(held,), acceleration=float(push))
    passed = np.sqrt(push * 0.01 * np.sqrt(0.5) / (1 - np.sqrt(0.5)))
    side = (800 / 60 - passed) / push
    assert side == pytest.approx(stay, rel=0.01)
    figures = one(feed_figures(evidence))
    assert figures.rubbing == 0
    assert figures.longest_slow == pytest.approx(max(2 * side, 800 / 60 / push), rel=1e-3)
    assert len(list(slow_corners(evidence))) == count


def test_without_acceleration_nothing_slows(program):
    figures = one(feed_figures(corner(program).evidence()))
    assert (figures.slowing, figures.longest_slow) == (0, 0)


def test_seconds_of_rubbing(program):
    """240 mm at 500 mm/min, 0.02 an edge: 28.8 s; at 2000 none."""
    program = across(program, 500).rapid(220, 50, 5).rapid(-20, 75, 5).rapid(-20, 75, DEPTH)
    assert one(feed_figures(program.feed(220, 75, DEPTH).evidence())).rubbing == pytest.approx(28.8)


lengths = st.lists(st.tuples(st.floats(1, 100), st.booleans()), min_size=1, max_size=6)


@given(lengths, st.floats(300, 4000), st.floats(50, 1000), st.floats(0.5, 80))
@settings(max_examples=60, deadline=None)
def test_seconds_below_agree_with_plain_integration(new_program, ways, feed, push, floor):
    """Oracle: the speed of each move written out over fine steps of time."""
    program = new_program()
    x = y = 0.0
    for length, turned in ways:
        x, y = (x, y + length) if turned else (x + length, y)
        program.feed(x, y, 10, feed)
    going = pace(program.motion(), None, push)
    found = seconds_below(going, np.full(len(going.rows), floor)).sum(axis=1)
    for row in range(len(going.rows)):
        _, length, speed, pushed, entry, leaving = (column[row] for column in going)
        peak = min(speed, np.sqrt((2 * pushed * length + entry**2 + leaving**2) / 2))
        up, down = (peak - entry) / pushed, (peak - leaving) / pushed
        level = max(0.0, length - (2 * peak**2 - entry**2 - leaving**2) / (2 * pushed)) / peak
        t = (np.arange(200_000) + 0.5) / 200_000 * (up + level + down)
        v = np.minimum(np.minimum(entry + pushed * t, peak), leaving + pushed * (up + level + down - t))
        assert found[row] == pytest.approx((v < floor).mean() * (up + level + down), abs=2e-3 + 1e-3 * t[-1])


# --- the knobs ----------------------------------------------------------------------------------------

def test_settings_of_the_knob():
    assert knob_settings(50, 150) == [50, 60, 70, 80, 90, 100, 110, 120, 130, 140, 150]
    assert knob_settings(5, 33) == [5, 10, 20, 30, 33]


def test_the_floor_is_reached_where_hand_calculation_says(program):
    """2000 mm/min, 12 500 rpm, 2 edges: 0.03 is reached at 37.5 %; 0.30 at 375 %."""
    figures = one(feed_figures(across(program).evidence()))
    assert figures.feed_override == pytest.approx((37.5, 375))


def test_the_table_of_the_feed_knob(program):
    """Chips follow the feed, air and rapids do not; 240 mm at 2000 mm/min are 7.2 s."""
    evidence = replace(across(program).evidence(max_feed=2500.0), knobs=Knobs(feed=(30, 130)))
    table = {row.percent: row for row in one(feed_figures(evidence)).overrides}
    assert table[30].chip == pytest.approx((0.024, 0.024))
    assert [table[p].leaves for p in (30, 40, 100, 120, 130)] == ["thin", "", "", "", "feed"]
    assert table[50].seconds == pytest.approx(14.4)
    assert table[130].seconds == pytest.approx(240 / 2500 * 60)  # the machine goes no faster


def test_no_table_where_no_range_is_given(program):
    figures = one(feed_figures(across(program).evidence()))
    assert figures.overrides == figures.speeds == ()


@pytest.mark.parametrize(("feed", "at_full"), [(800, 0.0320), (2000, 0.0800)])  # formulas.md, 1, example 1
def test_the_table_of_the_speeds_knob(new_program, feed, at_full):
    """D 25 at 12 500 rpm: 16.36 m/s (formulas.md, 1, example 2); chips go against the speed, the rim with it.
    Marked 18 000, which is 144 %; the spindle turns 7 500 and more, which is 60 %; the window is 0.03 to
    0.30 mm."""
    cutter = replace(FACING, max_rpm=18000.0)
    evidence = replace(across(new_program(), feed).evidence(cutters=(cutter,), spindle=(7500.0, 24000.0)),
                       knobs=Knobs(speed=(50, 200)))
    table = {row.percent: row for row in one(feed_figures(evidence)).speeds}
    assert table[100].chip == pytest.approx((at_full, at_full), abs=5e-5)
    assert table[100].rim == pytest.approx(16.36, abs=5e-3)
    assert table[200].rim == pytest.approx(32.72, abs=1e-2)
    assert table[50].speed == 6250
    for percent, row in table.items():
        assert row.chip[0] == pytest.approx(feed / (2 * 12500 * percent / 100))
    assert [table[p].leaves for p in (50, 60, 140, 150, 200)] == [
        "slow", "", "thin" if feed == 800 else "", "marked", "marked"]
    assert table[110].leaves == ("thin" if feed == 800 else "")  # 0.0291 and 0.0727 mm


def test_a_spindle_that_turns_no_faster_and_chips_that_grow_too_thick(program):
    """7 000 mm/min, 12 500 rpm, 2 edges: 0.28 mm, at 90 % 0.311: over 0.30."""
    evidence = across(program, 7000).evidence(spindle=(3000.0, 15000.0))
    evidence = replace(evidence, knobs=Knobs(speed=(90, 130)))
    assert [row.leaves for row in one(feed_figures(evidence)).speeds] == ["thick", "", "", "", "fast"]


@pytest.mark.parametrize(("knob", "severity", "value"), [
    (None, None, None), (120, None, None), (150, Severity.CAUTION, 18750)])
def test_the_marked_speed_counts_at_the_largest_setting_too(program, knob, severity, value):
    """Marked 18 000, programmed 12 500: 144 % reaches the mark."""
    marked = replace(FACING, max_rpm=18000.0)
    evidence = across(program).evidence(cutters=(marked,))
    assert one(feed_figures(evidence)).speed_override == pytest.approx(144)
    said = list(over_speed(replace(evidence, knobs=Knobs(speed=None if knob is None else (50, knob)))))
    assert [f.severity for f in said] == ([] if severity is None else [severity])
    assert [f.value for f in said] == ([] if value is None else [value])
    for found in said:
        assert "knob under 144%, or bring" in found.advice()
        assert "down to 12000 or less" in found.advice()
