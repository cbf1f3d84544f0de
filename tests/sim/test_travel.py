"""Travel of the machine, by hand: bulges of arcs, cutters of another length, and what is not known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from proveout.parser.job import Cutter
from proveout.sim.checks.travel import travel

SHORT = Cutter(number=1, shape="flat", diameter=6, edges=2, length=0.0)
LONG = Cutter(number=2, shape="flat", diameter=6, edges=2, length=12.0, name="long cutter")
MACHINE = {"origin": (100.0, 50.0, -70.0), "travel": {"x": (0, 200), "y": (0, 150), "z": (-130, 0)}}


def judge(program, cutters=(SHORT,), **machine):
    return list(travel(program.evidence(cutters=cutters, **{**MACHINE, **machine})))


def test_within_travel_nothing_is_said(program):
    assert judge(program.rapid(100, 100, 70).feed(-100, -50, -60)) == []


def test_a_move_beyond_an_end(program):
    """X 120 on the board is 220 for the machine, 20 past its end; the second such move is worse."""
    [found] = judge(program.rapid(120, 0, 10).rapid(0, 0, 10).rapid(130, 0, 10))
    assert (found.about, found.value, found.limit, found.count, found.lines) == ("X", 230, 200, 3, (1, 3))
    assert "down by 30 mm in X" in found.advice()


def test_each_end_is_a_finding(program):
    found = judge(program.rapid(-101, 0, 10).rapid(101, 0, 71))
    assert [(f.about, f.value) for f in found] == [("X", -1), ("X", 201), ("Z", 1)]


def test_the_bulge_of_an_arc_counts(program):
    """A half turn about (80, 0) of radius 25, from (80, 25) to (80, -25) by X 105: 5 past the end."""
    program.rapid(80, 25, 10)
    program.arc(2, (80, 25, 10), (80, -25, 10), plane=17, centre=(80, 0), sweep=-np.pi, feed=800)
    [found] = judge(program)
    assert (found.about, found.line) == ("X", 2)
    assert found.value == pytest.approx(205)


def test_a_longer_cutter_stands_higher(program):
    """Z 60 is -10 for the first cutter, 2 for one 12 longer."""
    program.rapid(0, 0, 60).set(cutter=2).rapid(1, 0, 60)
    [found] = judge(program, (SHORT, LONG))
    assert (found.about, found.value, found.line) == ("Z", 2.0, 2)


def test_a_length_that_is_not_given_leaves_z_unchecked(program):
    program.rapid(0, 0, 60).set(cutter=2).rapid(1, 0, 500)
    [said] = judge(program, (SHORT, replace(LONG, length=None)))
    assert said.what == "travel in Z with long cutter"


@pytest.mark.parametrize(("missing", "what"), [
    ({"origin": None}, "travel"), ({"travel": None}, "travel"),
    ({"travel": {"x": (0, 200), "z": (-130, 0)}}, "travel in Y")])
def test_what_is_not_given_is_unchecked(program, missing, what):
    assert [said.what for said in judge(program.rapid(0, 9000, 10), **missing)] == [what]
