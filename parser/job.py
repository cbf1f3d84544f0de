"""The job as written: one frozen dataclass for each table of the job file, validated by pydantic.

The law: a Job says what a person said, converted to millimetres, and nothing that follows from it:
turning a written clamp into a body is sim's. None means "left out"; what a left-out key means is
said at its place. Frames, units and signs: see DEVELOPERS.md.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from typing import Annotated, Literal, TypeVar, dataclass_transform

from annotated_types import Len
from pydantic import ConfigDict, Field
from pydantic.dataclasses import dataclass

from .quantities import (
    SEVERAL,
    WHOLE_ONE,
    Acceleration,
    Angle,
    ChipRange,
    Coordinate,
    Count,
    Counts,
    Day,
    Depth,
    Feed,
    Flag,
    Length,
    Name,
    Names,
    Number,
    Outline,
    Outwards,
    Place,
    Power,
    Range,
    Said,
    Seconds,
    Speed,
    SpeedRange,
    Spot,
    Spots,
    Text,
)
from .source import Source
from .units import Units

strict = ConfigDict(extra="forbid", allow_inf_nan=False, arbitrary_types_allowed=True, populate_by_name=True)
T = TypeVar("T")


@dataclass_transform(frozen_default=True, kw_only_default=True, field_specifiers=(Field, field))
def written(table: type[T]) -> type[T]:
    """A table of the job file: frozen, every key named, nothing unknown taken."""
    return dataclass(table, frozen=True, config=strict, kw_only=True)  # type: ignore[return-value]



@written
class Grid:
    """Places in rows: along X first; `stagger` shifts every second row by so much in X."""

    start: Spot
    count: Counts
    pitch: Annotated[tuple[Length, Length], Said("two distances over 0, [x, y]")]
    stagger: Coordinate = 0.0


@written
class Travel:
    """Machine coordinates that each axis can reach; an axis left out is not checked."""

    x: Range | None = None
    y: Range | None = None
    z: Range | None = None


@written
class Tram:
    swing: Length
    x: Coordinate = 0.0
    y: Coordinate = 0.0


@written
class NosePart:
    diameter: Length
    length: Length


@written
class Shoe:
    x: Range
    y: Range
    hard: Coordinate
    brush: Coordinate | None = None
    bend: Depth = 0.0
    moves: Flag = True


Switched = Literal["liquid", "air", "extraction"]
THREE = Said("one number over 0, or three, [x, y, z]")
Rapid = Annotated[Feed | tuple[Feed, Feed, Feed], THREE]
Ramp = Annotated[Acceleration | tuple[Acceleration, Acceleration, Acceleration], THREE]


@written
class Machine:
    dialect: Name | None = None
    origin: Place | None = None
    travel: Travel | None = None
    rapid: Rapid | None = None
    acceleration: Ramp | None = None
    spindle: SpeedRange | None = None
    spindle_by: Literal["program", "hand"] = "program"
    spin_up: Seconds | None = None
    max_feed: Feed | None = None
    spindle_power: Power | None = None
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

    name: Text = ""
    diameter: Length | None = None
    mouth: Length | None = None
    depth: Length | None = None
    at: Spots | None = None
    grid: Grid | None = None
    x: Range | None = None
    y: Range | None = None


@written
class Bed:
    top: Coordinate | None = None
    soft: Flag = False
    openings: tuple[Opening, ...] = ()


@written
class Repeat:
    count: Count
    step: Spot


@written
class Part:
    name: Name
    x: Range | None = None
    y: Range | None = None
    outline: Outline | None = None
    top: Coordinate | None = None
    thickness: Length | None = None
    material: Name | None = None
    repeat: Repeat | None = None


@written
class Facing:
    """One facing of the past."""

    date: Day | None = None
    depth: Length | None = None
    thickness: Length | None = None


@written
class Board:
    material: Name | None = None
    x: Range | None = None
    y: Range | None = None
    outline: Outline | None = None
    parts: tuple[Part, ...] = ()
    top: Coordinate = 0.0
    thickness: Length | None = None
    survey: Name | None = None
    surface: Name | None = None
    history: tuple[Facing, ...] = ()
    cell: Length | None = None
    keep: Depth | None = None
    keep_over_heads: Depth | None = None
    span: Length | None = None


@written
class Corner:
    radius: Length | None = None
    chamfer: Length | None = None


Shape = Literal["flat", "facing", "ball", "bull", "cone", "drill", "profile"]


@written
class Cutter:
    number: Number
    shape: Shape
    name: Text = ""
    diameter: Length | None = None
    edges: Count | None = None
    seats: Count | None = None
    core: Length | None = None
    core_gap: Depth | None = None
    corner: Corner | None = None
    max_rpm: Speed | None = None
    flute_length: Length | None = None
    stickout: Length | None = None
    shank: Length | None = None
    length: Coordinate | None = None
    chip_load: ChipRange | None = None
    deepest_pass: Length | None = None
    plunge: Feed | None = None
    tip: Depth | None = None
    angle: Angle | None = None
    profile: Outwards | None = None
    centre_cutting: Flag | None = None

    @property
    def label(self) -> str:
        """What a message calls it: its name, else "cutter 3"."""
        return self.name or f"cutter {self.number}"


@written
class Head:
    diameter: Length
    height: Length


@written
class Measured:
    at: Spot
    sunk: Coordinate


@written
class Recess:
    """A counterbore: diameter and depth when it is there at the start, or the stage that cuts it."""

    diameter: Length | None = None
    depth: Length | None = None
    cut_by: Name | None = None


@written
class Fastener:
    """A group of screws. Numbered from 1 in written order; grids run along X first."""

    name: Name
    screw: Name | None = None
    head: Head | None = None
    washer: Name | None = None
    length: Length | None = None
    at: Spots | None = None
    grid: Grid | None = None
    seat: Annotated[Coordinate | Literal["floor"], Said('a height (Z) or "floor"')] | None = None
    sunk: Coordinate | None = None
    measured: tuple[Measured, ...] = ()
    lift: Depth = 0.0
    recess: Recess | None = None
    part: Name | None = None


@written
class Clamp:
    """One body of a clamp: a box (x, y), a post (at, diameter) or a bar (from, to, width).

    Its height is z = [bottom, top], or `above` (top over the board's top; its bottom is then the
    bed's top).
    """

    name: Name
    x: Range | None = None
    y: Range | None = None
    z: Range | None = None
    above: Length | None = None
    at: Spot | None = None
    diameter: Length | None = None
    start: Spot | None = Field(default=None, alias="from")
    end: Spot | None = Field(default=None, alias="to")
    width: Length | None = None
    part: Name | None = None


Obstacle = Clamp


@written
class Uncertainty:
    z_zero: Depth = 0.0
    head_xy: Depth = 0.0
    head_z: Depth = 0.0


@written
class Touch:
    """Z0 is where the cutter's tip stands: on the board at `at` (left out: where most of it lies), or on the
    bed, plus the block that lies between. Where the control is told the block's height instead, leave it out.
    In a stage's list it is done whenever that cutter comes into the spindle."""

    cutter: Number | None = None
    on: Literal["board", "bed"] = "board"
    at: Spot | None = None
    block: Depth = 0.0


@written
class Change:
    """What the operator does at the n-th executed stop, or before a line."""

    at_stop: Count | None = None
    at_line: Count | None = None
    remove: Names = ()
    add: Names = ()
    fit: Names = ()
    unfit: Names = ()
    cutter: Number | None = None
    zero: Place | None = None
    touch: Annotated[Touch | None, Said("one table, { cutter, on, at, block }")] = None


@written
class Holes:
    """Wanted holes: `at`, `grid` or `like` (the name of a bed opening) say where."""

    at: Spots | None = None
    grid: Grid | None = None
    like: Name | None = None
    diameter: Length | None = None
    through: Flag = False
    depth: Length | None = None
    tolerance: Depth = 0.2


@written
class Face:
    """A wanted face: z (board frame), or `depth` below the stage's zero; no area: the board's outline."""

    x: Range | None = None
    y: Range | None = None
    outline: Outline | None = None
    z: Coordinate | None = None
    depth: Length | None = None
    tolerance: Length = 0.05
    ridge: Length = 0.02


@written
class Quiet:
    kind: Name
    reason: Name


AsLeft = Annotated[Names | Literal["as left"], Said('a list of names, or "as left"')]


@written
class Stage:
    name: Name
    program: Name
    zero: Place = (0.0, 0.0, 0.0)
    start: Place | None = None
    number: Number | None = None
    cutter: Number | None = None
    rpm: Speed | None = None
    fitted: AsLeft | None = None
    clamps: AsLeft | None = None
    parts: Names | None = None
    block_delete: Flag = False
    optional_stop: Flag = True
    changes: tuple[Change, ...] = ()
    touch: tuple[Touch, ...] = ()
    holes: Annotated[tuple[Holes, ...], SEVERAL] = ()
    face: Annotated[tuple[Face, ...], SEVERAL] = ()
    quiet: tuple[Quiet, ...] = ()


@written
class Input:
    """A file that was read, and the checksum of its bytes."""

    file: str
    sha256: str


Offsets = Annotated[Mapping[str, Place], Said("a table of work offsets, G55 = [x, y, z]")]


@written
class Job:
    """A whole job. `sources` holds each stage's program text by stage name, `inputs` every file read.

    `given` names the key paths that the file really has ("machine.tram", "cutters.0.length", …; lists
    count from 0), so that a default can be told from a choice. `text` is the job file, `files` every other
    file that it names, by the name it gives. `one_cutter`: there is no job file but a program and a cutter,
    so every T word loads that cutter and the board is what the program sweeps. `known` holds values of
    numbered parameters that only the machine knows, where a person has said them; `most_moves` is how many
    moves a program may make (None: as its dialect has it).
    """

    board: Annotated[Board, Said("a [board] table")]
    cutters: Annotated[tuple[Cutter, ...], Len(min_length=1), Said("one [[cutters]] table or more")]
    stages: Annotated[tuple[Stage, ...], Len(min_length=1), Said("one [[stages]] table or more")]
    format: Annotated[Literal[1], WHOLE_ONE] = 1
    title: Text = ""
    units: Units = Units.MM
    machine: Machine = field(default_factory=Machine)
    bed: Bed | None = None
    fasteners: tuple[Fastener, ...] = ()
    clamps: tuple[Clamp, ...] = ()
    obstacles: tuple[Obstacle, ...] = ()
    zeros: Offsets = field(default_factory=dict)
    uncertainty: Uncertainty | None = None
    sources: Mapping[str, Source] = field(default_factory=dict)
    inputs: tuple[Input, ...] = ()
    given: frozenset[str] = frozenset()
    text: Source | None = None
    files: Mapping[str, Source] = field(default_factory=dict)
    one_cutter: bool = False
    known: Mapping[int, float] = field(default_factory=dict)
    most_moves: int | None = None

    def cutter(self, number: int | None) -> Cutter | None:
        """The cutter of that number, None when the job has none."""
        if self.one_cutter and number is not None:
            return self.cutters[0]
        return next((c for c in self.cutters if c.number == number), None)


LOADED = frozenset({  # no keys of the file
    "sources", "inputs", "given", "text", "files", "one_cutter", "known", "most_moves"})
