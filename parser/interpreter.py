"""Blocks to Motion: reads a program line by line and carries each one out.

The law: the values of a line are computed before anything of it is done, its codes act in the order of
handlers.BEFORE, then the motion, then stops; parameters that it sets count from the next line on [NIST IR
6556, 3.3.3, 3.8]. A line that cannot be carried out leaves the axes that it might have moved unknown.
"""

from __future__ import annotations

from math import dist, isfinite, isnan, nan
from typing import Any, cast

from .blocks import Assignment, Block, Number, Value, Word, read_blocks
from .closing import Watch, closing
from .control import STANDING, Control, Reason, Span
from .dialect import Dialect
from .drilling import behaviour
from .expressions import FIRST, LAST, BadValue, Empty, doubts, evaluate
from .finding import Finding, Severity
from .handlers import BEFORE, MOTION, ONCE, Handler, Letter, units
from .modes import BY_NAME, CENTRE_LETTERS, Axes, Code, Effect, Group
from .motion import Move
from .motions import fail
from .orders import AXES, Order, check_words, order_of, span
from .parameters import Parameters
from .reading import Reading, Setting
from .source import Source
from .switches import act, stop

FARTHEST = 1e7  # mm or inch: no machine is larger
FURTHER = frozenset("ABCUVW")


def read_program(source: Source, dialect: Dialect, setting: Setting = Setting()) -> Reading:  # noqa: B008
    """The program's moves (mm, board frame) and all that is wrong with its language.

    Raises Unreadable where the source is no text; anything else that is wrong is a finding.
    """
    blocks, findings = read_blocks(source, dialect)
    run = Run(Control(dialect, setting, any(_holds(block, "G", 43) for block in blocks)))
    for block in blocks:
        run.block(block)
    closing(run.control, source, blocks)
    return _reading(source, run, findings, blocks)


def _holds(block: Block, letter: str, number: float) -> bool:
    return any(w.letter == letter and isinstance(w.value, Number) and w.value.value == number
               for w in block.words)


def _reading(source: Source, run: Run, findings: list[Finding], blocks: list[Block]) -> Reading:
    control = run.control
    said = sorted([*findings, *control.findings], key=lambda f: (f.line, f.column))
    return Reading(
        source=source, dialect=control.dialect.name, motion=control.builder.motion(), findings=tuple(said),
        unchecked=tuple(control.unchecked()), uses_block_delete=any(b.skippable for b in blocks),
        units_said=control.units_said, parameters=run.parameters.values(), final=control.state,
        position=(control.tip[0], control.tip[1], control.tip[2]), ended=control.ended,
        doubts=tuple(control.doubts))


class Run:
    """One run through a program."""

    def __init__(self, control: Control) -> None:
        self.control = control
        self.parameters = Parameters(control)
        self.watch = Watch()
        self.acts = sorted(control.setting.at_line.items())
        self.increments = control.rule("number.no_point") == "increment"
        self.late = frozenset(control.rule("order.m_after_motion"))
        self.slow = self.increments or not (control.dialect.takes("G0") and control.dialect.takes("G1"))

    # --- one line ---

    def block(self, block: Block) -> None:
        control = self.control
        control.line = block.line
        if control.ended:
            self._after_end(block)
            return
        while self.acts and self.acts[0][0] <= block.line:
            act(control, self.acts.pop(0)[1], "at_line")
        if block.skippable and self._skipped():
            return
        if block.bad:
            self._bad()
        elif not (self.watch.quiet and self._plain(block)):
            self._full(block)

    def _full(self, block: Block) -> None:
        """Values first, then the line's codes, then its settings (or these at once, by the dialect)."""
        if not block.assignments:
            self._carry(order_of(block, self.control, self.value))
            return
        self.parameters.read.clear()
        at_once = self.control.rule("expr.assign") == "at_once"
        settings = [] if at_once else [(a, self._setting(a)) for a in block.assignments]
        done = [self._set(a, self._setting(a)) for a in block.assignments] if at_once else []
        self._carry(order_of(block, self.control, self.value))
        done += [self._set(a, pair) for a, pair in settings]
        self._set_twice(block, [index for index in done if index])

    def _after_end(self, block: Block) -> None:
        control = self.control
        if (block.words or block.assignments) and not control.past_end:
            control.past_end = True
            control.say("text-after-end", about="end")

    def _skipped(self) -> bool:
        control = self.control
        skips = control.setting.block_delete
        control.say("block-delete", about="/",
                    switch="leaves it out (it is on)" if skips else "runs it (it is off)")
        return skips

    def _bad(self) -> None:
        control = self.control
        reason = Reason("lost-unread", "unread line", {"line": control.line})
        control.unplaced(reason)
        control.lose(range(3), reason)

    def _plain(self, block: Block) -> bool:
        """Straight lines of plain numbers, the great majority: carried out here without an Order."""
        control, modes, frames = self.control, self.control.modes, self.control.frames
        if control.bent or modes.feed_mode != 94 or block.assignments or self.slow:
            return False
        motion, feed, end = modes.motion, control.feed, list(control.tip)
        absolute, scale, shift = modes.absolute, frames.scale, frames.shift
        seen = 0
        for word in block.words:
            value, letter = word.value, word.letter
            if type(value) is not Number:
                return False
            bit = _BITS.get(letter, 0)
            if not bit or seen & bit:
                return False
            seen |= bit
            number = value.value
            if bit < 8:
                axis = bit >> 1
                end[axis] = number * scale + (shift[axis] if absolute else end[axis])
            elif letter == "G":
                if number != 0.0 and number != 1.0:
                    return False
                motion = "G1" if number else "G0"
            elif number <= 0:
                return False
            else:
                feed = number
        rapid = motion == "G0"
        if not seen & 7 or not (rapid or (motion == "G1" and feed)):
            return False
        x, y, z = end
        if not abs(x) + abs(y) + abs(z) < FARTHEST or not isfinite(sum(control.tip)):
            return False
        if motion != modes.motion:
            self._choose(motion)
        control.feed = feed
        if dist(control.tip, end) >= STANDING:
            control.builder.move(Move.RAPID if rapid else Move.FEED, control.line, control.tip, end,
                                 feed=nan if rapid else cast(float, feed) * scale)
            control.tip = end
        return True

    # --- values ---

    def value(self, word: Word) -> float | None:
        """A word's number; NaN where it is bad (said here) or known to the machine only, None for a word that
        its empty parameter drops."""
        written, letter = word.value, word.letter
        if type(written) is Number:
            number = written.value
            if self.increments and not written.pointed:
                number *= self._increment(letter)
        else:
            number = self._calculated(written, letter, word.column, word.end)
        if letter in AXES and number is not None and abs(number) > FARTHEST:
            self.control.say("value-too-large", span(word), about=letter, letter=letter, number=f"{number:g}")
            return nan
        return number

    def _increment(self, letter: str) -> float:
        """What one step of a number without point is worth, in the unit in force."""
        control = self.control
        if letter not in control.rule("number.increment_letters"):
            return 1.0
        return control.rule("number.increment")["in" if control.frames.inch else "mm"]

    def _calculated(self, written: Value, letter: str, column: int, end: int) -> float | None:
        """What an expression comes to, and what is doubtful about it."""
        control, parameters, where = self.control, self.parameters, Span(column, end)
        parameters.missed.clear()
        try:
            number = evaluate(written, parameters, control.dialect)
        except Empty:
            return None
        except BadValue as bad:
            control.say("value-uncalculable", where, about=letter, said=bad.what, do=bad.fix,
                        severity=control.dialect.conditions.get(bad.condition) or Severity.STOP)
            return nan
        if isnan(number):
            control.say("parameter-live", where, about=letter, letter=letter)
        for index in sorted(parameters.missed):
            control.say("parameter-undefined", where, about=f"#{index}", number=index)
        for key in doubts(written, parameters, control.dialect) if control.dialect.alternatives else ():
            control.doubt(key, where, letter)
        return number

    def _setting(self, assignment: Assignment) -> tuple[int, float] | None:
        column, end = assignment.column, assignment.end
        index = self._calculated(assignment.index, "#", column, end)
        value = self._calculated(assignment.value, "#", column, end)
        if index is None or value is None or isnan(index):
            return None
        if abs(index - round(index)) > 0.0001 or not FIRST <= round(index) <= LAST:
            self.control.say("parameter-index", Span(column, end), about="#", number=f"{index:g}",
                             least=FIRST, most=LAST)
            return None
        return round(index), value

    def _set(self, assignment: Assignment, pair: tuple[int, float] | None) -> int:
        """Set a parameter; which one, 0 for none."""
        if pair is None:
            return 0
        if self.parameters.special(pair[0]):
            where = Span(assignment.column, assignment.end)
            self.control.say("parameter-special", where, about=f"#{pair[0]}", number=pair[0])
        self.parameters.set(*pair)
        return pair[0]

    def _set_twice(self, block: Block, done: list[int]) -> None:
        """A parameter set twice on a line, or set and used: when the setting counts decides."""
        for index in sorted(set(done)):
            if done.count(index) > 1 or (index in self.parameters.read and (len(done) > 1 or block.words)):
                self.control.say("parameter-twice", about=f"#{index}", number=index)
                self.control.doubt("expr.assign", Span(), f"#{index}")

    # --- which motion runs ---

    def _motion(self, order: Order) -> str:
        """The motion code that runs on this line, "" for none."""
        explicit, once = order.code(Group.MOTION), order.code(Group.ONCE)
        if once is not None and once.axes is not Axes.NONE:
            if explicit is not None:
                if explicit.axes is not Axes.NONE and order.axes:
                    self._conflict(order, Group.ONCE, "two-owners", first=once.name, second=explicit.name)
                self._choose(explicit.name)
            return ""
        if explicit is not None:
            return self._explicit(order, explicit)
        if order.axes or self._shapes(order):
            return self._modal(order)
        if Group.MACHINE in order.codes:
            self.control.say("g53-without-axes", order.of(Group.MACHINE), about="G53")
        return ""

    def _conflict(self, order: Order, group: Group, condition: str, **numbers: Any) -> None:
        about = " ".join(code.name for code, _ in order.codes.values()) or "axes"
        where = order.of(group) if group in order.codes else order.span(next(iter(order.axes), ""))
        weight = self.control.say(condition, where, about=about, **numbers)
        order.lost = order.lost or weight is Severity.STOP

    def _choose(self, motion: str) -> None:
        """A motion code comes into force; a cycle's numbers are forgotten when it ends."""
        self.control.modes.motion = motion
        if not BY_NAME[motion].drills:
            self.control.sticky.forget()

    def _explicit(self, order: Order, code: Code) -> str:
        self._choose(code.name)
        if code.name == "G80":
            if order.axes:
                self._conflict(order, Group.MOTION, "axes-with-g80")
            return ""
        if Group.MACHINE in order.codes and code.name not in ("G0", "G1"):
            self._conflict(order, Group.MACHINE, "g53-without-straight", motion=code.name)
            return ""
        if order.axes or code.drills or self._shapes(order):
            return code.name
        if code.axes is Axes.MUST:
            self.control.say("bare-motion-code", order.of(Group.MOTION), about=code.name, code=code.name)
        return "" if code.served else code.name

    def _shapes(self, order: Order) -> bool:
        """Words that make the motion in force run without axis words: an arc's centre, a cycle's R."""
        code = BY_NAME.get(self.control.modes.motion)
        if code is None:
            return False
        if code.drills:
            return any(letter in order.values for letter in self.control.rule("cycle.trigger_words"))
        return code.name in ("G2", "G3") and not CENTRE_LETTERS.isdisjoint(order.values)

    def _modal(self, order: Order) -> str:
        motion = self.control.modes.motion
        if motion in ("", "G80"):
            self._conflict(order, Group.MOTION, "axes-with-g80" if motion else "axes-before-motion")
            return ""
        if Group.MACHINE in order.codes and motion not in ("G0", "G1"):
            self._conflict(order, Group.MACHINE, "g53-without-straight", motion=motion)
            return ""
        return motion

    def _takers(self, order: Order, motion: str) -> list[Code]:
        takers = [code for code, _ in order.codes.values()]
        if motion and Group.MOTION not in order.codes:
            takers.append(BY_NAME[motion])
        return takers

    def _extra(self, order: Order, motion: str) -> str:
        """Letters that the dialect adds: turns of an arc, repeats of a cycle, a dwell's."""
        rule, extra = self.control.rule, ""
        if motion in ("G2", "G3"):
            extra += rule("arc.turns_word")
        elif motion and BY_NAME[motion].drills:
            extra += rule("cycle.repeat_word")
        if Group.DWELL in order.codes:
            extra += "".join(rule("dwell.words"))
        return extra

    # --- carrying out ---

    def _carry(self, order: Order) -> None:
        control = self.control
        if not (order.codes or order.values):
            return
        self._dwell_letters(order)
        motion = self._motion(order)
        check_words(order, control, self._takers(order, motion), self._extra(order, motion))
        self._switch(order, late=False, moving=bool(motion))
        self._watch(order, motion)
        self._further(order)
        if order.lost:
            reason = order.reason or Reason("lost-bad", "bad line", {"line": control.line})
            fail(control, order, reason, range(3) if order.blind else ())
        else:
            self._once(order)
            self._move(order, motion)
        self._switch(order, late=True, moving=bool(motion))
        if Group.STOP in order.codes and order.codes[Group.STOP][0].served:
            stop(control, order, order.codes[Group.STOP][0])

    def _dwell_letters(self, order: Order) -> None:
        """G4 X2 waits on some controls: then X is no axis word."""
        if Group.DWELL in order.codes and Group.MOTION not in order.codes:
            for letter in self.control.rule("dwell.words"):
                if letter in order.axes:
                    order.axes.remove(letter)

    def _switch(self, order: Order, late: bool, moving: bool) -> None:
        """Everything but motion, in its order; `late`: M codes that this dialect runs after the motion."""
        for trigger, handler in BEFORE:
            if isinstance(trigger, str):
                if not late and trigger in order.values:
                    cast(Letter, handler)(self.control, order)
            elif trigger in order.codes:
                code = order.codes[trigger][0]
                if code.name.startswith("M") and moving and not late:
                    self.control.doubt("order.m_after_motion", order.of(trigger), code.name)
                if (code.name in self.late) is late:
                    self._do(order, code, cast(Handler, handler))

    def _do(self, order: Order, code: Code, handler: Handler) -> None:
        control = self.control
        if code.name in control.rule("units.codes") and not {"P", "Q"} & order.values.keys():
            units(control, order, code)
        elif code.served:
            handler(control, order, code)
        elif code.name not in control.rule("codes.harmless"):
            self._unserved(order, code)

    def _unserved(self, order: Order, code: Code) -> None:
        """A code that is known and not simulated: said, and what it hides of the path becomes unknown."""
        control = self.control
        name = "code-read-only" if code.effect is Effect.NOTHING else "code-unsupported"
        if control.dialect.takes(code.name):
            control.say(name, order.of(code.group), about=code.name, does=code.why)
        reason = Reason("lost-code", code.name, {"code": code.name, "line": control.line, "does": code.why})
        if code.effect is Effect.ALL:
            control.bent[code.end] = code.bends, reason
        elif code.effect is Effect.LINE:
            order.lost, order.blind, order.reason = True, True, reason

    def _watch(self, order: Order, motion: str) -> None:
        """Notes what the program has chosen, and what it relies on without having chosen it."""
        control = self.control
        for group, (code, _) in order.codes.items():
            self.watch.said(group)
            control.modes.said.add(code.name)
        once = order.code(Group.ONCE)
        if order.axes and (motion or (once is not None and once.name in ("G28", "G30"))):
            self.watch.moves(control, motion or "G0")

    def _further(self, order: Order) -> None:
        """Turning axes and second linear axes are not simulated: at their zero nothing is hidden."""
        control = self.control
        for letter in order.axes:
            if letter in FURTHER:
                control.say("axis-further", order.span(letter), about=letter, letter=letter)
                if order.values[letter] == 0.0 and control.modes.absolute:
                    control.bent.pop(letter, None)
                else:
                    numbers = {"letter": letter, "line": control.line}
                    control.bent[letter] = "XYZ", Reason("lost-axis", letter, numbers)

    def _once(self, order: Order) -> None:
        code = order.code(Group.ONCE)
        if code is None:
            return
        if code.served:
            ONCE[code.name](self.control, order, code.name)
        else:
            self._unserved(order, code)
            self._not_simulated(order, code)

    def _move(self, order: Order, motion: str) -> None:
        if not motion:
            return
        code = BY_NAME[motion]
        if code.served or (code.drills and behaviour(self.control, motion) is not None):
            MOTION[motion](self.control, order, motion)
        else:
            self._unserved(order, code)
            self._not_simulated(order, code)

    def _not_simulated(self, order: Order, code: Code) -> None:
        fail(self.control, order, Reason("lost-code", code.name, {
            "code": code.name, "line": self.control.line, "does": code.why}))


_BITS = {"X": 1, "Y": 2, "Z": 4, "G": 8, "F": 16}
