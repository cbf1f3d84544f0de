"""Going through a result in time: where the program stands, and the board as it is then.

The law: no graphics here. A moment is a number of moves over all reported stages and a part of the next;
the surface is cut again by sim, so it is the simulation's at every moment.
"""

from __future__ import annotations

import math

import numpy as np

from ..parser.finding import place
from ..parser.job import Cutter
from ..sim.replay import Replay
from ..sim.result import Result
from .layout import clean, cut
from .scene import Mark, Scene, scene_of
from .stage_rows import clock
from .terrain import Terrain, who_cut
from .timeline import Timeline

SPEEDS = (1, 4, 16, 64, 256)  # how many times faster than the machine


class Player:
    """A result being played. `moves` are made, `part` of the next; `terrain` is what to draw of the board."""

    def __init__(self, result: Result, threads: int | None = None) -> None:
        self.result, self.scene, self.threads = result, scene_of(result), threads
        motions = [record.reading.motion for record in result.records]
        machine = result.job.machine
        self.timeline = Timeline.of(motions, machine.rapid, machine.acceleration)
        self.moves, self.part, self.speed = 0, 0.0, SPEEDS[2]
        self.reason: int | None = None  # which of the scene's marks was gone to last
        self.stage = max(len(motions) - 1, 0)
        self.replay = Replay.of(result, self.stage, threads=threads)
        self.terrain = self._terrain(self.scene)
        self.to(len(self.timeline))

    def _terrain(self, scene: Scene) -> Terrain:
        relief, (lines, stages) = scene.relief, who_cut(self.result)
        return Terrain(self.replay.surface, relief.heights - relief.off, relief.tolerance, relief.bottom,
                       lines, stages)

    # --- going there ----------------------------------------------------------------------------
    def to(self, moves: int, part: float = 0.0) -> None:
        """Go to a moment."""
        moves = min(max(moves, 0), len(self.timeline))
        stage = self.timeline.stage(moves)
        if stage != self.stage:
            self.stage = stage
            self.replay = Replay.of(self.result, stage, threads=self.threads)
            self.terrain.put(self.replay.surface)
        window = self.replay.to(moves - self.timeline.begin[stage], part)
        self.terrain.refresh(window)
        self.moves, self.part = moves, part

    def to_time(self, time: float) -> None:
        self.to(*self.timeline.at(time))

    def step(self, by: int) -> None:
        """So many whole moves on, or back."""
        self.to(self.moves + by + (by < 0 and self.part > 0))

    def line_on(self) -> None:
        """To the end of the line that comes next."""
        self.to(self.timeline.next_line(self.moves))

    def line_back(self) -> None:
        """To the beginning of the line that was made last."""
        self.to(self.timeline.line_before(self.moves + (self.part > 0)))

    def to_reason(self, by: int) -> Mark | None:
        """To the next reason that has a place, or the one before; None where there is none."""
        marks = self.scene.marks
        if not marks:
            return None
        self.reason = (by < 0) * -1 if self.reason is None else (self.reason + by) % len(marks)
        self.reason %= len(marks)
        mark = marks[self.reason]
        stages = [stage.name for stage in self.result.stages]
        if mark.stage in stages and mark.line:
            self.to(*self.timeline.when(stages.index(mark.stage), mark.line, mark.at))
        return mark

    def faster(self, by: int) -> None:
        """The next speed, or the one before."""
        at = SPEEDS.index(self.speed) + by
        self.speed = SPEEDS[min(max(at, 0), len(SPEEDS) - 1)]

    # --- what is there --------------------------------------------------------------------------
    @property
    def time(self) -> float:
        """Seconds since the first stage began."""
        return self.timeline.time(self.moves, self.part)

    @property
    def tip(self) -> tuple[float, float, float]:
        """Board frame; NaN where it is not known."""
        return self.timeline.tip(self.moves, self.part)

    @property
    def cutter(self) -> Cutter | None:
        """What is in the spindle."""
        cutters = self.replay.cutters
        row = self.moves - self.timeline.begin[self.stage]
        return cutters[min(row, len(cutters) - 1)] if len(cutters) else None

    @property
    def line(self) -> int:
        return self.timeline.line_at(self.moves, self.part)

    @property
    def standing(self) -> frozenset[str]:
        """The screws and clamps that stand now, by name; the path on show is the stage's."""
        record = self.result.records[self.stage]
        row = self.moves - self.timeline.begin[self.stage]
        phase = max((n for n, since in enumerate(record.since) if since <= row), default=0)
        solids = record.solids[phase:phase + 1]
        return frozenset(body.about for each in solids for body in (*each.heads, *each.clamps))

    def status(self) -> str:
        """Two lines: when and which move; the program's line."""
        stage = self.result.stages[self.stage].name
        begin, stop = self.timeline.begin[self.stage], self.timeline.begin[self.stage + 1]
        program = self.result.records[self.stage].reading.source
        line = self.line
        text = cut(clean(program.line(line)), 70) if line else "before the first line"
        return (f"{clean(stage)}   {clock(self.time)} of {clock(self.timeline.seconds)}   "
                f"move {self.moves - begin} of {stop - begin}\n"
                f"{clean(program.name)} {line}:  {text}")

    def height(self, x: float, y: float) -> float:
        """The board's height at a place; NaN beside it."""
        return float(self.replay.surface.at(x, y))

    def read_out(self, x: float, y: float) -> str:
        """What lies at a place of the board: where, how high, how far from wanted, which line cut it."""
        units = self.result.job.units
        z = self.height(x, y)
        if math.isnan(z):
            return "no board there"
        said = [place((x, y, z), units)]
        wanted = self._wanted(x, y)
        if not math.isnan(wanted):
            away = z - wanted
            said.append(f"{units.text(abs(away))} {'above' if away > 0 else 'below'} the wanted face"
                        if abs(away) > 5e-7 else "on the wanted face")
        said.append(self._cut_by(x, y))
        return "\n".join(said)

    def _wanted(self, x: float, y: float) -> float:
        relief = self.scene.relief
        j, i = self._cell(x, y)
        return float(relief.heights[j, i] - relief.off[j, i])

    def _cell(self, x: float, y: float) -> tuple[int, int]:
        surface = self.replay.surface
        ny, nx = surface.shape
        return (min(max(math.floor((y - surface.y0) / surface.cell), 0), ny - 1),
                min(max(math.floor((x - surface.x0) / surface.cell), 0), nx - 1))

    def _cut_by(self, x: float, y: float) -> str:
        last = int(self.replay.surface.last[self._cell(x, y)])
        if last < 0:
            return "not cut by this stage"
        for record in reversed(self.result.records):
            if last >= record.cut.first_id:
                return f"cut last by {clean(record.reading.source.name)} line {self.terrain.lines[last]}"
        return "cut by a stage before"

    def profile(self, along: str, at: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """A section across the board: places along it, the heights there, and which of them are of a wanted
        face, at the map's own resolution. along "x": at one Y; "y": at one X."""
        surface, (j, i) = self.replay.surface, self._cell(at, at)
        j, i = (nearest_board(surface.heights, axis, k) for axis, k in ((1, j), (0, i)))
        places, line = (surface.x, np.s_[j]) if along == "x" else (surface.y, np.s_[:, i])
        return places, surface.heights[line], ~np.isnan(self.scene.relief.off[line])


def nearest_board(heights: np.ndarray, axis: int, k: int) -> int:
    """The row (axis 1) or column (axis 0) nearest to `k` that has board in it."""
    line = heights[k] if axis == 1 else heights[:, k]
    if not np.isnan(line).all():
        return k
    some = np.flatnonzero(~np.isnan(heights).all(axis=axis))
    return int(some[np.abs(some - k).argmin()]) if len(some) else k
