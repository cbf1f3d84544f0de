"""Where a program's numbers lie: units, work offsets, G92 and G52, tool length, machine positions.

The law: inside are millimetres of the board frame, and a `Frames` says how a program's numbers become
that. Program point P, tip T (board frame) and machine point M of the spindle belong together by

    T = P + origin[active] + G92 + G52 + (0, 0, length in force - length of the cutter in the spindle)
    M = T + machine.origin + (0, 0, reach)

[NIST IR 6556, 3.2.2 and 2.1.2.3]. A work system may be turned about its origin (practice, no source)
and then lies in the Warp. What is not known is NaN, and so is all that follows from it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import cos, nan, sin

from .reading import Place, Setting
from .units import MM_PER_INCH
from .warp import PLAIN, Warp, in_force

SYSTEM_NAMES = {1: "G54", 2: "G55", 3: "G56", 4: "G57", 5: "G58", 6: "G59",
                7: "G59.1", 8: "G59.2", 9: "G59.3"}
NOWHERE = (nan, nan, nan)
FURTHER = 100  # G54.1 P1 is system 101
MOST_FURTHER = 300


def system_name(number: int) -> str:
    """ "G54" to "G59.3", "G54.1 P1" and on."""
    return SYSTEM_NAMES.get(number) or f"G54.1 P{number - FURTHER}"


def system_number(name: str) -> int | None:
    """The number of a work system by its name, None for a name of none."""
    further = name.removeprefix("G54.1 P")
    if further != name and further.isdigit() and 1 <= int(further) <= MOST_FURTHER:
        return FURTHER + int(further)
    return next((number for number, known in SYSTEM_NAMES.items() if known == name), None)


class Frames:
    """The offsets in force. `uses_length`: the program has G43, so Z was zeroed with the length in force;
    without it Z was zeroed with the first cutter of the program as it hangs in the spindle. `measured` is
    the cutter that machine.origin was taken with: the program's first where the setting names none."""

    __slots__ = ("cutter", "first", "g52", "g92", "g92_kept", "inch", "length", "lengths", "machine_origin",
                 "measured", "origins", "scale", "shift", "system", "table", "turns", "uses_length", "warp")

    def __init__(self, setting: Setting, uses_length: bool) -> None:
        self.inch = False
        self.scale = 1.0
        self.system = 1
        self.origins = {n: list(setting.offsets.get(n, NOWHERE)) for n in {*SYSTEM_NAMES, *setting.offsets}}
        self.g92, self.g92_kept, self.g52 = [0.0] * 3, [0.0] * 3, [0.0] * 3
        self.length = 0.0
        self.lengths = dict(setting.lengths)  # of the cutters
        self.table = dict(setting.lengths)  # what the control's table says of them, by H
        self.uses_length = uses_length
        self.warp: Warp | None = None  # mirroring, scaling and rotation
        self.turns: dict[int, float] = {}  # work systems that are turned: radians, counter-clockwise
        self.machine_origin = setting.machine_origin
        self.cutter = self.first = setting.cutter
        self.measured = setting.measured if setting.measured is not None else setting.cutter
        self.renew()

    @property
    def system_name(self) -> str:
        return system_name(self.system)

    def select(self, system: int) -> None:
        """A work system is in force; where none was ever set it lies nowhere known."""
        self.origins.setdefault(system, list(NOWHERE))
        self.system = system

    def renew(self) -> None:
        """Compute the shift from program numbers to the tip's place anew."""
        origin = self.origins[self.system]
        x, y, z = (origin[a] + self.g92[a] + self.g52[a] for a in range(3))
        self.shift: Place = (x, y, z + self.stand())
        if self.turns:
            self._turn()

    def _turn(self) -> None:
        """The system in force is turned about its origin, what G92 and G52 add along with it."""
        x, y = (-self.g92[a] - self.g52[a] for a in range(2))
        self.warp = in_force(replace(self.warp or PLAIN, turned=self.turned(self.system), about=(x, y)))

    def turned(self, system: int) -> float:
        return self.turns.get(system, 0.0)

    def stand(self) -> float:
        """How far the tip stands from where the program's Z says it is: 0 when its length is in force."""
        own = self.lengths.get(-1 if self.cutter is None else self.cutter, 0.0)
        if self.uses_length:
            return self.length - own
        return self.lengths.get(-1 if self.first is None else self.first, own) - own

    def written_length(self, value: float) -> float:
        """A length (mm) that the program itself writes: it is taken for right where the job does not say how
        long the cutter is."""
        return value if self.cutter in self.lengths else 0.0

    def units(self, inch: bool) -> None:
        """Numbers from now on are inches or millimetres; places stay where they are."""
        self.inch, self.scale = inch, MM_PER_INCH if inch else 1.0

    def take(self, cutter: int | None) -> float:
        """Another cutter hangs in the spindle: how far its tip is from where the last one's was (Z, mm).

        NaN where a length that counts is not known. Where nothing is known to have hung there, a job's start
        is where the first cutter's tip stands.
        """
        before = self.cutter
        if cutter == before:
            return 0.0
        self.cutter = cutter
        first = self.first is None
        if first:
            self.first = cutter
            self.measured = cutter if self.measured is None else self.measured
        self.renew()
        return 0.0 if first else self._own(before) - self._own(cutter)

    def _own(self, cutter: int | None) -> float:
        return 0.0 if cutter is None else self.lengths.get(cutter, nan)

    @property
    def reach(self) -> float:
        """How much longer the cutter is than the measured one (mm), NaN where it is not known."""
        if self.cutter is None or self.cutter == self.measured:
            return 0.0
        return self._own(self.cutter) - self._own(self.measured)

    # --- machine positions ---

    def from_machine(self, axis: int, value: float) -> float:
        """The tip's coordinate (board) when the machine stands at `value` (mm); NaN without an origin."""
        if self.machine_origin is None:
            return nan
        return value - self.machine_origin[axis] - (self.reach if axis == 2 else 0.0)

    def to_machine(self, axis: int, value: float) -> float:
        """Machine coordinate for a tip coordinate (mm, board frame)."""
        if self.machine_origin is None:
            return nan
        return value + self.machine_origin[axis] + (self.reach if axis == 2 else 0.0)

    def register(self, axis: int) -> float:
        """What a work offset's register holds (machine, mm) less what `origins` holds of it (board)."""
        if self.machine_origin is None:
            return nan
        if axis != 2:
            return self.machine_origin[axis]
        first, measured = (self.lengths.get(-1 if n is None else n, 0.0) for n in (self.first, self.measured))
        return self.machine_origin[2] + (0.0 if self.uses_length else first) - measured

    # --- offsets that a program sets ---

    def set_origin(self, system: int, axis: int, value: float) -> None:
        """G10 L2: the register of a system gets a machine coordinate (mm)."""
        self.origins.setdefault(system, list(NOWHERE))[axis] = value - self.register(axis)
        self.renew()

    def origin(self, system: int, axis: int) -> float:
        """The register of a system (machine coordinate, mm)."""
        return self.origins.get(system, NOWHERE)[axis] + self.register(axis)

    def set_origin_here(self, system: int, axis: int, tip: float, value: float) -> None:
        """G10 L20: choose the origin so that the current point has the coordinate `value` (mm)."""
        rest = self.g92[axis] + self.g52[axis] + (self.stand() if axis == 2 else 0.0)
        self.origins[system][axis] = tip - value - rest
        self.renew()

    def set_turned_origin_here(self, system: int, tip: Sequence[float], wanted: Mapping[int, float]) -> None:
        """The same where a system is turned: axes that are not named keep their coordinates."""
        angle, origin = self.turned(system), self.origins[system]
        rest = [self.g92[a] + self.g52[a] for a in range(2)] + [self.g92[2] + self.g52[2] + self.stand()]
        x, y, z = (tip[a] - origin[a] for a in range(3))
        here = [x * cos(angle) + y * sin(angle), y * cos(angle) - x * sin(angle), z]
        x, y, z = (wanted[a] + rest[a] if a in wanted else here[a] for a in range(3))
        self.origins[system] = [tip[0] - x * cos(angle) + y * sin(angle),
                                tip[1] - x * sin(angle) - y * cos(angle), tip[2] - z]
        self.renew()

    def touch(self, z: float) -> None:
        """The active work offset's Z is zeroed with the tip at `z` (board). A program that calls for lengths
        is zeroed with the cutter's own in force, whenever it calls for it; another cutter's length counts."""
        own = self._own(self.cutter)
        right = self.uses_length and (self.length == 0.0 or self.length == own)
        self.origins[self.system][2] = z - self.g92[2] - self.g52[2] - (0.0 if right else self.stand())
        self.renew()

    def set_g92(self, axis: int, tip: float, value: float) -> None:
        """The current point gets the coordinate `value`: offset = (current - value) + old offset."""
        self.g92[axis] += (tip - self.shift[axis]) - value
        self.g92_kept[axis] = self.g92[axis]
        self.renew()

    def end_g92(self, forget: bool) -> None:
        """G92.1 (forget) and G92.2 (the parameters keep the numbers)."""
        self.g92 = [0.0] * 3
        if forget:
            self.g92_kept = [0.0] * 3
        self.renew()

    def restore_g92(self) -> None:
        """G92.3."""
        self.g92 = list(self.g92_kept)
        self.renew()

    def shifted(self) -> bool:
        """Whether G92 or G52 is in force."""
        return any(value != 0.0 for value in (*self.g92, *self.g52))

    def shown(self, tip: Sequence[float]) -> Place:
        """The tip as the control shows it, mm."""
        return tip[0] - self.shift[0], tip[1] - self.shift[1], tip[2] - self.shift[2]
