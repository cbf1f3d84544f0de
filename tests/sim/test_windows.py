"""Windows over a map, and what hangs together: against scipy, a general-purpose library."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from proveout.sim.linked import groups
from proveout.sim.windows import Line, extreme_about, extreme_along, running
from scipy import ndimage
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

SIZES = [(1, 1), (1, 7), (9, 1), (3, 3), (5, 21)]
SHAPES = [(1, 1), (4, 3), (30, 50)]
WAYS = {"greatest": (np.maximum, ndimage.maximum_filter, -np.inf),
        "least": (np.minimum, ndimage.minimum_filter, np.inf)}


@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize("shape", SHAPES, ids=str)
@pytest.mark.parametrize("way", WAYS)
def test_a_window_as_scipy_has_it(size, shape, way):
    choose, filtered, beyond = WAYS[way]
    z = np.random.default_rng(7).normal(size=shape).astype(np.float32)
    wanted = filtered(z, size=size, mode="constant", cval=beyond)
    assert np.array_equal(extreme_about(choose, z, size, beyond), wanted)


@pytest.mark.parametrize("degrees", [0, 5, 30, 45, 60, 90, 117, 135, 160, 180])
@pytest.mark.parametrize("length", [1, 2.5, 9])
@pytest.mark.parametrize("shape", SHAPES, ids=str)
def test_a_line_through_each_cell_one_by_one(degrees, length, shape):
    """Against each line by itself, some rows at a time as well as all at once; it runs as it was asked to."""
    z, line = np.random.default_rng(7).normal(size=shape), Line.of(length, np.radians(degrees))
    wanted = np.empty(shape)
    for j, i in np.ndindex(shape):
        rows, columns = line.about(j, i)
        on = (rows >= 0) & (rows < shape[0]) & (columns >= 0) & (columns < shape[1])
        wanted[j, i] = z[rows[on], columns[on]].max()
        away = (rows - j) * np.cos(np.radians(degrees)) - (columns - i) * np.sin(np.radians(degrees))
        assert np.abs(away).max() <= 1.0
        assert np.abs(rows - j).max() <= line.rows
    assert np.array_equal(extreme_along(np.maximum, z, line, 0, -np.inf), wanted)
    low, high = max(0, shape[0] // 2 - line.rows), shape[0]
    part = extreme_along(np.maximum, z[low:high], line, low, -np.inf)
    assert np.array_equal(part[shape[0] // 2 - low:], wanted[shape[0] // 2:])


def test_every_cell_beside_a_true_one_as_scipy_has_it():
    cells = np.random.default_rng(3).random((20, 30)) > 0.9
    seen = extreme_about(np.maximum, cells, (3, 3), False)
    assert np.array_equal(seen, ndimage.binary_dilation(cells, np.ones((3, 3), bool)))


@pytest.mark.parametrize("size", [1, 2, 3, 6, 13])
def test_neighbours_in_a_row_one_by_one(size):
    """Against each window by itself."""
    z = np.random.default_rng(1).normal(size=(13, 4))
    seen = running(np.maximum, z, size, 0)
    assert np.array_equal(seen, [z[k:k + size].max(axis=0) for k in range(14 - size)])


@settings(max_examples=200, deadline=None)
@given(st.integers(1, 40), st.lists(st.tuples(st.integers(0, 39), st.integers(0, 39)), max_size=60))
def test_groups_as_scipy_has_them(count, pairs):
    one, other = np.array([(a % count, b % count) for a, b in pairs], int).reshape(-1, 2).T
    links = coo_array((np.ones(len(one)), (one, other)), shape=(count, count))
    assert np.array_equal(groups(count, one, other), connected_components(links, directed=False)[1])


def test_a_long_chain_is_one_group():
    order = np.random.default_rng(5).permutation(20_000)
    assert not groups(20_000, order[:-1], order[1:]).any()
