"""How a face lies: band, levels and histogram against numpy, sections against the cells under the line."""

from __future__ import annotations

from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from proveout.sim.heights import heights_of
from proveout.sim.sections import section
from proveout.sim.surface import Surface

BOARD = shapely.box(0, 0, 50, 40)


def face_of(heights, lowest=-9.0):
    """A face that takes in a whole board."""
    surface = Surface.of_board(BOARD, 0.0, 0.5)
    surface.heights[:] = heights
    return SimpleNamespace(measured=surface.on_board, wanted=SimpleNamespace(lowest=lowest),
                           evidence=SimpleNamespace(surface=surface))


def test_a_level_face_has_one_level_and_no_band():
    lie = heights_of([face_of(-0.4)])
    assert (lie.highest, lie.lowest, lie.band) == (np.float32(-0.4), np.float32(-0.4), 0)
    assert [(level.z, level.area) for level in lie.levels] == [(pytest.approx(-0.4), 2000)]
    assert lie.histogram.areas == (2000,)


@pytest.mark.parametrize("seed", range(4))
def test_the_band_is_what_numpys_percentiles_give(seed):
    heights = np.random.default_rng(seed).normal(-0.4, 0.01, (80, 100))
    lie = heights_of([face_of(heights)])
    low, high = np.percentile(heights, [2.5, 97.5])
    assert lie.band == pytest.approx(high - low, abs=2e-4)
    counts, edges = np.histogram(heights.astype(np.float32), 20, (lie.lowest, lie.highest))
    assert lie.histogram.step == pytest.approx(edges[1] - edges[0], abs=1e-6)
    assert np.allclose(lie.histogram.areas, counts * 0.25, atol=1.0)
    assert sum(lie.histogram.areas) == 2000


def test_levels_are_heights_with_much_area_the_largest_first():
    heights = np.full((80, 100), -0.4)
    heights[:20], heights[20:24, :50], heights[30, 3] = -0.8, -0.6, -2.0
    lie = heights_of([face_of(heights)])
    assert [(level.z, level.area) for level in lie.levels] == [
        (pytest.approx(-0.4, abs=1e-3), 2000 - 500 - 50 - 0.25), (pytest.approx(-0.8, abs=1e-3), 500),
        (pytest.approx(-0.6, abs=1e-3), 50)]
    assert lie.lowest == -2.0


def test_what_lies_too_low_is_counted():
    heights = np.full((80, 100), -0.4)
    heights[:3] = -0.5
    assert heights_of([face_of(heights, lowest=-0.45)]).over == 300


def test_a_face_tells_all_of_it(judged):
    """Two passes at -0.4 and one at -0.38 between: a third of the face lies 0.02 higher."""
    lines = "".join(f"G0 X-20 Y{y}\nG0 Z2\nG1 Z{z} F2000\nG1 X220\nG0 Z20\n"
                    for y, z in ((37.5, -0.38), (12.5, -0.4), (62.5, -0.4)))
    face = judged(lines, cell="0.5", stage="face = { x = [0, 200], y = [0, 75], z = -0.4 }").stages[0].face
    assert [level.z for level in face.levels] == pytest.approx([-0.4, -0.38], abs=1e-4)
    assert face.band == pytest.approx(face.flatness, abs=1e-4) == pytest.approx(0.02, abs=1e-4)
    assert face.ridge is None or face.ridge.lines[0] <= face.ridge.lines[1]


spot = st.tuples(st.floats(-10, 60), st.floats(-10, 50))


@settings(max_examples=60, deadline=None)
@given(st.lists(spot, min_size=2, max_size=4, unique=True))
def test_a_section_is_the_map_under_the_line(points):
    """Every place along the line: the height of the cell that holds it."""
    surface = Surface.of_board(BOARD, 0.0, 0.5)
    surface.heights[:] = np.random.default_rng(1).random((80, 100))
    cut = section(surface, points)
    length = sum(np.hypot(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(points))
    assert cut.end[-1] == pytest.approx(length)
    assert np.allclose(cut.start[1:], cut.end[:-1])
    middle = (cut.start + cut.end) / 2
    wide = cut.end - cut.start > 1e-6
    held = np.array([surface.at(x, y) for x, y in cut.at])
    assert np.array_equal(cut.height[wide], held[wide], equal_nan=True)
    assert np.array_equal(cut.at_distance(middle)[wide], cut.height[wide], equal_nan=True)


def test_a_section_names_the_moves_and_ends_with_the_board():
    surface = Surface.of_board(BOARD, 0.0, 0.5)
    surface.heights[:, 20:40], surface.last[:, 20:40] = -1.0, 7
    cut = section(surface, [(-5, 10.1), (55, 10.1)])
    assert np.isnan(cut.height[[0, -1]]).all()
    lowered = cut.height == -1
    assert cut.start[lowered].min() == pytest.approx(15)
    assert cut.end[lowered].max() == pytest.approx(25)
    assert set(cut.last[lowered]) == {7}
    with pytest.raises(ValueError, match="two different points"):
        section(surface, [(1, 1), (1, 1)])
