"""What holds the board; where it is enough is common practice, no published source."""

from __future__ import annotations

import pytest
from proveout.parser.finding import Severity
from proveout.parser.reading import Unchecked

PASS = "G0 X-20 Y50\nG0 Z-0.4\nG1 X220 F2000\n"


def screws(*at: tuple[float, float]) -> str:
    return ('[[fasteners]]\nname = "screws"\nscrew = "ISO 7380-1 M6"\nseat = -8\n'
            f"recess = {{ diameter = 13, depth = 8 }}\nat = {[list(place) for place in at]}\n")


def clamp(name: str, x: list[float], y: list[float]) -> str:
    return f'[[clamps]]\nname = "{name}"\nx = {x}\ny = {y}\nabove = 5\n'


STOP, CAUTION = Severity.STOP, Severity.CAUTION
THREE = (20, 20), (180, 20), (100, 80)


@pytest.mark.parametrize(("more", "stage", "severities"), [
    (screws(*THREE), "", []),
    (screws(*THREE), "fitted = []", [STOP]),
    (screws(THREE[0]), "", [CAUTION]),
    (screws(*THREE[:2]), "", [CAUTION]),
    (screws((20, 20), (100, 50), (180, 80)), "", [CAUTION]),
    (clamp("a", [-40, 5], [80, 100]), "", [CAUTION]),
    (clamp("a", [-40, 5], [80, 100]) + clamp("b", [195, 240], [80, 100]), "", [CAUTION]),
    (clamp("a", [-40, 5], [0, 100]) + clamp("b", [195, 240], [0, 100]), "", []),
    (clamp("beside", [-60, -5], [0, 100]), "", [STOP]),
    (screws(*((x, y) for x in (20, 100, 180) for y in (45, 55))), "", [CAUTION])])
def test_how_many_and_where(found, more, stage, severities):
    said = found("loose", PASS, more=more, stage=stage)
    assert [f.severity for f in said] == severities
    assert all((f.line, f.about) == (6, "the board") for f in said)


@pytest.mark.parametrize(("rows", "severities"), [((20, 60), []), ((30, 50), []), ((38, 42), [CAUTION]),
                                                  ((40, 40), [CAUTION])])
def test_two_rows_hold_a_slat_that_is_narrow_too(found, rows, severities):
    slat = "x = [0, 600]\ny = [0, 80]"
    held = screws(*((x, y) for x in (30, 300, 570) for y in sorted(set(rows))))
    program = "G0 X-20 Y40\nG0 Z-0.4\nG1 X620 F2000\n"
    assert [f.severity for f in found("loose", program, more=held, outline=slat)] == severities


def test_a_job_that_describes_none_is_unchecked(judged):
    result = judged(PASS)
    assert "loose" not in {f.kind for f in result.findings}
    assert Unchecked("what holds the board", "the job describes no screws and no clamps") in result.unchecked


def test_a_way_through_the_air_needs_no_hold(found):
    above = PASS.replace("-0.4", "5")
    assert found("loose", above, more=screws(*THREE), stage="fitted = []") == []


def test_a_clamp_that_is_taken_off_leaves_the_rest_of_the_program_loose(found):
    more = clamp("a", [-40, 5], [0, 100]) + clamp("b", [195, 240], [0, 100])
    lines = "G0 X100 Y-20\nG0 Z-0.4\nG1 Y120 F2000\nG0 Z20\nM5\nM0\nM3\nG0 X70\nG0 Z-0.4\nG1 Y-20\n"
    (said,) = found("loose", lines, more=more, stage='changes = [{ at_stop = 1, remove = ["a", "b"] }]')
    assert (said.severity, said.line) == (STOP, 13)


def test_every_part_is_held_for_itself(found):
    parts = ('parts = [ { name = "left", x = [0, 95], y = [0, 100] }, '
             '{ name = "right", x = [105, 200], y = [0, 100] } ]')
    more = screws((20, 20), (80, 20), (50, 80))
    (said,) = found("loose", PASS, more=more, outline=parts)
    assert (said.severity, said.about) == (STOP, "right")


@pytest.mark.parametrize(("span", "count"), [(93, 1), (96, 0)])
def test_far_from_every_screw(found, span, count):
    """Head of 10.5 at X100; the far end of the pass at X200, its rim 12.5 aside: hypot(100, 12.5) - 5.25 is
    95.5, less up to a cell of 1 mm."""
    said = found("held-sparsely", PASS, more=screws((100, 50)), board=f"span = {span}")
    assert len(said) == count
    for each in said:
        assert (each.severity, each.line, each.limit) == (Severity.NOTE, 6, span)
        assert 94.5 <= each.value <= 95.6


@pytest.mark.parametrize(("thickness", "limit"), [(11.9, 120), (12, 200)])
def test_the_usual_span(found, thickness, limit):
    said = found("held-sparsely", PASS, more=screws((-150, 50)), thickness=str(thickness),
                 bed_top=f"-{thickness}")
    assert [f.limit for f in said] == [limit]


def test_a_clamp_holds_as_far_as_it_reaches(found):
    assert found("held-sparsely", PASS, more=clamp("bar", [0, 200], [95, 130]), board="span = 60") == []
    assert len(found("held-sparsely", PASS, more=clamp("short", [0, 20], [95, 130]), board="span = 60")) == 1



def test_nothing_is_far_from_screws_where_there_are_none(judged):
    assert judged(PASS).stages[0].held is None
