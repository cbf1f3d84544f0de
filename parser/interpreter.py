"""Blocks to Motion: reads a program line by line and carries each one out.

The law: values of a line are computed before anything of it is done, its codes act in the order of
handlers.BEFORE, then the motion, then stops, parameters that it sets count from the next line on [NIST IR 6556, 3.3.3, 3.8]. A line
that cannot be carried out leaves the axes that it might have moved unknown.
"""

from __future__ import annotations

from math import dist, isfinite, nan
from typing import cast

from .blocks import Assignment, Block, Number, Word, read_blocks
from .closing import Watch, closing
from .control import Control, Reason, Span
from .dialect import Dialect
from .expressions import BadValue, evaluate
from .finding import Finding, Severity
from .handlers import BEFORE, MOTION, ONCE, Handler, Letter
from .modes import BY_NAME, CENTRE_LETTERS, Axes, Code, Effect, Group
from .motion import Move
from .motions import fail
from .orders import AXES, Order, check_words, order_of, span
from .parameters import FIRST, LAST, Parameters
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
        self.deferred = frozenset(control.rule("order.m_after_motion"))

    # --- one line ---

    def block(self, block: Block) -> None:
        control = self.control
        control.line = block.line
        if control.ended:
            self._after_end(block)
            return
        while self.acts and self.acts[0][0] <= block.line:
            act(control, self.acts.pop(0)[1], "at_line")
        if block.skippable and self._skipped(block):
            return
        if block.bad:
            self._bad(block)
        elif not (self.watch.quiet and self._plain(block)):
            order = order_of(block, control, self.value)
            self._carry(order)
            self._assign(block)

    def _after_end(self, block: Block) -> None:
        control = self.control
        if (block.words or block.assignments) and not control.past_end:
            control.past_end = True
            control.say("word-doubtful", condition="text-after-end", about="end",
                        what="lines stand after the program's end; a control does not run them unless they are called",
                        fix=f"Take them out from line {block.line} on, unless they are subprograms")

    def _skipped(self, block: Block) -> bool:
        control = self.control
        skips = control.setting.block_delete
        control.say("option-switch", condition="block-delete", about="/", what="A slash makes this line optional: the "
                    f"block delete switch is {'on, so it was left out' if skips else 'off, so it was run'}",
                    fix=f"Take line {block.line} or its slash out, or check the job with the switch in both positions")
        return skips

    def _bad(self, block: Block) -> None:
        control = self.control
        reason = Reason(f"line {block.line} could not be read, and what it moves is not known",
                        f"Correct line {block.line}", "unread line")
        control.unplaced(reason)
        control.lose(range(3), reason)

    def _plain(self, block: Block) -> bool:
        """Straight lines of plain numbers, the great majority: carried out here without an Order."""
        control = self.control
        if control.bent or control.modes.feed_mode != 94 or block.assignments or self.increments:
            return False
        motion, feed = control.modes.motion, control.feed
        end = list(control.tip)
        absolute, scale, shift = control.modes.absolute, control.frames.scale, control.frames.shift
        seen = 0
        for word in block.words:
            value = word.value
            if type(value) is not Number:
                return False
            number, letter = value.value, word.letter
            if letter in "XYZ":
                axis = ord(letter) - 88
                if seen >> axis & 1:
                    return False
                seen |= 1 << axis
                end[axis] = number * scale + (shift[axis] if absolute else end[axis])
            elif letter == "G" and number in (0.0, 1.0) and not seen & 8:
                seen |= 8
                motion = "G1" if number else "G0"
            elif letter == "F" and number > 0 and not seen & 16:
                seen |= 16
                feed = number
            else:
                return False
        if not seen & 7 or motion not in ("G0", "G1"):
            return False
        if not isfinite(sum(control.tip) + sum(end)) or motion == "G1" and not feed:
            return False
        control.modes.motion, control.feed = motion, feed
        if dist(control.tip, end) >= 1e-9:
            rapid = motion == "G0"
            control.builder.move(Move.RAPID if rapid else Move.FEED, control.line, control.tip, end,
                                 feed=nan if rapid else cast(float, feed) * scale)
            control.tip = end
        return True

    # --- values ---

    def value(self, word: Word) -> float:
        """A word's number; NaN where it is bad (said here) or known to the machine only."""
        written = word.value
        if type(written) is Number:
            number = written.value
            if self.increments and not written.pointed:
                number *= self._increment(word.letter)
        else:
            try:
                number = evaluate(written, self.parameters, self.control.dialect)
            except BadValue as bad:
                self._bad_value(word.letter, bad, word.column, word.end)
                return nan
        if word.letter in AXES and abs(number) > FARTHEST:
            self.control.say("value-bad", span(word), condition="value-range", about=word.letter,
                             what=f"{word.letter} is {number:g}: no machine is that large",
                             fix=f"Correct the {word.letter} word")
            return nan
        return number

    def _increment(self, letter: str) -> float:
        """What one step of a number without point is worth, in the unit in force."""
        control = self.control
        if letter not in control.rule("number.increment_letters"):
            return 1.0
        return control.rule("number.increment")["in" if control.frames.inch else "mm"]

    def _bad_value(self, about: str, bad: BadValue, column: int, end: int) -> None:
        self.control.say("value-bad", Span(column, end), condition=bad.condition, about=about,
                         what=bad.what, fix=bad.fix)

    def _assign(self, block: Block) -> None:
        """All settings of the line take effect together, from values as they were before it."""
        settled = [(a, self._setting(a)) for a in block.assignments]
        for assignment, pair in settled:
            if pair is not None:
                self._set(assignment, *pair)

    def _setting(self, assignment: Assignment) -> tuple[int, float] | None:
        dialect = self.control.dialect
        try:
            index = evaluate(assignment.index, self.parameters, dialect)
            value = evaluate(assignment.value, self.parameters, dialect)
        except BadValue as bad:
            self._bad_value("#", bad, assignment.column, assignment.end)
            return None
        if abs(index - round(index)) > 0.0001 or not FIRST <= round(index) <= LAST:
            self.control.say("value-bad", Span(assignment.column, assignment.end), condition="parameter-index",
                             about="#", what=f"#{index:g} is no parameter: they run from {FIRST} to {LAST}",
                             fix=f"Write a whole number from {FIRST} to {LAST} behind #")
            return None
        return round(index), value

    def _set(self, assignment: Assignment, index: int, value: float) -> None:
        if self.parameters.special(index):
            self.control.say("word-doubtful", Span(assignment.column, assignment.end), condition="parameter-special",
                             about=f"#{index}", what=f"#{index} is a stored offset: setting it shifts the work with no "
                             "G code", fix="Use G10 or G92 instead, where a reader sees the shift")
        self.parameters.set(index, value)

    # --- carrying out ---

    def _carry(self, order: Order) -> None:
        control = self.control
        if not (order.codes or order.values):
            return
        self._dwell_letters(order)
        motion = self._motion(order)
        check_words(order, control, self._takers(order, motion), self._extra(order, motion))
        self._switch(order, late=False)
        self._watch(order, motion)
        self._further(order)
        if order.lost:
            fail(control, order, order.reason or lost(control.line), range(3) if order.blind else ())
        else:
            self._once(order)
            self._move(order, motion)
        self._switch(order, late=True)
        if Group.STOP in order.codes:
            stop(control, order, order.codes[Group.STOP][0])

    def _dwell_letters(self, order: Order) -> None:
        """G4 X2 waits on some controls: then X is no axis word."""
        if Group.DWELL in order.codes and Group.MOTION not in order.codes:
            for letter in self.control.rule("dwell.words"):
                if letter in order.axes:
                    order.axes.remove(letter)

    # --- which motion runs ---

    def _motion(self, order: Order) -> str:
        """The motion code that runs on this line, "" for none."""
        explicit, once = order.code(Group.MOTION), order.code(Group.ONCE)
        if once is not None and once.axes is not Axes.NONE:
            if explicit is not None and explicit.axes is not Axes.NONE and order.axes:
                self._conflict(order, Group.ONCE, "two-owners", f"{once.name} and {explicit.name} both take the axis "
                               "words of this line", f"Put {once.name} on a line of its own")
            if explicit is not None and explicit.axes is Axes.NONE:
                self._choose(explicit.name)
            return ""
        if explicit is not None:
            return self._explicit(order, explicit)
        if order.axes or self._shapes(order):
            return self._modal(order)
        return ""

    def _conflict(self, order: Order, group: Group, condition: str, what: str, fix: str) -> None:
        about = " ".join(code.name for code, _ in order.codes.values()) or "axes"
        weight = self.control.say("code-conflict", order.of(group), condition=condition, about=about,
                                  what=what, fix=fix)
        order.lost = order.lost or weight is Severity.STOP

    def _choose(self, motion: str) -> None:
        """A motion code comes into force; cycles forget their numbers when another kind does."""
        self.control.modes.motion = motion
        if not BY_NAME[motion].drills:
            self.control.sticky.forget()

    def _explicit(self, order: Order, code: Code) -> str:
        self._choose(code.name)
        if code.name == "G80":
            if order.axes:
                self._conflict(order, Group.MOTION, "axes-with-g80", "G80 ends motion, and no code on this line takes "
                               "its axis words", "Put a motion code, for example G0, in place of G80")
            return ""
        if order.axes or code.drills or self._shapes(order):
            return code.name
        if code.axes is Axes.MUST:
            self.control.say("value-bad", order.of(Group.MOTION), condition="bare-motion-code", about=code.name,
                             what=f"{code.name} stands without axis words: it moves nothing and only sets the mode",
                             fix=f"Write {code.name} on the line that moves")
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
            why = "before any motion code" if not motion else "while G80 is in force"
            self._conflict(order, Group.MOTION, "axes-before-motion" if not motion else "axes-with-g80",
                           f"Axis words stand {why}: rapid or feed is not said", "Put G0 or G1 on the line")
            return ""
        if Group.MACHINE in order.codes and motion not in ("G0", "G1"):
            self._conflict(order, Group.MACHINE, "g53-without-straight", f"G53 goes with G0 or G1, and {motion} is in "
                           "force", "Put G0 on the line")
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

    # --- doing it ---

    def _switch(self, order: Order, late: bool) -> None:
        """Everything but motion, in its order; `late`: M codes that this dialect runs after the motion."""
        for trigger, handler in BEFORE:
            if isinstance(trigger, str):
                if not late and trigger in order.values:
                    cast(Letter, handler)(self.control, order)
            elif trigger in order.codes:
                code = order.codes[trigger][0]
                if (code.name in self.deferred) is late:
                    self._do(order, code, cast(Handler, handler))

    def _do(self, order: Order, code: Code, handler: Handler) -> None:
        if code.served:
            handler(self.control, order, code)
        else:
            self._unserved(order, code)

    def _unserved(self, order: Order, code: Code) -> None:
        """A code that is known and not simulated: said, and what it hides of the path becomes unknown."""
        control = self.control
        harmless = code.effect is Effect.NOTHING
        control.say("code-unsupported", order.of(code.group), condition="code-read-only" if harmless else
                    "code-unsupported", about=code.name, why=f"{code.why}, and it is not simulated",
                    fix="Nothing of the path depends on it" if harmless else
                    f"Check by hand what it does from line {control.line} on")
        reason = Reason(f"{code.name} on line {control.line} is not simulated ({code.why})",
                        f"Check by hand what {code.name} does", code.name)
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
        if (motion and order.axes) or "G28" in control.modes.said and order.axes:
            self.watch.moves(control, motion)

    def _further(self, order: Order) -> None:
        """Turning axes and second linear axes are not simulated: at their zero nothing is hidden."""
        control = self.control
        for letter in order.axes:
            if letter in FURTHER:
                control.say("code-unsupported", order.span(letter), condition="axis-further", about=letter,
                            why="a further axis, and only X, Y and Z are simulated",
                            fix=f"Take {letter} out if the machine has no such axis")
                reason = Reason(f"axis {letter} has moved, and it is not simulated", f"Keep {letter} at 0", letter)
                if order.values[letter] == 0.0 and control.modes.absolute:
                    control.bent.pop(letter, None)
                else:
                    control.bent[letter] = "XYZ", reason

    def _once(self, order: Order) -> None:
        code = order.code(Group.ONCE)
        if code is not None:
            ONCE[code.name](self.control, order, code.name)

    def _move(self, order: Order, motion: str) -> None:
        if not motion:
            return
        code = BY_NAME[motion]
        if code.served:
            MOTION[motion](self.control, order, motion)
        else:
            self._unserved(order, code)
            fail(self.control, order, Reason(f"{code.name} is {code.why}, and it is not simulated",
                                             f"Check by hand what {code.name} does", code.name))


def lost(line: int) -> Reason:
    return Reason(f"line {line} cannot be carried out as it is written", f"Correct line {line}", "bad line")
