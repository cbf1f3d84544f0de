"""Units, offsets, lengths and machine positions: what the control shows and where the tip is."""

from __future__ import annotations

from math import isnan

import pytest
from hypothesis import given
from hypothesis import strategies as st
from proveout.parser.frames import Frames
from proveout.parser.reading import Setting

coordinate = st.floats(-500, 500)
place = st.tuples(coordinate, coordinate, coordinate)


def setting(**words) -> Setting:
    return Setting(**{"position": (0.0, 0.0, 0.0), **words})


# --- laws of Frames itself: P = T - shift, M = T + origin + reach [NIST IR 6556, 3.2.2] ---

@given(place, place, place)
def test_g92_makes_the_point_read_what_is_written(zero, tip, wanted):
    frames = Frames(setting(offsets={1: zero}), False)
    for axis in range(3):
        frames.set_g92(axis, tip[axis], wanted[axis])
    assert frames.shown(tip) == pytest.approx(wanted, abs=1e-9)


@given(place, place, place, st.integers(1, 9))
def test_g10_l20_makes_the_point_read_what_is_written_in_its_system(zero, tip, wanted, number):
    frames = Frames(setting(offsets={1: zero}), False)
    for axis in range(3):
        frames.set_origin_here(number, axis, tip[axis], wanted[axis])
    frames.system = number
    frames.renew()
    assert frames.shown(tip) == pytest.approx(wanted, abs=1e-9)


@given(place, place, st.integers(1, 9), place)
def test_a_register_is_read_as_it_was_set(zero, origin, number, values):
    frames = Frames(setting(offsets={1: zero}, machine_origin=origin, lengths={1: 30.0}, cutter=1), True)
    for axis in range(3):
        frames.set_origin(number, axis, values[axis])
    assert [frames.origin(number, axis) for axis in range(3)] == pytest.approx(values, abs=1e-9)


@given(place, place, st.floats(0, 200), st.floats(0, 200))
def test_to_machine_and_back(origin, tip, first, second):
    frames = Frames(setting(machine_origin=origin, lengths={1: first, 2: second}, cutter=1), True)
    frames.take(2)
    machine = [frames.to_machine(axis, tip[axis]) for axis in range(3)]
    assert [frames.from_machine(axis, machine[axis]) for axis in range(3)] == pytest.approx(tip, abs=1e-9)
    assert machine[2] == pytest.approx(tip[2] + origin[2] + second - first)


def test_without_an_origin_machine_positions_have_no_place():
    frames = Frames(setting(), False)
    assert isnan(frames.from_machine(0, 5.0))
    assert isnan(frames.to_machine(2, 5.0))


# --- lengths: who zeroed Z, and what a change does ---

LENGTHS = {1: 50.0, 2: 62.0}


def test_with_g43_for_its_own_cutter_the_tip_is_where_z_says(run):
    """Design rule: programmed Z is the lowest point of the edges."""
    ran = run("G43 H1\nG0 Z5\nT2 M6\nG43 H2\nG0 X1\nG0 Z5", cutter=1, lengths=LENGTHS, position=(0, 0, 9))
    assert ran.motion.end[0, 2] == 5
    assert ran.motion.start[1, 2] == pytest.approx(5 - 12)  # the longer cutter hangs lower
    assert ran.motion.end[-1].tolist() == [1, 0, 5]


def test_without_any_length_offset_the_first_cutter_was_zeroed(run):
    ran = run("G0 Z5\nT2 M6\nG0 Z6", cutter=1, lengths=LENGTHS)
    assert ran.motion.end[0, 2] == 5
    assert ran.motion.end[1, 2] == pytest.approx(6 - 12)
    assert ran.reads[2] == pytest.approx(6)


def test_a_change_to_a_cutter_of_unknown_length_leaves_z_unknown(run):
    ran = run("G0 Z5\nT3 M6\nG0 X4\nG0 Z5\nG0 X5", cutter=1)
    assert isnan(ran.motion.start[1, 2])
    assert isnan(ran.motion.end[1, 2])
    assert ran.motion.end[-1].tolist() == [5, 0, 5]
    assert ran.kinds().count("unplaced") == 0  # sideways and a lift: unchecked, not a warning
    assert any("length" in u.why for u in ran.reading.unchecked)


def test_h_of_another_cutter_is_doubtful(run):
    found = run("G43 H1", cutter=2, lengths=LENGTHS).found("word-doubtful")
    assert [f.column for f in found] == [5]
    assert "12 mm" in found[0].message()


@pytest.mark.parametrize("word", ["H-1", "H1.5", "H99999"])
def test_h_out_of_range(run, word):
    """3.5.11."""
    assert run(f"G43 {word}").stops == ["value-bad"]


def test_g43_without_h(run):
    """3.5.11: a required word; later controls take the cutter in the spindle."""
    assert run("G43").stops == ["value-bad"]
    ran = run("G43\nG0 Z5", values={"tlo.no_h": "tool"}, cutter=1, lengths=LENGTHS)
    assert ran.stops == []
    assert ran.reading.position[2] == 5


# --- systems, G52, G10 ---

def test_an_offset_that_the_job_does_not_give_has_no_place(run):
    ran = run("G0 Z5\nG55\nG1 X1 Y1 Z-1 F100\nG54\nG0 X0 Y0 Z5")
    assert [f.line for f in ran.found("unplaced")] == [3, 5]
    assert ran.found("unplaced")[0].about == "G55"
    assert ran.reading.position == (0, 0, 5)


def test_the_nine_systems(run):
    names = ["G54", "G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3"]
    offsets = {n: (10.0 * n, 0.0, 0.0) for n in range(1, 10)}
    ran = run("\n".join(f"{name} G0 X1" for name in names), offsets=offsets)
    assert ran.motion.end[:, 0].tolist() == [10.0 * n + 1 for n in range(1, 10)]
    assert [ran.motion.states[s].offset for s in ran.motion.state] == names


def test_g52_shifts_within_the_work_offset(run):
    """Common practice, no published source."""
    ran = run("G52 X10 Y5\nG0 X1 Y1\nG52 X0 Y0\nG0 X1 Y1", "standard", offsets={1: (100, 0, 0)})
    assert ran.motion.end[:, :2].tolist() == [[111, 6], [101, 1]]


@pytest.mark.parametrize(("values", "x"), [({"g10.l2_g91": "absolute"}, 7.0), ({"g10.l2_g91": "added"},
                                                                               107.0)])
def test_g10_l2_under_g91(run, values, x):
    """3.5.5: values are absolute; user-macro practice adds them."""
    ran = run("G91 G10 L2 P1 X7\nG90 G0 X0", values=values, offsets={1: (100, 0, 0)}, machine_origin=(0, 0,
                                                                                                      0))
    assert ran.motion.end[0, 0] == x


def test_g10_l20_here(run):
    ran = run("G10 L20 P1 X0 Y0\nG0 X5 Y5", "standard", position=(30, 40, 5))
    assert ran.reading.position == (35, 45, 5)


@pytest.mark.parametrize(("line", "kind"), [
    ("G10 L2 P0 X0", "value-bad"), ("G10 L2 P10 X0", "value-bad"), ("G10 L2 X0", "value-bad"),
    ("G10 L1 P1 Z5", "code-unsupported"), ("G10 L20 P1 X0", "code-unsupported")])
def test_g10_that_cannot_be_used(run, line, kind):
    """3.5.5."""
    assert kind in run(line, machine_origin=(0, 0, 0)).stops


def test_what_g10_writes_and_is_not_simulated_is_never_harmless(run):
    ran = run("G10 L1 P1 Z5\nG1 X1 F100", "standard")
    assert not ran.motion.placed.any()
    assert ran.found("code-unsupported")
    assert [each.what for each in ran.reading.unchecked] == ["moves behind a line that cannot be run"]


def test_g92_from_an_unknown_place_leaves_the_program_unplaced(run):
    nowhere = (float("nan"),) * 3
    ran = run("G92 X0 Y0 Z0\nG0 Z5\nG1 X1 F100", position=nowhere)
    assert not ran.motion.placed.any()
    assert "start = [x, y, z]" in ran.found("unplaced")[-1].advice()


def test_offsets_left_in_force_are_said(run):
    """errors.md: the next run starts shifted."""
    assert any("starts shifted" in f.message() for f in run("G92 X5").found("word-doubtful"))
    assert not any("starts shifted" in f.message() for f in run("G92 X5\nG92.1").found("word-doubtful"))


# --- home, G53 ---

def test_home_without_an_origin_is_unchecked_for_z_alone(run):
    """The design's rule: a machine position without machine.origin; Z alone counts as a lift."""
    ran = run("G91 G28 Z0\nG90", values={"home.axes": "named"})
    assert ran.found("unplaced") == []
    assert any("home" in u.why for u in ran.reading.unchecked)


def test_home_of_all_axes_without_an_origin_may_go_down(run):
    assert run("G28").found("unplaced")


def test_g53_z0_without_an_origin_is_unchecked(run):
    ran = run("G53 G0 Z0\nG0 X1\nG0 Z5\nG0 X2")
    assert ran.found("unplaced") == []
    assert ran.motion.placed.tolist() == [False, False, False, True]


@pytest.mark.parametrize("line", ["G53 G1 Z-1 F100", "G53 G0 X0 Z0"])
def test_g53_that_feeds_or_goes_aside_is_unplaced(run, line):
    assert len(run(line).found("unplaced")) == 1


def test_stored_home(run):
    """G28.1 stores, G28 goes there: common practice, no published source."""
    ran = run("G0 X7 Y8 Z9\nG28.1\nG0 X0\nG28", "standard", machine_origin=(0, 0, 0))
    assert ran.reading.position == (7, 8, 9)


def test_home_with_g90_is_doubtful(run):
    found = run("G90 G28 Z0", machine_origin=(0, 0, 0), home28=(0, 0, 0)).found("word-doubtful")
    assert "Z0" in found[0].message()


# --- units: the same program in inch and millimetre moves the same ---

@given(st.lists(st.tuples(st.sampled_from(["G0", "G1"]), coordinate, coordinate, coordinate), min_size=1,
                max_size=8))
def test_inch_and_millimetre_versions_agree(run, steps):
    def program(scale, unit):
        lines = [f"{unit} G90 G94", f"F{2540 / scale:.12f}"]
        return "\n".join(lines + [f"{g} X{x / scale:.12f} Y{y / scale:.12f} Z{z / scale:.12f}" for g, x, y,
                                  z in steps])

    mm, inch = run(program(1.0, "G21"), "union"), run(program(25.4, "G20"), "union")
    assert mm.motion.end == pytest.approx(inch.motion.end, abs=1e-6)
    assert mm.motion.feed == pytest.approx(inch.motion.feed, nan_ok=True, abs=1e-6)
