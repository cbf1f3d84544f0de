"""Spindle still, backward, too fast, out of range; no cutter. Each with a case that just has it not."""

from __future__ import annotations

from dataclasses import replace

import pytest
from proveout.parser.finding import Severity
from proveout.parser.job import Cutter
from proveout.parser.motion import Spindle, State
from proveout.parser.reading import Unchecked
from proveout.sim.checks.spindle import cutter_none, over_speed, spindle_off, spindle_range, spindle_reverse

FACING = Cutter(number=1, shape="facing", diameter=25.0, edges=2, name="facing cutter")
DEPTH = -0.4


def one(said):
    (found,) = said
    return found


def faced(program, **setup):
    return program.rapid(-20, 50, DEPTH).feed(220, 50, DEPTH).evidence(**setup)


def test_a_turning_spindle_is_fine(program):
    evidence = faced(program)
    assert [*spindle_off(evidence), *spindle_reverse(evidence)] == []


def test_cutting_with_a_spindle_that_was_never_started(new_program):
    found = one(spindle_off(faced(new_program(State(cutter=1)))))
    assert (found.severity, found.line, found.about) == (Severity.STOP, 2, "facing cutter")
    assert "no M3 stands before this line" in found.message()
    assert found.advice() == "Put M3 S12000 before line 2, high above the board."


def test_cutting_after_m5_names_its_line_and_the_programs_own_speed(program):
    program.rapid(-20, 50, 5).switch(Spindle.STILL, "M5")
    found = one(spindle_off(faced(program)))
    assert "M5 on line 2 stopped it" in found.message()
    assert "S12500" in found.advice()


def test_the_speed_proposed_is_one_that_cutter_and_spindle_bear(new_program):
    slow, program = replace(FACING, max_rpm=9000), new_program(State(cutter=1))
    assert one(spindle_off(faced(program, cutters=(slow,), spindle=(6000, 24000)))).numbers["speed"] == 9000


def test_a_still_spindle_beside_the_board_is_fine(new_program):
    program = new_program(State(cutter=1))
    program.feed(-20, 50, 10).feed(-20, 50, DEPTH).feed(-20, 90, DEPTH).feed(-20, 90, 10)
    assert list(spindle_off(program.evidence())) == []


def test_speed_zero_is_a_still_spindle_and_no_speed_is_a_doubt(program, new_program):
    still = one(spindle_off(faced(program.set(speed=0.0))))
    assert (still.severity, still.numbers["why"]) == (Severity.STOP, "S is 0")
    doubtful = one(spindle_off(faced(new_program().set(speed=None))))
    assert doubtful.severity is Severity.CAUTION
    assert "no S was ever given" in doubtful.message()


def test_backward_in_material(program):
    found = one(spindle_reverse(faced(program.switch(Spindle.COUNTER, "M4"))))
    assert (found.severity, found.line) == (Severity.STOP, 3)
    assert found.advice().startswith("Change M4 to M3 on line 1")


def test_backward_in_the_air_is_fine(program):
    program.switch(Spindle.COUNTER, "M4").rapid(100, 50, 10).feed(50, 50, 5)
    assert list(spindle_reverse(program.evidence())) == []


def test_by_hand_the_program_does_not_switch_it(new_program):
    evidence = faced(new_program(State(cutter=1)), spindle_by="hand", stage={"rpm": 12500})
    assert [*spindle_off(evidence), *spindle_reverse(evidence)] == []


def test_by_hand_with_no_speed_said_is_unchecked(program):
    assert isinstance(one(spindle_off(faced(program, spindle_by="hand"))), Unchecked)


@pytest.mark.parametrize(("most", "kinds"), [(12500, []), (12499, ["over-speed"])])
def test_faster_than_the_cutter_may_turn(program, most, kinds):
    found = list(over_speed(faced(program, cutters=(replace(FACING, max_rpm=most),))))
    assert [f.kind for f in found] == kinds
    assert all(f.severity is Severity.STOP and f.value == 12500 and f.limit == 12499 for f in found)


def test_too_fast_in_the_air_counts_and_too_fast_while_still_does_not(program, new_program):
    fast = (replace(FACING, max_rpm=10000),)
    assert one(over_speed(program.rapid(100, 50, 10).evidence(cutters=fast))).kind == "over-speed"
    still = new_program().set(spindle=Spindle.STILL).rapid(100, 50, 10)
    assert list(over_speed(still.evidence(cutters=fast))) == []


def test_too_fast_by_hand_blames_no_line(program):
    found = one(over_speed(faced(program, cutters=(replace(FACING, max_rpm=10000),), spindle_by="hand",
                                 stage={"rpm": 12500})))
    assert (found.line, found.lines) == (0, (0, 0))
    assert found.advice().startswith("Bring the stage's rpm down to 10000")


def test_a_marked_speed_that_is_not_given_is_unchecked(program):
    assert one(over_speed(faced(program))) == Unchecked("highest speed of facing cutter",
                                                        "its max_rpm is not given")


@pytest.mark.parametrize(("span", "limit"), [
    ((6000, 24000), None), ((12500, 24000), None), ((6000, 12500), None), ((12501, 24000), 12501),
    ((6000, 12499), 12499)])
def test_speeds_the_spindle_cannot_turn_at(program, span, limit):
    said = list(spindle_range(faced(program, spindle=span)))
    assert [f.limit for f in said] == ([] if limit is None else [limit])


def test_a_spindle_of_unknown_speeds_is_unchecked(program):
    assert isinstance(one(spindle_range(faced(program))), Unchecked)


def test_cutting_with_no_cutter_known(program):
    found = one(cutter_none(faced(program.set(cutter=None))))
    assert (found.kind, found.severity, found.line) == ("cutter-none", Severity.STOP, 1)


def test_rapids_high_up_before_a_cutter_is_loaded_are_only_unchecked(program):
    evidence = program.set(cutter=None).rapid(10, 10, 20).set(cutter=1).rapid(50, 50, 20).evidence()
    assert isinstance(one(cutter_none(evidence)), Unchecked)


def test_a_cutter_that_the_job_lacks_is_for_another_check(program):
    assert list(cutter_none(faced(program.set(cutter=7)))) == []


def test_a_known_cutter_says_nothing(program):
    assert list(cutter_none(faced(program))) == []
