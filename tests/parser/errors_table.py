"""What a strict reader of G-code must report: condition, kind of finding, and a program that has it.

The conditions are those of NIST IR 6556 (RS274/NGC version 3) where it states an error, and common practice
elsewhere; each is one row. `READ` rows are found by reading the program under the dialect that the row names.
`SIMULATED` rows need the machine or the board: they name the test that shows their kind.
"""

from dataclasses import dataclass

FRAME = """\
G21 G90 G17 G40 G49 G80 G94 G54 G98
T1 M6
S12000 M3
G0 Z5
G0 X0 Y0
{}
M30
"""
HERE = 6  # the line of a frame that a row fills


@dataclass(frozen=True)
class Row:
    """says: the condition · kind, line, column: what is found and where (column 0: the whole line, or not
    looked at) · dialect: who reads · off: a dialect that allows it (there it is a note at most) · also:
    kinds that stand on the same line for another reason; `unplaced` may follow from anything.
    """

    says: str
    kind: str
    program: str
    line: int = HERE
    dialect: str = "standard"
    column: int = 0
    off: str = ""
    also: tuple[str, ...] = ()


def framed(says, kind, text, line=HERE, dialect="standard", column=0, off="", also=(), frame=FRAME):
    return Row(says, kind, frame.format(text), line, dialect, column, off, also)


COMPACT = "G21 G90 G17\nS12000 M3\nG54\nG0 Z5\nG0 X0 Y0\n{}\nM30\n"
STILL = FRAME.replace("S12000 M3", "S12000")

MOVING = 'inherits = "standard"\n[tool]\nm6 = "moves"\n'

READ = (
    # --- file and line ---
    Row("% begins the file and does not end it", "end-missing", "%\nG21 G90\nG0 Z5\n", line=1,
        off="usermacro"),
    Row("neither M2, M30 nor a pair of %", "end-missing", "G21 G90\nG0 Z5\n", line=2),
    Row("text behind the program's end", "word-doubtful", "G21 G90\nG0 Z5\nM30\nG0 Z9\n", line=4),
    framed("a line over the limit", "unread", "(" + "a" * 300 + ")", off="union"),
    framed("a line over a compact control's limit", "unread", "G0 X1 (" + "a" * 80 + ")", dialect="compact",
           frame=COMPACT,
           off="standard"),
    framed("a letter outside the alphabet", "unread", "G0 E5", column=4, off="usermacro"),
    framed("a character outside the alphabet", "unread", "G0 X1 ? Y2", column=7),
    framed("a character that acts at once", "unread", "G0 X1 ! Y2", dialect="compact", frame=COMPACT),
    framed("a system line", "unread", "$H", column=1),
    framed("a comma in a number", "unread", "G0 X1,5", column=6),
    framed("a letter O in a number", "unread", "G0 X1O", column=6),
    framed("two decimal points", "unread", "G0 X1.2.3", column=8),
    framed("a word without a digit", "unread", "G0 X-.", column=6),
    framed("no decimal point where numbers count in steps", "word-doubtful", "G0 X10", dialect="usermacro",
           off="standard", column=4),
    framed("numbers with and without a point", "word-doubtful", "G0 X10. Y10", dialect="usermacro",
           line=4, column=4, off="standard"),
    framed("a G number off a code", "code-unknown", "G1.00005 X1 F100"),
    framed("a T number off a whole number", "value-bad", "T1.5 M6"),
    framed("a parameter's number off a whole number", "value-bad", "#1.5=2"),
    framed("a signed line number", "unread", "N-5 G0 X1"),
    framed("a line number of six digits", "unread", "N000009 G0 X1", off="union"),
    framed("a line number in second place", "unread", "G0 X1 N10", off="union"),
    Row("a line number twice, and jumped to", "word-doubtful",
        "G21 G90\nG0 Z5.\nGOTO 10\nN10 G0 X1.\nN10 G0 X2.\nM30\n", line=3, dialect="usermacro"),
    framed("a wrong checksum", "unread", "G0 X1*5", off="forgiving"),
    framed("a comment that does not close", "unread", "G0 X1 (open", off="union"),
    framed("a comment in a comment", "unread", "G0 X1 (a (b) c)", off="union"),
    framed("block delete", "option-switch", "/G0 X1"),
    framed("a slash in second place", "unread", "N10 /G0 X1", off="union"),
    # --- words and groups ---
    framed("two G words of a group", "code-conflict", "G0 G1 X5 F100", column=4),
    framed("two M words of a group", "code-conflict", "M3 M5", column=4),
    framed("five M words", "code-conflict", "M0 M3 M6 M8 M48"),
    framed("M7 with M8", "code-conflict", "M7 M8", off="compact"),
    framed("a letter twice", "code-conflict", "G0 X1 X2", column=7),
    framed("an unknown G code", "code-unknown", "G234 X1", column=1),
    framed("an unknown M code", "code-unknown", "M777", column=1),
    framed("a known code that this control lacks", "code-unsupported", "G81 X1 Y1 Z-1 R1 F100",
           dialect="compact", frame=COMPACT,
           off="standard", column=1),
    framed("a code that means another thing in each family", "code-unsupported", "G74 X1 Z-1 R1 F100",
           dialect="union"),
    framed("G10 L20 with no dialect chosen", "word-doubtful", "G10 L20 P1 X5\nG0 X1 Y1", dialect="union"),
    framed("a word that no code takes", "code-conflict", "G1 X1 R5 F100", column=7),
    framed("G4 without P", "value-bad", "G4"),
    framed("G10 without L", "value-bad", "G10 P1 X0"),
    framed("G43 without H", "value-bad", "G43", off="labelled"),
    framed("G83 without Q", "cycle-bad", "G83 X1 Y1 Z-1 R1 F100"),
    framed("no Z the first time in a cycle", "cycle-bad", "G81 X1 Y1 R1 F100"),
    framed("no R the first time in a cycle", "cycle-bad", "G81 X1 Y1 Z-1 F100"),
    framed("a word for an axis that is not there", "code-unsupported", "G0 A45", column=4),
    framed("axis words while G80 holds", "code-conflict", "G80\nX5", line=HERE + 1),
    Row("axis words before any motion code", "code-conflict", "G21 G90\nX5\nM30\n", line=2, off="compact"),
    framed("a motion code alone", "value-bad", "G0", off="usermacro"),
    framed("two codes that want the axis words", "code-conflict", "G1 G28 X5 F100"),
    framed("axis words without arc data while G2 holds", "arc-mismatch", "G2 X10 I5 F100\nX20 Y5",
           line=HERE + 1),
    # --- parameters and expressions ---
    framed("parameter 0 is set", "value-bad", "#0=1"),
    framed("a parameter over the last one", "value-bad", "#5400=1"),
    framed("a parameter that was never set", "word-doubtful", "G0 X#100", column=4),
    framed("a stored offset set by hand", "word-doubtful", "#5221=10"),
    framed("#5220 off 1 to 9", "value-bad", "#5220=12", also=("word-doubtful",)),
    framed("a parameter set twice on a line", "word-doubtful", "#1=2 #1=3"),
    framed("a parameter set and used on a line", "word-doubtful", "#1=2\n#1=3 G0 X#1", line=HERE + 1),
    framed("a setting without =", "unread", "#1 2"),
    framed("a setting without a value", "unread", "#1="),
    framed("a bracket that does not close", "unread", "G0 X[1+2"),
    framed("an empty expression", "unread", "G0 X[]"),
    framed("an operator outside brackets", "unread", "G0 X1+2"),
    framed("an unknown function", "unread", "G0 X[ASIM[1]]"),
    framed("an unknown operator", "unread", "G0 X[1 NAND 2]"),
    framed("ATAN without its second value", "unread", "G0 X[ATAN[1]]", off="usermacro"),
    framed("division by zero", "value-bad", "G0 X[1/0]"),
    framed("root of a negative number", "value-bad", "G0 X[SQRT[0-1]]"),
    framed("logarithm of zero", "value-bad", "G0 X[LN[0]]"),
    framed("ASIN over 1", "value-bad", "G0 X[ASIN[2]]"),
    framed("ACOS over 1", "value-bad", "G0 X[ACOS[2]]"),
    framed("a negative base with a broken power", "value-bad", "G0 X[[0-2]**0.5]"),
    framed("a result that is not finite", "value-bad", "G0 X[EXP[1000]]"),
    framed("a place larger than any machine", "value-bad", "G0 X1000000000"),
    framed("FIX of a negative number, read differently", "word-doubtful", "G0 X[FIX[0-2.5]]",
           dialect="union"),
    framed("AND beside a sum, read differently", "word-doubtful", "G0 X[0 AND 1 + 1]", dialect="union"),
    framed("a probe's result used for a move", "word-doubtful", "G0 X#5061"),
    # --- program flow ---
    Row("a jump to a line that is not there", "flow-missing", "G21 G90\nG0 Z5.\nGOTO 77\nM30\n", line=3,
        dialect="usermacro"),
    Row("a call of a program that is not there", "flow-missing", "G21 G90\nG0 Z5.\nM98 P77\nM30\n", line=3,
        dialect="usermacro"),
    Row("a label called that is not there", "flow-missing", "G21 G90\nG0 Z5\no5 call\nM30\n", line=3,
        dialect="labelled"),
    Row("an IF without ENDIF", "flow-missing", "G21 G90\nG0 Z5\no5 if [1 GT 0]\nG0 Z6\nM30\n", line=3,
        dialect="labelled"),
    Row("an END without its loop", "flow-missing", "G21 G90\nG0 Z5.\nEND1\nM30\n", line=3,
        dialect="usermacro"),
    Row("loops that cross", "flow-missing",
        "G21 G90\n#1=0\nWHILE [#1 LT 3.] DO1\nWHILE [#1 LT 2.] DO2\nEND1\nEND2\nM30\n", line=3,
        dialect="usermacro"),
    Row("a loop that never ends", "flow-endless",
        "G21 G90\n#1=0\nWHILE [#1 LT 1.] DO1\nG4 P0.\nEND1\nM30\n", line=3, dialect="usermacro"),
    Row("M99 in the main program", "flow-endless", "G21 G90\nG0 Z5.\nM99\n", line=3, dialect="usermacro",
        also=("end-missing",)),
    Row("calls inside calls without end", "flow-endless",
        "G21 G90\no1 sub\no1 call\no1 endsub\no1 call\nM30\n", line=3, dialect="labelled"),
    Row("M98 P read as a number or as repeats and number", "word-doubtful",
        "G21 G90\nG0 Z5.\nM98 P30200\nM30\nO0200\nG0 Z6.\nM99\nO30200\nG0 Z7.\nM99\n", line=3,
        dialect="union"),
    Row("a subprogram that leaves another mode", "word-doubtful",
        "G21 G90\nG0 Z5.\nM98 P200\nG0 X1. Y1.\nM30\nO0200\nG91 G0 Z1.\nM99\n", line=8, dialect="usermacro"),
    # --- units, feeds, spindle ---
    Row("no unit before the first move", "start-state", "G90 G54\nG0 Z5\nM30\n", line=2),
    framed("the unit changes after the first move", "word-doubtful", "G20"),
    framed("a negative F", "value-bad", "G1 X5 F-100", column=7, also=("feed-missing",)),
    framed("a feed move without F", "feed-missing", "G1 X5"),
    framed("a feed move with F0", "feed-missing", "G1 X5 F0"),
    framed("G93 and a line without F", "feed-missing", "G93 G1 X5 F2\nX6", line=HERE + 1),
    framed("G93 in a cycle", "cycle-bad", "G93 F2\nG81 X1 Y1 Z-1 R1", line=HERE + 1),
    framed("G95 with the spindle still", "feed-missing", "G95 G1 X5 F0.1", frame=STILL),
    framed("a negative S", "value-bad", "S-100", column=1),
    framed("M3 without a speed", "word-doubtful", "M3", frame=FRAME.replace("S12000 M3", "M9")),
    framed("M5 on the line of the retract", "word-doubtful", "M5 G0 Z50"),
    framed("G86 with the spindle still", "cycle-bad", "G86 X1 Y1 Z-1 R1 P0.5 F100", frame=STILL),
    framed("G84 with the spindle counter-clockwise", "cycle-bad", "G84 X1 Y1 Z-1 R1 F100",
           frame=FRAME.replace("M3", "M4")),
    framed("G87 with the spindle still", "cycle-bad", "G87 X1 Y1 Z-1 R1 I1 K0 F100", frame=STILL),
    framed("G88 with the spindle still", "cycle-bad", "G88 X1 Y1 Z-1 R1 P0.5 F100", frame=STILL),
    framed("a negative dwell", "value-bad", "G4 P-1"),
    framed("a dwell that looks like milliseconds", "word-doubtful", "G4 P500"),
    Row("the spindle still turns at the end", "end-missing", "G21 G90 G54\nS12000 M3\nG0 Z5\n", line=3),
    # --- arcs ---
    framed("an arc without an end in its plane", "arc-mismatch", "G2 I5 F100", off="labelled"),
    framed("an arc with neither R nor centre", "arc-mismatch", "G2 X10 F100"),
    framed("a centre letter of another plane", "code-conflict", "G2 X10 I5 K1 F100"),
    framed("R together with a centre letter", "code-conflict", "G2 X10 I5 R5 F100"),
    framed("radii that differ over the tolerance", "arc-mismatch", "G2 X10.01 Y0 I5 F100"),
    framed("radii that differ within the tolerance", "word-doubtful", "G2 X10.0015 Y0 I5 F100"),
    framed("a mismatch that vanishes with an absolute centre", "arc-mismatch",
           "G0 X100 Y100\nG2 X110 Y100 I105 J100 F100", line=HERE + 1),
    framed("R with the end at the start", "arc-mismatch", "G2 X0 Y0 R5 F100", off="usermacro"),
    framed("R under half the chord", "arc-mismatch", "G2 X10 Y0 R4.9 F100"),
    framed("R 0", "arc-mismatch", "G2 X10 Y0 R0 F100"),
    framed("a centre on the start", "arc-mismatch", "G2 X10 Y0 I0 J0 F100"),
    framed("R and nearly half a circle", "word-doubtful", "G2 X10 Y0 R5.0001 F100"),
    framed("R and nearly a whole circle", "word-doubtful", "G2 X0.1 Y0 R-5 F100"),
    framed("a centre arc that ends at its start but for rounding", "word-doubtful", "G2 X0.0001 Y0 I5 F100"),
    framed("an arc in a plane that the program rarely uses", "word-doubtful",
           "G2 X0 Y0 I5 F100\n" * 11 + "G18 G2 X10 Z5 I5 K0", line=HERE + 11),
    framed("a count of turns that is not whole", "value-bad", "G2 X10 Y0 I5 P1.5 F100", dialect="labelled"),
    # --- offsets, home, cutters ---
    framed("G10 L2 with a P over 9", "value-bad", "G10 L2 P12 X0"),
    framed("G10 with an unknown L", "code-unsupported", "G10 L7 P1 X0"),
    framed("G92 without axis words", "value-bad", "G92"),
    framed("G92 in force at the end", "word-doubtful", "G92 X5.", line=HERE + 1, dialect="usermacro",
           off="standard", frame=FRAME.replace("Z5", "Z5.")),
    framed("G92.3 brings back what an earlier program left", "word-doubtful", "G92.3"),
    framed("G10 sets a work offset and leaves it so", "word-doubtful", "G10 L20 P2 X5", line=HERE + 1),
    framed("an offset's parameter that an earlier program left", "word-doubtful", "G0 X#5211", column=4),
    framed("a move behind a change of the cutter that moves the axes", "unplaced", "T2 M6\nG1 X5 F100",
           line=HERE + 1, dialect=MOVING),
    framed("G28 with axis words under G90", "word-doubtful", "G28 Z0"),
    framed("G53 without G0 or G1 in force", "code-conflict", "G53 G2 X1 I1 F100"),
    framed("G53 under G91", "code-conflict", "G91\nG53 G0 Z0", line=HERE + 1),
    framed("a negative H", "value-bad", "G43 H-1"),
    framed("a T that the job does not know", "cutter-unknown", "T9 M6"),
    framed("H that is not a table row", "value-bad", "G43 H1.5"),
    framed("G28 with no known home", "unplaced", "G28", off=""),
    framed("G30 goes home by all axes or by those named", "word-doubtful", "G91 G30 Z0", dialect="compact",
           frame=COMPACT),
    framed("H of another cutter", "word-doubtful", "G43 H2"),
    framed("a cutter change under the old length offset", "cutter-doubtful",
           "G43 H1\nT2 M6\nS12000 M3\nG0 Z4", line=HERE + 3),
    framed("a negative T", "value-bad", "T-1 M6"),
    framed("M6 without any T", "value-bad", "M6", frame=FRAME.replace("T1 M6", "M9")),
    framed("T without M6, and the program cuts on", "word-doubtful", "T2\nG1 X5 F100",
           frame=FRAME.replace("T1 M6", "M9")),
    framed("an offset that the setup does not give", "unplaced", "G55\nG1 X5 F100", line=HERE + 1),
    # --- cutter radius compensation ---
    framed("G41 while it is on", "compensation-bad", "G41 D1 G1 X20 F100\nG41 D1 G1 X30", line=HERE + 1),
    framed("G41 outside G17", "compensation-bad", "G18\nG41 D1 G1 X20 F100", line=HERE + 1),
    framed("a D that is no cutter", "value-bad", "G41 D-1 G1 X20 F100"),
    framed("D without G41 or G42", "code-conflict", "G1 X5 D1 F100"),
    framed("the first move under compensation is shorter than the radius", "compensation-bad",
           "G41 D1 G1 X1 F100\nX20", line=HERE),
    framed("an inside corner", "compensation-bad", "G41 D1 G1 X20 F100\nX40\nY30", line=HERE + 2,
           off="union"),
    framed("a concave arc smaller than the cutter", "compensation-bad",
           "G41 D1 G1 X20 F100\nG3 X22 Y2 I0 J2\nG1 Y40", line=HERE + 1),
    framed("the unit changes under compensation", "compensation-bad", "G41 D1 G1 X20 F100\nG20",
           line=HERE + 1,
           also=("word-doubtful",)),
    framed("the plane changes under compensation", "compensation-bad", "G41 D1 G1 X20 F100\nG18",
           line=HERE + 1),
    framed("an offset is chosen under compensation", "compensation-bad", "G41 D1 G1 X20 F100\nG54",
           line=HERE + 1),
    framed("G92 under compensation", "compensation-bad", "G41 D1 G1 X20 F100\nG92 X0", line=HERE + 1),
    framed("G28 under compensation", "compensation-bad", "G41 D1 G1 X20 F100\nG28", line=HERE + 1),
    framed("G53 under compensation", "compensation-bad", "G41 D1 G1 X20 F100\nG53 G0 Z0", line=HERE + 1),
    framed("a cycle under compensation", "compensation-bad", "G41 D1 G1 X20 F100\nG81 X30 Y0 Z-1 R1",
           line=HERE + 1),
    framed("probing under compensation", "compensation-bad", "G41 D1 G1 X20 F100\nG38.2 Z-5",
           line=HERE + 1, also=("word-doubtful",)),
    framed("the program ends under compensation", "word-doubtful", "G41 D1 G1 X20 F100", line=HERE + 1),
    framed("M6 under compensation", "word-doubtful", "G41 D1 G1 X20 F100\nM6\nG40", line=HERE + 1),
    # --- cycles ---
    framed("a cycle with no X, Y or Z", "cycle-bad", "G81 R1 F100"),
    framed("R under the bottom", "cycle-bad", "G81 X1 Y1 Z-1 R-2 F100"),
    framed("Q 0 in G83", "cycle-bad", "G83 X1 Y1 Z-1 R1 Q0 F100"),
    framed("a negative Q in G73", "cycle-bad", "G73 X1 Y1 Z-1 R1 Q-1 F100", off="usermacro"),
    framed("no repeats", "cycle-bad", "G81 X1 Y1 Z-1 R1 L0 F100"),
    framed("repeats under G90", "word-doubtful", "G81 X1 Y1 Z-1 R1 L2 F100"),
    framed("a turning axis in a cycle", "cycle-bad", "G81 X1 Y1 Z-1 R1 A90 F100", also=("code-unsupported",)),
    framed("G91 between cycle lines that keep their numbers", "word-doubtful",
           "G81 X1 Y1 Z-1 R1 F100\nG91 X5 R-1", line=HERE + 1),
    framed("another cycle code without Z and R of its own", "cycle-bad",
           "G81 X1 Y1 Z-1 R1 F100\nG82 X5 P0.5", line=HERE + 1, off="usermacro"),
    framed("neither G98 nor G99", "start-state", "G81 X1 Y1 Z-1 R1 F100",
           frame=FRAME.replace(" G98", "")),
    framed("a cycle left on, and Z alone", "word-doubtful", "G81 X1 Y1 Z-1 R1 F100\nZ-2", line=HERE + 1),
    framed("a retract by hand", "word-doubtful", "G88 X1 Y1 Z-1 R1 P0.5 F100"),
    # --- probing ---
    framed("a probing move's end", "word-doubtful", "G38.2 Z-5 F50", frame=STILL),
    framed("a probing move that starts on its target", "value-bad", "G38.2 Z4.9 F50", frame=STILL,
           also=("word-doubtful",)),
    framed("a turning axis while probing", "value-bad", "G38.2 Z-5 A90 F50", frame=STILL,
           also=("word-doubtful", "code-unsupported")),
    framed("probing without an axis word", "value-bad", "G38.2 F50"),
    framed("G93 while probing", "feed-missing", "G93\nG38.2 Z-5", line=HERE + 1, also=("word-doubtful",),
           frame=STILL),
)


@dataclass(frozen=True)
class Simulated:
    """A condition that the language cannot show; `test` is the function (under tests/) that does."""

    says: str
    kind: str
    test: str


SIMULATED = (
    Simulated("a spindle that turns while a probe measures", "word-doubtful",
              "parser/test_errors.py::test_a_spindle_that_turns_breaks_a_probe"),
    Simulated("F over what the machine does", "feed-limit",
              "sim/test_chips.py::test_feed_over_what_the_machine_does"),
    Simulated("a feed move in material with the spindle never started", "spindle-off",
              "sim/test_spindle.py::test_cutting_with_a_spindle_that_was_never_started"),
    Simulated("a feed move in material after M5, or in the line of a retract", "spindle-off",
              "sim/test_spindle.py::test_cutting_after_m5_names_its_line_and_the_programs_own_speed"),
    Simulated("M4 in material", "spindle-reverse", "sim/test_spindle.py::test_backward_in_material"),
    Simulated("a T word of which the job knows nothing", "cutter-none",
              "sim/test_spindle.py::test_cutting_with_no_cutter_known"),
    Simulated("a place outside the travel", "travel", "sim/test_travel.py::test_a_move_beyond_an_end"),
    Simulated("an arc that bulges outside the travel", "travel",
              "sim/test_travel.py::test_the_bulge_of_an_arc_counts"),
    Simulated("a rapid through the board; R of a cycle below its top; G0 dragged in material", "rapid-cut",
              "sim/test_rapids.py::test_a_rapid_through_the_board"),
    Simulated("a rapid through a clamp; G99 between holes with a clamp above R", "clamp-strike",
              "sim/test_strikes.py::test_a_rapid_into_a_clamp"),
    Simulated("a rapid that is free or not by its way, straight or dog-leg", "clamp-strike",
              "sim/test_strikes.py::test_a_dog_leg_misses_what_the_straight_line_hits"),
    Simulated("the first move goes sideways low, from an unknown place", "start-low",
              "sim/test_ways.py::test_sideways_before_z_was_ever_commanded"),
    Simulated("a plunge faster than the cutter may go straight down", "plunge-fast",
              "sim/test_loads.py::test_straight_down_into_material"),
    Simulated("material is met before the spindle is up to speed", "spindle-early",
              "sim/test_spinup.py::test_the_way_down_to_the_board_is_time"),
    Simulated("a cycle left on, and the moves behind it drill", "hole-extra",
              "sim/test_holes.py::test_missing_and_extra"),
    Simulated("deeper than the flutes are long", "deep-pass",
              "sim/test_depth.py::test_deeper_than_a_pass_or_the_flutes"),
    Simulated("a spoil board faced too deep", "over-depth",
              "sim/test_depth.py::test_thinner_than_what_is_kept"),
    Simulated("a cutter with no edge at its centre goes straight down", "plunge-no-centre",
              "sim/test_depth.py::test_ramps_of_a_cutter_with_no_edge_in_its_middle"),
)
