"""What a piece along the border is: a point between two passes that turn round, a corner, or a strip.

The law: two passes side by side leave a point where their ends lie farther inside the border than
sqrt(R² - (s/2)²), and only nearer passes or a longer path take it away (textbook geometry). Millimetres.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from .cutters import profile_of
from .faced import Faced
from .leftovers import AT_EDGE, Leftover

STRIP = 8.0  # times longer than wide: a strip, though it ends in a corner
OPEN = np.cos(np.pi / 12)  # cosine of the bend that makes a corner of a border


@dataclass(frozen=True)
class Margin:
    """What a piece at the border is, as a message begins; `closer`: the step between passes that would finish
    it, None where no step would."""

    said: str
    closer: float | None = None


def margin(face: Faced, piece: Leftover) -> Margin:
    """What a piece at the border of a wanted face is."""
    ends = turning(face, piece)
    if ends is not None:
        radius, step = reach_of(face, piece), float(shapely.distance(*ends))
        inside = float(shapely.distance(ends, face.wanted.area.boundary).max())
        closer = 2 * sqrt(radius**2 - inside**2) if inside < radius else 0.0
        return Margin("A point between passes that turn round", closer if 0 < closer < step else None)
    corner = corners_of(face.wanted.area, piece.shape) == 1 and piece.length < STRIP * piece.width
    return Margin("A corner" if corner else "A strip")


def turning(face: Faced, piece: Leftover) -> NDArray[np.object_] | None:
    """The two places at which the path turns or ends on either side of a piece, None unless that is what lies
    beside it."""
    motion, rows, at = face.evidence.motion, piece.flanks, np.asarray(piece.at)
    found: list[tuple[float, float]] = []
    for row in rows:
        start, way = motion.start[row, :2], motion.end[row, :2] - motion.start[row, :2]
        square = float(way @ way)
        part = float((at - start) @ way) / square if square else 0.0
        if motion.arc[row] >= 0 or 0 < part < 1:
            return None
        x, y = (start + min(max(part, 0.0), 1.0) * way).tolist()
        if all(np.hypot(x - u, y - v) > AT_EDGE for u, v in found):
            found.append((x, y))
    return np.asarray(shapely.points(found)) if len(found) == 2 else None


def reach_of(face: Faced, piece: Leftover) -> float:
    """How far the cutter of the first pass beside a piece reaches at the height asked for."""
    row = piece.flanks[0]
    slack = face.wanted.highest - float(face.evidence.motion.end[row, 2])
    return profile_of(face.evidence.cutters[row]).reach(slack)


def corners_of(area: BaseGeometry, piece: BaseGeometry) -> int:
    """How many corners of the border a piece takes in."""
    count = 0
    for ring in shapely.get_rings(area):
        places = shapely.get_coordinates(ring)[:-1]
        into, out = places - np.roll(places, 1, axis=0), np.roll(places, -1, axis=0) - places
        bend = np.einsum("ij,ij->i", into, out) / (np.hypot(*into.T) * np.hypot(*out.T))
        corners = shapely.points(places[bend < OPEN])
        count += int((shapely.distance(corners, piece) <= AT_EDGE).sum())
    return count
