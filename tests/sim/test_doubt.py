"""Doubt makes bodies larger: a strike is found where the true body alone would be missed, and only there.

Every figure is worked by hand beside its check; the rule is the project's own.
"""

from __future__ import annotations

import pytest
from proveout.parser.job import Uncertainty
from proveout.sim.doubt import risen
from proveout.sim.solids import HeadSolid

SCREW = """
[[fasteners]]
name = "screws"
head = { diameter = 14, height = 4 }
at = [[100, 50]]
seat = -5
recess = { diameter = 20, depth = 5 }
"""  # the head's top at Z -1, its side 7 mm from (100, 50)
BLOCK = '[[{what}]]\nname = "block"\nx = [90, 110]\ny = [80, 95]\nz = [-18, 5]\n'
DOUBT = "[uncertainty]\nz_zero = {z}\nhead_xy = {xy}\nhead_z = {up}\n"


def pass_at(z: float, y: float = 50.0) -> str:
    return f"G0 X-20 Y{y}\nG1 Z{z} F2000\nG1 X220\n"


@pytest.mark.parametrize(("lift", "struck"), [(0.39, False), (0.41, True)])
def test_a_head_that_rises(found, lift, struck):
    """0.4 mm lie between the head's top at -1 and the pass at -0.6."""
    strikes = found("head-strike", pass_at(-0.6), more=SCREW + f"lift = {lift}\n")
    assert bool(strikes) is struck
    if struck:
        assert strikes[0].value == pytest.approx(-0.01, abs=1e-9)


@pytest.mark.parametrize(("up", "z", "struck"), [(0.2, 0.19, False), (0.2, 0.21, True), (0.41, 0.0, True)])
def test_doubt_of_zero_and_of_heads_add_up(found, up, z, struck):
    """The same 0.4 mm."""
    more = SCREW + DOUBT.format(z=z, xy=0, up=up)
    assert bool(found("head-strike", pass_at(-0.6), more=more)) is struck


@pytest.mark.parametrize(("xy", "struck"), [(0.49, False), (0.51, True)])
def test_a_head_that_may_stand_beside_its_place(found, xy, struck):
    """Axis 20 mm away, 12.5 + 7 filled: 0.5 left. Above the board the recess does not matter."""
    more = SCREW.replace("seat = -5", "seat = -1") + DOUBT.format(z=0, xy=xy, up=0)
    assert bool(found("head-strike", pass_at(-0.6, 70), more=more)) is struck


@pytest.mark.parametrize("what", ["clamps", "obstacles"])
@pytest.mark.parametrize(("z", "struck"), [(0.09, False), (0.11, True)])
def test_clamps_and_obstacles_rise_by_the_doubt_of_zero(found, what, z, struck):
    """A way at Z 5.1 over a block with its top at 5."""
    more = BLOCK.format(what=what) + DOUBT.format(z=z, xy=0, up=0)
    assert bool(found(f"{what[:-1]}-strike", pass_at(5.1, 87), more=more)) is struck


@pytest.mark.parametrize(("z", "struck"), [(0.19, False), (0.21, True)])
def test_the_bed_rises_by_the_doubt_of_zero(found, z, struck):
    """A hole to 0.2 above the bed."""
    lines = "G0 X50 Y50\nG1 Z-17.8 F300\nG0 Z20\n"
    assert bool(found("bed-strike", lines, more=DOUBT.format(z=z, xy=0, up=0))) is struck


@pytest.mark.parametrize(("z", "deep"), [(0.05, True), (0.2, False)])
def test_no_face_is_held_finer_than_zero_is_known(found, z, deep):
    """A face wanted at -0.4 and cut at -0.55: 0.15 too deep, which a zero known to 0.2 cannot tell."""
    stage = "face = { z = -0.4, tolerance = 0.05 }"
    assert bool(found("over-depth", pass_at(-0.55), stage=stage, more=DOUBT.format(z=z, xy=0, up=0))) is deep


def test_what_a_head_is_without_doubt_stays_known():
    head = HeadSolid("screws 1", "screws", 1, (0.0, 0.0), 7.0, -1.0, -5.0)
    grown = risen(head, Uncertainty(z_zero=0.05, head_xy=0.5, head_z=0.2), 0.1)
    assert (grown.top, grown.radius) == (pytest.approx(-0.65), 7.5)
    assert grown.nominal.top == pytest.approx(head.top)
    assert grown.nominal.radius == head.radius


def test_a_typed_seat_is_judged_without_the_doubt(found):
    """Seat and floor agree at -5; doubt is no mismatch, and the head still fits its recess of 14.2."""
    more = SCREW.replace("20, depth", "14.2, depth") + "lift = 0.5\n" + DOUBT.format(z=0.1, xy=0.5, up=0.3)
    assert found("seat-mismatch", pass_at(1), more=more) == []
    assert found("head-fit", pass_at(1), more=more) == []
