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
from shapely.geometry.base import BaseGeometry

from ..parser.finding import Finding, Severity
from ..parser.job import Input, Job
from ..parser.reading import Reading, Unchecked
from .cut import Cut
from .paths import RapidPath
from .slack import Bound
from .solids import Solids
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
class Level:
    """A height at which much of a face lies, and how much of it (mm²)."""

    z: float
    area: float


@dataclass(frozen=True)
class Histogram:
    """Areas (mm²) of a face by height: bar k holds what lies from `lowest` + k·step up to the next."""

    lowest: float
    step: float
    areas: tuple[float, ...]


@dataclass(frozen=True)
class RidgeFigures:
    """The highest ridge: its height, how far apart its passes are, which way they run (degrees from X, 0 to
    180; None: they bend), and the two lines of the program that left it."""

    height: float
    spacing: float
    direction: float | None
    lines: tuple[int, int]


@dataclass(frozen=True)
class FaceFigures:
    """A wanted face at its stage's end, recesses and holes left out (mm, mm²); None: nothing to measure.

    band: what 95 % of its area lies within, as much left out above as below.
    """

    area: float
    missed_area: float
    over_area: float
    highest: float | None
    lowest: float | None
    ridge_height: float | None
    band: float | None = None
    levels: tuple[Level, ...] = ()
    histogram: Histogram | None = None
    ridge: RidgeFigures | None = None

    @property
    def flatness(self) -> float | None:
        if self.highest is None or self.lowest is None:
            return None
        return self.highest - self.lowest


@dataclass(frozen=True)
class HoleFigures:
    """A drilled hole; `wanted` and `error` are None where no wanted hole is paired with it, `ring` where the
    tip alone did not come through (else the height of the ring that stays)."""

    at: tuple[float, float]
    wanted: tuple[float, float] | None
    diameter: float
    bottom: float
    through: bool
    error: float | None
    line: int
    ring: float | None = None


@dataclass(frozen=True)
class FitFigures:
    """Drilled holes as one pattern against the "wanted" ones or the "bed"'s: how many, shift (mm) of their
    middle, turn (degrees), scale; error: of the worst hole, left: of the worst when the zero is moved by
    `back`, rest: of the worst when shifted, turned and scaled."""

    against: str
    count: int
    shift: tuple[float, float]
    angle: float
    scale: float
    error: float
    back: tuple[float, float]
    left: float
    rest: float


@dataclass(frozen=True)
class ClearanceFigures:
    """The smallest gap (or, negative, the deepest overlap) between a body and every move of a stage.

    `at` is the tip there; `line` the program's; `cover` (heads only) the least material left over it,
    None where that is unknown; `part` what rides above the cutter, "" for the cutter itself.
    """

    about: str
    clearance: float
    line: int
    at: tuple[float, float, float]
    cover: float | None = None
    part: str = ""


@dataclass(frozen=True)
class ZeroFigures:
    """What a stage's program would do with Z zeroed on "board" (its top as the job begins), "bed", or "face"
    (what the last facing left).

    z: of that zero, board frame · chosen: the stage's own · depth: of the deepest feed below the board as it
    is before the stage, 0 or less: it cuts air, None: no feed is over the board · meets, overlap: the body
    that is met deepest, "" for none · rapid: how far a rapid would go into the board.
    """

    name: str
    z: float
    chosen: bool
    depth: float | None
    meets: str = ""
    overlap: float = 0.0
    rapid: float = 0.0


@dataclass(frozen=True)
class HoldMap:
    """How far places of the board lie from the nearest screw or clamp, as far as ever while the stage cuts:
    away (ny, nx) over x (nx,), y (ny,), `step` apart, NaN off the board. beyond: (distance, the part of the
    board in plan that lies farther), exact, at round distances."""

    x: NDArray[np.float64]
    y: NDArray[np.float64]
    step: float
    away: NDArray[np.float64]
    beyond: tuple[tuple[float, BaseGeometry], ...] = ()


@dataclass(frozen=True)
class HoldFigures:
    """The place that a stage cuts farthest from every fitted screw and clamp: how far, where, the program
    line that cut it last, and how far it may be. A board held only at its corners vibrates in its middle."""

    farthest: float
    at: tuple[float, float]
    line: int
    span: float
    map: HoldMap = field(repr=False)


@dataclass(frozen=True)
class SlackFigures:
    """How much may be wrong in a stage before a strike begins, a rapid touches the board or travel ends.

    The zero's place: left, right, front, back, down, up. What the job can bear of its own doubt, all of it
    counted: z_zero, head_z, head_xy. A Bound without `by`: nothing within its amount.
    """

    left: Bound
    right: Bound
    front: Bound
    back: Bound
    down: Bound
    up: Bound
    z_zero: Bound
    head_z: Bound
    head_xy: Bound


@dataclass(frozen=True)
class OverrideFigures:
    """What the operator's feed knob at `percent` makes of a cutter's work: chips (mm an edge), seconds of the
    whole stage, kW; `leaves` says how it leaves what is right: "thin", "thick", "feed" (the machine's most),
    "power", "" where it does not."""

    percent: float
    chip: tuple[float, float] | None
    seconds: float
    power: float | None
    leaves: str = ""


@dataclass(frozen=True)
class FeedFigures:
    """A cutter's cutting in a stage (None: unknown). Lengths mm, feeds mm/min, speed rpm.

    chip, window: mm an edge, what it takes and what is right · surface_speed: of its rim, m/s · down: feeds
    straight down into material · ramp: steepest other way down into it, degrees · removal: greatest, mm³/min,
    and `power` for it, kW · rubbing: s in material with feeds under the window, slowing: s under it while the
    machine slows down and speeds up, longest_slow: at one corner, s · thinned: least greatest chip where less
    than half the cutter is engaged, mm, over a strip `sliver` wide · feed_override: percent of the programmed
    feed within the window · speed_override: percent of the programmed speed at the marked maximum.
    """

    cutter: str
    speed: float | None
    feeds: tuple[float, float] | None
    chip: tuple[float, float] | None
    window: tuple[float, float] | None
    depth: float | None = None
    step: float | None = None
    step_percent: float | None = None
    surface_speed: float | None = None
    down: tuple[float, float] | None = None
    ramp: float | None = None
    removal: float | None = None
    power: float | None = None
    rubbing: float | None = None
    slowing: float | None = None
    longest_slow: float | None = None
    thinned: float | None = None
    sliver: float | None = None
    feed_override: tuple[float, float] | None = None
    speed_override: float | None = None
    overrides: tuple[OverrideFigures, ...] = ()


@dataclass(frozen=True)
class PassFigures:
    """A long straight level way at feed: program lines, ends of the tip's path, mm, seconds."""

    line: int
    last_line: int
    start: tuple[float, float, float]
    end: tuple[float, float, float]
    length: float
    seconds: float


@dataclass(frozen=True)
class WaitFigures:
    """A stop or change of cutter (then its number) that waits for the operator; s of running before."""

    line: int
    code: str
    cutter: int | None
    after: float


@dataclass(frozen=True)
class TimeFigures:
    """Seconds of a stage: in passes, in all other feed moves, in rapids, in dwells. `accelerated`: speeding
    up and slowing down are counted."""

    passes: tuple[PassFigures, ...] = ()
    in_passes: float = 0.0
    other_feeds: float = 0.0
    rapids: float = 0.0
    dwells: float = 0.0
    waits: tuple[WaitFigures, ...] = ()
    accelerated: bool = False


@dataclass(frozen=True)
class StopFigures:
    """A stop, or a change before a line (its code is ""). What the job moves there: clamps taken off and put
    on, screws fitted and taken out, a cutter changed · clamps: that stand after it · in_way: clamps and
    screws that the moves up to the next stop meet · free: clamps that may be moved, for all that is cut up
    to the next stop stays held without them · tip: where it stands, nose: Z of the nut's lower face (None:
    not known) · turning: whether the spindle is left on (None: switched by hand)."""

    line: int
    code: str
    remove: tuple[str, ...] = ()
    add: tuple[str, ...] = ()
    fit: tuple[str, ...] = ()
    unfit: tuple[str, ...] = ()
    cutter: int | None = None
    clamps: tuple[str, ...] = ()
    in_way: tuple[str, ...] = ()
    free: tuple[str, ...] = ()
    tip: tuple[float, float, float] | None = None
    nose: float | None = None
    turning: bool | None = None


@dataclass(frozen=True)
class Hardest:
    """The move of a stage that a column of its effort (sim/effort.py) is greatest in: which column, how much,
    the program's line, and where in plan it cut deepest."""

    what: str
    value: float
    line: int
    at: tuple[float, float]


@dataclass(frozen=True)
class StageFigures:
    """One stage's figures. `cut_length` and `rapid_length` are mm of placed feed moves and rapids."""

    name: str
    program: str
    sha256: str
    seconds: float
    cut_length: float
    rapid_length: float
    removed_volume: float
    lowest_cut: float | None
    extents: tuple[tuple[float, float], tuple[float, float], tuple[float, float]] | None
    face: FaceFigures | None = None
    holes: tuple[HoleFigures, ...] = ()
    clearances: tuple[ClearanceFigures, ...] = ()
    holder: tuple[ClearanceFigures, ...] = ()
    held: HoldFigures | None = None
    slack: SlackFigures | None = None
    zeros: tuple[ZeroFigures, ...] = ()
    feeds: tuple[FeedFigures, ...] = ()
    time: TimeFigures | None = None
    stops: tuple[StopFigures, ...] = ()
    fits: tuple[FitFigures, ...] = ()
    hardest: tuple[Hardest, ...] = ()


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
    `kept` the same with the parts that are off the machine then (None: none is)."""

    job: Job
    findings: tuple[Finding, ...]
    stages: tuple[StageFigures, ...]
    budget: Budget
    unchecked: tuple[Unchecked, ...]
    surface: Surface
    records: tuple[StageRecord, ...] = field(default=(), repr=False)
    quieted: tuple[Quieted, ...] = ()
    kept: Surface | None = field(default=None, repr=False)

    @property
    def inputs(self) -> tuple[Input, ...]:
        return self.job.inputs

    @property
    def verdict(self) -> Verdict:
        """Notes do not change it."""
        worst = max((f.severity for f in self.findings), default=Severity.NOTE)
        return {Severity.STOP: Verdict.STOP, Severity.CAUTION: Verdict.CAUTION}.get(worst, Verdict.CLEAR)
