"""Program flow: loops, branches, jumps and subprograms in both families, and what never ends.

Worked examples 27 and 30; the forms beyond them are common practice, no published source.
"""

from __future__ import annotations

import time

import pytest

HOLES = [("F", 0, 0, -3), ("R", 0, 0, 5), *[m for x in (25, 50, 75) for m in (
    ("R", x, 0, 5), ("F", x, 0, -3), ("R", x, 0, 5))]]
USER = "#1=0\nWHILE [#1 LT 4] DO1\nG0 X[#1*25.] Y0\nG1 Z-3. F300\nG0 Z5.\n#1=#1+1\nEND1"
LABELS = "#1=0\no10 while [#1 LT 4]\nG0 X[#1*25] Y0\nG1 Z-3 F300\nG0 Z5\n#1=[#1+1]\no10 endwhile"
DO = "#1=0\no10 do\nG0 X[#1*25] Y0\nG1 Z-3 F300\nG0 Z5\n#1=[#1+1]\no10 while [#1 LT 4]"
REPEAT = "#1=0\no10 repeat [4]\nG0 X[#1*25] Y0\nG1 Z-3 F300\nG0 Z5\n#1=[#1+1]\no10 endrepeat"
GOTO = "#1=0\nN10 G0 X[#1*25.] Y0\nG1 Z-3. F300\nG0 Z5.\n#1=#1+1\nIF [#1 LT 4] GOTO 10"


@pytest.mark.parametrize(("text", "dialect"), [
    (USER, "usermacro"), (USER, "union"), (LABELS, "labelled"), (LABELS, "union"), (DO, "labelled"),
    (REPEAT, "labelled"), (GOTO, "usermacro"), (GOTO, "union")])
def test_27_four_holes(run, text, dialect):
    ran = run(text + "\nM30", dialect, position=(0, 0, 5))
    assert ran.moves == HOLES
    assert ran.stops == []


SUB = "{call}\nM30\nO200\nG91 G0 X20.\nG90 G1 Z-2. F200\nG0 Z5.\nM99"


@pytest.mark.parametrize(("call", "dialect"), [
    ("M98 P200 L3", "union"), ("M98 P30200", "usermacro"), ("M98 P30200", "union"),
    ("M98 P200\nM98 P200\nM98 P200", "union"), ("G65 P200 L3", "union")])
def test_27_a_subprogram_called_three_times(run, call, dialect):
    ran = run("G90 G0 X0 Y0 Z5.\n" + SUB.format(call=call), dialect)
    assert [m[1] for m in ran.moves if m[0] == "F"] == [20, 40, 60]
    assert ran.stops == []
    assert ran.reading.ended


def test_27_a_call_of_nothing(run):
    """Read as program 30200, once: it is missing, and where the machine then is, is not known."""
    ran = run("G0 Z5\n" + SUB.format(call="M98 P30200").replace("O200", "O300") + "\nG0 X1", "union")
    assert ran.stops == ["flow-missing"]
    assert ran.found("flow-missing")[0].line == 2
    assert all(v != v for v in ran.reading.position)


def test_30_an_empty_variable_drops_its_word(run):
    """User-macro practice; the report reads 0."""
    empty = run("G0 X#1 Y10.", "usermacro", position=(5, 5, 0))
    assert empty.reading.position[:2] == (5, 10)
    zero = run("G0 X#1 Y10", "report", position=(5, 5, 0))
    assert zero.reading.position[:2] == (0, 10)


BRANCHES = "o1 if [#1 EQ 1]\nG0 X1\no1 elseif [#1 EQ 2]\nG0 X2\no1 else\nG0 X3\no1 endif\nG0 Y1"


@pytest.mark.parametrize(("value", "x"), [(1, 1), (2, 2), (9, 3)])
def test_branches(run, value, x):
    ran = run(BRANCHES, "labelled", parameters={1: value})
    assert ran.moves == [("R", x, 0, 0), ("R", x, 1, 0)]


@pytest.mark.parametrize(("value", "x"), [(370, 10), (200, 200)])
def test_then_holds_for_its_line(run, value, x):
    ran = run("IF[#978GE360]THEN#978=[#978-360]\nG0 X#978", "union", parameters={978: value})
    assert ran.reading.position[0] == x


def test_a_sub_with_arguments_hides_the_callers_locals(run):
    text = ("o100 sub\nG0 X#1 Y#2\n#3=7\no100 endsub\n#1=50 #3=60\no100 call [#1+1] [2]\nG0 X#1 Y#3\nM2")
    ran = run(text, "labelled")
    assert ran.moves == [("R", 51, 2, 0), ("R", 50, 60, 0)]


def test_a_sub_by_name_returns_a_value(run):
    text = "o<twice> sub\no<twice> return [#1*2]\no<twice> endsub\no<twice> call [21]\nG0 X#<_value>\nM2"
    assert run(text, "labelled").reading.position[0] == 42


def test_names_are_local_unless_they_begin_with_an_underscore(run):
    text = ("o1 sub\n#<a>=5\n#<_b>=6\no1 endsub\n#<a>=1 #<_b>=1\no1 call\nG0 X#<a> Y#<_b>\nM2")
    assert run(text, "labelled").reading.position[:2] == (1, 6)


def test_break_and_continue(run):
    text = ("#1=0\no1 while [1]\n#1=[#1+1]\no2 if [#1 EQ 2]\no1 continue\no2 endif\no3 if [#1 GT 4]\n"
            "o1 break\n"
            "o3 endif\nG0 X#1\no1 endwhile\nM2")
    assert [m[1] for m in run(text, "labelled").moves] == [1, 3, 4]


def test_g65_gives_its_words_to_local_variables(run):
    text = "G65 P9010 A1. B2. X5.\nM30\nO9010\nG0 X#24 Y#1 Z#2\nM99"
    assert run(text, "usermacro").reading.position == (5, 1, 2)


def test_g66_calls_at_every_line_that_moves(run):
    text = "G66 P9010 A3.\nG0 X1.\nG0 X2.\nG67\nG0 X3.\nM30\nO9010\nG91\nG0 Z#1\nG90\nM99"
    assert run(text, "usermacro").reading.position == (3, 0, 6)


def test_a_call_of_a_line_in_the_same_file(run):
    """M98 Q and M97 P: from that N until M99."""
    for call in ("M98 Q2104", "M97 P2104"):
        ran = run(f"G0 Z5\n{call}\nG0 X9\nM30\nN2104 G0 X3\nM99", "union")
        assert [m[1] for m in ran.moves] == [0, 3, 9]


def test_m99_p_goes_on_at_a_line_of_the_caller(run):
    ran = run("M98 P5\nG0 X1\nN70 G0 X2\nM30\nO5\nG0 X9\nM99 P70", "union")
    assert [m[1] for m in ran.moves] == [9, 2]


def test_a_program_ends_where_the_next_one_begins(run):
    ran = run("O1\nG0 X1\nO2\nG0 X2\nM99", "union")
    assert [m[1] for m in ran.moves] == [1]
    assert any("end" in f.message() for f in ran.found("word-doubtful"))


def test_a_program_number_behind_m99_begins_the_next_program(run):
    ran = run("M98 P810\nG0 X1\nM30\nO5\nG0 X5\nM99 O0810(NAME)\nG0 Y8\nM99", "union")
    assert ran.moves == [("R", 0, 8, 0), ("R", 1, 8, 0)]


def test_a_lone_o_number_calls_its_sub(run):
    ran = run("o103 sub\nG0 X3\no103 endsub\nO103\nM2", "labelled")
    assert [m[1] for m in ran.moves] == [3]


def test_modes_that_a_subprogram_leaves_changed_are_said(run):
    ran = run("M98 P5\nG0 X1\nM30\nO5\nG91\nM99", "union")
    assert any("came back" in f.message() for f in ran.found("word-doubtful"))


# --- what never ends, what is missing ---

@pytest.mark.parametrize(("text", "dialect"), [
    ("N1 G0 X1\nGOTO 1", "usermacro"), ("#1=1\no1 while [#1 EQ 1]\no1 endwhile", "labelled"),
    ("N1 G91 G0 X1\nG0 X-1\nGOTO 1", "usermacro"), ("IF [#503 NE 5] GOTO 9\nN9 GOTO 9", "usermacro"),
    ("#1=0\nWHILE [1 EQ 1] DO1\n#1=#1+1\nEND1", "usermacro"), ("G0 X1\nM99", "usermacro"),
    ("M98 P5\nM30\nO5\nM98 P5\nM99", "union")])
def test_programs_without_an_end_are_found(run, text, dialect):
    began = time.perf_counter()
    ran = run(text, dialect, parameters={503: 1.0})
    assert "flow-endless" in ran.stops
    assert time.perf_counter() - began < 60  # it comes back at all; how fast is the benchmark's


def test_a_loop_that_moves_while_it_counts_is_not_endless(run):
    text = "#1=0\nWHILE [#1 LT 3000] DO1\nG0 X#1\nG0 X0\n#1=#1+1\nEND1\nM30"
    ran = run(text, "usermacro", values={"flow.max_steps": 50, "number.no_point": "unit"})
    assert "flow-endless" not in ran.stops
    assert len(ran.motion) == 2 * 3000 - 2


@pytest.mark.parametrize(("text", "line"), [
    ("G0 X1\nGOTO 99", 2), ("o1 call", 1), ("o1 while [1]\nG0 X1", 1), ("o1 endif", 1),
    ("WHILE [1 EQ 0] DO1", 1),
    ("o1 if [1]\no2 while [0]\no1 endif\no2 endwhile", 3), ("M98", 1)])
def test_a_partner_or_target_that_is_missing(run, text, line):
    ran = run(text, "union")
    assert line in [f.line for f in ran.found("flow-missing")]


@pytest.mark.parametrize("text", ["IF [#5061 GT 0] GOTO 9\nG1 X1 F100\nN9 G1 X2 F100",
                                  "GOTO #5061\nG1 X1 F100"])
def test_what_only_the_machine_knows_decides_nothing(run, text):
    ran = run(text, "union")
    assert not ran.motion.placed.any()
    assert any("known to the machine only" in f.message() for f in ran.found("word-doubtful"))


def test_a_given_value_decides(run):
    ran = run("IF [#5061 GT 0] GOTO 9\nG0 X1\nN9 G0 X2", "union", parameters={5061: 1.0})
    assert [m[1] for m in ran.moves] == [2]


def test_a_label_that_stands_twice(run):
    ran = run("GOTO 5\nN5 G0 X1\nN5 G0 X2", "union")
    assert any("N5 stands twice" in f.message() for f in ran.found("word-doubtful"))


def test_block_delete_on_a_jump(run):
    for on, x in ((True, [1, 2]), (False, [2])):
        assert [m[1] for m in run("/GOTO 9\nG0 X1\nN9 G0 X2", "union", block_delete=on).moves] == x


def test_m99_in_a_main_program_is_said_where_it_does_not_loop(run):
    assert "M99" in run("G21 G90\nG0 Z5\nM99", "union").found("word-doubtful")[0].message()
    assert run("G21 G90\nG0 Z5.\nM99", "usermacro").found("flow-endless")
