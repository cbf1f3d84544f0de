"""Hollows of the wanted face from before its stage, by hand-worked heights."""

from __future__ import annotations

import pytest
from proveout.parser.finding import Severity

PASSES = "".join(f"G0 X-20 Y{y}\nG0 Z2\nG1 Z-0.4 F2000\nG1 X220\nG0 Z20\n" for y in range(0, 101, 20))
FACE = "zero = [0, 0, {z}]\nface = {{ z = {face} }}"


def low(found, z: float, face: float = -0.4, stage: str = ""):
    """A first stage whose zero lies at z, then the wanted face."""
    return found("low-spot", PASSES, stage=f"zero = [0, 0, {z}]" + stage, then=FACE.format(z=0, face=face))


@pytest.mark.parametrize(("z", "count"), [(-0.05, 0), (-0.06, 1), (0, 0), (0.2, 0)])
def test_a_face_that_lay_too_low_before(found, z, count):
    """0.05 is the usual tolerance; the first stage leaves 0.4 below its zero."""
    said = low(found, z)
    assert len(said) == count
    for each in said:
        assert (each.severity, each.line, each.stage) == (Severity.CAUTION, 0, "then")
        assert each.value == pytest.approx(z - 0.4)
        assert each.limit == pytest.approx(-0.45)
        assert each.numbers["area"] == pytest.approx(20000, rel=0.01)
        assert each.numbers["clean"] == pytest.approx(z - 0.4 + 0.05)
        assert each.numbers["deeper"] == pytest.approx(0.01)


def test_connected_places_are_counted(found):
    """Two grooves of 25 mm, 25 apart: two places; joined by a third they are one."""
    groove = "G0 X-20 Y{0}\nG0 Z2\nG1 Z-1 F2000\nG1 X220\nG0 Z20\n"
    lines = groove.format(25) + groove.format(75) + "M1\n"
    face = "face = { z = -0.4 }\nzero = [0, 0, 20]"
    (said,) = found("low-spot", lines, then=face)
    assert said.count == 2
    (said,) = found("low-spot", lines + groove.format(50), then=face)
    assert said.count == 1


def test_recesses_and_holes_are_no_hollows(found):
    screws = ('[[fasteners]]\nname = "screws"\nscrew = "ISO 7380-1 M6"\nseat = -8\nat = [[100, 50]]\n'
              "recess = { diameter = 13, depth = 8 }\n")
    assert found("low-spot", PASSES, more=screws, stage="face = { z = -0.4 }") == []
    drill = "T2 M6\nG43 H2\nG0 Z20\nS4000 M3\nG0 X50 Y50\nG0 Z2\nG1 Z-8 F600\nG0 Z20\n"
    assert found("low-spot", drill, then="face = { z = -0.4 }\nzero = [0, 0, 20]") == []


def test_what_the_stage_itself_cuts_too_deep_is_another_kind(judged):
    kinds = {f.kind for f in judged(PASSES, stage="zero = [0, 0, -1]\nface = { z = -0.4 }").findings}
    assert "over-depth" in kinds
    assert "low-spot" not in kinds
