"""Openings of the bed that touch: a cutter that is free in them together, though in none of them alone.

The law: asked of the moves that the exact check calls strikes, where the cutter's way lies over openings that
touch; level by level the whole width of the cutter must lie within all of them as one. Every level is taken
at its widest cutter and its narrowest openings, so that what is wrong by rounding is a strike. Millimetres.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import inf

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from ..parser.job import Cutter
from .cutters import Profile, profile_of
from .paths import Paths
from .plan import circle_steps
from .solids import BedSolid, OpeningSolid

Floats = NDArray[np.float64]

MOST = 400  # contacts that are asked again: more are a program in the bed, not in its slots
LEVELS = 160  # of a cutter or a mouth that is not upright
WITHIN = 1e-5  # mm: how far a rounded outline may stick out
CHORDS = 48  # of an arc


def freed(bed: BedSolid, paths: Paths, contacts: Floats, cutters: NDArray[np.object_]) -> NDArray[np.bool_]:
    """(k,) which contacts (k, 3: path, v, place) of paths with the bed are none where openings are one."""
    free = np.zeros(len(contacts), np.bool_)
    groups = touching(bed.openings)
    if not groups or not len(contacts) or len(contacts) > MOST:
        return free
    for number, path in enumerate(contacts[:, 0].astype(np.int64).tolist()):
        cutter: Cutter | None = cutters[int(paths.row[path])]
        way = track(paths, path)
        if cutter is not None and way[:, 2].min() < bed.top:
            profile = profile_of(cutter)
            near = shapely.LineString(way[:, :2]) if len(way) > 1 else shapely.Point(way[0, :2])
            free[number] = any(within(bed.top, group, profile, way) for group in groups
                               if any(shapely.dwithin(outline(o, 0.0), near, profile.radius) for o in group))
    return free


def touching(openings: Sequence[OpeningSolid]) -> list[list[OpeningSolid]]:
    """Groups of openings that touch each other at the bed's face, two and more in each."""
    outlines = np.array([outline(opening, 0.0) for opening in openings], object)
    if len(outlines) < 2:
        return []
    one, other = shapely.STRtree(outlines).query(outlines, predicate="intersects")
    if (one != other).sum() == 0:
        return []
    group = np.arange(len(outlines))
    for a, b in zip(one.tolist(), other.tolist(), strict=True):
        group[group == group[a]] = group[b]
    found = [[openings[int(k)] for k in np.flatnonzero(group == each)] for each in np.unique(group)]
    return [each for each in found if len(each) > 1]


def outline(opening: OpeningSolid, deep: float) -> BaseGeometry:
    """An opening in plan so far below the bed's face; a round one as a polygon within its true circle."""
    x, y = opening.at
    if not opening.radius:
        return shapely.box(x - opening.half[0], y - opening.half[1], x + opening.half[0], y + opening.half[1])
    radius = opening.radius + max(0.0, opening.chamfer - deep)
    angles = np.linspace(0, 2 * np.pi, max(32, circle_steps(radius)), endpoint=False)
    return shapely.Polygon(np.column_stack((x + radius * np.cos(angles), y + radius * np.sin(angles))))


def track(paths: Paths, path: int) -> Floats:
    """(m, 3) the tip along a path, an arc as chords; one place where it goes straight down."""
    parts = np.linspace(0.0, 1.0, CHORDS + 1 if paths.arc[path] else 2)
    points = paths.places(np.full(len(parts), path), parts)
    if np.ptp(points[:, :2], axis=0).max() < WITHIN:
        return points[[points[:, 2].argmin()]]
    return points


def within(top: float, group: Sequence[OpeningSolid], profile: Profile, way: Floats) -> bool:
    """Whether a cutter on its way (m, 3) stays within openings as one, at every level below the bed's
    face."""
    lowest = float(way[:, 2].min())
    for above, below in levels(top, lowest, group, profile):
        region = shapely.union_all([outline(o, below) for o in group if o.depth >= below - 1e-9])
        part = lower_than(way, top - above)
        width = radius_at(profile, top - above - lowest)
        if part is not None and not shapely.covers(shapely.buffer(region, WITHIN), grown(part, width)):
            return False
    return True


def levels(top: float, lowest: float, group: Sequence[OpeningSolid], profile: Profile
           ) -> list[tuple[float, float]]:
    """(upper, lower) depths below the bed's face of the levels that the cutter passes through."""
    deepest = top - lowest
    marks = {0.0, deepest, *(min(o.depth, deepest) for o in group if o.depth < inf),
             *(min(o.chamfer, deepest) for o in group)}
    sloping = min(deepest, profile.tip_height)
    marks |= set(np.linspace(deepest - sloping, deepest, LEVELS).tolist()) if sloping > 0 else set()
    for mouth in {min(o.chamfer, deepest) for o in group if o.chamfer}:
        marks |= set(np.linspace(0.0, mouth, LEVELS).tolist())
    edges = sorted(marks)
    return [(a, b) for a, b in pairwise(edges) if b - a > 1e-12]


def radius_at(profile: Profile, height: float) -> float:
    """The cutter's radius so far above its tip, at the most."""
    if height >= profile.tip_height:
        return profile.radius
    radii = np.linspace(0.0, profile.radius, 2001)
    reached = np.flatnonzero(profile.below(radii) <= height + 1e-12)
    return float(radii[min(reached[-1] + 1, 2000)]) if len(reached) else 0.0


def lower_than(way: Floats, z: float) -> BaseGeometry | None:
    """The part of a way in plan where the tip is below z; None where it is nowhere."""
    if len(way) == 1:
        return shapely.Point(way[0, :2]) if way[0, 2] < z else None
    pieces = []
    for a, b in pairwise(way):
        low = [p for p in (a, b) if p[2] < z]
        if len(low) == 1:
            low.append(a + (b - a) * ((z - a[2]) / (b[2] - a[2])))
        if len(low) == 2:
            line = shapely.LineString([p[:2] for p in low])
            pieces.append(line if line.length else shapely.Point(low[0][:2]))
    return shapely.union_all(pieces) if pieces else None


def grown(part: BaseGeometry, radius: float) -> BaseGeometry:
    return shapely.buffer(part, radius, quad_segs=max(8, circle_steps(max(radius, 1e-3)) // 4))
