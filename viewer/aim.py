"""Where a camera stands so that all of a board fills what is free of words.

The law: nearer or farther, and aside, until the corners just fill the free part of the picture; a window
looks from the operator's place, a little from the left and from above.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pyvista as pv
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Free = tuple[float, float, float, float]  # left, right, low, high of the picture, each from -1 to 1

OPERATOR = (-0.16, -0.78, 0.80)  # from the board to the camera
WINDOW: Free = (-0.42, 0.94, -0.66, 0.86)  # what a window's words leave free
ANGLE = 28.0  # degrees of view
ROUNDS = 16  # of stepping nearer: it settles in eight
STEEP = 0.99  # of a view's height: seen from so far above, Y is up and no longer Z


def aim(plotter: pv.Plotter, corners: Floats, toward: tuple[float, float, float] = OPERATOR,
        free: Free = WINDOW) -> None:
    """Look at places (n, 3) from a direction so that they fill the free part of the picture."""
    camera: Any = plotter.camera
    away = np.array(toward) / np.linalg.norm(toward)
    middle = (corners.min(axis=0) + corners.max(axis=0)) / 2
    far = 3.0 * max(float(np.ptp(corners, axis=0).max()), 1.0)
    camera.up, camera.view_angle = (0, 1, 0) if away[2] > STEEP else (0, 0, 1), ANGLE
    for _ in range(ROUNDS):
        camera.focal_point, camera.position = middle, middle + away * far
        seen = in_picture(plotter, corners)
        low, high = seen.min(axis=0), seen.max(axis=0)
        wide, tall = free[1] - free[0], free[3] - free[2]
        off = (low + high) / 2 - ((free[0] + free[1]) / 2, (free[2] + free[3]) / 2)
        middle = middle + shift(plotter, off, away, far)
        far *= 0.4 + 0.6 * float(max((high - low) / (wide, tall)))
    plotter.reset_camera_clipping_range()


def in_picture(plotter: pv.Plotter, places: Floats) -> Floats:
    """(n, 2) where places are seen: from -1 to 1, right and up."""
    width, height = plotter.window_size
    camera: Any = plotter.camera
    matrix = camera.GetCompositeProjectionTransformMatrix(width / height, 0.1, 1e6)
    rows = np.array([[matrix.GetElement(j, i) for i in range(4)] for j in range(4)])
    seen = np.column_stack((places, np.ones(len(places)))) @ rows.T
    return seen[:, :2] / seen[:, 3:]


def shift(plotter: pv.Plotter, off: Floats, away: Floats, far: float) -> Floats:
    """(3,) the way on the level that brings what is `off` the middle of the free part there."""
    width, height = plotter.window_size
    half = far * np.tan(np.radians(ANGLE) / 2)
    level = np.array((0.0, -1.0)) if away[2] > STEEP else away[:2] / np.hypot(*away[:2])
    right, back = np.array((-level[1], level[0], 0.0)), np.array((-level[0], -level[1], 0.0))
    return right * off[0] * half * width / height + back * off[1] * half / away[2]
