"""Lines and steps of flow that run again, made ready once: the way through loops, quickly.

The law: a ready line does what the course would do with it, and leaves to the course what it cannot do, by
giving False. Only steps that hang on a comparison, or on nothing, are made ready.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from .calls import come_back
from .ready import NOT_READY
from .written import Block, Number, Value

if TYPE_CHECKING:
    from .flow import Course

Line = Callable[[], bool]
M99 = ([("M", Number(99.0))], [("M", Number(99.0, True))])


class Ahead:
    """The lines of a course that are made ready, by position; `prepare` makes one of words and settings."""

    def __init__(self, course: Course, prepare: Callable[[Block], Line | None]) -> None:
        self.course, self.prepare = course, prepare
        self.lines: dict[int, Line] = {}
        self.looked: set[int] = set()

    def look(self, at: int, block: Block) -> None:
        """A line that runs again is made ready, where it can be."""
        if at in self.looked or self.course.modal is not None:
            return
        self.looked.add(at)
        line = self._step(at, block) if block.flow is not None else (
            self._come_back if self._returns(block) else self.prepare(block))
        if line is not None:
            self.lines[at] = line

    def forget(self) -> None:
        """A macro is called at every move from now on: nothing is as it was."""
        self.lines.clear()
        self.looked.clear()

    def _step(self, at: int, block: Block) -> Line | None:
        """A step of flow that hangs on a comparison, or on nothing."""
        flow, drawn = block.flow, self.course.drawn
        if flow is None or block.skippable or (flow.step != "GOTO" and not drawn.matched(at)):
            return None
        partner = drawn.partner.get(at, at)
        if flow.step in ("ENDWHILE", "END"):
            return self._jump(partner, self.course.blocks[partner].line)
        if flow.step == "WHILE" and partner > at:
            return self._branch(block.line, flow.values[0], at + 1, partner + 1)
        return self._goto(at, block) if flow.step == "GOTO" else None

    def _goto(self, at: int, block: Block) -> Line | None:
        """To a number that is written out and stands once."""
        flow, numbers = block.flow, self.course.drawn.numbers
        assert flow is not None
        places = numbers.get(round(flow.target.value), []) if isinstance(flow.target, Number) else []
        if len(places) != 1:
            return None
        to, back = places[0], self._jump(places[0])
        if not flow.values:
            return back if to <= at else None
        return self._branch(block.line, flow.values[0], to if to > at else None, at + 1, back)

    def _jump(self, to: int, line: int = 0) -> Line:
        def jump() -> bool:
            self.course.back(to, line)
            return True

        return jump

    def _branch(self, number: int, value: Value, holds: int | None, fails: int,
                jump: Line = bool) -> Line | None:
        """On to the position `holds` or `fails`; where `holds` is None, to where `jump` leads."""
        course = self.course
        reckoned = course.ready.compared(value, "the condition")
        if reckoned is None:
            return None
        parameters, sides = course.values.parameters, course.watch.sides

        def branch() -> bool:
            try:
                truth, side = reckoned(parameters.plain, parameters.names)
            except NOT_READY:
                return False
            sides.add((number, side))
            if not truth:
                course.next = fails
            elif holds is None:
                return jump()
            else:
                course.next = holds
            return True

        return branch

    def _returns(self, block: Block) -> bool:
        """Whether a line is M99 and no more."""
        words = [(word.letter, word.value) for word in block.words]
        follows = self.course.control.rule("flow.kind") != "none"
        return follows and not block.skippable and not block.assignments and words in M99

    def _come_back(self) -> bool:
        control = self.course.control
        if not self.course.calls or control.comp is not None or control.net is not None:
            return False
        come_back(self.course)
        return True
