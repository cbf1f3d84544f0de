"""The interpreter: order, unknown places, conflicts, stops, and the laws that any program keeps."""

from __future__ import annotations

from dataclasses import replace
from math import isnan, nan
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from proveout.parser import conditions
from proveout.parser.conditions import CONDITIONS
from proveout.parser.dialect import load_dialect, shipped
from proveout.parser.doubts import differs, doubtful, other_readings
from proveout.parser.finding import OWN_FIELDS, Severity, registry
from proveout.parser.interpreter import read_program
from proveout.parser.modes import CODES, Group, key
from proveout.parser.motion import Happening, Move, Spindle
from proveout.parser.reading import OperatorAct, Setting
from proveout.parser.source import Source

NOWHERE = (nan, nan, nan)


# --- tables ---

def test_every_condition_says_what_its_kind_says():
    for name, condition in CONDITIONS.items():
        blanks = registry()[condition.kind].placeholders - OWN_FIELDS
        assert bool(condition.what) == bool({"what", "why"} & blanks) or condition.kind == "start-state", name
        assert bool(condition.fix) == ("fix" in blanks), name


@pytest.mark.parametrize("name", shipped())
def test_every_condition_has_a_weight_or_is_a_kind_of_its_own(name):
    dialect = load_dialect(name)
    free = {"end-missing", "start-state", "unplaced", "cutter-unknown"}
    weighed_elsewhere = {"key-decides", "value-uncalculable"}
    for condition, row in CONDITIONS.items():
        known = (row.weigh or condition) in dialect.conditions or row.kind in free
        assert known or condition in weighed_elsewhere, condition


def test_every_condition_is_named_where_it_is_said():
    """A condition that no code names is dead; those of one family are named by a pattern."""
    parser = Path(conditions.__file__).parent
    said = "".join(path.read_text("utf-8") for path in parser.glob("*.py"))
    patterned = {name for name in CONDITIONS if name.endswith("-unset")}
    assert [name for name in CONDITIONS if f'"{name}"' not in said and name not in patterned] == []


def test_codes_are_found_by_number():
    """NIST IR 6556, 3.3.2.1: within 0.0001 of a whole tenth counts as that tenth."""
    assert CODES[key("G", 38.2)].name == "G38.2"
    assert key("G", 1.000005) == key("G", 1.0)
    assert key("G", 1.00005) is None
    assert key("G", nan) is None
    assert key("G", -1) is None
    assert CODES[key("M", 30)].group is Group.STOP


def test_no_two_codes_share_a_number():
    assert len({code.name for code in CODES.values()}) == len(CODES)


# --- unknown places: the design's rules ---

@pytest.mark.parametrize(("lines", "unplaced", "unchecked"), [
    ("G0 Z5", [], True),  # Z alone to a given place is a lift
    ("G0 X1 Y1", [], True),  # sideways at an unknown height
    ("G0 X1 Y1 Z5", [1], False),  # may go down on the way
    ("G1 Z5 F100", [1], False), ("G1 X1 Y1 F100", [1], False),
    ("G0 Z5\nG0 X0 Y0\nG1 Z-1 F100", [], True),
    ("G91 G0 Z5", [1], False),  # from nowhere to nowhere
    ("G0 Z5\nG0 Z2", [2], True),  # X and Y unknown, and it goes down
    ("G0 Z5\nG0 Z9", [], True),
])
def test_from_an_unknown_place(run, lines, unplaced, unchecked):
    ran = run(lines, position=NOWHERE)
    assert [f.line for f in ran.found("unplaced")] == unplaced
    assert bool(ran.reading.unchecked) is unchecked
    assert ran.stops == []


def test_an_absolute_word_makes_its_axis_known(run):
    ran = run("G0 Z5\nG0 X1\nG0 Y2\nG0 X3", position=NOWHERE)
    assert ran.motion.placed.tolist() == [False, False, False, True]
    assert ran.reading.position == (3, 2, 5)


def test_lines_of_unchecked_moves_are_named(run):
    ran = run("\n".join(f"G91 G0 X{n}" for n in range(1, 9)), position=(nan, 0, 0))
    assert "lines 1, 2, 3, 4 and 4 more" in ran.reading.unchecked[0].why


def test_a_line_that_cannot_be_read_loses_every_axis(run):
    ran = run("G0 X1 Y1 Z5\nG0 X1,5\nG0 X2\nG91 G1 Z-1 F100\nG90 G0 Y1\nG0 Z5\nG0 X3")
    assert ran.motion.placed.tolist() == [True, False, False, False, False, True]
    assert ran.kinds().count("unread") == 1
    assert ran.found("unplaced") == []  # one mistake is one finding: the places that it hides are unchecked
    assert "line 2 could not be read, and what it moves is not known (lines 2, 4)" in [
        each.why for each in ran.reading.unchecked]


@pytest.mark.parametrize(("code", "end"), [
    ("G51 X0 Y0", "G50"), ("G68 X0 Y0 I1", "G69")])
def test_a_transformation_hides_everything_behind_it(run, code, end):
    ran = run(f"G0 X1 Y1 Z5\n{code}\nG1 X2 Y2 F100\nG1 X3\n{end}\nG0 X4 Y4 Z5\nG0 X5", "union")
    said = [f for f in ran.reading.findings if f.line == 2 and f.severity.word != "note"]
    assert [(f.about, f.column) for f in said if f.kind in ("code-unsupported",
                                                            "value-bad")] == [(code.split()[0], 1)]
    hidden = [each.why for each in ran.reading.unchecked if each.what.startswith("moves behind")]
    assert {3, 4} <= {f.line for f in ran.found("unplaced")} or any("lines 3, 4" in why for why in hidden)
    assert ran.motion.placed.tolist() == [True, *[False] * (len(ran.motion) - 2), True]


@pytest.mark.parametrize("line", ["G76 X1 Z-1 P1", "G74 X1 Z-1 R1"])
def test_a_motion_that_is_not_simulated_is_unplaced_until_places_are_given_again(run, line):
    ran = run(f"G0 X1 Y1 Z5\n{line}\nG0 X2 Y2\nG0 Z5\nG0 X3", "union")
    assert ran.found("code-unsupported")[0].line == 2
    assert ran.found("unplaced")[0].line == 2
    assert not ran.motion.placed[1]
    assert ran.motion.placed[-1]


def test_a_modal_motion_that_is_not_simulated_holds_for_the_next_lines(run):
    ran = run("G0 X1 Y1 Z5\nG76 Z-5 P1\nZ-6\nZ-7", "union")
    assert [f.line for f in ran.found("unplaced")] == [2, 3, 4]


def test_a_call_that_is_not_followed_loses_every_axis(run):
    ran = run("G0 X1 Y1 Z5\nM98 P100\nG1 X2 F100", "union")
    assert [(f.kind, f.line) for f in ran.reading.findings if f.line > 1 and f.severity.word != "note"] == [
        ("flow-missing", 2), ("end-missing", 3)]
    assert "O100 is called on line 2 and is not in this file (line 3)" in [
        each.why for each in ran.reading.unchecked]
    assert not ran.motion.placed[1:].any()


def test_a_code_that_only_smooths_is_no_motion(run):
    ran = run("G0 X1\nG5.1 Q1\nX2", "union")
    assert [m[1] for m in ran.moves] == [1, 2]


def test_a_further_work_offset_hides_the_places_until_another_is_chosen(run):
    ran = run("G0 X1 Y1 Z1\nG54.1 P3\nG0 X2\nG54\nG0 X1 Y1 Z1\nG0 X2", "union")
    assert ran.motion.placed.tolist() == [True, False, False, True]
    assert "where G54.1 P3 has its zero is not given" in ran.reading.unchecked[0].why


def test_an_unknown_code_is_never_harmless(run):
    ran = run("G0 X1 Y1 Z5\nG123 X5\nG91 G0 X1")
    assert [(f.line, f.column, f.end_column, f.about) for f in ran.found("code-unknown")] == [(2, 1, 5,
                                                                                               "G123")]
    assert not ran.motion.placed[1:].any()


def test_a_turning_axis_hides_the_places_until_it_is_back_at_zero(run):
    ran = run("G0 X1 A0\nG0 X2 A90\nG0 X3\nG0 X4 Y0 Z0 A0\nG0 X5", "union")
    assert ran.motion.placed.tolist() == [True, False, False, False, True]
    assert {f.about for f in ran.found("code-unsupported")} == {"A"}


# --- words, groups, order ---

@pytest.mark.parametrize(("line", "kind", "column", "end"), [
    ("G1 X1 R5 F100", "code-conflict", 7, 9), ("G0 X1 Q2", "code-conflict", 7, 9), ("G0 X1 X2",
                                                                                    "code-conflict", 7, 9),
    ("G0 G90 G91 X5", "code-conflict", 8, 11), ("G4", "value-bad", 1, 3), ("G0", "value-bad", 1, 3),
    ("T-1", "value-bad", 1, 4), ("S-5", "value-bad", 1, 4), ("F-1", "value-bad", 1, 4), ("G4 P-1",
                                                                                         "value-bad", 4, 7),
    ("T1.5", "value-bad", 1, 5), ("G0 X99999999", "value-bad", 4, 13), ("M123", "code-unsupported", 1, 5),
    ("G0 X[1/0]", "value-bad", 4, 10), ("G1 X1 F0", "feed-missing", 0, 0), ("G53 X1", "code-conflict", 5, 7),
    ("X1", "code-conflict", 1, 3), ("G2 G53 X1 I1", "code-conflict", 4, 7), ("M6", "value-bad", 1, 3),
    ("G2 X1 Y1", "arc-mismatch", 1, 3),
    ("G2 X5 Y0 I4", "arc-mismatch", 1, 3), ("G81 X1 Z-1", "cycle-bad", 1, 4), ("G81 X1 Z1 R0", "cycle-bad",
                                                                               11, 13),
    ("G83 X1 Z-1 R1 Q-1", "cycle-bad", 15, 18), ("G81 X1 Z-1 R1 L0", "cycle-bad", 15, 17),
    ("G93 G81 X1 Z-1 R1 F1", "cycle-bad", 5, 8), ("G81", "cycle-bad", 1, 4),
])
def test_each_mistake_at_its_column(run, line, kind, column, end):
    """errors.md: words and groups, units and feeds, arcs, cycles; NIST IR 6556, 3.3.5, 3.5, 3.7."""
    found = [f for f in run(line).reading.findings if f.kind == kind]
    assert [(f.line, f.column, f.end_column) for f in found] == [(1, column, end)]


@pytest.mark.parametrize("line", [
    "M3", "G20\nG0 X1\nG21 G0 X2", "G81 X1 Z-1 R1 L2 F100", "G4 P500", "G92.3", "#5221=5", "#1=5 #1=6",
    "G0 X#7"])
def test_what_is_legal_and_doubtful(run, line):
    """errors.md, lines with W."""
    ran = run(line)
    assert ran.stops == []
    assert ran.found("word-doubtful")


@pytest.mark.parametrize(("line", "said"), [
    ("S9 M3\nM5 G0 Z5", "stops the spindle before the move"), ("T2\nG0 X1", "no M6 changes it"),
    ("G43 H1\nT2 M6\nG0 X1", "length offset of H1 is still in force"),
    ("G81 X1 Z-1 R1 F100\nG91 X2", "means another place"),
    ("\n".join(f"G3 X{n % 2} R1 F100" for n in range(1, 22)) + "\nG18 G2 X0 R9",
     "plane of G18")])
def test_more_that_is_legal_and_doubtful(run, line, said):
    """errors.md, lines with W: units and spindle, offsets and tools, cycles, arcs."""
    ran = run(line, cutter=1, lengths={1: 0.0, 2: 0.0})
    doubts = ran.found("word-doubtful") + ran.found("cutter-doubtful")
    assert any(said in f.message() for f in doubts)


def test_numbers_without_a_point_are_said(run):
    """errors.md: X10 means 0.010 mm; mixing X10 and X10. in one program."""
    values = {"number.no_point": "increment"}
    dialect = load_dialect("report")
    weighed = dict(dialect.conditions, **{"number-no-point": Severity.CAUTION,
                                          "number-mixed-points": Severity.STOP})
    said = {}
    for program in ("G0 Y10.\nX10\nX5\nY2.", "G0 Y10\nX5"):
        reading = read_program(Source("a.nc", program.encode()), replace(dialect.with_values(values),
                               conditions=weighed), Setting(position=START))
        assert reading.position[0] == 0.005
        said[program] = [(f.about, f.line, f.column, f.message()) for f in reading.findings
                         if f.kind == "word-doubtful"]
    (mixed,), bare = said.values()
    assert mixed[:3] == ("numbers", 2, 1)
    assert "X10 is 0.01 mm" in mixed[3]
    assert [each[:3] for each in bare] == [("no point", 1, 4), ("no point", 2, 1)]
    assert "takes it for 0.01 mm" in bare[0][3]


def test_words_of_modal_cycles_and_arcs_are_taken(run):
    assert run("G81 X1 Z-1 R1 F100\nX2 R2\nX3 Z-2\nG80\nG2 X5 I1 F100\nX3 I-1").stops == []


def test_a_cutter_that_the_job_lacks(run):
    ran = run("T7 M6", cutters=frozenset({1, 2}))
    assert [(f.kind, f.about, f.column) for f in ran.reading.findings if f.kind == "cutter-unknown"] == [
        ("cutter-unknown", "7", 1)]
    assert run("T2 M6", cutters=frozenset({1, 2})).found("cutter-unknown") == []


def test_m6_takes_the_last_t_and_stops_the_spindle(run):
    """NIST IR 6556, 3.6.3."""
    ran = run("T3\nS1000 M3\nG0 X1\nM6\nG0 X2", cutter=1, lengths={1: 0.0, 3: 0.0})
    assert ran.motion.column("cutter").tolist() == [1, 3]
    assert ran.motion.column("spindle").tolist() == [1, 0]
    changes = [(e.before, e.value) for e in ran.motion.events if e.kind is Happening.CUTTER]
    assert changes == [(1, 3)]


def test_t_changes_at_once_where_the_control_does_that(run):
    assert run("T3\nG0 X1", values={"tool.t_changes": True}).motion.column("cutter").tolist() == [3]


def test_coolant(run):
    """NIST IR 6556, 3.6.4: M7 and M8 may both be on."""
    ran = run("M7\nM8\nG0 X1\nM9\nG0 X2")
    assert ran.motion.column("mist").tolist() == ran.motion.column("flood").tolist() == [1, 0]
    both = run("M7 M8\nG0 X1", "standard")
    assert both.reading.final.mist
    assert both.reading.final.flood


def test_block_delete(run):
    """NIST IR 6556, 2.2.2: the operator's switch."""
    for on, x in ((False, 5), (True, 0)):
        ran = run("/G0 X5", block_delete=on)
        assert ran.reading.position[0] == x
        assert ran.reading.uses_block_delete
        assert next(f.kind for f in ran.reading.findings if f.line == 1) == "option-switch"


def test_stops_are_counted_as_they_are_executed(run):
    ran = run("M0\nG0 X1\nM1\nG0 X2\nM60", optional_stop=True)
    stops = [(e.kind, e.before, e.value) for e in ran.motion.events]
    assert stops == [(Happening.STOP, 0, 1), (Happening.OPTIONAL_STOP, 1, 2), (Happening.STOP, 2, 3)]
    passed = run("M0\nG0 X1\nM1\nG0 X2\nM60", optional_stop=False)
    assert [e.value for e in passed.motion.events] == [1, 0, 2]


def test_the_operator_changes_cutter_and_zero_at_a_stop(run):
    act = OperatorAct(cutter=2, zero=(100.0, 0.0, 0.0))
    ran = run("G0 Z5\nG0 X1\nM0\nG0 X1\nG0 Z5\nG0 X2", cutter=1, at_stop={1: act}, lengths={1: 0.0, 2: 0.0})
    assert ran.motion.end[:, 0].tolist() == [0, 1, 101, 102]
    assert ran.motion.column("cutter").tolist() == [1, 1, 2, 2]


def test_the_operator_acts_before_a_line(run):
    ran = run("G0 X1\n\n\nG0 X2\nG0 X3", cutter=1, at_line={3: OperatorAct(cutter=2)}, lengths={1: 0.0,
                                                                                                2: 0.0})
    assert ran.motion.column("cutter").tolist() == [1, 2, 2]


def test_a_spindle_switched_by_hand_is_not_the_programs(run):
    ran = run("S500\nM5\nG0 X1", spindle_by_hand=12000.0)
    assert (ran.motion.column("spindle")[0], ran.motion.column("speed")[0]) == (Spindle.CLOCKWISE, 12000)


def test_nothing_behind_the_end_runs(run):
    """NIST IR 6556, 3.6.1."""
    ran = run("G0 X1\nM30\nG0 X2\nG0 X3")
    assert len(ran.motion) == 1
    assert ran.reading.ended
    assert [f.line for f in ran.found("word-doubtful")] == [3]


# --- start and end ---

def test_what_a_program_leaves_to_the_control(run):
    ran = run("G0 Z5\nG1 X1 F100\nG2 X3 I1\nG81 X5 Z-1 R1\nM30")
    said = {(f.about, f.line, f.severity.word) for f in ran.found("start-state")}
    assert said == {
        ("the unit", 1, "caution"), ("absolute or incremental", 1, "caution"), ("the work offset", 1, "note"),
        ("what F means", 2, "note"), ("the plane", 3, "note"), ("the return level of drilling cycles", 4,
                                                                "note")}


@pytest.mark.parametrize(("lines", "where"), [
    ("G53 G0 Z0\nG54\nG0 X1", []), ("G53 G0 Z0\nG0 X1", [3]), ("G91 G28 Z0\nG90 G54 G0 X1", []),
    ("G28 Z0\nG54 G0 X1", [2])])
def test_a_way_in_machine_coordinates_relies_on_no_work_offset(run, lines, where):
    """NIST IR 6556, 3.5.12 (G53) and 3.5.8 (G28: its first way goes to a place in the work's coordinates)."""
    ran = run(f"G21 G90 G94 G17\n{lines}\nM30")
    assert [f.line for f in ran.found("start-state")] == where


def test_a_program_that_says_everything_leaves_nothing_open(run):
    ran = run("G21 G17 G90 G94 G54 G98\nG0 Z5\nG1 X1 F100\nG2 X3 I1\nG81 X5 Z-1 R1\nM30")
    assert ran.reading.findings == ()
    assert ran.reading.units_said == "G21"


@pytest.mark.parametrize(("text", "said"), [
    ("G0 X1", "no M30"), ("S1000 M3\nG0 X1", "still turning"), ("%\nG0 X1\n%", ""), ("G0 X1\nM2", "")])
def test_the_end_of_the_program(run, text, said):
    found = run(text).found("end-missing")
    assert (said in found[0].message()) if said else found == []


# --- doubts ---

PECK = "G21 G17 G90 G94 G54 G98\nG0 Z10\n{level} G83 X1 Y1 Z-9 R2 Q3 F100\nG80\nM30"


def doubted(text, **setting):
    source, dialect = Source("a.nc", text.encode()), load_dialect("union")
    given_setting = Setting(position=(0, 0, 0), **setting)
    return other_readings(read_program(source, dialect, given_setting), dialect, given_setting)


def test_a_doubt_is_raised_only_where_the_moves_differ():
    assert [(o.doubt.key, o.line) for o in doubted(PECK.format(level="G98"))] == [("cycle.g83_return", 3)]
    assert doubted(PECK.format(level="G99")) == ()


def test_the_second_reading_and_its_words():
    other = doubted(PECK.format(level="G98"))[0]
    found = doubtful(other)
    assert (found.kind, found.line, found.about) == ("word-doubtful", 3, "cycle.g83_return")
    assert "line 3" in found.message()
    assert "cycle.g83_return" in found.advice()
    assert differs(other.reading, other.reading) is None


@pytest.mark.parametrize(("text", "keys"), [
    ("G0 X1\nG2 X1 Y0 I2 J0 F100", ["arc.centre_default"]), ("G2 X4 I2 F100", []),
    ("G0 X1\nG2 X5 Y0 I2 J0 F100", []),
    ("G91 G28 Z5", ["home.axes"]), ("S100 M3\nG1 X5 F100\nG0 Z9 M5", ["order.m_after_motion"]),
    ("G91 G1 X1 F100", [])])
def test_what_hangs_on_which_key(text, keys):
    found = doubted("G21 G17 G90 G94 G54\n" + text + "\nM30", machine_origin=(0, 0, 0), home28=(50, 60, 70))
    assert sorted({other.doubt.key for other in found}) == keys


# --- laws ---

coordinates = st.integers(-9999, 9999).map(lambda n: n / 100)
straight = st.tuples(st.sampled_from(["G0", "G1"]), coordinates, coordinates, coordinates)
words = st.lists(straight, min_size=1, max_size=10)
START = (0.0, 0.0, 0.0)


def straight_program(steps, head="G21 G90 G94\nF100\n"):
    return head + "\n".join(f"{g} X{x:.2f} Y{y:.2f} Z{z:.2f}" for g, x, y, z in steps)


@given(words)
def test_absolute_and_incremental_versions_agree(run, steps):
    increments, last = [], START
    for g, *place in steps:
        increments.append((g, *(a - b for a, b in zip(place, last, strict=True))))
        last = place
    absolute = run(straight_program(steps))
    counted = run(straight_program(increments, "G21 G91 G94\nF100\n"))
    assert counted.motion.end == pytest.approx(absolute.motion.end, abs=1e-9)


@given(words, st.tuples(coordinates, coordinates, coordinates))
def test_a_shifted_zero_shifts_every_move(run, steps, zero):
    here = run(straight_program(steps))
    there = run(straight_program(steps), offsets={1: zero}, position=zero)
    assert there.motion.end - np.array(zero) == pytest.approx(here.motion.end, abs=1e-9)
    assert [m[1:] for m in there.moves] == [pytest.approx(m[1:], abs=1e-6) for m in here.moves]


radius = st.integers(100, 5000).map(lambda n: n / 100)


@given(radius, st.floats(0, 6.28), st.floats(0.3, 6.0), st.sampled_from([2, 3]))
def test_a_mirrored_program_mirrors_the_motion(run, r, begin, turn, way):
    """X turned round: G2 and G3 change places."""
    sign = 1 if way == 3 else -1
    a, b = np.cos([begin, begin + sign * turn]) * r, np.sin([begin, begin + sign * turn]) * r

    def program(flip, code):
        return (f"G1 X{flip * a[0]:.9f} Y{b[0]:.9f} F100\n"
                f"G{code} X{flip * a[1]:.9f} Y{b[1]:.9f} I{-flip * a[0]:.9f} J{-b[0]:.9f}")

    one, two = run(program(1, way)), run(program(-1, 5 - way))
    assert two.motion.end * [-1, 1, 1] == pytest.approx(one.motion.end, abs=1e-9)
    assert two.motion.arcs.sweep == pytest.approx(-one.motion.arcs.sweep, abs=1e-7)
    assert two.motion.arcs.centre * [-1, 1] == pytest.approx(one.motion.arcs.centre, abs=1e-9)


@given(words)
def test_plain_lines_and_full_lines_move_alike(run, steps):
    """The short way for plain lines does what an order does: a comment or a further word changes nothing."""
    head = "G21 G17 G90 G94 G54 G98\nF100\n"
    plain = run(straight_program(steps, head))
    full = run(straight_program([(f"G40 {g}", x, y, z) for g, x, y, z in steps], head))
    assert plain.motion.end.tolist() == full.motion.end.tolist()
    assert plain.motion.feed == pytest.approx(full.motion.feed, nan_ok=True)
    assert plain.reading.findings == full.reading.findings


@given(words)
def test_each_move_starts_where_the_last_one_ended(run, steps):
    motion = run(straight_program(steps)).motion
    assert motion.start[1:].tolist() == motion.end[:-1].tolist()


letters = st.sampled_from(list("GGGGGMMXXYYZZIJKRPQLFSTHDABCNOEUVW#%/([;"))
numbers = st.one_of(st.integers(-5, 120), st.sampled_from([0, 1, 2, 3, 4, 10, 17, 20, 28, 41, 43, 53, 68, 73,
                                                           81, 83, 92]),
                    st.floats(-1e9, 1e9), st.sampled_from(["", ".", "-", "[1/0]", "#3", "[#1+", "38.2",
                                                           "1e5"]))
random_line = st.lists(st.tuples(letters, numbers).map(lambda w: f"{w[0]}{w[1]}"), max_size=7).map(" ".join)


@settings(max_examples=400, deadline=None)
@given(st.lists(random_line, max_size=8).map("\n".join), st.sampled_from(["report", "standard", "union"]))
def test_no_text_of_words_raises(text, name):
    reading = read_program(Source("a.nc", (text or "\n").encode()), load_dialect(name), Setting())
    for found in reading.findings:
        assert found.message()
        assert (found.advice() or found.kind)
        assert 0 <= found.line <= len(reading.source.lines)
    finite = np.isfinite(reading.motion.start[1:]) & np.isfinite(reading.motion.end[:-1])
    assert (reading.motion.kind <= Move.ARC).all()
    assert finite.shape[1] == 3


@settings(max_examples=200, deadline=None)
@given(st.text(min_size=1, max_size=80), st.sampled_from(["standard", "union"]))
def test_no_text_at_all_raises(text, name):
    data = text.encode("utf-8", "replace")
    if b"\0" not in data and data.strip():
        read_program(Source("a.nc", data), load_dialect(name), Setting())


def test_an_empty_line_program(run):
    ran = run("\n\n")
    assert len(ran.motion) == 0
    assert isnan(run("\n", position=NOWHERE).reading.position[0])


SAID = "G21 G17 G90 G94 G54 G98"
AFTER = "G1 X1. F100\nG81 X2. Y0. Z-1. R2.\nG80{}X5."


@pytest.mark.parametrize(("dialect", "between", "end", "stops"), [
    ("report", "\n", 2.0, ["code-conflict"]), ("report", " ", 2.0, ["code-conflict"]),
    ("usermacro", "\n", 5.0, []), ("usermacro", " ", 5.0, []), ("union", "\n", 5.0, [])])
def test_what_g80_ends(run, dialect, between, end, stops):
    """All motion [NIST IR 6556, 3.5.15]; common practice elsewhere: the cycle, and G1 goes on."""
    ran = run(f"{SAID}\n{AFTER.format(between)}", dialect)
    assert ran.stops == stops
    reached = ran.motion.end[-1, 0]
    assert reached == end or (stops and reached != reached)


def test_behind_g80_with_nothing_before_it_no_motion_is_guessed(run):
    ran = run(f"{SAID}\nG80\nX5.", "union")
    assert ran.stops == ["code-conflict"]
    assert ran.reading.position[0] != 5


@pytest.mark.parametrize(("known", "places"), [
    ({5063: -2.0}, [1.0, -3.0]), ({5063: -2.0, 5061: 9.0}, [1.0, -3.0]), ({}, [None] * 2),
    ({5061: 4.0}, [None] * 2)])
def test_where_a_person_says_what_a_probe_measures_the_tip_is_there(run, known, places):
    """Table 2: #5063 is where Z was; what nobody has said is never zero."""
    ran = run(f"{SAID}\nG0 X0 Y0 Z5\nG38.2 Z-10 F50\nG0 Z[#5063+3]\nG1 Z[#5063-1] F100", "standard",
              parameters=known)
    ends = [None if z != z else z for z in ran.motion.end[-2:, 2].tolist()]
    assert ends == places
    assert bool(ran.found("unplaced")) is (places[0] is None)
