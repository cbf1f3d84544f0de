"""A result as one run of time: which move is being made at a moment, of which stage, on which line.

The law: a moment is a number of moves made over all reported stages, and a part of the next. Times are for
the eye: a rapid whose rate nobody gave goes at RAPID, and a move without a rate takes MOMENT.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..parser.motion import Motion
from ..sim.clock import Rates, seconds
from ..sim.replay import place

RAPID = 5000.0  # mm/min
MOMENT = 0.02  # s: the least a move takes here, so that each is seen
FEW = 24  # moves of a line that are looked at closely
SAMPLES = 64  # places on a move that a finding's place is compared with


@dataclass(frozen=True)
class Timeline:
    """The moves of every stage in a row.

    motions: one for each stage · begin (s + 1,): the number of each stage's first move, and of all ·
    ends (n,): seconds from the start until each move is made · line (n,): the program's.
    """

    motions: tuple[Motion, ...]
    begin: tuple[int, ...]
    ends: NDArray[np.float64]
    line: NDArray[np.int32]

    @classmethod
    def of(cls, motions: Sequence[Motion], rapid: Rates | None = None,
           acceleration: Rates | None = None) -> Timeline:
        spent = [np.maximum(seconds(each, rapid or RAPID, acceleration), MOMENT) for each in motions]
        begin = np.concatenate([[0], np.cumsum([len(each) for each in motions])]).astype(int)
        return cls(tuple(motions), tuple(begin.tolist()), np.cumsum(np.concatenate([*spent, np.empty(0)])),
                   np.concatenate([*(each.line for each in motions), np.empty(0, np.int32)]).astype(np.int32))

    def __len__(self) -> int:
        return len(self.ends)

    @property
    def seconds(self) -> float:
        """How long all of it takes."""
        return float(self.ends[-1]) if len(self) else 0.0

    def stage(self, moves: int) -> int:
        """Which stage is on when so many moves are made; the last at the end."""
        return min(max(bisect_right(self.begin, moves) - 1, 0), len(self.motions) - 1)

    def at(self, time: float) -> tuple[int, float]:
        """Moves made at a time, and the part of the next."""
        moves = int(np.searchsorted(self.ends, time, side="right"))
        if moves >= len(self) or time <= 0:
            return min(moves, len(self)), 0.0
        begun = float(self.ends[moves - 1]) if moves else 0.0
        return moves, (time - begun) / (float(self.ends[moves]) - begun)

    def time(self, moves: int, part: float = 0.0) -> float:
        """Seconds until so many moves are made."""
        begun = float(self.ends[moves - 1]) if moves else 0.0
        return begun if moves >= len(self) else begun + part * (float(self.ends[moves]) - begun)

    def tip(self, moves: int, part: float) -> tuple[float, float, float]:
        """Where the tip is, board frame; NaN where that is not known."""
        stage = self.stage(moves)
        motion, row = self.motions[stage], moves - self.begin[stage]
        if not len(motion):
            return (np.nan, np.nan, np.nan)
        at = place(motion, row, part) if row < len(motion) else motion.end[-1]
        return float(at[0]), float(at[1]), float(at[2])

    def line_at(self, moves: int, part: float) -> int:
        """The line of the move that is being made, or of the one just made."""
        if not len(self):
            return 0
        return int(self.line[min(moves if part > 0 else max(moves - 1, 0), len(self) - 1)])

    def next_line(self, moves: int) -> int:
        """Moves made when the line after this moment is through."""
        if moves >= len(self):
            return len(self)
        later = np.flatnonzero(self._another(moves, np.arange(moves, len(self))))
        return moves + int(later[0]) if len(later) else len(self)

    def line_before(self, moves: int) -> int:
        """Moves made when the line that was made last begins."""
        if moves <= 0:
            return 0
        sooner = np.flatnonzero(self._another(moves - 1, np.arange(moves)))
        return int(sooner[-1]) + 1 if len(sooner) else 0

    def _another(self, row: int, rows: NDArray[np.intp]) -> NDArray[np.bool_]:
        """Which rows are of another line, or of another stage, than `row`."""
        stage = self.stage(row)
        outside = (rows < self.begin[stage]) | (rows >= self.begin[stage + 1])
        return outside | (self.line[rows] != self.line[row])

    def when(self, stage: int, line: int, at: Sequence[float]) -> tuple[int, float]:
        """The moment of a stage's line at which the tip is nearest to a place."""
        first, stop = self.begin[stage], self.begin[stage + 1]
        best = (np.inf, first, 0.0)
        for row in first + self._nearest(stage, np.flatnonzero(self.line[first:stop] == line), at):
            for part in np.linspace(0.0, 1.0, SAMPLES + 1):
                apart = float(np.linalg.norm(np.subtract(place(self.motions[stage], row - first, part), at)))
                best = min(best, (apart, int(row), float(part)))
        _, moves, part = best
        return (moves + 1, 0.0) if part == 1.0 else (moves, part)

    def _nearest(self, stage: int, rows: NDArray[np.intp], at: Sequence[float]) -> NDArray[np.intp]:
        """The few moves that begin or end nearest to a place, or may pass close to it in between."""
        motion = self.motions[stage]
        ends = [np.linalg.norm(tips[rows] - np.asarray(at), axis=1) for tips in (motion.start, motion.end)]
        least = np.minimum(*ends) - motion.length()[rows] / 2
        return np.sort(rows[np.argsort(least, kind="stable")[:FEW]])
