"""The program as a whole: its size against the board, whether it gets there, moves without end."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from proveout.parser.finding import Severity, finding
from proveout.parser.job import Cutter
from proveout.parser.source import Source
from proveout.parser.units import Units
from proveout.sim.checks.program import off_board, other_trade, scale_suspect, too_far

DEPTH = -0.4


def one(said):
    (found,) = said
    return found


def around(program, x0, y0, x1, y1, z=DEPTH):
    """A rectangle at feed, approached by rapids."""
    program.rapid(x0, y0, 10).rapid(x0, y0, z)
    for x, y in ((x1, y0), (x1, y1), (x0, y1), (x0, y0)):
        program.feed(x, y, z)
    return program


def scaled(program, factor):
    return around(program, -10 * factor, -5 * factor, 210 * factor, 105 * factor)


def test_a_facing_path_fits_as_it_is(program):
    assert list(scale_suspect(scaled(program, 1.0).evidence())) == []


@pytest.mark.parametrize(("factor", "said"), [(1 / 25.4, "25.4"), (25.4, "1/25.4")])
def test_inches_taken_for_millimetres_and_the_reverse(program, factor, said):
    found = one(scale_suspect(scaled(program, factor).evidence()))
    assert (found.severity, found.numbers["factor"]) == (Severity.STOP, said)
    assert found.value == pytest.approx((220 if found.limit == 200 else 110) * factor)


@pytest.mark.parametrize(("wide", "suspect"), [(15.95, True), (16.05, False)])
def test_under_eight_percent_of_both_sides_is_suspect(program, wide, suspect):
    """200 x 100 board: 8 % of a side is 16 and 8. A wide cutter leaves room for the scaled path."""
    wide_cutter = Cutter(number=1, shape="facing", diameter=63.0)
    evidence = around(program, -4.9, 0, -4.9 + wide, 1).evidence(cutters=(wide_cutter,))
    assert bool(list(scale_suspect(evidence))) is suspect


@pytest.mark.parametrize(("tall", "suspect"), [(7.9, False), (2.5, True), (1.17, False), (1.19, True)])
def test_a_small_path_must_take_up_the_board_once_scaled(program, tall, suspect):
    """100 mm side: 30 % is 30/25.4 = 1.181; grown by two cutters of 25 it ends at 150/25.4 = 5.906."""
    assert bool(list(scale_suspect(around(program, 0, 0, 1, tall).evidence()))) is suspect


@pytest.mark.parametrize(("wide", "suspect"), [(599, False), (601, False), (1525, True)])
def test_over_three_boards_is_suspect_when_the_small_version_takes_up_the_board(program, wide, suspect):
    """3 x 200 = 600; 0.30 x 200 x 25.4 = 1524."""
    assert bool(list(scale_suspect(around(program, 0, 0, wide, 50).evidence()))) is suspect


def test_scaling_is_about_the_programs_own_zero(program):
    """A small path in the far corner of the board, drawn about a zero that sits there."""
    program.set(shift=(150.0, 60.0, 0.0))
    assert one(scale_suspect(around(program, 150, 60, 152, 62).evidence())).kind == "scale-suspect"


def test_a_small_path_far_from_its_zero_is_just_small(program):
    assert list(scale_suspect(around(program, 150, 60, 152, 62).evidence())) == []


def test_one_hole_is_no_reason(program):
    evidence = program.rapid(50, 50, 2).feed(50, 50, -5).rapid(50, 50, 10).evidence()
    assert list(scale_suspect(evidence)) == []


@given(x0=st.floats(-30, 30), y0=st.floats(-30, 30), x1=st.floats(80, 230), y1=st.floats(40, 130))
@settings(max_examples=30)
def test_a_path_over_a_good_part_of_the_board_is_never_suspect(new_program, x0, y0, x1, y1):
    assert list(scale_suspect(around(new_program(), x0, y0, x1, y1).evidence())) == []


def test_a_cut_on_the_board_meets_it(program):
    assert list(off_board(around(program, 20, 20, 180, 80).evidence())) == []


@pytest.mark.parametrize(("x", "gap"), [(215.0, 2.5), (300.0, 87.5)])
def test_a_cut_beside_the_board(program, x, gap):
    """The board ends at X200, the cutter's radius is 12.5."""
    found = one(off_board(around(program, x, 0, x + 50, 50).evidence()))
    assert found.severity is Severity.STOP
    assert found.value == pytest.approx(gap)
    assert found.message() == f"The cut never meets the board: it passes beside it by {gap:g} mm."
    assert found.message(Units.INCH).endswith(" in.")


def test_a_cut_above_the_board(program):
    found = one(off_board(around(program, 20, 20, 180, 80, z=3.0).evidence()))
    assert found.value == pytest.approx(3.0)
    assert found.message().startswith("The cut never meets the board: it stays above it by 3 mm")


def test_a_pass_that_just_touches_or_repeats_is_no_miss(program, new_program):
    assert list(off_board(around(program, 20, 20, 180, 80, z=0.0).evidence())) == []
    assert list(off_board(new_program().rapid(50, 50, 10).evidence())) == []


def test_a_program_that_is_only_partly_placed_may_meet_the_board_elsewhere(program):
    lost = finding("unplaced", why="it is not known", fix="Say where")
    assert list(off_board(around(program, 300, 0, 350, 50).evidence(findings=(lost,)))) == []


def test_a_round_cut_beside_the_board(program):
    program.rapid(260, 50, DEPTH)
    program.arc(9, (260, 50, DEPTH), (260, 50, DEPTH), plane=17, centre=(250, 50), sweep=6.283185, feed=900)
    assert one(off_board(program.evidence())).value == pytest.approx(240 - 12.5 - 200)


@pytest.mark.parametrize(("x", "kinds"), [(99_999.0, []), (100_001.0, ["off-board"])])
def test_moves_beyond_a_hundred_metres(program, x, kinds):
    said = list(too_far(program.rapid(x, 0, 10).evidence()))
    assert [f.kind for f in said] == kinds
    assert all(f.limit == 100_000 and f.line == 1 for f in said)


def test_another_trade_is_told_once(program):
    evidence = around(program, 0, 0, 100, 100).evidence()
    printed = Source("a.nc", b"M104 S200\nG28\nG1 X1 Y1 E0.5 F1200\nG1 X2 E0.6\n")
    said = one(other_trade(replace(evidence, reading=replace(evidence.reading, source=printed))))
    assert "heating" in said.what
    assert "3D printer" in said.why
    assert list(other_trade(evidence)) == []
