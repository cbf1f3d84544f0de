"""Splines with weights (G5.2, G5.3) against scipy's B-splines, and a circle that is one.

Common practice of the later language, no published source; the curve is textbook.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from proveout.parser.nurbs import Net, at, chords, knots
from scipy.interpolate import BSpline

HEAD = "G21 G17 G90 G94 G54 F600\nG0 X0 Y0 Z5\n"
NET = "G5.2 P1 L3\nX0 Y1 P1\nX2 Y2 P1\nX2 Y0 P1\nX0 Y0 P2\nG5.3\n"


def rational(places, weights, order):
    """scipy's curve: a B-spline of the weighted points, divided by that of the weights."""
    vector = np.array(knots(len(places), order))
    weighted = np.column_stack([np.array(places) * np.array(weights)[:, None], weights])
    curve = BSpline(vector, weighted, order - 1)

    def point(value):
        x, y, w = curve(value).T
        return np.column_stack([x / w, y / w])
    return point, vector[-1]


points = st.lists(st.tuples(st.floats(-50, 50), st.floats(-50, 50), st.floats(0.2, 5)), min_size=4,
                  max_size=9)


@given(points, st.integers(2, 4))
def test_a_point_of_the_curve_is_scipys(net, order):
    places, weights = [(x, y) for x, y, _ in net], [w for _, _, w in net]
    point, last = rational(places, weights, order)
    for value in np.linspace(0, last * 0.9999, 17):
        ours = at(Net(places, weights, order), knots(len(places), order), float(value))
        assert ours == pytest.approx(point(np.array([value]))[0], abs=1e-9)


@settings(max_examples=40)
@given(points, st.integers(3, 4))
def test_no_chord_is_farther_from_the_curve_than_a_thousandth(net, order):
    places, weights = [(x, y) for x, y, _ in net], [w for _, _, w in net]
    point, last = rational(places, weights, order)
    polygon = np.array(list(chords(Net(places, weights, order))))
    fine = point(np.linspace(0, last, 500))
    a, b = polygon[:-1], polygon[1:]
    along = b - a
    size = np.maximum((along**2).sum(axis=1), 1e-30)
    share = np.clip(((fine[:, None] - a) * along).sum(axis=2) / size, 0, 1)
    gaps = np.linalg.norm(fine[:, None] - (a + share[..., None] * along), axis=2).min(axis=1)
    assert gaps.max() < 1e-3


def test_a_quarter_circle_is_a_curve_with_weights(run):
    """The textbook one: the middle point weighs cos 45 degrees."""
    ran = run(HEAD + f"G0 X10 Y0\nG5.2 P1 L3\nX10 Y10 P{np.sqrt(0.5):.12f}\nX0 Y10 P1\nG5.3\n", "labelled")
    assert ran.stops == []
    assert np.hypot(*ran.motion.end[1:, :2].T) == pytest.approx(10, abs=1e-6)
    assert ran.reading.position == pytest.approx((0, 10, 5))
    assert ran.motion.length()[2:].sum() == pytest.approx(5 * np.pi, abs=1e-2)


@pytest.mark.parametrize("text", [NET, NET.replace("X0 Y1", "G91 X0 Y1").replace("X2 Y2", "X2 Y1").replace(
    "X2 Y0", "X0 Y-2").replace("X0 Y0 P2", "X-2 Y0 P2")])
def test_absolute_and_counted_points_make_the_same_curve(run, text):
    ran = run(HEAD + text + "G90 G1 X9 Y9\n", "labelled")
    assert ran.stops == []
    wanted = list(chords(Net([(0, 0), (0, 1), (2, 2), (2, 0), (0, 0)], [1, 1, 1, 1, 2], 3)))
    assert ran.motion.end[1:-1, :2] == pytest.approx(np.array(wanted[1:]), abs=1e-9)
    assert (ran.motion.line[1:-1] == 8).all()


@pytest.mark.parametrize("text", [
    NET.replace("G5.3", "G1 X5"), NET.replace("L3", "L9"), NET.replace("P2", "P-1"), "G18\n" + NET,
    NET.replace("X2 Y0", "X2 Y0 Z1"), "G5.3\n"])
def test_a_curve_that_cannot_run_is_said_and_loses_x_and_y(run, text):
    ran = run(HEAD + text, "labelled")
    assert "value-bad" in ran.stops
    assert all(v != v for v in ran.reading.position[:2]) or "G1 X5" in text
