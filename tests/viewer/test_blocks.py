"""A map in blocks: no ridge and no groove is lost, whatever its width; the same by parts as at once."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from proveout.sim.surface import Surface
from proveout.viewer.blocks import Blocks, blocked, extremes, thinned, thinned_axis
from proveout.viewer.terrain import Terrain


def test_a_ridge_one_cell_wide_is_kept():
    """A stride of 4 would drop it."""
    heights = np.zeros((400, 400), np.float32)
    heights[:, 201] = 0.05
    heights[77] = -0.3
    coarse, side = thinned(heights, 10_000)
    assert side == 4
    assert (coarse == np.float32(0.05)).any(axis=1).sum() >= 99
    assert (coarse[77 // 4] < 0).all()
    assert len(thinned_axis(np.arange(400.0), 4)) == coarse.shape[1]


@given(st.integers(2, 12), st.integers(0, 40), st.integers(1, 40), st.sampled_from((0.05, -0.05)))
def test_a_ridge_or_groove_of_any_width_is_seen_all_along(side, first, width, height):
    """Wherever it lies and however wide it is, every row of blocks shows some of it and some of what is about
    it. (The mean of a block alone loses one that fills more than half of a block.)"""
    heights = np.zeros((30, 60 * side), np.float32)
    first += 20 * side
    heights[:, first:first + width] = height
    shown = blocked(heights, side)
    about = shown[:, max(0, first // side - 1):-(-(first + width) // side) + 1]
    assert (about == np.float32(height)).any(axis=1).all()
    assert (about == 0).any(axis=1).all()


def test_ridges_of_a_slanted_pass_are_seen_in_every_block_that_they_cross():
    """0.05 mm, two cells wide, on a board that lies 0.4 mm out of level; the slope alone makes no ridge."""
    j, i = np.mgrid[0:600, 0:900]
    slope = (0.4 * i / 900).astype(np.float32)
    ridge = np.abs(j - 0.5 * i - 40) < 1.0
    heights = slope + np.float32(0.05) * ridge
    side = 9
    shown, flat = blocked(heights, side), blocked(slope, side)
    crossed = ridge.reshape(600 // side + 0, side, 100, side).any(axis=(1, 3)) if 600 % side == 0 else None
    if crossed is None:
        crossed = np.array([[ridge[a:a + side, b:b + side].any() for b in range(0, 900, side)]
                            for a in range(0, 600, side)])
    assert ((shown - flat)[crossed] > 0.04).all()


@given(st.integers(0, 2**32 - 1), st.integers(1, 20), st.integers(1, 20), st.integers(2, 6))
def test_a_block_shows_its_highest_or_its_lowest_cell(seed, ny, nx, side):
    chance = np.random.default_rng(seed)
    values = chance.integers(-64, 64, (ny, nx)).astype(np.float32) / 64
    values[chance.random((ny, nx)) < 0.1] = np.nan
    shown, (rows, columns) = blocked(values, side), extremes(values, side)
    for (j, i), value in np.ndenumerate(shown):
        block = values[j * side:(j + 1) * side, i * side:(i + 1) * side]
        if np.isnan(block).all():
            assert np.isnan(value)
        else:
            assert value in (np.nanmax(block), np.nanmin(block))
            assert values[rows[j, i], columns[j, i]] == value


@given(st.integers(0, 2**32 - 1), st.integers(2, 5))
def test_a_part_that_changed_is_the_same_as_all_of_it_anew(seed, side):
    chance = np.random.default_rng(seed)
    values = chance.normal(0, 0.1, (37, 51)).astype(np.float32)
    blocks = Blocks(values, side)
    j, i = int(chance.integers(0, 30)), int(chance.integers(0, 40))
    values[j:j + 6, i:i + 9] -= 0.3
    blocks.refresh((slice(j, j + 6), slice(i, i + 9)))
    assert np.array_equal(blocks.shown, Blocks(values, side).shown)


@pytest.fixture
def sheet():
    """A full sheet at 1 mm cells, and a ridge of 0.05 mm one cell wide from front to back."""
    heights = np.full((2440, 1220), -0.4, np.float32)
    heights[:, 611] = -0.35
    return Surface(0.0, 0.0, 1.0, heights, np.zeros(heights.shape, np.int32))


def test_a_ridge_of_five_hundredths_stays_in_the_drawn_mesh(sheet):
    """All along it, also when the board was cut about it; every cell where it is looked at closely."""
    nothing = np.full(sheet.shape, np.nan, np.float32)
    terrain = Terrain(sheet, nothing, 0.05, -18.0, np.zeros(1, np.int32), np.zeros(1, np.int32))
    assert terrain.side > 3
    z = terrain.points(1.0)[2:-2, 2:-2, 2]
    assert (np.abs(z + 0.35) < 1e-6).any(axis=1).all()
    sheet.heights[1000:1030, 300:590] = -0.9
    terrain.refresh((slice(1000, 1030), slice(300, 590)))
    assert (np.abs(terrain.z + 0.35) < 1e-6).any(axis=1).all()
    close = terrain.part((slice(900, 1100), slice(500, 700)), 160_000)
    assert close.side == 1
    assert np.array_equal(close.z, sheet.heights[900:1100, 500:700])
    assert close.level == terrain.level
