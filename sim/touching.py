"""Where Z is zeroed: on the board as it then is, or on the bed, each cutter by its own touch-off.

The law: Z0 lies where the cutter's tip stands when it touches: on the highest that lies under its edges (its
core, where that is higher), plus the block. What a touch-off stands on is what the moves before it left, so a
program is read as often as it is touched off. Millimetres, board frame.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from math import floor

import numpy as np

from ..parser.job import Cutter, Job, Stage, Touch
from ..parser.motion import Happening
from ..parser.reading import OperatorAct, Reading, Setting
from .cut import cut_stage
from .cutters import profile_of
from .seating import cells_between
from .setup import Standing, changes_in_order, cutters_of, first_cutter, first_moves
from .solids import bed_top_of
from .surface import Surface
from .tram import tilt_of

Spot = tuple[float, float]


@dataclass(frozen=True)
class Touches:
    """Heights found so far: of each cutter, load after load; of each change, by its number in the stage."""

    loads: Mapping[int, tuple[float, ...]] = field(default_factory=dict)
    changes: Mapping[int, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Due:
    """A touch-off that a program comes to before move `row`: at a cutter's load, or with a change."""

    row: int
    touch: Touch
    cutter: Cutter | None
    change: int | None = None


def zeroed(job: Job, stage: Stage, left: Standing, surface: Surface) -> Stage:
    """The stage with its zero's Z where the cutter that is in the spindle at its start is touched off."""
    number = first_cutter(job, stage, left)
    touch = next((t for t in stage.touch if t.cutter in (None, number)), None)
    height = None if touch is None else height_of(job, touch, job.cutter(number), surface)
    if height is None:
        return stage
    return replace(stage, zero=(*stage.zero[:2], height))


def read_touching(job: Job, stage: Stage, setting: Setting, surface: Surface,
                  read: Callable[[Setting], Reading]) -> tuple[Setting, Reading]:
    """The program as it runs with every touch-off on the board as it then is; `read` reads it."""
    found, reading = Touches(), read(setting)
    while (due := next_due(job, stage, reading, found)) is not None:
        height = height_of(job, due.touch, due.cutter, surface_then(job, reading, surface, due))
        found = with_height(found, due, stage.zero[2] if height is None else height)
        setting = told(setting, stage, found)
        reading = read(setting)
    return setting, reading


def next_due(job: Job, stage: Stage, reading: Reading, found: Touches) -> Due | None:
    """The first touch-off of a program whose height is not known yet."""
    seen: dict[int, int] = {}
    for due in all_due(job, stage, reading):
        if due.change is not None:
            if due.change not in found.changes:
                return due
        elif due.cutter is not None:
            count = seen[due.cutter.number] = seen.get(due.cutter.number, 0) + 1
            if count > len(found.loads.get(due.cutter.number, ())):
                return due
    return None


def all_due(job: Job, stage: Stage, reading: Reading) -> list[Due]:
    """Every touch-off of a stage after its start, as the program comes to them: a cutter that the stage has
    touched off is so each time it comes into the spindle."""
    own = {touch.cutter: touch for touch in stage.touch if touch.cutter is not None}
    loads = [Due(event.before, own[int(event.value)], job.cutter(int(event.value)))
             for event in reading.motion.events
             if event.kind is Happening.CUTTER and int(event.value) in own]
    return sorted([*loads, *by_change(job, stage, reading)], key=lambda due: due.row)


def by_change(job: Job, stage: Stage, reading: Reading) -> Iterator[Due]:
    """The touch-offs that changes make, of the cutter that is in the spindle after the change."""
    cutters = cutters_of(job, reading)
    for row, number, change in changes_in_order(job, stage, reading, must_reach=False):
        if change.touch is not None:
            named = change.touch.cutter if change.cutter is None else change.cutter
            there = cutters[min(row, len(cutters) - 1)] if len(cutters) else None
            yield Due(row, change.touch, job.cutter(named) if named is not None else there, number)


def with_height(found: Touches, due: Due, height: float) -> Touches:
    if due.change is not None:
        return replace(found, changes={**found.changes, due.change: height})
    number = due.cutter.number if due.cutter else 0
    return replace(found, loads={**found.loads, number: (*found.loads.get(number, ()), height)})


def told(setting: Setting, stage: Stage, found: Touches) -> Setting:
    """The setting with the heights that are known."""
    def acts(written: Mapping[int, OperatorAct], key: str) -> dict[int, OperatorAct]:
        heights = {getattr(stage.changes[number], key): z for number, z in found.changes.items()}
        return {at: replace(act, touched=heights.get(at)) for at, act in written.items()}

    return replace(setting, touched=dict(found.loads), at_stop=acts(setting.at_stop, "at_stop"),
                   at_line=acts(setting.at_line, "at_line"))


# --- heights ------------------------------------------------------------------------------------------

def height_of(job: Job, touch: Touch, cutter: Cutter | None, surface: Surface) -> float | None:
    """Z (board) of the tip when it is touched off, None where what it stands on is not known."""
    if touch.on == "bed":
        bed = bed_top_of(job)
        return None if bed is None else bed + touch.block
    under = middle_height(surface) if touch.at is None else contact(surface, cutter, touch.at)
    return None if under is None else round(under + touch.block, 6)


def contact(surface: Surface, cutter: Cutter | None, at: Spot) -> float | None:
    """Z of a cutter's tip when it stands on the board at a place: a flat one on its rim, or on its core where
    that comes down first; any other on its point. None beside the board."""
    profile = None if cutter is None else profile_of(cutter)
    flat = profile is not None and profile.flat
    reach = profile.radius if profile is not None and flat else 0.0
    core = profile.core if profile is not None and flat else 0.0
    rim = highest(surface, at, core, reach)
    middle = highest(surface, at, 0.0, core) if core else None
    gap = (cutter.core_gap or 0.0) if cutter is not None else 0.0
    return max((z for z in (rim, None if middle is None else middle - gap) if z is not None), default=None)


def highest(surface: Surface, at: Spot, inner: float, outer: float) -> float | None:
    """The highest cell of the board in a ring; None where it has none there."""
    cells = cells_between(surface, at, inner, outer)
    return float(cells.max()) if len(cells) else None


def middle_height(surface: Surface) -> float | None:
    """The height that half of the board lies above: where a touch-off names no place."""
    heights = surface.heights[surface.on_board & ~surface.mask(surface.gone)]
    return float(np.median(heights)) if len(heights) else None


def surface_then(job: Job, reading: Reading, surface: Surface, due: Due) -> Surface:
    """The board about a touch-off as the moves before it have left it."""
    if due.row == 0:
        return surface
    part = surface.copy() if due.touch.at is None else about(surface, due)
    cutters = cutters_of(job, reading)[:due.row]
    cut_stage(part, first_moves(reading.motion, due.row), list(cutters), tilt=tilt_of(job), keep_before=False)
    return part


def about(surface: Surface, due: Due) -> Surface:
    """A copy of the cells about a touch-off."""
    reach = (profile_of(due.cutter).radius if due.cutter else 0.0) + 2 * surface.cell
    x, y = due.touch.at or (0.0, 0.0)
    ny, nx = surface.shape
    i0, i1 = (min(max(floor((v - surface.x0) / surface.cell), 0), nx) for v in (x - reach, x + reach))
    j0, j1 = (min(max(floor((v - surface.y0) / surface.cell), 0), ny) for v in (y - reach, y + reach))
    window = np.s_[j0:j1 + 1, i0:i1 + 1]
    return Surface(surface.x0 + i0 * surface.cell, surface.y0 + j0 * surface.cell, surface.cell,
                   surface.heights[window].copy(), surface.last[window].copy())
