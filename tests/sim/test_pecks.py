"""Deep holes and standing cutters; the limits are common practice, no published source."""

from __future__ import annotations

import pytest
from proveout.parser.finding import Severity
from proveout.parser.reading import Unchecked

DRILL = "T2 M6\nG43 H2\nG0 Z20\nG0 X50 Y50\nG0 Z2\n"

@pytest.fixture
def drilled(judged):
    """A board 60 mm thick of any material on a bed that is far below."""
    def verified(lines: str, material: str = "MDF"):
        result = judged(DRILL + lines, material=material, thickness="60", bed_top="-60")
        return [f for f in result.findings if f.kind == "chips-packed"]
    return verified


@pytest.mark.parametrize(("material", "depth", "runs"), [
    ("MDF", 26.4, []), ("MDF", 26.5, [26.5]), ("HDPE", 13.2, []), ("HDPE", 13.3, [13.3])])
def test_diameters_in_one_go(drilled, material, depth, runs):
    """4 x 6.6 is 26.4, 2 x 6.6 is 13.2."""
    said = drilled(f"G1 Z-{depth} F600\n", material)
    assert [f.value for f in said] == pytest.approx(runs)
    assert all(f.severity is Severity.CAUTION and f.line == 9 for f in said)
    assert all(f.advice() == "Come out of the board every 9.9 mm (G83 with Q)." for f in said)


def test_full_retraction_clears_and_a_short_lift_does_not(drilled):
    assert drilled("G1 Z-20 F600\nG0 Z0\nG0 Z-19\nG1 Z-40 F600\n") == []
    (said,) = drilled("G1 Z-20 F600\nG0 Z-10\nG0 Z-19\nG1 Z-40 F600\n")
    assert (said.value, said.line) == (40, 12)


@pytest.mark.parametrize(("code", "count"), [("G83", 0), ("G73", 1), ("G81", 1)])
def test_the_pecking_cycle_that_comes_out_is_fine(drilled, code, count):
    peck = "" if code == "G81" else "Q10"
    assert len(drilled(f"G98 {code} Z-40 R2 {peck} F600\nG80\n")) == count


def test_depth_counts_from_the_floor_that_an_earlier_stage_left(judged):
    """A seat 6 mm deep, then 26 below the board's top: 20 are drilled."""
    stage = 'zero = [0, 0, {z}]'
    lines = DRILL + "G1 Z-15 F600\nG0 Z2\n"
    result = judged(lines, thickness="60", bed_top="-60", stage=stage.format(z=0), then=stage.format(z=-14))
    assert [f for f in result.findings if f.kind == "chips-packed"] == []


@pytest.mark.parametrize(("wait", "count"), [(0.5, 0), (0.6, 1)])
def test_a_drill_that_stands_in_wood(drilled, wait, count):
    said = drilled(f"G1 Z-10 F600\nG4 P{wait}\n")
    assert len(said) == count
    assert all("stands in the wood for 0.6 s" in f.message() and f.line == 10 for f in said)
    assert drilled(f"G1 Z-10 F600\nG4 P{wait}\n", "acetal") == []


def test_a_dwell_in_the_air_is_no_matter(drilled):
    assert drilled("G4 P5\nG1 Z-10 F600\nG0 Z5\nG4 P5\n") == []


def test_a_material_without_a_rule_is_unchecked(judged):
    result = judged(DRILL + "G1 Z-30 F600\n", material="aluminium", thickness="60", bed_top="-60")
    assert "chips in deep holes" in {u.what for u in result.unchecked if isinstance(u, Unchecked)}


def test_a_mill_that_goes_down_is_no_drill(found):
    assert found("chips-packed", DRILL.replace("2", "3", 2) + "G1 Z-17 F300\n") == []
