"""Lines to blocks: what a strict reader takes, what the union reading lets pass, and where it says so."""

from dataclasses import replace

import pytest
from proveout.parser.blocks import Chain, Name, Number, Parameter, read_blocks
from proveout.parser.dialect import load_dialect
from proveout.parser.expressions import evaluate
from proveout.parser.finding import Severity
from proveout.parser.lines import read_line
from proveout.parser.source import Source

REPORT, UNION = load_dialect("report"), load_dialect("union")


def read(text, dialect=REPORT):
    return read_blocks(Source("a.nc", text.encode()), dialect)


def _one(number):
    """[3]: a bracket of one value."""
    return Chain((Number(number),), ())


def words(text, dialect=REPORT):
    blocks, findings = read(text, dialect)
    assert not findings
    return [(w.letter, w.value.value) for block in blocks for w in block.words]


# NIST IR 6556, 3.3 and appendix E: what is an error there, and at which column it stands
@pytest.mark.parametrize(("line", "column"), [
    ("N000009 G0 X1", 1), ("G0 X1 N10", 7), ("N10 /G0 X1", 5), ("G1 X1 (a (b) c)", 10), ("G1 X1 (open", 7),
    ("G1 X1.5.2", 8), ("G1 X", 4), ("G1 X-.", 6), ("G1 X1,5", 6), ("G1 E5", 4), ("X#1+2", 4), ("#1 5", 5),
    ("#1=", 4), ("X[1", 4), ("X[]", 3), ("X[1+]", 5), ("X ATAN[1]", 3), ("X FOO[1]", 1), ("-G1", 1),
    ("N-5 G1", 2), ("N1.5 G1", 1), ("X1 ; note", 4), ("X-#1", 2),
    ("#1=#1+1", 4), ("X1.0e-05", 2), ("O100", 1),
    ("$H", 1),    ("G1 X1 !", 7), ("GO1", 2), ("X1 )", 4), ("G1 X1*57", 6), ("X" + "1" * 260, 257),
])
def test_a_strict_reader_refuses(line, column):
    blocks, findings = read(f"G0 X0\n{line}\nG0 X2\n")
    assert [(f.kind, f.severity, f.line) for f in findings] == [("unread", Severity.STOP, 2)]
    assert findings[0].column == column
    assert findings[0].end_column > column
    assert [(b.line, b.bad) for b in blocks] == [(1, False), (2, True), (3, False)]
    assert findings[0].message()
    assert str(column) in findings[0].advice()


@pytest.mark.parametrize(("line", "read_as"), [
    ("g0x +0. 12 34y 7", [("G", 0), ("X", 0.1234), ("Y", 7)]),  # 3.3
    ("/N10 G0 X1", [("G", 0), ("X", 1)]),
    ("G38.20 Z-5 F50", [("G", 38.2), ("Z", -5), ("F", 50)]),
    ("G00X.5Y5.Z-0(note)M03", [("G", 0), ("X", 0.5), ("Y", 5), ("Z", -0.0), ("M", 3)]),
    ("(all) G1 (of) X1 (them)", [("G", 1), ("X", 1)]),
    ("\tG1\tX1 ", [("G", 1), ("X", 1)]),
])
def test_a_strict_reader_reads(line, read_as):
    assert words(line) == read_as


def test_a_word_begins_with_its_letter():
    """Appendix E: ATAN[1] at the start of a line is the word A with the value TAN[1]."""
    (block,), findings = read("ATAN[1]")
    assert not findings
    assert block.words[0].letter == "A"
    assert block.words[0].value.name == "TAN"


def test_block_delete_number_and_comments():
    (block,), findings = read("/N0012 G1 (one) X1 ( M S G , hello)")
    assert not findings
    assert (block.skippable, block.number) == (True, 12)
    assert [c.text for c in block.comments] == ["one", " M S G , hello"]
    assert [c.message for c in block.comments] == [None, "hello"]  # 3.3.4


def test_settings_are_kept_in_order():
    (block,), _ = read("#3=6 G1 X#3 ##1 = 0.375 F100")
    assert [a.index for a in block.assignments] == [Number(3), Parameter(Number(1))]
    assert [w.letter for w in block.words] == ["G", "X", "F"]
    assert block.words[1].value == Parameter(Number(3))


def test_places_are_columns():
    (block,), _ = read("G1  X[1 + 2]Y-3.5")
    assert [(w.letter, w.column, w.end) for w in block.words] == [("G", 1, 3), ("X", 5, 13), ("Y", 13, 18)]
    assert block.words[1].value == Chain((Number(1), Number(2)), ("+",))


@pytest.mark.parametrize("dialect", [REPORT, UNION])
def test_ten_thousand_lines_and_one_bad_word(dialect):
    lines = [f"N{n % 9999} G1 X{n}.5 Y-{n} F800" for n in range(1, 10_001)]
    lines[6_123] = "N12 G1 X7.5 Y? F800"
    blocks, findings = read("\n".join(lines), dialect)
    assert [(f.kind, f.line, f.column, f.end_column) for f in findings] == [("unread", 6_124, 14, 15)]
    assert len(blocks) == 10_000
    assert [b.line for b in blocks if b.bad] == [6_124]


# constructs that real programs have, and what the union reading makes of them
@pytest.mark.parametrize(("line", "read_as", "severity"), [
    ("GO1 Z-60", [("G", 1), ("Z", -60)], Severity.CAUTION), ("N70 ZO", [("Z", 0)], Severity.CAUTION),
    ("N M8", [("M", 8)], Severity.NOTE),
    ("N020N020S12000M03", [("S", 12000), ("M", 3)], Severity.CAUTION),
    ("X1.4210854715202004e-14", [("X", 1.4210854715202004e-14)], Severity.CAUTION),
    ("N125M30%", [("M", 30)], Severity.NOTE), ("M99 O0810(NAME)", [("M", 99)], Severity.NOTE),
    ("G1 X1 (a (b) c)", [("G", 1), ("X", 1)], Severity.NOTE),
    ("G1 X1 // note", [("G", 1), ("X", 1)], Severity.NOTE),
    ("G1 X1 (open", [("G", 1), ("X", 1)], Severity.CAUTION), ("X1 2", [("X", 12)], Severity.CAUTION),
    ("N10 /G0 X1", [("G", 0), ("X", 1)], Severity.CAUTION),
])
def test_the_union_reading_reads_and_says(line, read_as, severity):
    blocks, findings = read(line, UNION)
    assert [(w.letter, w.value.value) for b in blocks for w in b.words] == read_as
    assert [(f.kind, f.severity) for f in findings] == [("word-doubtful", severity)]


@pytest.mark.parametrize("line", [
    "G43 H 03(comment) Z1.0", "Z -4", "Y - [ #21 ]", "#11=#11--0.04", "X [ + #21 + #4 ]", "#5=#1+2",
    "#7=#4*0.5", "M#8", "G#1",
    "#[#2+1400]=1", "N000010 G0 X1", "G1 X10E5.2", "O0001", ":1234", "G0 X1 ; note",
    "n0", "/2 X1"])
def test_the_union_reading_takes_what_real_programs_have(line):
    blocks, findings = read(line, UNION)
    assert not findings
    assert not any(block.bad for block in blocks)


def test_a_checksum_is_held_against_its_line():
    """Exclusive or of all characters before the star."""
    line = "N12 G1 X5"
    right = 0
    for character in line.encode():
        right ^= character
    assert words(f"{line}*{right}", UNION) == [("G", 1), ("X", 5)]
    _, findings = read(f"{line}*{right ^ 1}", UNION)
    assert [(f.severity, f.column) for f in findings] == [(Severity.CAUTION, 10)]


@pytest.mark.parametrize(("line", "value"), [
    ("#1=3*2", 6), ("#1=1+2* 3 ", 7), ("N5 #1=[1+2]*3", 9), ("#1=2*3.5", 7), ("#1=8/2*4", 16)])
def test_behind_a_setting_a_star_multiplies(line, value):
    """As user macros are written every day: the line ends as one with a checksum does."""
    (block,), findings = read(line, load_dialect("usermacro"))
    assert not findings
    assert [evaluate(each.value, {}, UNION) for each in block.assignments] == [value]


@pytest.mark.parametrize(("line", "found"), [
    ("G0 X1 (why?)", "realtime-character"), ("G1 X#1", "expression-refused"), ("#1=5", "expression-refused"),
    ("G1 X[1+2]", "expression-refused"), ("G1 A5", "letter-foreign"), ("G1 X" + "1" * 80, "line-long")])
def test_what_a_compact_control_refuses(line, found):
    """Common practice, no published source."""
    dialect = load_dialect("compact")
    assert [f.kind for f in read(line, dialect)[1]] == ["unread"]
    allowed = replace(dialect, conditions={**dialect.conditions, found: None})
    assert not read(line, allowed)[1]


# --- program flow: what is written, by family ---

@pytest.mark.parametrize(("line", "flow"), [
    ("o100 sub", ("SUB", Number(100), (), None)), ("O100 ENDSUB", ("ENDSUB", Number(100), (), None)),
    ("O114 end if", ("ENDIF", Number(114), (), None)), ("o1 else", ("ELSE", Number(1), (), None)),
    ("o<Drill Row> call [25] [3]", ("CALL", Name("drillrow"), (_one(25), _one(3)), None)),
    ("o<row>", ("CALL", Name("row"), (), None)), ("o1 repeat [3]", ("REPEAT", Number(1), (_one(3),), None)),
    ("o10 while [1 LT 4]", ("WHILE", Number(10), (Chain((Number(1), Number(4)), ("LT",)),), None)),
    ("o#1 break", ("BREAK", Parameter(Number(1)), (), None)), ("o1 return", ("RETURN", Number(1), (), None)),
    ("IF [1 GT 3] GOTO 80", ("GOTO", None, (Chain((Number(1), Number(3)), ("GT",)),), Number(80))),
    ("N110IF[1GT0]GOTO80", ("GOTO", None, (Chain((Number(1), Number(0)), ("GT",)),), Number(80))),
    ("GOTO #5", ("GOTO", None, (), Parameter(Number(5)))), ("DO88", ("DO", None, (), Number(88))),
    ("WHILE [1 LT 4] DO1", ("WHILE", None, (Chain((Number(1), Number(4)), ("LT",)),), Number(1))),
    ("END1", ("END", None, (), Number(1))),
    ("IF [1<=4] GOTO 100", ("GOTO", None, (Chain((Number(1), Number(4)), ("LE",)),), Number(100))),
])
def test_a_step_of_program_flow(line, flow):
    """Forms of the two families: common practice, no published source."""
    read_as = read_line(line, "both").flow
    assert (read_as.step, read_as.label, read_as.values, read_as.target) == flow
    assert line[read_as.column - 1:read_as.end - 1].strip() in line
    family = "labels" if line[0] in "oO" else "macros"
    assert read_line(line, family).flow == read_as


def test_what_stands_behind_then_is_on_its_line():
    line = read_line("IF[#978GE360]THEN#978=#978-360", "macros")
    assert line.flow.step == "THEN"
    assert line.assignments[0].index == Number(978)


def test_names_of_parameters():
    line = read_line("#<Depth Now> = [#<_hal[x.y]> + 1] X#<depthnow>", "labels")
    assert line.assignments[0].index == Name("depthnow")
    assert line.words[0].value == Parameter(Name("depthnow"))
    assert line.assignments[0].value.values[0] == Parameter(Name("_hal[x.y]"))


@pytest.mark.parametrize("line", ["o100 sub", "IF [1 GT 3] GOTO 80", "#<a>=1"])
def test_the_report_has_no_flow(line):
    assert [f.kind for f in read(line)[1]] == ["unread"]


# --- percent lines ---

def test_nothing_behind_the_second_percent_is_read():
    """3.1."""
    blocks, findings = read("%\nG0 X1\n%\nthis is no program\n")
    assert [b.line for b in blocks if b.words] == [2]
    assert [(f.kind, f.line) for f in findings] == [("word-doubtful", 4)]


def test_a_percent_that_is_never_closed():
    _, findings = read("%\nG0 X1\nM2\n")
    assert [(f.kind, f.line) for f in findings] == [("end-missing", 1)]
    assert not read("G0 X1\nM2\n%\n")[1]
    assert not read("%\nG0 X1\nM2\n%\n")[1]


def test_the_union_reading_reads_on():
    blocks, findings = read("%\nO1\nG0 X1\nM30\n%\nO2\nG0 X2\nM30\n%", UNION)
    assert not findings
    assert [b.program for b in blocks if b.program is not None] == [1, 2]
    assert [w.value.value for b in blocks for w in b.words if w.letter == "X"] == [1, 2]


def test_text_before_the_first_percent_is_a_leader():
    blocks, findings = read("hello there\n%\nG0 X1\n%\n")
    assert [b.line for b in blocks if b.words] == [3]
    assert [f.severity for f in findings] == [Severity.NOTE]


@pytest.mark.parametrize(("line", "number"), [("%O0003(FIXTURE)", 3), ("%00213", None), ("%\x1a", None)])
def test_what_is_glued_to_a_percent(line, number):
    blocks, _ = read(f"{line}\nG0 X1\n", UNION)
    assert [b.program for b in blocks if b.parts] == [number]
    assert not any(b.bad for b in blocks)


def test_no_line_is_too_deep_to_read():
    for text in ("X" + "[" * 500 + "1" + "]" * 500, "X" + "#" * 500 + "1", "X[" * 500):
        blocks, findings = read(text, UNION)
        assert [f.kind for f in findings] == ["unread"]
        assert blocks[0].bad
