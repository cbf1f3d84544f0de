"""A Result as named layers of plain arrays: WHAT is shown, decided once for every kind of view.

The law: millimetres, board frame, no colour and no camera. A layer is arrays and words; a view lays it
out and computes nothing of its own. Nothing here is a figure that a verdict rests on.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from ..parser.finding import Severity
from ..parser.job import Job
from ..parser.motion import Motion, Move
from ..parser.units import Units
from ..sim.board import all_recesses, board_outline
from ..sim.parts import lowest_underside, pieces_of
from ..sim.plan import disc, face_area, face_height, wanted_holes
from ..sim.result import Result, Verdict
from ..sim.stage_figures import StageFigures
from .bodies import Bodies, bodies_of
from .ridges import NO_RIDGES, Ridges, ridges_of
from .tracks import polyline

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Relief:
    """The board's surface, (ny, nx) float32 over cell centres x (nx,), y (ny,).

    heights: NaN off the board · off: height above (+) or below (-) the wanted face, NaN where no face is
    wanted or a hole or recess lies · tolerance: what may differ · bottom: the board's underside.
    """

    x: Floats
    y: Floats
    heights: NDArray[np.float32]
    off: NDArray[np.float32]
    tolerance: float
    bottom: float

    @property
    def missed(self) -> NDArray[np.bool_]:
        """(ny, nx) true where the wanted face was not reached."""
        return self.off > self.tolerance

    @property
    def too_deep(self) -> NDArray[np.bool_]:
        return self.off < -self.tolerance


@dataclass(frozen=True)
class Path:
    """The tip's path as straight pieces: ends (n, 2, 3), kind (n,) a Move, line (n,), stage (n,) its number
    among the reported ones, move (n,) its row among the stage's moves."""

    ends: Floats
    kind: NDArray[np.uint8]
    line: NDArray[np.int32]
    stage: NDArray[np.int32]
    move: NDArray[np.int32]


@dataclass(frozen=True)
class Held:
    """How far the board lies from screws and clamps in one stage. away (ny, nx), NaN off the board, over the
    places x (nx,), y (ny,) · lines: (distance, the part of the board that lies farther) · at: where the cut
    lies farthest, and so far."""

    x: Floats
    y: Floats
    away: Floats
    lines: tuple[tuple[float, shapely.geometry.base.BaseGeometry], ...]
    at: tuple[float, float]
    farthest: float


@dataclass(frozen=True)
class Mark:
    """A finding that has a place."""

    at: tuple[float, float, float]
    severity: Severity
    kind: str
    about: str
    line: int
    stage: str
    program: str
    message: str


@dataclass(frozen=True)
class Scene:
    """Every layer of a result, and the words that go with it."""

    title: str
    verdict: Verdict
    units: Units
    relief: Relief
    bodies: Bodies
    path: Path
    marks: tuple[Mark, ...]
    zero: tuple[float, float, float]
    held: tuple[Held | None, ...] = ()  # stage by stage
    ridges: Ridges = NO_RIDGES


def scene_of(result: Result) -> Scene:
    """The layers of a result: the board after its last reported stage."""
    programs = ", ".join(dict.fromkeys(stage.program for stage in result.stages))
    relief = relief_of(result)
    return Scene(result.job.title or programs, result.verdict, result.job.units, relief, bodies_of(result),
                 path_of(result), tuple(marks_of(result)), zero_of(result),
                 tuple(held_of(stage) for stage in result.stages),
                 ridges_of(result, relief.off, relief.tolerance))


def zero_of(result: Result) -> tuple[float, float, float]:
    """Where the last reported stage has its zero, board frame."""
    last = result.stages[-1].name if result.stages else ""
    return next((stage.zero for stage in result.job.stages if stage.name == last), (0.0, 0.0, 0.0))


def relief_of(result: Result) -> Relief:
    """The surface and its distance from the wanted faces, the last stage's on top."""
    surface, job = result.surface, result.job
    off = np.full(surface.shape, np.nan, np.float32)
    tolerance = 0.05
    for stage in job.stages:
        for face in stage.face:
            region = surface.mask(face_area(face, board_outline(job, stage)))
            off[region] = surface.heights[region] - np.float32(face_height(face, stage))
            tolerance = face.tolerance
    off[surface.mask(left_out(result))] = np.nan
    return Relief(surface.x, surface.y, surface.heights, off, tolerance, underside(job))


def left_out(result: Result) -> shapely.geometry.base.BaseGeometry:
    """Holes and recesses in plan, a cell wider: what lies in them is no fault of a face."""
    holes = [disc(hole.at, hole.diameter / 2) for stage in result.stages for hole in stage.holes]
    hollows = shapely.union_all([all_recesses(result.job), wanted_holes(result.job), *holes])
    return hollows.buffer(result.surface.cell)


def underside(job: Job) -> float:
    """Z of the lowest underside; with no thickness given, a thickness to draw."""
    lowest = lowest_underside(job)
    if lowest is not None:
        return lowest
    bed = job.bed.top if job.bed is not None else None
    return job.board.top - 18.0 if bed is None else bed


def held_of(stage: StageFigures) -> Held | None:
    """The distances of one stage; None where nothing holds what it cuts."""
    held = stage.held
    return held and Held(np.array(held.map.x), np.array(held.map.y), np.array(held.map.away, float),
                         held.map.beyond, held.at, held.farthest)


def undersides(job: Job, x: Floats, y: Floats) -> Floats:
    """(ny, nx) Z of the underside at places x (nx,), y (ny,): each part's own."""
    found = np.full((len(y), len(x)), underside(job))
    for piece in pieces_of(job) if job.board.parts else ():
        if piece.underside is not None:
            found[shapely.intersects_xy(piece.outline, *np.meshgrid(x, y))] = piece.underside
    return found


def path_of(result: Result) -> Path:
    """The placed moves of every kept stage, arcs as chords."""
    kept = result.records if len(result.records) == len(result.stages) else ()
    parts = [_stage_path(record.reading.motion, number) for number, record in enumerate(kept)]
    if not parts:
        none = np.empty(0, np.int32)
        return Path(np.empty((0, 2, 3)), np.empty(0, np.uint8), none, none, none)
    return Path(*(np.concatenate([getattr(part, name) for part in parts])
                  for name in ("ends", "kind", "line", "stage", "move")))


def _stage_path(motion: Motion, number: int) -> Path:
    rows = np.flatnonzero(motion.placed)
    counts = np.ones(len(rows), np.int64)
    tracks = {int(i): polyline(motion, int(rows[i])) for i in np.flatnonzero(motion.kind[rows] == Move.ARC)}
    for i, track in tracks.items():
        counts[i] = len(track) - 1
    move = np.repeat(rows, counts)
    ends = np.stack([motion.start[move], motion.end[move]], axis=1)
    first = np.cumsum(counts) - counts
    for i, track in tracks.items():
        ends[first[i]:first[i] + counts[i]] = np.stack([track[:-1], track[1:]], axis=1)
    return Path(ends, motion.kind[move], motion.line[move], np.full(len(move), number, np.int32),
                move.astype(np.int32))


def marks_of(result: Result) -> Iterator[Mark]:
    """The findings that have a wholly known place, worst first."""
    for found in result.findings:
        if found.at is not None and np.isfinite(found.at).all():
            yield Mark(found.at, found.severity, found.kind, found.about, found.line, found.stage,
                       found.program, found.message(result.job.units))
