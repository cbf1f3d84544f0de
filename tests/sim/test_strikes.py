"""Strikes and near misses as the checks say them: one hundredth of a millimetre decides; advice names
numbers that hold.

Every figure here is worked by hand beside its check.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from proveout.parser.finding import Severity
from proveout.parser.job import Clamp, Cutter, Fastener
from proveout.parser.motion import Move
from proveout.sim.checks import strikes
from proveout.sim.clearance import clearances
from proveout.sim.evidence import Phase
from proveout.sim.paths import Branch, RapidPath, rapid_paths
from proveout.sim.solids import (
    BedSolid,
    ClampSolid,
    Footprint,
    HeadSolid,
    ObstacleSolid,
    OpeningSolid,
    Solids,
)

FACING = Cutter(number=1, shape="facing", diameter=25.0, edges=2, name="facing cutter")
SCREWS = Fastener(name="screws", head={"diameter": 14, "height": 4.4}, at=((50, 50),), seat=-5)
CLIP = Clamp(name="front left", x=(60, 80), y=(20, 30), above=10)


def judge(program, solids: Solids, *, phases=None, cutters=(FACING,), bed_top=None, **given):
    """All that the strike checks say of a program with these bodies standing."""
    evidence = program.evidence(cutters=cutters)
    phases = phases or (Phase(0, len(evidence.motion), solids),)
    found = clearances(evidence.motion, evidence.cutters, phases, **given)
    job = replace(evidence.job, fasteners=(SCREWS,), clamps=(CLIP,))
    evidence = replace(evidence, job=job, phases=phases, clearances=found, bed_top=bed_top)
    return [said for check in strikes.CHECKS for said in check(evidence)]


def findings(*args, bed_top=-18.0, **given):
    return judge(*args, bed_top=bed_top, **given)


def head(top: float, at=(50.0, 50.0), about="screws 1", **given) -> HeadSolid:
    return HeadSolid(about, "screws", 1, at, 7.0, top, top - 4.4, **given)


def pass_over(program, z: float):
    return program.rapid(-20, 50, 10).feed(-20, 50, z).feed(120, 50, z)


@pytest.mark.parametrize(("top", "kind"), [(-0.39, "head-strike"), (-0.41, "head-near"), (-0.4, "head-near"),
                                           (-1.4, None)])
def test_a_hundredth_of_a_millimetre_decides(program, top, kind):
    """A pass at Z -0.4 over a head 0.01 above it, 0.01 below it, at it (contact), and 1 mm below it."""
    found = findings(pass_over(program, -0.4), Solids((head(top),)))
    assert [f.kind for f in found] == ([kind] if kind else [])
    if kind == "head-strike":
        assert found[0].value == pytest.approx(-0.01, abs=1e-12)
        assert found[0].severity is Severity.STOP


def test_the_advice_of_a_strike_names_numbers_that_hold(program):
    """Overlap 1.2 at Z -0.6: Z has to be 1.2 + 1 higher, at 1.6, to leave 1 mm; so much the head sinks."""
    [found] = findings(pass_over(program, -0.6), Solids((head(0.6),)))
    assert found.value == pytest.approx(-1.2)
    assert found.line == 3
    assert "Z 1.6 mm" in found.advice()
    assert "by 2.2 mm" in found.advice()
    assert found.about == "screws 1"


def test_repeats_on_one_head_are_one_finding(program):
    pass_over(program, 0.4)
    program.feed(120, 50, -0.4).feed(-20, 50, -0.4).feed(-20, 50, -0.8).feed(120, 50, -0.8)
    [found] = findings(program, Solids((head(0.0),)))
    assert (found.kind, found.count, found.lines) == ("head-strike", 2, (5, 7))
    assert found.value == pytest.approx(-0.8)


def test_a_cutter_beside_a_head_is_measured_at_its_side(program):
    """Axis 20 away, 12.5 + 7 = 19.5 filled: 0.5 left, 1 wanted; at 20.5 it is enough."""
    beside = program.rapid(-20, 70, 10).feed(-20, 70, -3).feed(120, 70, -3)
    [found] = findings(beside, Solids((head(0.0),)))
    assert found.kind == "head-near"
    assert found.value == pytest.approx(0.5)
    assert "The gap to" in found.message()


def test_touching_the_side_is_a_contact(program):
    """Exactly 19.5 away: contact is near, not a strike."""
    beside = program.rapid(-20, 69.5, 10).feed(-20, 69.5, -3).feed(120, 69.5, -3)
    [found] = findings(beside, Solids((head(0.0),)))
    assert (found.kind, found.value) == ("head-near", pytest.approx(0.0, abs=1e-9))


def test_a_washer_counts_as_its_screw(program):
    washer = replace(head(-1.0), radius=12.0, part="washer")
    beside = program.rapid(-20, 74, 10).feed(-20, 74, -3).feed(120, 74, -3)
    [found] = findings(beside, Solids((head(3.0), washer)))
    assert (found.kind, found.about) == ("head-strike", "screws 1")
    assert "the washer of screws 1" in found.message()


def test_cover_counts_what_an_earlier_stage_took(program):
    """The head's top 1.3 under the board; an earlier stage took 0.9 over it: 0.4 left, though this pass at
    Z -0.2 stays 1.1 clear. Without the earlier stage it is 1.1 left."""
    assert findings(pass_over(program, -0.2), Solids((head(-1.3),))) == []
    evidence = program.evidence()
    phases = (Phase(0, len(evidence.motion), Solids((head(-1.3),))),)
    found = clearances(evidence.motion, evidence.cutters, phases, earlier={"screws 1": -0.9})
    assert found.cover["screws 1"] == pytest.approx(0.4)
    assert found.face["screws 1"] == pytest.approx(-0.9)


def test_cover_is_exact_at_the_rim_of_the_head(program):
    """A sloping pass sweeps lowest over the head's far rim: the tip falls 0.01 a mm and its disc leaves the
    head 12.5 + 7 mm past the middle."""
    program.rapid(-50, 50, 10).feed(-50, 50, 0).feed(150, 50, -2)
    evidence = program.evidence()
    got = clearances(evidence.motion, evidence.cutters, (Phase(0, 3, Solids((head(-5.0),))),))
    assert got.cover["screws 1"] == pytest.approx(5 - (50 + 50 + 19.5) / 100, abs=1e-8)


def test_drilling_does_not_lower_the_virtual_face(program):
    program.rapid(50, 50, 10).feed(50, 50, -3)
    evidence = program.evidence()
    phases = (Phase(0, 2, Solids((head(-5.0),))),)
    drilled = clearances(evidence.motion, evidence.cutters, phases, counted=np.zeros(2, bool))
    assert drilled.cover["screws 1"] == pytest.approx(5.0)
    assert clearances(evidence.motion, evidence.cutters, phases).cover["screws 1"] == pytest.approx(2.0)


def box(top: float = 10.0, **given) -> ClampSolid:
    return ClampSolid("front left", Footprint((70.0, 25.0), (10.0, 5.0)), top, -18.0, **given)


def test_a_rapid_into_a_clamp(program):
    program.rapid(0, 25, 9).rapid(150, 25, 9)
    [found] = findings(program, Solids((), (box(),)))
    assert (found.kind, found.about, found.line) == ("clamp-strike", "front left", 2)
    assert found.value == pytest.approx(-1.0)
    assert "Z 12 mm" in found.advice()  # its top 10 and the wanted 2


@pytest.mark.parametrize(("y", "by_hand", "limit"), [
    (46.0, True, 5.0), (46.0, False, None), (43.6, False, 2.0), (47.6, True, None)])
def test_more_room_is_wanted_beside_a_clamp_set_down_by_hand(program, y, by_hand, limit):
    """The clamp ends at Y 30, the cutter reaches 12.5: at Y 46 3.5 mm are left, at 43.6 1.1, at 47.6 5.1."""
    program.rapid(0, y, 20).rapid(0, y, 5).feed(150, y, 5)
    found = findings(program, Solids((), (box(beside=5.0 if by_hand else 2.0),)))
    assert [(f.kind, f.limit) for f in found] == ([("clamp-near", limit)] if limit else [])


def test_a_clamp_counts_only_while_it_stands(program):
    program.rapid(0, 25, 9).rapid(150, 25, 9).rapid(0, 25, 9)
    phases = (Phase(0, 2, Solids()), Phase(2, 3, Solids((), (box(),))))
    [found] = findings(program, Solids(), phases=phases)
    assert (found.line, found.count) == (3, 1)


def test_a_soft_bed_may_be_marked(program):
    program.rapid(50, 50, 10).feed(50, 50, -18.9)
    assert findings(program, Solids(bed=BedSolid(-18.0, soft=True))) == []
    [hard] = findings(program, Solids(bed=BedSolid(-18.0)))
    assert (hard.kind, hard.value, hard.limit) == ("bed-strike", pytest.approx(-0.9), 0.0)
    assert "Z -18 mm" in hard.advice()


def test_a_drill_in_the_mouth_of_a_tapped_hole():
    """A 9 mm drill of 118 degrees over a 6.65 hole with a 10 mm mouth, chamfered at 90 degrees: the full
    diameter enters the mouth by (10 - 9)/2 = 0.5 before its rim meets the chamfer; the point is 2.704 long
    (4.5/tan 59°), and its flank (31° from level) is flatter than the chamfer, so the rim touches first."""
    drill = Cutter(number=2, shape="drill", diameter=9.0, edges=2)
    hole = OpeningSolid("holes", (50.0, 50.0), (3.325, 3.325), 3.325, 1.675, 20.0)
    full = -18 - 4.5 / np.tan(np.radians(59))
    assert bed_gap(drill, full - 0.4, hole) == pytest.approx(0.1 / np.sqrt(2), abs=1e-9)
    assert bed_gap(drill, full - 0.6, hole) == pytest.approx(-0.1, abs=1e-9)


def test_a_slot_as_wide_as_the_cutter_lets_it_through():
    """An 8 mm cutter along an 8 mm slot touches both walls and is free; a tenth to the side it is not."""
    cutter = Cutter(number=2, shape="flat", diameter=8.0, edges=2)
    slot = OpeningSolid("slot", (50.0, 50.0), (100.0, 4.0), depth=12.0)
    assert bed_gap(cutter, -20, slot, along=(90, 50)) == pytest.approx(0.0, abs=1e-9)
    assert bed_gap(cutter, -20, slot, along=(90, 50.1)) == pytest.approx(-2.0, abs=1e-6)
    assert bed_gap(cutter, -31, slot, along=(90, 50)) == pytest.approx(-1.0, abs=1e-9)  # 12 deep, to Z -30


def bed_gap(cutter: Cutter, z: float, opening: OpeningSolid, along=(50, 50)) -> float:
    from proveout.parser.motion import MotionBuilder, Move, State

    build = MotionBuilder()
    build.state(State(cutter=2))
    build.move(Move.FEED, 1, (50, 50, z), (*along, z))
    motion = build.motion()
    cutters = np.array([cutter], object)
    phase = Phase(0, 1, Solids(bed=BedSolid(-18.0, openings=(opening,))))
    return clearances(motion, cutters, (phase,)).closest[0].gap


def test_what_is_not_described_is_unchecked(program):
    evidence = pass_over(program, 5).evidence()
    evidence = replace(evidence, clearances=clearances(evidence.motion, evidence.cutters, ()))
    said = {each.what for check in strikes.CHECKS for each in check(evidence)}
    assert said == {"strikes on screw heads", "strikes on clamps", "strikes on the bed"}


# --- rapids whose axes go on their own ----------------------------------------------------------------

def rapid_past_a_clamp(program, path: str, clamp: ClampSolid):
    """From (0, 0) to (100, 40) with a point, equal speeds: straight, or bent at (40, 40). The published
    worked example has clamps at X 60-80, Y 20-30 and, grazed nowhere else, at X 60-75, Y 24-30."""
    point = Cutter(number=1, shape="flat", diameter=0.001, edges=1, name="point")
    program.at = (0.0, 0.0, 5.0)
    program.rapid(100, 40, 5)
    return findings(program, Solids((), (clamp,)), cutters=(point,), rapid=RapidPath(path))


@pytest.mark.parametrize(("half", "at"), [((10.0, 5.0), (70.0, 25.0)), ((7.5, 3.0), (67.5, 27.0))])
@pytest.mark.parametrize(("path", "hit"), [("linear", True), ("per_axis", False), ("unknown", True)])
def test_a_dog_leg_misses_what_the_straight_line_hits(program, half, at, path, hit):
    clamp = ClampSolid("front left", Footprint(at, half), 10.0, -18.0)
    found = [f for f in rapid_past_a_clamp(program, path, clamp) if f.severity is Severity.STOP]
    assert bool(found) is hit
    if path == "unknown":
        assert "if the control goes straight" in found[0].message()


def test_unknown_rapids_meet_what_only_the_dog_leg_meets(program):
    clamp = ClampSolid("front left", Footprint((40.0, 38.0), (3.0, 3.0)), 10.0, -18.0)
    assert rapid_past_a_clamp(program, "linear", clamp) == []
    program.at = (0.0, 0.0, 5.0)
    found = rapid_past_a_clamp(program, "unknown", clamp)
    assert "if each axis goes on its own" in found[0].message()


def test_the_corners_of_a_dog_leg(program):
    """From (0, 0, 0) to (100, 40, 10), X at 5000, Y at 1000, Z at 2500 mm/min: Z arrives after 0.004 min
    at X 20, Y 4; X after 0.02 min at Y 20; Y at last."""
    program.at = (0.0, 0.0, 0.0)
    motion = program.rapid(100, 40, 10).motion()
    way = rapid_paths(motion, 0, RapidPath("per_axis", (5000, 1000, 2500)))[Branch.WRITTEN]
    assert way == pytest.approx(np.array([(0, 0, 0), (20, 4, 10), (100, 20, 10), (100, 40, 10)]))
    straight = rapid_paths(motion, 0, RapidPath())[Branch.WRITTEN]
    assert straight == pytest.approx(np.array([(0, 0, 0), (100, 40, 10)]))
    assert set(rapid_paths(motion, 0, RapidPath("unknown"))) == {Branch.STRAIGHT, Branch.DOG_LEG}


# --- obstacles ----------------------------------------------------------------------------------------

TRACK = ObstacleSolid("middle track", Footprint((50.0, 50.0), (60.0, 5.0)), -6.0, -18.0)


@pytest.mark.parametrize(("z", "kind"), [(-6.01, "obstacle-strike"), (-6.0, "obstacle-near"),
                                         (-4.01, "obstacle-near"), (-4.0, None)])
def test_an_obstacle_is_struck_or_near(program, z, kind):
    """A track with its top at -6; over it 2 mm are wanted."""
    found = findings(pass_over(program, z), Solids(obstacles=(TRACK,)))
    assert [f.kind for f in found] == ([kind] if kind else [])
    if kind == "obstacle-strike":
        assert found[0].value == pytest.approx(-0.01)
        assert "Go over it at Z -4 mm" in found[0].advice()


def test_a_retract_too_low_between_holes_names_the_height_to_retract_to(program):
    """Between two holes of a cycle a clamp stands 10 mm high; 2 mm over it are wanted."""
    program.rapid(20, 25, 8)
    program.line += 1
    program.move(Move.RAPID, program.line, program.at, (150, 25, 8), feed=float("nan"), cycle=True)
    solids = Solids(clamps=(ClampSolid("front left", Footprint((70.0, 25.0), (10.0, 5.0)), 10.0, -18.0),))
    [found] = [f for f in findings(program, solids) if f.kind == "clamp-strike"]
    assert "retract to Z 12 mm or higher between the holes" in found.advice()
