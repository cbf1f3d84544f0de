"""Corners by a word behind a comma, against plain geometry: lengths, tangents and shapely's rounded shapes.

Common practice, no published source.
"""

from __future__ import annotations

from math import pi, sqrt

import numpy as np
import pytest
import shapely
from proveout.parser.meeting import Turn

from .plan_moves import beside

HEAD = "G21 G17 G90 G94 G54 F600\nG0 X0. Y0. Z5.\nG1 Z-1.\n"


def feeds(ran):
    """The moves in plan at feed, as elements."""
    fed = [beside(ran.motion, row) for row in range(len(ran.motion)) if ran.motion.kind[row]]
    return [each for each in fed if each.length > 0]


def test_a_rounded_and_a_broken_corner_by_hand(run):
    """Each right angle of radius 5 saves 2·5 - 5·π/2, a break of 3 saves 2·3 - 3·√2."""
    ran = run(HEAD + "X50. ,R5.\nY40. ,C3.\nX0.\nY0.\n", "usermacro")
    assert ran.stops == []
    assert [tuple(map(float, each.end)) for each in feeds(ran)] == pytest.approx(np.array(
        [(45, 0), (50, 5), (50, 37), (47, 40), (0, 40), (0, 0)]))
    whole = sum(each.length for each in feeds(ran))
    assert whole == pytest.approx(180 - (10 - 5 * pi / 2) - (6 - 3 * sqrt(2)))
    assert ran.motion.line[ran.motion.kind == 2].tolist() == [4]
    assert ran.motion.end[:, 2].tolist()[1:] == [-1] * (len(ran.motion) - 1)


@pytest.mark.parametrize("radius", [1.0, 4.0])
@pytest.mark.parametrize("way", [1, -1])
def test_every_corner_of_a_convex_shape_rounded_is_its_opening(run, radius, way):
    """Rounding all corners of a convex shape is what shapely makes by shrinking and growing it."""
    points = [(0, 0), (40, 0), (60, 20), (30, 50), (0, 30)][::way]
    start = (points[0][0] + points[1][0]) / 2, (points[0][1] + points[1][1]) / 2
    lines = [f"G1 X{x}. Y{y}. ,R{radius}" for x, y in [*points[1:], points[0]]]
    text = "\n".join([f"G0 X{start[0]} Y{start[1]}", *lines, f"G1 X{start[0]} Y{start[1]}"])
    ran = run(HEAD + text, "usermacro")
    path = [point for each in feeds(ran) for point in each.points()]
    wanted = shapely.Polygon(points).buffer(-radius, join_style="mitre").buffer(radius, quad_segs=512)
    assert shapely.distance(shapely.points(path), wanted.exterior).max() < 2e-3
    assert shapely.Polygon(path).area == pytest.approx(wanted.area, abs=0.05)


@pytest.mark.parametrize("text", [
    "X40. ,R3.\nG2 X60. Y20. I20. J0.", "X40. ,R3.\nG3 X60. Y20. I20. J0.",
    "G2 X40. Y0. I20. J0. ,R4.\nG1 X90.", "G2 X40. Y0. I20. J0. ,R4.\nG2 X80. Y0. I20. J-15.",
    "X40. ,R3.\nX10. Y30."])
def test_a_rounding_touches_lines_and_arcs(run, text):
    """Where it meets its neighbours it goes on in their direction, and its radius is as written."""
    ran = run(HEAD + text, "usermacro")
    assert ran.stops == []
    one, between, two = feeds(ran)
    assert isinstance(between, Turn)
    assert between.radius == pytest.approx(float(text.split(",R")[1][0]))
    for before, after in ((one, between), (between, two)):
        assert direction(before, before.end) == pytest.approx(direction(after, after.begin), abs=1e-7)
    assert abs(between.sweep) < pi


def direction(each, point):
    """The unit vector of travel."""
    if isinstance(each, Turn):
        arm = (np.array(point) - each.centre) * (1 if each.sweep > 0 else -1)
        return np.array([-arm[1], arm[0]]) / np.hypot(*arm)
    along = np.array(each.end) - each.begin
    return along / np.hypot(*along)


@pytest.mark.parametrize(("text", "why"), [
    ("X3. ,R5.\nY40.", "shorter"), ("X30. ,R5.\nX60.", "one direction"),
    ("X30. ,C5.\nG2 X40. Y10. I0. J10.", "straight"), ("X30. ,R5.\nG1 Z5.", "X and Y"),
    ("X30. ,R5.", "no move follows"), ("G0 X30. ,R5.\nG1 Y9.", "no feed move"),
    ("X30. ,R0.\nY9.", "not over 0"),
    ("G18\nG1 X30. ,R2.\nY9.", "G17")])
def test_a_corner_that_cannot_be_made_is_said_and_stays_sharp(run, text, why):
    ran = run(HEAD + text, "usermacro")
    found, = (f for f in ran.found("value-bad"))
    assert why in found.message()
    assert not (ran.motion.line == found.line)[ran.motion.kind == 2].any()


def test_where_numbers_without_a_point_count_in_steps_a_corners_number_does(run):
    ran = run(HEAD + "X50. ,R5000\nY40.\n", "usermacro")
    assert feeds(ran)[0].end == pytest.approx((45, 0))


def test_other_controls_refuse_the_word(run):
    found, = run(HEAD + "X50 ,R5\nY40\n", "standard").found("unread")
    assert (found.line, found.column) == (4, 5)
    read, = run(HEAD + "X50 ,R5\nY40\n", "union").found("word-doubtful")
    assert read.severity.word == "caution"
