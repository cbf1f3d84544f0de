"""Doubtful cutters: each with a case that just has it not. What is doubtful is common practice, no
published source."""

from __future__ import annotations

import pytest
from proveout.parser.finding import Severity

CYCLE = "T{0} M6\nG43 H{0}\nG0 Z20\nG0 X50 Y50\nG98 G81 X50 Y50 Z-8 R2 F400\nX80\nG80\n"
INSERTS = """
[[cutters]]
number = 1
name = "facing cutter"
shape = "facing"
diameter = 25.0
edges = {edges}
seats = {seats}
"""
PASS = "G0 X-20 Y50\nG0 Z-0.4\nG1 X220 F2000\n"


def holes(diameter: float) -> str:
    return f"holes = {{ at = [[50, 50], [80, 50]], diameter = {diameter}, depth = 5 }}\nfitted = []"


@pytest.mark.parametrize(("tool", "count"), [(1, 1), (2, 0), (3, 0)])
def test_a_drilling_cycle_with_a_facing_cutter(found, tool, count):
    said = found("cutter-doubtful", CYCLE.format(tool))
    assert len(said) == count
    for each in said:
        assert (each.severity, each.line, each.about, each.count) == (Severity.CAUTION, 8, "facing cutter", 2)
        assert each.advice() == "Load the drill (T and M6) before line 8."


@pytest.mark.parametrize(("diameter", "count"), [(6.5, 0), (6.4, 1), (8.0, 0)])
def test_a_hole_narrower_than_its_cutter(found, diameter, count):
    """A drill of 6.6; a tenth is allowed."""
    said = found("cutter-doubtful", CYCLE.format(2), stage=holes(diameter))
    assert len(said) == count
    for each in said:
        assert (each.value, each.limit, each.line, each.count) == (6.6, 6.4, 8, 2)
        assert "6.6 mm wide, drills hole 1, meant 6.4 mm wide" in each.message()


@pytest.mark.parametrize(("edges", "seats", "count"), [(4, 4, 0), (2, 4, 1), (1, 2, 1)])
def test_inserts_taken_out(found, edges, seats, count):
    said = found("cutter-doubtful", PASS, cutters=INSERTS.format(edges=edges, seats=seats))
    assert len(said) == count
    for each in said:
        assert (each.severity, each.line) == (Severity.CAUTION, 0)
        assert f"{edges} of its {seats} inserts" in each.message()
        assert "opposite pairs" in each.advice()


@pytest.mark.parametrize(("offset", "count"), [("G43 H1", 1), ("G43 H3", 0), ("G49", 0)])
def test_a_length_offset_that_was_not_renewed(found, offset, count):
    renewed = "" if count else offset
    said = found("cutter-doubtful", f"G43 H1\nG0 Z20\nT3 M6\n{renewed}\nS12500 M3\nG0 Z10\nG0 X50 Y50\n")
    assert len(said) == count
    assert all("length offset of H1 is still in force" in each.message() for each in said)
