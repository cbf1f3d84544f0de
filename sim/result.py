"""What a check found: the figures behind every report, in millimetres and the board frame.

The law: a Result is frozen data with no wording for a screen; record, terminal, page and window all
read it, and none of them computes a figure that a verdict rests on.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ..parser.finding import Finding, Severity
from ..parser.job import Input, Job
from ..parser.reading import Reading, Unchecked
from .cut import Cut
from .knobs import AS_PROGRAMMED, Knobs
from .paths import RapidPath
from .solids import Solids
from .stage_figures import StageFigures
from .surface import Surface

if TYPE_CHECKING:
    from .effort import Effort

STRAIGHT = RapidPath()


class Verdict(StrEnum):
    """STOP when a finding of that severity stands, CAUTION likewise, CLEAR when neither does."""

    STOP = "stop"
    CAUTION = "caution"
    CLEAR = "clear"


@dataclass(frozen=True)
class Limit:
    """Something that may end the facings: a screw, a thickness to keep, an obstacle; what may still be taken
    there (mm; negative: too much was), and in how many facings."""

    about: str
    left: float
    facings: int


@dataclass(frozen=True)
class Deeper:
    """A screw sunk deeper `by` so much, the facings then, and what ends them then."""

    about: str
    by: float
    facings: int
    then: str


@dataclass(frozen=True)
class LowerHead:
    """Another head by its standard, so much `lower`, so wide, and the facings with it."""

    screw: str
    lower: float
    diameter: float
    facings: int


@dataclass(frozen=True)
class Budget:
    """How many facings are left after the last stage; None where it cannot be told.

    depth: of the last facing · limits: all that may end them, the first first · deeper: the screw that ends
    them, sunk · heads: lower heads for its group, the most facings first · clean: how much deeper than the
    middle of the face a facing must go to clean all of it.
    """

    cover_over_heads: float | None = None
    facings_left: int | None = None
    limited_by: str | None = None
    depth: float | None = None
    limits: tuple[Limit, ...] = ()
    deeper: Deeper | None = None
    heads: tuple[LowerHead, ...] = ()
    clean: float | None = None


@dataclass(frozen=True)
class Quieted:
    """What a stage's `quiet` silenced: the kind, why, how many findings, and the weight of the worst (None:
    it silenced nothing)."""

    stage: str
    kind: str
    reason: str
    count: int = 0
    severity: Severity | None = None


@dataclass(frozen=True)
class StageRecord:
    """A stage as it ran: what page and window replay, n moves. `solids` is what stood, phase after phase, and
    `since` the move that each phase began with; cutters (n,) the Cutter in the spindle at each move (object
    array, None where none is known) and seconds (n,) how long it took, None where a stage kept none; `rapid`
    and `tilt` (dz/dx, dz/dy) as the moves cut; `effort` what each move asked for.
    """

    reading: Reading
    cut: Cut
    solids: tuple[Solids, ...] = ()
    since: tuple[int, ...] = ()
    cutters: NDArray[np.object_] | None = None
    seconds: NDArray[np.float64] | None = None
    rapid: RapidPath = STRAIGHT
    tilt: tuple[float, float] = (0.0, 0.0)
    effort: Effort | None = None


@dataclass(frozen=True)
class Result:
    """The whole answer. `findings` are folded, worst first; `surface` is the board after the last stage,
    `kept` the same with the parts that are off the machine then (None: none is). `knobs`: how far the
    operator may turn feed and speed, as the check was told."""

    job: Job
    findings: tuple[Finding, ...]
    stages: tuple[StageFigures, ...]
    budget: Budget
    unchecked: tuple[Unchecked, ...]
    surface: Surface
    records: tuple[StageRecord, ...] = field(default=(), repr=False)
    quieted: tuple[Quieted, ...] = ()
    kept: Surface | None = field(default=None, repr=False)
    knobs: Knobs = AS_PROGRAMMED

    @property
    def inputs(self) -> tuple[Input, ...]:
        return self.job.inputs

    @property
    def verdict(self) -> Verdict:
        """Notes do not change it."""
        worst = max((f.severity for f in self.findings), default=Severity.NOTE)
        return {Severity.STOP: Verdict.STOP, Severity.CAUTION: Verdict.CAUTION}.get(worst, Verdict.CLEAR)
