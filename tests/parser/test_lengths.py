"""Tool lengths and the control's table of cutters, and further work offsets.

The law that these hold against: the tip is at the program's Z plus the zero, plus the length in force less
the cutter's own [NIST IR 6556, 2.1.2.3, 3.5.11]; the codes beyond G43 and G10 L2 are common practice, no
published source.
"""

from __future__ import annotations

import pytest

HEAD = "G21 G17 G90 G94 G54\n"


def z(run, text, dialect="union", **setting):
    """The tip's Z at the end."""
    return run(HEAD + text, dialect, **setting).reading.position[2]


LONG = {1: 40.0, 2: 55.0, 12: 0.3}


@pytest.mark.parametrize(("text", "tip"), [
    ("G43 H1\nG0 Z5", 5.0), ("G43 H2\nG0 Z5", 20.0),  # 15 longer than the cutter is
    ("G43.1 Z40\nG0 Z5", 5.0), ("G43.1 Z43\nG0 Z5", 8.0),
    ("G43 H1\nG43.2 H12\nG0 Z5", 5.3), ("G43 H1\nG43.2 H12\nG49\nG0 Z5", -35.0),
    ("G44 H1\nG0 Z5", -75.0), ("G20 G43.1 Z2\nG21 G0 Z5", 5.0 + 50.8 - 40.0)])
def test_the_tip_hangs_by_its_own_length_and_the_control_counts_with_the_one_in_force(run, text, tip):
    assert z(run, text, lengths=LONG, cutter=1) == pytest.approx(tip)


@pytest.mark.parametrize("text", ["G43 H1", "G43.1 Z40", "G43.2 H3", "G44 H1", "G10 L1 P1 Z33\nG43 H1"])
def test_with_no_length_given_the_table_is_taken_for_right(run, text):
    assert z(run, f"{text}\nG0 Z5") == 5.0


def test_a_second_offset_that_the_job_does_not_give_hides_z_until_g49(run):
    ran = run(HEAD + "G0 X0 Y0 Z9\nG43.2 H7\nG1 Z5 F100\nG49\nG0 Z5\nX1", "union", lengths=LONG, cutter=1)
    assert ran.motion.placed.tolist() == [True, False, False, True]
    assert "row 7" in ran.found("unplaced")[0].message()


@pytest.mark.parametrize(("text", "off"), [("G43.1 Z43", "3 mm higher"), ("G43.1 Z35.5", "4.5 mm lower")])
def test_a_written_length_is_held_against_the_cutters_own(run, text, off):
    assert off in run(text, "union", lengths=LONG, cutter=1).found("word-doubtful")[0].message()


def test_a_row_of_another_cutter_is_said_where_the_job_gives_no_lengths(run):
    assert "H2" in run("T3 M6\nG43 H2 G0 Z5", "union").found("word-doubtful")[0].message()
    for text in ("T3 M6\nG43 H3 G0 Z5", "G43 H2 G0 Z5", "T3 M6\nG43 H0 G0 Z5"):
        assert not run(text, "union").found("word-doubtful")


def test_g44_is_doubtful_and_g43_is_not(run):
    assert not run("G43 H1", "union", lengths=LONG, cutter=1).found("word-doubtful")
    assert run("G44 H1", "union", lengths=LONG, cutter=1).found("word-doubtful")


@pytest.mark.parametrize(("text", "dialect", "tip"), [
    ("G10 L1 P1 Z42.\nG43 H1\nG0 Z5.", "labelled", 7.0),  # the row is 2 longer than the cutter is
    ("G43 H1\nG10 L1 P1 Z42.\nG0 Z5.", "labelled", 5.0),  # it counts from the next G43 on
    ("G10 L10 P1 R42.\nG43 H1\nG0 Z5.", "usermacro", 7.0),
    ("G10 L11 P1 R-0.5\nG43 H1\nG0 Z5.", "usermacro", 4.5),
    # L10: the row that makes Z read 3 where the tip is at 10; then Z5 is 2 above it, at 12
    ("G43 H1\nG0 Z10.\nG10 L10 P1 Z3.\nG43 H1\nG0 Z5.", "labelled", 12.0)])
def test_a_program_writes_rows_of_the_table(run, text, dialect, tip):
    ran = run(HEAD + text, dialect, lengths=LONG, cutter=1)
    assert ran.stops == []
    assert ran.reading.position[2] == pytest.approx(tip)


def test_l11_counts_from_g59_3(run):
    """Where the tip stands at 10 with G59.3 at 4, Z2 there makes a row of 4 more than the cutter's 40; under
    G54, whose zero is 0, Z5 is then at 9."""
    ran = run(HEAD + "G43 H1\nG0 Z10\nG10 L11 P1 Z2\nG43 H1\nG0 Z5", "labelled", lengths=LONG, cutter=1,
              offsets={1: (0.0, 0.0, 0.0), 9: (0.0, 0.0, 4.0)})
    assert ran.reading.position[2] == pytest.approx(9.0)


def test_a_radius_from_the_table_is_what_compensation_follows(run):
    for text, dialect in (("G10 L1 P3 R2.", "labelled"), ("G10 L12 P3 R2.", "usermacro")):
        ran = run(HEAD + text + "\nG0 X-20. Y0.\nG41 D3 G1 X0. F100.\nX30.\nG40", dialect)
        assert ran.motion.end[-1, 1] == pytest.approx(2.0)


def test_which_reading_of_g10_l10_holds_is_a_key_that_the_path_hangs_on(run):
    ran = run(HEAD + "G10 L10 P1 Z3\nG43 H1\nG0 Z5", "union", lengths=LONG, cutter=1)
    assert "g10.tools" in {doubt.key for doubt in ran.reading.doubts}


FURTHER = {1: (0.0, 0.0, 0.0), 103: (300.0, 20.0, 1.0)}


def test_a_further_work_offset(run):
    ran = run(HEAD + "G54.1 P3\nG0 X1. Y1. Z1.\nG54\nG0 X1. Y1. Z1.", "usermacro", offsets=FURTHER)
    assert ran.motion.end.tolist() == [[301, 21, 2], [1, 1, 1]]
    assert ran.motion.states[0].offset == "G54.1 P3"
    assert ran.moves[0] == ran.moves[1]


@pytest.mark.parametrize("text", ["G10 L20 P5 X100. Y0. Z0.", "#7081=100.\n#7082=0\n#7083=0"])
def test_a_further_work_offset_that_the_program_sets(run, text):
    """By machine coordinates; the machine's zero is the board frame's here."""
    ran = run(HEAD + text + "\nG54.1 P5\nG0 X1. Y2. Z3.", "usermacro", machine_origin=(0.0, 0.0, 0.0))
    assert ran.motion.end[-1].tolist() == [101, 2, 3]


@pytest.mark.parametrize("text", ["G54.1", "G54.1 P0", "G54.1 P1.5", "G54.1 P301"])
def test_a_further_work_offset_that_is_none(run, text):
    assert "value-bad" in run(text, "usermacro", values={"number.no_point": "unit"}).stops
