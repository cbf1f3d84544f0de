"""Numbered parameters: plain ones, and those that are the control's own state seen as numbers.

The law: NIST IR 6556, Table 2. Home positions (5161.., 5181..), the G92 offset (5211..), the active work
system (5220) and the nine origins (5221.. in steps of 20) are live: reading one reads the control, setting
one moves its offsets. Numbers are in the program's unit at that moment; what is not known is NaN.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import isfinite, nan

from .control import Control, Reason
from .frames import FURTHER, SYSTEM_NAMES
from .offsets import shifted

PROBE = range(5061, 5071)
LIVE = (range(1000, 1200), range(3001, 3013), range(4001, 4131), range(5001, 5070))  # user macros: practice
HOME28, HOME30 = range(5161, 5164), range(5181, 5184)
PRELOAD = range(5211, 5214)
SYSTEM = 5220
ORIGINS = range(5221, 5384)
FURTHER_ORIGINS = range(7001, 7001 + 20 * 48)  # of G54.1 P1 to P48, with user macros: practice


class Parameters:
    """What #n is now. `get` gives NaN for what only the machine knows, None for what was never set."""

    def __init__(self, control: Control) -> None:
        self.control = control
        self.plain: dict[int, float] = dict(control.setting.parameters)
        self.macros = control.rule("flow.kind") in ("macros", "both")
        self.names: dict[str, float] = {}  # #<name>
        self.read: set[int] = set()  # what the line at hand has read, and what of it was never set
        self.missed: set[int] = set()
        self.broken: set[int | str] = set()  # what was to be set to a value that could not be calculated
        for index, value in control.setting.parameters.items():
            if self.special(index):
                self.set(index, value)

    def get(self, index: int | str) -> float | None:
        if isinstance(index, str):
            return self.names.get(index)
        self.read.add(index)
        value = self._held(index)
        if value is None:
            self.missed.add(index)
        return value

    def _held(self, index: int) -> float | None:
        if index in self.control.setting.parameters and index in PROBE:
            return self.plain[index]
        if PROBE.start <= index <= ORIGINS.stop or (self.macros and index in FURTHER_ORIGINS):
            return self._live(index)
        if index not in self.plain and self.macros and any(index in kept for kept in LIVE):
            return nan
        return self.plain.get(index)

    def _live(self, index: int) -> float | None:
        """What the control's own state holds; None for what it had before this program."""
        control, scale = self.control, self.control.frames.scale
        if index in PROBE:
            return nan
        if index in HOME28:
            return control.home28[index - HOME28.start] / scale
        if index in HOME30:
            return control.home30[index - HOME30.start] / scale
        if index in PRELOAD:
            if "G92" not in control.modes.said and index not in self.plain:
                return None  # what an earlier program left
            return control.frames.g92_kept[index - PRELOAD.start] / scale
        if index == SYSTEM:
            return float(control.frames.system)
        system, axis = self._origin_at(index)
        return control.frames.origin(system, axis) / scale if system else self.plain.get(index)

    def set(self, index: int, value: float) -> None:
        control, scale = self.control, self.control.frames.scale
        self.plain[index] = value
        if index in HOME28:
            control.home28[index - HOME28.start] = value * scale
        elif index in HOME30:
            control.home30[index - HOME30.start] = value * scale
        elif index in PRELOAD:
            control.frames.g92_kept[index - PRELOAD.start] = value * scale
        elif index == SYSTEM:
            self._system(value)
        elif self._origin_at(index)[0]:
            control.frames.set_origin(*self._origin_at(index), value * scale)
            numbers = {"code": f"#{index}", "line": control.line}
            shifted(control, Reason("lost-register", f"#{index}", numbers))

    def _system(self, value: float) -> None:
        if isfinite(value) and abs(value - round(value)) <= 0.0001 and round(value) in SYSTEM_NAMES:
            self.control.frames.system = round(value)
            name = SYSTEM_NAMES[round(value)]
            shifted(self.control, Reason("lost-offset", name, {"code": name}))
        else:
            self.control.say("value-range", about="#5220", letter="#5220=", number=f"{value:g}",
                             least=1, most=9)

    def special(self, index: int) -> bool:
        """Whether setting it moves offsets or stored positions."""
        return (index in HOME28 or index in HOME30 or index in PRELOAD or index == SYSTEM
                or self._origin_at(index)[0] > 0)

    def _origin_at(self, index: int) -> tuple[int, int]:
        """(system, axis) of an origin's parameter, (0, 0) for another."""
        if self.macros and index in FURTHER_ORIGINS:
            system, axis = divmod(index - FURTHER_ORIGINS.start, 20)
            return (FURTHER + system + 1, axis) if axis < 3 else (0, 0)
        return origin_at(index)

    def values(self) -> Mapping[int, float]:
        """Every parameter that was given or set, as it is now."""
        return {index: self._held(index) or 0.0 for index in sorted(self.plain)}


def is_live(index: int) -> bool:
    """Whether a parameter may be the control's own state: an offset, the work system, a stored position."""
    return PROBE.start <= index <= ORIGINS.stop or index in FURTHER_ORIGINS


def origin_at(index: int) -> tuple[int, int]:
    """(system, axis) of an origin's parameter, (0, 0) for another."""
    system, axis = divmod(index - ORIGINS.start, 20)
    return (system + 1, axis) if index in ORIGINS and axis < 3 else (0, 0)
