"""What an interpreter is told before it starts, and what it hands over when it is done.

The law: both are plain frozen data. An interpreter opens nothing and prints nothing; all it knows
of the machine is its `Setting`, all it found is in its `Reading`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from .finding import Finding
from .motion import Motion, State
from .source import Source

Place = tuple[float, float, float]
UNKNOWN: Place = (float("nan"),) * 3  # type: ignore[assignment]


@dataclass(frozen=True, slots=True)
class OperatorAct:
    """What the operator changes at a stop or a line, as far as the program's meaning goes. `touched`: Z
    (board) where the tip stands when Z is zeroed."""

    cutter: int | None = None
    zero: Place | None = None
    touched: float | None = None


@dataclass(frozen=True)
class Setting:
    """The state of machine and control when a program starts. Millimetres, board frame.

    offsets: origin of each work system, 1 = G54 … 9 = G59.3, as far as the job gives them · position: the
    tip (NaN unknown for each axis) · cutter: in the spindle (None: none) · cutters: numbers that the job
    describes (empty: any) · lengths: the control's length offsets by H number (missing: 0) · diameters:
    cutter diameters by D number (missing: unknown) · machine_origin: the board frame's origin in machine
    coordinates (None: machine positions have no place) · home28, home30: machine coordinates of the stored
    positions (None: unknown) · parameters: values given by the user for numbered parameters · at_stop: what
    the operator does at the n-th executed M0, M1 or M60, from 1 · at_line: before the first block at or
    after a line · block_delete, optional_stop: the two switches · measured: the cutter that machine_origin
    was taken with (None: the program's first) · left_in_g99: the program before left the control in G99 ·
    program: the O number of the one to run (None: the file's first) · at: or the line where it begins.
    """

    offsets: Mapping[int, Place] = field(default_factory=lambda: {1: (0.0, 0.0, 0.0)})
    position: Place = UNKNOWN
    cutter: int | None = None
    cutters: frozenset[int] = frozenset()
    lengths: Mapping[int, float] = field(default_factory=dict)
    diameters: Mapping[int, float] = field(default_factory=dict)
    machine_origin: Place | None = None
    home28: Place | None = None
    home30: Place | None = None
    parameters: Mapping[int, float] = field(default_factory=dict)
    at_stop: Mapping[int, OperatorAct] = field(default_factory=dict)
    at_line: Mapping[int, OperatorAct] = field(default_factory=dict)
    block_delete: bool = False
    optional_stop: bool = True
    measured: int | None = None
    left_in_g99: bool = False
    program: int | None = None
    at: int = 0
    touched: Mapping[int, tuple[float, ...]] = field(default_factory=dict)  # by cutter: Z0 at each load
    spindle_by_hand: float | None = None  # rpm that the operator has switched on; None: the program does


@dataclass(frozen=True)
class Unchecked:
    """Something that could not be checked, and why."""

    what: str
    why: str


@dataclass(frozen=True, slots=True)
class Doubt:
    """A word whose meaning hangs on a key of the dialect that has other values: where first, which code."""

    key: str
    line: int
    column: int
    code: str


@dataclass(frozen=True)
class Reading:
    """A program understood: its moves, what is wrong with it, and how it left the machine.

    `uses_block_delete` says that the file holds `/` blocks, `units_said` which of "G20", "G21" it
    set before its first move (None: neither), `parameters` the values after its end, `final` the
    state after the last move, `position` the tip then, `ended` whether M2 or M30 was reached, `doubts`
    what hangs on a key of the dialect that has other values, `program` its name in a file that holds
    several ("O12", "line 40"), `begins` the line of its first words, `others` the names of the others.
    """

    source: Source
    dialect: str
    motion: Motion
    findings: tuple[Finding, ...]
    unchecked: tuple[Unchecked, ...] = ()
    uses_block_delete: bool = False
    units_said: str | None = None
    parameters: Mapping[int, float] = field(default_factory=dict)
    final: State = field(default_factory=State)
    position: Place = UNKNOWN
    ended: bool = False
    doubts: tuple[Doubt, ...] = ()
    program: str = ""
    begins: int = 0
    others: tuple[str, ...] = ()
