"""Width, angles, rate and power against the handbook's worked numbers and slots of known width."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from proveout.parser.job import Cutter
from proveout.parser.motion import MotionBuilder, Move
from proveout.sim.cut import cut_stage
from proveout.sim.effort import (
    contact_angles,
    entry_angles,
    plan_lengths,
    powers,
    removal_rates,
    widths_engaged,
)
from proveout.sim.surface import Surface

CUTTER = Cutter(number=1, shape="flat", diameter=25.0)


@pytest.fixture
def passes():
    """Plunge, a full slot, step over 20, a pass of 20 wide, a ramp in fresh material."""
    builder = MotionBuilder()
    points = [(-20, 20, 5), (-20, 20, -0.4), (120, 20, -0.4), (120, 40, -0.4), (-20, 40, -0.4)]
    for a, b in pairwise(points):
        builder.move(Move.FEED, 1, a, b, feed=2000.0)
    builder.move(Move.FEED, 1, (20, 80, 0), (80, 80, -10), feed=2000.0)
    builder.move(Move.FEED, 1, (50, 110, 5), (50, 110, -3), feed=200.0)
    return builder.motion()


@pytest.fixture
def done(passes):
    return cut_stage(Surface.of_board(shapely.box(0, 0, 100, 130), 0.0, 0.1), passes, [CUTTER] * len(passes))


def test_width_is_that_of_the_slot(done, passes):
    width = widths_engaged(done, passes, [CUTTER] * len(passes))
    length = plan_lengths(passes)
    assert np.isnan(width[0])
    assert width[1] * length[1] == pytest.approx(25 * 100, rel=1e-2)  # the board is shorter than the pass
    assert width[3] * length[3] == pytest.approx(20 * 100, rel=1e-2)
    assert width[5] == 25.0


def test_angles(done, passes):
    entry = entry_angles(done, passes)
    assert np.isnan(entry[0])
    assert entry[1] == 0
    assert entry[4] == pytest.approx(math.degrees(math.atan2(10, 60)))
    assert entry[5] == 90
    assert contact_angles(np.array([25.0, 12.5, 6.25]), np.array([25.0])) == pytest.approx([180, 90, 60])


def test_rate_and_power_of_the_worked_example():
    """a_e 20, a_p 0.4, v_f 2000: Q = 16 000 mm³/min; at k_c 40: 10.7 W (machining handbook formulas)."""
    builder = MotionBuilder()
    builder.move(Move.FEED, 1, (-20, 20, -0.4), (120, 20, -0.4), feed=2000.0)
    builder.move(Move.FEED, 1, (20, 40, -0.4), (80, 40, -0.4), feed=2000.0)
    motion = builder.motion()
    plunged = Surface.of_board(shapely.box(0, 0, 100, 60), 0.0, 0.1)
    disc = shapely.Point(20, 40).buffer(12.5)  # the second pass starts where the cutter already stands
    plunged.carve(disc, -0.4)
    done = cut_stage(plunged, motion, [CUTTER] * 2)
    rate = removal_rates(done, motion.length() / 2000 * 60)
    assert rate[1] == pytest.approx(16_000, rel=0.02)
    assert powers(np.array([16_000.0]), 40.0) == pytest.approx([10.667], abs=1e-3)
    assert np.isnan(removal_rates(done, np.array([1.0, 0.0]))[1])
