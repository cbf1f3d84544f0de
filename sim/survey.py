"""A board that is not flat: measured heights, or the surface that an earlier run left.

The law: between measured places heights are interpolated (flat triangles); beyond the outermost of them
the nearest measured edge goes on level, and how much of the board that is gets said. Nothing is put where
the board is not.
"""

from __future__ import annotations

from math import floor

import numpy as np
import shapely
from numpy.typing import NDArray

from .surface import Surface

Floats = NDArray[np.float64]

LEAST = 3  # places that make a survey


class SurveyUnusable(ValueError):
    """Too few measured places, or places that are no numbers; the message says which."""


def lay_survey(surface: Surface, points: Floats) -> float:
    """Put measured tops (n, 3: x, y, z, mm, board frame) on the board.

    Returns the share of the board that was not between them: there heights are a guess. Places measured
    twice are averaged. Raises SurveyUnusable for fewer than three different places.
    """
    places, heights = _distinct(np.asarray(points, np.float64).reshape(-1, 3))
    board = surface.on_board
    edges, triangles = _mesh(places)
    inside = np.zeros(surface.shape, np.bool_)
    for triangle in triangles:
        _lay_triangle(surface, places[triangle], heights[triangle], board, inside)
    beyond = board & ~inside
    for j in np.flatnonzero(beyond.any(axis=1)):
        i = np.flatnonzero(beyond[j])
        at = np.column_stack([surface.x[i], np.full(len(i), surface.y[j])])
        surface.heights[j, i] = _nearest_edge(at, places[edges], heights[edges])
    return float(beyond.sum() / max(1, board.sum()))


def _distinct(points: Floats) -> tuple[Floats, Floats]:
    """Different places (m, 2) and their mean heights (m,)."""
    if not np.isfinite(points).all():
        raise SurveyUnusable("a measured place is not a number")
    places, which = np.unique(points[:, :2], axis=0, return_inverse=True)
    if len(places) < LEAST:
        raise SurveyUnusable(f"a survey needs {LEAST} different places; this one has {len(places)}")
    which = which.reshape(-1)
    return places, np.bincount(which, points[:, 2]) / np.bincount(which)


def _mesh(places: Floats) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Outer edges (e, 2) and triangles (t, 3) between places; places in one line have no triangle."""
    from scipy.spatial import Delaunay, QhullError  # slow to load, and few boards are measured

    try:
        mesh = Delaunay(places)
    except QhullError:
        along = np.argsort((places - places.mean(axis=0)) @ np.linalg.svd(places - places.mean(axis=0))[2][0])
        return np.column_stack([along[:-1], along[1:]]), np.empty((0, 3), np.intp)
    return np.asarray(mesh.convex_hull, np.intp), np.asarray(mesh.simplices, np.intp)


def _lay_triangle(surface: Surface, corners: Floats, heights: Floats, board: NDArray[np.bool_],
                  inside: NDArray[np.bool_]) -> None:
    """The plane through three measured places, on the board's cells between them."""
    a, b, c = np.linalg.solve(np.column_stack([corners, np.ones(3)]), heights)
    x, y = surface.x, surface.y
    for j, i0, i1 in surface.spans(shapely.Polygon(corners)):
        here = board[j, i0:i1]
        surface.heights[j, i0:i1][here] = (a * x[i0:i1] + b * y[j] + c)[here]
        inside[j, i0:i1] = True


def _nearest_edge(at: Floats, ends: Floats, heights: Floats) -> Floats:
    """Heights (n,) at places (n, 2): of the nearest point on edges (e, 2, 2) with end heights (e, 2)."""
    start, step = ends[:, 0], ends[:, 1] - ends[:, 0]
    part = ((at[:, None] - start) * step).sum(axis=2) / np.maximum((step * step).sum(axis=1), 1e-30)
    part = np.clip(part, 0, 1)
    away = np.square(at[:, None] - start - part[..., None] * step).sum(axis=2)
    nearest, rows = away.argmin(axis=1), np.arange(len(at))
    return heights[nearest, 0] + part[rows, nearest] * (heights[nearest, 1] - heights[nearest, 0])


def lay_surface(surface: Surface, saved: Surface) -> float:
    """Put a surface that an earlier run left on the board: each cell takes the cell that its centre lies in.

    Returns the share of the board that the saved surface does not cover; it keeps the heights it had.
    """
    ny, nx = saved.shape
    i, j = (np.floor((at - start) / saved.cell + 1e-9).astype(np.int64)
            for at, start in ((surface.x, saved.x0), (surface.y, saved.y0)))
    columns, rows = (i >= 0) & (i < nx), (j >= 0) & (j < ny)
    bare = 0
    for row, run in enumerate(surface.heights):
        taken = np.full(len(run), np.nan, np.float32)
        if rows[row]:
            taken[columns] = saved.heights[j[row], i[columns]]
        known, board = ~np.isnan(taken), ~np.isnan(run)
        bare += int((board & ~known).sum())
        run[known & board] = taken[known & board]
    return bare / max(1, int(surface.on_board.sum()))


def lowest_places(surface: Surface, count: int, apart: float) -> list[tuple[float, float, float]]:
    """The lowest places of the board (x, y, z), lowest first, each at least `apart` mm from the others."""
    heights = np.where(surface.on_board, surface.heights, np.inf)
    near, found = max(1, floor(apart / surface.cell)), []
    for _ in range(count):
        j, i = np.unravel_index(heights.argmin(), heights.shape)
        if not np.isfinite(heights[j, i]):
            break
        found.append((float(surface.x[i]), float(surface.y[j]), float(heights[j, i])))
        heights[max(0, j - near):j + near + 1, max(0, i - near):i + near + 1] = np.inf
    return found
