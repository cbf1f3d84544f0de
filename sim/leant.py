"""What a leaning flat cutter finishes: the low part of its disc, swept.

The law: a place is finished where some part of the leaning disc left it low enough; that part is the disc
cut off along a chord, and its sweep is drawn within the true one. Where even the rim's high side is low
enough the cutter finishes as an upright one does, and is none of this. Millimetres, board frame.
"""

from __future__ import annotations

from itertools import pairwise
from math import acos, atan2, hypot

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from ..parser.motion import Motion
from .passes import Stamp
from .plan import SAGITTA, circle_steps, joined
from .stretches import arc_points
from .tram import Tilt

Floats = NDArray[np.float64]

RAMP = 16  # discs along a sloping move
COARSE = 1e-3  # mm: chords of an arc; its sweep is drawn so much too small at most


def leant_stamp(motion: Motion, row: int, radius: float, highest: float, tilt: Tilt) -> Stamp | None:
    """What a move of a flat cutter finishes, None where that is nothing."""
    places = places_of(motion, row)
    exact = 1.0 if motion.arc[row] < 0 else SAGITTA / COARSE
    discs = [low_part(place, radius, highest, tilt, exact) for place in places]
    hulls = [shapely.convex_hull(shapely.MultiPoint(np.concatenate((a, b))))
             for a, b in pairwise(discs if len(discs) > 1 else discs * 2) if len(a) and len(b)]
    whole = joined(hull for hull in hulls if hull.geom_type == "Polygon")
    return None if whole.is_empty else Stamp(whole, row, path_of(places))


def places_of(motion: Motion, row: int) -> Floats:
    """(k, 3) places along a move, close enough together that the sweep between two is their hull."""
    if motion.arc[row] >= 0:
        points = arc_points(motion, row)
        fewer = max(1, int(np.sqrt(COARSE / SAGITTA)))
        return points[np.unique(np.append(np.arange(0, len(points), fewer), len(points) - 1))]
    start, end = motion.start[row], motion.end[row]
    if start[2] == end[2]:
        return np.array((start, end))
    return start + np.linspace(0, 1, RAMP + 1)[:, None] * (end - start)


def low_part(place: Floats, radius: float, highest: float, tilt: Tilt, exact: float = 1.0) -> Floats:
    """(k, 2) corners, within the true arc, of the part of a leaning disc that lies at or below `highest`;
    `exact`: SAGITTA by how near to it they come."""
    lean, slack = hypot(*tilt), highest - float(place[2])
    if slack < 0:
        return np.empty((0, 2))
    chord = radius - slack / lean  # how far down the lean from the axis the part begins
    if chord >= radius:
        return np.empty((0, 2))
    half = acos(max(-1.0, chord / radius))
    middle = atan2(-tilt[1], -tilt[0])
    turn = middle + np.linspace(-half, half, 2 + circle_steps(radius * exact, 2 * half))
    return place[:2] + radius * np.column_stack((np.cos(turn), np.sin(turn)))


def path_of(places: Floats) -> BaseGeometry:
    flat = places[:, :2]
    return shapely.Point(flat[0]) if (flat == flat[0]).all() else shapely.LineString(flat)
