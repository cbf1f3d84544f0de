"""Bodies as meshes: a cutter with its shank and nose, heads, clamps.

The law: shapes as the scene and the job give them, in millimetres, each about its own origin.
"""

from __future__ import annotations

import numpy as np
import pyvista as pv
from numpy.typing import NDArray

from ..parser.job import Cutter, Machine
from ..sim.cutters import profile_of

AROUND = 40  # sides of a round body
EDGES = 25.0  # mm of cutting edge that is drawn where the job gives no flute_length


def cutter_mesh(cutter: Cutter, machine: Machine) -> pv.PolyData:
    """A cutter, tip at the origin, with its shank and the nose above as far as the job describes them."""
    return revolved(silhouette(cutter, machine))


def silhouette(cutter: Cutter, machine: Machine) -> NDArray[np.float64]:
    """(k, 2) radius and height of the outline, from the tip upward."""
    profile = profile_of(cutter)
    radii = np.linspace(0.0, profile.radius, 25)
    outline = [*zip(radii.tolist(), np.asarray(profile.below(radii)).tolist(), strict=True)]
    top = max(cutter.flute_length or EDGES, outline[-1][1] + 1.0)
    outline.append((profile.radius, top))
    if cutter.stickout is not None:
        shank = (cutter.shank or 2 * profile.radius) / 2
        outline += [(shank, top), (shank, max(cutter.stickout, top))]
        height = max(cutter.stickout, top)
        for part in machine.nose or ():
            outline += [(part.diameter / 2, height), (part.diameter / 2, height + part.length)]
            height += part.length
    outline.append((0.0, outline[-1][1]))
    return np.array(outline)


def revolved(outline: NDArray[np.float64]) -> pv.PolyData:
    """An outline (k, 2) of radius and height, turned about Z."""
    angle = np.linspace(0, 2 * np.pi, AROUND + 1)
    points = np.empty((len(outline), len(angle), 3))
    points[..., 0] = outline[:, :1] * np.cos(angle)
    points[..., 1] = outline[:, :1] * np.sin(angle)
    points[..., 2] = outline[:, 1:]
    grid = pv.StructuredGrid()
    grid.points = points.reshape(-1, 3)
    grid.dimensions = (len(angle), len(outline), 1)
    return grid.extract_surface(algorithm="dataset_surface")


def pillar(at: tuple[float, float], radius: float, bottom: float, top: float) -> pv.PolyData:
    """An upright cylinder between two heights."""
    return pv.Cylinder(center=(*at, (bottom + top) / 2), direction=(0, 0, 1), radius=radius,
                       height=max(top - bottom, 0.05), resolution=AROUND)


def prism(outline: NDArray[np.float64], bottom: float, top: float) -> pv.PolyData:
    """An outline (k, 2) between two heights."""
    k = len(outline)
    points = np.concatenate([np.column_stack([outline, np.full(k, z)]) for z in (bottom, top)])
    i, j = np.arange(k), (np.arange(k) + 1) % k
    sides = np.column_stack([np.full(k, 4), i, j, j + k, i + k]).ravel()
    lids = np.concatenate([[k], i[::-1], [k], i + k])
    return pv.PolyData(points, np.concatenate([sides, lids]))


def segments(ends: NDArray[np.float64]) -> pv.PolyData:
    """Straight pieces (n, 2, 3) as lines."""
    first = np.arange(0, 2 * len(ends), 2)
    return pv.PolyData(ends.reshape(-1, 3), lines=np.column_stack([first * 0 + 2, first, first + 1]).ravel())
