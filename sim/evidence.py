"""Evidence: everything that the checks of one stage may look at.

The law: a check is one function, Evidence in, findings out. It computes from what is here, changes
nothing, and knows no other check.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from functools import cached_property, wraps
from typing import Any, TypeVar

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from ..parser.finding import Finding
from ..parser.job import Cutter, Job, Stage
from ..parser.motion import Motion
from ..parser.reading import Reading, Unchecked
from .clearance import Clearances
from .cut import Cut
from .holes import FoundHole
from .knobs import AS_PROGRAMMED, Knobs
from .parts import WHOLE, Piece, piece_at
from .paths import RapidPath
from .solids import Solids
from .surface import Surface
from .swarm import numbered

Measured = TypeVar("Measured")
STRAIGHT = RapidPath()


@dataclass(frozen=True)
class Phase:
    """Moves `first` up to (not including) `stop`, and what stands on the machine meanwhile."""

    first: int
    stop: int
    solids: Solids


@dataclass(frozen=True)
class Evidence:
    """One stage, simulated. Millimetres, board frame; n is the number of moves.

    cutters: (n,) object array of the Cutter in the spindle at each move, None where none is known ·
    seconds: (n,) time of each move · board: the board's outline in plan (shapely), holes of the shape
    are holes of the board · bed_top: Z of the bed's top, None when it cannot be told ·
    drilled: holes that earlier stages drilled, in plan · recesses: recesses in plan ·
    surface: the board after this stage (`cut.before` holds the heights before it) · found: the holes that
    this stage drilled, empty in stages that want none · rapid: what the control does with rapids · knobs:
    what the operator may turn · pieces: the pieces of the board that lie on the machine ·
    measured: the number of the cutter with which the machine's origin was measured, None where none is known.
    """

    job: Job
    stage: Stage
    reading: Reading
    phases: tuple[Phase, ...]
    cutters: NDArray[np.object_]
    seconds: NDArray[np.float64]
    cut: Cut
    clearances: Clearances
    board: BaseGeometry
    recesses: BaseGeometry
    drilled: BaseGeometry
    bed_top: float | None
    surface: Surface
    found: tuple[FoundHole, ...] = ()
    rapid: RapidPath = STRAIGHT
    knobs: Knobs = AS_PROGRAMMED
    pieces: tuple[Piece, ...] = ()
    measured: int | None = None
    worked_out: dict[str, Any] = field(default_factory=dict, init=False, repr=False, compare=False)

    @property
    def motion(self) -> Motion:
        return self.reading.motion

    @cached_property
    def spindle(self) -> tuple[NDArray[np.int32], list[Cutter]]:
        """(n,) the number of the cutter in the spindle at each move (-1: not known), and the cutters."""
        return numbered(self.cutters)

    @property
    def used(self) -> list[Cutter]:
        """The cutters that come into the spindle."""
        return self.spindle[1]

    @property
    def lying(self) -> tuple[Piece, ...]:
        """The pieces on the machine, at least one: without parts it is the board."""
        if self.pieces:
            return self.pieces
        board = self.job.board
        return (Piece(WHOLE, "", self.board, board.top, board.thickness, board.material),)

    def piece_at(self, at: tuple[float, float]) -> Piece:
        """The piece under a place; beside the board the nearest."""
        return piece_at(self.lying, at) or min(
            self.lying, key=lambda piece: float(shapely.distance(piece.outline, shapely.Point(at))))

    def cutter(self, move: int) -> Cutter | None:
        return self.cutters[move]

    def board_then(self, row: int, about: BaseGeometry) -> Surface:
        """The board about a region before a move; a cell that later moves cut counts as before the stage."""
        window = self.surface.window(about)
        part = self.surface.part(window)
        done = part.last < self.cut.first_id + row
        return replace(part, heights=np.where(done, part.heights, self.cut.before[window]))


def once(measure: Callable[[Evidence], Measured]) -> Callable[[Evidence], Measured]:
    """A measure that several checks ask for is worked out once for each Evidence."""
    @wraps(measure)
    def known(evidence: Evidence) -> Measured:
        name = f"{measure.__module__}.{measure.__qualname__}"
        if name not in evidence.worked_out:
            evidence.worked_out[name] = measure(evidence)
        return evidence.worked_out[name]
    return known


Said = Finding | Unchecked
Check = Callable[[Evidence], Iterable[Said]]
