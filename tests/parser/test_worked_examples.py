"""The worked examples 1 to 26 and 29 of the language, by their numbers.

The law: figures are those of NIST IR 6556 ("The NIST RS274/NGC Interpreter, Version 3", 2000) where a test
names a section as its figures; the rest was worked by hand from the rules of the section that it names.
Moves are (letter, x, y, z) in program coordinates: R rapid, F feed, A arc.
"""

from __future__ import annotations

import pytest
from proveout.parser.motion import Happening, Spindle

TIGHT = 1e-4  # the report prints four decimals


def near(a, b, tolerance=TIGHT):
    assert len(a) == len(b), f"{a}\n{b}"
    for one, two in zip(a, b, strict=True):
        assert one[0] == two[0], f"{a}\n{b}"
        assert one[1:] == pytest.approx(two[1:], abs=tolerance), f"{a}\n{b}"


def xyz(letter, *places):
    return [(letter, *place) for place in places]


def drilled(*holes, r, bottom, out="R", clear=None):
    """R over the hole, F to the bottom, back."""
    clear = r if clear is None else clear
    return [move for x, y in holes for move in (("R", x, y, r), ("F", x, y, bottom), (out, x, y, clear))]


# --- 1, 2, 3: NIST IR 6556, 3.5.16.2 and Table 10 ---

def test_01_g81_once(run):
    """3.5.16.2 example 1, the report's figures."""
    ran = run("G90 G81 G98 X4 Y5 Z1.5 R2.8 F100", position=(1, 2, 3))
    near(ran.moves, [("R", 4, 5, 3), ("R", 4, 5, 2.8), ("F", 4, 5, 1.5), ("R", 4, 5, 3)])
    assert ran.stops == []


def test_02_g81_three_times_incremental(run):
    """3.5.16.2 example 2, the report's figures."""
    ran = run("G91 G81 G98 X4 Y5 Z-0.6 R1.8 L3 F100", position=(1, 2, 3))
    near(ran.moves, [("R", 1, 2, 4.8), *drilled((5, 7), (9, 12), (13, 17), r=4.8, bottom=4.2)])


SESSION = """g1 x3 y1 f20.0
g2 x[6-[4*3/2]] r 7.01 z0.5
t2
m6 g43 h2
"""


def session(run, *lines):
    return run(SESSION + "\n".join(lines), cutter=1, lengths={1: 0.0, 2: 1.0})


def test_03_session(run):
    """Table 10, the report's figures; sweep and length calculated."""
    ran = session(run, "g1 x asin[0.5]", "g91 g81 x3 y2 z-0.8 r1.5 l2")
    assert ran.moves[0] == ("F", 3, 1, 0)
    assert ran.motion.feed[0] == 20
    near([ran.moves[1]], [("A", 0, 1, 0.5)])
    assert ran.arc(1) == pytest.approx((1.5, 7.8476, -24.7114), abs=TIGHT)
    assert ran.motion.length()[1] == pytest.approx(3.0644, abs=TIGHT)
    near(ran.moves[2:], [("F", 30, 1, -0.5), ("R", 30, 1, 1), *drilled((33, 3), (36, 5), r=1, bottom=0.2)])
    assert ran.motion.feed[2] == 20


def test_03_length_offset_moves_nothing(run):
    """Table 10: no motion, Z reads -0.5."""
    ran = session(run)
    assert len(ran.motion) == 2
    assert ran.reads == pytest.approx((0, 1, -0.5), abs=TIGHT)


def test_03_m2_leaves_length_and_feed(run):
    """Table 10 and 3.6.1: what M2 resets."""
    ran = session(run, "m2")
    assert len(ran.motion) == 2
    assert ran.reading.ended
    assert ran.reads == pytest.approx((0, 1, -0.5), abs=TIGHT)
    assert ran.reading.final.spindle is Spindle.STILL


def test_03_unknown_word_is_refused(run):
    """Table 10: `g1 x asim[0.5]`, nothing executed."""
    ran = session(run, "g1 x asim[0.5]")
    assert "unread" in ran.stops
    assert not ran.motion.placed[2:].any()


# --- 4 to 10: arcs, 3.5.3 ---

def test_04_centre_format_helix(run):
    """3.5.3.2: centre and radius are the report's figures."""
    ran = run("G17 G2 X10 Y16 I3 J4 Z9 F100", position=(7, 7, 4))
    assert ran.arc() == pytest.approx((10, 11, -143.1301), abs=TIGHT)
    assert ran.motion.length()[0] == pytest.approx(13.4541, abs=TIGHT)
    near(ran.moves, [("A", 10, 16, 9)])


def test_05_radius_format(run):
    """3.5.3.1."""
    ran = run("G17 G2 X10 Y15 R20 Z5 F100", position=(0, 0, 5))
    assert ran.arc() == pytest.approx((19.8551, -2.4034, -53.5764), abs=TIGHT)
    assert ran.motion.length()[0] == pytest.approx(18.7017, abs=TIGHT)


@pytest.mark.parametrize(("line", "centre", "sweep", "length"), [
    ("G2 X10 Y0 R10", (5, -8.6603), -60, 10.4720), ("G2 X10 Y0 R-10", (5, 8.6603), -300, 52.3599),
    ("G3 X10 Y0 R10", (5, 8.6603), 60, 10.4720), ("G3 X10 Y0 R-10", (5, -8.6603), 300, 52.3599)])
def test_06_r_with_both_signs(run, line, centre, sweep, length):
    """3.5.3.1."""
    ran = run(line + " F100")
    assert ran.arc() == pytest.approx((*centre, sweep), abs=TIGHT)
    assert ran.motion.length()[0] == pytest.approx(length, abs=TIGHT)


def test_06_a_half_circle_in_r_format_is_doubtful(run):
    """errors.md, arcs: 165 to 195 degrees. Exactly 180 (R 5 on a chord of 10) too: the last digit decides."""
    assert run("G2 X10 Y0 R5.001 F100").found("word-doubtful")
    assert run("G2 X10 Y0 R10 F100").found("word-doubtful") == []


@pytest.mark.parametrize(("line", "kind"), [
    ("G21 G2 X10.003 Y0 I5", "arc-mismatch"), ("G20 G2 X1.0003 Y0 I0.5", "arc-mismatch"),
    ("G2 X10 Y0 R4.9", "arc-mismatch"), ("G2 X0 Y0 R5", "arc-mismatch"), ("G2 I5", "arc-mismatch"),
    ("G2 X10 Y0", "arc-mismatch"), ("G2 X10 Y0 I5 R5", "code-conflict"), ("G17 G2 X10 Y0 I5 K1",
                                                                          "code-conflict")])
def test_07_arcs_that_are_refused(run, line, kind):
    """3.5.3.1, 3.5.3.2; R with I and K in G17 from trade practice."""
    assert kind in run(line + " F100").stops


@pytest.mark.parametrize(("line", "sweep"), [
    ("G21 G2 X10.0015 Y0 I5", -180), ("G2 X0 Y0 I5", -360), ("G18 G2 X10 Y5 I5", -180)])
def test_07_arcs_that_are_taken(run, line, sweep):
    """3.5.3.2."""
    ran = run(line + " F100")
    assert ran.stops == []
    assert ran.arc()[2] == pytest.approx(sweep, abs=0.01)


def test_07_the_helix_axis_of_g18(run):
    """3.5.3: Y is the helix axis, Z missing stays."""
    ran = run("G18 G2 X10 Y5 I5 F100")
    near(ran.moves, [("A", 10, 5, 0)])
    assert ran.arc()[:2] == pytest.approx((0, 5))  # first axis Z, second X


def halfway(ran):
    """Machine place after half the sweep of the last move: by rotating the start about the centre."""
    from math import cos, radians, sin

    from proveout.parser.motion import PLANE_AXES

    first, second, third = PLANE_AXES[int(ran.motion.arcs.plane[-1])]
    a, b, sweep = ran.arc()
    start, end = ran.motion.start[-1], ran.motion.end[-1]
    da, db, turn = start[first] - a, start[second] - b, radians(sweep / 2)
    place = [0.0, 0.0, 0.0]
    place[first] = a + da * cos(turn) - db * sin(turn)
    place[second] = b + da * sin(turn) + db * cos(turn)
    place[third] = (start[third] + end[third]) / 2
    return tuple(place)


@pytest.mark.parametrize(("line", "passes", "length"), [
    ("G18 G2 X10 Z0 I5 K0 Y-4", (5, -2, -5), 16.2093), ("G18 G3 X10 Z0 I5 K0", (5, 0, 5), 15.7080),
    ("G19 G3 Y10 Z0 J5 K0 X2", (1, 5, -5), 15.8348)])
def test_08_09_planes_seen_from_their_third_axis(run, line, passes, length):
    """3.5.3 and 4.3.6.1."""
    ran = run(line + " F100")
    assert halfway(ran) == pytest.approx(passes, abs=TIGHT)
    assert ran.motion.length()[0] == pytest.approx(length, abs=TIGHT)


@pytest.mark.parametrize(("line", "start", "centre", "sweep", "length"), [
    ("G18 G2 X0 Z20 I-20 K0", (20, 0, 0), (0, 0), -90, 31.4159),
    ("G18 G3 X0 Z20 I-20 K0", (20, 0, 0), (0, 0), 270, 94.2478),
    ("G18 G3 X10 Z0 R8", (0, 0, 0), (-6.2450, 5), 77.3644, 10.8021),
    ("G18 G2 X10 Z0 R8", (0, 0, 0), (6.2450, 5), -77.3644, 10.8021),
    ("G19 G2 Y5 Z-5 J5 K0 X3", (0, 0, 0), (5, 0), -270, 23.7522),
    ("G17 G3 X20 Y0 Z-1.5 I-5 J0", (20, 0, 0), (15, 0), 360, 31.4517)])
def test_08_09_arcs_of_other_planes_and_a_full_turn(run, line, start, centre, sweep, length):
    """3.5.3 and 4.3.6.1; the length of the R arcs is 8 times the sweep."""
    ran = run(line + " F100", position=start)
    assert ran.arc() == pytest.approx((*centre, sweep), abs=TIGHT)
    assert ran.motion.length()[0] == pytest.approx(length, abs=TIGHT)


@pytest.mark.parametrize(("line", "start", "expected"), [
    ("n0190 g3 x13.5 y0 i-2.5", (16, 2.5, 0), (13.5, 2.5, 270)),
    ("n0320 g2 x32.5 j2.5", (32.5, 0, 0), (32.5, 2.5, -360)),
    ("n0490 g2 x69 r4", (64, 4, 0), (66.5, 0.8775, -77.3644)),
    ("n0590 g2 j2.5 y5", (79.5, 0, 0), (79.5, 2.5, -180))])
def test_10_arcs_of_the_engraving_sample(run, line, start, expected):
    """C.1, program lines of the report."""
    assert run(line + " f100", position=start).arc() == pytest.approx(expected, abs=TIGHT)


# --- 11, 12: parameters and expressions, 3.3.2, 3.3.3, C.2 ---

@pytest.mark.parametrize(("before", "line", "x", "after"), [
    ({3: 15}, "#3=6 G1 X#3 F100", 15, {3: 6}), ({}, "#3=15 #3=6", None, {3: 6}), ({}, "#3=6 #3=15", None,
                                                                                  {3: 15}),
    ({3: 15}, "#3=6 #3=7 G1 X#3 F100", 15, {3: 7}), ({3: 7}, "#3=5.0 g1 f1 x #3", 7, {3: 5}),
    ({3: 5}, "g1 f1 x #3 #3=1.1", 5, {3: 1.1}), ({1: 2}, "##1 = 0.375", None, {2: 0.375}),
    ({1: 2, 3: 9}, "G0 X[#1+2]", 4, {}), ({1: 2, 3: 9}, "G0 X#[1+2]", 9, {}),
    ({1: 5, 2: 1}, "#1=#2 #2=#1", None, {1: 1, 2: 5})])
def test_11_parameters_on_one_line(run, before, line, x, after):
    """3.3.3, 3.3.6 and C.2."""
    ran = run(line, parameters=before)
    assert ran.stops == []
    if x is not None:
        assert ran.moves[-1][1] == x
    assert {n: ran.reading.parameters[n] for n in after} == after


def test_11_an_operator_outside_brackets_is_refused(run):
    """3.3.2.3."""
    assert run("G0 X#1+2", parameters={1: 2}).stops != []


EXPRESSIONS = {
    "[2.0 / 3 * 1.5 - 5.5 / 11.0]": 0.5, "[1 + 2 * 3 - 4 / 5]": 6.2, "[2 + 3 * 4 - 5 / 6]": 13.166667,
    "[1 --3]": 4, "[15 MOD 4.0]": 3, "[2 or 2]": 1, "[2 and 2]": 1, "[2 xor 2]": 0, "[2 ** 3.0]": 8,
    "[2 ** 3 ** 2]": 64, "[8 / 2 * 4]": 16, "[-2 ** 2]": 4, "[1 AND 1 + 1]": 2, "[1 + 1 AND 1]": 1,
    "[0 OR 2 * 3]": 1, "[2 + 0 OR 0 - 1]": 0, "sin[30]": 0.5, "atan[1.7321]/[1.0]": 60.0,
    "atan[-1]/[-1]": -135,
    "fix[-0.499]": -1, "fix[-2.8]": -3, "fup[-2.8]": -2, "round[-0.499]": 0, "round[-0.5001]": -1,
    "round[9.975]": 10, "sqrt[3**2 + 4**2]": 5,
    "[2 + asin[1/2.1+-0.345] / [atan[fix[4.4] * 2.1 * sqrt[16.8]] /[-18]]**2]": 2.000545,
}


@pytest.mark.parametrize("written", EXPRESSIONS)
def test_12_expressions(run, written):
    """3.3.2.3, 3.3.2.4, C.2 and App. E."""
    ran = run(f"G0 X100\nG0 X{written}")
    assert ran.reads[0] == pytest.approx(EXPRESSIONS[written], abs=1e-3 if "1.7321" in written else 1e-6)


@pytest.mark.parametrize(("three", "value"), [(6, 55), (15, -134)])
def test_12_an_expression_with_a_parameter(run, three, value):
    """3.3.2.3."""
    ran = run("G0 X100\nG0 X[1 + acos[0] - [#3 ** [4.0/2]]]", parameters={3: three})
    assert ran.reads[0] == pytest.approx(value)


# --- 13 to 15: offsets, 3.5.5, 3.5.8, 3.5.12, 3.5.13, 3.5.18 ---

CHAIN = [
    ("G10 L2 P1 X100 Y50 Z-30", (0, 0, 0), (-100, -50, 30)), ("G0 X0 Y0 Z5", (100, 50, -25), (0, 0, 5)),
    ("G92 X10", (100, 50, -25), (10, 0, 5)), ("G0 X20", (110, 50, -25), (20, 0, 5)),
    ("G55", (110, 50, -25), (120, 50, -25)), ("G0 X20", (10, 50, -25), (20, 50, -25)),
    ("G92.2", (10, 50, -25), (10, 50, -25)), ("G0 X20", (20, 50, -25), (20, 50, -25)),
    ("G92.3", (20, 50, -25), (30, 50, -25)), ("G10 L2 P2 X5", (20, 50, -25), (25, 50, -25)),
    ("G0 X0", (-5, 50, -25), (0, 50, -25)), ("G92.1", (-5, 50, -25), (-10, 50, -25)),
    ("G53 G0 X0 Y0", (0, 0, -25), (-5, 0, -25)), ("M2", (0, 0, -25), (-100, -50, 5))]


@pytest.mark.parametrize("count", range(1, len(CHAIN) + 1))
def test_13_offset_chain(run, count):
    """3.5.5, 3.5.12, 3.5.13, 3.5.18, 3.6.1; machine and board frame are one here."""
    lines = ["G21 G90 G54", *(line for line, _, _ in CHAIN[:count])]
    ran = run("\n".join(lines), machine_origin=(0, 0, 0), offsets=dict.fromkeys(range(1, 10), (0, 0, 0)))
    assert ran.reading.position == pytest.approx(CHAIN[count - 1][1])
    assert ran.reads == pytest.approx(CHAIN[count - 1][2])


def test_13_parameters_follow(run):
    """Table 2 and 3.5.18: #5211 keeps -10 through G92.2; #5221 is the origin of G54."""
    head = "G10 L2 P1 X100\nG0 X0\nG92 X10\nG92.2\n#1=#5211 #2=#5221 #3=#5220"
    ran = run(head, machine_origin=(0, 0, 0))
    assert [ran.reading.parameters[n] for n in (1, 2, 3)] == [-10, 100, 1]


def test_14_g92_twice(run):
    """3.5.18, the report's figures: offsets -3, then -5."""
    assert run("G92 X7\n#1=#5211", position=(4, 0, 0)).reading.parameters[1] == -3
    ran = run("G92 X7\nG92 X9\n#1=#5211", position=(4, 0, 0))
    assert ran.reading.parameters[1] == -5
    assert ran.reads == (9, 0, 0)


@pytest.mark.parametrize(("line", "all_axes", "named"), [
    ("G91 G28 Z10", [(100, 50, -15), (0, 0, 0)], [(100, 50, -15), (100, 50, 0)]),
    ("G90 G28 Z0", [(100, 50, -30), (0, 0, 0)], [(100, 50, -30), (100, 50, 0)]),
    ("G91 G28 X0 Y0", [(0, 0, 0)], [(0, 0, -25)]), ("G28", [(0, 0, 0)], [(0, 0, 0)])])
def test_15_home_through_a_point(run, line, all_axes, named):
    """3.5.8: the second move takes all axes; later practice takes the named ones."""
    setting = {"offsets": {1: (100, 50, -30)}, "position": (100, 50, -25), "machine_origin": (0, 0, 0),
               "home28": (0, 0, 0)}
    for axes, places in (("all", all_axes), ("named", named)):
        ran = run(line, values={"home.axes": axes}, **setting)
        assert ran.motion.end.tolist() == [pytest.approx(place) for place in places]
        assert not ran.motion.is_feed.any()


# --- 16 to 18: cycles, 3.5.16 ---

SAMPLE = """g20
g17 g43 h1 m3 s1234 f16
{level}
g81 x3 y4 r0.2 z-1.1
x1 y0 r0 g91 l3
y-2 r0.1
g82 g90 x4 y5 r0.2 z-1.1 p0.6
x2 z-3.0
g91 x-2 y2 r0 l4
"""


def sample(run, level):
    inch = 25.4
    ran = run(SAMPLE.format(level=level), cutter=1, lengths={1: 2.0 * inch}, position=(0, 0, -2.0 * inch))
    return ran, [(m[0], *(v / inch for v in m[1:])) for m in ran.moves]


def test_16_sticky_numbers_with_g99(run):
    """C.3, program lines of the report; motions by rule 3.5.16."""
    ran, moves = sample(run, "g99")
    near(moves, [
        ("R", 0, 0, .2), ("R", 3, 4, .2), ("F", 3, 4, -1.1), ("R", 3, 4, .2),
        *drilled((4, 4), (5, 4), (6, 4), r=.2, bottom=-.9),
        ("R", 6, 4, .3), *drilled((6, 2), r=.3, bottom=-.8),
        ("R", 4, 5, .3), ("R", 4, 5, .2), ("F", 4, 5, -1.1), ("R", 4, 5, .2),
        *drilled((2, 5), r=.2, bottom=-3), *drilled((0, 7), (-2, 9), (-4, 11), (-6, 13), r=.2, bottom=-2.8)])
    dwells = [e.value for e in ran.motion.events if e.kind is Happening.DWELL]
    assert dwells == [0.6] * 6


def test_16_sticky_numbers_with_g98(run):
    """C.3; by rule 3.5.16 line by line."""
    _, moves = sample(run, "g98")
    near(moves[:20], [
        ("R", 0, 0, .2), ("R", 3, 4, .2), ("F", 3, 4, -1.1), ("R", 3, 4, .2),
        *drilled((4, 4), (5, 4), (6, 4), r=.2, bottom=-.9),
        ("R", 6, 4, .3), *drilled((6, 2), r=.3, bottom=-.8),
        ("R", 4, 5, .3), ("R", 4, 5, .2), ("F", 4, 5, -1.1)])
    near(moves[20:], [
        ("R", 4, 5, .3), ("R", 2, 5, .3), ("R", 2, 5, .2), ("F", 2, 5, -3), ("R", 2, 5, .3),
        *drilled((0, 7), (-2, 9), (-4, 11), (-6, 13), r=.3, bottom=-2.7)])


PECK = "G90 {level} {code} X10 Y20 Z-10 R2 Q{q} F100"


@pytest.mark.parametrize(("level", "values", "code", "heights"), [
    ("G99", {}, "G83", [5, 2, -3, 2, -2.746, -8, 2, -7.746, -10, 2]),
    ("G98", {"cycle.g83_return": "clear"}, "G83", [5, 2, -3, 5, -2.746, -8, 5, -7.746, -10, 5]),
    ("G98", {"cycle.g83_return": "R"}, "G83", [5, 2, -3, 2, -2.746, -8, 2, -7.746, -10, 5]),
    ("G98", {}, "G73", [5, 2, -3, -2.746, -8, -7.746, -10, 5])])
def test_17_peck_sequences(run, level, values, code, heights):
    """3.5.16.4; G73 and the return to R from trade practice."""
    ran = run(PECK.format(level=level, code=code, q=5), "standard", values, position=(0, 0, 5))
    assert [m[3] for m in ran.moves] == pytest.approx(heights)
    assert {m[1:3] for m in ran.moves} == {(10, 20)}


def test_17_q_4_and_no_q(run):
    """3.5.16.4: no extra peck of no length; Q 0 and no Q are refused."""
    ran = run(PECK.format(level="G99", code="G83", q=4), position=(0, 0, 5))
    assert [m[3] for m in ran.moves if m[0] == "F"] == pytest.approx([-2, -6, -10])
    assert run(PECK.format(level="G99", code="G83", q=0), position=(0, 0, 5)).stops == ["cycle-bad"]
    assert run("G99 G83 X10 Y20 Z-10 R2 F100", position=(0, 0, 5)).stops == ["cycle-bad"]


@pytest.mark.parametrize(("code", "end", "dwell"), [
    ("G82 P0.5", "R", 0.5), ("G85", "F", 0), ("G89 P0.5", "F", 0.5), ("G86 P0.5", "R", 0.5)])
def test_18_dwell_and_feed_out(run, code, end, dwell):
    """3.5.16.3 to 3.5.16.10."""
    head = "M3 S1000\n" if code.startswith("G86") else ""
    ran = run(head + f"G90 G98 F100 {code} R1 Z-4 X3 Y0", position=(0, 0, 5))
    near(ran.moves, [("R", 3, 0, 5), ("R", 3, 0, 1), ("F", 3, 0, -4), (end, 3, 0, 5)])
    assert sum(e.value for e in ran.motion.events if e.kind is Happening.DWELL) == dwell


def test_18_g86_stops_the_spindle_for_the_retract(run):
    """3.5.16.7: and it has to turn before."""
    ran = run("M3 S1000\nG90 G98 F100 G86 P0.5 R1 Z-4 X3 Y0", position=(0, 0, 5))
    assert list(ran.motion.column("spindle")) == [1, 1, 1, 0]
    assert ran.reading.final.spindle is Spindle.CLOCKWISE
    assert run("G90 G98 F100 G86 P0.5 R1 Z-4 X3 Y0", position=(0, 0, 5)).stops == ["cycle-bad"]


# --- 19, 20: groups and order, 3.3.5, 3.4, 3.8 ---

@pytest.mark.parametrize("line", [
    "G0 G1 X5", "G90 G91 X5", "G17 G18", "G54 G55", "G98 G99", "G1 G28 X5 F100", "G53 G2 X1 I1", "G80 X5",
    "G92 X0 G0 Y5", "M3 M5", "M7 M8", "M0 M3 M6 M8 M48", "X1 X2", "G1 X1 R5 F100", "G91 G0 X5 G90"])
def test_19_conflicts(run, line):
    """3.3.5, 3.4, 3.5.12, 3.5.15; the unused R from practice."""
    ran = run(f"G0 X9\nT1\n{line}", home28=(0, 0, 0), machine_origin=(0, 0, 0))
    assert "code-conflict" in ran.stops
    assert {f.line for f in ran.found("code-conflict")} == {3}


@pytest.mark.parametrize(("lines", "moves"), [
    ("G1 Y1 F100\nG28 X5\nY2", [("F", 0, 1, 0), ("R", 5, 1, 0), ("R", 0, 0, 0), ("F", 0, 2, 0)]),
    ("G4 P1 G1 X5 F100", [("F", 5, 0, 0)]), ("G53 G0 Z7", [("R", 0, 0, 7)])])
def test_19_what_is_legal(run, lines, moves):
    """3.4: a motion mode in force is suspended for a line whose axis words belong to another code."""
    ran = run(lines, home28=(0, 0, 0), machine_origin=(0, 0, 0))
    assert ran.stops == []
    near(ran.moves, moves)


def test_20_order_of_execution(run):
    """3.8, Table 8."""
    ran = run("N10 G1 X50 F300 S12000 M3 G4 P2 M0 G55", offsets={1: (0, 0, 0), 2: (10, 0, 0)})
    assert ran.motion.end.tolist() == [[60, 0, 0]]
    assert (ran.motion.feed[0], ran.motion.column("speed")[0], ran.motion.column("spindle")[0]) == (300,
                                                                                                    12000, 1)
    seen = [(e.kind, e.before) for e in ran.motion.events]
    assert seen == [(Happening.SPINDLE, 0), (Happening.DWELL, 0), (Happening.STOP, 1)]


def test_20_m5_acts_before_the_retract(run):
    """3.8; on some controls M5 acts after the block's motion (a dialect's key)."""
    program = "S1000 M3\nM5 G0 Z50"
    assert list(run(program).motion.column("spindle")) == [0]
    after = run(program, values={"order.m_after_motion": ["M5"]})
    assert list(after.motion.column("spindle")) == [1]
    assert after.reading.final.spindle is Spindle.STILL


# --- 21 to 26 ---

def test_21_unit_change_keeps_the_f_number(run):
    """4.3.3.3; controls that convert F move at 300 mm/min."""
    ran = run("G21 F300\nG20 G1 X1")
    assert ran.motion.end[0, 0] == pytest.approx(25.4)
    assert ran.motion.feed[0] == pytest.approx(7620)
    assert run("G21 F300\nG20 G1 X1",
               values={"units.f_on_change": "convert"}).motion.feed[0] == pytest.approx(300)


def test_21_f_is_stored_before_the_unit(run):
    """3.8: F is third, the unit twelfth."""
    assert run("G21\nG20 F10 G1 X1").motion.feed[0] == pytest.approx(254)


def test_22_inverse_time(run):
    """3.5.19."""
    ran = run("G93 G1 X30 Y40 F2\nX0\nG0 X10")
    assert ran.motion.feed[0] == pytest.approx(100)
    assert [f.line for f in ran.found("feed-missing")] == [2]


LENGTH = {"cutter": 1, "lengths": {1: 50.0, 2: 60.0}, "offsets": {1: (0, 0, -80)}, "machine_origin": (0, 0,
                                                                                                      50),
          "position": (0, 0, -50)}  # machine Z 0: the tip of cutter 1 is 50 below


@pytest.mark.parametrize(("lines", "machine", "reads"), [
    ("G43 H1", 0, 30), ("G43 H1\nG0 Z5", -25, 5), ("G43 H1\nG0 Z5\nG49", -25, 55),
    ("G43 H1\nG0 Z5\nG49\nG53 G0 Z0", 0, 80)])
def test_23_length_offset(run, lines, machine, reads):
    """3.5.11 and 3.5.12; G53 means the spindle nose (trade practice)."""
    ran = run(lines, **LENGTH)
    assert ran.reading.position[2] + 50 == pytest.approx(machine)
    assert ran.reads[2] == pytest.approx(reads)


def test_23_a_longer_cutter_with_the_old_length_cuts_deeper(run):
    """Rule 3.5.11: reads stay, the real tip is 10 mm lower than the numbers."""
    ran = run("G43 H1\nG0 Z5\nT2 M6", **LENGTH)
    assert ran.reads[2] == pytest.approx(5)
    assert ran.reading.position[2] == pytest.approx(-75 - 10)


FACING = """G21 G90 G17 G94 G54 G40 G49 G80
T1 M6
S16000 M3
G0 Z10
G0 X-15 Y0
G0 Z2
G1 Z-0.5 F800
G1 X315 F3000
Y20
X-15
Y40
X315
Y60
X-15
Y80
X315
Y100
X-15
G0 Z10
M5
M2
"""


def test_24_facing(run):
    """Worked by hand: 73.5 mm of rapids, 2.5 mm of plunge, 2080 mm of cut."""
    ran = run(FACING, position=(0, 0, 50))
    length, feed = ran.motion.length(), ran.motion.is_feed
    assert length[~feed].sum() == pytest.approx(73.5)
    assert length[feed][0] / ran.motion.feed[feed][0] * 60 == pytest.approx(0.1875)
    assert length[feed][1:].sum() == pytest.approx(2080)
    assert length[feed][1:].sum() / 3000 * 60 == pytest.approx(41.6)
    ends = ran.motion.end
    assert (ends[:, 0].min(), ends[:, 0].max(), ends[:, 1].max(), ends[:, 2].min()) == (-15, 315, 100, -0.5)
    assert ran.stops == []
    assert ran.reading.ended


PATTERN = "G0 Z15\nG99 G81 X10 Y10 Z-6 R2 F200\nX30\nY40\nG98 X10\nG80"


@pytest.mark.parametrize(("level", "last"), [("line", 2), ("series", 15)])
def test_25_g98_by_line_or_by_series(run, level, last):
    """3.5.16, 3.5.20; the series from later practice."""
    ran = run(PATTERN, values={"cycle.g98_level": level}, position=(0, 0, 20))
    near(ran.moves, [
        ("R", 0, 0, 15), ("R", 10, 10, 15), ("R", 10, 10, 2), ("F", 10, 10, -6), ("R", 10, 10, 2),
        *drilled((30, 10), (30, 40), (10, 40), r=2, bottom=-6)[:-1], ("R", 10, 40, last)])


def test_26_a_number_without_point(run):
    """Least increment: common practice, no published source. The report reads them as written (3.3.2.1)."""
    values = {"number.no_point": "increment", "dwell.words": {"P": "ms", "X": "s"}}
    ran = run("G91 G1 X1 Y1. F1000\nG4 P500\nG4 X2.", values=values)
    near(ran.moves, [("F", 0.001, 1, 0)])
    assert [e.value for e in ran.motion.events if e.kind is Happening.DWELL] == [0.5, 2]
    plain = run("G91 G1 X1 Y1. F1000\nG4 P500")
    near(plain.moves, [("F", 1, 1, 0)])
    assert [e.value for e in plain.motion.events if e.kind is Happening.DWELL] == [500]


# --- 29: line syntax, 3.3, App. E ---

@pytest.mark.parametrize(("line", "moves"), [
    ("g0x +0. 12 34y 7", [("R", 0.1234, 7, 0)]), ("/N10 G0 X1", [("R", 1, 0, 0)]),
    ("G1.000005 X1 F100", [("F", 1, 0, 0)]), ("( M S G , hello)", [])])
def test_29_lines_that_are_taken(run, line, moves):
    ran = run(line)
    assert ran.stops == []
    near(ran.moves, moves)


@pytest.mark.parametrize("line", [
    "N000009 G0 X1", "G0 X1 N10", "N10 /G0 X1", "G1 X1 (a (b) c)", "G1 X1 (open", "G1.00005 X1", "G1 X1.5.2",
    "G1 X", "G1 X-.", "G1 X1,5", "G1 E5"])
def test_29_lines_that_are_refused(run, line):
    ran = run(line)
    assert ran.stops != []
    assert not ran.motion.placed.any()


def test_29_codes_from_expressions(run):
    """3.5: `G[2*5] L[1+1] P1 X0` is G10 L2 P1 X0."""
    ran = run("G[2*5] L[1+1] P1 X3", machine_origin=(0, 0, 0))
    assert ran.stops == []
    assert ran.reads == (-3, 0, 0)


def test_29_one_code_written_two_ways(run):
    """G38.2 and G38.20 are one code: known, and where it ends only the machine knows."""
    for line in ("G38.2 Z-5 F50", "G38.20 Z-5 F50"):
        ran = run(line)
        assert [f.about for f in ran.found("word-doubtful")] == ["G38.2"]
        assert ran.reading.position[2] != ran.reading.position[2]
