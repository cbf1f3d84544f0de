"""Z zeroed by touching off: on the board as it then is, on the bed, each cutter by itself.

Every height is worked by hand; the board is 200 x 100 x 18 with its top at Z 0, its bed at -18.
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from proveout.parser.job import Cutter
from proveout.sim.surface import Surface
from proveout.sim.touching import contact

ALONG = "G0 X-20 Y{}\nG0 Z3\nG1 Z-0.4 F500\nG1 X220 F2000\nG0 Z20\n"
FACING = ALONG.format(50)


def lowest(result) -> list[float]:
    return [z if z is None else round(z, 6) for z in (stage.lowest_cut for stage in result.stages)]


@pytest.mark.parametrize(("touch", "second"), [
    ("", -0.4),                                          # the same height again
    ("touch = [ { at = [100, 50] } ]", -0.8),            # on the faced strip, at -0.4
    ("touch = [ { at = [100, 90] } ]", -0.4),            # beside it, where nothing was cut
    ("touch = [ { at = [100, 68] } ]", -0.4),            # the rim still stands on what is higher
    ("touch = [ { at = [100, 50], block = 0.1 } ]", -0.7),
    ("touch = [ { cutter = 2, at = [100, 50] } ]", -0.4),  # another cutter's
])
def test_z_is_taken_from_the_board_as_it_then_is(judged, touch, second):
    """The facing cutter is 25 wide: at Y68 its rim reaches from 55.5 to 80.5, over the edge at 62.5. At the
    same height again nothing is cut."""
    result = judged(FACING, then=touch or "rpm = 9000")
    assert lowest(result) == [-0.4, None if second == -0.4 else pytest.approx(second)]
    assert result.job.stages[1].zero[2] == pytest.approx(second + 0.4)


@pytest.mark.parametrize(("touch", "deep"), [
    ('touch = [ { on = "bed", block = 17.9 } ]', -0.5), ('touch = [ { on = "bed" } ]', -18.4)])
def test_z_is_taken_from_the_bed_and_a_block(judged, touch, deep):
    assert lowest(judged(FACING, stage=touch)) == [deep]


def test_a_bed_whose_height_nobody_knows_is_said(tmp_path):
    from proveout.parser.jobfile import read_job
    from proveout.sim.verify import verify

    (tmp_path / "a.nc").write_text("G21 G90 G17 G94 G54\nG0 Z20\nM30\n")
    (tmp_path / "job.toml").write_text(
        'board = { x = [0, 200], y = [0, 100] }\n'
        'cutters = [ { number = 1, shape = "flat", diameter = 6 } ]\n'
        'stages = [ { name = "a", program = "a.nc", touch = [ { on = "bed" } ] } ]\n')
    result = verify(read_job(tmp_path / "job.toml"), threads=1)
    assert result.job.stages[0].zero[2] == 0.0
    assert any("the bed's height is not known" in each.why for each in result.unchecked)


def test_a_depth_below_zero_counts_from_the_zero_that_was_touched(found):
    """A face 0.4 below zero, touched on the strip at -0.4: -0.8 is wanted, and cut."""
    stage = "touch = [ { at = [100, 50] } ]\nface = { x = [0, 200], y = [40, 60], depth = 0.4 }"
    assert found("over-depth", FACING, then=stage) == []
    assert found("over-depth", FACING, then=stage.replace("touch = [ { at = [100, 50] } ]", "")) == []
    assert len(found("edge-left", FACING, then=stage.replace("depth = 0.4", "depth = 0.5"))) == 1


CHANGE = FACING + "T3 M6\nS9000 M3\nG0 Z20\nG0 X100 Y50\nG0 Z2\nG1 Z-1 F300\nG0 Z20\n"


@pytest.mark.parametrize(("touch", "deep"), [
    ("", -1.0), ("touch = [ { cutter = 3, at = [150, 50] } ]", -1.4),
    ("touch = [ { cutter = 3, at = [150, 90] } ]", -1.0),
    ("touch = [ { cutter = 1, at = [150, 50] }, { cutter = 3, at = [150, 50] } ]", -1.4)])
def test_a_cutter_is_touched_off_when_it_comes_into_the_spindle(judged, touch, deep):
    """The mill is touched off on the strip that the facing cutter has left at -0.4 in the same stage."""
    assert lowest(judged(CHANGE, stage=touch)) == [pytest.approx(deep)]


BY_HAND = FACING + "M5\nM0\nS9000 M3\nG0 X100 Y50\nG0 Z2\nG1 Z-1 F300\nG0 Z20\n"


@pytest.mark.parametrize(("touch", "deep"), [("", -1.0), (", touch = { at = [150, 50] }", -1.4),
                                             (', touch = { on = "bed", block = 16 }', -3.0)])
def test_a_cutter_that_is_changed_by_hand_is_touched_off_at_the_stop(judged, touch, deep):
    stage = f"changes = [ {{ at_stop = 1, cutter = 3{touch} }} ]"
    assert lowest(judged(BY_HAND, stage=stage)) == [pytest.approx(deep)]


LONGER = "".join(f'[[cutters]]\nnumber = {n}\nshape = "flat"\ndiameter = 10\nedges = 2\nlength = {length}\n'
                 for n, length in ((1, 0), (3, 0.6)))


@pytest.mark.parametrize(("g43", "touch", "deep"), [
    ("", "", -1.6), ("G43 H3\n", "", -1.0), ("", "touch = [ { cutter = 3, at = [150, 50] } ]", -1.4),
    ("G43 H3\n", "touch = [ { cutter = 3, at = [150, 50] } ]", -1.4)])
def test_a_longer_cutter_goes_deeper_unless_it_is_touched_off_or_offset(judged, g43, touch, deep):
    """0.6 longer than the one that Z was zeroed with; touched off on the strip at -0.4 its length is in Z."""
    lines = CHANGE.replace("M6\n", f"M6\n{g43}")
    assert lowest(judged(lines, stage=touch, cutters=LONGER)) == [pytest.approx(deep)]


def test_a_later_stage_starts_from_its_own_zero(judged):
    """The drill stage's touch-off is not the next one's."""
    result = judged(FACING, stage='touch = [ { on = "bed", block = 17.9 } ]', then="rpm = 9000")
    assert [stage.zero[2] for stage in result.job.stages] == [pytest.approx(-0.1), 0.0]


# --- what a cutter stands on --------------------------------------------------------------------------

def island() -> Surface:
    """A board at -1 with an island of 10 at 0 about (50, 50), cells of 0.5."""
    board = Surface.of_board(shapely.box(0, 0, 100, 100), -1.0, 0.5)
    board.raise_to(shapely.Point(50, 50).buffer(5), 0.0)
    return board


@pytest.mark.parametrize(("keys", "at", "stands"), [
    ({"shape": "flat", "diameter": 6}, (50, 50), 0.0), ({"shape": "flat", "diameter": 6}, (57, 50), 0.0),
    ({"shape": "flat", "diameter": 6}, (59, 50), -1.0), ({"shape": "drill", "diameter": 6}, (57, 50), -1.0),
    ({"shape": "facing", "diameter": 25, "core": 14}, (50, 50), 0.0),
    ({"shape": "facing", "diameter": 25, "core": 14, "core_gap": 0.3}, (50, 50), -0.3),
    ({"shape": "facing", "diameter": 25, "core": 14, "core_gap": 2}, (50, 50), -1.0),
    ({"shape": "flat", "diameter": 6}, (150, 50), None)])
def test_what_a_cutter_stands_on(keys, at, stands):
    """A flat one on the highest under its rim, a core by its gap, a drill on its point."""
    got = contact(island(), Cutter(number=1, **keys), at)
    assert got == stands or np.isclose(got, stands)
