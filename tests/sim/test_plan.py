"""What no pass covers, held against closed forms, sampled distances and shapely's own buffers."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from proveout.parser.job import Board, Corner, Cutter, Face, Grid, Holes, Job, Stage
from proveout.parser.motion import MotionBuilder, Move
from proveout.sim.chains import passes_below
from proveout.sim.coverage import uncovered
from proveout.sim.cut import cut_stage
from proveout.sim.plan import disc, face_area, hole_spots, wanted_faces, wanted_holes, without
from proveout.sim.stretches import arc_points
from proveout.sim.surface import Surface

FLAT = Cutter(number=1, shape="flat", diameter=25.0)
BOARD = shapely.box(0, 0, 200, 100)


def cutters(motion, cutter) -> np.ndarray:
    every = np.empty(len(motion), object)
    every[:] = cutter
    return every


def path(points, cutter=FLAT, highest=0.05, kind=Move.FEED):
    """Passes of straight moves through points."""
    builder = MotionBuilder()
    for line, (start, end) in enumerate(itertools.pairwise(points), 1):
        builder.move(kind, line, start, end, feed=1000)
    motion = builder.motion()
    return passes_below(motion, cutters(motion, cutter), highest)


def zigzag(step, first, last, inset=-20.0, width=200.0, height=0.0):
    """Passes along X, `step` apart, whose centres end `inset` inside the board."""
    ends, points = [inset, width - inset], []
    for number, y in enumerate(np.arange(first, last + 1e-9, step)):
        points += [(x, float(y), height) for x in (ends if number % 2 == 0 else ends[::-1])]
    return points


@pytest.mark.parametrize("gap", [0.05, 0.001, 1.0])
def test_a_strip_between_passes_is_exact(gap):
    """Passes s apart leave strips of s - D (formulas of the trade, ridge height: s > D)."""
    left = uncovered(BOARD, path(zigzag(25 + gap, 0, 110)))
    strips = [part.area for part in shapely.get_parts(left)]
    assert len(strips) == 4
    assert strips == pytest.approx([200 * gap] * 4, rel=1e-9)


def test_passes_that_just_meet_leave_nothing():
    assert uncovered(BOARD, path(zigzag(25.0, 0, 100))).area < 1e-9


@pytest.mark.parametrize(("step", "long"), [(20, 5.00), (15, 2.50), (10, 1.04)])
def test_edge_cusps_where_the_path_turns_round(step, long):
    """Textbook geometry: length R - sqrt(R² - (s/2)²), R 12.5, at every second gap; last centres R inside."""
    left = uncovered(shapely.box(0, 0, 200, 6 * step), path(zigzag(step, 0, 6 * step, inset=12.5)))
    cusps = [part for part in shapely.get_parts(left) if part.area > 1e-3]
    assert len(cusps) == 6  # every second gap at either end
    assert [c.bounds[2] - c.bounds[0] for c in cusps] == pytest.approx([long] * len(cusps), abs=5e-3)
    half = step / 2
    segment = 12.5**2 * np.arcsin(half / 12.5) - half * np.sqrt(12.5**2 - half**2)  # beyond the chord
    exact = step * long_of(12.5, step) - segment
    assert [c.area for c in cusps] == pytest.approx([exact] * len(cusps), abs=1e-3)


def long_of(radius, step):
    return radius - np.sqrt(radius**2 - (step / 2) ** 2)


@pytest.mark.parametrize(("radius", "area"), [(12.5, 33.53), (3.175, 2.163)])
def test_an_inside_corner_keeps_its_corner(radius, area):
    """Textbook geometry: R²(cot(t/2) - (pi - t)/2), 90°: 0.2146 R²."""
    corner = shapely.box(-radius, -radius, 0, 0)
    points = [(-3 * radius, -radius, 0.0), (-radius, -radius, 0.0), (-radius, -3 * radius, 0.0)]
    left = uncovered(corner, path(points, Cutter(number=1, shape="flat", diameter=2 * radius)))
    assert left.area == pytest.approx(area, abs=5e-3)
    assert left.area == pytest.approx((1 - np.pi / 4) * radius**2, abs=1e-3)


def test_a_ring_that_only_plunges_leaves_its_core():
    ring = Cutter(number=1, shape="facing", diameter=25.0, core=14.0)
    down = path([(50, 50, 5), (50, 50, -1)], ring)
    assert BOARD.area - uncovered(BOARD, down).area == pytest.approx(np.pi * (12.5**2 - 7**2), abs=1e-2)


@pytest.mark.parametrize("way", [3.0, 9.0, 13.9, 14.1])
def test_a_ring_leaves_the_lens_that_its_core_never_leaves(way):
    """Brute: a place is swept when some of many rings along the path covers it."""
    ring = Cutter(number=1, shape="facing", diameter=25.0, core=14.0)
    left = uncovered(shapely.box(30, 30, 80, 70), path([(50, 50, 0), (50 + way, 50, 0)], ring))
    x, y = np.meshgrid(np.arange(43, 71, 0.25) + 0.01, np.arange(43, 57, 0.25) + 0.01)
    distance = np.hypot(x[..., None] - np.linspace(50, 50 + way, 800), y[..., None] - 50)
    swept = ((distance >= 7) & (distance <= 12.5)).any(axis=-1)
    nearly = np.abs(distance.max(axis=-1) - 7) < 0.02
    seen = ~shapely.contains_xy(left, x, y)
    assert (seen == swept)[~nearly].all()
    assert (left.intersection(shapely.box(43, 43, 57 + way, 57)).area > 1e-4) == (way < 14)


def test_moves_in_one_line_are_one_pass():
    points = [(float(x), 50.0, 0.0) for x in range(200)]
    assert len(path(points).straights) == 1


def test_a_ramp_counts_from_where_it_is_low_enough():
    ramp = path([(0, 50, 1.0), (100, 50, -1.0)], highest=0.05)
    assert ramp.straights.start[0, 0] == pytest.approx(47.5)


def test_a_drill_reaches_as_wide_as_its_point_is_there():
    """Tip length Lt = (d/2)/tan(P/2): 0.3 above the tip, a 118° point is 0.3·tan 59° in radius."""
    hole = path([(50, 50, 5), (50, 50, -0.3)], Cutter(number=1, shape="drill", diameter=9.0), highest=0.0)
    assert hole.straights.reach[0] == pytest.approx([0.3 * np.tan(np.radians(59))] * 2)


@pytest.mark.parametrize("sweep", [0.5, -2.0, np.pi, -5.0, 2 * np.pi])
@pytest.mark.parametrize("radius", [3.0, 30.0])
def test_arcs_against_buffers(radius, sweep):
    """shapely's buffer of the arc in 20 000 chords."""
    builder, centre = MotionBuilder(), np.array([100.0, 50.0])
    start, end = (centre + radius * np.array([np.cos(a), np.sin(a)]) for a in (0.3, 0.3 + sweep))
    builder.arc(1, (*start, 0.0), (*end, 0.0), plane=17, centre=centre, sweep=sweep, feed=1000)
    motion = builder.motion()
    left = uncovered(BOARD, passes_below(motion, cutters(motion, FLAT), 0.05))
    swept = shapely.LineString(arc_points(motion, 0, 3e-4)[:, :2]).buffer(12.5, quad_segs=2000)
    assert shapely.symmetric_difference(left, BOARD.difference(swept)).area < 2e-2


spots = st.tuples(st.floats(-20, 220), st.floats(-20, 120))


@settings(max_examples=40, deadline=None)
@given(st.lists(spots, min_size=2, max_size=8))
def test_any_path_against_buffers(points):
    left = uncovered(BOARD, path([(x, y, 0.0) for x, y in points]))
    swept = shapely.union_all([shapely.LineString(pair).buffer(12.5, quad_segs=500)
                               for pair in itertools.pairwise(points)])
    assert shapely.symmetric_difference(left, BOARD.difference(swept)).area < 0.05


@settings(max_examples=25, deadline=None)
@given(st.floats(5, 40), st.integers(2, 5))
def test_more_passes_never_leave_more(step, times):
    left = uncovered(BOARD, path(zigzag(step, 0, 100)))
    finer = uncovered(BOARD, path(zigzag(step, 0, 100) + zigzag(step / times, 0, 100)))
    assert finer.area <= left.area + 1e-6


@settings(max_examples=25, deadline=None)
@given(st.lists(spots, min_size=2, max_size=6), st.floats(-500, 500), st.floats(-500, 500))
def test_moving_the_job_moves_what_is_left(points, dx, dy):
    left = uncovered(BOARD, path([(x, y, 0.0) for x, y in points]))
    there = shapely.affinity.translate(BOARD, dx, dy)
    moved = uncovered(there, path([(x + dx, y + dy, 0.0) for x, y in points]))
    assert moved.area == pytest.approx(left.area, abs=1e-3)


def test_a_gently_bending_path_of_many_moves():
    """An archimedean spiral of 2000 moves, 25.2 apart: what is left against shapely's buffer of it."""
    turn = np.sqrt(np.linspace(0, 1, 2001)) * 2 * np.pi * 5
    radius = 25.2 * turn / (2 * np.pi)
    points = np.column_stack((100 + radius * np.cos(turn), 50 + radius * np.sin(turn), np.zeros(2001)))
    left = uncovered(BOARD, path([tuple(p) for p in points.tolist()]))
    swept = shapely.union_all([shapely.LineString(points[i:i + 2, :2]).buffer(12.5, quad_segs=300)
                               for i in range(2000)])
    assert 1 < left.area == pytest.approx(BOARD.difference(swept).area, abs=0.1)


def test_a_rapid_straight_up_finishes_nothing():
    assert len(path([(50, 50, 0), (50, 50, 5)], kind=Move.RAPID)) == 0


def test_discs_lie_around_the_true_circle():
    around = disc((3, 4), 8.0)
    corners = shapely.get_coordinates(around.exterior) - (3, 4)
    assert np.hypot(*corners.T).min() >= 8.0
    assert np.hypot(*corners.T).max() <= 8.0 + 2e-5


def test_wanted_faces_and_holes():
    grid = Grid(start=(30, 30), count=(3, 2), pitch=(80, 40), stagger=5)
    holes = Holes(grid=grid, diameter=9.0, through=True)
    stage = Stage(name="a", program="a.nc", zero=(0, 0, -1), holes=(holes,),
                  face=(Face(x=(-10, 50), depth=0.4),))
    job = Job(board=Board(x=(0, 200), y=(0, 100)), cutters=(FLAT,), stages=(stage,))
    assert hole_spots(holes, job) == [(30, 30), (110, 30), (190, 30), (35, 70), (115, 70), (195, 70)]
    assert wanted_holes(job).area == pytest.approx(6 * np.pi * 4.5**2, rel=1e-4)
    face = wanted_faces(stage, BOARD)[0]
    assert face.area.bounds == (0, 0, 50, 100)
    assert face.z == pytest.approx(-1.4)
    assert face_area(Face(outline=((0, 0), (10, 0), (0, 10))), BOARD).area == 50
    assert face_area(Face(), BOARD).equals(BOARD)


@pytest.mark.parametrize(("shape", "more"), [
    ("ball", {}), ("bull", {"corner": Corner(radius=2)}), ("cone", {"angle": 90}),
    ("flat", {"corner": Corner(chamfer=1)})])
def test_a_slope_of_a_shaped_cutter_finishes_what_the_map_says(shape, more):
    """Ramps from over the face down to 2 under it: cells of 0.05 that end at or below its highest Z."""
    cutter = Cutter(number=1, shape=shape, diameter=12.0, **more)
    build = MotionBuilder()
    build.move(Move.FEED, 1, (-5, 15, 1.5), (60, 15, -2), feed=500)
    motion, board = build.motion(), shapely.box(0, 0, 50, 30)
    surface = Surface.of_board(board, 2.0, 0.05)
    cut_stage(surface, motion, [cutter], threads=1)
    standing = float((surface.heights > 0).sum()) * 0.05**2
    left = uncovered(board, passes_below(motion, cutters(motion, cutter), 0.0))
    assert left.area == pytest.approx(standing, abs=0.4)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.floats(0, 200), st.floats(0, 100), st.floats(0.5, 8)), max_size=12))
def test_what_lies_outside_holes_as_shapely_has_it(holes):
    """Holes well within the board, over its edges and over each other: against one plain difference."""
    gone = shapely.union_all([disc((x, y), radius) for x, y, radius in holes])
    left, wanted = without(BOARD, gone), shapely.difference(BOARD, gone)
    assert left.is_valid
    assert abs(left.area - wanted.area) < 1e-6
    assert shapely.symmetric_difference(left, wanted).area < 1e-6
