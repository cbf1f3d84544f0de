r"""What real programs hold, as written there, and what comes of it with no dialect named.

Constructs counted over real programs of many shops, rewritten; common practice, no published source. Each
stands in a program between a start that says everything and a rapid to X2 Y3; `Wild.program` is a whole one.
"""

from dataclasses import dataclass

START = "G21 G90 G17 G40 G49 G80 G94 G54 G98\nT1 M6\nS12000 M3\nG0 Z5\nG0 X0 Y0\nF100\n"
END = "\nG0 X2 Y3\nM30\n"
FIRST = START.count("\n") + 1  # the line where the construct begins


@dataclass(frozen=True)
class Wild:
    """text: the construct · kinds: what is found on its lines, notes left out, each kind once · moves: where
    its moves end (mm; None: not known) · whole: it is a program itself · after: the rapid behind it ends at
    X2 Y3; it does not where the construct shifts the zero, loses the place or ends the program.
    """

    text: str
    kinds: str
    moves: tuple
    whole: bool = False
    after: bool = True

    @property
    def program(self):
        return self.text if self.whole else START + self.text + END


WILD = (
    Wild("G0X0.000Y0.000Z5.000", "", ()),
    Wild("g0x1.5y.5", "", ((1.5, 0.5, 5),)),
    Wild("G00 X5. Y.5", "", ((5, 0.5, 5),)),
    Wild("M03", "", ()),
    Wild("T0101", "", ()),
    Wild("X4 Y4", "", ((4, 4, 5),)),
    Wild("G0X1Y1(glued)Z2", "", ((1, 1, 2),)),
    Wild("G0 X1 ; tail", "", ((1, 0, 5),)),
    Wild("// note", "", ()),
    Wild("# note", "", ()),
    Wild("(non-ascii ä ü ø)", "", ()),
    Wild("G28 G91 Z0", "", ((0, 0, None),)),
    Wild("G30 X0", "word-doubtful", ((None, 0, 5),)),
    Wild("G53 G0 Z0", "", ((0, 0, None),)),
    Wild("G59 G0 X1", "", ((None, 0, 5),), after=False),
    Wild("G43 H1 Z10", "", ((0, 0, 10),)),
    Wild("G41 D1 G1 X20 Y0", "unplaced", ((None, None, 5),), after=False),
    Wild("G42 G1 X10 Y10", "unplaced", ((None, None, 5),), after=False),
    Wild("G92 X0 Y0", "", ()),
    Wild("G52 X10", "", (), after=False),
    Wild("G93 G1 X10 F2", "", ((10, 0, 5),)),
    Wild("G91.1", "", ()),
    Wild("G99", "", ()),
    Wild("G50 S2000", "", ()),
    Wild("G92 S1500", "", ()),
    Wild("G96 S200", "", ()),
    Wild("G97 S800", "", ()),
    Wild("G71 P45 Q55 U0.01 W0 D0.025 F0.02", "code-unsupported unplaced", ((None, None, None),),
         after=False),
    Wild("G70 P45 Q55", "code-unsupported", ()),
    Wild("G76 P010060 Q100 R0.05", "code-unsupported", ()),
    Wild("G0 X1 F0", "", ((1, 0, 5),)),
    Wild("G1 X-0. Y-0.0 Z-0", "", ((0, 0, 0),)),
    Wild("%", "", (), after=False),
    Wild("%O0003(FIXTURE)", "word-doubtful", (), after=False),
    Wild("%00213", "", (), after=False),
    Wild("N125M30%", "", (), after=False),
    Wild("M98 Q2104", "flow-missing", ()),
    Wild("M97 P5 L3", "flow-missing", ()),
    Wild("M99 O0810(NAME)", "", (), after=False),
    Wild("O114 endif", "flow-missing", ()),
    Wild("O114 if [1 GT 0]\nG1 X7\nO114 endif", "", ((7, 0, 5),)),
    Wild("o114 end sub", "flow-missing", ()),
    Wild("O103", "word-doubtful", (), after=False),
    Wild("N M8", "", ()),
    Wild("N000010", "", ()),
    Wild("N0", "", ()),
    Wild("N020N020S12000M03", "word-doubtful", ()),
    Wild("N10\nN20\nN5", "", ()),
    Wild("GO1 Z-60", "word-doubtful", ((0, 0, -60),)),
    Wild("N70 ZO", "word-doubtful", ((0, 0, 0),)),
    Wild("01000", "unread", ()),
    Wild("X0 Y", "unread", ()),
    Wild("G00 3.7347", "code-unknown word-doubtful", ()),
    Wild("X?", "unread", ()),
    Wild("G01Z-.565F.00F.0086", "code-conflict", ((0, 0, None),)),
    Wild("G43 H 03", "word-doubtful", ()),
    Wild("G1 Z -4", "", ((0, 0, -4),)),
    Wild("#21=3\nG1 Y - [ #21 ]", "", ((0, -3, 5),)),
    Wild("#11=1\n#11=#11--0.04\nG1 X#11", "", ((1.04, 0, 5),)),
    Wild("#21=3 #4=1\nG1 X [ + #21 + #4 ]", "", ((4, 0, 5),)),
    Wild("G1 X1.4210854715202004e-14", "word-doubtful", ()),
    Wild("G1 X1.12345678901234567", "", ((1.1235, 0, 5),)),
    Wild("#8=9\nM#8", "", ()),
    Wild("T#33", "word-doubtful", ()),
    Wild("G1 X1 E#6", "code-conflict word-doubtful", ((1, 0, 5),)),
    Wild("#1=0\nG#1 X6", "", ((6, 0, 5),)),
    Wild("#10036=100\n#[#10036+1400]=1\nG1 X#1500", "", ((1, 0, 5),)),
    Wild("#1=1\n#5=#1+2\nG1 X#5", "", ((3, 0, 5),)),
    Wild("#4=8\n#7=#4*0.5\nG1 X#7", "", ((4, 0, 5),)),
    Wild("T1.1", "value-bad", ()),
    Wild("M6 T2", "", ()),
    Wild("G43", "", ()),
    Wild("G43 H 03(comment) Z1.0", "word-doubtful", ((0, 0, 1),)),
    Wild("G1 X1 (in the middle) Y2", "", ((1, 2, 5),)),
    Wild("( ( ) )", "", ()),
    Wild("G1 X5 stray text", "unread", ()),
    Wild("G47 P0 (TEXT) X.01 Y.02", "code-unknown", ((None, None, None),)),
    Wild("(MSG, hello)", "", ()),
    Wild("(DEBUG, #1)", "", ()),
    Wild("(LOGAPPEND, file.txt)", "", ()),
    Wild("(ABORT, bad)", "", ()),
    Wild("(PRINT, x)", "", ()),
    Wild("X1 Y2 G1", "", ((1, 2, 5),)),
    Wild("G0Z0G1F3000X31.6Y40", "code-conflict", ((31.6, 40, 0),)),
    Wild("#978=400\nIF[#978GE360]THEN#978=#978-360\nG1 X#978", "", ((40, 0, 5),)),
    Wild("#103=1\nN110IF[#103GT0]GOTO80\nG1 X99\nN80", "", ()),
    Wild("#6=1 #4=2\nIF [#6<=#4] GOTO 100\nG1 X99\nN100", "", ()),
    Wild("#1=0\nWHILE [#1 LT 2] DO88\n#1=#1+1\nG1 X#1\nEND88", "", ((1, 0, 5), (2, 0, 5))),
    Wild("DO88", "flow-missing", ()),
    Wild("IF [[#1 EQ 1] && [#2 EQ 2]] GOTO 5", "word-doubtful", ()),
    Wild("IF[#4121==2]{\nG1 X9\n}", "unread", ((9, None, None),)),
    Wild("G1 X#<_hal[name]>", "unplaced word-doubtful", ((None, 0, 5),)),
    Wild("G1 X#<_ini[SECTION]NAME>", "unplaced word-doubtful", ((None, 0, 5),)),
    Wild("o1 if [EXISTS[#<a>]]\nG1 X9\no1 endif", "", ()),
    Wild("G1 X[HAL_NAME]", "unplaced word-doubtful", ((None, 0, 5),)),
    Wild("IF [#503 NE 0] GOTO 9990\nN9990", "word-doubtful", ()),
    Wild("X=IC(0)", "unread", ()),
    Wild("X=-((R1/2)+20)", "unread", ()),
    Wild("WHILE (R5 >= R4)", "unread", ()),
    Wild("R1=5", "unread", ()),
    Wild("CR=4.", "unread", ()),
    Wild("GOTOF LABEL", "unread", ()),
    Wild("REPEAT A B P10", "unread", ()),
    Wild("DEF REAL A[3]", "unread", ()),
    Wild('T="NAME"', "unread", ()),
    Wild("NAME(3600, 600)", "unread", ()),
    Wild("G81 X1 Y1 R2 Z2 I-3.87", "code-conflict", ((1, 1, 5), (1, 1, 2), (1, 1, 5))),
    Wild("G91 G99 G81 X1 R0 Z-1\nX.480 L2", "", ((1, 0, 5), (1, 0, 4), (1, 0, 5), (1.48, 0, 5), (1.48, 0, 4),
         (1.48, 0, 5), (1.96, 0, 5), (1.96, 0, 4), (1.96, 0, 5)), after=False),
    Wild("G82", "cycle-bad", ((0, 0, None),)),
    Wild("G81 R.1 Z-1.11 F20.", "", ((0, 0, 0.1), (0, 0, -1.11), (0, 0, 5))),
    Wild("G81 F6. R1. X0. Y0. Z-20.", "", ((0, 0, 1), (0, 0, -20), (0, 0, 5))),
    Wild("G21 G90 G54\r\nG0 Z5\r\nG0 X1 Y2\r\nM30", "", ((None, None, 5), (1, 2, 5)), whole=True),
    Wild("%\nO0001\nG21 G90 G54\nG0 Z5\nG0 X1 Y2\nM30\n%\x1a", "", ((None, None, 5), (1, 2, 5)), whole=True),
    Wild("%\nO0001\nG21 G90 G54\nG0 Z5\nM30\n%\nO0002\nG21 G90 G54\nG0 X1 Y2\nM30\n%", "word-doubtful",
         ((None, None, 5),), whole=True),
    Wild("G21 G90 G54\nG0 Z5\nM98 P2104\nM30\nO2104\nG0 X1 Y2\nM99", "", ((None, None, 5), (1, 2, 5)),
         whole=True),
    Wild("G21 G90 G54\nG0 Z5\nM97 P5 L3\nM30\nN5 G91 G0 X1\nG90\nM99", "", ((None, None, 5), (None, None, 5),
         (None, None, 5), (None, None, 5)), whole=True),
    Wild("G21 G90 G54\nG0 Z5\nM98 Q2104\nM30\nN2104 G0 X1 Y2\nM99", "", ((None, None, 5), (1, 2, 5)),
         whole=True),
    Wild("G21 G90 G54\nG0 Z5\nG0 X1 Y2\nM2\n\n\n", "", ((None, None, 5), (1, 2, 5)), whole=True),
    Wild("O114 if [1 GT 0]\nG21 G90 G54\nG0 Z5\nO114 endif\nM30", "", ((None, None, 5),), whole=True),
    Wild("g21 g90 g54\ng0 z5\nn10 g1 x.5 y5. f100\nm30", "unplaced", ((None, None, 5), (0.5, 5, 5)),
         whole=True),
    Wild("G21 G90 G54\nG0 Z5\nIF [#503 NE 0] GOTO 9990\nN9990 GOTO 3\nM30", "flow-missing word-doubtful",
         ((None, None, 5),), whole=True),
    Wild("G21 G90 G54\nG0 Z5\nN10 IF [#503 NE 0] GOTO 10\nG0 X1\nM30", "word-doubtful", ((None, None, 5), (1,
         None, 5)), whole=True),
    Wild("leader text\n%\nO1\nG21 G90 G54\nG0 Z5\nM30\n%", "", ((None, None, 5),), whole=True),
)
