"""How far every place of the board lies from the nearest screw or clamp: the farthest cut place, and a map.

The law: a place under a head or a clamp is 0 away; of a board in several pieces only what bears on a piece
holds it. Distances are exact at every place asked; the farthest cut place is the farthest of all the map's
cells. A board held only at its corners vibrates in its middle. Millimetres, board frame.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import ceil

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from .evidence import Evidence, Phase, once
from .feeds import Rows, cutting
from .parts import Piece
from .solids import ClampSolid, HeadSolid
from .stage_figures import HoldFigures, HoldMap

SPAN, SPAN_THIN, THIN = 200.0, 120.0, 12.0  # mm: spans, and the thickness under which boards are thin
BLOCK = 2.0  # mm: cells are first asked in blocks so large
PLACES = 30  # of the map along the board's longer side
LINES = (50.0, 2 * 25.4)  # a line of the map every so many mm, or every two inches
ROUNDS = (1.0, 2.0, 5.0)
FEW = 32  # heads of one size that are asked one by one

Holder = HeadSolid | ClampSolid
Floats = NDArray[np.float64]


@once
def farthest_cut(evidence: Evidence) -> list[tuple[Piece, tuple[float, float], int, float]]:
    """For each phase and piece that something holds: the cut place farthest from all that holds it, the move
    that cut it last, and how far it is."""
    found = []
    for phase, piece, holders in on_pieces(evidence):
        worst = _farthest(evidence, phase, piece, holders) if holders else None
        if worst is not None:
            found.append((piece, *worst))
    return found


def hold_figures(evidence: Evidence) -> HoldFigures | None:
    """The cut place of a stage that is farthest from what holds it, and the map; None where nothing does."""
    worst = max(farthest_cut(evidence), key=lambda each: each[3], default=None)
    if worst is None:
        return None
    return HoldFigures(worst[3], worst[1], int(evidence.motion.line[worst[2]]), span_of(evidence, worst[0]),
                       hold_map(evidence))


def on_pieces(evidence: Evidence) -> Iterator[tuple[Phase, Piece, list[Holder]]]:
    """Each phase and piece with what holds that piece: of several, only what bears on it."""
    for phase in evidence.phases:
        for piece in evidence.lying:
            several = len(evidence.lying) > 1
            yield phase, piece, bearing(phase, piece.outline) if several else [
                *phase.solids.heads, *phase.solids.clamps]


def bearing(phase: Phase, part: BaseGeometry) -> list[Holder]:
    """The screws, washers and clamps of a phase that bear on a part."""
    heads = [head for head in phase.solids.heads if part.intersects(shapely.Point(head.at))]
    return [*heads, *(clamp for clamp in phase.solids.clamps if part.intersects(clamp.footprint.shape))]


def span_of(evidence: Evidence, piece: Piece) -> float:
    """The farthest that a cut place may lie from what holds a piece of the board."""
    usual = SPAN_THIN if piece.thickness is not None and piece.thickness < THIN else SPAN
    return usual if evidence.job.board.span is None else evidence.job.board.span


def from_nearest(holders: Sequence[Holder], places: Floats) -> Floats:
    """(k,) how far places (k, 2) lie from the nearest of some holders, 0 under it; heads of one size, of
    which there may be hundreds, go through a tree."""
    away = np.full(len(places), np.inf)
    for radius in {holder.radius for holder in holders if isinstance(holder, HeadSolid)}:
        axes = [each.at for each in holders if isinstance(each, HeadSolid) and each.radius == radius]
        away = np.minimum(away, np.maximum(_from_axes(np.array(axes), places) - radius, 0.0))
    for clamp in holders:
        if not isinstance(clamp, HeadSolid):
            away = np.minimum(away, clamp.footprint.away(*places.T))
    return away


def _from_axes(axes: Floats, places: Floats) -> Floats:
    """(k,) how far places lie from the nearest of some axes (n, 2)."""
    if len(axes) > FEW:
        from scipy.spatial import KDTree  # slow to load, and few boards have so many screws

        return KDTree(axes).query(places)[0]
    nearest = np.full(len(places), np.inf)
    for x, y in axes.tolist():
        dx, dy = places[:, 0] - x, places[:, 1] - y
        np.minimum(nearest, dx * dx + dy * dy, out=nearest)
    return np.sqrt(nearest)


# --- the farthest cut place ---------------------------------------------------------------------------

def _farthest(evidence: Evidence, phase: Phase, piece: Piece, holders: Sequence[Holder]
              ) -> tuple[tuple[float, float], int, float] | None:
    """The cell of a piece that a phase cut last and that lies farthest from some holders.

    A distance changes by no more than the way: of blocks of cells only those can hold the farthest whose
    middle lies at most a block's diagonal nearer than the farthest middle.
    """
    surface = evidence.surface
    size = max(1, int(BLOCK / surface.cell))
    blocks = _cut_blocks(evidence, phase, piece, size)
    if not len(blocks):
        return None
    half = size * surface.cell / 2
    corner = np.array((surface.x0 + half, surface.y0 + half))
    away = from_nearest(holders, blocks.astype(np.float64) * surface.cell + corner)
    places, rows = _cut_cells(evidence, phase, piece, blocks[away >= away.max() - 2 * half * 2 ** 0.5], size)
    away = from_nearest(holders, places)
    worst = int(np.argmax(away))
    x, y = places[worst].tolist()
    return (x, y), int(rows[worst]), float(away[worst])


def _cut_blocks(evidence: Evidence, phase: Phase, piece: Piece, size: int) -> NDArray[np.intp]:
    """(k, 2) first column and row of every block with a cell of the piece that the phase cut last."""
    rows, columns = evidence.surface.shape
    mine = evidence.surface.mask(piece.outline) if len(evidence.lying) > 1 else None
    found = []
    for first in range(0, rows, size):
        some = slice(first, min(rows, first + size))
        cut = _cut_in(evidence, phase, evidence.surface.last[some]) if mine is None else _cut_in(
            evidence, phase, evidence.surface.last[some]) & mine[some]
        across = np.flatnonzero(np.logical_or.reduceat(cut.any(axis=0), np.arange(0, columns, size))) * size
        found.append(np.column_stack((across, np.full(len(across), first))))
    return np.concatenate(found)


def _cut_cells(evidence: Evidence, phase: Phase, piece: Piece, blocks: NDArray[np.intp], size: int
               ) -> tuple[Floats, Rows]:
    """(k, 2) the cut cells of the piece in some blocks, and (k,) the move that cut each last."""
    surface = evidence.surface
    j, i = (np.arange(size)[side] + blocks[:, axis, None, None] for side, axis in (
        (np.s_[:, None], 1), (np.s_[None, :], 0)))
    j, i = (each.ravel() for each in np.broadcast_arrays(j, i))
    inside = (j < surface.shape[0]) & (i < surface.shape[1])
    j, i = j[inside], i[inside]
    cut = _cut_in(evidence, phase, surface.last[j, i])
    if len(evidence.lying) > 1:
        cut &= shapely.intersects_xy(piece.outline, surface.x[i], surface.y[j])
    j, i = j[cut], i[cut]
    return (np.column_stack((surface.x[i], surface.y[j])),
            (surface.last[j, i] - evidence.cut.first_id).astype(np.intp))


def _cut_in(evidence: Evidence, phase: Phase, last: NDArray[np.int32]) -> NDArray[np.bool_]:
    """Whether a phase's moves were the last to cut cells."""
    first = evidence.cut.first_id
    return (last >= first + phase.first) & (last < first + phase.stop)


# --- the map ------------------------------------------------------------------------------------------

def hold_map(evidence: Evidence) -> HoldMap:
    """The board's places, each as far from what holds it as ever while the stage cuts."""
    x, y, apart = _places(evidence)
    away = np.full((len(y), len(x)), np.nan)
    beyond: dict[float, list[BaseGeometry]] = {}
    inch = evidence.job.units.scale > 1
    for piece, holders in _while_cutting(evidence):
        inside = shapely.intersects_xy(piece.outline, *np.meshgrid(x, y))
        j, i = np.nonzero(inside)
        far = from_nearest(holders, np.column_stack((x[i], y[j])))
        away[j, i] = np.fmax(away[j, i], far)
        step = LINES[inch]
        for distance in np.arange(step, far.max(initial=0.0), step).tolist():
            beyond.setdefault(distance, []).append(farther(piece.outline, holders, distance))
    rows = tuple(tuple(None if np.isnan(each) else each for each in row) for row in away.tolist())
    lines = tuple((distance, shapely.union_all(regions)) for distance, regions in sorted(beyond.items()))
    return HoldMap(tuple(x.tolist()), tuple(y.tolist()), apart, rows, lines)


def _while_cutting(evidence: Evidence) -> Iterator[tuple[Piece, list[Holder]]]:
    """What holds each piece, whenever the stage cuts."""
    cuts = cutting(evidence)
    for phase, piece, holders in on_pieces(evidence):
        if holders and cuts[phase.first:phase.stop].any():
            yield piece, holders


def _places(evidence: Evidence) -> tuple[Floats, Floats, float]:
    """X and Y of the map's places, the middles of squares of a round size over all that lies there; and that
    size."""
    x0, y0, x1, y1 = shapely.union_all([piece.outline for piece in evidence.lying]).bounds
    scale = evidence.job.units.scale
    least = max(x1 - x0, y1 - y0) / PLACES / scale
    power = 10.0 ** np.floor(np.log10(least))
    step = scale * float(next(r * power for r in (*ROUNDS, 10.0) if r * power >= least * (1 - 1e-9)))
    counts = (max(1, ceil((high - low) / step - 1e-9)) for low, high in ((x0, x1), (y0, y1)))
    x, y = (low + (np.arange(count) + 0.5) * step for low, count in zip((x0, y0), counts, strict=True))
    return x.astype(np.float64), y.astype(np.float64), step


def farther(outline: BaseGeometry, holders: Sequence[Holder], distance: float) -> BaseGeometry:
    """The part of a piece in plan that lies farther than a distance from all that holds it."""
    near = [shapely.Point(holder.at).buffer(holder.radius + distance, quad_segs=32)
            if isinstance(holder, HeadSolid) else holder.footprint.shape.buffer(distance, quad_segs=32)
            for holder in holders]
    return shapely.difference(outline, shapely.union_all(near))
