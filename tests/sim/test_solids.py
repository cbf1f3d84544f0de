"""Bodies from the job: where heads, clamps and openings stand, by hand."""

from __future__ import annotations

from dataclasses import replace
from math import atan2, hypot, inf

import numpy as np
import pytest
import shapely
from proveout.parser.job import (
    Bed,
    Board,
    Clamp,
    Cutter,
    Fastener,
    Grid,
    Head,
    Job,
    Measured,
    Opening,
    Recess,
    Stage,
)
from proveout.sim.hardware import HardwareUnknown
from proveout.sim.seating import heads_of
from proveout.sim.solids import bed_of, clamps_of
from proveout.sim.surface import Surface

BUTTON = Fastener(name="edge screws", screw="ISO 7380-1 M8", washer="ISO 7089 M8", at=((20, 20), (80, 20)),
                  seat=-9.0)
JOB = Job(board=Board(thickness=18.0), cutters=(Cutter(number=1, shape="flat", diameter=6),),
          stages=(Stage(name="face", program="face.nc"),))


@pytest.fixture
def surface() -> Surface:
    """A board 100 by 60 with its top at -0.4, a counterbore of 17 to -9.4 at (20, 20)."""
    surface = Surface.of_board(shapely.box(0, 0, 100, 60), -0.4, 0.25)
    surface.carve(shapely.Point(20, 20).buffer(8.5), -9.4)
    return surface


def test_a_button_head_on_its_washer(surface):
    """ISO 7380-1 M8 is 4.4 high, ISO 7089 M8 at most 1.8: on a seat at -9 the top is at -2.8."""
    head, washer, second, _ = heads_of(BUTTON, surface)
    assert (head.about, head.part, head.radius) == ("edge screws 1", "head", 7.0)
    assert head.top == pytest.approx(-2.8)
    assert (washer.about, washer.part, washer.radius) == ("edge screws 1", "washer", 8.0)
    assert (washer.top, washer.bottom) == (pytest.approx(-7.2), pytest.approx(-9.0))
    assert (second.about, second.at, second.place) == ("edge screws 2", (80.0, 20.0), None)


def test_a_seat_on_the_floor_is_the_surface_as_it_is(surface):
    """-9.4 + 1.8 + 4.4 = -3.2 in the counterbore; the second head stands on the board: 5.8."""
    heads = [h for h in heads_of(replace(BUTTON, seat="floor"), surface) if h.part == "head"]
    assert [h.top for h in heads] == [pytest.approx(-3.2, abs=1e-6), pytest.approx(5.8, abs=1e-6)]


def test_the_highest_place_under_the_ring_bears(surface):
    surface.raise_to(shapely.box(20, 15, 22, 16), -9.0)
    assert heads_of(replace(BUTTON, seat="floor"), surface)[0].top == pytest.approx(-2.8, abs=1e-6)
    bore = shapely.Point(20, 20).buffer(3)  # what stands within the thread's own circle bears nothing
    surface.carve(shapely.box(20, 15, 22, 16), -9.4)
    surface.raise_to(bore, -1.0)
    assert heads_of(replace(BUTTON, seat="floor"), surface)[0].top == pytest.approx(-3.2, abs=1e-6)


def test_sunk_is_read_from_the_board_as_faced(surface):
    """2.2 under the face at -0.4: -2.6, whatever the recess."""
    sunk = replace(BUTTON, seat=None, sunk=2.2, recess=Recess(diameter=17, depth=9))
    assert heads_of(sunk, surface)[0].top == pytest.approx(-2.6, abs=1e-6)


def test_the_higher_of_table_and_measurement_counts(surface):
    """The table says -2.8; measured 0.6 under the face it is at -1.0, measured 5 under it the table holds."""
    recess = Recess(diameter=17, depth=9)
    high = replace(BUTTON, measured=(Measured(at=(20.0, 20.0), sunk=0.6),), recess=recess)
    low = replace(high, measured=(Measured(at=(20.0, 20.0), sunk=5.0),))
    tops = [h.top for h in heads_of(high, surface) if h.part == "head"]
    assert tops == [pytest.approx(-1.0, abs=1e-6), pytest.approx(-2.8)]
    assert heads_of(low, surface)[0].top == pytest.approx(-2.8)


def test_a_countersunk_seat_is_the_top_of_the_head(surface):
    """ISO 10642 M6 is 13.44 wide and 3.72 high; a washer under it is none."""
    flush = Fastener(name="flush", screw="ISO 10642 M6", washer="ISO 7089 M6", at=((50.0, 30.0),), seat=-1.5)
    [head] = heads_of(flush, surface)
    assert (head.radius, head.top, head.bottom) == (pytest.approx(6.72), -1.5, pytest.approx(-5.22))


def test_a_grid_runs_along_x_first_and_knows_its_places(surface):
    grid = Grid(start=(10.0, 10.0), count=(3, 2), pitch=(20.0, 30.0), stagger=10.0)
    heads = heads_of(Fastener(name="grid", head=Head(diameter=10, height=3), grid=grid, seat=-5.0), surface)
    assert [h.at for h in heads] == [(10, 10), (30, 10), (50, 10), (20, 40), (40, 40), (60, 40)]
    assert [h.place for h in heads] == [(1, 1), (1, 2), (1, 3), (2, 1), (2, 2), (2, 3)]
    assert [h.number for h in heads] == [1, 2, 3, 4, 5, 6]


def test_wood_screws_want_more_room_until_they_are_measured(surface):
    wood = Fastener(name="wood", screw="generic chipboard screw flat 4 mm", at=((50.0, 30.0),), seat=-1.5)
    assert heads_of(wood, surface)[0].near == 2.0
    assert heads_of(replace(wood, measured=(Measured(at=(50.0, 30.0), sunk=1.0),)), surface)[0].near == 1.0
    assert heads_of(wood, surface, near=0.5)[0].near == 0.5
    assert heads_of(BUTTON, surface)[0].near == 1.0


def test_bad_hardware_and_no_board_are_said(surface):
    with pytest.raises(HardwareUnknown, match="ISO 7380-1 M8"):
        heads_of(replace(BUTTON, screw="ISO 7380-1 M88"), surface)
    with pytest.raises(ValueError, match="no board lies under the head of edge screws 1"):
        heads_of(replace(BUTTON, at=((500.0, 20.0),), seat="floor"), surface)


def test_clamps_are_boxes_posts_and_bars():
    [box] = clamps_of(Clamp(name="a", x=(0, 40), y=(-20, 15), z=(0, 22)), -18.0, 0.0)
    assert (box.footprint.at, box.footprint.half, box.top, box.bottom) == ((20, -2.5), (20, 17.5), 22, 0)
    [post] = clamps_of(Clamp(name="b", at=(10, 20), diameter=16, above=22), -18.0, 5.0)
    assert (post.footprint.round, post.top, post.bottom) == (8, 27, -18)
    [bar] = clamps_of(Clamp.__pydantic_validator__.validate_python(
        {"name": "c", "from": (0, 0), "to": (30, 40), "width": 12, "above": 9}), None, 0.0)
    assert bar.footprint.half == (25, 6)
    assert bar.footprint.turn == pytest.approx(atan2(40, 30))
    assert (bar.top, bar.bottom) == (9, -inf)
    assert bar.footprint.shape.area == pytest.approx(50 * 12)
    assert min(hypot(*corner) for corner in bar.footprint.shape.exterior.coords) == pytest.approx(6)  # square


def test_clamps_set_down_by_hand_want_more_beside_them():
    clamp = Clamp(name="a", x=(0, 40), y=(-20, 15), z=(0, 22))
    assert clamps_of(clamp, -18.0, 0.0)[0].beside == 2.0
    assert clamps_of(clamp, -18.0, 0.0, by_hand=True)[0].beside == 5.0


def test_the_bed_lies_under_the_board_unless_it_is_given():
    assert bed_of(JOB).top == -18.0
    assert bed_of(replace(JOB, bed=Bed(top=-20.0, soft=True))).soft
    assert bed_of(replace(JOB, board=Board())) is None


def test_openings_of_the_bed():
    """A grid of tapped holes with mouths (10 - 6.65)/2 wider on each side, and a slot."""
    grid = Grid(start=(30, 30), count=(2, 2), pitch=(80, 80))
    holes = Opening(name="holes", diameter=6.65, mouth=10, depth=20, grid=grid)
    slot = Opening(name="slot", x=(0, 600), y=(146, 154))
    bed = bed_of(replace(JOB, bed=Bed(openings=(holes, slot))))
    assert [o.at for o in bed.openings] == [(30, 30), (110, 30), (30, 110), (110, 110), (300, 150)]
    assert bed.openings[0].chamfer == pytest.approx(1.675)
    assert (bed.openings[4].half, bed.openings[4].depth) == ((300, 4), inf)
    assert np.isfinite([o.depth for o in bed.openings[:4]]).all()
