"""Splines against scipy's Bézier evaluation, threads by hand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from proveout.parser.splines import CHORD, at, chords
from scipy.interpolate import BPoly

place = st.tuples(st.floats(-200, 200), st.floats(-200, 200))


def curve(polygon):
    return BPoly(np.array(polygon)[:, None, :], [0, 1])


@given(st.lists(place, min_size=3, max_size=4), st.floats(0, 1))
def test_points_are_those_of_the_bernstein_form(polygon, share):
    assert at(polygon, share) == pytest.approx(curve(polygon)(share), abs=1e-9)


@given(st.lists(place, min_size=3, max_size=4))
def test_no_chord_lies_farther_from_the_curve_than_it_may(polygon):
    points = np.array(list(chords(polygon)))
    assert tuple(points[0]) == polygon[0]
    assert tuple(points[-1]) == polygon[-1]
    middles = curve(polygon)((np.arange(len(points) - 1) + 0.5) / (len(points) - 1))
    assert np.linalg.norm(middles - (points[1:] + points[:-1]) / 2, axis=1).max() <= CHORD * 1.01


def test_g5_goes_on_as_the_last_one_ended(run):
    ran = run("G5 X10 Y0 I0 J5 P0 Q5 F100\nG5 X20 Y0 P0 Q-5", "labelled")
    assert ran.stops == []
    ends = ran.motion.end[ran.motion.line == 2][:, :2]
    wanted = curve([(10, 0), (10, -5), (20, -5), (20, 0)])(np.linspace(0, 1, len(ends) + 1))[1:]
    assert ends == pytest.approx(wanted, abs=1e-9)


def test_g5_1_is_quadratic(run):
    ran = run("G5.1 X4 Y0 I2 J3 F100", "labelled")
    ends = ran.motion.end[:, :2]
    assert ends == pytest.approx(curve([(0, 0), (2, 3), (4, 0)])(np.linspace(0, 1, len(ends) + 1))[1:],
                                 abs=1e-9)


@pytest.mark.parametrize("line", ["G5 X10 Y0 F100", "G5 X10 I1 J1 F100", "G18 G5.1 X4 Z0 I2 J3 F100"])
def test_a_curve_that_is_not_wholly_written(run, line):
    assert run(line, "labelled").stops == ["value-bad"]


def test_a_thread_feeds_by_the_turn(run):
    ran = run("S600 M3\nG33 Z-10 K1.25\nG33.1 Z-20 K1.5", "labelled")
    assert ran.moves == [("F", 0, 0, -10), ("F", 0, 0, -20), ("F", 0, 0, -10)]
    assert ran.motion.feed.tolist() == [750, 900, 900]
    assert run("G33 Z-1 K1", "labelled").stops == ["feed-missing"]
