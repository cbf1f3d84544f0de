"""Stops as the operator meets them, by hand: what moves, what is free, what is in the way, where things
stand."""

from __future__ import annotations

import pytest
from proveout.viewer.layout import plain
from proveout.viewer.record import record
from proveout.viewer.terminal import report

CLAMPS = "".join(f'[[clamps]]\nname = "{name}"\nx = {x}\ny = {y}\nabove = 20\n' for name, x, y in (
    ("front left", [-10, 10], [-10, 10]), ("front right", [190, 210], [-10, 10]),
    ("back left", [-10, 10], [90, 110]), ("back right", [190, 210], [90, 110])))
MILL = "T3 M6\nS9000 M3\nG0 Z25\n"
CUT = "G0 X100 Y{}\nG0 Z3\nG1 Z-1 F300\nG1 X120 F900\nG0 Z40\n"


def stops(judged, lines: str, **job: str):
    return judged(lines, more=CLAMPS, **job).stages[0].stops


def test_what_the_job_moves_and_where_things_stand(judged):
    """Tip at (120, 50, 40); the mill sticks out 30 under the nut."""
    cutters = '[[cutters]]\nnumber = 3\nshape = "flat"\ndiameter = 6\nedges = 2\nstickout = 30\n'
    cutters += cutters.replace("= 3", "= 1")
    stage = 'changes = [ { at_stop = 1, remove = ["front left"] } ]'
    lines = MILL + CUT.format(50) + "M5\nM0\nM3\n" + CUT.format(60)
    result = judged(lines, more=CLAMPS, stage=stage, cutters=cutters, start="")
    (stop,) = result.stages[0].stops
    assert (stop.line, stop.code, stop.remove, stop.turning) == (13, "M0", ("front left",), False)
    assert stop.tip == (120, 50, 40)
    assert stop.nose == 70
    assert stop.clamps == ("front right", "back left", "back right")
    assert record(result)["stages"][0]["stops"][0]["nose"] == 70
    words = " ".join(plain(report(result, everything=True), 80).split())
    assert "tip at X120 Y50 Z40; nut's face at Z70" in words


@pytest.mark.parametrize(("change", "free"), [
    ("", {"front left", "front right", "back left", "back right"}),  # any three do not lie in one line
    ("changes = [ { at_stop = 1, remove = [\"front left\"] } ]", set()),  # two are in one line
])
def test_a_clamp_is_free_where_the_board_stays_held_without_it(judged, change, free):
    lines = MILL + CUT.format(50) + "M5\nM0\nM3\n" + CUT.format(60)
    (stop,) = stops(judged, lines, stage=change)
    assert set(stop.free) == free


def test_nothing_cut_until_the_next_stop_needs_no_clamp(judged):
    first, second = stops(judged, MILL + "M5\nM0\nM0\nM3\n" + CUT.format(60),
                          stage='changes = [ { at_stop = 1, remove = ["front left", "front right"] } ]')
    assert set(first.free) == {"back left", "back right"}
    assert second.free == ()


def test_what_is_in_the_way_until_the_next_stop(judged):
    """A pass at Z 3 along Y 0 meets both front clamps, then one along Y 100 both back ones."""
    along = "G0 X-20 Y{}\nG0 Z3\nG0 X220\nG0 Z40\n"
    lines = MILL + "M5\nM0\n" + along.format(0) + "M1\n" + along.format(100)
    first, second = stops(judged, lines)
    assert set(first.in_way) == {"front left", "front right"}
    assert set(second.in_way) == {"back left", "back right"}
    moved = 'changes = [ { at_stop = 1, remove = ["front left", "front right"] } ]'
    assert stops(judged, lines, stage=moved)[0].in_way == ()


def test_a_change_before_a_line_is_a_stop_and_a_skipped_one_is_none(judged):
    stage = 'optional_stop = false\nchanges = [ { at_line = 8, remove = ["front left"] } ]'
    (stop,) = stops(judged, MILL + "M1\n" + CUT.format(50), stage=stage)
    assert (stop.line, stop.code, stop.remove, stop.turning) == (8, "", ("front left",), True)


def test_a_program_that_never_stops_has_none(judged):
    assert stops(judged, MILL + CUT.format(50)) == ()


def test_what_nobody_knows_is_none(judged):
    (stop,) = stops(judged, "M0\nG0 Z25\n", begin="G21 G90 G17 G94 G54\n", start="")
    assert (stop.tip, stop.nose) == (None, None)
