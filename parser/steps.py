"""Steps of program flow: what IF, WHILE, REPEAT, GOTO and their like do to the way.

The law: one function for each step, on a Course. A condition that only the machine knows is said, and does
not hold.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import isfinite, isnan
from typing import TYPE_CHECKING

from .calls import come_back, labelled_call
from .control import Span
from .dependence import parted
from .drift import side_of
from .ready import NOT_READY
from .written import Block, Chain, Flow, Number, Parameter, Value

if TYPE_CHECKING:
    from .flow import Course


def carry_out(course: Course, at: int, block: Block) -> None:
    """The step that stands on a line."""
    flow = block.flow
    assert flow is not None
    if flow.step == "THEN":
        if true(course, flow):
            course.again = at in course.then  # what THEN leads to may run for the first time only now
            course.run(course.then.setdefault(at, replace(block, flow=None)))
    elif flow.step == "CALL":
        labelled_call(course, flow)
    elif flow.step == "GOTO":
        if not flow.values or true(course, flow):
            _goto(course, flow)
    elif flow.step == "RETURN" or course.drawn.matched(at):
        STEPS[flow.step](course, at, flow)


def true(course: Course, flow: Flow) -> bool:
    """Whether a condition holds; one that only the machine knows is said, and does not."""
    value = flow.values[0]
    if course.again and (reckoned := course.ready.compared(value, "the condition")) is not None:
        try:
            holds, side = reckoned(course.values.parameters.plain, course.values.parameters.names)
        except NOT_READY:
            pass
        else:
            course.watch.sides.add((course.control.line, side))
            return holds
    number = _emptiness(course, value)
    if number is None:
        number = course.values.calculated(value, "the condition", flow.column, flow.end)
    _side(course, value)
    if number is None or isnan(number):
        _unknown(course, flow)
        return False
    return number != 0


def _side(course: Course, value: Value) -> None:
    """Notes on which side a comparison came out, for what looks for loops without an end."""
    sides = parted(value)
    if sides is not None:
        left, right = course.values.known(sides[0]), course.values.known(sides[2])
        course.watch.sides.add((course.control.line, side_of(left, right)))


def _unknown(course: Course, flow: Flow) -> None:
    course.control.say("flow-unknown", Span(flow.column, flow.end), about=flow.step)
    course.lose("lost-flow")


def _emptiness(course: Course, value: Value) -> float | None:
    """`#1 EQ #0` asks whether #1 is empty: #0 always is (user macros)."""
    if not (isinstance(value, Chain) and value.operators in (("EQ",), ("NE",))):
        return None
    empty = [isinstance(v, Parameter) and v.index == Number(0.0) for v in value.values]
    if not any(empty) or course.control.rule("expr.undefined") != "empty":
        return None
    other = value.values[1 - empty.index(True)]
    missing = (isinstance(other, Parameter) and isinstance(other.index, Number)
               and course.values.parameters.get(round(other.index.value)) is None)
    return float(missing == (value.operators == ("EQ",)))


def _if(course: Course, at: int, flow: Flow) -> None:
    """IF, and ELSEIF when the branches before it did not hold."""
    while not true(course, flow):
        at = course.drawn.branch[at]
        step = course.blocks[at].flow
        if step is None or step.step != "ELSEIF":
            break
        flow = step
        course.control.line = course.blocks[at].line
    course.next = at + 1


def _else(course: Course, at: int, flow: Flow) -> None:
    """The branch before it is done."""
    course.next = course.drawn.partner[at] + 1


def _while(course: Course, at: int, flow: Flow) -> None:
    partner, holds = course.drawn.partner[at], true(course, flow)
    if partner < at:  # it closes a DO
        if holds:
            course.back(partner + 1)
    elif not holds:
        course.next = partner + 1


def _again(course: Course, at: int, flow: Flow) -> None:
    """ENDWHILE, END: back to the condition."""
    begin = course.drawn.partner[at]
    course.back(begin, course.blocks[begin].line)


def _repeat(course: Course, at: int, flow: Flow) -> None:
    count = course.values.calculated(flow.values[0], flow.step, flow.column, flow.end)
    course.counted[at] = course.counted.get(at, 0) + 1
    course.counts[at] = round(count) if count is not None and isfinite(count) else 0
    if course.counts[at] <= 0:
        course.next = course.drawn.partner[at] + 1


def _end_repeat(course: Course, at: int, flow: Flow) -> None:
    begin = course.drawn.partner[at]
    course.counts[begin] = course.counts.get(begin, 0) - 1
    if course.counts[begin] > 0:
        course.back(begin + 1, course.blocks[begin].line)


def _break(course: Course, at: int, flow: Flow) -> None:
    course.next = course.drawn.partner[course.drawn.loop[at]] + 1


def _continue(course: Course, at: int, flow: Flow) -> None:
    course.next = course.drawn.partner[course.drawn.loop[at]]


def _pass(course: Course, at: int, flow: Flow) -> None:
    """DO with a label, ENDIF: nothing to decide."""


def _sub(course: Course, at: int, flow: Flow) -> None:
    """A subprogram is passed over where it stands; it is run where it is called."""
    if at != course.entered():
        course.next = course.drawn.partner[at] + 1


def _end_sub(course: Course, at: int, flow: Flow) -> None:
    if flow.values:
        value = course.values.calculated(flow.values[0], flow.step, flow.column, flow.end)
        if value is not None:
            course.values.parameters.names["_value"] = value
    come_back(course)


def _goto(course: Course, flow: Flow) -> None:
    target = flow.target
    number = None if target is None else course.values.calculated(target, "GOTO", flow.column, flow.end)
    if number is None or isnan(number):
        _unknown(course, flow)
    else:
        course.goto(round(number), Span(flow.column, flow.end))


Step = Callable[["Course", int, Flow], None]
STEPS: dict[str, Step] = {
    "IF": _if, "ELSEIF": _else, "ELSE": _else, "ENDIF": _pass,
    "WHILE": _while, "ENDWHILE": _again, "END": _again, "DO": _pass,
    "REPEAT": _repeat, "ENDREPEAT": _end_repeat, "BREAK": _break,
    "CONTINUE": _continue, "SUB": _sub, "ENDSUB": _end_sub, "RETURN": _end_sub,
}
