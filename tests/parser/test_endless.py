"""Programs without an end: what is declared endless never ends, what ends is never declared.

The oracle is a brute interpreter of a few kinds of lines that knows nothing of loops: it takes a step at a
time and counts. The programs of its test are made by hypothesis.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import pytest
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st
from proveout.parser.dialect import load_dialect
from proveout.parser.interpreter import read_program
from proveout.parser.reading import Setting
from proveout.parser.source import Source

MACROS, LABELS, UNION = map(load_dialect, ("usermacro", "labelled", "union"))
CERTAIN = "brings its end nearer"
MACHINE = Setting(offsets={1: (0.0, 0.0, 0.0), 2: (0.0, 0.0, 0.0)}, machine_origin=(0.0, 0.0, 0.0))
STEPS = 6000  # of the brute interpreter
LITTLE = {"flow.max_steps": 1500, "flow.max_moves": 1500, "expr.fix_fup": "zero"}


def read(text, dialect=UNION, **values):
    return read_program(Source("a.nc", text.encode()), dialect.with_values(values), MACHINE)


def endless(reading):
    return [found for found in reading.findings if found.kind == "flow-endless"]


# --- the brute interpreter ---

@dataclass
class Program:
    """Lines as (text, kind, what): kind is set, goto, while, end or move; labels by number; `calls`: M98."""

    lines: list[tuple] = field(default_factory=list)
    labels: dict[int, int] = field(default_factory=dict)

    @property
    def text(self) -> str:
        return "".join(f"{line[0]}\n" for line in self.lines)

    def ends_within(self, steps: int) -> bool:
        at, held, open_calls = 0, {1: 0.0, 2: 1.0, 3: 2.0}, []
        for _ in range(steps):
            _, kind, *what = self.lines[at]
            at += 1
            match kind:
                case "set":
                    index, value = eval(what[0], {"v": held}), eval(what[1], {"v": held})
                    held[round(index)] = float(value)
                case "goto" if eval(what[0], {"v": held}):
                    at = self.labels[what[1]]
                case "while" if not eval(what[0], {"v": held}):
                    at = what[1] + 1
                case "end":
                    at = what[0]
                case "call":
                    open_calls.append(at)
                    at = self.labels[100]
                case "back":
                    at = open_calls.pop()
                case "stop":
                    return True
        return False


SIGNS = {"EQ": "==", "NE": "!=", "LT": "<", "LE": "<=", "GT": ">", "GE": ">="}
numbers = st.sampled_from([0.0, 1.0, -1.0, 0.5, 2.0, 3.0, 7.0])
parameters = st.sampled_from([("#1", "v[1]"), ("#2", "v[2]"), ("#3", "v[3]")])
atoms = parameters | numbers.map(lambda n: (f"[{n:.1f}]", f"({n})"))
sums = st.tuples(atoms, st.sampled_from("+-*"), atoms).map(
    lambda s: (f"[{s[0][0]}{s[1]}{s[2][0]}]", f"({s[0][1]}{s[1]}{s[2][1]})"))
counts = st.tuples(parameters, st.sampled_from("+-"), numbers).map(
    lambda s: ("set", *s[0], f"{s[0][0]}{s[1]}{s[2]:.1f}", f"{s[0][1]}{s[1]}{s[2]}"))
MATH = "__import__('math')."
calls = st.tuples(st.sampled_from([
    ("FIX[{}/2.]", "float(MATHtrunc({}/2.0))"), ("ABS[{}]", "abs({})"),
    ("SIN[{}]", "MATHsin(MATHradians({}))"),
    ("FUP[{}-0.5]", "float(MATHceil({0}-0.5) if {0}-0.5 > 0 else MATHfloor({0}-0.5))"),
    ("[{}*2.-1.]", "({}*2.0-1.0)"), ("[{}*#2]", "({}*v[2])"), ("[{} MOD 3.]", "({} % 3.0)"),
    ("[{0}-{0}]", "({0}-{0})")]), parameters).map(
        lambda c: (c[0][0].format(c[1][0]), c[0][1].replace("MATH", MATH).format(c[1][1])))
values = atoms | sums | calls
single = st.tuples(parameters | values, st.sampled_from(sorted(SIGNS)), values).map(
    lambda c: (f"[{c[0][0]}] {c[1]} [{c[2][0]}]", f"{c[0][1]} {SIGNS[c[1]]} {c[2][1]}"))
BOTH = st.sampled_from([("OR", "or"), ("AND", "and"), ("EQ", "==")])
conditions = single | st.tuples(single, BOTH, single).map(
    lambda c: (f"[{c[0][0]}] {c[1][0]} [{c[2][0]}]", f"({c[0][1]}) {c[1][1]} ({c[2][1]})"))
steps = st.one_of(
    counts, counts,
    st.tuples(parameters, values).map(lambda s: ("set", *s[0], *s[1])),
    st.tuples(parameters, values).map(lambda s: ("far", *s[0], *s[1])),
    st.tuples(parameters, conditions, values).map(lambda s: ("then", *s)),
    st.just(("move", "G91 G1 X1. F100.")), st.just(("move", "G90 G1 X#1 Y#2 F100.")),
    st.tuples(st.just("goto"), conditions | st.just(("[1.] EQ [1.]", "True")), st.integers(0, 9)),
    st.just(("call",)))
bodies = st.recursive(
    st.lists(steps, min_size=1, max_size=4),
    lambda inner: st.tuples(st.lists(steps, max_size=2), conditions, inner, st.lists(steps, max_size=2)),
    max_leaves=3)


def programs():
    return st.builds(build, bodies, st.lists(steps, max_size=3), st.booleans())


def build(main, sub, labels) -> Program:
    """Lines of both: every line of the main program has a number that jumps may go to."""
    made = Program([("#1=0.", "set", "1", "0.0"), ("#2=1.", "set", "2", "1.0"), ("#3=2.", "set", "3", "2.0")])
    lay(made, main, 1)
    made.lines.append(("M30", "stop"))
    made.labels[100] = len(made.lines)
    lay(made, [step for step in sub if step[0] not in ("goto", "call")], 1, first="O100")
    made.lines.append(("M99", "back"))
    number = {at: n for n, at in enumerate(range(3, made.labels[100] - 1))}
    made.labels |= {n: at for at, n in number.items()}
    lines = []
    for at, line in enumerate(made.lines):
        if line[1] == "goto":
            target = line[3] % max(len(number), 1)
            line = (line[0].format(target + 1), "goto", line[2], target)
        lines.append((f"N{number[at] + 1} {line[0]}" if at in number else line[0], *line[1:]))
    made.lines = lines
    return made


def lay(made, body, depth, first=""):
    if first:
        made.lines.append((first, "move"))
    if isinstance(body, tuple):
        before, condition, inner, behind = body
        lay(made, before, depth)
        begin = len(made.lines)
        made.lines.append(())
        lay(made, inner, depth + 1)
        made.lines.append((f"END{depth}", "end", begin))
        made.lines[begin] = f"WHILE [{condition[0]}] DO{depth}", "while", condition[1], len(made.lines) - 1
        lay(made, behind, depth)
        return
    for step in body:
        match step:
            case "set", name, place, text, value:
                made.lines.append((f"{name}={text}", "set", place[2], value))
            case "far", name, place, text, value:
                made.lines.append((f"#[FIX[ABS[{name}/2.]]-FIX[FIX[ABS[{name}/2.]]/3.]*3.+1.]={text}", "set",
                                   f"__import__('math').floor(abs({place}/2.0)) % 3 + 1", value))
            case "then", (name, place), condition, (text, value):
                made.lines.append((f"IF [{condition[0]}] THEN {name}={text}", "set", place[2],
                                   f"({value}) if {condition[1]} else {place}"))
            case "move", text:
                made.lines.append((text, "move"))
            case "goto", condition, number:
                made.lines.append((f"IF [{condition[0]}] GOTO {{}}", "goto", condition[1], number))
            case ("call",):
                made.lines.append(("M98 P100", "call"))


@given(programs(), st.sampled_from(["usermacro", "union"]))
@settings(max_examples=200, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
def test_what_is_declared_endless_does_not_end(program, dialect):
    reading = read(program.text, load_dialect(dialect), **LITTLE)
    kinds = {found.kind for found in reading.findings}
    assert not {"unread", "flow-missing"} & kinds, program.text
    if "value-bad" in kinds:  # a sum beyond all numbers, which the brute interpreter goes on with
        return
    declared = [found for found in endless(reading) if CERTAIN in found.message()]
    ends = program.ends_within(STEPS)
    event(f"declared {bool(declared)}, ends {ends}")
    if declared:
        assert not ends, program.text
    elif ends:
        assert reading.ended or endless(reading)


# --- the tables ---

HEAD = "G21 G17 G90 G94 G54\nG0 X0 Y0 Z5\nF500\n"


def table(name):
    lines = (Path(__file__).parent / name).read_text("utf-8").splitlines()
    return [tuple(line.split(maxsplit=1)) for line in lines if not line.startswith("#")]


@pytest.mark.parametrize(("dialect", "lines"), table("endless_programs.txt"))
def test_every_endless_program_is_found_long_before_its_budget(dialect, lines):
    reading = read(HEAD + lines.replace(" | ", "\n"), load_dialect(dialect))
    assert len(endless(reading)) == 1
    assert not reading.ended
    assert len(reading.motion) < 150_000


@pytest.mark.parametrize(("dialect", "lines"), table("ending_programs.txt"))
def test_no_program_that_comes_to_an_end_is_called_endless(dialect, lines):
    reading = read(HEAD + lines.replace(" | ", "\n"), load_dialect(dialect))
    assert not endless(reading)
    assert reading.ended


# --- endless ones, and the line to blame ---

WHILE_TRUE = "G91\n#1=0\nWHILE [1 EQ 1] DO1\nG1 X1. F100\n#1=#1+1\nEND1\nM30"


@pytest.mark.parametrize(("text", "dialect", "line"), [
    (WHILE_TRUE, UNION, 3),
    ("G91\nN10 G1 X1. F100\n#1=[#1+1]\nGOTO 10", UNION, 4),
    ("G91 G1 X1. F100\n#1=1\nN5 #1=#1+1\nG1 Y1.\nM99 P5", UNION, 5),
    ("#1=0\no1 while [1]\nG91 G1 X[#1] F100\n#1=[#1+1]\no1 endwhile", LABELS, 2),
    ("#1=0\no1 do\nG91 G1 X[#1+1] F100\n#1=[#1+1]\no1 while [#1 GT 0]", LABELS, 5),
    # the end drifts away: a wrong sign, a wrong comparison, a step that misses
    ("#1=10.\nWHILE [#1 GT 0] DO1\nG91 G1 X1. F100\n#1=#1+1.\nEND1\nM30", UNION, 2),
    ("#1=0\nWHILE [#1 LT 5.] DO1\nG91 G1 X1. F100\n#1=#1-0.5\nEND1\nM30", UNION, 2),
    ("#1=0\nWHILE [#1 NE 5.] DO1\nG91 G1 X1. F100\n#1=#1+0.3\nEND1\nM30", UNION, 2),
    ("#1=0\n#2=2.\nN7 G91 G1 X#1 F100\n#1=#1-#2\nIF [5. GE #1] GOTO 7\nM30", UNION, 5),
    ("#<n>=0\no1 while [#<n> LE 5]\n#<n>=[#<n>-1]\nG91 G1 X1 F100\no1 endwhile", LABELS, 2),
    # the outer loop is to blame, not the honest one within it
    ("#9=0\nWHILE [1 EQ 1] DO1\n#2=0\nWHILE [#2 LT 90.] DO2\nG91 G1 X1. F100\n#2=#2+1.\nEND2\n#9=#9+1.\n"
     "END1", UNION, 2),
    ("#9=1.\nWHILE [#9 GT 0] DO1\n#2=0\nWHILE [#2 LT 9.] DO2\nG91 G1 X1. F100\n#2=#2+1.\nEND2\n#9=#9+1.\n"
     "END1", UNION, 2),
    # and the inner one, where it is that one
    ("#9=0\nWHILE [#9 LT 3.] DO1\n#2=1.\nWHILE [#2 GT 0] DO2\nG91 G1 X1. F100\n#2=#2+1.\nEND2\n#9=#9+1.\n"
     "END1", UNION, 4),
    # every other turn goes another way
    ("#1=0\n#5=0\nWHILE [1 EQ 1] DO1\n#1=1.-#1\nIF [#1 EQ 1.] GOTO 9\nG91 G1 X1. F100\nN9 #5=#5+1.\nEND1",
     UNION, 3),
    ("M98 P5\nM30\nO5\nG91 G1 X1. F100\n#1=[#1+1]\nM98 P5\nM99", UNION, 6),
    ("#1=0\nN3 M98 P5\nGOTO 3\nM30\nO5\nG91 G1 X1. F100\n#1=#1+1.\nM99", UNION, 3),
    # what a macro does at every move hangs on the moves
    ("G66 P5 A1.\n#9=0\nN3 G91 G0 X1.\nG0 X-1.\n#9=#9+1.\nGOTO 3\nM30\nO5\nG0 Y1.\nG0 Y-1.\nM99", UNION, 6)])
def test_a_loop_that_counts_while_it_moves_and_never_ends(text, dialect, line):
    reading = read("G21 G17 G90 G94 G54\nG0 X0 Y0 Z0\n" + text, dialect)
    (found,) = endless(reading)
    assert found.line == line + 2
    assert len(reading.motion) < 3000


@pytest.mark.parametrize("text", [
    "#1=0\nWHILE [#1 LT 4000.] DO1\nG91 G1 X1. F100\n#1=#1+1.\nEND1\nM30",
    "#1=0\nN1 #2=0\nN2 G91 G1 X1. F100\n#2=#2+1.\nIF [#2 LT 60.] GOTO 2\n#1=#1+1.\n"
    "IF [#1 LT 60.] GOTO 1\nM30",
    "#1=0\nWHILE [FIX[#1/1000.] LT 4.] DO1\nG91 G1 X1. F100\n#1=#1+1.\nEND1\nM30",
    "#1=4000.\nWHILE [#1 NE 0] DO1\nG91 G1 X1. F100\n#1=#1-1.\nEND1\nM30",
    # counted elsewhere: indirectly, by name, in a subprogram, by another one
    "#1=0\n#2=1.\nWHILE [#1 LT 4000.] DO1\nG91 G1 X1. F100\n#[#2]=#1+1.\nEND1\nM30",
    "#101=0\nWHILE [#101 LT 4000.] DO1\nM98 P7\nEND1\nM30\nO7\nG91 G1 X1. F100\n#101=#101+1.\nM99",
    "#1=0\n#3=0\nWHILE [#1 LT 4.] DO1\nG91 G1 X1. F100\n#3=#3+1.\n#1=FIX[#3/1000.]\nEND1\nM30",
    # the work offset is the counter: it is read as a parameter
    "#1=0\nWHILE [#5241 LT 4000.] DO1\nG91 G1 X1. F100\nG10 L2 P2 X#1\n#1=#1+1.\nEND1\nM30",
    # a macro that is called only where something moves
    "G66 P5\n#1=4000.\nN3 G90 G1 X1. F100\nG1 X2.\n#100=#1\nGOTO 3\nM30\nO5\n#101=#101+1.\nIF [#101 LT 4000.]"
    " GOTO 8\nM30\nN8 M99"])
def test_a_loop_that_ends_is_never_declared(text):
    reading = read("G21 G17 G90 G94 G54\nG0 X0 Y0 Z0\n#101=0\n" + text)
    assert not endless(reading)
    assert reading.ended
    assert len(reading.motion) >= 3000


def test_the_budget_of_moves_is_kept_to_the_move():
    text = "G21 G90\nM98 P5 L100\nM30\nO5\nG91 G1 X1 F100\nM99"
    reading = read(text, **{"flow.max_moves": 99})
    assert [found.line for found in endless(reading)] == [2]
    assert len(reading.motion) == 99
    assert not endless(read(text, **{"flow.max_moves": 100}))


def test_one_line_does_not_break_the_budget():
    reading = read("G21 G90 G94 G54 G98 G17\nG0 X0 Y0 Z5\nG91 G81 X1 Z-1 R1 L900000 F100\nM30",
                   **{"flow.max_moves": 200_000})
    assert [found.line for found in endless(reading)] == [3]


def test_lines_that_run_once_are_no_loop():
    text = "G21 G90\n" + "(a word)\n" * 600 + "G0 X1\nM30"
    assert not endless(read(text, **{"flow.max_steps": 500}))


def test_a_loop_with_no_move_is_stopped_by_its_steps():
    """A random walk, of which nobody can tell: no state comes back."""
    text = ("#1=1.\n#2=0\nWHILE [#1 NE 0.7] DO1\n"
            "#1=FIX[#1*16807.]-2147483647.*FIX[#1*16807./2147483647.]\nEND1\nM30")
    reading = read(text, **{"flow.max_steps": 5000})
    (found,) = endless(reading)
    assert "none of them moved" in found.message()
    assert found.line == 3
