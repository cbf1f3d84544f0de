"""The cut: heights, depths and touches, held against stamping (stamping.py) and general-purpose libraries."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from proveout.parser.job import Cutter
from proveout.parser.motion import MotionBuilder, Move
from proveout.sim.cut import TILE, cut_stage
from proveout.sim.cutters import profile_of
from proveout.sim.surface import Surface
from scipy import ndimage

from .stamping import CUTTERS, EDGE, WIDE, arc, board, cut, feed, worst

turns = st.floats(-6.2, 6.2).filter(lambda turn: abs(turn) > 0.05)
coordinate = st.floats(1, 17, allow_nan=False).map(lambda v: round(v, 4))
slope = st.floats(-0.01, 0.01)
low = st.floats(-2.5, -0.05).map(lambda v: round(v, 4))
places = st.tuples(coordinate, coordinate, low)
shapes = pytest.mark.parametrize("shape", CUTTERS)


# --- heights against the oracle ------------------------------------------------------------------
CLOSED = 1e-5  # mm: closed forms, to what float32 rounds
CHORDED = 2e-4  # mm: arcs that go in chords (the design asks for 1e-3; 1e-4 is the worst seen in thousands)


@shapes
@settings(max_examples=8, deadline=None)
@given(start=places, end=places)
def test_ramps_cut_what_stamping_cuts(shape, start, end):
    assert worst(CUTTERS[shape], feed(start, end)) < CLOSED


@shapes
@settings(max_examples=8, deadline=None)
@given(start=places, end=places, along=st.sampled_from("xy-"))
def test_level_moves_cut_what_stamping_cuts(shape, start, end, along):
    end = {"x": (end[0], start[1]), "y": (start[0], end[1]), "-": end[:2]}[along]
    assert worst(CUTTERS[shape], feed(start, (*end, start[2]))) < CLOSED


@shapes
@settings(max_examples=3, deadline=None)
@given(at=places)
def test_plunges_cut_what_stamping_cuts(shape, at):
    assert worst(CUTTERS[shape], feed((*at[:2], 3.0), at)) < CLOSED


@shapes
@settings(max_examples=8, deadline=None)
@given(radius=st.floats(0.3, 6), start=st.floats(-7, 7), turn=st.floats(0.05, 6.6), back=st.booleans(), z=low)
def test_level_arcs_cut_what_stamping_cuts(shape, radius, start, turn, back, z):
    motion = arc((11.0, 9.0), radius, start, -turn if back else turn, z, z)
    assert worst(CUTTERS[shape], motion) < CLOSED


@shapes
@settings(max_examples=6, deadline=None)
@given(radius=st.floats(0.3, 6), start=st.floats(-7, 7), turn=turns, z=low, steep=st.floats(-0.5, 0.5))
def test_helices_cut_what_stamping_cuts(shape, radius, start, turn, z, steep):
    climb = steep * radius * abs(turn)
    motion = arc((11.0, 9.0), radius, start, 2.2 * turn, z, max(-5.0, min(-0.05, z + climb)))
    assert worst(CUTTERS[shape], motion) < (CLOSED if profile_of(CUTTERS[shape]).flat else CHORDED)


@shapes
@pytest.mark.parametrize("plane", [18, 19])
@settings(max_examples=3, deadline=None)
@given(radius=st.floats(1, 6), turn=turns, shift=st.floats(-2, 2))
def test_upright_arcs_cut_what_stamping_cuts(shape, plane, radius, turn, shift):
    centre = (radius - 1.5, 10.0) if plane == 18 else (9.0, radius - 1.5)
    motion = arc(centre, radius, 1.0, turn, 9.0, 9.0 + shift, plane=plane)
    assert worst(CUTTERS[shape], motion) < CHORDED


@shapes
@settings(max_examples=6, deadline=None)
@given(start=places, end=places, tilt=st.tuples(slope, slope), along=st.sampled_from("xy-d"))
def test_tilted_cutters_cut_what_stamping_cuts(shape, start, end, tilt, along):
    end = {"x": (end[0], *start[1:]), "y": (start[0], end[1], start[2]), "-": (*end[:2], start[2]),
           "d": end}[along]
    assert worst(CUTTERS[shape], feed(start, end), tilt) < CLOSED


@shapes
@settings(max_examples=3, deadline=None)
@given(radius=st.floats(2, 6), turn=turns, tilt=st.tuples(slope, slope))
def test_tilted_arcs_cut_what_stamping_cuts(shape, radius, turn, tilt):
    assert worst(CUTTERS[shape], arc((11.0, 9.0), radius, 0.3, turn, -1.0, -1.0), tilt) < CHORDED


def test_a_rotated_disc_is_the_sheared_one_to_second_order():
    """The disc turned about its axis' foot, point by point, against the formula of a tilted pass."""
    radius, a, b, low_z = 12.5, 2e-3, 1e-3, -0.4
    u, v = np.meshgrid(np.linspace(-1, 1, 2001) * radius, np.linspace(-1, 1, 401) * radius)
    normal = np.array([-a, -b, 1.0]) / math.hypot(a, b, 1.0)
    disc = np.hypot(u, v) <= radius
    z = -(normal[0] * u + normal[1] * v) / normal[2]  # the disc's plane over each place
    z = np.where(disc, z - z[disc].min() + low_z, np.inf)
    swept = z.min(axis=1)  # along the feed, X
    surface = Surface.of_board(shapely.box(0, -14, 10, 14), 0.0, 0.1)
    cut(surface, feed((-30, 0, low_z), (40, 0, low_z)), WIDE, tilt=(a, b))
    inside = np.abs(surface.y) < radius - 0.1
    assert np.allclose(surface.heights[inside, 50], np.interp(surface.y, v[:, 0], swept)[inside], atol=1e-4)


@pytest.mark.parametrize(("side", "feed_tilt", "step", "seam", "ridge"), [  # formulas of the trade, R 12.5
    (0.5e-3, 0.0, 20.0, 0.0100, None), (0.0, 0.5e-3, 20.0, 0.0, 0.0025), (1e-3, 1e-3, 20.0, 0.0100, 0.0152),
    (0.5e-3, 2e-3, 10.0, 0.0, 0.0023)])
def test_passes_of_a_tilted_cutter_leave_the_formulas_steps(side, feed_tilt, step, seam, ridge):
    """Step s·tan b; dish R·sin c·(1 - sqrt(1 - (s/2R)²)); both together by their crossing."""
    surface = Surface.of_board(shapely.box(0, 0, 0.01, 2 * step), 0.0, 0.002)
    for k in range(-2, 5):
        cut(surface, feed((-40, k * step, -1), (40, k * step, -1)), WIDE, tilt=(feed_tilt, side))
    across = surface.heights[:, 2].astype(float)
    assert np.abs(np.diff(across)).max() == pytest.approx(seam, abs=3e-4)
    if ridge is not None:
        assert across.max() - across.min() == pytest.approx(ridge, abs=1e-4)


# --- volumes -------------------------------------------------------------------------------------
@shapes
def test_what_moves_took_off_is_what_the_map_lost(shape):
    surface, before = board(0.25), board(0.25)
    motion = feed((3, 3, 5), (3, 3, -1), (18, 5, -1.5), (20, 15, -0.5), (4, 12, -2), (4, 12, 5))
    done = cut(surface, motion, CUTTERS[shape])
    lost = float((before.heights.astype(float) - surface.heights).sum()) * 0.25**2
    assert done.volume.sum() == pytest.approx(lost, rel=1e-9)
    assert done.lowest == surface.heights[surface.last >= 0].min()
    assert np.array_equal(done.before, before.heights)


def test_depth_and_area_are_before_less_after():
    surface = board(0.25)
    done = cut(surface, feed((6, 9, -1), (16, 9, -1)), CUTTERS["flat"])
    lowered = surface.heights < 0
    assert done.depth[0] == 1.0
    assert done.area[0] == lowered.sum() * 0.25**2
    assert done.mean_depth[0] == pytest.approx(1.0)
    assert surface.heights[lowered].max() == -1
    again = cut(surface, feed((6, 9, -1), (16, 9, -1)), CUTTERS["flat"])
    assert (again.volume[0], again.depth[0], again.lowest) == (0, 0, None)
    assert np.isnan(again.deepest_at).all()


def test_a_chorded_move_is_one_move():
    """Depth of a ball's helix is what the whole turn took off at a place, not what one chord did."""
    surface, before = board(0.25), board(0.25)
    done = cut(surface, arc((12, 9), 4.0, 0.0, 4 * math.pi, 0.0, -3.0), CUTTERS["ball"], first_id=7)
    taken = before.heights - surface.heights
    assert done.depth[0] == taken.max()
    j, i = np.unravel_index(taken.argmax(), taken.shape)
    assert done.deepest_at[0] == pytest.approx((surface.x[i], surface.y[j]))
    assert set(np.unique(surface.last)) == {-1, 7}
    assert done.volume[0] == pytest.approx(taken.sum(dtype=float) * 0.25**2, rel=1e-9)


# --- facing rings --------------------------------------------------------------------------------
def test_a_facing_cutter_leaves_what_only_its_core_passed_over():
    surface = board(0.1)
    cut(surface, feed((12, 9, 2), (12, 9, -1)), CUTTERS["facing"])
    x, y = np.meshgrid(surface.x, surface.y)
    rho = np.hypot(x - 12, y - 9)
    assert (surface.heights[rho < 2.3 - EDGE] == 0).all()
    assert (surface.heights[(rho > 2.3 + EDGE) & (rho < 4 - EDGE)] == -1).all()
    cut(surface, feed((12, 9, -1), (12 + 2 * 2.3, 9, -1)), CUTTERS["facing"])
    assert (surface.heights[rho < 2.2] == -1).all()  # a move as long as the core is wide clears it


def test_a_circle_smaller_than_the_core_leaves_a_post():
    surface = board(0.1)
    cut(surface, arc((12, 9), 1.0, 0, 2 * math.pi, -1, -1), CUTTERS["facing"])
    x, y = np.meshgrid(surface.x, surface.y)
    rho = np.hypot(x - 12, y - 9)
    assert (surface.heights[rho < 2.3 - 1 - EDGE] == 0).all()
    assert (surface.heights[(rho > 2.3 - 1 + EDGE) & (rho < 5 - EDGE)] == -1).all()


# --- erosion -------------------------------------------------------------------------------------
def test_level_flat_cuts_are_grey_erosion():
    """A flat cutter that visits every cell centre of a mask at its heights cuts the mask's grey erosion."""
    rng = np.random.default_rng(3)
    surface, cell = board(0.5), 0.5
    tip = np.full(surface.shape, 50.0)
    rows, columns = rng.integers(4, 32, 60), rng.integers(4, 44, 60)
    tip[rows, columns] = rng.uniform(-3, -0.1, 60)
    size = np.arange(-6, 7) * cell
    away = np.hypot(*np.meshgrid(size, size))
    disc = away <= 3.05
    assert (np.abs(away - 3.05) > EDGE).all()
    eroded = np.minimum(0.0, ndimage.grey_erosion(tip, footprint=disc, mode="constant", cval=50.0))
    for j, i in zip(rows, columns, strict=True):
        at = surface.x[i], surface.y[j]
        cut(surface, feed((*at, 9), (*at, tip[j, i])), Cutter(number=1, shape="flat", diameter=6.1))
    assert np.allclose(surface.heights, eroded, atol=1e-6)


# --- rapids --------------------------------------------------------------------------------------
def rapid(*points):
    return feed(*points, kind=Move.RAPID)


def test_a_rapid_in_air_touches_nothing():
    done = cut(board(), rapid((2, 9, 0.0), (20, 9, 0.0)), CUTTERS["flat"])
    assert done.touch[0] == 0
    assert done.volume[0] == 0


def test_a_rapid_through_the_board_touches_and_cuts_with_a_full_disc():
    surface = board(0.1)
    done = cut(surface, rapid((12, 9, 5), (12, 9, -0.5)), CUTTERS["facing"])
    assert done.touch[0] == pytest.approx(0.5)
    assert surface.heights[90, 120] == np.float32(-0.5)  # under the core
    x, y = done.touch_at[0]
    assert math.hypot(x - 12, y - 9) < 4.1
    assert done.volume[0] == pytest.approx(math.pi * 16 * 0.5, rel=1e-2)


@pytest.mark.parametrize(("below", "touches"), [(0.01, False), (0.0101, True), (0.02, True)])
def test_a_rapid_touches_from_a_hundredth_on(below, touches):
    surface = board()
    done = cut(surface, rapid((2, 9, -below), (20, 9, -below)), CUTTERS["flat"])
    assert (done.touch[0] > 0) == touches
    assert (done.volume[0] > 0) == touches
    assert (surface.heights.min() < 0) == touches


def test_a_rapid_touches_half_a_cells_diagonal_beyond_its_footprint():
    surface = board(1.0)
    surface.heights[:] = -5
    surface.heights[9, 12] = 0.0  # a post at (12.5, 9.5)
    for gap, touches in ((0.70, True), (0.72, False)):
        done = cut(surface, rapid((12.5 - 3 - gap, 9.5, 9), (12.5 - 3 - gap, 9.5, -2)), CUTTERS["flat"])
        assert (done.touch[0] > 0) == touches
        assert done.volume[0] == 0
    assert surface.heights[9, 12] == 0


def test_straight_up_never_touches():
    surface = board()
    done = cut(surface, rapid((12, 9, -3), (12, 9, 5)), CUTTERS["flat"])
    assert (done.touch[0], done.volume[0]) == (0, 0)
    assert surface.heights.min() == 0


def pecking(x=9.0, other=None):
    """A peck, out, back down the same axis (shifted by `other`), and on."""
    builder = MotionBuilder()
    builder.move(Move.FEED, 1, (x, 9, 2), (x, 9, -2), feed=100.0)
    builder.move(Move.RAPID, 1, (x, 9, -2), (x, 9, 2))
    builder.move(Move.RAPID, 1, (x + (other or 0.0), 9, 2), (x + (other or 0.0), 9, -1.8))
    builder.move(Move.FEED, 1, (x, 9, -1.8), (x, 9, -4), feed=100.0)
    return builder.motion()


def test_a_peck_goes_back_into_its_own_hole():
    done = cut(board(0.1), pecking(), CUTTERS["drill"])
    assert (done.touch == 0).all()
    assert done.volume[2] == 0
    assert cut(board(0.1), pecking(other=0.3), CUTTERS["drill"]).touch[2] > 0.01


def test_a_rapid_below_its_peck_touches():
    motion = pecking()
    motion.end[2, 2] = -2.5
    assert cut(board(0.1), motion, CUTTERS["drill"]).touch[2] > 0.49


def test_another_cutters_hole_is_not_its_own():
    narrow = Cutter(number=2, shape="drill", diameter=3.0)
    wide = CUTTERS["drill"]
    done = cut_stage(board(0.1), pecking(), [narrow, narrow, wide, wide])
    assert done.touch[2] > 0.5


# --- laws ----------------------------------------------------------------------------------------
tours = st.lists(places, min_size=2, max_size=6)


def heights_of(motion, cutter, **more):
    surface = board(0.5)
    cut(surface, motion, cutter, **more)
    return surface.heights


@shapes
@settings(max_examples=4, deadline=None)
@given(tour=tours)
def test_heights_never_rise_and_a_reversed_program_cuts_the_same(shape, tour):
    there = heights_of(feed(*tour), CUTTERS[shape])
    assert (there <= 0).all()
    assert np.allclose(there, heights_of(feed(*tour[::-1]), CUTTERS[shape]), atol=1e-5)


@shapes
@settings(max_examples=4, deadline=None)
@given(start=places, end=places, part=st.floats(0.1, 0.9))
def test_a_split_move_cuts_the_same(shape, start, end, part):
    middle = tuple(a + part * (b - a) for a, b in zip(start, end, strict=True))
    whole = heights_of(feed(start, end), CUTTERS[shape])
    parts = heights_of(feed(start, middle, end), CUTTERS[shape])
    differ = np.abs(whole - parts) > 2e-5
    assert differ.sum() <= 2  # a cell on a footprint's very edge may fall either way


@shapes
@settings(max_examples=4, deadline=None)
@given(tour=tours)
def test_a_mirrored_program_gives_a_mirrored_board(shape, tour):
    there = heights_of(feed(*tour), CUTTERS[shape])
    mirrored = heights_of(feed(*((24 - x, y, z) for x, y, z in tour)), CUTTERS[shape])
    differ = np.abs(there - mirrored[:, ::-1]) > 2e-5
    assert differ.sum() <= 2  # a cell on a footprint's very edge may fall either way


def turned(x, y):
    """A quarter turn about the middle of a board of 24 x 24 mm."""
    return 24 - y, x


@shapes
@settings(max_examples=3, deadline=None)
@given(tour=tours, radius=st.floats(1, 5), turn=turns, tilt=st.tuples(slope, slope))
def test_a_quarter_turn_of_the_job_turns_the_result(shape, tour, radius, turn, tilt):
    """Straight moves and a helix, under a spindle that leans and turns with the job."""
    answers = []
    for way in (lambda x, y: (x, y), turned):
        surface = board(0.5, outline=shapely.box(0, 0, 24, 24))
        first = math.pi / 2 if way is turned else 0.0
        moves = (feed(*((*way(x, y), z) for x, y, z in tour)),
                 arc(way(11.0, 9.0), radius, 0.3 + first, turn, -0.2, -1.0))
        for motion in moves:
            cut(surface, motion, CUTTERS[shape], tilt=(-tilt[1], tilt[0]) if way is turned else tilt)
        answers.append(surface.heights)
    differ = np.abs(np.rot90(answers[0], -1) - answers[1]) > 2e-5
    assert differ.sum() <= 4  # a cell on a footprint's very edge may fall either way


@pytest.mark.parametrize("shape", ["flat", "ball", "cone", "rounded facing"])
def test_heights_do_not_depend_on_the_cell(shape):
    """A coarse map has, at its cells' middles, the heights that a fine one has there."""
    motion = feed((3, 3, 2), (3, 3, -1), (18, 5, -1.5), (20, 15, -0.5), (4, 12, -2))
    coarse, fine = board(0.6), board(0.2)
    for surface in (coarse, fine):
        cut(surface, motion, CUTTERS[shape])
    differ = np.abs(coarse.heights - fine.heights[1::3, 1::3]) > 1e-5
    assert differ.mean() < 1e-3  # cells on a footprint's very edge


@settings(max_examples=6, deadline=None)
@given(tour=tours, order=st.randoms())
def test_the_order_of_moves_with_one_cutter_does_not_matter(tour, order):
    moves = list(pairwise(tour))
    there, then = board(0.5), board(0.5)
    for move in moves:
        cut(there, feed(*move), CUTTERS["bull"])
    order.shuffle(moves)
    for move in moves:
        cut(then, feed(*move), CUTTERS["bull"])
    assert np.allclose(there.heights, then.heights, atol=1e-5)


@pytest.mark.parametrize("shape", ["flat", "ball", "cone", "drill"])
@settings(max_examples=4, deadline=None)
@given(tour=tours, grow=st.floats(0.01, 2))
def test_growing_a_cutter_never_raises_a_cell(shape, tour, grow):
    cutter = CUTTERS[shape]
    wider = Cutter(number=1, shape=shape, diameter=cutter.diameter + grow, angle=cutter.angle, tip=cutter.tip)
    assert (heights_of(feed(*tour), wider) <= heights_of(feed(*tour), cutter) + 1e-5).all()


def many_tiles(seed=1):
    """A board of many tiles, and moves of every kind across it."""
    rng = np.random.default_rng(seed)
    surface = Surface.of_board(shapely.box(0, 0, TILE[1] * 0.1 * 2.3, TILE[0] * 0.1 * 5.4), 0.0, 0.1)
    at = rng.uniform((-5, -5, -2), (240, 75, -0.1), (30, 3))
    builder = MotionBuilder()
    for a, b in pairwise(at):
        builder.move(Move.RAPID if rng.random() < 0.2 else Move.FEED, 1, a, b, feed=1.0)
    for x, y, z in at[:8]:
        builder.arc(1, (x + 9, y, z), (x + 9, y, z - 1), plane=17, centre=(x, y), sweep=2 * math.pi, feed=1.0)
        builder.arc(1, (x + 9, y, z), (x - 9, y, z), plane=18, centre=(z, x), sweep=math.pi, feed=1.0)
    return surface, builder.motion()


def test_the_number_of_threads_does_not_matter_bit_for_bit():
    answers = []
    for threads in (1, 2, 7):
        surface, motion = many_tiles()
        done = cut_stage(surface, motion, [CUTTERS["bull"]] * len(motion), threads=threads)
        answers.append([surface.heights, surface.last, done.volume, done.area, done.depth, done.deepest_at,
                        done.touch, done.touch_at, np.array([done.lowest])])
    for other in answers[1:]:
        for a, b in zip(answers[0], other, strict=True):
            assert a.tobytes() == b.tobytes()


def test_tiles_are_not_seen_in_the_answer():
    """The same job, shifted against the tiles by part of one."""
    surface, motion = many_tiles()
    cut(surface, motion, CUTTERS["flat"])
    x0, y0 = surface.x0 - 37 * 0.1, surface.y0 - 55 * 0.1
    wide = Surface.of_board(shapely.box(x0, y0, TILE[1] * 0.1 * 2.3, TILE[0] * 0.1 * 5.4), 0.0, 0.1)
    cut(wide, motion, CUTTERS["flat"])
    differ = np.abs(wide.heights[55:, 37:] - surface.heights) > 1e-5
    assert differ.mean() < 1e-5  # cells on a footprint's very edge, whose centre is rounded otherwise


def test_off_the_board_nothing_is_cut():
    outline = shapely.Polygon([(0, 0), (24, 0), (12, 18)])
    surface = board(0.5, outline=outline)
    off = np.isnan(surface.heights)
    done = cut(surface, feed((-10, 9, -1), (40, 9, -1)), CUTTERS["flat"])
    assert np.array_equal(off, np.isnan(surface.heights))
    assert (surface.last[off] == -1).all()
    assert done.volume[0] == pytest.approx((surface.heights == -1).sum() * 0.25)
    assert cut(surface, feed((100, 100, -5), (200, 100, -5)), CUTTERS["flat"]).lowest is None


def test_moves_without_place_or_cutter_are_left_out():
    motion = feed((2, 9, -1), (8, 9, -1), (14, 9, -1), (20, 9, -1))
    motion.start[1, 2] = np.nan
    surface = board()
    done = cut_stage(surface, motion, [CUTTERS["flat"], CUTTERS["flat"], None], first_id=40)
    assert (done.volume > 0).tolist() == [True, False, False]
    assert set(np.unique(surface.last)) == {-1, 40}


def test_each_move_cuts_with_its_own_cutter_and_marks_its_number():
    surface = board(0.1)
    motion = feed((5, 4, 5), (5, 4, -1), (5, 4, 5), (15, 12, 5), (15, 12, -2))
    done = cut_stage(surface, motion, [CUTTERS["flat"]] * 3 + [CUTTERS["drill"]], first_id=100)
    x, y = np.meshgrid(surface.x, surface.y)
    assert (surface.last[np.hypot(x - 5, y - 4) < 2.9] == 100).all()
    assert (surface.last[np.hypot(x - 15, y - 12) < 1.0] == 103).all()
    assert done.volume[1] == done.volume[2] == 0


def test_progress_reaches_the_whole():
    told = []
    surface, motion = many_tiles()
    cut(surface, motion, CUTTERS["ball"], progress=told.append)
    assert told[-1] == 1.0
    assert told == sorted(told)


def test_an_empty_motion_cuts_nothing():
    done = cut(board(), MotionBuilder().motion(), CUTTERS["flat"])
    assert (len(done.volume), done.lowest) == (0, None)
