"""Time between M3 and first contact, worked by hand from lengths and feeds."""

from __future__ import annotations

import pytest
from proveout.parser.finding import Severity
from proveout.parser.reading import Unchecked

MACHINE = 'spin_up = {}\nrapid = 6000'
TURN = "G21 G90 G17 G94 G54\nG0 Z20\nG0 X50 Y50\nT3 M6\nG43 H3\nG0 Z5\nS12500 M3\n"
DOWN = "G1 Z-1 F600\nG1 X80 F2000\n"


def early(judged, lines: str, needed: float, begin: str = TURN):
    result = judged(lines, begin=begin, machine=MACHINE.format(needed))
    return [f for f in result.findings if f.kind == "spindle-early"]


@pytest.mark.parametrize(("needed", "count"), [(0.5, 0), (0.51, 1)])
def test_the_way_down_to_the_board_is_time(judged, needed, count):
    """5 mm at 600 mm/min is half a second."""
    said = early(judged, DOWN, needed)
    assert len(said) == count
    for found in said:
        assert (found.severity, found.line, found.limit) == (Severity.CAUTION, 8, needed)
        assert found.value == pytest.approx(0.5)
        assert "0.5 s after M3 on line 7" in found.message()


@pytest.mark.parametrize(("dwell", "count"), [(2.5, 0), (2.4, 1)])
def test_a_dwell_is_time(judged, dwell, count):
    assert len(early(judged, f"G4 P{dwell}\n" + DOWN, 3)) == count


def test_the_way_to_the_boards_edge_is_time(judged):
    """From X-33 a cutter of 6 mm touches the board at X-3: 30 mm at 600 mm/min are 3 s."""
    lines = "G0 Y50\nG1 X200 F600\n"
    begin = TURN.replace("X50 Y50", "X-33 Y50").replace("G0 Z5", "G0 Z-1")
    assert early(judged, lines, 3, begin) == []
    (said,) = early(judged, lines, 3.1, begin)
    assert said.value == pytest.approx(3.0, abs=1e-6)


def test_rapids_are_time(judged):
    """100 mm at 6000 mm/min are 1 s, and 0.5 s down."""
    assert early(judged, "G0 X150\n" + DOWN.replace("X80", "X180"), 1.5) == []
    assert len(early(judged, "G0 X150\n" + DOWN.replace("X80", "X180"), 1.6)) == 1


def test_a_stop_for_the_operator_is_time_enough(judged):
    assert early(judged, "M0\n" + DOWN, 30) == []


def test_every_start_counts_and_a_second_m3_is_none(judged):
    assert early(judged, "G4 P5\nS9000 M3\n" + DOWN, 3) == []
    again = "G4 P5\n" + DOWN + "G0 Z5\nM5\nM3\n" + DOWN.replace("X80", "X110")
    assert [f.line for f in early(judged, again, 3)] == [15]  # line 14 goes down into what is cut


def test_without_spin_up_it_is_unchecked(judged):
    result = judged(DOWN, begin=TURN)
    what = "contact before the spindle is up to speed"
    assert Unchecked(what, "machine.spin_up is not given") in result.unchecked


def test_by_hand_the_operator_waits(judged):
    result = judged(DOWN, begin=TURN, machine='spin_up = 3\nspindle_by = "hand"', stage="rpm = 12500")
    assert "spindle-early" not in {f.kind for f in result.findings}
