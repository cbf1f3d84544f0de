"""What was measured in one stage, in figures: the face, holes, gaps, what holds the board, doubt, stops.

The law: frozen data without a word for a screen; None where a figure is not known. Millimetres, board frame.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from shapely.geometry.base import BaseGeometry

from .slack import Bound
from .work_figures import FeedFigures, Hardest, TimeFigures


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
    `away`, rows from the front, each from the left, over places x and y, `step` apart; None off the board.
    beyond: (distance, the part of the board in plan that lies farther), exact, at round distances."""

    x: tuple[float, ...]
    y: tuple[float, ...]
    step: float
    away: tuple[tuple[float | None, ...], ...]
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
