"""Lines that run again, as in loops and subprograms: what can be known of them beforehand is found out once.

The law: a line taken here does exactly what the interpreter does with it, bit for bit, and says nothing;
where there might be something to say, the interpreter does it. Only straight moves and settings of parameters
are taken; their values are made ready (ready.py).
"""

from __future__ import annotations

from collections.abc import Callable
from math import dist, isfinite, nan
from typing import TYPE_CHECKING

from .choosing import choose
from .control import STANDING, Control
from .dependence import bare, reads
from .expressions import FIRST, MACHINES
from .motion import Move
from .parameters import is_live
from .plain import AXIS_BITS, BITS, FARTHEST, G_BIT
from .ready import NOT_READY, Ready, Reckoned
from .values import Values
from .written import Assignment, Block, Name, Number, Word

if TYPE_CHECKING:
    from .closing import Watch

Line = Callable[[], bool]


class Again:
    """Carries out lines that have run before. A `Line` does it, and says whether it could."""

    def __init__(self, control: Control, values: Values, ready: Ready, watch: Watch) -> None:
        self.control, self.values, self.ready, self.watch = control, values, ready, watch
        self.straight = control.dialect.takes("G0") and control.dialect.takes("G1")
        self.lines: dict[int, tuple[Block, Line | None]] = {}

    def line(self, block: Block) -> bool:
        """Carry out a line; false where the interpreter has to."""
        kept = self.lines.get(block.line)
        if kept is None or kept[0] is not block:
            kept = self.lines[block.line] = block, self._prepared(block)
        return kept[1] is not None and kept[1]()

    def _prepared(self, block: Block) -> Line | None:
        if block.skippable or block.bad or block.flow is not None or not (block.words or block.assignments):
            return None
        if block.words:
            return None if block.assignments or not self.straight else self._move(block)
        return self._settings(block)

    # --- settings ---

    def _settings(self, block: Block) -> Line | None:
        """#1=#1+1: plain parameters, each set once, and none that another setting of the line reads."""
        pairs = [self._setting(each) for each in block.assignments]
        indexes = [pair[0] for pair in pairs if pair is not None]
        if len(indexes) < len(pairs) or (len(pairs) > 1 and not self._apart(block, indexes)):
            return None
        parameters = self.values.parameters
        (index, value), *more = (pair for pair in pairs if pair is not None)

        def one() -> bool:
            try:
                number = value(parameters.plain, parameters.names)
            except NOT_READY:
                return False
            (parameters.names if isinstance(index, str) else parameters.plain)[index] = number  # type: ignore
            return True

        def several() -> bool:
            plain, names = parameters.plain, parameters.names
            try:
                done = [(each, reckoned(plain, names)) for each, reckoned in ((index, value), *more)]
            except NOT_READY:
                return False
            for each, number in done:
                (names if isinstance(each, str) else plain)[each] = number  # type: ignore
            return True

        return several if more else one

    def _apart(self, block: Block, indexes: list[int | str]) -> bool:
        read = {var for each in block.assignments for var in reads(each.value)}
        return len(set(indexes)) == len(indexes) and read.isdisjoint(indexes)

    def _setting(self, setting: Assignment) -> tuple[int | str, Reckoned] | None:
        value = self.ready.number(setting.value)
        if value is None:
            return None
        if isinstance(setting.index, Name):
            return None if setting.index.text.startswith(MACHINES) else (setting.index.text, value)
        index, last = bare(setting.index), self.control.rule("expr.last_parameter")
        if not (isinstance(index, Number) and index.value.is_integer() and FIRST <= index.value <= last):
            return None
        number = int(index.value)
        return None if is_live(number) else (number, value)

    # --- straight moves ---

    def _move(self, block: Block) -> Line | None:
        """X, Y, Z, F and G0 or G1, each at most once."""
        parts, seen, motion = [], 0, ""
        for word in block.words:
            bit = BITS.get(word.letter, 0)
            part = self._part(word) if bit and not seen & bit else None
            if part is None:
                return None
            seen |= bit
            if bit == G_BIT:
                if part[0] not in (0.0, 1.0):
                    return None
                motion = "G1" if part[0] else "G0"
            else:
                parts.append((bit >> 1 if bit < G_BIT else 3, *part))
        return self._straight(parts, motion) if seen & AXIS_BITS else None

    def _part(self, word: Word) -> tuple[float, Reckoned | None] | None:
        """A word's number, or (0, how it is reckoned)."""
        if not isinstance(word.value, Number):
            reckoned = self.ready.number(word.value)
            return None if reckoned is None or word.letter == "G" else (0.0, reckoned)
        number = word.value
        counts = self.values.increments and word.letter in self.values.counted
        return None if counts and number.value and not number.pointed else (number.value, None)

    def _straight(self, parts: list[tuple[int, float, Reckoned | None]], motion: str) -> Line:
        control, parameters, watch = self.control, self.values.parameters, self.watch
        modes, frames, builder = control.modes, control.frames, control.builder

        def line() -> bool:
            code = motion or modes.motion
            if code != "G1" and code != "G0":
                return False
            if modes.feed_mode != 94 or not watch.quiet or not control.simple:
                return False
            tip, feed = control.tip, control.feed
            end, scale = [*tip], frames.scale
            base = frames.shift if modes.absolute else tip
            try:
                for axis, number, reckoned in parts:
                    if reckoned is not None:
                        number = reckoned(parameters.plain, parameters.names)
                        if not -FARTHEST <= number <= FARTHEST:
                            return False
                    if axis < 3:
                        end[axis] = number * scale + base[axis]
                    elif number > 0:
                        feed = number
                    else:
                        return False
            except NOT_READY:
                return False
            if code == "G1" and not feed:
                return False
            if not (isfinite(sum(tip)) and abs(end[0]) + abs(end[1]) + abs(end[2]) < FARTHEST):
                return False
            if code != modes.motion:
                choose(control, code)
            control.feed = feed
            if dist(tip, end) >= STANDING:
                if code == "G0":
                    builder.move(Move.RAPID, control.line, tip, end, feed=nan)
                else:
                    builder.move(Move.FEED, control.line, tip, end, feed=feed * scale)  # type: ignore[operator]
                control.tip = end
            return True

        return line
