"""Facings left, against the worked figures of the trade's formula, and what ends them."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from proveout.parser.job import Board, Cutter, Job, Stage
from proveout.sim.budget import THICKNESS, budget, budget_low, facings
from proveout.sim.cut import cut_stage
from proveout.sim.result import Budget

FACE = {"face": ({"z": -0.4},)}
ROWS = [0, 20, 40, 60, 80, 100]


@dataclass
class Covers:
    """Stands for the clearances of a stage: the budget asks for covers alone."""

    cover: dict = field(default_factory=dict)


def faced(program, cover=None, z=-0.4, **board):
    program.rapid(-20, 0, 5).feed(-20, 0, z)
    for number, y in enumerate(ROWS):
        ends = (-20, 220) if number % 2 == 0 else (220, -20)
        program.feed(ends[0], y, z).feed(ends[1], y, z)
    evidence = program.evidence(stage=FACE, board={"thickness": 18.0} | board)
    return replace(evidence, clearances=Covers(cover or {}))


def left(*stages):
    return budget(stages[0].job, stages)


@pytest.mark.parametrize(("top", "head", "safety", "depth", "more"), [
    (18.0, 15.3, 0.5, 0.4, 5), (17.2, 15.3, 0.5, 0.4, 3), (18.0, 11.3, 0.7, 0.5, 12)])
def test_worked_figures(top, head, safety, depth, more):
    """N = floor((z_top - z_head - S)/t + 1e-9), the formula's three worked figures."""
    assert facings(top - head - safety, depth) == more


@given(st.integers(0, 60), st.sampled_from([0.1, 0.2, 0.3, 0.4, 0.5, 0.7]))
def test_whole_numbers_of_facings_are_whole(count, depth):
    """Decimals that divide evenly and binary that does not."""
    assert facings(round(count * depth, 3), depth) == count
    assert facings(round(count * depth, 3) - 1e-3, depth) == max(0, count - 1)


def test_the_least_cover_ends_the_board(program):
    """Cover 2.4 and 1.9, 1.5 to keep, 0.4 a facing: floor(0.4/0.4) = 1."""
    got = left(faced(program, {"edge screws 1": 2.4, "edge screws 2": 1.9}, keep_over_heads=1.5))
    assert (got.cover_over_heads, got.facings_left, got.limited_by) == (1.9, 1, "edge screws 2")
    assert got.depth == pytest.approx(0.4)


def test_a_millimetre_is_kept_when_nothing_is_said(program):
    assert left(faced(program, {"edge screws 1": 2.4})).facings_left == 3


def test_what_is_to_be_kept_of_the_board_ends_it_too(new_program):
    """18 thick, faced to 17.6: (17.6 - 16.5)/0.4 = 2.75; nothing to keep: 44."""
    got = left(faced(new_program(), {"edge screws 1": 9.0}, keep=16.5))
    assert (got.facings_left, got.limited_by) == (2, THICKNESS)
    assert left(faced(new_program())).facings_left == 44


def test_without_a_face_nothing_can_be_told(program):
    evidence = program.rapid(0, 0, 5).evidence(board={"thickness": 18.0})
    assert left(replace(evidence, clearances=Covers({"a 1": 2.0}))) == Budget(cover_over_heads=2.0)


def test_a_face_that_took_nothing_tells_nothing(program):
    assert left(faced(program, {"a 1": 2.0}, z=0.0)).facings_left is None


def test_depth_is_the_median_by_area(new_program):
    """A quarter of the board stood 1 higher: most of it was lowered by 0.4."""
    evidence = faced(new_program())
    evidence.cut.before[:, :50] += 1.0
    assert left(evidence).depth == pytest.approx(0.4)
    evidence.cut.before[:, :150] += 1.0
    assert left(evidence).depth > 1.3


def test_a_later_stage_changes_nothing_of_the_facing(new_program):
    """Holes drilled through the face afterwards are no lowest place of it."""
    first = faced(new_program())
    drilling = new_program().rapid(100.5, 50.5, 5).feed(100.5, 50.5, -18).rapid(100.5, 50.5, 5)
    drill = Cutter(number=1, shape="drill", diameter=9.0)
    second = drilling.evidence(cutters=(drill,))
    cut = cut_stage(first.surface, second.motion, [drill] * len(second.motion), threads=1, first_id=20)
    second = replace(second, cut=cut, surface=first.surface, clearances=Covers())
    assert first.surface.heights.min() < -10
    got = left(first, second)
    assert (got.facings_left, got.depth) == (44, pytest.approx(0.4))


@given(st.floats(0, 30), st.floats(0, 30), st.floats(0.05, 3))
def test_more_cover_is_never_fewer_facings(cover, more, depth):
    assert facings(cover + more, depth) >= facings(cover, depth) >= 0
    assert facings(cover, depth) * depth <= cover + 1e-6


def job(**board):
    cutter = Cutter(number=1, shape="flat", diameter=6.0)
    return Job(board=Board(x=(0, 1), y=(0, 1), **board), cutters=(cutter,),
               stages=(Stage(name="a", program="a.nc"),))


@pytest.mark.parametrize(("facings_left", "low"), [(None, False), (2, False), (1, True), (0, True)])
def test_fewer_than_two_are_a_caution(facings_left, low):
    found = list(budget_low(job(), Budget(1.2, facings_left, "edge screws 2", 0.4)))
    assert [f.kind for f in found] == (["budget-low"] if low else [])


def test_the_advice_gives_two_more():
    """Cover 1.2, 1 to keep: 0.2 is free; two facings of 0.4 need 0.8: 0.6 deeper."""
    (found,) = budget_low(job(), Budget(1.2, 0, "edge screws 2", 0.4))
    assert "Sink edge screws 2 0.6 mm deeper" in found.advice()
    assert "0 facings of 0.4 mm are left; edge screws 2 ends them" in found.message()
    (found,) = budget_low(job(), Budget(9.0, 1, THICKNESS, 0.4))
    assert "board" in found.advice()
    assert np.isfinite(found.value)


def test_a_metal_insert_in_the_board_ends_the_facings(judged):
    """Faced to -0.4 over an insert whose top lies at -5: 2 mm are to stay over it (as over every obstacle
    at its usual distance): (4.6 - 2)/0.4 = 6.5 facings. One beside the face ends nothing; the board alone has
    44."""
    lines = "".join(f"G0 X-20 Y{y}\nG0 Z-0.4\nG1 X220 F2000\nG0 Z20\n" for y in range(0, 101, 20))
    insert = '[[obstacles]]\nname = "insert"\nat = [60, 40]\ndiameter = 12\nz = [-18, -5]\n'
    for more, ends in ((insert, ("insert", 6)), (insert.replace("60, 40", "260, 40"), (THICKNESS, 44))):
        got = judged(lines, more=more, stage="face = { z = -0.4 }").budget
        assert (got.limited_by, got.facings_left) == ends


def test_screws_in_a_half_that_is_not_faced_end_nothing(judged):
    """Heads' tops at -3.4 in both halves: over the back ones 3.4 - 0.4 - 1 = 2.0 are left, 5 facings; over
    the front ones, whose half lies 0.5 lower and is not faced, 1.9 would have been 4."""
    lines = "".join(f"G0 X-20 Y{y}\nG0 Z3\nG1 Z-0.4 F500\nG1 X220 F2000\nG0 Z20\n" for y in (68, 88, 100))
    parts = ('parts = [ { name = "front", x = [0, 200], y = [0, 48], top = -0.5, thickness = 17.5 }, '
             '{ name = "back", x = [0, 200], y = [62, 100] } ]')
    screws = "".join(f'[[fasteners]]\nname = "{part} screws"\nhead = {{ diameter = 12, height = 3.6 }}\n'
                     f'seat = -7\npart = "{part}"\nat = [[40, {y}], [160, {y}]]\n'
                     f"recess = {{ diameter = 14, depth = {deep} }}\n"
                     for part, y, deep in (("front", 20, 6.5), ("back", 80, 7)))
    got = judged(lines, outline=parts, more=screws,
                 stage="face = { x = [0, 200], y = [62, 100], z = -0.4 }").budget
    assert (got.limited_by, got.facings_left) == ("back screws 1", 5)
    assert got.cover_over_heads == pytest.approx(2.9)
