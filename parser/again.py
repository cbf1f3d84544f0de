"""Lines that run again, as in loops and subprograms: what can be known of them beforehand is found out once.

The law: a line taken here does exactly what the interpreter does with it, bit for bit, and says nothing;
where there might be something to say, the interpreter does it. Only moves, straight or round, and settings
of parameters are taken; their values are made ready (ready.py).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import dist, isfinite
from typing import TYPE_CHECKING

from . import arcs
from .arc_lines import tolerance
from .choosing import choose
from .closing import PLANE
from .control import STANDING, Control, Span
from .dependence import bare, reads
from .expressions import FIRST, MACHINES
from .motion import Move
from .parameters import is_live
from .plain import FARTHEST
from .ready import NOT_READY, Ready, Reckoned
from .stretch import Stretch
from .values import Values, label_of
from .written import Assignment, Block, Name, Number, Word

if TYPE_CHECKING:
    from .closing import Watch

Line = Callable[[], bool]
Part = tuple[int, float, Reckoned | None]  # where a number goes, the number, or how it is reckoned
PLACES = {letter: place for place, letter in enumerate("XYZIJRF")}
FEED = PLACES["F"]
LETTERS = frozenset("GXYZIJRF")
CENTRES = frozenset({"G90.1", "G91.1"})
GROUPS = {0.0: "m", 1.0: "m", 2.0: "m", 3.0: "m", 90.0: "d", 91.0: "d"}  # motion, distance


def _nothing() -> bool:
    """A comment, a number: there is nothing to do."""
    return True


class Again:
    """Carries out lines that have run before. A `Line` does it, and says whether it could."""

    def __init__(self, control: Control, values: Values, ready: Ready, watch: Watch) -> None:
        self.control, self.values, self.ready, self.watch = control, values, ready, watch
        self.straight = control.dialect.takes("G0") and control.dialect.takes("G1")
        self.lines: dict[int, tuple[Block, Line | None]] = {}

    def line(self, block: Block) -> bool:
        """Carry out a line; false where the interpreter has to."""
        made = self.made(block)
        return made is not None and made()

    def made(self, block: Block) -> Line | None:
        """The line made ready, once; None for one that is left to the interpreter."""
        if isinstance(block, Stretch):
            return None
        kept = self.lines.get(block.line)
        if kept is None or kept[0] is not block:
            kept = self.lines[block.line] = block, self._prepared(block)
        return kept[1]

    def _prepared(self, block: Block) -> Line | None:
        if block.skippable or block.bad or block.flow is not None:
            return None
        if not (block.words or block.assignments):
            return _nothing
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
        value = self.ready.number(setting.value, label_of(setting.index))
        if value is None:
            return None
        if isinstance(setting.index, Name):
            return None if setting.index.text.startswith(MACHINES) else (setting.index.text, value)
        index, last = bare(setting.index), self.control.rule("expr.last_parameter")
        if not (isinstance(index, Number) and index.value.is_integer() and FIRST <= index.value <= last):
            return None
        number = int(index.value)
        return None if is_live(number) else (number, value)

    # --- moves ---

    def _move(self, block: Block) -> Line | None:
        """G0 to G3, G90 or G91, X, Y, Z, I, J, R and F, each at most once."""
        parts, seen, codes = [], "", {}
        for word in block.words:
            part = self._part(word) if word.letter in LETTERS else None
            if part is None:
                return None
            group = GROUPS.get(part[0], "") if word.letter == "G" else word.letter
            if not group or group in seen or not (word.letter != "G" or self._takes(part[0])):
                return None
            seen += group
            if word.letter == "G":
                codes[group] = part[0]
            else:
                parts.append((PLACES[word.letter], *part))
        motion = f"G{codes['m']:.0f}" if "m" in codes else ""
        absolute = codes["d"] == 90.0 if "d" in codes else None
        if not set("XYZ") & set(seen):
            return None if set(seen) - set("dF") else self._unmoved(parts, absolute)
        bent = not set("IJR").isdisjoint(seen)
        if motion in ("G2", "G3") or (bent and not motion):
            round_ = bent and not set("XY").isdisjoint(seen) and ("R" in seen) != ("I" in seen or "J" in seen)
            return self._arc(parts, motion, absolute, seen, block) if round_ else None
        return None if bent else self._straight(parts, motion, absolute)

    def _takes(self, code: float) -> bool:
        return self.control.dialect.takes(f"G{code:.0f}")

    def _part(self, word: Word) -> tuple[float, Reckoned | None] | None:
        """A word's number, or (0, how it is reckoned)."""
        if not isinstance(word.value, Number):
            reckoned = self.ready.number(word.value, word.letter)
            return None if reckoned is None or word.letter == "G" else (0.0, reckoned)
        number = word.value
        counts = self.values.increments and word.letter in self.values.counted
        return None if counts and number.value and not number.pointed else (number.value, None)

    def _unmoved(self, parts: list[Part], absolute: bool | None) -> Line:
        """G90, G91 and F by themselves."""
        control, reckon = self.control, self._reckoner(parts)

        def line() -> bool:
            feed = reckon([], (0.0, 0.0, 0.0))
            if feed is None or control.modes.feed_mode != 94 or not control.simple:
                return False
            control.feed = feed or control.feed
            if absolute is not None:
                control.modes.absolute = absolute
            return True

        return line

    def _reckoner(self, parts: list[Part]) -> Callable[[list[float], Sequence[float]], float | None]:
        """A function that puts a line's numbers in their places (x, y, z in mm; i, j, r as written) and gives
        its F, 0 for none; None where there is something to be said."""
        parameters, frames = self.values.parameters, self.control.frames

        def reckon(places: list[float], base: Sequence[float]) -> float | None:
            feed, scale = 0.0, frames.scale
            try:
                for place, number, reckoned in parts:
                    if reckoned is not None:
                        number = reckoned(parameters.plain, parameters.names)
                        if not -FARTHEST <= number <= FARTHEST:
                            return None
                    if place < 3:
                        places[place] = number * scale + base[place]
                    elif place < FEED:
                        places[place] = number
                    elif number > 0:
                        feed = number
                    else:
                        return None
            except NOT_READY:
                return None
            return feed

        return reckon

    def _straight(self, parts: list[Part], motion: str, said: bool | None) -> Line:
        control, watch, reckon = self.control, self.watch, self._reckoner(parts)
        modes, frames, builder = control.modes, control.frames, control.builder

        def line() -> bool:
            code = motion or modes.motion
            if code != "G1" and code != "G0":
                return False
            if modes.feed_mode != 94 or not watch.quiet or not control.simple:
                return False
            tip, absolute = control.tip, modes.absolute if said is None else said
            end = [*tip]
            feed = reckon(end, frames.shift if absolute else tip)
            if feed is None or (code == "G1" and not (feed or control.feed)):
                return False
            if not (isfinite(sum(tip)) and abs(end[0]) + abs(end[1]) + abs(end[2]) < FARTHEST):
                return False
            modes.absolute = absolute
            if code != modes.motion:
                choose(control, code)
            if feed:
                control.feed = feed
            if dist(tip, end) >= STANDING:
                if code == "G0":
                    builder.move(Move.RAPID, control.line, tip, end)
                else:
                    builder.move(Move.FEED, control.line, tip, end, feed=control.feed * frames.scale)  # type: ignore
                control.tip = end
            return True

        return line

    def _arc(self, parts: list[Part], motion: str, said: bool | None, seen: str, block: Block) -> Line | None:
        """An arc of the plane XY by its centre or its radius, of which nothing is to be said."""
        control, rule = self.control, self.control.rule
        if rule("arc.feed_on") != "helix" or not (self._takes(2) and self._takes(3)):
            return None
        watch, reckon, modes, frames = self.watch, self._reckoner(parts), control.modes, control.frames
        where = next((Span(w.column, w.end) for w in block.words if w.letter == "G" and motion
                      and w.value == Number(float(motion[1:]), w.value.pointed)), Span())  # type: ignore
        both, by_radius, stretch = "I" in seen and "J" in seen, "R" in seen, rule("arc.r_short") == "stretch"

        def line() -> bool:
            code = motion or modes.motion
            if (code != "G2" and code != "G3") or modes.plane != 17 or modes.feed_mode != 94:
                return False
            if not watch.quiet or PLANE in watch.open or not control.simple or (
                    modes.centres_absolute and not (both or by_radius)):
                return False
            tip, absolute = control.tip, modes.absolute if said is None else said
            places = [*tip, 0.0, 0.0, 0.0]
            feed = reckon(places, frames.shift if absolute else tip)
            if feed is None or not (feed or control.feed) or not isfinite(sum(tip)):
                return False
            end, start, scale = places[:3], (tip[0], tip[1]), frames.scale
            if not abs(end[0]) + abs(end[1]) + abs(end[2]) < FARTHEST:
                return False
            to, limit = (end[0], end[1]), tolerance(control)
            try:
                if by_radius:
                    drawn = arcs.by_radius(start, to, places[5] * scale, code == "G3", limit, 1, stretch)
                else:
                    from_ = frames.shift if modes.centres_absolute else start
                    centre = places[3] * scale + from_[0], places[4] * scale + from_[1]
                    drawn = arcs.by_centre(start, to, centre, code == "G3", limit)
            except arcs.NoArc:
                return False
            if drawn.doubt or drawn.difference > arcs.ROUNDING * 2:
                return False
            if both and modes.said.isdisjoint(CENTRES):
                control.doubt("arc.centre_default", where, "I J K")
            modes.absolute = absolute
            choose(control, code)
            if feed:
                control.feed = feed
            control.count_arc(17, control.line)
            control.builder.arc(control.line, tip, end, plane=17, centre=drawn.centre, sweep=drawn.sweep,
                                feed=control.feed * scale)  # type: ignore[operator]
            control.tip = end
            return True

        return line
