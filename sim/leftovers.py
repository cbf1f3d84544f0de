"""Leftovers: the connected pieces of a wanted face that no pass finished, and what each of them is.

The law: the first that fits: edge-left (30 % or more of its outline on the wanted border), ridge (at least
5 times longer than wide, with passes along both long sides), missed-area. Pieces under 1e-4 mm wide or
1e-3 mm² are the noise of geometry and are dropped. Millimetres, board frame.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from .footprints import Passes

Spot = tuple[float, float]
Floats = NDArray[np.float64]

LEAST_WIDTH = 1e-4  # mm
LEAST_AREA = 1e-3  # mm²
ON_BORDER = 0.3  # part of its outline that makes a piece an edge-left
SLENDER = 5.0  # times longer than wide: a ridge
BESIDE_PASSES = 0.8  # part of a ridge's long sides that passes lie along
AT_EDGE = 1e-3  # mm: an outline that lies closer to an edge lies on it
SAMPLES = 400  # places on an outline where its neighbour is looked up


@dataclass(frozen=True)
class Leftover:
    """A piece that stays uncut. width: the widest disc in it · length: along it · depth: how far it
    reaches in from the wanted border · at: its middle · flanks: rows of the moves whose passes lie along
    it, the longest first · step: distance of the two nearest paths (None: fewer)."""

    kind: str
    shape: BaseGeometry
    width: float
    length: float
    depth: float
    at: Spot
    flanks: tuple[int, ...]
    step: float | None

    @property
    def area(self) -> float:
        """mm²"""
        return float(self.shape.area)


def leftovers(left: BaseGeometry, border: BaseGeometry, passes: Passes) -> list[Leftover]:
    """The pieces of an uncovered region, largest first. `border` is the outline of the wanted face."""
    found = [_leftover(piece, border, passes) for piece in pieces(left)]
    return sorted(found, key=lambda each: (-round(each.area, 6), each.at))


def pieces(left: BaseGeometry) -> Iterator[BaseGeometry]:
    """The connected parts of a region that are wide and large enough to be there."""
    half = LEAST_WIDTH / 2
    opened = left.buffer(-half, join_style="mitre").buffer(half, join_style="mitre")
    for piece in shapely.get_parts(opened):
        if piece.area >= LEAST_AREA:
            yield piece


def _leftover(piece: BaseGeometry, border: BaseGeometry, passes: Passes) -> Leftover:
    width, at = widest_disc(piece)
    length = max(width, piece.length / 2 - width)
    rows, share = _alongside(piece, passes)
    step = _step(at, rows, passes)
    if share_on(piece, border) >= ON_BORDER:
        kind = "edge-left"
    elif length >= SLENDER * width and share * piece.length >= BESIDE_PASSES * (piece.length - 2 * width):
        kind = "ridge"
    else:
        kind = "missed-area"
    outline = np.concatenate((shapely.get_coordinates(piece), _along(piece)))
    depth = float(shapely.distance(shapely.points(outline), border).max())
    return Leftover(kind, piece, width, length, depth, at, rows, step)


def widest_disc(piece: BaseGeometry) -> tuple[float, Spot]:
    """Diameter and centre of the widest disc that fits into a polygon (diameter to 1e-6 of itself).

    The disc's radius is between area/outline and half the least side of the bounding box.
    """
    x0, y0, x1, y1 = piece.bounds
    low, high = piece.area / piece.length * 0.999, min(x1 - x0, y1 - y0) / 2
    inner = piece
    while high - low > 1e-6 * high:
        middle = (low + high) / 2
        shrunk = piece.buffer(-middle, join_style="mitre")
        low, high, inner = (middle, high, shrunk) if not shrunk.is_empty else (low, middle, inner)
    spot = inner.representative_point() if not inner.is_empty else piece.representative_point()
    return 2 * low, (spot.x, spot.y)


def share_on(piece: BaseGeometry, border: BaseGeometry) -> float:
    """What part of a piece's outline lies on the border."""
    near = shapely.intersection(piece.boundary, border.buffer(AT_EDGE, cap_style="flat"))
    return float(near.length / piece.length)


def _alongside(piece: BaseGeometry, passes: Passes) -> tuple[tuple[int, ...], float]:
    """Rows of the moves whose footprints end at a piece's outline, the longest stretch first, and the
    part of the outline where one does."""
    near = _near(piece, passes)
    if not len(near):
        return (), 0.0
    places = _along(piece)
    pairs = np.repeat(near, len(places))
    gap = np.abs(passes.distance(np.tile(places, (len(near), 1)), pairs) - passes.reach[pairs, 1])
    gap = gap.reshape(len(near), len(places))
    touched = gap.min(axis=0) <= AT_EDGE
    rows, count = np.unique(passes.row[near[gap.argmin(axis=0)[touched]]], return_counts=True)
    return tuple(rows[np.argsort(-count, kind="stable")].tolist()), float(touched.mean())


def _near(piece: BaseGeometry, passes: Passes) -> NDArray[np.int64]:
    """Numbers of the passes that may touch a piece."""
    x0, y0, x1, y1 = piece.bounds
    corner = np.hypot(x1 - x0, y1 - y0) / 2
    numbers = np.arange(len(passes))
    middle = np.broadcast_to(((x0 + x1) / 2, (y0 + y1) / 2), (len(passes), 2))
    return numbers[passes.distance(middle, numbers) <= passes.reach[:, 1] + corner + AT_EDGE]


def _along(piece: BaseGeometry) -> Floats:
    """(SAMPLES, 2) places spread evenly over a piece's outline."""
    rings = shapely.get_rings(piece)
    longest = [max(8, round(SAMPLES * ring.length / piece.length)) for ring in rings]
    spread = [shapely.line_interpolate_point(ring, (np.arange(n) + 0.5) / n, normalized=True)
              for ring, n in zip(rings, longest, strict=True)]
    return shapely.get_coordinates(np.concatenate(spread))


def _step(at: Spot, rows: tuple[int, ...], passes: Passes) -> float | None:
    """Distance between the paths of the two moves that flank a place on either side."""
    numbers = np.flatnonzero(np.isin(passes.row, rows[:2]))
    if len(rows) < 2:
        return None
    apart = passes.distance(np.broadcast_to(at, (len(numbers), 2)), numbers)
    return float(sum(apart[passes.row[numbers] == row].min() for row in rows[:2]))
