"""The oracle of the cut, and motions made by hand.

The oracle stamps: at many places along a move's true path it takes the cutter's lower surface over every
cell and keeps the least; about the best places it looks again, closer, until heights settle. It shares no
formula with the compiled loops.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import shapely
from proveout.parser.job import Corner, Cutter
from proveout.parser.motion import PLANE_AXES, Motion, MotionBuilder, Move, State
from proveout.sim.cut import cut_stage
from proveout.sim.cutters import profile_of
from proveout.sim.surface import Surface

CUTTERS = {
    "flat": Cutter(number=1, shape="flat", diameter=6.0),
    "facing": Cutter(number=1, shape="facing", diameter=8.0, core=4.6),
    "rounded facing": Cutter(number=1, shape="facing", diameter=8.0, core=4.0, corner=Corner(radius=0.8)),
    "bevelled": Cutter(number=1, shape="flat", diameter=7.0, corner=Corner(chamfer=0.6)),
    "ball": Cutter(number=1, shape="ball", diameter=5.0),
    "bull": Cutter(number=1, shape="bull", diameter=7.0, corner=Corner(radius=1.2)),
    "cone": Cutter(number=1, shape="cone", diameter=7.0, tip=0.8, angle=70.0),
    "sharp cone": Cutter(number=1, shape="cone", diameter=6.0, angle=100.0),
    "drill": Cutter(number=1, shape="drill", diameter=5.0),
    "profile": Cutter(number=1, shape="profile",
                      profile=((0.0, 0.0), (0.7, 0.0), (1.2, 1.0), (2.4, 1.3), (2.4, 2.0), (3.2, 4.0))),
    "hollow profile": Cutter(number=1, shape="profile", profile=((0.0, 0.5), (1.5, 0.0), (3.0, 1.0))),
}
WIDE = Cutter(number=1, shape="flat", diameter=25.0)
BOARD = shapely.box(0, 0, 24, 18)
EDGE, FAR = 2e-3, 1e6
SIGHT = 0.15  # mm between the first places that the oracle looks at on a long path


# --- the oracle ----------------------------------------------------------------------------------
def path(motion: Motion, row: int, part: np.ndarray) -> np.ndarray:
    """Places (…, 3) at `part` (0 to 1) of a move, from its definition."""
    start, end = motion.start[row], motion.end[row]
    at = start + part[..., None] * (end - start)
    if motion.arc[row] < 0:
        return at
    arc = motion.arc[row]
    a, b, _ = PLANE_AXES[int(motion.arcs.plane[arc])]
    ca, cb = motion.arcs.centre[arc]
    r0, r1 = math.hypot(start[a] - ca, start[b] - cb), math.hypot(end[a] - ca, end[b] - cb)
    angle = math.atan2(start[b] - cb, start[a] - ca) + part * motion.arcs.sweep[arc]
    at[..., a] = ca + (r0 + part * (r1 - r0)) * np.cos(angle)
    at[..., b] = cb + (r0 + part * (r1 - r0)) * np.sin(angle)
    return at


def least_height(motion, row, cutter, x, y, tilt, grow=0.0):
    """The least height of the cutter's lower surface over places x, y (n,), inf where it never is. `grow` is
    how much wider it is taken, at the walls of a step too."""
    profile = profile_of(cutter)
    lift = profile.lift(math.hypot(*tilt))

    def height(part):
        at = path(motion, row, part)
        dx, dy = x[:, None] - at[..., 0], y[:, None] - at[..., 1]
        rho = np.hypot(dx, dy)
        near = np.clip(rho - grow, 0, profile.radius) if profile.rings else np.minimum(rho, profile.radius)
        z = at[..., 2] + lift + tilt[0] * dx + tilt[1] * dy + profile.below(near)
        core = profile.core - grow if profile.core else 0.0
        miss = np.maximum(rho - profile.radius - grow, core - rho)  # look on where it is nearest
        return np.where(miss > 0, FAR + miss, z)

    count = max(160, round(float(motion.length()[row]) / SIGHT))
    parts = np.linspace(0, 1, count + 1)[None, :].repeat(len(x), 0)
    z = height(parts)
    best = z.min(axis=1)
    beside = np.pad(z, ((0, 0), (1, 1)), constant_values=np.inf)
    bottoms = np.where((z <= beside[:, :-2]) & (z <= beside[:, 2:]), z, np.inf)
    for candidate in np.argsort(bottoms, axis=1, kind="stable")[:, :4].T:  # the best may not look it
        middle, half = np.take_along_axis(parts, candidate[:, None], 1), 1 / count
        for _ in range(5):
            near = np.clip(middle + np.linspace(-half, half, 17), 0, 1)
            fine = height(near)
            best = np.minimum(best, fine.min(axis=1))
            middle = np.take_along_axis(near, fine.argmin(axis=1)[:, None], 1)
            half /= 8
    return np.where(best < FAR, best, np.inf)


def oracle(motion, cutter, surface, tilt=(0.0, 0.0)):
    """The true heights after a motion, and which cells lie far enough from every footprint's edge."""
    x, y = (g.ravel() for g in np.meshgrid(surface.x, surface.y))
    heights, certain = surface.heights.astype(float).ravel(), np.ones(x.size, bool)
    for row in range(len(motion)):
        z, wide, narrow = (least_height(motion, row, cutter, x, y, tilt, grow) for grow in (0.0, EDGE, -EDGE))
        heights = np.minimum(z, heights)
        certain &= np.isfinite(wide) == np.isfinite(narrow)
        jump = np.subtract(narrow, wide, where=np.isfinite(z), out=np.zeros_like(z))
        certain &= ~(jump > 0.05)  # the core's edge, a step's wall: within the footprint
    return heights.reshape(surface.shape), certain.reshape(surface.shape)


def board(cell=0.75, top=0.0, outline=BOARD):
    return Surface.of_board(outline, top, cell)


def feed(*points, kind=Move.FEED):
    """A motion through points."""
    builder = MotionBuilder()
    builder.state(State(cutter=1))
    for a, b in pairwise(points):
        builder.move(kind, 1, a, b, feed=1000.0)
    return builder.motion()


def arc(centre, radius, start, turn, z0, z1, plane=17):
    """One arc: start angle and turn in radians, third axis from z0 to z1."""
    a, b, c = PLANE_AXES[plane]
    ends = np.empty((2, 3))
    for point, angle, z in zip(ends, (start, start + turn), (z0, z1), strict=True):
        point[a], point[b] = centre[0] + radius * math.cos(angle), centre[1] + radius * math.sin(angle)
        point[c] = z
    builder = MotionBuilder()
    builder.arc(1, ends[0], ends[1], plane=plane, centre=centre, sweep=turn, feed=1000.0)
    return builder.motion()


def cut(surface, motion, cutter, **more):
    return cut_stage(surface, motion, [cutter] * len(motion), **more)


def worst(cutter, motion, tilt=(0.0, 0.0), cell=0.75):
    """The greatest height error over cells that are sure."""
    surface = board(cell)
    true, sure = oracle(motion, cutter, surface, tilt)
    cut(surface, motion, cutter, tilt=tilt)
    return float(np.abs(surface.heights - true)[sure].max())
