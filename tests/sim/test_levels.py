"""Heights of passes and holes, read off moves whose answer is plain."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from proveout.parser.dialect import load_dialect
from proveout.parser.interpreter import read_program
from proveout.parser.source import Source
from proveout.sim.levels import levels, slopes

HEAD = "G21 G90 G17 G94 G54 G98\nG0 Z5\nG0 X0 Y0\nF100\n"


def moves(text):
    return read_program(Source("a.nc", (HEAD + text).encode()), load_dialect("standard")).motion


def said(text):
    return [(level.z, pytest.approx(level.length), level.holes) for level in levels(moves(text))]


def test_passes_are_summed_by_height_the_deepest_first():
    assert said("G1 Z-1\nX10\nG1 Z-2\nX0\nX30\nG0 Z5") == [(-2, 40, 0), (-1, 10, 0)]


def test_pecks_are_one_hole_and_an_entry_is_none():
    assert said("G83 X1 Y1 Z-9 R2 Q3\nX5\nG80\nG1 Z-2\nX9\nG0 Z5") == [(-9, 0, 2), (-2, 4, 0)]


def test_a_plain_plunge_and_retract_is_a_hole():
    assert said("G1 Z-3\nG0 Z5\nG0 X9\nG1 Z-3\nG0 Z5") == [(-3, 0, 2)]


def test_an_arc_counts_by_its_length_and_an_upright_one_is_no_level():
    assert said("G1 Z-1\nG2 X10 Y0 I5\nG0 Z5") == [(-1, 5 * np.pi, 0)]
    assert said("G18\nG2 X10 Z5 I5 K0\nG0 Z9") == []


def test_heights_are_those_that_the_control_shows():
    assert said("G92 Z0\nG1 X10\nG0 Z5") == [(0, 10, 0)]


def test_slopes_are_counted():
    motion = moves("G1 X10 Z-1\nX0 Z-2\nX5\nG0 Z5")
    assert slopes(motion) == 2
    assert [(level.z, level.length) for level in levels(motion)] == [(-2, 5)]


def test_nothing_moves():
    assert levels(moves("M5")) == ()
    assert slopes(moves("M5")) == 0


@given(st.lists(st.tuples(st.integers(-3, 3), st.integers(-5, 5)), max_size=12))
def test_lengths_are_those_of_a_plain_sum(steps):
    motion = moves("\n".join(f"G1 Z{z}\nX{x}" for z, x in steps) or "M5")
    expected, at = {}, 0
    for z, x in steps:
        expected[z] = expected.get(z, 0) + abs(x - at)
        at = x
    found = {level.z: level.length for level in levels(motion) if level.length}
    assert found == pytest.approx({z: length for z, length in expected.items() if length})
