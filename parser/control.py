"""The control as it stands between two lines: modes, offsets, where the tip is, what was found so far.

The law: small typed state, no input or output. A coordinate that is not known is NaN and has a reason;
a move with an unknown end has no place and is said so: `unplaced` where it feeds or goes down,
`unchecked` where it does neither. Nothing is skipped as if harmless, nothing is invented.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from math import dist, isfinite, isnan, nan
from typing import Any

from .cycles import Sticky
from .dialect import Dialect
from .finding import Finding, Severity, finding
from .frames import Frames
from .motion import Happening, MotionBuilder, Move, Spindle, State
from .reading import UNKNOWN, Doubt, Setting, Unchecked

STANDING = 1e-9  # mm: a shorter move is none


@dataclass(slots=True)
class Modes:
    """What stays in force from line to line. "" is a motion mode that no one has chosen yet."""

    motion: str = ""
    plane: int = 17
    absolute: bool = True
    centres_absolute: bool = False
    feed_mode: int = 94
    to_r: bool = False  # G99
    said: set[str] = field(default_factory=set)  # what the program has chosen itself


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a place is not known, and what would make it known."""

    why: str
    fix: str
    about: str = ""


NOT_GIVEN = Reason("the program has not said yet where the cutter is",
                   "Begin with G90 and a rapid of Z alone, then X and Y; or give the stage's start = [x, y, z]")
NO_ORIGIN = Reason("it goes to a machine position, and where that is on the board is not given",
                   "Give machine.origin = [x, y, z] in the job, or go to a position of the work offset instead",
                   "machine position")


@dataclass(frozen=True, slots=True)
class Span:
    """Columns of the line at hand, from 1; 0 is the whole line."""

    column: int = 0
    end: int = 0


WHOLE = Span()


class Control:
    """State of a control that runs a program, and what it has done so far."""

    def __init__(self, dialect: Dialect, setting: Setting, uses_length: bool) -> None:
        self.dialect, self.setting = dialect, setting
        self.modes = Modes()
        self.frames = Frames(setting, uses_length)
        self.builder = MotionBuilder()
        self.tip: list[float] = [float(v) for v in setting.position]
        self.reasons: list[Reason] = [NOT_GIVEN] * 3
        self.feed: float | None = None  # as written: what it means hangs on units and feed mode
        self.speed: float | None = setting.spindle_by_hand
        self.spindle = Spindle.CLOCKWISE if setting.spindle_by_hand else Spindle.STILL
        self.mist = self.flood = False
        self.chosen: int | None = None
        self.bent: dict[str, tuple[str, Reason]] = {}  # transformations in force: axes that they hide
        self.sticky = Sticky()
        self.home28, self.home30 = list(setting.home28 or UNKNOWN), list(setting.home30 or UNKNOWN)
        self.offset_reason = NOT_GIVEN
        self.line = 0
        self.past_end = False
        self.stops = 0
        self.ended = False
        self.units_said: str | None = None
        self.findings: list[Finding] = []
        self.unseen: dict[tuple[str, str], list[int]] = {}
        self.doubts: list[Doubt] = []
        self.renew()

    def rule(self, key: str) -> Any:
        """How this dialect reads something."""
        return self.dialect[key]

    # --- saying ---

    def say(self, kind: str, span: Span = WHOLE, *, condition: str = "", severity: Severity | None = None,
            about: str = "", value: float | None = None, limit: float | None = None,
            **numbers: object) -> Severity | None:
        """Raise a finding on the line at hand; the dialect weighs its condition (None: it says nothing)."""
        if condition and severity is None:
            severity = self.dialect.severity(condition)
            if severity is None:
                return None
        found = finding(kind, severity=severity, line=self.line, column=span.column, end_column=span.end,
                        about=about, value=value, limit=limit, **numbers)
        self.findings.append(found)
        return found.severity

    def doubt(self, key: str, span: Span, code: str) -> None:
        """The meaning here hangs on a key of the dialect that has other values."""
        if key in self.dialect.alternatives:
            self.doubts.append(Doubt(key, self.line, span.column, code))

    def unsure(self, what: str, why: str) -> None:
        lines = self.unseen.setdefault((what, why), [])
        if not lines or lines[-1] != self.line:
            lines.append(self.line)

    def unchecked(self) -> Iterable[Unchecked]:
        for (what, why), lines in self.unseen.items():
            yield Unchecked(what, f"{why} ({_named(lines)})")

    # --- state ---

    def renew(self) -> None:
        """Whatever holds over moves has changed: offsets, cutter, spindle, coolant."""
        self.frames.renew()
        self.state = State(self.frames.cutter, self.spindle, self.speed, self.mist, self.flood,
                           self.frames.shift, self.frames.system_name, self.frames.reach)
        self.builder.state(self.state)

    def event(self, kind: Happening, value: float = 0.0, code: str = "") -> None:
        self.builder.event(kind, self.line, value, code)

    def turn(self, spindle: Spindle, code: str) -> None:
        """The program switches the spindle, unless the operator does that by hand."""
        if self.setting.spindle_by_hand is not None:
            return
        if code:
            self.event(Happening.SPINDLE, spindle, code)
        self.spindle = spindle
        self.renew()

    def choose_units(self, inch: bool, span: Span, with_feed: bool) -> None:
        """G20 and G21: the feed keeps its number, or its speed where the dialect says so."""
        before, moved = self.frames.scale, len(self.builder) > 0
        self.frames.units(inch)
        if not moved:
            self.units_said = "G20" if inch else "G21"
        if before == self.frames.scale:
            return
        if moved:
            self.say("word-doubtful", span, condition="units-changed", about="G20" if inch else "G21",
                     what="the unit changes after the first move, and F and the offsets with it",
                     fix="Use one unit in the whole program")
        if self.feed and not with_feed:
            self.doubt("units.f_on_change", span, "F")
            if self.rule("units.f_on_change") == "convert":
                self.feed *= before / self.frames.scale

    def load(self, cutter: int | None, code: str) -> None:
        """A cutter comes into the spindle; the machine stands, the tip is where the new one's tip is."""
        shift = self.frames.take(cutter)
        self.tip[2] += shift
        if isnan(shift):
            self.reasons[2] = Reason("the length of the cutter that was changed in is not given",
                                     "Give each cutter's length, or command Z before the next move", "length")
        self.event(Happening.CUTTER, 0 if cutter is None else cutter, code)
        self.renew()

    # --- places ---

    def lose(self, axes: Iterable[int], reason: Reason) -> None:
        """From now on these axes are unknown."""
        for axis in axes:
            self.tip[axis] = nan
            self.reasons[axis] = reason

    def settle(self, axis: int, value: float, reason: Reason) -> float:
        """A target coordinate as the transformations in force leave it; remembers why it is unknown."""
        for axes, why in self.bent.values():
            if "XYZ"[axis] in axes:
                value, reason = nan, why
        if value != value:
            self.reasons[axis] = reason
        return value

    def go(self, kind: Move, end: Sequence[float], *, feed: float = nan, named: Sequence[int] = (),
           cycle: bool = False, machine: bool = False) -> None:
        """A straight move of the tip to a board-frame place. `named`: the axes that the line commands."""
        start = self.tip
        if self.place(kind, start, end, named, machine) and dist(start, end) < STANDING:
            return
        self.builder.move(kind, self.line, start, end, feed=feed, cycle=cycle)
        self.tip = list(end)

    def place(self, kind: Move, start: Sequence[float], end: Sequence[float], named: Sequence[int] = (),
              machine: bool = False) -> bool:
        """Whether a move has a place; where it has none it is said."""
        if isfinite(sum(start) + sum(end)):
            return True
        reason = next(self.reasons[a] for a in range(3) if isnan(start[a]) or isnan(end[a]))
        if kind is not Move.RAPID or lowers(start[2], end[2], named, machine):
            self.unplaced(reason)
        else:
            self.unsure("rapids whose place is not known", reason.why)
        return False

    def unplaced(self, reason: Reason) -> None:
        last = self.findings[-1] if self.findings else None
        if last is None or (last.kind, last.line) != ("unplaced", self.line):
            self.say("unplaced", about=reason.about, why=reason.why, fix=reason.fix)


def lowers(start: float, end: float, named: Sequence[int], machine: bool) -> bool:
    """Whether a rapid may go down, Z from `start` to `end` (NaN: unknown).

    Z alone, to a given place or to a machine position, counts as a lift.
    """
    if isfinite(start) and isfinite(end):
        return end < start
    if 2 not in named:
        return False
    return len(named) > 1 or not (isfinite(end) or machine)


def _named(lines: Sequence[int]) -> str:
    shown = ", ".join(str(line) for line in lines[:4])
    more = len(lines) - 4
    return f"line{'s' if len(lines) > 1 else ''} {shown}" + (f" and {more} more" if more > 0 else "")
