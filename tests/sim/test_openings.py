"""Openings of the bed that touch are judged as one. Oracles: the plan by hand, and shapely over the whole
way.

The board is 18 thick, the bed at -18; the mill is 8 wide.
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from proveout.parser.job import Cutter
from proveout.sim.cutters import profile_of
from proveout.sim.openings import freed, touching, within
from proveout.sim.solids import OpeningSolid

MILL = '[[cutters]]\nnumber = 1\nshape = "flat"\ndiameter = {}\nedges = 2\nflute_length = 40\n'
ALONG = "G0 X{}\nG0 Y50\nG0 Z2\nG1 Z-20 F300\nG1 X{} F900\nG0 Z20\n"
SLOT = "{ x = [20, 100], y = [46, 54], depth = 5 }"


def bed(*openings: str) -> str:
    return f"openings = [ {', '.join(openings)} ]"


def round_(x: float, diameter: float, **keys: float) -> str:
    more = "".join(f", {key} = {value}" for key, value in keys.items())
    return f"{{ diameter = {diameter}, at = [[{x}, 50]]{more} }}"


@pytest.mark.parametrize(("hole", "ends", "struck"), [
    (10, 98, False),   # the rim at X102 is within the hole of 10 about X100
    (10, 100.99, False), (10, 101.01, True),  # 4 beside the axis plus 1.01 is more than 5
    (7.0, 98, False), (6.9, 98, True),  # the rim crosses the slot's end sqrt(12) = 3.464 beside the middle
])
def test_a_slot_that_runs_into_a_hole(found, hole, ends, struck):
    """From X30 to its end in one move: neither slot nor hole holds all of it, both together do."""
    said = found("bed-strike", ALONG.format(30, ends), bed=bed(SLOT, round_(100, hole, depth=5)),
                 cutters=MILL.format(8))
    assert bool(said) is struck


@pytest.mark.parametrize(("depth", "struck"), [(2, False), (1.99, True)])
def test_the_shallower_of_two_counts(found, depth, struck):
    """The mill goes 2 below the bed's face; where the slot is less deep its floor is met."""
    slot = SLOT.replace("depth = 5", f"depth = {depth}")
    said = found("bed-strike", ALONG.format(30, 98), bed=bed(slot, round_(100, 10, depth=5)),
                 cutters=MILL.format(8))
    assert bool(said) is struck


def test_crossing_slots_leave_their_corners_standing(found):
    across = "{ x = [56, 64], y = [0, 100], depth = 5 }"
    drill = "G0 X60 Y50\nG0 Z2\nG1 Z-20 F300\nG0 Z20\n"
    for wide, count in ((8, 0), (11.3, 0), (11.33, 1)):  # 4 x sqrt(2) from the axis to a corner: 11.314 wide
        assert len(found("bed-strike", drill, bed=bed(SLOT, across), cutters=MILL.format(wide))) == count


def test_openings_side_by_side_are_one_wider_one(found):
    halves = "{ x = [20, 100], y = [40, 50], depth = 5 }", "{ x = [20, 100], y = [50, 60], depth = 5 }"
    assert found("bed-strike", ALONG.format(30, 90), bed=bed(*halves), cutters=MILL.format(8)) == []
    apart = halves[0].replace("50]", "49.99]")
    said = found("bed-strike", ALONG.format(30, 90), bed=bed(apart, halves[1]), cutters=MILL.format(8))
    assert len(said) == 1


def test_the_gap_that_stays_is_another_moves(judged):
    """What is free in two openings together has no gap of its own: the next nearest is told."""
    result = judged(ALONG.format(30, 98), bed=bed(SLOT, round_(100, 10, depth=5)), cutters=MILL.format(8))
    gap = next(c for c in result.stages[0].clearances if c.about == "bed")
    assert gap.clearance >= 0


def test_a_point_in_a_chamfer_that_touches_a_slot():
    """A drill of 6.6 over a thread of 4.917 with a mouth of 6.6: through, as over that hole alone; the slot
    beside it takes nothing away."""
    profile = profile_of(Cutter(number=1, shape="drill", diameter=6.6))
    hole = OpeningSolid("t", (0, 0), (2.4585, 2.4585), radius=2.4585, chamfer=(6.6 - 4.917) / 2)
    slot = OpeningSolid("s", (10, 0), (8, 2))
    for tip, free in ((1.9, True), (2.2, False)):
        assert within(0.0, [hole, slot], profile, np.array([[0.0, 0.0, -tip]])) is free


def test_what_does_not_touch_is_in_no_group():
    alone = [OpeningSolid("a", (0, 0), (5, 5)), OpeningSolid("b", (11, 0), (5, 5))]
    assert touching(alone) == []
    assert len(touching([*alone, OpeningSolid("c", (5.5, 0), (1, 1))])[0]) == 3


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.floats(-8, 8), st.floats(-8, 8), st.floats(1, 6), st.floats(1, 6)), min_size=2,
                max_size=4), st.floats(-8, 8), st.floats(-8, 8), st.floats(0.5, 4))
def test_a_level_way_is_free_where_its_whole_width_lies_in_the_openings(boxes, x, y, radius):
    """Shapely's union and buffer of the same shapes, away from the border by more than rounding."""
    group = [OpeningSolid("o", (a, b), (c, d)) for a, b, c, d in boxes]
    region = shapely.union_all([shapely.box(a - c, b - d, a + c, b + d) for a, b, c, d in boxes])
    way = np.array([[0.0, 0.0, -1.0], [x, y, -1.0]])
    swept = shapely.LineString(way[:, :2]).buffer(radius, quad_segs=128)
    profile = profile_of(Cutter(number=1, shape="flat", diameter=2 * radius))
    got = within(0.0, group, profile, way)
    if shapely.covers(region.buffer(-1e-2), swept):
        assert got
    elif not shapely.covers(region.buffer(1e-2), swept):
        assert not got


def test_nothing_is_asked_where_no_openings_touch():
    from proveout.sim.solids import BedSolid

    bed_ = BedSolid(0.0, openings=(OpeningSolid("a", (0, 0), radius=3), OpeningSolid("b", (50, 0), radius=3)))
    assert not freed(bed_, None, np.zeros((3, 3)), np.empty(0, object)).any()  # type: ignore[arg-type]
