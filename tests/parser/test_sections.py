"""Files that hold several programs: which are programs of their own, which are run, and what is said of it.

Common practice, no published source; what frames a program is NIST IR 6556, 3.1.
"""

from __future__ import annotations

import numpy as np
import pytest
from proveout.parser.dialect import load_dialect
from proveout.parser.finding import Severity
from proveout.parser.interpreter import read_every
from proveout.parser.reading import Setting
from proveout.parser.source import Source

from .lanes import hold, read_both

START = "G21 G90 G17 G94 G54 G98\nT{n} M6\nS9000 M3\nG0 Z5.\nG0 X0. Y0.\n"
ONE = "O0001 (ONE)\n" + START.format(n=1) + "G1 Z-1. F300.\nM98 P201\nG0 Z5.\nM5\nM30\n"
TWO = "O0002\n" + START.format(n=2) + "G81 X10. Y10. Z-5. R2. F200.\nX20.\nG80\nM5\nM30\n"
SUB = "O0201\nG1 X80.\nM99\n"
BARE = START.format(n=3) + "G0 X7.\nM5\nM30\n"
FRAMED = f"%\n{ONE}%\n{TWO}%\n{SUB}%\n{BARE}%\n"
IN_A_ROW = ONE + TWO + SUB
UNION = load_dialect("union")


def every(text, dialect=UNION, **setting):
    """Every program of a text, in both lanes."""
    source = Source("a.nc", text.encode())
    quick, other = ([*read_every(source, dialect, Setting(**setting), quick=lane)] for lane in (True, False))
    for one, two in zip(quick, other, strict=True):
        hold(one, two)
    return other


def far(reading):
    return np.nanmax(reading.motion.end[:, 0])


@pytest.mark.parametrize(("text", "names", "reach"), [
    (FRAMED, ["O1", "O2", "line 30"], [80, 20, 7]), (IN_A_ROW, ["O1", "O2"], [80, 20]),
    (SUB + TWO + ONE, ["O2", "O1"], [20, 80]),  # a subprogram may stand before all others
    (ONE + SUB, [""], [80]), (BARE, [""], [7])])
@pytest.mark.parametrize("dialect", ["union", "usermacro"])
def test_each_program_is_run_by_itself(text, names, reach, dialect):
    readings = every(text, load_dialect(dialect))
    assert [reading.program for reading in readings] == names
    assert [far(reading) for reading in readings] == reach
    assert all(reading.ended for reading in readings)
    assert not [f for reading in readings for f in reading.findings if f.severity > Severity.NOTE]


def test_a_hundred_programs_between_percent_signs():
    text = "%\n" + "".join(f"O{n:04}\n{START.format(n=1)}G0 X{n}.\nM5\nM30\n%\n" for n in range(1, 118))
    readings = every(text)
    assert [far(reading) for reading in readings] == [*range(1, 118)]


def test_one_is_run_where_one_is_asked_for_and_the_others_are_told():
    reading = read_both(Source("a.nc", FRAMED.encode()), UNION)
    found, = (f for f in reading.findings if f.severity > Severity.NOTE)
    assert (found.kind, found.line) == ("word-doubtful", 14)
    assert "2 more programs (O2, line 30); only O1 was run" in found.message()
    assert "number = 2" in found.advice()
    assert far(reading) == 80


@pytest.mark.parametrize(("number", "reach"), [(1, 80), (2, 20), (201, 80)])
def test_a_program_is_chosen_by_its_number(number, reach):
    reading = read_both(Source("a.nc", IN_A_ROW.encode()), UNION, Setting(program=number))
    assert far(reading) == reach
    assert not [f for f in reading.findings if "more program" in f.message()]


def test_a_number_that_is_not_there_runs_nothing():
    reading = read_both(Source("a.nc", IN_A_ROW.encode()), UNION, Setting(program=7))
    assert [f.kind for f in reading.findings if f.severity is Severity.STOP] == ["flow-missing"]
    assert len(reading.motion) == 0


def test_a_fault_is_told_with_its_own_program():
    one, two = every(ONE.replace("X0.", "X0,5") + TWO + SUB)
    assert [f.line for f in one.findings if f.kind == "unread"] == [6]
    assert not [f for f in two.findings if f.kind == "unread"]


def test_a_line_that_ends_a_program_may_hold_the_percent_or_the_next_number():
    """`M30%` and `M99 O0810` as they stand in real files: the code before it is carried out."""
    one, two = every("O1\nG21 G90 G54\nG0 Z5.\nM98 P810\nN125M30%\nO2\nG21 G90 G54\nG0 Z6.\nM30\n"
                     "O77\nG0 Z1.\nM99 O0810(NAME)\nG0 X3.\nM99\n")
    assert one.ended
    assert far(one) == 3
    assert two.motion.end[:, 2].tolist() == [6]


def test_what_nobody_calls_and_only_returns_is_text_behind_the_end():
    reading, = every(ONE + SUB + SUB.replace("0201", "0300"))
    found, = (f for f in reading.findings if f.severity > Severity.NOTE)
    assert (found.kind, found.line) == ("word-doubtful", 16)
    assert "Lines stand after the program's end" in found.message()


def test_the_report_reads_no_further_than_the_second_percent():
    """NIST IR 6556, 3.1."""
    reading, = every("%\nG21 G90 G54\nG0 Z5\nM2\n%\nG0 Z9\nM2\n%\n", load_dialect("report"))
    assert reading.motion.end[:, 2].tolist() == [5]
    assert [(f.kind, f.line) for f in reading.findings if f.severity > Severity.NOTE] == [
        ("word-doubtful", 6)]


@pytest.mark.parametrize(("between", "said"), [("", True), ("%\n", False), ("M30\n", False)])
def test_a_program_that_runs_into_the_next_has_no_end(between, said):
    text = f"%\nO1\nG21 G90 G54\nG0 Z5.\n{between}O2\nG21 G90 G54\nG0 Z6.\nM30\n%\n"
    one, _ = every(text)
    assert bool([f for f in one.findings if f.kind == "end-missing"]) is said


def test_where_programs_flow_by_labels_a_number_alone_is_a_call():
    """A subprogram of another file: it is missing here, and what it moves is not known."""
    reading, = every("O12\nG21 G90 G54\nG0 Z5\nG0 X1 Y1\nO103\nG1 X2 F100\nM2\n", load_dialect("labelled"))
    found, = (f for f in reading.findings if f.severity is Severity.STOP)
    assert (found.kind, found.line) == ("flow-missing", 5)
    assert np.isnan(reading.motion.end[-1, 1])
    assert reading.ended
