"""What would give more facings: worked by hand after N = floor((z_top - z_head - S)/t + 1e-9) [formulas 9],
and head sizes against the standards' tables."""

from __future__ import annotations

import pytest
from proveout.parser.job import Board, Cutter, Fastener, Head, Job, Recess, Stage
from proveout.sim.result import Limit
from proveout.sim.whatif import deeper_at, facings, lower_heads


def job(thickness: float = 18.0, **screws) -> Job:
    keys = {"name": "s", "at": ((10, 10), (20, 20)), "seat": -9.0} | screws
    if "screw" not in keys:
        keys["head"] = Head(diameter=10.5, height=3.3)
    return Job(board=Board(x=(0, 99), y=(0, 99), thickness=thickness), fasteners=(Fastener(**keys),),
               cutters=(Cutter(number=1, shape="flat", diameter=6),), stages=(Stage(name="a", program="a"),))


def limits(depth: float = 0.4, **left: float) -> list[Limit]:
    each = [Limit(name.replace("_", " "), mm, facings(mm, depth)) for name, mm in left.items()]
    return sorted(each, key=lambda limit: (limit.facings, limit.left))


def test_the_screw_that_ends_them_is_sunk_until_the_next_does():
    """1.4 left at screw 1 is 3 facings of 0.4, 3.0 at screw 2 is 7: 7 x 0.4 - 1.4 = 1.4 deeper."""
    got = deeper_at(job(), limits(s_1=1.4, s_2=3.0), 0.4, {"s 1": 9.0})
    assert (got.about, got.by, got.facings, got.then) == ("s 1", pytest.approx(1.4), 7, "s 2")


@pytest.mark.parametrize(("under", "by", "count"), [
    (7.4, 1.4, 7), (7.3, 1.0, 6), (6.1, None, None), (None, 1.4, 7)])
def test_no_deeper_than_the_board_under_it_bears(under, by, count):
    """A third of 18 is 6: 1.3 of room are six facings (6 x 0.4 - 1.4 = 1.0), 0.1 is none."""
    got = deeper_at(job(), limits(s_1=1.4, s_2=3.0), 0.4, {} if under is None else {"s 1": under})
    assert (got and got.facings) == count
    assert got is None or got.by == pytest.approx(by)


def test_sinking_one_screw_is_no_use_where_others_end_them_as_soon():
    assert deeper_at(job(), limits(s_1=1.4, s_2=1.5), 0.4, {}) is None
    assert deeper_at(job(), limits(thickness=1.4, s_2=3.0), 0.4, {}) is None


def test_lower_heads_of_the_tables():
    """Button M6 is 3.3 high; no head of the tables for M6 is lower but countersunk ones, whose seat is a
    cone. A cap head M6 is 6.0: a button 2.7 lower, a low cap DIN 7984 (4.0) 2.0, a pan ISO 14583 (4.6)
    1.4."""
    assert lower_heads(job(screw="ISO 7380-1 M6"), limits(s_1=0.4, s_2=0.4), 0.4) == ()
    heads = lower_heads(job(screw="ISO 4762 M6"), limits(s_1=0.4, s_2=0.8), 0.4)
    first = heads[0]
    assert (first.screw, first.lower, first.diameter, first.facings) == ("ISO 7380-1 M6", 2.7, 10.5, 7)
    lower = {head.screw: head.lower for head in heads}
    assert lower.get("DIN 7984 M6", 2.0) == 2.0


def test_a_lower_head_has_to_go_into_the_recess():
    """A button M6 (10.5 wide, 3.3 high) goes into 11 and not into 10.4; a low cap DIN 7984 is 10 wide."""
    for width, names in ((11.0, "ISO 7380-1 M6"), (10.4, "DIN 7984 M6")):
        heads = lower_heads(job(screw="ISO 4762 M6", recess=Recess(diameter=width, depth=9)),
                            limits(s_1=0.4), 0.4)
        assert heads[0].screw == names


def test_something_else_may_end_them_then():
    heads = lower_heads(job(screw="ISO 4762 M6"), limits(s_1=0.4, track=0.9), 0.4)
    assert {head.facings for head in heads} == {2}


BOARD = "G0 X-20 Y{}\nG0 Z3\nG1 Z{} F500\nG1 X220 F2000\nG0 Z20\n"


def face(z: float) -> str:
    return "".join(BOARD.format(y, z) for y in range(0, 101, 20))


TRACK = '[[obstacles]]\nname = "track"\nx = [0, 200]\ny = [90, 110]\nz = [-18, {}]\n'


@pytest.mark.parametrize(("top", "count"), [(-3.6, 3), (-3.59, 2), (-9.0, 16)])
def test_a_track_under_the_way_ends_them_too(judged, top, count):
    """The face lies at -0.4; 2 mm stay over a track: (-0.4 + 3.6 - 2)/0.4 = 3; the board keeps 17.6 - 0."""
    budget = judged(face(-0.4), stage="face = { z = -0.4 }", more=TRACK.format(top)).budget
    assert (budget.facings_left, budget.limited_by) == (count, "track")
    assert [limit.about for limit in budget.limits] == ["track", "the board's thickness"]


def test_what_would_give_two_more_where_it_is_no_screw(judged):
    """One facing of 0.4 is left over the track (0.5): 0.3 lower gives two. A part that is too thin: none."""
    low = [f for f in judged(face(-0.4), stage="face = { z = -0.4 }", more=TRACK.format(-2.9)).findings
           if f.kind == "budget-low"]
    assert "Lower track by 0.3 mm" in low[0].advice()
    halves = 'parts = [ { name = "front", x = [0, 200], y = [0, 100] } ]'
    thin = judged(face(-0.4), stage="face = { z = -0.4 }", outline=halves, board="keep = 17.5").findings
    assert [f.advice() for f in thin if f.kind == "budget-low"] == ["Have a new board ready."]


def test_the_wear_that_a_facing_must_clean(judged):
    """A groove at -1.1 lies under a face at -0.4: 0.7 below the middle of it."""
    groove = "G0 X-20 Y50\nG0 Z3\nG1 Z-1.1 F500\nG1 X220 F2000\nG0 Z20\n"
    budget = judged(groove + face(-0.4), stage="face = { z = -0.4 }").budget
    assert budget.clean == pytest.approx(0.7)
    assert judged(face(-0.4), stage="face = { z = -0.4 }").budget.clean == 0.0


def test_each_part_is_kept_as_thick_as_is_said(judged):
    """Front 18 and back 17.8 thick, faced to -0.4, 17 to keep: 0.6 and 0.4 are left, 1 facing of 0.4 each; a
    hundredth more to keep, none in the back."""
    halves = ('parts = [ { name = "front", x = [0, 200], y = [0, 50] },'
              ' { name = "back", x = [0, 200], y = [50, 100], top = 0, thickness = 17.8 } ]')
    for keep, count in (("17", 1), ("17.01", 0)):
        budget = judged(face(-0.4), stage="face = { z = -0.4 }", outline=halves,
                        board=f"keep = {keep}").budget
        assert (budget.facings_left, budget.limited_by) == (count, "the thickness of back")


def test_a_half_that_is_swapped_afterwards_does_not_change_what_was_faced(judged):
    halves = ('parts = [ { name = "front", x = [0, 200], y = [0, 50] },'
              ' { name = "back", x = [0, 200], y = [50, 100] },'
              ' { name = "pallet", x = [0, 200], y = [50, 100], thickness = 12 } ]')
    budget = judged(face(-0.4), stage='face = { z = -0.4 }\nparts = ["front", "back"]', outline=halves,
                    then='parts = ["front", "pallet"]').budget
    assert (budget.facings_left, budget.depth) == (44, pytest.approx(0.4))
