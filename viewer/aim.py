"""Where a window's camera stands so that all of a board fills what is free of words.

The law: seen from the operator's place, a little from the left and from above; nearer or farther until the
corners just fill the free part of the picture.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pyvista as pv
from numpy.typing import NDArray

TOWARD = np.array((-0.16, -0.78, 0.80))  # from the board to the camera
ANGLE = 28.0  # degrees of view
FREE = (-0.42, 0.94, -0.66, 0.86)  # left, right, low, high of the picture, each from -1 to 1
ROUNDS = 16  # of stepping nearer: it settles in eight

Floats = NDArray[np.float64]


def aim(plotter: pv.Plotter, corners: Floats) -> None:
    """Look at places (n, 3) so that they fill the free part of the picture."""
    camera: Any = plotter.camera
    middle = (corners.min(axis=0) + corners.max(axis=0)) / 2
    far = 3.0 * max(float(np.ptp(corners, axis=0).max()), 1.0)
    camera.up, camera.view_angle = (0, 0, 1), ANGLE
    for _ in range(ROUNDS):
        camera.focal_point = middle
        camera.position = middle + TOWARD / np.linalg.norm(TOWARD) * far
        seen = in_picture(plotter, corners)
        low, high = seen.min(axis=0), seen.max(axis=0)
        wide, tall = FREE[1] - FREE[0], FREE[3] - FREE[2]
        off = (low + high) / 2 - ((FREE[0] + FREE[1]) / 2, (FREE[2] + FREE[3]) / 2)
        middle = middle + shift(plotter, off, far)
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


def shift(plotter: pv.Plotter, off: Floats, far: float) -> Floats:
    """(3,) the way on the level that brings what is `off` the middle of the free part there."""
    width, height = plotter.window_size
    half = far * np.tan(np.radians(ANGLE) / 2)
    right = np.array((-TOWARD[1], TOWARD[0], 0.0)) / np.hypot(*TOWARD[:2])
    back = np.array((-TOWARD[0], -TOWARD[1], 0.0)) / np.hypot(*TOWARD[:2])
    steep = TOWARD[2] / np.linalg.norm(TOWARD)
    return right * off[0] * half * width / height + back * off[1] * half / steep
