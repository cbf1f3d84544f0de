"""The job as written: one frozen dataclass for each table of the job file, validated by pydantic.

The law: a Job says what a person said, converted to millimetres, and nothing that follows from it:
turning a written clamp into a body is sim's. None means "left out"; what a left-out key means is
said at its place. Frames, units and signs: see DEVELOPERS.md. What stands on the machine is described in
job_setup.py; its tables are known here by their names too.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from typing import Annotated, Literal

from annotated_types import Len

from .job_setup import (
    Bed,
    Board,
    Clamp,
    Corner,
    Cutter,
    Facing,
    Fastener,
    Grid,
    Head,
    Machine,
    Measured,
    NosePart,
    Obstacle,
    Opening,
    Part,
    Recess,
    Repeat,
    Shoe,
    Tram,
    Travel,
    Uncertainty,
    written,
)
from .quantities import (
    SEVERAL,
    WHOLE_ONE,
    Coordinate,
    Count,
    Depth,
    Flag,
    Length,
    Name,
    Names,
    Number,
    Outline,
    Place,
    Range,
    Said,
    Speed,
    Spot,
    Spots,
    Text,
)
from .source import Source
from .units import Units

__all__ = [
    "LOADED",
    "Bed",
    "Board",
    "Change",
    "Clamp",
    "Corner",
    "Cutter",
    "Face",
    "Facing",
    "Fastener",
    "Grid",
    "Head",
    "Holes",
    "Input",
    "Job",
    "Machine",
    "Measured",
    "NosePart",
    "Obstacle",
    "Opening",
    "Part",
    "Quiet",
    "Recess",
    "Repeat",
    "Shoe",
    "Stage",
    "Touch",
    "Tram",
    "Travel",
    "Uncertainty",
]


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
