"""The control as it stands between two lines: modes, offsets, where the tip is, what was found so far.

The law: small typed state, no input or output. A coordinate that is not known is NaN and has a reason;
a move with an unknown end has no place and is said so: `unplaced` where it feeds or goes down,
`unchecked` where it does neither. Nothing is skipped as if harmless, nothing is invented.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import dist, isfinite, isnan, nan
from typing import TYPE_CHECKING, Any

from .conditions import CONDITIONS
from .cycles import Sticky
from .dialect import Dialect
from .finding import OWN_FIELDS, Finding, Phrase, Severity, finding, registry
from .frames import Frames
from .modes import QUADRANTS
from .motion import Happening, MotionBuilder, Move, Spindle, State
from .reading import UNKNOWN, Doubt, Setting, Unchecked
from .warp import Compensation, Polar

if TYPE_CHECKING:
    from .corners import Corner
    from .nurbs import Net

STANDING = 1e-9  # mm: a shorter move is none


@dataclass(slots=True)
class Modes:
    """What stays in force from line to line. "" is a motion mode that no one has chosen yet."""

    motion: str = ""
    before: str = ""  # the last of G0 to G3
    plane: int = 17
    absolute: bool = True
    centres_absolute: bool = False
    single: bool = False  # arcs stay within a quadrant, I and J have no sign
    feed_mode: int = 94
    to_r: bool = False  # G99
    said: set[str] = field(default_factory=set)  # codes that the program has given


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a place is not known: a condition and its numbers; `about` is the code or thing to blame."""

    condition: str
    about: str = ""
    numbers: Mapping[str, Any] = field(default_factory=dict)

    @property
    def why(self) -> str:
        return Phrase(CONDITIONS[self.condition].what, self.numbers).said()


NOT_GIVEN = Reason("lost-start")


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
        motion = self.rule("start.motion")
        self.modes = Modes("" if motion == "none" else motion, to_r=setting.left_in_g99,
                           centres_absolute=self.rule("arc.centre_default") == "abs")
        self.modes.single = self.rule("arc.quadrant") != "multi"
        self.instead = QUADRANTS if self.rule("arc.quadrant") == "codes" else {}
        self.frames = Frames(setting, uses_length)
        self.frames.units(self.rule("units.default") == "inch")
        self.builder = MotionBuilder(self.rule("flow.max_moves"))
        self.tip: list[float] = [float(v) for v in setting.position]
        self.reasons: list[Reason] = [NOT_GIVEN] * 3
        self.offset_reason = NOT_GIVEN
        self.stored: set[int] = set()  # work systems that G10 set
        self.diameters = dict(setting.diameters)  # by D
        self.feed: float | None = None  # as written: what it means hangs on units and feed mode
        self.speed: float | None = setting.spindle_by_hand
        self.spindle = Spindle.CLOCKWISE if setting.spindle_by_hand else Spindle.STILL
        self.mist = self.flood = False
        self.chosen: int | None = None
        self.chosen_line = 0
        self.in_force: int | None = None  # H
        self.stale = False  # the cutter was changed under it
        self.loads: dict[int, int] = {}  # how often each cutter came into the spindle
        self.arcs: dict[int, tuple[int, int]] = {}  # by plane: the first arc's line, how many there are
        self.sticky = Sticky()
        self.home28, self.home30 = list(setting.home28 or UNKNOWN), list(setting.home30 or UNKNOWN)
        self.polar: Polar | None = None
        self.corner: Corner | None = None  # to be made at the last move's end
        self.net: Net | None = None  # control points that G5.2 gathers
        self.tangent: tuple[float, float] | None = None  # how the last G5 ended
        self.comp: Compensation | None = None
        self.contours: list[Compensation] = []  # those that are over
        self.overlong: list[int] = []  # lines from which on a contour is too long to be kept
        self.bent: dict[str, tuple[str, Reason]] = {}  # what is not simulated: axes hidden, by its end
        self.line = self.stops = 0
        self.ended = False
        self.units_said: str | None = None
        self.findings: list[Finding] = []
        self.said: dict[tuple, int] = {}  # row of a finding, by condition and place
        self.unseen: dict[str, list[int]] = {}  # rapids with no place: why, and their lines
        self.expected: Container[tuple[str, int]] | None = None  # stops (kind, line); None: all are
        self.refused: tuple[int, int] | None = None  # moves and events before another one
        self.forbidden: set[int] = set()  # lines with a finding that forbids the run
        self.behind: dict[str, list[int]] = {}  # other moves, where a finding says why
        self.doubts: list[Doubt] = []
        self.renew()

    def rule(self, key: str) -> Any:
        """How this dialect answers a question."""
        return self.dialect[key]

    # --- saying ---

    def say(self, name: str, span: Span = WHOLE, *, severity: Severity | None = None, about: str = "",
            value: float | None = None, limit: float | None = None, **numbers: Any) -> Severity | None:
        """Raise a condition on the line at hand, as the dialect weighs it; None where that allows it."""
        condition = CONDITIONS[name]
        kind = registry()[condition.kind]
        if severity is None:
            severity = self.dialect.conditions.get(condition.weigh or name, kind.severity)
        if severity is None:
            return None
        if severity is Severity.STOP:
            self.forbidden.add(self.line)
            self._refuse(condition.kind)
        key = name, severity, self.line, span.column, about
        if key in self.said:  # a line that runs many times says a thing once, and how often
            row = self.said[key]
            self.findings[row] = replace(self.findings[row], count=self.findings[row].count + 1)
            return severity
        self.said[key] = len(self.findings)
        numbers = {"line": self.line, "about": about, "value": value, "limit": limit, **numbers}
        whole = {"what": Phrase(condition.what, numbers), "why": Phrase(condition.what, numbers),
                 "fix": Phrase(condition.fix, numbers), **numbers}
        self.findings.append(finding(
            condition.kind, severity=severity, line=self.line, column=span.column, end_column=span.end,
            about=about, value=value, limit=limit,
            **{blank: whole[blank] for blank in kind.placeholders - OWN_FIELDS}))
        return severity

    def _refuse(self, kind: str) -> None:
        """Notes how far the program had come when it met the first stop that was not expected."""
        if self.expected is not None and self.refused is None and (kind, self.line) not in self.expected:
            self.refused = len(self.builder), len(self.builder.events)

    def count_arc(self, plane: int, line: int, count: int = 1) -> None:
        first, before = self.arcs.get(plane, (line, 0))
        self.arcs[plane] = first, before + count

    def doubt(self, key: str, span: Span, code: str) -> None:
        """The meaning here hangs on a key of the dialect that has other values; the first place is kept."""
        if key in self.dialect.alternatives and not any((d.key, d.code) == (key, code) for d in self.doubts):
            self.doubts.append(Doubt(key, self.line, span.column, code))

    def unplaced(self, reason: Reason) -> None:
        """A feed move or a move down has no place: said once a line, or by the finding that hid it."""
        if self._told(reason):
            self._hide(self.behind, reason)
            return
        last = self.findings[-1] if self.findings else None
        if last is None or (last.kind, last.line) != ("unplaced", self.line):
            self.say(reason.condition, about=reason.about, **reason.numbers)

    def unchecked(self) -> Iterable[Unchecked]:
        for what, found in (("moves behind a line that cannot be run", self.behind),
                            ("rapids whose place is not known", self.unseen)):
            for why, lines in found.items():
                yield Unchecked(what, f"{why} ({_named(lines)})")
        if self.overlong:
            yield Unchecked("whether the cutter is too wide for the contour that it follows",
                            f"the contour is too long to be looked at as a whole ({_named(self.overlong)})")

    def _told(self, reason: Reason) -> bool:
        """Whether a finding that forbids the run stands already on the line that hides the place."""
        return reason.condition == "lost-unread" or reason.numbers.get("line") in self.forbidden

    def _hide(self, lines_of: dict[str, list[int]], reason: Reason) -> None:
        lines = lines_of.setdefault(reason.why, [])
        if not lines or lines[-1] != self.line:
            lines.append(self.line)

    # --- state ---

    def renew(self) -> None:
        """Whatever holds over moves has changed: offsets, cutter, spindle, coolant."""
        self.frames.renew()
        self.state = State(self.frames.cutter, self.spindle, self.speed, self.mist, self.flood,
                           self.frames.shift, self.frames.system_name, self.frames.reach, self.in_force)
        self.builder.state(self.state)

    def event(self, kind: Happening, value: float = 0.0, code: str = "") -> None:
        self.builder.event(kind, self.line, value, code)

    def turn(self, spindle: Spindle, code: str) -> None:
        """The program switches the spindle, unless the operator does that by hand."""
        if self.setting.spindle_by_hand is None:
            if code:
                self.event(Happening.SPINDLE, spindle, code)
            self.spindle = spindle
            self.renew()

    def choose_units(self, inch: bool, span: Span, with_feed: bool) -> None:
        """G20 and G21: the feed keeps its number, or its speed where the dialect says so."""
        before, code = self.frames.scale, "G20" if inch else "G21"
        self.frames.units(inch)
        if not len(self.builder):
            self.units_said = code
        if before == self.frames.scale:
            return
        if len(self.builder):
            self.say("units-changed", span, about=code, code=code)
        if self.feed and not with_feed:
            self.doubt("units.f_on_change", span, "F")
            if self.rule("units.f_on_change") == "convert":
                self.feed *= before / self.frames.scale

    def load(self, cutter: int | None, code: str) -> None:
        """A cutter comes into the spindle; the machine stands, the tip is where the new one's tip is."""
        shift = self.frames.take(cutter)
        self.tip[2] += shift
        if isnan(shift):
            self.reasons[2] = Reason("lost-length", code, {"line": self.line})
        self.event(Happening.CUTTER, 0 if cutter is None else cutter, code)
        self.touch(cutter)
        self.renew()

    def touch(self, cutter: int | None) -> None:
        """A cutter that is touched off whenever it comes into the spindle is so now."""
        heights = self.setting.touched.get(-1 if cutter is None else cutter, ())
        if cutter is not None and heights:
            count = self.loads[cutter] = self.loads.get(cutter, 0) + 1
            self.frames.touch(heights[min(count, len(heights)) - 1])

    @property
    def simple(self) -> bool:
        """Whether a place is the work offset and what is written, and nothing more is to be said."""
        return not (self.bent or self.stale or self.polar or self.comp or self.frames.warp or self.net
                    or self.corner)

    # --- places ---

    def lose(self, axes: Iterable[int], reason: Reason) -> None:
        """From now on these axes are unknown."""
        for axis in axes:
            self.tip[axis] = nan
            self.reasons[axis] = reason

    def here(self) -> list[float]:
        """Where the tip is as the program counts: mirroring, scaling and rotation taken back (board, mm)."""
        warp, shift = self.frames.warp, self.frames.shift
        if self.comp is not None and self.comp.entered:
            return [*self.comp.point, self.tip[2]]
        if warp is None:
            return self.tip
        point = warp.back([v - s for v, s in zip(self.tip, shift, strict=True)])
        return [v + s for v, s in zip(point, shift, strict=True)]

    def real(self, place: Sequence[float]) -> list[float]:
        """Where a place that the program counts really lies: mirrored, scaled and rotated (board, mm)."""
        warp, shift = self.frames.warp, self.frames.shift
        if warp is None:
            return list(place)
        point = warp.forward([v - s for v, s in zip(place, shift, strict=True)])
        return [v + s for v, s in zip(point, shift, strict=True)]

    def go(self, kind: Move, end: Sequence[float], *, feed: float = nan, named: Sequence[int] = (),
           cycle: bool = False, machine: bool = False, high: bool = False) -> None:
        """A straight move of the tip to a place as the program counts it. `named`: the axes that the line
        commands, `machine`: to a machine position, `high`: to one that counts as the top. A move of no
        length is none."""
        start = self.tip
        end = list(end) if machine else self.real(end)
        if self.place(kind, start, end, named, high) and dist(start, end) < STANDING:
            return
        self.builder.move(kind, self.line, start, end, feed=feed, cycle=cycle)
        self.tip = end

    def place(self, kind: Move, start: Sequence[float], end: Sequence[float], named: Sequence[int] = (),
              high: bool = False) -> bool:
        """Whether a move has a place; where it has none it is said."""
        if isfinite(sum(start) + sum(end)):
            return True
        reason = next((self.reasons[a] for a in range(3) if isnan(start[a]) or isnan(end[a])), NOT_GIVEN)
        if kind is not Move.RAPID or lowers(start[2], end[2], named, high):
            self.unplaced(reason)
        else:
            self._hide(self.unseen, reason)
        return False


def lowers(start: float, end: float, named: Sequence[int], high: bool) -> bool:
    """Whether a rapid may go down, Z from `start` to `end` (NaN: unknown).

    Z alone, to a given place or to the machine's top (`high`), counts as a lift.
    """
    if isfinite(start) and isfinite(end):
        return end < start
    if 2 not in named:
        return False
    return len(named) > 1 or not (isfinite(end) or high)


def _named(lines: Sequence[int]) -> str:
    shown = ", ".join(str(line) for line in lines[:4])
    more = len(lines) - 4
    return f"line{'s' if len(lines) > 1 else ''} {shown}" + (f" and {more} more" if more > 0 else "")
