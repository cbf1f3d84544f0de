"""How far zero may be off and how much doubt a job bears: against sampled paths, and by hand.

The oracle moves sampled places of the cutter by small steps until one of them is in a body; it shares no
code with what is tested.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from math import inf

import numpy as np
import pytest
import shapely
from proveout.parser.job import Cutter, Machine
from proveout.parser.motion import MotionBuilder, Move
from proveout.sim.clearance import clearances
from proveout.sim.evidence import Phase
from proveout.sim.slack import DIRECTIONS, FARTHEST
from proveout.sim.solids import BedSolid, ClampSolid, Footprint, HeadSolid, OpeningSolid, Solids

MILL = Cutter(number=1, shape="flat", diameter=10)


def slack(places, solids: Solids, **given):
    builder = MotionBuilder()
    for a, b in pairwise(places):
        builder.move(Move.FEED, 1, a, b, feed=1000.0)
    motion = builder.motion()
    cutters = np.empty(len(motion), object)
    cutters[:] = [MILL] * len(motion)
    return clearances(motion, cutters, (Phase(0, len(motion), solids),), **given).slack


def bodies(rng) -> tuple:
    spots = rng.uniform(-60, 60, (4, 2))
    box, post = Footprint(tuple(spots[0]), (8.0, 14.0)), Footprint(tuple(spots[1]), round=9.0)
    return (HeadSolid("s 1", "s", 1, tuple(spots[2]), 7.0, -1.0, -5.0),
            ClampSolid("box", box, 6.0, -18.0), ClampSolid("post", post, 12.0, -18.0))


@pytest.mark.parametrize("seed", range(8))
def test_aside_and_down_against_small_steps(seed):
    """Three straight moves among a head, a box and a post; the steps are 0.1 mm."""
    rng = np.random.default_rng(seed)
    places = np.column_stack((rng.uniform(-60, 60, (4, 2)), rng.uniform(-4, 9, 4)))
    solids = bodies(rng)
    found = slack(places, Solids((solids[0],), solids[1:]))
    dense = np.concatenate([a + np.linspace(0, 1, 600)[:, None] * (b - a) for a, b in pairwise(places)])
    shapes = [(shapely.Point(b.footprint.at) if b.footprint.round else b.footprint.shape).buffer(
        b.footprint.round + 5, quad_segs=64) for b in solids]
    shapely.prepare(shapes)
    for body, shape in zip(solids, shapes, strict=True):
        over = dense[shapely.contains_xy(shape, dense[:, :2])]
        if len(over):
            assert found.down[body.about].amount == pytest.approx(over[:, 2].min() - body.top, abs=0.1)
    for way, (dx, dy) in DIRECTIONS.items():
        steps = np.arange(0, FARTHEST, 0.1)
        meets = first_meeting(dense, solids, shapes, np.outer(steps, (dx, dy)))
        expected = steps[meets] if meets is not None else FARTHEST
        assert found.aside[way].amount == pytest.approx(expected, abs=0.2), way


def first_meeting(dense, solids, shapes, shifts) -> int | None:
    for number, shift in enumerate(shifts):
        for body, shape in zip(solids, shapes, strict=True):
            low = dense[dense[:, 2] < body.top - 1e-6]
            if shapely.contains_xy(shape, low[:, :2] + shift).any():
                return number
    return None


def test_a_head_may_be_so_much_wider_until_it_is_met():
    """Axis 20 beside the head's, 5 + 7 filled: 8 left; of a head that doubt has made 0.5 wider, 7.5."""
    head = HeadSolid("s 1", "s", 1, (0.0, 20.0), 7.0, 3.0, -1.0)
    way = [(-50, 0, 0), (50, 0, 0)]
    assert slack(way, Solids((head,))).wider.amount == pytest.approx(8, abs=0.01)
    wide = replace(head, radius=7.5, wider=0.5)
    assert slack(way, Solids((wide,))).wider.amount == pytest.approx(7.5, abs=0.01)
    struck = replace(head, radius=16.0, wider=9.0)
    assert slack(way, Solids((struck,))).wider.amount == pytest.approx(-1, abs=0.01)


def test_a_cutter_in_an_opening_of_the_bed_has_its_play():
    """A mill of 10 goes 4 below the bed in a hole of 13, 10 deep: 1.5 aside, and 6 lower."""
    bed = BedSolid(-18.0, openings=(OpeningSolid("hole", (0.0, 0.0), (6.5, 6.5), 6.5, 0.0, 10.0),))
    found = slack([(0, 0, 5), (0, 0, -22), (0, 0, 5)], Solids(bed=bed))
    assert found.down["bed"].amount == pytest.approx(6, abs=0.001)
    assert [found.aside[way].amount for way in DIRECTIONS] == pytest.approx([1.5] * 4, abs=0.01)
    beside = slack([(0.5, 0, 5), (0.5, 0, -22)], Solids(bed=bed))
    assert beside.aside["right"].amount == pytest.approx(1, abs=0.01)
    assert beside.aside["left"].amount == pytest.approx(2, abs=0.01)


def test_over_plain_bed_it_is_the_lowest_place():
    assert slack([(0, 0, 5), (0, 0, -17.4)], Solids(bed=BedSolid(-18.0))).lower.amount == pytest.approx(0.6)
    assert slack([(0, 0, 5), (0, 0, -18.3)], Solids(bed=BedSolid(-18.0))).lower.amount == pytest.approx(-0.3)


def test_with_nothing_standing_nothing_ends_it():
    found = slack([(0, 0, 5), (9, 0, -4)], Solids(), machine=Machine())
    assert found.lower.amount == inf
    assert {limit.by for limit in found.aside.values()} == {""}


# --- whole jobs ---------------------------------------------------------------------------------------

SCREW = ('[[fasteners]]\nname = "s"\nhead = { diameter = 14, height = 4 }\nat = [[100, 50]]\nseat = -6\n'
         "recess = { diameter = 20, depth = 6 }\n")  # the head's top at Z -2
DOUBT = "[uncertainty]\nz_zero = 0.1\nhead_z = 0.2\nhead_xy = 0.3\n"
PASS = "G0 X-20 Y50\nG1 Z-0.4 F2000\nG1 X220\n"
FACE = "face = { z = -0.4 }"


def stage_of(judged, lines=PASS, **tables):
    return judged(lines, more=SCREW + tables.pop("more", ""), stage=FACE, **tables).stages[0]


def test_what_a_job_bears_does_not_hang_on_the_doubt_it_was_given(judged):
    """1.6 between pass and head; the head is under the pass, so no width of it is met."""
    for more in ("", DOUBT):
        bears = stage_of(judged, more=more).slack
        other = 0.2 if more else 0.0  # what the other doubt takes of the same 1.6
        assert bears.z_zero.amount == pytest.approx(1.6 - other)
        assert bears.head_z.amount == pytest.approx(1.6 - (0.1 if more else 0.0))
        assert (bears.head_xy.by, bears.z_zero.by) == ("", "s 1")


def test_the_zeros_that_a_person_may_have_taken(judged):
    """A facing for Z0 on the board's top: on the bed it is 18 lower and meets the head by 16.4; on what it
    leaves itself 0.4 lower: 1.2 stay over the head, 0.8 are cut. The rapids pass at Z20."""
    on = {zero.name: zero for zero in stage_of(judged).zeros}
    assert (on["board"].chosen, on["board"].depth, on["board"].meets) == (True, pytest.approx(0.4), "")
    assert (on["bed"].meets, on["bed"].overlap) == ("s 1", pytest.approx(16.4))
    assert (on["bed"].rapid, on["bed"].depth) == (0.0, pytest.approx(18.4))
    assert (on["face"].meets, on["face"].depth) == ("", pytest.approx(0.8))


def test_a_zero_on_the_board_for_a_program_that_counts_from_the_bed_cuts_air(judged):
    """The stage's zero is the bed, its pass at Z17.6."""
    lines = "G0 X-20 Y50\nG1 Z17.6 F2000\nG1 X220\n"
    begin = "G21 G90 G17 G94 G54\nS12500 M3\nG0 Z38\n"
    stage = FACE + "\nzero = [0, 0, -18]"
    result = judged(lines, begin=begin, end="G0 Z38\nM5\nM30\n", more=SCREW, stage=stage)
    on = {zero.name: zero for zero in result.stages[0].zeros}
    assert on["bed"].chosen
    assert on["board"].depth == pytest.approx(-17.6)
    assert on["board"].meets == ""


def test_a_rapid_that_another_zero_would_drive_into_the_board(judged):
    """Between two passes a rapid at Z3: with zero on the bed it is 15 in the board."""
    lines = PASS + "G0 Z3\nG0 X-20 Y70\nG1 Z-0.4\nG1 X220\n"
    on = {zero.name: zero for zero in stage_of(judged, lines).zeros}
    assert on["bed"].rapid == pytest.approx(15)
    assert on["face"].rapid == 0.0


def test_how_far_zero_may_be_moved_before_travel_ends(judged):
    """Machine X 0 to 300 with the board's origin at 50: the path, -20 to 220, leaves 30 on both sides."""
    machine = "origin = [50, 60, -60]\ntravel = { x = [0, 300], y = [0, 200], z = [-100, 0] }"
    found = stage_of(judged, machine=machine).slack
    assert (found.left.amount, found.left.by) == (pytest.approx(30), "travel")
    assert (found.right.amount, found.up.amount) == (pytest.approx(30), pytest.approx(30))
    assert (found.down.amount, found.down.by) == (pytest.approx(1.6), "s 1")


def test_rapids_over_the_board_count_for_how_low_zero_may_be(judged):
    found = stage_of(judged, PASS + "G0 Z1\nG0 X-20 Y70\n").slack
    assert (found.down.amount, found.down.by) == (pytest.approx(1), "rapids over the board")
