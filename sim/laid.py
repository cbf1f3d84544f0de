"""The board as a job finds it: flat, as it was measured, or as an earlier run left it.

The law: where the board is not flat, its middle height stands for its top wherever one height is needed
(thickness, bed, clamps over it); everything else asks the map. What was guessed is said; a survey or a
surface that is not this board's is the job's mistake, told at its key. Millimetres, board frame.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from ..parser.job import Job
from ..parser.mistakes import mistake_in
from ..parser.reading import Unchecked
from ..parser.source import Unreadable
from ..parser.survey import read_survey
from .board import recesses
from .hardware import HardwareUnknown
from .parts import Piece, pieces_of
from .plan import joined, without
from .seating import head_discs
from .solids import Spot
from .surface import Surface, choose_cell
from .surface_file import SurfaceUnreadable
from .survey import lay_survey

FAR = 0.5  # of the board's longer side: a place measured farther beside the board belongs to another one
FAR_LEAST = 50.0  # mm
RIM = 1e-3  # of the board: an outline that rounds otherwise; more is another outline
SAME_PLACE = 1e-6  # mm: edges that are one
DECIMALS = 4  # heights are right to 1e-4 mm


@dataclass(frozen=True)
class Laid:
    """The board's surface with its recesses, the job with the top that stands for all of it, and what had to
    be guessed. `surface.gone`: recesses and holes that an earlier run left in it."""

    surface: Surface
    job: Job
    said: tuple[Unchecked, ...] = ()


def lay_board(job: Job, board: BaseGeometry) -> Laid:
    """The board before anything turns. Raises MapTooLarge, and JobError for a survey or surface of another
    board."""
    if job.board.survey is not None:
        laid = measured(job, board, job.board.survey)
    elif job.board.surface is not None:
        laid = as_left(job, board, job.board.surface)
    else:
        laid = Laid(Surface.of_board(board, job.board.top, cell_of(job, board)), job)
    if not job.board.parts:  # of a board in parts each part has its own
        carve_recesses(laid.surface, laid.job, pieces_of(laid.job))
    return laid


def carve_recesses(surface: Surface, job: Job, pieces: Sequence[Piece]) -> None:
    """The recesses that are there at the start, each from the board's own height about it; those that a
    saved surface has already are left as they are."""
    for piece, region, floor in recesses(job, pieces):
        for recess in shapely.get_parts(without(region, surface.gone)):
            rows, columns = surface.window(recess)
            heights = surface.heights[rows, columns]
            known = heights[~np.isnan(heights)]
            surface.carve(recess, floor + (float(np.median(known)) - piece.top if len(known) else 0.0))


def cell_of(job: Job, board: BaseGeometry) -> float:
    """The map's cell: as given, else by the narrowest cutter and the memory."""
    return job.board.cell or choose_cell(board, job.cutters)


# --- measured ------------------------------------------------------------------------------------
def measured(job: Job, board: BaseGeometry, name: str) -> Laid:
    """The board with the heights of a survey."""
    try:
        points = read_survey(job.files[name], job.units)
    except Unreadable as bad:
        raise mistake_in(job, ("board", "survey"), str(bad)) from None
    refuse_far(job, board, name, points)
    refuse_high(job, name, points)
    surface = Surface.of_board(board, 0.0, cell_of(job, board))
    share = lay_survey(surface, points)
    middle = middle_height(surface)
    said = [Unchecked("board beyond the survey",
                      f"{100 * share:.0f}% of the board lies outside the measured places: there the nearest "
                      "measured height goes on level")] if share > 0.005 else []
    return Laid(surface, with_top(job, middle), (*said, *bed_by(job, "board.survey", middle)))


def refuse_far(job: Job, board: BaseGeometry, name: str, points: np.ndarray) -> None:
    """A survey of which a place lies far from the board, or all places beside it, is not this board's."""
    x0, y0, x1, y1 = board.bounds
    far = max(FAR_LEAST, FAR * max(x1 - x0, y1 - y0))
    away = np.hypot(*np.maximum(0.0, np.maximum((x0, y0) - points[:, :2], points[:, :2] - (x1, y1))).T)
    worst = int(away.argmax())
    units, reach = job.units, span_words(job, board)
    if away[worst] > far:
        x, y = points[worst, :2].tolist()
        raise mistake_in(job, ("board", "survey"),
                         f"{name}: X{units.digits(x)} Y{units.digits(y)} lies {units.text(away[worst])} from "
                         "the board", f"the board spans {reach} (board frame, {units.value})")
    if not shapely.MultiPoint(points[:, :2]).convex_hull.intersects(board):
        raise mistake_in(job, ("board", "survey"), f"{name}: every measured place lies beside the board",
                         f"the board spans {reach} (board frame, {units.value})")


def refuse_high(job: Job, name: str, points: np.ndarray) -> None:
    """A measured top lies about a thickness over the bed, or, where no bed is given, near the others."""
    thickest = max((piece.thickness for piece in pieces_of(job) if piece.thickness is not None), default=None)
    if thickest is None:
        return
    bed = None if job.bed is None else job.bed.top
    level = float(np.median(points[:, 2])) if bed is None else bed + thickest
    worst = int(np.abs(points[:, 2] - level).argmax())
    if abs(points[worst, 2] - level) > thickest:
        units = job.units
        x, y, z = (units.digits(each) for each in points[worst].tolist())
        raise mistake_in(job, ("board", "survey"), f"{name}: Z{z} at X{x} Y{y} is no top of this board",
                         f"a board of {units.text(thickest)} has it near Z {units.digits(level)} "
                         f"(board frame, {units.value})")


def span_words(job: Job, board: BaseGeometry) -> str:
    x0, y0, x1, y1 = (job.units.digits(each) for each in board.bounds)
    return f"X{x0} to X{x1}, Y{y0} to Y{y1}"


# --- as an earlier run left it -------------------------------------------------------------------
def as_left(job: Job, board: BaseGeometry, name: str) -> Laid:
    """The board with the heights, recesses and holes of a saved surface."""
    key = ("board", "surface")
    try:
        saved = Surface.load(job.files[name].data)
    except SurfaceUnreadable as bad:
        raise mistake_in(job, key, f"{name}: {bad}", "save one with --save-surface") from None
    refuse_other_board(job, board, name, saved)
    given, units = job.board.cell, job.units
    if given is not None and abs(given - saved.cell) > SAME_PLACE:
        raise mistake_in(job, key, f"{name}: this surface has cells of {units.text(saved.cell)}, and "
                         f"board.cell is {units.text(given)}",
                         f"give {units.digits(saved.cell)}, or leave it out")
    surface = Surface.of_board(board, 0.0, saved.cell)
    share = (surface.on_board & ~saved.on_board).sum() / max(1, surface.on_board.sum())
    if share > RIM:
        raise mistake_in(job, key, f"{name}: {100 * share:.1f}% of the board is not in this surface",
                         "give the outline and the parts that the board had when it was saved")
    surface.heights[surface.on_board] = np.float32(np.nanmedian(saved.heights))
    np.copyto(surface.heights, saved.heights, where=surface.on_board & saved.on_board)
    surface.gone = saved.gone
    middle = middle_height(surface)
    return Laid(surface, with_top(job, middle), tuple(bed_by(job, "board.surface", middle)))


def refuse_other_board(job: Job, board: BaseGeometry, name: str, saved: Surface) -> None:
    """A saved surface lies where the board does, to the cell."""
    x0, y0, x1, y1 = board.bounds
    ny, nx = saved.shape
    same = (abs(saved.x0 - x0) <= SAME_PLACE and abs(saved.y0 - y0) <= SAME_PLACE
            and -SAME_PLACE <= saved.x0 + nx * saved.cell - x1 < saved.cell + SAME_PLACE
            and -SAME_PLACE <= saved.y0 + ny * saved.cell - y1 < saved.cell + SAME_PLACE)
    if not same:
        there = shapely.box(saved.x0, saved.y0, saved.x0 + nx * saved.cell, saved.y0 + ny * saved.cell)
        raise mistake_in(job, ("board", "surface"),
                         f"{name}: this surface is of another board: it spans {span_words(job, there)}",
                         f"this job's board spans {span_words(job, board)} ({job.units.value})")


# --- one height for all of it --------------------------------------------------------------------
def middle_height(surface: Surface) -> float:
    """The height that half of the board lies above, recesses and holes left out."""
    seen = surface.on_board & ~surface.mask(surface.gone)
    return round(float(np.median(surface.heights[seen if seen.any() else surface.on_board])), DECIMALS)


def with_top(job: Job, top: float) -> Job:
    return replace(job, board=replace(job.board, top=top))


def bed_by(job: Job, key: str, middle: float) -> Iterable[Unchecked]:
    """Where the bed's height hangs on the board's middle height, that is said."""
    if job.board.thickness is not None and (job.bed is None or job.bed.top is None):
        bed = job.units.text(middle - job.board.thickness)
        yield Unchecked("bed.top", f"not given: taken as Z {bed}, the thickness under the middle of {key}")


# --- faces over heads ----------------------------------------------------------------------------
def lowest_face(surface: Surface, at: Spot, radius: float) -> float | None:
    """The lowest that the board lies over a disc, as if no recess or hole of an earlier run were there: what
    lies in them is told by the board around; None where there is no board near."""
    disc, reach = shapely.Point(at), radius + surface.cell
    while reach < radius + 50 * max(surface.cell, 1.0):
        ring = without(disc.buffer(reach), surface.gone)
        rows, columns = surface.window(ring)
        if not ring.is_empty and rows.stop > rows.start and columns.stop > columns.start:
            part = Surface(surface.x0 + columns.start * surface.cell, surface.y0 + rows.start * surface.cell,
                           surface.cell, surface.heights[rows, columns], surface.last[rows, columns])
            heights = part.heights[part.mask(ring) & part.on_board]
            if len(heights):
                return float(heights.min())
        reach += max(surface.cell, radius / 4)
    return None


def faces_before(laid: Laid) -> dict[str, float]:
    """The virtual face over the place of every screw, by its name; nothing on a flat board."""
    if laid.job.board.survey is None and laid.job.board.surface is None:
        return {}
    try:
        discs = list(head_discs(laid.job))
    except HardwareUnknown:  # told at its key when it is fitted
        return {}
    found = {about: lowest_face(laid.surface, at, radius) for about, (at, radius) in discs}
    return {about: z for about, z in found.items() if z is not None}


def gone_after(surface: Surface, regions: Iterable[BaseGeometry]) -> BaseGeometry:
    """Recesses and holes that a surface has when it is saved."""
    return joined([surface.gone, *regions])
