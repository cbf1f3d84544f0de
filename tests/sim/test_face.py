"""Unfinished places and ridges of small facings, with numbers worked by hand; figures against the map."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from proveout.parser.finding import place
from proveout.parser.job import Cutter
from proveout.parser.units import Units
from proveout.sim.checks.face import CHECKS, face_figures
from proveout.sim.cut import cut_stage
from proveout.sim.surface import Surface

FACE = {"face": ({"z": -0.4},)}
ROUGH = {"face": ({"z": -0.4, "ridge": 1.0},)}


def raster(program, rows, first=-20.0, last=220.0, z=-0.4):
    """A zigzag along X through the given Y's, from the left; heights may differ from row to row."""
    heights = z if isinstance(z, list) else [z] * len(rows)
    program.rapid(first, rows[0], 5).feed(first, rows[0], heights[0])
    for number, (y, height) in enumerate(zip(rows, heights, strict=True)):
        ends = (first, last) if number % 2 == 0 else (last, first)
        program.feed(ends[0], y, height).feed(ends[1], y, height)
    return program.rapid(*program.at[:2], 10)


def said(evidence):
    return [found for check in CHECKS for found in check(evidence)]


def kinds(evidence):
    return [found.kind for found in said(evidence)]


def test_a_whole_facing_says_nothing(program):
    evidence = raster(program, [0, 20, 40, 60, 80, 100]).evidence(stage=FACE)
    assert said(evidence) == []
    figures = face_figures(evidence)
    assert (figures.area, figures.missed_area, figures.over_area) == (pytest.approx(20000), 0, 0)
    assert (figures.highest, figures.lowest, figures.ridge_height) == (-0.4, -0.4, 0)


def test_no_face_no_figures(program):
    evidence = raster(program, [0, 20]).evidence()
    assert face_figures(evidence) is None
    assert said(evidence) == []


@pytest.mark.parametrize("cell", [0.5, 1.0, 5.0])
@pytest.mark.parametrize("gap", [0.05, 0.002])
def test_a_strip_between_passes_is_a_ridge_at_any_cell(new_program, cell, gap):
    rows = [0, 25 + gap, 50 + gap, 75 + gap, 100 + gap]
    evidence = raster(new_program(), rows).evidence(stage=FACE)
    coarse = Surface.of_board(evidence.board, -0.4, cell)
    cut = replace(evidence.cut, before=np.zeros(coarse.shape, np.float32))
    found = list(CHECKS[0](replace(evidence, surface=coarse, cut=cut)))
    assert [f.kind for f in found] == ["ridge"]
    assert found[0].value == pytest.approx(gap, abs=1e-5)
    assert found[0].numbers["step"] == pytest.approx(25 + gap, abs=1e-5)
    assert found[0].numbers["fix"].numbers["closer"] == pytest.approx(25, abs=1e-4)
    assert (found[0].numbers["first"], found[0].numbers["second"]) == (4, 6)
    assert found[0].at[1] == pytest.approx(12.5 + gap / 2, abs=1e-4)
    assert "Bring the passes to 25 mm apart or less" in found[0].advice()


def test_a_strip_narrower_than_noise_is_none(program):
    gap = 0.5e-4
    assert kinds(raster(program, [0, 25 + gap, 50, 75, 100]).evidence(stage=FACE)) == []


def test_the_edge_that_is_left(program):
    """The last pass reaches 92.5: 7.5 x 200 stay along the far edge."""
    found = said(raster(program, [0, 20, 40, 60, 80]).evidence(stage=FACE))
    assert [f.kind for f in found] == ["edge-left"]
    assert found[0].value == pytest.approx(1500)
    assert found[0].numbers["what"] == "A strip"
    assert found[0].numbers["width"] == pytest.approx(7.5, abs=1e-4)
    assert found[0].numbers["fix"].numbers["farther"] == pytest.approx(7.5, abs=1e-4)
    assert found[0].line == 12  # the pass at 80
    assert found[0].limit == 0


def test_cusps_where_the_path_turns_round_are_edges(program):
    """Textbook: last centres R inside, points of R - sqrt(R² - (s/2)²) stay at every second gap."""
    evidence = raster(program, [0, 20, 40, 60, 80, 100], 12.5, 187.5).evidence(stage=FACE)
    found = said(evidence)
    assert [f.kind for f in found] == ["edge-left"] * 5
    assert [f.numbers["fix"].numbers["farther"] for f in found] == pytest.approx([5.0] * 5, abs=1e-3)
    assert face_figures(evidence).missed_area == pytest.approx(sum(f.value for f in found))


@pytest.mark.parametrize(("inside", "depth", "closer"), [
    (8.0, 0.5, 19.209), (10.0, 2.5, 15.0), (12.4, 4.9, 3.156)])
def test_points_where_passes_turn_round_name_the_step_that_finishes_them(program, inside, depth, closer):
    """Textbook: at R 12.5 and s 20 the cut reaches sqrt(R² - (s/2)²) = 7.5 past the last centre between two
    passes; with the centre `inside` the edge the largest step is 2 sqrt(R² - inside²)."""
    evidence = raster(program, [0, 20, 40, 60, 80, 100], inside, 200 - inside).evidence(stage=FACE)
    found = said(evidence)
    assert [f.kind for f in found] == ["edge-left"] * 5
    for each in found:
        assert each.numbers["what"] == "A point between passes that turn round"
        assert each.numbers["fix"].numbers["farther"] == pytest.approx(depth, abs=1e-3)
        assert each.numbers["fix"].numbers["closer"] == pytest.approx(closer, abs=2e-3)
    assert "apart or less" in found[0].advice()


def test_a_corner_of_the_board_is_called_one(program):
    """Textbook: a path that turns 12.5 inside both edges of a square corner leaves R²(1 - pi/4) of it."""
    program.rapid(12.5, 12.5, 5).feed(12.5, 12.5, -0.4)
    for x, y in ((187.5, 12.5), (187.5, 87.5), (12.5, 87.5), (12.5, 12.5), (12.5, 30), (187.5, 30),
                 (187.5, 50), (12.5, 50), (12.5, 70), (187.5, 70)):
        program.feed(x, y, -0.4)
    found = said(program.evidence(stage=FACE))
    assert [f.numbers["what"] for f in found] == ["A corner"] * 4
    assert [f.value for f in found] == pytest.approx([12.5**2 * (1 - np.pi / 4)] * 4, abs=1e-2)


def test_an_island_is_missed_area(program):
    """A frame of passes about the middle: a rectangle of 70 x 30 stays, far from the border."""
    program.rapid(-20, 0, 5).feed(-20, 0, -0.4)
    for x, y in ((200, 0), (200, 100), (0, 100), (0, 0), (0, 22.5), (177.5, 22.5), (177.5, 77.5),
                 (22.5, 77.5), (22.5, 22.5), (52.5, 22.5), (52.5, 77.5), (147.5, 77.5), (147.5, 22.5),
                 (27.5, 22.5), (27.5, 77.5), (172.5, 77.5), (172.5, 22.5)):
        program.feed(x, y, -0.4)
    found = [f for f in said(program.evidence(stage=FACE)) if f.kind == "missed-area"]
    assert found[0].value == pytest.approx(70 * 30, abs=1e-3)  # the largest comes first
    assert found[0].numbers["width"] == pytest.approx(30, abs=1e-3)
    assert "Add a pass through" in found[0].advice()


def test_recesses_and_holes_are_no_part_of_the_face(program):
    """The far edge strip of 7.5 x 200 with a recess of 30 x 7.5 in it."""
    evidence = raster(program, [0, 20, 40, 60, 80]).evidence(stage=FACE)
    evidence = replace(evidence, recesses=shapely.box(50, 90, 80, 120), drilled=shapely.box(0, 0, 10, 100))
    found = said(evidence)
    assert sum(f.value for f in found) == pytest.approx((200 - 30 - 10) * 7.5, abs=1e-3)
    assert face_figures(evidence).area == pytest.approx(200 * 100 - 10 * 100 - 30 * 10)


def test_nothing_was_cut_at_all(program):
    found = said(program.rapid(0, 0, 5).evidence(stage=FACE))
    assert [(f.kind, f.line, f.value) for f in found] == [("edge-left", 0, pytest.approx(20000))]


def test_what_was_too_low_before_is_not_unfinished(program):
    evidence = raster(program, [0, 20, 40, 60, 80]).evidence(stage=FACE)
    evidence.cut.before[90:, :] = -2.0
    assert kinds(evidence) == []


def test_a_ridge_between_heights(program):
    """One pass 0.03 higher than its neighbours, within the tolerance of 0.05: a step of 0.03 is felt."""
    rows, heights = [0, 20, 40, 60, 80, 100], [-0.4, -0.4, -0.37, -0.4, -0.4, -0.4]
    evidence = raster(program, rows, z=heights).evidence(stage=FACE)
    found = said(evidence)
    assert [f.kind for f in found] == ["ridge"]
    assert found[0].value == pytest.approx(0.03, abs=1e-6)
    assert found[0].limit == 0.02
    assert 8 in (found[0].numbers["first"], found[0].numbers["second"])  # the pass at 40
    assert "0.03 mm down" in found[0].advice()
    assert face_figures(evidence).ridge_height == pytest.approx(0.03, abs=1e-6)


def test_a_ball_leaves_the_handbook_ridge(program):
    """Ridge of a ball, h = R - sqrt(R² - (s/2)²) (handbook): R 6, s 1."""
    ball = Cutter(number=1, shape="ball", diameter=12.0, edges=2)
    evidence = raster(program, list(np.arange(0, 21, 1.0)), -10, 40).evidence(
        cutters=(ball,), size=(30.0, 20.0), stage=ROUGH)
    fine = Surface.of_board(evidence.board, 0.0, 0.02)  # cells of 1 mm do not see a crest between them
    cut = cut_stage(fine, evidence.motion, evidence.cutters.tolist(), threads=1)
    ridge = face_figures(replace(evidence, surface=fine, cut=cut)).ridge_height
    assert ridge == pytest.approx(6 - np.sqrt(36 - 0.25), abs=1e-3)


def test_places_are_given_as_the_control_shows_them(new_program):
    program = new_program()
    program.set(shift=(100.0, 50.0, 0.0))
    found = said(raster(program, [0, 20, 40, 60, 80]).evidence(stage=FACE))[0]
    assert found.shown[0] == pytest.approx(found.at[0] - 100)
    assert place(found.shown, Units.MM) in found.advice()


@settings(max_examples=15, deadline=None)
@given(st.floats(20, 60), st.integers(1, 4))
def test_finer_passes_never_leave_more(new_program, step, times):
    def missed(every):
        rows = np.arange(0, 100 + every, every).tolist()
        return face_figures(raster(new_program(), rows).evidence(stage=FACE)).missed_area

    assert missed(step / times) <= missed(step) + 1e-3


@settings(max_examples=10, deadline=None)
@given(st.lists(st.floats(-10, 110), min_size=1, max_size=5))
def test_missed_area_against_the_map(new_program, rows):
    """The map's cells of 1 mm that still stand, within a cell along each edge of each pass."""
    evidence = raster(new_program(), rows).evidence(stage=FACE)
    standing = np.count_nonzero(evidence.surface.heights > -0.35)
    assert face_figures(evidence).missed_area == pytest.approx(standing, abs=200 * 2 * len(rows) + 1)


@pytest.mark.parametrize(("travel", "beyond"), [
    ("x = [0, 300], y = [0, 200]", None), ("x = [0, 300], y = [0, 130]", 200 * 7.5),
    ("x = [40, 300], y = [0, 200]", None)])
def test_a_rim_that_the_machine_cannot_reach_is_no_matter_of_the_path(found, travel, beyond):
    """The axis may go to Y 130 - 50 = 80 of the board, the cutter of 25 to 92.5: of the rim from 87.5 (a last
    pass at Y75) to 100 a strip of 7.5 stays out of reach. In X the axis begins at -60 or -20: far enough."""
    lines = "".join(f"G0 X-20 Y{y}\nG0 Z-0.4\nG1 X220 F2000\nG0 Z20\n" for y in (0, 20, 40, 60, 75))
    machine = f"origin = [60, 50, -70]\ntravel = {{ {travel}, z = [-120, 0] }}"
    (said,) = found("edge-left", lines, machine=machine, stage="face = { z = -0.4 }")
    if beyond is None:
        assert "Take the path 12.5 mm farther out" in said.advice()
    else:
        assert f"{beyond:g} mm²" in said.advice()
        assert "Trim the board to what is faced" in said.advice()
