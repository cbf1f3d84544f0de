"""A core that rubs: on ramps, on posts, beside it and not; each figure worked by hand beside its check.

The height of a ramp's floor under the core is the project's own reckoning, held here against stamping.
"""

from __future__ import annotations

import numpy as np
import pytest

CUTTER = """
[[cutters]]
number = 1
name = "facing cutter"
shape = "facing"
diameter = 25.0
edges = 2
core = 14.0
{gap}
"""


def rubs(found, lines: str, gap: float | None = 0.1):
    cutters = CUTTER.format(gap="" if gap is None else f"core_gap = {gap}")
    return found("core-rub", lines, cutters=cutters, cell="0.25")


@pytest.mark.parametrize(("gap", "rub"), [(0.27, True), (0.29, False)])
def test_a_ramp_whose_floor_rises_over_the_core(found, gap, rub):
    """2 mm down over 100: 14/100 of it, 0.28, over the core's width (0.01 is not felt)."""
    lines = "G0 X50 Y50\nG1 Z0 F500\nG1 X150 Z-2 F1000\nG1 X50\n"
    said = rubs(found, lines, gap - 0.0101 if rub else gap)
    assert bool(said) is rub
    if rub:
        assert said[0].value == pytest.approx(0.28 - gap + 0.0101, abs=1e-6)


@pytest.mark.parametrize("fall", [0.5, 2.0])
def test_the_floor_of_a_ramp_is_as_stamping_leaves_it(fall):
    """A ring 14 to 25 wide goes down `fall` over 100 mm; just before it is at a place, what it left under its
    core's rim, 7 mm behind the axis, stands 14/100 of the fall above it."""
    x = np.arange(-20, 120, 0.02)
    floor = np.zeros(len(x))
    for at in np.arange(0, 80.01, 0.05):
        ring = (np.abs(x - at) >= 7) & (np.abs(x - at) <= 12.5)
        floor[ring] = np.minimum(floor[ring], -fall * at / 100)
    under = np.abs(x - 80) < 7
    assert floor[under].max() + fall * 0.8 == pytest.approx(fall * 0.14, abs=fall * 0.004)


def test_a_ramp_with_an_unknown_gap_is_unchecked(judged):
    lines = "G0 X50 Y50\nG1 Z0 F500\nG1 X150 Z-2 F1000\n"
    said = judged(lines, cutters=CUTTER.format(gap=""))
    assert "core-rub" not in {f.kind for f in said.findings}
    assert any(each.what == "core of facing cutter on ramps" for each in said.unchecked)


@pytest.mark.parametrize(("length", "rub"), [(8, True), (16, False)])
def test_a_short_way_to_and_fro_leaves_a_post(found, length, rub):
    """0.2 down and 0.2 again over 8 mm: what lies within 7 of both ends no edge has met, and 0.4 - 0.1 of it
    stands above the core. Over 16 mm every place has been met."""
    lines = f"G0 X60 Y50\nG1 Z0 F500\nG1 X{60 + length} Z-0.05 F1000\nG1 X60 Z-0.1\nG1 X{60 + length} Z-0.4\n"
    said = rubs(found, lines, 0.1 if rub else 0.4)
    assert bool(said) is rub
    if rub:
        assert said[0].value == pytest.approx(0.3, abs=1e-5)


@pytest.mark.parametrize(("radius", "rub"), [(6.0, True), (8.0, False)])
def test_a_helix_within_the_core_leaves_a_post(found, radius, rub):
    """Two turns down to -1 about a centre that a core of 14 covers all the time, or does not."""
    turns = "".join(f"G2 X{100 - radius} Y50 I{radius} Z{z} F1000\n" for z in (-0.5, -1))
    lines = f"G0 X{100 - radius} Y50\nG1 Z0 F500\n{turns}"
    said = rubs(found, lines, 0.3 if rub else 0.45)
    assert bool(said) is rub
    if rub:
        assert said[0].value == pytest.approx(0.7, abs=1e-5)


def test_from_beside_the_board_nothing_rubs(found):
    lines = "G0 X-30 Y50\nG1 Z-0.4 F500\nG1 X230 F2000\nG1 Y60\nG1 X-30\n"
    assert rubs(found, lines, None) == []


def test_what_goes_straight_down_is_told_once(judged):
    """plunge-no-centre tells of it; the core is not told again."""
    lines = "G0 X100 Y50\nG1 Z-0.4 F500\nG1 X180 F2000\n"
    kinds = {f.kind for f in judged(lines, cutters=CUTTER.format(gap="")).findings}
    assert "plunge-no-centre" in kinds
    assert "core-rub" not in kinds
