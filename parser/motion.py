"""Motion: the table of moves, one NumPy column for each quantity. Arcs stay arcs.

The law: a row is what the tip of the cutter does (millimetres, board frame); a coordinate that
cannot be known is NaN, never a guess. What holds over many moves (cutter, spindle, coolant, offset)
is a row of `states`; what happens between moves (stops, changes, dwells) is an `Event`.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from enum import IntEnum
from functools import cached_property
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from .columns import COLUMNS, Columns, Growing

Floats = NDArray[np.float64]
NO_LIMIT = sys.maxsize
Told = tuple[tuple[float, ...], tuple[float, ...], tuple[float, ...]]


class Move(IntEnum):
    """Kinds of move, the values of `Motion.kind`."""

    RAPID = 0
    FEED = 1
    ARC = 2  # at feed: an arc or helix, see ArcTable


class Spindle(IntEnum):
    """Which way the spindle turns; UNKNOWN is the start of a program that has not said."""

    STILL = 0
    CLOCKWISE = 1
    COUNTER = -1


@dataclass(frozen=True, slots=True)
class State:
    """What holds while moves are made.

    `cutter` is the number in the spindle (None: none known), `speed` the programmed rpm (None: never
    given), `shift` what to take off a board-frame point (x, y, z) to get what the control shows, `reach`
    how much longer the cutter is than the one machine.origin was taken with (mm, NaN: not given): the
    machine's Z is the tip's + machine.origin's + reach. `length_offset` is the H number in force (None: no
    length offset).
    """

    cutter: int | None = None
    spindle: Spindle = Spindle.STILL
    speed: float | None = None
    mist: bool = False
    flood: bool = False
    shift: tuple[float, float, float] = (0.0, 0.0, 0.0)
    offset: str = "G54"
    reach: float = 0.0
    length_offset: int | None = None


class Happening(IntEnum):
    """Kinds of event between moves."""

    DWELL = 0  # value: seconds
    STOP = 1  # M0, M60; value: the how manieth executed stop it is, from 1
    OPTIONAL_STOP = 2  # M1; value: the same, 0 where the stage's switch lets it pass
    CUTTER = 3  # a cutter came into the spindle; value: its number
    SPINDLE = 4  # M3, M4, M5; value: a Spindle
    COOLANT = 5
    END = 6  # M2, M30
    OPERATOR = 7  # what the job says the operator does here; code: "at_stop" or "at_line"


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happens before move `before` (a row number; len(motion) when after the last)."""

    kind: Happening
    before: int
    line: int
    value: float = 0.0
    code: str = ""


@dataclass(frozen=True, slots=True)
class ArcTable:
    """The arcs of a motion, one row each (m rows).

    `plane` is 17, 18 or 19; first and second axis are (X, Y), (Z, X), (Y, Z). `centre` is (m, 2) in
    those axes, mm, board frame. `sweep` is in radians, positive counter-clockwise seen from the
    positive end of the third axis, more than a turn allowed. The radius goes linearly from
    |start - centre| to |end - centre| over the sweep (they differ within the arc tolerance only).
    """

    plane: NDArray[np.int16] = field(default_factory=lambda: np.empty(0, np.int16))
    centre: Floats = field(default_factory=lambda: np.empty((0, 2)))
    sweep: Floats = field(default_factory=lambda: np.empty(0))

    def __len__(self) -> int:
        return len(self.plane)


ARC_COLUMNS = ((np.int16, 0), (np.float64, 2), (np.float64, 0))  # plane, centre, sweep
PLANE_AXES = {17: (0, 1, 2), 18: (2, 0, 1), 19: (1, 2, 0)}  # first, second, third axis


@dataclass(frozen=True)
class Motion:
    """n moves as columns.

    line (n,) int32: source line, from 1 · kind (n,) uint8: a Move · start, end (n, 3) float64: the
    tip, mm, board frame, NaN where unknown · feed (n,) float64: mm/min along the path, NaN for rapids
    and where no feed was given · state (n,) int32: row of `states` · arc (n,) int32: row of `arcs`,
    -1 for straight moves · cycle (n,) bool: the move was made by a drilling cycle.
    """

    PART: ClassVar[int] = 1 << 20  # rows looked at in one go

    line: NDArray[np.int32]
    kind: NDArray[np.uint8]
    start: Floats
    end: Floats
    feed: Floats
    state: NDArray[np.int32]
    arc: NDArray[np.int32]
    cycle: NDArray[np.bool_]
    states: tuple[State, ...] = (State(),)
    arcs: ArcTable = field(default_factory=ArcTable)
    events: tuple[Event, ...] = ()

    def __len__(self) -> int:
        return len(self.line)

    @cached_property
    def placed(self) -> NDArray[np.bool_]:
        """(n,) true where start and end are wholly known. Asked for by everyone, so worked out once."""
        known = np.all(np.isfinite(self.start), axis=1) & np.all(np.isfinite(self.end), axis=1)
        known.flags.writeable = False
        return known

    @property
    def is_feed(self) -> NDArray[np.bool_]:
        return self.kind != Move.RAPID

    def shown(self, row: int, point: Sequence[float]) -> tuple[float, float, float]:
        """A board-frame point as the control shows it during move `row`."""
        x, y, z = self.states[self.state[row]].shift
        return point[0] - x, point[1] - y, point[2] - z

    def column(self, name: str) -> NDArray:
        """A State's quantity for each move: numbers as float64 (None is NaN), the rest as objects."""
        values = [getattr(state, name) for state in self.states]
        if all(v is None or isinstance(v, int | float) for v in values):
            table = np.array([np.nan if v is None else float(v) for v in values])
        else:
            table = np.empty(len(values), object)
            table[:] = values
        return table[self.state]

    def length(self) -> Floats:
        """(n,) length of each path, mm; NaN where unplaced. Arcs and helices by sqrt((r·sweep)²+Δh²)."""
        length = np.empty(len(self))
        for first in range(0, len(self), self.PART):  # in parts: long motions fill the memory
            rows = slice(first, first + self.PART)
            length[rows] = np.linalg.norm(self.end[rows] - self.start[rows], axis=1)
        for plane, axes in PLANE_AXES.items():
            rows = self._arcs_in(plane)
            length[rows] = _arc_lengths(self, rows, axes)
        return length

    def boxes(self) -> Floats:
        """(n, 2, 3) least and greatest coordinates of each path, arcs by their bulges; NaN where unplaced."""
        boxes = np.stack((np.minimum(self.start, self.end), np.maximum(self.start, self.end)), axis=1)
        boxes[~self.placed] = np.nan
        for plane, axes in PLANE_AXES.items():
            rows = self._arcs_in(plane)
            for quarter in range(4 if len(rows) else 0):
                _bulge(self, boxes, rows, axes, quarter)
        return boxes

    def _arcs_in(self, plane: int) -> NDArray[np.intp]:
        """The moves that are placed arcs of a plane."""
        rows = np.flatnonzero((self.arc >= 0) & self.placed)
        return rows[self.arcs.plane[self.arc[rows]] == plane]


def _bulge(motion: Motion, boxes: Floats, rows: NDArray[np.intp], axes: tuple[int, int, int],
           quarter: int) -> None:
    """Widen the boxes of the arcs that cross an axis for the (quarter + 1)-th time; later turns repeat."""
    centre, sweep = motion.arcs.centre[motion.arc[rows]], motion.arcs.sweep[motion.arc[rows]]
    plane = list(axes[:2])
    arm0, arm1 = motion.start[rows][:, plane] - centre, motion.end[rows][:, plane] - centre
    angle = np.arctan2(arm0[:, 1], arm0[:, 0])
    turns = angle / (np.pi / 2)
    turns = np.where(sweep > 0, np.floor(turns) + 1 + quarter, np.ceil(turns) - 1 - quarter)
    part = (turns * (np.pi / 2) - angle) / sweep
    radius = np.hypot(*arm0.T) + part * (np.hypot(*arm1.T) - np.hypot(*arm0.T))
    crossing = turns * (np.pi / 2)
    at = centre + radius[:, None] * np.column_stack((np.cos(crossing), np.sin(crossing)))
    reached = rows[part < 1]
    for axis, values in zip(plane, at[part < 1].T, strict=True):
        boxes[reached, 0, axis] = np.minimum(boxes[reached, 0, axis], values)
        boxes[reached, 1, axis] = np.maximum(boxes[reached, 1, axis], values)


def _arc_lengths(motion: Motion, rows: NDArray[np.intp], axes: tuple[int, int, int]) -> Floats:
    centre, sweep = motion.arcs.centre[motion.arc[rows]], motion.arcs.sweep[motion.arc[rows]]
    plane, third = list(axes[:2]), axes[2]
    r0 = np.linalg.norm(motion.start[rows][:, plane] - centre, axis=1)
    r1 = np.linalg.norm(motion.end[rows][:, plane] - centre, axis=1)
    return np.hypot((r0 + r1) / 2 * sweep, motion.end[rows, third] - motion.start[rows, third])


class TooManyMoves(Exception):
    """One move more than `most`."""

    def __init__(self, most: int) -> None:
        super().__init__(f"more than {most} moves")
        self.most = most


class MotionBuilder:
    """Rows in, Motion out: what an interpreter appends to while it reads. `told` hears from time to time how
    many moves there are. Raises TooManyMoves for one more than `most`."""

    CHUNK = 65_536  # rows kept as tuples before they are packed: long programs stay small
    OPEN = 2  # of them stay rows: what looks ahead may still change them
    FEW = 64  # columns of fewer rows are kept as tuples

    def __init__(self, most: int = NO_LIMIT, told: Callable[[int, int], None] | None = None) -> None:
        self.most, self.told = most, told
        self._packed = Growing(COLUMNS)
        self._rows: list[tuple] = []
        self._before = 0  # rows that are packed already
        self._room = min(self.CHUNK, most)  # rows before the next look
        self._states: list[State] = [State()]
        self._used = False  # whether a move was made in the last state
        self._arcs: list[tuple] = []
        self._packed_arcs = Growing(ARC_COLUMNS)
        self._arcs_before = 0  # those that are packed already
        self._events: list[Event] = []
        self._dropped: tuple = ()

    def __len__(self) -> int:
        return self._before + len(self._rows)

    def state(self, state: State) -> None:
        """From the next move on, this holds."""
        if not self._used:
            self._states[-1] = state
        elif state != self._states[-1]:
            self._states.append(state)
            self._used = False

    def move(self, kind: Move, line: int, start: Sequence[float], end: Sequence[float], *,
             feed: float = float("nan"), cycle: bool = False) -> None:
        """A straight move of the tip, mm, board frame."""
        self._append((line, int(kind), *start, *end, feed, len(self._states) - 1, -1, cycle))

    def arc(self, line: int, start: Sequence[float], end: Sequence[float], *, plane: int,
            centre: Sequence[float], sweep: float, feed: float) -> None:
        """An arc or helix; see ArcTable for centre and sweep."""
        self._append((line, int(Move.ARC), *start, *end, feed, len(self._states) - 1,
                      self._arcs_before + len(self._arcs), False))
        self._arcs.append((plane, *centre, sweep))  # behind its row: what is packed goes together

    def arcs(self, plane: int, centre: Floats, sweep: Floats) -> NDArray[np.int32]:
        """The rows that arcs have in the table of arcs: centre (n, 2), sweep (n,)."""
        self._pack_arcs()
        self._packed_arcs.add((np.full(len(sweep), plane, np.int16), centre, sweep))
        self._arcs_before += len(sweep)
        return np.arange(self._arcs_before - len(sweep), self._arcs_before, dtype=np.int32)

    def _pack_arcs(self, keep: int = 0) -> None:
        """The arcs so far as one table, but for the last `keep`."""
        done = self._arcs[:max(0, len(self._arcs) - keep)]
        if done:
            table = np.array(done, dtype=np.float64)
            self._packed_arcs.add((table[:, 0], table[:, 1:3], table[:, 3]))
            self._arcs_before += len(done)
            self._arcs = self._arcs[len(done):]

    def in_state(self, count: int) -> NDArray[np.int32]:
        """The `state` of `count` moves that are made now, and will be handed over by `extend`."""
        self._used = self._used or count > 0
        return np.full(count, len(self._states) - 1, np.int32)

    def extend(self, columns: Columns) -> None:
        """Moves that were made in one go; their states are those of `in_state`."""
        if len(columns.line) > self.most - len(self):
            raise TooManyMoves(self.most)
        if len(columns.line) < self.FEW:
            self._rows.extend(columns.rows())
        else:
            self._pack()
            self._packed.add(columns)
            self._before += len(columns.line)
            self._look()

    def _append(self, row: tuple) -> None:
        self._used = True
        if len(self._rows) >= self._room:
            if len(self) >= self.most:
                raise TooManyMoves(self.most)
            self._pack(self.OPEN)
        self._rows.append(row)

    def _pack(self, keep: int = 0) -> None:
        """The rows as columns, but for the last `keep`, which may still change."""
        done = self._rows[:max(0, len(self._rows) - keep)]
        if done:
            self._packed.add(Columns.of(done))
        self._before += len(done)
        self._rows = self._rows[len(done):]
        if len(self._arcs) >= self.CHUNK:
            self._pack_arcs(keep)
        self._look()

    def _look(self) -> None:
        """How many rows may come before the next look at the budget; tells how far it is."""
        self._room = min(self.CHUNK + len(self._rows), self.most - self._before)
        if self.told is not None:
            self.told(len(self), 0)

    def event(self, kind: Happening, line: int, value: float = 0.0, code: str = "") -> None:
        """Something that happens before the next move."""
        self._events.append(Event(kind, len(self), line, value, code))

    def last(self) -> Told | None:
        """Start and end of the last move, and of an arc (plane, centre's first and second, sweep), else ();
        None where there is none, or it was made in one go with others."""
        return self._told(self._rows[-1]) if self._rows else None

    def _told(self, row: tuple) -> Told:
        arc = self._arc(int(row[10])) if row[1] == Move.ARC else ()
        return row[2:5], row[5:8], arc

    def lines_and_moves(self, first: int, stop: int) -> Iterator[tuple[int, Told]]:
        """Rows `first` to `stop` - 1, each with its line, as `last` has them."""
        for row in range(first, min(stop, self._before)):
            line, kind, start, end, _, _, arc, _ = (column[row].tolist() for column in self._packed.columns)
            yield int(line), (tuple(start), tuple(end), self._arc(int(arc)) if kind == Move.ARC else ())
        for row in self._rows[max(0, first - self._before):max(0, stop - self._before)]:
            yield int(row[0]), self._told(row)

    def _arc(self, at: int) -> tuple[float, ...]:
        if at >= self._arcs_before:
            return tuple(self._arcs[at - self._arcs_before])
        plane, centre, sweep = (column[at].tolist() for column in self._packed_arcs.columns)
        return plane, *centre, sweep

    def tail(self) -> int:
        """How many of the last moves can still be changed."""
        return len(self._rows)

    def last_two(self) -> tuple[Told, Told]:
        return self._told(self._rows[-2]), self._told(self._rows[-1])

    def feed_of_last(self, back: int) -> float:
        return self._rows[-back][8]

    def end_last_at(self, end: Sequence[float], sweep: float = 0.0) -> None:
        """The last move ends elsewhere (an arc after `sweep`): what looks ahead knows only now."""
        row = self._rows[-1]
        self._rows[-1] = (*row[:5], *end, *row[8:])
        if row[1] == Move.ARC:
            at = int(row[10]) - self._arcs_before
            self._arcs[at] = (*self._arcs[at][:3], sweep)

    def drop_last(self) -> None:
        """The last move is taken out, to be put back behind others."""
        self._dropped = self._rows.pop()

    def put_back(self, start: Sequence[float], sweep: float = 0.0) -> None:
        """The move that was taken out, from another start (an arc with another sweep)."""
        row = self._dropped
        if row[1] == Move.ARC:
            at = int(row[10]) - self._arcs_before
            self._arcs[at] = (*self._arcs[at][:3], sweep)
        self._rows.append((*row[:2], *start, *row[5:]))

    @property
    def events(self) -> Sequence[Event]:
        """What has happened so far."""
        return self._events

    def motion(self) -> Motion:
        """Everything so far as columns."""
        self._pack()
        self._pack_arcs()
        return Motion(*self._packed.whole(), states=tuple(self._states), events=tuple(self._events),
                      arcs=ArcTable(*self._packed_arcs.whole()))
