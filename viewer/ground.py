"""The board in a window: its terrain as a mesh filled in place, and a closer look where the eye is near.

The law: a mesh is made once and its numbers are changed, so that a step costs what is drawn and no more.
Where the camera is so near that blocks of cells would be seen, a patch of the map stands there in which they
are finer, down to every cell; the coarse board is sunk beneath it.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pyvista as pv
from numpy.typing import NDArray

from .terrain import Terrain, Window

CLOSE = 160_000  # blocks of the patch at most
FINER = 0.75  # of a block: what a patch must show finer to be worth it
REACH = 1.25  # of what the view holds: the patch's size
RING = 1  # coarse blocks under the patch's border that are not sunk


class Sheet:
    """A terrain as a mesh in a plotter."""

    def __init__(self, plotter: pv.Plotter, terrain: Terrain, stretch: float, colouring: str) -> None:
        self.terrain = terrain
        self._off: NDArray[np.bool_] | None = None  # where no board was when the faces were made
        self.grid = pv.PolyData(terrain.points(stretch).reshape(-1, 3))
        self._faces()
        self.grid["colour"] = terrain.colours(colouring).reshape(-1, 3)
        self.actor = plotter.add_mesh(self.grid, scalars="colour", rgb=True, lighting=False, copy_mesh=False,
                                      show_scalar_bar=False, reset_camera=False, render=False)

    def _faces(self) -> None:
        """Faces where there is board; others when parts came or went."""
        board = np.isnan(self.terrain.z)
        if self._off is None or not np.array_equal(board, self._off):
            self._off, quads = board, self.terrain.quads()
            self.grid.faces = np.column_stack((np.full(len(quads), 4), quads)).ravel()

    def fill(self, stretch: float, colouring: str, sunk: Window | None = None) -> None:
        """The terrain as it is now; blocks of `sunk` lie at the board's underside."""
        grid: Any = self.grid
        self._faces()
        points = self.terrain.points(stretch)
        if sunk is not None:
            points[2:-2, 2:-2, 2][sunk] = self.terrain.bottom
        np.copyto(grid.points, points.reshape(-1, 3))
        np.copyto(grid["colour"], self.terrain.colours(colouring).reshape(-1, 3))
        for changed in (grid.GetPoints().GetData(), grid.GetPoints(),
                        grid.GetPointData().GetArray("colour"), grid):
            changed.Modified()


class Ground:
    """The whole board, and the patch of it that is looked at."""

    def __init__(self, plotter: pv.Plotter, terrain: Terrain, stretch: float, colouring: str) -> None:
        self.plotter, self.terrain = plotter, terrain
        self.board = Sheet(plotter, terrain, stretch, colouring)
        self.patch: Sheet | None = None
        self.window: Window | None = None
        self.clipped: Any = None

    @property
    def actors(self) -> list[Any]:
        return [self.board.actor, *([self.patch.actor] if self.patch else [])]

    @property
    def side(self) -> int:
        """Cells along a block's side, of the patch where there is one."""
        return (self.patch or self.board).terrain.side

    def fill(self, stretch: float, colouring: str) -> None:
        """The board as it is now."""
        if self.patch is not None and self.window is not None:
            self._follow(self.patch.terrain)
            self.patch.fill(stretch, colouring)
        self.board.fill(stretch, colouring, self._sunk())

    def _follow(self, part: Terrain) -> None:
        """The patch sees the map that the whole board sees."""
        assert self.window is not None
        surface, cells = self.terrain.surface, np.s_[self.window[0], self.window[1]]
        part.surface.last = surface.last[cells]
        part.surface.heights = surface.heights[cells]
        part.put(part.surface)

    def look(self, stretch: float, colouring: str) -> bool:
        """Whether the camera asks for another patch than there is, and then it is put up."""
        window = self.seen()
        if window == self.window:
            return False
        self.window = window
        if self.patch is not None:
            plotter: Any = self.plotter  # its decorator hides its signature
            plotter.remove_actor(self.patch.actor, render=False)
            self.patch = None
        if window is not None:
            self.patch = Sheet(self.plotter, self.terrain.part(window, CLOSE), stretch, colouring)
            self.clip(self.clipped)
        self.board.fill(stretch, colouring, self._sunk())
        return True

    def seen(self) -> Window | None:
        """The window of the map about what the camera looks at, in whole blocks; None where the board's own
        blocks are fine enough."""
        terrain, camera = self.terrain, self.plotter.camera
        half = camera.distance * math.tan(math.radians(camera.view_angle) / 2) * REACH
        width, height = self.plotter.window_size
        reach = (half * max(1.0, width / height), half * 1.4)  # slanted, the view holds more of Y
        parts = [self._span(at, far, axis) for at, far, axis in
                 zip(camera.focal_point[:2], reach, (terrain.x, terrain.y), strict=True)]
        side, shape = terrain.side, terrain.surface.shape
        columns, rows = (slice(a * side, min(b * side, count)) for (a, b), count in
                         zip(parts, reversed(shape), strict=True))
        cells = max(0, columns.stop - columns.start) * max(0, rows.stop - rows.start)
        if not cells or math.ceil(math.sqrt(cells / CLOSE)) > FINER * side:
            return None
        return rows, columns

    def _span(self, at: float, far: float, axis: NDArray[np.float64]) -> tuple[int, int]:
        """First block and the one after the last within `far` of a place, in steps that small moves keep."""
        block = float(axis[1] - axis[0]) if len(axis) > 1 else 1.0
        step = max(1, int(far / block / 4))
        low, high = ((at + way * far - axis[0]) / block for way in (-1, 1))
        return (max(0, math.floor(low / step) * step), min(len(axis), math.ceil(high / step) * step))

    def _sunk(self) -> Window | None:
        """The coarse blocks that lie wholly under the patch."""
        if self.window is None:
            return None
        side = self.terrain.side
        rows, columns = (slice(part.start // side + RING, -(-part.stop // side) - RING)
                         for part in self.window)
        return rows, columns

    def clip(self, plane: Any) -> None:
        """Show only what lies on one side of a plane; all of it for None."""
        self.clipped = plane
        for actor in self.actors:
            actor.mapper.RemoveAllClippingPlanes()
            if plane is not None:
                actor.mapper.AddClippingPlane(plane)
