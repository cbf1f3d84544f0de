"""What is said of a program as a whole, once its last line is read.

The law: a start that was left to the control and an end that is missing are found here and nowhere else.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from .blocks import Block
from .control import Control
from .frames import system_name
from .modes import Group
from .motion import Happening, Spindle
from .source import Source


@dataclass(frozen=True, slots=True)
class Unsaid:
    """Something that a program should choose before it matters: its codes, and what it is if it does not."""

    what: str
    codes: str
    condition: str


UNITS = Unsaid("the unit", "G20 or G21", "units-unset")
DISTANCE = Unsaid("absolute or incremental", "G90 or G91", "distance-unset")
SYSTEM = Unsaid("the work offset", "G54 or another", "system-unset")
FEED_MODE = Unsaid("what F means", "G94", "feed-mode-unset")
PLANE = Unsaid("the plane", "G17", "plane-unset")
RETURN = Unsaid("the return level of drilling cycles", "G98 or G99", "return-unset")

BY_GROUP = {Group.UNITS: UNITS, Group.DISTANCE: DISTANCE, Group.SYSTEM: SYSTEM, Group.FEED_MODE: FEED_MODE,
            Group.PLANE: PLANE, Group.RETURN: RETURN}
ALWAYS = (UNITS, DISTANCE, SYSTEM)
FRAME = re.compile(rb"(?:\A(?:\xef\xbb\xbf)?|[\r\n])[ \t]*%")  # a line that begins with %
CYCLES = frozenset({"G73", "G74", "G76", *(f"G{number}" for number in range(81, 90))})


class Watch:
    """What the program has not chosen yet. `quiet` once no straight move can add a finding."""

    __slots__ = ("open", "quiet")

    def __init__(self) -> None:
        self.open = set(BY_GROUP.values())
        self.quiet = False

    def said(self, group: Group) -> None:
        self.open.discard(BY_GROUP.get(group))  # type: ignore[arg-type]
        self._rest()

    def moves(self, control: Control, motion: str, offset: bool = True) -> None:
        """A motion runs on the line at hand: what it relies on and the program left open is found. `offset`:
        whether the work offset has a say in where it goes."""
        for unsaid in relied_on(motion):
            if unsaid in self.open and (offset or unsaid is not SYSTEM):
                control.say(unsaid.condition, about=unsaid.what, what=unsaid.what, codes=unsaid.codes)
                self.open.discard(unsaid)
        self._rest()

    def _rest(self) -> None:
        self.quiet = not self.open & {UNITS, DISTANCE, SYSTEM, FEED_MODE}


def relied_on(motion: str) -> tuple[Unsaid, ...]:
    if motion in ("G0", ""):
        return ALWAYS
    if motion == "G1":
        return (*ALWAYS, FEED_MODE)
    if motion in ("G2", "G3"):
        return (*ALWAYS, FEED_MODE, PLANE)
    if motion in CYCLES:
        return (*ALWAYS, FEED_MODE, PLANE, RETURN)
    return (*ALWAYS, FEED_MODE, PLANE)


def closing(control: Control, source: Source, blocks: Sequence[Block], behind: Block | None = None) -> None:
    """End of the program: no end code, spindle left on, offsets left shifted. `behind` is the first line of
    the program that follows it in its file."""
    control.line = blocks[-1].last if blocks else 0
    if not control.ended:
        _no_end(control, source, behind)
    if control.frames.shifted():
        control.say("offset-left", about="G92 G52")
    if control.stored:
        control.say("offset-stored", about="G10", named=", ".join(map(system_name, sorted(control.stored))))
    _rare_planes(control)
    _never_changed(control)


def _rare_planes(control: Control) -> None:
    """Arcs of one plane among many of another: often a plane code that was forgotten."""
    most = max((count for _, count in control.arcs.values()), default=0)
    for plane, (first, count) in control.arcs.items():
        if count * 10 < most:
            control.line = first
            control.say("arc-plane-rare", about=f"G{plane}", plane=f"G{plane}")


def _never_changed(control: Control) -> None:
    """A T word with no M6 behind it in the whole program, and another cutter in the spindle."""
    changed = any(event.kind is Happening.CUTTER for event in control.builder.events)
    if control.chosen and not changed and control.chosen != control.frames.cutter and len(control.builder):
        control.line = control.chosen_line
        control.say("t-without-m6", about=f"T{control.chosen}", number=control.chosen)


def _no_end(control: Control, source: Source, behind: Block | None) -> None:
    data = source.text.encode() if source.encoding.startswith("utf-16") else source.data
    framed = data.count(b"%") >= 2 and len(FRAME.findall(data)) >= 2
    if control.spindle is not Spindle.STILL and control.setting.spindle_by_hand is None:
        control.say("spindle-left-on", about="spindle")
    elif not framed or (behind is not None and not behind.parts):
        control.say("no-end", about="M30")
