"""The job as written: one frozen dataclass for each table of the job file, validated by pydantic.

The law: a Job says what a person said, converted to millimetres, and nothing that follows from it:
turning a written clamp into a body is sim's. None means "left out"; what a left-out key means is
said at its place. Frames, units and signs: see DEVELOPERS.md.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from typing import Annotated, Literal

from annotated_types import Len
from pydantic import ConfigDict, Field
from pydantic.dataclasses import dataclass

from .source import Source
from .units import Units

strict = ConfigDict(extra="forbid", strict=False, allow_inf_nan=False, arbitrary_types_allowed=True)
written = dataclass(frozen=True, config=strict, kw_only=True)

Positive = Annotated[float, Field(gt=0)]
Unsigned = Annotated[float, Field(ge=0)]
Number = Annotated[int, Field(ge=0)]
Spot = tuple[float, float]
Place = tuple[float, float, float]
Range = tuple[float, float]
Outline = Annotated[tuple[Spot, ...], Len(min_length=3)]


@written
class Grid:
    """Places in rows: along X first; `stagger` shifts every second row by so much in X."""

    start: Spot
    count: tuple[Annotated[int, Field(ge=1)], Annotated[int, Field(ge=1)]]
    pitch: tuple[Positive, Positive]
    stagger: float = 0.0


@written
class Travel:
    """Machine coordinates that each axis can reach; an axis left out is not checked."""

    x: Range | None = None
    y: Range | None = None
    z: Range | None = None


@written
class Tram:
    swing: Positive
    x: float = 0.0
    y: float = 0.0


@written
class NosePart:
    diameter: Positive
    length: Positive


@written
class Shoe:
    x: Range
    y: Range
    hard: float
    brush: float | None = None
    bend: Unsigned = 0.0
    moves: bool = True


Switched = Literal["liquid", "air", "extraction"]


@written
class Machine:
    dialect: str | None = None
    origin: Place | None = None
    travel: Travel | None = None
    rapid: Positive | tuple[Positive, Positive, Positive] | None = None
    acceleration: Positive | tuple[Positive, Positive, Positive] | None = None
    spindle: tuple[Unsigned, Positive] | None = None
    spindle_by: Literal["program", "hand"] = "program"
    spin_up: Unsigned | None = None
    max_feed: Positive | None = None
    spindle_power: Positive | None = None
    tram: Tram | None = None
    nose: tuple[NosePart, ...] | None = None
    shoe: Shoe | None = None
    m7: Switched | None = None
    m8: Switched | None = None


@written
class Opening:
    """Where a cutter may go below the bed's top: round ones by diameter and at/grid, slots by x and y.

    `depth` left out: through. `mouth` is the diameter of a round one's 90 degree chamfer.
    """

    name: str = ""
    diameter: Positive | None = None
    mouth: Positive | None = None
    depth: Positive | None = None
    at: tuple[Spot, ...] | None = None
    grid: Grid | None = None
    x: Range | None = None
    y: Range | None = None


@written
class Bed:
    top: float | None = None
    soft: bool = False
    openings: tuple[Opening, ...] = ()


@written
class Repeat:
    count: Annotated[int, Field(ge=1)]
    step: Spot


@written
class Part:
    name: str
    x: Range | None = None
    y: Range | None = None
    outline: Outline | None = None
    top: float | None = None
    thickness: Positive | None = None
    material: str | None = None
    repeat: Repeat | None = None


@written
class Facing:
    """One facing of the past."""

    date: object = None
    depth: Positive | None = None
    thickness: Positive | None = None


@written
class Board:
    material: str | None = None
    x: Range | None = None
    y: Range | None = None
    outline: Outline | None = None
    parts: tuple[Part, ...] = ()
    top: float = 0.0
    thickness: Positive | None = None
    survey: str | None = None
    surface: str | None = None
    history: tuple[Facing, ...] = ()
    cell: Positive | None = None
    keep: Unsigned | None = None
    keep_over_heads: Unsigned | None = None
    span: Positive | None = None


@written
class Corner:
    radius: Positive | None = None
    chamfer: Positive | None = None


Shape = Literal["flat", "facing", "ball", "bull", "cone", "drill", "profile"]


@written
class Cutter:
    number: Number
    shape: Shape
    name: str = ""
    diameter: Positive | None = None
    edges: Annotated[int, Field(ge=1)] | None = None
    seats: Annotated[int, Field(ge=1)] | None = None
    core: Positive | None = None
    core_gap: Unsigned | None = None
    corner: Corner | None = None
    max_rpm: Positive | None = None
    flute_length: Positive | None = None
    stickout: Positive | None = None
    shank: Positive | None = None
    length: float | None = None
    chip_load: tuple[Positive, Positive] | None = None
    deepest_pass: Positive | None = None
    plunge: Positive | None = None
    tip: Unsigned | None = None
    angle: Annotated[float, Field(gt=0, lt=180)] | None = None
    profile: tuple[tuple[Unsigned, float], ...] | None = None
    centre_cutting: bool | None = None

    @property
    def label(self) -> str:
        """What a message calls it: its name, else "cutter 3"."""
        return self.name or f"cutter {self.number}"


@written
class Head:
    diameter: Positive
    height: Positive


@written
class Measured:
    at: Spot
    sunk: float


@written
class Recess:
    """A counterbore: diameter and depth when it is there at the start, or the stage that cuts it."""

    diameter: Positive | None = None
    depth: Positive | None = None
    cut_by: str | None = None


@written
class Fastener:
    """A group of screws. Numbered from 1 in written order; grids run along X first."""

    name: str
    screw: str | None = None
    head: Head | None = None
    washer: str | None = None
    length: Positive | None = None
    at: tuple[Spot, ...] | None = None
    grid: Grid | None = None
    seat: float | Literal["floor"] | None = None
    sunk: float | None = None
    measured: tuple[Measured, ...] = ()
    lift: Unsigned = 0.0
    recess: Recess | None = None
    part: str | None = None


@written
class Clamp:
    """One body of a clamp: a box (x, y), a post (at, diameter) or a bar (from, to, width).

    Its height is z = [bottom, top], or `above` (top over the board's top; its bottom is then the
    bed's top).
    """

    name: str
    x: Range | None = None
    y: Range | None = None
    z: Range | None = None
    above: Positive | None = None
    at: Spot | None = None
    diameter: Positive | None = None
    start: Spot | None = Field(default=None, alias="from")
    end: Spot | None = Field(default=None, alias="to")
    width: Positive | None = None
    part: str | None = None


Obstacle = Clamp


@written
class Uncertainty:
    z_zero: Unsigned = 0.0
    head_xy: Unsigned = 0.0
    head_z: Unsigned = 0.0


@written
class Touch:
    cutter: Number | None = None
    on: Literal["board", "bed"] = "board"
    at: Spot | None = None
    block: Unsigned = 0.0


@written
class Change:
    """What the operator does at the n-th executed stop, or before a line."""

    at_stop: Annotated[int, Field(ge=1)] | None = None
    at_line: Annotated[int, Field(ge=1)] | None = None
    remove: tuple[str, ...] = ()
    add: tuple[str, ...] = ()
    fit: tuple[str, ...] = ()
    unfit: tuple[str, ...] = ()
    cutter: Number | None = None
    zero: Place | None = None
    touch: Touch | None = None


@written
class Holes:
    """Wanted holes: `at`, `grid` or `like` (the name of a bed opening) say where."""

    at: tuple[Spot, ...] | None = None
    grid: Grid | None = None
    like: str | None = None
    diameter: Positive | None = None
    through: bool = False
    depth: Positive | None = None
    tolerance: Unsigned = 0.2


@written
class Face:
    """A wanted face: z in the board frame, or `depth` below the stage's zero; no area: the board's outline."""

    x: Range | None = None
    y: Range | None = None
    outline: Outline | None = None
    z: float | None = None
    depth: Positive | None = None
    tolerance: Positive = 0.05
    ridge: Positive = 0.02


@written
class Quiet:
    kind: str
    reason: Annotated[str, Len(min_length=1)]


@written
class Stage:
    name: str
    program: str
    zero: Place = (0.0, 0.0, 0.0)
    start: Place | None = None
    cutter: Number | None = None
    rpm: Positive | None = None
    fitted: tuple[str, ...] | Literal["as left"] | None = None
    clamps: tuple[str, ...] | Literal["as left"] | None = None
    parts: tuple[str, ...] | None = None
    block_delete: bool = False
    optional_stop: bool = True
    changes: tuple[Change, ...] = ()
    touch: tuple[Touch, ...] = ()
    holes: tuple[Holes, ...] = ()
    face: tuple[Face, ...] = ()
    quiet: tuple[Quiet, ...] = ()


@written
class Input:
    """A file that was read, and the checksum of its bytes."""

    file: str
    sha256: str


@written
class Job:
    """A whole job. `sources` holds each stage's program text by stage name, `inputs` every file read.

    `given` names the key paths that the file really has ("machine.tram", "cutters.0.length", …), so
    that a default can be told from a choice.
    """

    board: Board
    cutters: tuple[Cutter, ...]
    stages: tuple[Stage, ...]
    format: Literal[1] = 1
    title: str = ""
    units: Units = Units.MM
    machine: Machine = field(default_factory=Machine)
    bed: Bed | None = None
    fasteners: tuple[Fastener, ...] = ()
    clamps: tuple[Clamp, ...] = ()
    obstacles: tuple[Obstacle, ...] = ()
    zeros: Mapping[str, Place] = field(default_factory=dict)
    uncertainty: Uncertainty | None = None
    sources: Mapping[str, Source] = field(default_factory=dict)
    inputs: tuple[Input, ...] = ()
    given: frozenset[str] = frozenset()

    def cutter(self, number: int | None) -> Cutter | None:
        """The cutter of that number, None when the job has none."""
        return next((c for c in self.cutters if c.number == number), None)
