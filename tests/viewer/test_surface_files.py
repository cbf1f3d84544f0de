"""The surface for other programs: read back by libraries that know nothing of ours."""

from __future__ import annotations

import io
import json
import xml.etree.ElementTree as ElementTree

import manifold3d
import numpy as np
import pytest
import pyvista as pv
import shapely
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from proveout.parser.job import Board, Cutter, Job, Part, Stage
from proveout.parser.units import Units
from proveout.sim.surface import Surface
from proveout.viewer.errors import Refused
from proveout.viewer.heights_file import check_heights_name, save_heights
from proveout.viewer.mesh_file import check_mesh_name, save_mesh, solid_of
from proveout.viewer.plan_picture import plan_svg
from proveout.viewer.scene import underside, undersides


def surface() -> Surface:
    heights = np.zeros((30, 40), np.float32)
    heights[:, 10:20] = -0.4
    heights[12:18, 30:34] = -9.0
    heights[:4, :6] = np.nan
    return Surface(5.0, -3.0, 0.5, heights, np.full((30, 40), -1, np.int32))


def enclosed(heights: np.ndarray, cell: float, bottom: float) -> float:
    """mm³ under the two triangles of each square of cell centres, down to the bottom: in closed form."""
    a, b, c, d = heights[:-1, :-1], heights[:-1, 1:], heights[1:, 1:], heights[1:, :-1]
    each = ((a + b + c) / 3 + (a + c + d) / 3) / 2 - bottom
    return float(np.nansum(each.astype(float)) * cell**2)


def level(x, y) -> float:
    return -18.0


@pytest.mark.parametrize("ending", ["stl", "ply", "vtp"])
def test_the_mesh_is_a_closed_body_of_the_right_volume(tmp_path, ending):
    """manifold3d takes closed bodies only; its volume against the sum over the squares of cell centres."""
    path = tmp_path / f"board.{ending}"
    assert save_mesh(surface(), level, path) is None
    mesh = pv.read(path).triangulate().clean()
    body = manifold3d.Manifold(manifold3d.Mesh(
        np.asarray(mesh.points, np.float32), mesh.faces.reshape(-1, 4)[:, 1:].astype(np.uint32)))
    assert body.status() == manifold3d.Error.NoError
    assert body.volume() == pytest.approx(enclosed(surface().heights, 0.5, -18.0), rel=1e-6)
    assert mesh.bounds[0] == pytest.approx(5.25)
    assert mesh.bounds[5] == 0


@given(st.integers(0, 2**32 - 1), st.integers(2, 9), st.integers(2, 9))
def test_every_edge_of_the_body_is_shared_by_two_faces(seed, ny, nx):
    """Each edge as often one way as the other: closed, whatever part of the map is board."""
    chance = np.random.default_rng(seed)
    heights = chance.random((ny, nx)).astype(np.float32)
    heights[chance.random((ny, nx)) < 0.2] = np.nan
    try:
        points, faces = solid_of(np.arange(nx, dtype=float), np.arange(ny, dtype=float), heights, -1.0)
    except Refused:
        return
    edges = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    ways = np.bincount(edges[:, 0] * len(points) + edges[:, 1], minlength=len(points)**2)
    np.testing.assert_array_equal(ways.reshape(len(points), -1), ways.reshape(len(points), -1).T)
    corners = points[faces]
    volume = np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])).sum() / 6
    assert volume == pytest.approx(enclosed(heights, 1.0, -1.0), rel=1e-4)


def test_a_large_map_is_thinned_and_says_so(tmp_path):
    said = save_mesh(surface(), level, tmp_path / "board.ply", most=300)
    assert said is not None
    assert "2 x 2 cells" in said
    assert pv.read(tmp_path / "board.ply").bounds[5] == 0


@pytest.mark.parametrize("units", Units)
def test_heights_as_tiff(tmp_path, units):
    """Read by Pillow: float heights, the back row first, placed by the open GeoTIFF tags."""
    path = tmp_path / "heights.tif"
    save_heights(surface(), units, path)
    image = Image.open(path)
    np.testing.assert_allclose(np.asarray(image)[::-1], surface().heights / units.scale, rtol=1e-6)
    said = json.loads(image.tag_v2[270])
    assert said["units"] == units.value
    assert image.tag_v2[33550][0] == pytest.approx(0.5 / units.scale)
    assert image.tag_v2[33922][3:5] == pytest.approx((5.0 / units.scale, 12.0 / units.scale))


def test_heights_as_table_and_arrays(tmp_path):
    """Read by numpy: every cell on the board, and where it lies."""
    save_heights(surface(), Units.MM, tmp_path / "heights.csv")
    first, *rest = (tmp_path / "heights.csv").read_text().splitlines()
    assert json.loads(first.removeprefix("# "))["cell"] == 0.5
    table = np.loadtxt(io.StringIO("\n".join(rest)), delimiter=",", skiprows=1)
    assert len(table) == surface().on_board.sum()
    for x, y, z in table[::97]:
        assert z == pytest.approx(surface().at(x, y), abs=1e-5)
    save_heights(surface(), Units.MM, tmp_path / "heights.npz")
    with np.load(tmp_path / "heights.npz") as arrays:
        np.testing.assert_array_equal(arrays["heights"], surface().heights)
        assert (str(arrays["units"]), float(arrays["cell"])) == ("mm", 0.5)
        assert arrays["x"][0] == 5.25


def test_a_wrong_ending_is_told_with_the_right_ones(tmp_path):
    with pytest.raises(Refused, match=r"\.stl, \.ply or \.vtp"):
        check_mesh_name(tmp_path / "board.step")
    with pytest.raises(Refused, match=r"\.npz, \.csv or \.tif"):
        check_heights_name(tmp_path / "board.xlsx")


def test_the_plan_is_true_to_scale(demo_result):
    """A millimetre of the board is one of the drawing, and no name is left for a browser to work out."""
    text = plan_svg(demo_result)
    root = ElementTree.fromstring(text)
    width, height = (float(root.attrib[side].removesuffix("mm")) for side in ("width", "height"))
    assert [width, height] == pytest.approx([float(v) for v in root.attrib["viewBox"].split()[2:]])
    assert "var(" not in text
    assert "calc(" not in text
    words = " ".join(root.itertext())
    assert "DO NOT RUN" in words
    assert "0.73 mm too low" in words
    heads = [e for e in root.iter() if e.attrib.get("class", "").startswith("head")]
    assert len(heads) == 6
    assert sum("struck" in e.attrib["class"] for e in heads) == 1


def test_a_thin_part_has_its_own_underside(tmp_path):
    """A board of 18 and one part of 12 beside it with the same top: the solid's volume by the divergence
    theorem over its triangles is each part's area, half a cell less all round, times its thickness."""
    parts = (Part(name="thick", x=(0, 20), y=(0, 10)),
             Part(name="thin", x=(22, 42), y=(0, 10), top=0, thickness=12))
    job = Job(board=Board(parts=parts, top=0.0, thickness=18.0), stages=(Stage(name="a", program="a.nc"),),
              cutters=(Cutter(number=1, shape="flat", diameter=6),))
    both = shapely.union_all([shapely.box(0, 0, 20, 10), shapely.box(22, 0, 42, 10)])
    board = Surface.of_board(both, 0.0, 0.5)
    solid = solid_of(board.x, board.y, board.heights, undersides(job, board.x, board.y))
    a, b, c = (solid.points[solid.triangles[:, k]].astype(float) for k in range(3))
    volume = np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6
    assert volume == pytest.approx(19.5 * 9.5 * (18 + 12), rel=1e-6)
    assert underside(job) == -18
