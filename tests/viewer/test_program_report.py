"""`proveout read`: what its screen, its table of moves and its file say of programs whose answer is plain."""

import csv
import io
import json
from contextlib import nullcontext

import numpy as np
import pytest
from proveout.parser.dialect import load_dialect
from proveout.parser.interpreter import read_program
from proveout.parser.motion import MotionBuilder
from proveout.parser.source import Source
from proveout.viewer import program_report as module
from proveout.viewer.errors import Refused
from proveout.viewer.known import parameters
from proveout.viewer.layout import plain
from proveout.viewer.moves_table import HEADER, moves_table
from proveout.viewer.program_facts import programs
from proveout.viewer.program_report import Asked, dialect_for, read_file, read_one, read_programs
from proveout.viewer.program_rows import report, report_file

UNION = load_dialect("union")
FACE = """%
O0012 (FACE)
G21 G90 G17 G94 G54 G98
T1 M6
S12000 M3
G0 Z5
G0 X0 Y0
G1 Z-1 F300
X60 F600
M0
G0 Z5
M5
M30
%
"""


@pytest.fixture
def program(tmp_path):
    def write(text, name="a.nc"):
        path = tmp_path / name
        path.write_text(text, encoding="utf-8", newline="")
        return path
    return write


def screen(path, dialect=UNION, **options):
    return plain(report(read_one(path, dialect), **options), 80)


def flat(path, **options):
    return " ".join(screen(path, **options).split())


def test_the_screen_says_what_a_program_is_and_does(program):
    """6 mm down at 300 and 60 along at 600: 1.2 s and 6 s."""
    said = flat(program(FACE))
    for words in ("14 lines; 5 moves; mm (G21); program O12; cutters T1; stops M0 line 10",
                  "X 0 to 60 mm, Y 0 mm", "Feeds 66 mm in 7 s", "level at Z -1 (60 mm)",
                  "program number O12 on line 2"):
        assert words in said


def test_holes_are_counted(program):
    said = flat(program("G21 G90 G17 G94 G54 G99\nG0 Z5\nG81 X1 Y1 Z-3 R1 F100\nX9\nG80\nM30\n"))
    assert "straight down to Z -3 (2 times)" in said


def test_a_bad_word_in_ten_thousand_lines_is_one_finding_with_its_caret(program):
    lines = ["G21 G90 G17 G94 G54", "G0 Z5", "G0 X0 Y0", "F100"]
    lines += [f"G1 X{n % 50} Y{n % 7}" for n in range(9995)]
    lines[6543] = "G1 X1,5 Y2"
    read = read_one(program("\n".join([*lines, "M30"])), UNION)
    (bad,) = [found for found in read.findings if found.kind == "unread"]
    assert (bad.line, bad.column, bad.count) == (6544, 6, 1)
    quoted = plain(report(read), 80).splitlines()
    at = next(number for number, line in enumerate(quoted) if "G1 X1,5 Y2" in line)
    assert quoted[at + 1].index("^") == quoted[at].index(",")


def test_repeats_are_folded_and_a_screen_is_a_screen(program):
    text = "G21 G90 G17 G94 G54\nG0 Z5\nG0 X0 Y0\n" + "G1 X5 Q1 F100\n" * 500 + "M30\n"
    said = screen(program(text))
    assert "(500 times, to line 503)" in " ".join(said.split())
    assert len(said.splitlines()) <= 24


@pytest.mark.parametrize(("text", "words"), [
    ("M104 S200\nG28\n" + "".join(f"G1 X{n} Y1 E{n} F100\n" for n in range(900)), "3D printer"),
    ("G21\nM4\n" + "".join(f"G1 X{n} S{n} F900\n" for n in range(900)), "laser"),
    ("G50 S2000\nG96 S200 M3\nT0101\n" + "G71 P10 Q20 U0.2\nG0 X50 Z2\n" * 300, "lathe"),
    ("DEF REAL A[3]\n" + "R1=5\nX=IC(3)\nGOTOF LABEL\nG0 X1\n" * 300, "another language"),
])
def test_another_trade_is_told_once(program, text, words):
    said = screen(program(text))
    assert len(said.splitlines()) <= 24
    assert said.count("This seems to be") == 1
    assert words in " ".join(said.split())
    assert "Not simulated" in said


def test_what_the_moves_hang_on_is_named_with_where_to_and_how_far(program):
    """R level 2 or the height before, 10, between pecks: 8 mm apart."""
    read = read_one(program("G21 G90 G17 G94 G54 G98\nG0 Z10\nG83 X1 Y1 Z-9 R2 Q3 F100\nG80\nM30\n"), UNION)
    assert read.keys == ("cycle.g83_return",)
    (hanging,) = [found for found in read.findings if found.about == "cycle.g83_return"]
    assert hanging.line == 3
    assert "to X1 Y1 Z10 instead of X1 Y1 Z2, 8 mm apart" in hanging.message()
    assert "cycle.g83_return" in " ".join(plain(report(read), 80).split())
    assert read_one(program(FACE), load_dialect("standard")).keys == ()


def test_a_value_is_given(program, tmp_path):
    path = program("G21 G90 G54\nG0 Z5\nG0 X#500 Y#501\nM30\n")
    out = tmp_path / "r.json"
    asked = Asked(values=["#500=3", "501 = -2.5"])
    read_programs([path], asked, str(out), None)
    made, = json.loads(out.read_text(encoding="utf-8"))["programs"]
    assert made["extents"]["x"] == [3, 3]
    assert made["extents"]["y"] == [-2.5, -2.5]


@pytest.mark.parametrize("said", ["500", "#a=3", "#5=", "#5=1;2", "#0=1", ""])
def test_a_value_that_is_none_is_refused_with_an_example(said):
    with pytest.raises(Refused, match="#500=3"):
        parameters([said])


LONG = "G21 G90 G54\nM98 P5 L60\nM30\nO5\nG91 G0 X1\nM99\n"


@pytest.mark.parametrize(("steps", "ends"), [(59, False), (60, True), (None, True)])
def test_steps_are_the_moves_that_a_program_may_make(program, steps, ends):
    path = program(LONG)
    read = read_one(path, dialect_for(Asked(steps=steps)))
    found = [found for found in read.findings if found.kind == "flow-endless"]
    assert read.reading is not None
    assert (not found, len(read.reading.motion)) == (ends, 60 if ends else 59)
    assert ends or ("more than 59 moves" in found[0].message() and "--steps" in found[0].advice())


def test_who_waits_hears_how_many_moves_there_are(program, monkeypatch):
    told = []
    monkeypatch.setattr(MotionBuilder, "CHUNK", 20)
    monkeypatch.setattr(module, "bar", lambda what: nullcontext(lambda *said: told.append(said)))
    read_one(program(LONG), UNION)
    assert told[:2] == [("reading a.nc: 20 moves", 0.0), ("reading a.nc: 40 moves", 0.0)]


def test_the_table_of_moves_is_the_motion():
    motion = read_program(Source("a.nc", FACE.encode()), UNION).motion
    rows = [*csv.reader(io.StringIO("".join(moves_table([("a, b", motion), ('c"', motion)]))))]
    assert tuple(rows[0]) == HEADER
    assert [name for name in HEADER if "(mm)" in name] == [f"{c}{n} (mm)" for n in "01" for c in "xyz"]
    assert [row[0] for row in rows[1:]] == ["a, b"] * len(motion) + ['c"'] * len(motion)
    for number, row in enumerate(rows[1:len(motion) + 1]):
        assert int(row[1]) == motion.line[number]
        assert row[2] == ("rapid", "feed", "arc")[motion.kind[number]]
        numbers = [float(text) if text else np.nan for text in row[3:]]
        wanted = [*motion.start[number], *motion.end[number], motion.feed[number], 1, 12000]
        assert numbers == pytest.approx(wanted, nan_ok=True, abs=1e-6)


def test_an_empty_table_has_its_header():
    assert "".join(moves_table([])) == ",".join(HEADER) + "\n"


@pytest.mark.parametrize(("text", "numbers"), [
    ("%\nO0001 (A)\nM30\n%\n%O2\nM30\n", (1, 2)), (":77\nG0 X1\n", (77,)), ("o100 sub\no100 endsub\n", ()),
    ("N5 O12\r\nO12\rO13;x\n", (12, 13)), ("(O5)\nG0 X1 O6\n", ())])
def test_program_numbers(text, numbers):
    assert programs(Source("a.nc", text.encode())) == numbers


TWO = FACE.replace("T1", "T2").replace("O0012 (FACE)", "O0013").replace("X60", "X70").removeprefix("%\n")


def test_a_file_of_several_programs_is_one_screen(program):
    screen = plain(report_file(read_file(program(FACE + TWO), UNION)), 80)
    assert "2 programs in one file" in screen
    assert "O12: 5 moves, X 0 to 60 mm, Y 0 mm, Z -1 to 5 mm, T1" in screen
    assert "O13: 5 moves, X 0 to 70 mm, Y 0 mm, Z -1 to 5 mm, T2" in screen
    many = "%\n" + "".join(TWO.replace("O0013", f"O{n}") for n in range(1, 118))
    screen = plain(report_file(read_file(program(many), UNION)), 80)
    assert "117 programs" in screen
    assert "and 109 more" in screen
    assert screen.count("\n") < 24


def test_one_program_of_several_is_told_alone(program, tmp_path):
    path, out = program(FACE + TWO), tmp_path / "r.json"
    read_programs([path], Asked(number=13), str(out), None)
    made, = json.loads(out.read_text(encoding="utf-8"))["programs"]
    assert (made["name"], made["begins"], made["extents"]["x"]) == ("O13", 15, [0, 70])
    with pytest.raises(Refused, match="holds O12, O13"):
        read_programs([path], Asked(number=14), None, None)


def test_every_program_of_a_file_has_its_rows_in_the_table(program, tmp_path):
    out = tmp_path / "m.csv"
    read_programs([program(FACE + TWO)], Asked(), None, str(out))
    rows = [*csv.reader(io.StringIO(out.read_text(encoding="utf-8")))]
    assert [name.rpartition(" ")[2] for name in dict.fromkeys(row[0] for row in rows[1:])] == ["O12", "O13"]


def test_ten_thousand_lines_with_one_bad_word_give_one_finding(program):
    lines = ["G21 G90 G17 G94 G54", "S12000 M3", "G0 Z5", "G0 X0 Y0", "G1 Z-1 F600",
             *(f"X{n % 300} Y{n % 200}.5" for n in range(9992)), "G0 Z5", "M5", "M30"]
    for bad, column in (("X1,5 Y2", 3), ("X12 Y?", 6), ("X1 Y2 HELLO", 7), ("X4 G234", 4), ("X1 X2 Y3", 4),
                        ("X[1/0] Y2", 1)):
        text = "\n".join([*lines[:6999], bad, *lines[7000:]])
        found, = read_one(program(text), UNION).findings
        assert (found.line, found.column, found.count) == (7000, column, 1)


@pytest.mark.parametrize(("text", "said"), [
    ("O1\nG21 G90 G54\nG0 Z5.\nG0 X10 Y20. (X7)\nM98 P2\nM30\nO2\nG0 X-5\nM99\n", "(2 numbers without"),
    ("O1\nG21 G90 G54\nG0 Z5.\nG0 X10. Y0\nM98 P2\nM30\nO2\nG0 X-.5\nM99\n", ""),
    ("G21 G90 G54\nG0 Z5\nG0 X10 Y20\nM30\n", "")])  # nothing says that it is for such a control
def test_numbers_that_such_controls_count_in_steps_are_named(program, text, said):
    screen = " ".join(plain(report(read_one(program(text), UNION)), 80).split())
    assert (said in screen) if said else ("number.no_point" not in screen)
