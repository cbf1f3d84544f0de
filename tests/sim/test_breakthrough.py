"""Full diameters through the board over the bed: the worked numbers of the trade's formulas (7, drilling
depth), and the exact geometry of the strike kernel as a second way to the same depth."""

from __future__ import annotations

from math import inf, radians, tan

import pytest
from proveout.parser.finding import Severity
from proveout.parser.job import Cutter
from proveout.sim.breakthrough import reach_into
from proveout.sim.cutters import profile_of
from proveout.sim.solids import OpeningSolid

DRILL = "T2 M6\nS6000 M3\nG0 Z20\nG0 X30 Y40\nG98 G83 Z{} R2 Q3 F300\nG80\n"
THROUGH = "holes = { at = [[30, 40]], diameter = 6.6, through = true }"


def drill(diameter: float, angle: float = 118) -> Cutter:
    return Cutter(number=1, shape="drill", diameter=diameter, angle=angle)


@pytest.mark.parametrize(("wide", "minor", "off", "touches", "ring"), [
    (6.6, 4.917, 0, 1.477, 0.506), (6.6, 4.917, 0.3, 1.297, 0.686), (9.0, 6.647, 0, 1.997, 0.707),
    (5.5, 4.134, 0, 1.242, 0.410)])
def test_over_a_plain_tapped_hole_a_ring_stays(wide, minor, off, touches, ring):
    """The four worked examples of formulas 7: p_max, and L_t less p_max."""
    profile, opening = profile_of(drill(wide)), OpeningSolid("t", (0, 0), radius=minor / 2)
    reach = reach_into(profile, opening, off)
    assert reach == pytest.approx(touches, abs=6e-4)
    assert profile.tip_height - reach == pytest.approx(ring, abs=6e-4)


@pytest.mark.parametrize(("mouth", "off", "through"), [
    (6.6, 0, True), (6.59, 0, False), (7.2, 0.3, True), (7.19, 0.3, False)])
def test_a_mouth_as_wide_as_the_drill_and_twice_what_it_is_off_lets_it_through(mouth, off, through):
    """[formulas 7] A chamfer of 90 degrees on a thread of 4.917, as deep as it is wide; the drill's 118
    degrees are blunter, so the mouth's edge is what it meets."""
    chamfer = (mouth - 4.917) / 2
    opening = OpeningSolid("t", (0, 0), radius=4.917 / 2, chamfer=chamfer)
    need = profile_of(drill(6.6)).tip_height
    assert (reach_into(profile_of(drill(6.6)), opening, off) >= need - 1e-9) is through


def test_a_pointed_drill_meets_the_thread_below_its_chamfer():
    """60 degrees included are sharper than the chamfer's 90: the thread's edge, 1 below the face, is met with
    the tip 2/tan(30) below that."""
    opening = OpeningSolid("t", (0, 0), radius=2.0, chamfer=1.0)
    reach = reach_into(profile_of(drill(6.6, 60)), opening, 0.0)
    assert reach == pytest.approx(1 + 2 / tan(radians(30)))


@pytest.mark.parametrize(("depth", "reach"), [(1.0, 1.0), (inf, 1.477)])
def test_a_blind_hole_ends_it(depth, reach):
    opening = OpeningSolid("t", (0, 0), radius=4.917 / 2, depth=depth)
    assert reach_into(profile_of(drill(6.6)), opening, 0.0) == pytest.approx(reach, abs=6e-4)


# --- whole jobs: the drill of 6.6 has 118 degrees, a point of 1.983; the board is 18, the bed at -18 -----

def opening(diameter: float, **keys: float) -> str:
    more = "".join(f", {key} = {value}" for key, value in keys.items())
    return f"openings = [ {{ diameter = {diameter}, at = [[30, 40]]{more} }} ]"


@pytest.mark.parametrize(("z", "mouth", "kinds"), [
    (-19.9834, 6.61, set()), (-19.9834, 0, {"bed-strike"}), (-19.47, 0, {"hole-shallow"}),
    (-19.9, 6.61, {"hole-shallow"})])
def test_strike_ring_or_through(judged, z, mouth, kinds):
    bed = opening(4.917, mouth=mouth) if mouth else opening(4.917)
    result = judged(DRILL.format(z), stage=THROUGH, bed=bed)
    assert {f.kind for f in result.findings if f.kind in ("bed-strike", "hole-shallow")} == kinds


def test_where_through_cannot_be_had_one_finding_says_so(found):
    """Three holes over plain tapped holes that stop 0.01 above contact: a ring of 0.506 + 0.01 stays."""
    lines = DRILL.format(-19.467).replace("G80", "X60\nX90\nG80")
    places = "[[30, 40], [60, 40], [90, 40]]"
    stage = THROUGH.replace("[[30, 40]]", places)
    (said,) = found("hole-shallow", lines, stage=stage, bed=opening(4.917).replace("[[30, 40]]", places))
    assert (said.severity, said.count, said.lines) == (Severity.STOP, 3, (8, 10))
    assert said.message().startswith("Each of 3 holes has its full diameter down to Z -17.484")
    assert "touches metal 1.477 mm under the bed's face and would have to go 1.983 mm" in said.message()
    assert "Chamfer the mouths of the bed's holes to 6.6 mm" in said.advice()
    assert "a sheet of 0.506 mm or more" in said.advice()
    assert "depth = 17.494 mm" in said.advice()


def test_the_ring_stands_in_the_figures(judged):
    (hole,) = judged(DRILL.format(-19.467), stage=THROUGH, bed=opening(4.917)).stages[0].holes
    assert hole.ring == pytest.approx(0.516, abs=1e-3)
    (hole,) = judged(DRILL.format(-17), stage=THROUGH, bed=opening(4.917)).stages[0].holes
    assert hole.ring is None


def test_a_strike_says_that_no_depth_would_do(found):
    (said,) = found("bed-strike", DRILL.format(-20.3), stage=THROUGH, bed=opening(4.917))
    assert "no depth gives holes of 6.6 mm through here" in said.advice()
    (said,) = found("bed-strike", DRILL.format(-26), stage=THROUGH, bed=opening(8, depth=5))
    assert "no depth" not in said.advice()


def test_what_the_advice_gives_is_free_of_findings(judged):
    """A sheet as thick as the ring under the board: the bed 0.507 lower, and the drill is through."""
    result = judged(DRILL.format(-19.9834), stage=THROUGH, bed=opening(4.917), bed_top="-18.507")
    assert not {"bed-strike", "hole-shallow"} & {f.kind for f in result.findings}


def test_what_the_kernel_calls_a_strike_begins_where_the_formula_says(judged):
    """By bisection, with the exact distances of the strike check: p_max off centre over a chamfered
    thread."""
    bed, low, high = opening(4.917, mouth=6.0).replace("[[30, 40]]", "[[30.2, 40.1]]"), -21.0, -18.0
    while high - low > 1e-3:
        middle = (low + high) / 2
        struck = "bed-strike" in {f.kind for f in judged(DRILL.format(middle), bed=bed).findings}
        low, high = (middle, high) if struck else (low, middle)
    solid = OpeningSolid("t", (30.2, 40.1), radius=4.917 / 2, chamfer=(6.0 - 4.917) / 2)
    assert -18 - high == pytest.approx(reach_into(profile_of(drill(6.6)), solid, 0.05**0.5), abs=2e-3)
