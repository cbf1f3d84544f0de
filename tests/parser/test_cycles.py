"""What cycles do in the hole: strokes along the drilling axis."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st
from proveout.parser.cycles import CYCLES, Bore, Stroke, bottoms
from proveout.parser.dialect import load_dialect
from proveout.parser.doubts import other_readings
from proveout.parser.interpreter import read_program
from proveout.parser.motion import Happening, Spindle
from proveout.parser.reading import Setting
from proveout.parser.source import Source

R, F, D, STILL, TURN, *_ = Stroke


def strokes(name: str, **words) -> list:
    bore = {"r": 2.0, "bottom": -10.0, "clear": 2.0, "between": 2.0, **words}
    return [(kind, round(value, 6)) for kind, value in CYCLES[name].strokes(Bore(**bore))]


def test_peck_with_full_retracts():
    """NIST IR 6556, 3.5.16.4, worked by hand (example 17): G99."""
    assert strokes("peck", peck=5.0) == [(F, -3), (R, 2), (R, -2.746), (F, -8), (R, 2), (R, -7.746), (F,
                                                                                                      -10),
                                                                                                      (R, 2)]


def test_peck_returns_to_the_clear_level_or_to_r():
    """Example 17: the report's text under G98, and the later practice."""
    text = strokes("peck", peck=5.0, clear=5.0, between=5.0)
    assert text == [(F, -3), (R, 5), (R, -2.746), (F, -8), (R, 5), (R, -7.746), (F, -10), (R, 5)]
    later = strokes("peck", peck=5.0, clear=5.0, between=2.0)
    assert later == [(F, -3), (R, 2), (R, -2.746), (F, -8), (R, 2), (R, -7.746), (F, -10), (R, 5)]


def test_chip_break():
    """Example 17: G73, from trade practice."""
    assert strokes("chip_break", peck=5.0, clear=5.0) == [
        (F, -3), (R, -2.746), (F, -8), (R, -7.746), (F, -10), (R, 5)]


def test_no_extra_peck_of_no_length():
    """Example 17: Q4 gives -2, -6, -10."""
    assert list(bottoms(Bore(2.0, -10.0, 2.0, peck=4.0))) == [-2, -6, -10]


@pytest.mark.parametrize(("name", "dwell", "wanted"), [
    ("drill", 0.0, [(F, -10), (R, 5)]),
    ("dwell", 0.5, [(F, -10), (D, 0.5), (R, 5)]),
    ("feed_out", 0.0, [(F, -10), (F, 5)]),
    ("dwell_feed_out", 0.5, [(F, -10), (D, 0.5), (F, 5)]),
    ("stop_out", 0.5, [(F, -10), (D, 0.5), (STILL, 0), (R, 5), (TURN, 0)])])
def test_the_simple_cycles(name, dwell, wanted):
    """NIST IR 6556, 3.5.16.2 to 3.5.16.10 (example 18)."""
    assert strokes(name, dwell=dwell, clear=5.0) == wanted


@given(st.floats(-50, 50), st.floats(0.01, 60), st.floats(0.05, 70))
def test_pecks_go_down_by_q_at_most_and_end_at_the_bottom(r, deep, peck):
    levels = [r, *bottoms(Bore(r, r - deep, r, peck=peck))]
    steps = [a - b for a, b in itertools.pairwise(levels)]
    assert levels[-1] == r - deep
    assert all(0 < step <= peck + 1e-9 for step in steps)


@pytest.mark.parametrize("name", [name for name, cycle in CYCLES.items() if not cycle.aside])
@given(deep=st.floats(0.1, 30), peck=st.floats(0.2, 10), lift=st.floats(0, 20))
def test_every_cycle_feeds_to_its_bottom_once_and_leaves_at_the_clear_level(name, deep, peck, lift):
    done = list(CYCLES[name].strokes(Bore(0.0, -deep, lift, peck=peck, between=0.0)))
    fed = [value for kind, value in done if kind is Stroke.FEED and value <= 0]
    assert min(fed) == -deep
    assert fed.count(-deep) == 1
    moved = [value for kind, value in done if kind in (Stroke.FEED, Stroke.RAPID)]
    assert moved[-1] == lift
    assert all(value > -deep for kind, value in done if kind is Stroke.RAPID)


BORING = "G21 G17 G90 G94 G54 G98 F100 S500 M3\n"


@pytest.mark.parametrize(("line", "dialect", "moves"), [
    # NIST IR 6556, 3.5.16.8: down beside the wall, up to K at feed, down again, out beside the wall
    ("G87 X10 Y10 Z-12 R2 I3 K-5", "report",
     "R10,10,5 R10,10,2 R13,10,2 R13,10,-12 R10,10,-12 F10,10,-5 F10,10,-12 R13,10,-12 R13,10,5 R10,10,5"),
    # G91: X, Y and R from here, Z from R, K from Z; I and J are increments always
    ("G91 G87 X10 Y10 Z-12 R-3 I3 K2", "report",
     "R10,10,5 R10,10,2 R13,10,2 R13,10,-10 R10,10,-10 F10,10,-8 F10,10,-10 R13,10,-10 R13,10,5 R10,10,5"),
    # the shift lies in the plane, whatever it is: K and I in G18, and J is what K is in G17
    ("G18 G87 X10 Z10 Y-12 R2 I1 K3 J-5", "report",
     "R0,2,5 R10,2,10 R11,2,13 R11,-12,13 R10,-12,10 F10,-5,10 F10,-12,10 R11,-12,13 R11,2,13 R10,2,10"),
    # common practice, no published source: fine boring, and boring from below with R as the bottom
    ("G76 X10. Y10. Z-12. R2. Q1. P500", "usermacro",
     "R10,10,5 R10,10,2 F10,10,-12 R11,10,-12 R11,10,5 R10,10,5"),
    ("G76 X10. Y10. Z-12. R2. I1. J-0.5", "usermacro",
     "R10,10,5 R10,10,2 F10,10,-12 R11,9.5,-12 R11,9.5,5 R10,10,5"),
    ("G87 X10. Y10. Z-5. R-15. Q1.", "usermacro",
     "R10,10,5 R11,10,5 R11,10,-15 R10,10,-15 F10,10,-5 R11,10,-5 R11,10,5 R10,10,5")])
def test_boring_that_moves_its_edge_off_the_wall(run, line, dialect, moves):
    ran = run(BORING + line, dialect, position=(0, 0, 5))
    assert ran.stops == []
    wanted = [(each[0], *map(float, each[1:].split(","))) for each in moves.split()]
    assert ran.moves == wanted
    stills = [e.value for e in ran.motion.events if e.kind is Happening.SPINDLE]
    assert stills[1:3] == [Spindle.STILL, Spindle.CLOCKWISE]


def test_which_way_the_edge_points_is_a_setting_that_the_path_hangs_on():
    """A user-macro control's setting: four ways, so three other readings, each 2 mm or more elsewhere."""
    source = Source("a.nc", (BORING + "G0 X0. Y0. Z5.\nG76 X10. Y10. Z-12. R2. Q2.\nG80\nM5\nM30").encode())
    dialect, setting = load_dialect("usermacro"), Setting(position=(0.0, 0.0, 5.0))
    others = other_readings(read_program(source, dialect, setting), dialect, setting)
    assert [each.value for each in others if each.doubt.key == "cycle.shift"] == ["x-", "y+", "y-"]
    assert all(each.line == 3 for each in others if each.doubt.key == "cycle.shift")


@pytest.mark.parametrize(("line", "dialect", "said"), [
    ("G87 X1 Y1 Z-5 R2 K-2", "report", "how far"), ("G87 X1 Y1 Z-5 R2 I1", "report", "how high"),
    ("G87 X1 Y1 Z-5 R2 I1 K-9", "report", "under its lower"),
    ("G87 X1. Y1. Z-15. R-5. Q1.", "usermacro", "under its lower"),
    ("M4 G84 X1 Y1 Z-5 R2", "standard", "(M3)"), ("G74 X1. Y1. Z-5. R2.", "usermacro", "(M4)")])
def test_boring_and_tapping_that_cannot_run(run, line, dialect, said):
    found = run(BORING + line, dialect).found("cycle-bad")
    assert [said in f.message() for f in found] == [True]
