"""The quick lane: a Stretch of plain lines carried out by compiled code.

The law: what it does is what the interpreter does with each of the rows, bit for bit, and it says nothing. A
row that could be more than a clear move is carried out by the interpreter, and the quick lane goes on behind.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import isfinite, nan
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from . import arcs
from .arc_lines import tolerance
from .choosing import choose
from .closing import PLANE
from .columns import Columns
from .control import Span
from .kernels.lines import (
    BOTH,
    BY_RADIUS,
    FEED,
    MOTION,
    NO_MOTION,
    NOW_NUMBERS,
    OTHER_MOTION,
    SPEED,
    run_rows,
)
from .motion import Floats, Move
from .stretch import Plain, Stretch

if TYPE_CHECKING:
    from .interpreter import Run

FEWEST, MOST = 256, 65_536  # rows tried at a time, at first and where all goes well
CODES = {"G0": 0.0, "G1": 1.0, "G2": 2.0, "G3": 3.0, "": NO_MOTION, "G80": NO_MOTION}
CENTRES = frozenset({"G90.1", "G91.1"})


class Made(NamedTuple):
    """Room for what `run_rows` makes. line (n,) int32; code (n,) uint8: the G number, with BOTH and BY_RADIUS
    added; start, end (n, 3) float64; feed (n,) float64; centre (n, 2) float64, or (R, 0); turned (n,) int32
    and speed (n,) float64: how many moves came before an S that changes the speed, and that speed."""

    line: NDArray[np.int32]
    code: NDArray[np.uint8]
    start: Floats
    end: Floats
    feed: Floats
    centre: Floats
    turned: NDArray[np.int32]
    speed: Floats

    @classmethod
    def room(cls, n: int) -> Made:
        return cls(np.empty(n, np.int32), np.empty(n, np.uint8), np.empty((n, 3)), np.empty((n, 3)),
                   np.empty(n), np.empty((n, 2)), np.empty(n, np.int32), np.empty(n))


class Quick:
    """Carries out Stretches for a Run."""

    def __init__(self, run: Run) -> None:
        self.way, self.control = run, run.control
        self.scratch, self.small = np.empty((3, 9)), Made.room(FEWEST)
        rule, takes = run.control.rule, run.control.dialect.takes
        self.arcs = takes("G2") and takes("G3") and rule("arc.feed_on") == "helix"

    def run(self, stretch: Stretch) -> None:
        """Every row, in order, until the run is stopped; the course has counted the first already."""
        row, size, course, table = stretch.row, FEWEST, self.way.course, stretch.table
        while row < stretch.stop and (row == stretch.row or not course.stopped):
            until = min(stretch.stop, row + size, row + self._unbudgeted(), self._next_act(table, row))
            past = self._ahead(stretch, row, until) if until > row and self._clear() else row
            size = min(2 * size, MOST) if past == until else FEWEST
            if past == row:
                self._slowly(table, row, counted=row == stretch.row)
                past += 1
            row = past

    def _slowly(self, table: Plain, row: int, counted: bool) -> None:
        """One row by the interpreter, once the course has counted it."""
        self.control.line = int(table.line[row])
        if not counted:
            self.way.course.budget()
        self.way.block(table.block(row))

    def _clear(self) -> bool:
        """Whether plain rows can be clear moves as the control stands."""
        control = self.control
        return (self.way.short and self.way.carrier.watch.quiet and control.simple
                and control.modes.feed_mode == 94 and isfinite(sum(control.tip)))

    def _unbudgeted(self) -> int:
        """How many rows can be run before the course's budget could be used up."""
        course, builder = self.way.course, self.control.builder
        left = builder.most - len(builder)
        return max(0, min(course.limit - course.steps, left) if course.again else left)

    def _next_act(self, table: Plain, row: int) -> int:
        """The row before which the operator does something."""
        acts = self.way.acts
        return row + int(np.searchsorted(table.line[row:], acts[0][0])) if acts else len(table.line)

    # --- rows ahead ---

    def _ahead(self, stretch: Stretch, row: int, until: int) -> int:
        """Carry out rows as far as all is clear; the first that is not."""
        table, rules = stretch.table, self._rules()
        made = self.small if until - row <= FEWEST else Made.room(until - row)
        while True:
            now = self._now()
            past, moves, speeds = run_rows(table.line, table.first, table.letters, table.values, row, until,
                                           now, rules, self.scratch, *made)
            bent = np.flatnonzero(made.code[:moves] >= 2)
            drawn = [*self._drawn(made, bent)]
            if len(drawn) == len(bent):
                break
            # there is something to be said of an arc: only the rows before it are run
            until = int(np.searchsorted(table.line, made.line[bent[len(drawn)]]))
        if past > row:
            self._count(table, row + (row == stretch.row), past, made.line[:moves])
            self._take(table, made, moves, speeds, bent, drawn)
            self._stand(now, int(table.line[past - 1]))
        return past

    def _now(self) -> Floats:
        control = self.control
        now = np.empty(NOW_NUMBERS)
        now[:3] = control.tip
        now[FEED] = nan if control.feed is None else control.feed
        now[SPEED] = nan if control.speed is None else control.speed
        now[MOTION] = CODES.get(control.modes.motion, OTHER_MOTION)
        return now

    def _rules(self) -> Floats:
        control, limit = self.control, tolerance(self.control)
        modes, frames = control.modes, control.frames
        plain = modes.plane == 17 and not modes.single
        circles = self.arcs and plain and PLANE not in self.way.carrier.watch.open
        counts = control.setting.spindle_by_hand is None
        return np.array([modes.absolute, frames.scale, *frames.shift, circles, modes.centres_absolute,
                         limit.absolute, limit.share, limit.hard, counts])

    def _stand(self, now: Floats, line: int) -> None:
        """The control as the rows leave it."""
        control = self.control
        control.line = line
        control.tip = now[:3].tolist()
        if not np.isnan(now[FEED]):
            control.feed = float(now[FEED])
        motion = f"G{now[MOTION]:.0f}"
        if now[MOTION] >= 0.0 and motion != control.modes.motion:
            choose(control, motion)

    def _count(self, table: Plain, row: int, past: int, lines: NDArray[np.int32]) -> None:
        """What the course would know, had it counted each row before that was run."""
        course, before, last = self.way.course, len(self.control.builder), past - 1
        counts = int(course.again)
        moved = np.searchsorted(table.line, lines[-2:]).tolist()
        moving = [at for at in moved if at < last]
        if moving:
            course.moves = before + len(lines) - (moved[-1] == last)
            course.steps = counts * (last - moving[-1])
        elif row <= last:
            course.steps = counts * (last - row + 1) + (course.steps if course.moves == before else 0)
            course.moves = before

    # --- moves ---

    def _drawn(self, made: Made, bent: NDArray[np.intp]) -> Iterator[tuple[arcs.Flat, float]]:
        """Centre and sweep of each arc, up to the first of which something is to be said."""
        limit, stretch = tolerance(self.control), self.control.rule("arc.r_short") == "stretch"
        columns = made.code[bent], made.start[bent, :2], made.end[bent, :2], made.centre[bent]
        for code, start, end, centre in zip(*(column.tolist() for column in columns), strict=True):
            ccw = bool(code & 1)
            if not code & BY_RADIUS:
                yield (centre[0], centre[1]), arcs.swept(start, end, centre, ccw)
                continue
            try:
                arc = arcs.by_radius(start, end, centre[0], ccw, limit, 1, stretch)
            except arcs.NoArc:
                return
            if arc.doubt:
                return
            yield arc.centre, arc.sweep

    def _take(self, table: Plain, made: Made, moves: int, speeds: int, bent: NDArray[np.intp],
              drawn: list[tuple[arcs.Flat, float]]) -> None:
        """The moves go to the builder."""
        control = self.control
        state = self._states(made, moves, speeds)
        arc = np.full(moves, -1, np.int32)
        if drawn:
            centre, sweep = zip(*drawn, strict=True)
            arc[bent] = control.builder.arcs(17, np.array(centre), np.array(sweep))
            control.count_arc(17, int(made.line[bent[0]]), len(bent))
            self._doubt(table, made.line[bent[made.code[bent] & BOTH != 0]])
        kind = np.minimum(made.code[:moves] & 3, Move.ARC).astype(np.uint8)
        control.builder.extend(Columns(made.line[:moves], kind, made.start[:moves], made.end[:moves],
                                       made.feed[:moves], state, arc, np.zeros(moves, np.bool_)))

    def _states(self, made: Made, moves: int, speeds: int) -> NDArray[np.int32]:
        """The state of each move: an S word that changes the speed begins another."""
        control, done = self.control, 0
        state = np.empty(moves, np.int32)
        for at, speed in zip(made.turned[:speeds].tolist(), made.speed[:speeds].tolist(), strict=True):
            state[done:at] = control.builder.in_state(at - done)
            control.speed, done = speed, at
            control.renew()
        state[done:] = control.builder.in_state(moves - done)
        return state

    def _doubt(self, table: Plain, lines: NDArray[np.int32]) -> None:
        """Arcs with I and J mean something else where centres are absolute, unless the program says so: the
        first one tells it."""
        control = self.control
        if len(lines) and control.modes.said.isdisjoint(CENTRES):
            control.line = int(lines[0])
            row = int(np.searchsorted(table.line, lines[0]))
            control.doubt("arc.centre_default", Span(_g_column(table.bytes_of(row))), "I J K")


def _g_column(text: bytes) -> int:
    """The column of a plain line's G, 0 where it has none."""
    return text.upper().find(b"G") + 1
