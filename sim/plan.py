"""The board from above: wanted faces, holes and recesses as regions of the plan.

The law: straight edges are exact. A disc is a polygon around the true circle, at most `SAGITTA` outside
it, so that what is left out for a hole never leaves a rim of the hole behind. Millimetres, board frame.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from ..parser.job import Face, Holes, Job, Stage
from .solids import spots

Spot = tuple[float, float]

SAGITTA = 1e-5  # mm: farthest that a polygon's edge lies from the arc it stands for
GRID = 1e-9  # mm: corners are put on this grid, since edges that nearly coincide mislead exact geometry
QUIETLY = np.errstate(divide="ignore", invalid="ignore")  # exact geometry divides by zero inside itself
SIZE_ALLOWED = 0.1  # mm: how far a hole's diameter may be off


@dataclass(frozen=True)
class Wanted:
    """A wanted face: its area in plan (on the board), the Z it lies at, and what may differ."""

    area: BaseGeometry
    z: float
    tolerance: float
    ridge: float

    @property
    def highest(self) -> float:
        """Z at or below which a place is finished."""
        return self.z + self.tolerance

    @property
    def lowest(self) -> float:
        """Z below which a place is cut too deep."""
        return self.z - self.tolerance


def wanted_faces(stage: Stage, board: BaseGeometry) -> tuple[Wanted, ...]:
    """The stage's wanted faces; one without an area is the whole board."""
    return tuple(Wanted(face_area(face, board), face_height(face, stage), face.tolerance, face.ridge)
                 for face in stage.face)


def face_area(face: Face, board: BaseGeometry) -> BaseGeometry:
    """The plan area of a wanted face, as far as there is board under it."""
    if face.outline is not None:
        return common(shapely.Polygon(face.outline), board)
    if face.x is None and face.y is None:
        return board
    x0, y0, x1, y1 = board.bounds
    (x0, x1), (y0, y1) = face.x or (x0, x1), face.y or (y0, y1)
    return common(shapely.box(x0, y0, x1, y1), board)


def face_height(face: Face, stage: Stage) -> float:
    """Z of a wanted face: as given, or `depth` below the stage's zero."""
    if face.z is not None:
        return face.z
    return stage.zero[2] - (face.depth or 0.0)


@QUIETLY
def joined(regions: Iterable[BaseGeometry]) -> BaseGeometry:
    """Regions as one; nearly coinciding edges are one edge."""
    parts = _outermost(_different(regions))
    near, other = shapely.STRtree(parts).query(parts)
    crowded = np.bincount(near[near != other], minlength=len(parts)) > 0
    alone, union = parts[~crowded], shapely.union_all(parts[crowded], grid_size=GRID)
    return _areas(shapely.GeometryCollection([*alone, *shapely.get_parts(union)]))


def _different(regions: Iterable[BaseGeometry]) -> NDArray[np.object_]:
    """The polygons of regions, each once: a hole is often wanted, drilled and recessed at one place."""
    parts = shapely.get_parts(list(regions))
    looks = np.column_stack((shapely.bounds(parts), shapely.get_num_coordinates(parts)))
    _, look, often = np.unique(looks, axis=0, return_inverse=True, return_counts=True)
    some = np.flatnonzero(often[look.reshape(-1)] > 1)  # only what looks alike is compared point by point
    first = np.sort(np.unique(shapely.to_wkb(parts[some]), return_index=True)[1])
    return np.delete(parts, np.setdiff1d(some, some[first]))


def _outermost(parts: NDArray[np.object_]) -> NDArray[np.object_]:
    """Polygons less those wholly inside another: a screw's hole in its recess would be a slow union."""
    inside = shapely.STRtree(parts).query(parts, predicate="contains_properly")[1]
    return np.delete(parts, np.unique(inside))


@QUIETLY
def without(region: BaseGeometry, other: BaseGeometry) -> BaseGeometry:
    """What of a region lies outside another. Round parts have thousands of corners: those that lie wholly
    inside become holes as they are, and only what meets the region's border is cut there."""
    parts = shapely.get_parts(other)
    parts = parts[shapely.intersects(region, parts)]
    if not len(parts):
        return region
    inside = shapely.contains_properly(region, parts)
    rest = region if inside.all() else shapely.difference(
        region, shapely.MultiPolygon(list(parts[~inside])), grid_size=GRID)
    made = _with_holes(rest, parts[inside]) if inside.any() else rest
    return _areas(shapely.difference(region, other, grid_size=GRID) if made is None else made)


def _with_holes(region: BaseGeometry, parts: NDArray[np.object_]) -> BaseGeometry | None:
    """A region with holes where some parts are that lie inside it; None where these are no simple holes, or
    touch one another or the border."""
    if shapely.get_num_interior_rings(parts).any():
        return None
    pieces, put = [], 0
    for piece in shapely.get_parts(region):
        mine = parts[shapely.contains_properly(piece, parts)]
        put += len(mine)
        pieces.append(shapely.Polygon(piece.exterior, [*piece.interiors, *(part.exterior for part in mine)]))
    made = pieces[0] if len(pieces) == 1 else shapely.MultiPolygon(pieces)
    return made if put == len(parts) and shapely.is_valid(made) else None


@QUIETLY
def common(region: BaseGeometry, other: BaseGeometry) -> BaseGeometry:
    """What of a region lies inside another."""
    return _areas(shapely.intersection(region, other, grid_size=GRID))


def _areas(found: BaseGeometry) -> BaseGeometry:
    """The polygons of a result; where regions only touch, it holds lines and points too."""
    if found.geom_type in ("Polygon", "MultiPolygon"):
        return found
    return shapely.MultiPolygon([part for part in shapely.get_parts(found) if part.geom_type == "Polygon"])


def circle_steps(radius: float, span: float = 2 * np.pi) -> int:
    """How many chords keep within `SAGITTA` of an arc of `span` radians."""
    step = 2 * np.arccos(max(0.0, 1 - SAGITTA / radius)) if radius > SAGITTA else np.pi / 2
    return max(1, int(np.ceil(span / step)))


def disc(at: Spot, radius: float) -> BaseGeometry:
    """A disc in plan, as a polygon around the true circle."""
    return shapely.Polygon(np.asarray(at) + _rim(radius))


def discs(places: Iterable[Spot], radius: float) -> BaseGeometry:
    """Discs of one radius, as one region."""
    rim = _rim(radius)
    return joined(shapely.Polygon(np.asarray(at) + rim) for at in places)


def _rim(radius: float) -> NDArray[np.float64]:
    """(n, 2) corners of a polygon around a circle about the origin."""
    steps = max(8, circle_steps(radius))
    angles = np.arange(steps) * (2 * np.pi / steps)
    return np.column_stack((np.cos(angles), np.sin(angles))) * (radius / np.cos(np.pi / steps))


def hole_spots(holes: Holes, job: Job) -> list[Spot]:
    """Where a table of wanted holes wants them, in written order."""
    like = [opening for opening in (job.bed.openings if job.bed else ()) if opening.name == holes.like]
    tables = [holes, *like] if holes.like is not None else [holes]
    return [at for table in tables for at, _ in spots(table.at, table.grid)]


def wanted_holes(job: Job) -> BaseGeometry:
    """The wanted holes of every stage, as a region."""
    return _hole_discs(job, lambda holes: 0.0)


def allowed_holes(job: Job, about: float = 0.0) -> BaseGeometry:
    """Where a hole that is neither off nor of wrong size may take material, and so much about it."""
    return _hole_discs(job, lambda holes: holes.tolerance + SIZE_ALLOWED / 2 + about)


def _hole_discs(job: Job, grown: Callable[[Holes], float]) -> BaseGeometry:
    return joined(discs(hole_spots(holes, job), holes.diameter / 2 + grown(holes))
                  for stage in job.stages for holes in stage.holes if holes.diameter)
