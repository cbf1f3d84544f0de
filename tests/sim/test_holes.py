"""Holes that programs drill, their pairing with the wanted ones, and each finding by hand-worked numbers."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from proveout.parser.job import Bed, Cutter, Grid, Holes, Opening
from proveout.parser.motion import MotionBuilder, Move, State
from proveout.sim.checks.holes import CHECKS, hole_figures
from proveout.sim.holes import FoundHole, find_holes
from proveout.sim.pairing import WantedHole, paired
from proveout.sim.turns import Part, floor_of

DRILL = Cutter(number=1, shape="drill", diameter=6.6, edges=2)  # 118 degrees
MILL = Cutter(number=2, shape="flat", diameter=6.0, edges=2)
WIDE = Cutter(number=3, shape="flat", diameter=15.0, edges=2)
TIP = 1.983  # tip length of 6.6 at 118 degrees: 0.3004 d (textbook geometry, worked figure)


class Drilling(MotionBuilder):
    """Moves from place to place; `cutter` changes what is in the spindle."""

    def __init__(self, cutter=DRILL):
        super().__init__()
        self.at, self.line, self.cutters, self.held = (0.0, 0.0, 5.0), 0, [], cutter
        self.state(State(cutter=cutter.number))

    def cutter(self, cutter):
        self.held = cutter
        self.state(State(cutter=cutter.number))
        return self

    def _go(self, kind, x, y, z):
        self.line += 1
        end = tuple(a if b is None else float(b) for a, b in zip(self.at, (x, y, z), strict=True))
        self.move(kind, self.line, self.at, end, feed=300.0)
        self.cutters.append(self.held)
        self.at = end
        return self

    def rapid(self, x=None, y=None, z=None):
        return self._go(Move.RAPID, x, y, z)

    def feed(self, x=None, y=None, z=None):
        return self._go(Move.FEED, x, y, z)

    def drill(self, x, y, z):
        return self.rapid(x, y).rapid(z=2).feed(z=z).rapid(z=5)

    def turn(self, cx, cy, z, sweep=2 * np.pi):
        self.line += 1
        away = np.array(self.at[:2]) - (cx, cy)
        c, s = np.cos(sweep), np.sin(sweep)
        end = (cx + c * away[0] - s * away[1], cy + s * away[0] + c * away[1], float(z))
        self.arc(self.line, self.at, end, plane=17, centre=(cx, cy), sweep=sweep, feed=300.0)
        self.cutters.append(self.held)
        self.at = end
        return self

    def holes(self, top=0.0):
        every = np.empty(len(self.cutters), object)
        every[:] = self.cutters
        return find_holes(self.motion(), every, top)


def only(drilling):
    (hole,) = drilling.holes()
    return hole


def test_a_drilled_hole():
    """Board of 18, 6.6 at 118 degrees, 0.3 past it: Z depth 20.28 (worked figure), bottom at -18.3."""
    hole = only(Drilling().drill(30, 40, -20.283))
    assert hole.at == (30, 40)
    assert hole.diameter == pytest.approx(6.6)
    assert hole.tip == -20.283
    assert hole.bottom == pytest.approx(-18.3, abs=1e-3)
    assert hole.bottom - hole.tip == pytest.approx(TIP, abs=1e-3)
    assert (hole.line, hole.entry) == (3, 5)


def test_pecks_are_one_hole():
    drilling = Drilling().rapid(30, 40).rapid(z=2)
    for depth in (6, 12, 18, 20.5):  # H 20.5, q 6: 4 pecks (worked figure)
        drilling.feed(z=-depth).rapid(z=2).rapid(z=-depth + 0.5)
    drilling.rapid(z=5)
    hole = only(drilling)
    assert hole.tip == -20.5
    assert len(hole.moves) == 14


def test_a_second_visit_is_the_same_hole():
    hole = only(Drilling().drill(30, 40, -5).drill(90, 40, 1).drill(30.004, 40, -9))
    assert hole.tip == -9


def test_a_plunge_into_a_slot_is_no_hole():
    assert Drilling(MILL).rapid(30, 40).feed(z=-3).feed(x=60).rapid(z=5).holes() == ()


def test_a_slot_that_ends_deeper_is_no_hole():
    assert Drilling(MILL).rapid(30, 40).feed(z=-3).feed(x=60).feed(z=-6).rapid(z=5).holes() == ()


def test_a_hole_before_a_slot_from_the_same_place():
    hole = only(Drilling(MILL).rapid(30, 40).feed(z=-9).rapid(z=2).feed(z=-1).feed(x=60).rapid(z=5))
    assert hole.tip == -9


def test_rapids_drill_nothing_and_air_is_no_hole():
    assert Drilling().rapid(30, 40).rapid(z=-3).rapid(z=5).holes() == ()
    assert Drilling().drill(30, 40, 0.5).holes() == ()


def test_a_helix_is_as_wide_as_its_path_and_cutter():
    """Three turns of pitch 2 down to -6: all the way round only down to one turn before the end."""
    drilling = Drilling(MILL).rapid(32, 40).rapid(z=0)
    for depth in (-2, -4, -6):
        drilling.turn(30, 40, depth)
    hole = only(drilling.rapid(z=5))
    assert hole.at == (30, 40)
    assert hole.diameter == pytest.approx(2 * 2 + 6)
    assert (hole.bottom, hole.tip) == (pytest.approx(-4), -6)


def test_a_helix_with_a_level_turn_at_its_floor():
    drilling = Drilling(MILL).rapid(32, 40).rapid(z=0).turn(30, 40, -3).turn(30, 40, -6).turn(30, 40, -6)
    assert only(drilling.rapid(z=5)).bottom == pytest.approx(-6)


@pytest.mark.parametrize("halves", [2, 4, 7])
def test_turns_in_parts(halves):
    drilling = Drilling(MILL).rapid(32, 40).feed(z=-3)
    for _ in range(halves):
        drilling.turn(30, 40, -3, -2 * np.pi / halves)
    hole = only(drilling.rapid(z=5))
    assert (hole.diameter, hole.bottom) == (pytest.approx(10), pytest.approx(-3))


def test_less_than_a_turn_is_no_hole():
    assert Drilling(MILL).rapid(32, 40).feed(z=-3).turn(30, 40, -3, 6.2).rapid(z=5).holes() == ()
    back = Drilling(MILL).rapid(32, 40).feed(z=-3).turn(30, 40, -3, 4).turn(30, 40, -3, -4)
    assert back.rapid(z=5).holes() == ()


def test_level_turns_with_steps_down_between():
    drilling = Drilling(MILL).rapid(32, 40)
    for depth in (-2, -4, -5):
        drilling.feed(z=depth).turn(30, 40, depth)
    hole = only(drilling.rapid(z=5))
    assert (hole.bottom, hole.tip) == (-5, -5)


def test_a_pocket_of_wider_and_wider_turns_is_its_widest():
    drilling = Drilling(MILL).rapid(30, 40).feed(z=-4)
    for radius in (2, 4, 6):
        drilling.feed(x=30 + radius).turn(30, 40, -4)
    assert only(drilling.rapid(z=5)).diameter == pytest.approx(18)


def test_a_spot_is_part_of_its_hole():
    spot = Cutter(number=4, shape="drill", diameter=3.0)
    hole = only(Drilling(spot).drill(30, 40, -2).cutter(DRILL).drill(30, 40, -12))
    assert hole.diameter == pytest.approx(6.6)
    assert hole.moves == (1, 2, 3, 4, 5, 6, 7)  # the spot's too


def test_a_counterbore_is_a_hole_of_its_own():
    both = Drilling(DRILL).drill(30, 40, -20.3).cutter(WIDE).drill(30, 40, -8).holes()
    assert [round(h.diameter, 3) for h in both] == [6.6, 15.0]


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.floats(0.1, 7), st.floats(-3, 3)), min_size=1, max_size=6))
def test_the_floor_of_turns_against_sampling(turns):
    """Brute: in each of 2000 directions the lowest Z that passed there; of these the highest."""
    parts, at, z = [], 0.0, 0.0
    for sweep, rise in turns:
        parts.append(Part(at, at + sweep, z, z + rise))
        at, z = at + sweep, z + rise
    if at < 2 * np.pi + 0.05:
        return
    directions = np.arange(2000) * (2 * np.pi / 2000)
    angles = directions[:, None] + 2 * np.pi * np.arange(8)
    heights = np.interp(angles, [0, *(p.last for p in parts)], [0, *(p.z1 for p in parts)], right=np.inf)
    steepest = max(abs(rise / sweep) for sweep, rise in turns)
    assert floor_of(parts) == pytest.approx(heights.min(axis=1).max(), abs=2 * steepest * np.pi / 1000 + 1e-9)


# --- pairing ------------------------------------------------------------------------------------------

places = st.lists(st.tuples(st.integers(0, 12), st.integers(0, 12)), min_size=0, max_size=5, unique=True)


def drilled(at, diameter=6.6, number=0):
    return FoundHole((float(at[0]), float(at[1])), diameter, -20.0, -22.0, 1, (number,), 5.0)


@settings(max_examples=150, deadline=None)
@given(places, places)
def test_pairs_against_every_pairing(wanted, found):
    """Brute: the most pairs, then the least total distance, none farther than the wanted diameter."""
    table = Holes(at=((0, 0),), diameter=5.0, through=True)
    wants = [WantedHole(n, (float(x), float(y)), table) for n, (x, y) in enumerate(wanted, 1)]
    holes = [drilled(at, number=n) for n, at in enumerate(found)]
    pairing = paired(wants, holes)
    best = (0, 0.0)
    slots = [*range(len(found)), *[None] * len(wanted)]
    for order in set(permutations(slots, len(wanted))):
        apart = [np.hypot(w[0] - found[f][0], w[1] - found[f][1]) for w, f in zip(wanted, order, strict=True)
                 if f is not None]
        if all(a <= 5.0 for a in apart):
            best = min(best, (-len(apart), float(sum(apart))))
    assert -len(pairing.pairs) == best[0]
    assert sum(w.from_(f) for w, f in pairing.pairs) == pytest.approx(best[1], abs=1e-9)
    assert len(pairing.missing) == len(wanted) - len(pairing.pairs)
    assert len(pairing.extra) == len(found) - len(pairing.pairs)


# --- findings -----------------------------------------------------------------------------------------

ROW = ((30, 40), (60, 40), (90, 40))


def judged(new_program, spots=ROW, wanted=None, depth=-20.3, thickness=18.0, cutters=(DRILL,), more=None,
           bed=None, **table):
    """A stage that drills at `spots` and wants what the table says; lines count from 1."""
    program = new_program()
    program.set(cutter=cutters[0].number)
    for x, y in spots:
        program.rapid(x, y, 5).rapid(x, y, 2).feed(x, y, depth).rapid(x, y, 5)
    if more:
        more(program)
    table = table or {"at": ROW, "diameter": 6.6, "through": True}
    stage = {"holes": wanted if wanted is not None else (table,)}
    evidence = program.evidence(cutters=cutters, stage=stage, board={"thickness": thickness})
    if bed:
        evidence = replace(evidence, job=replace(evidence.job, bed=bed))
    return replace(evidence, found=find_holes(evidence.motion, evidence.cutters, 0.0))


def said(evidence):
    return [found for check in CHECKS for found in check(evidence)]


def test_a_good_row_says_nothing(new_program):
    evidence = judged(new_program)
    assert said(evidence) == []
    first = hole_figures(evidence)[0]
    assert (first.at, first.wanted, first.error, first.through, first.line) == (ROW[0], ROW[0], 0, True, 3)
    assert first.bottom == pytest.approx(-20.3 + TIP, abs=1e-3)


def test_stages_that_want_no_holes_have_none(new_program):
    evidence = judged(new_program, wanted=())
    assert said(evidence) == []
    assert hole_figures(evidence) == []


def test_missing_and_extra(new_program):
    found = said(judged(new_program, spots=((30, 40), (90, 40), (120, 80))))
    assert [(f.kind, f.about) for f in found] == [("hole-missing", "2"), ("hole-extra", "extra 1")]
    assert [f.line for f in found] == [0, 11]
    assert found[0].at == (60, 40, 0)
    assert "X60 Y40" in found[0].advice()
    assert "X120 Y80" in found[1].advice()


def test_no_farther_than_the_wanted_diameter(new_program):
    assert [f.kind for f in said(judged(new_program, spots=(*ROW[:2], (96.59, 40))))] == ["hole-off"]
    kinds = [f.kind for f in said(judged(new_program, spots=(*ROW[:2], (96.61, 40))))]
    assert kinds == ["hole-missing", "hole-extra"]


@pytest.mark.parametrize(("error", "kinds"), [(0.2, []), (0.21, ["hole-off"])])
def test_off_its_place(new_program, error, kinds):
    found = said(judged(new_program, spots=((30 + error, 40), *ROW[1:])))
    assert [f.kind for f in found] == kinds
    if found:
        assert found[0].value == pytest.approx(0.21)
        assert found[0].limit == 0.2
        assert found[0].about == "1"
        assert "X-0.21 Y0" in found[0].advice()
        assert "X30 Y40" in found[0].advice()


def test_the_tip_alone_is_not_through(new_program):
    """18 of board, tip length 1.983: with the tip at -19 the full diameter ends at -17.017."""
    found = said(judged(new_program, spots=ROW[:1], depth=-19.0, wanted=({"at": ROW[:1], "diameter": 6.6,
                                                                          "through": True},)))
    assert [f.kind for f in found] == ["hole-shallow"]
    assert found[0].value == pytest.approx(-17.017, abs=1e-3)
    assert found[0].limit == -18
    assert found[0].numbers["fix"].numbers["deeper"] == pytest.approx(0.983, abs=1e-3)
    assert "Z -19.983 mm instead of -19 mm" in found[0].advice()


def test_just_through_is_through(new_program):
    exactly = -18.0 - 3.3 / np.tan(np.radians(59))
    assert said(judged(new_program, depth=exactly)) == []
    (found,) = said(judged(new_program, depth=exactly + 2e-4))
    assert (found.kind, found.count) == ("hole-shallow", 3)
    assert found.numbers["which"] == "Each of 3 holes (1 to 3)"


def test_a_wanted_depth_is_a_full_diameter_depth(new_program):
    table = {"at": ROW, "diameter": 6.6, "depth": 10.0}
    assert said(judged(new_program, depth=-11.984, wanted=(table,))) == []
    assert {f.kind for f in said(judged(new_program, depth=-11.98, wanted=(table,)))} == {"hole-shallow"}


@pytest.mark.parametrize(("diameter", "wrong"), [(6.5, 0), (6.49, 3), (6.71, 3)])
def test_size(new_program, diameter, wrong):
    found = said(judged(new_program, at=ROW, diameter=diameter, through=True))
    assert [(f.kind, f.count) for f in found] == [("hole-size", wrong)] * bool(wrong)
    if found:
        assert (found[0].value, found[0].limit) == (pytest.approx(6.6), diameter)
        assert f"Use a cutter of {diameter:g} mm" in found[0].advice()


def counterbores(program):
    program.set(cutter=3)
    for x, y in ROW:
        program.rapid(x, y, 5).feed(x, y, -8).rapid(x, y, 5)


def test_a_counterbore_over_its_own_hole_is_neither_extra_nor_of_wrong_size(new_program):
    assert said(judged(new_program, cutters=(DRILL, WIDE), more=counterbores)) == []


def test_a_wanted_counterbore_is_checked_for_itself(new_program):
    both = ({"at": ROW, "diameter": 6.6, "through": True}, {"at": ROW, "diameter": 15.0, "depth": 8.5})
    found = said(judged(new_program, cutters=(DRILL, WIDE), more=counterbores, wanted=both))
    assert [(f.kind, f.about, f.count) for f in found] == [("hole-shallow", "4 to 6", 3)]


def test_holes_that_need_different_things_are_told_one_by_one(new_program):
    """Two are 0.983 short of their place in depth, one is wanted deeper still: two changes, two findings."""
    two, one = ({"at": at, "diameter": 6.6, "depth": deep} for at, deep in ((ROW[:2], 18), (ROW[2:], 17.5)))
    found = said(judged(new_program, depth=-19.0, wanted=(two, one)))
    assert [(f.kind, f.about, f.count) for f in found] == [
        ("hole-shallow", "1, 2", 2), ("hole-shallow", "3", 1)]


def test_a_counterbore_over_a_hole_of_an_earlier_stage(new_program):
    evidence = judged(new_program, cutters=(WIDE,), depth=-8.0)
    earlier = shapely.union_all([shapely.Point(at).buffer(3.3) for at in ROW])
    assert {f.kind for f in said(evidence)} == {"hole-size", "hole-shallow"}
    assert said(replace(evidence, drilled=earlier)) == []


def test_a_wide_hole_beside_is_extra_all_the_same(new_program):
    def beside(program):
        program.set(cutter=3)
        program.rapid(31, 40, 5).feed(31, 40, -8).rapid(31, 40, 5)

    found = said(judged(new_program, cutters=(DRILL, WIDE), more=beside))
    assert [f.kind for f in found] == ["hole-extra"]


def test_what_is_drilled_beside_the_board_is_no_hole(new_program):
    assert said(judged(new_program, spots=(*ROW, (-20, 40)))) == []


def test_holes_like_the_beds(new_program):
    bed = Bed(openings=(Opening(name="tapped", diameter=6.65, grid=Grid(start=(30, 40), count=(3, 1),
                                                                        pitch=(30, 30))),))
    assert said(judged(new_program, bed=bed, like="tapped", diameter=6.6, through=True)) == []


def test_what_cannot_be_told_is_unchecked(new_program):
    assert [u.what for u in said(judged(new_program, thickness=None))] == ["whether holes come through"]
    assert [u.what for u in said(judged(new_program, wanted=({"at": ROW, "depth": 10.0},)))] == ["hole size"]


def test_turning_the_path_is_told_for_a_milled_hole(new_program):
    program = new_program()
    program.set(cutter=2)
    program.rapid(32, 40, 5).feed(32, 40, -4)
    program.arc(3, (32, 40, -4), (32, 40, -4), plane=17, centre=(30, 40), sweep=2 * np.pi, feed=500.0)
    evidence = program.rapid(32, 40, 5).evidence(
        cutters=(MILL,), stage={"holes": ({"at": ((30, 40),), "diameter": 9.0, "depth": 4.0},)})
    (found,) = said(replace(evidence, found=find_holes(evidence.motion, evidence.cutters, 0.0)))
    assert (found.kind, found.value) == ("hole-size", pytest.approx(10.0))
    assert "Correct the radius of its path by -0.5 mm" in found.advice()


@settings(max_examples=15, deadline=None)
@given(st.floats(-50, 50), st.floats(-20, 20))
def test_moving_the_job_moves_the_holes(dx, dy):
    here = Drilling().drill(30, 40, -9).drill(60, 40, -12).holes()
    there = Drilling().drill(30 + dx, 40 + dy, -9).drill(60 + dx, 40 + dy, -12).holes()
    assert [(h.bottom, h.diameter, h.line) for h in here] == [(h.bottom, h.diameter, h.line) for h in there]
    assert there[0].at == pytest.approx((here[0].at[0] + dx, here[0].at[1] + dy))
