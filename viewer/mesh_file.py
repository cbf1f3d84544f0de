"""The board as a solid for other programs: STL, PLY or VTP, written by the library that owns the formats.

The law: a closed body in millimetres of the board frame: the surface through the cell centres, walls down
to the underside. A map with more cells than MOST is thinned in blocks that keep every ridge, and that is
said. The file is there whole or not at all.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..sim.surface import Surface
from .blocks import block_side, blocked, thinned_axis
from .errors import Refused
from .writing import write_bytes

Bottom = Callable[[NDArray[np.float64], NDArray[np.float64]], NDArray[np.float64] | float]
FORMATS = (".stl", ".ply", ".vtp")
MOST = 2_000_000  # cells: about 400 MB of STL


class Solid(NamedTuple):
    """points (n, 3) float32 and triangles (m, 3), counter-clockwise seen from outside."""

    points: NDArray[np.float32]
    triangles: NDArray[np.int32]


def check_mesh_name(path: Path) -> None:
    """Raises Refused for an ending that is none of the formats."""
    if path.suffix.lower() not in FORMATS:
        raise Refused(f"--save-mesh {path}: the name must end in {', '.join(FORMATS[:-1])} or {FORMATS[-1]}")


def save_mesh(surface: Surface, bottom: Bottom, path: Path, most: int = MOST) -> str | None:
    """Write the board as a solid over its underside; what was left out, if anything."""
    import pyvista as pv
    side = block_side(surface.shape, most)
    x, y = thinned_axis(surface.x, side), thinned_axis(surface.y, side)
    solid = solid_of(x, y, blocked(surface.heights, side), bottom(x, y))
    faces = np.column_stack([np.full(len(solid.triangles), 3, np.int32), solid.triangles]).ravel()
    with tempfile.TemporaryDirectory(prefix="proveout-") as folder:
        made = Path(folder, "board" + path.suffix.lower())
        pv.PolyData(solid.points, faces).save(made)
        write_bytes(path, made.read_bytes())
    return None if side == 1 else f"{path}: {side} x {side} cells of the map are one of the mesh"


def solid_of(x: NDArray[np.float64], y: NDArray[np.float64], heights: NDArray[np.float32],
             bottom: NDArray[np.float64] | float) -> Solid:
    """The closed body between heights (ny, nx) over x (nx,), y (ny,) and a bottom, level or (ny, nx).

    A square between four cell centres belongs to the body where all four are on the board. Raises Refused
    where there is none.
    """
    ny, nx = heights.shape
    known = ~np.isnan(heights)
    squares = known[:-1, :-1] & known[:-1, 1:] & known[1:, :-1] & known[1:, 1:]
    if not squares.any():
        raise Refused("--save-mesh: the board has no two rows and columns of cells")
    top = np.arange(ny * nx, dtype=np.int32).reshape(ny, nx)
    corners = np.stack([top[:-1, :-1], top[:-1, 1:], top[1:, 1:], top[1:, :-1]], axis=-1)[squares]
    lower = np.int32(ny * nx)
    walls = _rim(squares, top)
    faces = np.concatenate([
        corners[:, [0, 1, 2]], corners[:, [0, 2, 3]],
        corners[:, [2, 1, 0]] + lower, corners[:, [3, 2, 0]] + lower,
        np.column_stack([walls[:, 0], walls[:, 0] + lower, walls[:, 1] + lower]),
        np.column_stack([walls[:, 0], walls[:, 1] + lower, walls[:, 1]])])
    return _packed(_points(x, y, heights, bottom), faces)


def _rim(squares: NDArray[np.bool_], top: NDArray[np.int32]) -> NDArray[np.int32]:
    """(k, 2) the edges of the squares that no other shares, each as its square runs along it."""
    padded = np.pad(squares, 1)
    inside = padded[1:-1, 1:-1]
    sides = ((padded[:-2, 1:-1], top[:-1, :-1], top[:-1, 1:]), (padded[1:-1, 2:], top[:-1, 1:], top[1:, 1:]),
             (padded[2:, 1:-1], top[1:, 1:], top[1:, :-1]), (padded[1:-1, :-2], top[1:, :-1], top[:-1, :-1]))
    return np.concatenate([np.column_stack([first[inside & ~beside], second[inside & ~beside]])
                           for beside, first, second in sides])


def _points(x: NDArray[np.float64], y: NDArray[np.float64], heights: NDArray[np.float32],
            bottom: NDArray[np.float64] | float) -> NDArray[np.float32]:
    points = np.empty((2, *heights.shape, 3), np.float32)
    points[..., 0], points[..., 1] = x[None, None, :], y[None, :, None]
    points[0, ..., 2], points[1, ..., 2] = heights, bottom
    return points.reshape(-1, 3)


def _packed(points: NDArray[np.float32], faces: NDArray[np.int32]) -> Solid:
    """Only the points that a face uses."""
    used, renumbered = np.unique(faces, return_inverse=True)
    return Solid(points[used], renumbered.reshape(faces.shape).astype(np.int32))
