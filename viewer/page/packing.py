"""The surface packed for the page: whole numbers of a quantum, row differences, deflated, as text.

The law: what is unpacked lies within half a quantum of the map, and the quantum is FINEST about the wanted
face, whatever holes go through the board; a place off the board stays off it; every
cell that was cut still names the stage and the line that cut it last. A map of up to MOST_CELLS goes whole;
of a larger one each block of cells shows one of its extremes (blocks.py), so every ridge is there, and the
places of the findings go along as windows in which every cell is there.
"""

from __future__ import annotations

import base64
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...sim.plan import face_height
from ...sim.result import Result
from ..blocks import blocked, extremes
from ..scene import Relief

OFF_BOARD = 0xFFFF
FINEST = 1e-4  # mm: heights are right to this
FINE, ABOVE = 4.5, 1.5  # mm that are known so finely, and how much of that lies above the highest wanted face
MOST_CELLS = 16_000_000  # beyond it blocks of cells are shown as one
LEVELS = 60  # wanted heights that are told apart
WINDOW = 360  # cells of a window's side
WINDOWS = 24  # at most

Heights = NDArray[np.float32]
Block = tuple[slice, slice]  # rows, columns of the map
Steps = list[tuple[int, float, float]]  # from this whole number on: at this height, with this quantum


@dataclass(frozen=True)
class CutBy:
    """Who cut each cell last: index (ny, nx) uint32 into the table, 0 where nobody did; stage and line of
    each row of the table, row 0 standing for nobody and any other of stage -1 for a stage not reported."""

    index: NDArray[np.uint32]
    stage: list[int]
    line: list[int]


@dataclass(frozen=True)
class Layers:
    """What is packed for each cell, (ny, nx): heights, the board as stages find it, by the stage's number
    (where it is not as the stage before left it), the number of its wanted height (0: none), its row in the
    table of who cut it."""

    heights: Heights
    found: dict[int, Heights]
    wanted: NDArray[np.uint8]
    last: NDArray[np.uint32]


def map_of(result: Result, relief: Relief) -> dict[str, Any]:
    """The surface as numbers and packed texts: `grids` holds the board and then its windows; `side`: cells of
    the map in one of the board's."""
    wanted, levels = wanted_of(result, relief)
    cut_by, found = cut_by_of(result), found_by(result)
    layers = Layers(relief.heights, found, wanted, cut_by.index)
    side = side_of(relief.heights)
    steps = scale(levels, relief.heights, *found.values())
    whole_map = coarse(layers, side)
    grids = [grid(whole_map, result, side, (slice(None), slice(None)), steps)]
    if side > 1:
        grids += [grid(taken(layers, block), result, 1, block, steps) for block in windows(result)]
    return {"grids": grids, "side": side, "steps": steps, "levels": levels,
            "tolerance": relief.tolerance, "bottom": relief.bottom,
            "stage": numbers(np.array(cut_by.stage, "<i4")), "line": numbers(np.array(cut_by.line, "<i4"))}


def side_of(heights: Heights) -> int:
    """Cells along a block's side: 1 where all of the map is shown."""
    return max(1, int(np.ceil(np.sqrt(heights.size / MOST_CELLS))))


def coarse(layers: Layers, side: int) -> Layers:
    """Each block as its extreme cell, with that cell's wanted height and line."""
    if side == 1:
        return layers
    found = {number: blocked(each, side) for number, each in layers.found.items()}
    rows, columns = extremes(layers.heights, side)
    return Layers(layers.heights[rows, columns], found, layers.wanted[rows, columns],
                  layers.last[rows, columns])


def taken(layers: Layers, block: Block) -> Layers:
    found = {number: each[block] for number, each in layers.found.items()}
    return Layers(layers.heights[block], found, layers.wanted[block], layers.last[block])


def windows(result: Result) -> Iterator[Block]:
    """Squares of cells about the findings' places, worst first; a place well within one asks for no other."""
    surface, taken_at = result.surface, []
    ny, nx = surface.shape
    for found in result.findings:
        if found.at is None or not np.isfinite(found.at[:2]).all():
            continue
        column, row = (int((v - v0) / surface.cell) for v, v0 in
                       ((found.at[0], surface.x0), (found.at[1], surface.y0)))
        if not (0 <= column < nx and 0 <= row < ny) or len(taken_at) >= WINDOWS:
            continue
        if all(max(abs(column - i), abs(row - j)) > WINDOW // 4 for i, j in taken_at):
            taken_at.append((column, row))
            yield window(row, ny), window(column, nx)


def window(at: int, count: int) -> slice:
    """A window's rows or columns about `at`, on the map."""
    first = max(0, min(at - WINDOW // 2, count - WINDOW))
    return slice(first, min(count, first + WINDOW))


def grid(layers: Layers, result: Result, side: int, block: Block, steps: Steps) -> dict[str, Any]:
    """One map, packed, and where it lies."""
    surface, (ny, nx) = result.surface, layers.heights.shape
    rows, columns = block
    found = {number: packed(whole(each, steps), 2) for number, each in layers.found.items()}
    return {"nx": nx, "ny": ny, "cell": surface.cell * side,
            "x0": surface.x0 + (columns.start or 0) * surface.cell,
            "y0": surface.y0 + (rows.start or 0) * surface.cell,
            "heights": packed(whole(layers.heights, steps), 2), "found": found,
            "wanted": packed(layers.wanted, 1), "last": packed(layers.last, 3)}


def found_by(result: Result) -> dict[int, Heights]:
    """The board as the first reported stage finds it; as every stage does, where parts come and go."""
    kept = result.records if len(result.records) == len(result.stages) else ()
    changing = any(stage.parts is not None for stage in result.job.stages)
    return {number: record.cut.before for number, record in enumerate(kept)
            if record.cut is not None and (number == 0 or changing)}


def scale(levels: list[float], *maps: Heights) -> Steps:
    """From the lowest height to the highest in fewer than OFF_BOARD whole numbers: evenly where that is fine
    enough, else finely about the wanted faces (the top, where none is wanted) and coarsely elsewhere."""
    if all(np.isnan(heights).all() for heights in maps):
        return [(0, 0.0, FINEST)]
    low, high = float(min(map(np.nanmin, maps))), float(max(map(np.nanmax, maps)))
    room = OFF_BOARD - 1
    if high - low <= FINEST * room:
        return [(0, low, FINEST)]
    top = min(high, max(levels, default=high) + ABOVE)
    foot, fine = max(low, top - FINE), int(np.ceil(FINE / FINEST))
    top = foot + fine * FINEST
    under, over = max(foot - low, 0.0), max(high - top, 0.0)
    below = round((room - fine) * under / (under + over)) if under else 0
    above = room - fine - below
    steps = [(0, low, under / below)] if below else []
    steps.append((below, foot, FINEST))
    return [*steps, (below + fine, top, max(FINEST, over / above))] if above else steps


def whole(heights: Heights, steps: Steps) -> NDArray[np.uint16]:
    """(ny, nx) heights as whole numbers of `steps`, OFF_BOARD off the board."""
    numbers_from, from_z, quantum = (np.array(column) for column in zip(*steps, strict=True))
    counted = np.empty(heights.shape, np.uint16)
    for rows in np.array_split(np.arange(len(heights)), max(1, heights.size // 2_000_000)):
        part = np.nan_to_num(heights[rows], nan=from_z[0]).astype(np.float64)
        which = np.maximum(np.searchsorted(from_z, part, "right") - 1, 0)
        steps_up = np.rint((part - from_z[which]) / quantum[which])
        counted[rows] = np.where(np.isnan(heights[rows]), OFF_BOARD, numbers_from[which] + steps_up)
    return counted


def packed(values: NDArray, size: int) -> str:
    """(ny, nx) whole numbers of `size` bytes: row differences, all lowest bytes first, deflated, base64."""
    differences = np.array(values, np.uint32)
    differences[1:] -= np.asarray(values[:-1], np.uint32)
    planes = [((differences >> (8 * n)) & 255).astype(np.uint8).tobytes() for n in range(size)]
    return text_of(b"".join(planes))


def numbers(values: NDArray) -> str:
    """Numbers of any type as text: their first bytes together, then their second ones, deflated, base64."""
    values = np.ascontiguousarray(values)
    return text_of(values.view(np.uint8).reshape(-1, values.dtype.itemsize).T.tobytes())


def text_of(data: bytes) -> str:
    return base64.b64encode(zlib.compress(data, 6)).decode()


def wanted_of(result: Result, relief: Relief) -> tuple[NDArray[np.uint8], list[float]]:
    """(ny, nx) number of the wanted height of each cell from 1, 0 where none is wanted; and the heights."""
    number = np.zeros(relief.off.shape, np.uint8)
    levels = sorted({float(face_height(face, stage)) for stage in result.job.stages for face in stage.face})
    level = relief.heights - relief.off  # NaN where none is wanted
    for which, z in enumerate(levels[:LEVELS], 1):
        number[np.abs(level - np.float32(z)) < 1e-3] = which
    return number, levels[:LEVELS]


def cut_by_of(result: Result) -> CutBy:
    """The moves of the map as rows of (stage, line)."""
    kept = result.records if len(result.records) == len(result.stages) else ()
    moves = int(result.surface.last.max(initial=-1)) + 1
    ends = [record.cut.first_id + len(record.reading.motion) for record in kept if record.cut is not None]
    owner = np.full((max([moves, *ends]), 2), (0, 1), np.int64)
    first = 0
    for number, record in enumerate(kept):
        lines = record.reading.motion.line
        first = record.cut.first_id if record.cut is not None else first
        count = max(0, min(len(lines), len(owner) - first))
        owner[first:first + count, 0], owner[first:first + count, 1] = number + 1, lines[:count]
        first += len(lines)
    rows, which = np.unique(np.vstack([[[0, 0]], owner]), axis=0, return_inverse=True)
    index = which.ravel().astype(np.uint32)[result.surface.last + 1]
    return CutBy(index, [int(s) - 1 for s in rows[:, 0]], [int(n) for n in rows[:, 1]])
