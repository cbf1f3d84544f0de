"""Windows over a map, and what hangs together: against scipy, a general-purpose library."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from proveout.sim.linked import groups
from proveout.sim.windows import extreme_about, running
from scipy import ndimage
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

SHAPES = [np.ones((1, 1), bool), np.ones((1, 7), bool), np.ones((9, 1), bool), np.ones((3, 3), bool),
          np.ones((5, 21), bool), np.eye(7, dtype=bool), np.eye(11, dtype=bool)[::-1]]


@pytest.mark.parametrize("window", SHAPES, ids=lambda window: f"{window.shape}{window.sum()}")
@pytest.mark.parametrize("shape", [(1, 1), (4, 3), (30, 50)])
def test_a_window_as_scipy_has_it(window, shape):
    z = np.random.default_rng(7).normal(size=shape).astype(np.float32)
    for choose, filtered, beyond in ((np.maximum, ndimage.maximum_filter, -np.inf),
                                     (np.minimum, ndimage.minimum_filter, np.inf)):
        wanted = filtered(z, footprint=window, mode="constant", cval=beyond)
        assert np.array_equal(extreme_about(choose, z, window, beyond), wanted)


def test_every_cell_beside_a_true_one_as_scipy_has_it():
    cells = np.random.default_rng(3).random((20, 30)) > 0.9
    square = np.ones((3, 3), bool)
    seen = extreme_about(np.maximum, cells, square, False)
    assert np.array_equal(seen, ndimage.binary_dilation(cells, square))


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
