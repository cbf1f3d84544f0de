"""What stands on the machine, as written: machine, bed, board, cutters, screws, clamps, a dataclass for each.

The law: as in job.py, which these tables are parts of: what a person said, in millimetres, and nothing that
follows from it. None means "left out".
"""

from __future__ import annotations

from dataclasses import field
from typing import Annotated, Literal, TypeVar, dataclass_transform

from pydantic import ConfigDict, Field
from pydantic.dataclasses import dataclass

from .quantities import (
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
