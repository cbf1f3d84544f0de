"""Cutter radius compensation against the report's own contour, and against shapely's offset curves."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from .plan_moves import beside

# NIST IR 6556, Table 12: an edge contour, whose compensated path for a cutter of diameter 1 is Table 13
CONTOUR = """G21 G17 G90 G94 G54
F100
N0010 G1 X1 Y5
N0020 G41 G1 Y4 D1
G3 X2 Y3 I1
G2 X3 Y2 J-1
G1 Y-1
G2 X2 Y-2 I-1
G1 X-2
G2 X-2.6 Y-0.2 J1
G1 X1.4 Y2.8
G2 X2 Y3 I0.6 J-0.8
G40
M2
"""
PATH = [(1, 5), (1.4330, 4.2500), (1.5, 4), (2, 3.5), (3.5, 2), (3.5, -1), (2, -2.5), (-2, -2.5), (-2.9, 0.2),
        (1.1, 3.2), (2, 3.5)]


def plan(ran):
    return ran.motion.end[:, :2]


def test_28_the_reports_contour(run):
    """Tables 12 and 13, appendix B.6; the entry worked by hand."""
    ran = run(CONTOUR, diameters={1: 1.0})
    assert ran.stops == []
    assert plan(ran) == pytest.approx(np.array(PATH), abs=1e-4)
    assert ran.motion.arcs.centre[:3] == pytest.approx(np.array([(1, 4), (2, 4), (2, 2)]), abs=1e-9)


def test_the_other_side_is_the_mirror_image(run):
    text = CONTOUR.replace("G41", "G42").replace("G3 ", "G9 ").replace("G2 ", "G3 ").replace("G9 ", "G2 ")
    flipped = "\n".join(" ".join(_negated(word) for word in line.split()) for line in text.splitlines())
    ran = run(flipped, diameters={1: 1.0})
    assert plan(ran) * [-1, 1] == pytest.approx(np.array(PATH), abs=1e-4)


def _negated(word: str) -> str:
    return f"{word[0]}{-float(word[1:])}" if word[0] in "XI" else word


def test_a_negative_diameter_is_the_other_side(run):
    """Appendix B: the absolute value, on the other side."""
    ran = run(CONTOUR.replace("G41", "G42"), diameters={1: -1.0})
    assert plan(ran) == pytest.approx(np.array(PATH), abs=1e-4)


def test_d0_and_a_cutter_of_no_width_follow_the_contour_itself(run):
    plain = run(CONTOUR.replace("G41", "").replace("D1", ""))
    for text, diameters in ((CONTOUR.replace("D1", "D0"), {}), (CONTOUR, {1: 0.0})):
        assert plan(run(text, diameters=diameters)) == pytest.approx(plan(plain))


points = st.lists(st.tuples(st.floats(-50, 50), st.floats(-50, 50)), min_size=4, max_size=9, unique=True)


@given(points, st.floats(0.2, 8))
def test_outside_a_convex_contour_the_path_is_its_offset_curve(run, corners, radius):
    """Against shapely's buffer with round joins."""
    hull = shapely.MultiPoint([(round(x, 3), round(y, 3)) for x, y in corners]).convex_hull
    if hull.geom_type != "Polygon" or hull.area < 1:
        return
    ring = list(shapely.orient_polygons(hull, exterior_cw=True).exterior.coords)
    (ax, ay), (bx, by) = ring[0], ring[1]
    lead = (ax - (bx - ax) * 5 * radius, ay - (by - ay) * 5 * radius)  # on the first edge's own line
    text = "\n".join([f"G0 X{lead[0]:.9f} Y{lead[1]:.9f}", "G41 D1 F100",
                      *(f"G1 X{x:.6f} Y{y:.6f}" for x, y in [*ring, ring[1]])])
    if shapely.Point(lead).distance(shapely.Point(ring[0])) <= radius * 1.01:
        return
    ran = run(text, diameters={1: 2 * radius})
    assert "compensation-bad" not in ran.stops
    ends = ran.motion.end[2:, :2]
    away = shapely.distance(shapely.points(ends), hull.exterior)
    assert away == pytest.approx(radius, abs=1e-5)


INSIDE = "G0 X0 Y-20\nG42 D1 G1 X0 Y0 F100\nG1 Y30\nG1 X30\nG40"


def test_an_inside_corner_is_refused_or_cut_where_the_paths_meet(run):
    """Appendix B refuses; controls that look ahead meet at the intersection: common practice."""
    text = "G0 X-20 Y0\nG41 D1 G1 X0 Y0 F100\nX30\nY30\nX0\nY10\nG40 X15 Y15"
    assert run(text, diameters={1: 4.0}).stops[-1] == "compensation-bad"
    ran = run(text, "union", diameters={1: 4.0})
    assert ran.stops == []
    wanted = shapely.box(0, 0, 30, 30).buffer(-2).exterior
    for x, y in plan(ran)[3:6]:
        assert wanted.distance(shapely.Point(x, y)) < 1e-9
    assert plan(ran)[3:5] == pytest.approx(np.array([(28, 2), (28, 28)]))


@pytest.mark.parametrize(("text", "said"), [
    ("G1 X1 F100\nG41 D1 X2", "beyond the contour"), ("G41 D1\nG41 D1", "already on"), ("G18 G41 D1",
                                                                                        "goes with G17"),
    ("G41 D1\nG1 X20 F100\nG3 X21 Y1 J1", "does not fit"), ("G41 D1\nG2 X20 I10 F100", "is an arc"),
    ("G41 D1\nG1 X20 F100\nG55 G1 X30", "cannot stand"), ("G41 D1\nG1 X20 F100\nG28", "cannot stand"),
    ("G41 D1\nG1 X20 F100\nG20", "cannot stand"), ("G41 D1\nG1 X20 F100\nG81 X30 Z-1 R1", "cannot stand")])
def test_what_compensation_forbids(run, text, said):
    """errors.md, cutter radius compensation; NIST IR 6556, 3.5.10 and B.5."""
    found = run(text, diameters={1: 6.0}).found("compensation-bad")
    assert any(said in f.message() for f in found)


def test_a_radius_that_is_not_known_hides_x_and_y(run):
    ran = run("G0 Z5\nG41 D1 G1 X20 F100\nG1 X30\nG40\nG0 X0 Y0 Z5\nG0 X1")
    assert [f.line for f in ran.found("unplaced")] == [2, 3]
    assert ran.motion.placed.tolist() == [True, False, False, False, True]


def test_z_moves_beside_the_contour(run):
    ran = run("G41 D1\nG1 X20 F100\nG1 Z-3\nG1 X30", diameters={1: 6.0})
    assert ran.motion.end.tolist()[1][:2] == ran.motion.end.tolist()[0][:2]
    assert ran.motion.end.tolist()[-1] == pytest.approx([30, 3, -3])


def test_left_on_at_the_end(run):
    ran = run("G41 D1\nG1 X20 F100\nM2", diameters={1: 6.0})
    assert any("still on" in f.message() for f in ran.found("word-doubtful"))


def closed(points, cutter):
    """The path around a contour of straight lines and arcs (x, y, i, j, code) that begins in the middle of an
    edge along X, led in from within; G41, so inside a counter-clockwise one."""
    (ax, ay), *rest = points
    words = [f"G0 X{ax} Y{ay + 3 * cutter}", "G41 D1 F100", f"G1 X{ax} Y{ay}"]
    for x, y, *arc in rest:
        words.append(f"G{arc[2]} X{x:.9f} Y{y:.9f} I{arc[0]:.9f} J{arc[1]:.9f}" if arc else
                     f"G1 X{x:.9f} Y{y:.9f}")
    return "\n".join([*words, "G40"])


def region(points):
    """The polygon of the same, arcs by fine chords."""
    made = [points[0]]
    for x, y, *arc in points[1:]:
        if arc:
            cx, cy = made[-1][0] + arc[0], made[-1][1] + arc[1]
            a, b = (np.arctan2(q[1] - cy, q[0] - cx) for q in (made[-1], (x, y)))
            turn = (b - a) % (2 * np.pi) if arc[2] == 3 else -((a - b) % (2 * np.pi))
            radius = np.hypot(made[-1][0] - cx, made[-1][1] - cy)
            made += [(cx + radius * np.cos(a + turn * s), cy + radius * np.sin(a + turn * s))
                     for s in np.linspace(0, 1, 300)[1:]]
        else:
            made.append((x, y))
    return shapely.Polygon(made)


# a pocket whose inside corners are line to arc, arc to line, and arc to arc (two bulges that meet in a point)
POCKET = [(20, 0), (60, 0), (60, 20, 0, 10, 3), (60, 30), (40, 30, -10, -8, 3), (20, 30, -10, -8, 3), (0, 30),
          (0, 0), (20, 0)]
BULGES = [(20, 0), (50, 0), (50, 20, 4, 10, 2), (50, 40, 4, 10, 2), (0, 40), (0, 0), (20, 0)]
DENTS = [(20, 0), (60, 0), (60, 40), (40, 40), (20, 40, -10, 4, 2), (0, 40), (0, 0), (20, 0)]


@pytest.mark.parametrize("points", [POCKET, BULGES, DENTS])
@pytest.mark.parametrize("radius", [1.0, 2.5, 4.0])
def test_inside_a_contour_of_lines_and_arcs_the_path_is_its_inner_offset(run, points, radius):
    """Against shapely's buffer of the contour's polygon: every point of the path lies on it, and all of it is
    passed over."""
    ran = run(closed(points, radius), "union", diameters={1: 2 * radius})
    assert ran.stops == []
    wanted = region(points).buffer(-radius, quad_segs=512).exterior
    path = []
    for row in range(2, len(ran.motion)):
        path += beside(ran.motion, row).points()
    off = shapely.distance(shapely.points(path), wanted)
    assert off.max() < 2e-3
    covered = shapely.LineString(path).buffer(5e-3)
    assert wanted.difference(covered).length <= 3 * radius  # where it was led in, and where it ends
    assert not [f for f in ran.reading.findings if "cuts" in f.message()]


def test_a_slot_that_is_narrower_than_the_cutter_is_found(run):
    """Each corner can be followed; the slot of 6 cannot take a cutter of 8: it cuts 1 mm into each wall."""
    text = ("G0 X-20 Y0\nG41 D1 G1 X0 Y0 F100\nX20\nY-30\nX10\nY-50\nX36\nY-30\nX26\nY0\nX60\nG40")
    fits = run(text, "union", diameters={1: 5.9})
    assert "compensation-bad" not in fits.kinds()
    found = run(text, "union", diameters={1: 8.0}).found("compensation-bad")
    assert found
    assert all(f.line in range(3, 11) for f in found)


def test_a_corner_that_one_element_does_not_reach_is_refused(run):
    """The step of 1 mm is shorter than what the corner takes of it."""
    ran = run("G0 X-20 Y0\nG41 D1 G1 X0 Y0 F100\nX20\nY1\nX40\nY40\nG40", "union", diameters={1: 10.0})
    assert "compensation-bad" in ran.stops


@pytest.mark.parametrize("text", [
    # along the first edge, by arcs, over the end, to a circle, from the middle
    "G0 X-20 Y0\nG41 D1 G1 X-10 Y0 F100\nX0 Y0\nY50\nX50\nY0\nX0\nX-10\nG40 G1 X-20 Y-10",
    "G0 X-20 Y25\nG41 D1 G1 X-10 Y15 F100\nG3 X0 Y25 J10\nG1 Y50\nX50\nY0\nX0\nY25\nG3 X-10 Y35 I-10\nG40",
    "G0 X-20 Y10\nG41 D1 G1 X0 Y10 F100\nY50\nX50\nY0\nX0\nY15\nG1 X-20\nG40",
    "G0 X0 Y0\nG41 D1 G1 X10 Y-10 F100\nG3 X20 Y0 J10\nG3 X20 Y0 I-20\nG3 X10 Y10 I-10\nG40 G1 X0 Y0",
    "G0 X25 Y25\nG41 D1 G1 X25 Y0 F100\nX50\nY50\nX0\nY0\nX25\nG40 G1 X25 Y25"])
def test_the_ways_to_a_contour_and_away_from_it_are_no_walls(run, text):
    """Usual ways in and out, none of which cuts into the wanted shape: nothing is said of them."""
    for depth in (text, text + "\nG1 Z-2\n" + text):
        assert "compensation-bad" not in run(depth, "union", diameters={1: 6.0}).kinds()
