"""Width, angles, rate and power against the handbook's worked numbers and slots of known width."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from proveout.parser.job import Cutter
from proveout.parser.jobfile import read_job
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
from proveout.sim.fitting import KNOWN
from proveout.sim.materials import material
from proveout.sim.surface import Surface
from proveout.sim.verify import verify

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


FACE = """format = 1
machine = { dialect = "standard" }
board = { material = "MDF", x = [0, 200], y = [0, 100], thickness = 18 }
cutters = [{ number = 1, shape = "flat", diameter = 25 }]
stages = [{ name = "face", program = "face.nc", start = [-20, 10, 5], cutter = 1 }]
"""
PROGRAM = "G21 G90 G94 G17\nG0 Z-0.4\nG1 X220 F2000\nG1 Y30\nG1 X-20\nG1 X100 Y70 Z-2\nG0 Z5\nM30\n"


@pytest.fixture(scope="module")
def faced(tmp_path_factory):
    """A first pass of 22.5 wide over a board of 200, one of 20, and a ramp; the answer of a check."""
    folder = tmp_path_factory.mktemp("faced")
    (folder / "job.toml").write_text(FACE)
    (folder / "face.nc").write_text(PROGRAM)
    return verify(read_job(folder / "job.toml", KNOWN))


def test_what_every_move_removes_adds_up_to_what_the_map_lost(faced):
    """The cells' own sum, in the same double precision."""
    record, surface = faced.records[0], faced.surface
    lost = (record.cut.before.astype(float) - surface.heights).sum() * surface.cell**2
    assert record.effort.volume.sum() == pytest.approx(lost, rel=1e-9)


def test_width_rate_and_power_of_a_pass_of_known_width(faced):
    """Q = a_p·a_e·v_f and P = Q·k_c: 0.4 mm x 20 mm x 2000 mm/min, machining handbook standard formulas."""
    effort, motion = faced.records[0].effort, faced.records[0].reading.motion
    row = int(np.flatnonzero(motion.line == 5)[0])
    assert effort.width[row] == pytest.approx(20, rel=1e-2)
    assert effort.rate[row] == pytest.approx(0.4 * 20 * 2000, rel=1e-2)
    assert effort.power[row] == pytest.approx(16_000 * material("MDF").energy[1] / 60_000_000, rel=1e-2)
    assert effort.contact[row] == pytest.approx(math.degrees(math.acos(1 - 2 * 20 / 25)), rel=1e-2)
    assert np.isnan(effort.width[motion.line == 2]).all()


def test_the_hardest_moves_are_named_by_their_lines(faced):
    """The ramp is the deepest and the only one that goes down into material: 1.6 mm over 126.5 mm."""
    most = {each.what: each for each in faced.stages[0].hardest}
    assert most["depth"].line == most["entry"].line == 6
    assert most["depth"].value == pytest.approx(2.0, abs=1e-2)
    assert most["entry"].value == pytest.approx(math.degrees(math.atan2(1.6, math.hypot(120, 40))), abs=1e-6)
    assert most["volume"].value == faced.records[0].effort.volume.max()
