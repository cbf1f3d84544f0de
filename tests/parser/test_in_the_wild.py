"""What real programs have: read, or reported at its line as what it is; never does it change the next line.

Constructs counted over real programs, rewritten; common practice, no published source.
"""

import pytest
from proveout.parser.blocks import Number, read_blocks
from proveout.parser.dialect import load_dialect
from proveout.parser.finding import Severity
from proveout.parser.interpreter import read_program
from proveout.parser.source import Source

UNION = load_dialect("union")

READ_TEXT = """\
G0X0.000Y0.000Z5.000
g00 x.5 y5. m03
T0101
G71 P45 Q55 U0.01 W0 D0.025 F0.02
# a comment
//another
( ä )
( ( ) )
%O0003(FIXTURE)
%00213
N125M30%
M98 Q2104
M97 P5 L3
M99 O0810(NAME)
O114 endif
o114 end sub
O103
N M8
N000010
N0
N020N020S12000M03
GO1 Z-60
N70 ZO
G00 3.7347
G01Z-.565F00.F0086
H 03
Z -4
Y - [ #21 ]
#11=#11--0.04
X [ + #21 + #4 ]
X1.4210854715202004e-14
X1.123456789012345678
M#8
E#6
G#1
#[#10036+1400]=1
#5=#1+2
#7=#4*0.5
T1.1
G43 H 03(comment) Z1.0
G47 P0 (TEXT) X.01
(ABORT, x)
X1 Y2 G1
G0Z0G1F3000X31.6Y40
IF[#978GE360]THEN#978=#978-360
N110IF[#103GT0]GOTO80
IF [#6<=#4] GOTO 100
IF [#1 GT 0] THEN GOTO 5
DO88
IF [[#1 EQ 1] && [#2 EQ 2]] GOTO 5
#<_hal[name]>=1
X#<_ini[SECTION]NAME>
X[HAL_NAME]
o1 if [EXISTS[#<a>]]
o100 call [1] [2] (c)
G81 F6. R1. X0. Y0. Z-20.
T1C0.762
G1 X1,R5
M30 (end) %
"""
READ = READ_TEXT.splitlines()

REPORTED_TEXT = """\
01000
X0 Y
X?
IF[#4121==2]{
}
X=IC(0)
X=-((R1/2)+20)
WHILE (R5 >= R4)
R1=5
CR=4.
GOTOF LABEL
REPEAT A B P10
DEF REAL A[3]
T="NAME"
NAME(3600, 600)
M117 Hello world
G28 X Y
METRIC,TZ
G1 X1 stray
$H
"""
REPORTED = REPORTED_TEXT.splitlines()


def around(line):
    """The blocks of a line and of the one behind it, and what is found."""
    blocks, findings = read_blocks(Source("a.nc", f"G0 X1\n{line}\nG0 X2 Y3\n".encode()), UNION)
    return [b for b in blocks if b.line == 2], [b for b in blocks if b.line == 3], findings


@pytest.mark.parametrize("line", READ + REPORTED)
def test_the_next_line_is_what_it_was(line):
    _, (after,), _ = around(line)
    assert [(w.letter, w.value) for w in after.words] == [
        ("G", Number(0)), ("X", Number(2)), ("Y", Number(3))]


@pytest.mark.parametrize("line", READ)
def test_read(line):
    (block,), _, findings = around(line)
    assert not block.bad
    assert all(found.severity is not Severity.STOP for found in findings)


@pytest.mark.parametrize("line", REPORTED)
def test_reported_once_at_its_column(line):
    (block,), _, findings = around(line)
    assert block.bad
    assert [(f.kind, f.severity, f.line) for f in findings] == [("unread", Severity.STOP, 2)]
    assert 1 <= findings[0].column <= len(line)
    assert findings[0].message()


@pytest.mark.parametrize("line", READ + REPORTED)
def test_a_whole_program_with_it_ends(line):
    reading = read_program(Source("a.nc", f"G21 G90\nG0 Z5\n{line}\nG0 X2 Y3\nM30\n".encode()), UNION)
    assert all(found.message() and found.advice() for found in reading.findings)
