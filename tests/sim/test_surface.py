"""The height map: what covers the board, what fits the memory, what a file gives back."""

from __future__ import annotations

import re
import zipfile

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from proveout.parser.job import Cutter
from proveout.sim import surface as surfaces
from proveout.sim import surface_file
from proveout.sim.memory import _linux_available, available_memory
from proveout.sim.surface import MapTooLarge, Surface, bytes_needed, choose_cell
from proveout.sim.surface_file import SurfaceUnreadable

BOX = shapely.box(0, 0, 30, 20)
corner = st.tuples(st.floats(0, 30), st.floats(0, 20))


def test_cells_are_sampled_at_their_centres():
    surface = Surface.of_board(shapely.box(-10, 5, 20, 25), 1.5, 0.5)
    assert surface.shape == (40, 60)
    assert (surface.x[0], surface.x[-1], surface.y[0], surface.y[-1]) == (-9.75, 19.75, 5.25, 24.75)
    assert (surface.heights == 1.5).all()
    assert (surface.last == -1).all()
    assert (surface.heights.dtype, surface.last.dtype) == (np.float32, np.int32)
    assert surface.heights.flags.c_contiguous


def test_the_map_never_grows_past_the_board():
    surface = Surface.of_board(shapely.box(0, 0, 10.2, 7), 0.0, 0.25)
    assert surface.shape == (28, 41)
    assert surface.at(10.05, 3) == 0  # the last cell's centre lies on the board …
    narrow = Surface.of_board(shapely.box(0, 0, 10.2, 7), 0.0, 0.5)
    assert np.isnan(narrow.heights[:, -1]).all()  # … or off it


@settings(max_examples=60, deadline=None)
@given(st.lists(corner, min_size=3, max_size=8, unique=True), st.booleans())
def test_a_region_holds_the_cells_whose_centre_it_holds(corners, hole):
    """Against shapely's own point in polygon; cells whose centre is on the boundary are free."""
    region = shapely.MultiPoint(corners).convex_hull.buffer(0.7)
    if hole:
        region = region.difference(region.centroid.buffer(1.5)).difference(shapely.box(5, 5, 6, 18))
    surface = Surface.of_board(BOX, 0.0, 0.5)
    x, y = np.meshgrid(surface.x, surface.y)
    true = shapely.contains_xy(region, x, y)
    free = shapely.contains_xy(region.boundary.buffer(1e-7), x, y)
    assert np.array_equal(surface.mask(region) | free, true | free)


def test_boards_with_holes_and_of_several_pieces():
    outline = shapely.union_all([shapely.box(0, 0, 10, 20).difference(shapely.Point(5, 10).buffer(3)),
                                 shapely.box(15, 0, 30, 20)])
    surface = Surface.of_board(outline, 0.0, 0.25)
    assert np.isnan(surface.at(5, 10))
    assert np.isnan(surface.at(12, 10))
    assert surface.at(1, 1) == surface.at(20, 10) == 0
    assert surface.on_board.sum() * 0.25**2 == pytest.approx(outline.area, rel=2e-3)


def test_carving_lowers_and_never_raises():
    surface = Surface.of_board(BOX, 0.0, 0.5)
    surface.carve(shapely.Point(10, 10).buffer(4), -3)
    surface.carve(shapely.Point(12, 10).buffer(4), -1)
    assert surface.at(10, 10) == -3
    assert surface.at(15, 10) == -1
    assert surface.at(25, 10) == 0
    surface.carve(shapely.box(100, 100, 110, 110), -9)
    assert surface.heights.min() == -3


def test_places_and_windows():
    surface = Surface.of_board(BOX, 0.0, 0.5)
    assert np.isnan(surface.at(-0.1, 5))
    assert np.isnan(surface.at(30.1, 5))
    assert surface.window(shapely.box(2.1, 3, 4, 5)) == (slice(6, 10), slice(4, 8))
    rows, columns = surface.window(shapely.box(40, 40, 50, 50))
    assert surface.heights[rows, columns].size == 0


def test_a_copy_is_its_own():
    surface = Surface.of_board(BOX, 0.0, 0.5)
    other = surface.copy()
    other.carve(BOX, -1)
    assert surface.heights.max() == 0


# --- memory --------------------------------------------------------------------------------------
def test_too_large_a_map_is_refused_with_a_cell_that_fits(monkeypatch):
    sheet, memory = shapely.box(0, 0, 1220, 2440), 700_000_000

    def never(*shape, **more):
        raise AssertionError("the map was made before it was refused")

    monkeypatch.setattr(surfaces.np, "full", never)
    with pytest.raises(MapTooLarge) as refused:
        Surface.of_board(sheet, 0.0, 0.1, memory=memory)
    fits = float(re.findall(r"cells of ([\d.]+) mm would fit", str(refused.value))[0])
    assert bytes_needed(sheet, fits) <= memory < bytes_needed(sheet, 0.1)


def test_even_a_huge_board_gets_a_cell_that_fits():
    with pytest.raises(MapTooLarge) as refused:
        Surface.of_board(shapely.box(0, 0, 1e7, 1e7), 0.0, 0.1, memory=10_000_000)
    fits = float(re.findall(r"cells of ([\d.]+) mm would fit", str(refused.value))[0])
    assert bytes_needed(shapely.box(0, 0, 1e7, 1e7), fits) <= 10_000_000


@pytest.mark.parametrize(("diameter", "board", "memory", "cell"), [
    (25.4, (600, 400), 8e9, 0.25), (5.0, (600, 400), 8e9, 0.25), (2.0, (600, 400), 8e9, 0.1),
    (0.6, (100, 100), 8e9, 0.05), (25.4, (1220, 2440), 8e9, 0.25), (25.4, (1220, 2440), 8e8, 0.5)])
def test_the_cell_follows_from_cutters_and_memory(diameter, board, memory, cell):
    cutters = [Cutter(number=n, shape="flat", diameter=d) for n, d in ((1, 25.4), (2, diameter))]
    assert choose_cell(shapely.box(0, 0, *board), cutters, memory=int(memory)) == cell


def test_free_memory_is_told():
    assert available_memory() > 50_000_000


def test_memory_that_the_system_would_give_away_is_free(tmp_path):
    """MemAvailable, and not MemFree: proc_meminfo(5)."""
    (tmp_path / "meminfo").write_text("MemTotal: 24000000 kB\nMemFree:  1000 kB\nMemAvailable:  9000 kB\n")
    assert _linux_available(str(tmp_path / "meminfo")) == 9_216_000


# --- files ---------------------------------------------------------------------------------------
@pytest.fixture
def saved(tmp_path):
    surface = Surface.of_board(shapely.Point(10, 10).buffer(8), 0.25, 0.5)
    surface.carve(shapely.box(8, 8, 12, 12), -1.125)
    surface.last[10, 10] = 77
    surface.save(tmp_path / "board.npz")
    return surface, tmp_path / "board.npz"


def test_a_file_gives_back_the_surface(saved):
    surface, path = saved
    for source in (path, path.read_bytes()):
        back = Surface.load(source)
        assert (back.x0, back.y0, back.cell) == (surface.x0, surface.y0, surface.cell)
        assert np.array_equal(back.heights, surface.heights, equal_nan=True)
        assert np.array_equal(back.last, surface.last)
        assert back.heights.flags.writeable


def test_recesses_and_holes_come_back_and_an_older_file_has_none(saved, tmp_path):
    surface, path = saved
    surface.gone = shapely.union(shapely.box(8, 8, 12, 12), shapely.Point(3, 10).buffer(1.5))
    surface.save(path)
    assert Surface.load(path).gone.equals(surface.gone)
    with np.load(path) as archive:
        arrays = {name: archive[name] for name in archive.files if name != "gone"}
    arrays["format"] = np.array(1)
    arrays["sha256"] = np.array(surface_file._checksum(arrays))
    np.savez(tmp_path / "older.npz", **arrays)
    older = Surface.load(tmp_path / "older.npz")
    assert older.gone.is_empty
    assert np.array_equal(older.heights, surface.heights, equal_nan=True)


def test_the_same_surface_gives_the_same_file_content(saved, tmp_path):
    surface, path = saved
    surface.save(tmp_path / "again.npz")
    with np.load(path) as one, np.load(tmp_path / "again.npz") as other:
        assert str(one["sha256"]) == str(other["sha256"])


def test_a_changed_file_is_noticed(saved, tmp_path):
    _, path = saved
    with np.load(path) as archive:
        arrays = {name: archive[name] for name in archive.files}
    arrays["heights"][3, 12] += 0.5
    np.savez(tmp_path / "changed.npz", **arrays)
    with pytest.raises(SurfaceUnreadable, match="checksum"):
        Surface.load(tmp_path / "changed.npz")
    arrays["format"] = np.array(3)
    np.savez(tmp_path / "later.npz", **arrays)
    with pytest.raises(SurfaceUnreadable, match="format 3"):
        Surface.load(tmp_path / "later.npz")


@pytest.mark.parametrize("content", [b"", b"G0 X1\n", b"PK\x03\x04 not really", b"\x93NUMPY\x01\x00"])
def test_anything_else_is_one_clear_error(content):
    with pytest.raises(SurfaceUnreadable):
        Surface.load(content)


def test_every_cut_short_or_flipped_file_is_one_clear_error(saved):
    _, path = saved
    whole = path.read_bytes()
    for cut in range(0, len(whole), 97):
        with pytest.raises(SurfaceUnreadable):
            Surface.load(whole[:cut])
    with zipfile.ZipFile(path) as archive:
        data = archive.getinfo("heights.npy").header_offset + 80
    with pytest.raises(SurfaceUnreadable):
        Surface.load(whole[:data] + bytes([whole[data] ^ 255]) + whole[data + 1:])


def test_an_archive_without_the_arrays_is_no_surface(tmp_path):
    np.savez(tmp_path / "other.npz", a=np.zeros(3))
    with pytest.raises(SurfaceUnreadable):
        Surface.load(tmp_path / "other.npz")


def test_nothing_half_written_is_left(saved, tmp_path, monkeypatch):
    surface, path = saved
    before = path.read_bytes()

    def stopped(*arrays, **more):
        raise KeyboardInterrupt

    monkeypatch.setattr(np.lib.format, "write_array", stopped)
    with pytest.raises(KeyboardInterrupt):
        surface.save(path)
    assert path.read_bytes() == before
    assert [p.name for p in tmp_path.iterdir()] == ["board.npz"]


def test_a_place_that_cannot_be_written_is_an_os_error(saved, tmp_path):
    surface, _ = saved
    with pytest.raises(FileNotFoundError):
        surface.save(tmp_path / "no such folder" / "board.npz")
