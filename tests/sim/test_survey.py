"""Measured boards: planes come back exactly, between places it is linear, beyond them it goes on level."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from proveout.sim.surface import Surface
from proveout.sim.survey import SurveyUnusable, lay_surface, lay_survey, lowest_places
from scipy.interpolate import LinearNDInterpolator

spot = st.tuples(st.integers(-5, 45), st.integers(-5, 35), st.floats(-1, 1))


def board(cell=0.5, outline=None):
    return Surface.of_board(outline or shapely.box(0, 0, 40, 30), 0.0, cell)


def test_a_plane_comes_back_exactly():
    x, y = np.array([-1, 41, 41, -1, 20]), np.array([-1, -1, 31, 31, 12])
    surface = board()
    share = lay_survey(surface, np.column_stack([x, y, 0.01 * x - 0.02 * y + 3]))
    gx, gy = np.meshgrid(surface.x, surface.y)
    assert share == 0
    assert np.allclose(surface.heights, 0.01 * gx - 0.02 * gy + 3, atol=1e-6)


@settings(max_examples=20, deadline=None)
@given(st.lists(spot, min_size=4, max_size=12, unique_by=lambda p: p[:2]))
def test_between_places_it_is_the_general_interpolation(points):
    points = np.array(sorted(points), float)  # in the order in which they are laid, as four on a circle want
    assume(np.linalg.matrix_rank(points[:, :2] - points[0, :2]) == 2)
    surface = board(1.0)
    lay_survey(surface, points)
    known = LinearNDInterpolator(points[:, :2], points[:, 2])(*np.meshgrid(surface.x, surface.y))
    inside = ~np.isnan(known)
    assert np.allclose(surface.heights[inside], known[inside], atol=1e-5)
    assert (surface.heights <= points[:, 2].max() + 1e-5).all()
    assert (surface.heights >= points[:, 2].min() - 1e-5).all()


def test_beyond_the_outermost_places_it_goes_on_level_and_that_is_said():
    surface = board()
    share = lay_survey(surface, np.array([(10, 10, 0.0), (30, 10, 1.0), (30, 20, 1.0), (10, 20, 0.0)]))
    assert share == pytest.approx(1 - 20 * 10 / (40 * 30), abs=0.02)
    assert surface.at(2, 15) == pytest.approx(0.0)
    assert surface.at(38.2, 15) == pytest.approx(1.0)
    assert surface.at(20.25, 28.25) == pytest.approx(0.5125)  # the cell's centre, level across the edge


def test_places_in_one_line_are_enough():
    surface = board()
    lay_survey(surface, np.array([(0, 15, 0.0), (40, 15, 2.0), (20, 15, 0.0)]))
    assert surface.at(30.25, 3) == pytest.approx(1.025)
    assert surface.at(10, 28) == pytest.approx(0.0)


def test_only_the_board_is_laid():
    surface = board(outline=shapely.Polygon([(0, 0), (40, 0), (20, 30)]))
    off = np.isnan(surface.heights)
    lay_survey(surface, np.array([(0, 0, 1.0), (40, 0, 1.0), (40, 30, 1.0), (0, 30, 1.0)]))
    assert np.array_equal(off, np.isnan(surface.heights))
    assert (surface.heights[~off] == 1).all()


@pytest.mark.parametrize("points", [[(0, 0, 0), (1, 1, 1)], [(0, 0, 0)] * 5,
                                    [(0, 0, 0), (1, 0, 0), (0, 1, np.nan)]])
def test_too_little_is_one_clear_error(points):
    with pytest.raises(SurveyUnusable):
        lay_survey(board(), np.array(points, float))


def test_a_place_measured_twice_counts_with_its_mean():
    surface = board()
    lay_survey(surface, np.array([(0, 0, 1.0), (0, 0, 3.0), (40, 0, 2.0), (40, 30, 2.0), (0, 30, 2.0)]))
    assert np.allclose(surface.heights, 2.0)


def test_a_saved_surface_goes_on_the_board_it_came_from():
    saved, surface = board(), board()
    saved.heights[:] = np.random.default_rng(0).random(saved.shape)
    assert lay_surface(surface, saved) == 0
    assert np.array_equal(surface.heights, saved.heights)


def test_a_saved_surface_of_another_cell_and_place():
    saved, surface = board(0.25, shapely.box(10, 0, 60, 30)), board(1.0)
    saved.heights[:] = -2
    assert lay_surface(surface, saved) == pytest.approx(0.25)
    assert (surface.heights[:, 10:] == -2).all()
    assert (surface.heights[:, :10] == 0).all()


def test_the_lowest_places_lie_apart():
    surface = board()
    surface.heights[10, 10], surface.heights[10, 11], surface.heights[50, 70] = -0.5, -0.49, -0.3
    places = lowest_places(surface, 2, 5.0)
    assert places[0] == pytest.approx((5.25, 5.25, -0.5))
    assert places[1] == pytest.approx((35.25, 25.25, -0.3))
