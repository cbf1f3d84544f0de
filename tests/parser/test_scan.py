"""The quick lane against the grammar and the interpreter, which define what it does: bit for bit.

Every program of the other tests is read in both lanes too (conftest.py).
"""

from __future__ import annotations

import struct
from unittest.mock import patch

import numpy as np
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from proveout.parser import quick, scan
from proveout.parser.blocks import read_blocks
from proveout.parser.dialect import load_dialect, shipped
from proveout.parser.kernels.lines import NOT_PLAIN
from proveout.parser.motion import MotionBuilder
from proveout.parser.reading import OperatorAct, Setting
from proveout.parser.scan import read_stretches
from proveout.parser.source import LONGEST_LINE, Source, Unreadable
from proveout.parser.stretch import Stretch

from .lanes import read_both
from .random_lines import random_lines
from .test_grammar import SAMPLED

UNION = load_dialect("union")
HEAD = "G21 G17 G90 G94 G54 G91.1\n"
HERE = Setting(position=(0.0, 0.0, 0.0))
BUSY = settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def both(text, dialect=UNION, setting=HERE):
    return read_both(Source("a.nc", text.encode()), dialect, setting)


def scanned(data, longest=1000, digits=5):
    """(line, label, [(letter, value)]) of each row; None for the words of a line that is not plain."""
    rows = []
    for piece in scan.scan(data, longest, digits):
        table = piece.table
        for row in range(len(table.line)):
            words = slice(table.first[row], table.first[row + 1])
            letters = [*map(chr, table.letters[words])]
            label = int(table.label[row])
            pairs = [*zip(letters, table.values[words].tolist(), strict=True)]
            rows.append((int(table.line[row]), label, None if label == NOT_PLAIN else pairs))
    return rows


def taken(text):
    """The words of one line, None where the scanner leaves it to the grammar."""
    return scanned(text.encode())[0][2]


# --- numbers ---

digits = st.text("0123456789", min_size=1, max_size=9)
numerals = st.one_of(
    digits, digits.map(lambda d: d + "."), st.tuples(digits, digits).map(".".join),
    digits.map(lambda d: "." + d), st.tuples(digits, digits, digits).map(lambda d: f"{d[0]}{d[1]}.{d[2]}"))


@given(st.sampled_from(["", "+", "-"]), numerals)
@example("-", "0")
@example("", "9007199254740992")
@example("", "9007199254740993")
@example("", ".0000000000000000000001")
@settings(max_examples=500)
def test_a_number_is_the_nearest_double_or_left_to_the_grammar(sign, numeral):
    """Against Python's float(), which rounds correctly."""
    words = taken(f"X{sign}{numeral}")
    if words is None:
        assert int(numeral.replace(".", "")) > 2**53 or len(numeral.partition(".")[2]) > 22
    else:
        assert struct.pack("d", words[0][1]) == struct.pack("d", float(sign + numeral))


@pytest.mark.parametrize("text", [
    "X", "X-", "X.", "X-.", "X1.2.3", "X1 2", "X1..", "X1e3", "X1E+05", "X--1", "X1-", "1"])
def test_no_number_is_taken_that_the_grammar_would_read_otherwise(text):
    assert taken(text) is None


# --- lines ---

@pytest.mark.parametrize(("text", "words"), [
    ("G1X2Y-3.5", [("G", 1.0), ("X", 2.0), ("Y", -3.5)]),
    ("\tg 01 x + 2 \t", [("G", 1.0), ("X", 2.0)]),
    ("N 10 G0", [("G", 0.0)]), ("N10", []), ("f100s5", [("F", 100.0), ("S", 5.0)]),
    ("G2 X1 I2 J-3 R4", [("G", 2.0), ("X", 1.0), ("I", 2.0), ("J", -3.0), ("R", 4.0)]),
])
def test_plain_lines_are_taken(text, words):
    assert taken(text) == words


@pytest.mark.parametrize("text", [
    "G4 X1", "G90", "G1.5", "M3", "T1", "X1 (a)", "X1;", "/X1", "%", "X#1", "X[1]", "N123456 X1", "N X1",
    "N1.5 X1", "N-1 X1", "X1 N10", "O1", "A1", "X1*5", "X1\x1a", "X1ä", "X1\x0b", "\x00", "?", "N10 20"])
def test_other_lines_are_left_to_the_grammar(text):
    assert taken(text) is None


@given(st.lists(st.sampled_from(["", " ", "G0 X1", "N5", "(a)", "X2.5"]), max_size=12),
       st.lists(st.sampled_from(["\n", "\r\n", "\r"]), min_size=12, max_size=12),
       st.sampled_from([1, 3, 8, 1 << 20]))
def test_lines_are_counted_as_the_source_counts_them(lines, ends, piece):
    text = "".join(line + end for line, end in zip(lines, ends, strict=False))
    source = Source("a.nc", text.encode() or b" ")
    with patch.object(scan, "PIECE", piece):
        rows = scanned(source.data)
    assert [row[0] for row in rows] == [n for n, line in enumerate(source.lines, 1) if line.strip()]


@given(random_lines(SAMPLED) | st.text("GXYN01.- 5+", max_size=12))
@settings(max_examples=150, deadline=None,
          suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow])
def test_words_and_findings_of_random_lines_are_the_grammars(text):
    for name in ("union", "report"):
        source, dialect = Source("a.nc", (text or " ").encode()), load_dialect(name)
        with patch.object(scan, "FEW", 1):
            blocks, findings = read_stretches(source, dialect)
        plain = [row for b in blocks for row in (b.blocks() if isinstance(b, Stretch) else [b])]
        assert (repr(plain), repr(findings)) == tuple(map(repr, read_blocks(source, dialect)))
        rows = scanned(source.data, dialect["lex.max_line"], len(str(dialect["lex.n_max"])))
        for line, label, words in rows:
            if words is not None:
                (block,) = [block for block in plain if block.line == line]
                assert repr([(w.letter, w.value.value) for w in block.words]) == repr(words)
                assert (block.number if block.number is not None else -1) == label


def test_limits_of_a_line():
    assert scanned(b"G0 X1\nG0 X1 \n", longest=5)[1][2] is None
    assert scanned(b"N12 X1\nN123456 X1", digits=6) == [(1, 12, [("X", 1.0)]), (2, 123456, [("X", 1.0)])]
    with pytest.raises(Unreadable, match="line 2"):
        both("G0 X1\nX" + "1" * LONGEST_LINE)


@pytest.mark.parametrize("data", [
    b"\xef\xbb\xbfG0 X1\nG0 X2\n", "G0 X1\nG0 X2\n".encode("utf-16"), b"(\xe4)\nG0 X1\nG0 X2\n",
    "(ä)\nG0 X1\nG0 X2 (ö)\n".encode(), b"G0 X1\0", b"", b"\xef\xbb\xbf", b"\n", b"G0 X1\r\rG0 X2\r",
    b"G0 X1\x1a"])
def test_encodings(data):
    try:
        read_both(Source("a.nc", data), UNION, HERE)
    except Unreadable:
        assert not data or b"\0" in data


# --- moves ---

places = st.one_of(st.integers(-4000, 4000).map(lambda n: f"{n / 100:g}"),
                   st.sampled_from(["0", "-0", "1e1", "12345678", "0.0000000005", "0.000000001"]))
words = st.one_of(
    st.tuples(st.sampled_from("XYZXYZIJRFS"), places).map("".join),
    st.sampled_from(["G0", "G1", "G01", "G2", "G3", "F200", "F600.", "S1000", "X1", "Y1", "I5", "R10"]))
plain_lines = st.tuples(st.sampled_from(["", "", "N10 ", " "]), st.lists(words, max_size=5)).map(
    lambda parts: parts[0] + " ".join(parts[1]))
modal = st.sampled_from("""
G20|G21|G90|G91|G90.1|G91.1|G18|G17|G93|G94|G95|G55|G54|G92 X0 Y0|G92.1|G81 Z-1 R2 F100|G80|G99|G61|G40
G41 D1|M3 S8000|M5|T2 M6|G43 H2|G49
G68 R30|G69|G51 P2|G50|G16|G15|G4 P1|M0|M30|G28 Z0|G53 G0 Z0|A5|%|/G0 X9|(note)|junk
#1=5|X#1|#1=[#1+1]|M98 P5|O5|M99|N20 GOTO 10|G66 P5|G67|WHILE [#1 LT 3] DO1|END1|o1 repeat [2]|o1 endrepeat
""".strip().replace("\n", "|").split("|"))
programs = st.lists(st.one_of(plain_lines, plain_lines, plain_lines, modal), max_size=25).map("\n".join)
settings_ = st.sampled_from([
    HERE, Setting(),
    Setting(position=(1.0, 2.0, 3.0), cutter=1, lengths={1: 10.0, 2: 12.0}, spindle_by_hand=9000.0),
    Setting(position=(0.0, 0.0, 5.0), offsets={1: (10.0, -5.0, 2.5), 2: (0.1, 0.2, 0.3)}, block_delete=True,
            at_line={4: OperatorAct(zero=(1.0, 1.0, 0.0)), 9: OperatorAct(cutter=2)})])


heads = st.sampled_from(["", HEAD, "G20 G17 G90 G94 G54 F9\n", "G21 G17 G91 G94 G54 F50 S100\nG1 X1\n"])


@given(heads, programs, st.sampled_from(shipped()), settings_, st.sampled_from([1, 2, 5, 256]),
       st.sampled_from([3, 40, 1 << 20]))
@example("G21 G17 G91 G94 G54 F50 S100\nG1 X1\n", "S1000\nG20", "union",
         Setting(position=(0.0, 0.0, 5.0), at_line={4: OperatorAct(zero=(1.0, 1.0, 0.0))}), 2, 40)
@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_random_programs_are_read_alike_in_both_lanes(head, program, name, setting, rows, piece):
    with patch.object(quick, "FEWEST", rows), patch.object(scan, "PIECE", piece), \
            patch.object(MotionBuilder, "FEW", 2):
        both(head + program or " ", load_dialect(name), setting)


FORCES = """
G93/G1 X1 F2/X2 F3/X3/X4
G95/S200/G1 X1 F0.2/X2/X3
G18/G2 X1 Z1 R1/X5 Y5 I5 J0/G1 X9/G2 X10 Z1 I1
G81 Z-1 R2 F50/X5/Y6/F60/N7/R3/G1 X7/X8
F0/G1 X1/G0 X2/F-5/G1 X3/S-5/X4
X12345678/X1/Y-10000001/Y2
G91/X9999999/Z9999999/X-5
X0.000000001/X0/X0.00000000099999999/X0/X0.0000000010000001/X-0
G2 X0 Y0 R5/G3 X0 Y0 I5 J0/G3 X0.0002 I5 J0/G2 Y0.0005 J7 I0/X0.0000001 I2/X5
G2 X1 I1 J1 R1/X3/X4/R2/I2
G2 X10 R5/X20 R4.999/X30 R5.1/X40 R-5.2/X50 R0/X60 R-5/X70 R5.000001/G3 X80 R4.9999
G2 X10 I5.0004/X20 I5.0006/X30 I5.0009/X40 I5.0011/X50 I5.0024/X60 I5.0026/X70 I5.1/X80 I-5/X90 I0 J0
G90.1/G2 X10 I5 J0/X20 I15/X30 I25 J0/G91.1/X40 I5
G43 H1/X1/T2 M6/G1 X2/X3
G68 R30/X1/X2/G2 X3 R5/G69/X1
G41 D1/X9 F60/Y9/X0/G40/Y0
G51 P2/X1/Y2/G2 X3 I1/G50/X0
G16/X5/X6 Y30/G15/X1
G80/X1/G1/X2/G0/Y2/F5/G1 F9
X1 X2/G0 G1 X1/F1 F2/S1 S2/X3/G2 G3 X5 I1
M3 S900/X1 S900/X2 S901/S900/S902/X3/G4 P1/S903/X4/G20/X5 S1
O5/G1 X1/M99/N20 X2/N10 X3/N20 X4/GOTO 20
M97 P10/M30/N10 X1/X2/N20 X3/M99
G66 P5/X1/X2/G67/X3/M30/O5/Y[#1]/M99
A5/X1/X2/A0/X3
G91/X-9000000/X10000001/X5/Y6
G52 X5/X1/X2/G52 X0/X3
#5221=3/X1/X2
G92 X5/X1/X2/G92.1/X3
G55/X1/X2
G20/X1/X2 F5
M30/X1/N5/X2
%/X1/X2/%/X3
N5/N6/X1/(c)/N7/N8
""".strip().split("\n")


@pytest.mark.parametrize("rows", FORCES)
@pytest.mark.parametrize("head", [HEAD, "G21 G90 G94 G54\n"])
def test_what_is_in_force_is_seen_in_both_lanes(rows, head):
    """What makes more of a plain line than is written on it, and what only just does not."""
    for name in shipped():
        for setting in (HERE, Setting(position=(0.0, 0.0, 0.0), lengths={1: 9.0, 2: 8.0}, cutter=1)):
            both(head + "G1 X0 Y0 Z0 F100\n" + rows.replace("/", "\n"), load_dialect(name), setting)


@given(st.lists(st.tuples(st.sampled_from(["G1", "G2", "G3", ""]), *[st.integers(-3, 3)] * 4,
                          st.integers(-40, 40)), min_size=1, max_size=12),
       st.sampled_from(["", "0004", "001", "0049"]), st.booleans())
@BUSY
def test_arcs_of_all_kinds_are_read_alike_in_both_lanes(steps, off, counted):
    """Quarter turns about the corners of a grid, and their like with radii that differ a little, and by R."""
    text = HEAD if counted else HEAD.replace(" G91.1", "")
    for code, x, y, i, j, r in steps:
        shape = f"R{r / 10}" if r % 3 == 0 else f"I{i}.{off} J{j}"
        text += f"{code or 'G3'} X{x} Y{y} {shape if code != 'G1' else ''} F100\n"
    both(text)


@given(st.integers(0, 7), st.integers(0, 12), st.integers(1, 6))
@BUSY
def test_the_budget_is_counted_row_by_row(before, still, limit):
    """Lines without a move are counted through stretches as they are one by one."""
    dialect = UNION.with_values({"flow.max_steps": limit})
    rows = ["G1 X1 F100", *["F50"] * before, "X2", "(c)", *["F60\nN9"] * still, "X3", "X4", "F5", "M30"]
    both(HEAD + "\n".join(rows), dialect)


def test_a_long_program_takes_the_quick_lane_and_the_same_way():
    """Longer than what is tried at a time, with arcs, speeds and a place in doubt."""
    rng = np.random.default_rng(5)
    lines = [f"G1 X{x:.3f} Y{y:.3f} F{300 + n % 5}" if n % 50 else f"G2 X{x:.3f} Y{y:.3f} R900 S{n % 3 + 1}"
             for n, (x, y) in enumerate(rng.uniform(0, 400, (3000, 2)))]
    lines[1700] = "G2 X1 Y1 I1 J1"
    reading = both(HEAD + "M3 S5000\nG0 Z5\n" + "\n".join(lines) + "\nM30\n")
    assert len(reading.motion) > 2990
    assert "arc-mismatch" in [found.kind for found in reading.findings]
