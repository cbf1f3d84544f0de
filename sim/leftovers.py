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

from .passes import Passes

Spot = tuple[float, float]
Floats = NDArray[np.float64]

LEAST_WIDTH = 1e-4  # mm
LEAST_AREA = 1e-3  # mm²
ON_BORDER = 0.3  # part of its outline that makes a piece an edge-left
SLENDER = 5.0  # times longer than wide: a ridge
BESIDE_PASSES = 0.8  # part of a ridge's long sides that passes lie along
STRAIGHT = 1e-8  # mm: corners that lie so close to a straight edge are none
CENTRED = 1e-3  # of the widest disc's radius: how far it may be from fitting best
AT_EDGE = 1e-3  # mm: an outline that lies closer to an edge lies on it
AS_LONG = 0.9  # of the longest stretch: one as long
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
    for piece in shapely.get_parts(opened.simplify(STRAIGHT)):
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
    """Diameter and centre of the widest disc that fits into a polygon.

    Its radius is at least area/outline. Shrinking finds the centre; the diameter is then measured there.
    """
    low = piece.area / piece.length * 0.999
    high, inner = 2 * low, piece
    while not (shrunk := _shrunk(piece, high)).is_empty:
        low, high, inner = high, 2 * high, shrunk
    while high - low > CENTRED * high:
        middle = (low + high) / 2
        shrunk = _shrunk(piece, middle)
        low, high, inner = (middle, high, shrunk) if not shrunk.is_empty else (low, middle, inner)
    spot = inner.representative_point()
    return 2 * float(spot.distance(piece.boundary)), (spot.x, spot.y)


def _shrunk(piece: BaseGeometry, by: float) -> BaseGeometry:
    return piece.buffer(-by, join_style="mitre")


def share_on(piece: BaseGeometry, border: BaseGeometry) -> float:
    """What part of a piece's outline lies on the border."""
    near = shapely.intersection(piece.boundary, border.buffer(AT_EDGE, cap_style="flat"))
    return float(near.length / piece.length)


def _alongside(piece: BaseGeometry, passes: Passes) -> tuple[tuple[int, ...], float]:
    """Rows of the moves whose footprints end at a piece's outline, the longest stretch first, and the
    part of the outline where one does."""
    places = _along(piece)
    place, row = _ends_of_passes(places, passes)
    if passes.stamps:
        beside = shapely.STRtree([stamp.shape.boundary for stamp in passes.stamps])
        more, stamp = beside.query(shapely.points(places), predicate="dwithin", distance=AT_EDGE)
        place = np.concatenate((place, more))
        row = np.concatenate((row, np.array([stamp.row for stamp in passes.stamps], np.int64)[stamp]))
    touched, first = np.unique(place, return_index=True)
    rows, count = np.unique(row[first], return_counts=True)
    return _longest_first(rows, count), len(touched) / len(places)


def _ends_of_passes(places: Floats, passes: Passes) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """(place, row of the motion) where a pass's footprint ends, the nearest first."""
    if not len(passes):
        return np.empty(0, np.int64), np.empty(0, np.int64)
    place, number = passes.within(places, float(passes.reach[:, 1].max()) + AT_EDGE)
    gap = np.abs(passes.distance(places[place], number) - passes.reach[number, 1])
    order = np.lexsort((number, gap, place))
    order = order[gap[order] <= AT_EDGE]
    return place[order], passes.row[number[order]]


def _longest_first(rows: NDArray[np.int64], count: NDArray[np.int64]) -> tuple[int, ...]:
    """Rows by how many places each touches; those about as long as the longest in program order, so that
    rounding never decides which line is named."""
    shorter = np.where(count >= AS_LONG * count.max(initial=0), 0, -count)
    return tuple(rows[np.lexsort((rows, shorter))].tolist())


def _along(piece: BaseGeometry) -> Floats:
    """(SAMPLES, 2) places spread evenly over a piece's outline."""
    rings = shapely.get_rings(piece)
    longest = [max(8, round(SAMPLES * ring.length / piece.length)) for ring in rings]
    spread = [shapely.line_interpolate_point(ring, (np.arange(n) + 0.5) / n, normalized=True)
              for ring, n in zip(rings, longest, strict=True)]
    return shapely.get_coordinates(np.concatenate(spread))


def _step(at: Spot, rows: tuple[int, ...], passes: Passes) -> float | None:
    """Distance between the paths of the two moves that flank a place on either side."""
    apart = [_away(at, row, passes) for row in rows[:2]]
    return None if len(apart) < 2 or None in apart else float(sum(each for each in apart if each is not None))


def _away(at: Spot, row: int, passes: Passes) -> float | None:
    """How far the path of a move lies from a place; None where it is not known."""
    numbers = np.flatnonzero(passes.row == row)
    if len(numbers):
        return float(passes.distance(np.broadcast_to(at, (len(numbers), 2)), numbers).min())
    paths = [stamp.path for stamp in passes.stamps if stamp.row == row and stamp.path is not None]
    return min((float(shapely.distance(path, shapely.Point(at))) for path in paths), default=None)
