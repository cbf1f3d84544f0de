"""An arc as points to draw a line through.

The law: for the eye only; what an arc cuts and meets is computed from the arc itself.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..parser.motion import PLANE_AXES, Motion

STEP = np.pi / 32


def polyline(motion: Motion, row: int) -> NDArray[np.float64]:
    """(k, 3) points along the arc or helix of move `row`, ends included; see ArcTable."""
    arcs, arc = motion.arcs, int(motion.arc[row])
    first, second, third = PLANE_AXES[int(arcs.plane[arc])]
    start, end, centre = motion.start[row], motion.end[row], arcs.centre[arc]
    sweep = float(arcs.sweep[arc])
    part = np.linspace(0.0, 1.0, max(2, int(np.ceil(abs(sweep) / STEP)) + 1))
    angle = np.arctan2(start[second] - centre[1], start[first] - centre[0]) + part * sweep
    r0, r1 = (np.hypot(p[first] - centre[0], p[second] - centre[1]) for p in (start, end))
    radius = r0 + part * (r1 - r0)
    points = np.empty((len(part), 3))
    points[:, first] = centre[0] + radius * np.cos(angle)
    points[:, second] = centre[1] + radius * np.sin(angle)
    points[:, third] = start[third] + part * (end[third] - start[third])
    points[0], points[-1] = start, end
    return points
