"""Replay: a stage's board at any moment of its program, forward and back.

The law: replayed to its end a stage leaves, bit for bit, the heights that the simulation left. Going back
starts from a key frame, which is a copy of the map, and cuts again from there. Millimetres, board frame.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ..parser.motion import PLANE_AXES, Motion, MotionBuilder, Move
from .cut import cut_again
from .cutters import profile_of
from .kernels import sweep as k
from .paths import RapidPath
from .result import Result
from .setup import cutters_of
from .surface import Surface
from .sweeps import Sweeps, sweeps_of
from .tram import Tilt

FRAMES = 12  # key frames of a stage at most
FRAME_MEMORY = 1 << 30  # bytes that they may take together

Window = tuple[slice, slice]  # rows, columns of the map


@dataclass(frozen=True, order=True)
class Moment:
    """`moves` are wholly made, and `part` (0 up to 1) of the next."""

    moves: int = 0
    part: float = 0.0


@dataclass
class Replay:
    """One stage on its board. `surface` is the board at `now`; `motion` and `cutters` are the stage's."""

    surface: Surface
    motion: Motion
    cutters: NDArray[np.object_]
    first_id: int = 0
    tilt: Tilt = (0.0, 0.0)
    rapid: RapidPath = field(default_factory=RapidPath)
    threads: int | None = None
    now: Moment = Moment()

    def __post_init__(self) -> None:
        self._sweeps = cutting(sweeps_of(self.motion, list(self.cutters), self.surface.cell, self.tilt,
                                         self.rapid))
        self._begin = np.searchsorted(self._sweeps.orders[:, k.MOVE], np.arange(len(self.motion) + 1))
        self._boxes = self.motion.boxes()
        self._frames = {0: self.surface.copy()}
        self._stops = frame_stops(self._begin, self.surface)

    @classmethod
    def of(cls, result: Result, number: int, *, threads: int | None = None) -> Replay:
        """The `number`-th reported stage of a result. Who cut a cell before this stage began is kept only
        where the stage did not cut it."""
        record, end = result.records[number], result.surface
        last = np.where(end.last < record.cut.first_id, end.last, -1).astype(np.int32)
        board = Surface(end.x0, end.y0, end.cell, record.cut.before.copy(), last)
        cutters = cutters_of(result.job, record.reading) if record.cutters is None else record.cutters
        return cls(board, record.reading.motion, cutters, record.cut.first_id, record.tilt, record.rapid,
                   threads)

    def __len__(self) -> int:
        return len(self.motion)

    def to(self, moves: int, part: float = 0.0) -> Window:
        """Go to a moment; the window of the map that may have changed."""
        wanted = Moment(min(max(moves, 0), len(self)), part if moves < len(self) else 0.0)
        base = max(stop for stop in self._frames if stop <= wanted.moves)
        jumps = wanted < self.now or base > self.now.moves
        if jumps:
            self._put_back(base)
        windows = [(self.now.moves, wanted.moves + (wanted.part > 0))]
        for stop in (*(s for s in self._stops if self.now.moves < s <= wanted.moves), wanted.moves):
            self._go(stop)
        if wanted.part > 0:
            self._begin_move(wanted)
        self.now = wanted
        return self._whole() if jumps else self._touched(*windows[0])

    def _put_back(self, stop: int) -> None:
        frame = self._frames[stop]
        np.copyto(self.surface.heights, frame.heights)
        np.copyto(self.surface.last, frame.last)
        self.now = Moment(stop)

    def _go(self, stop: int) -> None:
        """Make the moves up to `stop`, and keep a key frame where one is due."""
        cut_again(self.surface, between(self._sweeps, self._begin[self.now.moves], self._begin[stop]),
                  self.first_id, self.threads)
        self.now = Moment(stop)
        if stop in self._stops and stop not in self._frames:
            self._frames[stop] = self.surface.copy()

    def _begin_move(self, wanted: Moment) -> None:
        """Make a part of one move."""
        row = wanted.moves
        if not self.motion.placed[row] or self.cutters[row] is None:
            return
        piece = beginning(self.motion, row, wanted.part)
        sweeps = cutting(sweeps_of(piece, [self.cutters[row]], self.surface.cell, self.tilt, self.rapid))
        cut_again(self.surface, sweeps, self.first_id + row, self.threads)

    def _whole(self) -> Window:
        ny, nx = self.surface.shape
        return slice(0, ny), slice(0, nx)

    def _touched(self, first: int, stop: int) -> Window:
        """Rows and columns that moves `first` up to `stop` can have lowered."""
        boxes = self._boxes[first:stop]
        known = ~np.isnan(boxes).any(axis=(1, 2))
        if not known.any():
            return slice(0, 0), slice(0, 0)
        used = {id(c): c for c in self.cutters[first:stop] if c is not None}.values()
        reach = max((profile_of(cutter).radius for cutter in used), default=0.0) + 2 * self.surface.cell
        low, high = boxes[known, 0].min(axis=0) - reach, boxes[known, 1].max(axis=0) + reach
        return (span(low[1], high[1], self.surface.y0, self.surface.cell, self.surface.shape[0]),
                span(low[0], high[0], self.surface.x0, self.surface.cell, self.surface.shape[1]))


def cutting(sweeps: Sweeps) -> Sweeps:
    """The sweeps that cut: looking is for the checks."""
    kept = sweeps.orders[:, k.ACT] != k.LOOK
    return Sweeps(np.ascontiguousarray(sweeps.numbers[kept]), np.ascontiguousarray(sweeps.orders[kept]),
                  sweeps.rounds, sweeps.pieces)


def between(sweeps: Sweeps, first: int, stop: int) -> Sweeps:
    return Sweeps(sweeps.numbers[first:stop], sweeps.orders[first:stop], sweeps.rounds, sweeps.pieces)


def frame_stops(begin: NDArray[np.intp], surface: Surface) -> tuple[int, ...]:
    """The moves before which a key frame is kept: evenly spread over the work."""
    bytes_each = surface.heights.nbytes + surface.last.nbytes
    count = int(min(FRAMES, FRAME_MEMORY // max(bytes_each, 1)))
    stops = np.searchsorted(begin, begin[-1] * np.arange(1, count) / max(count, 1))
    return tuple(sorted(set(stops.tolist()) - {0}))


def span(low: float, high: float, origin: float, cell: float, count: int) -> slice:
    first, stop = int(np.floor((low - origin) / cell)), int(np.ceil((high - origin) / cell))
    return slice(min(max(first, 0), count), min(max(stop, 0), count))


def beginning(motion: Motion, row: int, part: float) -> Motion:
    """A motion of one move: the first part of move `row`."""
    built = MotionBuilder()
    line, start, end = int(motion.line[row]), motion.start[row].tolist(), place(motion, row, part).tolist()
    if motion.kind[row] != Move.ARC:
        built.move(Move(int(motion.kind[row])), line, start, end, feed=float(motion.feed[row]))
    else:
        arc = int(motion.arc[row])
        built.arc(line, start, end, plane=int(motion.arcs.plane[arc]), feed=float(motion.feed[row]),
                  centre=motion.arcs.centre[arc].tolist(), sweep=float(motion.arcs.sweep[arc]) * part)
    return built.motion()


def place(motion: Motion, row: int, part: float) -> NDArray[np.float64]:
    """(3,) where the tip is when `part` of move `row` is made; a rapid is drawn straight."""
    start, end = motion.start[row], motion.end[row]
    at = start + (end - start) * part
    if motion.kind[row] == Move.ARC and 0 < part < 1:
        arc = int(motion.arc[row])
        plane = list(PLANE_AXES[int(motion.arcs.plane[arc])][:2])
        arm0, arm1 = start[plane] - motion.arcs.centre[arc], end[plane] - motion.arcs.centre[arc]
        radius = np.hypot(*arm0) + part * (np.hypot(*arm1) - np.hypot(*arm0))
        angle = np.arctan2(arm0[1], arm0[0]) + part * motion.arcs.sweep[arc]
        at[plane] = motion.arcs.centre[arc] + radius * np.array((np.cos(angle), np.sin(angle)))
    return at
