"""Modal groups, and what each code demands: the only place that says what a mode is.

The law: tables, no behaviour. A code belongs to one group; two codes of one group never stand on one
line; a word that no code of its line takes is a mistake. Groups are numbered as NIST IR 6556, Table 4
has them (M groups from 100 on); those outside the report from 20 on.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum
from types import MappingProxyType


class Group(IntEnum):
    """Codes of one group exclude each other."""

    ONCE = 0  # holds for its line only
    MOTION = 1
    PLANE = 2
    DISTANCE = 3
    CENTRES = 4
    FEED_MODE = 5
    UNITS = 6
    RADIUS = 7
    LENGTH = 8
    RETURN = 10
    SYSTEM = 12
    PATH = 13
    SPEED_MODE = 14
    DIAMETER = 15
    SCALING = 20
    MIRROR = 21
    ROTATION = 22
    POLAR = 23
    MACHINE = 24  # G53: not modal, yet it shares its line with a motion code
    DWELL = 25  # G4: likewise
    MACRO = 26
    STOP = 104
    CHANGE = 106
    SPINDLE = 107
    COOLANT = 108
    OVERRIDE = 109
    CALL = 110
    USER = 111


GROUP_NAMES: Mapping[Group, str] = MappingProxyType({
    Group.ONCE: "act once, on their own line", Group.MOTION: "say how to move",
    Group.PLANE: "choose the plane", Group.DISTANCE: "choose absolute or incremental",
    Group.CENTRES: "say how arc centres are counted", Group.FEED_MODE: "say what F means",
    Group.UNITS: "choose inch or millimetre", Group.RADIUS: "switch cutter radius compensation",
    Group.LENGTH: "switch the tool length offset", Group.RETURN: "choose a cycle's return level",
    Group.SYSTEM: "choose the work offset", Group.PATH: "choose exact or blended corners",
    Group.SPEED_MODE: "say what S means", Group.DIAMETER: "choose diameter or radius",
    Group.SCALING: "switch scaling", Group.MIRROR: "switch mirroring", Group.ROTATION: "switch rotation",
    Group.POLAR: "switch polar coordinates", Group.MACHINE: "ask for machine coordinates",
    Group.DWELL: "wait", Group.MACRO: "call a macro", Group.STOP: "stop or end the program",
    Group.CHANGE: "change the cutter", Group.SPINDLE: "switch the spindle", Group.COOLANT: "switch coolant",
    Group.OVERRIDE: "switch the override knobs", Group.CALL: "call a subprogram or return",
    Group.USER: "belong to the machine's builder"})


class Axes(IntEnum):
    """Whether a code takes the axis words of its line."""

    NONE = 0
    MAY = 1
    MUST = 2


class Effect(IntEnum):
    """What a code does to the path while it is not simulated."""

    NOTHING = 0  # the path stays what it is
    LINE = 1  # where its own line goes is unknown
    MODE = 2  # so is every line until another motion code
    ALL = 3  # so is everything until the code that ends it


@dataclass(frozen=True, slots=True)
class Code:
    """What one code is and demands. `takes` and `needs` are word letters, axis words left out.

    `end` names the code that ends a mode of Effect.ALL. `effect` is None where the code is simulated,
    `why` says what it would do where it is not, `bends` which axes a mode of Effect.ALL hides.
    """

    name: str
    group: Group
    axes: Axes = Axes.NONE
    takes: str = ""
    needs: str = ""
    effect: Effect | None = None
    why: str = ""
    end: str = ""
    bends: str = "XYZ"
    drills: bool = False

    @property
    def served(self) -> bool:
        return self.effect is None


NONE, MAY, MUST = Axes
_MOTION, _ONCE = Group.MOTION, Group.ONCE

_SERVED = (
    Code("G0", _MOTION, MUST), Code("G1", _MOTION, MUST),
    Code("G2", _MOTION, MUST, "IJKR"), Code("G3", _MOTION, MUST, "IJKR"),
    Code("G5", _MOTION, MUST, "IJPQ"), Code("G5.1", _MOTION, MUST, "IJQ"),
    Code("G5.2", _MOTION, MAY, "PL"), Code("G5.3", _MOTION),
    Code("G33", _MOTION, MUST, "K", "K"), Code("G33.1", _MOTION, MUST, "K", "K"),
    Code("G73", _MOTION, MAY, "RQL", "", drills=True),
    Code("G80", _MOTION),
    Code("G81", _MOTION, MAY, "RL", drills=True), Code("G82", _MOTION, MAY, "RPL", "", drills=True),
    Code("G83", _MOTION, MAY, "RQLP", "", drills=True), Code("G85", _MOTION, MAY, "RL", drills=True),
    Code("G86", _MOTION, MAY, "RPL", drills=True), Code("G89", _MOTION, MAY, "RPL", "", drills=True),
    Code("G4", Group.DWELL, NONE, "P", "P"),
    Code("G10", _ONCE, MAY, "LPR", "LP"),
    Code("G28", _ONCE, MAY), Code("G30", _ONCE, MAY, "P"), Code("G28.1", _ONCE), Code("G30.1", _ONCE),
    Code("G52", _ONCE, MAY), Code("G53", Group.MACHINE),
    Code("G92", _ONCE, MUST, "SE"), Code("G92.1", _ONCE), Code("G92.2", _ONCE), Code("G92.3", _ONCE),
    Code("G17", Group.PLANE), Code("G18", Group.PLANE), Code("G19", Group.PLANE),
    Code("G20", Group.UNITS), Code("G21", Group.UNITS),
    Code("G90", Group.DISTANCE), Code("G91", Group.DISTANCE),
    Code("G90.1", Group.CENTRES), Code("G91.1", Group.CENTRES),
    Code("G93", Group.FEED_MODE), Code("G94", Group.FEED_MODE), Code("G95", Group.FEED_MODE),
    Code("G40", Group.RADIUS),
    *(Code(name, Group.RADIUS, NONE, "D") for name in ("G41", "G42", "G41.1", "G42.1")),
    Code("G43", Group.LENGTH, NONE, "H"), Code("G49", Group.LENGTH), Code("G43.1", Group.LENGTH, MAY),
    Code("G43.2", Group.LENGTH, NONE, "H"), Code("G44", Group.LENGTH, NONE, "H"),
    Code("G54.1", Group.SYSTEM, NONE, "P", "P"),
    Code("G98", Group.RETURN), Code("G99", Group.RETURN),
    *(Code(f"G{n}", Group.SYSTEM) for n in (54, 55, 56, 57, 58, 59, 59.1, 59.2, 59.3)),
    Code("G61", Group.PATH), Code("G61.1", Group.PATH), Code("G64", Group.PATH, NONE, "PQ"),
    Code("G97", Group.SPEED_MODE),
    Code("G50", Group.SCALING, NONE, "S"), Code("G51", Group.SCALING, MAY, "IJKP"),
    Code("G50.1", Group.MIRROR, MAY), Code("G51.1", Group.MIRROR, MAY),
    Code("G68", Group.ROTATION, MAY, "RIJK"), Code("G69", Group.ROTATION),
    Code("G15", Group.POLAR), Code("G16", Group.POLAR),
    *(Code(f"G38.{n}", _MOTION, MUST) for n in (2, 3, 4, 5)), Code("G31", _ONCE, MUST),
    Code("M0", Group.STOP), Code("M1", Group.STOP), Code("M2", Group.STOP), Code("M30", Group.STOP),
    Code("M60", Group.STOP), Code("M6", Group.CHANGE),
    Code("M3", Group.SPINDLE), Code("M4", Group.SPINDLE), Code("M5", Group.SPINDLE),
    Code("M7", Group.COOLANT), Code("M8", Group.COOLANT), Code("M9", Group.COOLANT),
    Code("M48", Group.OVERRIDE), Code("M49", Group.OVERRIDE),
)

_UNSERVED = (
    Code("G74", _MOTION, MAY, "RPQLKF", effect=Effect.MODE, why="left-hand tapping on one control, another "
         "thing on the next", drills=True),
    Code("G76", _MOTION, MAY, "RPQLKIJHE", effect=Effect.MODE, why="fine boring on one control, threading "
         "on the next", drills=True),
    Code("G84", _MOTION, MAY, "RPLKQ", effect=Effect.MODE, why="tapping", drills=True),
    Code("G87", _MOTION, MAY, "RPLIJKQ", effect=Effect.MODE, why="back boring", drills=True),
    Code("G88", _MOTION, MAY, "RPL", effect=Effect.MODE, why="boring with a retract by hand", drills=True),
    Code("G65", Group.MACRO, MAY, "ABCDEFHIJKLMPQRSTUVW", effect=Effect.LINE, why="a macro call"),
    Code("G66", Group.MACRO, MAY, "ABCDEFHIJKLMPQRSTUVW", effect=Effect.ALL, end="G67", why="a macro that is "
         "called at every move"),
    Code("G67", Group.MACRO, effect=Effect.NOTHING, why="the end of a macro"),
    Code("G70", Group.UNITS, MAY, "PQ", effect=Effect.LINE, why="inch units on one control, a turning cycle "
         "on the next"),
    Code("G71", Group.UNITS, MAY, "PQRD", effect=Effect.LINE,
         why="millimetre units on one control, a turning cycle on the next"),
    Code("G72", _ONCE, MAY, "PQRD", effect=Effect.LINE, why="a turning cycle"),
    Code("G75", _ONCE, MAY, "PQR", effect=Effect.LINE, why="a turning cycle or an arc mode"),
    Code("G96", Group.SPEED_MODE, NONE, "DR", effect=Effect.NOTHING, why="a constant cutting speed"),
    Code("G7", Group.DIAMETER, effect=Effect.ALL, end="G8", bends="X", why="diameter programming"),
    Code("G8", Group.DIAMETER, NONE, "P", effect=Effect.NOTHING, why="radius programming, or smoothing"),
    Code("G9", _ONCE, effect=Effect.NOTHING, why="an exact stop for one line"),
    Code("G60", _ONCE, effect=Effect.NOTHING, why="an approach from one side"),
    *(Code(f"M{n}", Group.USER, NONE, "PQEL", effect=Effect.NOTHING,
           why="a switch of the machine's outputs, or a wait for an input") for n in range(62, 69)),
    *(Code(f"M{n}", Group.USER, NONE, "SPE", effect=Effect.NOTHING, why="a switch of a printer's filament or "
           "motors") for n in (82, 83, 84)),
    Code("M19", Group.SPINDLE, NONE, "RPQ", effect=Effect.NOTHING, why="a turn of the spindle to an angle"),
    Code("M61", Group.CHANGE, NONE, "Q", effect=Effect.NOTHING, why="a change of the cutter's number"),
    *(Code(f"M{n}", Group.OVERRIDE, NONE, "P", effect=Effect.NOTHING, why="a switch of the override knobs")
      for n in (50, 51, 52, 53)),
    *(Code(name, Group.CALL, NONE, "PLQ", effect=Effect.LINE, why="a call of a subprogram or a return from "
           "one") for name in ("M97", "M98", "M99")),
    *(Code(f"M{n}", Group.USER, NONE, "PQ", effect=Effect.LINE, why="a code of the machine's builder")
      for n in range(100, 200)),
)


def key(letter: str, number: float) -> int | None:
    """The table's key of a code: ten times its number, M codes from 100 000 on; None for no code number.

    Within 0.0001 of a whole tenth counts as that tenth [NIST IR 6556, 3.3.2.1].
    """
    if not 0 <= number < 1e6:
        return None
    tenfold = round(number * 10)
    if abs(number * 10 - tenfold) > 0.0001:
        return None
    return tenfold + (100_000 if letter == "M" else 0)


CODES: Mapping[int, Code] = MappingProxyType(
    {key(c.name[0], float(c.name[1:])) or 0: c for c in (*_SERVED, *_UNSERVED)})

BY_NAME: Mapping[str, Code] = MappingProxyType({code.name: code for code in CODES.values()})

QUADRANTS: Mapping[str, Code] = MappingProxyType({  # G74 and G75 where they choose the quadrants of arcs
    name: Code(name, Group.CENTRES) for name in ("G74", "G75")})

LINEAR = "XYZ"
ROTARY = "ABC"
SECOND = "UVW"
CENTRE_LETTERS = frozenset("IJKR")  # what shapes an arc
